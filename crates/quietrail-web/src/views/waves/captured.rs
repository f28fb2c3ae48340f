//! A capture of the log, chosen to be laid over the drawing.

use crate::parts;
use crate::sheet::Sheet;
use crate::words;
use maud::{Markup, html};
use quietrail_bench::capture::{Capture, doubt, read};
use quietrail_bench::log::{Observed, Row};
use quietrail_job::model::What;
use quietrail_report::words as said;
use quietrail_study::wave::Waves;
use quietrail_study::waves::overlay;

/// Rows of the log with a capture of a node, in the state in hand or in none.
pub(super) fn rows(sheet: &Sheet<'_>, node: &str) -> Vec<Row> {
    let Ok(log) = sheet.desk.folder.log() else {
        return Vec::new();
    };
    let standing = log.standing();
    let own = standing.into_iter().filter(|row| {
        !row.capture.is_empty()
            && !row.setup.is_shorted
            && (row.state.is_empty() || Some(row.state.as_str()) == Some(sheet.state_name()))
            && (row.of == node || row.of.strip_suffix(",common") == Some(node))
    });
    own.cloned().collect()
}

/// The row that is asked for.
fn chosen<'a>(sheet: &Sheet<'_>, rows: &'a [Row]) -> Option<&'a Row> {
    let asked: u64 = sheet.asked.get("capture")?.parse().ok()?;
    rows.iter().find(|row| row.row == asked)
}

/// Lays the chosen capture over a drawing, and says what is odd about it; why not, where it cannot be.
pub(super) fn lay(
    sheet: &Sheet<'_>,
    rows: &[Row],
    drawing: &mut Waves,
) -> Result<Option<String>, String> {
    let Some(row) = chosen(sheet, rows) else {
        return Ok(None);
    };
    let key = (
        sheet.version.sum.clone(),
        format!("capture {} {}", row.row, row.capture),
    );
    let column = row.setup.column.as_deref();
    let found = sheet.desk.remembered(&key, || -> Result<Capture, String> {
        let text = sheet.desk.folder.capture(&row.capture)?;
        read(&text, column).map_err(|fault| said::captures::fault(&fault))
    });
    let name = &row.capture;
    let capture = found
        .as_ref()
        .as_ref()
        .map_err(|why| format!("{name}: {why}"))?;
    if capture.unit != "V" {
        return Err(format!(
            "{name}: {}",
            said::captures::not_volts(capture.unit)
        ));
    }
    overlay(drawing, name, &capture.samples)
        .map_err(|why| format!("{name} {}", said::waves::not_laid_over(why)))?;
    let wave = Observed::Statistic(What::Ripple);
    let odd = sheet
        .version
        .job
        .as_deref()
        .and_then(|job| doubt(capture, wave, job.mains.frequency.nominal()));
    Ok(odd.map(|odd| format!("{name}: {}", said::captures::doubt(odd, capture.unit))))
}

/// The choice, where the log has captures of the node.
pub(super) fn choice(sheet: &Sheet<'_>, node: &str, rows: &[Row]) -> Markup {
    if rows.is_empty() {
        return html! {};
    }
    let chosen = chosen(sheet, rows).map(|row| row.row);
    html! {
        form class="pick-node" method="get" action="waves" data-follow {
            (parts::hidden(&sheet.asked, &["capture", "node"]))
            input type="hidden" name="node" value=(node);
            label for="capture" { (words::bench::LAID_OVER) }
            select id="capture" name="capture" {
                option value="" { (words::bench::NOTHING_OVER) }
                @for row in rows.iter().rev() {
                    option value=(row.row) selected[chosen == Some(row.row)] { (words::bench::capture_of(row)) }
                }
            }
            noscript { button class="btn" { (words::SHOW) } }
        }
    }
}
