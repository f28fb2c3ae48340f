//! What a person does with the workbook.

use crate::bench::{BEACON, Bench, Outcome, check};
use crate::unmarked;
use crate::{
    beginning, capture, edges, hand, judged, latency, paper, regulators, stranger, sums, typed,
};
use quietrail_job::begin::{ALL as QUESTIONS, Answers, REGION, Region, TEMPLATE};
use serde_json::{Value, json};
use std::future::Future;
use std::pin::Pin;
use thirtyfour::prelude::*;

/// A scenario that runs.
pub(crate) type Run<'a> = Pin<Box<dyn Future<Output = Outcome> + 'a>>;

/// A scenario with its name.
pub(crate) type Scenario = (&'static str, for<'a> fn(&'a mut Bench) -> Run<'a>);

/// All scenarios.
pub(crate) const ALL: &[Scenario] = &[
    ("the_demo_opens_and_says_what_fails", the_demo_opens),
    ("drag_the_mains_and_read_the_new_valley", drag_the_mains),
    ("drag_latency", latency::drag),
    ("first_answers", latency::first_answers),
    ("keep_a_change_and_the_comment_stays", keep_a_change),
    ("the_file_edited_elsewhere_shows", edited_elsewhere),
    ("a_stale_write_is_refused_with_the_difference", stale_write),
    ("two_tabs_agree", two_tabs),
    (
        "a_doubtful_value_is_asked_about_at_the_field",
        doubtful_value,
    ),
    ("a_broken_file_shows_the_caret", broken_file),
    ("bench_by_hand", hand::bench_by_hand),
    ("bench_capture", capture::capture),
    ("a_stranger_finds_the_way", stranger::finds_the_way),
    ("waves_and_descent_agree", stranger::waves_and_descent_agree),
    (
        "a_locked_step_is_not_live",
        stranger::a_locked_step_is_not_live,
    ),
    (
        "the_record_waits_for_what_is_sought",
        paper::the_record_waits,
    ),
    ("the_record_prints", paper::the_record_prints),
    ("readings_reach_margins_and_record", paper::readings),
    ("oscillator_reading_typed_in", typed::oscillator_reading),
    ("stretched_jobs_fit", edges::stretched),
    ("the_headline_is_drawn", stranger::the_headline_is_drawn),
    ("refused_in_the_address", stranger::refused_in_the_address),
    ("a_server_that_has_ended", stranger::a_server_that_has_ended),
    ("one_rail_on_a_phone", stranger::one_rail_on_a_phone),
    ("every_view_by_keyboard", edges::every_view_by_keyboard),
    (
        "every_view_without_script",
        edges::every_view_without_script,
    ),
    ("targets_for_a_finger", edges::targets_for_a_finger),
    ("keyboard_only", keyboard_only),
    ("every_width", every_width),
    ("dark", dark),
    ("scripts_off", scripts_off),
    ("a_number_opens_its_sum", sums::a_number_opens),
    ("every_view_gives_its_figures_as_csv", sums::as_csv),
    ("the_back_button_goes_back", back_button),
    ("accessibility_engine", judged::accessibility),
    ("valid_html", judged::valid_html),
    ("no_request_leaves_the_machine", no_request_leaves),
    ("an_empty_folder_becomes_a_job", beginning::empty_folder),
    ("three_rails_begin_and_fit", beginning::three_rails),
    ("readings_of_a_transformer_are_typed_in", unmarked::typed_in),
    ("a_transformer_is_taken_over", unmarked::taken_over),
    (
        "regulators_have_cards_and_units",
        regulators::cards_noise_units,
    ),
];

/// Every view of the row.
pub(crate) const VIEWS: [&str; 10] = [
    "needs",
    "descent",
    "margins",
    "waves",
    "regulators",
    "transformer",
    "bench",
    "oscillator",
    "record",
    "file",
];

/// A job of one rail, as the guided start writes it, with a comment of the builder's.
pub(crate) fn small() -> String {
    let region = Region::parse(REGION).expect("the region that stands by default");
    let mut answers = Answers::new(region);
    for question in QUESTIONS {
        let default = question.default(&answers);
        answers.take(question.name, default);
    }
    let text = answers.fill(TEMPLATE);
    text.replacen(
        "= \"4700 µF ±20 %\"",
        "= \"4700 µF ±20 %\"   # from the tin on the shelf",
        1,
    )
}

fn the_demo_opens(bench: &mut Bench) -> Run<'_> {
    Box::pin(async move {
        let address = bench.demo()?;
        bench.driver.goto(&address).await?;
        let title = bench.driver.title().await?;
        check(title.contains("hilltop beacon"), || {
            format!("the title is {title}")
        })?;
        // Something useful at once, the rest as it comes.
        bench
            .until(
                "a first figure",
                "document.querySelector('.shout, .second .fig')",
            )
            .await?;
        bench.keep("descent-first").await?;
        bench.settled().await?;
        let shout = bench.text_of(".shout").await?;
        check(shout.contains("−470"), || {
            format!("the worst headroom reads {shout}")
        })?;
        let tally = bench.text_of(".tally").await?;
        check(tally.contains("1 fails"), || {
            format!("the tally reads {tally}")
        })?;
        bench.keep("descent").await?;
        for view in VIEWS {
            bench.driver.goto(format!("{address}{view}")).await?;
            bench.keep(view).await?;
        }
        Ok(())
    })
}

/// Sets a slider as a hand does: a value and an input event; the change event where the hand lets go.
const DRAG: &str = "const s=document.getElementById('mains');s.value=arguments[0];\
s.dispatchEvent(new Event('input',{bubbles:true}));if(arguments[1])s.dispatchEvent(new Event('change',{bubbles:true}));";

fn drag_the_mains(bench: &mut Bench) -> Run<'_> {
    Box::pin(async move {
        let address = bench.demo()?;
        bench
            .go(
                format!("{address}descent?state=cold"),
                "the drawing",
                "document.querySelector('#draw svg')",
            )
            .await?;
        for volts in (207..=230).rev() {
            let last = volts == 207;
            bench
                .driver
                .execute(DRAG, vec![json!(volts), json!(last)])
                .await?;
        }
        bench
            .until(
                "the mains to follow",
                "document.getElementById('mains-now').textContent.includes('207')",
            )
            .await?;
        bench
            .until(
                "the address to follow",
                "location.search.includes('mains=207')",
            )
            .await?;
        bench
            .until(
                "the drawing to follow",
                "document.querySelector('#draw svg').getAttribute('aria-label').includes('207')",
            )
            .await?;
        // The engine by another way: the same job at the same mains through the waves of the command line's study.
        let job = quietrail_job::read(BEACON, None)
            .job
            .ok_or("the demo can be read")?;
        let cold = job
            .states
            .iter()
            .position(|state| state.name == "cold")
            .ok_or("a cold state")?;
        let mains = quietrail_job::Change::Set {
            address: quietrail_job::Address("mains.voltage".to_owned()),
            value: 207.0,
        };
        let plan = quietrail_study::solve::Plan::of(&job)?;
        let step = quietrail_study::lower::Step::default();
        let options = quietrail_study::options();
        let setting = quietrail_study::solve::Setting {
            job: &job,
            state: cold,
            step: &step,
            options: &options,
        };
        let solved = quietrail_study::solve::solve(&plan, setting, &[mains], None)
            .map_err(|trouble| trouble.to_string())?;
        let answers = quietrail_study::solve::answers(&plan, &solved);
        let q = plan
            .questions
            .iter()
            .position(|one| one.name == "U1 headroom")
            .ok_or("a headroom")?;
        let volts = answers[q].clone().map_err(|why| format!("{why:?}"))?;
        let expected = format!("{:+.0}", volts * 100.0 * 10.0 / 10.0);
        let shown = bench.text_of(".second .fig").await?;
        let millivolts: f64 = shown
            .split('\u{a0}')
            .next()
            .unwrap_or_default()
            .replace('−', "-")
            .parse()?;
        check((millivolts / 1e3 - volts).abs() < 0.011, || {
            format!("shown {shown}, the engine says {volts} V ({expected})")
        })?;
        bench.keep("descent-207").await
    })
}

/// The lines of a job that hold a capacitance.
fn figures(text: &str) -> String {
    let lines = text.lines().filter(|line| line.contains("µF"));
    lines.collect::<Vec<_>>().join("\n")
}

fn keep_a_change(bench: &mut Bench) -> Run<'_> {
    Box::pin(async move {
        let text = small();
        let place = bench.book(Some(&text))?;
        bench
            .go(
                place.at("descent?try=C1.value:6800u"),
                "the trial",
                "document.querySelector('.trying')",
            )
            .await?;
        check(place.text() == text, || {
            "a trial changed the file".to_owned()
        })?;
        let shown = bench.text_of(".trying .what").await?;
        check(shown.contains("6800") && shown.contains("4700"), || {
            shown.clone()
        })?;
        bench.keep("trying").await?;
        bench.click(".trying .btn.main").await?;
        bench
            .until("the trial to end", "!document.querySelector('.trying')")
            .await?;
        let kept = text.replacen("\"4700 µF ±20 %\"   #", "\"6800 µF ±20 %\"   #", 1);
        check(place.text() == kept, || figures(&place.text()))?;
        bench
            .until("undo", "!document.querySelector('#undo button').disabled")
            .await?;
        bench.click("form[action='do-undo'] button").await?;
        bench
            .until(
                "redo",
                "!document.querySelector(\"form[action='do-redo'] button\").disabled",
            )
            .await?;
        check(place.text() == text, || {
            "undo brings every byte back".to_owned()
        })?;
        bench.click("form[action='do-redo'] button").await?;
        bench
            .until(
                "undo again",
                "!document.querySelector(\"form[action='do-undo'] button\").disabled",
            )
            .await?;
        check(place.text() == kept, || "redo keeps it again".to_owned())
    })
}

fn edited_elsewhere(bench: &mut Bench) -> Run<'_> {
    Box::pin(async move {
        let place = bench.book(Some(&small()))?;
        bench
            .go(
                place.at("descent"),
                "the drawing",
                "document.querySelector('#draw svg')",
            )
            .await?;
        place.edit("4700 µF ±20 %", "10000 µF ±20 %");
        bench
            .until("the notice", "document.querySelector('#notice .notice')")
            .await?;
        bench
            .ask("document.querySelector('#notice details').open=true")
            .await?;
        let told = bench.text_of("#notice").await?;
        check(told.contains("10000 µF"), || told.clone())?;
        bench.keep("changed-elsewhere").await?;
        bench.click("#notice .btn").await?;
        bench
            .until(
                "the notice to go",
                "!document.querySelector('#notice .notice')",
            )
            .await
    })
}

fn stale_write(bench: &mut Bench) -> Run<'_> {
    Box::pin(async move {
        let place = bench.book(Some(&small()))?;
        bench
            .go(
                place.at("descent?try=C1.value:6800u"),
                "the trial",
                "document.querySelector('.trying')",
            )
            .await?;
        // The page does not hear of it before Keep is pressed.
        bench.ask("document.body.dataset.still='1'").await?;
        place.edit("4700 µF ±20 %", "3300 µF ±20 %");
        let edited = place.text();
        bench.click(".trying .btn.main").await?;
        bench
            .until(
                "the refusal",
                "document.querySelector('.view-broken .diff')",
            )
            .await?;
        let told = bench.text_of(".diff").await?;
        check(
            told.contains("4700 µF") && told.contains("3300 µF"),
            || told.clone(),
        )?;
        check(place.text() == edited, || {
            "the refused write changed the file".to_owned()
        })?;
        bench.keep("stale").await
    })
}

fn two_tabs(bench: &mut Bench) -> Run<'_> {
    Box::pin(async move {
        let place = bench.book(Some(&small()))?;
        bench.driver.goto(place.at("file")).await?;
        let first = bench.driver.window().await?;
        let second = bench.driver.new_tab().await?;
        bench.driver.switch_to_window(second.clone()).await?;
        bench
            .go(
                place.at("descent?try=C1.value:6800u"),
                "the trial",
                "document.querySelector('.trying .btn.main')",
            )
            .await?;
        bench.click(".trying .btn.main").await?;
        bench
            .until("the trial to end", "!document.querySelector('.trying')")
            .await?;
        let sum = bench.text("document.body.dataset.sum").await?;
        bench.driver.switch_to_window(first).await?;
        bench
            .until(
                "the first tab to agree",
                &format!("document.body.dataset.sum==='{sum}'"),
            )
            .await?;
        bench
            .until(
                "its text",
                "document.getElementById('text').value.includes('6800 µF')",
            )
            .await
    })
}

fn doubtful_value(bench: &mut Bench) -> Run<'_> {
    Box::pin(async move {
        let place = bench.book(Some(&small()))?;
        bench
            .go(
                place.at("descent?part=C1"),
                "the card",
                "document.querySelector('.figures')",
            )
            .await?;

        bench
            .ask("document.querySelector('.figures').open=true;document.getElementById('f-C1-value').select()")
            .await?;
        bench
            .driver
            .action_chain()
            .send_keys("4700 mF" + Key::Enter)
            .perform()
            .await?;
        bench
            .until("the fault", "document.querySelector('.fault')")
            .await?;
        let told = bench.text_of(".fault").await?;
        check(told.contains("more than one way"), || told.clone())?;
        let is_off = bench
            .ask("return document.querySelector('.trying .btn.main').disabled")
            .await?;
        check(is_off == Value::Bool(true), || {
            "a doubtful value could be kept".to_owned()
        })?;
        bench.keep("doubtful").await?;
        bench.click(".choices .btn").await?;
        bench
            .until("a clear value", "!document.querySelector('.trying .fault')")
            .await
    })
}

fn broken_file(bench: &mut Bench) -> Run<'_> {
    Box::pin(async move {
        let place = bench.book(Some(&small()))?;
        bench.driver.goto(place.at("margins")).await?;
        place.edit("into  = \"raw\"", "into  = \"rwa\"");
        bench.go(place.at("margins"), "the caret", "document.querySelector('.caret') && document.querySelector('.caret').textContent.includes('^')").await?;
        let told = bench.text_of(".caret").await?;
        check(told.contains("job.toml:") && told.contains("rwa"), || {
            told.clone()
        })?;
        bench.keep("broken").await?;
        // Mended in the page itself.
        bench
            .ask("const t=document.getElementById('text');t.value=t.value.replace('rwa','raw')")
            .await?;
        bench.click(".editor .btn.main").await?;
        bench
            .until(
                "the view to come back",
                "document.querySelector('.margins, .empty')",
            )
            .await?;
        check(place.text() == small(), || {
            "mended to the letter".to_owned()
        })
    })
}

/// What has the focus: its label, text or name.
const FOCUSED: &str = "const e=document.activeElement;return (e.type==='radio'?e.value:e.getAttribute('aria-label')||e.textContent.trim().slice(0,40)||e.name||e.id||e.tagName)";

fn keyboard_only(bench: &mut Bench) -> Run<'_> {
    Box::pin(async move {
        let address = bench.demo()?;
        bench
            .driver
            .goto(format!("{address}descent?state=cold"))
            .await?;
        bench.settled().await?;
        bench.ask("document.body.dataset.still='1'").await?;
        let mut order = Vec::new();
        for _ in 0..60 {
            bench
                .driver
                .action_chain()
                .send_keys(Key::Tab)
                .perform()
                .await?;
            let focused = bench.ask(FOCUSED).await?;
            let focused = focused.as_str().unwrap_or_default().to_owned();
            order.push(focused);
        }
        let place = |what: &str| order.iter().position(|one| one.starts_with(what));
        let wanted = [
            "To the answer",
            "quietrail",
            "Needs",
            "Record",
            "Why",
            "cold",
            "marked",
            "mains",
            "T1",
            "D1",
            "U1",
            "C1",
        ];
        let mut last = None;
        for what in wanted.iter().take(8) {
            let at = place(what).or_else(|| order.iter().position(|one| one.contains(what)));
            check(at.is_some() && at >= last, || {
                format!("{what} comes at {at:?} after {last:?} in {order:?}")
            })?;
            last = at;
        }
        for part in &wanted[8..] {
            check(place(part).is_some(), || {
                format!("{part} cannot be reached: {order:?}")
            })?;
        }
        // The slider by arrows; a part's card by Enter.
        bench
            .ask("document.getElementById('mains').focus()")
            .await?;
        let before = bench.text_of(".second .fig").await?;
        bench
            .driver
            .action_chain()
            .send_keys(Key::Home)
            .perform()
            .await?;
        bench
            .until(
                "the mains to follow",
                "document.getElementById('mains-now').textContent.includes('207')",
            )
            .await?;
        let after = bench.text_of(".second .fig").await?;
        check(before != after, || format!("the figure stayed {before}"))?;
        let is_held = bench.ask("return document.activeElement.id").await?;
        check(is_held == json!("mains"), || {
            format!("the focus went to {is_held}")
        })?;
        bench
            .ask("document.querySelector('#draw svg a[aria-label=C1]').focus()")
            .await?;
        bench
            .driver
            .action_chain()
            .send_keys(Key::Enter)
            .perform()
            .await?;
        bench
            .until(
                "C1's card",
                "document.querySelector('.card .tag').textContent==='C1'",
            )
            .await?;
        // The read-out of the waves.
        bench
            .go(
                format!("{address}waves?state=cold"),
                "the read-out",
                "document.querySelector('.hand-upright')",
            )
            .await?;
        bench
            .ask("document.body.dataset.still='1';document.querySelector('svg[data-left]').focus()")
            .await?;
        bench
            .driver
            .action_chain()
            .send_keys(Key::Home)
            .perform()
            .await?;
        bench
            .until(
                "the start",
                "document.querySelector('[data-time]').textContent.startsWith('0.0')",
            )
            .await?;
        bench
            .driver
            .action_chain()
            .send_keys(Key::Right)
            .perform()
            .await?;
        bench
            .until(
                "a step",
                "!document.querySelector('[data-time]').textContent.startsWith('0.0')",
            )
            .await
    })
}

fn every_width(bench: &mut Bench) -> Run<'_> {
    Box::pin(async move {
        let address = bench.demo()?;
        for width in [360, 390, 768, 1024, 1280, 1440, 1920, 2560] {
            bench.size(width, 900).await?;
            for view in VIEWS {
                bench
                    .driver
                    .goto(format!("{address}{view}?state=cold"))
                    .await?;
                let wide = bench
                    .ask("return document.scrollingElement.scrollWidth")
                    .await?;
                let wide = wide.as_u64().unwrap_or(0);
                if wide > u64::from(width) {
                    let widest = bench
                        .ask(
                            "return [...document.querySelectorAll('body *')].filter(one => one.getBoundingClientRect().right > \
                             innerWidth + 1).map(one => one.tagName + '.' + one.className).slice(0, 9).join(', ')",
                        )
                        .await?;
                    return Err(format!("{view} is {wide} px wide at {width}: {widest}").into());
                }
                if [360, 768, 2560].contains(&width) {
                    let tall = bench
                        .ask("return document.scrollingElement.scrollHeight")
                        .await?;
                    let tall = tall.as_u64().unwrap_or(900).clamp(900, 4000) as u32;
                    bench.size(width, tall).await?;
                    bench.keep(&format!("{view}-{width}")).await?;
                    bench.size(width, 900).await?;
                }
            }
        }
        // On a small screen the row of views is a choice.
        bench.size(360, 800).await?;
        bench.driver.goto(format!("{address}descent")).await?;
        // As a hand does it: a click on an option from within the page chooses nothing.
        bench
            .ask("const s=document.getElementById('pick');s.value='margins';s.dispatchEvent(new Event('change',{bubbles:true}))")
            .await?;
        bench
            .until("the chosen view", "location.pathname.endsWith('/margins')")
            .await
    })
}

fn dark(bench: &mut Bench) -> Run<'_> {
    Box::pin(async move {
        let address = bench.demo()?;
        bench.colours("dark").await?;
        for view in VIEWS {
            bench.driver.goto(format!("{address}{view}")).await?;
            bench.keep(&format!("{view}-dark")).await?;
        }
        let paper = bench
            .text("getComputedStyle(document.documentElement).backgroundColor")
            .await?;
        check(paper == "rgb(15, 22, 27)", || {
            format!("the paper is {paper}")
        })
    })
}

fn scripts_off(bench: &mut Bench) -> Run<'_> {
    Box::pin(async move {
        let address = bench.demo()?;
        bench.driver.goto(format!("{address}descent")).await?;
        bench.settled().await?;
        bench
            .cdp(
                "Emulation.setScriptExecutionDisabled",
                json!({ "value": true }),
            )
            .await?;
        bench
            .driver
            .goto(format!("{address}descent?state=warm"))
            .await?;
        let source = bench.driver.source().await?;
        check(source.contains("−470"), || {
            "the answer is on the plain page".to_owned()
        })?;
        bench.press(".keys label:has(input[value=cold])").await?;
        bench.press(".pad noscript .btn, .pad button.btn").await?;
        bench
            .until_page("the other state", |url, source| {
                url.contains("state=cold") && source.contains("class=\"where\"")
            })
            .await?;
        bench.press(".where a").await?;
        bench
            .until_page("the sum that a plain link opens", |_, source| {
                source.contains("class=\"sum\"")
            })
            .await?;
        bench.keep("scripts-off").await
    })
}

fn back_button(bench: &mut Bench) -> Run<'_> {
    Box::pin(async move {
        let address = bench.demo()?;
        bench
            .go(
                format!("{address}descent?state=cold"),
                "the drawing",
                "document.querySelector('#draw svg')",
            )
            .await?;
        bench.click(".keys label:has(input[value=warm])").await?;
        bench.until("warm", "location.search.includes('state=warm') && document.querySelector('#draw svg').getAttribute('aria-label').includes('warm')").await?;
        bench.driver.back().await?;
        bench.until("cold again", "location.search.includes('state=cold') && document.querySelector('#draw svg').getAttribute('aria-label').includes('cold')").await?;
        bench
            .until(
                "the keys too",
                "document.querySelector('input[type=radio][value=cold]').checked",
            )
            .await
    })
}

fn no_request_leaves(bench: &mut Bench) -> Run<'_> {
    Box::pin(async move {
        let address = bench.demo()?;
        for view in VIEWS {
            bench.driver.goto(format!("{address}{view}")).await?;
            let asked = bench
                .ask("return performance.getEntriesByType('resource').map(e=>e.name)")
                .await?;
            for one in asked
                .as_array()
                .into_iter()
                .flatten()
                .filter_map(Value::as_str)
            {
                let is_own = one.starts_with(&address) || one.starts_with("data:");
                check(is_own, || format!("{view} asks for {one}"))?;
            }
        }
        // The policy stops what a page would ask for elsewhere.
        let run = "const done=arguments[arguments.length-1];fetch('http://127.0.0.1:9/').then(()=>done('left'),()=>setTimeout(()=>done('stopped'),2000));\
            document.addEventListener('securitypolicyviolation',e=>done('policy '+e.violatedDirective))";
        let said = bench.driver.execute_async(run, Vec::new()).await?;
        check(
            said.json()
                .as_str()
                .unwrap_or_default()
                .starts_with("policy"),
            || format!("{:?}", said.json()),
        )
    })
}
