//! A level in every unit, with what is missing for the rest.

use crate::parts;
use crate::sheet::Sheet;
use crate::words::regulators as words;
use maud::{Markup, html};
use quietrail_report::translate::units;
use quietrail_report::words::translate as told;
use quietrail_study::level::{Shape, USUAL_CREST};
use quietrail_study::translate::{Given, Need, Sensitivity, Without, read, translate};
use quietrail_units::{Hertz, HertzPerVolt, Ohms, PerVolt, Quantity, Ratio, Unit};

/// Fields beside the level: key, label, an example.
const FIELDS: [(&str, &str, &str); 7] = [
    ("band", "band", "10 Hz .. 100 kHz"),
    ("into", "into", "50 Ω"),
    ("at", "swings at", "100 Hz"),
    ("carrier", "carrier", "10 MHz"),
    ("shifts", "a volt shifts it by", "2 ppb/V"),
    ("amplitude", "a volt moves its level by", "0.1 %/V"),
    ("crest", "p-p over rms of noise", "6.6"),
];

/// What a level may look like.
const SHAPES: [(&str, Shape); 5] = [
    ("sine", Shape::Sine),
    ("triangle", Shape::Triangle),
    ("sawtooth", Shape::Sawtooth),
    ("square", Shape::Square),
    ("noise", Shape::Noise { crest: USUAL_CREST }),
];

pub(super) fn translator(sheet: &Sheet<'_>) -> Markup {
    let typed = |key: &str| sheet.asked.get(key).unwrap_or("").to_owned();
    let own: Vec<&str> = ["level", "looks"]
        .into_iter()
        .chain(FIELDS.map(|(key, ..)| key))
        .collect();
    html! {
        section class="translator" {
            h2 { (words::UNITS) }
            form method="get" action="regulators" data-follow class="units-form" {
                (parts::hidden(&sheet.asked, &own))
                label { (words::LEVEL) input name="level" value=(typed("level")) placeholder="20 mV p-p" autocomplete="off"; }
                label { (words::LOOKS_LIKE)
                    select name="looks" {
                        option value="" { (words::NOT_KNOWN) }
                        @for (word, _) in &SHAPES { option value=(word) selected[*word == typed("looks")] { (word) } }
                    }
                }
                @for (key, label, example) in FIELDS {
                    label { (label) input name=(key) value=(typed(key)) placeholder=(example) autocomplete="off"; }
                }
                button class="btn" { (words::SAY) }
            }
            div id="units" data-live { (answer(&typed)) }
        }
    }
}

fn answer(typed: &dyn Fn(&str) -> String) -> Markup {
    if typed("level").trim().is_empty() {
        return html! { p class="soft" { (words::TYPE_A_LEVEL) } };
    }
    let level = match read(&typed("level")) {
        Ok(level) => level,
        Err(why) => return html! { p class="fault" role="alert" { (told::not_a_level(&why)) } },
    };
    let given = match given(typed) {
        Ok(given) => given,
        Err(why) => return html! { p class="fault" role="alert" { (why) } },
    };
    let found = translate(level, given);
    let mut missing: Vec<Need> = found
        .rows
        .iter()
        .filter_map(|row| match &row.value {
            Err(Without::Missing(needs)) => Some(needs.clone()),
            _ => None,
        })
        .flatten()
        .collect();
    missing.sort_unstable();
    missing.dedup();
    html! {
        dl class="unitlist" { @for (unit, value) in units(&found) { div { dt { (unit) } dd class="num" { (value) } } } }
        @if !missing.is_empty() {
            p class="soft" { (words::MISSING) }
            ul class="soft" { @for need in missing { li { (words::need(need)) } } }
        }
    }
}

fn given(typed: &dyn Fn(&str) -> String) -> Result<Given, String> {
    let shape = SHAPES.iter().find(|(word, _)| *word == typed("looks"));
    let crest = one::<Ratio>(&typed("crest"))?;
    let shape = shape.map(|(_, shape)| match (shape, crest) {
        (Shape::Noise { .. }, Some(crest)) => Shape::Noise { crest },
        (shape, _) => *shape,
    });
    Ok(Given {
        shape,
        band: band(&typed("band"))?,
        ohms: one::<Ohms>(&typed("into"))?,
        at: one::<Hertz>(&typed("at"))?,
        carrier: one::<Hertz>(&typed("carrier"))?,
        shifts: shifts(&typed("shifts"))?,
        amplitude: one::<PerVolt>(&typed("amplitude"))?,
    })
}

/// A value above zero, or nothing where nothing is typed.
fn one<U: Unit>(text: &str) -> Result<Option<f64>, String> {
    if text.trim().is_empty() {
        return Ok(None);
    }
    let quantity = Quantity::<U>::parse(text).map_err(|why| why.to_string())?;
    if quantity.nominal > 0.0 {
        Ok(Some(quantity.nominal))
    } else {
        Err(words::above_zero(text, U::KIND.example()))
    }
}

fn band(text: &str) -> Result<Option<(f64, f64)>, String> {
    if text.trim().is_empty() {
        return Ok(None);
    }
    let quantity = Quantity::<Hertz>::parse(text).map_err(|why| why.to_string())?;
    if quantity.low < quantity.high && quantity.low >= 0.0 {
        Ok(Some((quantity.low, quantity.high)))
    } else {
        Err(words::above_zero(text, "10 Hz .. 100 kHz"))
    }
}

fn shifts(text: &str) -> Result<Option<Sensitivity>, String> {
    if Quantity::<HertzPerVolt>::parse(text).is_ok() {
        return Ok(one::<HertzPerVolt>(text)?.map(Sensitivity::HertzPerVolt));
    }
    Ok(one::<PerVolt>(text)?.map(Sensitivity::PerVolt))
}
