//! Dummy loads from the resistors on hand: one, or two in series or in parallel, near the current that a load draws.

use quietrail_job::model::OnHand;

/// A dummy load.
#[derive(Clone, Debug, PartialEq)]
pub struct Dummy {
    /// Its ends.
    pub plus: String,
    /// Its ends.
    pub minus: String,
    /// Its resistance.
    pub ohms: f64,
    /// Resistors that it is made of, ohms each; empty where none on hand would do and the value is only computed.
    pub made_of: Vec<f64>,
    /// Whether those are side by side rather than one after the other.
    pub is_parallel: bool,
    /// Watts that all of it may take.
    pub rated: Option<f64>,
    /// Current that the load draws, A: what the dummy stands for.
    pub stands_for: f64,
}

/// How far from the wanted current a dummy may be, either way.
const NEAR: f64 = 0.25;
/// The same where none that near bears the watts.
const FAR: f64 = 0.5;

/// Dummies closer to one another than this, as a share of the wanted current, do the same.
const MATTERS: f64 = 0.05;

/// What of the resistors on hand comes nearest to a resistance, and carries the watts if any such does.
///
/// Returns resistance, what it is made of, whether side by side, and the watts that it may take.
pub fn best(on_hand: &OnHand, wanted: f64, volts: f64) -> Option<(f64, Vec<f64>, bool, f64)> {
    let own: Vec<(f64, f64)> = on_hand
        .resistors
        .iter()
        .map(|(ohms, watts)| (ohms.nominal(), watts.nominal()))
        .collect();
    let mut all: Vec<(f64, Vec<f64>, bool, f64)> =
        own.iter().map(|&(r, p)| (r, vec![r], false, p)).collect();
    for (index, &(r1, p1)) in own.iter().enumerate() {
        for &(r2, p2) in &own[index + 1..] {
            // In series the larger resistance takes the larger share of the watts, in parallel the smaller.
            let series = (p1 * (r1 + r2) / r1).min(p2 * (r1 + r2) / r2);
            all.push((r1 + r2, vec![r1, r2], false, series));
            let parallel = (p1 * (r1 + r2) / r2).min(p2 * (r1 + r2) / r1);
            all.push((r1 * r2 / (r1 + r2), vec![r1, r2], true, parallel));
        }
    }
    let off = |ohms: f64| libm_log(ohms / wanted).abs();
    let bears_it = |one: &(f64, Vec<f64>, bool, f64)| volts * volts / one.0 <= one.3;
    let is_within = |ohms: f64, by: f64| (1.0 - by..=1.0 + by).contains(&(wanted / ohms));
    // Rather another current than one that has to be off again within seconds.
    let is_borne = all
        .iter()
        .any(|one| is_within(one.0, NEAR) && bears_it(one));
    let by = if is_borne { NEAR } else { FAR };
    all.retain(|one| is_within(one.0, NEAR) || (is_within(one.0, by) && bears_it(one)));
    // Those that bear it first, then the nearest, then the fewest: nobody joins two for a twentieth.
    let away = |ohms: f64| (off(ohms) / MATTERS).floor();
    all.into_iter().min_by(|a, b| {
        bears_it(b)
            .cmp(&bears_it(a))
            .then(away(a.0).total_cmp(&away(b.0)))
            .then(a.1.len().cmp(&b.1.len()))
            .then(off(a.0).total_cmp(&off(b.0)))
    })
}

/// Takes what a dummy is made of from the bench: a resistor stands in one place at a time.
pub(super) fn take(on_hand: &mut OnHand, made_of: &[f64]) {
    for ohms in made_of {
        let mut all = on_hand.resistors.iter();
        if let Some(at) = all.position(|(own, _)| own.nominal() == *ohms) {
            on_hand.resistors.remove(at);
        }
    }
}

fn libm_log(x: f64) -> f64 {
    quietrail_engine::math::ln(x)
}

impl Dummy {
    /// Watts that it takes at a voltage.
    pub fn watts(&self, volts: f64) -> f64 {
        volts * volts / self.ohms
    }

    /// Seconds for which it may take more than it is rated for: as long as its rated watts would take to bring the same
    /// heat in a minute (common practice, no source). `None` where there is no limit or no rating.
    pub fn seconds(&self, volts: f64) -> Option<f64> {
        let rated = self.rated?;
        let watts = self.watts(volts);
        (watts > rated).then(|| 60.0 * rated / watts)
    }
}

#[cfg(test)]
mod tests {
    use super::best;
    use quietrail_job::model::{Figure, OnHand, Origin};
    use quietrail_units::{Ohms, Quantity, Watts};

    fn on_hand(all: &[(&str, &str)]) -> OnHand {
        let resistors = all
            .iter()
            .map(|(ohms, watts)| {
                let ohms = Quantity::<Ohms>::parse(ohms).expect("ohms");
                let watts = Quantity::<Watts>::parse(watts).expect("watts");
                let figure = |span| (Origin::Drawn, span);
                let (origin, span) = figure(0..0);
                (
                    Figure {
                        value: ohms,
                        origin: origin.clone(),
                        span: span.clone(),
                    },
                    Figure {
                        value: watts,
                        origin,
                        span,
                    },
                )
            })
            .collect();
        OnHand {
            resistors,
            ..OnHand::default()
        }
    }

    #[test]
    fn two_are_joined_where_one_is_not_enough() {
        let hand = on_hand(&[("22 Ω", "10 W"), ("33 Ω", "10 W")]);
        let (ohms, made_of, parallel, rated) = best(&hand, 13.5, 12.0).expect("one");
        assert!((ohms - 13.2).abs() < 1e-9 && parallel && made_of == [22.0, 33.0]);
        // By hand: 12 V over 22 Ω is 6.5 W, over 33 Ω 4.4 W; the first reaches 10 W at 16.7 W of both.
        assert!((rated - 10.0 * 55.0 / 33.0).abs() < 1e-9);
        let (ohms, ..) = best(&hand, 50.0, 12.0).expect("one");
        assert!((ohms - 55.0).abs() < 1e-9);
        assert!(best(&hand, 500.0, 12.0).is_none());
    }

    /// 47 Ω alone, not with 2.7 kΩ beside it, which leaves that for another place.
    #[test]
    fn nobody_joins_two_for_a_few_percent() {
        let hand = on_hand(&[("47 Ω", "10 W"), ("2.7 kΩ", "2 W")]);
        let (_, made_of, ..) = best(&hand, 45.0, 20.0).expect("one");
        assert_eq!(made_of, [47.0]);
    }

    #[test]
    fn one_that_bears_the_watts_goes_before_one_that_is_nearer() {
        let hand = on_hand(&[("12 Ω", "2 W"), ("15 Ω", "50 W")]);
        assert!((best(&hand, 12.0, 12.0).expect("one").0 - 15.0).abs() < 1e-9);
    }
}
