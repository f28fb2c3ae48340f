//! Readings of an unmarked transformer, typed in at a phone's width with the keyboard alone.

use crate::bench::{BEACON, Bench, check};
use crate::scenarios::Run;
use thirtyfour::prelude::*;

/// A job with a transformer of which nothing is read yet.
fn nothing_read() -> String {
    let start = BEACON.find("[unmarked.T1]").expect("readings in the demo");
    let mut text = BEACON[..start].to_owned();
    text.push_str(
        "[unmarked.T9]   # from the attic\nleads = [\"red\", \"black\", \"yellow\", \"green\"]\n",
    );
    text
}

/// Puts the cursor into a field of a form that stands open.
const INTO: &str = "document.querySelector('.take details[open] input[name=reads]')";

pub(crate) fn typed_in(bench: &mut Bench) -> Run<'_> {
    Box::pin(async move {
        let place = bench.book(Some(&nothing_read()))?;
        bench.size(360, 800).await?;
        bench.driver.goto(place.at("transformer")).await?;
        // The first kind in the order of the bench stands open.
        bench.until("the form for ohms", INTO).await?;
        let open = bench.text_of(".take details[open] summary").await?;
        check(open.contains("ohms") && open.contains("not yet"), || {
            open.clone()
        })?;

        // A word for a number is refused at the field and stays there.
        bench.ask(&format!("{INTO}.focus()")).await?;
        let keys = bench.driver.action_chain();
        keys.send_keys("opne" + Key::Enter).perform().await?;
        bench
            .until("the fault", "document.querySelector('.take .fault')")
            .await?;
        let kept = bench.text(&format!("{INTO}.value")).await?;
        check(kept == "opne", || format!("what was typed reads {kept}"))?;
        check(place.text() == nothing_read(), || {
            "a reading that was refused is in the file".to_owned()
        })?;

        bench.ask(&format!("{INTO}.select()")).await?;
        let keys = bench.driver.action_chain();
        keys.send_keys("21.3" + Key::Enter).perform().await?;
        bench
            .until(
                "the reading",
                "document.querySelector('.take summary') && document.querySelector('.take summary').textContent.includes('✓ 1')",
            )
            .await?;
        let text = place.text();
        let line = "    { between = [\"red\", \"black\"], reads = \"21.3 Ω\" },";
        check(
            text.contains(line) && text.contains("[unmarked.T9]   # from the attic"),
            || text.clone(),
        )?;
        // The next kind stands open, and the page still fits.
        let open = bench.text_of(".take details[open] summary").await?;
        check(open.contains("insulation"), || open.clone())?;
        let wide = bench
            .ask("return document.scrollingElement.scrollWidth")
            .await?;
        check(wide.as_u64().unwrap_or(0) <= 360, || {
            format!("{wide} px wide")
        })?;
        let tall = bench
            .ask("return document.scrollingElement.scrollHeight")
            .await?;
        bench
            .size(360, tall.as_u64().unwrap_or(900).clamp(900, 6000) as u32)
            .await?;
        bench.keep("transformer-form-360").await?;
        bench.size(1280, 1600).await?;
        bench.keep("transformer-form-1280").await?;

        // Undo takes it out again.
        bench.click("form[action$=undo] button").await?;
        bench
            .until(
                "nothing read",
                "document.querySelector('.take summary') && document.querySelector('.take summary').textContent.includes('not yet')",
            )
            .await?;
        check(place.text() == nothing_read(), || place.text())
    })
}

/// The model that the readings make goes into the job by one key, after what it changes is shown; Undo takes it out.
pub(crate) fn taken_over(bench: &mut Bench) -> Run<'_> {
    Box::pin(async move {
        let place = bench.book(Some(BEACON))?;
        bench.size(820, 1180).await?;
        bench.driver.goto(place.at("transformer")).await?;
        bench
            .until("the model", "document.querySelector('.over .btn')")
            .await?;
        let shown = bench.text_of(".over .diff").await?;
        check(
            shown.contains("name = \"S1\"") && shown.contains("leakage = "),
            || shown.clone(),
        )?;
        check(place.text() == BEACON, || "shown, not written".to_owned())?;
        bench.keep("transformer-over-820").await?;
        bench.click(".over .btn").await?;
        bench
            .until(
                "the model in the job",
                "document.querySelector('.over') && document.querySelector('.over').textContent.includes('has these figures already')",
            )
            .await?;
        let text = place.text();
        check(
            text.contains("leakage = ") && text.contains("# off load, with 233 V on P1 + P2"),
            || text.clone(),
        )?;
        bench.click("form[action$=undo] button").await?;
        bench
            .until("the key again", "document.querySelector('.over .btn')")
            .await?;
        check(place.text() == BEACON, || place.text())?;

        // Changed elsewhere meanwhile: nothing is written, and it is said.
        let script = "const form = document.querySelector('.over form'); form.elements.sum.value = '0'.repeat(64); form.submit();";
        bench.ask(script).await?;
        bench
            .until("the refusal", "document.querySelector('[role=alert]')")
            .await?;
        check(place.text() == BEACON, || place.text())
    })
}
