//! A first job with several rails and with states of the builder's own: the texts of the template, one rail after the other.
//!
//! The board is filled from [`Answers`]; what belongs to a rail is asked once for each.

use super::{Answers, WINDOW, escaped, exact, quantity, volts};
use quietrail_units::{Amperes, KelvinsPerWatt, Ohms, Quantity, Unit, Volts, format_si};

const BOARD: &str = include_str!("../../begin/board.toml");
const RAIL: &str = include_str!("../../begin/rail.toml");

/// States that stand where none are named.
pub const STATES: &str = "cold, warm";
/// Rails that one job may begin with; more are added in the file.
pub const MOST: usize = 6;

/// What is typed for one rail, as texts; an empty one stands for its default.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Rail {
    /// Name of what it feeds, and of its node.
    pub load: String,
    /// Voltage that the load wants.
    pub volts: String,
    /// What it draws in each state.
    pub draws: Vec<String>,
    /// Lowest voltage allowed.
    pub low: String,
    /// Highest voltage allowed.
    pub high: String,
    /// Ripple allowed, rms.
    pub ripple: String,
    /// Its heat sink to air.
    pub sink: String,
}

/// Board, states and rails.
#[derive(Clone, Debug, PartialEq)]
pub struct Supply {
    /// What is answered for the board.
    pub board: Answers,
    /// Names of the states.
    pub states: Vec<String>,
    /// The rails, defaults in place of what was left empty.
    pub rails: Vec<Rail>,
}

/// A field that cannot be taken.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct RailFault {
    /// Which rail, from 0; none for the states.
    pub rail: Option<usize>,
    /// Which field: `load`, `volts`, `draw 0`, `low`, `high`, `ripple`, `sink`, `states`.
    pub field: String,
    /// What is wrong with it.
    pub said: String,
}

/// Adjustable regulators want about this much at their output, A (common practice, no source; the catalogue judges it).
const LEAST_LOAD: f64 = 0.012;

/// Names in the order in which rails are added: what this is mostly built for, and then what comes with it.
const LOADS: [&str; MOST] = ["oven", "osc", "logic", "display", "fan", "spare"];
const VOLTS: [&str; MOST] = ["12 V", "9 V", "5 V", "5 V", "12 V", "5 V"];

impl Supply {
    /// States from a line with commas, and rails with defaults where nothing was typed.
    pub fn of(board: Answers, states: &str, typed: Vec<Rail>) -> Self {
        let named = states.split(',').map(str::trim);
        let mut states: Vec<String> = named
            .filter(|name| !name.is_empty())
            .map(str::to_owned)
            .collect();
        if states.is_empty() {
            states = STATES.split(", ").map(str::to_owned).collect();
        }
        let typed = typed.into_iter().take(MOST).enumerate();
        let rails = typed
            .map(|(number, rail)| filled(number, rail, &states))
            .collect();
        Self {
            board,
            states,
            rails,
        }
    }

    /// Everything that cannot be taken as it was typed.
    pub fn faults(&self) -> Vec<RailFault> {
        let mut faults = Vec::new();
        for (index, name) in self.states.iter().enumerate() {
            let twice = self.states[..index].contains(name);
            if let Some(said) = wrong_name(name, twice, &[]) {
                faults.push(RailFault {
                    rail: None,
                    field: "states".to_owned(),
                    said,
                });
            }
        }
        for (index, rail) in self.rails.iter().enumerate() {
            let mut check = |field: String, outcome: Result<(), String>| {
                if let Err(said) = outcome {
                    faults.push(RailFault {
                        rail: Some(index),
                        field,
                        said,
                    });
                }
            };
            let twice = self.rails[..index]
                .iter()
                .any(|other| other.load == rail.load);
            let wrong = wrong_name(&rail.load, twice, &["raw", "common", "inlet"]);
            check("load".to_owned(), wrong.map_or(Ok(()), Err));
            check("volts".to_owned(), exact::<Volts>(&rail.volts));
            for (state, draw) in rail.draws.iter().enumerate() {
                check(format!("draw {state}"), quantity::<Amperes>(draw));
            }
            check("low".to_owned(), exact::<Volts>(&rail.low));
            check("high".to_owned(), exact::<Volts>(&rail.high));
            check("ripple".to_owned(), exact::<Volts>(&rail.ripple));
            check("sink".to_owned(), quantity::<KelvinsPerWatt>(&rail.sink));
        }
        faults
    }

    /// The commented job.
    pub fn text(&self) -> String {
        let mut text = with_states(&self.board.fill(BOARD), &self.states);
        for (index, rail) in self.rails.iter().enumerate() {
            if index > 0 {
                text.push('\n');
            }
            text.push_str(&self.rail(index, rail));
        }
        text
    }

    /// Whether the load leaves its regulator without the least current that it regulates at, in some state.
    fn least_load(&self, rail: &Rail) -> bool {
        rail.draws.iter().any(|draw| {
            let read = Quantity::<Amperes>::parse(draw);
            read.is_ok_and(|read| read.low < LEAST_LOAD)
        })
    }

    fn rail(&self, index: usize, rail: &Rail) -> String {
        let number = index + 1;
        let load = &rail.load;
        let draws: Vec<String> = self
            .states
            .iter()
            .zip(&rail.draws)
            .map(|(state, draw)| format!("{state} = \"{}\"", escaped(draw)))
            .collect();
        let mut text = RAIL.to_owned();
        let mut put = |blank: &str, with: &str| text = text.replace(blank, with);
        if self.least_load(rail) {
            let ohms = bleeder(&rail.volts);
            put(
                "[load.unit]",
                &format!(
                    "[resistor.R{}]                   # so that U1 has its least load while {load} draws nothing\nat    = \"out\"\nvalue = \"{ohms} ±5 %\"\nrated = \"1 W\"\n\n[load.unit]",
                    number + 1
                ),
            );
        }
        put("U1", &format!("U{number}"));
        put("SK1", &format!("SK{number}"));
        put("capacitor.C2", &format!("capacitor.C{}", number + 1));
        put("\"out\"", &format!("\"{load}\""));
        put("load.unit", &format!("load.{load}"));
        put("\"window, ", &format!("\"{load} window, "));
        put("name = \"ripple\"", &format!("name = \"{load} ripple\""));
        put(
            "{ cold = \"{{cold}}\", warm = \"{{warm}}\" }",
            &format!("{{ {} }}", draws.join(", ")),
        );
        put("{{output}}", &escaped(&rail.volts));
        put("{{window_low}}", &escaped(&rail.low));
        put("{{window_high}}", &escaped(&rail.high));
        put("{{ripple}}", &escaped(&rail.ripple));
        put("{{sink}}", &escaped(&rail.sink));
        self.board.fill(&text)
    }
}

/// A rail with defaults where nothing was typed.
fn filled(number: usize, typed: Rail, states: &[String]) -> Rail {
    let or = |text: String, default: &str| {
        let text = text.trim();
        if text.is_empty() { default } else { text }.to_owned()
    };
    let volts_text = or(typed.volts, VOLTS[number]);
    let window = |share: f64| {
        Quantity::<Volts>::parse(&volts_text).map_or_else(
            |_| String::new(),
            |read| volts(read.nominal * (1.0 + share)),
        )
    };
    let mut draws = typed.draws.into_iter();
    let draws = states
        .iter()
        .map(|state| or(draws.next().unwrap_or_default(), draw(number, state)))
        .collect();
    Rail {
        load: or(typed.load, LOADS[number]),
        draws,
        low: or(typed.low, &window(-WINDOW)),
        high: or(typed.high, &window(WINDOW)),
        ripple: or(typed.ripple, if number == 0 { "20 mV" } else { "1 mV" }),
        sink: or(typed.sink, if number == 0 { "4 K/W" } else { "12 K/W" }),
        volts: volts_text,
    }
}

/// What stands where no draw is typed: the first rail heats, the others draw the same throughout.
fn draw(number: usize, state: &str) -> &'static str {
    match (number, state) {
        (_, "idle" | "off") => "0 A",
        (0, "cold") => "500 mA ±15 %",
        (0, _) => "150 mA ±15 %",
        _ => "60 mA ±10 %",
    }
}

/// A resistor of the E12 series (IEC 60063) that draws a little more than the least load at a voltage.
fn bleeder(volts_text: &str) -> String {
    const E12: [f64; 12] = [1.0, 1.2, 1.5, 1.8, 2.2, 2.7, 3.3, 3.9, 4.7, 5.6, 6.8, 8.2];
    let volts = Quantity::<Volts>::parse(volts_text).map_or(12.0, |read| read.nominal.abs());
    let most = (volts / LEAST_LOAD).max(1.0);
    let decade = 10_f64.powf(most.log10().floor());
    let step = E12.into_iter().rfind(|step| step * decade <= most);
    format_si(step.unwrap_or(1.0) * decade, Ohms::SYMBOL, 2).replace('\u{a0}', " ")
}

/// What is wrong with a name that stands as a key of the file.
fn wrong_name(name: &str, twice: bool, taken: &[&str]) -> Option<String> {
    let starts = name.starts_with(|c: char| c.is_ascii_alphabetic());
    let is_key = name
        .chars()
        .all(|c| c.is_ascii_alphanumeric() || c == '_' || c == '-');
    if !starts || !is_key || name.len() > 24 {
        return Some(format!(
            "{name}: a name here begins with a letter and goes on with letters, digits, - or _, 24 at most"
        ));
    }
    if twice {
        return Some(format!("{name} is there twice"));
    }
    taken
        .contains(&name)
        .then(|| format!("{name} is a name that the drawing has already"))
}

/// The board with the builder's states in place of the template's.
fn with_states(board: &str, states: &[String]) -> String {
    let Some((before, rest)) = board.split_once("cold = \"") else {
        return board.to_owned();
    };
    let after = rest.split_once("\n\n").map_or("", |(_, after)| after);
    let width = states.iter().map(String::len).max().unwrap_or(0);
    let lines: Vec<String> = states
        .iter()
        .map(|state| format!("{state:width$} = \"{}\"", words_of(state)))
        .collect();
    format!("{before}{}\n\n{after}", lines.join("\n"))
}

/// What a state means, where its name is a usual one; else a place to say it.
fn words_of(state: &str) -> &str {
    match state {
        "cold" => "heating from room temperature",
        "warm" => "at temperature",
        "idle" => "plugged in, load not connected",
        "off" => "switched off at the load",
        other => other,
    }
}

#[cfg(test)]
mod tests {
    use super::{Answers, Rail, Supply};
    use crate::begin::{ALL, REGION, Region, TEMPLATE};
    use crate::model::PartKind;

    fn board(region: &str) -> Answers {
        let mut answers = Answers::new(Region::parse(region).expect("a region"));
        for question in ALL {
            let default = question.default(&answers);
            answers.take(question.name, default);
        }
        answers
    }

    #[test]
    fn any_number_of_rails_and_states_reads_cleanly() {
        for region in [REGION, "120 V 60 Hz"] {
            for rails in 1..=6 {
                for states in [
                    "",
                    "on",
                    "idle, cold, warm",
                    "transmit, receive, standby, off",
                ] {
                    let supply = Supply::of(board(region), states, vec![Rail::default(); rails]);
                    assert_eq!(supply.faults(), [], "{states}");
                    let text = supply.text();
                    let reading = crate::read(&text, None);
                    assert_eq!(reading.diagnostics, [], "{text}");
                    let job = reading.job.expect("a job");
                    assert_eq!(job.states.len(), supply.states.len());
                    assert_eq!(job.limits.len(), 4 * rails);
                    assert!(!text.contains("{{"), "{text}");
                }
            }
        }
    }

    #[test]
    fn one_rail_with_the_usual_states_is_the_template_under_other_names() {
        let rail = Rail {
            load: "unit".to_owned(),
            ..Rail::default()
        };
        let text = Supply::of(board(REGION), "", vec![rail]).text();
        let template = board(REGION).fill(TEMPLATE);
        let renamed = template
            .replace("\"out\"", "\"unit\"")
            .replace("\"window, ", "\"unit window, ")
            .replace("name = \"ripple\"", "name = \"unit ripple\"");
        assert_eq!(text, renamed);
    }

    #[test]
    fn what_is_typed_for_a_rail_reaches_its_load_and_limits() {
        let radio = Rail {
            load: "radio".to_owned(),
            volts: "13 V".to_owned(),
            draws: vec!["1.2 A ±5 %".to_owned(), "90 mA".to_owned()],
            ..Rail::default()
        };
        let supply = Supply::of(
            board(REGION),
            "transmit, receive",
            vec![Rail::default(), radio],
        );
        let job = crate::read(&supply.text(), None).job.expect("a job");
        let PartKind::Load(load) = &job.part("radio").expect("the load").kind else {
            panic!("radio is a load");
        };
        assert_eq!(load.between.plus, "radio");
        let quietrail_units::Quantity { high, .. } = match &load.draws[0] {
            crate::model::LoadDraw::Current(figure) => figure.value,
            other => panic!("{other:?}"),
        };
        assert!((high - 1.26).abs() < 1e-9);
        let low = job
            .limits
            .iter()
            .find(|one| one.name == "radio window, low");
        assert_eq!(low.and_then(|one| one.min), Some(12.35));
    }

    #[test]
    fn a_load_that_may_draw_nothing_leaves_its_regulator_a_least_load() {
        let idle = Supply::of(board(REGION), "idle, warm", vec![Rail::default()]).text();
        let job = crate::read(&idle, None).job.expect("a job");
        let PartKind::Resistor(resistor) = &job.part("R2").expect("a resistor").kind else {
            panic!("R2 is a resistor");
        };
        // 12 V over 12 mA is 1 kΩ, and that is in the series.
        assert_eq!(resistor.value.nominal(), 1000.0);
        let busy = Supply::of(board(REGION), "cold, warm", vec![Rail::default()]).text();
        assert!(!busy.contains("R2"));
    }

    #[test]
    fn what_cannot_be_taken_is_said_at_its_field() {
        let rail = |load: &str, volts: &str| Rail {
            load: load.to_owned(),
            volts: volts.to_owned(),
            ..Rail::default()
        };
        let supply = Supply::of(
            board(REGION),
            "cold, 2 warm, cold",
            vec![rail("raw", "12 V"), rail("osc", "9 mA"), rail("osc", "9 V")],
        );
        let faults = supply.faults();
        let fields: Vec<_> = faults
            .iter()
            .map(|fault| (fault.rail, fault.field.as_str()))
            .collect();
        assert_eq!(
            fields,
            [
                (None, "states"),
                (None, "states"),
                (Some(0), "load"),
                (Some(1), "volts"),
                (Some(1), "low"),
                (Some(1), "high"),
                (Some(2), "load"),
            ]
        );
    }
}
