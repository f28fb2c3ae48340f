//! Addresses and changes on the whole example.

use crate::model::{Job, PartKind};
use crate::{Address, Change, ChangeError, read};
use proptest::prelude::{Strategy, prop};
use proptest::{prop_assert, prop_assert_eq, proptest};

fn example() -> Job {
    let text = include_str!("../../cases/whole-example.toml");
    read(text, None).job.expect("the example has a meaning")
}

fn set(address: &str, value: f64) -> Change {
    Change::Set {
        address: Address(address.to_owned()),
        value,
    }
}

#[test]
fn every_address_is_there_once_and_finds_its_figure() {
    let job = example();
    let parameters = job.parameters();
    for (index, parameter) in parameters.iter().enumerate() {
        let address = &parameter.address;
        assert!(
            !parameters[index + 1..]
                .iter()
                .any(|other| other.address == *address),
            "{address}"
        );
        assert!(parameter.low <= parameter.nominal && parameter.nominal <= parameter.high);
        let same = job
            .with(&[set(&address.0, parameter.nominal)])
            .expect("its own value fits");
        assert_eq!(
            same.parameters()[index].nominal,
            parameter.nominal,
            "{address}"
        );
    }
}

#[test]
fn the_addresses_of_the_contract_are_there() {
    let parameters = example().parameters();
    let wanted = [
        "C1.value",
        "C1.esr",
        "T1.S1.resistance",
        "T1.S1.open",
        "T1.P1.resistance",
        "T1.no_load",
        "mains.voltage",
        "mains.frequency",
        "mains.flatness",
        "load.oven.cold",
        "room",
        "box.rise",
        "U1.set.upper",
        "U1.set.reference",
        "U1.dropout.1",
        "U1.rejection.1",
        "D1.points.1",
        "SK1.to_air",
    ];
    for address in wanted {
        assert!(
            parameters
                .iter()
                .any(|parameter| parameter.address.0 == address),
            "{address}"
        );
    }
}

#[test]
fn changes_that_cannot_be_made_say_why() {
    let job = example();
    let unknown = job
        .with(&[set("C1.vlaue", 1.0)])
        .expect_err("no such address");
    let nearest = Some("C1.value".to_owned());
    assert_eq!(
        unknown,
        ChangeError::UnknownAddress {
            address: "C1.vlaue".to_owned(),
            nearest
        }
    );
    for (address, value) in [
        ("C1.value", 0.0),
        ("C1.esr", -0.1),
        ("mains.flatness", 0.2),
        ("room", f64::NAN),
    ] {
        let error = job.with(&[set(address, value)]).expect_err("out of bounds");
        assert!(matches!(error, ChangeError::Impossible { .. }), "{address}");
    }
    let part = job
        .with(&[Change::Open("C9".to_owned())])
        .expect_err("no such part");
    assert!(matches!(
        part,
        ChangeError::UnknownPart {
            nearest: Some(_),
            ..
        }
    ));
    let winding = job
        .with(&[Change::Reverse("T1.S9".to_owned())])
        .expect_err("no such winding");
    assert!(matches!(
        winding,
        ChangeError::UnknownPart {
            nearest: Some(_),
            ..
        }
    ));
}

#[test]
fn the_first_impossible_change_is_the_one_named() {
    let changes = [set("C1.esr", -1.0), set("nothing", 1.0)];
    let error = example()
        .with(&changes)
        .expect_err("two impossible changes");
    assert!(matches!(error, ChangeError::Impossible { address, .. } if address == "C1.esr"));
}

#[test]
fn later_changes_win_and_turning_twice_is_not_turning() {
    let job = example();
    let changed = job
        .with(&[set("C1.value", 1e-3), set("C1.value", 2e-3)])
        .expect("both fit");
    let PartKind::Capacitor(capacitor) = &changed.part("C1").expect("C1").kind else {
        panic!("C1 is a capacitor");
    };
    assert_eq!(capacitor.value.nominal(), 2e-3);
    assert!(
        (capacitor.value.value.low - 1.6e-3).abs() < 1e-12,
        "the tolerance went along"
    );
    let turn = Change::Reverse("T1.S2".to_owned());
    assert_ne!(job.with(std::slice::from_ref(&turn)).expect("S2"), job);
    assert_eq!(job.with(&[turn.clone(), turn]).expect("S2"), job);
}

proptest! {
    #[test]
    fn what_is_set_is_what_is_read(
        picks in prop::collection::vec((0_usize..200, (-6.0_f64..6.0).prop_map(f64::exp)), 1..6)
    ) {
        let job = example();
        let parameters = job.parameters();
        let picks: Vec<_> =
            picks.into_iter().map(|(index, factor)| (index % parameters.len(), factor)).collect();
        let changes: Vec<Change> = picks
            .iter()
            .map(|(index, factor)| set(&parameters[*index].address.0, parameters[*index].nominal * factor))
            .collect();
        // A flatness beyond 1/9 is refused; all else only has a sign to keep.
        let Ok(changed) = job.with(&changes) else {
            prop_assert!(picks.iter().any(|(index, _)| parameters[*index].address.0 == "mains.flatness"));
            return Ok(());
        };
        let after = changed.parameters();
        for (position, (index, factor)) in picks.iter().enumerate() {
            let is_last = !picks[position + 1..].iter().any(|(later, _)| later == index);
            let parameter = &after[*index];
            if is_last {
                prop_assert_eq!(parameter.nominal, parameters[*index].nominal * factor);
            }
            prop_assert!(parameter.low <= parameter.nominal && parameter.nominal <= parameter.high);
        }
        let untouched = |index: &usize| !picks.iter().any(|(picked, _)| picked == index);
        for index in (0..parameters.len()).filter(untouched) {
            prop_assert_eq!(&after[index], &parameters[index]);
        }
    }
}

#[test]
fn parts_are_swapped_and_inserted_before_figures_are_set() {
    let job = example();
    let mut larger = job.part("C1").expect("the example has C1").clone();
    let PartKind::Capacitor(capacitor) = &mut larger.kind else {
        panic!("C1 is a capacitor")
    };
    capacitor.value.value.nominal = 6800e-6;
    larger.name = "from the drawer".to_owned();
    let swap = Change::Swap {
        part: "C1".to_owned(),
        with: Box::new(larger.clone()),
    };
    let insert = Change::Insert(Box::new(larger));
    let changed = job
        .with(&[set("C1.esr", 0.02), swap, insert.clone()])
        .expect("all can be made");
    let value = |name: &str, key: &str| {
        let address = format!("{name}.{key}");
        let parameters = changed.parameters();
        let found = parameters.iter().find(|p| p.address.0 == address);
        found.expect("such a figure").nominal
    };
    assert_eq!(value("C1", "value"), 6800e-6);
    assert_eq!(value("C1", "esr"), 0.02);
    assert_eq!(value("from the drawer", "value"), 6800e-6);
    let again = changed.with(std::slice::from_ref(&insert));
    assert!(matches!(again, Err(ChangeError::NameTaken { .. })));
}

/// A tolerance moves with a value below zero, and no change takes a regulator across it.
#[test]
fn a_set_point_below_zero_stays_there() {
    let text = "format = 1\n[mains]\nvoltage = \"230 V\"\nfrequency = \"50 Hz\"\n[states]\non = \"on\"\n[transformer.T1]\nprimary = \
        [{ name = \"P\", volts = \"230 V\", resistance = \"60 Ω\" }]\nsecondary = [{ name = \"S\", open = \"16 V at 230 V\", resistance \
        = \"0.5 Ω\" }]\n[rectifier.D1]\nfrom = \"T1.S\"\ninto = \"common\"\nreturn = \"raw\"\nform = \"bridge\"\ndiode = \"silicon 3 \
        A\"\n[capacitor.C1]\nbetween = [\"common\", \"raw\"]\nvalue = \"4700 µF\"\nesr = \"50 mΩ\"\n[regulator.U1]\nfrom = \
        \"raw\"\ninto = \"out\"\npart = \"negative fixed 12 V 1 A\"\n[load.lamp]\nbetween = [\"common\", \"out\"]\ndraws = { on = \
        \"100 mA\" }\n";
    let reading = read(text, None);
    let job = reading
        .job
        .unwrap_or_else(|| panic!("{:#?}", reading.diagnostics));
    let moved = job.with(&[set("U1.set.fixed", -10.0)]).expect("it can");
    let parameters = moved.parameters();
    let own = |parameter: &&crate::Parameter| parameter.address.0 == "U1.set.fixed";
    let found = parameters.iter().find(own).expect("there");
    assert!((found.low + 10.4).abs() < 1e-12 && (found.high + 9.6).abs() < 1e-12);
    let crossed = job.with(&[set("U1.set.fixed", 12.0)]);
    assert!(matches!(crossed, Err(ChangeError::Impossible { .. })));
}
