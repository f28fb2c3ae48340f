//! Noise of a whole job against closed forms: figures of data sheets, gain of the divider, a filter behind it.

mod supply;

use quietrail_checks::{Allowed, Section};
use quietrail_study::options;
use quietrail_study::prove::prove;
use std::f64::consts::PI;
use supply::{AIR, raw, read};

fn head() -> String {
    raw(50, &["on"]) + AIR + "[load.osc]\nat = \"out\"\ndraws = { on = \"60 mA\" }\n"
}

const TAIL: &str = r#"
from = "raw"
dropout = ["1 V at 1 A"]
rejection = ["70 dB at 100 Hz"]
output_resistance = "1 mΩ"
quiescent = "5 mA"
limit = "2 A"
[capacitor.C2]
at = "out"
value = "1 nF"
esr = "0.1 Ω"
"#;

/// rms noise of `out` in a band, of a job with this regulator.
fn noise(regulator: &str, band: &str) -> f64 {
    let text = format!(
        "{}\n[regulator.U1]\ninto = \"out\"\n{regulator}\n{TAIL}\n[[limit]]\nname = \"noise\"\nof = \"out\"\nwhat = \
         \"noise\"\nband = {band}\nmax = \"1 V\"\n",
        head()
    );
    shown(&text)
}

fn shown(text: &str) -> f64 {
    let job = read(text);
    let proof = prove(&job, &options()).expect("a proof");
    let found = proof.limits.iter().find(|limit| limit.name == "noise");
    let found = found.expect("the limit");
    found
        .nominal
        .unwrap_or_else(|| panic!("{:?}", found.predicted))
}

#[test]
fn noise_of_a_job() {
    let mut section = Section::new("noise-of-a-job", "Noise of a job's output");
    let allowed = Allowed::Relative(1e-4);
    let wide = "\"10 Hz .. 100 kHz\"";
    section
        .row(
            "PWR-REG-09",
            "42 µV at 5 V, taken to 12 V, µV rms",
            "Fairchild LM7805 data sheet; noise grows with the output",
        )
        .near(
            100.8,
            1e6 * noise(
                "set = { fixed = \"12 V\" }\nnoise = { total = \"42 µV\", band = \"10 Hz .. 100 kHz\", at = \"5 V\" }",
                wide,
            ),
            allowed,
        );
    section
        .row(
            "PWR-NOISE-05",
            "25 nV/√Hz with a corner at 200 Hz, 10 Hz .. 100 kHz, µV rms",
            "e √(B + fc ln(fh/fl))",
        )
        .near(
            7.977_784,
            1e6 * noise(
                "set = { fixed = \"12 V\" }\nnoise = { density = \"25 nV/√Hz\", corner = \"200 Hz\" }",
                wide,
            ),
            allowed,
        );
    let reference = |volts: &str, upper: &str, lower: &str| {
        1e6 * noise(
            &format!(
                "set = {{ reference = \"{volts}\", across = \"lower\", upper = \"{upper}\", lower = \"{lower}\" }}\nnoise = {{ density = \
                 \"0 V/√Hz\" }}\nreference_noise = {{ total = \"30 µV\", band = \"10 Hz .. 100 kHz\" }}"
            ),
            wide,
        )
    };
    section
        .row(
            "PWR-NOISE-07",
            "reference of 2.5 V with 30 µV, output 12 V, µV rms",
            "noise times output over reference",
        )
        .near(144.0, reference("2.5 V", "38 Ω", "10 Ω"), allowed);
    section
        .row(
            "PWR-NOISE-07",
            "the same at a reference of 7 V",
            "noise times output over reference",
        )
        .near(51.428_57, reference("7 V", "35.7142857 Ω", "50 Ω"), allowed);
    // Thermal noise of a divider: 4kT (R1 ∥ R2) gain², here 10 kΩ and 10 kΩ and a gain of 2.
    let thermal = (4.0_f64 * 1.380_649e-23 * 298.15 * 5e3).sqrt() * 2.0 * (1e5_f64 - 10.0).sqrt();
    section
        .row(
            "noise-divider",
            "divider of 10 kΩ and 10 kΩ, gain 2, 10 Hz .. 100 kHz, µV rms",
            "Johnson and Nyquist; 4kT (R1 ∥ R2) times the gain squared",
        )
        .near(
            1e6 * thermal,
            1e6 * noise(
                "set = { reference = \"5 V\", across = \"lower\", upper = \"10k\", lower = \"10k\" }\nnoise = { density = \"0 V/√Hz\" }",
                wide,
            ),
            allowed,
        );
    // An adjust pin with a capacitor: the gain falls from 9.6 to 1 above 1/(2π R2 C).
    let (gain, corner) = (8.6, 1.0 / (2.0 * PI * 1066.4 * 10e-6));
    let bypassed = |hertz: f64| {
        let turn = hertz / corner;
        let scale = gain / (1.0 + turn * turn);
        (1.0 + scale) * (1.0 + scale) + scale * turn * scale * turn
    };
    // Simpson's rule over 200 000 pieces of the logarithm.
    let pieces = 200_000_u32;
    let step = (1e5_f64 / 10.0).ln() / f64::from(pieces);
    let square: f64 = (0..=pieces)
        .map(|k| {
            let hertz = 10.0 * (step * f64::from(k)).exp();
            let weight = match k {
                0 => 1.0,
                k if k == pieces => 1.0,
                k if k % 2 == 1 => 4.0,
                _ => 2.0,
            };
            weight * bypassed(hertz) * hertz
        })
        .sum::<f64>()
        * step
        / 3.0;
    section
        .row(
            "noise-bypass",
            "reference of 1.25 V with 40 nV/√Hz, 12 V out, 10 µF at the adjust pin, µV rms",
            "∫|1 + (R2/R1)/(1 + jωR2C)|² df by Simpson's rule",
        )
        .near(
            1e6 * 40e-9 * square.sqrt(),
            1e6 * noise(
                "set = { reference = \"1.25 V\", across = \"upper\", upper = \"124 Ω\", lower = \"1066.4 Ω\", bypass = \"10 µF\" }\nnoise = { density \
                 = \"0 V/√Hz\" }\nreference_noise = { density = \"40 nV/√Hz\" }",
                wide,
            ),
            Allowed::Relative(1e-3),
        );
    // Noise stated at an output grows as the gain from the reference does, from the divider that would make that output. What the
    // adjust current adds to the output takes less of the lower resistor: a thousandth between 5 V and 12 V.
    let (volts, upper, adjust) = (1.25, 240.0, 50e-6);
    let lower = |output: f64| (output - volts) / (volts / upper + adjust);
    let gain = |output: f64| 1.0 + lower(output) / upper;
    let output = volts * (1.0 + 2000.0 / upper) + adjust * 2000.0;
    let ohms = upper * 2000.0 / (upper + 2000.0);
    let divider = (4.0_f64 * 1.380_649e-23 * 298.15 * ohms * (1e5 - 10.0)).sqrt() * gain(output);
    section
        .row(
            "noise-at",
            "42 µV at 5 V taken to 11.77 V of which the adjust pin makes 0.1 V, µV rms",
            "ratio of the dividers' gains, and 4kT (R1 ∥ R2) times the gain squared",
        )
        .near(
            (42.0 * gain(output) / gain(5.0)).hypot(1e6 * divider),
            1e6 * noise(
                "set = { reference = \"1.25 V\", across = \"upper\", upper = \"240 Ω\", lower = \"2k\", adjust = \"50 µA\" }\nnoise = { \
                 total = \"42 µV\", band = \"10 Hz .. 100 kHz\", at = \"5 V\" }",
                wide,
            ),
            Allowed::Relative(2e-3),
        );
    // A first-order band: (π/2) f of the low pass less what the high pass takes.
    let poles = (PI / 2.0 * 1e4 * 1e4 / (1e4 + 10.0)).sqrt();
    section
        .row(
            "noise-poles",
            "1 µV/√Hz in a band with poles at 10 Hz and 10 kHz, µV rms",
            "(π/2) fh²/(fh + fl)",
        )
        .near(
            poles,
            1e6 * noise(
                "set = { fixed = \"12 V\" }\nnoise = { density = \"1 µV/√Hz\" }",
                "{ poles = \"10 Hz .. 10 kHz\" }",
            ),
            Allowed::Relative(1e-3),
        );
    // 10 Ω and 470 µF behind the regulator: e √((1/(4RC)) (2/π)(atan(fh/fc) − atan(fl/fc))) with the atan of a band.
    let fc = 1.0 / (2.0 * PI * 10.001 * 470e-6);
    let filtered = 1e-6 * (fc * ((1e5 / fc).atan() - (10.0 / fc).atan())).sqrt();
    let text = format!(
        "{}\n[regulator.U1]\ninto = \"mid\"\nset = {{ fixed = \"12 V\" }}\nnoise = {{ density = \"1 µV/√Hz\" }}\n{}\n[resistor.R1]\nbetween = \
         [\"mid\", \"out\"]\nvalue = \"10 Ω\"\n[[limit]]\nname = \"noise\"\nof = \"out\"\nwhat = \"noise\"\nband = {wide}\nmax = \"1 V\"\n",
        head(),
        TAIL.replace("1 nF", "470 µF").replace("0.1 Ω", "1 µΩ")
    );
    section
        .row(
            "noise-rc",
            "1 µV/√Hz behind 10 Ω and 470 µF, 10 Hz .. 100 kHz, µV rms",
            "∫df/(1 + (f/fc)²) = fc (atan fh/fc − atan fl/fc)",
        )
        .near(1e6 * filtered, 1e6 * shown(&text), Allowed::Relative(2e-3));
    section.finish();
}
