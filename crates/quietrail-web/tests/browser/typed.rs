//! A reading of the oscillator typed in, as somebody does with an analyser beside the tablet.

use crate::bench::{BEACON, Bench, Outcome, check};
use crate::scenarios::Run;

async fn fill(bench: &Bench, name: &str, text: &str) -> Outcome {
    let selector = format!(".now:has([value=reading]) input[name={name}]");
    bench.type_over(&selector, text).await
}

/// The line of the data sheet by its name.
const LINE: &str = "([...document.querySelectorAll('.oscline li')].find(one => one.textContent.includes('harmonics'))||{textContent:''}).textContent";

pub(crate) fn oscillator_reading(bench: &mut Bench) -> Run<'_> {
    Box::pin(async move {
        let place = bench.book(Some(BEACON))?;
        let log = place.file.with_file_name("readings.csv");
        let kept = || std::fs::read_to_string(&log).unwrap_or_default();
        bench.size(390, 844).await?;
        bench
            .go(
                place.at("oscillator"),
                "the form",
                "document.querySelector('.now [name=typed]')",
            )
            .await?;
        let before = bench.text(LINE).await?;
        check(before.contains("not shown"), || before.clone())?;
        let choose = "const s=document.querySelector('.now select[name=what]');s.value='harmonic';return s.value";
        let chosen = bench.ask(choose).await?;
        check(chosen == "harmonic", || format!("{chosen} is chosen"))?;
        // A word for a number is refused; what was typed stays.
        fill(bench, "typed", "low").await?;
        fill(bench, "at", "20 MHz").await?;
        fill(bench, "setup", "lead pins, 10 dB pad").await?;
        bench.click(".now:has([value=reading]) button").await?;
        bench
            .until("the fault", "document.querySelector('.now .fault')")
            .await?;
        let typed = bench
            .text("document.querySelector('.now [name=typed]').value")
            .await?;
        check(typed == "low" && kept().is_empty(), || {
            format!("{typed}: {}", kept())
        })?;
        bench.keep("oscillator-fault-390").await?;
        fill(bench, "typed", "-41 dBc").await?;
        bench.click(".now:has([value=reading]) button").await?;
        bench
            .until("the reading in its line", &format!("{LINE}.includes('41')"))
            .await?;
        check(kept().contains("harmonic") && kept().contains("-41"), kept)?;
        let after = bench.text(LINE).await?;
        check(after.contains("−41"), || after.clone())?;
        bench.keep("oscillator-read-390").await?;
        // What is noted by hand has its place too, with how far it may be off; and a harmonic is one of the carrier.
        bench.ask(&choose.replace("harmonic", "retrace")).await?;
        bench
            .ask("const s=document.querySelector('.now select[name=with]');s.value='counter';return s.value")
            .await?;
        fill(bench, "typed", "1.2 ppb").await?;
        fill(bench, "at", "").await?;
        fill(bench, "error", "0.3 ppb").await?;
        fill(bench, "setup", "24 h off, 1 h on").await?;
        bench.click(".now:has([value=reading]) button").await?;
        let is_kept = || kept().contains("retrace") && kept().contains("error 0.3 ppb");
        bench
            .until(
                "an empty form",
                "document.querySelector('.now [name=typed]').value === ''",
            )
            .await?;
        check(is_kept(), kept)?;
        bench.ask(choose).await?;
        fill(bench, "typed", "-60 dBc").await?;
        fill(bench, "at", "21.4 MHz").await?;
        bench.click(".now:has([value=reading]) button").await?;
        bench
            .until("the fault", "document.querySelector('.now .fault')")
            .await?;
        let fault = bench.text_of(".now .fault").await?;
        check(fault.contains("is no multiple of 10\u{a0}MHz"), || {
            fault.clone()
        })?;
        // And on the record.
        bench
            .go(
                place.at("record"),
                "the row",
                "document.getElementById('paper').textContent.includes('lead pins, 10 dB pad')",
            )
            .await?;
        let wide = bench
            .ask("return document.scrollingElement.scrollWidth")
            .await?;
        check(wide == 390, || format!("{wide} px wide at 390"))?;
        bench.keep("record-read-390").await
    })
}
