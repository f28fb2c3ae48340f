//! Regulators as their data sheets state them: the catalogue against the printed figures, heat chains, windows, zeros.

#![allow(clippy::approx_constant, reason = "figures as they are printed")]

mod supply;

use quietrail_checks::{Allowed, Figure, Section};
use quietrail_engine::network::transfer;
use quietrail_engine::quadrature::integrate;
use quietrail_engine::{GROUND, Output, Signal, Transfer, Wave};
use quietrail_job::model::{Density, Job};
use quietrail_study::heat::{Temperatures, temperature};
use quietrail_study::level::{self, decibels, flat_rms, from_decibels};
use quietrail_study::lower::{Step, dropout_at, fit_rejection, lower};
use quietrail_study::reading::OutputTable;
use quietrail_study::stability::{Capacitor, capacitor, esr_zero};
use std::f64::consts::PI;
use supply::{raw, read, regulator};

fn job(rest: &str) -> Job {
    read(&(raw(60, &["on"]) + rest))
}

/// A catalogue entry in a job.
fn entry(name: &str, set: &str) -> Job {
    job(&format!(
        "[regulator.U1]\nfrom = \"raw\"\ninto = \"out\"\npart = \"{name}\"\n{set}\n[load.test]\nat = \"out\"\ndraws = {{ on = \"100 \
         mA\" }}\n"
    ))
}

const DIVIDER: &str = "set = { upper = \"121 Ω\", lower = \"1k3\" }";

#[test]
fn data_sheets_windows_and_heat() {
    let mut section = Section::new("data-sheets", "Data sheets, windows, heat");
    catalogue(&mut section);
    heat(&mut section);
    windows(&mut section);
    curves(&mut section);
    noises(&mut section);
    section.note(
        "PWR-RULE-01",
        "about 3 V at the valley for an ordinary three-terminal regulator: from memory, common practice; the catalogue's 2.0 V \
         at 1 A and 2.5 V at most are what is computed with",
    );
    section.finish();
}

/// What the catalogue holds against what the sheets print.
fn catalogue(section: &mut Section) {
    let near = 1e-9;
    let low_dropout = entry("low-dropout adjustable 1.5 A", DIVIDER);
    let part = regulator(&low_dropout);
    let quijust = part.quiescent.value;
    let noise = match &part.noise.as_ref().expect("noise").density {
        Density::Share { share, .. } => share.nominal(),
        _ => f64::NAN,
    };
    section
        .row(
            "PWR-REG-06",
            "low-dropout adjustable 1.5 A of the catalogue",
            "Linear Technology LT1086 series data sheet, p. 1, 4, 9",
        )
        .worst_of(&[
            Figure::relative("adjust current, A", 55e-6, quijust.nominal, near),
            Figure::relative("highest, A", 120e-6, quijust.high, near),
            Figure::relative(
                "least load at most, A",
                10e-3,
                part.minimum_load.value.high,
                near,
            ),
            Figure::relative(
                "rejection at 120 Hz, dB",
                75.0,
                part.rejection[0].1.nominal(),
                near,
            ),
            Figure::relative("lowest, dB", 60.0, part.rejection[0].1.value.low, near),
            Figure::relative("noise, share", 3e-5, noise, near),
            Figure::relative(
                "dropout at full current, V",
                1.5,
                part.dropout[1].1.value.high,
                near,
            ),
            Figure::relative(
                "output capacitor, F",
                10e-6,
                part.stable_with[0].0.nominal(),
                near,
            ),
            Figure::relative(
                "junction to case, K/W",
                4.0,
                part.junction_to_case.as_ref().expect("given").nominal(),
                near,
            ),
        ]);
    let ordinary = entry("fixed 5 V 1 A", "");
    let part = regulator(&ordinary);
    let noise = match &part.noise.as_ref().expect("noise").density {
        Density::Total { volts, .. } => volts.value,
        _ => panic!("a total"),
    };
    section
        .row(
            "PWR-REG-08",
            "fixed 5 V 1 A of the catalogue",
            "Fairchild LM7805 rev. 1.3.1, p. 3; ON MC7800, p. 4",
        )
        .worst_of(&[
            Figure::relative("dropout at 1 A, V", 2.0, part.dropout[1].1.nominal(), near),
            Figure::relative(
                "rejection at 120 Hz, dB",
                73.0,
                part.rejection[0].1.nominal(),
                near,
            ),
            Figure::relative("lowest, dB", 62.0, part.rejection[0].1.value.low, near),
            Figure::relative("noise, V", 42e-6, noise.nominal, near),
            Figure::relative("10 µV per volt, V", 50e-6, noise.high, near),
            Figure::relative(
                "load regulation over 1.5 A, V",
                9e-3,
                1.5 * part.output_resistance.nominal(),
                near,
            ),
            Figure::relative("peak current, A", 2.2, part.limit.nominal(), near),
        ]);
    section
        .row(
            "PWR-REG-10",
            "its thermal figures, and the lower of two makers' junctions",
            "ST L7800 series data sheet, Nov 2004, table 2",
        )
        .worst_of(&[
            Figure::relative(
                "junction to case, K/W",
                5.0,
                part.junction_to_case.as_ref().expect("given").nominal(),
                near,
            ),
            Figure::relative(
                "junction to air, K/W",
                50.0,
                part.junction_to_air.as_ref().expect("given").nominal(),
                near,
            ),
            Figure::relative(
                "junction, °C",
                125.0,
                part.rated.junction.as_ref().expect("given").nominal(),
                near,
            ),
        ]);
    let quiet = entry("low-noise adjustable 200 mA", "set = { fixed = \"12 V\" }");
    let part = regulator(&quiet);
    let (volts, low, high) = match &part.noise.as_ref().expect("noise").density {
        Density::Total { volts, low, high } => (volts.nominal(), *low, *high),
        _ => panic!("a total"),
    };
    section
        .row(
            "PWR-REG-18",
            "low-noise adjustable 200 mA of the catalogue",
            "Linear Technology LT3042 data sheet, p. 1",
        )
        .worst_of(&[
            Figure::relative("noise, V", 0.8e-6, volts, near),
            Figure::relative("from, Hz", 10.0, low, near),
            Figure::relative("to, Hz", 1e5, high, near),
            Figure::relative(
                "rejection at 1 MHz, dB",
                79.0,
                part.rejection[2].1.nominal(),
                near,
            ),
            Figure::relative(
                "dropout at 200 mA, V",
                0.35,
                part.dropout[1].1.nominal(),
                near,
            ),
        ]);
    section
        .row(
            "PWR-REG-19",
            "2 nV/√Hz over 10 Hz to 100 kHz, µV rms",
            "e √B, with B from 0 Hz: the sheet's 0.8 µV has low-frequency noise on top",
        )
        .near(
            0.632_455_5,
            1e6 * flat_rms(2e-9, 10.0, 1e5),
            Allowed::Relative(1e-4),
        );
    let written = job(
        "[regulator.U1]\nfrom = \"raw\"\ninto = \"out\"\nset = { fixed = \"5 V\" }\ndropout = [\"1.2 V at 800 mA\"]\nrejection = [\"60 dB \
         at 120 Hz\"]\nload_regulation = \"0.4 % at 800 mA\"\nlimit = \"800 mA\"\n[load.test]\nat = \"out\"\ndraws = { on = \"100 mA\" }\n",
    );
    let part = regulator(&written);
    let catalogue = regulator(&low_dropout);
    section
        .row(
            "PWR-REG-31",
            "a 1117-type written as its sheet has it at 5 V and 0.8 A; load regulation of the catalogue's low-dropout part at 1.5 A",
            "LM1117 (National, April 2006) and LT1086 series data sheets, front pages",
        )
        .worst_of(&[
            Figure::relative("dropout, V", 1.2, dropout_at(part, 0.8), near),
            Figure::relative(
                "fall over 0.8 A, V",
                0.02,
                0.8 * part.output_resistance.nominal(),
                near,
            ),
            Figure::relative(
                "0.1 % over 1.5 A",
                1e-3,
                1.5 * catalogue.output_resistance.nominal() / catalogue.set.volts(),
                1e-6,
            ),
        ]);
}

/// Junction of a regulator behind a stiff supply, °C.
fn junction(volts: f64, set: &str, amps: &str, thermal: &str, air: f64) -> f64 {
    let text = format!(
        "[box]\nroom = \"{air} °C\"\nrise = \"0 K\"\n[regulator.U1]\nfrom = \"raw\"\ninto = \"out\"\nset = {{ fixed = \"{set}\" \
         }}\ndropout = [\"0.1 V at 2 A\"]\nrejection = [\"120 dB at 100 Hz\"]\noutput_resistance = \"0.1 mΩ\"\nquiescent = \"0 \
         A\"\nlimit = \"5 A\"\n{thermal}\n[load.test]\nat = \"out\"\ndraws = {{ on = \"{amps}\" }}\n"
    );
    let job = job(&text);
    let warmth = Temperatures::at_rest(&job);
    let mut lowered = lower(&job, 0, &Step::default(), &[], &warmth).expect("a circuit");
    let rail = lowered.node("raw").expect("a node");
    lowered.circuit.add(quietrail_engine::Element::Source {
        plus: rail,
        minus: GROUND,
        wave: Wave::constant(volts),
        ohms: 1e-6,
    });
    let system = quietrail_engine::System::assemble(&lowered.circuit)
        .expect("equations")
        .reduced();
    let outcome = quietrail_engine::steady_state(&system, &quietrail_study::options());
    let orbit = outcome.orbit.expect("a cycle");
    let mut table = OutputTable::of(&lowered);
    table.add(Output::Mean(Signal::Voltage(rail, GROUND)));
    let values = table.read(&orbit);
    let part = job.part("U1").expect("U1");
    temperature(&lowered, &table.with(&values), part, air).expect("a thermal path")
}

fn heat(section: &mut Section) {
    let to_air = |ohms: &str| format!("junction_to_air = \"{ohms} K/W\"");
    section
        .row(
            "PWR-REG-11",
            "14 V to 5 V at 0.5 A, 4 K/W and 50 K/W: junction, °C",
            "note circulated with a 7805 data book",
        )
        .worst_of(&[
            Figure::relative(
                "no sink",
                268.0,
                junction(14.0, "5 V", "500 mA", &to_air("54"), 25.0),
                1e-4,
            ),
            Figure::relative(
                "endless sink",
                43.0,
                junction(14.0, "5 V", "500 mA", &to_air("4"), 25.0),
                1e-4,
            ),
            Figure::relative(
                "2.5 V across, no sink",
                92.5,
                junction(7.5, "5 V", "500 mA", &to_air("54"), 25.0),
                1e-4,
            ),
        ]);
    section
        .row(
            "PWR-REG-12",
            "600 mW at 25 °C with 150 °C allowed is 208.33 K/W; 3.6 V to 1.8 V at 0.1 A in 40 °C: junction, °C",
            "Toshiba e-learning, low-dropout regulators, 4.2",
        )
        .near(
            77.5,
            junction(3.6, "1.8 V", "100 mA", &to_air("208.3333"), 40.0),
            Allowed::Relative(1e-4),
        );
    let chain = "junction_to_case = \"4 K/W\"\ncase_to_sink = \"0.5 K/W\"\nsink = \"SK1\"\n[sink.SK1]\nto_air = \"3.5 K/W\"";
    section
        .row(
            "PWR-REG-13",
            "mean raw rail of 20.0148 V, 15 V at 1.5 A, 4 + 0.5 + 3.5 K/W in 50 °C: junction, °C",
            "chain as in the CS9202 and CS8120 data sheets; the rail is case A of the table of supplies",
        )
        .near(
            110.177_2,
            junction(20.014_763, "15 V", "1.5 A", chain, 50.0),
            Allowed::Relative(1e-4),
        );
}

/// Whether an output capacitor is inside a window.
fn inside(window: &str, value: &str, esr: &str) -> f64 {
    let job = job(&format!(
        "[regulator.U1]\nfrom = \"raw\"\ninto = \"out\"\nset = {{ fixed = \"5 V\" }}\ndropout = [\"1 V at 1 A\"]\nrejection = [\"60 \
         dB at 100 Hz\"]\nlimit = \"2 A\"\nstable_with = {window}\n[capacitor.C2]\nat = \"out\"\nvalue = \"{value}\"\nesr = \
         \"{esr}\"\n[load.test]\nat = \"out\"\ndraws = {{ on = \"100 mA\" }}\n"
    ));
    f64::from(u8::from(matches!(
        capacitor(&job, regulator(&job)),
        Capacitor::Inside(_)
    )))
}

fn windows(section: &mut Section) {
    let tantalum = "[{ least = \"10 µF\", esr = \"0.3 Ω .. 22 Ω\" }]";
    let exact = Allowed::Absolute(0.0);
    let one = |what: &str, expected: f64, got: f64| Figure {
        what: what.to_owned(),
        expected,
        got,
        allowed: exact,
    };
    section
        .row(
            "PWR-REG-20",
            "1117-type: inside (1) and outside (0) its window, both ends",
            "LM1117 data sheet, external capacitors: 10 µF, 0.3 Ω to 22 Ω",
        )
        .worst_of(&[
            one("10 µF, 1 Ω", 1.0, inside(tantalum, "10 µF", "1 Ω")),
            one("10 µF, 0.1 Ω", 0.0, inside(tantalum, "10 µF", "0.1 Ω")),
            one("10 µF, 30 Ω", 0.0, inside(tantalum, "10 µF", "30 Ω")),
            one("10 µF −20 %", 0.0, inside(tantalum, "10 µF ±20 %", "1 Ω")),
            one(
                "22 µF ±20 %, 0.4 Ω ±20 %",
                1.0,
                inside(tantalum, "22 µF ±20 %", "0.4 Ω ±20 %"),
            ),
        ]);
    let either = "[{ least = \"1 µF\" }, { least = \"0.47 µF\", esr = \"75 mΩ .. 100 Ω\" }]";
    section
        .row(
            "PWR-REG-21",
            "two windows, either of which will do: inside (1) and outside (0)",
            "TI TPS791 data sheet: 1 µF ceramic, or 0.47 µF with 75 mΩ at least",
        )
        .worst_of(&[
            one("1 µF, 5 mΩ", 1.0, inside(either, "1 µF", "5 mΩ")),
            one("0.47 µF, 0.1 Ω", 1.0, inside(either, "0.47 µF", "0.1 Ω")),
            one("0.47 µF, 5 mΩ", 0.0, inside(either, "0.47 µF", "5 mΩ")),
        ]);
    section
        .row(
            "PWR-REG-22",
            "zeros of output capacitors, Hz",
            "1/(2π C ESR)",
        )
        .worst_of(&[
            Figure::relative("10 µF, 0.3 Ω", 53_051.65, esr_zero(10e-6, 0.3), 1e-6),
            Figure::relative("10 µF, 22 Ω", 723.431_6, esr_zero(10e-6, 22.0), 1e-6),
            Figure::relative("100 µF, 0.05 Ω", 31_830.99, esr_zero(100e-6, 0.05), 1e-6),
        ]);
}

fn curves(section: &mut Section) {
    let kept =
        |db: f64, hertz: f64| transfer(&fit_rejection(&[(120.0, db)]), 2.0 * PI * hertz).size();
    section
        .row(
            "PWR-REG-15",
            "±50 mV through 45 dB, µV",
            "TI, power supply rejection ratio; 45 dB from memory, the sum computed",
        )
        .near(
            281.170_7,
            1e6 * 0.05 * kept(45.0, 120.0),
            Allowed::Relative(1e-6),
        );
    section
        .row(
            "PWR-REG-16",
            "0.3945529 V rms through 62 dB and 75 dB, µV rms",
            "Fairchild LM7805: lowest and typical",
        )
        .worst_of(&[
            Figure::relative(
                "62 dB",
                313.404_5,
                1e6 * 0.394_552_9 * kept(62.0, 120.0),
                1e-5,
            ),
            Figure::relative(
                "75 dB",
                70.162_53,
                1e6 * 0.394_552_9 * kept(75.0, 120.0),
                1e-5,
            ),
        ]);
    // h0 (1 + s/ωp) as a high-pass far above.
    let (h0, corner) = (from_decibels(-75.0), 2.0 * PI * 1e3);
    let far = 1e8 * corner;
    let one_pole = Transfer {
        direct: h0 + h0 / corner * far,
        sections: vec![(-h0 / corner * far * far, far)],
    };
    let at = |hertz: f64| -decibels(transfer(&one_pole, 2.0 * PI * hertz).size());
    section
        .row(
            "PWR-REG-32",
            "75 dB with a corner at 1 kHz, dB",
            "PSRR0 − 10 log(1 + (f/fp)²)",
        )
        .worst_of(&[
            Figure::relative("120 Hz", 74.937_91, at(120.0), 1e-6),
            Figure::relative("10 kHz", 54.956_79, at(1e4), 1e-6),
            Figure::relative("100 kHz", 34.999_57, at(1e5), 1e-6),
        ]);
}

fn noises(section: &mut Section) {
    let rms = |levels: &[f64]| {
        let in_db: Vec<f64> = levels.iter().map(|volts| decibels(*volts)).collect();
        from_decibels(level::power_sum(&in_db))
    };
    let less = |level: f64, floor: f64| {
        from_decibels(level::power_difference(decibels(level), decibels(floor)).expect("above"))
    };
    section
        .row(
            "PWR-NOISE-06",
            "sums and a difference of independent noises, µV",
            "root of the squares",
        )
        .worst_of(&[
            Figure::relative("30 and 40", 50.0, rms(&[30.0, 40.0]), 1e-6),
            Figure::relative("42, 90, 5", 99.443_45, rms(&[42.0, 90.0, 5.0]), 1e-6),
            Figure::relative("100 less 42", 90.752_41, less(100.0, 42.0), 1e-6),
        ]);
    section
        .row(
            "PWR-NOISE-18",
            "103 µV less a floor of 25 µV, µV",
            "root of the difference of the squares",
        )
        .near(99.919_97, less(103.0, 25.0), Allowed::Relative(1e-6));
    // Butterworth: 1/(1 + x^2n), over the logarithm as noise is integrated.
    let printed = [1.570_796, 1.110_721, 1.047_198, 1.026_172, 1.016_641];
    let figures: Vec<Figure> = printed
        .iter()
        .zip(1_i32..)
        .map(|(expected, n)| {
            let mut power = |log: f64, out: &mut [f64]| {
                let x = quietrail_engine::math::exp(log);
                out[0] = x / (1.0 + x.powi(2 * n));
            };
            let sum = integrate(&mut power, 1, (-16.0, 16.0), 40, 1e-9)[0];
            Figure::relative(&format!("order {n}"), *expected, sum, 2e-6)
        })
        .collect();
    section
        .row(
            "PWR-NOISE-10",
            "noise bandwidth of Butterworth filters over their corner, by the integral that noise takes",
            "S. Winder, Analog and Digital Filter Design, table A.3",
        )
        .worst_of(&figures);
    rectified(section);
    let kept = |corner: f64, hertz: f64| quietrail_bench::meter::single_pole_share(corner, hertz);
    section
        .row(
            "PWR-NOISE-17",
            "share that an AC coupling leaves",
            "1/√(1 + (fc/f)²)",
        )
        .worst_of(&[
            Figure::relative("5 Hz, at 100 Hz", 0.998_752_3, kept(5.0, 100.0), 1e-6),
            Figure::relative("20 Hz, at 120 Hz", 0.986_393_9, kept(20.0, 120.0), 1e-6),
        ]);
}

/// Rectified sines by the tool's own reading of harmonics.
fn rectified(section: &mut Section) {
    const POINTS: usize = 1 << 14;
    let samples = |f: &dyn Fn(f64) -> f64| -> Vec<f64> {
        (0..POINTS)
            .map(|k| f((2.0 * PI * k as f64 / POINTS as f64).sin()))
            .collect()
    };
    let full = samples(&f64::abs);
    let half = samples(&|sine| sine.max(0.0));
    let mean = |v: &[f64]| v.iter().sum::<f64>() / v.len() as f64;
    let ripple = |v: &[f64]| {
        let middle = mean(v);
        (v.iter().map(|x| (x - middle) * (x - middle)).sum::<f64>() / v.len() as f64).sqrt()
    };
    let spectrum = quietrail_study::spectrum::Spectrum::of_samples(&full, ripple(&full), 50.0);
    let harmonic = |order: usize| {
        let found = spectrum.harmonics().find(|(k, _)| *k == order);
        found.map_or(f64::NAN, |(_, rms)| rms * 2.0_f64.sqrt())
    };
    section
        .row(
            "PWR-NOISE-11",
            "rectified sine of unit peak: mean, and peaks at twice to ten times its frequency",
            "4/(π (m² − 1)); a public page prints 0.424, 0.085, 0.036, 0.020, 0.013",
        )
        .worst_of(&[
            Figure::relative("mean", 0.636_619_8, mean(&full), 1e-6),
            Figure::relative("2", 0.424_413_2, harmonic(2), 1e-6),
            Figure::relative("4", 0.084_882_64, harmonic(4), 1e-6),
            Figure::relative("6", 0.036_378_27, harmonic(6), 1e-6),
            Figure::relative("8", 0.020_210_15, harmonic(8), 1e-6),
            Figure::relative("10", 0.012_861_01, harmonic(10), 1e-5),
        ]);
    section
        .row(
            "PWR-NOISE-12",
            "ripple over mean with no filter",
            "√((Vrms/Vdc)² − 1)",
        )
        .worst_of(&[
            Figure::relative("full wave", 0.483_425_8, ripple(&full) / mean(&full), 1e-6),
            Figure::relative("half wave", 1.211_363, ripple(&half) / mean(&half), 1e-6),
        ]);
    section
        .row(
            "PWR-NOISE-13",
            "AC-coupled true rms of rectified sines of 1.414 V and 2.000 V peak, V",
            "TES 2620 meter manual, p. 19: 0.435 and 0.771",
        )
        .worst_of(&[
            Figure::relative(
                "full wave",
                0.435_236_2,
                2.0_f64.sqrt() * ripple(&full),
                1e-6,
            ),
            Figure::relative("half wave", 0.771_177_8, 2.0 * ripple(&half), 1e-6),
        ]);
    let averaged = |v: &[f64]| quietrail_bench::meter::average_of(v).expect("a wave") * ripple(v);
    section
        .row(
            "PWR-NOISE-14",
            "the same on an average-responding meter, V",
            "(π/(2√2)) × mean |v − mean|. TES 2620 meter manual: 0.421; of the half wave it prints 0.764, which the integral does \
             not support",
        )
        .worst_of(&[
            Figure::relative(
                "full wave",
                0.421_027_3,
                2.0_f64.sqrt() * averaged(&full),
                1e-6,
            ),
            Figure::relative("half wave", 0.779_375_9, 2.0 * averaged(&half), 1e-6),
        ]);
}
