//! Chokes and windings with leakage whose current diodes cut off.

use crate::finding::WhyNot;
use crate::lower::{Lowered, cut_off};
use quietrail_job::model::PartKind;
use std::f64::consts::SQRT_2;

/// How many times the crests of all secondaries in series a diode bears at most: those of both halves and of both ends of a reservoir
/// are twice, and a little is left for what a core and a flat mains make of it.
const MOST: f64 = 2.2;

/// Why a voltage which no winding accounts for is not told: the choke, or else the transformer, that makes it. `None` where windings do, or
/// there is none.
///
/// An inductance that diodes cut off rings with what capacitance it finds, and no job gives that of windings and diodes. Without any the
/// circuit has no answer: what little current is left there goes through blocking diodes, at any voltage.
pub(super) fn of(lowered: &Lowered, volts: f64) -> Option<WhyNot> {
    let job = &lowered.job;
    let choke = cut_off(job).next();
    let choke = choke.map(|(part, _)| WhyNot::CutOff(part.to_owned()));
    let leaking = || job.parts().find(|part| leaks(&part.kind));
    let why = choke.or_else(|| Some(WhyNot::LeakageCutOff(leaking()?.name.clone())))?;
    let ratios = job.parts().filter_map(|part| match &part.kind {
        PartKind::Transformer(one) => Some(one),
        _ => None,
    });
    let ratios = ratios.flat_map(|one| &one.secondary);
    let ratio: f64 = ratios
        .map(|one| one.open.nominal() / one.at_primary.nominal())
        .sum();
    let crests = SQRT_2 * job.mains.voltage.value.high * ratio;
    (ratio > 0.0 && volts > MOST * crests).then_some(why)
}

/// Whether a winding has leakage inductance.
fn leaks(kind: &PartKind) -> bool {
    let PartKind::Transformer(one) = kind else {
        return false;
    };
    let mut windings = one.secondary.iter();
    windings.any(|winding| winding.leakage.value.high > 0.0)
}

#[cfg(test)]
mod tests {
    use super::of;
    use crate::finding::WhyNot;
    use crate::heat::Temperatures;
    use crate::lower::{Step, lower};

    const FED: &str = r#"format = 1
[mains]
voltage = "230 V"
frequency = "50 Hz"
[states]
on = "on"
[transformer.T1]
primary = [{ name = "P", volts = "230 V", resistance = "28 Ω" }]
secondary = [{ name = "A", open = "33 V at 230 V", resistance = "1.1 Ω", leakage = "150 µH" }]
[rectifier.D1]
from = "T1.A"
into = "fed"
form = "bridge"
diode = "silicon 3 A"
[inductor.L1]
between = ["fed", "raw"]
value = "120 mH"
resistance = "1.5 Ω"
[capacitor.C2]
at = "raw"
value = "100 µF"
[load.X]
at = "raw"
draws = { on = "100 Ω" }
"#;

    fn why(job: &str, volts: f64) -> Option<WhyNot> {
        let job = quietrail_job::read(job, None).job.expect("a job");
        let warmth = Temperatures::at_rest(&job);
        let lowered = lower(&job, 0, &Step::default(), &[], &warmth).expect("a circuit");
        of(&lowered, volts)
    }

    /// A choke behind a reservoir is never cut off, and a bleeder there mends nothing of what a leakage inductance makes.
    #[test]
    fn a_choke_that_no_diode_cuts_off_is_not_to_blame() {
        let reservoir = "[capacitor.C1]\nat = \"fed\"\nvalue = \"100 µF\"\n";
        let choke = Some(WhyNot::CutOff("L1".to_owned()));
        let leakage = Some(WhyNot::LeakageCutOff("T1".to_owned()));
        assert_eq!(why(FED, 1e4), choke);
        assert_eq!(why(&format!("{FED}{reservoir}"), 1e4), leakage);
        assert_eq!(why(FED, 47.0), None, "a crest");
    }
}
