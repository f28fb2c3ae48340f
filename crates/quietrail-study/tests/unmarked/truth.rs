//! A made-up transformer, what meters read on it, and the job that is written from that.
//!
//! Nothing here comes from the code under test: the circuit is the textbook's, solved by hand, branch by branch. Only the
//! mean behind a rectifier is the engine's, which has its own references.

use quietrail_engine::{
    Circuit, DiodeLaw, Element, GROUND, LoadLaw, Options, System, Wave, steady_state,
};
use std::f64::consts::PI;
use std::fmt::Write;

/// A stream of choices (Steele, Lea and Flood 2014, figure 17).
pub(crate) struct Chance(u64);

impl Chance {
    pub(crate) fn of(seed: u64, number: u64) -> Self {
        let mut start = Self(seed ^ number.wrapping_mul(0xd134_2543_de82_ef95));
        start.bits();
        Self(start.bits())
    }

    fn bits(&mut self) -> u64 {
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        z ^ (z >> 31)
    }

    pub(crate) fn within(&mut self, low: f64, high: f64) -> f64 {
        low + (high - low) * (self.bits() >> 11) as f64 / (1_u64 << 53) as f64
    }

    pub(crate) fn happens(&mut self, share: f64) -> bool {
        self.within(0.0, 1.0) < share
    }
}

/// A complex number, `(re, im)`.
type Z = (f64, f64);

fn add(a: Z, b: Z) -> Z {
    (a.0 + b.0, a.1 + b.1)
}
fn mul(a: Z, b: Z) -> Z {
    (a.0 * b.0 - a.1 * b.1, a.0 * b.1 + a.1 * b.0)
}
fn div(a: Z, b: Z) -> Z {
    let over = b.0 * b.0 + b.1 * b.1;
    (
        (a.0 * b.0 + a.1 * b.1) / over,
        (a.1 * b.0 - a.0 * b.1) / over,
    )
}
fn size(a: Z) -> f64 {
    a.0.hypot(a.1)
}

/// What the model lacks, if anything.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) enum Lacking {
    Nothing,
    /// Leakage of each primary half of its own, beside that of the secondaries.
    BetweenHalves,
    /// Mains flatter than the job says.
    FlatTop,
    /// A small load on a secondary that nobody knows of.
    UnknownLoad,
}

/// A transformer with every figure.
pub(crate) struct Truth {
    pub(crate) mains: f64,
    pub(crate) hertz: f64,
    /// Ohms of each primary, one or two in series on the mains.
    pub(crate) primaries: Vec<f64>,
    /// Leakage of each primary, Ω.
    primary_leakage: f64,
    pub(crate) secondaries: Vec<Secondary>,
    /// Magnetising and loss, S at the whole primary.
    iron: Z,
    pub(crate) lacking: Lacking,
    flatness: f64,
    unknown_load: Option<(usize, f64)>,
    volt_amperes: f64,
}

pub(crate) struct Secondary {
    /// Turns over those of the whole primary.
    pub(crate) ratio: f64,
    pub(crate) ohms: f64,
    /// Leakage, Ω at the mains frequency.
    pub(crate) reactance: f64,
}

/// Flow with the whole primary on some volts.
struct Flow {
    /// Volts over the ratio-1 core.
    core: Z,
    source: Z,
}

impl Truth {
    pub(crate) fn made(chance: &mut Chance, lacking: Lacking) -> Self {
        let (mains, hertz) = if chance.happens(0.7) {
            (230.0, 50.0)
        } else {
            (120.0, 60.0)
        };
        let volt_amperes = 5.0 * 16_f64.powf(chance.within(0.0, 1.0));
        // Small ones lose more.
        let regulation = (0.45 / volt_amperes.sqrt()).clamp(0.05, 0.2) * chance.within(0.8, 1.4);
        let whole = mains * mains / volt_amperes;
        let primary = 0.5 * regulation * whole * chance.within(0.8, 1.2);
        let primaries = if chance.happens(0.6) {
            let share = chance.within(0.48, 0.5);
            vec![primary * share, primary * (1.0 - share)]
        } else {
            vec![primary]
        };
        let count = 1 + (chance.within(0.0, 2.999)) as usize;
        let leakage = chance.within(0.05, 0.5);
        let secondaries = (0..count)
            .map(|_| {
                let volts = 5.0 * 8_f64.powf(chance.within(0.0, 1.0));
                let ratio = volts * (1.0 + regulation) / mains;
                let own = 0.5 * regulation * whole * ratio * ratio * count as f64;
                let ohms = own * chance.within(0.7, 1.3);
                let seen = ohms + primary * ratio * ratio;
                Secondary {
                    ratio,
                    ohms,
                    reactance: seen * leakage * chance.within(0.7, 1.3),
                }
            })
            .collect();
        let magnetising = volt_amperes * chance.within(0.1, 0.35) / (mains * mains);
        let loss = volt_amperes * chance.within(0.03, 0.1) / (mains * mains);
        let flatness = if lacking == Lacking::FlatTop {
            chance.within(0.055, 0.085)
        } else {
            chance.within(0.0, 0.05)
        };
        let unknown_load = (lacking == Lacking::UnknownLoad).then(|| {
            let at = (chance.within(0.0, count as f64 - 1e-6)) as usize;
            (at, volt_amperes * chance.within(0.005, 0.02))
        });
        Self {
            mains,
            hertz,
            primary_leakage: if lacking == Lacking::BetweenHalves {
                primary * leakage * chance.within(0.2, 0.5)
            } else {
                0.0
            },
            primaries,
            secondaries,
            iron: (loss, -magnetising),
            lacking,
            flatness,
            unknown_load,
            volt_amperes,
        }
    }

    fn primary_impedance(&self, warm: f64) -> Z {
        (
            warm * self.primaries.iter().sum::<f64>(),
            self.primary_leakage,
        )
    }

    /// Everything in the textbook's order: loads referred to the core, the core beside them, the primary before.
    fn flow(&self, volts: f64, loads: &[(usize, f64)], warm: f64) -> Flow {
        let mut admittance = self.iron;
        for &(k, ohms) in loads {
            let secondary = &self.secondaries[k];
            let branch = (warm * secondary.ohms + ohms, secondary.reactance);
            let square = secondary.ratio * secondary.ratio;
            admittance = add(admittance, div((square, 0.0), branch));
        }
        let divider = add((1.0, 0.0), mul(self.primary_impedance(warm), admittance));
        let core = div((volts, 0.0), divider);
        Flow {
            core,
            source: mul(core, admittance),
        }
    }

    fn load_of_unknown(&self) -> Vec<(usize, f64)> {
        self.unknown_load
            .iter()
            .map(|&(k, watts)| {
                let volts = self.mains * self.secondaries[k].ratio;
                (k, volts * volts / watts)
            })
            .collect()
    }

    fn across(&self, flow: &Flow, k: usize, ohms: Option<f64>, warm: f64) -> Z {
        let secondary = &self.secondaries[k];
        let open = mul(flow.core, (secondary.ratio, 0.0));
        match ohms {
            None => open,
            Some(ohms) => {
                let branch = (warm * secondary.ohms + ohms, secondary.reactance);
                div(mul(open, (ohms, 0.0)), branch)
            }
        }
    }

    /// Off-load volts with the mains on, nothing else anywhere.
    pub(crate) fn open(&self, k: usize) -> f64 {
        size(self.across(&self.flow(self.mains, &[], 1.0), k, None, 1.0))
    }

    /// Resistance and leakage seen at a secondary.
    pub(crate) fn seen(&self, k: usize) -> (f64, f64) {
        let z = self.behind(k, 1.0, &[]);
        (z.0, z.1 / (2.0 * PI * self.hertz))
    }

    fn behind(&self, k: usize, warm: f64, others: &[(usize, f64)]) -> Z {
        let secondary = &self.secondaries[k];
        let mut admittance = add(self.iron, div((1.0, 0.0), self.primary_impedance(warm)));
        for &(other, ohms) in others.iter().filter(|(other, _)| *other != k) {
            let of = &self.secondaries[other];
            let branch = (warm * of.ohms + ohms, of.reactance);
            admittance = add(admittance, div((of.ratio * of.ratio, 0.0), branch));
        }
        let core = div((secondary.ratio * secondary.ratio, 0.0), admittance);
        add((warm * secondary.ohms, secondary.reactance), core)
    }

    pub(crate) fn no_load(&self) -> f64 {
        size(self.flow(self.mains, &[], 1.0).source)
    }

    /// The job, with all that was read; the errors are the stream's.
    pub(crate) fn job(&self, chance: &mut Chance) -> String {
        let mut out = String::new();
        let (ohms_error, volts_error, amps_error, watts_error) = (0.008, 0.01, 0.015, 0.02);
        let gain_ohms = 1.0 + chance.within(-ohms_error, ohms_error);
        let gain_volts = 1.0 + chance.within(-volts_error, volts_error);
        let gain_amps = 1.0 + chance.within(-amps_error, amps_error);
        let gain_watts = 1.0 + chance.within(-watts_error, watts_error);
        let null = 0.15 + chance.within(-0.02, 0.02);
        let (p, s) = (self.primaries.len(), self.secondaries.len());
        let name = |kind: char, k: usize, end: char| format!("{kind}{k}{end}");
        let mut leads = Vec::new();
        for (kind, count) in [('p', p), ('s', s)] {
            for k in 0..count {
                leads.push(name(kind, k, 'a'));
                leads.push(name(kind, k, 'b'));
            }
        }
        let quoted = |all: &[String]| {
            all.iter()
                .map(|lead| format!("\"{lead}\""))
                .collect::<Vec<_>>()
                .join(", ")
        };
        let _ = write!(
            out,
            "format = 1\n[mains]\nvoltage = \"{} V ±10 %\"\nfrequency = \"{} Hz\"\nflatness = \"0 .. 0.05\"\n[states]\non = \
             \"working\"\n[unmarked.T1]\nleads = [{}]\nprimary = [{}]\nprimary_because = \"made so\"\nnull = \"0.15 Ω ±0.02 Ω\"\n\
             copper = \"20 °C\"\nerrors = {{ ohms = \"0.8 %\", volts = \"1 %\", amps = \"1.5 %\", watts = \"2 %\" }}\n",
            self.mains,
            self.hertz,
            quoted(&leads),
            quoted(&leads[..2 * p]),
        );
        // A reading: the truth, the meter's share, and two digits either way.
        let read = |truth: f64, gain: f64, chance: &mut Chance| -> (f64, f64) {
            let digit = 10_f64.powf((truth.abs() / 4.0).log10().ceil()) / 1000.0;
            (
                truth * gain + chance.within(-2.0 * digit, 2.0 * digit),
                2.0 * digit,
            )
        };
        let text =
            |(value, half): (f64, f64), unit: &str| format!("{value:.9} {unit} ±{half:.9} {unit}");

        out.push_str("ohms = [\n");
        let windings: Vec<(char, usize, f64)> = (0..p)
            .map(|k| ('p', k, self.primaries[k]))
            .chain((0..s).map(|k| ('s', k, self.secondaries[k].ohms)))
            .collect();
        for &(kind, k, ohms) in &windings {
            // The range of 40 Ω reads to ten milliohms.
            let (low, half) = (
                (ohms + null) * gain_ohms,
                if ohms < 4.0 { 0.004 } else { 0.0015 * ohms },
            );
            let found = (low + chance.within(-half, half), half);
            let _ = writeln!(
                out,
                "  {{ between = [\"{}\", \"{}\"], reads = \"{}\" }},",
                name(kind, k, 'a'),
                name(kind, k, 'b'),
                text(found, "Ω"),
            );
        }
        out.push_str("]\n");

        let drive = |volts: f64, chance: &mut Chance| {
            let at = read(volts, gain_volts, chance);
            let joined = if p == 2 {
                ", joined = [[\"p0b\", \"p1a\"]]"
            } else {
                ""
            };
            let last = name('p', p - 1, 'b');
            format!(
                "driven = [\"p0a\", \"{last}\"], at = \"{}\"{joined}",
                text(at, "V")
            )
        };
        let other = self.load_of_unknown();

        out.push_str("volts = [\n");
        for k in 0..s {
            let mains = self.mains * chance.within(0.95, 1.05);
            let flow = self.flow(mains, &other, 1.0);
            let own = other.iter().find(|(of, _)| *of == k).map(|(_, ohms)| *ohms);
            let volts = size(self.across(&flow, k, own, 1.0));
            let found = read(volts, gain_volts, chance);
            let _ = writeln!(
                out,
                "  {{ {}, across = [\"s{k}a\", \"s{k}b\"], reads = \"{}\" }},",
                drive(mains, chance),
                text(found, "V"),
            );
        }
        if p == 2 {
            // The phase test: 12 V on the first half, the second in series with it.
            let found = read(24.0, gain_volts, chance);
            let at = read(12.0, gain_volts, chance);
            let _ = writeln!(
                out,
                "  {{ driven = [\"p0a\", \"p0b\"], at = \"{}\", joined = [[\"p0b\", \"p1a\"]], across = [\"p0a\", \"p1b\"], reads = \
                 \"{}\" }},",
                text((at.0, at.1 + 0.05), "V"),
                text((found.0, found.1 + 0.15), "V"),
            );
        }
        out.push_str("]\n");

        if chance.happens(0.8) {
            out.push_str("shorted = [\n");
            for k in 0..s {
                let volts = self.mains * chance.within(0.04, 0.08);
                let flow = self.flow(volts, &[(k, 0.0)], 1.0);
                let amps = read(size(flow.source), gain_amps, chance);
                let _ = write!(
                    out,
                    "  {{ {}, short = [\"s{k}a\", \"s{k}b\"], amps = \"{}\"",
                    drive(volts, chance),
                    text(amps, "A"),
                );
                if chance.happens(0.5) {
                    let watts = read(volts * flow.source.0, gain_watts, chance);
                    let _ = write!(out, ", watts = \"{}\"", text(watts, "W"));
                }
                out.push_str(" },\n");
            }
            out.push_str("]\n");
        }
        {
            let mains = self.mains * chance.within(0.98, 1.02);
            let flow = self.flow(mains, &other, 1.0);
            let amps = read(size(flow.source), gain_amps, chance);
            let _ = write!(
                out,
                "no_load = [{{ {}, amps = \"{}\"",
                drive(mains, chance),
                text(amps, "A")
            );
            if chance.happens(0.5) {
                let watts = read(mains * flow.source.0, gain_watts, chance);
                let _ = write!(out, ", watts = \"{}\"", text(watts, "W"));
            }
            out.push_str(" }]\n");
        }

        out.push_str("loaded = [\n");
        for k in 0..s {
            let open = self.open(k);
            let amperes = 0.7 * self.volt_amperes / open / s as f64;
            let warm = 1.0 + 0.003_93 * chance.within(0.0, 20.0);
            let mains = self.mains * chance.within(0.95, 1.05);
            if chance.happens(0.6) {
                let marked = open / amperes;
                let ohms = marked * (1.0 + chance.within(-0.01, 0.01));
                let mut loads = other.clone();
                loads.retain(|(of, _)| *of != k);
                // Load and what nobody knows of stand side by side.
                let own = other
                    .iter()
                    .find(|(of, _)| *of == k)
                    .map_or(f64::INFINITY, |(_, ohms)| *ohms);
                let together = 1.0 / (1.0 / ohms + 1.0 / own);
                loads.push((k, together));
                let flow = self.flow(mains, &loads, warm);
                let volts = size(self.across(&flow, k, Some(together), warm));
                let _ = writeln!(
                    out,
                    "  {{ {}, across = [\"s{k}a\", \"s{k}b\"], ohms = \"{marked:.9} Ω ±1 %\", reads = \"{}\" }},",
                    drive(mains, chance),
                    text(read(volts, gain_volts, chance), "V"),
                );
            } else if chance.happens(0.5) {
                let drop = chance.within(0.75, 1.0);
                let direct = 0.5 * amperes;
                let farads = 0.01 * direct / 3.0;
                let flow = self.flow(mains, &other, warm);
                let open = size(self.across(&flow, k, None, warm));
                let z = self.behind(k, warm, &other);
                let Some(mean) = mean(open, z, self.hertz, [drop, self.flatness, direct, farads])
                else {
                    continue;
                };
                let found = (mean * (1.0 + chance.within(-0.005, 0.005)), 0.0005 * mean);
                let _ = writeln!(
                    out,
                    "  {{ {}, across = [\"s{k}a\", \"s{k}b\"], rectified = \"bridge\", reservoir = \"{farads:.9} F\", amps = \
                     \"{direct:.9} A ±0.05 %\", reads = \"{}\" }},",
                    drive(mains, chance),
                    text((found.0 + chance.within(-found.1, found.1), found.1), "V"),
                );
            }
        }
        out.push_str("]\n");
        out
    }
}

/// Mean behind a bridge, by the engine.
fn mean(open: f64, z: Z, hertz: f64, [drop, flatness, amps, farads]: [f64; 4]) -> Option<f64> {
    let mut circuit = Circuit::new(hertz);
    let (a, b, inner, plus) = (
        circuit.node(),
        circuit.node(),
        circuit.node(),
        circuit.node(),
    );
    circuit.add(Element::Source {
        plus: inner,
        minus: b,
        wave: Wave::mains(open, flatness),
        ohms: 0.0,
    });
    circuit.add(Element::Inductor {
        a: inner,
        b: a,
        henries: z.1.max(1e-6) / (2.0 * PI * hertz),
        ohms: z.0,
    });
    let law = DiodeLaw::Ideal { drop, slope: 0.02 };
    for (anode, cathode) in [(a, plus), (b, plus), (GROUND, a), (GROUND, b)] {
        circuit.add(Element::Diode {
            anode,
            cathode,
            law,
        });
    }
    circuit.add(Element::Capacitor {
        a: plus,
        b: GROUND,
        farads,
        esr: 0.03,
        leakage: 1e-6,
    });
    circuit.add(Element::Load {
        plus,
        minus: GROUND,
        law: LoadLaw::Current { amps, below: 1.0 },
    });
    let system = System::assemble(&circuit).ok()?.reduced();
    let options = Options {
        tolerance: 1e-7,
        cycles: 300,
        steps: 60_000,
    };
    let outcome = steady_state(&system, &options);
    let orbit = outcome.orbit.filter(|_| outcome.ended.is_settled())?;
    Some(orbit.mean(&system.voltage(plus, GROUND)))
}
