//! What a ring on the oscilloscope says, as text and as data.

use crate::Style;
use crate::json::FORMAT;
use crate::lines::joined;
use crate::number;
use crate::verdicts::wrapped;
use crate::words::ringing as words;
use quietrail_study::ringing::{NoRing, POOR, Ring, Snubber, Tank, WELL};
use serde_json::{Value, json};

/// What the swings after a step say.
pub fn step_text(ring: &Result<Ring, NoRing>, style: Style) -> String {
    let columns = style.columns();
    let mut out = Vec::new();
    match ring {
        Ok(ring) => {
            let said = words::step(
                ring.damping,
                ring.margin,
                ring.between.0,
                ring.between.1,
                ring.rings,
            );
            out.extend(wrapped(&said, columns));
            out.extend(wrapped(verdict(ring), columns));
        }
        Err(_) => out.extend(wrapped(words::OSCILLATES, columns)),
    }
    out.push(String::new());
    out.extend(wrapped(words::TWO_POLES, columns));
    out.extend(wrapped(words::HOW, columns));
    joined(out)
}

fn verdict(ring: &Ring) -> &'static str {
    if ring.margin < POOR {
        words::POOR
    } else if ring.margin < WELL {
        words::LITTLE
    } else {
        words::WELL
    }
}

/// The same as data.
pub fn step_json(ring: &Result<Ring, NoRing>) -> Value {
    match ring {
        Ok(ring) => json!({
            "format": FORMAT, "damping": ring.damping, "phase_margin_deg": ring.margin,
            "low_deg": ring.between.0, "high_deg": ring.between.1, "periods": ring.rings,
            "said": number::spaced(verdict(ring)),
        }),
        Err(_) => json!({
            "format": FORMAT, "damping": null, "phase_margin_deg": null, "low_deg": null, "high_deg": null, "periods": null,
            "said": number::spaced(words::OSCILLATES),
        }),
    }
}

/// What rings, and the snubber for it.
pub fn snubber_text(
    tank: &Tank,
    snubber: Option<&Snubber>,
    damping: f64,
    watts: Option<f64>,
    style: Style,
) -> String {
    let columns = style.columns();
    let farads = |value: f64| number::si(value, "F", 3);
    let henries = |value: f64| number::si(value, "H", 3);
    let (c, l) = (tank.farads, tank.henries);
    let said = words::tank(
        &farads(c.0),
        (&farads(c.1), &farads(c.2)),
        &henries(l.0),
        (&henries(l.1), &henries(l.2)),
        &number::si(tank.ohms, "Ω", 3),
    );
    let mut out = wrapped(&said, columns);
    match snubber {
        Some(one) => {
            let said = words::snubber(
                &number::written(one.farads, "F"),
                &number::written(one.ohms, "Ω"),
                one.damping,
                one.at_least,
            );
            out.extend(wrapped(&said, columns));
            if let Some(watts) = watts {
                out.extend(wrapped(&words::watts(&number::si(watts, "W", 2)), columns));
            }
        }
        None => out.extend(wrapped(&words::none(damping), columns)),
    }
    out.push(String::new());
    out.extend(wrapped(words::NO_LOSSES, columns));
    joined(out)
}

/// The same as data.
pub fn snubber_json(tank: &Tank, snubber: Option<&Snubber>, watts: Option<f64>) -> Value {
    let bounded =
        |(value, low, high): (f64, f64, f64)| json!({ "value": value, "low": low, "high": high });
    json!({
        "format": FORMAT,
        "capacitance_f": bounded(tank.farads),
        "inductance_h": bounded(tank.henries),
        "impedance_ohm": tank.ohms,
        "snubber": snubber.map(|one| json!({
            "capacitor_f": one.farads, "resistor_ohm": one.ohms, "damping": one.damping,
            "damping_at_least": one.at_least, "watts_at_most": watts,
        })),
    })
}
