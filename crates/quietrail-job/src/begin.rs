//! A first job from a few answers: the template, what is asked for each of its blanks, and what stands where nothing is answered.

use quietrail_units::{Amperes, Form, KelvinsPerWatt, Ohms, Quantity, Unit, Volts, format_si};

mod rails;

pub use rails::{MOST, Rail, RailFault, STATES, Supply};

/// A commented job with blanks: `{{title}}`. The board up to the raw node, then one rail.
pub const TEMPLATE: &str = concat!(
    include_str!("../begin/board.toml"),
    include_str!("../begin/rail.toml")
);

/// One answer of the template.
pub struct Question {
    /// `{{name}}` in the template.
    pub name: &'static str,
    /// What is asked.
    pub asks: &'static str,
    /// Whether it is asked at all. The rest stands at its default, which is said at the end.
    pub is_asked: bool,
    /// What stands where nothing is answered.
    pub default: Default,
    /// What is wrong with an answer on its own.
    pub check: fn(&str) -> Result<(), String>,
}

/// What stands where nothing is answered.
pub enum Default {
    /// The same everywhere.
    Text(&'static str),
    /// By the frequency of the mains: at 50 Hz, at 60 Hz.
    ByMains(&'static str, &'static str),
    /// Follows from earlier answers.
    From(fn(&Answers) -> String),
}

/// What was answered so far, in the order asked.
#[derive(Clone, Debug, PartialEq)]
pub struct Answers {
    /// Voltage and frequency of the region.
    pub region: Region,
    given: Vec<(&'static str, String)>,
    unasked: Vec<&'static str>,
}

/// Mains of a region.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Region {
    /// rms
    pub volts: f64,
    /// 50 or 60
    pub hertz: f64,
}

/// The region that stands where none is named.
pub const REGION: &str = "230 V 50 Hz";

/// Loads judge their supply to a part of its voltage (common practice, no source).
const WINDOW: f64 = 0.05;

/// All questions, in the order in which they are asked.
pub const ALL: &[Question] = &[
    asked(
        "title",
        "What is being built",
        Default::Text("Bench supply"),
        any,
    ),
    asked(
        "region",
        "Mains of the region",
        Default::From(|answers| answers.region.to_string()),
        |text| Region::parse(text).map(|_| ()),
    ),
    asked(
        "mains",
        "Lowest and highest mains voltage at the socket",
        Default::From(|answers| format!("{} -10/+6 %", volts(answers.region.volts))),
        quantity::<Volts>,
    ),
    kept(
        "frequency",
        "Mains frequency",
        Default::From(|answers| format!("{} Hz", answers.region.hertz)),
    ),
    asked(
        "primary_volts",
        "Transformer: voltage that the primary was wound for",
        Default::From(|answers| volts(answers.region.volts)),
        quantity::<Volts>,
    ),
    asked(
        "primary_ohms",
        "Transformer: resistance of the primary, cold, by four leads",
        Default::ByMains("45 Ω ±5 %", "12 Ω ±5 %"),
        quantity::<Ohms>,
    ),
    asked(
        "raw_open",
        "Transformer: secondary voltage off load",
        Default::Text("17.5 V ±0.2 V"),
        quantity::<Volts>,
    ),
    asked(
        "raw_open_at",
        "Transformer: mains voltage during that reading",
        Default::From(|answers| answers.of("primary_volts").to_owned()),
        quantity::<Volts>,
    ),
    asked(
        "raw_ohms",
        "Transformer: resistance of the secondary, cold, by four leads",
        Default::Text("0.6 Ω ±5 %"),
        quantity::<Ohms>,
    ),
    asked(
        "reservoir",
        "Reservoir capacitor",
        Default::Text("4700 µF ±20 %"),
        quantity::<quietrail_units::Farads>,
    ),
    asked(
        "output",
        "Voltage that the load wants",
        Default::Text("12 V"),
        exact::<Volts>,
    ),
    asked(
        "cold",
        "What the load draws while it heats",
        Default::Text("500 mA ±15 %"),
        quantity::<Amperes>,
    ),
    asked(
        "warm",
        "What it draws at temperature",
        Default::Text("150 mA ±15 %"),
        quantity::<Amperes>,
    ),
    asked(
        "window_low",
        "Lowest voltage that the load allows at its pin",
        Default::From(|answers| answers.window(-WINDOW)),
        exact::<Volts>,
    ),
    asked(
        "window_high",
        "Highest voltage that it allows there",
        Default::From(|answers| answers.window(WINDOW)),
        exact::<Volts>,
    ),
    asked(
        "ripple",
        "Ripple that it allows, rms",
        Default::Text("20 mV"),
        exact::<Volts>,
    ),
    asked(
        "sheet",
        "The document that the limits below come from",
        Default::Text("data sheet of the load, supply table"),
        any,
    ),
    asked(
        "sink",
        "Heat sink to air",
        Default::Text("4 K/W"),
        quantity::<KelvinsPerWatt>,
    ),
    kept(
        "fuse",
        "Primary fuse",
        Default::ByMains("200 mA time-lag", "400 mA time-lag"),
    ),
    kept("diode", "Diodes", Default::Text("silicon 3 A")),
    kept(
        "reservoir_part",
        "Kind of reservoir",
        Default::Text("electrolytic general 35 V"),
    ),
    kept(
        "reservoir_ripple",
        "Ripple rating of the reservoir",
        Default::ByMains("2.5 A at 100 Hz", "2.5 A at 120 Hz"),
    ),
    kept(
        "regulator",
        "Regulator",
        Default::Text("low-dropout adjustable 3 A"),
    ),
];

const fn asked(
    name: &'static str,
    asks: &'static str,
    default: Default,
    check: fn(&str) -> Result<(), String>,
) -> Question {
    Question {
        name,
        asks,
        is_asked: true,
        default,
        check,
    }
}

const fn kept(name: &'static str, asks: &'static str, default: Default) -> Question {
    Question {
        name,
        asks,
        is_asked: false,
        default,
        check: any,
    }
}

impl Question {
    /// What stands where nothing is answered.
    pub fn default(&self, answers: &Answers) -> String {
        match &self.default {
            Default::Text(text) => (*text).to_owned(),
            Default::ByMains(at_50, at_60) => {
                let is_60 = answers.region.hertz > 55.0;
                (*if is_60 { at_60 } else { at_50 }).to_owned()
            }
            Default::From(earlier) => earlier(answers),
        }
    }
}

impl Answers {
    /// Nothing answered yet.
    pub fn new(region: Region) -> Self {
        Self {
            region,
            given: Vec::new(),
            unasked: Vec::new(),
        }
    }

    /// Takes an answer. What is asked after the region has its defaults from there.
    pub fn take(&mut self, name: &'static str, answer: String) {
        if name == "region"
            && let Ok(region) = Region::parse(&answer)
        {
            self.region = region;
        }
        self.given.push((name, answer));
    }

    /// Takes a default that nobody saw.
    pub fn take_unasked(&mut self, name: &'static str, default: String) {
        self.unasked.push(name);
        self.take(name, default);
    }

    /// Whether nobody saw what was taken.
    pub fn is_unasked(&self, name: &str) -> bool {
        self.unasked.contains(&name)
    }

    /// The answer to an earlier question; empty for one that was not asked yet.
    pub fn of(&self, name: &str) -> &str {
        let given = self.given.iter().find(|(known, _)| *known == name);
        given.map_or("", |(_, answer)| answer)
    }

    /// The template with every answer in its place, as TOML wants texts written.
    pub fn fill(&self, template: &str) -> String {
        let mut text = template.to_owned();
        for (name, answer) in &self.given {
            text = text.replace(&format!("{{{{{name}}}}}"), &escaped(answer));
        }
        text
    }

    /// The output, a share of it higher or lower.
    fn window(&self, share: f64) -> String {
        Quantity::<Volts>::parse(self.of("output")).map_or_else(
            |_| String::new(),
            |output| volts(output.nominal * (1.0 + share)),
        )
    }
}

impl Region {
    /// Reads `230 V 50 Hz`.
    ///
    /// # Errors
    /// What is wrong, in a sentence.
    pub fn parse(text: &str) -> Result<Self, String> {
        let wanted = || format!("{text}: voltage and frequency are wanted, for instance {REGION}");
        let words: Vec<&str> = text.split_whitespace().collect();
        let [volts, volt_unit, hertz, hertz_unit] = words.as_slice() else {
            return Err(wanted());
        };
        let volts = Quantity::<Volts>::parse(&format!("{volts} {volt_unit}"))
            .map_err(|error| error.to_string())?;
        let hertz = Quantity::<quietrail_units::Hertz>::parse(&format!("{hertz} {hertz_unit}"))
            .map_err(|error| error.to_string())?;
        let is_mains =
            (90.0..=260.0).contains(&volts.nominal) && [50.0, 60.0].contains(&hertz.nominal);
        if !is_mains {
            return Err(wanted());
        }
        Ok(Self {
            volts: volts.nominal,
            hertz: hertz.nominal,
        })
    }
}

impl std::fmt::Display for Region {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(f, "{} {} Hz", volts(self.volts), self.hertz)
    }
}

/// A voltage as somebody would write it.
fn volts(value: f64) -> String {
    let text = format_si(value, Volts::SYMBOL, 4).replace('\u{a0}', " ");
    let Some((figure, unit)) = text.split_once(' ') else {
        return text;
    };
    if !figure.contains('.') {
        return text;
    }
    format!(
        "{} {unit}",
        figure.trim_end_matches('0').trim_end_matches('.')
    )
}

/// Any text on one line.
fn any(_: &str) -> Result<(), String> {
    Ok(())
}

/// A quantity of the unit.
fn quantity<U: Unit>(text: &str) -> Result<(), String> {
    Quantity::<U>::parse(text)
        .map(|_| ())
        .map_err(|error| error.to_string())
}

/// A quantity without tolerance.
fn exact<U: Unit>(text: &str) -> Result<(), String> {
    let read = Quantity::<U>::parse(text).map_err(|error| error.to_string())?;
    if read.form == Form::Exact {
        return Ok(());
    }
    Err(format!(
        "read {text}; one value is wanted here, without tolerance"
    ))
}

/// What is wrong with an answer: on its own, or in a job that is otherwise as answered so far.
pub fn wrong_with(question: &Question, answer: &str, answers: &Answers) -> Option<String> {
    if let Err(wrong) = (question.check)(answer) {
        return Some(wrong);
    }
    let mut trial = answers.clone();
    trial.take(question.name, answer.to_owned());
    let known = ALL.iter().position(|other| other.name == question.name)?;
    for later in &ALL[known + 1..] {
        let default = later.default(&trial);
        trial.take(later.name, default);
    }
    let diagnostics = crate::read(&trial.fill(TEMPLATE), None).diagnostics;
    diagnostics.into_iter().next().map(|first| first.message)
}

/// As a TOML text between quotes.
pub(crate) fn escaped(text: &str) -> String {
    let mut escaped = String::new();
    for c in text.chars() {
        match c {
            '"' | '\\' => escaped.extend(['\\', c]),
            c if c.is_control() => escaped.push_str(&format!("\\u{:04X}", u32::from(c))),
            c => escaped.push(c),
        }
    }
    escaped
}
