//! What to be careful about in a step, from what is expected there: mains, stored charge, heat.

use super::derive::{Planned, Point, names};
use super::expect::{Found, Watch};
use super::rails::rail_volts;
use super::{Expectation, Observed, charge, follow, highest_across};
use quietrail_job::model::{InstrumentKind, Job, Part, PartKind};

/// What to be careful about in a step.
#[derive(Clone, Debug, PartialEq)]
pub enum Caution {
    /// The plug is out, and the reservoirs are measured before they are touched.
    PlugOut,
    /// Mains is on from the inlet to these parts.
    Mains {
        /// Names of the parts.
        at: Vec<String>,
    },
    /// A capacitor keeps its charge.
    Charge {
        /// The part.
        part: String,
        /// Highest voltage on it.
        volts: f64,
        /// Seconds until it is below ten volts; `None` where no resistor empties it.
        seconds: Option<f64>,
        /// What it does to who touches it.
        touch: Touch,
    },
    /// The clip of an oscilloscope is earth.
    EarthedClip,
    /// An old electrolytic may vent when voltage first comes on.
    Electrolytics,
    /// A dummy load gets hot.
    HotDummy {
        /// Its upper end.
        plus: String,
        /// Its lower end.
        minus: String,
        /// Watts that it takes.
        watts: f64,
        /// Watts that it may take; `None` where the bench has none and its value is only computed.
        rated: Option<f64>,
    },
    /// Parts that burn skin without a sign.
    Hot {
        /// The part.
        part: String,
        /// Its temperature, as expected at worst.
        celsius: f64,
        /// Whether that is of its inside, the outside being cooler by nobody knows how much.
        is_inside: bool,
    },
    /// An ammeter stands in series and drops some of the voltage.
    Ammeter {
        /// The part that it is in series with.
        of: String,
        /// The instrument.
        instrument: String,
        /// Its resistance.
        ohms: f64,
        /// What it drops at the highest current expected.
        volts: f64,
    },
    /// A voltmeter or probe takes off some of what it reads.
    Input {
        /// The point.
        of: String,
        /// What is read.
        what: Observed,
        /// The instrument.
        instrument: String,
        /// Resistance of its input, Ω.
        ohms: f64,
        /// Part that it takes off.
        share: f64,
    },
    /// Nothing across the pins of a load keeps a broken part from it.
    NoClamp {
        /// The loads.
        loads: Vec<String>,
    },
    /// The load cannot be replaced.
    Irreplaceable {
        /// The loads.
        loads: Vec<String>,
    },
}

/// What a stored charge does to who touches it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Touch {
    /// It is hazardous to touch.
    Hazardous {
        /// The charge, C.
        coulombs: f64,
        /// Above which it is, C.
        above: f64,
    },
    /// It throws sparks, burns a ring and kills a part that is soldered.
    Sparks {
        /// The energy, J.
        joules: f64,
    },
}

/// A part hotter than this burns skin, °C (common practice, no source).
const BURNS: f64 = 60.0;

/// Cautions that follow from what is expected, and from what was found beside it.
pub(super) fn cautions_of(
    job: &Job,
    step: &Planned,
    expect: &[Expectation],
    found: &Found,
) -> Vec<Caution> {
    let live = follow::mains_nodes(job);
    let is_live = |part: &Part| match &part.kind {
        PartKind::Transformer(_) => true,
        PartKind::VariableTransformer(one) => live.contains(&one.from.as_str()),
        kind => kind.between().is_some_and(|ends| {
            live.contains(&ends.plus.as_str()) || live.contains(&ends.minus.as_str())
        }),
    };
    let mut at: Vec<String> = vec!["inlet".to_owned()];
    at.extend(names(job, |part| {
        is_live(part) && !step.out.contains(&part.name)
    }));
    let mut all = vec![Caution::Mains { at }];
    let has_scope = job
        .instruments
        .iter()
        .any(|one| one.kind == InstrumentKind::Oscilloscope);
    if has_scope {
        all.push(Caution::EarthedClip);
    }
    all.extend(charge::cautions(job, step, found));
    for dummy in &step.dummies {
        let volts = highest_across(expect, &dummy.plus, &dummy.minus)
            .unwrap_or_else(|| rail_volts(job, &dummy.plus, &dummy.minus));
        all.push(Caution::HotDummy {
            plus: dummy.plus.clone(),
            minus: dummy.minus.clone(),
            watts: dummy.watts(volts),
            rated: dummy.rated,
        });
    }
    for one in expect {
        let Observed::Statistic(what) = one.what else {
            continue;
        };
        if let Some((instrument, ohms)) = super::ammeter_of(job, what, None)
            && let Some(amps) = one.high
        {
            all.push(Caution::Ammeter {
                of: one.of.clone(),
                instrument: instrument.to_owned(),
                ohms,
                volts: ohms * amps,
            });
        }
    }
    if step.kind == super::Kind::Load {
        let bare = names(
            job,
            |part| matches!(&part.kind, PartKind::Load(load) if load.clamp.is_none()),
        );
        if !bare.is_empty() {
            all.push(Caution::NoClamp { loads: bare });
        }
    }
    all.extend(job.parts().filter_map(|part| hot(part, found)));
    all
}

/// That a part burns, where it gets so hot. Of one on a sink the sink is what is touched.
fn hot(part: &Part, found: &Found) -> Option<Caution> {
    let is_on_sink = match &part.kind {
        PartKind::Regulator(one) => one.sink.is_some(),
        PartKind::Transistor(one) => one.sink.is_some(),
        PartKind::Rectifier(one) => one.sink.is_some(),
        _ => false,
    };
    let highest = |watch: Watch| found.get(&watch).map(|(_, high)| *high);
    let outside = highest(Watch::Case(part.name.clone()));
    let (celsius, is_inside) = match outside {
        Some(celsius) => (celsius, false),
        None => (
            highest(Watch::Heat(part.name.clone()))?,
            !matches!(part.kind, PartKind::Sink(_)),
        ),
    };
    (celsius > BURNS && !is_on_sink).then(|| Caution::Hot {
        part: part.name.clone(),
        celsius,
        is_inside,
    })
}

/// An input that takes this part off is worth a word.
const WORTH_A_WORD: f64 = 1e-3;

/// What an instrument takes off a point, where that is worth a word.
pub(super) fn of_input(job: &Job, point: &Point, share: f64) -> Option<Caution> {
    if share.abs() < WORTH_A_WORD {
        return None;
    }
    let input = super::expect::input_of(job, point, super::At::default())?;
    let instrument = job
        .instruments
        .iter()
        .find(|one| super::function_of(one, point.what).is_some())?;
    Some(Caution::Input {
        of: point.of.clone(),
        what: point.what,
        instrument: instrument.name.clone(),
        ohms: input.ohms,
        share,
    })
}
