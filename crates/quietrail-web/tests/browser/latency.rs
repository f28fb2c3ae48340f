//! How long a hand waits: from its movement to the picture, and from an address to the first answer. Printed, never judged.

use crate::bench::{BEACON, Bench, check};
use crate::scenarios::{Run, VIEWS};
use serde_json::json;
use std::time::{Duration, Instant};

/// Movements of the hand on a slider.
const MOVES: usize = 40;

/// Times from the input event to the frame after the swap; of which the server took, and of that, solving. The slider is found in the same
/// breath as it is taken hold of: what the search brings may replace the page until then.
const DRAG: &str = "const done=arguments[arguments.length-1],times=[],s=document.querySelector(arguments[0]),d=s.closest('details');let n=0;if(d)d.open=true;s.focus();\
const step=()=>{if(n===arguments[1]){done(times);return}const t=performance.now();n++;\
document.addEventListener('swapped',()=>requestAnimationFrame(()=>{const e=performance.getEntriesByType('resource').filter(e=>e.name.includes('moving=1')).pop();\
const told=name=>{const one=e&&e.serverTiming.find(one=>one.name===name);return one?one.duration:-1};\
times.push([performance.now()-t,told('page'),told('solve')]);performance.clearResourceTimings();setTimeout(step,5)}),{once:true});\
s.value=+s.min+(+s.max-+s.min)*(0.2+0.6*(n%17)/17);s.dispatchEvent(new Event('input',{bubbles:true}))};step();";

/// Drags the mains, then a capacitor.
pub(crate) fn drag(bench: &mut Bench) -> Run<'_> {
    Box::pin(async move {
        let address = bench.demo()?;
        bench
            .go(
                format!("{address}descent?state=cold"),
                "a first look",
                "document.querySelector('.where a')",
            )
            .await?;
        bench
            .driver
            .set_script_timeout(Duration::from_secs(120))
            .await?;
        bench.ask("document.body.dataset.still='1'").await?;
        for (what, slider) in [("mains", "#mains"), ("C1", "[data-to=\"f-C1-value\"]")] {
            if what != "mains" {
                bench
                    .go(
                        format!("{address}descent?state=cold&part=C1"),
                        "a first look",
                        "document.querySelector('.where a')",
                    )
                    .await?;
                bench.ask("document.body.dataset.still='1'").await?;
            }
            let times = bench
                .driver
                .execute_async(DRAG, vec![json!(slider), json!(MOVES)])
                .await?;
            let all: Vec<[f64; 3]> = times.convert()?;
            check(all.len() == MOVES, || {
                format!("{} answers to {MOVES} movements", all.len())
            })?;
            let share_of = |of: &dyn Fn(&[f64; 3]) -> f64, share: f64| {
                let mut sorted: Vec<f64> = all.iter().map(of).collect();
                sorted.sort_by(f64::total_cmp);
                sorted[((sorted.len() - 1) as f64 * share).round() as usize]
            };
            let both = |of: &dyn Fn(&[f64; 3]) -> f64| {
                format!("{:.0} and {:.0} ms", share_of(of, 0.5), share_of(of, 0.95))
            };
            println!(
                "  drag of {what}, p50 and p95 from input to redrawn picture: {}; solving {}, the rest of the server {}, the browser {}",
                both(&|one| one[0]),
                both(&|one| one[2]),
                both(&|one| one[1] - one[2]),
                both(&|one| one[0] - one[1]),
            );
        }
        Ok(())
    })
}

/// Each view as the first page that is asked of a workbook: it answers with what is known, and fills in.
pub(crate) fn first_answers(bench: &mut Bench) -> Run<'_> {
    Box::pin(async move {
        // Nobody else's search counts in its time.
        let demo = bench.demo()?;
        bench
            .go(
                format!("{demo}margins"),
                "the margins",
                "document.querySelector('.margins')",
            )
            .await?;
        bench.settled().await?;
        for view in VIEWS {
            bench.close_books(1);
            let place = bench.book(Some(BEACON))?;
            let begun = Instant::now();
            bench.driver.goto(place.at(view)).await?;
            let first = begun.elapsed();
            let said = bench
                .text("document.querySelector('main').textContent.trim().length")
                .await?;
            check(said.parse::<u32>().unwrap_or(0) > 40, || {
                format!("{view} says nothing at first")
            })?;
            if view != "record" {
                println!(
                    "  {view}: first answer after {:.0} ms",
                    1e3 * first.as_secs_f64()
                );
                continue;
            }
            bench.settled().await?;
            bench
                .until(
                    "nothing more to come",
                    "!document.querySelector('.coming, .standing, [data-waits]')",
                )
                .await?;
            println!(
                "  {view}: first answer after {:.0} ms, all of it after {:.1} s",
                1e3 * first.as_secs_f64(),
                begun.elapsed().as_secs_f64()
            );
        }
        Ok(())
    })
}
