//! Published and textbook figures of transformers, capacitors and fuse links beside ours. ids are those of the register
//! of published figures that the guide shows.

use quietrail_checks::{Allowed, Figure, Section};
use quietrail_job::read;
use quietrail_study::capacitors::{
    END_OF_LIFE, END_OF_LIFE_ESR, ENDURANCE, ENDURANCE_ESR, heat_of, vet,
};
use quietrail_study::life::{life_at, life_over, temperature_for};
use quietrail_study::lower::copper_resistance;
use quietrail_study::switch_on::discharge::{bleeder, seconds};
use quietrail_study::switch_on::fuse::{self, Clears, Pulse, Sheet};
use quietrail_study::switch_on::switch_on;
use quietrail_study::transformer::{
    ALUMINIUM_K, COPPER_K, area_rule, direct_of, insulation_life, joins, know, loaded_volts,
    regulation_of, rise, wanted, winding_factor,
};
use quietrail_units::{Farads, Quantity};

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
        .row("PWR-XFMR-04", "regulation, %", "(Voc − Vfl)/Vfl")
        .near(
            17.5,
            100.0 * regulation_of(14.1, loaded_volts(14.1, source(&loaded, 1), 0.0, 6.0)),
            Allowed::Relative(2e-3),
        );

    section
        .row(
            "PWR-XFMR-05",
            "rise of copper by resistance, K",
            "IEC/UL product standards, resistance method, k 234.5",
        )
        .near(
            47.184_78,
            rise(COPPER_K, 2.300, 22.0, 2.750, 25.0),
            Allowed::Relative(1e-6),
        );
    let standards = "UL wording (copper 234.5, aluminium 225); Electrical Engineering Portal (228)";
    section
        .row("PWR-XFMR-06", "the same winding as aluminium, K", standards)
        .worst_of(&[
            Figure::relative(
                "225",
                45.326_09,
                rise(ALUMINIUM_K, 2.300, 22.0, 2.750, 25.0),
                1e-6,
            ),
            Figure::relative(
                "228",
                45.913_04,
                rise(228.0, 2.300, 22.0, 2.750, 25.0),
                1e-6,
            ),
        ]);
    // The table prints three decimals.
    let printed = [
        (40.0, 1.058),
        (50.0, 1.096),
        (75.0, 1.193),
        (100.0, 1.289),
        (125.0, 1.385),
        (150.0, 1.482),
        (200.0, 1.674),
    ];
    let figures: Vec<Figure> = printed
        .iter()
        .map(|(celsius, times)| Figure {
            what: format!("{celsius} °C"),
            expected: *times,
            got: copper_resistance(*celsius) / copper_resistance(25.0),
            allowed: Allowed::Absolute(6e-4),
        })
        .collect();
    section
        .row(
            "PWR-XFMR-07",
            "resistance of copper over that at 25 °C",
            "three-digit table of a note on DC resistance; half a digit, and the coefficient's own",
        )
        .worst_of(&figures);
    section
        .row(
            "PWR-XFMR-08",
            "coefficient at 20 °C, per K",
            "Electrical Engineering Portal: copper 0.00393, aluminium 0.00403 with 228",
        )
        .worst_of(&[
            Figure {
                what: "copper".to_owned(),
                expected: 0.003_93,
                got: copper_resistance(21.0) - copper_resistance(20.0),
                allowed: Allowed::Absolute(5e-6),
            },
            Figure {
                what: "copper by its constant".to_owned(),
                expected: 0.003_93,
                got: 1.0 / (COPPER_K + 20.0),
                allowed: Allowed::Absolute(5e-6),
            },
            Figure::relative(
                "aluminium, 225",
                0.004_081_633,
                1.0 / (ALUMINIUM_K + 20.0),
                1e-6,
            ),
        ]);
    // The coefficient 0.00393 of IEC 60028 and the constant 234.5 part by 2 in 10 000 per unit of the change.
    section
        .row(
            "PWR-XFMR-09",
            "0.795 Ω at 20 °C, at 95 °C",
            "(234.5 + t)/(234.5 + 20); ours is the coefficient of IEC 60028",
        )
        .near(
            1.029_283,
            0.795 * copper_resistance(95.0),
            Allowed::Relative(1e-4),
        );
    // ωRC 10 at 50 Hz and 1 kΩ; 0.7445 of a crest of 1 kV is the mean that the closed form gives.
    let farads = 10.0 / (100.0 * std::f64::consts::PI * 1000.0);
    let factor = |share: f64, mean: f64| {
        winding_factor(1000.0 / 2.0_f64.sqrt(), 1000.0 * share, 50.0, farads, mean)
            .expect("it comes to rest")
    };
    section
        .row(
            "PWR-XFMR-10",
            "direct current of a winding rated 2 A, Rs/R 0.1, A",
            "Hammond Manufacturing: 0.62 of it; others 1/1.6",
        )
        .worst_of(&[
            Figure {
                what: "0.62".to_owned(),
                expected: 1.24,
                got: direct_of(2.0, factor(0.1, 0.7445)),
                allowed: Allowed::Absolute(0.015),
            },
            Figure {
                what: "1/1.6".to_owned(),
                expected: 1.25,
                got: direct_of(2.0, factor(0.1, 0.7445)),
                allowed: Allowed::Absolute(0.015),
            },
        ]);
    section
        .row(
            "PWR-XFMR-10",
            "the same, Rs/R 0.02 .. 0.05, A",
            "Petra Toroid: 1/1.8 of it",
        )
        .spans(
            2.0 / 1.8,
            direct_of(2.0, factor(0.02, 0.8695)),
            direct_of(2.0, factor(0.05, 0.8167)),
        );
    let class = |letter: &str| {
        let job = job(&format!("{ONE}class = \"{letter}\"\n"));
        let most = job.unmarked[0].copper_max.as_ref();
        most.expect("a class").nominal()
    };
    let classes = [
        ("A", 105.0),
        ("E", 120.0),
        ("B", 130.0),
        ("F", 155.0),
        ("H", 180.0),
        ("N", 200.0),
        ("R", 220.0),
    ];
    let figures: Vec<Figure> = classes
        .iter()
        .map(|(letter, celsius)| Figure::relative(letter, *celsius, class(letter), 1e-12))
        .collect();
    section
        .row(
            "PWR-XFMR-11",
            "hot spot by class of insulation, °C",
            "IEC 60085 as quoted in texts on motors",
        )
        .worst_of(&figures);
    section
        .row(
            "PWR-XFMR-13",
            "life of insulation, times, 8 K and 10 K cooler",
            "a wire maker's note (half per 8 K), a note on motors (half per 10 K)",
        )
        .worst_of(&[
            Figure::relative("8 K", 2.0, insulation_life(8.0).0, 1e-12),
            Figure::relative("10 K", 2.0, insulation_life(10.0).1, 1e-12),
        ]);
    let found = switch_on(&case_a(), &quietrail_study::options()).expect("a supply");
    section
        .row(
            "PWR-XFMR-15",
            "primary peak of 6.77801 A on 18 V, from 120 V, A",
            "turns ratio times the secondary peak of PWR-RECT-05A; magnetising current extra",
        )
        .near(1.016_702, found.places[0].peak, Allowed::Relative(1e-3));
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
        "Highest winding temperatures of IEC 61558-1 (class A 100 °C, B 120 °C): from memory, not used; the job states a class or copper_max.",
    );
    section.note(
        "PWR-XFMR-14",
        "Mains ranges of IEC 60038 and ANSI C84.1: from memory; the job states its own.",
    );
    section.finish();
}

/// PWR-RECT-05A: 18 V, 60 Hz, 0.5 Ω, two drops of 1 V, 6800 µF, 1.5 A.
fn case_a() -> quietrail_job::model::Job {
    supply("value = \"6800 µF\"\nesr = \"1 µΩ\"")
}

/// That supply with another capacitor.
fn supply(capacitor: &str) -> quietrail_job::model::Job {
    let text = r#"format = 1
[mains]
voltage = "120 V"
frequency = "60 Hz"
flatness = "0 .. 0"
[box]
room = "25 °C"
rise = "0 K"
[states]
on = "working"
[transformer.T1]
read_at = "25 °C"
rise = "0 K"
primary = [{ name = "P1", volts = "120 V", resistance = "1 mΩ" }]
secondary = [{ name = "S1", open = "18 V at 120 V", resistance = "0.5 Ω" }]
no_load = "1 µA at 120 V"
[rectifier.D1]
from = "T1.S1"
into = "raw"
form = "bridge"
ideal = { drop = "1 V", slope = "1 µΩ" }
[capacitor.C1]
at = "raw"
CAPACITOR
[load.test]
at = "raw"
draws = { on = "1.5 A" }
"#
    .replace("CAPACITOR", capacitor);
    let reading = read(&text, None);
    reading
        .job
        .unwrap_or_else(|| panic!("{:#?}", reading.diagnostics))
}

/// A capacitor of a job with these keys.
fn capacitor(keys: &str) -> quietrail_job::model::Capacitor {
    let job = supply(keys);
    match &job.part("C1").expect("it is there").kind {
        quietrail_job::model::PartKind::Capacitor(found) => found.clone(),
        other => panic!("{other:?}"),
    }
}

/// Id, source, catalogue entry, frequencies and factors.
type Multipliers<'a> = (&'a str, &'a str, &'a str, &'a [f64], &'a [f64]);

#[test]
fn old_and_new_capacitors() {
    let mut section = Section::new("capacitors", "Capacitors");
    let esr = |keys: &str| capacitor(keys).esr.nominal();
    section
        .row(
            "PWR-CAP-01",
            "series resistance from tan δ, Ω",
            "tan δ / (2π f C)",
        )
        .worst_of(&[
            Figure::relative(
                "4700 µF",
                0.056_437_92,
                esr("value = \"4700 µF\"\ntan_delta = \"0.20 at 120 Hz\""),
                1e-6,
            ),
            Figure::relative(
                "10 mF",
                0.019_098_59,
                esr("value = \"10000 µF\"\ntan_delta = \"0.12 at 100 Hz\""),
                1e-6,
            ),
        ]);
    let axial = [50.0, 100.0, 300.0, 1e3, 3e3, 10e3];
    let snap_in = [50.0, 100.0, 200.0, 400.0, 1e3, 2e3, 4e3, 10e3];
    let switching = [100.0, 300.0, 1e3, 3e3, 10e3, 30e3, 100e3];
    let tables: [Multipliers<'_>; 7] = [
        (
            "PWR-CAP-02",
            "Vishay 021 ASM data sheet, doc 28325, table 4",
            "electrolytic general 16 V",
            &axial,
            &[0.95, 1.0, 1.07, 1.12, 1.15, 1.2],
        ),
        (
            "PWR-CAP-02",
            "Vishay 021 ASM data sheet, doc 28325, table 4",
            "electrolytic general 35 V",
            &axial,
            &[0.9, 1.0, 1.12, 1.2, 1.25, 1.3],
        ),
        (
            "PWR-CAP-02",
            "Vishay 021 ASM data sheet, doc 28325, table 4",
            "electrolytic general 63 V",
            &axial,
            &[0.85, 1.0, 1.2, 1.3, 1.35, 1.4],
        ),
        (
            "PWR-CAP-03",
            "Vishay 056/057 PSM-SI data sheet, doc 28340, table 4",
            "electrolytic snap-in to 25 V",
            &snap_in,
            &[0.93, 1.0, 1.04, 1.07, 1.11, 1.13, 1.15, 1.18],
        ),
        (
            "PWR-CAP-03",
            "Vishay 056/057 PSM-SI data sheet, doc 28340, table 4",
            "electrolytic snap-in 40 V to 100 V",
            &snap_in,
            &[0.91, 1.0, 1.05, 1.09, 1.13, 1.15, 1.18, 1.22],
        ),
        (
            "PWR-CAP-03",
            "Vishay 056/057 PSM-SI data sheet, doc 28340, table 4",
            "electrolytic snap-in above 100 V",
            &snap_in,
            &[0.86, 1.0, 1.13, 1.21, 1.29, 1.32, 1.35, 1.4],
        ),
        (
            "PWR-CAP-04",
            "Vishay 136 RVI data sheet, doc 28321, table 4",
            "electrolytic switching 25 V",
            &switching,
            &[0.63, 0.72, 0.8, 0.88, 0.92, 0.98, 1.0],
        ),
    ];
    for (id, source, part, hertz, factors) in tables {
        let found = capacitor(&format!(
            "part = \"{part}\"\nvalue = \"4700 µF\"\nrated = {{ ripple = \"1 A at 100 Hz\" }}"
        ));
        let rating = found.rated.ripple.expect("a ripple rating");
        assert_eq!(rating.multipliers.len(), hertz.len(), "{part}");
        let figures: Vec<Figure> = hertz
            .iter()
            .zip(factors)
            .zip(&rating.multipliers)
            .map(|((hertz, factor), (at, found))| {
                assert_eq!(at, hertz, "{part}");
                Figure::relative(&format!("{hertz} Hz"), *factor, *found, 1e-12)
            })
            .collect();
        section
            .row(
                id,
                &format!("ripple multipliers of the catalogue's {part}"),
                source,
            )
            .worst_of(&figures);
    }
    let cosel = "Cosel, note on the life of capacitors";
    section
        .row("PWR-CAP-06", "1000 h at 105 °C: at 65, 55, 45 °C, h", cosel)
        .worst_of(&[
            Figure::relative("65 °C", 16e3, life_at(1e3, 105.0, 65.0), 1e-9),
            Figure::relative("55 °C", 32e3, life_at(1e3, 105.0, 55.0), 1e-9),
            Figure::relative("45 °C", 64e3, life_at(1e3, 105.0, 45.0), 1e-9),
        ]);
    let thirds = life_over(1e3, 105.0, &[(8.0, 45.0), (8.0, 55.0), (8.0, 65.0)]);
    section
        .row(
            "PWR-CAP-07",
            "a third of the day at each: h, and as at one temperature, °C",
            "Cosel, the same note: 57.2 °C",
        )
        .worst_of(&[
            Figure::relative("h", 27_428.57, thirds, 1e-6),
            Figure::relative("°C", 57.223_92, temperature_for(1e3, 105.0, thirds), 1e-6),
        ]);
    section
        .row(
            "PWR-CAP-08",
            "the rule from 85 to 40 °C, times",
            "2 to the power of 4.5",
        )
        .near(22.627_42, life_at(1.0, 85.0, 40.0), Allowed::Relative(1e-6));
    section
        .row(
            "PWR-CAP-08",
            "the same beside a maker's own 25 and 28 times: the rule is the shorter",
            "Vishay 021 ASM data sheet: 2500 to 70 000 h, 8000 to 200 000 h",
        )
        .worst_of(&[
            Figure::relative("8000 h", 25.0, life_at(1.0, 85.0, 40.0), 0.2),
            Figure::relative("2500 h", 28.0, life_at(1.0, 85.0, 40.0), 0.2),
        ]);
    let table_5 = "Vishay 021 ASM and PSM-SI data sheets, table 5";
    section
        .row(
            "PWR-CAP-10",
            "change at the end of endurance and of useful life: capacitance, series resistance",
            table_5,
        )
        .worst_of(&[
            Figure::relative("endurance, capacitance", 0.20, ENDURANCE, 1e-12),
            Figure::relative("endurance, resistance", 1.3, ENDURANCE_ESR, 1e-12),
            Figure::relative("life, capacitance", 0.45, END_OF_LIFE, 1e-12),
            Figure::relative("life, resistance", 3.0, END_OF_LIFE_ESR, 1e-12),
        ]);
    let ends = |mark: &str| {
        let read =
            Quantity::<Farads>::parse(mark).unwrap_or_else(|error| panic!("{mark}: {error}"));
        (
            100.0 * (read.low / read.nominal - 1.0),
            100.0 * (read.high / read.nominal - 1.0),
        )
    };
    let mut figures = Vec::new();
    for (mark, low, high) in [
        ("4u7M", -20.0, 20.0),
        ("4u7T", -10.0, 50.0),
        ("4u7Z", -20.0, 80.0),
    ] {
        let found = ends(mark);
        figures.push(Figure::relative(mark, low, found.0, 1e-9));
        figures.push(Figure::relative(mark, high, found.1, 1e-9));
    }
    section
        .row(
            "PWR-CAP-11",
            "tolerance letters M, T, Z on a capacitor, %",
            "Vishay 021 ASM data sheet (M); a Sanyo parts chart (T, Z)",
        )
        .worst_of(&figures);
    let found = vet(&case_a(), &quietrail_study::options());
    section
        .row(
            "PWR-CAP-17",
            "ripple of PWR-RECT-05A in 56.43792 mΩ, W",
            "I² R",
        )
        .near(
            0.330_878_3,
            heat_of(found[0].rms, 0.056_437_92),
            Allowed::Relative(1e-3),
        );
    section.note(
        "PWR-CAP-04",
        "A part rated at 100 kHz may carry 63 % of its printed ripple current as a reservoir, 35 % for small ones of 63 V to 100 V; the \
         second figure is in no catalogue entry.",
    );
    section.note(
        "PWR-CAP-05",
        "Ripple current over harmonics with multipliers is a test of its own beside the spectrum.",
    );
    section.note(
        "PWR-CAP-09",
        "Life with ripple heating and voltage: makers differ, from memory, not used.",
    );
    section.note(
        "PWR-CAP-11",
        "P on a capacitor is +100 %/-0 % on the same chart and ±0.02 % in IEC 60062: it is a question, not a reading.",
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
            "PWR-SAFE-20",
            Sheet::Three,
            "Littelfuse 213 data sheet (IEC 60127-2 sheet 3)",
            [(2.75, 0.6, 10.0), (4.0, 0.15, 3.0), (10.0, 0.02, 0.3)],
            120.0,
        ),
        (
            "PWR-SAFE-21",
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
            "PWR-SAFE-22",
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
            "PWR-SAFE-23",
            "pulse that a link stands, share of melting I²t",
            "Littelfuse Fuseology, chart 2",
        )
        .worst_of(&stands);
    let link = fuse::choose(0.05, 0.099_144).expect("a link");
    section
        .row(
            "PWR-SAFE-26",
            "smallest link for 0.099144 A²s, 100 000 starts, A",
            "PWR-SAFE-22 and 23",
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
    section
        .row(
            "PWR-SAFE-24",
            "least UL-rated link for 0.5 A, A",
            "L. Lundy, EDN, 26 September 1996: 75 % of the rating at 25 °C",
        )
        .near(0.666_666_7, fuse::ul_least(0.5), Allowed::Relative(1e-6));
    let shape = |pulse: Pulse| pulse.i2t();
    section
        .row(
            "PWR-SAFE-25",
            "I²t of four shapes of 10 A, A²s",
            "Littelfuse Fuseology, chart 1",
        )
        .worst_of(&[
            Figure::relative(
                "half sine, 8 ms",
                0.4,
                shape(Pulse::HalfSine {
                    peak: 10.0,
                    seconds: 8e-3,
                }),
                1e-6,
            ),
            Figure::relative(
                "ramp, 8 ms",
                0.266_666_7,
                shape(Pulse::Ramp {
                    peak: 10.0,
                    seconds: 8e-3,
                }),
                1e-6,
            ),
            Figure::relative(
                "10 A to 4 A, 8 ms",
                0.416,
                shape(Pulse::Trapezoid {
                    from: 10.0,
                    to: 4.0,
                    seconds: 8e-3,
                }),
                1e-6,
            ),
            Figure::relative(
                "exponential, 2 ms",
                0.1,
                shape(Pulse::Exponential {
                    peak: 10.0,
                    constant: 2e-3,
                }),
                1e-6,
            ),
        ]);
    section.note(
        "PWR-SAFE-24",
        "Links rated by IEC 60127 may run at their rating: from memory, not compared.",
    );
    section.note(
        "PWR-CAP-15",
        "ES1 60 V DC of IEC 62368-1: from memory, not compared.",
    );
    section.note("touchable", "60 V DC of IEC 61010-1:2010: from memory; it heads a column of discharge times and judges nothing.");
    section.finish();
}
