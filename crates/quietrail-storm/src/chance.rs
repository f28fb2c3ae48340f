//! Choices that a seed settles, the same on every machine.

/// A stream of choices: the generator of Steele, Lea and Flood, "Fast splittable pseudorandom number
/// generators", OOPSLA 2014, figure 17. Only sums, products and shifts, so that no platform differs.
#[derive(Clone, Debug)]
pub struct Chance(u64);

/// Step of the stream, the golden ratio of 2⁶⁴; from the same paper.
const STEP: u64 = 0x9e37_79b9_7f4a_7c15;

/// Spreads job numbers over the seeds. Any odd number would do; this one is from memory.
const SPREAD: u64 = 0xd134_2543_de82_ef95;

impl Chance {
    /// The stream of the numbered job of a storm.
    pub fn of(seed: u64, job: u64) -> Self {
        let start = Self(seed).bits();
        // Mixed once more: seeds and numbers that are neighbours lead to streams that are not.
        Self(Self(start ^ job.wrapping_mul(SPREAD)).bits())
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

    /// Within two ends, both above zero, each octave as likely as the next: an even place within an even
    /// octave, without a logarithm, which platforms compute differently.
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
    pub fn one_of<T: Copy>(&mut self, all: &[T]) -> T {
        all[self.count(0, all.len() as u64 - 1) as usize]
    }
}

#[cfg(test)]
mod tests {
    use super::Chance;

    /// Rosetta Code, task "Pseudo-random numbers/Splitmix64": the first five for the seed 1234567.
    #[test]
    fn the_stream_is_as_published() {
        let mut chance = Chance(1_234_567);
        let published = [
            6_457_827_717_110_365_317,
            3_203_168_211_198_807_973,
            9_817_491_932_198_370_423,
            4_593_380_528_125_082_431,
            16_408_922_859_458_223_821,
        ];
        assert_eq!(published.map(|_| chance.bits()), published);
    }

    #[test]
    fn octaves_stay_within_their_ends_and_reach_all_of_them() {
        let mut chance = Chance::of(1, 1);
        let values: Vec<f64> = (0..4000).map(|_| chance.octaves(0.25, 16.0)).collect();
        assert!(values.iter().all(|value| (0.25..=16.0).contains(value)));
        for octave in 0..6 {
            let low = 0.25 * f64::from(1 << octave);
            let inside = values.iter().filter(|v| (low..2.0 * low).contains(v));
            // A sixth is 667; 100 off is four standard deviations.
            assert!((567..767).contains(&inside.count()), "octave {octave}");
        }
    }
}
