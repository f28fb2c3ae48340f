//! The Bench as a hand at the bench uses it: a tablet, one reading after the other.

use crate::bench::{BEACON, Bench, Outcome, check};
use crate::scenarios::Run;

/// Types a reading with its set-up, and keeps it.
async fn reading(bench: &Bench, value: &str, with: &str, setup: &str) -> Outcome {
    bench
        .until(
            "the field",
            "document.querySelector('.now input[name=typed]')",
        )
        .await?;
    // What the search finds replaces the row, between finding a field in it and typing.
    bench.settled().await?;
    let choose = format!("document.querySelector('.now select[name=with]').value = '{with}'");
    bench.ask(&choose).await?;
    bench.type_over(".now input[name=setup]", setup).await?;
    bench.type_over(".now input[name=typed]", value).await?;
    bench.click(".now .keep button").await
}

/// Steps are locked, readings are judged at once, a slip is a question, a floor is a floor.
pub(crate) fn bench_by_hand(bench: &mut Bench) -> Run<'_> {
    Box::pin(async move {
        let place = bench.book(Some(BEACON))?;
        let log = place.file.with_file_name("readings.csv");
        let kept = || std::fs::read_to_string(&log).unwrap_or_default();
        bench.size(800, 1100).await?;
        bench
            .go(
                place.at("bench"),
                "the first row",
                "document.querySelector('.now input[name=typed]')",
            )
            .await?;
        // A tester that shows ohms: a safety row takes no number without its unit, and what was typed stays.
        reading(bench, "1.2", "bond", "four leads, cord off").await?;
        bench
            .until("the refusal", "document.querySelector('.now .fault')")
            .await?;
        let refused = bench.text_of(".now .fault").await?;
        check(
            refused.contains("1.2\u{a0}mΩ or 1.2\u{a0}Ω?") || refused.contains("1.2 mΩ or 1.2 Ω?"),
            || refused.clone(),
        )?;
        let typed = "[...document.querySelectorAll('.now [name=typed], .now [name=with], .now [name=setup]')].map(one => one.value).join(' | ')";
        let typed = bench.text(typed).await?;
        check(typed == "1.2 | bond | four leads, cord off", || {
            typed.clone()
        })?;
        check(!kept().contains("earth bond"), kept)?;
        reading(bench, "40 mΩ", "bond", "four leads, cord off").await?;
        bench
            .until(
                "the next row",
                "document.querySelector('.now .pt').textContent.includes('mains to chassis')",
            )
            .await?;
        check(kept().contains(",earth bond,resistance,40,mΩ,bond,"), kept)?;
        // The hand is in the next field, and what reads milliohms is not offered for megohms.
        bench
            .until("the field", "document.activeElement.id === 'typed'")
            .await?;
        let with = "document.querySelector('.now select[name=with]').value";
        let chosen = bench.text(with).await?;
        let hint = bench.text_of("#suits").await?;
        check(chosen.is_empty() && hint.contains("suits this row"), || {
            format!("{chosen}: {hint}")
        })?;
        let first = bench.text_of(".benchview .list li").await?;
        check(first.contains("fits"), || first.clone())?;
        bench.keep("bench-tablet").await?;

        // A slip is asked about, nothing is written, and it may still be kept.
        let own = "[...document.querySelectorAll('.list .name')].find(one => one.textContent.startsWith('T1 primary'))";
        let href = bench.text(&format!("{own}.href")).await?;
        bench.driver.goto(&href).await?;
        reading(bench, "43 kΩ", "meter", "lead pins").await?;
        bench
            .until(
                "the question",
                "document.querySelector('.now [name=as_typed]')",
            )
            .await?;
        let asked = bench.text_of(".now .fault").await?;
        check(
            asked.contains("Did you mean") && asked.contains("43"),
            || asked.clone(),
        )?;
        check(!kept().contains("T1 primary"), kept)?;
        // It is a page like any other: its head, its look, its script.
        let look = "getComputedStyle(document.querySelector('.now .entry')).borderTopWidth + document.querySelectorAll('header.top nav a').length";
        let look = bench.text(look).await?;
        check(look == "2px10", || format!("looks like {look}"))?;
        bench.keep("bench-question").await?;
        reading(bench, "43", "meter", "lead pins").await?;
        bench
            .until("the row", "!document.querySelector('.now [name=as_typed]')")
            .await?;
        check(kept().contains("T1 primary,resistance,43,Ω,meter,"), kept)?;

        // A step with power waits, and going on takes a reason.
        bench
            .go(
                place.at("bench?step=dummy+load,+warm"),
                "the points",
                "document.querySelector('.now') && document.querySelector('.benchview .list')",
            )
            .await?;
        let locked = bench.text_of(".now").await?;
        check(locked.contains("locked"), || locked.clone())?;
        bench.keep("bench-locked").await?;
        bench.click(".now summary").await?;
        let because = "all read on paper last week";
        bench.type_over(".now [name=because]", because).await?;
        bench.click(".now details button").await?;
        bench
            .until(
                "the step to open",
                "document.querySelector('.now input[name=typed]')",
            )
            .await?;
        check(kept().contains("all read on paper last week"), kept)?;
        let told = bench.text_of(".benchview").await?;
        check(told.contains("all read on paper last week"), || {
            told.clone()
        })?;

        // A floor is marked by the hand, not by words of a set-up.
        let own = "[...document.querySelectorAll('.list .name')].find(one => one.textContent.includes('ripple') && one.textContent.startsWith('osc'))";
        let href = bench.text(&format!("{own}.href")).await?;
        bench.driver.goto(&href).await?;
        bench
            .until("the field", "document.querySelector('.now [name=floor]')")
            .await?;
        bench.click(".now [name=floor]").await?;
        reading(bench, "310 µV", "scope", "1x probe, spring").await?;
        // Nothing of the page that comes next is not on this one too.
        bench
            .until_written("the floor", kept, "\"1x probe, spring; shorted\"")
            .await?;
        bench.size(360, 740).await?;
        bench.driver.goto(&href).await?;
        let wide = bench
            .text("String(document.documentElement.scrollWidth)")
            .await?;
        check(wide == "360", || format!("{wide} wide at 360"))?;
        bench.keep("bench-phone").await?;
        bench.colours("dark").await?;
        bench.keep("bench-phone-dark").await
    })
}
