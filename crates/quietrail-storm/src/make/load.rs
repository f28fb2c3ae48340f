//! What rails feed.

use super::{Aim, Draft, Overload};
use std::fmt::Write;

impl Draft {
    /// A load that draws about so much in the last state, and other amounts in the others.
    pub(super) fn load(&mut self, plus: &str, minus: &str, volts: f64, amps: f64) {
        let name = self.name("X");
        let amps = if self.overload == Some(Overload::Loads) && self.chance.happens(0.6) {
            self.aims.insert(Aim::OverloadOrDeadRail);
            amps * self.chance.octaves(3.0, 40.0)
        } else {
            amps
        };
        let kind = self.chance.count(0, 2);
        let last = self.states.len() - 1;
        let draws: Vec<String> = self
            .states
            .iter()
            .enumerate()
            .map(|(index, state)| {
                let factor = match *state {
                    _ if index == last => 1.0,
                    "idle" if self.chance.happens(0.5) => 0.0,
                    _ => self.chance.within(0.3, 1.3),
                };
                let kind = if index != last && self.chance.happens(0.1) {
                    self.chance.count(0, 2)
                } else {
                    kind
                };
                let draw = match kind {
                    0 => format!("{:.6} A", factor * amps),
                    1 => format!("{:.4} Ω", volts / (factor * amps).max(1e-6)),
                    _ => format!("{:.6} W", factor * amps * volts),
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
}
