//! Which dialect a capture is written in: the reading under which most of its lines are numbers.

/// A capture as a table of numbers.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Table {
    /// Sign between fields.
    pub(super) separator: char,
    /// Whether a comma is the decimal sign.
    pub(super) is_decimal_comma: bool,
    /// Rows of equal width.
    pub(super) rows: Vec<Vec<f64>>,
    /// The finest step that each column is written in.
    pub(super) steps: Vec<f64>,
    /// Names of the columns, where a row of them stands above the data.
    pub(super) names: Vec<String>,
    /// Their units, where a row of them does.
    pub(super) units: Vec<String>,
    /// Interval of samples that stands above the data, s.
    pub(super) interval: Option<f64>,
    /// Columns that were written as a date or a time of day.
    pub(super) clocks: Vec<usize>,
    /// Lines above the data that are not empty.
    pub(super) header: usize,
    /// Lines among the data that are no numbers.
    pub(super) skipped: usize,
}

/// Readings of a line, the likelier first. A comma is both signs in none of them.
const DIALECTS: &[(char, bool)] = &[
    (';', true),
    (';', false),
    ('\t', false),
    ('\t', true),
    (',', false),
    (' ', false),
    (' ', true),
];

/// Lines that are looked at to find the dialect.
const LOOKED_AT: usize = 400;

/// The table of a text, in the dialect in which most of its lines are numbers.
pub(super) fn table(text: &str) -> Option<Table> {
    let lines: Vec<&str> = text.lines().map(str::trim_end).collect();
    let full: Vec<&str> = lines
        .iter()
        .copied()
        .filter(|line| !line.trim().is_empty())
        .collect();
    let tail = &full[full.len().saturating_sub(LOOKED_AT)..];
    let (separator, is_decimal_comma, width) = DIALECTS
        .iter()
        .filter_map(|&(separator, comma)| {
            let (width, count) = commonest_width(tail, separator, comma)?;
            Some((count, width, separator, comma))
        })
        // The first of those that make most lines numbers, two columns and more before one.
        .reduce(|best, next| {
            let rank = |one: &(usize, usize, char, bool)| (one.0, one.1.min(2));
            if rank(&next) > rank(&best) {
                next
            } else {
                best
            }
        })
        .map(|(_, width, separator, comma)| (separator, comma, width))?;
    let is_row =
        |line: &str| numbers(line, separator, is_decimal_comma).filter(|row| row.len() == width);
    let first = full.iter().position(|line| is_row(line).is_some())?;
    let behind = unit_behind(full[first], separator);
    let mut steps = vec![f64::INFINITY; width];
    let mut rows: Vec<Vec<f64>> = full[first..]
        .iter()
        .filter_map(|line| in_unit(is_row(line)?, unit_behind(line, separator), &behind))
        .map(|row| {
            let finest = steps.iter_mut().zip(&row);
            finest.for_each(|(finest, cell)| *finest = cell.step.min(*finest));
            row.into_iter().map(|cell| cell.value).collect()
        })
        .collect();
    let (clocks, of_day) = clocks(full[first], separator);
    of_day
        .into_iter()
        .for_each(|column| over_midnight(&mut rows, column));
    // Lines that lack a number before the first whole one are data as well.
    let head = full[..first]
        .iter()
        .rposition(|line| numbers(line, separator, is_decimal_comma).is_none())
        .map_or(0, |last| last + 1);
    let skipped = full.len() - head - rows.len();
    let day = day_beside_time(full[first], separator);
    let (mut names, mut units) = names_and_units(&full[..head], separator, (width, day));
    if let Some(unit) = behind
        && units.is_empty()
        && width > 0
    {
        units = vec![String::new(); width];
        units[width - 1] = unit;
        // Date and time of day are one column, and the unit's own name is none.
        if names.is_empty()
            && let Some(above) = full[..head].last()
        {
            let mut all: Vec<String> = fields(above, separator)
                .into_iter()
                .map(|field| field.trim_matches('"').trim().to_owned())
                .collect();
            all.truncate(all.len().saturating_sub(1));
            if all.len() == width + 1 {
                all.remove(0);
            }
            if all.len() == width {
                names = all;
            }
        }
    }
    Some(Table {
        separator,
        is_decimal_comma,
        rows,
        steps,
        names,
        units,
        interval: full[..first]
            .iter()
            .find_map(|line| interval(line, separator, is_decimal_comma)),
        clocks,
        header: head,
        skipped,
    })
}

/// The width that most lines of numbers have, and how many have it.
fn commonest_width(lines: &[&str], separator: char, comma: bool) -> Option<(usize, usize)> {
    let mut counts: Vec<(usize, usize)> = Vec::new();
    for row in lines
        .iter()
        .filter_map(|line| numbers(line, separator, comma))
    {
        match counts.iter_mut().find(|(width, _)| *width == row.len()) {
            Some((_, count)) => *count += 1,
            None => counts.push((row.len(), 1)),
        }
    }
    counts.into_iter().max_by_key(|(_, count)| *count)
}

/// The fields of a line; blanks count as one where they part fields, and an empty last field is none.
fn fields(line: &str, separator: char) -> Vec<&str> {
    if separator == ' ' {
        return line.split_whitespace().collect();
    }
    let mut is_quoted = false;
    let is_between = |c: char| {
        is_quoted ^= c == '"';
        c == separator && !is_quoted
    };
    // A mark that never closes is a letter like any other: inches, or seconds of an arc.
    let mut all: Vec<&str> = if line.matches('"').count().is_multiple_of(2) {
        line.split(is_between).map(str::trim).collect()
    } else {
        line.split(separator).map(str::trim).collect()
    };
    while all.len() > 1 && all.last().is_some_and(|last| last.is_empty()) {
        all.pop();
    }
    all
}

/// A number as it is written.
#[derive(Clone, Copy)]
struct Cell {
    value: f64,
    /// One of its last digit.
    step: f64,
}

/// A line of nothing but numbers. A date, a time of day and both are numbers of seconds; a unit behind the last number is none of
/// the numbers.
fn numbers(line: &str, separator: char, comma: bool) -> Option<Vec<Cell>> {
    let mut fields = fields(line, separator);
    if fields.len() > 1 && fields.last().is_some_and(|last| is_word(last)) {
        fields.pop();
    }
    let mut row = Vec::with_capacity(fields.len());
    let clock = |value: f64| Cell { value, step: 1.0 };
    let mut day = None;
    for field in fields {
        let bare = field.trim_matches('"').trim();
        if let Some(seconds) = date(bare) {
            // The time of day stands beside it.
            day = Some(seconds);
        } else if let Some(seconds) = moment(bare) {
            row.push(clock(day.take().unwrap_or(0.0) + seconds));
        } else {
            row.extend(day.take().map(clock));
            row.push(cell(field, comma)?);
        }
    }
    row.extend(day.map(clock));
    Some(row)
}

/// A unit behind a number: letters, no more than a few.
fn is_word(field: &str) -> bool {
    let bare = field.trim_matches('"').trim();
    let letters = bare
        .chars()
        .all(|c| c.is_alphabetic() || " °/%".contains(c));
    !bare.is_empty() && bare.chars().count() <= 8 && letters
}

/// The unit that stands behind the last number of a line.
fn unit_behind(line: &str, separator: char) -> Option<String> {
    let fields = fields(line, separator);
    let last = fields
        .last()
        .filter(|last| fields.len() > 1 && is_word(last))?;
    Some(last.trim_matches('"').trim().to_owned())
}

/// A row in the unit that stands behind the first one, where its own is another: a meter that ranges by itself goes from `mV` to `V`.
/// `None` where the two are not of one kind.
fn in_unit(mut row: Vec<Cell>, own: Option<String>, first: &Option<String>) -> Option<Vec<Cell>> {
    if own == *first {
        return Some(row);
    }
    let ((scale, symbol), (wanted, of_first)) =
        (super::scale_of(&own?)?, super::scale_of(first.as_ref()?)?);
    if symbol != of_first {
        return None;
    }
    let last = row.last_mut()?;
    last.value *= scale / wanted;
    last.step *= scale / wanted;
    Some(row)
}

/// Columns that a line writes as a date or a time, and those of them that are a time of day without a date.
fn clocks(line: &str, separator: char) -> (Vec<usize>, Vec<usize>) {
    let (mut all, mut of_day) = (Vec::new(), Vec::new());
    let mut has_date = false;
    let mut column = 0;
    for field in fields(line, separator) {
        let bare = field.trim_matches('"').trim();
        if date(bare).is_some() {
            has_date = true;
            continue;
        }
        if moment(bare).is_some() {
            all.push(column);
            let has_own = bare
                .split_once(['T', ' '])
                .is_some_and(|(day, _)| date(day).is_some());
            if !has_date && !has_own {
                of_day.push(column);
            }
        }
        has_date = false;
        column += 1;
    }
    (all, of_day)
}

/// A time of day that goes back by more than half a day has come to the next one.
fn over_midnight(rows: &mut [Vec<f64>], column: usize) {
    let mut days = 0.0;
    let mut before = f64::NEG_INFINITY;
    for row in rows {
        let Some(time) = row.get_mut(column) else {
            continue;
        };
        if *time < before - 0.5 * DAY {
            days += DAY;
        }
        before = *time;
        *time += days;
    }
}

/// Seconds of a day.
const DAY: f64 = 86_400.0;

/// Seconds of a day, `2026-11-20` or `20.11.2026`, from some day on.
fn date(field: &str) -> Option<f64> {
    let parts = |sign: char| -> Option<Vec<u32>> {
        let all: Option<Vec<u32>> = field.split(sign).map(|part| part.parse().ok()).collect();
        all.filter(|all| all.len() == 3)
    };
    let (year, month, day) = match (parts('-').or_else(|| parts('/')), parts('.')) {
        (Some(all), _) if all[0] > 31 => (all[0], all[1], all[2]),
        (_, Some(all)) if all[2] > 31 => (all[2], all[1], all[0]),
        _ => return None,
    };
    let is_day = (1..=12).contains(&month) && (1..=31).contains(&day) && year <= LAST_YEAR;
    is_day.then(|| DAY * days(year, month, day))
}

/// Last year of four digits: a larger number is none.
const LAST_YEAR: u32 = 9999;

/// Days since 1 March of the year 0 in the calendar of today.
fn days(year: u32, month: u32, day: u32) -> f64 {
    // Years begin in March, so that the leap day is the last of them.
    let (year, month) = if month > 2 {
        (year, month - 3)
    } else {
        (year.saturating_sub(1), month + 9)
    };
    let whole = 365 * year + year / 4 - year / 100 + year / 400 + (153 * month + 2) / 5 + day - 1;
    f64::from(whole)
}

/// Seconds of `10:00:01.5`, `10:00`, `10:00:01 PM`, or of a day with it: `2026-11-20 10:00:01`, `2026-11-20T10:00:01Z`,
/// `2026-11-20T10:00:01+01:00`.
fn moment(field: &str) -> Option<f64> {
    if let Some(half) = half_of_day(field) {
        return half;
    }
    if let Some((day, time)) = field.split_once(['T', ' ']) {
        let time = time.trim_end_matches('Z');
        let Some(at) = time.rfind(['+', '-']) else {
            return Some(date(day)? + moment(time)?);
        };
        let ahead = moment(&time[at + 1..])?;
        let ahead = if time[at..].starts_with('+') {
            ahead
        } else {
            -ahead
        };
        return Some(date(day)? + moment(&time[..at])? - ahead);
    }
    let parts: Vec<&str> = field.split(':').collect();
    if !(2..=3).contains(&parts.len()) {
        return None;
    }
    let whole = |part: &str, most: f64| -> Option<f64> {
        let value: f64 = part.replace(',', ".").parse().ok()?;
        (part.starts_with(|c: char| c.is_ascii_digit()) && value < most).then_some(value)
    };
    let hours = whole(parts[0], 1e5)?;
    let minutes = whole(parts[1], 60.0)?;
    let seconds = parts.get(2).map_or(Some(0.0), |part| whole(part, 60.0))?;
    Some(3600.0 * hours + 60.0 * minutes + seconds)
}

/// The time of a twelve-hour clock; `None` where it does not say which half of the day.
fn half_of_day(field: &str) -> Option<Option<f64>> {
    let small = field.to_lowercase();
    let (time, later) = match (small.strip_suffix("am"), small.strip_suffix("pm")) {
        (Some(time), _) => (time, 0.0),
        (_, Some(time)) => (time, 0.5 * DAY),
        _ => return None,
    };
    let time = moment(time.trim_end());
    // Twelve is the hour before one.
    let hours = time.map(|time| {
        let within = libm::fmod(time, DAY);
        time - within + libm::fmod(within, 0.5 * DAY) + later
    });
    Some(hours)
}

fn number(field: &str, comma: bool) -> Option<f64> {
    cell(field, comma).map(|cell| cell.value)
}

fn cell(field: &str, comma: bool) -> Option<Cell> {
    let field = field.trim_matches('"').trim();
    let starts = field.starts_with(|c: char| c.is_ascii_digit() || "+-.,".contains(c));
    if !starts || field.contains(['_', 'n', 'N', 'i', 'I']) {
        return None;
    }
    let plain = ungrouped(field, if comma { ',' } else { '.' })?;
    let value: f64 = plain.parse().ok()?;
    (value.abs() < NOT_A_NUMBER).then(|| Cell {
        value,
        step: step_of(&plain),
    })
}

/// What may stand between groups of three digits, beside the sign that is not the decimal one.
const GROUPS: [char; 5] = [' ', '\u{a0}', '\u{202f}', '\'', '\u{2019}'];

/// A number with a decimal point and without signs between groups of three digits; `None` where signs stand otherwise. Of one group alone,
/// without decimals, nobody can tell whether its sign is the decimal one.
fn ungrouped(field: &str, decimal: char) -> Option<String> {
    let other = if decimal == ',' { '.' } else { ',' };
    let is_group = |c: char| c == other || GROUPS.contains(&c);
    if !field.contains(is_group) {
        return Some(field.replace(decimal, "."));
    }
    let (whole, rest) = field.split_once(decimal).unwrap_or((field, ""));
    let bare = whole.trim_start_matches(['+', '-']);
    let sign = bare.chars().find(|c| is_group(*c))?;
    let groups: Vec<&str> = bare.split(sign).collect();
    let digits = |text: &&str| text.bytes().all(|byte| byte.is_ascii_digit());
    let are_groups = groups.iter().all(digits)
        && (1..=3).contains(&groups[0].len())
        && groups[1..].iter().all(|group| group.len() == 3);
    let is_told = groups.len() > 2 || field.contains(decimal);
    (are_groups && is_told && !rest.contains([decimal, sign])).then(|| {
        let minus = if whole.starts_with('-') { "-" } else { "" };
        format!("{minus}{}.{rest}", groups.concat())
    })
}

/// One of the last digit of a number with a decimal point.
fn step_of(plain: &str) -> f64 {
    let (digits, power) = plain.split_once(['e', 'E']).unwrap_or((plain, "0"));
    let decimals = digits.split_once('.').map_or(0, |(_, rest)| rest.len());
    let power: i64 = power.parse().unwrap_or(0);
    let step = format!("1e{}", power - decimals as i64).parse();
    step.unwrap_or(f64::INFINITY)
}

/// From here on instruments write what is none: 9.9E37 is more than they hold, 9.91E37 no number (SCPI-1999, 7.2.1.4 and 7.2.1.5;
/// from memory).
const NOT_A_NUMBER: f64 = 9.9e37;

/// Which field of a line is a date that the time of day behind it goes with: both are one number, and one column.
fn day_beside_time(line: &str, separator: char) -> Option<usize> {
    let fields = fields(line, separator);
    let bare: Vec<&str> = fields
        .iter()
        .map(|field| field.trim_matches('"').trim())
        .collect();
    let is_pair = |pair: &[&str]| date(pair[0]).is_some() && moment(pair[1]).is_some();
    bare.windows(2).position(is_pair)
}

/// The last rows above the data that have a field for each column: names, then perhaps units. `day` is the field of a date that has
/// no column of its own.
fn names_and_units(
    above: &[&str],
    separator: char,
    (width, day): (usize, Option<usize>),
) -> (Vec<String>, Vec<String>) {
    let row = |line: &str| -> Option<Vec<String>> {
        let mut all: Vec<String> = fields(line, separator)
            .into_iter()
            .map(|field| field.trim_matches('"').trim().to_owned())
            .collect();
        if let Some(day) = day.filter(|day| *day < width && all.len() == width + 1) {
            all.remove(day);
        }
        (all.len() == width).then_some(all)
    };
    let last = above.last().and_then(|line| row(line));
    let before = above
        .len()
        .checked_sub(2)
        .and_then(|index| row(above[index]));
    match (last, before) {
        (Some(last), before) if last.iter().all(|field| is_unit(field)) => {
            (before.unwrap_or_default(), last)
        }
        (Some(last), _) => (last, Vec::new()),
        (None, _) => (Vec::new(), Vec::new()),
    }
}

/// Short enough for a unit, and no channel's name.
fn is_unit(field: &str) -> bool {
    let bare = field.trim_matches(|c: char| "()[]".contains(c));
    let in_brackets = field.starts_with(['(', '[']);
    (in_brackets && bare.chars().count() <= 8) || bare.is_empty() || super::is_unit(bare)
}

/// An interval of samples from a line such as `Sample Interval,2.0e-6,s`.
fn interval(line: &str, separator: char, comma: bool) -> Option<f64> {
    let small = line.to_lowercase();
    let is_interval = ["interval", "increment", "sample period", "delta t", "dt"]
        .iter()
        .any(|word| small.contains(word));
    let is_rate = small.contains("sample rate") || small.contains("sampling rate");
    if !(is_interval || is_rate) {
        return None;
    }
    // Whole numbers do not tell which the decimal sign is.
    let positive = |piece: &str| {
        let own = number(piece.trim(), comma).or_else(|| number(piece.trim(), false));
        own.filter(|value| *value > 0.0)
    };
    let has_value = |pieces: &[&str]| -> Option<(f64, String)> {
        let at = pieces.iter().position(|piece| positive(piece).is_some())?;
        let mut behind = pieces[at + 1..].iter();
        let unit = behind.find(|piece| !piece.trim().is_empty());
        let bare = unit.map_or("", |unit| unit.trim_matches(['"', ' ']));
        Some((positive(pieces[at])?, bare.to_owned()))
    };
    // Where the data have one column, nothing tells what parts fields: a comma may as well.
    let pieces: Vec<&str> = line.split([separator, ':', '=', ' ', '\t']).collect();
    let finer: Vec<&str> = line.split([separator, ':', '=', ' ', '\t', ',']).collect();
    let (value, unit) = has_value(&pieces).or_else(|| has_value(&finer))?;
    if is_rate {
        return Some(1.0 / (value * rate_of(&unit)?));
    }
    let of_unit = super::seconds_of(&unit);
    let scale = of_unit.unwrap_or_else(|| {
        if small.contains("ms") && !small.contains("samples") {
            1e-3
        } else if small.contains("us") || small.contains("µs") {
            1e-6
        } else if small.contains("ns") {
            1e-9
        } else {
            1.0
        }
    });
    Some(value * scale)
}

/// Samples in a second of a unit: `MSa/s`, `kHz`, `S/s`; `None` for another.
fn rate_of(unit: &str) -> Option<f64> {
    let bare = unit.trim_matches(|c: char| "()[]".contains(c));
    let (scale, rest) = match bare.chars().next() {
        Some('k' | 'K') => (1e3, &bare[1..]),
        Some('M') => (1e6, &bare[1..]),
        Some('G') => (1e9, &bare[1..]),
        _ => (1.0, bare),
    };
    let known = [
        "",
        "hz",
        "s/s",
        "sa/s",
        "sps",
        "samples/s",
        "samples/sec",
        "/s",
    ];
    known
        .contains(&rest.to_lowercase().as_str())
        .then_some(scale)
}
