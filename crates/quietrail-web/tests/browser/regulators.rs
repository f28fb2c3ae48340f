//! The regulators' cards, the picture of noise, and the translator.

use crate::bench::{BEACON, Bench, check};
use crate::scenarios::Run;
use thirtyfour::prelude::*;

/// What the translator said.
const UNITS: &str = "document.querySelectorAll('#units dd').length";

pub(crate) fn cards_noise_units(bench: &mut Bench) -> Run<'_> {
    Box::pin(async move {
        let place = bench.book(Some(BEACON))?;
        bench.size(1280, 900).await?;
        bench.driver.goto(place.at("regulators")).await?;
        bench
            .until(
                "both cards",
                "document.querySelectorAll('.reg').length === 2",
            )
            .await?;
        let card = bench.text_of(".reg").await?;
        check(
            card.contains("U1") && card.contains("over its tolerances"),
            || card.clone(),
        )?;
        bench
            .until(
                "the proof in the card",
                "document.querySelectorAll('.reg tbody tr').length > 4",
            )
            .await?;
        // The demo gives no noise figure for one of its regulators, or it is drawn: either is said.
        bench
            .until(
                "the noise, or why there is none",
                "document.querySelector('#noise svg') || document.querySelector('#noise .empty')",
            )
            .await?;

        let field = ".units-form input[name=level]";
        for (text, says) in [("-40 dB", "against what"), ("20 mV rms", "")] {
            bench
                .ask(&format!("document.querySelector('{field}').select()"))
                .await?;
            bench
                .ask(&format!("document.querySelector('{field}').focus()"))
                .await?;
            let keys = bench.driver.action_chain();
            keys.send_keys(text + Key::Enter).perform().await?;
            if says.is_empty() {
                bench.until("the units", &format!("{UNITS} >= 2")).await?;
            } else {
                bench
                    .until("the fault", "document.querySelector('#units .fault')")
                    .await?;
                let fault = bench.text_of("#units .fault").await?;
                check(fault.contains(says), || fault.clone())?;
            }
        }
        let units = bench.text_of("#units").await?;
        check(
            units.contains("dBV") && units.contains("what it looks like"),
            || units.clone(),
        )?;
        Ok(())
    })
}
