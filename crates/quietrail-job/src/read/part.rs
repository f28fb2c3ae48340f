//! Two-ended parts, rectifiers, sinks and loads.

use super::derived::{default_exact, default_range, quotient};
use super::fields::{Fields, figure};
use super::mains::or_default;
use crate::fault::{Fault, Faults};
use crate::keys::CURVE_KEYS;
use crate::model::{
    Between, Capacitor, CapacitorRatings, Diode, DiodeCurve, DiodeRatings, Figure, Inductor, Load,
    LoadDraw, Rectifier, RectifierForm, Resistor, RippleRating, Sink, Wire,
};
use crate::written::Value;
use quietrail_units::{
    Amperes, Celsius, Farads, Hertz, Metres, Ohms, Ratio, Siemens, SquareMetres, Unit, Volts, Watts,
};
use std::f64::consts::TAU;

/// Resistivity of annealed copper at 20 °C in Ω·m. Source: IEC 60028, 1/58 Ω·mm²/m.
const COPPER: f64 = 1.0 / 58.0e6;

/// Below this a capacitor without figures for its losses is taken for film or ceramic, in farads.
/// Common practice, no source.
const SMALLEST_ELECTROLYTIC: f64 = 1e-6;

/// `[capacitor.C1]`
pub(crate) fn capacitor(fields: &Fields<'_>, faults: &mut Faults) -> Option<Capacitor> {
    let value = fields.figure("value")?;
    let between = fields.ends()?;
    let is_for_ac = fields.inner("rated").is_some_and(|rated| rated.has("ac"));
    let is_large = value.nominal() >= SMALLEST_ELECTROLYTIC;
    Some(Capacitor {
        is_polar: fields.truth("polar").unwrap_or(is_large && !is_for_ac),
        esr: esr(fields, &value, faults)?,
        leakage: leakage(fields)?,
        drawn: drawn::<Farads>(fields, "value"),
        drawn_esr: drawn::<Ohms>(fields, "esr"),
        value_at: over_temperature(fields, "value_at", faults),
        esr_at: over_temperature(fields, "esr_at", faults),
        unused: if fields.has("unused") {
            Some(fields.figure("unused")?)
        } else {
            None
        },
        rated: match fields.inner("rated") {
            Some(rated) => {
                peak_rating(&between, (&rated, &fields.owner), faults);
                capacitor_ratings(&rated, faults)?
            }
            None => CapacitorRatings::default(),
        },
        between,
        value,
    })
}

/// Factors at rising temperatures.
fn over_temperature(
    fields: &Fields<'_>,
    key: &'static str,
    faults: &mut Faults,
) -> Vec<(f64, f64)> {
    let points = fields.points::<Ratio, Celsius>(key).unwrap_or_default();
    let rises = points
        .iter()
        .map(|(_, celsius, at)| (celsius.nominal(), *at));
    rising(key, rises, faults);
    let mut over: Vec<(f64, f64)> = points
        .iter()
        .map(|(factor, celsius, _)| (celsius.nominal(), factor.nominal()))
        .collect();
    // They are over the value at 20 °C, so that one is known without being written.
    if !over.is_empty() && over.iter().all(|(celsius, _)| *celsius != MARKED_AT) {
        let at = over.partition_point(|(celsius, _)| *celsius < MARKED_AT);
        over.insert(at, (MARKED_AT, 1.0));
    }
    over
}

/// Temperature at which a capacitor has its marked value, °C.
const MARKED_AT: f64 = 20.0;

/// What the drawing asks for, where it stands beside what was fitted or measured.
fn drawn<U: Unit>(fields: &Fields<'_>, key: &str) -> Option<f64> {
    let table = fields.value(key)?.table()?;
    if table.get("fitted").is_none() && table.get("measured").is_none() {
        return None;
    }
    let drawn = super::fields::figure::<U>(table.get("drawn")?)?;
    Some(drawn.nominal())
}

/// The series resistance: given, or from the loss factor as `tan δ / (2π f C)` at the nominal C.
fn esr(fields: &Fields<'_>, value: &Figure<Farads>, faults: &mut Faults) -> Option<Figure<Ohms>> {
    if !fields.has("tan_delta") {
        return or_default(fields, "esr", esr_default(value.nominal()));
    }
    let (loss, hertz) = fields.figure_at::<Ratio, Hertz>("tan_delta")?;
    let from_loss = quotient::<Ohms, _, _>(1.0 / (TAU * value.nominal()), &loss, &hertz);
    if !fields.has("esr") {
        return Some(from_loss);
    }
    let given = fields.figure::<Ohms>("esr")?;
    let apart = given.value.low > from_loss.value.high || from_loss.value.low > given.value.high;
    if apart {
        let computed = format!(
            "tan δ gives {} at {} with {}",
            from_loss.value, hertz.value, value.value
        );
        let fault = Fault::Disagree {
            first: "esr".to_owned(),
            second: "tan_delta".to_owned(),
            computed,
        };
        faults.at(fields.place_of("tan_delta"), &fault);
    }
    Some(given)
}

fn esr_default(farads: f64) -> Figure<Ohms> {
    if farads < SMALLEST_ELECTROLYTIC {
        let why = "neither esr nor tan_delta given; under 1 µF taken for film or ceramic, 0 Ω .. 1 Ω, common \
                   practice, no source";
        return default_range(0.0, 0.1, 1.0, why);
    }
    let why = "neither esr nor tan_delta given; a loss factor of 0.02 .. 0.25 at 120 Hz stands in, as of the \
               electrolytics in the built-in catalogue";
    let ohms = |loss: f64| loss / (TAU * 120.0 * farads);
    default_range(ohms(0.02), ohms(0.1), ohms(0.25), why)
}

/// Leakage as a conductance: given so, or a current at a voltage.
fn leakage(fields: &Fields<'_>) -> Option<Figure<Siemens>> {
    if !fields.has("leakage") {
        return Some(default_exact(0.0, "leakage not given; none assumed"));
    }
    match fields.figure_at::<Amperes, Volts>("leakage") {
        Some((amperes, volts)) => Some(quotient(1.0, &amperes, &volts)),
        None => fields.figure("leakage"),
    }
}

/// A rating that may be one for alternating voltage, of a capacitor on the mains: it is not taken as such unasked.
fn peak_rating(between: &Between, (rated, owner): (&Fields<'_>, &str), faults: &mut Faults) {
    let is_mains = |node: &String| node.starts_with("inlet.") || node.contains(".primary.");
    if (is_mains(&between.plus) || is_mains(&between.minus))
        && rated.has("volts")
        && !rated.has("ac")
    {
        let owner = owner.to_owned();
        faults.at(rated.place_of("volts"), &Fault::PeakRating { owner });
    }
}

fn capacitor_ratings(fields: &Fields<'_>, faults: &mut Faults) -> Option<CapacitorRatings> {
    let multipliers = match fields.points::<Ratio, Hertz>("multipliers") {
        Some(points) => {
            rising(
                "multipliers",
                points.iter().map(|(_, hertz, at)| (hertz.nominal(), *at)),
                faults,
            );
            points
                .iter()
                .map(|(factor, hertz, _)| (hertz.nominal(), factor.nominal()))
                .collect()
        }
        None => Vec::new(),
    };
    let ripple = fields
        .figure_at("ripple")
        .map(|(amps, hertz)| RippleRating {
            amps,
            hertz,
            multipliers,
        });
    Some(CapacitorRatings {
        volts: fields.figure("volts"),
        ac: fields.figure("ac"),
        ripple,
        life: fields.figure_at("life"),
    })
}

/// Reports the first of the values that is not higher than the one before it.
pub(crate) fn rising<'a>(
    key: &'static str,
    values: impl Iterator<Item = (f64, &'a Value)>,
    faults: &mut Faults,
) {
    let mut last = f64::NEG_INFINITY;
    for (value, at) in values {
        if value <= last {
            faults.of(at, &Fault::NotRising { key });
            return;
        }
        last = value;
    }
}

/// `[resistor.R1]`
pub(crate) fn resistor(fields: &Fields<'_>) -> Option<Resistor> {
    Some(Resistor {
        between: fields.ends()?,
        value: fields.figure("value")?,
        rated: fields.figure("rated"),
    })
}

/// `[inductor.L1]`
pub(crate) fn inductor(fields: &Fields<'_>) -> Option<Inductor> {
    Some(Inductor {
        between: fields.ends()?,
        value: fields.figure("value")?,
        resistance: fields.figure("resistance")?,
        rated: fields.figure("rated"),
    })
}

/// `[wire.W1]`
pub(crate) fn wire(fields: &Fields<'_>, faults: &mut Faults) -> Option<Wire> {
    let between = fields.ends();
    if fields.has("resistance") {
        return Some(Wire {
            between: between?,
            resistance: fields.figure("resistance")?,
        });
    }
    if fields.has("length") && !fields.has("area") {
        let fault = Fault::MissingFigure {
            owner: fields.owner.clone(),
            key: "area",
            says: "Cross-section of the copper.",
            entry: fields.entry(),
        };
        faults.at(fields.place.clone(), &fault);
    }
    let length = fields.figure::<Metres>("length")?;
    let area = fields.figure::<SquareMetres>("area")?;
    Some(Wire {
        between: between?,
        resistance: quotient(COPPER, &length, &area),
    })
}

/// `[diode.D1]`
pub(crate) fn diode(fields: &Fields<'_>, faults: &mut Faults) -> Option<Diode> {
    Some(Diode {
        between: fields.ends()?,
        curve: curve(fields, faults)?,
        rated: diode_ratings(fields),
    })
}

/// The forward curve, by points, law or handbook figures.
fn curve(fields: &Fields<'_>, faults: &mut Faults) -> Option<DiodeCurve> {
    if let Some(law) = fields.inner("law") {
        return Some(DiodeCurve::Law {
            saturation: law.figure("saturation")?,
            ideality: law.figure("ideality")?,
            series: law.figure("series")?,
            leakage: or_default(
                &law,
                "leakage",
                default_exact(0.0, "leakage not given; none assumed"),
            )?,
            at: or_default(&law, "at", curve_temperature())?,
        });
    }
    if let Some(ideal) = fields.inner("ideal") {
        return Some(DiodeCurve::Ideal {
            drop: ideal.figure("drop")?,
            slope: or_default(
                &ideal,
                "slope",
                default_exact(0.0, "slope not given; none assumed"),
            )?,
        });
    }
    let points = fields.points::<Volts, Amperes>("points")?;
    if !(2..=3).contains(&points.len()) {
        faults.at(
            fields.place_of("points"),
            &Fault::PointCount {
                found: points.len(),
            },
        );
        return None;
    }
    rising(
        "points",
        points.iter().map(|(volts, _, at)| (volts.nominal(), *at)),
        faults,
    );
    rising(
        "points",
        points
            .iter()
            .map(|(_, amperes, at)| (amperes.nominal(), *at)),
        faults,
    );
    let points = points
        .into_iter()
        .map(|(volts, amperes, _)| (volts, amperes))
        .collect();
    Some(DiodeCurve::Points {
        points,
        at: or_default(fields, "points_at", curve_temperature())?,
    })
}

fn curve_temperature<U: Unit>() -> Figure<U> {
    default_exact(
        25.0,
        "junction temperature of the forward curve not given; data sheets mostly say 25 °C",
    )
}

fn diode_ratings(fields: &Fields<'_>) -> DiodeRatings {
    let Some(rated) = fields.inner("rated") else {
        return DiodeRatings::default();
    };
    DiodeRatings {
        reverse: rated.figure("reverse"),
        average: rated.figure("average"),
        peak: rated.figure("peak"),
        surge: rated.figure_at("surge"),
        thermal: rated.figure("thermal"),
        junction: rated.figure("junction"),
    }
}

/// `[rectifier.D1]`
pub(crate) fn rectifier(fields: &Fields<'_>, faults: &mut Faults) -> Option<Rectifier> {
    let no_curve = CURVE_KEYS.iter().all(|key| !fields.has(key));
    if no_curve && !fields.has("diode") {
        let fault = Fault::MissingOneOf {
            owner: fields.owner.clone(),
            keys: ["diode"]
                .into_iter()
                .chain(CURVE_KEYS.iter().copied())
                .collect(),
        };
        faults.at(fields.place.clone(), &fault);
    }
    let form = rectifier_form(fields, faults);
    Some(Rectifier {
        from: fields.text("from")?.to_owned(),
        into: fields.text("into")?.to_owned(),
        ret: fields.text("return").unwrap_or("common").to_owned(),
        form: form?,
        curve: curve(fields, faults)?,
        rated: diode_ratings(fields),
        sink: fields.text("sink").map(str::to_owned),
        span: fields.job_span("from"),
    })
}

fn rectifier_form(fields: &Fields<'_>, faults: &mut Faults) -> Option<RectifierForm> {
    let form = fields.text("form")?;
    let wanted = match form {
        "split" => Some("negative"),
        "doubler" => Some("middle"),
        "cascade doubler" => Some("pump"),
        "bridge" | "centre-tap" | "half-wave" => None,
        _ => return None,
    };
    for key in ["negative", "middle", "pump"] {
        let needed = wanted == Some(key);
        if needed != fields.has(key) {
            let fault = Fault::FormNode {
                form: form.to_owned(),
                key,
                wanted: needed,
            };
            let at = if needed {
                fields.place_of("form")
            } else {
                fields.place_of(key)
            };
            faults.at(at, &fault);
        }
    }
    Some(match form {
        "bridge" => RectifierForm::Bridge,
        "centre-tap" => RectifierForm::CentreTap,
        "half-wave" => RectifierForm::HalfWave,
        "split" => RectifierForm::Split {
            negative: fields.text("negative")?.to_owned(),
        },
        "doubler" => RectifierForm::Doubler {
            middle: fields.text("middle")?.to_owned(),
        },
        _ => RectifierForm::CascadeDoubler {
            pump: fields.text("pump")?.to_owned(),
        },
    })
}

/// `[sink.SK1]`
pub(crate) fn sink(fields: &Fields<'_>) -> Option<Sink> {
    Some(Sink {
        to_air: fields.figure("to_air")?,
        weight: fields.figure("weight"),
    })
}

/// `[load.oven]`; the draws in the order of the states.
pub(crate) fn load(fields: &Fields<'_>, states: &[&str]) -> Option<Load> {
    let draws = states
        .iter()
        .map(|state| {
            let entry = fields
                .named("draws")
                .iter()
                .find(|entry| entry.key == *state)?;
            draw(&entry.value)
        })
        .collect::<Option<Vec<_>>>()?;
    let why = "not given; the load tapers to nothing below 1 V, so that it cannot pull a dead rail negative";
    Some(Load {
        between: fields.ends()?,
        draws,
        below: or_default(fields, "below", default_exact(1.0, why))?,
        volts: fields
            .inner("rated")
            .and_then(|rated| rated.figure("volts")),
        clamp: fields.figure("clamp"),
    })
}

/// A current, a resistance or a power: the unit tells.
fn draw(value: &Value) -> Option<LoadDraw> {
    figure::<Amperes>(value)
        .map(LoadDraw::Current)
        .or_else(|| figure::<Ohms>(value).map(LoadDraw::Resistance))
        .or_else(|| figure::<Watts>(value).map(LoadDraw::Power))
}

#[cfg(test)]
mod tests {
    use super::COPPER;

    #[test]
    fn copper_is_that_of_the_standard() {
        assert!((COPPER - 1.724e-8).abs() < 1e-11);
    }
}
