//! Small capacitors where the job draws none and the equations need one.
//!
//! A constant current at the output of a regulator, or behind a choke, with no capacitor near could only be
//! met by a jump of the voltage, which no circuit makes. Every real output and every real load has some. A filter's
//! resistor keeps its capacitor away from the output: across it alone the loop would answer within nanoseconds.

use super::leak::Floating;
use super::{Draft, one};
use quietrail_engine::Element;
use quietrail_job::model::{Between, Job, LoadDraw, PartKind};
use std::collections::BTreeSet;

/// A capacitor that stands in.
#[derive(Clone, Debug, PartialEq)]
pub struct StandIn {
    /// What it is called among the parts: `U1 output capacitor`.
    pub name: String,
    /// Its two ends.
    pub between: (String, String),
    /// Capacitance, F.
    pub farads: f64,
    /// Series resistance, Ω.
    pub ohms: f64,
}

/// At a regulator's output: about the least that data sheets ask for (common practice, no source).
const AT_OUTPUT: (f64, f64) = (1e-6, 0.5);
/// At a regulator's input: what data sheets ask for where the reservoir is not at hand (common practice, no
/// source).
const AT_INPUT: (f64, f64) = (3.3e-7, 0.5);
/// Resistance up to which a capacitor counts as at a regulator's output, Ω: what leads have.
const LEADS: f64 = 1.0;
/// Across a load: the least that any input has (common practice, no source).
const ACROSS_LOAD: (f64, f64) = (1e-7, 1.0);

/// The capacitors that stand in for a job: the same in each state, so that an element is the same one in all of them.
pub fn stand_ins(job: &Job) -> Vec<StandIn> {
    let mut found = Found {
        job,
        held: with_capacitor(job),
        all: Vec::new(),
    };
    for part in &job.parts {
        if let PartKind::Regulator(regulator) = &part.kind {
            let (from, into, ret) = (&regulator.from, &regulator.into, &regulator.ret);
            let (input, output) = (
                format!("{} input capacitor", part.name),
                format!("{} output capacitor", part.name),
            );
            found.between(input, (from, ret), AT_INPUT, f64::INFINITY);
            found.between(output, (into, ret), AT_OUTPUT, LEADS);
        }
    }
    for part in &job.parts {
        let PartKind::Load(load) = &part.kind else {
            continue;
        };
        let is_soft = |draw: &LoadDraw| matches!(draw, LoadDraw::Resistance(_));
        let is_stiff = !load.draws.iter().all(is_soft);
        let ends = &load.between;
        if is_stiff && !found.is_across(ends) {
            let name = format!("{} input capacitor", part.name);
            found.put(name, (&ends.plus, &ends.minus), ACROSS_LOAD);
        }
    }
    found.all
}

/// Stand-ins as they are found.
struct Found<'a> {
    job: &'a Job,
    /// Nodes at which a capacitor ends.
    held: BTreeSet<String>,
    all: Vec<StandIn>,
}

impl Found<'_> {
    /// Puts one from a node to its return, unless a capacitor is near the node: through so many ohms at most.
    fn between(
        &mut self,
        name: String,
        (node, ret): (&str, &str),
        (farads, ohms): (f64, f64),
        within: f64,
    ) {
        if !is_near(self.job, node, &self.held, within) {
            self.put(name, (node, ret), (farads, ohms));
        }
    }

    fn put(&mut self, name: String, (node, ret): (&str, &str), (farads, ohms): (f64, f64)) {
        self.held.insert(node.to_owned());
        let between = (node.to_owned(), ret.to_owned());
        self.all.push(StandIn {
            name,
            between,
            farads,
            ohms,
        });
    }

    /// Whether capacitors and resistive parts lead from one end to the other. That one ends at a return says nothing of a
    /// load that a choke parts from it.
    fn is_across(&self, ends: &Between) -> bool {
        let parts = self.job.parts.iter().filter_map(|part| match &part.kind {
            PartKind::Capacitor(part) => Some(&part.between),
            other => resistive(other, f64::INFINITY),
        });
        let of_parts = parts.map(|between| (between.plus.as_str(), between.minus.as_str()));
        let of_stand_ins = self
            .all
            .iter()
            .map(|one| (one.between.0.as_str(), one.between.1.as_str()));
        let pairs: Vec<(&str, &str)> = of_parts.chain(of_stand_ins).collect();
        let mut reached: BTreeSet<&str> = BTreeSet::from([ends.plus.as_str()]);
        loop {
            let before = reached.len();
            for (one, other) in &pairs {
                if reached.contains(one) || reached.contains(other) {
                    reached.extend([*one, *other]);
                }
            }
            if reached.contains(ends.minus.as_str()) {
                return true;
            }
            if reached.len() == before {
                return false;
            }
        }
    }
}

pub(super) fn add(draft: &mut Draft, job: &Job, floating: &Floating<'_>) {
    for stand_in in stand_ins(job) {
        let (plus, minus) = (&stand_in.between.0, &stand_in.between.1);
        let (a, b) = (draft.node(plus), draft.node(minus));
        let (farads, esr) = (stand_in.farads, stand_in.ohms);
        let element = draft.circuit.add(Element::Capacitor {
            a,
            b,
            farads,
            esr,
            leakage: floating.leakage((plus, minus), farads),
        });
        draft.parts.insert(stand_in.name, one(element));
    }
}

/// Nodes at which a capacitor of the job ends, common left out: everything is near it.
fn with_capacitor(job: &Job) -> BTreeSet<String> {
    let ends = job.parts.iter().filter_map(|part| match &part.kind {
        PartKind::Capacitor(capacitor) => Some(&capacitor.between),
        _ => None,
    });
    ends.flat_map(|between| [between.plus.clone(), between.minus.clone()])
        .filter(|node| node != "common")
        .collect()
}

/// Whether resistive parts alone, of so many ohms each at most, lead from a node to one of those held.
fn is_near(job: &Job, node: &str, held: &BTreeSet<String>, within: f64) -> bool {
    let mut reached: BTreeSet<&str> = BTreeSet::from([node]);
    loop {
        if reached.iter().any(|node| held.contains(*node)) {
            return true;
        }
        let before = reached.len();
        let parts = job.parts.iter();
        for between in parts.filter_map(|part| resistive(&part.kind, within)) {
            let (plus, minus) = (between.plus.as_str(), between.minus.as_str());
            if minus != "common" && reached.contains(plus) {
                reached.insert(minus);
            }
            if plus != "common" && reached.contains(minus) {
                reached.insert(plus);
            }
        }
        if reached.len() == before {
            return false;
        }
    }
}

fn resistive(kind: &PartKind, within: f64) -> Option<&Between> {
    match kind {
        PartKind::Resistor(part) if part.value.nominal() <= within => Some(&part.between),
        PartKind::Wire(part) if part.resistance.nominal() <= within => Some(&part.between),
        PartKind::Fuse(part) if part.resistance.nominal() <= within => Some(&part.between),
        PartKind::Switch(part) if part.closed => Some(&part.between),
        _ => None,
    }
}

#[cfg(test)]
mod tests {
    use crate::heat::Temperatures;
    use crate::lower::{Step, lower};

    /// A choke straight into a load that draws a resistance first and a current then.
    const JOB: &str = r#"
format = 1
[mains]
voltage = "230 V"
frequency = "50 Hz"
[states]
cold = ""
warm = ""
[transformer.T1]
primary = [{ name = "P", volts = "230 V", resistance = "10 Ω" }]
secondary = [{ name = "S", open = "12 V at 230 V", resistance = "0.2 Ω" }]
[rectifier.D1]
from = "T1.S"
into = "raw"
form = "bridge"
ideal = { drop = "0.7 V", slope = "30 mΩ" }
[inductor.L1]
between = ["raw", "out"]
value = "100 mH"
resistance = "1 Ω"
[load.X]
at = "out"
draws = { cold = "22 Ω", warm = "400 mA" }
"#;

    #[test]
    fn elements_are_the_same_in_every_state() {
        let reading = quietrail_job::read(JOB, None);
        let job = reading
            .job
            .unwrap_or_else(|| panic!("{:?}", reading.diagnostics));
        let names = |state| {
            let warmth = Temperatures::at_rest(&job);
            let lowered = lower(&job, state, &Step::default(), &[], &warmth).expect("it lowers");
            let parts: Vec<String> = lowered.parts.keys().cloned().collect();
            (lowered.circuit.elements().len(), parts)
        };
        assert!(names(0).1.contains(&"X input capacitor".to_owned()));
        assert_eq!(names(0), names(1));
    }

    /// A capacitor that ends at the load's return, before the choke, holds nothing behind it; one across the load does.
    #[test]
    fn a_capacitor_at_the_return_is_none_across_the_load() {
        let stand_ins = |more: &str| {
            let text = JOB.replace("at = \"out\"", "between = [\"out\", \"back\"]");
            let text = format!(
                "{text}\n[wire.W]\nbetween = [\"back\", \"common\"]\nresistance = \"10 mΩ\"\n{more}"
            );
            let job = quietrail_job::read(&text, None)
                .job
                .expect("it can be read");
            super::stand_ins(&job).len()
        };
        let between = |ends: &str| {
            format!("[capacitor.C]\nbetween = [{ends}]\nvalue = \"1000 µF\"\nesr = \"0.1 Ω\"\n")
        };
        assert_eq!(stand_ins(&between("\"raw\", \"back\"")), 1);
        assert_eq!(stand_ins(&between("\"raw\", \"common\"")), 1);
        assert_eq!(stand_ins(&between("\"out\", \"common\"")), 0);
    }
}
