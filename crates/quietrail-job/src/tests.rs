//! Cases are files: `cases/*.toml`, each a small job. A trailing `#! J012 part of the message` says that a
//! diagnostic of that code points at that line; several may follow one another. Exactly those that a case
//! names must appear.

use crate::model::{Between, DiodeCurve, Figure, Job, Origin, PartKind, SetPoint};
use crate::{Diagnostic, FileId, MAX_JOB_BYTES, Reading, Severity, decode, read, set_value};
use proptest::prelude::{Just, Strategy, any, prop};
use proptest::{prop_assert, prop_assert_eq, prop_oneof, proptest};
use std::collections::BTreeSet;
use std::fs;
use std::path::{Path, PathBuf};

/// One diagnostic that a case names.
#[derive(Debug)]
struct Expected {
    line: usize,
    code: String,
    words: String,
}

fn folder() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("cases")
}

/// Every `#! J012 words` of a text, with its line, counted from 1.
fn expectations(text: &str) -> Vec<Expected> {
    text.lines()
        .enumerate()
        .flat_map(|(index, line)| {
            line.split("#!").skip(1).map(move |comment| {
                let (code, words) = comment
                    .trim()
                    .split_once(' ')
                    .unwrap_or((comment.trim(), ""));
                Expected {
                    line: index + 1,
                    code: code.to_owned(),
                    words: words.trim().to_owned(),
                }
            })
        })
        .collect()
}

fn line_of(text: &str, diagnostic: &Diagnostic) -> usize {
    text.as_bytes()[..diagnostic.span.start]
        .iter()
        .filter(|byte| **byte == b'\n')
        .count()
        + 1
}

/// What a case has too much or too little, in words; empty if nothing.
fn differences(text: &str, reading: &Reading) -> Vec<String> {
    let mut expected = expectations(text);
    let mut found = Vec::new();
    for diagnostic in &reading.diagnostics {
        assert_eq!(diagnostic.file, FileId::Job, "{diagnostic:?}");
        let line = line_of(text, diagnostic);
        let fits = |one: &Expected| {
            one.line == line
                && one.code == diagnostic.code
                && diagnostic.message.contains(&one.words)
        };
        match expected.iter().position(fits) {
            Some(index) => drop(expected.remove(index)),
            None => found.push(format!(
                "line {line}: {} {} not expected",
                diagnostic.code, diagnostic.message
            )),
        }
    }
    found.extend(expected.iter().map(|one| format!("{one:?} did not appear")));
    found
}

/// Both halves of a country with two frequencies are of its region; one frequency that is not the region's is asked about.
#[test]
fn a_range_of_mains_frequency_is_of_each_region_inside_it() {
    let warned = |frequency: &str| {
        let text = format!(
            "format = 1\n[job]\nregion = \"100 V 60 Hz\"\n[mains]\nvoltage = \"100 V ±6 %\"\nfrequency = \"{frequency}\"\n\
             [states]\non = \"on\"\n"
        );
        read(&text, None)
            .diagnostics
            .iter()
            .any(|one| one.code == "J051")
    };
    assert!(!warned("50 Hz .. 60 Hz") && !warned("60 Hz"));
    assert!(warned("50 Hz"));
}

#[test]
fn every_case_gives_just_its_diagnostics() {
    let mut failures = Vec::new();
    let mut count = 0;
    let mut paths: Vec<_> = fs::read_dir(folder())
        .expect("the folder of cases")
        .map(|entry| entry.expect("an entry").path())
        .collect();
    paths.sort();
    for path in paths {
        let text = fs::read_to_string(&path).expect("a case");
        let found = differences(&text, &read(&text, None));
        count += 1;
        if !found.is_empty() {
            failures.push(format!("{}:\n  {}", path.display(), found.join("\n  ")));
        }
    }
    assert!(count > 0, "no cases found");
    assert!(failures.is_empty(), "{}", failures.join("\n"));
}

const EXAMPLE: &str = include_str!("../cases/whole-example.toml");
const OTHERS: &str = include_str!("../cases/whole-others.toml");

fn job(text: &str) -> Job {
    let reading = read(text, None);
    reading
        .job
        .unwrap_or_else(|| panic!("{:#?}", reading.diagnostics))
}

fn close(found: f64, wanted: f64) -> bool {
    (found - wanted).abs() <= 1e-12 * wanted.abs()
}

#[test]
fn every_code_of_a_job_file_has_a_case() {
    let cases = fs::read_dir(folder()).expect("the folder of cases");
    let texts: Vec<String> = cases
        .map(|entry| fs::read_to_string(entry.expect("an entry").path()).expect("a case"))
        .collect();
    let met: BTreeSet<String> = texts
        .iter()
        .flat_map(|text| expectations(text))
        .map(|one| one.code)
        .collect();
    // Empty, binary and oversized files, and what is wrong with parts.toml, have tests of their own.
    let elsewhere = ["J001", "J002", "J003", "J012", "J046"];
    let unmet: Vec<&str> = crate::explanations()
        .map(|explanation| explanation.code)
        .filter(|code| !met.contains(*code) && !elsewhere.contains(code))
        .collect();
    assert!(unmet.is_empty(), "{unmet:?}");
}

#[test]
fn an_empty_a_binary_and_an_oversized_file_are_named() {
    for (text, code) in [
        ("", "J001"),
        ("\u{feff}\r\n", "J001"),
        ("format = 1\0", "J002"),
    ] {
        let found = read(text, None).diagnostics;
        assert_eq!(found.iter().map(|one| one.code).collect::<Vec<_>>(), [code]);
    }
    let large = "#".repeat(MAX_JOB_BYTES + 1);
    assert_eq!(read(&large, None).diagnostics[0].code, "J003");
    assert_eq!(
        decode(large.as_bytes(), FileId::Job)
            .expect_err("too large")
            .code,
        "J003"
    );
    assert_eq!(
        decode(&[0xff, 0xfe, 0x00], FileId::Job)
            .expect_err("not UTF-8")
            .code,
        "J002"
    );
    assert_eq!(
        decode(b"a\0b", FileId::Job).expect_err("a zero byte").code,
        "J002"
    );
    assert_eq!(decode("µF".as_bytes(), FileId::Job), Ok("µF"));
}

#[test]
fn byte_order_mark_and_line_ends_change_no_meaning_and_shift_no_place() {
    let windows = format!("\u{feff}{}", EXAMPLE.replace('\n', "\r\n"));
    let reading = read(&windows, None);
    assert!(reading.diagnostics.is_empty(), "{:#?}", reading.diagnostics);
    let (plain, marked) = (job(EXAMPLE), job(&windows));
    assert_eq!(plain.parameters(), marked.parameters());
    let misspelled = windows.replace("esr = ", "ers = ");
    let found = read(&misspelled, None).diagnostics;
    assert_eq!(found.len(), 1);
    assert_eq!(&misspelled[found[0].span.clone()], "ers");
}

#[test]
fn the_caret_is_at_the_piece_at_fault_and_the_nearest_name_is_said() {
    let text = EXAMPLE
        .replace("2.1 A at 100 Hz", "2.1 A at 100 Hzz")
        .replace("into = \"heater\"", "into = \"heatr\"");
    let found = read(&text, None).diagnostics;
    let unit = found
        .iter()
        .find(|one| one.code == "J016")
        .expect("an unknown unit");
    assert!(text[unit.span.clone()].contains("Hzz"));
    assert!(!text[unit.span.clone()].contains("2.1 A"));
    assert_eq!(unit.help.as_deref(), Some("the nearest known is `Hz`"));
    let unfed = found
        .iter()
        .find(|one| one.code == "J041")
        .expect("the oven is fed by nothing");
    assert!(
        unfed
            .help
            .as_ref()
            .is_some_and(|help| help.contains("`heatr`")),
        "{unfed:?}"
    );
}

/// What is wrong at a line that a job gets, with its help.
fn refused(line: &str) -> (String, String, String) {
    let text = format!(
        "{}{line}",
        r#"format = 1
[mains]
voltage = "230 V"
frequency = "50 Hz"
[states]
on = "on"
[transformer.T1]
primary = [{ name = "P", volts = "230 V", resistance = "60 Ω" }]
secondary = [{ name = "S", open = "16 V at 230 V", resistance = "0.5 Ω" }]
[rectifier.D1]
from = "T1.S"
into = "raw"
form = "bridge"
diode = "silicon 3 A"
[capacitor.C1]
at = "raw"
value = "4700 µF"
esr = "50 mΩ"
[load.lamp]
at = "raw"
draws = { on = "100 mA" }
"#
    );
    let reading = read(&text, None);
    let is_error = |one: &&crate::Diagnostic| one.severity == crate::Severity::Error;
    let one = reading.diagnostics.iter().find(is_error);
    let one = one.expect("it is wrong");
    let help = one.help.clone().unwrap_or_default();
    (one.code.to_owned(), one.message.clone(), help)
}

#[test]
fn what_is_refused_says_where_it_belongs_and_shows_what_somebody_would_write() {
    let regulator = "[regulator.U1]\nfrom = \"raw\"\ninto = \"out\"\npart = \"adjustable 1.5 A\"\n";
    let (code, _, help) = refused(&format!(
        "{regulator}set = {{ upper = \"240R\", lower = \"2k\" }}\nbypass = \"10 µF\"\n"
    ));
    assert_eq!(code, "J011");
    assert!(help.contains("it belongs into `set`"), "{help}");
    let (_, said, _) = refused("[job]\nregion = \"230 V\"\n");
    assert!(said.contains("\"230 V 50 Hz\""), "{said}");
    let (_, said, _) = refused("[instrument.meter]\nkind = \"multimeter\"\ninput = \"10 MΩ\"\n");
    assert!(said.contains("\"10 MΩ 100 pF\""), "{said}");
}

/// Set points know two sides, and no change leads from one to the other.
#[test]
fn a_set_point_stays_on_its_side_of_the_return() {
    let regulator = |set: &str| {
        format!(
            "[regulator.U1]\nfrom = \"raw\"\ninto = \"out\"\nset = {set}\ndropout = [\"2 V at 1 A\"]\nrejection = [\"60 dB at 120 \
             Hz\"]\nlimit = \"2 A\"\n"
        )
    };
    let (code, said, _) = refused(&regulator("{ fixed = \"-1 V .. 1 V\" }"));
    assert_eq!(code, "J018");
    assert!(said.contains("more than zero, or less"), "{said}");
    let (code, ..) = refused(&regulator(
        "{ trimmer = \"1k\", to = \"9 V\", reference = \"-1.25 V\", across = \"upper\", upper = \"120R\", lower = \"500R\" }",
    ));
    assert_eq!(code, "J081", "above common and a reference under it");
    let (code, said, _) = refused(
        "[[limit]]\nname = \"minus\"\nof = \"raw\"\nwhat = \"mean\"\nmin = \"-11.4 V\"\nmax = \"-12.6 V\"\nfrom = \"the load\"\n",
    );
    assert_eq!(code, "J019");
    assert!(
        said.contains("the larger amount is the lower level"),
        "{said}"
    );
}

#[test]
fn a_file_full_of_faults_is_read_to_its_end() {
    let lines = |part: usize| {
        format!("[load.L{part}]\nat = \"n{part}\"\nbellow = \"1 V\"\ndraws = {{ onn = \"1 A\" }}\n")
    };
    let mut text =
        "format = 1\n[mains]\nvoltage = \"230 V\"\nfrequency = \"50 Hz\"\n[states]\non = \"x\"\n"
            .to_owned();
    let mut part = 0;
    while text.len() + 100 < MAX_JOB_BYTES {
        text.push_str(&lines(part));
        part += 1;
    }
    let found = read(&text, None).diagnostics;
    assert!(found.len() > 3 * part);
}

#[test]
fn a_newer_catalogue_of_the_builder_is_named_and_nothing_else_said() {
    let found = read(EXAMPLE, Some("format = 2\n[diod]\n")).diagnostics;
    assert_eq!(
        found
            .iter()
            .map(|one| (one.code, one.file))
            .collect::<Vec<_>>(),
        [("J006", FileId::Parts)]
    );
}

#[test]
fn ten_mistakes_take_one_run_and_come_in_the_order_of_the_file() {
    let case = fs::read_to_string(folder().join("missing.toml")).expect("a case");
    let found = read(&case, None).diagnostics;
    assert!(found.len() > 10);
    let starts: Vec<usize> = found.iter().map(|one| one.span.start).collect();
    assert!(starts.is_sorted());
}

#[test]
fn own_parts_come_before_built_in_ones_and_their_faults_point_at_their_file() {
    let parts =
        "[diode.\"silicon 3 A\"]\nsource = \"curve tracer\"\nideal = { drop = \"0.8 V\" }\n";
    let reading = read(EXAMPLE, Some(parts));
    let codes: Vec<_> = reading
        .diagnostics
        .iter()
        .map(|one| (one.code, one.severity, one.file))
        .collect();
    assert_eq!(codes, [("J046", Severity::Warning, FileId::Parts)]);
    let job = reading.job.expect("a warning takes no meaning away");
    let PartKind::Rectifier(rectifier) = &job.part("D1").expect("D1").kind else {
        panic!("a rectifier")
    };
    let DiodeCurve::Ideal { drop, .. } = &rectifier.curve else {
        panic!("{:?}", rectifier.curve)
    };
    let source = "curve tracer".to_owned();
    assert_eq!(
        drop.origin,
        Origin::Catalogue {
            part: "silicon 3 A".to_owned(),
            source
        }
    );
    assert_eq!(drop.span, 0..0);

    let faulty = parts.replace("0.8 V", "0.8 A");
    let found = read(EXAMPLE, Some(&faulty)).diagnostics;
    let unit = found
        .iter()
        .find(|one| one.code == "J016")
        .expect("amperes for volts");
    assert_eq!(unit.file, FileId::Parts);
    assert_eq!(&faulty[unit.span.clone()], "0.8 A");
}

#[test]
fn the_job_wins_over_the_catalogue_key_by_key() {
    let text = EXAMPLE.replace(
        "part = \"low-dropout adjustable 3 A\"",
        "part = \"low-dropout adjustable 3 A\"\nlimit = \"4 A\"",
    );
    let job = job(&text);
    let PartKind::Regulator(regulator) = &job.part("U1").expect("U1").kind else {
        panic!("a regulator")
    };
    assert_eq!(
        (regulator.limit.nominal(), &regulator.limit.origin),
        (4.0, &Origin::Drawn)
    );
    let SetPoint::AcrossUpper {
        reference, upper, ..
    } = &regulator.set
    else {
        panic!("{:?}", regulator.set)
    };
    assert!(matches!(reference.origin, Origin::Catalogue { .. }));
    assert_eq!((upper.nominal(), &upper.origin), (1050.0, &Origin::Drawn));
}

#[test]
fn measured_counts_before_fitted_and_fitted_before_drawn() {
    let job = job(OTHERS);
    let PartKind::Capacitor(capacitor) = &job.part("C1").expect("C1").kind else {
        panic!("a capacitor")
    };
    assert!(close(capacitor.value.nominal(), 4510e-6));
    let measured = Origin::Measured {
        with: Some("bridge".to_owned()),
        on: Some("2026-11-20".to_owned()),
    };
    assert_eq!(capacitor.value.origin, measured);
    let without = OTHERS.replace(
        ", measured = { value = \"4510 µF ±2 %\", with = \"bridge\", on = 2026-11-20 }",
        "",
    );
    let job = self::job(&without);
    let PartKind::Capacitor(capacitor) = &job.part("C1").expect("C1").kind else {
        panic!("a capacitor")
    };
    assert_eq!(capacitor.value.origin, Origin::Fitted);
    assert!(close(capacitor.value.nominal(), 4700e-6));
}

#[test]
fn figures_follow_from_other_figures_as_the_guide_says() {
    let job = job(OTHERS);
    let kind = |name: &str| &job.part(name).expect("a part of the case").kind;

    let PartKind::Capacitor(capacitor) = kind("C1") else {
        panic!("a capacitor")
    };
    // tan δ / (2π f C) = 0.2 / (2π · 120 · 4510e-6)
    assert!(
        (capacitor.esr.nominal() - 0.058_815).abs() < 1e-6,
        "{}",
        capacitor.esr.nominal()
    );
    assert!(close(capacitor.leakage.nominal(), 30e-6 / 35.0));

    let PartKind::Wire(wire) = kind("W1") else {
        panic!("a wire")
    };
    // 0.5 m of 0.5 mm² of copper: 1/58 Ω·mm²/m
    assert!((wire.resistance.nominal() - 1.0 / 58.0).abs() < 1e-12);

    let PartKind::Transformer(transformer) = kind("T1") else {
        panic!("a transformer")
    };
    // 12 V and 12 % make 13.44 V off load; half of the 1.44 V at 1.5 A is lost in the secondary ...
    let secondary = &transformer.secondary[0];
    assert!(close(secondary.open.nominal(), 13.44));
    assert!(close(secondary.at_primary.nominal(), 230.0));
    assert!(close(secondary.resistance.nominal(), 0.48));
    // ... and half in the primary: 1.08 W at 20.16 VA / 230 V.
    assert!(close(
        transformer.primary[0].resistance.nominal(),
        1.08 * (230.0_f64 / 20.16).powi(2)
    ));
    assert_eq!(secondary.rated.as_ref().map(Figure::nominal), Some(1.5));

    let PartKind::Regulator(regulator) = kind("U1") else {
        panic!("a regulator")
    };
    // 0.3 % of 1.25 V (1 + 1200/240) + 50 µA · 1200 Ω, over 1.5 A
    assert!(close(
        regulator.output_resistance.nominal(),
        0.003 * 7.56 / 1.5
    ));
    assert!(close(regulator.limit.nominal(), 2.25));
    assert!(matches!(regulator.limit.origin, Origin::Default { .. }));
}

#[test]
fn what_is_left_out_is_a_default_and_says_why() {
    let text = "format = 1\n[job]\nregion = \"230 V 50 Hz\"\n[mains]\nvoltage = \"225 V\"\n[states]\non = \"on\"\n";
    let job = job(text);
    let defaults: Vec<String> = job
        .parameters()
        .into_iter()
        .filter(|parameter| parameter.why_default.is_some())
        .map(|parameter| parameter.address.0)
        .collect();
    assert_eq!(
        defaults,
        ["mains.frequency", "mains.flatness", "room", "box.rise"]
    );
    let Origin::Default { why } = job.mains.frequency.origin else {
        panic!("a default")
    };
    assert!(why.contains("region"));
}

#[test]
fn at_is_short_for_between_with_common() {
    let job = job(EXAMPLE);
    let PartKind::Capacitor(capacitor) = &job.part("C1").expect("C1").kind else {
        panic!("a capacitor")
    };
    let Between { plus, minus, span } = &capacitor.between;
    assert_eq!(
        (plus.as_str(), minus.as_str(), &EXAMPLE[span.clone()]),
        ("raw", "common", "\"raw\"")
    );
}

/// Bytes cut out, doubled or swapped for others of the same text.
fn mutated(text: &str, cuts: &[(usize, usize, u8)]) -> String {
    let mut characters: Vec<char> = text.chars().collect();
    for &(at, length, kind) in cuts {
        if characters.is_empty() {
            break;
        }
        let from = at % characters.len();
        let to = (from + length).min(characters.len());
        let piece: Vec<char> = characters[from..to].to_vec();
        match kind % 3 {
            0 => drop(characters.drain(from..to)),
            1 => drop(characters.splice(from..from, piece)),
            _ => characters[from..to].reverse(),
        }
    }
    characters.into_iter().collect()
}

fn check_reading(
    text: &str,
    reading: &Reading,
) -> Result<(), proptest::test_runner::TestCaseError> {
    let mut last = 0;
    for one in &reading.diagnostics {
        prop_assert!(
            text.get(one.span.clone()).is_some(),
            "{one:?} points outside the text"
        );
        prop_assert!(one.span.start >= last, "{one:?} is out of order");
        prop_assert!(!one.message.is_empty());
        last = one.span.start;
    }
    let any_error = reading
        .diagnostics
        .iter()
        .any(|one| one.severity == Severity::Error);
    prop_assert_eq!(reading.job.is_none(), any_error);
    Ok(())
}

/// Pieces that a job is made of, so that arbitrary texts reach beyond the first line.
fn pieces() -> impl Strategy<Value = String> {
    let piece = prop_oneof![
        Just("format = 1\n".to_owned()),
        Just("[mains]\nvoltage = \"230 V\"\nfrequency = \"50 Hz\"\n".to_owned()),
        Just("[states]\non = \"x\"\n".to_owned()),
        "\\[(capacitor|regulator|transformer|load|rectifier)\\.[A-C]\\]\n",
        "(at|between|value|from|into|set|draws|primary|secondary|joins|form|esr|limit) = (1|\"raw\"|\"1 µF\"|\\[\\]|\\{\\}|\\[\"a\", \"b\"\\]|true)\n",
        any::<String>(),
    ];
    prop::collection::vec(piece, 0..12).prop_map(|pieces| pieces.concat())
}

proptest! {
    #[test]
    fn no_text_brings_the_reader_down(text in pieces()) {
        let reading = read(&text, None);
        check_reading(&text, &reading)?;
        let _ = read(EXAMPLE, Some(&text));
        let _ = set_value(&text, "A.value", "1 µF");
    }

    #[test]
    fn no_slip_in_a_whole_job_brings_the_reader_down(
        cuts in prop::collection::vec((any::<usize>(), 1_usize..12, any::<u8>()), 1..6),
        others in any::<bool>(),
    ) {
        let text = mutated(if others { OTHERS } else { EXAMPLE }, &cuts);
        let reading = read(&text, None);
        check_reading(&text, &reading)?;
        if let Some(job) = &reading.job {
            for parameter in job.parameters() {
                prop_assert!(parameter.low <= parameter.nominal && parameter.nominal <= parameter.high, "{parameter:?}");
                let _ = set_value(&text, &parameter.address.0, "1 V");
            }
        }
    }
}
