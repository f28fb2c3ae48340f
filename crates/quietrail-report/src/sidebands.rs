//! What the supply does to an oscillator, as text and as data.

use quietrail_study::sidebands::{
    Cause, Line, Noise, PinFinding, PullFinding, STOP, Sidebands, Verdict,
};
use serde_json::{Value, json};

use crate::corner::corner_words;
use crate::json::FORMAT;
use crate::lines::joined;
use crate::number::{self, NO_BREAK};
use crate::translate::{decibels, ppb};
use crate::verdicts::wrapped;
use crate::words::sidebands as words;
use crate::{Style, words as all_words};

/// For a terminal.
pub fn text(found: &Sidebands, style: Style) -> String {
    let heading = all_words::heading(&found.title, &found.region);
    let mut out = wrapped(&heading, style.columns());
    for pin in &found.pins {
        out.push(String::new());
        out.extend(of_pin(pin, style));
    }
    for pull in &found.pulls {
        out.push(String::new());
        out.extend(of_pull(pull));
    }
    out.push(String::new());
    out.extend(wrapped(words::HONEST, style.columns()));
    joined(out)
}

fn of_pin(pin: &PinFinding, style: Style) -> Vec<String> {
    let mut out = vec![words::heading(&pin.oscillator, pin.pin, &pin.state)];
    let indented = |text: &str| -> Vec<String> {
        wrapped(text, style.columns().saturating_sub(2))
            .into_iter()
            .map(|line| format!("  {line}"))
            .collect()
    };
    if let Some(why) = &pin.why_not {
        out.extend(indented(&all_words::why_not(why, "V")));
        return out;
    }
    if let Some(verdict) = verdict(pin) {
        out.extend(indented(&verdict));
    }
    if pin.lines.is_empty() {
        out.extend(indented(words::NO_LINES));
    }
    for line in &pin.lines {
        out.push(format!("  {}", of_line(line)));
    }
    if !pin.noise.is_empty() {
        out.extend(indented(words::NOISE));
        let mut missing: Option<String> = None;
        for noise in &pin.noise {
            match of_noise(noise) {
                Ok(text) => out.push(format!("  {text}")),
                Err(why) if missing.as_ref() != Some(&why) => {
                    let hertz = number::written(noise.hertz, "Hz");
                    out.extend(indented(&format!("{hertz:>9}  not shown: {why}")));
                    missing = Some(why);
                }
                Err(_) => {}
            }
        }
    }
    let corner = corner_words(&pin.corner);
    if !corner.is_empty() {
        out.extend(indented(&format!("most ripple found at {corner}")));
    }
    out
}

fn dbc(level: f64) -> String {
    format!("{}{NO_BREAK}dBc", decibels(level))
}

fn verdict(pin: &PinFinding) -> Option<String> {
    let allowed = dbc(pin.allowed.unwrap_or(f64::NAN));
    match pin.verdict {
        Verdict::Holds { strongest } if strongest.is_finite() => {
            Some(words::holds(&dbc(strongest), &allowed))
        }
        Verdict::NotAsked | Verdict::Holds { .. } => None,
        Verdict::Fails { strongest } => Some(words::fails(&dbc(strongest), &allowed)),
        Verdict::NotMeasuredThere { strongest, hertz } => Some(words::not_measured(
            &dbc(strongest),
            &allowed,
            hertz,
            pin.flat_to,
        )),
        Verdict::NoSensitivity => Some(words::NO_SENSITIVITY.to_owned()),
    }
}

fn of_line(line: &Line) -> String {
    let frequency = line.through_frequency.map(dbc);
    let amplitude = line.through_amplitude.map(dbc);
    let levels = words::by(frequency.as_deref(), amplitude.as_deref());
    let allowed = line
        .allowed_rms
        .map_or_else(String::new, |rms| words::allowed(&number::si(rms, "V", 3)));
    words::line(
        &number::written(line.hertz, "Hz"),
        &number::si(line.rms, "V", 3),
        &levels,
        &allowed,
    )
}

fn of_noise(noise: &Noise) -> Result<String, String> {
    let (density, level) = match &noise.supply {
        Ok(both) => *both,
        Err(why) => return Err(all_words::why_not(why, "V")),
    };
    let hertz = number::written(noise.hertz, "Hz");
    let density = number::si(density, "V/√Hz", 3);
    let below = noise.below().map_or_else(String::new, |below| {
        format!("; {}", words::below(below, STOP))
    });
    Ok(format!(
        "{hertz:>9}  {density:>13}  {}{NO_BREAK}dBc/Hz{below}",
        decibels(level)
    ))
}

fn of_pull(pull: &PullFinding) -> Vec<String> {
    let mut out = vec![format!(
        "{}, {} pin. {}",
        pull.oscillator,
        pull.pin,
        words::PULLS
    )];
    for cause in &pull.causes {
        let text = match &cause.cause {
            Cause::State { from, to } => words::state(from, to),
            Cause::Mains { state } => words::mains(state),
            Cause::Temperature {
                part,
                drift,
                kelvins,
            } => words::temperature(
                part,
                &number::written(1e6 * drift, "ppm"),
                &number::written(*kelvins, "K"),
            ),
        };
        let share = if cause.share.is_finite() {
            ppb(cause.share)
        } else {
            all_words::ABSENT.to_owned()
        };
        out.push(format!(
            "  {:>11}  {share:>12}  {text}",
            number::si(cause.volts, "V", 3)
        ));
    }
    out
}

/// The exit status: 1 where a line fails, 3 where one is not shown, else 0.
pub fn exit_status(found: &Sidebands) -> u8 {
    let any = |wanted: fn(&PinFinding) -> bool| found.pins.iter().any(wanted);
    if any(|pin| matches!(pin.verdict, Verdict::Fails { .. })) {
        return 1;
    }
    let is_open = |pin: &PinFinding| {
        pin.why_not.is_some()
            || matches!(
                pin.verdict,
                Verdict::NotMeasuredThere { .. } | Verdict::NoSensitivity
            )
    };
    if any(is_open) { 3 } else { 0 }
}

/// As data.
pub fn to_json(found: &Sidebands) -> Value {
    let pins: Vec<Value> = found.pins.iter().map(pin_json).collect();
    let pulls: Vec<Value> = found
        .pulls
        .iter()
        .map(|pull| {
            let causes: Vec<Value> = pull
                .causes
                .iter()
                .map(|cause| {
                    let (kind, of) = match &cause.cause {
                        Cause::State { from, to } => ("state", format!("{from} to {to}")),
                        Cause::Mains { state } => ("mains", state.clone()),
                        Cause::Temperature { part, .. } => ("temperature", part.clone()),
                    };
                    json!({ "cause": kind, "of": of, "volts": cause.volts, "share": cause.share })
                })
                .collect();
            json!({ "oscillator": pull.oscillator, "pin": pull.pin, "causes": causes })
        })
        .collect();
    json!({ "format": FORMAT, "job": found.title, "pins": pins, "pulls": pulls })
}

fn pin_json(pin: &PinFinding) -> Value {
    let lines: Vec<Value> = pin
        .lines
        .iter()
        .map(|line| {
            json!({
                "hertz": line.hertz,
                "rms_v": line.rms,
                "by_frequency_dbc": line.through_frequency,
                "by_amplitude_dbc": line.through_amplitude,
                "allowed_rms_v": line.allowed_rms,
            })
        })
        .collect();
    let noise: Vec<Value> = pin
        .noise
        .iter()
        .map(|noise| match &noise.supply {
            Ok((density, level)) => json!({
                "hertz": noise.hertz, "density_v_per_root_hz": density, "dbc_per_hz": level,
                "own_dbc_per_hz": noise.own, "below_db": noise.below(),
            }),
            Err(why) => json!({
                "hertz": noise.hertz, "own_dbc_per_hz": noise.own,
                "why_not": number::spaced(&all_words::why_not(why, "V")),
            }),
        })
        .collect();
    let verdict = match pin.verdict {
        Verdict::NotAsked => "not asked",
        Verdict::Holds { .. } => "holds",
        Verdict::Fails { .. } => "fails",
        Verdict::NotMeasuredThere { .. } | Verdict::NoSensitivity => "not shown",
    };
    json!({
        "oscillator": pin.oscillator, "pin": pin.pin, "state": pin.state, "lines": lines,
        "noise": noise, "predicted": verdict, "allowed_dbc": pin.allowed,
        "corner_words": number::spaced(&corner_words(&pin.corner)),
    })
}
