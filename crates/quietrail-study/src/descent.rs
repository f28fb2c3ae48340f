//! The way of the volts from the wall to the load, as data for the Descent drawing.
//!
//! 1. [`Section`]s are found in the job: what each rectified node is fed from, and which rails hang on it.
//! 2. [`plan`] adds the figures that they read to what a job is asked anyway.
//! 3. [`figures`] reads them from a solution; [`Ranges`] gathers them over the corners of all states.

mod find;
mod range;
mod stage;

pub use find::sections;
pub use range::{RailRanges, Range, Ranges, SectionRanges, WorstRail};

use crate::course::with_course;
use crate::lower::{Lowered, Step, lower};
use crate::question::{View, headroom, voltage_of};
use crate::solve::{Plan, Solved};
use quietrail_engine::{Options, Output, Signal};
use quietrail_job::ChangeError;
use quietrail_job::model::{Job, RectifierForm, Subject, What};

/// A rectified node, the way to it and the rails on it. Names only.
#[derive(Clone, Debug, PartialEq)]
pub struct Section {
    /// The rectifier.
    pub rectifier: String,
    /// How it is made.
    pub form: RectifierForm,
    /// The winding, join or node pair that feeds it: `T1.S`.
    pub feeds: String,
    /// The transformer, if it has one.
    pub transformer: Option<String>,
    /// Volts at the winding for one volt at the wall, off load, as marked.
    pub ratio: f64,
    /// Rectified volts for one volt of the winding: 2 for doublers, 0.5 where each half feeds in turn.
    pub share: f64,
    /// The rectified node.
    pub node: String,
    /// What it is measured against.
    pub ret: String,
    /// The point of the winding that the rectifier's return is tied to, where it is not the finish.
    pub centre: Option<String>,
    /// Fuses and switches between the outlet and the primary.
    pub fuses: Vec<String>,
    /// Capacitors on it.
    pub reservoirs: Vec<String>,
    /// Resistors across them.
    pub bleeders: Vec<String>,
    /// What hangs on it, in the order of the file.
    pub rails: Vec<Rail>,
}

/// A rail: a regulator or a transistor with what it feeds, loads straight on the rectified node, or a stage: a node behind passive
/// parts, with the loads, regulators and further stages that it feeds.
#[derive(Clone, Debug, PartialEq)]
pub struct Rail {
    /// The regulator, or the transistor; none for loads that sit on the rectified node.
    pub regulator: Option<String>,
    /// Whether that is a transistor: what stands behind it follows its base, and no set point.
    pub follows: bool,
    /// Without either: what stands between what feeds it and this node, in the order of the current: a choke, a resistor with a shunt
    /// behind it; empty where nothing does.
    pub through: Vec<String>,
    /// Index of the rail that feeds it; none where the rectified node does.
    pub fed_by: Option<usize>,
    /// Whether its regulator holds it under what it is measured against: its figures are amounts all the same.
    pub is_negative: bool,
    /// Its input.
    pub from: String,
    /// Its output.
    pub node: String,
    /// What both are measured against; of a regulator under its return they are measured the other way round.
    pub ret: String,
    /// Capacitors on the output.
    pub capacitors: Vec<String>,
    /// Resistors across it.
    pub bleeders: Vec<String>,
    /// Loads on the output.
    pub loads: Vec<LoadEnd>,
}

impl Section {
    /// The node that names it: of one that lies under common the lower end.
    pub fn name(&self) -> &str {
        if self.node == "common" {
            &self.ret
        } else {
            &self.node
        }
    }
}

impl Rail {
    /// Its input and what that is measured against, the upper one first.
    fn input(&self) -> (&str, &str) {
        self.in_order(&self.from)
    }

    /// Its output and what that is measured against, the upper one first.
    pub fn output(&self) -> (&str, &str) {
        self.in_order(&self.node)
    }

    fn in_order<'a>(&'a self, node: &'a str) -> (&'a str, &'a str) {
        if self.is_negative {
            (&self.ret, node)
        } else {
            (node, &self.ret)
        }
    }

    /// Whether its output is another node than the one that feeds it.
    pub fn has_own_node(&self) -> bool {
        self.regulator.is_some() || !self.through.is_empty()
    }
}

/// A load at the end of a rail.
#[derive(Clone, Debug, PartialEq)]
pub struct LoadEnd {
    /// Its name.
    pub part: String,
    /// Its ends.
    pub ends: (String, String),
    /// Lowest and highest instant that limits of the job allow it.
    pub window: (Option<f64>, Option<f64>),
}

/// The figures of all sections in one solution, in their order.
#[derive(Clone, Debug, PartialEq)]
pub struct Figures {
    /// State of the load.
    pub state: usize,
    /// Mains voltage, rms.
    pub mains: f64,
    /// Per section.
    pub sections: Vec<SectionFigures>,
}

/// Voltages of a section, V.
#[derive(Clone, Debug, PartialEq)]
pub struct SectionFigures {
    /// Peak at the outlet, in its own volts.
    pub outlet: f64,
    /// The same at the winding's ratio and the rectifier's share.
    pub wall: f64,
    /// Peak of the loaded winding, at the rectifier's share; not a number where there is no winding.
    pub winding: f64,
    /// Lowest instant of the rectified node.
    pub valley: f64,
    /// Its highest instant.
    pub peak: f64,
    /// Per rail.
    pub rails: Vec<RailFigures>,
}

/// Voltages of a rail, V.
#[derive(Clone, Debug, PartialEq)]
pub struct RailFigures {
    /// Lowest and highest instant of its input.
    pub input: (f64, f64),
    /// What the output should be, or what stands behind a transistor; not a number without either.
    pub output: f64,
    /// Where the set point of a regulator stands; not a number without one.
    pub set: f64,
    /// Dropout at its current; not a number without a regulator.
    pub dropout: f64,
    /// What limits of the job ask to be kept beyond that in this state; 0 where none does.
    pub asked: f64,
    /// What is left at the valley of the input, of which `asked` is to be kept; not a number without a regulator.
    pub headroom: f64,
    /// Lowest and highest instant of its output.
    pub node: (f64, f64),
    /// Lowest and highest instant of each load.
    pub loads: Vec<(f64, f64)>,
}

impl RailFigures {
    /// What must stand at the input, with what is to be kept, V.
    pub fn need(&self) -> f64 {
        self.output + self.dropout + self.asked
    }

    /// What is left above the need, V; below zero it falls short.
    pub fn spare(&self) -> f64 {
        self.headroom - self.asked
    }
}

/// What a job is asked, and the figures of its sections too.
///
/// # Errors
/// As [`lower`].
pub fn plan(job: &Job) -> Result<Plan, ChangeError> {
    let mut plan = Plan::of(job)?;
    let warmth = crate::heat::Temperatures::at_rest(job);
    let lowered = lower(job, 0, &Step::default(), &[], &warmth)?;
    for section in sections(job) {
        plan.table.add(Output::Peak(outlet(&lowered)));
        if let Some(signal) = winding(&lowered, &section) {
            plan.table.add(Output::Peak(signal));
        }
        let mut levels = vec![pair(&lowered, &section.node, &section.ret)];
        for rail in &section.rails {
            for (upper, lower) in [rail.input(), rail.output()] {
                levels.push(pair(&lowered, upper, lower));
            }
            levels.extend(
                rail.loads
                    .iter()
                    .map(|load| pair(&lowered, &load.ends.0, &load.ends.1)),
            );
            if let Some(regulator) = &rail.regulator {
                for output in crate::question::headroom_outputs(&lowered, regulator) {
                    plan.table.add(output);
                }
            }
        }
        let surface = pair(&lowered, &section.node, &section.ret);
        surface
            .into_iter()
            .for_each(|signal| plan.table.draw(signal));
        for signal in levels.into_iter().flatten() {
            plan.table.add(Output::Valley(signal.clone()));
            plan.table.add(Output::Peak(signal));
        }
    }
    Ok(plan)
}

/// Reads the figures of sections from a solution that was made with [`plan`].
pub fn figures(sections: &[Section], plan: &Plan, solved: &Solved) -> Figures {
    let lowered = &solved.lowered;
    Figures {
        state: lowered.state,
        mains: lowered.job.mains.voltage.nominal(),
        sections: sections
            .iter()
            .map(|section| of_section(section, plan, solved))
            .collect(),
    }
}

fn of_section(section: &Section, plan: &Plan, solved: &Solved) -> SectionFigures {
    let lowered = &solved.lowered;
    let reading = plan.table.with(&solved.solution.values);
    let range = |(plus, minus): (&str, &str)| {
        pair(lowered, plus, minus).map_or((f64::NAN, f64::NAN), |signal| {
            let valley = reading.get(&Output::Valley(signal.clone()));
            (valley, reading.get(&Output::Peak(signal)))
        })
    };
    let view = View {
        lowered,
        reading,
        air: solved.solution.temperatures.air,
        share: 1.0,
    };
    let outlet = reading.get(&Output::Peak(outlet(lowered)));
    // A winding's volts follow the ratio of the job as it is now, what-ifs included.
    let now = find::ratio(&lowered.job, &section.feeds).unwrap_or(section.ratio);
    let winding =
        winding(lowered, section).map_or(f64::NAN, |signal| reading.get(&Output::Peak(signal)));
    let (valley, peak) = range((&section.node, &section.ret));
    let rails = section.rails.iter().map(|rail| {
        let own = rail
            .regulator
            .as_ref()
            .and_then(|part| headroom(&view, part).ok());
        let input = range(rail.input());
        // A transistor's is what stands behind it at the valley.
        let output = |own: crate::question::Headroom| {
            if rail.follows {
                input.0 - own.headroom - own.dropout
            } else {
                own.output
            }
        };
        RailFigures {
            input,
            output: own.map_or(f64::NAN, output),
            set: rail.regulator.as_ref().map_or(f64::NAN, |part| {
                find::set_point(&lowered.job, part).map_or(f64::NAN, |set| set.size())
            }),
            dropout: own.map_or(f64::NAN, |own| own.dropout),
            asked: asked(lowered, rail),
            headroom: own.map_or(f64::NAN, |own| own.headroom),
            node: range(rail.output()),
            loads: rail
                .loads
                .iter()
                .map(|load| range((&load.ends.0, &load.ends.1)))
                .collect(),
        }
    });
    // A winding with a centre is read from its centre already.
    let multiple = if section.centre.is_some() {
        1.0
    } else {
        section.share
    };
    SectionFigures {
        outlet,
        wall: outlet * now * section.share,
        winding: winding * multiple,
        valley,
        peak,
        rails: rails.collect(),
    }
}

/// The most that limits ask of a rail's headroom in the state of a solution.
fn asked(lowered: &Lowered, rail: &Rail) -> f64 {
    let is_own =
        |of: &Subject| matches!(of, Subject::Part(part) if Some(part) == rail.regulator.as_ref());
    let own = lowered.job.limits.iter().filter(|limit| {
        limit.what == What::Headroom && is_own(&limit.of) && limit.states.contains(&lowered.state)
    });
    own.filter_map(|limit| limit.min).fold(0.0, f64::max)
}

/// One mains cycle of each section's rectified node, at `points` equal distances.
pub fn surfaces(
    sections: &[Section],
    (plan, solved): (&Plan, &Solved),
    points: usize,
    options: &Options,
) -> Vec<Vec<f64>> {
    let signals: Vec<Option<Signal>> = sections
        .iter()
        .map(|section| pair(&solved.lowered, &section.node, &section.ret))
        .collect();
    let all: Vec<Signal> = signals.iter().flatten().cloned().collect();
    let mut curves = vec![Vec::new(); sections.len()];
    let drawn = with_course((plan, solved), &all, options, |course| {
        for (curve, signal) in curves.iter_mut().zip(&signals) {
            if let Some(signal) = signal {
                *curve = course.values(signal, points, points);
            }
        }
    });
    drawn.map_or_else(|_| vec![Vec::new(); sections.len()], |()| curves)
}

fn outlet(lowered: &Lowered) -> Signal {
    pair(lowered, "inlet.live", "inlet.neutral").unwrap_or(Signal::Voltage(
        quietrail_engine::GROUND,
        quietrail_engine::GROUND,
    ))
}

/// Voltage of the winding as the rectifier meets it.
fn winding(lowered: &Lowered, section: &Section) -> Option<Signal> {
    let start = format!("{}.start", section.feeds);
    let finish = match &section.centre {
        Some(centre) => format!("{}.{centre}", section.feeds),
        None => format!("{}.finish", section.feeds),
    };
    // What lies under the return of a split rectifier is filled while the start is below the centre.
    let is_lower =
        matches!(&section.form, RectifierForm::Split { negative } if *negative == section.ret);
    if is_lower {
        return pair(lowered, &finish, &start);
    }
    pair(lowered, &start, &finish)
}

fn pair(lowered: &Lowered, plus: &str, minus: &str) -> Option<Signal> {
    if minus == "common" {
        return voltage_of(lowered, &Subject::Node(plus.to_owned()));
    }
    voltage_of(lowered, &Subject::Pair(plus.to_owned(), minus.to_owned()))
}
