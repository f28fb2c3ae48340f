//! Noise at a pair of nodes: what each part makes, through the network as its small signals see it, over a band.
//!
//! Sources are the regulators with their references and dividers, and the thermal noise of every resistance. All are taken
//! as having nothing to do with each other. A regulator whose noise is not given is named where its noise would arrive.

use crate::finding::WhyNot;
use crate::level::{BOLTZMANN, CHARGE, USUAL_CREST};
use crate::lower::{Lowered, noise_gain, output_gain, whole_rejection};
use crate::question::View;
use crate::reading::OutputTable;
use quietrail_engine::math::{exp, ln};
use quietrail_engine::network::{Network, Operating, Reach};
use quietrail_engine::quadrature::integrate;
use quietrail_engine::{Element, ElementId, Node, Output, Signal};
use quietrail_job::model::{Band, Density, Noise, PartKind, Regulator, Shunt};
use std::collections::BTreeMap;

/// What makes noise.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Source {
    /// A regulator's output, by its data sheet.
    Regulator(String),
    /// Its reference, where that is given apart.
    Reference(String),
    /// The divider of its set point: thermal.
    Divider(String),
    /// Thermal noise of a part's resistance.
    Thermal(String),
    /// Shot noise of a transistor's currents.
    Shot(String),
}

/// Noise over a band with its terms, rms in volts; their squares add up.
#[derive(Clone, Debug, PartialEq)]
pub struct Budget {
    /// All together.
    pub total: f64,
    /// Each, largest first.
    pub terms: Vec<(Source, f64)>,
}

/// Share of a regulator's own noise that must arrive for a missing figure to matter: 40 dB down it does not.
const ARRIVES: f64 = 1e-2;
/// Frequencies at which that is looked at.
const LOOKED_AT: usize = 25;
/// Accuracy of the integral in power, as a share.
const TOLERANCE: f64 = 1e-7;
/// Decades beyond a first-order corner that are integrated: what lies outside is below the accuracy.
const SKIRT: f64 = 1e7;
/// Lowest frequency of a band from nothing, as a share of its upper end: flat noise below is below the accuracy.
const LOWEST: f64 = 1e-9;
/// Slack of a band against the one in which a figure is known.
const SLACK: f64 = 0.01;

/// Signals from whose means the operating state is read, of every element that has a curve.
pub fn register(lowered: &Lowered, table: &mut OutputTable) {
    for id in lowered.circuit.ids() {
        for output in operating_outputs(lowered, id).into_iter().flatten() {
            table.add(output);
        }
    }
    // A load may be a curve in one state and a resistance in the next.
    for part in &lowered.job.parts {
        if let PartKind::Load(load) = &part.kind
            && let (Some(plus), Some(minus)) = (
                lowered.node(&load.between.plus),
                lowered.node(&load.between.minus),
            )
        {
            table.add(Output::Mean(Signal::Voltage(plus, minus)));
        }
    }
}

/// Mean current, mean voltage and mean base current of an element, where its slope depends on them.
fn operating_outputs(lowered: &Lowered, id: ElementId) -> [Option<Output>; 3] {
    let amps = |port| Some(Output::Mean(Signal::Current(id, port)));
    match lowered.circuit.element(id) {
        Element::Diode { .. } => [amps(0), None, None],
        Element::Transistor { .. } => [amps(0), None, amps(1)],
        Element::Load { plus, minus, .. } => [
            None,
            Some(Output::Mean(Signal::Voltage(*plus, *minus))),
            None,
        ],
        Element::Regulator { .. } => [amps(0), Some(Output::Mean(Signal::Headroom(id))), None],
        _ => [None, None, None],
    }
}

/// The network of the island of a node in a steady state.
pub(crate) fn network(view: &View<'_>, reference: Node) -> Network {
    let mut operating = BTreeMap::new();
    for id in view.lowered.circuit.ids() {
        let outputs = operating_outputs(view.lowered, id);
        if outputs == [None, None, None] {
            continue;
        }
        let [amps, volts, base] =
            outputs.map(|output| output.and_then(|o| view.reading.find(&o)).unwrap_or(0.0));
        operating.insert(id, Operating { amps, volts, base });
    }
    let mut circuit = view.lowered.circuit.clone();
    for part in &view.lowered.job.parts {
        if let PartKind::Regulator(regulator) = &part.kind
            && let Some(id) = view.lowered.element(&part.name)
            && let Element::Regulator { law, .. } = circuit.element_mut(id)
        {
            law.rejection = whole_rejection(regulator);
        }
    }
    Network::of(&circuit, reference, &operating)
}

/// Noise of `plus` against `minus` over a band.
///
/// # Errors
/// Which figure is missing, or where it is not known.
pub fn budget(view: &View<'_>, (plus, minus): (Node, Node), band: &Band) -> Result<Budget, WhyNot> {
    let network = network(view, minus);
    let sources = sources(view, &network);
    let stretch = stretch(band);
    for source in &sources {
        source.check(view, &network, (plus, minus), band, stretch)?;
    }
    let mut undetermined = false;
    let mut density = |log: f64, out: &mut [f64]| {
        let hertz = exp(log);
        let Some(reach) = network.reach(plus, minus, hertz) else {
            undetermined = true;
            out.fill(0.0);
            return;
        };
        // Over the logarithm of the frequency: df = f d ln f.
        let weight = weight(band, hertz) * hertz;
        for (value, source) in out.iter_mut().zip(&sources) {
            *value = weight * source.square(view, &reach, hertz);
        }
    };
    let (from, to) = (ln(stretch.0), ln(stretch.1));
    let pieces = ((to - from) / ln(10.0)).ceil() as usize;
    let squares = integrate(
        &mut density,
        sources.len(),
        (from, to),
        2 * pieces,
        TOLERANCE,
    );
    if undetermined {
        return Err(WhyNot::NotComputed);
    }
    let mut merged: BTreeMap<Source, f64> = BTreeMap::new();
    for (source, square) in sources.iter().zip(&squares) {
        *merged.entry(source.name.clone()).or_default() += square;
    }
    let total: f64 = merged.values().sum();
    let mut terms: Vec<(Source, f64)> = merged
        .into_iter()
        .map(|(source, square)| (source, square.max(0.0).sqrt()))
        .collect();
    terms.sort_by(|a, b| b.1.total_cmp(&a.1));
    Ok(Budget {
        total: total.max(0.0).sqrt(),
        terms,
    })
}

/// Density at a frequency, V/√Hz, term by term as in [`Budget`]; sources not known there count as nothing.
///
/// # Errors
/// As [`budget`].
pub fn densities(
    view: &View<'_>,
    (plus, minus): (Node, Node),
    hertz: &[f64],
) -> Result<Vec<Vec<(Source, f64)>>, WhyNot> {
    let network = network(view, minus);
    let sources = sources(view, &network);
    hertz
        .iter()
        .map(|&hertz| {
            let point = Band::BrickWall {
                low: hertz,
                high: hertz,
            };
            for source in &sources {
                source.check(view, &network, (plus, minus), &point, (hertz, hertz))?;
            }
            let reach = network
                .reach(plus, minus, hertz)
                .ok_or(WhyNot::NotComputed)?;
            let mut merged: BTreeMap<Source, f64> = BTreeMap::new();
            for source in &sources {
                *merged.entry(source.name.clone()).or_default() +=
                    source.square(view, &reach, hertz);
            }
            Ok(merged
                .into_iter()
                .map(|(source, square)| (source, square.max(0.0).sqrt()))
                .collect())
        })
        .collect()
}

/// Peak-to-peak over rms of noise.
pub const CREST: f64 = USUAL_CREST;

/// What a band keeps of power at a frequency.
fn weight(band: &Band, hertz: f64) -> f64 {
    match *band {
        Band::BrickWall { .. } => 1.0,
        Band::Poles { low, high } => {
            let (l, h) = (low / hertz, hertz / high);
            1.0 / ((1.0 + l * l) * (1.0 + h * h))
        }
    }
}

/// Frequencies that are integrated over.
fn stretch(band: &Band) -> (f64, f64) {
    match *band {
        Band::BrickWall { low, high } => (low.max(LOWEST * high), high),
        Band::Poles { low, high } => {
            let lowest = if low > 0.0 {
                low / SKIRT
            } else {
                LOWEST * high
            };
            (lowest, high * SKIRT)
        }
    }
}

/// A source with where it stands in the circuit.
struct Placed {
    name: Source,
    kind: Kind,
}

enum Kind {
    /// A figure of a regulator, in series with its set point.
    Sheet {
        element: ElementId,
        part: String,
        is_reference: bool,
    },
    /// Thermal noise of its divider, in series with its set point.
    Divider { element: ElementId, part: String },
    /// A conductance between two nodes.
    Shunt { a: Node, b: Node, siemens: f64 },
    /// A resistance in series with an element.
    Series { element: ElementId, ohms: f64 },
    /// Shot noise of a mean current between two nodes.
    Shot { a: Node, b: Node, amps: Output },
}

fn sources(view: &View<'_>, network: &Network) -> Vec<Placed> {
    let lowered = view.lowered;
    let mut all = Vec::new();
    for (name, elements) in &lowered.parts {
        let part = lowered.job.part(name).map(|part| &part.kind);
        // The divider of a regulator counts with its set point, by the gain that it has there.
        let is_divider = part.is_none() && name.ends_with(" divider");
        for &element in &elements.own {
            let at = lowered.circuit.element(element);
            if is_divider || !inside(network, at) {
                continue;
            }
            let thermal = || Source::Thermal(name.clone());
            let mut push = |name, kind| all.push(Placed { name, kind });
            match at {
                Element::Regulator { .. } => {
                    let Some(PartKind::Regulator(regulator)) = part else {
                        continue;
                    };
                    let sheet = |is_reference| Kind::Sheet {
                        element,
                        part: name.clone(),
                        is_reference,
                    };
                    push(Source::Regulator(name.clone()), sheet(false));
                    if regulator.reference_noise.is_some() {
                        push(Source::Reference(name.clone()), sheet(true));
                    }
                    push(
                        Source::Divider(name.clone()),
                        Kind::Divider {
                            element,
                            part: name.clone(),
                        },
                    );
                }
                Element::Transistor {
                    collector,
                    base,
                    emitter,
                    ..
                } => {
                    for (from, port) in [(*collector, 0), (*base, 1)] {
                        let kind = Kind::Shot {
                            a: from,
                            b: *emitter,
                            amps: Output::Mean(Signal::Current(element, port)),
                        };
                        push(Source::Shot(name.clone()), kind);
                    }
                    if let Some(PartKind::Transistor(transistor)) = part {
                        let ohms = transistor.base_resistance.nominal();
                        push(thermal(), Kind::Series { element, ohms });
                    }
                }
                Element::Diode { .. } if matches!(part, Some(PartKind::Shunt(_))) => {
                    let sheet = Kind::Sheet {
                        element,
                        part: name.clone(),
                        is_reference: false,
                    };
                    push(Source::Regulator(name.clone()), sheet);
                }
                Element::Resistor { a, b, ohms } if *ohms > 0.0 => {
                    // A load that is given as a resistance stands for electronics, not for a resistor.
                    if matches!(part, Some(PartKind::Load(_))) {
                        continue;
                    }
                    let (a, b, siemens) = (*a, *b, 1.0 / ohms);
                    push(thermal(), Kind::Shunt { a, b, siemens });
                }
                Element::Capacitor { esr: ohms, .. } | Element::Inductor { ohms, .. }
                    if *ohms > 0.0 =>
                {
                    let ohms = *ohms;
                    push(thermal(), Kind::Series { element, ohms });
                }
                _ => {}
            }
        }
    }
    all
}

fn inside(network: &Network, element: &Element) -> bool {
    match element {
        Element::Regulator { output, .. } => network.holds(*output),
        Element::Transistor { emitter, .. } => network.holds(*emitter),
        Element::Diode { anode, .. } => network.holds(*anode),
        Element::Resistor { a, .. }
        | Element::Capacitor { a, .. }
        | Element::Inductor { a, .. } => network.holds(*a),
        _ => false,
    }
}

impl Placed {
    /// Square of its density where it is observed, V²/Hz.
    fn square(&self, view: &View<'_>, reach: &Reach<'_>, hertz: f64) -> f64 {
        let thermal = 4.0 * BOLTZMANN * (view.air + 273.15);
        match &self.kind {
            Kind::Sheet {
                element,
                part,
                is_reference,
            } => {
                let density = match kind(view, part) {
                    Some(PartKind::Regulator(regulator)) => {
                        density(regulator, *is_reference, hertz).unwrap_or(0.0)
                    }
                    Some(PartKind::Shunt(shunt)) => shunt_density(shunt, hertz),
                    _ => 0.0,
                };
                density * density * reach.of_series(*element).square()
            }
            Kind::Divider { element, part } => {
                let Some(regulator) = regulator(view, part) else {
                    return 0.0;
                };
                let ohms = divider_ohms(regulator, hertz);
                thermal * ohms * reach.of_series(*element).square()
            }
            Kind::Shunt { a, b, siemens } => thermal * siemens * reach.of_current(*a, *b).square(),
            Kind::Series { element, ohms } => thermal * ohms * reach.of_series(*element).square(),
            // S = 2 q I (W. Schottky, Ann. Phys. 57, 1918).
            Kind::Shot { a, b, amps } => {
                let amps = view.reading.find(amps).unwrap_or(0.0).abs();
                2.0 * CHARGE * amps * reach.of_current(*a, *b).square()
            }
        }
    }

    /// Whether its figure is there, and known over the band.
    fn check(
        &self,
        view: &View<'_>,
        network: &Network,
        (plus, minus): (Node, Node),
        band: &Band,
        stretch: (f64, f64),
    ) -> Result<(), WhyNot> {
        let Kind::Sheet {
            element,
            part,
            is_reference,
        } = &self.kind
        else {
            return Ok(());
        };
        let (given, is_told) = match kind(view, part) {
            Some(PartKind::Regulator(regulator)) if *is_reference => {
                (&regulator.reference_noise, false)
            }
            // With its reference given apart, a regulator needs no figure of its own.
            Some(PartKind::Regulator(regulator)) => {
                (&regulator.noise, regulator.reference_noise.is_some())
            }
            Some(PartKind::Shunt(shunt)) => (&shunt.noise, false),
            _ => return Ok(()),
        };
        let key = if *is_reference {
            "reference_noise"
        } else {
            "noise"
        };
        let address = format!("{part}.{key}");
        let arrives = || {
            let (low, high) = match *band {
                Band::BrickWall { .. } => stretch,
                Band::Poles { low, high } => (low.max(stretch.0), high),
            };
            let step = ln(high / low) / LOOKED_AT as f64;
            (0..=LOOKED_AT).any(|k| {
                network
                    .reach(plus, minus, low * exp(step * k as f64))
                    .is_some_and(|reach| reach.of_series(*element).size() > ARRIVES)
            })
        };
        let Some(noise) = given else {
            return if !is_told && arrives() {
                Err(WhyNot::Missing(address))
            } else {
                Ok(())
            };
        };
        let (low, high) = match *band {
            Band::BrickWall { low, high } | Band::Poles { low, high } => (low, high),
        };
        if let Density::Flat {
            corner: Some(corner),
            ..
        } = &noise.density
            && corner.nominal() > 0.0
            && low <= 0.0
        {
            return if arrives() {
                Err(WhyNot::EndlessNoise { figure: address })
            } else {
                Ok(())
            };
        }
        let known = noise.density.known();
        let is_known = low >= known.0 * (1.0 - SLACK) && high <= known.1 * (1.0 + SLACK);
        if is_known || !arrives() {
            return Ok(());
        }
        Err(WhyNot::NoiseBeyond {
            figure: address,
            known,
            wanted: (low, high),
        })
    }
}

fn kind<'a>(view: &'a View<'_>, part: &str) -> Option<&'a PartKind> {
    view.lowered.job.part(part).map(|part| &part.kind)
}

fn regulator<'a>(view: &'a View<'_>, part: &str) -> Option<&'a Regulator> {
    match kind(view, part)? {
        PartKind::Regulator(regulator) => Some(regulator),
        _ => None,
    }
}

/// Density across a shunt regulator, V/√Hz: it grows with its voltage where it is stated at one.
fn shunt_density(shunt: &Shunt, hertz: f64) -> f64 {
    let Some(noise) = &shunt.noise else {
        return 0.0;
    };
    let volts = shunt.set.volts();
    let own = stated(noise, volts, hertz);
    noise
        .at
        .as_ref()
        .map_or(own, |at| own * volts / at.nominal())
}

/// Density of a regulator's noise as it stands in its set point, V/√Hz.
fn density(regulator: &Regulator, is_reference: bool, hertz: f64) -> Option<f64> {
    let set = regulator.set.size();
    if is_reference {
        let noise = regulator.reference_noise.as_ref()?;
        let reference = regulator
            .set
            .reference()
            .map_or(set, |figure| figure.nominal().abs());
        return Some(stated(noise, reference, hertz) * output_gain(&regulator.set, hertz));
    }
    let noise = regulator.noise.as_ref()?;
    let own = stated(noise, set, hertz);
    // A share of the output grows with it anyway.
    let at = match (&noise.at, &noise.density) {
        (Some(at), _) => at.nominal(),
        (None, Density::Share { .. }) => set,
        (None, _) => return Some(own),
    };
    // It grows with the output, except where a capacitor holds the adjust pin. What the current of the pin adds to the output
    // counts with it at both: the gain itself is in the ratio of the outputs, to the little that the pin's current is in the
    // divider's.
    let held = noise_gain(&regulator.set, hertz) / noise_gain(&regulator.set, 0.0);
    Some(own * held * set / at)
}

/// A figure as stated, V/√Hz; beyond the frequencies in which it is known, as at their ends.
fn stated(noise: &Noise, output: f64, hertz: f64) -> f64 {
    match &noise.density {
        Density::Flat { level, corner } => {
            let corner = corner.as_ref().map_or(0.0, |corner| corner.nominal());
            level.nominal() * (1.0 + corner / hertz).sqrt()
        }
        Density::Points(points) => {
            let at = |k: usize| (points[k].0.nominal(), points[k].1.nominal());
            let last = points.len() - 1;
            if hertz <= at(0).0 {
                return at(0).1;
            }
            for k in 0..last {
                let ((f0, e0), (f1, e1)) = (at(k), at(k + 1));
                if hertz <= f1 {
                    let share = ln(hertz / f0) / ln(f1 / f0);
                    return e0 * exp(share * ln(e1 / e0));
                }
            }
            at(last).1
        }
        Density::Total { volts, low, high } => volts.nominal() / (high - low).sqrt(),
        Density::Share { share, low, high } => output * share.nominal() / (high - low).sqrt(),
    }
}

/// Resistance whose thermal noise is that of a divider at the output, Ω: both resistors side by side, times the square
/// of the gain from there.
fn divider_ohms(regulator: &Regulator, hertz: f64) -> f64 {
    use quietrail_job::model::SetPoint;
    if let Some(pin) = regulator.set.adjust_pin() {
        // Lower end: the currents of both go through the lower one, which the bypass capacitor bridges.
        let turn = 2.0 * std::f64::consts::PI * hertz * pin.lower * pin.bypass.unwrap_or(0.0);
        let z = pin.lower * pin.lower / (1.0 + turn * turn);
        return (1.0 / pin.upper + 1.0 / pin.lower) * z;
    }
    let (upper, lower) = match &regulator.set {
        SetPoint::Fixed(_) => return 0.0,
        SetPoint::AcrossUpper { upper, lower, .. }
        | SetPoint::AcrossLower { upper, lower, .. }
        | SetPoint::AcrossBoth { upper, lower, .. } => (upper.nominal(), lower.nominal()),
        SetPoint::Trimmed { divider, .. } => match divider {
            Some(divider) => (divider.upper.nominal(), divider.lower.nominal()),
            None => return 0.0,
        },
    };
    let side_by_side = upper * lower / (upper + lower);
    match &regulator.set {
        SetPoint::AcrossBoth { .. } => side_by_side,
        _ => {
            let gain = noise_gain(&regulator.set, hertz);
            side_by_side * gain * gain
        }
    }
}
