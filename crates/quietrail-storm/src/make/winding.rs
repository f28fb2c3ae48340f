//! Transformers and their windings.

use super::Draft;
use std::fmt::Write;

/// A transformer under way.
#[derive(Clone, Debug)]
pub(super) struct Core {
    name: String,
    /// Keys besides secondaries, joins and existing loads.
    keys: String,
    /// Resistance of the primary, Ω.
    pub(super) ohms: f64,
    secondaries: Vec<String>,
    joins: Vec<String>,
    existing: Vec<String>,
    nodes: usize,
}

/// A winding with a rectifier on it.
#[derive(Clone, Debug)]
pub(super) struct Fed {
    /// `T1.S2`
    pub(super) from: String,
    pub(super) form: &'static str,
    pub(super) ret: String,
    /// Off-load volts, rms; of a centre-tapped winding those of a half.
    pub(super) volts: f64,
    /// Resistance seen by the rectifier, that of the primary included, Ω.
    pub(super) ohms: f64,
    /// What it is meant to feed, A.
    pub(super) amps: f64,
}

impl Core {
    /// Nodes that its windings add.
    pub(super) fn nodes(&self) -> usize {
        self.nodes
    }

    pub(super) fn text(&self) -> String {
        let mut text = format!(
            "[transformer.{}]\n{}secondary = [{}]\n",
            self.name,
            self.keys,
            self.secondaries.join(", ")
        );
        if !self.joins.is_empty() {
            let _ = writeln!(text, "joins = {{ {} }}", self.joins.join(", "));
        }
        if !self.existing.is_empty() {
            let _ = writeln!(text, "existing = [{}]", self.existing.join(", "));
        }
        text
    }
}

impl Draft {
    /// One more transformer.
    pub(super) fn core(&mut self) {
        let name = format!("T{}", self.cores.len() + 1);
        let volts = self.mains_volts;
        // Rough sums miss valleys behind much resistance.
        let most = if self.is_dropping { 16.0 } else { 100.0 };
        let ohms = self.chance.octaves(2.0, most) * volts / 230.0;
        let mut keys = String::new();
        let mut nodes = 0;
        let (seen, primary) = if self.chance.happens(0.3) {
            let other = ohms * self.chance.within(1.0, 1.08);
            nodes += usize::from(volts > 200.0);
            let seen = if volts > 200.0 {
                ohms + other
            } else {
                0.5 * ohms
            };
            let text = format!(
                "primary = [{{ name = \"P1\", volts = \"115 V\", resistance = \"{ohms:.3} Ω\" }}, \
                 {{ name = \"P2\", volts = \"115 V\", resistance = \"{other:.3} Ω\" }}]\n\
                 selector = {{ \"230 V\" = \"P1 + P2\", \"115 V\" = \"P1 | P2\" }}"
            );
            (seen, text)
        } else {
            let text = format!(
                "primary = [{{ name = \"P1\", volts = \"{volts} V\", resistance = \"{ohms:.3} Ω\" }}]"
            );
            (ohms, text)
        };
        let heat = self
            .chance
            .one_of(&["rise = \"30 K\"", "to_air = \"2.5 K/W\"", ""]);
        let _ = writeln!(keys, "{primary}\n{heat}");
        if self.chance.happens(0.8) {
            let milliamps = self.chance.within(4.0, 60.0) * 230.0 / volts;
            let _ = writeln!(keys, "no_load = \"{milliamps:.0} mA at {volts} V\"");
        }
        self.cores.push(Core {
            name,
            keys,
            ohms: seen,
            secondaries: Vec::new(),
            joins: Vec::new(),
            existing: Vec::new(),
            nodes,
        });
    }

    /// A winding for a rail with so many off-load volts (of a half, where it has a centre), meant for so many
    /// amperes. Its name, and the resistance seen by the rectifier.
    pub(super) fn winding(
        &mut self,
        rail: u64,
        form: &str,
        volts: f64,
        amps: f64,
    ) -> (String, f64) {
        if rail > 1 && self.cores.len() < 2 && self.chance.happens(0.06) {
            self.core();
        }
        let at = self.mains_volts;
        let chance = &mut self.chance;
        let most = if self.is_dropping { 0.04 } else { 0.12 };
        let ohms = chance.within(0.01, most) * volts / amps.max(0.05);
        let whole = format!("S{rail}");
        let has_centre = matches!(form, "centre-tap" | "split");
        let leakage = if chance.happens(0.15) {
            let microhenries = chance.octaves(2.0, 500.0);
            format!(", leakage = \"{microhenries:.1} µH\"")
        } else {
            String::new()
        };
        let one = |name: &str, volts: f64, ohms: f64, taps: &str| {
            format!(
                "{{ name = \"{name}\", open = \"{volts:.2} V at {at} V\", resistance = \"{ohms:.4} Ω\"{leakage}{taps} }}"
            )
        };
        let (first, second) = (format!("{whole}a"), format!("{whole}b"));
        let core = self.cores.last_mut().expect("a core is there before rails");
        if has_centre && chance.happens(0.5) {
            let taps = ", taps = { mid = \"50 %\" }";
            core.secondaries
                .push(one(&whole, 2.0 * volts, 2.0 * ohms, taps));
            core.nodes += 3;
        } else if has_centre || chance.happens(0.1) {
            let part = if has_centre { 1.0 } else { 0.5 };
            core.secondaries
                .push(one(&first, part * volts, part * ohms, ""));
            core.secondaries
                .push(one(&second, part * volts, 1.03 * part * ohms, ""));
            core.joins.push(format!("{whole} = \"{first} + {second}\""));
            core.nodes += 3;
        } else if chance.happens(0.08) {
            core.secondaries.push(one(&first, volts, 2.0 * ohms, ""));
            core.secondaries
                .push(one(&second, 1.004 * volts, 2.1 * ohms, ""));
            core.joins.push(format!("{whole} = \"{first} | {second}\""));
            core.nodes += 2;
        } else if chance.happens(0.08) {
            core.secondaries.push(format!(
                "{{ name = \"{whole}\", plate = \"{volts:.2} V {amps:.3} A\", regulation = \"12 %\" }}"
            ));
            core.nodes += 2;
        } else {
            core.secondaries.push(one(&whole, volts, ohms, ""));
            core.nodes += 2;
        }
        if chance.happens(0.1) {
            let milliamps = chance.octaves(1.0, 1000.0);
            core.existing.push(format!(
                "{{ of = \"{whole}\", draws = \"{milliamps:.0} mA\" }}"
            ));
        }
        let referred = core.ohms * (volts / at) * (volts / at);
        (format!("{}.{whole}", core.name), ohms + referred)
    }
}
