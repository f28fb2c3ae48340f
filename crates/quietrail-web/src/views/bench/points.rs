//! The points of a step as a table and as CSV, and where what is expected comes from.

use crate::sheet::Sheet;
use crate::views::Answer;
use crate::words;
use maud::{Markup, html};
use quietrail_bench::log::Observed;
use quietrail_report::number;
use quietrail_report::words::bringup as said;
use quietrail_study::bringup::{Expectation, Step};
use std::fmt::Write;

/// The address of the sum behind what a point should read, with parts as marked: a statistic of the finished circuit.
pub(super) fn sum_href(sheet: &Sheet<'_>, step: &Step, one: &Expectation) -> Option<String> {
    let Observed::Statistic(what) = one.what else {
        return None;
    };
    let is_whole = step.out.is_empty() && step.short.is_empty() && step.dummies.is_empty();
    let is_known = sheet
        .job
        .states
        .iter()
        .any(|state| state.name == step.state);
    if !is_whole || step.through.is_some() || !is_known || one.nominal.is_none() {
        return None;
    }
    let asked = sheet.asked.with(|asked| {
        asked.more.clear();
        asked.state = Some(step.state.clone());
    });
    let name = format!("{} {}", one.of, what.word());
    let pairs = [("why", name.as_str()), ("in", &step.state), ("at", "here")];
    let asked = asked.with(|asked| {
        for (key, value) in pairs {
            asked.more.insert(key.to_owned(), value.to_owned());
        }
    });
    Some(format!("{}#card", asked.href("descent")))
}

/// The table, closed, with the way to the CSV.
pub(super) fn details(sheet: &Sheet<'_>, step: &Step) -> Markup {
    let href = sheet.asked.with(|asked| {
        asked.more.insert("step".to_owned(), step.name.clone());
        asked.more.insert("as".to_owned(), "csv".to_owned());
    });
    let figure = |value: Option<f64>, unit: &str| {
        value.map_or_else(String::new, |value| number::si(value, unit, 4))
    };
    html! {
        details {
            summary { (words::AS_TABLE) }
            (crate::parts::wide(words::AS_TABLE, &html! { table class="plain" {
                thead { tr { @for head in words::bench::POINT_HEADS { th scope="col" { (head) } } } }
                tbody {
                    @for one in &step.expect {
                        @let last = one.readings.last().filter(|_| one.what != Observed::Check);
                        tr {
                            th scope="row" { (one.of) }
                            td { (said::observed(one.what)) }
                            td class="num" { (figure(one.low, one.unit)) }
                            td class="num" {
                                @match sum_href(sheet, step, one) {
                                    Some(href) => { a href=(href) { (figure(one.nominal, one.unit)) } },
                                    None => { (figure(one.nominal, one.unit)) },
                                }
                            }
                            td class="num" { (figure(one.high, one.unit)) }
                            td class="num" { (figure(last.map(|reading| reading.value), one.unit)) }
                            td { @if let Some(reading) = last { (said::fit(reading.fit, one.unit)) } }
                        }
                    }
                }
            } }))
            p { a href=(href.href("bench")) download { (words::AS_CSV) } }
        }
    }
}

/// The points of the step in hand with all readings that stand.
pub(super) fn csv(step: &Step) -> Answer {
    let mut text =
        String::from("step,state,of,what,low,as_marked,high,unit,read,error,row,fit\r\n");
    let quoted = |text: &str| format!("\"{}\"", number::spaced(text).replace('"', "\"\""));
    let figure = |value: Option<f64>| value.map_or_else(String::new, |value| format!("{value}"));
    for one in &step.expect {
        let mut start = String::new();
        for word in [&step.name, &step.state, &one.of] {
            start.push_str(&quoted(word));
            start.push(',');
        }
        let _ = write!(
            start,
            "{},{},{},{},{}",
            quoted(one.what.word()),
            figure(one.low),
            figure(one.nominal),
            figure(one.high),
            one.unit
        );
        if one.readings.is_empty() {
            let _ = write!(text, "{start},,,,\r\n");
        }
        for reading in &one.readings {
            let _ = write!(
                text,
                "{start},{},{},{},{}\r\n",
                reading.value,
                figure(reading.error),
                reading.row,
                quoted(&said::fit(reading.fit, one.unit))
            );
        }
    }
    Answer::File {
        name: "bench.csv".to_owned(),
        kind: "text/csv; charset=utf-8",
        text,
    }
}
