//! What somebody looks for who meets the workbook for the first time.

use crate::bench::{BEACON, Bench, check};
use crate::scenarios::Run;

pub(crate) fn finds_the_way(bench: &mut Bench) -> Run<'_> {
    Box::pin(async move {
        let address = bench.demo()?;
        // A state that the job does not have is said, not passed over.
        bench
            .go(
                format!("{address}descent?state=hot&part=W1"),
                "a drawing",
                "document.querySelector('#draw svg')",
            )
            .await?;
        let said = bench.text_of("#corner-faults").await?;
        check(
            said.contains("hot") && said.contains("idle, cold, warm"),
            || said.clone(),
        )?;
        // Every part has a way to its card, those that the long section leaves out too.
        let card = bench.text_of("#card .who").await?;
        check(card.contains("W1"), || card.clone())?;
        let parts = bench.text_of(".allparts").await?;
        for part in ["F1", "C2", "R5", "SK1", "osc"] {
            check(parts.contains(part), || format!("{part} is not in {parts}"))?;
        }
        bench.click(".allparts a[href*='part=osc']").await?;
        bench
            .until(
                "the limits on the load's own pins",
                "[...document.querySelectorAll('#card .stress th')].some((one) => one.textContent.includes('ripple'))",
            )
            .await?;
        bench.settled().await?;
        // What a change to C1 does for another's limit stands on C1's card.
        bench
            .go(
                format!("{address}descent?part=C1"),
                "the card",
                "document.querySelector('#card .try')",
            )
            .await?;
        let help = bench.text_of("#card .help").await?;
        check(
            help.contains("For U1 headroom") && help.contains("leaves"),
            || help.clone(),
        )?;
        // The rest of a corner opens.
        bench
            .go(
                format!("{address}margins"),
                "the rows",
                "document.querySelector('.margins .rest summary')",
            )
            .await?;
        let rest = bench.text_of(".margins .rest").await?;
        check(rest.contains("more") && rest.contains("U1"), || {
            rest.clone()
        })?;
        Ok(())
    })
}

pub(crate) fn waves_and_descent_agree(bench: &mut Bench) -> Run<'_> {
    Box::pin(async move {
        let address = bench.demo()?;
        bench
            .go(
                format!("{address}descent?state=cold"),
                "a drawing",
                "document.querySelector('#draw svg')",
            )
            .await?;
        bench.settled().await?;
        let drawn = bench.text_of("#draw .wide").await?;
        bench
            .go(
                format!("{address}waves?state=cold&node=raw"),
                "a drawing",
                "document.querySelector('.wavewrap svg')",
            )
            .await?;
        let waves = bench.text_of("#waves").await?;
        check(waves.contains("raw, worst for U1"), || waves.clone())?;
        // What each regulator needs at worst is one figure.
        let needs = |part: &str| -> Option<String> {
            let (_, rest) = waves.split_once(&format!("{part} needs "))?;
            let at_worst = rest.split_once("at worst").map(|(before, _)| before)?;
            let volts = at_worst.rsplit("needs ").next()?;
            Some(volts.trim().replace('\u{a0}', " "))
        };
        for part in ["U1", "U2"] {
            let volts = needs(part).ok_or("no need")?;
            let told = drawn.replace('\u{a0}', " ");
            check(told.contains(&format!("at worst {volts}")), || {
                format!("{part} needs {volts} at worst in Waves, and the Descent says {told}")
            })?;
        }
        // A node that feeds nothing has a lowest of its own, which is no higher than where it stands now.
        bench
            .go(
                format!("{address}waves?state=cold&node=osc"),
                "a drawing",
                "document.querySelectorAll('[data-series]').length === 2",
            )
            .await?;
        let name = bench.text_of(".readout").await?;
        check(name.contains("osc, lowest found"), || name.clone())?;
        let script = "const [own, low] = [...document.querySelectorAll('[data-series]')].map((one) => Math.min(...one.dataset.series.split(' ').map(Number))); return low < own";
        let is_lower = bench.ask(script).await?;
        check(is_lower == serde_json::Value::Bool(true), || {
            "the lowest found stands above this corner".to_owned()
        })
    })
}

pub(crate) fn a_locked_step_is_not_live(bench: &mut Bench) -> Run<'_> {
    Box::pin(async move {
        let place = bench.book(Some(BEACON))?;
        bench.driver.goto(place.at("descent")).await?;
        bench.settled().await?;
        bench
            .go(
                place.at("bench?step=load%20connected"),
                "the step",
                "document.querySelector('.live.waits') && document.querySelector('.benchview .list')",
            )
            .await?;
        let band = bench.text_of(".live").await?;
        check(band.contains("Locked") && !band.contains("Live"), || {
            band.clone()
        })?;
        let verdict = bench.text_of(".verdictbox").await?;
        check(
            verdict.contains("Do not connect the load yet") && verdict.contains("U1 headroom"),
            || verdict.clone(),
        )?;
        let stop = bench.text_of(".benchview .stop").await?;
        check(stop.contains("raw, mean, goes above"), || stop.clone())?;
        // The way to what it waits for.
        bench.click(".now .btn.main").await?;
        bench
            .until(
                "the first step",
                "document.querySelector('h1').textContent.includes('power off')",
            )
            .await?;
        check(
            bench
                .ask("return document.querySelector('.live')")
                .await?
                .is_null(),
            || "nothing is live with the plug out".to_owned(),
        )?;
        let with = bench
            .text("document.querySelector('#suits').textContent")
            .await?;
        check(with.contains("bond"), || {
            format!("the earth bond is to be read with: {with}")
        })
    })
}

/// The headline and the picture may be of two corners; both say which, and one press makes them one.
pub(crate) fn the_headline_is_drawn(bench: &mut Bench) -> Run<'_> {
    Box::pin(async move {
        let address = bench.demo()?;
        bench
            .go(
                format!("{address}descent?state=warm"),
                "a drawing",
                "document.querySelector('#draw svg')",
            )
            .await?;
        bench.settled().await?;
        let drawn = bench.text_of(".drawn").await?;
        check(drawn.contains("warm") && drawn.contains("230"), || {
            drawn.clone()
        })?;
        bench.click(".drawit a").await?;
        bench
            .until(
                "the worst corner",
                "document.querySelector('.drawit').textContent.includes('is drawn') && !document.querySelector('.drawn a')",
            )
            .await?;
        let (shout, second) = (
            bench.text_of(".shout").await?,
            bench.text_of(".second .fig").await?,
        );
        check(shout.trim() == second.trim(), || {
            format!("the headline says {shout}, the corner drawn {second}")
        })?;
        let mains = bench.text_of("#mains-now").await?;
        check(mains.contains("207"), || mains.clone())?;
        bench.keep("descent-worst").await
    })
}

/// A value in the address that cannot be read is refused at its field, and all figures stay those of the file.
pub(crate) fn refused_in_the_address(bench: &mut Bench) -> Run<'_> {
    Box::pin(async move {
        let address = bench.demo()?;
        let shout = "document.querySelector('.lead .shout')";
        bench
            .go(
                format!("{address}descent?state=cold"),
                "the worst corner",
                "document.querySelector('.where a')",
            )
            .await?;
        bench.settled().await?;
        let whole = bench.text(&format!("{shout}.textContent")).await?;
        bench
            .go(
                format!("{address}descent?state=cold&try=C1.value:4700%20parsecs"),
                "the refusal",
                "document.querySelector('#trying .fault')",
            )
            .await?;
        let said = bench.text_of("#trying").await?;
        check(
            said.contains("Not tried") && said.contains("parsecs") && said.contains("3300"),
            || said.clone(),
        )?;
        let stays = bench.text(&format!("{shout}.textContent")).await?;
        check(stays == whole, || format!("{stays}, was {whole}"))?;
        let at_field = bench.text_of("#card .field.wrong .fault").await?;
        check(at_field.contains("parsecs"), || at_field.clone())?;
        let keep = bench
            .text("String(document.querySelector('#trying .btn.main').disabled)")
            .await?;
        check(keep == "true", || "Keep can be pressed".to_owned())?;
        // One that can be read beside it is tried.
        bench
            .go(
                format!("{address}margins?try=C1.value:4700%20parsecs&try=R4.value:2k"),
                "what is tried",
                "document.querySelector('#trying .fault')",
            )
            .await?;
        bench.settled().await?;
        let said = bench.text_of("#trying").await?;
        check(
            said.contains("Trying R4.value") && said.contains("Not tried: C1.value"),
            || said.clone(),
        )
    })
}

/// A phone shows one rail, the tightest first, and a key for the other.
pub(crate) fn one_rail_on_a_phone(bench: &mut Bench) -> Run<'_> {
    Box::pin(async move {
        let address = bench.demo()?;
        bench.size(390, 844).await?;
        let seen = "[...document.querySelectorAll('.tall figure')].filter((one) => one.offsetHeight > 0).map((one) => one.querySelector('svg').textContent).join(' | ')";
        bench
            .go(
                format!("{address}descent?state=cold"),
                "the worst corner",
                "document.querySelector('.where a')",
            )
            .await?;
        let first = bench.text(seen).await?;
        check(first.contains("U1 needs") && !first.contains("U2"), || {
            first.clone()
        })?;
        bench.click(".rails a:last-child").await?;
        bench
            .until(
                "the other rail",
                "document.querySelector('.tall .chosen').textContent.includes('U2 needs')",
            )
            .await?;
        let other = bench.text(seen).await?;
        check(!other.contains("U1 needs"), || other.clone())?;
        // It stays while the corner is changed.
        bench
            .ask("const one = document.querySelector('input[name=state][value=warm]'); one.checked = true; one.dispatchEvent(new Event('change', { bubbles: true }))")
            .await?;
        bench
            .until(
                "the same rail, warm",
                "document.querySelector('.drawn').textContent.includes('warm') && document.querySelector('.tall .chosen').textContent.includes('U2 needs')",
            )
            .await?;
        bench.keep("descent-phone-osc").await?;
        // Tables of the Transformer are cards there: no letter stands under another.
        bench
            .go(
                format!("{address}transformer"),
                "the windings",
                "document.querySelector('.readings .draws td')",
            )
            .await?;
        let narrow = bench
            .text("String([...document.querySelectorAll('.readings .draws th[scope=row]')].some((one) => one.getBoundingClientRect().width < 120))")
            .await?;
        check(narrow == "false", || "a column is a letter wide".to_owned())?;
        bench.keep("transformer-phone").await
    })
}

/// A server that has ended is told in words, and a form is not lost on the browser's own page.
pub(crate) fn a_server_that_has_ended(bench: &mut Bench) -> Run<'_> {
    Box::pin(async move {
        let place = bench.book(Some(BEACON))?;
        bench
            .go(
                place.at("descent?try=C1.value:6800u"),
                "what is tried",
                "document.querySelector('#trying .btn.main')",
            )
            .await?;
        bench.close_books(1);
        bench
            .until("the notice", "!document.getElementById('gone').hidden")
            .await?;
        let said = bench.text_of("#gone").await?;
        check(
            said.contains("does not answer") && said.contains("quietrail open"),
            || said.clone(),
        )?;
        bench.keep("server-ended").await?;
        bench.click("#trying .btn.main").await?;
        let held = bench
            .text("document.activeElement.id + ' ' + location.pathname.split('/').pop()")
            .await?;
        check(held == "gone descent", || held.clone())
    })
}
