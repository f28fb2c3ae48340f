//! From a winding to a raw node, and filters behind it.

use super::winding::Fed;
use super::{Aim, DiodeChoice, Draft, Overload};
use std::fmt::Write;

/// Rectifier forms of the job file.
const FORMS: [&str; 6] = [
    "bridge",
    "centre-tap",
    "half-wave",
    "split",
    "doubler",
    "cascade doubler",
];

/// Largest reservoir, F: small ripple at low volts would ask for more than anyone fits.
const LARGEST: f64 = 22e-3;

/// A rail under way: where it has come to.
pub(super) struct Rail {
    pub(super) number: u64,
    pub(super) node: String,
    pub(super) ret: String,
    /// Lowest and highest voltage to expect there, by rough sums, V.
    pub(super) valley: f64,
    pub(super) peak: f64,
    /// What it is meant to feed, A.
    pub(super) amps: f64,
    /// Sections of filter so far.
    pub(super) sections: u64,
    /// Whether a capacitor ends at its node.
    pub(super) is_held: bool,
}

impl Rail {
    pub(super) fn mean(&self) -> f64 {
        0.5 * (self.valley + self.peak)
    }
}

impl Draft {
    pub(super) fn rail(&mut self, number: u64) {
        let fed = self.fed(number);
        let times = if fed.form.ends_with("doubler") {
            2.0
        } else {
            1.0
        };
        let is_full_wave = matches!(fed.form, "bridge" | "centre-tap" | "split");
        let pulses = if is_full_wave { 2.0 } else { 1.0 };
        let diodes = if fed.form == "bridge" {
            1.4
        } else {
            0.7 * times
        };
        // Charging pulses are several times the mean: common practice, no source.
        let sag = 3.0 * times * times * fed.amps * fed.ohms;
        let open = 1.4 * fed.volts * times - diodes;
        let peak = (open - sag).max(0.2 * open).max(0.3);
        let ripple_share = if self.is_dropping {
            self.chance.within(0.15, 0.4)
        } else {
            self.chance.octaves(0.003, 0.3)
        };
        let ripple = ripple_share * peak;
        let farads = (times * fed.amps / (self.hertz * pulses * ripple)).min(LARGEST);
        self.rectifier(number, &fed);
        // One half of a doubler is empty when the other is full.
        let peak = peak - 0.5 * (times - 1.0) * ripple;
        let mut rail = Rail {
            number,
            node: format!("raw{number}"),
            ret: fed.ret.clone(),
            valley: (peak - 0.8 * times * ripple).max(0.3 * peak),
            peak,
            amps: fed.amps,
            sections: 0,
            is_held: true,
        };
        if matches!(fed.form, "bridge" | "centre-tap")
            && self.chance.happens(0.08)
            && self.room() > 0
        {
            // The choke sees the rectifier first: the mean of the rectified wave is what is left.
            rail.is_held = false;
            rail.peak *= 0.62;
            rail.valley = 0.97 * rail.peak;
            self.section(&mut rail, farads, true);
        } else {
            self.reservoir(number, &fed, farads);
        }
        if fed.form == "split" {
            let share = self.chance.within(0.0, 1.0);
            let negative = format!("neg{number}");
            self.load(&fed.ret, &negative, rail.mean(), share * fed.amps);
        }
        if self.chance.happens(0.06) && self.room() > 4 {
            self.second_source(number, &fed);
        }
        if self.chance.happens(0.05) && rail.is_held && !fed.form.ends_with("doubler") {
            // A large capacitor alone: nothing but its leakage empties it.
            let farads = self.chance.within(12e-3, 47e-3);
            let (node, ret) = (rail.node.clone(), rail.ret.clone());
            self.capacitor(&node, &ret, farads);
            self.windings.push(fed);
            return;
        }
        self.windings.push(fed);
        self.filters(&mut rail, farads);
        self.consumers(rail);
    }

    /// The winding of a rail: a new one, or one that has a rectifier of such a form already.
    fn fed(&mut self, number: u64) -> Fed {
        let free = self
            .windings
            .iter()
            .find(|fed| matches!(fed.form, "half-wave" | "cascade doubler" | "centre-tap"));
        if let Some(fed) = free.cloned().filter(|_| self.chance.happens(0.15)) {
            // What both take of one winding: half-wave and cascade share an end, two centre-taps all of it.
            let form = match fed.form {
                "centre-tap" => "centre-tap",
                _ => self.chance.one_of(&["half-wave", "cascade doubler"]),
            };
            return Fed { form, ..fed };
        }
        let form = self.chance.one_of(&FORMS);
        let volts = self.chance.octaves(4.0, 60.0);
        let amps = self.chance.octaves(0.005, 2.0);
        let (from, ohms) = self.winding(number, form, volts, amps);
        let ret = self.ret(number);
        Fed {
            from,
            form,
            ret,
            volts,
            ohms,
            amps,
        }
    }

    /// The return of a rail: common, a wire of its own or one that it shares, or nothing.
    fn ret(&mut self, number: u64) -> String {
        if self.chance.happens(0.08) {
            let ret = format!("float{number}");
            self.node(&ret);
            return ret;
        }
        if !self.returns.is_empty() && self.chance.happens(0.3) {
            return self.returns[0].clone();
        }
        if !self.chance.happens(0.25) {
            return String::from("common");
        }
        let ret = format!("ret{number}");
        self.node(&ret);
        let wire = self.name("W");
        let milliohms = self.chance.octaves(1.0, 500.0);
        let _ = writeln!(
            self.tail,
            "[wire.{wire}]\nbetween = [\"{ret}\", \"common\"]\nresistance = \"{milliohms:.1} mΩ\""
        );
        self.returns.push(ret.clone());
        ret
    }

    fn rectifier(&mut self, number: u64, fed: &Fed) {
        let name = self.name("D");
        let curve = self.curve();
        let curve = match curve.strip_prefix("part") {
            Some(named) => format!("diode{named}"),
            None => curve,
        };
        let extra = match fed.form {
            "split" => format!("negative = \"neg{number}\"\n"),
            "doubler" => format!("middle = \"mid{number}\"\n"),
            "cascade doubler" => format!("pump = \"pump{number}\"\n"),
            _ => String::new(),
        };
        let extra_node = match fed.form {
            "split" => Some("neg"),
            "doubler" => Some("mid"),
            "cascade doubler" => Some("pump"),
            _ => None,
        };
        if let Some(node) = extra_node {
            self.node(&format!("{node}{number}"));
        }
        self.node(&format!("raw{number}"));
        let heat = if self.chance.happens(0.3) {
            "rated = { thermal = \"20 K/W\", junction = \"150 °C\", reverse = \"100 V\", peak = \"20 A\" }\n"
        } else {
            ""
        };
        let _ = writeln!(
            self.tail,
            "[rectifier.{name}]\nfrom = \"{}\"\ninto = \"raw{number}\"\nform = \"{}\"\n{extra}return = \"{}\"\n{curve}\n{heat}",
            fed.from, fed.form, fed.ret
        );
    }

    /// A second rectifier, on a winding of its own, into the same node: the higher one feeds it.
    fn second_source(&mut self, number: u64, fed: &Fed) {
        let name = self.name("D");
        let volts = fed.volts * self.chance.within(0.7, 1.3);
        // Numbered far from the rails, so that no winding has two rails' names.
        let (from, _) = self.winding(1000 + number, "bridge", volts, fed.amps);
        let curve = self.curve();
        let curve = match curve.strip_prefix("part") {
            Some(named) => format!("diode{named}"),
            None => curve,
        };
        let _ = writeln!(
            self.tail,
            "[rectifier.{name}]\nfrom = \"{from}\"\ninto = \"raw{number}\"\nform = \"bridge\"\nreturn = \"{}\"\n{curve}",
            fed.ret
        );
    }

    /// The curve of a diode, as keys; `part = ...` where it is the catalogue's.
    pub(super) fn curve(&mut self) -> String {
        let choice = match self.diode {
            DiodeChoice::Mixed => self.chance.one_of(&[
                DiodeChoice::Points,
                DiodeChoice::Law,
                DiodeChoice::Catalogue,
                DiodeChoice::Ideal,
                DiodeChoice::WithoutSlope,
            ]),
            choice => choice,
        };
        match choice {
            DiodeChoice::Points => self
                .chance
                .one_of(&[
                    "points = [\"0.72 V at 100 mA\", \"0.95 V at 3 A\"]",
                    "points = [\"0.55 V at 10 mA\", \"0.7 V at 200 mA\", \"1.0 V at 3 A\"]",
                    "points = [\"0.30 V at 100 mA\", \"0.5 V at 3 A\"]",
                ])
                .to_owned(),
            DiodeChoice::Law => self
                .chance
                .one_of(&[
                    "law = { saturation = \"14 nA\", ideality = 1.98, series = \"34 mΩ\", at = \"25 °C\" }",
                    "law = { saturation = \"14 nA\", ideality = 1.98, series = \"0 Ω\", leakage = \"10 nS\" }",
                ])
                .to_owned(),
            DiodeChoice::Ideal => self
                .chance
                .one_of(&[
                    "ideal = { drop = \"0.7 V\", slope = \"30 mΩ\" }",
                    "ideal = { drop = \"0 V\", slope = \"1 mΩ\" }",
                ])
                .to_owned(),
            DiodeChoice::WithoutSlope => self
                .chance
                .one_of(&["ideal = { drop = \"0.7 V\" }", "ideal = { drop = \"0 V\" }"])
                .to_owned(),
            DiodeChoice::Catalogue | DiodeChoice::Mixed => {
                let name = self.chance.one_of(&[
                    "silicon 1 A",
                    "silicon 3 A",
                    "silicon bridge block 4 A",
                    "Schottky 3 A",
                    "1N4004",
                ]);
                format!("part = \"{name}\"")
            }
        }
    }

    fn reservoir(&mut self, number: u64, fed: &Fed, farads: f64) {
        let raw = format!("raw{number}");
        let ret = &fed.ret;
        match fed.form {
            "doubler" => {
                let middle = format!("mid{number}");
                self.capacitor(&raw, &middle, farads);
                self.capacitor(&middle, ret, farads);
            }
            "cascade doubler" => {
                let start = format!("{}.start", fed.from);
                self.capacitor(&start, &format!("pump{number}"), farads);
                self.capacitor(&raw, ret, farads);
            }
            "split" => {
                self.capacitor(&raw, ret, farads);
                self.capacitor(ret, &format!("neg{number}"), farads);
            }
            _ => self.capacitor(&raw, ret, farads),
        }
    }

    pub(super) fn capacitor(&mut self, plus: &str, minus: &str, farads: f64) {
        let name = self.name("C");
        let microfarads = 1e6 * farads;
        let is_none = self.is_esr_none && self.chance.happens(0.7);
        let loss = if is_none {
            String::from("esr = \"0 Ω\"")
        } else if self.chance.happens(0.2) {
            String::from("tan_delta = \"0.2 at 120 Hz\"")
        } else {
            let milliohms = self.chance.octaves(2.0, 600.0);
            format!("esr = \"{milliohms:.1} mΩ\"")
        };
        let more = self.chance.one_of(&[
            "",
            "",
            "leakage = \"30 µA at 35 V\"\n",
            "rated = { volts = \"35 V\", ripple = \"2.1 A at 100 Hz\", life = \"3000 h at 105 °C\" }\n",
        ]);
        let _ = writeln!(
            self.tail,
            "[capacitor.{name}]\nbetween = [\"{plus}\", \"{minus}\"]\nvalue = \"{microfarads:.3} µF\"\n{loss}\n{more}"
        );
    }

    /// No section of filter, one, or a ladder of them.
    fn filters(&mut self, rail: &mut Rail, farads: f64) {
        // A filter leaves no valley to drop out in.
        if self.is_dropping && self.chance.happens(0.75) {
            return;
        }
        let sections = match self.chance.count(0, 9) {
            0..=4 => 0,
            5..=8 => 1,
            _ => self.chance.count(2, 5),
        };
        for _ in 0..sections {
            if self.room() < 1 {
                return;
            }
            let is_choke = self.chance.happens(0.4);
            self.section(rail, farads, is_choke);
        }
        if self.chance.happens(0.12) && self.room() > 0 {
            self.series_diode(rail);
        }
    }

    fn section(&mut self, rail: &mut Rail, farads: f64, is_choke: bool) {
        rail.sections += 1;
        let to = format!("flt{}x{}", rail.number, rail.sections);
        self.node(&to);
        let from = rail.node.clone();
        let ohms = self.chance.within(0.005, 0.06) * rail.mean() / rail.amps;
        if is_choke {
            let name = self.name("L");
            let millihenries = self.chance.octaves(0.1, 4000.0);
            let _ = writeln!(
                self.tail,
                "[inductor.{name}]\nbetween = [\"{from}\", \"{to}\"]\nvalue = \"{millihenries:.3} mH\"\nresistance = \"{ohms:.3} Ω\""
            );
        } else {
            let name = self.name("R");
            let _ = writeln!(
                self.tail,
                "[resistor.{name}]\nbetween = [\"{from}\", \"{to}\"]\nvalue = \"{ohms:.3} Ω\""
            );
        }
        rail.peak -= ohms * rail.amps;
        rail.valley -= ohms * rail.amps;
        let middle = rail.mean();
        (rail.peak, rail.valley) = (
            middle + 0.3 * (rail.peak - middle),
            middle - 0.3 * (middle - rail.valley),
        );
        rail.node = to.clone();
        // A choke now and then feeds its load alone.
        rail.is_held = !(is_choke && self.chance.happens(0.25));
        if rail.is_held {
            let share = self.chance.octaves(0.02, 2.0);
            let ret = rail.ret.clone();
            self.capacitor(&to, &ret, share * farads);
        }
    }

    fn series_diode(&mut self, rail: &mut Rail) {
        let name = self.name("D");
        let curve = self.curve();
        let to = format!("past{}", rail.number);
        self.node(&to);
        let _ = writeln!(
            self.tail,
            "[diode.{name}]\nbetween = [\"{}\", \"{to}\"]\n{curve}",
            rail.node
        );
        rail.node = to.clone();
        rail.peak = (rail.peak - 0.7).max(0.2);
        rail.valley = (rail.valley - 0.7).max(0.1);
        rail.is_held = self.chance.happens(0.7);
        if rail.is_held {
            let farads = self.chance.octaves(1e-6, 2e-3);
            let ret = rail.ret.clone();
            self.capacitor(&to, &ret, farads);
        }
    }

    /// What hangs on the end of a rail: switch, regulators, loads.
    fn consumers(&mut self, mut rail: Rail) {
        let is_open = self.overload == Some(Overload::Open);
        if (is_open || self.chance.happens(0.05)) && self.room() > 0 {
            let name = self.name("SW");
            let to = format!("sw{}", rail.number);
            self.node(&to);
            let closed = if is_open { "closed = false\n" } else { "" };
            let _ = writeln!(
                self.tail,
                "[switch.{name}]\nbetween = [\"{}\", \"{to}\"]\n{closed}",
                rail.node
            );
            if is_open {
                self.aims.insert(Aim::OverloadOrDeadRail);
                self.overload = None;
            }
            rail.node = to;
            rail.is_held = false;
        }
        // A regulator needs some volts; jobs made to drop out get one wherever it can be had.
        let share = if self.is_dropping { 0.9 } else { 0.5 };
        if rail.mean() > 3.2 && self.chance.happens(share) {
            self.regulator(&mut rail);
            if rail.mean() > 4.5 && self.room() > 0 && self.chance.happens(0.2) {
                self.regulator(&mut rail);
            }
            if self.chance.happens(0.1) {
                return;
            }
        } else if rail.mean() > 3.2 && self.room() > 1 && self.chance.happens(0.08) {
            self.follower(&mut rail);
        }
        if rail.valley > 2.0 && self.room() > 0 && self.chance.happens(0.035) {
            self.shunt(&mut rail);
        }
        self.leads(&mut rail);
        let (node, ret) = (rail.node.clone(), rail.ret.clone());
        self.load(&node, &ret, rail.mean(), rail.amps);
        if self.chance.happens(0.2) {
            self.load(&node, &ret, rail.mean(), 0.1 * rail.amps);
        }
    }

    /// A wire to the load.
    fn leads(&mut self, rail: &mut Rail) {
        if self.room() == 0 || !self.chance.happens(0.2) {
            return;
        }
        let name = self.name("W");
        let to = format!("end{}", rail.number);
        self.node(&to);
        let ohms = self.chance.one_of(&[
            "length = \"0.4 m\"\narea = \"0.5 mm²\"",
            "resistance = \"0 Ω\"",
            "resistance = \"80 mΩ\"",
        ]);
        let _ = writeln!(
            self.tail,
            "[wire.{name}]\nbetween = [\"{}\", \"{to}\"]\n{ohms}",
            rail.node
        );
        rail.node = to;
    }
}
