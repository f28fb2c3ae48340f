//! A job that begins in an empty folder, with one rail or with several.

use crate::bench::{Bench, check};
use crate::judged::open_page_is_accessible;
use crate::scenarios::Run;

pub(crate) fn empty_folder(bench: &mut Bench) -> Run<'_> {
    Box::pin(async move {
        let place = bench.book(None)?;
        bench
            .go(
                &place.address,
                "the questions",
                "document.querySelector('.begin')",
            )
            .await?;
        bench.keep("begin").await?;
        bench.type_over("#q-primary_ohms", "45 V").await?;
        bench.click(".begin .btn.main").await?;
        bench
            .until(
                "the fault at its field",
                "document.querySelector('.question.wrong .fault')",
            )
            .await?;
        check(place.text().is_empty(), || {
            "a faulty answer was written".to_owned()
        })?;
        bench.keep("begin-fault").await?;
        bench.type_over("#q-primary_ohms", "45R").await?;
        bench.click(".begin .btn.main").await?;
        bench
            .until("the Descent", "document.querySelector('#draw svg')")
            .await?;
        let text = place.text();
        check(
            text.contains("resistance = \"45R\"") && text.contains("# "),
            || text.clone(),
        )
    })
}

/// Three rails and states of the builder's own: the job is written, read, drawn on every width, and its third rail is there.
pub(crate) fn three_rails(bench: &mut Bench) -> Run<'_> {
    Box::pin(async move {
        let place = bench.book(None)?;
        bench
            .driver
            .goto(place.at("begin?rails=3&states=idle,%20transmit,%20receive"))
            .await?;
        for (field, text) in [
            ("#q-rail3-load", "radio"),
            ("#q-rail3-volts", "5 V"),
            ("#q-rail3-draw-1", "300 mA ±10 %"),
        ] {
            bench.type_over(field, text).await?;
        }
        // Another choice keeps what was typed.
        bench.click(".begin .ask").await?;
        bench
            .until(
                "the questions again, as typed",
                "location.search.includes('rail3-load') && document.getElementById('q-rail3-load').value === 'radio'",
            )
            .await?;
        bench.keep("begin-rails").await?;
        open_page_is_accessible(bench, "several rails begin").await?;
        bench.click(".begin .btn.main").await?;
        bench
            .until("the Descent", "document.querySelector('#draw svg')")
            .await?;
        let text = place.text();
        for expected in [
            "[load.radio]",
            "transmit = \"300 mA ±10 %\"",
            "idle     = \"plugged in, load not connected\"",
            "name = \"radio ripple\"",
            "[regulator.U3]",
        ] {
            check(text.contains(expected), || format!("{expected}:\n{text}"))?;
        }
        bench.settled().await?;
        for width in [390, 1440] {
            bench.size(width, 900).await?;
            let tall = bench
                .ask("return document.scrollingElement.scrollHeight")
                .await?;
            let tall = tall.as_u64().unwrap_or(900).clamp(900, 4000) as u32;
            bench.size(width, tall).await?;
            bench.keep(&format!("three-rails-{width}")).await?;
            let said = bench.text_of("#draw").await?;
            check(said.contains("radio"), || said.clone())?;
        }
        // All three are in every other view too, and none is wider than the screen.
        for width in [390, 1440] {
            bench.size(width, 1000).await?;
            for view in [
                "needs",
                "margins",
                "waves?state=transmit",
                "bench",
                "record",
            ] {
                bench.driver.goto(place.at(view)).await?;
                let name = view.split('?').next().unwrap_or(view);
                bench.keep(&format!("three-rails-{name}-{width}")).await?;
                let wide = bench
                    .text("String(document.documentElement.scrollWidth)")
                    .await?;
                check(wide == width.to_string(), || {
                    format!("{view} is {wide} wide at {width}")
                })?;
                let said = bench.text_of("#answer").await?;
                check(said.contains("radio") || said.contains("U3"), || {
                    format!("{view}: {said}")
                })?;
            }
        }
        Ok(())
    })
}
