//! A capture taken in on the Bench: looked at before it is kept, with script and without.

use crate::bench::{BEACON, Bench, Outcome, check};
use crate::judged::open_page_is_accessible;
use crate::scenarios::Run;
use serde_json::json;
use std::path::Path;

/// A log in which the step with a dummy on the raw rail is gone on with.
const GONE_ON: &str = "row,time,step,state,of,what,value,unit,instrument,range,averages,setup,mains_v,limit,capture,corrects,note\r\n\
    1,2026-11-20T10:00:00Z,raw on a dummy load,,raw on a dummy load,override,1,,,,,,,,,,read on paper last week\r\n";

/// Five cycles of 50 Hz: a saw of 1.2 V p-p at 100 Hz on 17 V, as a meter of another country writes it.
fn saw() -> String {
    let row = |k: u32| {
        let t = f64::from(k) * 1e-4 - 0.05;
        let v = 17.0 - 1.2 * (f64::from(k % 100) / 99.0 - 0.5);
        format!("{t:.5};{v:.4};{:.2}\n", 0.3).replace('.', ",")
    };
    let rows: String = (0..1000).map(row).collect();
    format!("\u{feff}Zeit;Kanal A;Kanal B\n(s);(V);(A)\n\n{rows}")
}

async fn send(bench: &Bench, file: &Path) -> Outcome {
    bench.type_into("#file", &file.to_string_lossy()).await?;
    // By the keyboard, which works without script as well.
    bench.type_into(".fromfile button", "\n").await
}

pub(crate) fn capture(bench: &mut Bench) -> Run<'_> {
    Box::pin(async move {
        let place = bench.book(Some(BEACON))?;
        let log = place.file.with_file_name("readings.csv");
        std::fs::write(&log, GONE_ON)?;
        let kept = || std::fs::read_to_string(&log).unwrap_or_default();
        let outside = tempfile::tempdir()?;
        let file = outside.path().join("raw, first.csv");
        std::fs::write(&file, saw())?;
        let beside = place.file.with_file_name("captures");
        let url = place.at("bench?step=raw+on+a+dummy+load&point=1");
        let has = |name: &str| format!("document.querySelector('{name}')");
        bench.go(&url, "the row", &has(".now .fromfile")).await?;
        bench.settled().await?;
        bench.click(".fromfile summary").await?;
        send(bench, &file).await?;
        bench.until("the capture", &has(".now .wave")).await?;
        let told = bench.text_of(".now").await?;
        for words in [
            "1.200\u{a0}V",
            "decimal comma",
            "at twice it",
            "raw, first.csv",
        ] {
            let is_there = told.contains(words);
            check(is_there, || format!("{words} is not in {told}"))?;
        }
        let is_drawn = bench
            .text("!!document.querySelector('.now .over svg')")
            .await?;
        check(is_drawn == "true", || "nothing is laid over".to_owned())?;
        check(kept() == GONE_ON && !beside.exists(), kept)?;
        open_page_is_accessible(bench, "capture").await?;
        bench.keep("bench-capture").await?;
        bench.size(360, 740).await?;
        let wide = bench.text("document.documentElement.scrollWidth").await?;
        check(wide == "360", || format!("{wide} wide at 360"))?;
        bench.keep("bench-capture-360").await?;
        bench.size(1440, 1000).await?;

        // The other signal is no voltage; the row says what it wants, and offers nothing to keep.
        let other = "const s=document.querySelector('.choices select');s.value='2';s.dispatchEvent(new Event('change',{bubbles:true}));return 1";
        bench.ask(other).await?;
        bench.until("the refusal", &has(".wave .fault")).await?;
        let refused = bench.text_of(".wave .fault").await?;
        check(refused.contains("is in A"), || refused.clone())?;
        bench.ask(&other.replace("'2'", "'1'")).await?;
        bench
            .until(
                "the first signal",
                "!document.querySelector('.wave .fault')",
            )
            .await?;

        // Kept, it lies beside the job, and its value is a row like any other.
        let choose = "document.querySelector('.now select[name=with]').value = 'scope'";
        bench.ask(choose).await?;
        let setup = "10x probe, clips on C1";
        bench.type_into(".now [name=setup]", setup).await?;
        bench.click(".now .keep button").await?;
        bench
            .until(
                "the row",
                "document.querySelector('.list .small[href*=wave]')",
            )
            .await?;
        check(kept().contains(",captures/raw--first.csv,"), kept)?;
        check(kept().contains("10x probe, clips on C1; column 1"), kept)?;
        let own = std::fs::read(beside.join("raw--first.csv"))?;
        check(own == saw().as_bytes(), || "other bytes".to_owned())?;
        bench.click(".list .small[href*=wave]").await?;
        bench.until("its wave", &has(".now .wave .over")).await?;

        // With the current that was switched, its sharpest step is a series resistance: kept, it is a row of the capacitor.
        bench.go(&url, "the row", &has(".now .fromfile")).await?;
        bench.settled().await?;
        bench.click(".fromfile summary").await?;
        send(bench, &file).await?;
        bench.until("the capture", &has(".now .wave")).await?;
        check(!kept().contains(",esr,"), kept)?;
        let switched = "const a=document.querySelector('.choices [name=amps]');a.value='0.8';a.form.requestSubmit();return 1";
        bench.ask(switched).await?;
        bench.until("the key", &has(".now [name=esr_of]")).await?;
        bench.click(".now button[value=esr]").await?;
        bench
            .until("the next row", "!document.querySelector('.now .wave')")
            .await?;
        check(kept().contains(",C1,esr,1.5"), kept)?;

        // Without script the same form does the same.
        let off = |is: bool| json!({ "value": is });
        bench
            .cdp("Emulation.setScriptExecutionDisabled", off(true))
            .await?;
        bench.driver.goto(&url).await?;
        bench.type_into(".fromfile summary", "\n").await?;
        send(bench, &file).await?;
        bench
            .until_page("the capture", |_, source| {
                source.contains("class=\"taken\"")
            })
            .await?;
        bench
            .cdp("Emulation.setScriptExecutionDisabled", off(false))
            .await?;
        Ok(())
    })
}
