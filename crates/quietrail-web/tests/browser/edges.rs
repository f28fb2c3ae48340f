//! Jobs that stretch the pages: many rails, none, long names, many limits, many parts. And what every view owes to a keyboard,
//! to a finger, and to a browser without script.

use crate::bench::{BEACON, Bench, check};
use crate::scenarios::{Run, VIEWS, small};
use serde_json::json;
use std::collections::BTreeSet;
use std::fmt::Write;

/// A rail besides the first.
fn rail(number: usize, volts: f64, node: &str) -> String {
    let next = number + 1;
    let (low, high) = (0.95 * volts, 1.05 * volts);
    format!(
        "
[regulator.U{number}]
from = \"raw\"
into = \"{node}\"
part = \"low-dropout adjustable 3 A\"
set  = {{ trimmer = \"2k ±20 %\", to = \"{volts} V ±1 %\" }}
case_to_sink = \"0.5 K/W\"
sink = \"SK{number}\"

[sink.SK{number}]
to_air = \"6 K/W\"

[capacitor.C{next}]
at    = \"{node}\"
value = \"100 µF ±20 %\"
rated = {{ volts = \"25 V\" }}

[load.of_{node}]
at    = \"{node}\"
draws = {{ cold = \"100 mA ±15 %\", warm = \"60 mA ±15 %\" }}

[[limit]]
name = \"{node} window\"
of   = \"{node}\"
what = \"mean\"
min  = \"{low:.2} V\"
max  = \"{high:.2} V\"
from = \"data sheet of the load\"
"
    )
}

/// The node that the regulator of the small job feeds.
fn fed(text: &str) -> String {
    let (_, regulator) = text.split_once("[regulator.U1]").expect("a regulator");
    let (_, into) = regulator.split_once("into").expect("its output");
    into.split('"').nth(1).expect("a name").to_owned()
}

/// Five rails from one reservoir.
fn five_rails() -> String {
    let rails = [
        (2, 9.0, "osc"),
        (3, 5.0, "logic"),
        (4, 8.0, "meter"),
        (5, 6.0, "display_and_lamps"),
    ];
    let more = rails.map(|(number, volts, node)| rail(number, volts, node));
    small() + more.concat().as_str()
}

/// The load straight on the reservoir.
fn no_rails() -> String {
    let text = small();
    let (regulator, load) = (
        text.find("[regulator.U1]").expect("a regulator"),
        text.find("[load.").expect("a load"),
    );
    let without = text[..regulator].to_owned() + &text[load..];
    let last = without
        .rfind("[[limit]]")
        .expect("the regulator's own rule");
    let node = fed(&text);
    without[..last].replace(&format!("\"{node}\""), "\"raw\"")
}

/// Names as long as somebody may type them.
fn long_names() -> String {
    let text = small();
    let title = text
        .lines()
        .find(|line| line.starts_with("title"))
        .expect("a title");
    let long = "title = \"The supply of the reference oven, its buffer amplifier and the frequency counter in the cupboard under the stairs of the hilltop station, second attempt, after the first transformer was rewound\"";
    text.replace(title, long)
        .replace("U1", "regulatorOfTheHeaterRailWithAVeryLongName")
        .replace("\"raw\"", "\"rectified_and_smoothed_raw_rail\"")
        .replace("cold", "heating_up_from_a_very_cold_room")
}

/// Limits by the line of a long data sheet.
fn many_limits() -> String {
    let mut text = small();
    let node = fed(&text);
    for line in 1..=20 {
        let (what, max) = [
            ("mean", "12.5 V"),
            ("peak", "12.7 V"),
            ("valley", "12.6 V"),
            ("ripple p-p", "90 mV"),
        ][line % 4];
        let _ = write!(
            text,
            "\n[[limit]]\nname = \"line {line}\"\nof = \"{node}\"\nwhat = \"{what}\"\nmax = \"{max}\"\nfrom = \"data sheet\"\n"
        );
    }
    text
}

/// Parts by the handful.
fn many_parts() -> String {
    let mut text = small();
    let node = fed(&text);
    for number in 1..=48 {
        let at = if number % 2 == 0 { "raw" } else { &node };
        let _ = write!(
            text,
            "\n[resistor.RX{number}]\nat = \"{at}\"\nvalue = \"{}k ±5 %\"\nrated = \"0.25 W\"\n",
            40 + number
        );
    }
    text
}

/// Every view of every such job fits a desk and a phone, and the drawing keeps its texts to itself.
pub(crate) fn stretched(bench: &mut Bench) -> Run<'_> {
    Box::pin(async move {
        let jobs = [
            ("five-rails", five_rails()),
            ("no-rails", no_rails()),
            ("long-names", long_names()),
            ("many-limits", many_limits()),
            ("many-parts", many_parts()),
        ];
        for (name, text) in jobs {
            let read = quietrail_job::read(&text, None);
            check(read.job.is_some(), || {
                format!("{name}: {:?}", read.diagnostics)
            })?;
            let place = bench.book(Some(&text))?;
            bench.size(1440, 1000).await?;
            bench
                .go(
                    place.at("descent"),
                    "a headline",
                    "document.querySelector('.shout')",
                )
                .await?;
            bench.ask("document.body.dataset.still='1'").await?;
            for width in [1440, 360] {
                bench.size(width, 1000).await?;
                for view in VIEWS {
                    bench.driver.goto(place.at(view)).await?;
                    let wide = bench
                        .ask("return document.scrollingElement.scrollWidth")
                        .await?;
                    check(wide.as_u64() <= Some(u64::from(width)), || {
                        format!("{name}: {view} is {wide} px wide at {width}")
                    })?;
                    if ["descent", "margins", "record"].contains(&view) {
                        bench.keep(&format!("{name}-{view}-{width}")).await?;
                    }
                }
            }
            bench.size(1440, 1000).await?;
            bench
                .go(
                    place.at("descent"),
                    "a drawing",
                    "document.querySelector('#draw .wide svg')",
                )
                .await?;
            let outside = bench
                .text(
                    "[...document.querySelectorAll('#draw .wide svg')].flatMap(svg => { const box = svg.getBoundingClientRect(); \
                     return [...svg.querySelectorAll('text')].filter(one => { const own = one.getBoundingClientRect(); \
                     return own.left < box.left - 4 || own.right > box.right + 4; }).map(one => one.textContent); }).join(' | ')",
                )
                .await?;
            check(outside.is_empty(), || {
                format!("{name}: outside of the drawing stands {outside}")
            })?;
        }
        Ok(())
    })
}

/// What a keyboard should reach on a page: enabled, seen, one of each group of choices.
const STOPS: &str = "const all=[...document.querySelectorAll('a[href],button,input,select,textarea,summary,[tabindex=\"0\"]')].filter(e=>!e.disabled&&e.type!=='hidden'&&e.tabIndex>=0\
&&(e.checkVisibility?e.checkVisibility({visibilityProperty:true}):true)&&!(e.closest('details:not([open])')&&e.tagName!=='SUMMARY')\
&&!(e.type==='radio'&&!e.checked&&e.form&&[...e.form.elements].some(o=>o.name===e.name&&o.checked)));all.forEach((e,i)=>e.dataset.stop=i);return all.length";

/// Every view by the Tab key alone: nothing is left out, and what has the focus shows it.
pub(crate) fn every_view_by_keyboard(bench: &mut Bench) -> Run<'_> {
    Box::pin(async move {
        let address = bench.demo()?;
        bench.driver.goto(format!("{address}descent")).await?;
        bench.settled().await?;
        for view in VIEWS {
            bench.driver.goto(format!("{address}{view}")).await?;
            bench.ask("document.body.dataset.still='1';document.activeElement.blur();getSelection().removeAllRanges();scrollTo(0,0)").await?;
            let stops = bench.ask(STOPS).await?.as_u64().unwrap_or(0);
            let mut reached = BTreeSet::new();
            let mut unseen = BTreeSet::new();
            for _ in 0..=stops + 4 {
                for kind in ["rawKeyDown", "keyUp"] {
                    let key = json!({ "type": kind, "key": "Tab", "code": "Tab", "windowsVirtualKeyCode": 9 });
                    bench.cdp("Input.dispatchKeyEvent", key).await?;
                }
                let at = bench
                    .ask("const e=document.activeElement,s=getComputedStyle(e.type==='radio'?e.closest('label'):e);return [e.dataset.stop||'',s.outlineStyle!=='none'&&parseFloat(s.outlineWidth)>=1||e.closest('.entry')!==null,e.outerHTML.slice(0,90)]")
                    .await?;
                let stop = at[0].as_str().unwrap_or_default().to_owned();
                if stop.is_empty() {
                    continue;
                }
                if at[1] != json!(true) {
                    unseen.insert(at[2].as_str().unwrap_or_default().to_owned());
                }
                reached.insert(stop);
            }
            let left = bench
                .ask(&format!(
                    "const seen=new Set({});return [...document.querySelectorAll('[data-stop]')].filter(e=>!seen.has(e.dataset.stop)).map(e=>e.outerHTML.slice(0,90)).slice(0,5)",
                    json!(reached)
                ))
                .await?;
            check(stops > 10 && left == json!([]), || {
                format!("{view}: of {stops} stops Tab does not reach {left}")
            })?;
            check(unseen.is_empty(), || {
                format!("{view}: the focus is not seen on {unseen:?}")
            })?;
        }
        Ok(())
    })
}

/// What a finger presses is large enough: 44 px high where it is a key, a choice or a fold (look of quietrail), and 24 px
/// everywhere (WCAG 2.2, success criterion 2.5.8; the accessibility engine holds that against every page).
pub(crate) fn targets_for_a_finger(bench: &mut Bench) -> Run<'_> {
    Box::pin(async move {
        let address = bench.demo()?;
        bench.size(390, 900).await?;
        let touch = json!({ "enabled": true, "maxTouchPoints": 1 });
        bench
            .cdp("Emulation.setTouchEmulationEnabled", touch)
            .await?;
        let mut small = Vec::new();
        for view in VIEWS {
            bench.driver.goto(format!("{address}{view}")).await?;
            let coarse = bench
                .ask("return matchMedia('(pointer:coarse)').matches")
                .await?;
            check(coarse == json!(true), || "no finger is emulated".to_owned())?;
            let found = bench
                .ask("return [...document.querySelectorAll('main .btn, main .keys label, main .keys a, main summary, main select, main .tally a, .top select, .top button')]\
                      .filter(e=>e.checkVisibility()&&e.getBoundingClientRect().height<43.5).map(e=>e.outerHTML.slice(0,80)+' '+e.getBoundingClientRect().height)")
                .await?;
            let found = found.as_array().cloned().unwrap_or_default();
            small.extend(found.iter().map(|one| format!("{view}: {one}")));
        }
        let touch = json!({ "enabled": false });
        bench
            .cdp("Emulation.setTouchEmulationEnabled", touch)
            .await?;
        check(small.is_empty(), || small.join("\n  "))
    })
}

/// Every view answers without script, and so do its forms.
pub(crate) fn every_view_without_script(bench: &mut Bench) -> Run<'_> {
    Box::pin(async move {
        let place = bench.book(Some(BEACON))?;
        bench.driver.goto(place.at("descent")).await?;
        bench.settled().await?;
        let off = json!({ "value": true });
        bench
            .cdp("Emulation.setScriptExecutionDisabled", off)
            .await?;
        let says = [
            ("needs", "oscillator ripple"),
            ("descent", "−470"),
            ("margins", "U1 headroom"),
            ("waves", "D1 conducts"),
            ("regulators", "over its tolerances"),
            ("transformer", "yellow"),
            ("bench", "earth bond"),
            ("oscillator", "harmonics"),
            ("record", "Do not connect the load yet"),
            ("file", "[transformer.T1]"),
        ];
        check(says.len() == VIEWS.len(), || {
            "a view is left out".to_owned()
        })?;
        for (view, says) in says {
            bench.driver.goto(place.at(view)).await?;
            let source = bench.driver.source().await?;
            check(source.contains(says), || {
                format!("{view} does not say {says} without script")
            })?;
        }
        // A choice and its button; a fold; a figure that is tried and kept.
        bench.driver.goto(place.at("waves?state=cold")).await?;
        bench.press("#node option[value=heater]").await?;
        bench.press(".pick-node button").await?;
        bench
            .until_page("the node", |url, source| {
                url.contains("node=heater") && source.contains("heater mean")
            })
            .await?;
        bench.driver.goto(place.at("margins?only=fails")).await?;
        let source = bench.driver.source().await?;
        check(!source.contains("U2 junction"), || {
            "the filter does nothing".to_owned()
        })?;
        bench
            .driver
            .goto(place.at("descent?part=C1&try=C1.value:6800u"))
            .await?;
        bench.press(".trying .btn.main").await?;
        bench
            .until_page("the value kept", |url, _| !url.contains("try="))
            .await?;
        check(place.text().contains("6800 µF"), || {
            "the value was not kept".to_owned()
        })?;
        bench.press("form[action=do-undo] button").await?;
        bench
            .until_page("the page again", |url, _| url.contains("descent"))
            .await?;
        check(place.text() == BEACON, || "not undone".to_owned())
    })
}
