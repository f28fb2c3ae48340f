//! What the Descent drawing says.

/// `Descent of raw, cold, mains 207 V`
pub fn title(node: &str, state: &str, mains: &str) -> String {
    format!("Descent by way of {node}, {state}, mains {mains}")
}

/// `+1650 mV: how it comes about`
pub fn sum_of(figure: &str) -> String {
    format!("{figure}: how it comes about")
}

/// `3.32 V: T1`
pub fn of_part(figure: &str, part: &str) -> String {
    format!("{figure}: {part}")
}

/// `U1 has +1650 mV in hand here, −380 mV at the worst corner.`
pub fn has(part: &str, here: &str, worst: Option<&str>) -> String {
    match worst {
        Some(worst) => {
            format!("{part} has {here} in hand here, {worst} at the worst corner found.")
        }
        None => format!("{part} has {here} in hand here."),
    }
}

/// The corner that the person has chosen.
pub const THIS_CORNER: &str = "this corner";
/// The corners that were found worst for a limit; and what is left of a headroom there.
pub const WORST_FOUND: &str = "worst found";
/// Under the headroom of the corner in hand where its number leaves out the unit.
pub const THIS_MILLIVOLTS: &str = "this, mV";
/// The same under that of the worst corner.
pub const WORST_MILLIVOLTS: &str = "worst, mV";
/// The corner in hand, where there is no room for more.
pub const THIS_SHORT: &str = "this";
/// The worst corners found, where there is no room for more.
pub const WORST_ROW: &str = "worst";
/// Where both are the same.
pub const IS_WORST: &str = "this corner is the worst found";
/// The station at the outlet.
pub const WALL: &str = "wall";
/// Drop between outlet and winding.
pub const COPPER: &str = "copper";
/// Drop between winding and reservoir.
pub const DIODES: &str = "diodes";
/// Both together.
pub const COPPER_DIODES: &str = "copper, diodes";
/// What a load is allowed.
pub const WINDOW: &str = "window";
/// Heads the rows of the table.
pub const NODE_VOLTS: &str = "node, V";

/// `T1 out`
pub fn out(transformer: &str) -> String {
    format!("{transformer} out")
}

/// A load that is called as its node is: `osc load`
pub fn load(part: &str) -> String {
    format!("{part} load")
}

/// `heater rail`; figures of one under common are drawn as amounts.
pub fn rail(node: &str, is_negative: bool) -> String {
    let under = if is_negative { ", under common" } else { "" };
    format!("{node} rail{under}")
}

/// `straight on raw`
pub fn straight_on(node: &str) -> String {
    format!("straight on {node}")
}

/// `peak 16.38`
pub fn peak(volts: &str) -> String {
    format!("peak {volts}")
}

/// `valley 14.65`
pub fn valley(volts: &str) -> String {
    format!("valley {volts}")
}

/// `lowest 13.34`
pub fn lowest(volts: &str) -> String {
    format!("lowest {volts}")
}

/// `highest 22.26: idle, 244 V`
pub fn highest(volts: &str, state: &str, mains: &str) -> String {
    format!("highest {volts}: {state}, {mains}")
}

/// `ripple 1.73 V`
pub fn ripple(volts: &str) -> String {
    format!("ripple {volts}")
}

/// `raw, the same C1`
pub fn same(node: &str, reservoirs: &str) -> String {
    if reservoirs.is_empty() {
        format!("{node}, the same")
    } else {
        format!("{node}, the same {reservoirs}")
    }
}

/// `U1 needs 13.00 V`
pub fn needs(part: &str, volts: &str) -> String {
    format!("{part} needs {volts}")
}

/// `U1 needs`
pub fn needs_head(part: &str) -> String {
    format!("{part} needs")
}

/// `12.03 out + 0.97 dropout`: what it gives at its current, which is its set point less the drop in its output resistance
pub fn terms(output: &str, dropout: &str) -> String {
    format!("{output} out + {dropout} dropout")
}

/// What a transistor needs before it: `24.22 at amp + 0.22 saturation`
pub fn terms_behind(node: &str, behind: &str, saturation: &str) -> String {
    format!("{behind} at {node} + {saturation} saturation")
}

/// The headroom that a limit asks to be kept: `+ 0.50 to keep`
pub fn to_keep(asked: &str) -> String {
    format!("+ {asked} to keep")
}

/// `R4 and 24 more`
pub fn and_more(first: &str, rest: usize) -> String {
    format!("{first} and {rest} more")
}

/// `C2 +3`, where there is no room for more.
pub fn and_more_short(first: &str, rest: usize) -> String {
    format!("{first} +{rest}")
}

/// `at worst 13.72 V`
pub fn at_worst(volts: &str) -> String {
    format!("at worst {volts}")
}

/// `datum 8 V`
pub fn datum(volts: &str) -> String {
    format!("datum {volts}")
}

/// `286 V peak`
pub fn volts_peak(volts: &str) -> String {
    format!("{volts} peak")
}

/// `13.3 .. 22.3`
pub fn range(low: &str, high: &str) -> String {
    format!("{low} .. {high}")
}

/// `wall drawn at T1's ratio, 14.4 to 1`; of several windings `wall drawn at T1's ratio, 0.85 to 1 and 5.1 to 1`
pub fn at_ratio(transformer: &str, ratios: &[String]) -> String {
    let all: Vec<String> = ratios.iter().map(|ratio| format!("{ratio} to 1")).collect();
    format!(
        "wall drawn at {transformer}\u{2019}s ratio, {}",
        all.join(" and ")
    )
}

/// `nothing settled to draw`
pub const NOTHING: &str = "Not shown: no steady state was found in this corner.";
