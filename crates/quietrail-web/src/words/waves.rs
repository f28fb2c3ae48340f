//! What the Waves view says of its own.

use quietrail_study::wave::{Need, Waves};

/// Heads the waves.
pub(crate) const WAVES_TITLE: &str = "Waves: two mains cycles";
/// Labels the choice of a node.
pub(crate) const NODE: &str = "Node";
/// Names the read-out.
pub(crate) const READOUT: &str = "Read-out: arrow keys move it";
/// Time.
pub(crate) const TIME: &str = "time";

/// `raw, worst for U1`
pub(crate) fn worse_of(drawing: &Waves) -> String {
    let worse = quietrail_report::words::waves::worse(drawing.worst_for.as_deref());
    format!("{}, {worse}", drawing.node)
}

/// `over U1's need`
pub(crate) fn left_over(part: &str) -> String {
    format!("over {part}'s need")
}

/// The same at the worst corner; a name would not fit a phone.
pub(crate) const LEFT_AT_WORST: &str = "over need at worst";

/// No such node.
pub(crate) fn no_such_node(node: &str, known: &[String]) -> String {
    format!("no node is called {node}; there are {}", known.join(", "))
}

/// `U1 at the worst corner`
pub(crate) fn at_worst_corner(part: &str) -> String {
    format!("{part} at the worst corner")
}

/// The waves say nothing of a corner that nobody has found.
pub(crate) const NO_WORST_KNOWN: &str = "No worst corner of its headroom is known in this state.";

/// What the waves say of a regulator.
pub(crate) fn wave_sentence(node: &str, need: &Need, below_ms: f64) -> String {
    let needs = quietrail_report::number::in_hand(need.worst_volts, "V");
    // Of a rail under common what is needed is a level below zero, and enough is below that.
    let (short, enough) = if need.worst_volts < 0.0 {
        ("above", "below")
    } else {
        ("below", "above")
    };
    if need.worst_headroom < 0.0 {
        return format!(
            "{node} is {short} the {needs} that {} needs for {below_ms:.1} ms of every half-cycle.",
            need.part
        );
    }
    format!(
        "{node} stays {enough} the {needs} that {} needs.",
        need.part
    )
}

/// Heads the oscilloscope's settings.
pub(crate) const SEE_YOURSELF: &str = "To see this yourself";

/// Divisions of offset that oscilloscopes give (common practice, no source).
const MOST_OFFSET: f64 = 100.0;
/// Peak to peak below which an oscilloscope shows its own noise (common practice, no source), V.
const FAINT: f64 = 2e-3;

/// Volts against common from which an input's rating is worth a look: many bear 300 V, and less with a probe that divides by one (common
/// practice, no source).
const HIGH: f64 = 100.0;

/// How an oscilloscope is set to show the same.
pub(crate) fn settings(drawing: &Waves) -> String {
    let span = (drawing.peak - drawing.valley).max(1e-6);
    let steps = [
        1e-3, 2e-3, 5e-3, 1e-2, 2e-2, 5e-2, 0.1, 0.2, 0.5, 1.0, 2.0, 5.0, 10.0,
    ];
    let per_division = steps
        .into_iter()
        .find(|step| step * 6.0 >= span)
        .unwrap_or(10.0);
    let volts = quietrail_report::number::written(per_division, "V");
    let coupling = if drawing.mean.abs() <= MOST_OFFSET * per_division {
        "DC coupled with an offset, or AC coupled for the ripple alone"
    } else {
        "AC coupled: no offset reaches that far"
    };
    let faint = if span < FAINT {
        let span = quietrail_report::number::si(span, "V", 2);
        format!(
            " {span} p-p is lost in the noise of most oscilloscopes: an amplifier in front, or an analyser."
        )
    } else {
        String::new()
    };
    let highest = drawing.peak.abs().max(drawing.valley.abs());
    let high = if highest > HIGH {
        let highest = quietrail_report::number::in_hand(highest, "V");
        format!(
            " All {highest} stand at the probe, AC coupled too: probe and input have to be rated for them."
        )
    } else {
        String::new()
    };
    format!(
        "{volts} per division, 5 ms per division, trigger on line; {coupling}.{faint}{high} \
         Earth clip to common at the reservoir, nowhere else."
    )
}

#[cfg(test)]
mod tests {
    use super::wave_sentence;
    use quietrail_study::wave::Need;

    /// −26 V is enough for a regulator that needs −14 V, and lies below it.
    #[test]
    fn under_common_enough_is_below() {
        let need = |worst_volts: f64, worst_headroom: f64| Need {
            part: "U1".to_owned(),
            volts: worst_volts,
            worst_volts,
            headroom: worst_headroom,
            worst_headroom,
        };
        let said = |volts: f64, headroom: f64| wave_sentence("raw", &need(volts, headroom), 1.0);
        assert!(said(-14.0, 8.0).starts_with("raw stays below the −14"));
        assert!(said(-14.0, -1.0).starts_with("raw is above the −14"));
        assert!(said(14.0, 8.0).starts_with("raw stays above the 14"));
        assert!(said(14.0, -1.0).starts_with("raw is below the 14"));
    }
}
