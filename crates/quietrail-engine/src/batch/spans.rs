//! How far each store leaps towards a closed cycle.

/// Growth of a span after a leap that went as foretold; and where nature's way is followed closely.
const GROWTH: f64 = 10.0;
const CLOSE_GROWTH: f64 = 3.0;
/// The same after one that went not quite so.
const SOME_GROWTH: f64 = 2.0;
/// By how much a span is shorter than the leap that went astray; after the next that does from the same place, by the square of it, and
/// so on.
const SHORTER: f64 = 8.0;
/// Share of its move by which a store may end elsewhere than was foretold.
const ASTRAY: f64 = 0.5;
/// The same below which the foretelling was good.
const AS_TOLD: f64 = 0.15;
/// As good as no end.
const MOST: f64 = 1e6;

/// How many cycles the implicit steps of each store span. Rails of one supply hardly know of each other: one that does
/// not go as foretold leaves the others on their way.
#[derive(Clone, Debug)]
pub(super) struct Spans {
    of: Vec<f64>,
    may_grow: Vec<bool>,
    growth: f64,
    /// By how much the next span is shorter than a leap that goes astray.
    shorter: f64,
}

impl Spans {
    /// Of so many stores: without end, or as short as nature's way where that is to be followed closely.
    pub(super) fn new(stores: usize, closely: bool) -> Self {
        Self {
            of: vec![if closely { 1.0 } else { f64::INFINITY }; stores],
            may_grow: vec![true; stores],
            growth: if closely { CLOSE_GROWTH } else { GROWTH },
            shorter: SHORTER,
        }
    }

    /// Whether every store leaps as far as its drift leads.
    pub(super) fn are_endless(&self) -> bool {
        self.of.iter().all(|span| *span >= MOST)
    }

    /// Whether no store leaps.
    pub(super) fn is_short(&self) -> bool {
        self.of.iter().all(|span| *span < 1.0)
    }

    /// Those without end as so many that none sees the difference.
    pub(super) fn finite(&self) -> Vec<f64> {
        self.of.iter().map(|span| span.min(MOST)).collect()
    }

    /// Of each store.
    pub(super) fn each(&self) -> &[f64] {
        &self.of
    }

    /// Whether all went as foretold, or no further than nature goes.
    pub(super) fn may_go_on(&self, astray: &[f64]) -> bool {
        let mut all = self.of.iter().zip(astray);
        all.all(|(span, astray)| *astray < ASTRAY || *span < 1.0)
    }

    /// After a step that went on.
    pub(super) fn grow(&mut self, astray: &[f64]) {
        for (k, span) in self.of.iter_mut().enumerate() {
            *span *= match (self.may_grow[k], astray[k] < AS_TOLD) {
                (true, true) => self.growth,
                (true, false) => SOME_GROWTH,
                (false, _) => 1.0,
            };
            *span = span.max(1.0);
        }
        self.may_grow.fill(true);
        self.shorter = SHORTER;
    }

    /// After steps of so many cycles, of those that went astray.
    pub(super) fn shorten(&mut self, astray: &[f64], cycles: &[f64]) {
        for (k, span) in self.of.iter_mut().enumerate() {
            if astray[k] >= ASTRAY {
                *span = span.min(cycles[k]) / self.shorter;
                self.may_grow[k] = false;
            }
        }
        self.shorter *= SHORTER;
    }
}

#[cfg(test)]
mod tests {
    use super::Spans;

    #[test]
    fn one_that_goes_astray_leaves_the_others_on_their_way() {
        let mut spans = Spans::new(3, true);
        spans.grow(&[0.0, 0.0, 0.0]);
        let astray = [0.01, 2.0, 0.3];
        assert!(!spans.may_go_on(&astray));
        spans.shorten(&astray, &[3.0, 3.0, 3.0]);
        assert_eq!(spans.each(), [3.0, 3.0 / 8.0, 3.0]);
        // Shorter than nature's own cycle, it goes on whatever comes; it does not grow at once.
        assert!(spans.may_go_on(&astray));
        spans.grow(&[0.01, 0.01, 0.3]);
        assert_eq!(spans.each(), [9.0, 1.0, 6.0]);
    }

    #[test]
    fn without_end_is_told_from_far() {
        let mut spans = Spans::new(2, false);
        assert!(spans.are_endless() && !spans.is_short());
        spans.shorten(&[9.0, 0.0], &[4.0, 4.0]);
        assert!(!spans.are_endless());
        assert_eq!(spans.finite(), [0.5, 1e6]);
        // Grown beyond what anybody sees, it is without end again.
        for _ in 0..7 {
            spans.grow(&[0.0, 0.0]);
        }
        assert!(spans.are_endless());
    }

    #[test]
    fn what_goes_astray_again_from_the_same_place_is_shortened_more() {
        let mut spans = Spans::new(1, false);
        spans.shorten(&[9.0], &[4e6]);
        assert_eq!(spans.each(), [4e6 / 8.0]);
        spans.shorten(&[9.0], &[4e6]);
        assert_eq!(spans.each(), [4e6 / 512.0]);
        spans.grow(&[0.0]);
        spans.shorten(&[9.0], &[4e6]);
        assert_eq!(spans.each(), [4e6 / 512.0 / 8.0]);
    }
}
