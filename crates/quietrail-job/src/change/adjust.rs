//! Every adjustable figure of a job under its address: one walk that listing and changing both take.

use crate::keys::Bounds;
use crate::model::{
    Air, BoxRise, Density, DiodeCurve, DiodeRatings, Figure, Job, Load, LoadDraw, Mains, Noise,
    Origin, Part, PartKind, Regulator, SetPoint, Shunt, ShuntSet, State, Transformer, Transistor,
};
use quietrail_units::{Form, Quantity, Unit};
use std::sync::Arc;

/// A figure of any unit, as the walk hands it on.
pub(super) trait Adjustable {
    /// Lowest, nominal and highest value.
    fn range(&self) -> (f64, f64, f64);
    /// Unit symbol without prefix.
    fn unit(&self) -> &'static str;
    /// Why this value stands in, if the job leaves the figure out.
    fn why_default(&self) -> Option<&'static str>;
    /// Moves it; its tolerance moves along, but not out of the bounds.
    fn move_to(&mut self, value: f64, bounds: Bounds);
}

impl<U: Unit> Adjustable for Figure<U> {
    fn range(&self) -> (f64, f64, f64) {
        (self.value.low, self.value.nominal, self.value.high)
    }

    fn unit(&self) -> &'static str {
        U::SYMBOL
    }

    fn why_default(&self) -> Option<&'static str> {
        match self.origin {
            Origin::Default { why } => Some(why),
            _ => None,
        }
    }

    fn move_to(&mut self, value: f64, bounds: Bounds) {
        self.value = moved(&self.value, value, bounds);
    }
}

/// A quantity at another nominal value. Percentages scale, absolute tolerances and ranges shift; what
/// would leave the bounds by shifting is cut there, or scaled where zero itself is out of bounds.
fn moved<U: Unit>(quantity: &Quantity<U>, value: f64, bounds: Bounds) -> Quantity<U> {
    let Quantity {
        low,
        nominal,
        high,
        form,
        ..
    } = *quantity;
    if form == Form::Exact {
        return Quantity::exact(value);
    }
    let ratio = value / nominal;
    let shift = value - nominal;
    let scales = form == Form::Percent && ratio.is_finite() && ratio > 0.0;
    let shifted_through_zero = match bounds {
        Bounds::Positive => low + shift <= 0.0,
        Bounds::Negative => high + shift >= 0.0,
        _ => false,
    };
    if scales || (shifted_through_zero && ratio.is_finite() && ratio > 0.0) {
        return Quantity::within(
            (low * ratio).min(value),
            value,
            (high * ratio).max(value),
            form,
        );
    }
    let (least, most) = match bounds {
        Bounds::Positive | Bounds::NotNegative => (0.0, f64::INFINITY),
        Bounds::Negative => (f64::NEG_INFINITY, 0.0),
        Bounds::NotZero => (f64::NEG_INFINITY, f64::INFINITY),
        Bounds::Within(least, most) => (least, most),
    };
    let cut_low = (low + shift).max(least).min(value);
    let cut_high = (high + shift).min(most).max(value);
    let is_cut = cut_low != low + shift || cut_high != high + shift;
    let form = if is_cut && form != Form::Exact {
        Form::RangeAround
    } else {
        form
    };
    Quantity::within(cut_low, value, cut_high, form)
}

/// What is done with each figure: its address in pieces, the figure, and what values it can take.
pub(super) type Visit<'v> = dyn FnMut(&[&str], &mut dyn Adjustable, Bounds) + 'v;

const NOT_NEGATIVE: Bounds = Bounds::NotNegative;
const POSITIVE: Bounds = Bounds::Positive;
const FLATNESS: Bounds = Bounds::Within(0.0, 1.0 / 9.0);
const SHARE: Bounds = Bounds::Within(0.001, 0.999);
const REGULATION: Bounds = Bounds::Within(0.001, 1.0);
const TEMPERATURE: Bounds = Bounds::Within(-273.15, f64::MAX);

/// Visits every adjustable figure, in the order of the file.
///
/// Ratings are not among them: they are judged, not turned. Nor are the temperatures at which figures of
/// semiconductors hold.
pub(super) fn walk(job: &mut Job, visit: &mut Visit<'_>) {
    walk_where(job, |_| true, visit);
}

/// The same, of parts only those asked for.
pub(super) fn walk_where(job: &mut Job, asked: impl Fn(&Part) -> bool, visit: &mut Visit<'_>) {
    walk_mains(&mut job.mains, visit);
    walk_air(&mut job.air, visit);
    for part in job.parts.iter_mut().filter(|part| asked(part)) {
        walk_part(Arc::make_mut(part), &job.states, visit);
    }
}

fn walk_mains(mains: &mut Mains, visit: &mut Visit<'_>) {
    visit(&["mains", "voltage"], &mut mains.voltage, POSITIVE);
    visit(&["mains", "frequency"], &mut mains.frequency, POSITIVE);
    visit(&["mains", "flatness"], &mut mains.flatness, FLATNESS);
}

fn walk_air(air: &mut Air, visit: &mut Visit<'_>) {
    visit(&["room"], &mut air.room, TEMPERATURE);
    match &mut air.rise {
        BoxRise::Given(rise) => visit(&["box", "rise"], rise, NOT_NEGATIVE),
        BoxRise::Through(to_room) => visit(&["box", "to_room"], to_room, POSITIVE),
    }
}

fn walk_part(part: &mut Part, states: &[State], visit: &mut Visit<'_>) {
    let name = part.name.as_str();
    match &mut part.kind {
        PartKind::Fuse(fuse) => visit(&[name, "resistance"], &mut fuse.resistance, NOT_NEGATIVE),
        PartKind::Switch(switch) => {
            visit(&[name, "resistance"], &mut switch.resistance, NOT_NEGATIVE);
        }
        PartKind::Lamp(lamp) => {
            visit(&[name, "watts"], &mut lamp.watts, POSITIVE);
            visit(&[name, "volts"], &mut lamp.volts, POSITIVE);
        }
        PartKind::VariableTransformer(variable) => {
            visit(&[name, "setting"], &mut variable.setting, NOT_NEGATIVE);
            visit(
                &[name, "resistance"],
                &mut variable.resistance,
                NOT_NEGATIVE,
            );
        }
        PartKind::Transformer(transformer) => walk_transformer(name, transformer, visit),
        PartKind::Rectifier(rectifier) => {
            walk_diode(name, &mut rectifier.curve, &mut rectifier.rated, visit);
        }
        PartKind::Capacitor(capacitor) => {
            visit(&[name, "value"], &mut capacitor.value, POSITIVE);
            visit(&[name, "esr"], &mut capacitor.esr, NOT_NEGATIVE);
            visit(&[name, "leakage"], &mut capacitor.leakage, NOT_NEGATIVE);
        }
        PartKind::Resistor(resistor) => visit(&[name, "value"], &mut resistor.value, NOT_NEGATIVE),
        PartKind::Inductor(inductor) => {
            visit(&[name, "value"], &mut inductor.value, POSITIVE);
            visit(
                &[name, "resistance"],
                &mut inductor.resistance,
                NOT_NEGATIVE,
            );
        }
        PartKind::Wire(wire) => visit(&[name, "resistance"], &mut wire.resistance, NOT_NEGATIVE),
        PartKind::Diode(diode) => walk_diode(name, &mut diode.curve, &mut diode.rated, visit),
        PartKind::Regulator(regulator) => walk_regulator(name, regulator, visit),
        PartKind::Transistor(transistor) => walk_transistor(name, transistor, visit),
        PartKind::Shunt(shunt) => walk_shunt(name, shunt, visit),
        PartKind::Sink(sink) => visit(&[name, "to_air"], &mut sink.to_air, POSITIVE),
        PartKind::Load(load) => walk_load(name, load, states, visit),
    }
}

fn walk_transformer(name: &str, transformer: &mut Transformer, visit: &mut Visit<'_>) {
    for winding in &mut transformer.primary {
        let of = winding.name.as_str();
        visit(&[name, of, "volts"], &mut winding.volts, POSITIVE);
        if !winding.is_of_plates {
            visit(
                &[name, of, "resistance"],
                &mut winding.resistance,
                NOT_NEGATIVE,
            );
        }
    }
    for winding in &mut transformer.secondary {
        let of = winding.name.as_str();
        match &mut winding.plate {
            None => visit(&[name, of, "open"], &mut winding.open, POSITIVE),
            Some(plate) => {
                visit(&[name, of, "plate"], &mut plate.volts, POSITIVE);
                visit(&[name, of, "plate_current"], &mut plate.amperes, POSITIVE);
                visit(&[name, of, "regulation"], &mut plate.regulation, REGULATION);
            }
        }
        visit(&[name, of, "at_primary"], &mut winding.at_primary, POSITIVE);
        if !winding.is_of_plates {
            visit(
                &[name, of, "resistance"],
                &mut winding.resistance,
                NOT_NEGATIVE,
            );
        }
        visit(&[name, of, "leakage"], &mut winding.leakage, NOT_NEGATIVE);
        for tap in &mut winding.taps {
            visit(&[name, of, "taps", &tap.name], &mut tap.share, SHARE);
        }
    }
    if transformer.shares_loss() {
        visit(
            &[name, "secondary_share"],
            &mut transformer.secondary_share,
            SHARE,
        );
    }
    visit(&[name, "no_load"], &mut transformer.no_load.0, POSITIVE);
    visit(&[name, "no_load_at"], &mut transformer.no_load.1, POSITIVE);
    for (index, existing) in transformer.existing.iter_mut().enumerate() {
        let number = (index + 1).to_string();
        visit(
            &[name, "existing", &number],
            &mut existing.draws,
            NOT_NEGATIVE,
        );
    }
    visit(&[name, "read_at"], &mut transformer.read_at, TEMPERATURE);
    // With a thermal resistance the rise is solved, and the given one means nothing.
    match &mut transformer.to_air {
        Some(to_air) => visit(&[name, "to_air"], to_air, POSITIVE),
        None => visit(&[name, "rise"], &mut transformer.rise, NOT_NEGATIVE),
    }
    transformer.follow_plates();
}

fn walk_diode(name: &str, curve: &mut DiodeCurve, rated: &mut DiodeRatings, visit: &mut Visit<'_>) {
    match curve {
        DiodeCurve::Law {
            saturation,
            ideality,
            series,
            leakage,
            ..
        } => {
            visit(&[name, "saturation"], saturation, POSITIVE);
            visit(&[name, "ideality"], ideality, POSITIVE);
            visit(&[name, "series"], series, NOT_NEGATIVE);
            visit(&[name, "leakage"], leakage, NOT_NEGATIVE);
        }
        DiodeCurve::Points { points, .. } => {
            for (index, (volts, _)) in points.iter_mut().enumerate() {
                visit(&[name, "points", &(index + 1).to_string()], volts, POSITIVE);
            }
        }
        DiodeCurve::Ideal { drop, slope } => {
            visit(&[name, "drop"], drop, NOT_NEGATIVE);
            visit(&[name, "slope"], slope, NOT_NEGATIVE);
        }
    }
    if let Some(thermal) = &mut rated.thermal {
        visit(&[name, "thermal"], thermal, POSITIVE);
    }
}

fn walk_regulator(name: &str, regulator: &mut Regulator, visit: &mut Visit<'_>) {
    walk_set_point(name, &mut regulator.set, visit);
    for (index, (_, volts)) in regulator.dropout.iter_mut().enumerate() {
        visit(
            &[name, "dropout", &(index + 1).to_string()],
            volts,
            NOT_NEGATIVE,
        );
    }
    for (index, (_, decibels)) in regulator.rejection.iter_mut().enumerate() {
        visit(
            &[name, "rejection", &(index + 1).to_string()],
            decibels,
            NOT_NEGATIVE,
        );
    }
    visit(
        &[name, "output_resistance"],
        &mut regulator.output_resistance,
        NOT_NEGATIVE,
    );
    visit(&[name, "quiescent"], &mut regulator.quiescent, NOT_NEGATIVE);
    visit(
        &[name, "minimum_load"],
        &mut regulator.minimum_load,
        NOT_NEGATIVE,
    );
    visit(&[name, "limit"], &mut regulator.limit, POSITIVE);
    visit(&[name, "loop_time"], &mut regulator.loop_time, POSITIVE);
    for (key, noise) in [
        ("noise", &mut regulator.noise),
        ("reference_noise", &mut regulator.reference_noise),
    ] {
        if let Some(noise) = noise {
            walk_noise(name, key, noise, visit);
        }
    }
    if let Some(thermal) = &mut regulator.junction_to_case {
        visit(&[name, "junction_to_case"], thermal, POSITIVE);
    }
    if regulator.sink.is_some() || regulator.case_to_sink.why_default().is_none() {
        visit(
            &[name, "case_to_sink"],
            &mut regulator.case_to_sink,
            NOT_NEGATIVE,
        );
    }
    if let Some(thermal) = &mut regulator.junction_to_air {
        visit(&[name, "junction_to_air"], thermal, POSITIVE);
    }
}

fn walk_transistor(name: &str, transistor: &mut Transistor, visit: &mut Visit<'_>) {
    visit(&[name, "gain"], &mut transistor.gain, POSITIVE);
    for (index, (volts, _)) in transistor.base_emitter.iter_mut().enumerate() {
        let number = (index + 1).to_string();
        visit(&[name, "base_emitter", &number], volts, POSITIVE);
    }
    let saturation = &mut transistor.saturation.0;
    visit(&[name, "saturation"], saturation, POSITIVE);
    visit(&[name, "early"], &mut transistor.early, POSITIVE);
    let base = &mut transistor.base_resistance;
    visit(&[name, "base_resistance"], base, NOT_NEGATIVE);
    if let Some(thermal) = &mut transistor.junction_to_case {
        visit(&[name, "junction_to_case"], thermal, POSITIVE);
    }
    if transistor.sink.is_some() || transistor.case_to_sink.why_default().is_none() {
        visit(
            &[name, "case_to_sink"],
            &mut transistor.case_to_sink,
            NOT_NEGATIVE,
        );
    }
    if let Some(thermal) = &mut transistor.junction_to_air {
        visit(&[name, "junction_to_air"], thermal, POSITIVE);
    }
}

fn walk_shunt(name: &str, shunt: &mut Shunt, visit: &mut Visit<'_>) {
    match &mut shunt.set {
        ShuntSet::Fixed(volts) => visit(&[name, "fixed"], volts, POSITIVE),
        ShuntSet::Divided {
            reference,
            upper,
            lower,
        } => {
            visit(&[name, "reference"], reference, POSITIVE);
            visit(&[name, "upper"], upper, POSITIVE);
            visit(&[name, "lower"], lower, POSITIVE);
        }
    }
    visit(&[name, "resistance"], &mut shunt.resistance, NOT_NEGATIVE);
    if let Some(noise) = &mut shunt.noise {
        walk_noise(name, "noise", noise, visit);
    }
    if let Some(thermal) = &mut shunt.junction_to_air {
        visit(&[name, "junction_to_air"], thermal, POSITIVE);
    }
}

fn walk_set_point(name: &str, set: &mut SetPoint, visit: &mut Visit<'_>) {
    // No change turns a regulator into one of the other polarity.
    let side = if set.volts() < 0.0 {
        Bounds::Negative
    } else {
        POSITIVE
    };
    match set {
        SetPoint::Fixed(volts) => visit(&[name, "set", "fixed"], volts, side),
        SetPoint::AcrossUpper {
            reference,
            upper,
            lower,
            adjust,
            bypass,
        } => {
            visit(&[name, "set", "reference"], reference, side);
            visit(&[name, "set", "upper"], upper, POSITIVE);
            visit(&[name, "set", "lower"], lower, POSITIVE);
            visit(&[name, "set", "adjust"], adjust, NOT_NEGATIVE);
            if let Some(bypass) = bypass {
                visit(&[name, "set", "bypass"], bypass, NOT_NEGATIVE);
            }
        }
        SetPoint::AcrossLower {
            reference,
            upper,
            lower,
        }
        | SetPoint::AcrossBoth {
            reference,
            upper,
            lower,
        } => {
            visit(&[name, "set", "reference"], reference, side);
            visit(&[name, "set", "upper"], upper, POSITIVE);
            visit(&[name, "set", "lower"], lower, POSITIVE);
        }
        SetPoint::Trimmed {
            to,
            trimmer,
            divider,
        } => {
            visit(&[name, "set", "to"], to, side);
            visit(&[name, "set", "trimmer"], trimmer, POSITIVE);
            if let Some(divider) = divider {
                visit(&[name, "set", "reference"], &mut divider.reference, side);
                visit(&[name, "set", "upper"], &mut divider.upper, POSITIVE);
                visit(&[name, "set", "lower"], &mut divider.lower, POSITIVE);
                if let Some(bypass) = &mut divider.bypass {
                    visit(&[name, "set", "bypass"], bypass, NOT_NEGATIVE);
                }
            }
        }
    }
}

fn walk_noise(name: &str, key: &str, noise: &mut Noise, visit: &mut Visit<'_>) {
    match &mut noise.density {
        Density::Flat { level, corner } => {
            visit(&[name, key, "density"], level, NOT_NEGATIVE);
            if let Some(corner) = corner {
                visit(&[name, key, "corner"], corner, NOT_NEGATIVE);
            }
        }
        Density::Points(points) => {
            for (index, (_, level)) in points.iter_mut().enumerate() {
                let number = (index + 1).to_string();
                visit(&[name, key, "points", &number], level, POSITIVE);
            }
        }
        Density::Total { volts, .. } => visit(&[name, key, "total"], volts, NOT_NEGATIVE),
        Density::Share { share, .. } => visit(&[name, key, "total"], share, NOT_NEGATIVE),
    }
}

fn walk_load(name: &str, load: &mut Load, states: &[State], visit: &mut Visit<'_>) {
    for (state, draw) in states.iter().zip(&mut load.draws) {
        let address = ["load", name, state.name.as_str()];
        match draw {
            LoadDraw::Current(amperes) => visit(&address, amperes, NOT_NEGATIVE),
            LoadDraw::Resistance(ohms) => visit(&address, ohms, POSITIVE),
            LoadDraw::Power(watts) => visit(&address, watts, NOT_NEGATIVE),
        }
    }
    // A state may be called `below`: the first of two equal addresses wins, and that is the draw.
    let taken = states.iter().any(|state| state.name == "below");
    // A resistance fades by itself.
    let fades = load
        .draws
        .iter()
        .any(|draw| !matches!(draw, LoadDraw::Resistance(_)));
    if !taken && fades {
        visit(&["load", name, "below"], &mut load.below, POSITIVE);
    }
}

#[cfg(test)]
mod tests {
    use super::moved;
    use crate::keys::Bounds;
    use quietrail_units::{Form, Ohms, Quantity};

    fn around(low: f64, nominal: f64, high: f64, form: Form) -> Quantity<Ohms> {
        Quantity::within(low, nominal, high, form)
    }

    #[test]
    fn percentages_scale_and_absolute_tolerances_shift() {
        let scaled = moved(
            &around(80.0, 100.0, 120.0, Form::Percent),
            200.0,
            Bounds::Positive,
        );
        assert_eq!(
            (scaled.low, scaled.nominal, scaled.high),
            (160.0, 200.0, 240.0)
        );
        let shifted = moved(
            &around(90.0, 100.0, 110.0, Form::Absolute),
            200.0,
            Bounds::Positive,
        );
        assert_eq!(
            (shifted.low, shifted.nominal, shifted.high),
            (190.0, 200.0, 210.0)
        );
    }

    #[test]
    fn a_tolerance_never_leaves_the_bounds() {
        let cut = moved(
            &around(0.0, 0.025, 0.05, Form::Range),
            0.01,
            Bounds::NotNegative,
        );
        assert_eq!((cut.low, cut.nominal), (0.0, 0.01));
        assert_eq!(cut.form, Form::RangeAround);
        let scaled = moved(
            &around(1.0, 2.0, 3.0, Form::Absolute),
            0.5,
            Bounds::Positive,
        );
        assert_eq!((scaled.low, scaled.nominal, scaled.high), (0.25, 0.5, 0.75));
    }
}
