//! A new job in an empty folder: rails and states are chosen, a few questions answered, and a commented job file comes of it.

use crate::asked::Asked;
use crate::desk::{Desk, Refused};
use crate::page;
use crate::parts;
use crate::sheet::FieldFault;
use crate::views::Answer;
use crate::words;
use maud::{Markup, html};
use quietrail_job::Severity;
use quietrail_job::begin::{ALL, Answers, MOST, REGION, Rail, Region, STATES, Supply, wrong_with};
use quietrail_report::{Style, diagnostics};
use quietrail_study::finding::Overall;

/// Regions to begin from.
const REGIONS: [&str; 4] = [REGION, "240 V 50 Hz", "120 V 60 Hz", "100 V 50 Hz"];

/// Questions of the template that are asked for each rail instead.
const OF_A_RAIL: [&str; 7] = [
    "output",
    "cold",
    "warm",
    "window_low",
    "window_high",
    "ripple",
    "sink",
];

/// What was chosen and typed.
struct Typed<'a> {
    region: Region,
    states: &'a str,
    rails: usize,
    pairs: &'a [(String, String)],
}

impl<'a> Typed<'a> {
    /// From the pairs of a query or a form.
    fn of(pairs: &'a [(String, String)]) -> Self {
        let named = value(pairs, "region").unwrap_or(REGION);
        let fallback = Region::parse(REGION).expect("the region that stands by default");
        let rails = value(pairs, "rails").and_then(|text| text.parse().ok());
        Self {
            region: Region::parse(named).unwrap_or(fallback),
            states: value(pairs, "states").unwrap_or(STATES),
            rails: rails.unwrap_or(1).clamp(1, MOST),
            pairs,
        }
    }

    fn get(&self, name: &str) -> &'a str {
        value(self.pairs, name).unwrap_or_default()
    }

    /// The rails as typed, all that was left empty at its default.
    fn supply(&self, board: Answers) -> Supply {
        let blank = Supply::of(board.clone(), self.states, Vec::new());
        let rails = (0..self.rails).map(|rail| {
            let of = |field: &str| self.get(&field_name(rail, field)).to_owned();
            Rail {
                load: of("load"),
                volts: of("volts"),
                draws: (0..blank.states.len())
                    .map(|state| of(&format!("draw {state}")))
                    .collect(),
                low: of("low"),
                high: of("high"),
                ripple: of("ripple"),
                sink: of("sink"),
            }
        });
        Supply::of(board, self.states, rails.collect())
    }
}

fn value<'a>(pairs: &'a [(String, String)], wanted: &str) -> Option<&'a str> {
    let found = pairs.iter().find(|(key, _)| key == wanted)?;
    Some(found.1.trim()).filter(|text| !text.is_empty())
}

/// What a field of a rail is called in the form.
fn field_name(rail: usize, field: &str) -> String {
    format!("rail{}-{}", rail + 1, field.replace(' ', "-"))
}

/// The questions, with defaults for the region, states and rails asked for.
pub(crate) fn page(desk: &Desk, asked: &Asked) -> Markup {
    let mut pairs: Vec<(String, String)> = asked.more.clone().into_iter().collect();
    // The mains of a corner has the same name.
    pairs.extend(
        asked
            .mains
            .iter()
            .map(|mains| ("mains".to_owned(), mains.clone())),
    );
    let typed = Typed::of(&pairs);
    // Enter in a field asks anew: what cannot be read is said then, not only when all is written.
    let faults = if pairs.is_empty() {
        Vec::new()
    } else {
        checked(&typed).1
    };
    questions(desk, &typed, &faults, None)
}

/// The supply as typed, and what is wrong with it at which field.
fn checked(typed: &Typed<'_>) -> (Supply, Vec<FieldFault>) {
    let mut board = Answers::new(typed.region);
    let mut faults = Vec::new();
    for question in ALL {
        let default = question.default(&board);
        let answer = if question.is_asked && !OF_A_RAIL.contains(&question.name) {
            typed.get(question.name)
        } else {
            ""
        };
        match wrong_with(
            question,
            if answer.is_empty() { &default } else { answer },
            &board,
        ) {
            None if answer.is_empty() => board.take(question.name, default),
            None => board.take(question.name, answer.to_owned()),
            Some(said) => {
                faults.push(fault(question.name, said));
                board.take(question.name, default);
            }
        }
    }
    let supply = typed.supply(board);
    faults.extend(supply.faults().into_iter().map(|one| {
        let name = one.rail.map(|rail| field_name(rail, &one.field));
        fault(&name.unwrap_or(one.field), one.said)
    }));
    (supply, faults)
}

/// Takes the answers: writes the job, or says at the field what is wrong.
pub(crate) fn begin(desk: &Desk, pairs: &[(String, String)]) -> Answer {
    let typed = Typed::of(pairs);
    let (supply, faults) = checked(&typed);
    if !faults.is_empty() {
        return Answer::Page(400, questions(desk, &typed, &faults, None));
    }
    let text = supply.text();
    let reading = quietrail_job::read(&text, None);
    let is_whole = reading
        .diagnostics
        .iter()
        .all(|one| one.severity < Severity::Error);
    if !is_whole {
        let style = Style {
            color: false,
            width: 110,
        };
        let file = desk.folder.file_name();
        let said = diagnostics::render(
            &reading.diagnostics,
            &text,
            None,
            &file,
            "parts.toml",
            style,
        );
        return Answer::Page(400, questions(desk, &typed, &faults, Some(&said)));
    }
    let empty = desk.version().sum.clone();
    match desk.write(&empty, |_| Ok(text)) {
        Ok(()) | Err(Refused::Stale(_) | Refused::Nothing) => Answer::Go("descent".to_owned()),
        Err(Refused::Folder(said) | Refused::Broken(said)) => {
            let fault = fault("title", said);
            Answer::Page(409, questions(desk, &typed, &[fault], None))
        }
    }
}

fn fault(name: &str, said: String) -> FieldFault {
    FieldFault {
        address: name.to_owned(),
        typed: String::new(),
        said,
        choices: Vec::new(),
    }
}

fn questions(desk: &Desk, typed: &Typed<'_>, faults: &[FieldFault], whole: Option<&str>) -> Markup {
    let mut board = Answers::new(typed.region);
    let mut asked = Vec::new();
    let mut kept = Vec::new();
    for question in ALL {
        let default = question.default(&board);
        board.take(question.name, default.clone());
        // The region has its field further up.
        if question.name == "region" {
            continue;
        }
        if question.is_asked && !OF_A_RAIL.contains(&question.name) {
            asked.push((question, default));
        } else if !question.is_asked {
            kept.push((question.asks, default));
        }
    }
    let supply = typed.supply(board);
    let named = typed.region.to_string();
    let states = supply.states.join(", ");
    let file = desk.folder.file_name();
    let of_states = faults.iter().find(|fault| fault.address == "states");
    // Who goes by keyboard goes on where it went on: at the first fault, else at the first question that was asked for.
    let focus = match faults.first() {
        Some(fault) => fault.address.as_str(),
        None if typed.pairs.is_empty() => "",
        None => "title",
    };
    let field = |name: &str, asks: &str, value: &str| field((name, focus), asks, value, faults);
    let inside = html! {
        h1 { (words::begin::BEGIN_TITLE) }
        p class="lede" { (words::begin::begin_lede(&desk.folder.shown(), &file)) }
        p class="soft" { (words::begin::CAUTION) }
        form class="begin" method="post" action="begin" {
            h2 { (words::begin::BEGIN_FIRST) }
            div class="question" {
                label for="region" { (words::begin::REGION) }
                select id="region" name="region" {
                    @for one in REGIONS { option value=(one) selected[one == named] { (one) } }
                }
            }
            div class="question" {
                label for="rails" { (words::begin::HOW_MANY_RAILS) }
                select id="rails" name="rails" {
                    @for one in 1..=MOST { option value=(one) selected[one == typed.rails] { (one) } }
                }
            }
            div class={ "question" @if of_states.is_some() { " wrong" } } {
                label for="states" { (words::begin::STATES_OF_LOADS) }
                input id="states" type="text" name="states" value=(states) autocomplete="off" aria-invalid=[of_states.map(|_| "true")] autofocus[focus == "states"];
                @if let Some(fault) = of_states { (parts::field_fault(fault)) }
            }
            button class="btn ask" formmethod="get" { (words::begin::ASK_FOR_THESE) }
            @if let Some(said) = whole {
                p class="fault" role="alert" { (parts::verdict_saying(Overall::Fails, words::begin::NOT_YET_A_JOB)) }
                pre class="caret" tabindex="0" { (said) }
            }
            h2 { (words::begin::BEGIN_BOARD) }
            @for (question, default) in &asked {
                (field(question.name, question.asks, value(typed.pairs, question.name).unwrap_or(default)))
            }
            @for (index, rail) in supply.rails.iter().enumerate() {
                fieldset class="rail" {
                    legend { h2 { (words::begin::rail_number(index + 1)) } }
                    (field(&field_name(index, "load"), words::begin::RAIL_LOAD, &rail.load))
                    (field(&field_name(index, "volts"), words::begin::RAIL_VOLTS, &rail.volts))
                    @for (state, draw) in rail.draws.iter().enumerate() {
                        (field(&field_name(index, &format!("draw {state}")), &words::begin::draws_in(&supply.states[state]), draw))
                    }
                    (field(&field_name(index, "low"), words::begin::RAIL_LOW, &rail.low))
                    (field(&field_name(index, "high"), words::begin::RAIL_HIGH, &rail.high))
                    (field(&field_name(index, "ripple"), words::begin::RAIL_RIPPLE, &rail.ripple))
                    (field(&field_name(index, "sink"), words::begin::RAIL_SINK, &rail.sink))
                }
            }
            details {
                summary { (words::begin::NOT_ASKED) }
                (parts::wide(words::begin::NOT_ASKED, &html! { table class="plain" { tbody { @for (asks, default) in &kept { tr { th scope="row" { (asks) } td { (default) } } } } } }))
            }
            button class="btn main" { (words::begin::WRITE_JOB) }
        }
    };
    page::alone(&file, &inside, "view-begin")
}

/// A question with its field, and what is wrong with what was typed there.
fn field((name, focus): (&str, &str), asks: &str, value: &str, faults: &[FieldFault]) -> Markup {
    let fault = faults.iter().find(|fault| fault.address == name);
    html! {
        div class={ "question" @if fault.is_some() { " wrong" } } {
            label for={ "q-" (name) } { (asks) }
            input id={ "q-" (name) } type="text" name=(name) value=(value) autocomplete="off" aria-invalid=[fault.map(|_| "true")] autofocus[name == focus];
            @if let Some(fault) = fault { (parts::field_fault(fault)) }
        }
    }
}
