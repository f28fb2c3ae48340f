//! Pages before engines from outside: accessibility, and the markup.

use crate::bench::{Bench, Outcome, check};
use crate::engines;
use crate::scenarios::Run;
use serde_json::json;
use std::time::Duration;

/// Pages that an engine looks at: every view, and what opens on them.
const PAGES: [&str; 20] = [
    "needs",
    "descent",
    "margins",
    "waves",
    "record",
    "file",
    "descent?state=cold&parts=worst&mains=207&part=C1",
    "descent?try=C1.value:4700%20mF&part=C1",
    "descent?try=C1.value:6800u",
    "margins?why=U1%20headroom&in=cold",
    "waves?node=heater&state=cold",
    "waves?state=cold&why=raw%20valley&in=cold&at=here",
    "descent?state=cold&why=raw%20peak&in=cold&at=here",
    "transformer",
    "bench",
    "bench?step=load%20connected",
    "regulators",
    "regulators?level=20%20mV%20p-p&looks=sine&band=10%20Hz%20..%20100%20kHz",
    "oscillator",
    "descent?state=cold&part=U1&why=U1%20headroom&in=cold",
];

/// Opens all that is folded, and lets the accessibility engine look at the page.
const LOOK: &str = "const done=arguments[arguments.length-1];document.querySelectorAll('details').forEach(d=>d.open=true);\
                    axe.run(document,{runOnly:['wcag2a','wcag2aa','wcag21a','wcag21aa','wcag22aa','best-practice']}).then(r=>\
                    done(r.violations.map(v=>v.id+': '+v.nodes.slice(0,3).map(n=>n.html.slice(0,160)+' '+(n.any[0]||n.all[0]||n.none[0]||{message:''}).message).join(' | '))))";

/// What the accessibility engine finds on the page that is open.
async fn violations(
    bench: &Bench,
    script: &str,
) -> Result<Vec<String>, Box<dyn std::error::Error>> {
    bench
        .driver
        .set_script_timeout(Duration::from_secs(120))
        .await?;
    bench.driver.execute(script, Vec::new()).await?;
    let said = bench.driver.execute_async(LOOK, Vec::new()).await?;
    let all = said.json().as_array().into_iter().flatten();
    Ok(all
        .map(|one| one.as_str().unwrap_or_default().to_owned())
        .collect())
}

/// The page that is open has no violation; without the engine nothing is looked at.
pub(crate) async fn open_page_is_accessible(bench: &Bench, name: &str) -> Outcome {
    let Some(folder) = engines_or_skip()? else {
        return Ok(());
    };
    let found = violations(bench, &engines::axe(&folder)?).await?;
    check(found.is_empty(), || {
        format!("{name}: {}", found.join("\n  "))
    })
}

pub(crate) fn accessibility(bench: &mut Bench) -> Run<'_> {
    Box::pin(async move {
        let Some(folder) = engines_or_skip()? else {
            return Ok(());
        };
        let script = engines::axe(&folder)?;
        let address = bench.demo()?;
        let mut found = Vec::new();
        for (scheme, width) in [("light", 1440), ("dark", 1440), ("light", 390)] {
            bench.colours(scheme).await?;
            bench.size(width, 1000).await?;
            for page in PAGES {
                bench.driver.goto(format!("{address}{page}")).await?;
                let said = violations(bench, &script).await?;
                found.extend(
                    said.iter()
                        .map(|one| format!("{page}, {scheme}, {width} px: {one}")),
                );
            }
        }
        check(found.is_empty(), || found.join("\n  "))
    })
}

pub(crate) fn valid_html(bench: &mut Bench) -> Run<'_> {
    Box::pin(async move {
        let Some(folder) = engines_or_skip()? else {
            return Ok(());
        };
        let address = bench.demo()?;
        bench.driver.goto(format!("{address}descent")).await?;
        let mut pages = Vec::new();
        for (number, page) in PAGES.iter().enumerate() {
            // As the server sends it, not as the browser mends it.
            let run = "const done=arguments[arguments.length-1];fetch(arguments[0]).then(r=>r.text()).then(done)";
            let text = bench.driver.execute_async(run, vec![json!(page)]).await?;
            pages.push((
                format!("page-{number}"),
                text.json().as_str().unwrap_or_default().to_owned(),
            ));
        }
        let said = engines::invalid(&folder, &pages)?;
        check(said.is_empty(), || said.clone())
    })
}

/// Engines from npm; without a network they are skipped, except where `CI` is set.
fn engines_or_skip() -> Result<Option<std::path::PathBuf>, Box<dyn std::error::Error>> {
    match engines::fetched() {
        Ok(folder) => Ok(Some(folder)),
        Err(why) if std::env::var_os("CI").is_some() => Err(why.into()),
        Err(why) => {
            println!("  SKIPPED: {why}");
            Ok(None)
        }
    }
}
