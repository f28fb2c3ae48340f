//! Transistors, shunt regulators and sense leads on a rail.

use super::Draft;
use super::rail::Rail;
use std::fmt::Write;

/// Catalogue entries: name, gain to reckon with, whether it is a PNP.
const TRANSISTORS: [(&str, f64, bool); 4] = [
    ("silicon npn power 15 A", 35.0, false),
    ("silicon npn medium 1.5 A", 80.0, false),
    ("silicon npn Darlington 8 A", 2000.0, false),
    ("silicon pnp medium 1.5 A", 80.0, true),
];

impl Draft {
    /// A follower behind the rail: its base on a zener diode, or on a capacitor alone.
    pub(super) fn follower(&mut self, rail: &mut Rail) {
        let (name, resistor) = (self.name("Q"), self.name("R"));
        let (base, out) = (
            format!("base{}x{name}", rail.number),
            format!("out{}x{name}", rail.number),
        );
        self.node(&base);
        self.node(&out);
        let (keys, gain) = self.transistor(rail.amps, false);
        let (from, ret) = (rail.node.clone(), rail.ret.clone());
        let drive = rail.amps / gain;
        let held = if self.chance.happens(0.6) {
            let volts = rail.valley * self.chance.within(0.5, 0.9);
            self.zener(&base, &ret, volts, 0.5 * drive.max(1e-3));
            volts
        } else {
            rail.mean() * self.chance.within(0.85, 0.97)
        };
        let ohms = ((rail.mean() - held) / (self.chance.within(1.2, 4.0) * drive)).clamp(1.0, 1e5);
        let _ = writeln!(
            self.tail,
            "[resistor.{resistor}]\nbetween = [\"{from}\", \"{base}\"]\nvalue = \"{ohms:.2} Ω\""
        );
        let farads = self.chance.octaves(1e-6, 1e-3);
        self.capacitor(&base, &ret, farads);
        let _ = writeln!(
            self.tail,
            "[transistor.{name}]\ncollector = \"{from}\"\nbase = \"{base}\"\nemitter = \"{out}\"\n{keys}"
        );
        rail.is_held = self.chance.happens(0.8);
        if rail.is_held {
            let farads = self.chance.octaves(1e-6, 1e-3);
            self.capacitor(&out, &ret, farads);
        }
        rail.node = out;
        rail.valley = (held - 0.8).max(0.3);
        rail.peak = rail.valley;
    }

    /// A PNP that takes the current of a regulator upon itself: the node that the regulator draws from.
    pub(super) fn booster(&mut self, rail: &Rail, into: &str) -> String {
        let (name, resistor) = (self.name("Q"), self.name("R"));
        let base = format!("base{}x{name}", rail.number);
        self.node(&base);
        let (keys, _) = self.transistor(rail.amps, true);
        let from = &rail.node;
        let ohms = (0.65 / (self.chance.within(0.05, 0.5) * rail.amps)).clamp(0.1, 1e4);
        let _ = writeln!(
            self.tail,
            "[resistor.{resistor}]\nbetween = [\"{from}\", \"{base}\"]\nvalue = \"{ohms:.2} Ω\"\n\
             [transistor.{name}]\nemitter = \"{from}\"\nbase = \"{base}\"\ncollector = \"{into}\"\n{keys}"
        );
        base
    }

    /// A shunt regulator at the end of the rail, behind a resistor.
    pub(super) fn shunt(&mut self, rail: &mut Rail) {
        let resistor = self.name("R");
        let to = format!("shunt{}x{resistor}", rail.number);
        self.node(&to);
        let (from, ret) = (rail.node.clone(), rail.ret.clone());
        let volts = rail.valley * self.chance.within(0.3, 0.85);
        // Now and then too high: the shunt starves.
        let ohms = (rail.valley - volts) / (rail.amps * self.chance.within(0.9, 3.0));
        let _ = writeln!(
            self.tail,
            "[resistor.{resistor}]\nbetween = [\"{from}\", \"{to}\"]\nvalue = \"{ohms:.3} Ω\""
        );
        if volts > 2.6 && self.chance.happens(0.5) {
            let name = self.name("Z");
            let upper = 1000.0 * (volts / 2.495 - 1.0);
            let keys = self.chance.one_of(&[
                "part = \"shunt reference 2.5 V\"",
                "reference = \"2.5 V ±1 %\"\nresistance = \"0.3 Ω\"\nleast = \"1 mA\"",
            ]);
            let _ = writeln!(
                self.tail,
                "[shunt.{name}]\nbetween = [\"{to}\", \"{ret}\"]\n{keys}\nupper = \"{upper:.1} Ω\"\nlower = \"1 kΩ\""
            );
        } else {
            self.zener(&to, &ret, volts, rail.amps);
        }
        rail.is_held = self.chance.happens(0.7);
        if rail.is_held {
            let farads = self.chance.octaves(1e-7, 1e-3);
            self.capacitor(&to, &ret, farads);
        }
        rail.node = to;
        rail.valley = volts;
        rail.peak = volts;
    }

    /// A wire from a regulator's output to where its sense leads sit; the keys that say so.
    pub(super) fn sensed(&mut self, rail: &Rail, into: &str) -> (String, String) {
        let name = self.name("W");
        let far = format!("far{}x{name}", rail.number);
        self.node(&far);
        let milliohms = self.chance.octaves(1.0, 300.0);
        let _ = writeln!(
            self.tail,
            "[wire.{name}]\nbetween = [\"{into}\", \"{far}\"]\nresistance = \"{milliohms:.1} mΩ\""
        );
        let keys = if self.chance.happens(0.5) {
            format!("sense = \"{far}\"\n")
        } else {
            format!("sense = [\"{far}\", \"{}\"]\n", rail.ret)
        };
        (far, keys)
    }

    fn zener(&mut self, plus: &str, minus: &str, volts: f64, amps: f64) {
        let name = self.name("Z");
        let ohms = (self.chance.within(0.01, 0.1) * volts / amps).clamp(0.05, 500.0);
        let _ = writeln!(
            self.tail,
            "[shunt.{name}]\nbetween = [\"{plus}\", \"{minus}\"]\nfixed = \"{volts:.3} V ±5 %\"\nresistance = \"{ohms:.3} Ω\"\nleast = \"1 mA\""
        );
    }

    /// A transistor for a current: its keys, and the gain to reckon with.
    fn transistor(&mut self, amps: f64, is_pnp: bool) -> (String, f64) {
        if self.chance.happens(0.5) {
            let fitting: Vec<(&str, f64)> = TRANSISTORS
                .iter()
                .filter(|(.., pnp)| *pnp == is_pnp)
                .map(|(name, gain, _)| (*name, *gain))
                .collect();
            let (name, gain) = self.chance.one_of(&fitting);
            return (format!("part = \"{name}\"\n"), gain);
        }
        let gain = self.chance.octaves(20.0, 400.0);
        let kind = if is_pnp { "kind = \"pnp\"\n" } else { "" };
        let curve = if self.chance.happens(0.5) {
            format!("\"0.7 V at {amps:.4} A\"")
        } else {
            format!(
                "\"0.6 V at {:.5} A\", \"0.75 V at {amps:.4} A\"",
                0.05 * amps
            )
        };
        let keys = format!(
            "{kind}gain = \"{gain:.0}\"\nbase_emitter = [{curve}]\nsaturation = \"0.3 V at {amps:.4} A\"\n"
        );
        (keys, gain)
    }
}
