//! Everything that reports say, in one file so that it can be translated whole.
//!
//! Short, plain, in the trade's words. Functions where grammar bends (1 fails, 2 fail); constants
//! elsewhere.

use quietrail_job::model::What;
use quietrail_study::finding::{Measured, Mostly, Overall, Predicted, WhyNot};
use quietrail_study::noise::Source;
use quietrail_study::prove::Progress;

use crate::number::{self, NO_BREAK};

pub mod acceptance;
pub mod asking;
pub mod bringup;
pub mod captures;
pub mod causes;
pub mod counted;
pub mod descent;
pub mod explain;
pub mod faults;
pub mod footing;
pub mod named;
pub mod readings;
pub mod regulators;
pub mod remarks;
pub mod ringing;
pub mod salvage;
pub mod sidebands;
pub mod transformer;
pub mod translate;

/// First line of an answer: the job, and whose mains practice it goes by.
pub fn heading(title: &str, region: &str) -> String {
    if title.trim().is_empty() {
        return region.to_owned();
    }
    format!("{title}, {region}")
}

/// Heads of the verdict table.
pub const HEAD_VERDICT: &str = "verdict";
/// The limit and its state.
pub const HEAD_LIMIT: &str = "limit, state";
/// The worst value found.
pub const HEAD_WORST: &str = "worst";
/// What the data sheet allows.
pub const HEAD_ALLOWED: &str = "allowed";
/// Distance between the two.
pub const HEAD_MARGIN: &str = "margin";
/// Where the worst was found.
pub const HEAD_CORNER: &str = "worst corner";
/// Single changes that would help.
pub const HEAD_HELP: &str = "what would help";
/// Stands where a figure is absent.
pub const ABSENT: &str = "-";
/// The corner of a worst value that no tolerance moves.
pub const AS_MARKED: &str = "parts as marked, mains nominal";
/// Heads the figures that the job leaves out.
pub const ASSUMED: &str = "Not in the job, taken as default:";

/// A default as it is said: no leakage is none, not so many siemens.
pub fn taken(value: &str) -> &str {
    match value {
        "0\u{a0}S" => "none",
        _ => value,
    }
}
/// A job without any limit or rating.
pub const NO_LIMITS: &str = "No limits and no ratings: nothing to show.";

/// The word for a verdict, as in JSON and sentences.
pub fn overall(verdict: Overall) -> &'static str {
    match verdict {
        Overall::Fails => "fails",
        Overall::NotShown => "not shown",
        Overall::Predicted => "predicted",
        Overall::Holds => "holds",
    }
}

/// The word for a verdict in the first column of a terminal table: a failure is loud without colour.
pub fn overall_in_table(verdict: Overall) -> &'static str {
    if verdict == Overall::Fails {
        "FAILS"
    } else {
        overall(verdict)
    }
}

/// The word for a computed verdict.
pub fn predicted(verdict: &Predicted) -> &'static str {
    match verdict {
        Predicted::Holds => "holds",
        Predicted::Fails => "fails",
        Predicted::NotShown(_) => "not shown",
    }
}

/// The word for what readings say.
pub fn measured(verdict: Measured) -> &'static str {
    match verdict {
        Measured::None => "none",
        Measured::Holds => "holds",
        Measured::Fails => "fails",
        Measured::NotShown => "not shown",
    }
}

/// The word for a statistic, as the job file spells it.
pub fn what(what: What) -> &'static str {
    match what {
        What::Mean => "mean",
        What::Valley => "valley",
        What::Peak => "peak",
        What::Ripple => "ripple",
        What::RipplePeakToPeak => "ripple p-p",
        What::Noise => "noise",
        What::RippleAndNoise => "ripple and noise",
        What::Headroom => "headroom",
        What::Current => "current",
        What::RmsCurrent => "rms current",
        What::PeakCurrent => "peak current",
        What::ReverseVoltage => "reverse voltage",
        What::Power => "power",
        What::Temperature => "temperature",
        What::Life => "life",
        What::Drift => "drift",
        What::Start => "start",
        What::HoldUp => "hold-up",
    }
}

/// Why there is no computed verdict.
pub fn why_not(why: &WhyNot, unit: &str) -> String {
    let hertz = |hertz: f64| number::written(hertz, "Hz");
    match why {
        WhyNot::NotSettled(reason) => format!("did not settle: {reason}"),
        WhyNot::Missing(figure) => format!("the job does not give {figure}"),
        WhyNot::NotComputed => "this statistic is not computed yet".to_owned(),
        WhyNot::ApartFromCommon(node) => {
            format!("no path joins {node} to common; name the pair of nodes that is meant")
        }
        WhyNot::NoiseBeyond {
            figure,
            known,
            wanted,
        } if wanted.0 == wanted.1 => format!(
            "{figure} is known from {} to {} only",
            hertz(known.0),
            hertz(known.1)
        ),
        WhyNot::NoiseBeyond {
            figure,
            known,
            wanted,
        } => {
            let known = format!("{} to {}", hertz(known.0), hertz(known.1));
            let wanted = format!("{} to {}", hertz(wanted.0), hertz(wanted.1));
            format!("{figure} is known from {known}, and the limit counts from {wanted}")
        }
        WhyNot::EndlessNoise { figure } => remarks::endless(figure),
        WhyNot::CutOff(choke) => remarks::cut_off(choke),
        WhyNot::LeakageCutOff(transformer) => remarks::leakage_cut_off(transformer),
        WhyNot::NotFollowed => remarks::NOT_FOLLOWED.to_owned(),
        WhyNot::NeverStarts => "it does not settle within 2 s after switching on".to_owned(),
        WhyNot::LeansOnLoopTime { faster, slower } => format!(
            "leans on the loop time, which no data sheet gives: {} with a tenth of it, {} with ten times",
            number::si(*faster, unit, 3),
            number::si(*slower, unit, 3)
        ),
    }
}

/// What makes noise.
pub fn noise_source(source: &Source) -> String {
    match source {
        Source::Regulator(part) => format!("{part}'s own noise"),
        Source::Reference(part) => format!("{part}'s reference"),
        Source::Divider(part) => format!("{part}'s divider, thermal"),
        Source::Thermal(part) => format!("{part}, thermal"),
        Source::Shot(part) => format!("{part}, shot noise"),
    }
}

/// `mostly U2's own noise, 172 µV rms`
pub fn mostly(mostly: &Mostly) -> String {
    let source = match &mostly.source {
        Some(source) => noise_source(source),
        None => "ripple".to_owned(),
    };
    let rms = number::si(mostly.rms, "V", 3);
    if mostly.share > 0.995 {
        return format!("nearly all of it {source}");
    }
    format!("mostly {source}, {rms} rms")
}

/// What a reading adds to a prediction that says otherwise.
pub fn reading_against(predicted: &Predicted, measured: Measured) -> Option<&'static str> {
    match (predicted, measured) {
        (Predicted::Holds, Measured::Fails) => Some("a reading fails it; the prediction holds"),
        (Predicted::Holds, Measured::NotShown) => {
            Some("the reading does not show it; the prediction holds")
        }
        (Predicted::Fails, Measured::Holds) => Some("the reading holds; the prediction fails"),
        (Predicted::NotShown(_), Measured::Holds) => Some("a reading shows it"),
        (Predicted::NotShown(_), Measured::Fails) => Some("a reading fails it"),
        (_, Measured::None)
        | (Predicted::Holds, Measured::Holds)
        | (Predicted::Fails, Measured::Fails | Measured::NotShown)
        | (Predicted::NotShown(_), Measured::NotShown) => None,
    }
}

/// Before the computed corner, where a reading stands beside it.
pub fn computed_to(predicted: &Predicted) -> &'static str {
    match predicted {
        Predicted::Holds => "computed to hold, worst at",
        Predicted::Fails => "computed to fail, worst at",
        Predicted::NotShown(_) => "not computed",
    }
}

/// `min 11.4 V`, `max 20 mV`, `11.4 .. 12.6 V`.
pub fn allowed(of: What, min: Option<f64>, max: Option<f64>, unit: &str) -> String {
    let said = |value: f64| number::limit(of, value, unit);
    match (min, max) {
        (Some(min), Some(max)) => {
            let (low, high) = (said(min), said(max));
            let shared = high.split_once(NO_BREAK).map_or("", |(_, unit)| unit);
            let low = low
                .strip_suffix(shared)
                .map_or(low.as_str(), |low| low.trim_end_matches(NO_BREAK));
            format!("{low}{NO_BREAK}..{NO_BREAK}{high}")
        }
        (Some(min), None) => format!("min{NO_BREAK}{}", said(min)),
        (None, Some(max)) => format!("max{NO_BREAK}{}", said(max)),
        (None, None) => ABSENT.to_owned(),
    }
}

/// `and 3 more`
pub fn and_more(count: usize) -> String {
    format!("and {count} more")
}

/// What the last segment of an address is called after its part; `None` where the value goes without
/// a name (`C1 −20 %`).
pub fn figure_name(segment: &str) -> Option<String> {
    match segment {
        "value" => None,
        "esr" => Some("ESR".to_owned()),
        "points" => Some("drop".to_owned()),
        other => Some(other.replace(['_', '-'], " ")),
    }
}

/// Whether the last segment of an address is a curve of several points.
pub fn is_curve(segment: &str) -> bool {
    matches!(segment, "points" | "rejection" | "dropout")
}

/// `C1 taken out`
pub fn taken_out(part: &str) -> String {
    format!("{part} taken out")
}

/// `C1 shorted`
pub fn shorted(part: &str) -> String {
    format!("{part} shorted")
}

/// `C1 swapped`
pub fn swapped(part: &str) -> String {
    format!("{part} swapped")
}

/// `low-dropout adjustable 3 A as U1`
pub fn in_place_of(entry: &str, part: &str) -> String {
    format!("{entry} as {part}")
}

/// `D1 from T1 S2`
pub fn fed_from(part: &str, winding: &str) -> String {
    format!("{part} from {}", winding.replace('.', " "))
}

/// `T1 selector at 240 V`
pub fn selector_at(transformer: &str, position: &str) -> String {
    format!("{transformer} selector at {position}")
}

/// `C9 added`
pub fn added(part: &str) -> String {
    format!("{part} added")
}

/// `T1 S2 turned round`
pub fn turned_round(winding: &str) -> String {
    format!("{} turned round", winding.replace('.', " "))
}

/// `C1 3300 → 4700 µF: leaves +110 mV`
pub fn help_leaves(change: &str, margin: &str) -> String {
    format!("{change}: leaves {margin}")
}

/// `try C1 3300 → 4700 µF: leaves +110 mV`, on a line of its own under a row
pub fn try_this(help: &str) -> String {
    format!("try {help}")
}

/// A second or third change that would help, on a line of its own under the first: not needed beside it
pub fn or_this(help: &str) -> String {
    format!("or instead {help}")
}

/// Of changes that help and are not enough, the one that comes closest
pub fn comes_closest(help: &str) -> String {
    format!("no single change tried is enough; closest is {help}")
}

/// What a change costs another limit: `…; D1 peak current +3.2 → +2.1 A`, or that it then fails.
pub fn costs(help: &str, limit: &str, before: &str, after: &str) -> String {
    format!("{help}; {limit} {before} → {after}")
}

/// The same where the other limit then fails.
pub fn costs_a_failure(help: &str, limit: &str, shortfall: &str) -> String {
    format!("{help}; then {limit} fails by {shortfall}")
}

/// First sentence of the headline, for a row that fails by computation.
pub fn fails_by(limit: &str, shortfall: &str) -> String {
    format!("{limit} fails by {shortfall}.")
}

/// First sentences of the headline when nothing fails and something is not shown.
pub fn nothing_fails_but(not_shown: usize, limit: &str, state: &str, why: &str) -> String {
    let are = if not_shown == 1 { "is" } else { "are" };
    format!("Nothing fails, {not_shown} {are} not shown. {limit}, {state}: {why}.")
}

/// First sentence of the headline when nothing fails and all is shown or predicted.
pub fn tightest(limit: &str, margin: &str) -> String {
    format!("Nothing fails. Tightest is {limit}, {margin}.")
}

/// Why a row is not shown although the computation has its verdict.
pub const READING_DOES_NOT_SHOW: &str = "the reading does not show it";

/// `Try C1 4700 µF.`
pub fn try_change(change: &str) -> String {
    format!("Try {change}.")
}

/// `Try C1 4700 µF, though D1 peak current then fails.`
pub fn try_change_though(change: &str, limit: &str) -> String {
    format!("Try {change}, though {limit} then fails.")
}

/// A change that helps and is not enough: `C1 4700 µF alone leaves −120 mV.`
pub fn not_enough(change: &str, margin: &str) -> String {
    format!("{change} alone leaves {margin}.")
}

/// How far a proof has come: one short line.
pub fn progress(progress: Progress<'_>) -> String {
    match progress {
        Progress::Searching { state } => format!("{state}: looking for the worst corners"),
        Progress::Searched { state, corners } => {
            format!("{state}: {corners} corners solved, looking for what would help")
        }
    }
}

/// What the search spent, and what that is worth.
pub fn effort(solutions: u64, corners: u64) -> String {
    let s = |count: u64| if count == 1 { "" } else { "s" };
    format!(
        "Worst found in {solutions} solution{}, {corners} corner{}; worst found is not proven worst.",
        s(solutions),
        s(corners)
    )
}

/// `cold did not settle: …`
pub fn did_not_settle(state: &str, reason: &str) -> String {
    format!("{state} did not settle: {reason}")
}

/// The line that stands above the last one when nothing speaks against the job but some rows have no
/// reading.
pub fn bare(unmeasured: usize, all: usize) -> String {
    format!("predicted, nothing measured: {unmeasured} of {all}")
}

/// The last line, with both halves. Each half adds up to all limits.
pub fn both_halves(count: &crate::verdicts::Counts) -> String {
    let all = count.all();
    let s = if all == 1 { "" } else { "s" };
    let fails = |count: usize| if count == 1 { "fails" } else { "fail" };

    let mut predicted = vec![format!("{} predicted to hold", count.predicted_holds)];
    push(
        &mut predicted,
        count.predicted_fails,
        fails(count.predicted_fails),
    );
    push(&mut predicted, count.predicted_not_shown, "not shown");

    let mut measured = Vec::new();
    let and_hold = if count.measured_holds == 1 {
        "measured and holds"
    } else {
        "measured and hold"
    };
    push(&mut measured, count.measured_holds, and_hold);
    if let Some(held) = measured.last_mut().filter(|_| count.holds_in_part > 0) {
        held.push_str(&not_over_all_mains(
            count.holds_in_part,
            count.measured_holds,
        ));
    }
    let and_fail = if count.measured_fails == 1 {
        "measured and fails"
    } else {
        "measured and fail"
    };
    push(&mut measured, count.measured_fails, and_fail);
    push(
        &mut measured,
        count.measured_not_shown,
        "measured and not shown",
    );
    push(&mut measured, count.unmeasured, "with nothing measured");

    format!(
        "{all} limit{s}: {}; {}",
        predicted.join(", "),
        measured.join(", ")
    )
}

/// ` (2 of them not over all of the mains range)`
fn not_over_all_mains(in_part: usize, all: usize) -> String {
    let which = match (in_part, all) {
        (1, 1) => String::new(),
        (part, all) if part == all => "none of them ".to_owned(),
        (part, _) => format!("{part} of them not "),
    };
    let not = if all == 1 { "not " } else { "" };
    format!(" ({which}{not}over the whole mains range)")
}

fn push(parts: &mut Vec<String>, count: usize, words: &str) {
    if count > 0 {
        parts.push(format!("{count} {words}"));
    }
}

/// `2 errors, 1 warning`
pub fn diagnostics_count(errors: usize, warnings: usize) -> String {
    let mut parts = Vec::new();
    push(
        &mut parts,
        errors,
        if errors == 1 { "error" } else { "errors" },
    );
    push(
        &mut parts,
        warnings,
        if warnings == 1 { "warning" } else { "warnings" },
    );
    parts.join(", ")
}

/// Words around the yield.
pub mod yields {
    /// Shown while samples are solved.
    pub const SAMPLING: &str = "sampling builders";

    /// What was sampled: `Yield, from 256 builders: …`
    pub fn sampled(samples: u64, spread: u64) -> String {
        let likely = match spread {
            0 => "every place as likely".to_owned(),
            1 => "every place as likely, but for 1 figure that crowds around its nominal as the job says".to_owned(),
            _ => format!(
                "every place as likely, but for {spread} figures that crowd around their nominal as the job says"
            ),
        };
        format!(
            "Yield, from {samples} builders: parts and loads anywhere between their ends, {likely}; mains and room where \
             the limits in reach of failing are worst."
        )
    }

    /// Limits of which a sample was worse than the corner found before.
    pub fn promoted(limits: &str) -> String {
        format!(
            "A builder was worse off than the worst corner found; the search went on from there: {limits}."
        )
    }

    /// `Of 100 builders with these parts, 63 (55 .. 71) get a supply that holds everything.`
    pub fn of_a_hundred(count: &str) -> String {
        format!("Of 100 builders with these parts, {count} get a supply that holds everything.")
    }

    /// A share between two ends: `63 (55 .. 71)`
    pub fn between(share: &str, low: &str, high: &str) -> String {
        format!("{share} ({low} .. {high})")
    }

    /// All of the samples, and what as many plain ones would show: `100 (98.8 or more)`
    pub fn all(low: &str) -> String {
        format!("100 ({low} or more)")
    }

    /// None of the samples: `0 (1.2 or fewer)`
    pub fn none(high: &str) -> String {
        format!("0 ({high} or fewer)")
    }

    /// Heads the limits that some builder fails.
    pub const EACH_ALONE: &str =
        "Each limit alone, and what its value depends on, mains and room drawn too:";

    /// `  64 (56 .. 72)  U1 headroom, cold: mains 61 % (55 .. 67), C1 18 % (15 .. 21)`
    pub fn alone(count: &str, limit: &str, state: &str, decides: &str) -> String {
        if decides.is_empty() {
            return format!("{count}  {limit}, {state}");
        }
        format!("{count}  {limit}, {state}: {decides}")
    }

    /// `mains 61 % (55 .. 67)`
    pub fn decides(figure: &str, share: &str, low: &str, high: &str) -> String {
        format!("{figure} {share} % ({low} .. {high})")
    }

    /// Limits that no sample failed.
    pub fn none_failed(samples: u64, limits: &str) -> String {
        format!("None of {samples} fails: {limits}.")
    }

    /// How few of the supplies were solved.
    pub fn told(solved: u64, supplies: u64) -> String {
        format!(
            "Of {supplies} supplies (each builder in each state) {solved} are solved. The others are told by surfaces through \
             those, and solved too wherever that left a limit open."
        )
    }

    /// What the rows out of reach are taken for.
    pub fn taken_to_hold(rows: u64) -> String {
        let rows = if rows == 1 {
            "1 row".to_owned()
        } else {
            format!("{rows} rows")
        };
        format!("Taken to hold, with enough in hand at the worst corner found: {rows}.")
    }

    /// Limits without a verdict.
    pub fn left_out(limits: &str) -> String {
        format!("Not counted, as they are not shown: {limits}.")
    }

    /// Samples that did not settle.
    pub fn unsettled(count: u64) -> String {
        format!("Did not settle, counted as not holding: {count}.")
    }

    /// Nothing to sample.
    pub const OUT_OF_REACH: &str = "Yield: no limit is within reach of failing at the worst corner found, so no sample was taken.";

    /// What the samples spent.
    pub fn effort(solutions: u64) -> String {
        format!(
            "The intervals are 95 %, from 16 scramblings; {solutions} solutions. Samples do not confirm a worst corner."
        )
    }
}

/// Words in the Waves drawing.
pub mod waves {
    use quietrail_study::wave::Current;

    /// `raw, cold`
    pub fn title(node: &str, state: &str) -> String {
        format!("{node}, {state}")
    }

    /// Under the title: `two mains cycles, mains 207 V, 50 Hz`
    pub fn conditions(mains: &str, frequency: &str) -> String {
        format!("two mains cycles, mains {mains}, {frequency}")
    }

    /// Figures of the top row.
    pub const VALLEY: &str = "valley";
    /// Mean of the corner in hand.
    pub const MEAN: &str = "mean";
    /// Highest instant.
    pub const PEAK: &str = "peak";
    /// rms of the alternating part.
    pub const RIPPLE: &str = "ripple, rms";
    /// The curve of the corner in hand.
    pub const THIS_CORNER: &str = "this corner";
    /// The curve that was measured.
    pub const MEASURED: &str = "measured";
    /// Measured less predicted, means taken off.
    pub const APART: &str = "measured less predicted, rms";

    /// `812 mV p-p, mean 21.90 V`
    pub fn measured_size(measured: &quietrail_study::wave::Measured) -> String {
        let peak_to_peak = crate::number::si(measured.peak_to_peak, "V", 3);
        if measured.is_without_dc {
            return format!("{peak_to_peak} p-p, laid at the predicted mean");
        }
        let mean = crate::number::in_hand(measured.mean, "V");
        format!("{peak_to_peak} p-p, mean {mean}")
    }

    /// `mean of 8 cycles`
    pub fn measured_of(measured: &quietrail_study::wave::Measured) -> String {
        match measured.cycles {
            1 => "one cycle, drawn twice".to_owned(),
            count => format!("mean of {count} cycles"),
        }
    }

    /// The measured wave beside the predicted one, in words.
    pub fn laid_over(
        data: &quietrail_study::wave::Waves,
        measured: &quietrail_study::wave::Measured,
    ) -> String {
        use crate::number::{in_hand, si};
        let predicted = data.volts.iter().copied();
        let (low, high) = predicted.fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), v| {
            (low.min(v), high.max(v))
        });
        let mut text = format!(
            "Measured ({}, {}): {} p-p, {} rms locked to the mains, {} rms of the rest; predicted {} p-p, {} rms. The waves differ by {} rms",
            measured.name,
            measured_of(measured),
            si(measured.peak_to_peak, "V", 3),
            si(measured.ripple_rms, "V", 3),
            si(measured.rest_rms, "V", 2),
            si(high - low, "V", 3),
            si(data.ripple_rms, "V", 3),
            si(measured.apart_rms, "V", 2),
        );
        if measured.is_without_dc {
            text.push_str(". It holds no DC, so it is laid at the predicted mean.");
        } else {
            text.push_str(&format!(
                ", means taken off; means {} measured, {} predicted.",
                in_hand(measured.mean, "V"),
                in_hand(data.mean, "V")
            ));
        }
        if let Some(factor) = measured.probe {
            let times = if factor > 1.0 {
                format!("{factor:.0} times as large as")
            } else {
                format!("{:.0} times smaller than", 1.0 / factor)
            };
            text.push_str(&format!(
                " Measured is about {times} predicted: are probe and instrument set to the same factor?"
            ));
        }
        text
    }

    /// Why a capture is not laid over.
    pub fn not_laid_over(why: quietrail_study::waves::NoOverlay) -> &'static str {
        use quietrail_study::waves::NoOverlay;
        match why {
            NoOverlay::LessThanACycle => {
                "holds less than one cycle of the mains, so that nobody can tell where it belongs; record 40 ms or more"
            }
            NoOverlay::Gaps => "has too few samples in a cycle to be laid over",
        }
    }

    /// The curve of a worse corner: `worst for U1`, or the node's own lowest.
    pub fn worse(part: Option<&str>) -> String {
        part.map_or_else(
            || "lowest found".to_owned(),
            |part| format!("worst for {part}"),
        )
    }

    /// `headroom of U1 here`
    pub fn headroom_here(part: &str) -> String {
        format!("headroom of {part} here")
    }

    /// `at worst`
    pub const AT_WORST: &str = "at the worst corner";

    /// `D1 conducts, 73°`
    pub fn conducts(part: &str, degrees: &str) -> String {
        if part.is_empty() {
            format!("conducts, {degrees}")
        } else {
            format!("{part} conducts, {degrees}")
        }
    }

    /// `U1 needs 13.00 V`
    pub fn needs(part: &str, volts: &str) -> String {
        format!("{part} needs {volts}")
    }

    /// `U1 needs 13.72 V at worst`
    pub fn needs_at_worst(part: &str, volts: &str) -> String {
        format!("{part} needs {volts} at worst")
    }

    /// `D1 current`
    pub fn current(of: &Current) -> String {
        let half = if of.is_lower { LOWER } else { "" };
        format!("{} current{half}", of.part)
    }

    /// The diodes of a split rectifier that lead to its end under common.
    pub const LOWER: &str = ", lower half";

    /// `peak 3.52 A`
    pub fn peak(amps: &str) -> String {
        format!("peak {amps}")
    }

    /// `1.55 A rms`
    pub fn rms(amps: &str) -> String {
        format!("{amps} rms")
    }

    /// `valley 14.65 V`
    pub fn valley(volts: &str) -> String {
        format!("valley {volts}")
    }

    /// `worst for U1: dips 380 mV`
    pub fn dips(part: Option<&str>, volts: &str) -> String {
        format!("{}: dips {volts}", worse(part))
    }

    /// `worst for U1: 11.60 V`
    pub fn lowest(part: Option<&str>, volts: &str) -> String {
        format!("{}: {volts}", worse(part))
    }

    /// `raw max 22 V`, with the side on which the limit lies out of the picture.
    pub fn limit(name: &str, is_max: bool, volts: &str) -> String {
        let side = if is_max { "max" } else { "min" };
        format!("{name}, {side} {volts}")
    }

    /// A level that lies outside the drawing: `↓ U2 needs 5.00 V`.
    pub fn outside(above: bool, words: &str) -> String {
        format!("{} {words}", if above { '↑' } else { '↓' })
    }

    /// No curve to draw.
    pub fn not_shown(node: &str) -> String {
        format!("{node} is not shown: there is no settled solution to draw.")
    }

    /// The verdict sentence for those who do not see the drawing.
    pub fn description(node: &str, state: &str, mains: &str, valley: &str, peak: &str) -> String {
        format!("{node} in state {state} at {mains} mains runs from {valley} to {peak}.")
    }

    /// Its second part: `U1 needs 13.00 V: headroom +1650 mV here, −380 mV at the worst corner found.`
    pub fn description_need(part: &str, needs: &str, here: &str, worst: &str) -> String {
        format!("{part} needs {needs}: headroom {here} here, {worst} at the worst corner found.")
    }
}

/// Under a table that shows each limit in its worst state only.
pub(crate) fn folded(rows: usize) -> String {
    let rows = if rows == 1 {
        "1 more row".to_owned()
    } else {
        format!("{rows} more rows")
    };
    format!("Each limit stands in its worst state; --all shows the others, {rows}.")
}

/// Said of a failing limit that an average would pass.
pub(crate) fn holds_as_marked(inside: &str) -> String {
    format!("With parts as marked at nominal mains it has {inside} in hand.")
}
