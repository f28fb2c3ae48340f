//! The levels as a table and as CSV.

use crate::sheet::Sheet;
use crate::words;
use maud::{Markup, html};
use quietrail_job::model::What;
use quietrail_report::number;
use quietrail_report::words::descent as said;
use quietrail_study::descent::{Figures, Range};
use std::fmt::Write;

/// A station: its name, the corner in hand, all corners.
struct Row {
    name: String,
    here: (f64, f64),
    all: Option<Range>,
    /// What its ends are called where their sums are asked for.
    sums: Option<(String, String)>,
}

/// What a row's figures lead to.
enum Sums<'a> {
    None,
    /// The lowest and the highest instant of a node against another.
    Levels(&'a str, &'a str),
    /// A limit.
    Limit(&'a str),
}

pub(super) fn details(sheet: &Sheet<'_>, figures: &Figures) -> Markup {
    let rows = rows(sheet, figures);
    let href = sheet.asked.with(|asked| {
        asked.more.insert("as".to_owned(), "csv".to_owned());
    });
    let known = |all: &Option<Range>| all.filter(Range::is_known);
    html! {
        details {
            summary { (words::AS_TABLE) }
            (crate::parts::wide(words::AS_TABLE, &html! { table class="plain" {
                thead { tr {
                    th scope="col" { (words::STATION) }
                    th scope="col" { (said::THIS_CORNER) }
                    th scope="col" { (said::WORST_FOUND) }
                } }
                tbody {
                    @for row in &rows {
                        tr {
                            th scope="row" { (row.name) }
                            td class="num" { (here(sheet, row)) }
                            td class="num" { @if let Some(all) = known(&row.all) { (range(all.low, all.high)) } }
                        }
                    }
                }
            } }))
            p { a href=(href.href("descent")) download { (words::AS_CSV) } }
        }
    }
}

/// The corner in hand, each end leading to its sum.
fn here(sheet: &Sheet<'_>, row: &Row) -> Markup {
    let Some((low, high)) = &row.sums else {
        return html! { (range(row.here.0, row.here.1)) };
    };
    let href = |name: &str| crate::views::why::href_here(sheet, name, "descent");
    let texts = [row.here.0, row.here.1].map(|volts| number::in_hand(volts, "V"));
    html! {
        a href=(href(low)) { (texts[0]) }
        @if texts[0] != texts[1] { " .. " a href=(href(high)) { (texts[1]) } }
    }
}

fn range(low: f64, high: f64) -> String {
    let (low, high) = (number::in_hand(low, "V"), number::in_hand(high, "V"));
    if low == high {
        low
    } else {
        said::range(&low, &high)
    }
}

pub(super) fn csv(sheet: &Sheet<'_>, figures: &Figures) -> String {
    let mut out = String::from("station,here_low_v,here_high_v,all_low_v,all_high_v\r\n");
    for row in rows(sheet, figures) {
        let all = row.all.filter(Range::is_known);
        let one =
            |value: Option<f64>| value.map_or_else(String::new, |value| format!("{value:.6}"));
        let _ = write!(
            out,
            "\"{}\",{},{},{},{}\r\n",
            row.name.replace('"', "\"\""),
            one(Some(row.here.0)),
            one(Some(row.here.1)),
            one(all.map(|all| all.low)),
            one(all.map(|all| all.high)),
        );
    }
    out
}

fn rows(sheet: &Sheet<'_>, figures: &Figures) -> Vec<Row> {
    let ranges = sheet
        .known
        .as_ref()
        .and_then(|known| known.ranges.as_deref());
    let mut rows = Vec::new();
    let mut add = |name: String, here: (f64, f64), all: Option<Range>, sums: Sums<'_>| {
        if here.0.is_finite() && here.1.is_finite() {
            let ends = |one: &str, ret: &str| {
                let of = |what| super::level_name((one, ret), what);
                (of(What::Valley), of(What::Peak))
            };
            let sums = match sums {
                Sums::None => None,
                Sums::Levels(node, ret) => Some(ends(node, ret)),
                Sums::Limit(name) => Some((name.to_owned(), name.to_owned())),
            };
            rows.push(Row {
                name,
                here,
                all,
                sums,
            });
        }
    };
    for (index, (section, here)) in sheet
        .base
        .sections
        .iter()
        .zip(&figures.sections)
        .enumerate()
    {
        let all = ranges.map(|ranges| &ranges.sections[index]);
        add(
            words::peak_of(said::WALL),
            (here.outlet, here.outlet),
            all.map(|all| all.outlet),
            Sums::None,
        );
        let out = section
            .transformer
            .as_deref()
            .map_or_else(|| section.feeds.clone(), said::out);
        add(
            words::peak_of(&out),
            (here.winding, here.winding),
            all.map(|all| all.winding),
            Sums::None,
        );
        add(
            named((&section.node, &section.ret)),
            (here.valley, here.peak),
            all.map(|all| all.node),
            Sums::Levels(&section.node, &section.ret),
        );
        for (k, (rail, here)) in section.rails.iter().zip(&here.rails).enumerate() {
            let all = all.map(|all| &all.rails[k]);
            if let Some(part) = &rail.regulator {
                let (upper, lower) = rail.output();
                add(
                    said::needs_head(part),
                    (here.need(), here.need()),
                    all.map(|all| all.need),
                    Sums::None,
                );
                let worst = all.and_then(|all| all.worst).map(|worst| worst.spare);
                let worst = worst.map(|volts| Range {
                    low: volts,
                    high: volts,
                });
                let own = words::headroom_of(part);
                let name = if here.asked > 0.0 {
                    words::descent::spare_of(&own, &number::written(here.asked, "V"))
                } else {
                    own
                };
                add(
                    name,
                    (here.spare(), here.spare()),
                    worst,
                    super::limit_of(sheet, part)
                        .map_or(Sums::None, |limit| Sums::Limit(&limit.name)),
                );
                add(
                    named((upper, lower)),
                    here.node,
                    all.map(|all| all.node),
                    Sums::Levels(upper, lower),
                );
            }
            for (n, (load, here)) in rail.loads.iter().zip(&here.loads).enumerate() {
                add(
                    load.part.clone(),
                    *here,
                    all.map(|all| all.loads[n]),
                    Sums::Levels(&load.ends.0, &load.ends.1),
                );
            }
        }
    }
    rows
}

/// What a level is called: from common down both nodes, for it is an amount there.
fn named((upper, lower): (&str, &str)) -> String {
    match upper {
        "common" => format!("{upper} to {lower}"),
        _ => upper.to_owned(),
    }
}
