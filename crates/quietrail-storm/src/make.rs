//! Jobs as text, such as a builder could write: one transformer, one to six rails.

use crate::chance::Chance;
use std::collections::BTreeSet;
use std::fmt::Write;

/// A job made up, and what is in it.
#[derive(Clone, Debug)]
pub struct Made {
    /// The text of `job.toml`.
    pub text: String,
    /// Which of the agreed topologies and troubles it was made to have.
    pub has: BTreeSet<&'static str>,
}

/// Rectifier forms of the job file.
const FORMS: [&str; 6] = [
    "bridge",
    "centre-tap",
    "half-wave",
    "split",
    "doubler",
    "cascade doubler",
];

/// What a storm must hold, with the least share of its jobs. Partial dropout, overload and dead rails are
/// aimed at by rough sums; the storm does not measure whether each was hit.
pub const QUOTAS: [(&str, f64); 30] = [
    ("bridge", 0.03),
    ("centre-tap", 0.03),
    ("half-wave", 0.03),
    ("split", 0.03),
    ("doubler", 0.03),
    ("cascade doubler", 0.03),
    ("primaries in series", 0.03),
    ("primaries in parallel", 0.03),
    ("tap", 0.03),
    ("join in series", 0.03),
    ("join in parallel", 0.03),
    ("existing load", 0.03),
    ("filter with a resistor", 0.03),
    ("filter with an inductor", 0.03),
    ("wire in the return", 0.03),
    ("lamp", 0.03),
    ("variable transformer", 0.03),
    ("fixed regulator", 0.03),
    ("adjustable regulator", 0.03),
    ("current load", 0.03),
    ("resistance load", 0.03),
    ("power load", 0.03),
    ("diode by points", 0.03),
    ("diode by law", 0.03),
    ("ideal diode", 0.03),
    ("shared heat sink", 0.03),
    ("two or more rails", 0.30),
    ("partial dropout", 0.20),
    ("overload or dead rail", 0.10),
    ("no ESR", 0.10),
];

/// The numbered job of a storm.
pub fn job(seed: u64, number: u64) -> Made {
    let mut draft = Draft::new(Chance::of(seed, number));
    draft.mains();
    let rails = if draft.chance.happens(0.45) {
        draft.has.insert("two or more rails");
        draft.chance.count(2, 5)
    } else {
        1
    };
    for rail in 1..=rails {
        draft.rail(rail);
    }
    draft.finish()
}

struct Draft {
    chance: Chance,
    has: BTreeSet<&'static str>,
    states: Vec<&'static str>,
    /// Text ahead of the transformer.
    head: String,
    secondaries: Vec<String>,
    joins: Vec<String>,
    existing: Vec<String>,
    /// Keys of the transformer besides its secondaries.
    transformer: String,
    /// Text after it.
    tail: String,
    mains_volts: f64,
    parts: usize,
    has_sink: bool,
    is_esr_none: bool,
    is_dropping: bool,
    is_overloaded: bool,
}

/// A rail under way: where it has come to.
struct Rail {
    number: u64,
    node: String,
    ret: String,
    /// Mean to expect there, V, by rough sums.
    volts: f64,
    /// Peak to peak of ripple to expect there, V.
    ripple: f64,
    amps: f64,
}

impl Draft {
    fn new(mut chance: Chance) -> Self {
        let states = [&["on"][..], &["idle", "on"], &["idle", "cold", "warm"]];
        let states = states[chance.count(0, 2) as usize].to_vec();
        let is_esr_none = chance.happens(0.14);
        let is_dropping = chance.happens(0.30);
        let is_overloaded = chance.happens(0.14);
        Self {
            chance,
            has: BTreeSet::new(),
            states,
            head: String::from("format = 1\n"),
            secondaries: Vec::new(),
            joins: Vec::new(),
            existing: Vec::new(),
            transformer: String::new(),
            tail: String::new(),
            mains_volts: 230.0,
            parts: 0,
            has_sink: false,
            is_esr_none,
            is_dropping,
            is_overloaded,
        }
    }

    fn name(&mut self, letter: &str) -> String {
        self.parts += 1;
        format!("{letter}{}", self.parts)
    }

    fn mains(&mut self) {
        let chance = &mut self.chance;
        let is_high = chance.happens(0.6);
        let (volts, hertz) = if is_high { (230.0, 50) } else { (115.0, 60) };
        self.mains_volts = volts;
        let flatness = chance.one_of(&["0", "0.03", "0.05", "0.1"]);
        let room = chance.within(0.0, 40.0);
        let air = chance.one_of(&[
            "rise = \"8 K\"",
            "to_room = \"0.5 K/W\"",
            "to_room = \"1.5 K/W\"",
        ]);
        let _ = writeln!(
            self.head,
            "[job]\nregion = \"{volts} V {hertz} Hz\"\n[mains]\nvoltage = \"{volts} V ±10 %\"\n\
             frequency = \"{hertz} Hz\"\nflatness = \"{flatness}\"\n[box]\nroom = \"{room:.0} °C\"\n{air}\n[states]"
        );
        for state in self.states.clone() {
            let _ = writeln!(self.head, "{state} = \"{state}\"");
        }
        self.mains_side();
        self.primary(is_high);
    }

    /// Fuse, switch, lamp and variable transformer between the inlet and the primary.
    fn mains_side(&mut self) {
        let mut at = String::from("inlet.live");
        let mut stages = Vec::new();
        if self.chance.happens(0.5) {
            stages.push("[fuse.F1]\nrated = \"500 mA time-lag\"\nresistance = \"0.4 Ω\"");
        }
        if self.chance.happens(0.3) {
            stages.push("[switch.SW1]\nresistance = \"10 mΩ\"");
        }
        if self.chance.happens(0.08) {
            self.has.insert("lamp");
            stages.push(if self.mains_volts > 200.0 {
                "[lamp.LA1]\nrated = \"60 W 230 V\""
            } else {
                "[lamp.LA1]\nrated = \"60 W 115 V\""
            });
        }
        let varies = self.chance.happens(0.08);
        let count = stages.len();
        for (index, stage) in stages.into_iter().enumerate() {
            let to = if index + 1 == count && !varies {
                String::from("T1.primary.in")
            } else {
                format!("live{index}")
            };
            let _ = writeln!(self.head, "{stage}\nbetween = [\"{at}\", \"{to}\"]");
            at = to;
        }
        if varies {
            self.has.insert("variable transformer");
            let percent = self.chance.within(10.0, 110.0);
            let _ = writeln!(
                self.head,
                "[variable_transformer.VT1]\nfrom = \"{at}\"\ninto = \"T1.primary.in\"\nsetting = \"{percent:.0} %\""
            );
        }
    }

    fn primary(&mut self, is_high: bool) {
        let ohms = self.chance.octaves(3.0, 80.0);
        let volts = self.mains_volts;
        if self.chance.happens(0.3) {
            self.has.insert(if is_high {
                "primaries in series"
            } else {
                "primaries in parallel"
            });
            let other = ohms * self.chance.within(1.0, 1.08);
            let _ = writeln!(
                self.transformer,
                "primary = [{{ name = \"P1\", volts = \"115 V\", resistance = \"{ohms:.3} Ω\" }}, \
                 {{ name = \"P2\", volts = \"115 V\", resistance = \"{other:.3} Ω\" }}]\n\
                 selector = {{ \"230 V\" = \"P1 + P2\", \"115 V\" = \"P1 | P2\" }}"
            );
        } else {
            let _ = writeln!(
                self.transformer,
                "primary = [{{ name = \"P1\", volts = \"{volts} V\", resistance = \"{ohms:.3} Ω\" }}]"
            );
        }
        let heat = self
            .chance
            .one_of(&["rise = \"30 K\"", "to_air = \"4 K/W\""]);
        let milliamps = self.chance.within(5.0, 60.0);
        let _ = writeln!(
            self.transformer,
            "{heat}\nno_load = \"{milliamps:.0} mA at {volts} V\""
        );
    }

    /// A winding for a rail; its name.
    fn winding(&mut self, rail: u64, form: &str, volts: f64, ohms: f64) -> String {
        let whole = format!("S{rail}");
        let at = self.mains_volts;
        let needs_centre = matches!(form, "centre-tap" | "split");
        let leakage = if self.chance.happens(0.2) {
            ", leakage = \"80 µH\""
        } else {
            ""
        };
        let one = |name: &str, volts: f64, ohms: f64, taps: &str| {
            format!(
                "{{ name = \"{name}\", open = \"{volts:.2} V at {at} V\", resistance = \"{ohms:.4} Ω\"{leakage}{taps} }}"
            )
        };
        let (first, second) = (format!("{whole}a"), format!("{whole}b"));
        if needs_centre && self.chance.happens(0.5) {
            self.has.insert("tap");
            let tapped = one(
                &whole,
                2.0 * volts,
                2.0 * ohms,
                ", taps = { mid = \"50 %\" }",
            );
            self.secondaries.push(tapped);
        } else if needs_centre || self.chance.happens(0.2) {
            self.has.insert("join in series");
            let part = if needs_centre { 1.0 } else { 0.5 };
            self.secondaries
                .push(one(&first, part * volts, part * ohms, ""));
            self.secondaries
                .push(one(&second, part * volts, 1.03 * part * ohms, ""));
            self.joins.push(format!("{whole} = \"{first} + {second}\""));
        } else if self.chance.happens(0.15) {
            self.has.insert("join in parallel");
            self.secondaries.push(one(&first, volts, 2.0 * ohms, ""));
            self.secondaries
                .push(one(&second, 1.004 * volts, 2.1 * ohms, ""));
            self.joins.push(format!("{whole} = \"{first} | {second}\""));
        } else {
            self.secondaries.push(one(&whole, volts, ohms, ""));
        }
        if self.chance.happens(0.15) {
            self.has.insert("existing load");
            let milliamps = self.chance.within(10.0, 800.0);
            self.existing.push(format!(
                "{{ of = \"{whole}\", draws = \"{milliamps:.0} mA\" }}"
            ));
        }
        whole
    }

    fn rail(&mut self, number: u64) {
        let form = self.chance.one_of(&FORMS);
        self.has.insert(match form {
            "bridge" => "bridge",
            "centre-tap" => "centre-tap",
            "half-wave" => "half-wave",
            "split" => "split",
            "doubler" => "doubler",
            _ => "cascade doubler",
        });
        let times = if form.ends_with("doubler") { 2.0 } else { 1.0 };
        let per_cycle = if matches!(form, "bridge" | "centre-tap" | "split") {
            2.0
        } else {
            1.0
        };
        let volts = self.chance.octaves(4.0, 60.0);
        let amps = self.chance.octaves(0.01, 1.6);
        let open_peak = 1.4 * volts * times - 1.4;
        let ohms = self.chance.within(0.03, 0.15) * volts / (times * amps.max(0.1));
        let winding = self.winding(number, form, volts, ohms);
        let ret = if self.chance.happens(0.2) {
            self.has.insert("wire in the return");
            format!("ret{number}")
        } else {
            String::from("common")
        };
        let ripple_share = self.chance.octaves(0.005, 0.25);
        let ripple = ripple_share * open_peak;
        let hertz = if self.mains_volts > 200.0 { 50.0 } else { 60.0 };
        let farads = amps / (hertz * per_cycle * ripple) * times;
        self.rectifier(number, form, &winding, &ret);
        let raw = format!("raw{number}");
        match form {
            "doubler" => {
                let middle = format!("mid{number}");
                self.capacitor(&raw, &middle, farads);
                self.capacitor(&middle, &ret, farads);
            }
            "cascade doubler" => {
                self.capacitor(
                    &format!("T1.{winding}.start"),
                    &format!("pump{number}"),
                    farads,
                );
                self.capacitor(&raw, &ret, farads);
            }
            "split" => {
                let negative = format!("neg{number}");
                self.capacitor(&raw, &ret, farads);
                self.capacitor(&ret, &negative, farads);
                let share = self.chance.within(0.0, 1.0);
                self.load(&ret, &negative, 0.85 * open_peak, share * amps);
            }
            _ => self.capacitor(&raw, &ret, farads),
        }
        if ret != "common" {
            let wire = self.name("W");
            let milliohms = self.chance.octaves(1.0, 200.0);
            let _ = writeln!(
                self.tail,
                "[wire.{wire}]\nbetween = [\"{ret}\", \"common\"]\nresistance = \"{milliohms:.1} mΩ\""
            );
        }
        let mut rail = Rail {
            number,
            node: raw,
            ret,
            volts: 0.85 * open_peak,
            ripple,
            amps,
        };
        self.filter(&mut rail, farads);
        if rail.volts > 4.5 && self.chance.happens(0.55) {
            self.regulator(&mut rail);
        }
        let (node, ret) = (rail.node.clone(), rail.ret.clone());
        self.load(&node, &ret, rail.volts, rail.amps);
        if self.chance.happens(0.2) {
            self.load(&node, &ret, rail.volts, 0.1 * rail.amps);
        }
    }

    fn rectifier(&mut self, number: u64, form: &str, winding: &str, ret: &str) {
        let name = self.name("D");
        let curve = match self.chance.count(0, 3) {
            0 => {
                self.has.insert("diode by points");
                "points = [\"0.72 V at 100 mA\", \"0.95 V at 3 A\"]"
            }
            1 => {
                self.has.insert("diode by law");
                "law = { saturation = \"14 nA\", ideality = 1.98, series = \"34 mΩ\", at = \"25 °C\" }"
            }
            2 => {
                self.has.insert("ideal diode");
                "ideal = { drop = \"0.7 V\", slope = \"30 mΩ\" }"
            }
            _ => "diode = \"silicon 3 A\"",
        };
        let extra = match form {
            "split" => format!("negative = \"neg{number}\"\n"),
            "doubler" => format!("middle = \"mid{number}\"\n"),
            "cascade doubler" => format!("pump = \"pump{number}\"\n"),
            _ => String::new(),
        };
        let heat = if self.chance.happens(0.5) {
            "rated = { thermal = \"12 K/W\", junction = \"150 °C\" }\n"
        } else {
            ""
        };
        let ret = if ret == "common" {
            String::new()
        } else {
            format!("return = \"{ret}\"\n")
        };
        let _ = writeln!(
            self.tail,
            "[rectifier.{name}]\nfrom = \"T1.{winding}\"\ninto = \"raw{number}\"\nform = \"{form}\"\n{extra}{ret}{curve}\n{heat}"
        );
    }

    fn capacitor(&mut self, plus: &str, minus: &str, farads: f64) {
        let name = self.name("C");
        let microfarads = 1e6 * farads;
        let loss = if self.is_esr_none {
            self.has.insert("no ESR");
            String::from("esr = \"0 Ω\"")
        } else if self.chance.happens(0.2) {
            String::from("tan_delta = \"0.2 at 120 Hz\"")
        } else {
            let milliohms = self.chance.octaves(5.0, 600.0);
            format!("esr = \"{milliohms:.1} mΩ\"")
        };
        let leakage = if self.chance.happens(0.2) {
            "leakage = \"30 µA at 35 V\"\n"
        } else {
            ""
        };
        let _ = writeln!(
            self.tail,
            "[capacitor.{name}]\nbetween = [\"{plus}\", \"{minus}\"]\nvalue = \"{microfarads:.2} µF\"\n{loss}\n{leakage}"
        );
    }

    /// No section, one, or a ladder of them.
    fn filter(&mut self, rail: &mut Rail, farads: f64) {
        let sections = match self.chance.count(0, 9) {
            0..=5 => 0,
            6..=8 => 1,
            _ => self.chance.count(2, 5),
        };
        for section in 1..=sections {
            let to = format!("flt{}x{section}", rail.number);
            let from = rail.node.clone();
            if self.chance.happens(0.5) {
                self.has.insert("filter with a resistor");
                let name = self.name("R");
                let ohms = self.chance.within(0.01, 0.08) * rail.volts / rail.amps;
                rail.volts -= ohms * rail.amps;
                let _ = writeln!(
                    self.tail,
                    "[resistor.{name}]\nbetween = [\"{from}\", \"{to}\"]\nvalue = \"{ohms:.3} Ω\""
                );
            } else {
                self.has.insert("filter with an inductor");
                let name = self.name("L");
                let millihenries = self.chance.octaves(0.1, 2000.0);
                let ohms = self.chance.within(0.005, 0.05) * rail.volts / rail.amps;
                rail.volts -= ohms * rail.amps;
                let _ = writeln!(
                    self.tail,
                    "[inductor.{name}]\nbetween = [\"{from}\", \"{to}\"]\nvalue = \"{millihenries:.3} mH\"\nresistance = \"{ohms:.3} Ω\""
                );
            }
            let share = self.chance.octaves(0.05, 2.0);
            let ret = rail.ret.clone();
            self.capacitor(&to, &ret, share * farads);
            rail.ripple *= 0.3;
            rail.node = to;
        }
    }

    fn regulator(&mut self, rail: &mut Rail) {
        let name = self.name("U");
        let valley = rail.volts - 0.5 * rail.ripple;
        let dropout = self.chance.within(0.3, 1.8);
        let set = if self.is_dropping {
            self.has.insert("partial dropout");
            rail.volts - dropout + self.chance.within(-0.4, 0.4) * rail.ripple
        } else {
            (valley - dropout) * self.chance.within(0.5, 0.95)
        };
        let set = set.max(1.5);
        let set_text = match self.chance.count(0, 2) {
            0 => {
                self.has.insert("fixed regulator");
                format!("{{ fixed = \"{set:.2} V\" }}")
            }
            1 => {
                self.has.insert("adjustable regulator");
                let lower = 240.0 * (set / 1.25 - 1.0);
                format!(
                    "{{ reference = \"1.25 V ±4 %\", across = \"upper\", upper = \"240 Ω\", lower = \"{lower:.1} Ω\", adjust = \"50 µA\" }}"
                )
            }
            _ => {
                self.has.insert("adjustable regulator");
                let upper = 1000.0 * (set / 1.24 - 1.0);
                format!(
                    "{{ reference = \"1.24 V ±1 %\", across = \"lower\", upper = \"{upper:.1} Ω\", lower = \"1000 Ω\" }}"
                )
            }
        };
        let limit = rail.amps * self.chance.within(1.3, 4.0);
        let rejection = self.chance.one_of(&[
            "\"60 dB at 100 Hz\"",
            "\"65 dB at 120 Hz\", \"35 dB at 100 kHz\"",
            "\"80 dB at 120 Hz\", \"60 dB at 10 kHz\"",
        ]);
        let loop_time = self.chance.one_of(&["1 µs", "3 µs", "20 µs"]);
        let milliamps = self.chance.octaves(0.05, 10.0);
        let milliohms = self.chance.octaves(1.0, 60.0);
        let sink = if self.chance.happens(0.4) {
            self.has.insert("shared heat sink");
            self.has_sink = true;
            "junction_to_case = \"2 K/W\"\nsink = \"SK1\"\n"
        } else {
            ""
        };
        let into = format!("out{}", rail.number);
        let (from, ret) = (rail.node.clone(), rail.ret.clone());
        let _ = writeln!(
            self.tail,
            "[regulator.{name}]\nfrom = \"{from}\"\ninto = \"{into}\"\nreturn = \"{ret}\"\nset = {set_text}\n\
             dropout = [\"{:.2} V at 10 mA\", \"{dropout:.2} V at {:.3} A\"]\nrejection = [{rejection}]\n\
             output_resistance = \"{milliohms:.1} mΩ\"\nquiescent = \"{milliamps:.2} mA\"\n\
             limit = \"{limit:.3} A\"\nloop_time = \"{loop_time}\"\n{sink}",
            0.6 * dropout,
            rail.amps.max(0.05),
        );
        if self.chance.happens(0.8) {
            let farads = self.chance.octaves(1e-6, 500e-6);
            self.capacitor(&into, &ret, farads);
        }
        rail.node = into;
        rail.volts = set;
        rail.ripple = 0.0;
    }

    /// A load that draws about so much in the last state, and other amounts in the others.
    fn load(&mut self, plus: &str, minus: &str, volts: f64, amps: f64) {
        let name = self.name("X");
        let kind = self.chance.count(0, 2);
        self.has.insert(match kind {
            0 => "current load",
            1 => "resistance load",
            _ => "power load",
        });
        let amps = if self.is_overloaded && self.chance.happens(0.6) {
            self.has.insert("overload or dead rail");
            amps * self.chance.octaves(3.0, 40.0)
        } else {
            amps
        };
        let amps = amps.max(1e-4);
        let states = self.states.clone();
        let draws: Vec<String> = states
            .iter()
            .enumerate()
            .map(|(index, state)| {
                let is_last = index + 1 == states.len();
                let factor = match *state {
                    _ if is_last => 1.0,
                    "idle" if self.chance.happens(0.5) => 0.0,
                    _ => self.chance.within(0.3, 1.3),
                };
                let draw = match kind {
                    0 => format!("{:.5} A", factor * amps),
                    1 => format!("{:.4} Ω", volts / (factor.max(1e-4) * amps)),
                    _ => format!("{:.5} W", factor * amps * volts),
                };
                format!("{state} = \"{draw}\"")
            })
            .collect();
        let below = self
            .chance
            .one_of(&["", "below = \"0.5 V\"\n", "below = \"3 V\"\n"]);
        let _ = writeln!(
            self.tail,
            "[load.{name}]\nbetween = [\"{plus}\", \"{minus}\"]\ndraws = {{ {} }}\n{below}",
            draws.join(", ")
        );
    }

    fn finish(mut self) -> Made {
        if self.is_overloaded && !self.has.contains("overload or dead rail") {
            self.has.insert("overload or dead rail");
            let name = self.name("R");
            let ohms = self.chance.octaves(0.05, 1.0);
            let _ = writeln!(
                self.tail,
                "[resistor.{name}]\nat = \"raw1\"\nvalue = \"{ohms:.3} Ω\""
            );
        }
        let mut text = self.head;
        let _ = writeln!(
            text,
            "[transformer.T1]\n{}secondary = [{}]",
            self.transformer,
            self.secondaries.join(", ")
        );
        if !self.joins.is_empty() {
            let _ = writeln!(text, "joins = {{ {} }}", self.joins.join(", "));
        }
        if !self.existing.is_empty() {
            let _ = writeln!(text, "existing = [{}]", self.existing.join(", "));
        }
        text.push_str(&self.tail);
        if self.has_sink {
            text.push_str("[sink.SK1]\nto_air = \"6 K/W\"\n");
        }
        Made {
            text,
            has: self.has,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::{QUOTAS, job};

    #[test]
    fn every_job_can_be_read() {
        for number in 0..300 {
            let made = job(7, number);
            let reading = quietrail_job::read(&made.text, None);
            assert!(
                reading.job.is_some(),
                "job {number}: {:#?}\n{}",
                reading.diagnostics,
                made.text
            );
        }
    }

    #[test]
    fn quotas_are_kept() {
        let count = 2000;
        let made: Vec<_> = (0..count).map(|number| job(1, number)).collect();
        for (what, least) in QUOTAS {
            let with = made.iter().filter(|made| made.has.contains(what)).count();
            let share = with as f64 / count as f64;
            assert!(share >= least, "{what}: {share} of {least}");
        }
    }

    #[test]
    fn a_seed_settles_the_text() {
        assert_eq!(job(3, 5).text, job(3, 5).text);
        assert_ne!(job(3, 5).text, job(4, 5).text);
    }
}
