//! Oscillator: its acceptance. Every line of its own data sheet with what readings and the counter's log show of it, its
//! stability drawn over its limits, and the forms that take a reading of the spectrum or name a log.

mod plot;

use crate::accepted::{self, Acceptance};
use crate::log;
use crate::parts;
use crate::sheet::Sheet;
use crate::views::{Answer, View};
use crate::words;
use crate::words::oscillator as own_words;
use maud::{Markup, html};
use quietrail_bench::accept::{Accepted, Why, is_above_carrier, misplaced};
use quietrail_bench::decide::Shown;
use quietrail_bench::log::{Draft, Log, Observed};
use quietrail_job::model::{Instrument, InstrumentKind, Job};
use quietrail_job::{apart, interval};
use quietrail_report::number;
use quietrail_report::words::{acceptance as said, bringup, counted, readings};
use quietrail_study::bringup::reads;
use quietrail_study::finding::Overall;
use quietrail_units::Kind;

pub(crate) const VIEW: View = View {
    slug: "oscillator",
    name: "Oscillator",
    show,
    file: None,
    act: Some(act),
};

fn show(sheet: &Sheet<'_>) -> Markup {
    page(sheet, None)
}

/// What could not be kept.
struct Refusal {
    said: String,
    /// Whether it was a question, and is kept as typed if that is the answer.
    may_keep: bool,
    pairs: Vec<(String, String)>,
}

/// Why nothing was kept: refused, or asked about.
enum Unkept {
    Refused(String),
    Asked(String),
}

impl From<String> for Unkept {
    fn from(said: String) -> Self {
        Self::Refused(said)
    }
}

impl From<&str> for Unkept {
    fn from(said: &str) -> Self {
        Self::Refused(said.to_owned())
    }
}

fn page(sheet: &Sheet<'_>, refusal: Option<&Refusal>) -> Markup {
    let Some(job) = sheet.version.job.as_deref() else {
        return html! {};
    };
    let log = match sheet.desk.folder.log() {
        Ok(log) => log,
        Err(why) => return html! { p class="fault" role="alert" { (why.to_string()) } },
    };
    let all = accepted::all(sheet, &log);
    html! {
        div class="oscview" id="oscillator" data-live data-whole {
            @if all.is_empty() {
                div class="empty" {
                    h1 { (VIEW.name) }
                    p { (own_words::NONE) }
                    pre { (own_words::EXAMPLE) }
                }
            }
            @for one in &all { (of_one(job, &log, one, refusal)) }
        }
    }
}

fn of_one(job: &Job, log: &Log, one: &Acceptance, refusal: Option<&Refusal>) -> Markup {
    html! {
        section class="osc" {
            h1 { (one.name) ", " (number::si(one.hertz, "Hz", 4)) }
            p class="lede" { (own_words::LEDE) }
            @if one.lines.is_empty() {
                p class="lede" { (own_words::NO_LIMITS) }
            } @else {
                (tally(&one.lines))
                (lines(&one.lines))
                p class="soft" { (said::HONEST) }
            }
            @for why in &one.gone { p class="fault" role="alert" { (parts::sign(Overall::Fails)) (why) } }
            @if !one.counted.is_empty() {
                h2 { (own_words::STABILITY) }
                (plot::drawn(&one.counted, &one.lines))
                @for (name, found) in &one.counted {
                    details {
                        summary { (own_words::log_whole(name)) }
                        pre class="counted" { (number::spaced(&counted::lines(&one.name, one.hertz, found).join("\n"))) }
                    }
                }
            } @else if one.gone.is_empty() {
                p class="soft" { (own_words::NO_LOG) }
            }
            div class="two" {
                (spectrum_form(job, log, one, refusal))
                (log_form(job, log, one, refusal))
            }
        }
    }
}

fn overall(shown: Shown) -> Overall {
    match shown {
        Shown::Holds => Overall::Holds,
        Shown::Fails => Overall::Fails,
        Shown::NotShown => Overall::NotShown,
    }
}

/// How many stand how, loud.
fn tally(lines: &[Accepted]) -> Markup {
    let count = |shown: Shown| lines.iter().filter(|one| one.shown == shown).count();
    // Before the first reading a count of what is not shown says no more than that.
    if lines.iter().all(|one| one.why == Why::NotRead) {
        return html! { p class="tally plainly" { (own_words::nothing_read(lines.len())) } };
    }
    html! {
        p class="tally" {
            @for shown in [Shown::Fails, Shown::NotShown, Shown::Holds] {
                @if count(shown) > 0 {
                    span { (parts::verdict_saying(overall(shown), &own_words::count(count(shown), shown))) }
                }
            }
        }
    }
}

/// Every line of the data sheet.
pub(super) fn lines(all: &[Accepted]) -> Markup {
    let unread = all.iter().filter(|one| one.why == Why::NotRead).count();
    html! {
        @if unread > 0 && unread < all.len() { p class="soft" { (own_words::not_read(unread)) } }
        ul class="oscline" {
            @for one in all {
                li {
                    span class="verdict" { (parts::verdict(overall(one.shown))) }
                    b { (said::line(one.line)) }
                    span class="num right" { (said::allowed(one)) }
                    @let read = said::read(one);
                    @let bounds = said::bounds(one);
                    span class="num right" {
                        @if !read.is_empty() { span class="big" { (read) } }
                        @if !bounds.is_empty() { br; span class="soft" { (own_words::there(&bounds)) } }
                    }
                    @let why = if one.why == Why::NotRead { String::new() } else { said::why(one) };
                    @if !why.is_empty() { span class="because" { (why) "." } }
                }
            }
        }
    }
}

/// What of the refused form was typed in a field; else what the last reading had.
fn value<'a>(refusal: Option<&'a Refusal>, name: &str, last: &'a str) -> &'a str {
    refusal.map_or(last, |refusal| field(&refusal.pairs, name))
}

fn field<'a>(pairs: &'a [(String, String)], name: &str) -> &'a str {
    let found = pairs.iter().rev().find(|(key, _)| key == name);
    found.map_or("", |(_, value)| value.trim())
}

/// What is read at the output and in the heater lead.
const READ: [Observed; 8] = [
    Observed::Level,
    Observed::RmsVoltage,
    Observed::Harmonic,
    Observed::Spur,
    Observed::PhaseNoise,
    Observed::WarmUp,
    Observed::WarmUpCurrent,
    Observed::Retrace,
];

/// Of these what a watch or a note tells: no instrument of the job reads it.
const BY_HAND: [Observed; 2] = [Observed::WarmUp, Observed::Retrace];

/// Of these the lines of the spectrum, whose setting is offered again.
const SPECTRAL: [Observed; 4] = [
    Observed::Level,
    Observed::Harmonic,
    Observed::Spur,
    Observed::PhaseNoise,
];

fn spectrum_form(job: &Job, log: &Log, one: &Acceptance, refusal: Option<&Refusal>) -> Markup {
    let own = log
        .rows
        .iter()
        .rev()
        .find(|row| row.of == one.name && SPECTRAL.contains(&row.what));
    let last = own.map(|row| &row.setup);
    let item = |prefix: &str| -> String {
        let words = last.map_or("", |setup| setup.words.as_str());
        let found = words
            .split(';')
            .map(str::trim)
            .find_map(|item| item.strip_prefix(prefix));
        found.unwrap_or_default().to_owned()
    };
    let is_known = |item: &&str| ITEMS.iter().all(|(_, prefix)| !item.starts_with(prefix));
    let rest = last.map_or_else(String::new, |setup| {
        let items = setup.words.split(';').map(str::trim);
        items.filter(is_known).collect::<Vec<_>>().join("; ")
    });
    let refusal = refusal.filter(|refusal| field(&refusal.pairs, "kind") == "reading");
    let mut known: Vec<&Instrument> = job
        .instruments
        .iter()
        .filter(|known| READ.iter().any(|what| reads(known, *what)))
        .collect();
    // Most lines are read with an analyser.
    known.sort_by_key(|known| !SPECTRAL.iter().all(|what| reads(known, *what)));
    let names: Vec<&str> = known.iter().map(|known| known.name.as_str()).collect();
    let chosen = value(
        refusal,
        "with",
        own.map_or("", |row| row.instrument.as_str()),
    );
    let what = value(refusal, "what", "");
    html! {
        form class="now" method="post" action="oscillator" {
            input type="hidden" name="kind" value="reading";
            input type="hidden" name="of" value=(one.name);
            h2 { (own_words::READING) }
            div class="setup" {
                label { (own_words::WHAT) select name="what" required { option value="" selected[what.is_empty()] { (own_words::CHOOSE) } @for known in READ {
                    option value=(known.word()) selected[known.word() == what] { (bringup::observed(known)) }
                } } }
                label { (own_words::VALUE) input type="text" name="typed" required autocomplete="off" placeholder=(own_words::VALUE_AS) value=(value(refusal, "typed", "")); }
                @if names.is_empty() { p class="soft wide" { (own_words::NO_INSTRUMENT) } }
                @else { label { (words::WITH) select name="with" { @for name in &names { option selected[*name == chosen] { (name) } } option value="" selected[refusal.is_some() && chosen.is_empty()] { (own_words::BY_HAND) } } } }
                @for (label, prefix) in ITEMS {
                    @let own = item(prefix);
                    label { (label) input type="text" name=(prefix.trim()) value=(value(refusal, prefix.trim(), if *prefix == "at " { "" } else { own.as_str() })); }
                }
                label class="wide" { (words::SETUP) input type="text" name="setup" value=(value(refusal, "setup", &rest)); }
            }
            @if let Some(refusal) = refusal { p class="fault" role="alert" { (parts::sign(Overall::Fails)) (refusal.said) } }
            div class="keep" {
                button class="btn main" { (own_words::KEEP) }
                @if refusal.is_some_and(|refusal| refusal.may_keep) { button class="btn" name="as_typed" value="1" { (words::bench::AS_TYPED) } }
            }
        }
    }
}

/// Items of the set-up that have a field of their own.
const ITEMS: &[(&str, &str)] = &[
    (own_words::AT, "at "),
    (own_words::RESOLUTION, "rbw "),
    (own_words::ATTENUATION, "attenuation "),
    (own_words::REFERENCE, "reference "),
    (own_words::INTO, "into "),
    (own_words::ERROR, "error "),
];

fn log_form(job: &Job, log: &Log, one: &Acceptance, refusal: Option<&Refusal>) -> Markup {
    let own = log.rows.iter().rev().find(|row| {
        row.of == one.name && row.what == Observed::Frequency && !row.capture.is_empty()
    });
    let refusal = refusal.filter(|refusal| field(&refusal.pairs, "kind") == "log");
    let counters = job
        .instruments
        .iter()
        .filter(|known| known.kind == InstrumentKind::Counter);
    let counters: Vec<_> = counters.collect();
    html! {
        form class="now" method="post" action="oscillator" {
            input type="hidden" name="kind" value="log";
            input type="hidden" name="of" value=(one.name);
            h2 { (own_words::LOG) }
            p class="soft" { (own_words::LOG_SAYS) }
            div class="setup" {
                label class="wide" { (own_words::FILE) input type="text" name="capture" required placeholder="captures/counter.csv" value=(value(refusal, "capture", own.map_or("", |row| row.capture.as_str()))); }
                label { (own_words::COLUMN) input type="text" name="column" value=(value(refusal, "column", own.and_then(|row| row.setup.column.as_deref()).unwrap_or_default())); }
                @if counters.is_empty() { p class="soft wide" { (own_words::NO_INSTRUMENT) } }
                @else { label { (words::WITH) select name="with" { @for known in counters { option { (known.name) } } } } }
                label class="wide" { (words::SETUP) input type="text" name="setup" required value=(value(refusal, "setup", "")); }
            }
            @if let Some(refusal) = refusal { p class="fault" role="alert" { (parts::sign(Overall::Fails)) (refusal.said) } }
            div class="keep" { button class="btn main" { (own_words::KEEP) } }
        }
    }
}

fn act(sheet: &Sheet<'_>, pairs: &[(String, String)]) -> Answer {
    match keep(sheet, pairs) {
        Ok(()) => Answer::Go(sheet.asked.corner().href("oscillator")),
        Err(why) => {
            let (said, may_keep) = match why {
                Unkept::Refused(said) => (said, false),
                Unkept::Asked(said) => (said, true),
            };
            let refusal = Refusal {
                said,
                may_keep,
                pairs: pairs.to_vec(),
            };
            Answer::Page(422, page(sheet, Some(&refusal)))
        }
    }
}

fn keep(sheet: &Sheet<'_>, pairs: &[(String, String)]) -> Result<(), Unkept> {
    let get = |name: &str| field(pairs, name);
    let job = sheet.version.job.as_deref().ok_or(own_words::NONE)?;
    let own = job
        .oscillators
        .iter()
        .find(|own| own.name == get("of"))
        .ok_or(own_words::NONE)?;
    let mut draft = Draft {
        time: log::now(),
        of: own.name.clone(),
        instrument: get("with").to_owned(),
        ..Draft::default()
    };
    let what = Observed::named(get("what")).filter(|what| READ.contains(what));
    let is_by_hand = get("kind") != "log" && what.is_some_and(|what| BY_HAND.contains(&what));
    if draft.instrument.is_empty() && !is_by_hand {
        return Err(own_words::NO_INSTRUMENT.into());
    }
    if get("kind") == "log" {
        draft.what = Observed::Frequency.word().to_owned();
        draft.capture = get("capture").to_owned();
        draft.setup = get("setup").to_owned();
        if draft.setup.is_empty() {
            return Err(said::KEEP_NEEDS.into());
        }
        let column = Some(get("column")).filter(|name| !name.is_empty());
        if let Some(name) = column {
            draft.setup.push_str(&format!("; column {name}"));
        }
        let found = accepted::worked_out(sheet, own, &draft.capture, column)?;
        draft.value = found.kept_hertz(own.frequency.nominal());
        draft.unit = "Hz".to_owned();
        return Ok(sheet.desk.folder.keep(&draft)?);
    }
    let what = what.ok_or(own_words::WHAT)?;
    let instrument = job
        .instruments
        .iter()
        .find(|one| one.name == draft.instrument);
    let is_named = !draft.instrument.is_empty();
    if is_named && instrument.is_none_or(|one| !reads(one, what)) {
        return Err(readings::does_not_read(&draft.instrument, what.word()).into());
    }
    let is_as_typed = get("as_typed") == "1";
    draft.what = what.word().to_owned();
    let typed = get("typed");
    let whole = if typed.ends_with(|c: char| c.is_ascii_digit()) {
        format!("{typed} {}", what.kind().symbol())
    } else {
        typed.to_owned()
    };
    if let Some(said) = readings::level_of_line(&whole, what) {
        return Err(said.into());
    }
    (draft.value, draft.unit) = apart(what.kind(), &whole).map_err(|error| error.to_string())?;
    let read = interval(what.kind(), &whole).map_or(0.0, |(_, nominal, _)| nominal);
    if is_above_carrier(what, read) && !is_as_typed {
        return Err(Unkept::Asked(readings::above_carrier(&whole)));
    }
    let mut items: Vec<String> = Vec::new();
    for (label, prefix) in ITEMS {
        let typed = get(prefix.trim());
        if !typed.is_empty() {
            items.push(format!("{prefix}{typed}"));
            if !is_read(&items[items.len() - 1]) {
                return Err(own_words::not_an_item(label, typed).into());
            }
        }
    }
    items.extend(Some(get("setup").to_owned()).filter(|rest| !rest.is_empty()));
    draft.setup = items.join("; ");
    let carrier = own.frequency.nominal();
    let at = quietrail_bench::log::SetUp::of(&draft.setup).at;
    let odd = at.and_then(|at| Some((misplaced(what, at, carrier)?, at)));
    if let Some((odd, at)) = odd.filter(|_| !is_as_typed) {
        return Err(Unkept::Asked(readings::misplaced(odd, at, carrier)));
    }
    if draft.setup.is_empty() {
        return Err(words::bench::NO_SETUP.into());
    }
    Ok(sheet.desk.folder.keep(&draft)?)
}

/// Whether an item of the set-up is understood.
fn is_read(item: &str) -> bool {
    let setup = quietrail_bench::log::SetUp::of(item);
    setup.at.is_some()
        || setup.resolution.is_some()
        || setup.attenuation.is_some()
        || setup.reference.is_some()
        || setup.into.is_some()
        || [Kind::Seconds, Kind::Ratio]
            .into_iter()
            .any(|kind| setup.error(kind).is_some())
}
