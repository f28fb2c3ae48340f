//! What the Descent says of its own.

/// `Drawn: cold, 230 V, parts as marked`
pub(crate) fn drawn(state: &str, mains: &str, parts: &str) -> String {
    format!("Drawn: {state}, {mains}, {parts}")
}

/// What the grey fill is.
pub(crate) const GROUND: &str =
    "Grey is the ground under each rail: what its regulator needs, then what it gives.";
/// Labels the choice of a rail on a small screen.
pub(crate) const RAILS: &str = "Rail";

/// Draws the corner that the headline is about.
pub(crate) const DRAW_IT: &str = "Draw this corner";
/// Nothing is looked for where no limit asks for it.
pub(crate) const NO_HEADROOM_LIMIT: &str = "No limit of the job asks for it, so its worst corner is not looked for. A limit with what = \"headroom\" asks.";
/// The same, beside the drawing.
pub(crate) const DRAW_WORST: &str = "Draw the worst corner found";
/// The drawing shows the corner of the headline.
pub(crate) const IS_DRAWN: &str = "This corner is drawn.";
/// The same, beside the drawing.
pub(crate) const IS_WORST: &str = "the worst corner found";
/// Heads the worst headroom where one is asked for.
pub(crate) const WORST_HEADROOM_LIMIT: &str = "Tightest headroom limit found";
/// Heads the worst figure of a job without regulators.
pub(crate) const WORST_LIMIT: &str = "Tightest limit found";

/// `window, high fails.`
pub(crate) fn limit_stands(name: &str, fails: bool) -> String {
    if fails {
        format!("{name} fails.")
    } else {
        format!("{name} is predicted to hold.")
    }
}

/// What stands at the wall: `Wall drawn at T1's ratio, 13.9 to 1: its peak is 317 V …`
pub(crate) fn wall(at_ratio: &str, peak: &str, sine: Option<&str>) -> String {
    let mut letters = at_ratio.chars();
    let first = letters.next().map(|first| first.to_uppercase().to_string());
    let at_ratio = format!("{}{}", first.unwrap_or_default(), letters.as_str());
    match sine {
        Some(sine) => format!(
            "{at_ratio}: the mains peaks at {peak}, where a clean sine has {sine}, because its tops are flattened (mains flatness)."
        ),
        None => format!("{at_ratio}: the mains peaks at {peak}."),
    }
}

/// A row of the table: `Q1 headroom, less 500 mV to keep`
pub(crate) fn spare_of(headroom: &str, asked: &str) -> String {
    format!("{headroom}, less {asked} to keep")
}
