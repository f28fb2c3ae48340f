//! Forms for the readings of an unmarked transformer, one for each kind, and what is typed into them as it goes into the job.

use super::super::Answer;
use super::over;
use crate::desk::Refused;
use crate::parts;
use crate::sheet::Sheet;
use crate::words::unmarked as words;
use maud::{Markup, html};
use quietrail_job::model::unmarked::{Drive, Unmarked};
use quietrail_job::{Severity, add_reading};
use quietrail_report::words::transformer as said;
use quietrail_study::finding::Overall;
use quietrail_study::transformer::ReadingKind;

/// What a field takes.
#[derive(Clone, Copy)]
enum Takes {
    /// Two leads.
    Pair,
    /// Two leads, or iron and screen.
    PairOrCore,
    /// Leads tied together.
    Ties,
    /// A quantity with its usual unit.
    Quantity(&'static str),
    /// The same, or the word "open".
    OhmsOrOpen,
    /// Resistances at times.
    Times,
    /// One of some words, or none of them.
    Choice(&'static [&'static str]),
}

/// A field of a form.
struct Field {
    key: &'static str,
    label: &'static str,
    takes: Takes,
    must: bool,
}

const fn must(key: &'static str, label: &'static str, takes: Takes) -> Field {
    Field {
        key,
        label,
        takes,
        must: true,
    }
}

const fn may(key: &'static str, label: &'static str, takes: Takes) -> Field {
    Field {
        key,
        label,
        takes,
        must: false,
    }
}

const DRIVEN: Field = must("driven", words::DRIVEN, Takes::Pair);
const AT: Field = must("at", words::AT, Takes::Quantity("V"));
const JOINED: Field = may("joined", words::JOINED, Takes::Ties);
const ACROSS: Field = must("across", words::ACROSS, Takes::Pair);

/// The fields of a kind of reading, in the order of the bench.
fn fields(kind: ReadingKind) -> &'static [Field] {
    match kind {
        ReadingKind::Ohms => {
            &const {
                [
                    must("between", words::BETWEEN, Takes::Pair),
                    must("reads", words::READS, Takes::OhmsOrOpen),
                ]
            }
        }
        ReadingKind::Insulation => {
            &const {
                [
                    must("between", words::BETWEEN, Takes::PairOrCore),
                    must("reads", words::READS, Takes::Quantity("MΩ")),
                    must("at", words::TEST_VOLTS, Takes::Quantity("V")),
                    may("air", words::AIR, Takes::Choice(&["dry", "damp"])),
                ]
            }
        }
        ReadingKind::Volts => {
            &const {
                [
                    DRIVEN,
                    AT,
                    JOINED,
                    ACROSS,
                    must("reads", words::READS, Takes::Quantity("V")),
                ]
            }
        }
        ReadingKind::Shorted => {
            &const {
                [
                    DRIVEN,
                    AT,
                    JOINED,
                    must("short", words::SHORT, Takes::Pair),
                    must("amps", words::AMPS, Takes::Quantity("A")),
                    may("watts", words::WATTS, Takes::Quantity("W")),
                ]
            }
        }
        ReadingKind::NoLoad => {
            &const {
                [
                    DRIVEN,
                    AT,
                    JOINED,
                    must("amps", words::AMPS, Takes::Quantity("A")),
                    may("watts", words::WATTS, Takes::Quantity("W")),
                ]
            }
        }
        ReadingKind::Loaded => {
            &const {
                [
                    DRIVEN,
                    AT,
                    JOINED,
                    ACROSS,
                    may("ohms", words::LOAD_OHMS, Takes::Quantity("Ω")),
                    may("amps", words::LOAD_AMPS, Takes::Quantity("A")),
                    may("reservoir", words::RESERVOIR, Takes::Quantity("µF")),
                    must("reads", words::READS, Takes::Quantity("V")),
                ]
            }
        }
        ReadingKind::Existing => {
            &const {
                [
                    DRIVEN,
                    AT,
                    JOINED,
                    ACROSS,
                    must("unplugged", words::UNPLUGGED, Takes::Quantity("V")),
                    must("plugged", words::PLUGGED, Takes::Quantity("V")),
                ]
            }
        }
        ReadingKind::Hot => {
            &const {
                [
                    must("between", words::BETWEEN, Takes::Pair),
                    must("cold", words::COLD, Takes::Quantity("Ω")),
                    must("cold_at", words::COLD_AT, Takes::Quantity("°C")),
                    must("after", words::AFTER, Takes::Times),
                    must("room", words::ROOM, Takes::Quantity("°C")),
                    may("copper_loss", words::COPPER_LOSS, Takes::Quantity("W")),
                    may("core_loss", words::CORE_LOSS, Takes::Quantity("W")),
                    may("carried", words::CARRIED, Takes::Quantity("VA")),
                ]
            }
        }
    }
}

/// What could not be kept: of which transformer and form, why, and what was typed.
pub(super) struct Refusal {
    of: (String, String),
    said: String,
    typed: Vec<(String, String)>,
}

impl Refusal {
    /// Whether it is about a form that no transformer shows any more, or never did.
    pub(super) fn is_of_none(&self, names: &[&str]) -> bool {
        !names.contains(&self.of.0.as_str())
    }

    /// Whether it is about this form of this transformer.
    pub(super) fn is_of(&self, name: &str, kind: &str) -> bool {
        self.of.0 == name && self.of.1 == kind
    }

    /// Why.
    pub(super) fn said(&self) -> &str {
        &self.said
    }
}

/// All forms of one transformer, in the order in which readings are best taken; the first kind that is not read yet stands open.
pub(super) fn forms(sheet: &Sheet<'_>, unmarked: &Unmarked, refusal: Option<&Refusal>) -> Markup {
    let mine = refusal.filter(|refusal| refusal.of.0 == unmarked.name);
    let next = said::ORDER
        .iter()
        .map(|(kind, _)| *kind)
        .find(|kind| count(unmarked, *kind) == 0);
    html! {
        section class="take" {
            h3 { (words::TAKE) }
            p class="soft" { (words::TAKE_HOW) }
            @for (kind, how) in said::ORDER {
                @let key = said::key(kind);
                @let wrong = mine.filter(|refusal| refusal.of.1 == key);
                @let is_open = wrong.is_some() || (mine.is_none() && next == Some(kind));
                details open[is_open] {
                    summary { b { (said::kind(kind)) } " " span class="soft num" { (words::taken(count(unmarked, kind))) } }
                    p { (crate::parts::prose(how)) }
                    form method="post" action="transformer" {
                        (hidden(sheet, &unmarked.name, key))
                        div class="typed" { @for field in fields(kind) { (input(unmarked, field, wrong)) } }
                        (trouble(wrong))
                        button class="btn main" { (words::KEEP) }
                    }
                }
            }
            (day(sheet, unmarked, mine))
            @if unmarked.primary.is_empty() { (primary(sheet, unmarked, mine)) }
        }
    }
}

fn hidden(sheet: &Sheet<'_>, name: &str, kind: &str) -> Markup {
    html! {
        input type="hidden" name="sum" value=(sheet.version.sum);
        input type="hidden" name="name" value=(name);
        input type="hidden" name="kind" value=(kind);
    }
}

pub(super) fn trouble(refusal: Option<&Refusal>) -> Markup {
    html! {
        @if let Some(refusal) = refusal { p class="fault" role="alert" { (parts::sign(Overall::Fails)) (refusal.said) } }
    }
}

/// The mains over a day.
fn day(sheet: &Sheet<'_>, unmarked: &Unmarked, mine: Option<&Refusal>) -> Markup {
    let wrong = mine.filter(|refusal| refusal.of.1 == "day");
    let field = must("day", words::READS, Takes::Quantity("V"));
    html! {
        details open[wrong.is_some()] {
            summary { b { (words::DAY) } " " span class="soft num" { (words::taken(unmarked.day.len())) } }
            p { (words::DAY_HOW) }
            form method="post" action="transformer" {
                (hidden(sheet, &unmarked.name, "day"))
                div class="typed" { (input(unmarked, &field, wrong)) }
                (trouble(wrong))
                button class="btn main" { (words::KEEP) }
            }
        }
    }
}

/// Which leads the mains was on, and what says so.
fn primary(sheet: &Sheet<'_>, unmarked: &Unmarked, mine: Option<&Refusal>) -> Markup {
    let wrong = mine.filter(|refusal| refusal.of.1 == "primary");
    let typed = |key: &str| wrong.map_or("", |refusal| field_of(&refusal.typed, key));
    html! {
        details open[wrong.is_some()] {
            summary { b { (words::PRIMARY) } }
            p { (words::PRIMARY_HOW) }
            form method="post" action="transformer" {
                (hidden(sheet, &unmarked.name, "primary"))
                div class="typed" {
                    label { (words::PRIMARY_LEADS) input type="text" name="leads" required autocomplete="off" value=(typed("leads")); }
                    label { (words::PRIMARY_BECAUSE) input type="text" name="because" required autocomplete="off" value=(typed("because")); }
                }
                (trouble(wrong))
                button class="btn main" { (words::KEEP) }
            }
        }
    }
}

/// The form with which a job without readings begins.
pub(super) fn begin(sheet: &Sheet<'_>, refusal: Option<&Refusal>) -> Markup {
    let wrong = refusal.filter(|refusal| refusal.of.1 == "leads");
    let typed = |key: &str| wrong.map(|refusal| field_of(&refusal.typed, key));
    html! {
        section class="take" {
            h3 { (words::BEGIN) }
            form method="post" action="transformer" {
                input type="hidden" name="sum" value=(sheet.version.sum);
                input type="hidden" name="kind" value="leads";
                div class="typed" {
                    label { (words::NAME) input type="text" name="name" required pattern="[A-Za-z0-9_\\-]+" autocomplete="off" value=(typed("name").unwrap_or("T1")); }
                    label { (words::LEADS) input type="text" name="leads" required autocomplete="off" value=(typed("leads").unwrap_or_default()); }
                }
                (trouble(wrong))
                button class="btn main" { (words::KEEP) }
            }
        }
    }
}

fn count(unmarked: &Unmarked, kind: ReadingKind) -> usize {
    match kind {
        ReadingKind::Ohms => unmarked.ohms.len(),
        ReadingKind::Volts => unmarked.volts.len(),
        ReadingKind::Shorted => unmarked.shorted.len(),
        ReadingKind::NoLoad => unmarked.no_load.len(),
        ReadingKind::Loaded => unmarked.loaded.len(),
        ReadingKind::Existing => unmarked.existing.len(),
        ReadingKind::Hot => usize::from(unmarked.hot.is_some()),
        ReadingKind::Insulation => unmarked.insulation.len(),
    }
}

/// How the source was put on in the last reading with one: the next is mostly put on alike.
fn last_drive(unmarked: &Unmarked) -> Option<&Drive> {
    let existing = unmarked.existing.iter().map(|one| &one.drive);
    let loaded = unmarked.loaded.iter().map(|one| &one.drive);
    let no_load = unmarked.no_load.iter().map(|one| &one.drive);
    let shorted = unmarked.shorted.iter().map(|one| &one.drive);
    let volts = unmarked.volts.iter().map(|one| &one.drive);
    let all = volts.chain(shorted).chain(no_load).chain(loaded);
    all.chain(existing).last()
}

fn input(unmarked: &Unmarked, field: &Field, refusal: Option<&Refusal>) -> Markup {
    let typed = |part: &str| {
        let key = format!("{}{part}", field.key);
        refusal.map(|refusal| field_of(&refusal.typed, &key).to_owned())
    };
    let drive = last_drive(unmarked).filter(|_| field.key == "driven" || field.key == "joined");
    let leads = |extra: &[&str]| -> Vec<String> {
        let own = unmarked.leads.iter().cloned();
        own.chain(extra.iter().map(|one| (*one).to_owned()))
            .collect()
    };
    let pair = |names: &[String]| {
        let first = typed(".0").or_else(|| drive.map(|drive| drive.driven.0.clone()));
        let second = typed(".1").or_else(|| drive.map(|drive| drive.driven.1.clone()));
        let second = second.or_else(|| names.get(1).cloned());
        let of = |part: &str, label: String, chosen: Option<String>| {
            html! {
                select name={ (field.key) (part) } aria-label=(label) {
                    @for name in names { option selected[chosen.as_deref() == Some(name)] { (name) } }
                }
            }
        };
        html! {
            fieldset class="pair" {
                legend { (field.label) }
                (of(".0", words::first(field.label), first))
                (of(".1", words::second(field.label), second))
            }
        }
    };
    match field.takes {
        Takes::Pair => pair(&leads(&[])),
        Takes::PairOrCore => pair(&leads(&["core", "screen"])),
        Takes::Ties => {
            let before = drive.map(|drive| {
                let all: Vec<String> = drive
                    .joined
                    .iter()
                    .map(|(a, b)| format!("{a} + {b}"))
                    .collect();
                all.join(", ")
            });
            html! {
                label { (field.label)
                    input type="text" name=(field.key) autocomplete="off" placeholder=(words::TIES_LIKE)
                        value=(typed("").or(before).unwrap_or_default());
                }
            }
        }
        Takes::Choice(all) => html! {
            label { (field.label)
                select name=(field.key) {
                    option value="" { (words::NOT_SAID) }
                    @for one in all { option selected[typed("").as_deref() == Some(one)] { (one) } }
                }
            }
        },
        Takes::Quantity(_) | Takes::OhmsOrOpen | Takes::Times => {
            let unit = match field.takes {
                Takes::Quantity(unit) => unit,
                Takes::Times => words::TIMES_LIKE,
                _ => words::OHMS_OR_OPEN,
            };
            html! {
                label { span { (field.label) " " span class="soft" { "(" (unit) ")" } }
                    input type="text" name=(field.key) required[field.must] autocomplete="off" value=(typed("").unwrap_or_default());
                }
            }
        }
    }
}

/// Takes a form that was sent.
pub(super) fn take(sheet: &Sheet<'_>, pairs: &[(String, String)]) -> Result<Answer, Refusal> {
    let get = |key: &str| field_of(pairs, key);
    let (name, kind) = (get("name"), get("kind"));
    let refuse = |said: String| Refusal {
        of: (name.to_owned(), kind.to_owned()),
        said,
        typed: pairs.to_vec(),
    };
    let is_model = kind == over::KIND;
    let changes = if is_model {
        Vec::new()
    } else {
        changes(name, kind, pairs).map_err(refuse)?
    };
    let parts = sheet.version.texts.parts.clone();
    let outcome = sheet.desk.write(get("sum"), |text| {
        let mut new = text.to_owned();
        if is_model {
            new = over::text(sheet, name, text)?;
        }
        for (key, value, is_list) in &changes {
            new =
                add_reading(&new, name, key, value, *is_list).map_err(|error| error.to_string())?;
        }
        // What was wrong before may stay; what is typed now must not add to it.
        let errors = |text: &str| -> Vec<String> {
            let reading = quietrail_job::read(text, parts.as_deref());
            let wrong = reading.diagnostics.into_iter();
            wrong
                .filter(|one| one.severity >= Severity::Error)
                .map(|one| match one.help {
                    Some(help) => format!("{}: {help}", one.message),
                    None => one.message,
                })
                .collect()
        };
        let before = errors(text);
        match errors(&new).into_iter().find(|one| !before.contains(one)) {
            Some(error) => Err(error),
            None => Ok(new),
        }
    });
    match outcome {
        Ok(()) => Ok(Answer::Go("transformer".to_owned())),
        Err(Refused::Broken(said) | Refused::Folder(said)) => Err(refuse(said)),
        Err(Refused::Stale(_) | Refused::Nothing) => Err(refuse(words::STALE.to_owned())),
    }
}

/// Key, TOML and whether it goes into a list.
type Changed = (&'static str, String, bool);

/// What a form that was sent puts into the job.
fn changes(name: &str, kind: &str, pairs: &[(String, String)]) -> Result<Vec<Changed>, String> {
    let get = |key: &str| field_of(pairs, key);
    let is_name = !name.is_empty()
        && name
            .bytes()
            .all(|b| b.is_ascii_alphanumeric() || b == b'-' || b == b'_');
    if !is_name {
        return Err(words::NO_NAME.to_owned());
    }
    let leads = || -> Result<String, String> {
        let all: Vec<String> = get("leads")
            .split([',', ';'])
            .map(str::trim)
            .filter(|lead| !lead.is_empty())
            .map(quoted)
            .collect();
        match all.len() {
            0 | 1 => Err(words::FEW_LEADS.to_owned()),
            _ => Ok(format!("[{}]", all.join(", "))),
        }
    };
    match kind {
        "leads" => return Ok(vec![("leads", leads()?, false)]),
        "primary" => {
            let because = get("because");
            if because.is_empty() {
                return Err(words::NO_BECAUSE.to_owned());
            }
            return Ok(vec![
                ("primary", leads()?, false),
                ("primary_because", quoted(because), false),
            ]);
        }
        "day" => {
            let value = with_unit(get("day"), "V").ok_or(words::EMPTY)?;
            return Ok(vec![("day", quoted(&value), true)]);
        }
        _ => {}
    }
    let (kind, _) = said::ORDER
        .into_iter()
        .find(|(of, _)| said::key(*of) == kind)
        .ok_or(words::EMPTY)?;
    let mut written = Vec::new();
    for field in fields(kind) {
        match typed(field, pairs)? {
            Some(value) => written.push(format!("{} = {value}", field.key)),
            None if field.must => return Err(words::lacks(field.label)),
            None => {}
        }
    }
    if kind == ReadingKind::Loaded && !get("reservoir").is_empty() {
        written.push("rectified = \"bridge\"".to_owned());
    }
    let table = format!("{{ {} }}", written.join(", "));
    Ok(vec![(said::key(kind), table, kind != ReadingKind::Hot)])
}

/// What a field holds, as TOML; nothing where nothing was typed.
fn typed(field: &Field, pairs: &[(String, String)]) -> Result<Option<String>, String> {
    let whole = field_of(pairs, field.key);
    Ok(match field.takes {
        Takes::Pair | Takes::PairOrCore => {
            let of = |part: &str| field_of(pairs, &format!("{}{part}", field.key));
            let (a, b) = (of(".0"), of(".1"));
            if a == b {
                return Err(words::same(field.label));
            }
            Some(format!("[{}, {}]", quoted(a), quoted(b)))
        }
        Takes::Ties | Takes::Times if whole.is_empty() => None,
        Takes::Ties => {
            let pairs: Option<Vec<String>> = whole
                .split([',', ';'])
                .map(|tie| {
                    let (a, b) = tie.split_once('+')?;
                    Some(format!("[{}, {}]", quoted(a.trim()), quoted(b.trim())))
                })
                .collect();
            Some(format!("[{}]", pairs.ok_or(words::TIES_HOW)?.join(", ")))
        }
        Takes::Quantity(unit) => with_unit(whole, unit).map(|value| quoted(&value)),
        Takes::OhmsOrOpen if whole.eq_ignore_ascii_case("open") => Some(quoted("open")),
        Takes::OhmsOrOpen => with_unit(whole, "Ω").map(|value| quoted(&value)),
        Takes::Times => {
            let all: Vec<String> = whole
                .split(", ")
                .flat_map(|one| one.split(';'))
                .map(|one| quoted(one.trim()))
                .collect();
            Some(format!("[{}]", all.join(", ")))
        }
        Takes::Choice(_) => (!whole.is_empty()).then(|| quoted(whole)),
    })
}

/// A bare number gets its usual unit; what has one keeps it.
fn with_unit(text: &str, unit: &str) -> Option<String> {
    if text.is_empty() {
        return None;
    }
    let is_bare = text
        .chars()
        .all(|c| c.is_ascii_digit() || matches!(c, '.' | ',' | '-' | '+'));
    Some(if is_bare {
        format!("{text} {unit}")
    } else {
        text.to_owned()
    })
}

/// A text of TOML.
fn quoted(text: &str) -> String {
    let mut out = String::from("\"");
    for c in text.chars().filter(|c| !c.is_control()) {
        if matches!(c, '"' | '\\') {
            out.push('\\');
        }
        out.push(c);
    }
    out.push('"');
    out
}

/// What a field of a form holds.
fn field_of<'a>(pairs: &'a [(String, String)], name: &str) -> &'a str {
    let found = pairs.iter().rev().find(|(key, _)| key == name);
    found.map_or("", |(_, value)| value.trim())
}

#[cfg(test)]
mod tests {
    use super::{changes, quoted, with_unit};

    fn sent(pairs: &[(&str, &str)]) -> Vec<(String, String)> {
        let own = pairs.iter();
        own.map(|(key, value)| ((*key).to_owned(), (*value).to_owned()))
            .collect()
    }

    #[test]
    fn a_reading_becomes_a_table() {
        let pairs = sent(&[
            ("driven.0", "red"),
            ("driven.1", "grey"),
            ("at", "12.1"),
            ("joined", "black + white"),
            ("short.0", "yellow"),
            ("short.1", "green"),
            ("amps", "46.6 mA"),
        ]);
        let found = changes("T1", "shorted", &pairs).expect("a table");
        let table = "{ driven = [\"red\", \"grey\"], at = \"12.1 V\", joined = [[\"black\", \"white\"]], short = [\"yellow\", \
                     \"green\"], amps = \"46.6 mA\" }";
        assert_eq!(found, [("shorted", table.to_owned(), true)]);
    }

    #[test]
    fn what_is_missing_or_twice_the_same_is_said() {
        let pairs = sent(&[("between.0", "red"), ("between.1", "red"), ("reads", "2")]);
        assert!(changes("T1", "ohms", &pairs).is_err());
        let pairs = sent(&[("between.0", "red"), ("between.1", "black"), ("reads", "")]);
        assert!(changes("T1", "ohms", &pairs).is_err());
        assert!(changes("", "ohms", &pairs).is_err());
        assert!(changes("T1", "leads", &sent(&[("leads", "red")])).is_err());
        assert!(changes("T1", "nonsense", &pairs).is_err());
    }

    #[test]
    fn units_are_added_to_bare_numbers_alone() {
        assert_eq!(with_unit("8,40", "V").as_deref(), Some("8,40 V"));
        assert_eq!(
            with_unit("8.40 V ±0.01 V", "V").as_deref(),
            Some("8.40 V ±0.01 V")
        );
        assert_eq!(with_unit("0R28", "Ω").as_deref(), Some("0R28"));
        assert_eq!(with_unit("", "V"), None);
        assert_eq!(quoted("a\"b\\c\n"), "\"a\\\"b\\\\c\"");
    }
}
