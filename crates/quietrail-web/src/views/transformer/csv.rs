//! What an unmarked transformer is by its readings, as CSV: a line for each figure of each winding.

use crate::sheet::Sheet;
use crate::views::Answer;
use quietrail_report::number;
use quietrail_study::transformer::{Ranged, WindingKnown, know};
use std::fmt::Write;

pub(super) fn file(sheet: &Sheet<'_>, _kind: &str) -> Answer {
    let mut text =
        String::from("transformer,winding,leads,figure,value,low,high,unit,told_by_readings\r\n");
    for unmarked in sheet.job.unmarked.iter() {
        let Ok(known) = know(unmarked, &sheet.job) else {
            continue;
        };
        for winding in &known.windings {
            for (figure, unit, range) in figures(winding) {
                let _ = write!(
                    text,
                    "{},{},{},{figure},{},{},{},{unit},{}\r\n",
                    quoted(&known.name),
                    quoted(&winding.name),
                    quoted(&winding.leads.join(" - ")),
                    range.value,
                    range.low,
                    range.high,
                    range.is_told
                );
            }
        }
    }
    Answer::File {
        name: "transformer.csv".to_owned(),
        kind: "text/csv; charset=utf-8",
        text,
    }
}

fn figures(winding: &WindingKnown) -> Vec<(&'static str, &'static str, &Ranged)> {
    let mut all = vec![
        ("copper", "Ω", &winding.ohms),
        ("off load", "V", &winding.open),
        ("turns", "", &winding.turns),
    ];
    let source = winding.source.as_ref();
    let leakage = winding.leakage.as_ref();
    all.extend(source.map(|range| ("resistance seen", "Ω", range)));
    all.extend(leakage.map(|range| ("leakage seen", "H", range)));
    all
}

fn quoted(text: &str) -> String {
    format!("\"{}\"", number::spaced(text).replace('"', "\"\""))
}
