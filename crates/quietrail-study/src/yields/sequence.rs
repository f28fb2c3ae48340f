//! Points that fill a cube evenly, scrambled so that their spread can be judged.
//!
//! The points are those of Sobol with the direction numbers of Joe and Kuo (new-joe-kuo-6, SIAM J. Sci. Comput. 30,
//! 2008). The scrambling is Owen's nested one ("Randomly permuted (t,m,s)-nets and (t,s)-sequences", 1995): each
//! binary digit is flipped or not by a coin that depends on all digits above it. It keeps the even filling, makes each
//! point uniform, and makes scramblings independent, so that their spread says how far their mean may be off.
//! The coins come from a mixing function of the seed, so a point depends on its number and on nothing else.

use sobol::Sobol;
use sobol::params::JoeKuoD6;

/// Dimensions for which direction numbers are at hand.
const DIMENSIONS: usize = 1000;

/// A stretch of the sequence, unscrambled.
#[derive(Clone, Debug)]
pub struct Sequence {
    /// Points, each with its coordinates as fractions of 2³².
    points: Vec<Vec<u32>>,
    dimensions: usize,
}

impl Sequence {
    /// The first `count` points in a cube of `dimensions`.
    ///
    /// Beyond a thousand dimensions the first are used again under other scramblings: still uniform and
    /// independent, no longer evenly filling together.
    pub fn new(dimensions: usize, count: usize) -> Self {
        let own = dimensions.min(DIMENSIONS);
        let points = if own == 0 {
            vec![Vec::new(); count]
        } else {
            Sobol::<u32>::new(own, &JoeKuoD6::standard())
                .take(count)
                .collect()
        };
        Self { points, dimensions }
    }

    /// The points under one scrambling: each coordinate strictly between 0 and 1.
    pub fn scrambled(&self, seed: u64, scrambling: u64) -> Vec<Vec<f64>> {
        let keys: Vec<u64> = (0..self.dimensions as u64)
            .map(|dimension| mixed(mixed(mixed(seed) ^ scrambling) ^ dimension))
            .collect();
        self.points
            .iter()
            .map(|point| {
                keys.iter()
                    .zip(point.iter().cycle())
                    .map(|(&key, &bits)| unit(flipped(bits, key)))
                    .collect()
            })
            .collect()
    }
}

/// The middle of the cell of 2⁻³² that a fraction begins.
fn unit(bits: u32) -> f64 {
    (f64::from(bits) + 0.5) / 4_294_967_296.0
}

/// Flips each digit by the coin of the digits above it.
fn flipped(bits: u32, key: u64) -> u32 {
    let mut out = bits;
    for place in 0..32 {
        // Numbers the node of the binary tree that the digits above lead to: 1 is the root.
        let node = (1_u64 << 32 | u64::from(bits)) >> (place + 1);
        let coin = mixed(key ^ mixed(node)) & 1;
        out ^= (coin as u32) << place;
    }
    out
}

/// A number with its bits thoroughly mixed: the finaliser of SplitMix64 (Steele, Lea and Flood, "Fast splittable
/// pseudorandom number generators", 2014).
fn mixed(number: u64) -> u64 {
    let mut z = number.wrapping_add(0x9e37_79b9_7f4a_7c15);
    z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
    z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
    z ^ (z >> 31)
}
