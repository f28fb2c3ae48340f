//! The sections of a job: rectified nodes, what feeds them, and the rails that hang on each.

use super::stage::Source;
use super::{LoadEnd, Rail, Section};
use quietrail_job::model::{
    Between, Job, JoinTerm, Part, PartKind, Rectifier, RectifierForm, SetPoint, Subject,
    Transformer, Transistor, What,
};

/// All sections, in the order of the file. A split rectifier makes two.
pub fn sections(job: &Job) -> Vec<Section> {
    let mut all = Vec::new();
    for part in &job.parts {
        let PartKind::Rectifier(rectifier) = &part.kind else {
            continue;
        };
        all.push(section(
            job,
            &part.name,
            rectifier,
            &rectifier.into,
            &rectifier.ret,
        ));
        if let RectifierForm::Split { negative } = &rectifier.form {
            all.push(section(
                job,
                &part.name,
                rectifier,
                &rectifier.ret,
                negative,
            ));
        }
    }
    all
}

fn section(job: &Job, name: &str, rectifier: &Rectifier, plus: &str, minus: &str) -> Section {
    let centre = match &rectifier.form {
        RectifierForm::CentreTap | RectifierForm::Split { .. } => {
            Some(tap_of(job, &rectifier.from).unwrap_or_else(|| "centre".to_owned()))
        }
        _ => None,
    };
    let share = match &rectifier.form {
        RectifierForm::Doubler { .. } | RectifierForm::CascadeDoubler { .. } => 2.0,
        RectifierForm::CentreTap | RectifierForm::Split { .. } => 0.5,
        RectifierForm::Bridge | RectifierForm::HalfWave => 1.0,
    };
    let transformer = rectifier.from.split_once('.').map(|(part, _)| part);
    let transformer = transformer.filter(|part| {
        matches!(
            job.part(part).map(|part| &part.kind),
            Some(PartKind::Transformer(_))
        )
    });
    // What lies under common is a section by itself, whichever way its rectifier is written.
    let is_split = plus == rectifier.ret && minus != rectifier.ret;
    let negative = is_split || plus == "common";
    Section {
        rectifier: name.to_owned(),
        form: rectifier.form.clone(),
        feeds: rectifier.from.clone(),
        transformer: transformer.map(str::to_owned),
        ratio: ratio(job, &rectifier.from).unwrap_or(1.0),
        share,
        node: plus.to_owned(),
        ret: minus.to_owned(),
        centre,
        fuses: fuses(job, transformer),
        reservoirs: reservoirs(job, &rectifier.form, plus, minus),
        bleeders: bleeders(job, plus, minus),
        rails: rails(job, plus, minus, negative),
    }
}

fn tap_of(job: &Job, from: &str) -> Option<String> {
    let (transformer, winding) = from.split_once('.')?;
    let PartKind::Transformer(transformer) = &job.part(transformer)?.kind else {
        return None;
    };
    let winding = transformer
        .secondary
        .iter()
        .find(|known| known.name == winding)?;
    winding.taps.first().map(|tap| tap.name.clone())
}

/// Off-load volts of a winding or join for one volt on the primary.
pub(super) fn ratio(job: &Job, feeds: &str) -> Option<f64> {
    let (transformer, winding) = feeds.split_once('.')?;
    let PartKind::Transformer(transformer) = &job.part(transformer)?.kind else {
        return None;
    };
    let join = transformer.joins.iter().find(|join| join.name == winding);
    match join {
        Some(join) => of_term(transformer, &join.term),
        None => of_winding(transformer, winding),
    }
}

/// The set point of a regulator.
pub(super) fn set_point<'a>(job: &'a Job, part: &str) -> Option<&'a SetPoint> {
    match &job.part(part)?.kind {
        PartKind::Regulator(regulator) => Some(&regulator.set),
        _ => None,
    }
}

fn of_winding(transformer: &Transformer, name: &str) -> Option<f64> {
    let winding = transformer
        .secondary
        .iter()
        .find(|winding| winding.name == name)?;
    let sign = if winding.reversed { -1.0 } else { 1.0 };
    Some(sign * winding.open.nominal() / winding.at_primary.nominal())
}

fn of_term(transformer: &Transformer, term: &JoinTerm) -> Option<f64> {
    match term {
        JoinTerm::Winding { name, reversed } => {
            let ratio = of_winding(transformer, name)?;
            Some(if *reversed { -ratio } else { ratio })
        }
        JoinTerm::Series(terms) => terms.iter().map(|term| of_term(transformer, term)).sum(),
        JoinTerm::Parallel(terms) => of_term(transformer, terms.first()?),
    }
}

/// Rails on a rectified node: regulators in the order in which they are fed, then loads straight on it.
fn rails(job: &Job, plus: &str, minus: &str, negative: bool) -> Vec<Rail> {
    let mut rails: Vec<Rail> = Vec::new();
    let source = |nodes: Vec<String>, ret: &str, is_negative: bool| Source {
        fed_by: None,
        nodes,
        ret: ret.to_owned(),
        is_negative,
    };
    let mut sources = vec![source(reach(job, (plus, minus), false), minus, false)];
    if negative {
        sources.push(source(reach(job, (minus, plus), true), plus, true));
    }
    let mut next = 0;
    while next < sources.len() {
        let source = sources[next].clone();
        next += 1;
        for part in &job.parts {
            let (from, into, ret) = match &part.kind {
                PartKind::Regulator(one) => {
                    (one.from.as_str(), one.into.as_str(), one.ret.as_str())
                }
                PartKind::Transistor(one) if !is_driven(job, &one.base) => {
                    let (from, into) = along(one, negative);
                    (from, into, if negative { plus } else { minus })
                }
                _ => continue,
            };
            let is_new = rails
                .iter()
                .all(|rail| rail.regulator.as_ref() != Some(&part.name));
            let is_negative = match &part.kind {
                PartKind::Regulator(one) => one.is_negative(),
                _ => negative,
            };
            // From common on nothing is fed under common by a transistor.
            if negative && from == plus && !matches!(part.kind, PartKind::Regulator(_)) {
                continue;
            }
            let belongs = !negative
                || if is_negative {
                    ret == plus
                } else {
                    ret == minus
                };
            let is_fed = belongs && source.nodes.iter().any(|node| node == from);
            if !is_new || !is_fed {
                continue;
            }
            let outputs = reach(job, (into, ret), is_negative);
            let loads = loads(job, (&outputs, ret), is_negative);
            let follows = matches!(part.kind, PartKind::Transistor(_));
            // A transistor that feeds neither a load nor a regulator is part of something else.
            if follows && loads.is_empty() && !feeds_regulator(job, &outputs) {
                continue;
            }
            let (upper, lower) = if is_negative {
                (ret, into)
            } else {
                (into, ret)
            };
            let fed_by = source.stage(job, &mut rails, from);
            rails.push(Rail {
                regulator: Some(part.name.clone()),
                follows,
                through: Vec::new(),
                fed_by,
                is_negative,
                from: from.to_owned(),
                node: into.to_owned(),
                ret: ret.to_owned(),
                capacitors: capacitors(job, upper, lower),
                bleeders: bleeders(job, upper, lower),
                loads,
            });
            sources.push(Source {
                fed_by: Some(rails.len() - 1),
                nodes: outputs,
                ret: ret.to_owned(),
                is_negative,
            });
        }
    }
    sources[usize::from(negative)].direct(job, &mut rails);
    rails
}

/// Whether a regulator takes from one of these nodes.
fn feeds_regulator(job: &Job, nodes: &[String]) -> bool {
    job.parts()
        .any(|part| matches!(&part.kind, PartKind::Regulator(one) if nodes.contains(&one.from)))
}

/// Whether a regulator drives a base.
fn is_driven(job: &Job, base: &str) -> bool {
    let drives = |part: &Part| matches!(&part.kind, PartKind::Regulator(one) if one.into == base);
    job.parts().any(drives)
}

/// Where a transistor takes from and where it gives to. Under common its current runs the other way.
fn along(transistor: &Transistor, is_negative: bool) -> (&str, &str) {
    let (enters, leaves) = transistor.ends();
    if is_negative {
        (leaves, enters)
    } else {
        (enters, leaves)
    }
}

/// Nodes that direct current reaches from one without passing a regulator or the return.
fn reach(job: &Job, (from, ret): (&str, &str), is_negative: bool) -> Vec<String> {
    let mut nodes = vec![from.to_owned()];
    let mut next = 0;
    while next < nodes.len() {
        let here = nodes[next].clone();
        next += 1;
        for part in &job.parts {
            let Some((plus, minus)) =
                passes(part).or_else(|| follows(job, part, &here, is_negative))
            else {
                continue;
            };
            let one_way = matches!(part.kind, PartKind::Diode(_) | PartKind::Transistor(_));
            // Under common what leads on leads against the arrow of a diode.
            let against = is_negative && matches!(part.kind, PartKind::Diode(_));
            let there = if plus == here && !against {
                minus
            } else if minus == here && (!one_way || against) {
                plus
            } else {
                continue;
            };
            let is_end = there == "common" || there == ret || there.starts_with("inlet.");
            if !is_end
                && !nodes.iter().any(|node| node == there)
                && !is_return(job, there, is_negative)
            {
                nodes.push(there.to_owned());
            }
        }
    }
    nodes
}

/// Whether a node is what some part returns to: the far end of a load.
fn is_return(job: &Job, node: &str, is_negative: bool) -> bool {
    job.parts.iter().any(|part| match &part.kind {
        PartKind::Load(load) if is_negative => load.between.plus == node,
        PartKind::Load(load) => load.between.minus == node,
        PartKind::Regulator(regulator) => regulator.ret == node,
        PartKind::Rectifier(rectifier) if is_negative => rectifier.into == node,
        PartKind::Rectifier(rectifier) => rectifier.ret == node,
        _ => false,
    })
}

/// Where a transistor leads to from its base, where a regulator drives it; else it makes a rail of its own.
fn follows<'a>(
    job: &'a Job,
    part: &'a Part,
    here: &str,
    is_negative: bool,
) -> Option<(&'a str, &'a str)> {
    let PartKind::Transistor(transistor) = &part.kind else {
        return None;
    };
    let (_, into) = along(transistor, is_negative);
    let leads = here == transistor.base && is_driven(job, &transistor.base);
    leads.then_some((transistor.base.as_str(), into))
}

pub(super) fn passes(part: &Part) -> Option<(&str, &str)> {
    let through = match &part.kind {
        PartKind::Resistor(_)
        | PartKind::Inductor(_)
        | PartKind::Wire(_)
        | PartKind::Fuse(_)
        | PartKind::Diode(_) => true,
        PartKind::Switch(switch) => switch.closed,
        _ => false,
    };
    let between = part.kind.between().filter(|_| through)?;
    Some((&between.plus, &between.minus))
}

/// Capacitors that a rectifier fills: those across it, and the two halves of a doubler, which are in series across it.
fn reservoirs(job: &Job, form: &RectifierForm, plus: &str, minus: &str) -> Vec<String> {
    let mut all = capacitors(job, plus, minus);
    if let RectifierForm::Doubler { middle } = form {
        all.extend(capacitors(job, plus, middle));
        all.extend(capacitors(job, middle, minus));
    }
    all
}

pub(super) fn capacitors(job: &Job, plus: &str, minus: &str) -> Vec<String> {
    let across = job.parts.iter().filter(|part| match &part.kind {
        PartKind::Capacitor(capacitor) => {
            capacitor.between.plus == plus && capacitor.between.minus == minus
        }
        _ => false,
    });
    across.map(|part| part.name.clone()).collect()
}

pub(super) fn bleeders(job: &Job, plus: &str, minus: &str) -> Vec<String> {
    let across = job.parts.iter().filter(|part| match &part.kind {
        PartKind::Resistor(resistor) => {
            resistor.between.plus == plus && resistor.between.minus == minus
        }
        _ => false,
    });
    across.map(|part| part.name.clone()).collect()
}

/// Fuses and switches that reach a transformer's primary or the outlet.
fn fuses(job: &Job, transformer: Option<&str>) -> Vec<String> {
    let primary = transformer.map(|name| format!("{name}.primary."));
    let is_before = |node: &str| {
        let is_primary = primary
            .as_deref()
            .is_some_and(|start| node.starts_with(start));
        is_primary || node.starts_with("inlet.")
    };
    let before = job.parts.iter().filter(|part| {
        let is_one = matches!(part.kind, PartKind::Fuse(_) | PartKind::Switch(_));
        let ends = part.kind.between();
        is_one && ends.is_some_and(|ends| is_before(&ends.plus) || is_before(&ends.minus))
    });
    before.map(|part| part.name.clone()).collect()
}

/// Loads with their upper end on one of these nodes, or of a rail under its return with their lower end. One that hangs between two
/// rails ends on each at that rail's own level: what it has across itself is the sum of both, and belongs to neither.
pub(super) fn loads(job: &Job, (nodes, ret): (&[String], &str), is_negative: bool) -> Vec<LoadEnd> {
    let on = job.parts.iter().filter_map(|part| match &part.kind {
        PartKind::Load(load) => Some((part, &load.between)),
        _ => None,
    });
    let is_on = |(_, between): &(_, &Between)| {
        nodes.contains(if is_negative {
            &between.minus
        } else {
            &between.plus
        })
    };
    on.filter(is_on)
        .map(|(part, between)| {
            let (plus, minus) = (&between.plus, &between.minus);
            let (upper, lower) = match is_negative {
                true if is_rail(job, plus) => (ret, minus.as_str()),
                false if is_rail(job, minus) => (plus.as_str(), ret),
                _ => (plus.as_str(), minus.as_str()),
            };
            let ends = (upper.to_owned(), lower.to_owned());
            LoadEnd {
                part: part.name.clone(),
                window: window(job, &part.name, &ends),
                ends,
            }
        })
        .collect()
}

/// Whether a node has volts of its own: that of a regulator's output, or of a rectifier's.
fn is_rail(job: &Job, node: &str) -> bool {
    job.parts().any(|part| match &part.kind {
        PartKind::Regulator(one) => {
            let outputs = reach(job, (&one.into, &one.ret), one.is_negative());
            outputs.iter().any(|output| output == node)
        }
        PartKind::Rectifier(one) => {
            let is_lower =
                matches!(&one.form, RectifierForm::Split { negative } if negative == node);
            is_lower || (one.into == node && node != "common")
        }
        _ => false,
    })
}

/// The narrowest window that limits on instants give a load.
fn window(job: &Job, part: &str, ends: &(String, String)) -> (Option<f64>, Option<f64>) {
    let is_about = |of: &Subject| match of {
        Subject::Node(node) => *node == ends.0,
        Subject::Pair(plus, minus) => (plus, minus) == (&ends.0, &ends.1),
        Subject::Part(name) => name == part,
    };
    let asked = |what: What| job.limits.iter().filter(move |limit| limit.what == what);
    // Of a rail under common a limit on its node is about levels below zero: the highest instant is its least amount.
    let is_under = |of: &Subject| ends.0 == "common" && *of == Subject::Node(ends.1.clone());
    let low = asked(What::Valley)
        .filter(|limit| is_about(&limit.of))
        .filter_map(|limit| limit.min);
    let low_under = asked(What::Peak)
        .filter(|limit| is_under(&limit.of))
        .filter_map(|limit| limit.max.map(|volts| -volts));
    let high = asked(What::Peak)
        .filter(|limit| is_about(&limit.of))
        .filter_map(|limit| limit.max);
    let high_under = asked(What::Valley)
        .filter(|limit| is_under(&limit.of))
        .filter_map(|limit| limit.min.map(|volts| -volts));
    (
        low.chain(low_under).reduce(f64::max),
        high.chain(high_under).reduce(f64::min),
    )
}

#[cfg(test)]
mod tests {
    use super::sections;

    const JOB: &str = r#"
format = 1
[mains]
voltage = "230 V"
frequency = "50 Hz"
[states]
on = "working"
[transformer.T1]
primary = [{ name = "P", volts = "230 V", resistance = "30 Ω" }]
secondary = [{ name = "S", open = "20 V at 230 V", resistance = "0.5 Ω" }]
[rectifier.D1]
from = "T1.S"
into = "raw"
form = "bridge"
diode = "silicon 3 A"
[capacitor.C1]
at = "raw"
value = "4700 µF"
esr = "50 mΩ"
[resistor.R1]
between = ["raw", "base"]
value = "100R"
[capacitor.C2]
at = "base"
value = "470 µF"
esr = "0.2 Ω"
[transistor.Q1]
collector = "raw"
base = "base"
emitter = "amp"
gain = "100"
base_emitter = ["0.7 V at 100 mA"]
saturation = "0.3 V at 300 mA"
[load.amplifier]
at = "amp"
draws = { on = "100 mA" }
[resistor.R3]
between = ["raw", "low"]
value = "470R"
[shunt.Z1]
at = "low"
fixed = "9.1 V"
resistance = "5 Ω"
[load.clock]
at = "low"
draws = { on = "10 mA" }
[load.lamp]
at = "raw"
draws = { on = "50 mA" }
"#;

    /// A capacitance multiplier makes a rail of its own, so does a shunt behind its resistor, and only the lamp sits on the
    /// rectified node.
    #[test]
    fn rails_behind_a_transistor_and_behind_a_shunt_are_found() {
        let reading = quietrail_job::read(JOB, None);
        let job = reading
            .job
            .unwrap_or_else(|| panic!("{:#?}", reading.diagnostics));
        let section = &sections(&job)[0];
        let rails: Vec<_> = section
            .rails
            .iter()
            .map(|rail| {
                let loads: Vec<&str> = rail.loads.iter().map(|load| load.part.as_str()).collect();
                (
                    rail.regulator.as_deref(),
                    rail.follows,
                    rail.node.as_str(),
                    loads,
                )
            })
            .collect();
        let expected = vec![
            (Some("Q1"), true, "amp", vec!["amplifier"]),
            (None, false, "raw", vec!["lamp"]),
            (None, false, "low", vec!["clock"]),
        ];
        assert_eq!(rails, expected);
        let low = &section.rails[2];
        assert_eq!(
            (low.through.as_slice(), low.bleeders.as_slice()),
            (&["R3".to_owned()][..], &["Z1".to_owned()][..])
        );
        assert!(low.has_own_node() && !section.rails[1].has_own_node());
    }

    /// The same multiplier under common, of the other polarity: from a reservoir written from common down, and from the lower one of a
    /// split rectifier.
    #[test]
    fn a_follower_under_common_is_a_rail_too() {
        let under = [
            ("into = \"raw\"", "into = \"common\"\nreturn = \"raw\""),
            (
                "[capacitor.C1]\nat = \"raw\"",
                "[capacitor.C1]\nbetween = [\"common\", \"raw\"]",
            ),
            (
                "[capacitor.C2]\nat = \"base\"",
                "[capacitor.C2]\nbetween = [\"common\", \"base\"]",
            ),
            ("[transistor.Q1]", "[transistor.Q1]\nkind = \"pnp\""),
            (
                "[load.amplifier]\nat = \"amp\"",
                "[load.amplifier]\nbetween = [\"common\", \"amp\"]",
            ),
            (
                "[shunt.Z1]\nat = \"low\"",
                "[shunt.Z1]\nbetween = [\"common\", \"low\"]",
            ),
            (
                "[load.clock]\nat = \"low\"",
                "[load.clock]\nbetween = [\"common\", \"low\"]",
            ),
            (
                "[load.lamp]\nat = \"raw\"",
                "[load.lamp]\nbetween = [\"common\", \"raw\"]",
            ),
        ];
        let text = under.iter().fold(JOB.to_owned(), |text, (from, to)| {
            assert!(text.contains(from), "{from}");
            text.replace(from, to)
        });
        let split = text
            .replace(
                "secondary = [{ name = \"S\", open = \"20 V at 230 V\", resistance = \"0.5 Ω\" }]",
                "secondary = [{ name = \"S\", open = \"40 V at 230 V\", resistance = \"1 Ω\", taps = { tap = \"0.5\" } }]",
            )
            .replace(
                "into = \"common\"\nreturn = \"raw\"\nform = \"bridge\"",
                "into = \"plus\"\nnegative = \"raw\"\nform = \"split\"",
            );
        let split =
            format!("{split}[capacitor.C9]\nat = \"plus\"\nvalue = \"10 µF\"\nesr = \"1 Ω\"\n");
        for (text, at) in [(text, 0), (split, 1)] {
            let reading = quietrail_job::read(&text, None);
            let job = reading
                .job
                .unwrap_or_else(|| panic!("{:#?}", reading.diagnostics));
            let section = &sections(&job)[at];
            let rail = section.rails.first().expect("a rail");
            assert_eq!(
                (rail.regulator.as_deref(), rail.follows, rail.is_negative),
                (Some("Q1"), true, true)
            );
            assert_eq!(
                (rail.from.as_str(), rail.output()),
                ("raw", ("common", "amp"))
            );
            assert_eq!(rail.loads[0].part, "amplifier");
        }
    }

    /// A multiplier before a regulator makes a rail of its own, and the regulator's hangs on it: the picture ended at the reservoir.
    #[test]
    fn a_regulator_behind_a_multiplier_is_a_rail() {
        let regulator = "[regulator.U1]\nfrom = \"amp\"\ninto = \"osc\"\nset = { fixed = \"12 V\" }\n\
            dropout = [\"1 V at 1 A\"]\nrejection = [\"60 dB at 100 Hz\"]\nlimit = \"1 A\"\n\
            [load.osc]\nat = \"osc\"\ndraws = { on = \"60 mA\" }\n";
        let multiplier = &JOB[..JOB.find("[load.").expect("it has a load")];
        let reading = quietrail_job::read(&format!("{multiplier}{regulator}"), None);
        let job = reading
            .job
            .unwrap_or_else(|| panic!("{:#?}", reading.diagnostics));
        let rails = sections(&job).remove(0).rails;
        let told: Vec<_> = rails
            .iter()
            .map(|rail| (rail.regulator.as_deref(), rail.fed_by))
            .collect();
        assert_eq!(told, [(Some("Q1"), None), (Some("U1"), Some(0))]);
    }

    /// A bias rail: half-wave under common, a resistor, a shunt, and what draws from it.
    #[test]
    fn a_load_straight_under_common_is_a_rail() {
        let reservoir = "[capacitor.C1]\nbetween = [\"common\", \"neg\"]\nvalue = \"470 µF\"\nesr = \"0.1 Ω\"\n\
            [resistor.R1]\nbetween = [\"neg\", \"bias\"]\nvalue = \"330R\"\n\
            [shunt.Z1]\nbetween = [\"common\", \"bias\"]\nfixed = \"15 V\"\nresistance = \"14 Ω\"\n\
            [load.stage]\nbetween = [\"common\", \"bias\"]\ndraws = { on = \"10 mA\" }\n";
        let head = &JOB[..JOB.find("[rectifier.").expect("it has a rectifier")];
        let rectifier = "[rectifier.D1]\nfrom = \"T1.S\"\ninto = \"common\"\nreturn = \"neg\"\nform = \"half-wave\"\ndiode = \"silicon 1 A\"\n";
        let reading = quietrail_job::read(&format!("{head}{rectifier}{reservoir}"), None);
        let job = reading
            .job
            .unwrap_or_else(|| panic!("{:#?}", reading.diagnostics));
        let rails = sections(&job).remove(0).rails;
        assert_eq!(rails.len(), 1, "{rails:#?}");
        let rail = &rails[0];
        assert_eq!(
            (rail.from.as_str(), rail.output()),
            ("neg", ("common", "bias"))
        );
        assert_eq!(
            (&rail.through, &rail.bleeders),
            (&vec!["R1".to_owned()], &vec!["Z1".to_owned()])
        );
        assert_eq!(rail.loads[0].ends, ("common".to_owned(), "bias".to_owned()));
    }
}
