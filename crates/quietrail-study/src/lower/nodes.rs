//! Names to nodes. Joins tie points of windings together, so several names may be one node.

use quietrail_engine::{Circuit, GROUND, Node};
use quietrail_job::model::{Job, JoinTerm, PartKind, Transformer};
use std::collections::BTreeMap;

/// Every name that stands for a node.
#[derive(Debug, Default)]
pub(super) struct Nodes {
    of_name: BTreeMap<String, Node>,
    /// Names that stand for another name.
    alias: BTreeMap<String, String>,
    /// Names in the order in which their nodes came to be.
    first_names: Vec<(Node, String)>,
}

impl Nodes {
    /// Names of a job; the primary of a transformer that `metered` names begins behind its ammeter.
    pub(super) fn of(job: &Job, metered: &dyn Fn(&str) -> bool, circuit: &mut Circuit) -> Self {
        let mut nodes = Self::default();
        nodes.of_name.insert("common".to_owned(), GROUND);
        nodes.first_names.push((GROUND, "common".to_owned()));
        // The mains side's island takes its neutral for reference: its first node.
        nodes.of_name("inlet.neutral", circuit);
        nodes.of_name("inlet.live", circuit);
        let named = names_in_parts(job);
        for part in &job.parts {
            if let PartKind::Transformer(transformer) = &part.kind {
                nodes.join_points(&part.name, transformer, &named, metered(&part.name));
            }
        }
        nodes
    }

    pub(super) fn get(&self, name: &str) -> Option<Node> {
        self.of_name.get(self.resolved(name)).copied()
    }

    pub(super) fn of_name(&mut self, name: &str, circuit: &mut Circuit) -> Node {
        let resolved = self.resolved(name).to_owned();
        if let Some(node) = self.of_name.get(&resolved) {
            return *node;
        }
        let node = circuit.node();
        self.first_names.push((node, name.to_owned()));
        self.of_name.insert(resolved, node);
        node
    }

    pub(super) fn name(&self, node: Node) -> Option<&str> {
        self.first_names
            .iter()
            .find(|(known, _)| *known == node)
            .map(|(_, name)| name.as_str())
    }

    pub(super) fn all(&self) -> impl Iterator<Item = (&str, Node)> {
        self.first_names
            .iter()
            .map(|(node, name)| (name.as_str(), *node))
    }

    fn resolved<'a>(&'a self, name: &'a str) -> &'a str {
        let mut name = name;
        while let Some(other) = self.alias.get(name) {
            name = other;
        }
        name
    }

    /// Makes one node of two names. The second name is the one that stays.
    fn tie(&mut self, name: &str, to: &str) {
        let (name, to) = (self.resolved(name).to_owned(), self.resolved(to).to_owned());
        if name != to {
            self.alias.insert(name, to);
        }
    }

    fn join_points(
        &mut self,
        name: &str,
        transformer: &Transformer,
        named: &[String],
        is_metered: bool,
    ) {
        for join in &transformer.joins {
            let (start, finish) = self.term(name, &join.term);
            self.tie(&format!("{name}.{}.start", join.name), &start);
            self.tie(&format!("{name}.{}.finish", join.name), &finish);
            if let JoinTerm::Series(terms) = &join.term
                && let [first, _] = terms.as_slice()
            {
                let (_, centre) = self.term(name, first);
                self.tie(&format!("{name}.{}.centre", join.name), &centre);
            }
        }
        let selector = &transformer.selector;
        let Some((_, primary)) = selector.positions.iter().find(|(at, _)| *at == selector.at)
        else {
            return;
        };
        let (start, finish) = self.term(name, &primary.term);
        for (point, inner, outlet) in [
            ("in", start, "inlet.live"),
            ("out", finish, "inlet.neutral"),
        ] {
            let end = format!("{name}.primary.{point}");
            if is_metered && point == "in" {
                self.tie(&inner, &super::meter::point(name));
            } else {
                self.tie(&inner, &end);
            }
            // An end that no part names goes straight to the inlet.
            if !named.contains(&end) {
                self.tie(&end, outlet);
            }
        }
    }

    /// Ties the inside of a term together; its start and finish.
    fn term(&mut self, transformer: &str, term: &JoinTerm) -> (String, String) {
        match term {
            JoinTerm::Winding { name, reversed } => {
                let (start, finish) = (
                    format!("{transformer}.{name}.start"),
                    format!("{transformer}.{name}.finish"),
                );
                if *reversed {
                    (finish, start)
                } else {
                    (start, finish)
                }
            }
            JoinTerm::Series(terms) => {
                let ends: Vec<_> = terms
                    .iter()
                    .map(|term| self.term(transformer, term))
                    .collect();
                for pair in ends.windows(2) {
                    self.tie(&pair[1].0, &pair[0].1);
                }
                (ends[0].0.clone(), ends[ends.len() - 1].1.clone())
            }
            JoinTerm::Parallel(terms) => {
                let ends: Vec<_> = terms
                    .iter()
                    .map(|term| self.term(transformer, term))
                    .collect();
                for other in &ends[1..] {
                    self.tie(&other.0, &ends[0].0);
                    self.tie(&other.1, &ends[0].1);
                }
                ends[0].clone()
            }
        }
    }
}

/// Every node name that a part of the job uses as an end.
fn names_in_parts(job: &Job) -> Vec<String> {
    let mut names = Vec::new();
    for part in &job.parts {
        if let PartKind::VariableTransformer(part) = &part.kind {
            names.extend([part.from.clone(), part.into.clone(), part.ret.clone()]);
        }
        if let Some(between) = part.kind.between() {
            names.extend([between.plus.clone(), between.minus.clone()]);
        }
    }
    names
}
