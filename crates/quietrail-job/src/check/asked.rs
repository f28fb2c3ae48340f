//! Whether what a limit asks of a part is something that such a part has.

use crate::fault::{Fault, Faults};
use crate::read::PartTable;
use crate::read::fields::Fields;
use crate::written::Value;

/// Every statistic is asked of a part that has it.
pub(crate) fn check(limits: &[Fields<'_>], parts: &[PartTable<'_>], faults: &mut Faults) {
    for limit in limits {
        let (Some(what), Some(of)) = (limit.text("what"), limit.value("of")) else {
            continue;
        };
        if what == "mean"
            && let Some(ends) = alternating(of, parts)
        {
            let fault = Fault::NotOf {
                what: "mean",
                of: ends,
                wanted: "a direct voltage",
            };
            faults.of(of, &fault);
        }
        let part = parts.iter().find(|part| Some(part.name) == of.text());
        let Some((wanted, part)) = wanted(what).zip(part) else {
            continue;
        };
        let fits = match wanted.kinds {
            Kinds::These(kinds) => kinds.contains(&part.kind),
            Kinds::WithMean => has_mean(part),
        };
        if !fits {
            let fault = Fault::NotOf {
                what: wanted.what,
                of: part.name.to_owned(),
                wanted: wanted.words,
            };
            faults.of(of, &fault);
        }
    }
}

/// A pair of which both ends are of a winding or of the mains: what stands there goes to and fro, and its mean is nothing however
/// many volts there are.
fn alternating(of: &Value, parts: &[PartTable<'_>]) -> Option<String> {
    let is_winding = |name: &str| {
        let owner = name.split_once('.').map(|(owner, _)| owner);
        let transformers = parts.iter().filter(|part| part.kind == "transformer");
        owner == Some("inlet")
            || transformers
                .map(|part| part.name)
                .any(|one| owner == Some(one))
    };
    let ends: Vec<&str> = of.list()?.iter().filter_map(Value::text).collect();
    (!ends.is_empty() && ends.iter().copied().all(is_winding)).then(|| ends.join(", "))
}

/// What a statistic is asked of.
struct Wanted {
    what: &'static str,
    kinds: Kinds,
    words: &'static str,
}

enum Kinds {
    /// Tables of these names.
    These(&'static [&'static str]),
    /// Parts through which more goes one way than the other.
    WithMean,
}

fn wanted(what: &str) -> Option<Wanted> {
    let these = |what, kinds, words| Wanted {
        what,
        kinds: Kinds::These(kinds),
        words,
    };
    Some(match what {
        "headroom" => these(
            "headroom",
            &["regulator", "transistor"],
            "a regulator or a transistor",
        ),
        "reverse voltage" => these(
            "reverse voltage",
            &["rectifier", "diode"],
            "a rectifier or a diode",
        ),
        "life" => these("life", &["capacitor"], "a capacitor"),
        "temperature" => these(
            "temperature",
            &[
                "regulator",
                "transistor",
                "rectifier",
                "diode",
                "shunt",
                "transformer",
                "sink",
                "capacitor",
            ],
            "a part with a junction, a transformer, a heat sink or a capacitor",
        ),
        "current" => Wanted {
            what: "current",
            kinds: Kinds::WithMean,
            words: "a part with a mean current",
        },
        _ => return None,
    })
}

/// Whether a mean current goes through a part: not through what carries the mains, nor through a capacitor.
fn has_mean(part: &PartTable<'_>) -> bool {
    let alternates = matches!(
        part.kind,
        "transformer" | "variable_transformer" | "lamp" | "capacitor"
    );
    let ends = part.fields.value("between").and_then(|value| value.list());
    let is_of_mains = ends.into_iter().flatten().any(|end| {
        let name = end.text().unwrap_or_default();
        name.starts_with("inlet.") || name.contains(".primary.")
    });
    !alternates && !is_of_mains
}
