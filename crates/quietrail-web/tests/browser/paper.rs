//! The record on paper, and readings that reach it.

use crate::bench::{Bench, check};
use crate::scenarios::{Run, small};
use serde_json::json;
use std::error::Error;

/// What is not known yet is on no paper as if it were: the sheet says that it is provisional, and the key to print waits.
pub(crate) fn the_record_waits(bench: &mut Bench) -> Run<'_> {
    Box::pin(async move {
        let place = bench.book(Some(crate::bench::BEACON))?;
        bench.driver.goto(place.at("record")).await?;
        // As the server sends the first page; by now it may have been filled in.
        bench
            .ask("window.printed=0;window.print=()=>{window.printed++};document.querySelector('[data-print]').click()")
            .await?;
        let waits = bench
            .ask("return document.querySelector('[data-waits]')!==null")
            .await?;
        if waits == true {
            let told = printed(bench, "record-provisional").await?;
            let is_whole = bench
                .ask("return document.querySelector('.standing')===null")
                .await?;
            if let (Some(told), false) = (told, is_whole == true) {
                check(told.contains("Provisional."), || told.clone())?;
            }
            let before = bench.ask("return window.printed").await?;
            let still = bench
                .ask("return document.querySelector('[data-waits]')!==null")
                .await?;
            check(before == 0 || still == false, || {
                "it printed before all was known".to_owned()
            })?;
        }
        bench.until("the print", "window.printed===1").await?;
        bench
            .until(
                "the whole sheet",
                "!document.querySelector('.standing, .coming')",
            )
            .await?;
        let block = bench.text_of(".titleblock").await?;
        check(block.contains("search ended"), || block.clone())
    })
}

pub(crate) fn the_record_prints(bench: &mut Bench) -> Run<'_> {
    Box::pin(async move {
        let address = bench.demo()?;
        bench.driver.goto(format!("{address}record")).await?;
        bench.settled().await?;
        bench
            .until(
                "the table",
                "document.querySelectorAll('.ledger tr').length > 20",
            )
            .await?;
        // A first look is not the answer.
        bench
            .until(
                "the whole search",
                "!document.body.innerText.includes('provisional')",
            )
            .await?;
        let Some(told) = printed(bench, "record").await? else {
            return Ok(());
        };
        for expected in [
            "hilltop beacon",
            "U1 headroom",
            "FAILS",
            "−470",
            "Do not connect the load yet",
            "To be read by hand",
            "not a certificate",
            "From the catalogue",
            "[regulator.\"low-dropout adjustable 3 A\"]",
        ] {
            let is_there = told.to_lowercase().contains(&expected.to_lowercase());
            check(is_there, || format!("the paper lacks {expected}:\n{told}"))?;
        }
        for furniture in ["Undo", "Margins", "Stop here"] {
            check(!told.contains(furniture), || {
                format!("the paper shows {furniture}")
            })?;
        }
        Ok(())
    })
}

/// Prints the page and gives its text; nothing where the tool for that is missing.
async fn printed(bench: &Bench, name: &str) -> Result<Option<String>, Box<dyn Error>> {
    let paper = json!({ "printBackground": false, "paperWidth": 8.27, "paperHeight": 11.69, "preferCSSPageSize": true });
    let printed = bench.cdp("Page.printToPDF", paper).await?;
    let coded = printed["data"].as_str().ok_or("a document")?;
    let path = bench.kept.join(format!("{name}.pdf"));
    std::fs::write(&path, decoded(coded))?;
    let told = match std::process::Command::new("pdftotext")
        .arg("-layout")
        .arg(&path)
        .arg("-")
        .output()
    {
        Ok(told) => String::from_utf8_lossy(&told.stdout).into_owned(),
        Err(_) if std::env::var_os("CI").is_none() => {
            println!(
                "  pdftotext is missing (apt-get install poppler-utils): the text was not looked at"
            );
            return Ok(None);
        }
        Err(error) => return Err(format!("pdftotext: {error}").into()),
    };
    Ok(Some(told))
}

/// Base 64 (RFC 4648), as the browser hands documents over.
fn decoded(text: &str) -> Vec<u8> {
    let value = |byte: u8| match byte {
        b'A'..=b'Z' => Some(byte - b'A'),
        b'a'..=b'z' => Some(byte - b'a' + 26),
        b'0'..=b'9' => Some(byte - b'0' + 52),
        b'+' => Some(62),
        b'/' => Some(63),
        _ => None,
    };
    let (mut out, mut bits, mut held) = (Vec::new(), 0_u32, 0);
    for six in text.bytes().filter_map(value) {
        bits = (bits << 6) | u32::from(six);
        held += 6;
        if held >= 8 {
            held -= 8;
            out.push((bits >> held) as u8);
            bits &= (1 << held) - 1;
        }
    }
    out
}

/// A limit of the small job that its meter can show.
const METER: &str = r#"
[[limit]]
name = "mean"
of   = "out"
what = "mean"
max  = "12.6 V"
states = ["warm"]

[instrument.meter]
kind = "multimeter"
dc = { ranges = ["4 V ±(0.5 % + 1)", "40 V ±(0.05 % + 1)"] }
ac = { detector = "true rms", band = "20 Hz .. 20 kHz", ranges = ["400 mV ±(1 % + 5)"], valid_above = "5 %" }
"#;

/// Rows as another program would write them; the third replaces the second.
const ROWS: &str = "row,time,step,state,of,what,value,unit,instrument,range,averages,setup,mains_v,limit,capture,corrects,note\n\
1,2026-11-24T08:56:00Z,\"dummy load, warm\",,\"dummy load, warm\",override,1,,,,,,,,,,class II instrument\n\
2,2026-11-24T09:00:00Z,,warm,out,mean,13.9,V,meter,40 V,,at the pin,230,,,,\n\
3,2026-11-24T09:05:00Z,,warm,out,mean,12.02,V,meter,40 V,,at the pin,230,,,2,\n";

/// A page that is open hears of readings taken elsewhere; Margins and Record say what decided each limit.
pub(crate) fn readings(bench: &mut Bench) -> Run<'_> {
    Box::pin(async move {
        let place = bench.book(Some(&format!("{}{METER}", small())))?;
        bench.driver.goto(place.at("margins")).await?;
        bench.settled().await?;
        bench
            .until(
                "rows",
                "document.querySelectorAll('.margins tbody tr').length > 10",
            )
            .await?;
        let none = bench.text_of(".tally").await?;
        check(!none.contains("by reading"), || none.clone())?;
        let log = place.file.with_file_name("readings.csv");
        std::fs::write(&log, ROWS)?;
        bench
            .until(
                "the reading in its row",
                "[...document.querySelectorAll('.margins tr')].some(row => row.querySelector('.reading') && row.textContent.includes('12.6'))",
            )
            .await?;
        let row = bench
            .text("[...document.querySelectorAll('.margins tr')].find(row => row.querySelector('.reading')).textContent")
            .await?;
        check(row.contains("12.02") && row.contains("holds"), || {
            row.clone()
        })?;
        let tally = bench.text_of(".tally").await?;
        check(tally.contains("1 holds by reading"), || tally.clone())?;
        // Not at every mains voltage, and not what the worst beside it is.
        check(row.contains("mains at 230"), || row.clone())?;
        check(row.contains("computed worst"), || row.clone())?;
        bench.keep("margins-read").await?;
        // What is tried has not been built, so nothing was read of it.
        bench
            .driver
            .goto(place.at("margins?try=C1.value:6800u"))
            .await?;
        let trying = bench.text_of(".trying").await?;
        check(
            trying.contains("Readings are of what the file says"),
            || trying.clone(),
        )?;
        check(bench.text_of(".reading").await?.is_empty(), || {
            "a reading of what is only tried".to_owned()
        })?;
        bench
            .go(
                place.at("record"),
                "the log",
                "document.querySelectorAll('.ledger.log tbody tr').length === 3",
            )
            .await?;
        bench
            .until("the steps", "!document.querySelector('.coming')")
            .await?;
        let ledger = bench
            .text("document.querySelector('.ledger.log').textContent")
            .await?;
        check(
            ledger.contains("taken with its step locked, regardless by row 1"),
            || ledger.clone(),
        )?;
        let Some(told) = printed(bench, "record-read").await? else {
            return Ok(());
        };
        for expected in [
            "What the readings prove",
            "Bring-up log, 3 rows",
            "replaced by row 3",
            "going on regardless: class II instrument",
            "mean, warm: holds",
            "mains at 230 V",
            "no step named",
            "The whole job file",
            "from the tin on the shelf",
        ] {
            check(told.contains(expected), || {
                format!("the paper lacks {expected}:\n{told}")
            })?;
        }
        Ok(())
    })
}
