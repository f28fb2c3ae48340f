//! Published supplies written as job files: the whole way from text to figures, against outside values.

use quietrail_checks::{Allowed, Figure, Section};
use quietrail_engine::{GROUND, Options, Output, Signal};
use quietrail_job::model::Job;
use quietrail_study::lower::Step;
use quietrail_study::options;
use quietrail_study::question::{View, headroom};
use quietrail_study::reading::OutputTable;
use quietrail_study::solve::{Plan, Setting, solve};

const CLOSED_FORM: &str = "closed form, constant-current load, 30-digit arithmetic";

/// A bridge with a constant diode drop, a reservoir without series resistance and a constant current.
///
/// The source resistance is split: an ohm of primary, referred, and the rest in the secondary.
fn job(volts: f64, hertz: f64, ohms: f64, drop: f64, microfarads: f64, amps: f64) -> Job {
    let load = format!("[load.L1]\nat = \"raw\"\ndraws = {{ on = \"{amps} A\" }}\n");
    supply(volts, hertz, ohms, drop, microfarads, &load)
}

/// The same with something else behind its reservoir.
fn supply(volts: f64, hertz: f64, ohms: f64, drop: f64, microfarads: f64, behind: &str) -> Job {
    let primary = 1.0;
    let ratio = volts / 230.0;
    let secondary = ohms - ratio * ratio * primary;
    let each = drop / 2.0;
    let text = format!(
        r#"
format = 1
[job]
title = "published case"
region = "230 V {hertz} Hz"
[mains]
voltage = "230 V"
frequency = "{hertz} Hz"
flatness = "0"
[states]
on = "drawing"
[box]
room = "20 °C"
rise = "0 K"
[transformer.T1]
primary = [{{ name = "P", volts = "230 V", resistance = "{primary} Ω" }}]
secondary = [{{ name = "S", open = "{volts} V at 230 V", resistance = "{secondary} Ω", leakage = "0 H" }}]
no_load = "1 µA at 230 V"
read_at = "20 °C"
rise = "0 K"
[rectifier.D1]
from = "T1.S"
into = "raw"
form = "bridge"
ideal = {{ drop = "{each} V", slope = "0 Ω" }}
[capacitor.C1]
at = "raw"
value = "{microfarads} µF"
esr = "0 Ω"
leakage = "0 S"
{behind}
"#
    );
    let reading = quietrail_job::read(&text, None);
    reading
        .job
        .unwrap_or_else(|| panic!("{:#?}", reading.diagnostics))
}

#[test]
fn cases_of_a_regulated_supply() {
    let mut section = Section::new(
        "from-the-job-file",
        "Supplies written as job files, from text to figures",
    );
    // (id, Vs rms, f, Rs, Vd, C in µF, I; Vavg, Vmin, Vmax, rms ripple, secondary rms)
    let cases = [
        (
            "PWR-RECT-05A",
            [18.0, 60.0, 0.5, 2.0, 6800.0, 1.5],
            [20.014763, 19.378821, 20.639424, 0.3945529, 2.848279],
        ),
        (
            "PWR-RECT-05B",
            [18.0, 60.0, 0.5, 1.8, 6800.0, 0.35],
            [22.356139, 22.183290, 22.527812, 0.1043777, 0.849589],
        ),
        (
            "PWR-RECT-05C",
            [16.2, 60.0, 0.5, 2.0, 5440.0, 1.5],
            [17.562842, 16.778747, 18.328332, 0.4866107, 2.795099],
        ),
        (
            "PWR-RECT-05D",
            [16.2, 50.0, 0.5, 2.0, 5440.0, 1.5],
            [17.533222, 16.591161, 18.448470, 0.5833756, 2.791955],
        ),
        (
            "PWR-RECT-05F",
            [16.2, 60.0, 0.625, 2.0, 5440.0, 1.5],
            [17.053137, 16.296760, 17.792903, 0.4730697, 2.693219],
        ),
    ];
    for (id, [volts, hertz, ohms, drop, microfarads, amps], expected) in cases {
        let job = job(volts, hertz, ohms, drop, microfarads, amps);
        let step = Step::default();
        let options = Options::default();
        let setting = Setting {
            job: &job,
            state: 0,
            step: &step,
            options: &options,
        };
        let found = figures(setting);
        for ((what, got), wanted) in ["mean", "valley", "peak", "rms ripple", "secondary rms"]
            .iter()
            .zip(found)
            .zip(expected)
        {
            // The diodes' leakage of a picosiemens and an ohm in the primary that also carries a
            // microampere of magnetising current leave a few parts in a million.
            let what =
                format!("{volts} V, {hertz} Hz, {ohms} Ω, {microfarads} µF, {amps} A: {what}");
            section
                .row(id, &what, CLOSED_FORM)
                .near(wanted, got, Allowed::Relative(5e-6));
        }
    }
    headrooms(&mut section);
    section.finish();
}

/// PWR-REG-14: what a regulator of 15 V at 1.5 A has left at the valley above a dropout of 1.5 V and of 2.0 V.
fn headrooms(section: &mut Section) {
    let cases = [
        ("A", [18.0, 60.0, 0.5, 6800.0], 4.378821),
        ("C", [16.2, 60.0, 0.5, 5440.0], 1.778747),
        ("D", [16.2, 50.0, 0.5, 5440.0], 1.591161),
        ("F", [16.2, 60.0, 0.625, 5440.0], 1.296760),
    ];
    for dropout in [1.5, 2.0] {
        let light = dropout - 0.2;
        let behind = format!(
            "[regulator.U1]\nfrom = \"raw\"\ninto = \"out\"\nset = {{ fixed = \"15 V\" }}\ndropout = [\"{light} V at 100 mA\", \
             \"{dropout} V at 1.5 A\"]\nrejection = [\"120 dB at 100 Hz\"]\noutput_resistance = \"0.1 mΩ\"\nquiescent = \"0 \
             A\"\nlimit = \"5 A\"\n[capacitor.C2]\nat = \"out\"\nvalue = \"10 µF\"\nesr = \"10 mΩ\"\n[load.L1]\nat = \
             \"out\"\ndraws = {{ on = \"1.5 A\" }}\n[[limit]]\nname = \"room\"\nof = \"U1\"\nwhat = \"headroom\"\nmin = \"0 V\"\n"
        );
        let found: Vec<Figure> = cases
            .iter()
            .map(|(case, [volts, hertz, ohms, farads], above)| {
                let job = supply(*volts, *hertz, *ohms, 2.0, *farads, &behind);
                let got = room(&job);
                assert_eq!(got < 0.0, *above < dropout, "{case} at {dropout} V: {got}");
                Figure {
                    what: format!("case {case}, V"),
                    expected: above - dropout,
                    got,
                    // Where it has dropped out, the pass element smooths what it takes from the reservoir.
                    allowed: Allowed::Absolute(if got < 0.0 { 0.02 } else { 5e-4 }),
                }
            })
            .collect();
        section
            .row(
                "PWR-REG-14",
                &format!("valley of cases A, C, D, F less 15 V and a dropout of {dropout} V; which of them fail, too"),
                CLOSED_FORM,
            )
            .worst_of(&found);
    }
}

/// Headroom of `U1`, parts as marked.
fn room(job: &Job) -> f64 {
    let plan = Plan::of(job).expect("a circuit");
    let options = options();
    let setting = Setting {
        job,
        state: 0,
        step: &Step::default(),
        options: &options,
    };
    let solved = solve(&plan, setting, &[], None).expect("settles");
    let view = View {
        lowered: &solved.lowered,
        reading: plan.table.with(&solved.solution.values),
        air: solved.solution.temperatures.air,
        share: 1.0,
    };
    headroom(&view, "U1").expect("a regulator").headroom
}

fn figures(setting: Setting<'_>) -> [f64; 5] {
    let warmth = quietrail_study::heat::Temperatures::at_rest(setting.job);
    let lowered = quietrail_study::lower::lower(setting.job, 0, setting.step, &[], &warmth)
        .expect("no change to make");
    let raw = Signal::Voltage(lowered.node("raw").expect("there"), GROUND);
    let winding = Signal::Current(lowered.element("T1").expect("there"), 1);
    let outputs = [
        Output::Mean(raw.clone()),
        Output::Valley(raw.clone()),
        Output::Peak(raw.clone()),
        Output::RippleRms(raw),
        Output::Rms(winding),
    ];
    let mut table = OutputTable::of(&lowered);
    for output in &outputs {
        table.add(output.clone());
    }
    let plan = Plan::reading(table);
    let solved = solve(&plan, setting, &[], None).expect("settles");
    let reading = plan.table.with(&solved.solution.values);
    outputs.map(|output| reading.get(&output))
}
