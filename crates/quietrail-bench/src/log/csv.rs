//! Fields and records of RFC 4180.

/// What may stand between fields in place of a comma.
const OTHERS: [char; 2] = [';', '\t'];
const SEPARATORS: [char; 3] = [',', ';', '\t'];

/// Put behind a line that has no end: however short it was cut, it then has too many fields, so that what was never
/// acknowledged does not come back as a row. Nor does it end what a line before it left open.
pub(super) const CUT_SHORT: &str = ",,,,,,,,,,,,,,,,,cut short";

/// The record that begins at the first of some lines, and how many lines it takes.
///
/// A field may hold line breaks where a spreadsheet wrote it. A quotation mark that never closes, or closes only after a
/// line that is a row by itself or in one that was cut short, is damage of its own line and nothing more.
pub(super) fn record(lines: &[&str]) -> (String, usize) {
    let first = lines.first().map_or("", |line| line.trim_end_matches('\r'));
    if is_closed(first) {
        return (first.to_owned(), 1);
    }
    let mut whole = first.to_owned();
    for (index, line) in lines.iter().enumerate().skip(1) {
        let line = line.trim_end_matches('\r');
        if begins_a_row(line) || line.ends_with(CUT_SHORT) {
            break;
        }
        whole.push('\n');
        whole.push_str(line);
        if is_closed(&whole) {
            return (whole, index + 1);
        }
    }
    (first.to_owned(), 1)
}

/// Whether no field goes on in the next line. Marks are not counted: one in the middle of a field is a letter like any other.
fn is_closed(text: &str) -> bool {
    fields(text).is_some()
}

/// Whether the first field of a line is a word, and others follow.
pub(super) fn begins_with(line: &str, word: &str) -> bool {
    line.split_once(SEPARATORS)
        .is_some_and(|(first, _)| unmarked(first) == word)
}

/// A field without its marks: a spreadsheet may put every field in them.
fn unmarked(field: &str) -> &str {
    let inside = field.strip_prefix('"');
    inside
        .and_then(|inside| inside.strip_suffix('"'))
        .unwrap_or(field)
}

fn begins_a_row(line: &str) -> bool {
    let (number, rest) = line.split_once(SEPARATORS).unwrap_or((line, ""));
    let number = unmarked(number);
    !number.is_empty()
        && number.bytes().all(|byte| byte.is_ascii_digit())
        && rest.contains(SEPARATORS)
}

/// The fields of a row: between commas, or between what a spreadsheet puts there in places where the comma marks decimals, where that
/// makes as many as belong. `None` where a quotation mark never closes.
pub(super) fn fields_of_row(text: &str, wanted: usize) -> Option<Vec<String>> {
    let own = fields(text)?;
    // What was cut short has its commas so that it does not come back as a row.
    if own.len() == wanted || text.ends_with(CUT_SHORT) {
        return Some(own);
    }
    let mut others = OTHERS.into_iter();
    let other = others.find_map(|separator| {
        let other = fields_between(text, separator)?;
        (other.len() == wanted).then_some(other)
    });
    Some(other.unwrap_or(own))
}

/// The fields of a record between commas, quotation marks undone; `None` where one never closes.
pub(super) fn fields(text: &str) -> Option<Vec<String>> {
    fields_between(text, ',')
}

fn fields_between(text: &str, separator: char) -> Option<Vec<String>> {
    let mut all = Vec::new();
    let mut field = String::new();
    let mut letters = text.chars().peekable();
    let mut is_quoted = false;
    while let Some(c) = letters.next() {
        match c {
            '"' if is_quoted && letters.peek() == Some(&'"') => {
                letters.next();
                field.push('"');
            }
            '"' if is_quoted || field.is_empty() => is_quoted = !is_quoted,
            c if c == separator && !is_quoted => all.push(std::mem::take(&mut field)),
            c => field.push(c),
        }
    }
    all.push(field);
    (!is_quoted).then_some(all)
}

/// A field as written: in quotation marks where it must be, and always on one line.
pub(super) fn written(field: &str) -> String {
    let on_one_line: String = field
        .chars()
        .map(|c| if c.is_control() { ' ' } else { c })
        .collect();
    let plain = on_one_line.trim();
    if plain.contains([',', '"']) {
        return format!("\"{}\"", plain.replace('"', "\"\""));
    }
    plain.to_owned()
}
