//! The three problems on which our engine is timed beside general-purpose libraries, for any row of parameters.
//!
//! A row holds: crest of the source (V), mains (Hz), source resistance (Ω), reservoir (F) and its ESR (Ω), load (A; P6: a share
//! of its two loads), and for P5 the resistance of the filter (Ω), its capacitor (F) and the ESR of that (Ω).

use quietrail_engine::batch::{Figures, Kind, Near};
use quietrail_engine::{
    Circuit, DiodeLaw, Dropout, Effort, Element, GROUND, LoadLaw, Node, Options, Output,
    RegulatorLaw, Signal, System, Transfer, Wave,
};
use rayon::prelude::*;

pub mod growth;

/// Figures in a row of parameters.
pub const COLUMNS: usize = 9;
/// One sample of a problem.
pub type Row = [f64; COLUMNS];

/// Share of each figure by which the nominal row is moved to see what follows from it.
const ASIDE: f64 = 0.05;
/// Below this voltage the loads fade; no sample comes near it.
const BELOW: f64 = 0.5;

/// A problem of the race.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Problem {
    /// Bridge, reservoir, constant current.
    P1,
    /// The same with a filter of resistor and capacitor before the load.
    P5,
    /// Bridge, reservoir and two regulated rails.
    P6,
}

impl Problem {
    /// All, in their order.
    pub const ALL: [Self; 3] = [Self::P1, Self::P5, Self::P6];

    /// Its name in tables and data.
    pub const fn name(self) -> &'static str {
        match self {
            Self::P1 => "P1",
            Self::P5 => "P5",
            Self::P6 => "P6",
        }
    }

    /// The row without tolerances.
    pub const fn nominal(self) -> Row {
        match self {
            Self::P1 => [17.0, 50.0, 0.9, 2200e-6, 0.05, 0.5, 0.0, 0.0, 0.0],
            Self::P5 => [17.0, 50.0, 0.9, 2200e-6, 0.05, 0.3, 4.7, 2200e-6, 0.05],
            Self::P6 => [17.5, 50.0, 0.5, 4700e-6, 0.0, 1.0, 0.0, 0.0, 0.0],
        }
    }

    /// Its equations, and the one figure asked: the rms ripple of the raw node.
    ///
    /// # Panics
    ///
    /// If a figure of the row is no physical one.
    pub fn system(self, row: &Row) -> (System, Output) {
        let [
            crest,
            hertz,
            ohms,
            farads,
            esr,
            load,
            filter,
            after,
            after_esr,
        ] = *row;
        let mut circuit = Circuit::new(hertz);
        let (a, b, raw) = (circuit.node(), circuit.node(), circuit.node());
        bridge(&mut circuit, (a, b), raw, (crest, ohms));
        capacitor(&mut circuit, raw, farads, esr);
        match self {
            Self::P1 => draw(&mut circuit, raw, load),
            Self::P5 => {
                let filtered = circuit.node();
                circuit.add(Element::Resistor {
                    a: raw,
                    b: filtered,
                    ohms: filter,
                });
                capacitor(&mut circuit, filtered, after, after_esr);
                draw(&mut circuit, filtered, load);
            }
            Self::P6 => {
                rail(&mut circuit, raw, (12.0, 15.0), (0.0, 1.2), 0.45 * load);
                rail(&mut circuit, raw, (5.0, 8.0), (1.0, 0.8), 0.20 * load);
            }
        }
        let system = System::assemble(&circuit).expect("the values are physical");
        let signal = Signal::Voltage(raw, GROUND);
        (system, Output::RippleRms(signal))
    }
}

/// A problem made ready for many rows: its kind of circuit, and its solution without tolerances.
pub struct Batch {
    problem: Problem,
    kind: Kind,
    nominal: Figures,
    /// By how much the stores at the start of the cycle move with each figure of the row, per share of it and per square of
    /// that.
    moves: Vec<Vec<[f64; 2]>>,
}

impl Batch {
    /// Solves the problem without tolerances.
    ///
    /// # Panics
    ///
    /// If it does not settle: all three do.
    pub fn new(problem: Problem, options: &Options) -> Self {
        let (system, output) = problem.system(&problem.nominal());
        let kind = Kind::of(&system, &[output], &[]).expect("an order of elimination");
        let nominal = kind.solve(&system, None, options).expect("it settles");
        let start = |column: usize, share: f64| {
            let mut row = problem.nominal();
            row[column] *= 1.0 + share;
            let near = Near::Settled(&nominal);
            let found = kind.solve(&problem.system(&row).0, Some(near), options);
            found.expect("it settles beside the nominal").start
        };
        let moves = (0..COLUMNS).map(|column| {
            let (above, below) = (start(column, ASIDE), start(column, -ASIDE));
            let triples = above.iter().zip(&below).zip(&nominal.start);
            let moves = |((a, b), here): ((&f64, &f64), &f64)| {
                let (first, second) = (a - b, a - 2.0 * here + b);
                [first / (2.0 * ASIDE), second / (2.0 * ASIDE * ASIDE)]
            };
            triples.map(moves).collect()
        });
        let moves = moves.collect();
        Self {
            problem,
            kind,
            nominal,
            moves,
        }
    }

    /// Where the cycle of a row begins, to second order of each figure by itself.
    fn start(&self, row: &Row) -> Vec<f64> {
        let mut start = self.nominal.start.clone();
        for ((value, nominal), moves) in row.iter().zip(self.problem.nominal()).zip(&self.moves) {
            if nominal != 0.0 {
                let share = value / nominal - 1.0;
                for (start, [first, second]) in start.iter_mut().zip(moves) {
                    *start += share * (first + share * second);
                }
            }
        }
        start
    }

    /// Solves rows near the solution without tolerances.
    fn solve(&self, rows: &[Row], options: &Options) -> Vec<Option<Figures>> {
        let systems: Vec<System> = rows.iter().map(|row| self.problem.system(row).0).collect();
        let starts: Vec<Vec<f64>> = rows.iter().map(|row| self.start(row)).collect();
        let pairs = systems.iter().zip(&starts);
        let circuits: Vec<(&System, Near<'_>)> = pairs
            .map(|(system, start)| (system, Near::Stores(start)))
            .collect();
        self.kind.solve_near(&circuits, &self.nominal, options)
    }

    /// The ripple without tolerances, from rest, V.
    pub fn one(&self, options: &Options) -> Option<f64> {
        let (system, _) = self.problem.system(&self.problem.nominal());
        Some(self.kind.solve(&system, None, options)?.values[0])
    }

    /// What the solution without tolerances took from rest.
    pub fn effort(&self) -> Effort {
        self.nominal.effort
    }

    /// What eight rows took that were solved together from the solution without tolerances: the most of any.
    ///
    /// # Panics
    ///
    /// If one does not settle.
    pub fn effort_near(&self, rows: &[Row; 8], options: &Options) -> Effort {
        let found = self.solve(rows, options);
        let efforts = found
            .into_iter()
            .map(|found| found.expect("it settles").effort);
        efforts
            .max_by_key(|effort| effort.iterations)
            .expect("eight rows")
    }

    /// The ripple of each row, V, on all cores; `None` where it did not settle.
    pub fn ripples(&self, rows: &[Row], options: &Options) -> Vec<Option<f64>> {
        rows.par_chunks(64)
            .flat_map_iter(|rows| {
                let found = self.solve(rows, options);
                found
                    .into_iter()
                    .map(|found| Some(found?.values[0]))
                    .collect::<Vec<_>>()
            })
            .collect()
    }
}

/// A sine of some crest behind a resistance, and four diodes from its ends into a node.
fn bridge(circuit: &mut Circuit, (a, b): (Node, Node), raw: Node, (crest, ohms): (f64, f64)) {
    circuit.add(Element::Source {
        plus: a,
        minus: b,
        wave: Wave::sine(crest),
        ohms,
    });
    let law = DiodeLaw::Exponential {
        saturation: 1.4e-8,
        slope_voltage: 1.98 * 0.02585,
        series: 0.034,
        leakage: 1e-9,
    };
    for (anode, cathode) in [(a, raw), (b, raw), (GROUND, a), (GROUND, b)] {
        circuit.add(Element::Diode {
            anode,
            cathode,
            law,
        });
    }
}

fn capacitor(circuit: &mut Circuit, at: Node, farads: f64, esr: f64) {
    circuit.add(Element::Capacitor {
        a: at,
        b: GROUND,
        farads,
        esr,
        leakage: 0.0,
    });
}

fn draw(circuit: &mut Circuit, at: Node, amps: f64) {
    circuit.add(Element::Load {
        plus: at,
        minus: GROUND,
        law: LoadLaw::Current { amps, below: BELOW },
    });
}

/// A regulated rail: set point and the input it is stated at, offset of its dropout and current limit, load.
fn rail(
    circuit: &mut Circuit,
    raw: Node,
    (set, line): (f64, f64),
    (offset, limit): (f64, f64),
    amps: f64,
) {
    let output = circuit.node();
    let law = RegulatorLaw {
        set,
        line,
        rejection: Transfer {
            direct: 1e-3,
            sections: Vec::new(),
        },
        transconductance: 20.0,
        loop_time: 2e-5,
        dropout: Dropout::line(offset, 0.5),
        limit,
        softness: 2e-3,
        exponent: 6,
        quiescent: 5e-3,
        is_negative: false,
    };
    circuit.add(Element::Regulator {
        input: raw,
        output,
        reference: GROUND,
        sense: None,
        law,
    });
    capacitor(circuit, output, 4.7e-5, 0.15);
    circuit.add(Element::Drain {
        from: output,
        to: GROUND,
        wave: Wave::constant(amps),
    });
}
