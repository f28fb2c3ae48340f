//! How wide text is, without a browser.
//!
//! Widths are the advance widths of Helvetica and Helvetica-Bold as published in Adobe's Core 14 AFM
//! files, in thousandths of the size; Arial, Liberation Sans and Nimbus Sans share them for ASCII
//! (compared with Liberation Sans as a browser measures it: all 190 agree to a thousandth).

use super::scene::{Frame, Weight};

/// Space to tilde, regular.
#[rustfmt::skip]
const REGULAR: [u16; 95] = [
    278, 278, 355, 556, 556, 889, 667, 191, 333, 333, 389, 584, 278, 333, 278, 278,
    556, 556, 556, 556, 556, 556, 556, 556, 556, 556, 278, 278, 584, 584, 584, 556,
    1015, 667, 667, 722, 722, 667, 611, 778, 722, 278, 500, 667, 556, 833, 722, 778,
    667, 778, 722, 667, 611, 722, 667, 944, 667, 667, 611, 278, 278, 278, 469, 556,
    333, 556, 556, 500, 556, 556, 278, 556, 556, 222, 222, 500, 222, 833, 556, 556,
    556, 556, 333, 500, 278, 556, 500, 722, 500, 500, 500, 334, 260, 334, 584,
];

/// Space to tilde, bold.
#[rustfmt::skip]
const BOLD: [u16; 95] = [
    278, 333, 474, 556, 556, 889, 722, 238, 333, 333, 389, 584, 278, 333, 278, 278,
    556, 556, 556, 556, 556, 556, 556, 556, 556, 556, 333, 333, 584, 584, 584, 611,
    975, 722, 722, 722, 722, 667, 611, 778, 722, 278, 556, 722, 611, 833, 722, 778,
    667, 778, 722, 667, 611, 722, 667, 944, 667, 667, 611, 333, 278, 333, 584, 556,
    333, 556, 611, 556, 611, 556, 333, 611, 611, 278, 278, 556, 278, 889, 611, 611,
    611, 611, 389, 556, 333, 611, 556, 778, 556, 556, 500, 389, 280, 389, 584,
];

/// Capitals reach this part of the size above the baseline (Helvetica's cap height: 718 of 1000).
const CAPITALS: f64 = 0.718;

/// Descenders reach this part of the size below it (Helvetica: 207 of 1000).
const DESCENDERS: f64 = 0.207;

/// Width of a line of text in CSS pixels.
pub fn text_width(text: &str, size: f64, weight: Weight) -> f64 {
    let thousandths: u32 = text.chars().map(|c| u32::from(advance(c, weight))).sum();
    f64::from(thousandths) * size / 1000.0
}

/// Text that fits into a width, shortened with an ellipsis where it must be.
pub fn fitted(text: &str, size: f64, weight: Weight, width: f64) -> String {
    if text_width(text, size, weight) <= width {
        return text.to_owned();
    }
    let mut kept: Vec<char> = text.chars().collect();
    loop {
        kept.pop();
        let shortened: String = kept.iter().collect::<String>().trim_end().to_owned() + "…";
        if kept.is_empty() || text_width(&shortened, size, weight) <= width {
            return shortened;
        }
    }
}

/// The box that a line of text fills, from capitals to descenders.
pub(super) fn line_box(x: f64, baseline: f64, width: f64, size: f64) -> Frame {
    Frame {
        x,
        y: baseline - CAPITALS * size,
        width,
        height: (CAPITALS + DESCENDERS) * size,
    }
}

fn advance(c: char, weight: Weight) -> u16 {
    let table = match weight {
        Weight::Regular => &REGULAR,
        Weight::Bold => &BOLD,
    };
    match c {
        ' '..='~' => table[c as usize - ' ' as usize],
        '\u{a0}' => table[0],
        // Outside ASCII the faces differ a little; the widest one is taken.
        '−' | '±' | '×' => 584,
        '°' => 400,
        'Ω' => 802,
        '↑' | '↓' => 600,
        '²' | '³' => 333,
        'À'..='Å' | 'Ç'..='Þ' => 778,
        'µ' | 'μ' | 'ß'..='ɏ' => 611,
        // Arrows and the ellipsis are a full square; so, as a safe guess, is any other script.
        _ => 1000,
    }
}

#[cfg(test)]
mod tests {
    use super::{fitted, text_width};
    use crate::svg::Weight;

    #[test]
    fn widths_are_those_of_the_published_tables() {
        // Sums of the AFM entries by hand: 6 × 722 / 722 + 556.
        assert_eq!(text_width("U1", 1000.0, Weight::Regular), 722.0 + 556.0);
        assert_eq!(
            text_width("raw", 1000.0, Weight::Regular),
            333.0 + 556.0 + 722.0
        );
        assert_eq!(
            text_width("raw", 1000.0, Weight::Bold),
            389.0 + 556.0 + 778.0
        );
        assert_eq!(text_width("~", 13.0, Weight::Regular), 0.584 * 13.0);
    }

    #[test]
    fn figures_are_tabular() {
        for digit in '0'..='9' {
            for weight in [Weight::Regular, Weight::Bold] {
                assert_eq!(text_width(&digit.to_string(), 1000.0, weight), 556.0);
            }
        }
    }

    #[test]
    fn long_text_is_shortened_to_fit() {
        let text = "a name that is far too long for the column";
        let short = fitted(text, 13.0, Weight::Regular, 100.0);
        assert!(short.ends_with('…') && text_width(&short, 13.0, Weight::Regular) <= 100.0);
        assert_eq!(fitted("short", 13.0, Weight::Regular, 100.0), "short");
    }
}
