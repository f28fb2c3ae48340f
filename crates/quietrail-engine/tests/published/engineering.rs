//! Supplies in volts and amperes: constant-current loads, real diodes, leakage, doublers, power.

use crate::published::readings::{Readings, figures, harmonic_rms};
use crate::published::table::{Line, Table};
use crate::supplies::{Feeds, Form, Supply, settle};
use quietrail_checks::{Allowed, Figure, Section};
use quietrail_engine::{DiodeLaw, Options};
use std::f64::consts::{PI, SQRT_2};

const CLOSED_FORM: &str = "closed form, 30-digit arithmetic";
const INTEGRATED: &str = "event-driven integration, 12-digit tolerance";

/// The nominal supply at heavy load, case A of the table.
fn case_a() -> Supply {
    let table = Table::read("constant-current.csv");
    let line = table.lines().next().expect("the table has rows");
    constant_current(&line)
}

fn constant_current(line: &Line<'_>) -> Supply {
    let (form, diodes_in_path) = match line.text("id") {
        "PWR-RECT-05G" => (Form::CentreTap, 1.0),
        "PWR-RECT-05H" => (Form::HalfWave, 1.0),
        _ => (Form::Bridge, 2.0),
    };
    Supply {
        form,
        frequency: line.value("f_Hz"),
        peak: SQRT_2 * line.value("Vs_rms"),
        source_ohms: line.value("Rs_ohm"),
        leakage_henries: 0.0,
        diode: DiodeLaw::Ideal {
            drop: line.value("Vd") / diodes_in_path,
            slope: 0.0,
        },
        farads: 1e-6 * line.value("C_uF"),
        esr: 0.0,
        feeds: Feeds::Amps(line.value("I_A")),
    }
}

#[test]
fn constant_current_loads() {
    let mut section = Section::new("constant-current", "Supplies with a constant-current load");
    for line in Table::read("constant-current.csv").lines() {
        let supply = constant_current(&line);
        let built = supply.build();
        let system = built.system();
        let orbit = settle(&system, &Options::default());
        let found = Readings::read(&supply, &built, &orbit);
        let (output, source) = (built.output(&system), system.current(built.source));
        // A half winding of a centre tap carries every other pulse; the table gives all of them together.
        let (pulses_a_cycle, share) = match supply.form {
            Form::HalfWave => (1, 1.0),
            Form::CentreTap => (2, SQRT_2),
            _ => (2, 1.0),
        };
        let source_rms = share * orbit.rms(&source);
        let period = 1.0 / (f64::from(pulses_a_cycle) * supply.frequency);
        let straight = found.load_mean * period / supply.farads;
        let ours = [
            ("Vavg", found.mean),
            ("Vmin", found.valley),
            ("Vmax", found.peak),
            ("pp", found.peak_to_peak()),
            ("rms_ripple", found.ripple_rms),
            ("Isec_rms", source_rms),
            ("Isec/I", source_rms / found.load_mean),
            ("Ipk", found.diode_peak),
            ("Icap_rms", found.capacitor_rms),
            ("cond_deg", found.conduction()),
            ("h1", harmonic_rms(&orbit, &output, pulses_a_cycle)),
            ("h2", harmonic_rms(&orbit, &output, 2 * pulses_a_cycle)),
            ("h3", harmonic_rms(&orbit, &output, 3 * pulses_a_cycle)),
            ("lin_pp", straight),
        ];
        section
            .row(line.text("id"), line.text("case"), CLOSED_FORM)
            .worst_of(&figures(&line, &ours));
    }
    section.note(
        "PWR-RECT-20, -21 (estimates)",
        "I/(2fC) and its textbook companions are explanations elsewhere; the engine does not compute them. The exact \
         figures that they are compared with are those of the ideal source.",
    );
    section.finish();
}

#[test]
fn identities_of_one_supply() {
    let mut section = Section::new("identities", "One supply: balances and identities");
    let supply = case_a();
    let built = supply.build();
    let system = built.system();
    let orbit = settle(&system, &Options::default());
    let found = Readings::read(&supply, &built, &orbit);
    let amps = found.load_mean;

    // PWR-RECT-12: one diode drop less in the path.
    let tapped = Supply {
        form: Form::CentreTap,
        ..supply
    };
    let one_drop_less = Readings::of(&tapped);
    section
        .row(
            "PWR-RECT-12",
            "mean with one diode in the path less mean with two, V",
            "v(t; Vd) = v(t; 0) − Vd, exact for a constant current",
        )
        .near(
            1.0,
            one_drop_less.mean - found.mean,
            Allowed::Absolute(1e-6),
        );

    section
        .row(
            "PWR-RECT-22",
            "I T/C over the true peak-to-peak ripple",
            CLOSED_FORM,
        )
        .near(
            1.45822,
            amps / (2.0 * supply.frequency * supply.farads) / found.peak_to_peak(),
            Allowed::Absolute(1e-5),
        );
    section
        .row(
            "PWR-RECT-23",
            "peak-to-peak over rms of the ripple",
            CLOSED_FORM,
        )
        .near(
            3.19502,
            found.peak_to_peak() / found.ripple_rms,
            Allowed::Absolute(1e-5),
        );

    // PWR-RECT-24: what the wave gives, before its own resistance.
    let current = system.current(built.source);
    let (across, _) = system.ports(built.source).remove(0);
    let winding = supply.source_ohms * found.source_rms * found.source_rms;
    let given = winding - orbit.mean_product(&across, &current);
    let apparent = supply.peak / SQRT_2 * found.source_rms;
    let diodes: f64 = 4.0 * orbit.power(built.diode);
    let output = built.output(&system);
    section
        .row(
            "PWR-RECT-24",
            "power balance of the nominal supply",
            CLOSED_FORM,
        )
        .worst_of(&[
            Figure::relative("source W", 37.07849, given, 1e-6),
            Figure::relative("load W", 30.02214, orbit.mean(&output) * amps, 1e-6),
            Figure::relative("diodes W", 3.0, diodes, 1e-6),
            Figure::relative("winding W", 4.05635, winding, 2.5e-6), // 1 unit of its last digit
            Figure::relative("source VA", 51.26903, apparent, 1e-6),
            Figure::relative("power factor", 0.723_214, given / apparent, 1.4e-6), // likewise
        ]);

    let from_identity = (found.source_rms * found.source_rms - amps * amps).sqrt();
    section
        .row(
            "PWR-RECT-25",
            "capacitor rms, A",
            "Icap² = Isec² − Idc² for a constant current",
        )
        .near(from_identity, found.capacitor_rms, Allowed::Relative(1e-6));
    section.finish();
}

#[test]
fn doublers() {
    let mut section = Section::new("doublers", "Voltage doublers");
    for line in Table::read("doublers.csv").lines() {
        let (id, form) = match line.text("kind") {
            "delon" => ("PWR-RECT-06", Form::Delon),
            "cascade" => ("PWR-RECT-07", Form::Cascade),
            other => panic!("unknown kind {other}"),
        };
        let (x, s) = (line.value("x=wRC"), line.value("s=Rs/R"));
        let supply = Supply::normalised(form, x, s);
        let found = Readings::of(&supply);
        let ours = [
            ("Vdc/Vp", found.mean / supply.peak),
            ("ripple_%", found.ripple_percent()),
            ("pp/Vp", found.peak_to_peak() / supply.peak),
            ("vmin/Vp", found.valley / supply.peak),
            ("Ipk/Idavg", found.diode_peak / found.diode_mean),
            ("Irms/Idavg", found.diode_rms / found.diode_mean),
            ("Isec/Idc", found.source_rms / found.load_mean),
        ];
        let what = format!("{}, ωRC {x}, Rs/R {s}", line.text("kind"));
        section
            .row(id, &what, INTEGRATED)
            .worst_of(&figures(&line, &ours));
    }
    section.finish();
}

#[test]
fn leakage_inductance() {
    let mut section = Section::new("leakage", "Leakage inductance in the winding");
    for line in Table::read("leakage.csv").lines() {
        let (x, s) = (line.value("x=wRC"), line.value("s=Rs/R"));
        let (ratio, plain) = (line.value("wL/R"), Supply::normalised(Form::Bridge, x, s));
        let Feeds::Ohms(ohms) = plain.feeds else {
            panic!("the normalised supply has a resistor");
        };
        let supply = Supply {
            leakage_henries: ratio * ohms / (2.0 * PI * plain.frequency),
            ..plain
        };
        let found = Readings::of(&supply);
        let ours = [
            ("Vdc/Vp", found.mean / supply.peak),
            ("ripple_%", found.ripple_percent()),
            ("Isec/Idc", found.source_rms / found.load_mean),
            ("Ipk/Idavg", found.diode_peak / found.diode_mean),
            ("cond_deg", found.conduction()),
        ];
        let what = format!("ωRC {x}, Rs/R {s}, ωL/R {ratio}");
        section
            .row("PWR-RECT-08", &what, "the model, integrated")
            .worst_of(&figures(&line, &ours));
    }
    section.finish();
}

#[test]
fn exponential_diodes() {
    let mut section = Section::new("exponential-diodes", "A bridge of exponential diodes");
    for line in Table::read("exponential-diodes.csv").lines() {
        let supply = Supply {
            form: Form::Bridge,
            frequency: line.value("f_Hz"),
            peak: SQRT_2 * line.value("Vs_rms"),
            source_ohms: line.value("Rs_ohm"),
            leakage_henries: 0.0,
            diode: DiodeLaw::Exponential {
                saturation: 1e-8,
                slope_voltage: 1.8 * 0.02585,
                series: 0.0,
                leakage: 0.0,
            },
            farads: 1e-6 * line.value("C_uF"),
            esr: 0.0,
            feeds: Feeds::Amps(line.value("I_A")),
        };
        let found = Readings::of(&supply);
        let ours = [
            ("Vavg", found.mean),
            ("Vmin", found.valley),
            ("Vmax", found.peak),
            ("rms_ripple", found.ripple_rms),
            ("Isec_rms", found.source_rms),
            ("Ipk", found.diode_peak),
        ];
        let what = format!("load {} A", line.text("I_A"));
        section
            .row(
                "PWR-RECT-09",
                &what,
                "Lambert W diode current, 12-digit tolerance",
            )
            .worst_of(&figures(&line, &ours));
    }
    section.finish();
}
