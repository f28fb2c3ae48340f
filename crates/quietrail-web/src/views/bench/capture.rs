//! A capture for the row in hand: chosen, looked at with all that was taken for granted, laid over what is predicted, and then
//! kept beside the job with its value as a row of the log.

use super::Refusal;
use super::entry::{refused, set_up};
use crate::parts;
use crate::sheet::Sheet;
use crate::words;
use maud::{Markup, PreEscaped, html};
use quietrail_bench::capture::{Assumed, Capture, Figures, doubt, figures, read, tells, text_of};
use quietrail_bench::log::{Log, Observed};
use quietrail_job::Change;
use quietrail_job::model::{Job, PartKind};
use quietrail_report::words::{captures as told, readings, waves as told_of_waves};
use quietrail_report::{number, svg};
use quietrail_study::bringup::{Expectation, Step, fit, lowered_step, planned};
use quietrail_study::finding::Overall;
use quietrail_study::wave::Waves;
use quietrail_study::waves::{NoWaves, alone, overlay};
use quietrail_units::{Amperes, Quantity};
use std::sync::Arc;

/// A capture that is looked at: one that was just sent, or one that the log names.
pub(super) struct Wave {
    /// Its file's name.
    name: String,
    /// Under which it is held, while it is not kept.
    upload: Option<String>,
    /// Which of its signals, as asked for.
    column: Option<String>,
    found: Result<Arc<Seen>, String>,
}

/// What is in it.
pub(super) struct Seen {
    capture: Capture,
    figures: Figures,
    mains_hertz: f64,
}

impl Seen {
    /// What the row reads, and its unit.
    pub(super) fn value(&self, what: Observed) -> Result<(f64, &'static str), String> {
        let unit = what.kind().symbol();
        if unit != self.capture.unit && what != Observed::Frequency {
            return Err(words::bench::other_unit(self.capture.unit, unit));
        }
        let value = self.figures.of(what);
        value
            .map(|value| (value, unit))
            .ok_or_else(|| told::no_such_figure(what.word(), self.figures.cycles))
    }

    /// What is odd about it, for what a row reads.
    pub(super) fn doubt(&self, what: Observed) -> Option<String> {
        let odd = doubt(&self.capture, what, self.mains_hertz)?;
        Some(told::doubt(odd, self.capture.unit))
    }

    /// The series resistance that its sharpest step comes to, where so many amperes, as typed, were switched.
    pub(super) fn esr(&self, typed: &str) -> Result<(f64, f64), String> {
        let is_bare = typed.ends_with(|c: char| c.is_ascii_digit());
        let whole = if is_bare {
            format!("{typed} A")
        } else {
            typed.to_owned()
        };
        let amps = Quantity::<Amperes>::parse(&whole).map_err(|error| error.to_string())?;
        if self.capture.unit != "V" {
            return Err(told::not_volts(self.capture.unit));
        }
        let ohms = self.figures.esr(amps.nominal);
        ohms.map(|ohms| (ohms, amps.nominal))
            .ok_or_else(|| words::bench::NO_ESR.to_owned())
    }

    /// Its sharpest step.
    pub(super) fn step(&self) -> f64 {
        self.figures.step
    }

    /// Whether there is more than one signal to choose from.
    pub(super) fn has_columns(&self) -> bool {
        self.capture.signals > 1
    }
}

/// Reads what a file holds.
pub(super) fn seen(job: &Job, text: &str, column: Option<&str>) -> Result<Seen, String> {
    let capture = read(text, column).map_err(|fault| told::fault(&fault))?;
    let mains_hertz = job.mains.frequency.nominal();
    let figures = figures(&capture.samples, mains_hertz);
    Ok(Seen {
        capture,
        figures,
        mains_hertz,
    })
}

/// The capture that the page is asked to show for the row in hand.
pub(super) fn in_hand(sheet: &Sheet<'_>, log: &Log, one: &Expectation) -> Option<Wave> {
    let job = sheet.version.job.clone()?;
    let asked = |name: &str| sheet.asked.get(name).filter(|text| !text.is_empty());
    if let Some(sum) = asked("upload") {
        let column = asked("column").map(str::to_owned);
        let Some(upload) = sheet.desk.uploads.get(sum) else {
            return Some(Wave {
                name: String::new(),
                upload: None,
                column,
                found: Err(words::bench::NO_LONGER_HELD.to_owned()),
            });
        };
        let key = (
            sheet.version.sum.clone(),
            format!("upload {sum} {column:?}"),
        );
        let found = sheet.desk.remembered(&key, || {
            seen(&job, &text_of(&upload.bytes), column.as_deref()).map(Arc::new)
        });
        return Some(Wave {
            name: upload.name.clone(),
            upload: Some(sum.to_owned()),
            column,
            found: (*found).clone(),
        });
    }
    let row = log.row(asked("wave")?.parse().ok()?)?;
    if row.of != one.of || row.capture.is_empty() {
        return None;
    }
    let column = row.setup.column.clone();
    let key = (
        sheet.version.sum.clone(),
        format!("seen {} {}", row.row, row.capture),
    );
    let found = sheet.desk.remembered(&key, || {
        let text = sheet.desk.folder.capture(&row.capture)?;
        seen(&job, &text, column.as_deref()).map(Arc::new)
    });
    Some(Wave {
        name: row.capture.clone(),
        upload: None,
        column,
        found: (*found).clone(),
    })
}

/// Leads to the wave of a reading that a capture gave.
pub(super) fn href(
    sheet: &Sheet<'_>,
    log: &Log,
    step: &Step,
    index: usize,
    row: u64,
) -> Option<String> {
    let own = log.row(row).filter(|row| !row.capture.is_empty())?;
    let start = super::href(sheet, &step.name);
    Some(format!("{start}&point={index}&wave={}#now", own.row))
}

/// Where a file is chosen, or dropped: under the field of a row that a wave tells.
pub(super) fn form(step: &Step, index: usize, one: &Expectation) -> Markup {
    if !tells(one.what) {
        return html! {};
    }
    html! {
        details class="fromfile" {
            summary { (words::bench::FROM_CAPTURE) }
            form method="post" action="bench" enctype="multipart/form-data" data-drop {
                input type="hidden" name="step" value=(step.name);
                input type="hidden" name="point" value=(index);
                label for="file" { (words::bench::CAPTURE_FILE) }
                input id="file" type="file" name="file" required accept=".csv,.txt,.tsv,.dat,.asc,text/csv,text/plain";
                p class="soft small" { (words::bench::CAPTURE_MEANS) }
                div class="keep" { button class="btn" { (words::bench::LOOK_AT_IT) } }
            }
        }
    }
}

/// The capture with what it comes to, what was taken for granted, and the predicted wave; of one that is not kept yet also the way to
/// keep it.
pub(super) fn shown(
    sheet: &Sheet<'_>,
    (job, log): (&Job, &Log),
    step: &Step,
    (index, one): (usize, &Expectation),
    wave: &Wave,
    refusal: Option<&Refusal>,
) -> Markup {
    let back = format!("{}&point={index}#typed", href_of(sheet, step));
    let seen = match &wave.found {
        Ok(seen) => seen,
        Err(why) => {
            return html! {
                p class="fault" role="alert" { (parts::sign(Overall::Fails)) @if !wave.name.is_empty() { (wave.name) ": " } (why) }
                div class="keep" { a class="btn main" id="typed" autofocus href=(back) { (words::bench::LEAVE_IT) } }
            };
        }
    };
    let value = seen.value(one.what);
    html! {
        div class="wave" {
            h2 { (wave.name) }
            @match &value {
                Ok((value, unit)) => {
                    p class="expect" { (quietrail_report::words::bringup::observed(one.what)) " " b class="num" { (number::si(*value, unit, 4)) } }
                    p { (words::bench::BESIDE_EXPECTED) " " (quietrail_report::words::bringup::fit(fit(one, *value, None), one.unit)) }
                },
                Err(why) => { p class="fault" role="alert" { (parts::sign(Overall::Fails)) (why) } },
            }
            @if let Some(odd) = seen.doubt(one.what) { p class="fault" role="alert" { (parts::sign(Overall::NotShown)) (odd) } }
            p { (told::comes_to(&seen.capture, &seen.figures)) }
            @if let Some(esr) = esr(sheet, seen) { p { (esr) } }
            p { b { (words::bench::TAKEN) } }
            ul class="taken" { @for assumed in seen.capture.assumed.iter().filter(|one| !matches!(one, Assumed::Column(_))) { li { (parts::prose(&told::assumed(assumed))) } } }
            @if wave.upload.is_some() { (choices(sheet, step, index, wave, seen)) }
            (drawing(sheet, (job, log), step, one, wave, seen))
            @if let (Some(upload), Ok(_)) = (&wave.upload, &value) {
                form method="post" action="bench" {
                    input type="hidden" name="step" value=(step.name);
                    input type="hidden" name="point" value=(index);
                    input type="hidden" name="upload" value=(upload);
                    @if let Some(column) = &wave.column { input type="hidden" name="column" value=(column); }
                    (refused(refusal))
                    (set_up(sheet, (job, log), step, one, refusal.is_some()))
                    div class="keep" {
                        button class="btn main" { (words::bench::KEEP_CAPTURE) }
                        a class="btn" href=(back) { (words::bench::LEAVE_IT) }
                    }
                    (keep_esr(sheet, job, one, seen))
                }
            } @else {
                div class="keep" { a class="btn main" href=(back) { (words::bench::LEAVE_IT) } }
            }
        }
    }
}

fn href_of(sheet: &Sheet<'_>, step: &Step) -> String {
    super::href(sheet, &step.name)
}

/// The current that was switched, as it is asked for.
fn switched<'a>(sheet: &'a Sheet<'_>) -> Option<&'a str> {
    sheet.asked.get("amps").filter(|text| !text.is_empty())
}

/// The series resistance that the sharpest step comes to, where the current that was switched is told.
fn esr(sheet: &Sheet<'_>, seen: &Seen) -> Option<String> {
    Some(match seen.esr(switched(sheet)?) {
        Ok((ohms, amps)) => readings::esr_of(seen.figures.step, amps, ohms),
        Err(why) => why,
    })
}

/// Capacitors that a series resistance may be of: those at the point that is read first.
fn capacitors<'j>(job: &'j Job, of: &str) -> Vec<&'j str> {
    let (plus, minus) = of.split_once(',').unwrap_or((of, "common"));
    let mut all: Vec<(&str, bool)> = job
        .parts()
        .filter_map(|part| match &part.kind {
            PartKind::Capacitor(one) => {
                let is_there = one.between.plus == plus && one.between.minus == minus;
                Some((part.name.as_str(), is_there))
            }
            _ => None,
        })
        .collect();
    all.sort_by_key(|(_, is_there)| !is_there);
    all.into_iter().map(|(name, _)| name).collect()
}

/// Beside the key that keeps the value: one that keeps the series resistance, of a capacitor that is chosen.
fn keep_esr(sheet: &Sheet<'_>, job: &Job, one: &Expectation, seen: &Seen) -> Markup {
    let all = capacitors(job, &one.of);
    let found = switched(sheet).and_then(|typed| Some((typed, seen.esr(typed).ok()?)));
    let Some((typed, (ohms, _))) = found.filter(|_| !all.is_empty()) else {
        return html! {};
    };
    html! {
        input type="hidden" name="amps" value=(typed);
        div class="keep" {
            label { (words::bench::ESR_OF) select name="esr_of" { @for name in &all { option { (name) } } } }
            button class="btn" name="keep" value="esr" { (words::bench::keep_esr(&number::si(ohms, "Ω", 3))) }
        }
    }
}

/// Which signal, and the current that was switched.
fn choices(sheet: &Sheet<'_>, step: &Step, index: usize, wave: &Wave, seen: &Seen) -> Markup {
    let columns = &seen.capture.columns;
    let count = seen.capture.signals;
    let name = |at: usize| columns.get(at).filter(|name| !name.is_empty());
    html! {
        form class="choices" method="get" action="bench" data-follow {
            input type="hidden" name="step" value=(step.name);
            input type="hidden" name="point" value=(index);
            input type="hidden" name="upload" value=(wave.upload.as_deref().unwrap_or_default());
            @if count > 1 {
                label { (words::bench::SIGNAL) select name="column" {
                    @for at in 0..count {
                        @let number = (at + 1).to_string();
                        option value=(number) selected[wave.column.as_deref() == Some(number.as_str())] {
                            (number) @if let Some(name) = name(at) { ", " (name) }
                        }
                    }
                } }
            }
            label { (words::bench::SWITCHED) input type="text" name="amps" inputmode="decimal" autocomplete="off" value=(sheet.asked.get("amps").unwrap_or_default()); }
            button class="btn" { (words::SHOW) }
        }
    }
}

/// The measured wave over the predicted one, in the circuit of the step; why not, where it cannot be.
fn drawing(
    sheet: &Sheet<'_>,
    (job, log): (&Job, &Log),
    step: &Step,
    one: &Expectation,
    wave: &Wave,
    seen: &Seen,
) -> Markup {
    if seen.capture.unit != "V" {
        return html! { p class="soft" { (words::bench::NOT_DRAWN) } };
    }
    // At the mains that was read last in the step, else the nominal one.
    let own = log.rows.iter().rev();
    let volts = own
        .filter(|row| row.step == step.name)
        .find_map(|row| row.mains_v);
    let key = (
        sheet.version.sum.clone(),
        format!("alone {} {} {volts:?}", step.name, one.of),
    );
    let made = sheet
        .desk
        .remembered(&key, || predicted(job, &step.name, &one.of, volts));
    let mut drawing = match &*made {
        Ok(drawing) => drawing.clone(),
        Err(why) => return html! { p class="soft" { (why) } },
    };
    let name = wave.name.as_str();
    if let Err(why) = overlay(&mut drawing, name, &seen.capture.samples) {
        return html! { p class="soft" { (name) " " (told_of_waves::not_laid_over(why)) } };
    }
    html! {
        div class="over" {
            div class="desk" { (PreEscaped(svg::bare(&svg::waves_middle(&drawing)))) }
            div class="phone" { (PreEscaped(svg::bare(&svg::waves_narrow(&drawing)))) }
        }
        @if let Some(measured) = &drawing.measured {
            p { (told_of_waves::laid_over(&drawing, measured)) " " (words::bench::predicted_at(drawing.mains)) }
        }
    }
}

fn predicted(job: &Job, step: &str, of: &str, volts: Option<f64>) -> Result<Waves, String> {
    let planned = planned(job);
    let own = planned.iter().find(|known| known.name == step);
    let own = own.ok_or_else(|| words::NO_BENCH.to_owned())?;
    let changes: Vec<Change> = volts
        .filter(|_| own.through.is_none())
        .map(|value| Change::Set {
            address: quietrail_job::Address(crate::sheet::MAINS.to_owned()),
            value,
        })
        .into_iter()
        .collect();
    let setting = (own.state.unwrap_or(0), &lowered_step(own));
    let options = quietrail_study::options();
    let mut drawing = alone(job, of, setting, &changes, &options).map_err(|why| match why {
        NoWaves::UnknownNode { .. } => words::bench::NOT_DRAWN.to_owned(),
        NoWaves::Trouble(trouble) => trouble.to_string(),
    })?;
    drawing.state = step.to_owned();
    Ok(drawing)
}
