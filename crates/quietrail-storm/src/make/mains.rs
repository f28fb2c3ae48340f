//! The outlet and what stands between it and the transformer.

use super::{Aim, Draft, Overload};
use std::fmt::Write;

impl Draft {
    /// Outlet, air and states; then the mains side.
    pub(super) fn mains(&mut self) {
        let chance = &mut self.chance;
        let is_high = chance.happens(0.6);
        (self.mains_volts, self.hertz) = if is_high {
            (230.0, 50.0)
        } else {
            (115.0, 60.0)
        };
        let (volts, hertz) = (self.mains_volts, self.hertz);
        let flatness = chance.one_of(&["0", "0.03", "0.05", "0.111"]);
        let room = chance.within(0.0, 40.0);
        let air = chance.one_of(&[
            "",
            "rise = \"8 K\"",
            "to_room = \"0.3 K/W\"",
            "to_room = \"1 K/W\"",
        ]);
        let _ = writeln!(
            self.head,
            "[job]\nregion = \"{volts} V {hertz} Hz\"\n[mains]\nvoltage = \"{volts} V ±10 %\"\n\
             frequency = \"{hertz} Hz\"\nflatness = \"{flatness}\"\n[box]\nroom = \"{room:.0} °C\"\n{air}\n[states]"
        );
        for state in self.states {
            let _ = writeln!(self.head, "{state} = \"{state}\"");
        }
        self.stages();
        self.core();
    }

    /// Fuse, switch, lamp and variable transformer, in this order, each or none.
    fn stages(&mut self) {
        let mut stages: Vec<&str> = Vec::new();
        let is_open = self.overload == Some(Overload::Open) && self.chance.happens(0.3);
        if self.chance.happens(0.35) {
            stages.push(if self.chance.happens(0.5) {
                "[fuse.F1]\nrated = \"500 mA time-lag\"\nresistance = \"0.4 Ω\""
            } else {
                "[fuse.F1]\npart = \"500 mA time-lag\""
            });
        }
        if is_open {
            self.aims.insert(Aim::OverloadOrDeadRail);
            self.overload = None;
            stages.push("[switch.SW1]\nclosed = false");
        } else if self.chance.happens(0.2) {
            stages.push(self.chance.one_of(&[
                "[switch.SW1]",
                "[switch.SW1]\nresistance = \"0 Ω\"",
                "[switch.SW1]\nresistance = \"10 mΩ\"",
            ]));
        }
        let is_low = self.overload == Some(Overload::LowMains);
        if !self.is_dropping && self.chance.happens(0.12) {
            stages.push(if self.mains_volts > 200.0 {
                self.chance.one_of(&[
                    "[lamp.LA1]\nrated = \"60 W 230 V\"",
                    "[lamp.LA1]\nrated = \"15 W 230 V\"",
                ])
            } else {
                "[lamp.LA1]\nrated = \"60 W 115 V\""
            });
        }
        let varies = is_low || self.chance.happens(0.05);
        let mut at = String::from("inlet.live");
        let count = stages.len();
        for (index, stage) in stages.into_iter().enumerate() {
            let to = if index + 1 == count && !varies {
                String::from("T1.primary.in")
            } else {
                format!("live{index}")
            };
            self.node(&to);
            let _ = writeln!(self.head, "{stage}\nbetween = [\"{at}\", \"{to}\"]");
            at = to;
        }
        if varies {
            let percent = if is_low {
                self.aims.insert(Aim::OverloadOrDeadRail);
                self.chance.one_of(&[0.0, 2.0, 5.0, 10.0, 20.0, 35.0])
            } else {
                self.chance.within(85.0, 115.0)
            };
            self.node("T1.primary.in");
            let _ = writeln!(
                self.head,
                "[variable_transformer.VT1]\nfrom = \"{at}\"\ninto = \"T1.primary.in\"\nsetting = \"{percent:.0} %\""
            );
        }
    }
}
