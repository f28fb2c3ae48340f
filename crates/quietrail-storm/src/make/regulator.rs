//! Regulators on a rail.

use super::rail::Rail;
use super::{Aim, Draft};
use std::fmt::Write;

/// Catalogue entries that a divider sets: name, reference (V), whether it spans the upper resistor, volts that
/// they need, highest current (A).
const ADJUSTABLE: [(&str, f64, bool, f64, f64); 3] = [
    ("adjustable 1.5 A", 1.25, true, 2.0, 1.5),
    ("low-dropout adjustable 3 A", 1.25, true, 1.3, 3.0),
    ("precision adjustable 150 mA", 7.15, false, 3.0, 0.15),
];

/// Catalogue entries with a fixed output: name, volts.
const FIXED: [(&str, f64); 3] = [
    ("fixed 5 V 1 A", 5.0),
    ("fixed 12 V 1 A", 12.0),
    ("fixed 15 V 1 A", 15.0),
];

impl Draft {
    /// A regulator, from the rail's node into a new one.
    pub(super) fn regulator(&mut self, rail: &mut Rail) {
        let name = self.name("U");
        let into = format!("out{}x{name}", rail.number);
        self.node(&into);
        let dropout = self.chance.within(0.2, 1.8).min(0.4 * rail.valley);
        let is_dropping =
            self.is_dropping && rail.peak > 1.05 * rail.valley && self.chance.happens(0.9);
        let set = if is_dropping {
            self.aims.insert(Aim::PartialDropout);
            rail.valley + self.chance.within(0.15, 0.55) * (rail.peak - rail.valley) - dropout
        } else {
            (rail.valley - dropout) * self.chance.within(0.4, 0.95)
        };
        let set = set.max(1.3);
        let own = (!is_dropping && self.chance.happens(0.25))
            .then(|| self.of_catalogue(rail, set))
            .flatten();
        let (keys, set) = match own {
            Some(found) => found,
            None => (self.of_its_own(rail, set, dropout), set),
        };
        let sink = if self.chance.happens(0.4) {
            self.has_sink = true;
            "junction_to_case = \"2 K/W\"\nsink = \"SK1\"\n"
        } else {
            ""
        };
        let (mut from, ret) = (rail.node.clone(), rail.ret.clone());
        if self.room() > 0 && self.chance.happens(0.03) {
            from = self.booster(rail, &into);
        }
        let (end, sense) = if self.room() > 0 && self.chance.happens(0.025) {
            self.sensed(rail, &into)
        } else {
            (into.clone(), String::new())
        };
        let _ = writeln!(
            self.tail,
            "[regulator.{name}]\nfrom = \"{from}\"\ninto = \"{into}\"\nreturn = \"{ret}\"\n{keys}{sink}{sense}"
        );
        if self.chance.happens(0.12) {
            // It empties the output's capacitors into the input's when the mains goes.
            let name = self.name("D");
            let curve = self.curve();
            let _ = writeln!(
                self.tail,
                "[diode.{name}]\nbetween = [\"{into}\", \"{from}\"]\n{curve}"
            );
        }
        if self.chance.happens(0.8) {
            let farads = self.chance.octaves(1e-6, 1e-3);
            self.capacitor(&into, &ret, farads);
        }
        if self.chance.happens(0.3) {
            let ripple = self.chance.octaves(1e-3, 0.1);
            let _ = writeln!(
                self.tail,
                "[[limit]]\nname = \"{into} ripple\"\nof = \"{into}\"\nwhat = \"ripple\"\n\
                 band = \"10 Hz .. 100 kHz\"\nmax = \"{:.3} mV\"",
                1e3 * ripple
            );
        }
        rail.node = end;
        rail.valley = set;
        rail.peak = set;
        rail.is_held = true;
    }

    /// One of the catalogue that could do: its keys, and what it sets.
    fn of_catalogue(&mut self, rail: &Rail, set: f64) -> Option<(String, f64)> {
        if self.chance.happens(0.4) {
            let (name, volts) = FIXED
                .into_iter()
                .rev()
                .find(|(_, volts)| *volts < rail.valley)?;
            return Some((format!("part = \"{name}\"\n"), volts));
        }
        let (name, reference, is_upper, needs, most) = self.chance.one_of(&ADJUSTABLE);
        let set = set.min(rail.valley - needs);
        if set < 1.05 * reference || rail.amps > 2.0 * most {
            return None;
        }
        let ratio = set / reference - 1.0;
        let (upper, lower) = if is_upper {
            (240.0, 240.0 * ratio)
        } else {
            (5000.0 * ratio, 5000.0)
        };
        // This one leaves its current limit to a resistor of the builder's.
        let limit = if is_upper { "" } else { "limit = \"150 mA\"\n" };
        let keys = format!(
            "part = \"{name}\"\nset = {{ upper = \"{upper:.1} Ω ±1 %\", lower = \"{lower:.1} Ω ±1 %\" }}\n{limit}"
        );
        Some((keys, set))
    }

    /// One with figures of its own: its keys.
    fn of_its_own(&mut self, rail: &Rail, set: f64, dropout: f64) -> String {
        let set = match self.chance.count(0, 3) {
            0 => format!("{{ fixed = \"{set:.3} V\" }}"),
            1 => {
                let lower = 240.0 * (set / 1.25 - 1.0).max(0.01);
                format!(
                    "{{ reference = \"1.25 V ±4 %\", across = \"upper\", upper = \"240 Ω\", lower = \"{lower:.2} Ω\", adjust = \"50 µA\" }}"
                )
            }
            2 => {
                let upper = 1000.0 * (set / 1.24 - 1.0).max(0.01);
                format!(
                    "{{ reference = \"1.24 V ±1 %\", across = \"lower\", upper = \"{upper:.2} Ω\", lower = \"1000 Ω\" }}"
                )
            }
            _ => format!("{{ trimmer = \"2.2 kΩ ±10 %\", to = \"{set:.3} V ±1 %\" }}"),
        };
        let limit = rail.amps * self.chance.within(1.3, 4.0);
        let rejection = self.chance.one_of(&[
            "\"60 dB at 100 Hz\"",
            "\"65 dB at 120 Hz\", \"35 dB at 100 kHz\"",
            "\"80 dB at 120 Hz\", \"60 dB at 10 kHz\"",
            "\"40 dB at 50 Hz\", \"70 dB at 1 kHz\", \"30 dB at 15 kHz\"",
        ]);
        let loop_time = self.chance.one_of(&[
            "",
            "loop_time = \"1 µs\"\n",
            "loop_time = \"20 µs\"\n",
            "loop_time = \"300 µs\"\n",
        ]);
        let fall = self.chance.one_of(&[
            "",
            "output_resistance = \"1 mΩ\"\n",
            "output_resistance = \"60 mΩ\"\n",
            "load_regulation = \"0.3 % at 1 A\"\n",
        ]);
        let milliamps = self.chance.octaves(0.05, 10.0);
        let points = if self.chance.happens(0.3) {
            format!("\"{dropout:.3} V at {:.4} A\"", rail.amps)
        } else {
            format!(
                "\"{:.3} V at {:.4} A\", \"{dropout:.3} V at {:.4} A\"",
                0.6 * dropout,
                0.1 * rail.amps,
                rail.amps
            )
        };
        format!(
            "set = {set}\ndropout = [{points}]\nrejection = [{rejection}]\n{fall}\
             quiescent = \"{milliamps:.2} mA\"\nlimit = \"{limit:.4} A\"\n{loop_time}"
        )
    }
}
