//! Every number opens its sum, and every view gives its figures as a file.

use crate::bench::{Bench, check};
use crate::scenarios::Run;
use serde_json::json;

pub(crate) fn a_number_opens(bench: &mut Bench) -> Run<'_> {
    Box::pin(async move {
        let address = bench.demo()?;
        bench.driver.goto(format!("{address}margins")).await?;
        bench.settled().await?;
        bench
            .until("rows", "document.querySelector('.mar a')")
            .await?;
        bench.click(".mar a").await?;
        bench
            .until("the sum", "document.querySelector('.sum .total')")
            .await?;
        let sum = bench.text_of(".why").await?;
        for expected in ["−470", "dropout", "What moves it most", "job file"] {
            check(sum.contains(expected), || {
                format!("the sum lacks {expected}: {sum}")
            })?;
        }
        bench.keep("why").await?;
        // The corner in hand has a sum of its own, and it comes to what stands there.
        bench
            .go(
                format!("{address}descent?state=cold&mains=220"),
                "a figure",
                "document.querySelector('.second .fig a')",
            )
            .await?;
        let shown = bench.text_of(".second .fig").await?;
        bench.click(".second .fig a").await?;
        bench
            .until("its sum", "document.querySelector('.why .sum .total')")
            .await?;
        let sum = bench.text_of(".why").await?;
        let figure = shown.trim().trim_start_matches('+');
        check(sum.contains(figure) && sum.contains("220"), || {
            format!("{shown} is not in {sum}")
        })?;
        bench.keep("why-here").await?;

        // Figures that no limit is about: in the drawing, in its table, on the Waves and on the Bench.
        let figure = "document.querySelector('.wide svg a[href*=\"raw%20valley\"]')";
        bench.until("the raw level", figure).await?;
        let href = bench
            .text(&format!("{figure}.getAttribute('href')"))
            .await?;
        for (view, own) in [
            ("descent", href.as_str()),
            (
                "descent",
                "descent?state=cold&mains=220&why=raw%20peak&in=cold&at=here",
            ),
            (
                "waves",
                "waves?state=cold&mains=220&why=raw%20valley&in=cold&at=here",
            ),
        ] {
            bench
                .go(
                    format!("{address}{own}"),
                    "its sum",
                    "document.querySelector('.why .sum .total')",
                )
                .await?;
            let sum = bench.text_of(".why").await?;
            check(sum.contains("220") && sum.contains("raw"), || {
                format!("{view}: {sum}")
            })?;
        }
        let told = bench.text_of(".figures-of").await?;
        let total = bench.text_of(".why .sum .total .value").await?;
        check(told.contains(total.trim()), || {
            format!("{total} is not in {told}")
        })?;
        bench.keep("why-waves").await
    })
}

/// A view's figures as CSV, as a click on its link would bring them.
const CSV: &str = "const done=arguments[arguments.length-1];fetch(arguments[0]).then(async a=>done(a.status+' '+await a.text()))";

pub(crate) fn as_csv(bench: &mut Bench) -> Run<'_> {
    Box::pin(async move {
        let address = bench.demo()?;
        bench.driver.goto(format!("{address}needs")).await?;
        for (view, head) in [
            ("descent?state=cold&as=csv", "station,here_low_v"),
            ("margins?as=csv", "limit,state,verdict"),
            ("waves?state=cold&as=csv", "time_s,volts_v"),
            ("bench?as=csv", "step,state,of,what,low,as_marked"),
            ("transformer?as=csv", "transformer,winding,leads"),
        ] {
            let answer = bench.driver.execute_async(CSV, vec![json!(view)]).await?;
            let text: String = answer.convert()?;
            let lines: Vec<&str> = text.lines().collect();
            check(text.starts_with(&format!("200 {head}")), || {
                format!("{view}: {}", lines.first().unwrap_or(&""))
            })?;
            // The demo's transformer is marked: its table is empty.
            check(lines.len() > 3 || view.starts_with("transformer"), || {
                format!("{view} has {} lines", lines.len())
            })?;
        }
        Ok(())
    })
}
