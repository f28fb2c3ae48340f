//! Between which temperatures a part comes to rest, as rounds of heat have shown it.
//!
//! A base that needs a tenth of a volt more than there is takes all of a transistor's current away within some kelvins: colder it
//! leads to a thousand degrees, hotter to hardly more than the air. What two ways tell of the place between them is then told by
//! chance, and shares of ways led round in circles. But where a way leads up on one side and down on the other, rest is between
//! them, and the middle is never far astray.

use super::Temperatures;
use std::collections::BTreeMap;

/// Rounds that go where shares of ways lead: most come to rest in fewer.
const FREE_ROUNDS: usize = 5;
/// Share of what lies between two bounds by which a round keeps away from either.
const EDGE: f64 = 0.1;
/// Bounds nearer to each other than this hold nothing, K: others' temperatures may have moved what lies between by as much.
const NARROW: f64 = 0.02;
/// Ways that led to the same side one after the other, by which a bound on that side is no longer trusted: it was found
/// while others were at other temperatures.
const SAME_SIDE: usize = 5;

/// What rounds have shown of each part.
#[derive(Clone, Debug, Default)]
pub(crate) struct Bounds {
    of_part: BTreeMap<String, Bound>,
    rounds: usize,
}

#[derive(Clone, Copy, Debug)]
struct Bound {
    /// Hottest from which powers led up, and coldest from which they led down, °C.
    low: f64,
    high: f64,
    /// Ways one after the other to the same side, and whether that is up.
    same: usize,
    is_up: bool,
}

impl Bounds {
    /// Takes in where powers lead to from temperatures.
    pub(crate) fn learn(&mut self, here: &Temperatures, next: &Temperatures) {
        self.rounds += 1;
        for (part, leads_to) in &next.of_part {
            let own = here.junction(part);
            let bound = self.of_part.entry(part.clone()).or_insert(Bound::ANYWHERE);
            bound.learn(own, *leads_to > own);
        }
    }

    /// Whether so many rounds have not come to rest that each part is looked at by itself.
    pub(crate) fn looks_at_each(&self) -> bool {
        self.rounds > FREE_ROUNDS
    }

    /// Temperatures of the next round, those of parts that would leave their bounds in the middle of these.
    pub(crate) fn hold(&self, further: &mut Temperatures) {
        if !self.looks_at_each() {
            return;
        }
        for (part, bound) in &self.of_part {
            if let Some(celsius) = further.of_part.get_mut(part) {
                *celsius = bound.held(*celsius);
            }
        }
    }
}

impl Bound {
    const ANYWHERE: Self = Self {
        low: f64::NEG_INFINITY,
        high: f64::INFINITY,
        same: 0,
        is_up: false,
    };

    fn learn(&mut self, own: f64, is_up: bool) {
        self.same = if self.is_up == is_up {
            self.same + 1
        } else {
            1
        };
        self.is_up = is_up;
        let is_stale = self.same >= SAME_SIDE;
        if is_up {
            self.low = own;
            if own >= self.high || is_stale {
                self.high = f64::INFINITY;
            }
        } else {
            self.high = own;
            if own <= self.low || is_stale {
                self.low = f64::NEG_INFINITY;
            }
        }
    }

    fn held(&self, celsius: f64) -> f64 {
        let between = self.high - self.low;
        if !between.is_finite() || between < NARROW {
            return celsius;
        }
        let edge = EDGE * between;
        if (self.low + edge..=self.high - edge).contains(&celsius) {
            celsius
        } else {
            0.5 * (self.low + self.high)
        }
    }
}

#[cfg(test)]
mod tests {
    use super::Bounds;
    use crate::heat::Temperatures;

    /// A transistor whose current goes within 40 K: from below it is led to what melts, from above to 140 °C.
    fn leads_to(celsius: f64) -> f64 {
        1084.0 - 944.0 * ((celsius - 515.0) / 40.0).clamp(0.0, 1.0)
    }

    fn at(celsius: f64) -> Temperatures {
        let mut all = Temperatures::default();
        all.set("Q1", celsius);
        all
    }

    /// Where shares alone go round in circles, bounds lead to rest.
    #[test]
    fn what_turns_back_within_some_kelvins_is_found_between_bounds() {
        let rounds = |is_bound: bool| {
            let (mut here, mut share) = (at(20.0), 1.0);
            let mut before: Option<(Temperatures, Temperatures)> = None;
            let mut bounds = Bounds::default();
            for round in 0..40 {
                let next = at(leads_to(here.junction("Q1")));
                if next.distance(&here) < 0.01 {
                    return Some(round);
                }
                if let Some((before, then)) = &before {
                    share = here.share(&next, (before, then), share);
                }
                let mut further = here.towards(&next, share);
                bounds.learn(&here, &next);
                if is_bound {
                    bounds.hold(&mut further);
                }
                before = Some((std::mem::replace(&mut here, further), next));
            }
            None
        };
        assert_eq!(rounds(false), None);
        assert!(rounds(true).is_some_and(|rounds| rounds < 24));
    }

    /// A transistor whose current goes within 5 K, sooner with hotter copper, and copper that heats what heats it: one share for both is
    /// the transistor's, and in forty rounds the copper does not come to rest.
    #[test]
    fn what_turns_back_holds_up_nothing_else() {
        let both = |transistor: f64, copper: f64| {
            let mut all = at(transistor);
            all.set("T1", copper);
            all
        };
        let rounds = |each_by_itself: bool| {
            let (mut here, mut share, mut own) = (both(20.0, 20.0), 1.0, Vec::new());
            let mut before: Option<(Temperatures, Temperatures)> = None;
            let mut bounds = Bounds::default();
            for round in 0..40 {
                let (transistor, copper) = (here.junction("Q1"), here.junction("T1"));
                let sooner = transistor + 0.3 * (copper - 60.0);
                let next = both(
                    1084.0 - 944.0 * ((sooner - 515.0) / 5.0).clamp(0.0, 1.0),
                    40.0 + 0.6 * (copper - 20.0) + 0.02 * (transistor - 500.0),
                );
                if next.distance(&here) < 0.01 {
                    return Some(round);
                }
                if let Some((before, then)) = &before {
                    share = here.share(&next, (before, then), share);
                    own = here.own_shares(&next, (before, then), &own);
                }
                bounds.learn(&here, &next);
                let mut further = if each_by_itself && bounds.looks_at_each() {
                    here.towards_each(&next, &own)
                } else {
                    here.towards(&next, share)
                };
                bounds.hold(&mut further);
                before = Some((std::mem::replace(&mut here, further), next));
            }
            None
        };
        assert_eq!(rounds(false), None);
        assert!(rounds(true).is_some_and(|rounds| rounds < 30));
    }

    /// Bounds that no longer hold, because others have moved, are left after some rounds.
    #[test]
    fn a_bound_that_ways_lead_past_again_and_again_is_given_up() {
        let mut bounds = Bounds::default();
        bounds.learn(&at(300.0), &at(200.0));
        for celsius in [100.0, 200.0, 250.0, 275.0] {
            bounds.learn(&at(celsius), &at(600.0));
            let mut further = at(600.0);
            bounds.hold(&mut further);
        }
        let mut further = at(600.0);
        bounds.learn(&at(287.0), &at(600.0));
        bounds.hold(&mut further);
        assert_eq!(further.junction("Q1"), 600.0);
    }
}
