//! Grids over ωRC and Rs/R, full-wave and half-wave, with their two limits.

use crate::published::readings::{Readings, figures};
use crate::published::table::Table;
use crate::supplies::{Form, Supply};
use quietrail_checks::Section;

const CLOSED_FORM: &str = "closed form, 30-digit arithmetic";

/// Where C counts as infinite. The outputs approach their limits with (ωRC)⁻²: from the grid's rows at 200 and
/// Rs/R 0.002, 0.145 degrees of conduction above the limit, what is left here is 6e-7 degrees.
const VAST: f64 = 1e5;

#[test]
fn full_wave_grid() {
    let mut section = Section::new("full-wave", "Full-wave rectifier, resistive load");
    grid(&mut section, "full-wave.csv", Form::Bridge);
    section.finish();
}

#[test]
fn half_wave_grid() {
    let mut section = Section::new("half-wave", "Half-wave rectifier, resistive load");
    grid(&mut section, "half-wave.csv", Form::HalfWave);
    section.finish();
}

fn grid(section: &mut Section, file: &str, form: Form) {
    for line in Table::read(file).lines() {
        let (x, s) = (line.value("x=wRC"), line.value("s=Rs/R"));
        let supply = Supply::normalised(form, x, s);
        let found = Readings::of(&supply);
        let ours = [
            ("Vdc/Vp", found.mean / supply.peak),
            ("ripple_%", found.ripple_percent()),
            ("pp/Vp", found.peak_to_peak() / supply.peak),
            ("vmin/Vp", found.valley / supply.peak),
            ("vmax/Vp", found.peak / supply.peak),
            ("Ipk/Idavg", found.diode_peak / found.diode_mean),
            ("Irms/Idavg", found.diode_rms / found.diode_mean),
            ("Isec/Idc", found.source_rms / found.load_mean),
            ("Icap/Idc", found.capacitor_rms / found.load_mean),
            ("t1_deg", found.turn_on),
            ("t2_deg", found.turn_off),
            ("cond_deg", found.conduction()),
        ];
        let what = format!("ωRC {x}, Rs/R {s}");
        section
            .row(line.text("id"), &what, CLOSED_FORM)
            .worst_of(&figures(&line, &ours));
    }
}

#[test]
fn infinite_capacitance() {
    let mut section = Section::new(
        "infinite-capacitance",
        "Rectifiers as C grows without bound",
    );
    for line in Table::read("infinite-capacitance.csv").lines() {
        let s = line.value("s=Rs/R");
        let full = Supply::normalised(Form::Bridge, VAST, s);
        let half = Supply {
            form: Form::HalfWave,
            ..full
        };
        let (fw, hw) = (Readings::of(&full), Readings::of(&half));
        let ours = [
            ("FW Vdc/Vp", fw.mean / full.peak),
            ("FW cond_deg", fw.conduction()),
            ("FW Ipk/Idavg", fw.diode_peak / fw.diode_mean),
            ("FW Irms/Idavg", fw.diode_rms / fw.diode_mean),
            ("FW Isec/Idc", fw.source_rms / fw.load_mean),
            ("HW Vdc/Vp", hw.mean / half.peak),
            ("HW cond_deg", hw.conduction()),
            ("HW Ipk/Idavg", hw.diode_peak / hw.diode_mean),
            ("HW Irms/Idavg", hw.diode_rms / hw.diode_mean),
        ];
        let what = format!("both rectifiers at ωRC {VAST}, Rs/R {s}");
        section
            .row("PWR-RECT-03", &what, "closed form")
            .worst_of(&figures(&line, &ours));
    }
    section.finish();
}

#[test]
fn zero_source_resistance() {
    let mut section = Section::new("zero-source-resistance", "Rectifiers on an ideal source");
    for line in Table::read("zero-source-resistance.csv").lines() {
        let form = match line.text("kind") {
            "full-wave" => Form::Bridge,
            "half-wave" => Form::HalfWave,
            other => panic!("unknown kind {other}"),
        };
        let x = line.value("x=wRC");
        let supply = Supply::normalised(form, x, 0.0);
        let found = Readings::of(&supply);
        let ours = [
            ("t1_deg", found.turn_on),
            ("t2_deg", found.turn_off),
            ("Vdc/Vp", found.mean / supply.peak),
            ("ripple_%", found.ripple_percent()),
            ("r=pp/Vp", found.peak_to_peak() / supply.peak),
        ];
        let what = format!("{}, ωRC {x}, Rs 0", line.text("kind"));
        section
            .row("PWR-RECT-04", &what, CLOSED_FORM)
            .worst_of(&figures(&line, &ours));
    }
    section.finish();
}
