//! Who is joined to whom, taken from the tables as written, so that the wiring can be checked even where a
//! figure of a part is faulty.

use crate::model::JoinTerm;
use crate::nearest::nearest;
use crate::read::fields::Fields;
use crate::written::{Place, Value};
use quietrail_units::{Ohms, Quantity};
use std::collections::{BTreeMap, BTreeSet};

/// The nodes that are always there.
pub(crate) const FIXED_NODES: &[&str] = &["common", "inlet.live", "inlet.neutral"];

/// All ends of all parts.
#[derive(Debug, Default)]
pub(crate) struct Wiring {
    /// Every end, in the order of the file.
    pub(crate) ends: Vec<End>,
    /// Points of transformer windings.
    points: BTreeSet<String>,
    /// Pairs of nodes joined by a part that conducts or couples.
    bridges: Vec<(String, String)>,
    /// Those of them that direct current goes through.
    conducts: Vec<(String, String)>,
    /// Part names, in the order of the file.
    parts: Vec<String>,
    /// Whether the ends of some part could not be read.
    pub(crate) incomplete: bool,
}

/// One end of a part.
#[derive(Clone, Debug)]
pub(crate) struct End {
    /// The part, counted in the order of the file. Two parts of one name are a fault of their own.
    pub(crate) part: usize,
    /// As in messages: `capacitor C1`.
    pub(crate) owner: String,
    /// The node.
    pub(crate) node: String,
    /// Where the job says so.
    pub(crate) place: Place,
    /// What the end is to the node.
    pub(crate) role: Role,
    /// Whether it is a capacitor's, which no direct current goes through.
    pub(crate) couples: bool,
}

/// What an end of a part is to its node.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Role {
    /// Drives it: a rectifier.
    Rectified,
    /// Drives it: a regulator.
    Regulated,
    /// Drives it: a variable transformer.
    Delivered,
    /// The return of something that drives.
    Return,
    /// Draws from it: first end of a load or of a capacitor, input of a regulator.
    Draws,
    /// The other end of what draws.
    Drains,
    /// Passes through: resistors, wires, fuses.
    Through,
}

/// What a two-ended part is to its nodes.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum TwoEnded {
    Conducts,
    Capacitor,
    Load,
}

impl Wiring {
    /// Adds a part by its kind and merged keys.
    pub(crate) fn add(&mut self, kind: &str, name: &str, fields: &Fields<'_>) {
        self.parts.push(name.to_owned());
        match kind {
            "transformer" => self.add_transformer(name, fields),
            "rectifier" => self.add_rectifier(fields),
            "regulator" => self.add_regulator(fields),
            "transistor" => self.add_transistor(fields),
            "variable_transformer" => self.add_variable_transformer(fields),
            "sink" => {}
            "capacitor" => self.add_two_ended(fields, TwoEnded::Capacitor),
            "load" => self.add_two_ended(fields, TwoEnded::Load),
            _ => self.add_two_ended(fields, TwoEnded::Conducts),
        }
    }

    fn add_two_ended(&mut self, fields: &Fields<'_>, what: TwoEnded) {
        let Some(between) = fields.ends() else {
            self.incomplete = true;
            return;
        };
        let (first, second) = match what {
            TwoEnded::Conducts => (Role::Through, Role::Through),
            TwoEnded::Capacitor | TwoEnded::Load => (Role::Draws, Role::Drains),
        };
        let (plus_place, minus_place) = end_places(fields);
        self.add_end(fields, &between.plus, plus_place, first);
        self.add_end(fields, &between.minus, minus_place, second);
        if what == TwoEnded::Capacitor {
            let ends = self.ends.iter_mut().rev().take(2);
            ends.for_each(|end| end.couples = true);
        }
        let pair = (between.plus, between.minus);
        if what == TwoEnded::Conducts {
            self.conducts.push(pair.clone());
        }
        // What is behind a load that is a resistance has its voltage through it; another draws all that it does from somewhere.
        if what != TwoEnded::Load || is_resistance(fields) {
            self.bridges.push(pair);
        }
    }

    fn add_end(&mut self, fields: &Fields<'_>, node: &str, place: Place, role: Role) {
        self.ends.push(End {
            part: self.parts.len(),
            owner: fields.owner.clone(),
            node: node.to_owned(),
            place,
            role,
            couples: false,
        });
    }

    /// Adds the end that a key names; a missing key is reported elsewhere.
    fn add_key(&mut self, fields: &Fields<'_>, key: &str, role: Role) {
        match fields.text(key) {
            Some(node) => self.add_end(fields, node, fields.place_of(key), role),
            None => self.incomplete = true,
        }
    }

    /// Adds the return: the key, or the node that stands in.
    fn add_return(&mut self, fields: &Fields<'_>, default: &str) {
        let node = fields.text("return").unwrap_or(default);
        self.add_end(fields, node, fields.place_of("return"), Role::Return);
    }

    fn add_rectifier(&mut self, fields: &Fields<'_>) {
        self.add_key(fields, "into", Role::Rectified);
        self.add_return(fields, "common");
        for key in ["negative", "middle", "pump"] {
            if fields.has(key) {
                self.add_key(fields, key, Role::Rectified);
            }
        }
    }

    fn add_regulator(&mut self, fields: &Fields<'_>) {
        self.add_key(fields, "from", Role::Draws);
        self.add_key(fields, "into", Role::Regulated);
        self.add_return(fields, "common");
        let own = ["from", "into", "return"].map(|key| fields.text(key).unwrap_or("common"));
        let leads = match fields.text("sense") {
            Some(plus) => vec![plus],
            None => fields
                .items("sense")
                .unwrap_or_default()
                .iter()
                .filter_map(crate::written::Value::text)
                .collect(),
        };
        for lead in leads.into_iter().filter(|lead| !own.contains(lead)) {
            self.add_end(fields, lead, fields.place_of("sense"), Role::Through);
        }
    }

    fn add_transistor(&mut self, fields: &Fields<'_>) {
        for key in ["collector", "base", "emitter"] {
            self.add_key(fields, key, Role::Through);
        }
        let node = |key| fields.text(key).map(str::to_owned);
        if let (Some(collector), Some(base), Some(emitter)) =
            (node("collector"), node("base"), node("emitter"))
        {
            let own = [(collector, emitter.clone()), (base, emitter)];
            self.conducts.extend(own.clone());
            self.bridges.extend(own);
        }
    }

    fn add_variable_transformer(&mut self, fields: &Fields<'_>) {
        let from = fields.text("from").unwrap_or("inlet.live");
        self.add_end(fields, from, fields.place_of("from"), Role::Draws);
        self.add_key(fields, "into", Role::Delivered);
        self.add_return(fields, "inlet.neutral");
    }

    fn add_transformer(&mut self, name: &str, fields: &Fields<'_>) {
        for point in ["primary.in", "primary.out"] {
            self.points.insert(format!("{name}.{point}"));
        }
        for winding in fields.tables("secondary") {
            let Some(of) = winding.text("name") else {
                self.incomplete = true;
                continue;
            };
            for point in ["start", "finish"] {
                self.points.insert(format!("{name}.{of}.{point}"));
            }
            for tap in winding.named("taps") {
                self.points.insert(format!("{name}.{of}.{}", tap.key));
            }
        }
        for join in fields.named("joins") {
            for point in ["start", "finish"] {
                self.points.insert(format!("{name}.{}.{point}", join.key));
            }
            if join.value.text().is_some_and(has_centre) {
                self.points.insert(format!("{name}.{}.centre", join.key));
            }
        }
    }

    /// Whether a node of that name is anywhere.
    pub(crate) fn knows_node(&self, name: &str) -> bool {
        self.node_names().any(|known| known == name)
    }

    /// Whether a part has that name.
    pub(crate) fn knows_part(&self, name: &str) -> bool {
        self.parts.iter().any(|part| part == name)
    }

    /// Every node: ends of parts, points of windings, and those that are always there.
    pub(crate) fn node_names(&self) -> impl Iterator<Item = &str> {
        let ends = self.ends.iter().map(|end| end.node.as_str());
        let dotted_ends_are_points = |name: &&str| !name.contains('.');
        let points = self.points.iter().map(String::as_str);
        ends.filter(dotted_ends_are_points)
            .chain(points)
            .chain(FIXED_NODES.iter().copied())
    }

    /// Every part.
    pub(crate) fn part_names(&self) -> impl Iterator<Item = &str> {
        self.parts.iter().map(String::as_str)
    }

    /// The node with the nearest name, that name itself left out.
    pub(crate) fn nearest_node(&self, name: &str) -> Option<String> {
        nearest(name, self.node_names())
    }

    /// Whether a node is a point of a winding, or always there.
    pub(crate) fn is_given(&self, node: &str) -> bool {
        self.points.contains(node) || FIXED_NODES.contains(&node)
    }

    /// How many ends are at each node.
    pub(crate) fn crowd(&self) -> BTreeMap<&str, usize> {
        let mut crowd = BTreeMap::new();
        for end in &self.ends {
            *crowd.entry(end.node.as_str()).or_insert(0) += 1;
        }
        crowd
    }

    /// Nodes that a source reaches through parts that conduct or couple, never by way of `common`.
    pub(crate) fn fed(&self) -> BTreeSet<&str> {
        let drives = |end: &&End| {
            matches!(
                end.role,
                Role::Rectified | Role::Regulated | Role::Delivered
            )
        };
        let mut start: Vec<&str> = self
            .ends
            .iter()
            .filter(drives)
            .map(|end| end.node.as_str())
            .collect();
        start.extend(self.points.iter().map(String::as_str));
        start.extend(["inlet.live", "inlet.neutral"]);
        reached(&self.bridges, &start)
    }

    /// Nodes that direct current gets away from: to a source, a return, or another part that draws there.
    pub(crate) fn leading_on(&self) -> BTreeSet<&str> {
        let leads = |end: &&End| {
            let draws = end.role == Role::Draws && !end.couples;
            draws || !matches!(end.role, Role::Draws | Role::Drains | Role::Through)
        };
        let ends = self.ends.iter().filter(leads);
        let mut start: Vec<&str> = ends.map(|end| end.node.as_str()).collect();
        start.extend(self.points.iter().map(String::as_str));
        start.extend(FIXED_NODES);
        reached(&self.conducts, &start)
    }

    /// Nodes that are joined to `common` or to the return of a source.
    pub(crate) fn returning(&self) -> BTreeSet<&str> {
        let returns = self.ends.iter().filter(|end| end.role == Role::Return);
        let mut start: Vec<&str> = returns.map(|end| end.node.as_str()).collect();
        start.push("common");
        reached(&self.bridges, &start)
    }
}

/// Nodes that bridges lead to; never on from `common`, unless it is where they start.
fn reached<'a>(bridges: &'a [(String, String)], start: &[&'a str]) -> BTreeSet<&'a str> {
    let mut next: BTreeMap<&str, Vec<&str>> = BTreeMap::new();
    for (one, other) in bridges {
        next.entry(one).or_default().push(other);
        next.entry(other).or_default().push(one);
    }
    let mut reached: BTreeSet<&str> = BTreeSet::new();
    let mut open = start.to_vec();
    while let Some(node) = open.pop() {
        if !reached.insert(node) {
            continue;
        }
        if node == "common" && !start.contains(&"common") {
            continue;
        }
        open.extend(next.get(node).into_iter().flatten());
    }
    reached
}

/// Whether a load is a resistance in every state.
fn is_resistance(fields: &Fields<'_>) -> bool {
    let draws = fields.named("draws");
    let is_ohms = |text: &str| Quantity::<Ohms>::parse(text).is_ok();
    !draws.is_empty()
        && draws
            .iter()
            .all(|draw| draw.value.text().is_some_and(is_ohms))
}

/// Where the two ends of a part stand.
fn end_places(fields: &Fields<'_>) -> (Place, Place) {
    match fields.value("between").and_then(Value::list) {
        Some([plus, minus]) => (plus.place(), minus.place()),
        _ => (fields.place_of("at"), fields.place_of("at")),
    }
}

/// Whether a join has a centre: two terms in series.
pub(crate) fn has_centre(text: &str) -> bool {
    matches!(crate::join::read(text), Ok((JoinTerm::Series(terms), _)) if terms.len() == 2)
}
