//! Preferred values E3 to E192 (IEC 60063:2015): values as in public lists; the standard itself was not
//! retrieved.

/// A series of preferred values, named by how many there are in a decade.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Series {
    /// Three in a decade.
    E3,
    /// Six in a decade, made for ±20 %.
    E6,
    /// Twelve in a decade, made for ±10 %.
    E12,
    /// Twenty-four in a decade, made for ±5 %.
    E24,
    /// Forty-eight in a decade, made for ±2 %.
    E48,
    /// Ninety-six in a decade, made for ±1 %.
    E96,
    /// A hundred and ninety-two in a decade, made for ±0.5 % and less.
    E192,
}

/// Two preferred values in parallel.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct ParallelPair {
    /// The smaller value.
    pub smaller: f64,
    /// The larger value.
    pub larger: f64,
    /// What the two make together.
    pub together: f64,
}

impl Series {
    /// Every series, coarsest first.
    pub const ALL: [Self; 7] = [
        Self::E3,
        Self::E6,
        Self::E12,
        Self::E24,
        Self::E48,
        Self::E96,
        Self::E192,
    ];

    /// How many values there are in a decade.
    pub const fn per_decade(self) -> usize {
        match self {
            Self::E3 => 3,
            Self::E6 => 6,
            Self::E12 => 12,
            Self::E24 => 24,
            Self::E48 => 48,
            Self::E96 => 96,
            Self::E192 => 192,
        }
    }

    /// The values of one decade as three digits, 100 to 999. The coarse series are every second, fourth
    /// and eighth value of E24, the fine ones of E192.
    ///
    /// ```
    /// use quietrail_units::series::Series;
    /// let e6: Vec<u16> = Series::E6.decade().collect();
    /// assert_eq!(e6, [100, 150, 220, 330, 470, 680]);
    /// ```
    pub fn decade(self) -> impl Iterator<Item = u16> {
        let finest: &[u16] = if self.per_decade() <= E24.len() {
            &E24
        } else {
            &E192
        };
        finest
            .iter()
            .copied()
            .step_by(finest.len() / self.per_decade())
    }

    /// Whether the series holds this very value.
    pub fn holds(self, value: f64) -> bool {
        self.at_or_below(value) == Some(value)
    }

    /// The value nearest by ratio: above the geometric mean of its neighbours the upper one is taken.
    /// `None` unless `value` is positive and finite.
    ///
    /// ```
    /// use quietrail_units::series::Series;
    /// assert_eq!(Series::E24.nearest(4.85e3), Some(4.7e3));
    /// assert_eq!(Series::E24.nearest(4897.0), Some(5.1e3));
    /// ```
    pub fn nearest(self, value: f64) -> Option<f64> {
        let below = self.at_or_below(value)?;
        let above = self.at_or_above(value)?;
        Some(if value / below <= above / value {
            below
        } else {
            above
        })
    }

    /// The largest value that is not above `value`; `None` unless that is from 1e-300 to 1e300.
    pub fn at_or_below(self, value: f64) -> Option<f64> {
        self.around(value)?
            .filter(|preferred| *preferred <= value)
            .last()
    }

    /// The smallest value that is not below `value`; `None` unless that is from 1e-300 to 1e300.
    pub fn at_or_above(self, value: f64) -> Option<f64> {
        self.around(value)?.find(|preferred| *preferred >= value)
    }

    /// The largest value below `value`; `None` unless that is from 1e-300 to 1e300.
    pub fn next_down(self, value: f64) -> Option<f64> {
        self.around(value)?
            .filter(|preferred| *preferred < value)
            .last()
    }

    /// The smallest value above `value`; `None` unless that is from 1e-300 to 1e300.
    pub fn next_up(self, value: f64) -> Option<f64> {
        self.around(value)?.find(|preferred| *preferred > value)
    }

    /// The two values that come nearest to `target`, by ratio, when in parallel (as resistors are), both
    /// from `smallest` to `largest`. `None` if no two values lie there, or `target` is not positive.
    pub fn parallel_pair(self, target: f64, smallest: f64, largest: f64) -> Option<ParallelPair> {
        if !is_positive(target) {
            return None;
        }
        let values = self.between(smallest, largest);
        let mut best: Option<(f64, ParallelPair)> = None;
        for (index, larger) in values.iter().enumerate() {
            for smaller in &values[..=index] {
                let together = parallel(*smaller, *larger);
                let miss = (together / target).ln().abs();
                if best.is_none_or(|(least, _)| miss < least) {
                    let pair = ParallelPair {
                        smaller: *smaller,
                        larger: *larger,
                        together,
                    };
                    best = Some((miss, pair));
                }
            }
        }
        best.map(|(_, pair)| pair)
    }

    /// The values from `smallest` to `largest`, ascending; empty unless both are positive and finite.
    pub fn between(self, smallest: f64, largest: f64) -> Vec<f64> {
        if !is_positive(smallest) || !is_positive(largest) {
            return Vec::new();
        }
        let decades = decade_of(smallest)..=decade_of(largest);
        let values = decades.flat_map(|decade| self.decade().map(move |d| preferred(d, decade)));
        values
            .filter(|value| (smallest..=largest).contains(value))
            .collect()
    }

    /// The values of three decades around `value`, ascending; `None` where numbers end before decades do.
    fn around(self, value: f64) -> Option<impl Iterator<Item = f64>> {
        let decade = (1e-300..=1e300)
            .contains(&value)
            .then(|| decade_of(value))?;
        let decades = decade - 1..=decade + 1;
        Some(decades.flat_map(move |decade| self.decade().map(move |d| preferred(d, decade))))
    }
}

/// Two resistances in parallel: product over sum.
///
/// ```
/// assert_eq!(quietrail_units::series::parallel(10.0, 15.0), 6.0);
/// ```
pub fn parallel(one: f64, other: f64) -> f64 {
    one * other / (one + other)
}

fn is_positive(value: f64) -> bool {
    value > 0.0 && value.is_finite()
}

/// The power of ten of a positive value, from its digits: logarithms are not exact at powers of ten.
fn decade_of(value: f64) -> i32 {
    let text = format!("{value:e}");
    let exponent = text
        .split_once('e')
        .and_then(|(_, exponent)| exponent.parse().ok());
    exponent.expect("a positive finite number prints with an exponent")
}

/// Three digits in a decade, as the nearest float to their decimal value.
fn preferred(digits: u16, decade: i32) -> f64 {
    let text = format!("{digits}e{}", decade - 2);
    text.parse().expect("digits with an exponent are a number")
}

/// Tabulated by the standard: eight of them are not the rounded geometric series.
const E24: [u16; 24] = [
    100, 110, 120, 130, 150, 160, 180, 200, 220, 240, 270, 300, 330, 360, 390, 430, 470, 510, 560,
    620, 680, 750, 820, 910,
];

/// The rounded geometric series, but for 920, which is in place of 919.
#[rustfmt::skip]
const E192: [u16; 192] = [
    100, 101, 102, 104, 105, 106, 107, 109, 110, 111, 113, 114, 115, 117, 118, 120,
    121, 123, 124, 126, 127, 129, 130, 132, 133, 135, 137, 138, 140, 142, 143, 145,
    147, 149, 150, 152, 154, 156, 158, 160, 162, 164, 165, 167, 169, 172, 174, 176,
    178, 180, 182, 184, 187, 189, 191, 193, 196, 198, 200, 203, 205, 208, 210, 213,
    215, 218, 221, 223, 226, 229, 232, 234, 237, 240, 243, 246, 249, 252, 255, 258,
    261, 264, 267, 271, 274, 277, 280, 284, 287, 291, 294, 298, 301, 305, 309, 312,
    316, 320, 324, 328, 332, 336, 340, 344, 348, 352, 357, 361, 365, 370, 374, 379,
    383, 388, 392, 397, 402, 407, 412, 417, 422, 427, 432, 437, 442, 448, 453, 459,
    464, 470, 475, 481, 487, 493, 499, 505, 511, 517, 523, 530, 536, 542, 549, 556,
    562, 569, 576, 583, 590, 597, 604, 612, 619, 626, 634, 642, 649, 657, 665, 673,
    681, 690, 698, 706, 715, 723, 732, 741, 750, 759, 768, 777, 787, 796, 806, 816,
    825, 835, 845, 856, 866, 876, 887, 898, 909, 920, 931, 942, 953, 965, 976, 988,
];

#[cfg(test)]
mod tests;
