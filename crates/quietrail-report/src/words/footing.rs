//! What `prove` says under its table: noise that nothing judges, ratings that nobody wrote, loads that starve.

use crate::number;
use quietrail_study::finding::{Gets, Unrated};

/// Limits on ripple that nothing stands beside for noise.
pub(crate) fn without_noise(limits: &[&str]) -> String {
    let names = limits.join(", ");
    let verb = if limits.len() == 1 { "leaves" } else { "leave" };
    format!(
        "{names} {verb} noise out: ripple is what is locked to the mains. A limit of what = \"noise\" or \"ripple and noise\" with a \
         band judges the rest."
    )
}

/// `No rating given, so not judged: C1 ripple current; T1 copper temperature.`
pub fn unrated(all: &[Unrated]) -> String {
    let each: Vec<String> = all
        .iter()
        .map(|one| format!("{} {}", one.part, one.ratings.join(", ")))
        .collect();
    format!("No rating given, so not judged: {}.", each.join("; "))
}

/// Under the table, for a load that gets less than it asks for.
pub(crate) fn starved(load: &str, state: &str, gets: &Gets) -> String {
    let said = format!(
        "{load}, {state}: it asks for {} and the supply can give {} at {}, parts as marked.",
        number::in_hand(gets.asked, "A"),
        number::in_hand(gets.amps, "A"),
        number::in_hand(gets.volts, "V")
    );
    if gets.volts > TURNED {
        return said;
    }
    format!(
        "{said} Its upper end is named first: between = [\"common\", \"minus\"] draws from a rail under common."
    )
}

/// Below so many volts a load's ends are the wrong way round, V: a dead rail is near zero.
const TURNED: f64 = -1.0;

#[cfg(test)]
mod tests {
    use super::starved;
    use quietrail_study::finding::Gets;

    #[test]
    fn a_load_that_is_turned_round_is_told_from_a_dead_rail() {
        let at = |volts: f64| {
            let gets = Gets {
                asked: 0.25,
                amps: 0.0,
                volts,
            };
            starved("bias", "on", &gets)
        };
        assert!(at(-23.8).contains("named first") && !at(-0.01).contains("named first"));
    }
}
