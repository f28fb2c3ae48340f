//! Which leads belong to one winding, and in what order: from resistances, and from what was read across.

use quietrail_job::model::unmarked::{Leads, Unmarked};
use std::collections::BTreeSet;

/// The leads as windings.
#[derive(Clone, Debug)]
pub(crate) struct Layout {
    /// Number of leads.
    pub(crate) leads: usize,
    /// Ends of each stretch between neighbouring leads of a winding.
    pub(crate) stretches: Vec<(usize, usize)>,
    /// Windings, stated primaries first, then in the order of their first leads.
    pub(crate) windings: Vec<Winding>,
}

/// One winding.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Winding {
    /// `P1`, `S1`; `W1` where nothing says which is which.
    pub(crate) name: String,
    /// Its leads, from one end to the other.
    pub(crate) leads: Vec<usize>,
    /// Its stretches, in the same order.
    pub(crate) stretches: Vec<usize>,
    /// Whether the builder says that the mains was on it.
    pub(crate) is_primary: bool,
    /// Whether the resistances read so far leave the order of its leads open.
    pub(crate) is_order_open: bool,
    /// Whether any resistance of it was read.
    pub(crate) has_ohms: bool,
}

/// Index of a lead.
pub(crate) fn lead(unmarked: &Unmarked, name: &str) -> Option<usize> {
    unmarked.leads.iter().position(|lead| lead == name)
}

/// Indices of two leads.
pub(crate) fn pair(unmarked: &Unmarked, leads: &Leads) -> Option<(usize, usize)> {
    Some((lead(unmarked, &leads.0)?, lead(unmarked, &leads.1)?))
}

impl Layout {
    /// Groups the leads.
    pub(crate) fn of(unmarked: &Unmarked) -> Self {
        let leads = unmarked.leads.len();
        let mut group: Vec<usize> = (0..leads).collect();
        let mut tie = |a: usize, b: usize| {
            let (from, to) = (group[a], group[b]);
            for of in &mut group {
                if *of == from {
                    *of = to;
                }
            }
        };
        let mut with_ohms = BTreeSet::new();
        for reading in &unmarked.ohms {
            if let (Some((a, b)), Some(_)) = (pair(unmarked, &reading.between), &reading.reads) {
                tie(a, b);
                with_ohms.extend([a, b]);
            }
        }
        // Where no resistance was read, the leads that a reading was taken across are a winding.
        let across = unmarked
            .volts
            .iter()
            .map(|reading| (&reading.across, &reading.drive));
        let loaded = unmarked
            .loaded
            .iter()
            .map(|reading| (&reading.across, &reading.drive));
        let shorted = unmarked
            .shorted
            .iter()
            .map(|reading| (&reading.short, &reading.drive));
        for (leads, drive) in across.chain(loaded).chain(shorted) {
            for (leads, is_plain) in [
                (leads, drive.joined.is_empty()),
                (&drive.driven, drive.joined.is_empty()),
            ] {
                if let (Some((a, b)), true) = (pair(unmarked, leads), is_plain)
                    && !with_ohms.contains(&a)
                    && !with_ohms.contains(&b)
                {
                    tie(a, b);
                }
            }
        }
        let mut windings: Vec<Winding> = Vec::new();
        let mut stretches = Vec::new();
        let primary: Vec<usize> = unmarked
            .primary
            .iter()
            .filter_map(|name| lead(unmarked, name))
            .collect();
        let mut roots: Vec<usize> = Vec::new();
        for root in &group {
            if !roots.contains(root) {
                roots.push(*root);
            }
        }
        let is_primary = |root: &usize| primary.iter().any(|lead| group[*lead] == *root);
        roots.sort_by_key(|root| !is_primary(root));
        let (mut primaries, mut others) = (0, 0);
        for root in roots {
            let members: Vec<usize> = (0..leads).filter(|k| group[*k] == root).collect();
            if members.len() < 2 {
                continue;
            }
            let of_mains = is_primary(&root);
            let (order, is_order_open) = ordered(unmarked, &members);
            let first = stretches.len();
            stretches.extend(order.windows(2).map(|two| (two[0], two[1])));
            let name = match (primary.is_empty(), of_mains) {
                (true, _) => {
                    others += 1;
                    format!("W{others}")
                }
                (false, true) => {
                    primaries += 1;
                    format!("P{primaries}")
                }
                (false, false) => {
                    others += 1;
                    format!("S{others}")
                }
            };
            windings.push(Winding {
                name,
                has_ohms: order.iter().any(|lead| with_ohms.contains(lead)),
                leads: order,
                stretches: (first..stretches.len()).collect(),
                is_primary: of_mains,
                is_order_open,
            });
        }
        Self {
            leads,
            stretches,
            windings,
        }
    }

    /// The winding of a lead.
    pub(crate) fn winding_of(&self, lead: usize) -> Option<usize> {
        self.windings
            .iter()
            .position(|winding| winding.leads.contains(&lead))
    }

    /// The winding of a stretch.
    pub(crate) fn winding_with(&self, stretch: usize) -> usize {
        self.windings
            .iter()
            .position(|winding| winding.stretches.contains(&stretch))
            .unwrap_or(0)
    }

    /// Stretches between two leads of one winding, each with its sense.
    pub(crate) fn path(&self, from: usize, to: usize) -> Option<Vec<(usize, f64)>> {
        let winding = &self.windings[self.winding_of(from)?];
        let place = |lead: usize| winding.leads.iter().position(|of| *of == lead);
        let (a, b) = (place(from)?, place(to)?);
        let (low, high, sense) = if a <= b { (a, b, 1.0) } else { (b, a, -1.0) };
        Some((low..high).map(|k| (winding.stretches[k], sense)).collect())
    }
}

/// Leads along a winding: the two that are furthest apart in ohms are its ends. The second says whether the readings
/// leave that open.
fn ordered(unmarked: &Unmarked, members: &[usize]) -> (Vec<usize>, bool) {
    if members.len() == 2 {
        return (members.to_vec(), false);
    }
    let read = |a: usize, b: usize| {
        unmarked.ohms.iter().find_map(|reading| {
            let (x, y) = pair(unmarked, &reading.between)?;
            let ohms = reading.reads.as_ref()?.value;
            ((x, y) == (a, b) || (x, y) == (b, a)).then_some(ohms)
        })
    };
    // Missing distances are at least the largest way through what was read; the shortest is the likely one.
    let n = members.len();
    let mut apart = vec![vec![f64::INFINITY; n]; n];
    let mut is_open = false;
    for i in 0..n {
        apart[i][i] = 0.0;
        for j in 0..n {
            if let Some(ohms) = read(members[i], members[j]) {
                apart[i][j] = ohms;
            } else if i < j {
                is_open = true;
            }
        }
    }
    for k in 0..n {
        for i in 0..n {
            for j in 0..n {
                apart[i][j] = apart[i][j].min(apart[i][k] + apart[k][j]);
            }
        }
    }
    let mut ends = (0, 1);
    for i in 0..n {
        for j in i + 1..n {
            if apart[i][j] > apart[ends.0][ends.1] {
                ends = (i, j);
            }
        }
    }
    let mut order: Vec<usize> = (0..n).collect();
    order.sort_by(|&i, &j| apart[ends.0][i].total_cmp(&apart[ends.0][j]));
    (order.into_iter().map(|i| members[i]).collect(), is_open)
}
