//! Published and independently computed figures of measurement, beside what this crate computes.
//!
//! `data/measurement.csv` holds them value by value, with status and source; nothing in it was made by this crate. Values
//! given from memory become notes, which neither pass nor fail.

#![allow(
    clippy::unwrap_used,
    reason = "a test that has nothing to unwrap has failed"
)]

use quietrail_bench::decide::{conformance, guard};
use quietrail_bench::distribution::{
    bisect, noncentral_squares, normal, normal_quantile, student_quantile, two_sided,
};
use quietrail_bench::floor::{self, OverFloor, coherent, gaussian_limit, line_bound, needed_nu};
use quietrail_bench::gum::{
    Component, Shape, combine, covariance_of, mean, mean_covariance, propagate,
};
use quietrail_bench::meter::{self, Wave};
use quietrail_bench::safety::{Mains, rows};
use quietrail_checks::{Allowed, Figure, Section};
use std::f64::consts::PI;

struct Value {
    id: String,
    quantity: String,
    expected: f64,
    tolerance: String,
    status: String,
    source: String,
}

/// Fields of a line of RFC 4180.
fn fields(line: &str) -> Vec<String> {
    let mut all = vec![String::new()];
    let mut quoted = false;
    for c in line.chars() {
        match c {
            '"' => quoted = !quoted,
            ',' if !quoted => all.push(String::new()),
            c => all.last_mut().unwrap().push(c),
        }
    }
    all
}

fn values() -> Vec<Value> {
    let text = include_str!("data/measurement.csv");
    let lines = text.lines().skip(1).map(fields);
    lines
        .map(|f| Value {
            id: f[0].clone(),
            quantity: f[1].clone(),
            expected: match f[2].as_str() {
                "consistent" => 1.0,
                "INVALID" => 0.0,
                number => number.parse().unwrap(),
            },
            tolerance: f[4].clone(),
            status: f[5].clone(),
            source: f[6].clone(),
        })
        .collect()
}

#[test]
fn figures_of_measurement_agree() {
    let mut section = Section::new("measurement", "Readings and decisions");
    let all = values();
    let mut ids: Vec<&str> = all.iter().map(|value| value.id.as_str()).collect();
    ids.dedup();
    for id in ids {
        let of: Vec<&Value> = all.iter().filter(|value| value.id == id).collect();
        let figures: Vec<Figure> = of.iter().map(|value| figure(value)).collect();
        if of[0].status == "FROM-MEMORY" {
            let told = figures
                .iter()
                .map(|f| format!("{} {} (got {:.6})", f.what, f.expected, f.got));
            section.note(id, &told.collect::<Vec<_>>().join("; "));
            continue;
        }
        section.row(id, title(id), &of[0].source).worst_of(&figures);
    }
    let bond = rows(Mains {
        has_fuse: true,
        joins_primaries: false,
    })
    .into_iter()
    .find(|row| row.id == "earth bond")
    .and_then(|row| row.limit);
    let most = bond.and_then(|limit| limit.max).unwrap();
    section
        .row(
            "PWR-SAFE-13",
            "earth bond at most, Ω, without the cord",
            "limits of IEC 1010-1:2001 in the manual of a safety tester, Fluke 601PRO, pages 8 to 11",
        )
        .near(0.1, most, Allowed::Absolute(1e-12));
    section.note(
        "PWR-SAFE-13",
        "the currents at which other standards ask for it (25 A for a minute; twice the rating for two) are not asked for: what tester there is, \
         with how many leads, stands in the set-up of the reading.",
    );
    section.finish();
}

fn title(id: &str) -> &'static str {
    match &id[..id.len() - 3] {
        "MEAS-FLOOR" => "reading close to the floor",
        "MEAS-GUM" => "worked examples of the GUM",
        "MEAS-DIST" => "divisors of known shapes",
        "MEAS-T" => "Student's factors",
        "MEAS-WS" => "effective degrees of freedom",
        "MEAS-106" => "conformance with a limit",
        "MEAS-14253" => "guard band of the default rule",
        "MEAS-G8" => "false acceptance by guard band",
        "MEAS-FC" => "bound of what cannot be negative",
        "MEAS-DMM" => "multimeter",
        "MEAS-SCOPE" => "oscilloscope",
        _ => "what an instrument loads",
    }
}

fn figure(value: &Value) -> Figure {
    let got = ours(&value.id, &value.quantity);
    let number = |text: &str| text.trim().parse::<f64>().unwrap();
    let allowed = match value.tolerance.split_once(' ') {
        Some(("rel", by)) => Allowed::Relative(number(by)),
        Some(("abs", by)) => Allowed::Absolute(number(by)),
        _ => Allowed::Absolute(1e-9 * value.expected.abs()),
    };
    // A relative difference from zero is none.
    let allowed = match allowed {
        Allowed::Relative(by) if value.expected == 0.0 => Allowed::Absolute(by),
        other => other,
    };
    Figure {
        what: value.quantity.clone(),
        expected: value.expected,
        got,
        allowed,
    }
}

fn ours(id: &str, quantity: &str) -> f64 {
    let group = &id[5..id.len() - 3];

    match group {
        "FLOOR" => near_floor(id, quantity),
        "GUM" => gum(id, quantity),
        "DIST" => {
            let shape = match quantity {
                "rectangular" => Shape::Rectangular,
                "triangular" => Shape::Triangular,
                "arcsine (U-shaped)" => Shape::Arcsine,
                "trapezoid, top/base 0.5" => Shape::Trapezoid(0.5),
                "normal, 95 % half-width, k=1.96" => Shape::Normal(two_sided(0.95, f64::INFINITY)),
                "normal 99.73 %" => Shape::Normal(two_sided(0.9973, f64::INFINITY)),
                "resolution step q (full width)" => return Shape::Rectangular.standard(0.5),
                _ => panic!("nothing computes {id} {quantity}"),
            };
            shape.standard(1.0)
        }
        "T" => {
            let (nu, p) = quantity[3..].split_once(", ").unwrap();
            let p: f64 = p.trim_end_matches(" %").parse().unwrap();
            two_sided(p / 100.0, nu.parse().unwrap())
        }
        "WS" => {
            let of = |parts: &[(f64, f64)]| {
                let all: Vec<_> = parts.iter().map(|&(u, nu)| Component { u, nu }).collect();
                combine(&all)
            };
            let a = of(&[(3.0, 4.0), (4.0, f64::INFINITY), (2.0, 9.0)]);
            let b = of(&[(10.0, 2.0), (5.0, 50.0)]);
            match quantity {
                "(a) u" => a.u,
                "(a) nu_eff" => a.nu,
                "(a) nu truncated" => a.nu.floor(),
                "(a) k95" => two_sided(0.95, a.nu.floor()),
                "(b) u" => b.u,
                "(b) nu_eff" => b.nu,
                "(b) k95 at nu=3" => two_sided(0.95, b.nu.floor()),
                "reliability 25 % -> nu" => 0.5 / (0.25 * 0.25),
                _ => panic!("nothing computes {id} {quantity}"),
            }
        }
        "106" => conforming(id, quantity),
        "14253" => {
            let guarded = guard(5.0, 0.95);
            match quantity {
                "guard factor on u" => guard(1.0, 0.95),
                "as r on U=2u" => guard(1.0, 0.95) / 2.0,
                "limit 100 uV, u 5 uV -> acceptance limit" => 100.0 - guarded,
                _ => 100.0 + guarded,
            }
        }
        "G8" => {
            // Read at the acceptance limit, the truth at the limit: how often that is accepted.
            let accepted =
                |r: f64| 1.0 - conformance(-2.0 * r, 1.0, f64::INFINITY, None, Some(0.0));
            match quantity {
                "w=0" => 100.0 * accepted(0.0),
                "w=0.83U" => 100.0 * accepted(0.83),
                "w=U" => 100.0 * accepted(1.0),
                "w=1.5U (3 sigma)" => 100.0 * accepted(1.5),
                // One part in a thousand million is below the rounding of 1 − p; by symmetry.
                _ => 1e6 * normal(-6.0),
            }
        }
        "FC" => match quantity {
            "x0=3, ordinary one-sided bound" => 3.0 + normal_quantile(0.95),
            other => gaussian_limit(other[3..].parse().unwrap()),
        },
        "DMM" => multimeter(id, quantity),
        "SCOPE" => oscilloscope(quantity),
        _ => loading(quantity),
    }
}

/// Reading, floor and degrees of freedom of MEAS-FLOOR-01 to 10, as their inputs say.
const NEAR: [(f64, f64, f64, f64); 10] = [
    (360.0, 360.0, 1000.0, 1000.0),
    (352.0, 360.0, 1000.0, 1000.0),
    (320.0, 360.0, 1000.0, 1000.0),
    (368.0, 360.0, 1000.0, 1000.0),
    (400.0, 360.0, 1000.0, 1000.0),
    (360.0, 360.0, 100.0, 100.0),
    (360.0, 360.0, 10000.0, 10000.0),
    (360.0, 240.0, 100.0, 100.0),
    (88.0, 40.0, 200.0, 200.0),
    (360.0, 352.0, 20.0, 20.0),
];

fn over(reading: f64, floor: f64, nu_reading: f64, nu_floor: f64, repeats: f64) -> OverFloor {
    OverFloor {
        reading,
        floor,
        nu_reading,
        nu_floor,
        repeats,
    }
}

fn near_floor(id: &str, quantity: &str) -> f64 {
    let number: usize = id[id.len() - 2..].parse().unwrap();
    if let Some(&(r, f, nr, nf)) = NEAR.get(number - 1) {
        let case = over(r, f, nr, nf, 0.0);
        return match quantity {
            "signed sqrt(R^2-F^2)" => case.signed(),
            "u(s^2)" => case.square_uncertainty(),
            "x0/u" => case.square() / case.square_uncertainty(),
            "95 % bound, F-ratio CLs (primary)" => case.bound(),
            "95 % bound, Gaussian CLs / truncated Bayes" => case.gaussian_bound(),
            "MLS upper limit of s^2" => case.large_sample_limit(),
            "P(F <= ratio)" => case.probability(),
            "sensitivity (bound if R=F)" => case.sensitivity(),
            "floor consistency verdict" => f64::from(u8::from(case.is_consistent())),
            _ => case.decision_bound(),
        };
    }
    let far = f64::INFINITY;
    let blank = |nu: f64, d: f64| over(360.0, 360.0, nu, nu, d);
    let gaussian_at = |floor: f64, nu: f64| over(floor, floor, nu, nu, 0.0).gaussian_bound();
    match (number, quantity) {
        (11, "nu needed, Gaussian CLs") => bisect(1.0, 1e6, |nu| 80.0 - gaussian_at(360.0, nu)),
        (11, "nu needed, F-ratio CLs") => needed_nu(360.0, 80.0, 0.0).unwrap(),
        (11, _) => gaussian_at(360.0, 1000.0),
        (12, "u(s^2), d=3 %") => blank(far, 0.03).square_uncertainty(),
        (12, "bound at R=F, d=3 %") => blank(far, 0.03).gaussian_bound(),
        (12, "bound at R=F, d=1 %") => blank(far, 0.01).gaussian_bound(),
        (12, _) => bisect(1e-6, 1.0, |d| blank(far, d).gaussian_bound() - 80.0),
        (13, quantity) => {
            let amplifier = meter::white(5e-3, meter::single_pole_noise_bandwidth(100e3));
            let total = amplifier.hypot_of(3.6);
            match quantity {
                "amplifier noise at input" => amplifier,
                "instrument floor referred to input" => 360.0 / 100.0,
                "total floor" => total,
                "sensitivity at nu=100 (Gaussian)" => gaussian_at(total, 100.0),
                _ => meter::white(360.0 / 100e6_f64.sqrt(), 1e6),
            }
        }
        (14, "rss estimate (wrong)") => over(360.0, 240.0, 1.0, 1.0, 0.0).signed(),
        (14, "lower bound") => coherent(360.0, 0.0, 240.0, 0.0).0,
        (14, _) => coherent(360.0, 0.0, 240.0, 0.0).1,
        (15, quantity) => {
            let case = over(400.0, 360.0, 1000.0, 1000.0, 0.0);
            match quantity {
                "s" => case.signed(),
                "u(s) first order" => case.square_uncertainty() / (2.0 * case.signed()),
                "u(R)/R" => (0.5_f64 / 1000.0).sqrt(),
                _ => case.reading - case.signed(),
            }
        }
        (16, "effective nuF, d=3 %") => blank(1000.0, 0.03).effective_nu_floor(),
        (16, "bound, d=3 %") => blank(1000.0, 0.03).bound(),
        (16, "effective nuF, d=1 %") => blank(1000.0, 0.01).effective_nu_floor(),
        (16, _) => blank(1000.0, 0.01).bound(),
        (17, "(a) bound") => line_bound(360.0, 360.0, 1000.0),
        (17, "(b) bound") => line_bound(352.0, 360.0, 1000.0),
        (17, "(c) bound") => line_bound(400.0, 360.0, 1000.0),
        (17, quantity) => {
            // One bin of a spectrum: two degrees of freedom, its power against that of the noise.
            let power = |bin: f64| line_bound(f64::sqrt(bin), 1.0, 2.0).powi_of(2);
            match quantity {
                "(d) bound on line power / noise power" => power(1.0),
                "(e) same" => power(4.0),
                _ => 10.0 * libm_log10(power(1.0)),
            }
        }
        _ => panic!("nothing computes {id} {quantity}"),
    }
}

/// Small helpers in place of functions that differ by platform.
trait Small {
    fn hypot_of(self, other: f64) -> f64;
    fn powi_of(self, n: u32) -> f64;
}

impl Small for f64 {
    fn hypot_of(self, other: f64) -> f64 {
        (self * self + other * other).sqrt()
    }

    fn powi_of(self, n: u32) -> f64 {
        (0..n).fold(1.0, |product, _| product * self)
    }
}

fn libm_log10(x: f64) -> f64 {
    libm::log10(x)
}

const H2_VOLTS: [f64; 5] = [5.007, 4.994, 5.005, 4.990, 4.999];
const H2_MILLIAMPERES: [f64; 5] = [19.663, 19.639, 19.640, 19.685, 19.678];
const H2_PHASE: [f64; 5] = [1.0456, 1.0438, 1.0468, 1.0428, 1.0433];

fn gum(id: &str, quantity: &str) -> f64 {
    match &id[id.len() - 2..] {
        "01" | "02" => end_gauge(quantity),
        "03" => impedance_inputs(quantity),
        "04" | "06" => impedance(quantity, id.ends_with("04")),
        "05" => impedance_each(quantity),
        _ => thermometer(quantity),
    }
}

/// GUM H.1.
fn end_gauge(quantity: &str) -> f64 {
    let part = |u: f64, nu: f64| Component { u, nu };
    let (length, alpha, theta) = (50_000_623.0, 11.5e-6, -0.1_f64);
    let d = combine(&[part(5.8, 24.0), part(3.9, 5.0), part(6.7, 8.0)]);
    let u_alpha = Shape::Rectangular.standard(2e-6);
    let u_d_alpha = Shape::Rectangular.standard(1e-6);
    let u_d_theta = Shape::Rectangular.standard(0.05);
    let cycle = Shape::Arcsine.standard(0.5);
    let u_theta = combine(&[part(0.2, f64::INFINITY), part(cycle, f64::INFINITY)]).u;
    let by_theta = length * alpha * u_d_theta;
    let by_alpha = length * theta.abs() * u_d_alpha;
    let all = [
        part(25.0, 18.0),
        part(d.u, d.nu),
        part(by_alpha, 50.0),
        part(by_theta, 2.0),
    ];
    let whole = combine(&all);
    let second = [length * u_d_alpha * u_theta, length * u_alpha * u_d_theta];
    let with_second = {
        let mut more = all.to_vec();
        more.extend(second.map(|u| part(u, f64::INFINITY)));
        combine(&more).u
    };
    match quantity {
        "l" => length + 215.0,
        "u_c" => whole.u,
        "u_c rounded as published" => whole.u.round(),
        "nu_eff (full precision)" => whole.nu,
        "component l_s" => all[0].u,
        "component d_theta" => by_theta,
        "component d_alpha" => by_alpha,
        "u(d)" => d.u,
        "nu(d)" => d.nu,
        "t99(16)" => student_quantile(0.995, 16.0),
        "U99 published (2.92 x 32)" => two_sided(0.99, whole.nu.floor()) * whole.u,
        "extra term l_s u(d_alpha)u(theta)" => second[0],
        "extra term l_s u(alpha_s)u(d_theta)" => second[1],
        "u_c with second order" => with_second,
        _ => with_second.round(),
    }
}

fn impedance_inputs(quantity: &str) -> f64 {
    let r = |a: &[f64], b: &[f64]| mean_covariance(a, b) / (mean(a).1.u * mean(b).1.u);
    match quantity {
        "V" => mean(&H2_VOLTS).0,
        "I" => mean(&H2_MILLIAMPERES).0,
        "phi" => mean(&H2_PHASE).0,
        "s(V)" => mean(&H2_VOLTS).1.u,
        "s(I)" => mean(&H2_MILLIAMPERES).1.u,
        "s(phi)" => mean(&H2_PHASE).1.u,
        "r(V,I)" => r(&H2_VOLTS, &H2_MILLIAMPERES),
        "r(V,phi)" => r(&H2_VOLTS, &H2_PHASE),
        _ => r(&H2_MILLIAMPERES, &H2_PHASE),
    }
}

/// GUM H.2, first approach; with or without the correlations.
fn impedance(quantity: &str, correlated: bool) -> f64 {
    let amperes = H2_MILLIAMPERES.map(|i| i / 1000.0);
    let inputs: [&[f64]; 3] = [&H2_VOLTS, &amperes, &H2_PHASE];
    let (v, i, phi) = (mean(inputs[0]).0, mean(inputs[1]).0, mean(inputs[2]).0);
    let covariance: Vec<Vec<f64>> = (0..3)
        .map(|a| {
            let entry = |b: usize| {
                if a == b || correlated {
                    mean_covariance(inputs[a], inputs[b])
                } else {
                    0.0
                }
            };
            (0..3).map(entry).collect()
        })
        .collect();
    let (sin, cos) = (libm::sin(phi), libm::cos(phi));
    let (r, x, z) = (v / i * cos, v / i * sin, v / i);
    let slopes_r = [r / v, -r / i, -x];
    let slopes_x = [x / v, -x / i, r];
    let slopes_z = [z / v, -z / i, 0.0];
    let u = |slopes: &[f64]| propagate(slopes, &covariance);
    let correlation = |a: &[f64], b: &[f64]| covariance_of(a, b, &covariance) / (u(a) * u(b));
    match quantity {
        "R" => r,
        "u(R)" => u(&slopes_r),
        "X" => x,
        "u(X)" => u(&slopes_x),
        "Z" => z,
        "u(Z)" => u(&slopes_z),
        "r(R,X)" => correlation(&slopes_r, &slopes_x),
        "r(R,Z)" => correlation(&slopes_r, &slopes_z),
        _ => correlation(&slopes_x, &slopes_z),
    }
}

/// GUM H.2, second approach: each set of observations evaluated, then averaged.
fn impedance_each(quantity: &str) -> f64 {
    let each = |f: fn(f64, f64) -> f64| {
        let all: Vec<f64> = (0..5)
            .map(|k| f(H2_VOLTS[k] / H2_MILLIAMPERES[k] * 1000.0, H2_PHASE[k]))
            .collect();
        mean(&all)
    };
    let r = each(|z, phi| z * libm::cos(phi));
    let x = each(|z, phi| z * libm::sin(phi));
    let z = each(|z, _| z);
    match quantity {
        "R" => r.0,
        "u(R)" => r.1.u,
        "X" => x.0,
        "u(X)" => x.1.u,
        "Z" => z.0,
        _ => z.1.u,
    }
}

/// GUM H.3: temperatures and corrections of the thermometer.
const H3: [(f64, f64); 11] = [
    (21.521, -0.171),
    (22.012, -0.169),
    (22.512, -0.166),
    (23.003, -0.159),
    (23.507, -0.164),
    (23.999, -0.165),
    (24.513, -0.156),
    (25.002, -0.157),
    (25.503, -0.159),
    (26.010, -0.161),
    (26.511, -0.160),
];

fn thermometer(quantity: &str) -> f64 {
    let n = H3.len() as f64;
    let theta = |t: f64| t - 20.0;
    let sum = |f: &dyn Fn(f64, f64) -> f64| H3.iter().map(|&(t, b)| f(theta(t), b)).sum::<f64>();
    let (st, sb) = (sum(&|t, _| t), sum(&|_, b| b));
    let (stt, stb) = (sum(&|t, _| t * t), sum(&|t, b| t * b));
    let d = n * stt - st * st;
    let y1 = (sb * stt - stb * st) / d;
    let y2 = (n * stb - sb * st) / d;
    let residual = sum(&|t, b| (b - y1 - y2 * t).powi_of(2));
    let s = (residual / (n - 2.0)).sqrt();
    let covariance = vec![
        vec![s * s * stt / d, -s * s * st / d],
        vec![-s * s * st / d, s * s * n / d],
    ];
    match quantity {
        "y1 intercept" => y1,
        "u(y1)" => propagate(&[1.0, 0.0], &covariance),
        "y2 slope" => y2,
        "u(y2)" => propagate(&[0.0, 1.0], &covariance),
        "r(y1,y2)" => covariance[0][1] / (covariance[0][0] * covariance[1][1]).sqrt(),
        "s" => s,
        "b(30 C)" => y1 + 10.0 * y2,
        _ => propagate(&[1.0, 10.0], &covariance),
    }
}

fn conforming(id: &str, quantity: &str) -> f64 {
    let far = f64::INFINITY;
    match (&id[id.len() - 2..], quantity) {
        ("01", "(a) pc") => conformance(-5.47, 0.05, far, None, Some(-5.40)),
        ("01", "(b) pc") => conformance(509.7, 8.6, far, Some(490.0), None),
        ("01", "(c) pc") => conformance(13.6, 1.8, far, Some(12.5), Some(16.3)),
        // The reading from which the limit is exceeded with that probability, its uncertainty being a part of it.
        ("01", _) => 100.0 / (1.0 - guard(0.02, 0.999)),
        ("02", p) => guard(1.0, p.parse().unwrap()),
        ("03", "(a) pc") => conformance(-101.2, 0.8, far, None, Some(-100.0)),
        ("03", "(a) acceptance limit at 95 %") => -100.0 - guard(0.8, 0.95),
        ("03", "(b) pc with t(6)") => conformance(4.2, 0.4, 6.0, None, Some(5.0)),
        ("03", "(b) pc normal (too optimistic)") => conformance(4.2, 0.4, far, None, Some(5.0)),
        ("03", _) => conformance(8.6, 0.9, far, Some(-10.0), Some(10.0)),
        (_, risk) => global_risk(risk),
    }
}

/// Consumer's and producer's risk by quadrature of the conformance probability over what is made.
fn global_risk(quantity: &str) -> f64 {
    let (made, u) = if quantity.contains("coarse") {
        (0.6, 0.2)
    } else {
        (0.5, 0.125)
    };
    let guarded = match quantity.rsplit_once("w=").unwrap().1 {
        "0" => 0.0,
        "1.645 um" => guard(u, 0.95),
        _ => 2.0 * u,
    };
    let accepted = |x: f64| {
        let edge = 1.0 - guarded;
        conformance(x, u, f64::INFINITY, Some(-edge), Some(edge))
    };
    let weight = |x: f64| libm::exp(-0.5 * (x / made).powi_of(2)) / (made * (2.0 * PI).sqrt());
    let simpson = |from: f64, to: f64, f: &dyn Fn(f64) -> f64| {
        let steps = 4000;
        let h = (to - from) / f64::from(steps);
        let inner: f64 = (1..steps)
            .map(|k| if k % 2 == 1 { 4.0 } else { 2.0 } * f(from + h * f64::from(k)))
            .sum();
        (f(from) + inner + f(to)) * h / 3.0
    };
    if quantity.starts_with("R_C") {
        2.0 * simpson(1.0, 6.0, &|x| weight(x) * accepted(x))
    } else {
        2.0 * simpson(0.0, 1.0, &|x| weight(x) * (1.0 - accepted(x)))
    }
}

fn multimeter(id: &str, quantity: &str) -> f64 {
    let error = |words: &str, reading: f64| {
        let job = format!(
            "format = 1\n[mains]\nvoltage = \"230 V\"\nfrequency = \"50 Hz\"\n[states]\non = \"on\"\n\
             [instrument.meter]\nkind = \"multimeter\"\ndc = {{ ranges = [\"{words}\"] }}\n"
        );
        let job = quietrail_job::read(&job, None).job.expect("a job");
        1000.0 * job.instruments[0].functions[0].ranges[0].error(reading)
    };
    match (&id[id.len() - 2..], quantity) {
        ("01", "12.345 V, 0.05 % + 3 counts of 1 mV: limit") => {
            error("60 V ±(0.05 % + 3 of 1 mV)", 12.345)
        }
        ("01", "its u (rect.)") => {
            Shape::Rectangular.standard(error("60 V ±(0.05 % + 3 of 1 mV)", 12.345))
        }
        ("01", "relative") => 100.0 * error("60 mV ±(0.9 % + 40)", 0.45e-3) / 0.45,
        ("01", quantity) if quantity.starts_with("0.45 mV") => {
            error("60 mV ±(0.9 % + 40)", 0.45e-3)
        }
        ("01", _) => error("60 V ±(0.05 % + 3)", 5.0),
        (_, "average meter on Gaussian noise reads") => meter::average_shows(Wave::Noise),
        (_, "same in dB") => 20.0 * libm_log10(meter::average_shows(Wave::Noise)),
        (_, "average meter on a square wave") => meter::average_shows(Wave::Square),
        (_, "average meter on a triangle") => meter::average_shows(Wave::Triangle),
        (_, "crest factor sine") => meter::crest(Wave::Sine),
        (_, "triangle") => meter::crest(Wave::Triangle),
        (_, "pulse duty 5 %") => 1.0 / 0.05_f64.sqrt(),
        (_, "Gaussian clipped at 3 sigma: rms lost") => {
            // Mean square of a normal value clipped at c.
            let c = 3.0;
            let density = libm::exp(-0.5 * c * c) / (2.0 * PI).sqrt();
            let inside = 2.0 * normal(c) - 1.0 - 2.0 * c * density;
            100.0 * (1.0 - (inside + c * c * 2.0 * normal(-c)).sqrt())
        }
        (_, "100 kHz tone reads") => meter::single_pole_share(100e3, 20e3),
        (_, "dB") => 20.0 * libm_log10(meter::single_pole_share(100e3, 20e3)),
        (_, "white noise NBW") => meter::single_pole_noise_bandwidth(20e3),
        (_, "white noise in 1 MHz read as fraction") => {
            meter::white(1.0, meter::single_pole_noise_bandwidth(20e3)) / meter::white(1.0, 1e6)
        }
        _ => panic!("nothing computes {id} {quantity}"),
    }
}

fn oscilloscope(quantity: &str) -> f64 {
    let density = 360.0 / 100e6_f64.sqrt();
    match quantity {
        "1 mV/div LSB" => 1e6 * meter::quantum(8e-3, 8),
        "q/sqrt12" => 1e6 * meter::quantisation(meter::quantum(8e-3, 8)),
        "same with 10x probe" => 1e6 * meter::quantisation(meter::quantum(80e-3, 8)),
        "20 mV/div, 10x: LSB at probe tip" => 1e3 * meter::quantum(8.0 * 0.2, 8),
        "ideal SNR 8 bit" => meter::ideal_signal_to_noise_db(8),
        "12 bit" => meter::ideal_signal_to_noise_db(12),
        // The rule of thumb in its rounded form.
        "6.02N+1.76 for 8" => 6.02 * 8.0 + 1.76,
        "20 MHz" => meter::white(density, 20e6),
        "1 MHz" => meter::white(density, 1e6),
        "100 kHz" => meter::white(density, 100e3),
        "density" => 1000.0 * density,
        "if 100 MHz is a single-pole f3" => {
            1000.0 * 360.0 / meter::single_pole_noise_bandwidth(100e6).sqrt()
        }
        samples => {
            let n: String = samples[2..].chars().filter(|c| *c != ' ').collect();
            meter::gaussian_range(n.parse().unwrap())
        }
    }
}

fn loading(quantity: &str) -> f64 {
    match quantity {
        "reading" => 1e3 * meter::through_burden(12.0, 120.0, 1.8),
        "error" => 100.0 * (meter::through_burden(12.0, 120.0, 1.8) / 0.1 - 1.0),
        "burden voltage" => 1e3 * 1.8 * meter::through_burden(12.0, 120.0, 1.8),
        "oven drop" => 1e3 * 0.15 * meter::through_burden(24.0, 24.0, 0.15),
        "10 Mohm meter on 1 Mohm source" => 100.0 * (meter::loading(1e6, 10e6) - 1.0),
        "10 Mohm on 10 kohm" => 100.0 * (meter::loading(10e3, 10e6) - 1.0),
        "10 pF at 10 MHz" => meter::reactance(10e-12, 10e6),
        "10 pF across terminated 50-ohm line (25 ohm source)" => {
            meter::probe_level_db(25.0, 10e-12, 10e6)
        }
        "100 pF (1x probe) there" => meter::probe_level_db(25.0, 100e-12, 10e6),
        "10 pF on a 1 kohm node" => meter::probe_level_db(1e3, 10e-12, 10e6),
        "probe resonance 150 nH, 10 pF" => 1e-6 * meter::resonance(150e-9, 10e-12),
        _ => 100.0 * (meter::resonance(1.0, 110e-12) / meter::resonance(1.0, 100e-12) - 1.0),
    }
}

/// The grid of sixteen cases, computed elsewhere with scipy.
#[test]
fn the_grid_near_the_floor_agrees() {
    let text = include_str!("data/floor_bounds.csv");
    let close = |got: f64, want: f64, what: &str| {
        assert!(
            (got - want).abs() <= 2e-5 * want.abs() + 1e-4,
            "{what}: {got}, expected {want}"
        );
    };
    let mut cases = 0;
    for line in text.lines().skip(1) {
        let f = fields(line);
        let n = |k: usize| f[k].parse::<f64>().unwrap();
        let case = over(n(0), n(1), n(2), n(3), 0.0);
        close(case.bound(), n(8), line);
        close(case.gaussian_bound(), n(9), line);
        close(case.sensitivity(), n(15), line);
        close(case.decision_bound(), n(16), line);
        assert_eq!(case.is_consistent(), f[17] == "consistent", "{line}");
        cases += 1;
    }
    assert_eq!(cases, 16);
}

/// The interval without repeats, by hand: 400 µV ± 10 over 360 µV ± 10.
#[test]
fn without_repeats_the_interval_is_that_of_the_specification() {
    let (low, high) = floor::interval(400.0, 10.0, 360.0, 10.0);
    assert!((high - (410.0_f64 * 410.0 - 350.0 * 350.0).sqrt()).abs() < 1e-9);
    assert!((low - (390.0_f64 * 390.0 - 370.0 * 370.0).sqrt()).abs() < 1e-9);
    assert_eq!(floor::interval(350.0, 10.0, 360.0, 10.0).0, 0.0);
}

/// Far above what was read the distribution is all of one, far below nothing of it.
#[test]
fn distributions_end_where_they_must() {
    assert!((noncentral_squares(1e4, 10.0, 5.0) - 1.0).abs() < 1e-12);
    assert!(noncentral_squares(1e-6, 10.0, 5.0) < 1e-12);
}
