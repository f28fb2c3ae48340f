//! The drawing is checked for what must never happen to it, whatever the job.

use super::{Descent, Sheet, Width, sheets};
use crate::svg::face::text_width;
use crate::svg::scene::{Align, Mark};
use quietrail_study::descent::{figures, plan, sections};
use quietrail_study::ready::Ready;

/// A filter of two chokes before a regulator; its load may only have a lowest voltage, or only a highest.
fn filtered(limits: &str) -> String {
    format!(
        r#"
format = 1
[mains]
voltage = "230 V"
frequency = "50 Hz"
[states]
on = "working"
[transformer.T1]
primary = [{{ name = "P", volts = "230 V", resistance = "30 Ω" }}]
secondary = [{{ name = "S", open = "20 V at 230 V", resistance = "0.5 Ω" }}]
[rectifier.D1]
from = "T1.S"
into = "raw"
form = "bridge"
diode = "silicon 3 A"
[capacitor.C1]
at = "raw"
value = "4700 µF"
esr = "50 mΩ"
[inductor.L1]
between = ["raw", "middle"]
value = "10 mH"
resistance = "1 Ω"
[capacitor.C2]
at = "middle"
value = "2200 µF"
esr = "50 mΩ"
[inductor.L2]
between = ["middle", "smooth"]
value = "10 mH"
resistance = "1 Ω"
[capacitor.C3]
at = "smooth"
value = "2200 µF"
esr = "50 mΩ"
[regulator.U1]
from = "smooth"
into = "out"
part = "adjustable 1.5 A"
set = {{ upper = "240 Ω", lower = "2k05" }}
[capacitor.C4]
at = "out"
value = "10 µF"
esr = "0.5 Ω"
[load.X1]
at = "out"
draws = {{ on = "300 mA" }}
{limits}"#
    )
}

fn drawn(text: &str, width: Width) -> Vec<Sheet> {
    let reading = quietrail_job::read(text, None);
    let job = reading
        .job
        .unwrap_or_else(|| panic!("{:#?}", reading.diagnostics));
    let plan = plan(&job).expect("a plan");
    let ready = Ready::of(job.clone(), plan, &quietrail_study::options());
    let solved = ready.solve_one(0, &[]).expect("it settles");
    let sections = sections(&job);
    let here = figures(&sections, &ready.plan, &solved);
    let nowhere = |_: &str| None;
    let no_sum = |_: super::Sum<'_>| None;
    let descent = Descent {
        job: &job,
        sections: &sections,
        here: &here,
        all: None,
        surfaces: &vec![Vec::new(); sections.len()],
        states: &["on".to_owned()],
        open: None,
        link: &nowhere,
        sum: &no_sum,
    };
    sheets(&descent, width)
}

/// Every text of a sheet: what it says, its left and right end, its line.
fn texts(sheet: &Sheet) -> Vec<(String, f64, f64, f64)> {
    let one = |mark: &Mark| match mark {
        Mark::Text {
            at,
            text,
            size,
            weight,
            align,
            ..
        } => {
            let wide = text_width(text, *size, *weight);
            let left = match align {
                Align::Start => at.x,
                Align::Middle => at.x - wide / 2.0,
                Align::End => at.x - wide,
            };
            Some((text.clone(), left, left + wide, at.y))
        }
        _ => None,
    };
    sheet.scene.marks.iter().filter_map(one).collect()
}

const WIDTHS: [Width; 3] = [Width::Wide, Width::Paper, Width::Narrow];

/// No part on the way is left out, however many sheets it takes.
#[test]
fn every_part_of_a_filter_is_drawn() {
    for width in WIDTHS {
        let sheets = drawn(&filtered(""), width);
        let all: Vec<String> = sheets
            .iter()
            .flat_map(texts)
            .map(|(text, ..)| text)
            .collect();
        // A narrow sheet has no circuit: nodes, and what leads from one to the next.
        let wanted: &[&str] = match width {
            Width::Narrow => &["raw", "L1", "middle", "L2", "smooth", "U1", "out"],
            _ => &["T1", "D1", "C1", "L1", "C2", "L2", "C3", "U1", "C4", "X1"],
        };
        for part in wanted {
            assert!(
                all.iter().any(|text| text == part),
                "{width:?}: {part} in {all:?}"
            );
        }
    }
}

/// A regulator's block hangs from the level of the node that feeds it, and that level is on its sheet, by name.
#[test]
fn a_regulator_behind_a_filter_hangs_from_the_filter() {
    for width in WIDTHS {
        let sheets = drawn(&filtered(""), width);
        let sheet = sheets
            .iter()
            .find(|sheet| sheet.rails.contains(&2))
            .expect("U1 is the third rail");
        let texts = texts(sheet);
        assert!(
            texts.iter().any(|(text, ..)| text.starts_with("smooth")),
            "{width:?}: {texts:?}"
        );
        assert!(
            !texts
                .iter()
                .any(|(text, ..)| text == "wall" || text == "raw"),
            "{width:?}: {texts:?}"
        );
    }
}

/// What is written stays on the sheet, and no two texts of a line run into each other. Widths of letters are known to a pixel.
#[test]
fn no_text_is_cut_or_overprinted() {
    let one_end = |what: &str, end: &str| {
        format!("[[limit]]\nname = \"x\"\nof = \"out\"\nwhat = \"{what}\"\n{end}\n")
    };
    let lowest = one_end("valley", "min = \"7.42 V\"");
    let highest = one_end("peak", "max = \"14.73 V\"");
    let straight = filtered("").replace("from = \"smooth\"", "from = \"raw\"");
    let two_rails = format!(
        "{straight}{lowest}[regulator.U2]\nfrom = \"raw\"\ninto = \"out2\"\npart = \"adjustable 1.5 A\"\n\
         set = {{ upper = \"240 Ω\", lower = \"2k05\" }}\n[load.X2]\nat = \"out2\"\ndraws = {{ on = \"0.1 A\" }}\n\
         [[limit]]\nname = \"y\"\nof = \"out2\"\nwhat = \"valley\"\nmin = \"10.42 V\"\n"
    );
    // Next to nothing is drawn: wall and winding stand equally high.
    let light = straight.replace("300 mA", "1 mA");
    let jobs = [filtered(&lowest), filtered(&highest), two_rails, light];
    let mut faults = Vec::new();
    for (number, job) in jobs.iter().enumerate() {
        for width in WIDTHS {
            for sheet in drawn(job, width) {
                let texts = texts(&sheet);
                for (k, (text, left, right, y)) in texts.iter().enumerate() {
                    if *left < -1.0 || *right > sheet.scene.width + 1.0 {
                        faults.push(format!(
                            "job {number}, {width:?}: {text} from {left} to {right}"
                        ));
                    }
                    for (other, from, to, line) in &texts[k + 1..] {
                        if left.max(*from) + 1.0 < right.min(*to) && (y - line).abs() < 9.0 {
                            faults.push(format!("job {number}, {width:?}: {text} meets {other}"));
                        }
                    }
                }
            }
        }
    }
    assert!(faults.is_empty(), "{faults:#?}");
}
