//! Published and textbook figures of transformers, capacitors and fuse links beside ours. `PWR-FUSE` numbers are those of
//! the register's section on links.

use quietrail_checks::{Allowed, Figure, Section};
use quietrail_job::read;
use quietrail_study::switch_on::discharge::{bleeder, seconds};
use quietrail_study::switch_on::fuse::{self, Clears, Sheet};
use quietrail_study::transformer::{area_rule, joins, know, rise, wanted};

/// Readings without errors of a transformer whose figures are known.
fn job(lines: &str) -> quietrail_job::model::Job {
    let text = format!(
        "format = 1\n[mains]\nvoltage = \"120 V ±10 %\"\nfrequency = \"60 Hz\"\n[states]\non = \"working\"\n[unmarked.T1]\nnull = \"0 Ω .. 0.1 \
         mΩ\"\nerrors = {{ ohms = \"0.001 %\", volts = \"0.001 %\", amps = \"0.001 %\" }}\n{lines}"
    );
    let reading = read(&text, None);
    reading
        .job
        .unwrap_or_else(|| panic!("{text}\n{:#?}", reading.diagnostics))
}

const ONE: &str = "copper = \"20 °C\"\nleads = [\"p\", \"q\", \"a\", \"b\"]\nprimary = [\"p\", \"q\"]\nprimary_because = \"so said\"\nohms = [{ \
                   between = [\"p\", \"q\"], reads = \"22 Ω ±0.001 %\" }, { between = [\"a\", \"b\"], reads = \"0.3 Ω ±0.001 %\" }]\nvolts = \
                   [{ driven = [\"p\", \"q\"], at = \"120 V ±0.001 %\", across = [\"a\", \"b\"], reads = \"18 V ±0.001 %\" }]\n";

#[test]
fn transformers() {
    let mut section = Section::new("transformer", "Transformers");
    let formula = "Valve Wizard, Graphical Power Supply Design: Rs = Rsec + Rpri n²";
    let one = job(ONE);
    let known = know(&one.unmarked[0], &one).expect("a model");
    let source = |known: &quietrail_study::transformer::Known, k: usize| {
        known.windings[k]
            .source
            .as_ref()
            .expect("a secondary")
            .value
    };
    section
        .row("PWR-XFMR-01", "resistance behind 18 V, Ω", formula)
        .near(0.795, source(&known, 1), Allowed::Relative(1e-4));

    let two = |joined: &str, at: &str, driven: &str| {
        let lines = format!(
            "copper = \"20 °C\"\nleads = [\"p\", \"q\", \"r\", \"s\", \"a\", \"b\"]\nprimary = [\"p\", \"q\", \"r\", \"s\"]\nprimary_because = \
             \"so said\"\nohms = [{{ between = [\"p\", \"q\"], reads = \"22 Ω ±0.001 %\" }}, {{ between = [\"r\", \"s\"], reads = \"22 Ω ±0.001 \
             %\" }}, {{ between = [\"a\", \"b\"], reads = \"0.3 Ω ±0.001 %\" }}]\nvolts = [{{ driven = {driven}, at = \"{at} ±0.001 %\", joined \
             = {joined}, across = [\"a\", \"b\"], reads = \"18 V ±0.001 %\" }}, {{ driven = [\"p\", \"q\"], at = \"12 V ±0.001 %\", joined = \
             [[\"q\", \"r\"]], across = [\"p\", \"s\"], reads = \"24 V ±0.001 %\" }}]\n"
        );
        let job = job(&lines);
        let known = know(&job.unmarked[0], &job).expect("a model");
        source(&known, 2)
    };
    let parallel = two(
        "[[\"p\", \"r\"], [\"q\", \"s\"]]",
        "120 V",
        "[\"p\", \"q\"]",
    );
    let series = two("[[\"q\", \"r\"]]", "240 V", "[\"p\", \"s\"]");
    section
        .row(
            "PWR-XFMR-02",
            "two primaries, side by side and in series, Ω",
            "invariance of referred resistance",
        )
        .worst_of(&[
            Figure::relative("parallel", 0.5475, parallel, 1e-4),
            Figure::relative("series", 0.5475, series, 1e-4),
        ]);

    let lines = "copper = \"20 °C\"\nleads = [\"p\", \"q\", \"r\", \"s\", \"a\", \"b\"]\nprimary = [\"p\", \"q\", \"r\", \"s\"]\nprimary_because = \"so \
                 said\"\nohms = [{ between = [\"p\", \"q\"], reads = \"22 Ω ±0.001 %\" }, { between = [\"r\", \"s\"], reads = \"22 Ω ±0.001 %\" }, { \
                 between = [\"a\", \"b\"], reads = \"0.3 Ω ±0.001 %\" }]\nvolts = [{ driven = [\"p\", \"s\"], at = \"240 V ±0.001 %\", joined = \
                 [[\"q\", \"r\"]], across = [\"a\", \"b\"], reads = \"18 V ±0.001 %\" }, { driven = [\"p\", \"q\"], at = \"12 V ±0.001 %\", joined = \
                 [[\"q\", \"r\"]], across = [\"p\", \"s\"], reads = \"24 V ±0.001 %\" }]\n";
    let dual_job = job(lines);
    let dual_known = know(&dual_job.unmarked[0], &dual_job).expect("a model");
    let found = joins(
        &dual_known,
        &dual_job,
        wanted(&dual_job, Some(0.5), Some(4.7e-3)),
    );
    let dual = found.dual.expect("two primaries");
    section
        .row(
            "PWR-XFMR-03",
            "phase test at Vx: across the free ends over Vx, aiding and opposing",
            "superposition",
        )
        .worst_of(&[
            Figure::relative("aiding", 2.0, dual.right / dual.low, 1e-4),
            Figure {
                what: "opposing".to_owned(),
                expected: 0.0,
                got: dual.wrong / dual.low,
                allowed: Allowed::Absolute(1e-4),
            },
        ]);

    // 14.1 V off load, 12.0 V at 2.0 A: what one loaded point alone says of the resistance behind.
    let lines = "copper = \"20 °C\"\nleads = [\"p\", \"q\", \"a\", \"b\"]\nprimary = [\"p\", \"q\"]\nprimary_because = \"so said\"\nohms = [{ between = \
                 [\"p\", \"q\"], reads = \"40 Ω ±30 Ω\" }, { between = [\"a\", \"b\"], reads = \"0.6 Ω ±0.5 Ω\" }]\nvolts = [{ driven = [\"p\", \"q\"], at = \
                 \"120 V ±0.001 %\", across = [\"a\", \"b\"], reads = \"14.1 V ±0.001 %\" }]\nloaded = [{ driven = [\"p\", \"q\"], at = \"120 V ±0.001 %\", \
                 across = [\"a\", \"b\"], ohms = \"6 Ω ±0.001 %\", reads = \"12 V ±0.001 %\", warmer = \"0 K .. 0.01 K\" }]\nshorted = [{ driven = [\"p\", \
                 \"q\"], at = \"12 V ±0.001 %\", short = [\"a\", \"b\"], amps = \"157.7857 mA ±0.001 %\" }]\n";
    let loaded_job = job(lines);
    let loaded = know(&loaded_job.unmarked[0], &loaded_job).expect("a model");
    section
        .row(
            "PWR-XFMR-04",
            "resistance from off-load and loaded volts, leakage none, Ω",
            "(Voc − Vfl)/I",
        )
        .near(1.05, source(&loaded, 1), Allowed::Relative(2e-3));

    section
        .row(
            "PWR-XFMR-05",
            "rise of copper by resistance, K",
            "IEC/UL product standards, resistance method, k 234.5",
        )
        .near(
            47.184_78,
            rise(2.300, 22.0, 2.750, 25.0),
            Allowed::Relative(1e-6),
        );
    let inch = 0.0254;
    section
        .row(
            "core rule",
            "26 in⁴ at 50 Hz, 31 in⁴ at 60 Hz",
            "workshop texts, two forms of one rule",
        )
        .worst_of(&[
            Figure::relative("50 Hz", 26.0, area_rule(inch, inch, 50.0), 5e-3),
            Figure::relative("60 Hz", 31.0, area_rule(inch, inch, 60.0), 1e-2),
        ]);
    section.note(
        "PWR-XFMR-12",
        "Highest winding temperatures of IEC 61558-1 (class A 100 °C, B 120 °C): from memory, not used; the job states copper_max.",
    );
    section.note(
        "PWR-XFMR-14",
        "Mains ranges of IEC 60038 and ANSI C84.1: from memory; the job states its own.",
    );
    section.finish();
}

#[test]
fn fuse_links_and_stored_charge() {
    let mut section = Section::new("fuses", "Fuse links and stored charge");
    let at = |sheet: Sheet, multiple: f64| match fuse::clears(sheet, 1.0, multiple) {
        Clears::Within { least, most } => (least, most),
        other => panic!("{other:?}"),
    };
    let sheets = [
        (
            "PWR-FUSE-20",
            Sheet::Three,
            "Littelfuse 213 data sheet (IEC 60127-2 sheet 3)",
            [(2.75, 0.6, 10.0), (4.0, 0.15, 3.0), (10.0, 0.02, 0.3)],
            120.0,
        ),
        (
            "PWR-FUSE-21",
            Sheet::Five,
            "Schurter SPT 5x20 and Littelfuse 215 data sheets (sheet 5, 1 A to 3.15 A)",
            [(2.75, 0.75, 80.0), (4.0, 0.095, 5.0), (10.0, 0.010, 0.150)],
            1800.0,
        ),
    ];
    for (id, sheet, source, gates, at_210) in sheets {
        let mut figures = vec![Figure::relative(
            "210 %, most",
            at_210,
            at(sheet, 2.1).1,
            1e-9,
        )];
        for (multiple, least, most) in gates {
            let found = at(sheet, multiple);
            figures.push(Figure::relative("least", least, found.0, 1e-9));
            figures.push(Figure::relative("most", most, found.1, 1e-9));
        }
        section
            .row(id, "seconds at 210 %, 275 %, 400 %, 1000 %", source)
            .worst_of(&figures);
        assert_eq!(
            fuse::clears(sheet, 1.0, 1.5),
            Clears::Never,
            "150 % for 60 minutes at least"
        );
    }
    let melting = [
        (0.2, 0.225),
        (0.25, 0.555),
        (0.5, 2.905),
        (1.0, 19.2),
        (2.5, 138.0),
    ];
    let figures: Vec<Figure> = melting
        .iter()
        .map(|(rated, wanted)| {
            Figure::relative(
                "melting",
                *wanted,
                fuse::melting(*rated).unwrap_or(0.0),
                1e-9,
            )
        })
        .collect();
    section
        .row(
            "PWR-FUSE-22",
            "nominal melting I²t, A²s",
            "Littelfuse 213 data sheet",
        )
        .worst_of(&figures);
    let stands: Vec<Figure> = [(100_000, 0.22), (10_000, 0.29), (1000, 0.38), (100, 0.48)]
        .iter()
        .zip(fuse::STANDS)
        .map(|((_, wanted), (_, found))| Figure::relative("share", *wanted, found, 1e-9))
        .collect();
    section
        .row(
            "PWR-FUSE-23",
            "pulse that a link stands, share of melting I²t",
            "Littelfuse Fuseology, chart 2",
        )
        .worst_of(&stands);
    let link = fuse::choose(0.05, 0.099_144).expect("a link");
    section
        .row(
            "PWR-FUSE-26",
            "smallest link for 0.099144 A²s, 100 000 starts, A",
            "PWR-FUSE-22 and 23",
        )
        .near(0.25, link.rated, Allowed::Relative(1e-9));
    let charge = "R C ln(V0/V)";
    section
        .row(
            "PWR-CAP-12",
            "bleed from 373 V to 80 V, to 60 V in 5 s, 4.4 µF, Ω",
            "IEC 61010-1 6.10.3 as on an IEEE mailing list",
        )
        .worst_of(&[
            Figure::relative("80 V", 738_113.3, bleeder(4.4e-6, 373.0, 80.0, 5.0), 1e-6),
            Figure::relative("60 V", 621_903.8, bleeder(4.4e-6, 373.0, 60.0, 5.0), 1e-6),
        ]);
    section
        .row(
            "PWR-CAP-13",
            "RC of a second leaves 37 %: R for 0.47 µF, Ω",
            "IEC 60950 as on the same list",
        )
        .near(
            2_127_660.0,
            bleeder(0.47e-6, 1.0, (-1.0_f64).exp(), 1.0),
            Allowed::Relative(1e-6),
        );
    section
        .row(
            "PWR-CAP-14",
            "34 V after a second from 230 √2 V, 0.22 µF, Ω",
            "Japanese summary of IEC 60335-1",
        )
        .near(
            2_012_784.0,
            bleeder(0.22e-6, 230.0 * 2.0_f64.sqrt(), 34.0, 1.0),
            Allowed::Relative(1e-6),
        );
    section
        .row(
            "PWR-CAP-16",
            "10 mF, 35 V, 1 kΩ: to 5 V, s; 2 V in 10 s, Ω",
            charge,
        )
        .worst_of(&[
            Figure::relative("seconds", 19.459_10, seconds(10e-3, 1e3, 35.0, 5.0), 1e-6),
            Figure::relative("ohms", 349.3815, bleeder(10e-3, 35.0, 2.0, 10.0), 1e-6),
        ]);
    section.note(
        "PWR-CAP-09",
        "Life with ripple heating and voltage: makers differ, from memory, not used.",
    );
    section.note(
        "PWR-CAP-15",
        "ES1 60 V DC of IEC 62368-1: from memory, not compared.",
    );
    section.note("touchable", "60 V DC of IEC 61010-1:2010: from memory; it heads a column of discharge times and judges nothing.");
    section.finish();
}
