//! Findings made up for tests: the hilltop beacon with a reservoir that is too small.

use quietrail_job::model::{Subject, What};
use quietrail_job::{Address, Change};
use quietrail_study::finding::{
    Assumption, CornerTerm, Effort, Ending, Help, LimitFinding, Measured, NodeFinding, Overall,
    PartFinding, Predicted, Proof, Unrated, WhyNot,
};

/// One figure of a corner.
pub(crate) fn term(
    address: &str,
    value: f64,
    nominal: f64,
    unit: &'static str,
    weight: f64,
) -> CornerTerm {
    CornerTerm {
        address: Address(address.to_owned()),
        value,
        unit,
        nominal,
        weight,
    }
}

/// A row that is predicted to hold with nothing measured; tests change what they are about.
pub(crate) fn row(
    name: &str,
    of: &str,
    what: What,
    state: &str,
    unit: &'static str,
) -> LimitFinding {
    LimitFinding {
        name: name.to_owned(),
        of: Subject::Node(of.to_owned()),
        what,
        state: state.to_owned(),
        min: None,
        max: None,
        unit,
        from: "oscillator data sheet, supply table".to_owned(),
        is_rating: false,
        nominal: None,
        worst: None,
        margin: None,
        margin_share: None,
        corner: Vec::new(),
        predicted: Predicted::Holds,
        measured: Measured::None,
        overall: Overall::Predicted,
        help: Vec::new(),
        gets: None,
        mostly: None,
        read: None,
    }
}

/// Sets worst value, limits and what follows from them.
pub(crate) fn found(
    mut row: LimitFinding,
    min: Option<f64>,
    worst: f64,
    max: Option<f64>,
) -> LimitFinding {
    let below = min.map(|min| (worst - min, min));
    let above = max.map(|max| (max - worst, max));
    let nearer = [below, above]
        .into_iter()
        .flatten()
        .min_by(|a, b| a.0.total_cmp(&b.0));
    let (margin, limit) = nearer.expect("a row has a limit");
    (row.min, row.max, row.worst, row.margin) = (min, max, Some(worst), Some(margin));
    row.margin_share = (limit != 0.0).then(|| margin / limit.abs());
    row.predicted = if margin < 0.0 {
        Predicted::Fails
    } else {
        Predicted::Holds
    };
    row.overall = Overall::of(&row.predicted, row.measured);
    row
}

/// Adds what readings say.
pub(crate) fn measured(mut row: LimitFinding, measured: Measured) -> LimitFinding {
    row.measured = measured;
    row.overall = Overall::of(&row.predicted, measured);
    row
}

/// A proof with every verdict in it.
pub(crate) fn proof() -> Proof {
    let mut headroom = found(
        row("Headroom of U1", "U1", What::Headroom, "cold", "V"),
        Some(0.0),
        -0.3761,
        None,
    );
    headroom.of = Subject::Part("U1".to_owned());
    headroom.nominal = Some(1.65);
    headroom.corner = vec![
        term("load.oven.cold", 0.9775, 0.85, "A", 0.4),
        term("mains.voltage", 207.0, 230.0, "V", 0.35),
        term("C1.value", 0.00264, 0.0033, "F", 0.2),
        term("T1.winding", 85.0, 20.0, "°C", 0.05),
    ];
    headroom.help = vec![Help {
        change: Change::Set {
            address: Address("C1.value".to_owned()),
            value: 0.0047,
        },
        before: 0.0033,
        unit: "F",
        with: None,
        margin: 0.1124,
        costs: Vec::new(),
    }];

    let mut ripple = row("osc ripple", "osc", What::Ripple, "warm", "V");
    ripple.max = Some(200e-6);
    ripple.predicted = Predicted::NotShown(WhyNot::Missing("U2.rejection".to_owned()));
    ripple.overall = Overall::NotShown;

    let mut low = found(
        row("oven lowest", "oven", What::Valley, "cold", "V"),
        Some(11.4),
        11.604,
        None,
    );
    low.corner = vec![
        term("U1.upper", 1039.5, 1050.0, "Ω", 0.6),
        term("U1.lower", 122.21, 121.0, "Ω", 0.35),
        term("W1.resistance", 0.011, 0.01, "Ω", 0.05),
    ];
    low.help = vec![Help {
        change: Change::Set {
            address: Address("W1.resistance".to_owned()),
            value: 0.006,
        },
        before: 0.01,
        unit: "Ω",
        with: None,
        margin: 0.229,
        costs: Vec::new(),
    }];

    let mut junction = found(
        row("U1 temperature", "U1", What::Temperature, "cold", "°C"),
        None,
        117.7,
        Some(125.0),
    );
    junction.is_rating = true;
    junction.of = Subject::Part("U1".to_owned());
    junction.corner = vec![
        term("mains.voltage", 244.0, 230.0, "V", 0.7),
        term("room", 35.0, 25.0, "°C", 0.3),
    ];

    let mut capacitor = found(
        row("C1 ripple current", "C1", What::RmsCurrent, "cold", "A"),
        None,
        1.9012,
        Some(2.1),
    );
    capacitor.is_rating = true;
    capacitor.of = Subject::Part("C1".to_owned());
    capacitor.corner = vec![
        term("mains.voltage", 244.0, 230.0, "V", 0.5),
        term("load.oven.cold", 0.9775, 0.85, "A", 0.5),
    ];

    let mut window = found(
        row("heater window", "heater", What::Mean, "warm", "V"),
        Some(11.4),
        12.33,
        Some(12.6),
    );
    window.corner = vec![term("U1.upper", 1060.5, 1050.0, "Ω", 1.0)];
    let window = measured(window, Measured::Holds);

    let quiet = found(
        row("heater ripple", "heater", What::Ripple, "warm", "V"),
        None,
        2.1e-3,
        Some(0.02),
    );

    Proof {
        title: "Reference oven supply for the hilltop beacon".to_owned(),
        region: "230 V 50 Hz".to_owned(),
        states: ["idle", "cold", "warm"].map(str::to_owned).to_vec(),
        limits: vec![quiet, window, headroom, ripple, junction, low, capacitor],
        remarks: Vec::new(),
        nodes: vec![NodeFinding {
            node: "raw".to_owned(),
            state: "cold".to_owned(),
            mains: 207.0,
            mean: 15.5,
            valley: 14.65,
            peak: 16.38,
            ripple_rms: 0.51,
            ripple_pp: 1.73,
        }],
        parts: vec![PartFinding {
            part: "C1".to_owned(),
            state: "cold".to_owned(),
            stress: vec![(What::RmsCurrent, 1.71, "A"), (What::Peak, 21.4, "V")],
        }],
        endings: vec![Ending {
            state: "cold".to_owned(),
            settled: true,
            reason: "settled in 4 cycles".to_owned(),
            residual: 1.5e-11,
            charge_balance: 2.0e-12,
            energy_balance: 3.0e-10,
            floquet: 0.41,
        }],
        unrated: vec![Unrated {
            part: "C2".to_owned(),
            ratings: vec!["voltage".to_owned(), "ripple current".to_owned()],
        }],
        assumptions: vec![Assumption {
            address: "C1.leakage".to_owned(),
            value: "0.3 mA".to_owned(),
            why: "typical of new electrolytics, from memory",
        }],
        effort: Effort {
            solutions: 214,
            corners: 61,
        },
    }
}
