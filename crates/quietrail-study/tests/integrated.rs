//! What is integrated from an instant on, starts and hold-ups, against sums by hand at the worst corner; and names of ratings
//! beside limits that bear the same.

use quietrail_job::model::{Job, PartKind};
use quietrail_study::finding::{LimitFinding, Proof};
use quietrail_study::options;
use quietrail_study::prove::prove;

/// A reservoir behind diodes without a drop, what hangs on it, and limits.
fn supply(rest: &str) -> Job {
    let reservoir = r#"[rectifier.D1]
from = "T1.S"
into = "raw"
form = "bridge"
ideal = { drop = "0.1 V", slope = "20 mΩ" }
[capacitor.C1]
at = "raw"
value = "4700 µF ±20 %"
esr = "20 mΩ"
leakage = "0 S"
"#;
    let winding = r#"open = "12 V at 230 V", resistance = "0.05 Ω""#;
    fed("230 V -10/+6 %", winding, &format!("{reservoir}{rest}"))
}

/// What mains and a winding feed.
fn fed(volts: &str, winding: &str, rest: &str) -> Job {
    let text = format!(
        r#"format = 1
[mains]
voltage = "{volts}"
frequency = "50 Hz"
flatness = "0"
[box]
room = "25 °C"
rise = "0 K"
[states]
on = "running"
[transformer.T1]
primary = [{{ name = "P", volts = "230 V", resistance = "1 Ω" }}]
secondary = [{{ name = "S", {winding} }}]
no_load = "1 mA at 230 V"
rise = "0 K"
{rest}"#
    );
    let reading = quietrail_job::read(&text, None);
    reading
        .job
        .unwrap_or_else(|| panic!("{:#?}", reading.diagnostics))
}

fn proved(job: &Job) -> Proof {
    prove(job, &options()).expect("it can be solved")
}

fn row<'p>(proof: &'p Proof, name: &str) -> &'p LimitFinding {
    let mut rows = proof.limits.iter();
    rows.find(|row| row.name == name).expect("such a limit")
}

/// A capacitor behind a resistor is within 5 % of its end after RC ln 20: 0.300 s as marked, 0.395 s with both at their
/// highest. The reservoir before it takes a quarter of a cycle more, and gives by a percent meanwhile.
#[test]
fn a_start_is_told_at_the_worst_of_its_figures() {
    let job = supply(
        "[resistor.R1]\nbetween = [\"raw\", \"slow\"]\nvalue = \"100R ±10 %\"\n\
         [capacitor.C2]\nat = \"slow\"\nvalue = \"1000 µF ±20 %\"\nesr = \"20 mΩ\"\nleakage = \"0 S\"\n\
         [load.meter]\nat = \"slow\"\ndraws = { on = \"1 MΩ\" }\n\
         [[limit]]\nname = \"slow start\"\nof = \"slow\"\nwhat = \"start\"\nmax = \"0.5 s\"\n",
    );
    let proof = proved(&job);
    let found = row(&proof, "slow start");
    let by_hand = |of: f64| of * 0.1 * 20.0_f64.ln() + 0.005;
    let (nominal, worst) = (found.nominal.expect("there"), found.worst.expect("there"));
    assert!((nominal / by_hand(1.0) - 1.0).abs() < 0.04, "{nominal}");
    assert!((worst / by_hand(1.32) - 1.0).abs() < 0.04, "{worst}");
    let named = |address: &str| found.corner.iter().any(|term| term.address.0 == address);
    assert!(named("R1.value") && named("C2.value"), "{:?}", found.corner);
}

/// A rail with more ripple than 5 % of its mean starts as well: it is where it swings when settled.
#[test]
fn a_rail_with_ripple_starts_in_the_first_cycles() {
    let job = supply(
        "[load.heater]\nat = \"raw\"\ndraws = { on = \"2 A\" }\n\
         [[limit]]\nname = \"start\"\nof = \"raw\"\nwhat = \"start\"\nmax = \"0.5 s\"\n\
         [[limit]]\nname = \"swing\"\nof = \"raw\"\nwhat = \"ripple p-p\"\nmax = \"9 V\"\n",
    );
    let proof = proved(&job);
    let swing = row(&proof, "swing").nominal.expect("there");
    assert!(swing > 2.0, "{swing}");
    let worst = row(&proof, "start").worst.expect("it starts");
    assert!((0.0..0.04).contains(&worst), "{worst}");
}

/// From the valley on a constant current takes what is above the level out of the reservoir: C (V - level) / I, at the lowest
/// mains with the least capacitance and the highest current, where the valley is lowest too.
#[test]
fn a_hold_up_is_what_the_reservoir_holds_above_the_level_at_its_valley() {
    let limits = |level: &str, of: &str| {
        format!(
            "[[limit]]\nname = \"hold-up\"\nof = {of}\nwhat = \"hold-up\"\ndown_to = \"{level}\"\nmin = \"1 ms\"\n\
             [[limit]]\nname = \"valley\"\nof = \"raw\"\nwhat = \"valley\"\nmin = \"9 V\"\n"
        )
    };
    let load = "[load.heater]\nat = \"raw\"\ndraws = { on = \"500 mA ±10 %\" }\n";
    let proof = proved(&supply(&format!("{load}{}", limits("9 V", "\"raw\""))));
    let valley = row(&proof, "valley").worst.expect("there");
    let by_hand = 4700e-6 * 0.8 * (valley - 9.0) / (0.5 * 1.1);
    let found = row(&proof, "hold-up").worst.expect("there");
    assert!(
        (found / by_hand - 1.0).abs() < 0.01,
        "{found}, by hand {by_hand}"
    );
    // Against a node the other way round the level is below zero, and passed upwards.
    let turned = proved(&supply(&format!(
        "{load}{}",
        limits("-9 V", "[\"common\", \"raw\"]")
    )));
    let other = row(&turned, "hold-up").worst.expect("there");
    assert!((other - found).abs() < 1e-6, "{other} and {found}");
    // A level that is not even held with mains is not held at all.
    let none = proved(&supply(&format!("{load}{}", limits("15.5 V", "\"raw\""))));
    assert_eq!(row(&none, "hold-up").worst, Some(0.0));
}

/// A capacitor that loses capacitance in the cold does so in its rail as well: half of 4700 µF less 20 % holds half as long above
/// the level, from a valley that is lower.
#[test]
fn a_capacitor_in_the_cold_counts_in_every_limit() {
    let tail = "[load.heater]\nat = \"raw\"\ndraws = { on = \"500 mA\" }\n\
                [[limit]]\nname = \"swing\"\nof = \"raw\"\nwhat = \"ripple p-p\"\nmax = \"9 V\"\n";
    let plain = supply(tail);
    let mut cold = plain.clone();
    for part in cold.parts_mut() {
        if let PartKind::Capacitor(capacitor) = &mut part.kind {
            capacitor.value_at = vec![(-20.0, 0.5), (20.0, 1.0)];
        }
    }
    cold.air.room.value.low = -20.0;
    let swing = |job: &Job| row(&proved(job), "swing").clone();
    let (plain, cold) = (swing(&plain), swing(&cold));
    assert!(
        cold.corner.iter().any(|term| term.address.0 == "room"),
        "{:?}",
        cold.corner
    );
    // What flows from pulse to pulse is nearly the same, the pulse itself shorter.
    let ratio = cold.worst.expect("there") / plain.worst.expect("there");
    assert!((1.7..2.0).contains(&ratio), "{ratio}");
}

/// A limit that is called as the rating would be stands beside it, and what a change costs is told of each by itself.
#[test]
fn a_rating_and_a_limit_of_one_name_are_two() {
    let job = supply(
        "[resistor.R1]\nbetween = [\"raw\", \"out\"]\nvalue = \"10R\"\nrated = \"5 W\"\n\
         [load.heater]\nat = \"out\"\ndraws = { on = \"100 mA\" }\n\
         [[limit]]\nname = \"R1 power\"\nof = \"R1\"\nwhat = \"power\"\nmax = \"1 W\"\n",
    );
    let proof = proved(&job);
    let (limit, rating) = (row(&proof, "R1 power"), row(&proof, "R1 power as rated"));
    assert_eq!((limit.max, rating.max), (Some(1.0), Some(5.0)));
    assert!(!limit.is_rating && rating.is_rating);
    let watts = rating.worst.expect("there");
    assert!((watts - 0.1).abs() < 1e-3, "{watts}");
}

/// A bridge without a reservoir before a choke: with 10 mA its rail swings down to nothing and has started at once; with 8 mA the choke is cut
/// off before that, and it has not. 0 s were told of 10 mA ±20 %, as neither end of any other figure leads there.
#[test]
fn a_start_that_jumps_is_found() {
    let told = |amps: &str| {
        let rest = format!(
            r#"[rectifier.D1]
from = "T1.S"
into = "fed"
form = "bridge"
diode = "silicon 1 A"
[resistor.RB]
at = "fed"
value = "3k3"
[inductor.L1]
between = ["fed", "raw"]
value = "840 mH ±12 %"
resistance = "8 Ω"
[capacitor.C1]
at = "raw"
value = "110 µF ±20 %"
esr = "20 mΩ"
leakage = "0 S"
[load.X]
at = "raw"
draws = {{ on = "{amps}" }}
[[limit]]
name = "start"
of = "fed"
what = "start"
max = "0.5 s"
"#
        );
        let winding = r#"open = "16 V at 230 V", resistance = "10 Ω""#;
        let job = fed("230 V", winding, &rest);
        row(&proved(&job), "start").clone()
    };
    let [whole, least] = ["10 mA ±20 %", "8 mA"].map(told);
    assert_eq!(whole.nominal, Some(0.0));
    let least = least.nominal.expect("there");
    assert!(least > 0.03, "{least}");
    let worst = whole.worst.expect("there");
    assert!(worst >= least, "{worst}, and {least} with 8 mA");
}
