//! Choices that a seed settles, the same on every machine.

/// A stream of choices: the generator of Steele, Lea and Flood, "Fast splittable pseudorandom number
/// generators", OOPSLA 2014, figure 17. Only sums, products and shifts, so that no platform differs.
pub struct Chance(u64);

/// Step of the stream, the golden ratio of 2⁶⁴; from the same paper.
const STEP: u64 = 0x9e37_79b9_7f4a_7c15;

impl Chance {
    /// The stream of the numbered job of a storm.
    pub fn of(seed: u64, job: u64) -> Self {
        let mut outer = Self(seed);
        let start = outer.bits();
        Self(start ^ job.wrapping_mul(0xd134_2543_de82_ef95))
    }

    fn bits(&mut self) -> u64 {
        self.0 = self.0.wrapping_add(STEP);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        z ^ (z >> 31)
    }

    /// Evenly within 0 and 1, 1 excluded.
    pub fn share(&mut self) -> f64 {
        (self.bits() >> 11) as f64 / (1_u64 << 53) as f64
    }

    /// Evenly within two ends.
    pub fn within(&mut self, low: f64, high: f64) -> f64 {
        low + (high - low) * self.share()
    }

    /// Each octave between two ends, both above zero, as likely as the next.
    pub fn octaves(&mut self, low: f64, high: f64) -> f64 {
        let mut octaves = 0;
        let mut end = low;
        while end < high {
            end *= 2.0;
            octaves += 1;
        }
        let mut value = low * (1.0 + self.share());
        for _ in 1..self.count(1, octaves.max(1)) {
            value *= 2.0;
        }
        value.min(high)
    }

    /// Whether something of that share happens.
    pub fn happens(&mut self, share: f64) -> bool {
        self.share() < share
    }

    /// A whole number within two ends, both included.
    pub fn count(&mut self, least: u64, most: u64) -> u64 {
        least + self.bits() % (most - least + 1)
    }

    /// One of several.
    pub fn one_of<'c>(&mut self, all: &[&'c str]) -> &'c str {
        all[self.count(0, all.len() as u64 - 1) as usize]
    }
}

#[cfg(test)]
mod tests {
    use super::Chance;

    #[test]
    fn the_stream_is_that_of_the_paper() {
        // First output for the seed 1234567, from the reference code's published test vector.
        assert_eq!(Chance(1_234_567).bits(), 6_457_827_717_110_365_317);
    }

    #[test]
    fn octaves_stay_within_their_ends() {
        let mut chance = Chance::of(1, 1);
        for _ in 0..1000 {
            let value = chance.octaves(0.3, 20.0);
            assert!((0.3..=20.0).contains(&value), "{value}");
        }
    }
}
