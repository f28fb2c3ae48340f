//! The drawing from waves of a supply that is integrated here, by small steps and nothing else.

use super::{waves, waves_middle, waves_narrow, waves_scene};
use crate::svg::{Frame, Mark, Scene};
use quietrail_study::wave::{Current, Measured, Need, Rail, Waves};
use std::f64::consts::PI;

/// A bridge with a reservoir and a steady load, integrated by small steps until it repeats: shapes as
/// they are at the bench, from nothing but the circuit.
struct Supply {
    open_peak: f64,
    source_ohms: f64,
    farads: f64,
    load_amps: f64,
    frequency: f64,
}

struct Solved {
    time: Vec<f64>,
    volts: Vec<f64>,
    amps: Vec<f64>,
}

impl Supply {
    fn solve(&self) -> Solved {
        const STEPS: usize = 4000;
        const KEPT: usize = 10;
        let cycle = 1.0 / self.frequency;
        let step = cycle / STEPS as f64;
        let mut charged = self.open_peak - 2.0;
        let current = |time: f64, charged: f64| {
            let source = (self.open_peak * (2.0 * PI * self.frequency * time).sin()).abs();
            ((source - 1.6 - charged) / self.source_ohms).max(0.0)
        };
        for i in 0..40 * STEPS {
            let time = i as f64 * step;
            charged += step * (current(time, charged) - self.load_amps) / self.farads;
        }
        let mut solved = Solved {
            time: Vec::new(),
            volts: Vec::new(),
            amps: Vec::new(),
        };
        for i in 0..=2 * STEPS {
            let time = i as f64 * step;
            let amps = current(time, charged);
            if i % KEPT == 0 {
                solved.time.push(time);
                solved.volts.push(charged);
                solved.amps.push(amps);
            }
            charged += step * (amps - self.load_amps) / self.farads;
        }
        solved
    }
}

fn beacon() -> Supply {
    Supply {
        open_peak: 20.2,
        source_ohms: 0.75,
        farads: 3.3e-3,
        load_amps: 0.95,
        frequency: 50.0,
    }
}

fn statistics(values: &[f64]) -> (f64, f64, f64, f64) {
    let values = &values[..values.len() - 1];
    let mean = values.iter().sum::<f64>() / values.len() as f64;
    let low = values.iter().copied().fold(f64::INFINITY, f64::min);
    let high = values.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    let square = values.iter().map(|v| (v - mean) * (v - mean)).sum::<f64>() / values.len() as f64;
    (mean, low, high, square.sqrt())
}

fn conduction(solved: &Solved) -> Vec<(f64, f64)> {
    let mut spans: Vec<(f64, f64)> = Vec::new();
    let mut conducting = false;
    for (time, amps) in solved.time.iter().zip(&solved.amps) {
        match (conducting, *amps > 0.0) {
            (false, true) => spans.push((*time, *time)),
            (true, true) => spans.last_mut().expect("a span is open").1 = *time,
            (_, false) => {}
        }
        conducting = *amps > 0.0;
    }
    spans
}

/// A node with everything in the drawing: one need that fails at the worst corner, one that holds.
fn full() -> Waves {
    let supply = beacon();
    let solved = supply.solve();
    let worst = Supply {
        open_peak: 19.9,
        farads: 2.64e-3,
        load_amps: 1.1,
        source_ohms: 0.85,
        ..supply
    }
    .solve();
    let (mean, valley, peak, ripple_rms) = statistics(&solved.volts);
    let (_, lowest_valley, _, _) = statistics(&worst.volts);
    let (_, _, current_peak, _) = statistics(&solved.amps);
    let rms = (solved.amps.iter().map(|a| a * a).sum::<f64>() / solved.amps.len() as f64).sqrt();
    let spans = conduction(&solved);
    let degrees = (spans[1].1 - spans[1].0) * supply.frequency * 360.0;
    let worst_need = lowest_valley + 0.38;
    let need = valley - 1.1;
    let rail: Vec<f64> = worst
        .volts
        .iter()
        .map(|v| 12.05_f64.min(v - (worst_need - 12.05)))
        .collect();
    Waves {
        measured: None,
        title: "Reference oven supply for the hilltop beacon".to_owned(),
        region: "230 V 50 Hz".to_owned(),
        node: "raw".to_owned(),
        state: "cold".to_owned(),
        frequency: supply.frequency,
        mains: 230.0,
        lowest_corner: vec![
            ("mains.voltage".to_owned(), "207 V".to_owned()),
            ("C1.value".to_owned(), "2640 µF".to_owned()),
        ],
        current: Some(Current {
            is_lower: false,
            part: "D1".to_owned(),
            amps: solved.amps.clone(),
            peak: current_peak,
            rms,
        }),
        conduction: spans,
        conduction_degrees: degrees,
        needs: vec![
            Need {
                part: "U1".to_owned(),
                volts: need,
                worst_volts: worst_need,
                headroom: valley - need,
                worst_headroom: lowest_valley - worst_need,
            },
            Need {
                part: "U2".to_owned(),
                volts: need - 6.0,
                worst_volts: need - 5.6,
                headroom: valley - need + 6.0,
                worst_headroom: lowest_valley - need + 5.6,
            },
        ],
        limits: vec![("C1 voltage".to_owned(), None, Some(35.0))],
        mean,
        valley,
        peak,
        ripple_rms,
        rails: vec![
            Rail {
                node: "heater".to_owned(),
                volts: vec![12.03; solved.time.len()],
                lowest: rail,
            },
            Rail {
                node: "osc".to_owned(),
                volts: vec![9.0; solved.time.len()],
                lowest: vec![8.93; solved.time.len()],
            },
        ],
        time: solved.time,
        volts: solved.volts,
        lowest: worst.volts,
        worst_for: Some("U1".to_owned()),
    }
}

/// Every odd case of the drawing, by name.
fn cases() -> Vec<(&'static str, Waves)> {
    let mut bare = full();
    (bare.current, bare.lowest) = (None, Vec::new());
    (bare.needs, bare.rails, bare.limits, bare.conduction) = Default::default();

    let mut failing = full();
    let above = failing.peak + 0.6;
    failing.needs[0].volts = above;
    failing.needs[0].worst_volts = above + 0.4;
    failing.needs[0].headroom = failing.valley - above;
    failing.needs[0].worst_headroom -= 3.0;

    let mut negative = full();
    for curve in [&mut negative.volts, &mut negative.lowest] {
        curve.iter_mut().for_each(|v| *v = -*v);
    }
    for rail in &mut negative.rails {
        rail.volts.iter_mut().for_each(|v| *v = -*v);
        rail.lowest.iter_mut().for_each(|v| *v = -*v);
    }
    for need in &mut negative.needs {
        (need.volts, need.worst_volts) = (-need.volts, -need.worst_volts);
    }
    (negative.valley, negative.peak) = (-negative.peak, -negative.valley);
    negative.mean = -negative.mean;
    negative.limits = vec![("raw".to_owned(), Some(-22.0), Some(-11.0))];

    let mut quiet = bare.clone();
    let ripple = |t: &f64| 9.0 + 40e-6 * (2.0 * PI * 100.0 * t).sin();
    quiet.volts = quiet.time.iter().map(ripple).collect();
    (quiet.mean, quiet.valley, quiet.peak, quiet.ripple_rms) = (9.0, 8.999_96, 9.000_04, 28e-6);
    quiet.limits = vec![("osc window".to_owned(), Some(8.95), Some(9.05))];

    let mut winding = bare.clone();
    winding.volts = winding
        .time
        .iter()
        .map(|t| 20.2 * (2.0 * PI * 50.0 * t).sin())
        .collect();
    (
        winding.mean,
        winding.valley,
        winding.peak,
        winding.ripple_rms,
    ) = (0.0, -20.2, 20.2, 14.3);

    let mut near_zero = winding.clone();
    near_zero.volts.iter_mut().for_each(|v| *v *= 1e-5);
    (near_zero.valley, near_zero.peak, near_zero.ripple_rms) = (-2.02e-4, 2.02e-4, 1.43e-4);

    let mut three = full();
    three.rails.push(three.rails[1].clone());
    three.rails[2].node = "bias".to_owned();
    three.rails[2].volts.iter_mut().for_each(|v| *v = -5.2);
    three.rails[2].lowest.clear();
    three.needs.push(three.needs[0].clone());
    three.needs[2].part = "U3".to_owned();
    three.needs[2].volts -= 0.1;
    three.needs[2].worst_volts -= 0.1;
    three.limits.push((
        "raw".to_owned(),
        Some(three.valley - 1.2),
        Some(three.peak + 0.5),
    ));

    let mut american = full();
    american.frequency = 60.0;
    for time in &mut american.time {
        *time *= 50.0 / 60.0;
    }
    for span in &mut american.conduction {
        *span = (span.0 * 50.0 / 60.0, span.1 * 50.0 / 60.0);
    }
    american.mains = 120.0;

    let mut measured = full();
    measured.measured = Some(Measured {
        name: "captures/raw with a name that is rather long.csv".to_owned(),
        volts: measured.volts.iter().map(|v| v - 0.4).collect(),
        cycles: 8,
        mean: measured.mean - 0.4,
        peak_to_peak: measured.peak - measured.valley,
        ripple_rms: measured.ripple_rms,
        rest_rms: 4e-3,
        apart_rms: 11e-3,
        ..Measured::default()
    });

    let mut empty = full();
    empty.volts[7] = f64::NAN;

    vec![
        ("full", full()),
        ("bare", bare),
        ("measured", measured),
        ("failing", failing),
        ("negative", negative),
        ("quiet", quiet),
        ("winding", winding),
        ("near-zero", near_zero),
        ("three", three),
        ("60-hertz", american),
        ("empty", empty),
    ]
}

/// Names of the tags in order, as an XML reader must see them: fails on bad nesting or stray markup.
fn well_formed(text: &str) -> Result<usize, String> {
    let mut open: Vec<&str> = Vec::new();
    let mut tags = 0;
    let mut rest = text;
    while let Some(start) = rest.find('<') {
        let between = &rest[..start];
        for (at, _) in between.match_indices('&') {
            let entity = ["&amp;", "&lt;", "&gt;", "&quot;"];
            if !entity
                .iter()
                .any(|entity| between[at..].starts_with(entity))
            {
                return Err(format!("a bare ampersand in {between}"));
            }
        }
        let end = start + rest[start..].find('>').ok_or("a tag without end")?;
        let tag = &rest[start + 1..end];
        if tag.matches('"').count() % 2 == 1 || tag.contains('<') {
            return Err(format!("quotes of <{tag}>"));
        }
        let name = tag
            .trim_start_matches('/')
            .split([' ', '/'])
            .next()
            .unwrap_or_default();
        if tag.starts_with('/') {
            let opened = open.pop();
            if opened != Some(name) {
                return Err(format!("</{name}> closes {opened:?}"));
            }
        } else if !tag.ends_with('/') {
            open.push(name);
        }
        tags += 1;
        rest = &rest[end + 1..];
    }
    if open.is_empty() {
        Ok(tags)
    } else {
        Err(format!("left open: {open:?}"))
    }
}

fn text_boxes(data: &Waves) -> Vec<(String, Frame)> {
    boxes_of(&waves_scene(data))
}

fn boxes_of(scene: &Scene) -> Vec<(String, Frame)> {
    let texts = scene.marks.iter().filter_map(|mark| match mark {
        Mark::Text { text, .. } => mark.text_box().map(|area| (text.clone(), area)),
        _ => None,
    });
    texts.collect()
}

#[test]
fn every_case_is_well_formed() {
    for (name, data) in cases() {
        let text = waves(&data);
        let tags = well_formed(&text).unwrap_or_else(|why| panic!("{name}: {why}"));
        assert!(tags > 5, "{name}");
        assert!(!text.contains("NaN") && !text.contains("inf"), "{name}");
    }
}

#[test]
fn the_check_for_form_can_fail() {
    assert!(well_formed("<svg><g></svg>").is_err());
    assert!(well_formed("<svg>a & b<g/></svg>").is_err());
    assert!(well_formed("<svg><g/></svg>").is_ok());
}

#[test]
fn no_two_texts_overlap_and_all_are_on_the_sheet() {
    for (name, data) in cases() {
        for scene in [waves_scene(&data), waves_middle(&data), waves_narrow(&data)] {
            no_two_overlap(name, &scene);
        }
    }
}

fn no_two_overlap(name: &str, scene: &Scene) {
    let texts = boxes_of(scene);
    for (i, (text, area)) in texts.iter().enumerate() {
        assert!(
            area.x >= 0.0
                && area.right() <= scene.width
                && area.y >= 0.0
                && area.bottom() <= scene.height,
            "{name}: {text} leaves the sheet"
        );
        for (other, other_area) in &texts[i + 1..] {
            assert!(!area.overlaps(other_area), "{name}: {text} over {other}");
        }
    }
}

#[test]
fn a_shortfall_is_hatched_and_said_and_a_reserve_is_not() {
    let failing = full();
    let hatched = |data: &Waves| {
        waves_scene(data)
            .marks
            .iter()
            .filter(|mark| matches!(mark, Mark::Hatch { .. }))
            .count()
    };
    // One pocket before each of the four charging pulses.
    assert_eq!(hatched(&failing), 4);
    let said = |data: &Waves| {
        text_boxes(data)
            .iter()
            .filter(|(text, _)| text == "−380\u{a0}mV")
            .count()
    };
    assert_eq!(
        said(&failing),
        2,
        "in the row of figures and in the picture"
    );

    let mut holding = full();
    holding.needs[0].worst_volts = holding.needs[0].volts;
    holding.needs[0].worst_headroom = 0.2;
    holding.lowest.iter_mut().for_each(|v| *v += 2.0);
    assert_eq!(hatched(&holding), 0);
}

#[test]
fn a_negative_supply_is_short_where_it_is_too_high() {
    let (_, negative) = cases()
        .into_iter()
        .find(|(name, _)| *name == "negative")
        .expect("a case");
    let scene = waves_scene(&negative);
    let hatches: Vec<_> = scene
        .marks
        .iter()
        .filter_map(|mark| match mark {
            Mark::Hatch { outline } => Some(outline),
            _ => None,
        })
        .collect();
    assert_eq!(hatches.len(), 4);
    for outline in hatches {
        let need = outline[outline.len() - 1].y;
        assert!(
            outline.iter().all(|point| point.y <= need + 1e-9),
            "over the sill"
        );
    }
}

#[test]
fn failing_everywhere_is_one_hatch_from_edge_to_edge() {
    let (_, failing) = cases()
        .into_iter()
        .find(|(name, _)| *name == "failing")
        .expect("a case");
    let scene = waves_scene(&failing);
    let widest = scene.marks.iter().filter_map(|mark| match mark {
        Mark::Hatch { outline } => {
            let xs = outline.iter().map(|point| point.x);
            Some(xs.clone().fold(0.0, f64::max) - xs.fold(f64::INFINITY, f64::min))
        }
        _ => None,
    });
    assert_eq!(
        widest.fold(0.0, f64::max),
        super::WIDE.right - super::WIDE.left
    );
}

#[test]
fn only_the_last_time_has_a_unit() {
    let texts: Vec<String> = text_boxes(&full())
        .into_iter()
        .map(|(text, _)| text)
        .collect();
    let with_unit: Vec<_> = texts
        .iter()
        .filter(|text| text.ends_with("\u{a0}ms"))
        .collect();
    assert_eq!(with_unit, ["40\u{a0}ms"]);
}

#[test]
fn the_description_says_the_verdict() {
    let scene = waves_scene(&full());
    assert!(
        scene
            .description
            .contains("−380\u{a0}mV at the worst corner"),
        "{}",
        scene.description
    );
}

#[test]
fn without_a_solution_it_says_so() {
    let mut empty = full();
    empty.time.clear();
    let scene = waves_scene(&empty);
    assert!(scene.description.contains("not shown"));
    assert_eq!(scene.time_axis, None);
}

#[test]
fn a_drawing_stays_small() {
    // Eight hundred samples a curve; a page holds several drawings and redraws them while a hand moves.
    assert!(waves(&full()).len() < 60_000, "{}", waves(&full()).len());
}

/// Writes every case to a folder for looking at: `QUIETRAIL_LOOK=folder cargo test -- --ignored look`.
#[test]
#[ignore = "writes files, for eyes"]
fn look() {
    let folder = std::env::var("QUIETRAIL_LOOK").expect("QUIETRAIL_LOOK names a folder");
    for (name, data) in cases() {
        std::fs::write(format!("{folder}/{name}.svg"), waves(&data)).expect("writes");
    }
}
