//! Small jobs made from a seed: one raw supply, perhaps a regulator, six figures with a tolerance at most.

use quietrail_job::model::Job;

/// Random choices that a seed settles: a 64-bit congruence, as in Knuth, "The Art of Computer Programming",
/// volume 2, 3.3.4, table 1; its high bits are used.
pub(crate) struct Choices(u64);

impl Choices {
    pub(crate) fn seeded(seed: u64) -> Self {
        let mut choices = Self(seed.wrapping_mul(0x9e37_79b9_7f4a_7c15) ^ 0x5851_f42d_4c95_7f2d);
        choices.share();
        choices
    }

    /// Evenly within 0 to 1.
    fn share(&mut self) -> f64 {
        self.0 = self
            .0
            .wrapping_mul(6_364_136_223_846_793_005)
            .wrapping_add(1_442_695_040_888_963_407);
        (self.0 >> 11) as f64 / (1_u64 << 53) as f64
    }

    /// Evenly within two ends.
    pub(crate) fn within(&mut self, low: f64, high: f64) -> f64 {
        low + (high - low) * self.share()
    }

    fn happens(&mut self, share: f64) -> bool {
        self.share() < share
    }

    fn one_of<'c>(&mut self, all: &[&'c str]) -> &'c str {
        all[((self.share() * all.len() as f64) as usize).min(all.len() - 1)]
    }
}

/// A job whose limits all stand near what they come to as marked is for the caller to make: this one has
/// limits without meaning.
pub(crate) fn job(seed: u64) -> (String, Job) {
    let text = text(&mut Choices::seeded(seed));
    let job = job_of(&text);
    (text, job)
}

/// The job that a text means.
pub(crate) fn job_of(text: &str) -> Job {
    let reading = quietrail_job::read(text, None);
    reading
        .job
        .unwrap_or_else(|| panic!("{:#?}\n{text}", reading.diagnostics))
}

fn text(choices: &mut Choices) -> String {
    let form = choices.one_of(&["bridge", "centre-tap", "half-wave"]);
    let regulated = choices.happens(0.6);
    let set = choices.within(5.0, 12.0).round();
    // Off-load volts of the whole winding: sometimes plenty, sometimes short.
    let level = set + choices.within(2.0, 6.0);
    let amps = choices.within(0.1, 0.8);
    let microfarads = (amps * choices.within(3000.0, 9000.0)).round();
    let source = choices.within(0.3, 1.2);
    let esr = choices.within(0.02, 0.3);
    let power_load = choices.happens(0.3);
    let warm_copper = choices.happens(0.4);
    let sink_shared = choices.happens(0.5);

    // Five or six of these have a tolerance, the mains and the reservoir always.
    let mut count = 3;
    let mut tolerance = |text: &str, choices: &mut Choices| {
        if count < 6 && choices.happens(0.6) {
            count += 1;
            text.to_owned()
        } else {
            String::new()
        }
    };
    let winding_tolerance = tolerance(" ±10 %", choices);
    let load_tolerance = tolerance(" ±20 %", choices);
    let sink_tolerance = tolerance(" ±25 %", choices);
    let drop_tolerance = tolerance(" ±15 %", choices);
    let room = if tolerance("wide", choices).is_empty() {
        "25 °C"
    } else {
        "25 °C (5 °C .. 40 °C)"
    };
    let (low, high) = (choices.within(8.0, 15.0), choices.within(5.0, 12.0));

    let winding = |name: &str, volts: f64, ohms: f64| {
        format!(
            "{{ name = \"{name}\", open = \"{volts:.2} V at 230 V\", resistance = \"{ohms:.3} Ω{winding_tolerance}\" }}"
        )
    };
    let volts = level / 1.3;
    let (secondary, from) = if form == "centre-tap" {
        // One winding with a tap keeps both halves one figure with one tolerance.
        let tapped =
            winding("S", 2.0 * volts, 2.0 * source).replace(" }", ", taps = { mid = \"50 %\" } }");
        (tapped, "T1.S")
    } else {
        (winding("S", volts, source), "T1.S")
    };
    let heat = if warm_copper {
        "to_air = \"6 K/W\""
    } else {
        "rise = \"30 K\""
    };
    let sink = if sink_shared { "sink = \"SK1\"\n" } else { "" };
    let rail = if regulated { "rail" } else { "raw" };
    let draw = if power_load {
        format!(
            "{:.2} W{load_tolerance}",
            amps * if regulated { set } else { level }
        )
    } else {
        format!("{:.0} mA{load_tolerance}", 1000.0 * amps)
    };
    let regulator = if regulated {
        format!(
            r#"
[regulator.U1]
from = "raw"
into = "rail"
set = {{ fixed = "{set:.1} V" }}
dropout = ["0.5 V at 100 mA", "1.2 V at 1 A"]
rejection = ["60 dB at 100 Hz"]
output_resistance = "20 mΩ"
quiescent = "5 mA"
minimum_load = "0 A"
limit = "2 A"
loop_time = "3 µs"
junction_to_case = "2 K/W"
case_to_sink = "0.5 K/W"
sink = "SK1"
rated = {{ input = "40 V", junction = "125 °C" }}
[capacitor.C2]
at = "rail"
value = "100 µF"
esr = "0.2 Ω"
leakage = "0 S"
[[limit]]
name = "headroom"
of = "U1"
what = "headroom"
min = "0 V"
from = "a test"
"#
        )
    } else {
        String::new()
    };
    let limits: String = [
        ("raw valley", "raw", "valley", "min = \"1 V\""),
        ("raw peak", "raw", "peak", "max = \"1 V\""),
        ("rail low", rail, "valley", "min = \"1 V\""),
        ("rail mean", rail, "mean", "min = \"1 V\"\nmax = \"2 V\""),
        ("rail ripple", rail, "ripple", "max = \"1 V\""),
        ("ripple current", "C1", "rms current", "max = \"1 A\""),
        ("diode heat", "D1", "power", "max = \"1 W\""),
    ]
    .iter()
    .map(|(name, of, what, end)| {
        format!("[[limit]]\nname = \"{name}\"\nof = \"{of}\"\nwhat = \"{what}\"\n{end}\nfrom = \"a test\"\n")
    })
    .collect();
    format!(
        r#"format = 1
[job]
title = "made from a seed"
region = "230 V 50 Hz"
[mains]
voltage = "230 V -{low:.0}/+{high:.0} %"
frequency = "50 Hz"
flatness = "0.03"
[box]
room = "{room}"
rise = "8 K"
[states]
on = "running"
[transformer.T1]
primary = [{{ name = "P", volts = "230 V", resistance = "40 Ω" }}]
secondary = [{secondary}]
no_load = "20 mA at 230 V"
{heat}
[rectifier.D1]
from = "{from}"
into = "raw"
form = "{form}"
law = {{ saturation = "14 nA", ideality = 1.98, series = "34 mΩ{drop_tolerance}", leakage = "1 nS", at = "25 °C" }}
rated = {{ thermal = "5 K/W", junction = "150 °C" }}
{sink}[capacitor.C1]
at = "raw"
value = "{microfarads:.0} µF ±20 %"
esr = "{esr:.3} Ω -60/+200 %"
leakage = "0 S"
[sink.SK1]
to_air = "6 K/W{sink_tolerance}"
[load.lamp]
at = "{rail}"
draws = {{ on = "{draw}" }}
below = "1 V"
{regulator}{limits}"#
    )
}
