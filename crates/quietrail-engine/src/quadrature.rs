//! Integrals over a stretch, split where it takes it.

/// Points and weights of the 15-point rule of Kronrod, and weights of the 7-point rule of Gauss on the odd ones, to the
/// last bit; points are symmetrical (R. Piessens et al., QUADPACK, Springer 1983).
const POINTS: [f64; 8] = [
    0.991_455_371_120_812_6,
    0.949_107_912_342_758_5,
    0.864_864_423_359_769_1,
    0.741_531_185_599_394_5,
    0.586_087_235_467_691_1,
    0.405_845_151_377_397_2,
    0.207_784_955_007_898_48,
    0.0,
];
const KRONROD: [f64; 8] = [
    0.022_935_322_010_529_224,
    0.063_092_092_629_978_56,
    0.104_790_010_322_250_19,
    0.140_653_259_715_525_92,
    0.169_004_726_639_267_9,
    0.190_350_578_064_785_42,
    0.204_432_940_075_298_89,
    0.209_482_141_084_727_82,
];
const GAUSS: [f64; 4] = [
    0.129_484_966_168_869_7,
    0.279_705_391_489_276_64,
    0.381_830_050_505_118_9,
    0.417_959_183_673_469_4,
];

/// Splits at which a stretch is given up: a millionth of a millionth of the whole.
const DEEPEST: u32 = 40;

/// Integral of several functions at once from `a` to `b`. Each piece is split until the sum of all is right to `tolerance`
/// of it.
pub fn integrate(
    f: &mut dyn FnMut(f64, &mut [f64]),
    count: usize,
    (a, b): (f64, f64),
    pieces: usize,
    tolerance: f64,
) -> Vec<f64> {
    let mut rule = Rule {
        f,
        values: vec![0.0; count],
    };
    let width = (b - a) / pieces.max(1) as f64;
    let edge = |k: usize| a + k as f64 * width;
    let mut stack: Vec<Piece> = (0..pieces.max(1))
        .map(|k| rule.piece(edge(k), edge(k + 1), 0))
        .collect();
    let scale: f64 = stack.iter().map(Piece::sum).sum::<f64>().abs();
    let allowed = tolerance * scale.max(f64::MIN_POSITIVE) / (b - a).abs();
    stack.reverse();
    let mut total = vec![0.0; count];
    while let Some(piece) = stack.pop() {
        let is_done = piece.error <= allowed * (piece.b - piece.a).abs();
        if is_done || piece.depth >= DEEPEST {
            for (sum, part) in total.iter_mut().zip(&piece.integrals) {
                *sum += part;
            }
            continue;
        }
        let middle = 0.5 * (piece.a + piece.b);
        let right = rule.piece(middle, piece.b, piece.depth + 1);
        let left = rule.piece(piece.a, middle, piece.depth + 1);
        stack.push(right);
        stack.push(left);
    }
    total
}

struct Piece {
    a: f64,
    b: f64,
    depth: u32,
    integrals: Vec<f64>,
    error: f64,
}

impl Piece {
    fn sum(&self) -> f64 {
        self.integrals.iter().sum()
    }
}

struct Rule<'f> {
    f: &'f mut dyn FnMut(f64, &mut [f64]),
    values: Vec<f64>,
}

impl Rule<'_> {
    fn piece(&mut self, a: f64, b: f64, depth: u32) -> Piece {
        let (middle, half) = (0.5 * (a + b), 0.5 * (b - a));
        let mut integrals = vec![0.0; self.values.len()];
        let mut coarse = 0.0;
        for (k, point) in POINTS.iter().enumerate() {
            let sides: &[f64] = if *point == 0.0 { &[0.0] } else { &[-1.0, 1.0] };
            for side in sides {
                (self.f)(middle + side * point * half, &mut self.values);
                for (sum, value) in integrals.iter_mut().zip(&self.values) {
                    *sum += half * KRONROD[k] * value;
                }
                if k % 2 == 1 {
                    coarse += half * GAUSS[k / 2] * self.values.iter().sum::<f64>();
                }
            }
        }
        let error = (integrals.iter().sum::<f64>() - coarse).abs();
        Piece {
            a,
            b,
            depth,
            integrals,
            error,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::integrate;
    use crate::math::ln;

    #[test]
    fn closed_forms_are_met() {
        let got = integrate(
            &mut |x, out| {
                out[0] = 1.0 / x;
                out[1] = x * x;
            },
            2,
            (1.0, 10.0),
            3,
            1e-12,
        );
        assert!((got[0] - ln(10.0)).abs() < 1e-12, "{got:?}");
        assert!((got[1] - 333.0).abs() < 1e-9, "{got:?}");
    }

    /// A resonance a thousand times narrower than the stretch.
    #[test]
    fn a_needle_is_found() {
        let width = 1e-4;
        let mut lorentz = |x: f64, out: &mut [f64]| {
            let d = (x - 0.37) / width;
            out[0] = 1.0 + 1.0 / (1.0 + d * d);
        };
        let got = integrate(&mut lorentz, 1, (0.0, 1.0), 8, 1e-10);
        // 1 + w (π − small): the tails are those of the arc tangent, w (1/0.37 + 1/0.63).
        let tails = width * (1.0 / 0.37 + 1.0 / 0.63);
        let expected = 1.0 + width * (std::f64::consts::PI - tails);
        assert!((got[0] - expected).abs() < 1e-9, "{} {expected}", got[0]);
    }
}
