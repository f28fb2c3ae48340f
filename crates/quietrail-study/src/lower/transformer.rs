//! A transformer of the job as ideally coupled windings.

use super::{Draft, Elements};
use quietrail_engine::{Element, Winding};
use quietrail_job::model::{Join, JoinTerm, Primary, Secondary, Transformer};

/// Temperature coefficient of copper at 20 °C, per kelvin (IEC 60028 gives 0.00393).
const COPPER: f64 = 0.003_93;

/// Resistance that no primary goes below, Ω: without any, the mean of its magnetising current would be what it
/// happened to be at switch-on, for ever.
const LEAST_PRIMARY: f64 = 1e-3;

pub(super) fn add(
    draft: &mut Draft,
    name: &str,
    part: &Transformer,
    hertz: f64,
    copper_celsius: f64,
) -> Elements {
    let hot = resistance_factor(copper_celsius) / resistance_factor(part.read_at.nominal());
    let primary = PrimaryJoin::in_use(part);
    let magnetising = Magnetising::of(part, &primary, hertz);

    let mut windings = Vec::new();
    let mut elements = Elements::default();
    for winding in &part.primary {
        let start = draft.node(&format!("{name}.{}.start", winding.name));
        let finish = draft.node(&format!("{name}.{}.finish", winding.name));
        let turns = signed(winding.volts.nominal(), winding.reversed);
        let ohms = hot * winding.resistance.nominal().max(LEAST_PRIMARY);
        elements
            .windings
            .insert(winding.name.clone(), vec![windings.len()]);
        windings.push(Winding {
            start,
            finish,
            turns,
            ohms,
            leakage: 0.0,
        });
    }
    for winding in &part.secondary {
        // The off-load voltage was read behind the drop of the magnetising current in the primary.
        let turns = primary.turns * winding.open.nominal() / winding.at_primary.nominal()
            * magnetising.off_load_factor;
        // A range that starts at no leakage keeps an inductance throughout.
        let least = if winding.leakage.value.high > 0.0 {
            1e-9
        } else {
            0.0
        };
        let leakage = winding.leakage.nominal().max(least);
        let first = windings.len();
        for segment in segments(name, winding) {
            windings.push(Winding {
                start: draft.node(&segment.from),
                finish: draft.node(&segment.to),
                turns: signed(turns * segment.share, winding.reversed),
                ohms: hot * winding.resistance.nominal() * segment.share,
                leakage: leakage * segment.share,
            });
        }
        elements
            .windings
            .insert(winding.name.clone(), (first..windings.len()).collect());
    }
    let transformer = draft.circuit.add(Element::Transformer {
        windings,
        magnetising: Some(magnetising.henries_per_turn),
    });
    elements.own.push(transformer);

    for existing in &part.existing {
        // Nothing drawn is a gigohm: the same elements whatever the value.
        let amps = existing.draws.nominal().max(1e-9);
        let volts = open_volts(part, &existing.of);
        let a = draft.node(&format!("{name}.{}.start", existing.of));
        let b = draft.node(&format!("{name}.{}.finish", existing.of));
        let load = draft.circuit.add(Element::Resistor {
            a,
            b,
            ohms: volts / amps,
        });
        draft
            .parts
            .insert(format!("{name} existing {}", existing.of), super::one(load));
    }
    elements
}

/// Resistance of copper over that at 20 °C.
pub fn resistance_factor(celsius: f64) -> f64 {
    1.0 + COPPER * (celsius - 20.0)
}

/// Turns of the primary in use, in the unit of the windings.
pub(crate) fn primary_turns(part: &Transformer) -> f64 {
    PrimaryJoin::in_use(part).turns
}

fn signed(turns: f64, reversed: bool) -> f64 {
    if reversed { -turns } else { turns }
}

/// The selected join of the primaries, as one winding.
struct PrimaryJoin {
    /// Turns in the unit of the windings' volts.
    turns: f64,
    /// Resistance as read.
    ohms: f64,
}

impl PrimaryJoin {
    fn in_use(part: &Transformer) -> Self {
        let selector = &part.selector;
        let join = selector.positions.iter().find(|(at, _)| *at == selector.at);
        let whole = |join: &Join| combined(&join.term, &part.primary);
        let (turns, ohms) = join.map_or((1.0, 0.0), |(_, join)| whole(join));
        Self { turns, ohms }
    }
}

/// Turns and resistance of joined primaries.
fn combined(term: &JoinTerm, windings: &[Primary]) -> (f64, f64) {
    match term {
        JoinTerm::Winding { name, reversed } => {
            let winding = windings.iter().find(|winding| winding.name == *name);
            winding.map_or((0.0, 0.0), |winding| {
                let turns = signed(winding.volts.nominal(), *reversed != winding.reversed);
                (turns, winding.resistance.nominal())
            })
        }
        JoinTerm::Series(terms) => terms.iter().fold((0.0, 0.0), |(turns, ohms), term| {
            let (t, r) = combined(term, windings);
            (turns + t, ohms + r)
        }),
        JoinTerm::Parallel(terms) => {
            let all: Vec<_> = terms.iter().map(|term| combined(term, windings)).collect();
            let siemens: f64 = all.iter().map(|(_, ohms)| 1.0 / ohms.max(1e-9)).sum();
            (all[0].0, 1.0 / siemens)
        }
    }
}

struct Magnetising {
    /// Inductance seen by a winding of one turn unit.
    henries_per_turn: f64,
    /// Ideal over read off-load voltage.
    off_load_factor: f64,
}

impl Magnetising {
    fn of(part: &Transformer, primary: &PrimaryJoin, hertz: f64) -> Self {
        let impedance = part.no_load.1.nominal() / part.no_load.0.nominal().max(1e-6);
        let reactance = (impedance * impedance - primary.ohms * primary.ohms)
            .max(0.01 * impedance * impedance)
            .sqrt();
        let henries = reactance / (2.0 * std::f64::consts::PI * hertz);
        let lag = primary.ohms / reactance;
        Self {
            henries_per_turn: henries / (primary.turns * primary.turns).max(1e-12),
            off_load_factor: (1.0 + lag * lag).sqrt(),
        }
    }
}

/// A stretch of a winding between two of its points.
struct Segment {
    from: String,
    to: String,
    share: f64,
}

fn segments(transformer: &str, winding: &Secondary) -> Vec<Segment> {
    let point = |name: &str| format!("{transformer}.{}.{name}", winding.name);
    let ends = divided(winding).into_iter();
    ends.map(|(from, to, share)| Segment {
        from: point(from),
        to: point(to),
        share,
    })
    .collect()
}

/// The leads between which each part of a winding lies that its taps divide, from its start on.
pub fn segment_leads(winding: &Secondary) -> Vec<(&str, &str)> {
    let parts = divided(winding).into_iter();
    parts.map(|(from, to, _)| (from, to)).collect()
}

/// Parts of a winding between neighbouring leads, with the share of its turns.
fn divided(winding: &Secondary) -> Vec<(&str, &str, f64)> {
    let mut taps: Vec<(&str, f64)> = winding
        .taps
        .iter()
        .map(|tap| (tap.name.as_str(), tap.share.nominal()))
        .collect();
    taps.sort_by(|a, b| a.1.total_cmp(&b.1));
    let mut parts = Vec::new();
    let (mut from, mut at) = ("start", 0.0);
    for (name, share) in taps.into_iter().chain([("finish", 1.0)]) {
        if share > at {
            parts.push((from, name, share - at));
        }
        (from, at) = (name, share);
    }
    parts
}

/// Off-load voltage of a winding or join at the primary voltage of its reading.
fn open_volts(part: &Transformer, of: &str) -> f64 {
    if let Some(winding) = part.secondary.iter().find(|winding| winding.name == of) {
        return winding.open.nominal();
    }
    let join = part.joins.iter().find(|join| join.name == of);
    join.map_or(0.0, |join| join_volts(&join.term, part).abs())
}

fn join_volts(term: &JoinTerm, part: &Transformer) -> f64 {
    match term {
        JoinTerm::Winding { name, reversed } => {
            let winding = part.secondary.iter().find(|winding| winding.name == *name);
            winding.map_or(0.0, |winding| signed(winding.open.nominal(), *reversed))
        }
        JoinTerm::Series(terms) => terms.iter().map(|term| join_volts(term, part)).sum(),
        JoinTerm::Parallel(terms) => terms.first().map_or(0.0, |term| join_volts(term, part)),
    }
}
