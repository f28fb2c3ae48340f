//! Stages of a rail: nodes behind resistors, chokes and diodes, at which something hangs.
//!
//! A filter between reservoir and regulator takes volts and ripple off, and what hangs behind it begins at its node, not at the
//! reservoir's. Each node at which something hangs is therefore a rail of its own, and feeds what stands on it.

use super::find::{bleeders, capacitors, loads, passes};
use super::{LoadEnd, Rail};
use quietrail_job::model::{Job, Part, PartKind};

/// Where rails begin: a rectified node, or what a regulator gives, with the nodes that direct current reaches from there.
#[derive(Clone, Debug)]
pub(super) struct Source {
    /// The rail that its first node is of; none of a rectified node.
    pub(super) fed_by: Option<usize>,
    /// Its nodes, each behind those from which it is reached.
    pub(super) nodes: Vec<String>,
    /// What they are measured against.
    pub(super) ret: String,
    /// Whether they lie under that.
    pub(super) is_negative: bool,
}

impl Source {
    /// The rail that a node stands on: a stage of its own where more than copper and fuses leads to it. It is added where it is
    /// not among the rails yet, and so are those before it.
    pub(super) fn stage(&self, job: &Job, rails: &mut Vec<Rail>, node: &str) -> Option<usize> {
        let Some((through, before)) = self.way(job, node) else {
            return self.fed_by;
        };
        let is_stage = through.iter().any(|part| !is_copper(job, part));
        if is_stage {
            Some(self.added(job, rails, node, (through, &before)))
        } else {
            self.stage_before(job, rails, &before)
        }
    }

    /// What hangs on a rectified node without a regulator or a transistor between. Each node with loads stands by itself: behind a
    /// resistor and a shunt they are at another level than those straight on it.
    pub(super) fn direct(&self, job: &Job, rails: &mut Vec<Rail>) {
        let all = loads(job, (&self.nodes, &self.ret), self.is_negative);
        for node in &self.nodes {
            let own: Vec<LoadEnd> = all
                .iter()
                .filter(|load| self.lies_on(load, node))
                .cloned()
                .collect();
            if own.is_empty() {
                continue;
            }
            let index = match self.way(job, node) {
                Some((through, before)) => self.added(job, rails, node, (through, &before)),
                None => {
                    rails.push(self.rail(job, node, (Vec::new(), None)));
                    rails.len() - 1
                }
            };
            rails[index].loads = own;
        }
    }

    fn lies_on(&self, load: &LoadEnd, node: &str) -> bool {
        let (upper, lower) = &load.ends;
        node == if self.is_negative { lower } else { upper }
    }

    fn stage_before(&self, job: &Job, rails: &mut Vec<Rail>, node: &str) -> Option<usize> {
        if node == self.nodes[0] {
            self.fed_by
        } else {
            self.stage(job, rails, node)
        }
    }

    /// The index of a node's rail, which is added with those before it where it is not there yet.
    fn added(
        &self,
        job: &Job,
        rails: &mut Vec<Rail>,
        node: &str,
        (through, before): (Vec<String>, &str),
    ) -> usize {
        let is_own =
            |rail: &Rail| rail.regulator.is_none() && rail.node == node && !rail.through.is_empty();
        if let Some(known) = rails.iter().position(is_own) {
            return known;
        }
        let fed_by = self.stage_before(job, rails, before);
        let mut rail = self.rail(job, node, (through, fed_by));
        before.clone_into(&mut rail.from);
        rails.push(rail);
        rails.len() - 1
    }

    fn rail(&self, job: &Job, node: &str, (through, fed_by): (Vec<String>, Option<usize>)) -> Rail {
        let (upper, lower) = if self.is_negative {
            (self.ret.as_str(), node)
        } else {
            (node, self.ret.as_str())
        };
        // Those of the first node are drawn with it.
        let is_first = through.is_empty();
        let own = |found: fn(&Job, &str, &str) -> Vec<String>| {
            if is_first {
                Vec::new()
            } else {
                found(job, upper, lower)
            }
        };
        let mut across = shunts(job, upper, lower);
        across.extend(own(bleeders));
        Rail {
            regulator: None,
            follows: false,
            fed_by,
            is_negative: self.is_negative,
            from: self.nodes[0].clone(),
            node: node.to_owned(),
            ret: self.ret.clone(),
            capacitors: own(capacitors),
            bleeders: across,
            loads: Vec::new(),
            through,
        }
    }

    /// The parts that lead to a node from the last one before it at which a current may part, in the order of the current, and
    /// that one; none to the first.
    fn way(&self, job: &Job, node: &str) -> Option<(Vec<String>, String)> {
        let mut parts = Vec::new();
        let mut here = node.to_owned();
        while let Some((part, before)) = self.lead(job, &here) {
            parts.insert(0, part);
            here = before;
            if self.is_parting(job, &here) {
                break;
            }
        }
        (!parts.is_empty()).then_some((parts, here))
    }

    /// The first part that leads to a node from one of those before it.
    fn lead(&self, job: &Job, node: &str) -> Option<(String, String)> {
        let before = self.nodes.iter().take_while(|known| *known != node);
        let before: Vec<&str> = before.map(String::as_str).collect();
        let from = |part: &Part| {
            let (a, b) = passes(part)?;
            let other = if a == node { b } else { a };
            let leads = (a == node || b == node) && before.contains(&other);
            leads.then(|| (part.name.clone(), other.to_owned()))
        };
        job.parts.iter().find_map(|part| from(part))
    }

    /// Whether a node has something across it: a capacitor, a shunt or a load.
    fn is_parting(&self, job: &Job, node: &str) -> bool {
        let (upper, lower) = if self.is_negative {
            (self.ret.as_str(), node)
        } else {
            (node, self.ret.as_str())
        };
        let node = [node.to_owned()];
        !capacitors(job, upper, lower).is_empty()
            || !shunts(job, upper, lower).is_empty()
            || !loads(job, (&node, &self.ret), self.is_negative).is_empty()
    }
}

/// Whether a part takes next to nothing: a wire, a fuse, a switch.
fn is_copper(job: &Job, part: &str) -> bool {
    job.part(part).is_some_and(|part| {
        matches!(
            part.kind,
            PartKind::Wire(_) | PartKind::Fuse(_) | PartKind::Switch(_)
        )
    })
}

/// Shunt regulators across a node.
fn shunts(job: &Job, plus: &str, minus: &str) -> Vec<String> {
    let across = job.parts.iter().filter(|part| match &part.kind {
        PartKind::Shunt(shunt) => shunt.between.plus == plus && shunt.between.minus == minus,
        _ => false,
    });
    across.map(|part| part.name.clone()).collect()
}

#[cfg(test)]
mod tests {
    use crate::descent::{Rail, sections};

    const HEAD: &str = r#"
format = 1
[mains]
voltage = "230 V"
frequency = "50 Hz"
[states]
on = "working"
[transformer.T1]
primary = [{ name = "P", volts = "230 V", resistance = "30 Ω" }]
secondary = [{ name = "S", open = "20 V at 230 V", resistance = "0.5 Ω" }]
"#;

    /// A filter's parts, from one node to the next with a capacitor behind each.
    fn filter(upper: bool, kinds: &[(&str, &str)]) -> String {
        let mut text = String::new();
        for (place, (part, value)) in kinds.iter().enumerate() {
            let (from, to) = (format!("n{place}"), format!("n{}", place + 1));
            let kind = if part.starts_with('L') {
                "inductor"
            } else {
                "resistor"
            };
            text += &format!("[{kind}.{part}]\nbetween = [\"{from}\", \"{to}\"]\n{value}\n");
        }
        for place in 0..=kinds.len() {
            let between = if upper {
                format!("[\"n{place}\", \"common\"]")
            } else {
                format!("[\"common\", \"n{place}\"]")
            };
            text += &format!("[capacitor.C{place}]\nbetween = {between}\nvalue = \"1000 µF\"\n");
        }
        text
    }

    fn rails(rest: &str) -> Vec<Rail> {
        let reading = quietrail_job::read(&format!("{HEAD}{rest}"), None);
        let job = reading
            .job
            .unwrap_or_else(|| panic!("{:#?}", reading.diagnostics));
        sections(&job).remove(0).rails
    }

    fn told(rails: &[Rail]) -> Vec<(&str, String, Option<usize>, Vec<&str>)> {
        let one = |rail: &Rail| {
            rail.regulator
                .clone()
                .unwrap_or_else(|| rail.through.join(" "))
        };
        let rails = rails.iter().map(|rail| {
            let across = rail.capacitors.iter().map(String::as_str).collect();
            (rail.node.as_str(), one(rail), rail.fed_by, across)
        });
        rails.collect()
    }

    const REGULATOR: &str = "[regulator.U1]\nfrom = \"n2\"\ninto = \"out\"\npart = \"adjustable 1.5 A\"\n\
        set = { upper = \"240 Ω\", lower = \"2k05\" }\n[load.X1]\nat = \"out\"\ndraws = { on = \"100 mA\" }\n";

    /// Two chokes in a row, and a regulator behind them: each stage is there, and the regulator hangs on the last.
    #[test]
    fn a_filter_of_two_chokes_is_two_stages() {
        let bridge = "[rectifier.D1]\nfrom = \"T1.S\"\ninto = \"n0\"\nform = \"bridge\"\ndiode = \"silicon 3 A\"\n";
        let chokes = filter(
            true,
            &[
                ("L1", "value = \"10 mH\"\nresistance = \"1 Ω\""),
                ("L2", "value = \"10 mH\"\nresistance = \"1 Ω\""),
            ],
        );
        let rails = rails(&format!("{bridge}{chokes}{REGULATOR}"));
        assert_eq!(
            told(&rails),
            [
                ("n1", "L1".to_owned(), None, vec!["C1"]),
                ("n2", "L2".to_owned(), Some(0), vec!["C2"]),
                ("out", "U1".to_owned(), Some(1), vec![]),
            ]
        );
        assert_eq!(
            (rails[1].from.as_str(), rails[2].from.as_str()),
            ("n1", "n2")
        );
    }

    /// Under common likewise; two parts without anything between them lead to one stage together, and a fuse alone to none.
    #[test]
    fn what_leads_to_a_stage_is_told_whole() {
        let bridge = "[rectifier.D1]\nfrom = \"T1.S\"\ninto = \"common\"\nreturn = \"n0\"\nform = \"bridge\"\n\
            diode = \"silicon 3 A\"\n[fuse.F1]\nbetween = [\"n0\", \"fused\"]\npart = \"1 A time-lag\"\n";
        let filter = filter(
            false,
            &[("R1", "value = \"4R7\""), ("R2", "value = \"10R\"")],
        )
        .replace("[\"n0\", \"n1\"]", "[\"fused\", \"n1\"]")
        .replace(
            "[capacitor.C1]\nbetween = [\"common\", \"n1\"]\nvalue = \"1000 µF\"\n",
            "",
        );
        let regulator = REGULATOR
            .replace("part = \"adjustable", "part = \"negative adjustable")
            .replace(
                "set = {",
                "set = { reference = \"-1.25 V\", across = \"upper\",",
            )
            .replace("at = \"out\"", "between = [\"common\", \"out\"]");
        let behind = rails(&format!("{bridge}{filter}{regulator}"));
        assert_eq!(
            told(&behind),
            [
                ("n2", "F1 R1 R2".to_owned(), None, vec!["C2"]),
                ("out", "U1".to_owned(), Some(0), vec![]),
            ]
        );
        assert!(behind.iter().all(|rail| rail.is_negative));
        let fused = regulator.replace("from = \"n2\"", "from = \"fused\"");
        let straight = rails(&format!("{bridge}{filter}{fused}"));
        assert_eq!(told(&straight)[0], ("out", "U1".to_owned(), None, vec![]));
    }

    /// A load on a stage stands there, beside the regulator that it feeds; one on the next stage is fed by it.
    #[test]
    fn loads_of_a_stage_stand_on_it() {
        let half = "[rectifier.D1]\nfrom = \"T1.S\"\ninto = \"n0\"\nform = \"half-wave\"\ndiode = \"silicon 1 A\"\n";
        let filter = filter(true, &[("R1", "value = \"47R\""), ("R2", "value = \"1k\"")]);
        let loads = "[load.valves]\nat = \"n1\"\ndraws = { on = \"8 mA\" }\n\
            [load.first]\nat = \"n2\"\ndraws = { on = \"2 mA\" }\n";
        let rails = rails(&format!("{half}{filter}{loads}"));
        let loads: Vec<_> = rails
            .iter()
            .map(|rail| (rail.node.as_str(), rail.loads[0].part.as_str(), rail.fed_by))
            .collect();
        assert_eq!(loads, [("n1", "valves", None), ("n2", "first", Some(0))]);
    }
}
