//! Symbols of parts by IEC 60617, on a line that runs to the right or from a line down to the return.

use crate::svg::scene::{Frame, Ink, Mark, Point, at};
use quietrail_job::model::PartKind;

/// What a part is drawn as.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Sign {
    Fuse,
    Switch,
    Lamp,
    Resistor,
    Inductor,
    Capacitor,
    Diode,
    /// A diode that is used at its breakdown voltage; stands for any shunt regulator of two ends.
    Breakdown,
    /// Collector to the left, or to the right where the other polarity is wanted.
    Transistor {
        pnp: bool,
    },
    /// A wire is the line itself.
    Wire,
    /// What the standard draws as a box with its name: integrated circuits.
    Block,
}

impl Sign {
    pub(super) fn of(kind: Option<&PartKind>) -> Self {
        match kind {
            Some(PartKind::Fuse(_)) => Self::Fuse,
            Some(PartKind::Switch(_)) => Self::Switch,
            Some(PartKind::Lamp(_)) => Self::Lamp,
            Some(PartKind::Resistor(_)) => Self::Resistor,
            Some(PartKind::Inductor(_)) => Self::Inductor,
            Some(PartKind::Capacitor(_)) => Self::Capacitor,
            Some(PartKind::Diode(_)) => Self::Diode,
            Some(PartKind::Shunt(_)) => Self::Breakdown,
            Some(PartKind::Wire(_)) => Self::Wire,
            Some(PartKind::Transistor(one)) => Self::Transistor { pnp: one.is_pnp },
            _ => Self::Block,
        }
    }

    /// Half of what it takes of the line, and how far under the line it reaches.
    pub(super) fn reach(self) -> (f64, f64) {
        match self {
            Self::Fuse => (9.0, 4.5),
            Self::Lamp => (8.0, 8.0),
            Self::Transistor { .. } => (13.0, 20.0),
            Self::Wire => (0.0, 2.0),
            Self::Diode => (9.0, 5.5),
            _ => (13.0, 5.0),
        }
    }
}

/// The two inks of a symbol; the other way round where its card is open.
#[derive(Clone, Copy)]
pub(super) struct Pens {
    pub(super) is_open: bool,
}

impl Pens {
    fn fill(self) -> Ink {
        if self.is_open {
            Ink::SymbolOpen
        } else {
            Ink::Symbol
        }
    }

    fn line(self) -> Ink {
        if self.is_open { Ink::OnInk } else { Ink::Axis }
    }

    /// What the line is broken with, behind a symbol that is no closed figure; where its card is open, the ink behind it.
    fn behind(self, (left, right): (f64, f64), (top, bottom): (f64, f64), line: f64) -> Mark {
        if self.is_open {
            return rect(
                (left - 3.0, right + 3.0),
                (top - 3.0, bottom + 3.0),
                Ink::SymbolOpen,
            );
        }
        rect((left, right), (line - 1.5, line + 1.5), Ink::Sheet)
    }
}

/// A symbol around a point of a line that runs to the right.
pub(super) fn in_line(sign: Sign, middle: Point, pens: Pens) -> Vec<Mark> {
    let Point { x, y } = middle;
    let (half, _) = sign.reach();
    let line = |points: &[(f64, f64)]| stroke(x, y, points, pens.line());
    match sign {
        Sign::Wire | Sign::Block | Sign::Capacitor | Sign::Breakdown => Vec::new(),
        Sign::Resistor => vec![rect((x - half, x + half), (y - 5.0, y + 5.0), pens.fill())],
        Sign::Fuse => vec![
            rect((x - half, x + half), (y - 4.5, y + 4.5), pens.fill()),
            line(&[(-half, 0.0), (half, 0.0)]),
        ],
        Sign::Lamp => {
            let arm = half * std::f64::consts::FRAC_1_SQRT_2;
            vec![
                Mark::Circle {
                    at: middle,
                    radius: half,
                    ink: pens.fill(),
                },
                line(&[(-arm, -arm), (arm, arm)]),
                line(&[(-arm, arm), (arm, -arm)]),
            ]
        }
        Sign::Switch => vec![
            pens.behind((x - 9.0, x + 9.0), (y - 9.0, y + 1.0), y),
            line(&[(-9.0, 0.0), (8.0, -8.5)]),
        ],
        Sign::Inductor => {
            let mut points = Vec::new();
            for turn in 0..4 {
                let start = -half + f64::from(turn) * half / 2.0;
                points.extend((0..=8).map(|k| {
                    let angle = f64::from(k) / 8.0 * std::f64::consts::PI;
                    // A quarter of the width each, rising from the line and back to it.
                    let (sin, cos) = (half / 4.0 * angle.sin(), half / 4.0 * angle.cos());
                    (start + half / 4.0 - cos, -sin * 1.3)
                }));
            }
            vec![
                pens.behind((x - half, x + half), (y - 5.0, y + 1.0), y),
                line(&points),
            ]
        }
        Sign::Diode => vec![
            pens.behind((x - 5.0, x + 5.0), (y - 5.5, y + 5.5), y),
            line(&[
                (-4.0, 0.0),
                (-4.0, -5.5),
                (4.0, 0.0),
                (-4.0, 5.5),
                (-4.0, 0.0),
            ]),
            line(&[(4.0, -5.5), (4.0, 5.5)]),
            line(&[(-9.0, 0.0), (9.0, 0.0)]),
        ],
        Sign::Transistor { pnp } => {
            let bar = if pens.is_open { Ink::OnInk } else { Ink::Path };
            // The arrow is the emitter's: away from the base, or towards it. The emitter of the one is to the right, of the
            // other to the left.
            let arrow = if pnp {
                arrow((x - 9.0, y), (x - 3.0, y + 7.0), 0.8)
            } else {
                arrow((x + 3.0, y + 7.0), (x + 9.0, y), 0.95)
            };
            vec![
                stroke(x, y, &[(0.0, 7.0), (0.0, 20.0)], Ink::Axis),
                Mark::Circle {
                    at: at(x, y + 4.0),
                    radius: half,
                    ink: pens.fill(),
                },
                line(&[(-12.4, 0.0), (-9.0, 0.0), (-3.0, 7.0)]),
                line(&[(3.0, 7.0), (9.0, 0.0), (12.4, 0.0)]),
                stroke(x, y, &[(-8.0, 7.0), (8.0, 7.0)], bar),
                line(&[(0.0, 7.0), (0.0, 16.5)]),
                Mark::Area {
                    points: arrow,
                    ink: if pens.is_open { Ink::Sheet } else { Ink::Joint },
                },
            ]
        }
    }
}

/// A symbol from a point of a line down to the return.
pub(super) fn across(sign: Sign, end: Point, pens: Pens) -> Vec<Mark> {
    let Point { x, y } = end;
    let wire = |points: &[(f64, f64)]| stroke(x, y, points, Ink::Axis);
    let line = |points: &[(f64, f64)]| stroke(x, y, points, pens.line());
    let mut marks = Vec::new();
    if pens.is_open {
        marks.push(rect(
            (x - 11.0, x + 11.0),
            (y + 5.0, y + 27.0),
            Ink::SymbolOpen,
        ));
    }
    match sign {
        Sign::Capacitor => marks.extend([
            wire(&[(0.0, 0.0), (0.0, 5.0)]),
            line(&[(0.0, 5.0), (0.0, 13.0)]),
            line(&[(-8.0, 13.0), (8.0, 13.0)]),
            line(&[(-8.0, 18.5), (8.0, 18.5)]),
            line(&[(0.0, 18.5), (0.0, 27.0)]),
            wire(&[(0.0, 27.0), (0.0, 32.0)]),
        ]),
        // The cathode is up; one end of its bar is bent towards the anode.
        Sign::Breakdown => marks.extend([
            wire(&[(0.0, 0.0), (0.0, 5.0)]),
            line(&[(0.0, 5.0), (0.0, 27.0)]),
            line(&[(-7.0, 15.5), (-7.0, 11.5), (6.0, 11.5)]),
            line(&[(-5.5, 20.5), (5.5, 20.5), (0.0, 11.5), (-5.5, 20.5)]),
            wire(&[(0.0, 27.0), (0.0, 32.0)]),
        ]),
        _ => marks.extend([
            wire(&[(0.0, 0.0), (0.0, 7.0)]),
            rect((x - 4.0, x + 4.0), (y + 7.0, y + 25.0), pens.fill()),
            wire(&[(0.0, 25.0), (0.0, 32.0)]),
        ]),
    }
    marks.push(wire(&[(-6.0, 32.0), (6.0, 32.0)]));
    marks
}

/// A line through places that are given from a point.
fn stroke(x: f64, y: f64, points: &[(f64, f64)], ink: Ink) -> Mark {
    Mark::Polyline {
        points: points.iter().map(|(dx, dy)| at(x + dx, y + dy)).collect(),
        ink,
    }
}

fn rect((left, right): (f64, f64), (top, bottom): (f64, f64), ink: Ink) -> Mark {
    Mark::Rect {
        area: Frame {
            x: left,
            y: top,
            width: right - left,
            height: bottom - top,
        },
        ink,
    }
}

/// An arrowhead whose tip lies at a part of the way from one place to another.
fn arrow(from: (f64, f64), to: (f64, f64), part: f64) -> Vec<Point> {
    let (dx, dy) = (to.0 - from.0, to.1 - from.1);
    let length = (dx * dx + dy * dy).sqrt();
    let (ux, uy) = (dx / length, dy / length);
    let tip = (from.0 + part * dx, from.1 + part * dy);
    let foot = (tip.0 - 5.0 * ux, tip.1 - 5.0 * uy);
    vec![
        at(tip.0, tip.1),
        at(foot.0 - 2.6 * uy, foot.1 + 2.6 * ux),
        at(foot.0 + 2.6 * uy, foot.1 - 2.6 * ux),
    ]
}

#[cfg(test)]
mod tests {
    use super::{Pens, Sign, across, in_line};
    use crate::svg::scene::{Mark, at};

    /// The arrow of a symbol: its tip first.
    fn arrow(pnp: bool) -> Vec<(f64, f64)> {
        let marks = in_line(
            Sign::Transistor { pnp },
            at(0.0, 0.0),
            Pens { is_open: false },
        );
        let points = marks.into_iter().find_map(|mark| match mark {
            Mark::Area { points, .. } => Some(points),
            _ => None,
        });
        let points = points.expect("an arrow");
        points.into_iter().map(|one| (one.x, one.y)).collect()
    }

    #[test]
    fn the_arrow_points_as_the_emitter_current_flows() {
        // NPN: emitter to the right, current out of it, away from the base. PNP: emitter to the left, current into it.
        let npn = arrow(false);
        assert!(npn[0].0 > npn[1].0 && npn[0].1 < npn[1].1 && npn[0].0 > 0.0);
        let pnp = arrow(true);
        assert!(pnp[0].0 > pnp[1].0 && pnp[0].1 > pnp[1].1 && pnp[0].0 < 0.0);
    }

    #[test]
    fn what_stands_across_a_rail_reaches_the_return() {
        for sign in [Sign::Capacitor, Sign::Breakdown, Sign::Resistor] {
            let marks = across(sign, at(50.0, 100.0), Pens { is_open: true });
            let lowest = marks.iter().filter_map(|mark| match mark {
                Mark::Polyline { points, .. } => points.iter().map(|one| one.y).reduce(f64::max),
                _ => None,
            });
            assert_eq!(lowest.reduce(f64::max), Some(132.0), "{sign:?}");
        }
    }
}
