//! The thirteen problems as circuits of the engine, and their outputs.

use super::cases::{Case, number};
use super::compare::Found;
use quietrail_engine::{
    Circuit, DiodeLaw, Dropout, Element, ElementId, GROUND, LoadLaw, Node, Options, Orbit, Probe,
    RegulatorLaw, System, Transfer, Wave, Winding, steady_state, transient,
};
use serde_json::Value;

/// Who looks at a steady state.
pub(crate) type Show<'a> = dyn Fn(&System, &Orbit<'_>) + 'a;

/// How a case is to be solved.
struct Asked<'a> {
    options: &'a Options,
    show: &'a Show<'a>,
}

/// Solves a case and returns every output that its problem defines.
pub(crate) fn solve(case: &Case, options: &Options) -> Found {
    solve_and(case, options, &|_, _| {})
}

/// The same, and shows every steady state on the way.
pub(crate) fn solve_and(case: &Case, options: &Options, show: &Show<'_>) -> Found {
    let inputs = &case.inputs;
    let asked = &Asked { options, show };
    match case.problem.as_str() {
        "P13" if inputs.get("rails").is_none() => bridge(inputs, asked),
        "P1" | "P2" | "P5" | "P8" => bridge(inputs, asked),
        "P3" => centre_tap(inputs, asked),
        "P4" => half_wave(inputs, asked),
        "P6" | "P13" => regulated(inputs, asked),
        "P7" => doubler(inputs, asked),
        "P9" => two_secondaries(inputs, asked),
        "P10" => split(inputs, asked),
        "P11" => shared_return(inputs, asked),
        "P12" => half_wave_transformer(inputs, asked),
        other => panic!("{}: unknown problem {other}", case.id),
    }
}

/// Below this voltage the loads of the problems fade; none comes near it.
const BELOW: f64 = 0.5;

fn frequency(inputs: &Value) -> f64 {
    number(inputs, "mains_frequency_Hz")
}

fn diode_law(inputs: &Value) -> DiodeLaw {
    let d = &inputs["diode"];
    DiodeLaw::Exponential {
        saturation: number(d, "saturation_current_A"),
        slope_voltage: number(d, "ideality_factor") * number(d, "thermal_voltage_V"),
        series: number(d, "series_resistance_Ohm"),
        leakage: number(d, "shunt_conductance_S"),
    }
}

fn diode(circuit: &mut Circuit, anode: Node, cathode: Node, law: DiodeLaw) -> ElementId {
    circuit.add(Element::Diode {
        anode,
        cathode,
        law,
    })
}

fn reservoir(circuit: &mut Circuit, a: Node, b: Node, inputs: &Value) -> ElementId {
    circuit.add(Element::Capacitor {
        a,
        b,
        farads: number(inputs, "reservoir_capacitance_F"),
        esr: number(inputs, "reservoir_esr_Ohm"),
        leakage: 0.0,
    })
}

fn draw(circuit: &mut Circuit, plus: Node, minus: Node, amps: f64) -> ElementId {
    circuit.add(Element::Load {
        plus,
        minus,
        law: LoadLaw::Current { amps, below: BELOW },
    })
}

fn source_wave(inputs: &Value) -> Wave {
    match inputs.get("third_harmonic_ratio") {
        Some(a) => Wave::mains(
            number(inputs, "source_rms_V"),
            a.as_f64().expect("a number"),
        ),
        None => Wave::sine(number(inputs, "source_peak_voltage_V")),
    }
}

/// The source with its resistance from node b to node a.
fn source(circuit: &mut Circuit, a: Node, b: Node, inputs: &Value) -> ElementId {
    circuit.add(Element::Source {
        plus: a,
        minus: b,
        wave: source_wave(inputs),
        ohms: number(inputs, "source_resistance_Ohm"),
    })
}

/// Four diodes; D1 is returned.
fn bridge_of(c: &mut Circuit, ends: (Node, Node), rails: (Node, Node), law: DiodeLaw) -> ElementId {
    let (a, b) = ends;
    let (plus, minus) = rails;
    let d1 = diode(c, a, plus, law);
    diode(c, b, plus, law);
    diode(c, minus, a, law);
    diode(c, minus, b, law);
    d1
}

struct Solved<'s> {
    orbit: Orbit<'s>,
    system: &'s System,
}

fn settle<'s>(system: &'s System, asked: &Asked<'_>) -> Solved<'s> {
    let outcome = steady_state(system, asked.options);
    assert!(outcome.ended.is_settled(), "ended as {:?}", outcome.ended);
    let orbit = outcome.orbit.expect("a settled outcome has its cycle");
    (asked.show)(system, &orbit);
    let balance = orbit.energy_balance();
    assert!(balance < 1e-6, "energy does not balance: {balance:.1e}");
    Solved { orbit, system }
}

impl Solved<'_> {
    fn node(&self, found: &mut Found, name: &str, probe: &Probe) {
        let (peak, valley) = (self.orbit.peak(probe).value, self.orbit.valley(probe).value);
        let mut put = |key: &str, value: f64| found.insert(format!("nodes.{name}.{key}"), value);
        put("mean_V", self.orbit.mean(probe));
        put("peak_V", peak);
        put("valley_V", valley);
        put("ripple_rms_V", self.orbit.ripple_rms(probe));
        put("ripple_peak_to_peak_V", peak - valley);
    }

    fn diode(&self, found: &mut Found, name: &str, id: ElementId) {
        let (voltage, current) = self.system.ports(id).remove(0);
        let peak = self.orbit.peak(&current).value;
        let mut put = |key: &str, value: f64| found.insert(format!("{name}.{key}"), value);
        put("average_current_A", self.orbit.mean(&current));
        put("peak_current_A", peak);
        put("rms_current_A", self.orbit.rms(&current));
        put("average_power_W", self.orbit.power(id));
        put(
            "conduction_angle_deg",
            360.0 * self.orbit.share_above(&current, 0.01 * peak),
        );
        put("peak_reverse_voltage_V", -self.orbit.valley(&voltage).value);
    }

    fn rms(&self, found: &mut Found, path: &str, probe: &Probe) {
        found.insert(format!("{path}.rms_current_A"), self.orbit.rms(probe));
    }

    fn mean(&self, found: &mut Found, path: &str, probe: &Probe) {
        found.insert(format!("{path}.mean_current_A"), self.orbit.mean(probe));
    }

    fn floquet(&self, found: &mut Found) {
        found.insert("floquet_multiplier_largest".into(), self.orbit.floquet);
    }
}

/// P1, P2, P5, P8, and P13 without rails.
fn bridge(inputs: &Value, asked: &Asked<'_>) -> Found {
    let mut c = Circuit::new(frequency(inputs));
    let (a, b, raw) = (c.node(), c.node(), c.node());
    let supply = source(&mut c, a, b, inputs);
    let d1 = bridge_of(&mut c, (a, b), (raw, GROUND), diode_law(inputs));
    reservoir(&mut c, raw, GROUND, inputs);
    let mut filtered = None;
    if inputs.get("filter_resistance_Ohm").is_some() {
        let after = c.node();
        c.add(Element::Resistor {
            a: raw,
            b: after,
            ohms: number(inputs, "filter_resistance_Ohm"),
        });
        c.add(Element::Capacitor {
            a: after,
            b: GROUND,
            farads: number(inputs, "filter_capacitance_F"),
            esr: number(inputs, "filter_esr_Ohm"),
            leakage: 0.0,
        });
        filtered = Some(after);
    }
    let at = filtered.unwrap_or(raw);
    if inputs.get("load_resistance_Ohm").is_some() {
        c.add(Element::Resistor {
            a: at,
            b: GROUND,
            ohms: number(inputs, "load_resistance_Ohm"),
        });
    } else if inputs.get("load_power_W").is_some() {
        // The published solution is the upper of two branches. A load that waits for half the peak is
        // the one that reaches it from rest; above that voltage it is a constant power exactly.
        let below = 0.5 * number(inputs, "source_peak_voltage_V");
        let law = LoadLaw::Power {
            watts: number(inputs, "load_power_W"),
            below,
        };
        c.add(Element::Load {
            plus: at,
            minus: GROUND,
            law,
        });
    } else {
        draw(&mut c, at, GROUND, number(inputs, "load_current_A"));
    }

    let system = System::assemble(&c)
        .expect("the values are physical")
        .reduced();
    let solved = settle(&system, asked);
    let mut found = Found::new();
    solved.node(&mut found, "raw", &system.voltage(raw, GROUND));
    if let Some(after) = filtered {
        solved.node(&mut found, "filtered", &system.voltage(after, GROUND));
    }
    solved.diode(&mut found, "diode", d1);
    solved.rms(&mut found, "source", &system.current(supply));
    flat_peak(inputs, &mut found, "");
    solved.floquet(&mut found);
    found
}

/// P13: the peak of the source, from our own wave.
fn flat_peak(inputs: &Value, found: &mut Found, prefix: &str) {
    if inputs.get("third_harmonic_ratio").is_some() {
        found.insert(
            format!("{prefix}source.peak_voltage_V"),
            source_wave(inputs).at(0.25),
        );
    }
}

fn centre_tap(inputs: &Value, asked: &Asked<'_>) -> Found {
    let mut c = Circuit::new(frequency(inputs));
    let raw = c.node();
    let law = diode_law(inputs);
    let peak = number(inputs, "source_peak_voltage_V");
    let half = |c: &mut Circuit, sign: f64| {
        let (start, end) = (c.node(), c.node());
        c.add(Element::Source {
            plus: start,
            minus: GROUND,
            wave: Wave::sine(sign * peak),
            ohms: number(inputs, "source_resistance_Ohm"),
        });
        let leakage = c.add(Element::Inductor {
            a: start,
            b: end,
            henries: number(inputs, "leakage_inductance_H"),
            ohms: 0.0,
        });
        (diode(c, end, raw, law), leakage)
    };
    let (d1, winding) = half(&mut c, 1.0);
    half(&mut c, -1.0);
    reservoir(&mut c, raw, GROUND, inputs);
    draw(&mut c, raw, GROUND, number(inputs, "load_current_A"));

    let system = System::assemble(&c)
        .expect("the values are physical")
        .reduced();
    let solved = settle(&system, asked);
    let mut found = Found::new();
    solved.node(&mut found, "raw", &system.voltage(raw, GROUND));
    solved.diode(&mut found, "diode", d1);
    solved.rms(&mut found, "source", &system.current(winding));
    solved.floquet(&mut found);
    found
}

fn half_wave(inputs: &Value, asked: &Asked<'_>) -> Found {
    let mut c = Circuit::new(frequency(inputs));
    let (a, raw) = (c.node(), c.node());
    let supply = source(&mut c, a, GROUND, inputs);
    let d1 = diode(&mut c, a, raw, diode_law(inputs));
    reservoir(&mut c, raw, GROUND, inputs);
    draw(&mut c, raw, GROUND, number(inputs, "load_current_A"));

    let system = System::assemble(&c)
        .expect("the values are physical")
        .reduced();
    let solved = settle(&system, asked);
    let mut found = Found::new();
    solved.node(&mut found, "raw", &system.voltage(raw, GROUND));
    solved.diode(&mut found, "diode", d1);
    solved.rms(&mut found, "source", &system.current(supply));
    solved.floquet(&mut found);
    found
}

fn rail_law(rail: &Value) -> RegulatorLaw {
    RegulatorLaw {
        set: number(rail, "set_voltage_V"),
        line: number(rail, "line_reference_voltage_V"),
        rejection: Transfer {
            direct: number(rail, "line_sensitivity_V_per_V"),
            sections: Vec::new(),
        },
        transconductance: number(rail, "loop_transconductance_S"),
        loop_time: number(rail, "loop_time_constant_s"),
        dropout: Dropout::line(
            number(rail, "dropout_offset_V"),
            number(rail, "dropout_resistance_Ohm"),
        ),
        limit: number(rail, "current_limit_A"),
        softness: number(rail, "softness_current_A"),
        exponent: number(rail, "limiter_exponent") as u32,
        quiescent: number(rail, "quiescent_current_A"),
        is_negative: false,
    }
}

/// Bridge, reservoir and rails, whose loads are given rail by rail.
struct Regulated {
    circuit: Circuit,
    raw: Node,
    rails: Vec<Node>,
    d1: ElementId,
    supply: ElementId,
}

fn regulated_circuit(inputs: &Value, load: impl Fn(&Value) -> Wave) -> Regulated {
    let mut c = Circuit::new(frequency(inputs));
    let (a, b, raw) = (c.node(), c.node(), c.node());
    let supply = source(&mut c, a, b, inputs);
    let d1 = bridge_of(&mut c, (a, b), (raw, GROUND), diode_law(inputs));
    reservoir(&mut c, raw, GROUND, inputs);
    let rails = inputs["rails"].as_array().expect("rails are a list");
    let nodes = rails
        .iter()
        .map(|rail| {
            let output = c.node();
            let law = rail_law(rail);
            c.add(Element::Regulator {
                input: raw,
                output,
                reference: GROUND,
                sense: None,
                law,
            });
            c.add(Element::Capacitor {
                a: output,
                b: GROUND,
                farads: number(rail, "output_capacitance_F"),
                esr: number(rail, "output_esr_Ohm"),
                leakage: 0.0,
            });
            c.add(Element::Drain {
                from: output,
                to: GROUND,
                wave: load(rail),
            });
            output
        })
        .collect();
    Regulated {
        circuit: c,
        raw,
        rails: nodes,
        d1,
        supply,
    }
}

/// P6, and P13 with rails: both load states, and the two steps between them.
fn regulated(inputs: &Value, asked: &Asked<'_>) -> Found {
    let mut found = Found::new();
    let mut starts = Vec::new();
    for (state, key) in [("light", "load_light_A"), ("heavy", "load_heavy_A")] {
        let supply = regulated_circuit(inputs, |rail| Wave::constant(number(rail, key)));
        let system = System::assemble(&supply.circuit)
            .expect("the values are physical")
            .reduced();
        let solved = settle(&system, asked);
        let mut part = Found::new();
        solved.node(&mut part, "raw", &system.voltage(supply.raw, GROUND));
        for (index, rail) in supply.rails.iter().enumerate() {
            let name = format!("rail_{}", index + 1);
            solved.node(&mut part, &name, &system.voltage(*rail, GROUND));
        }
        solved.diode(&mut part, "diode", supply.d1);
        solved.rms(&mut part, "source", &system.current(supply.supply));
        flat_peak(inputs, &mut part, "");
        solved.floquet(&mut part);
        found.extend(
            part.into_iter()
                .map(|(path, value)| (format!("{state}.{path}"), value)),
        );
        starts.push(solved.orbit.start().to_vec());
    }
    for (name, first, last, start) in [
        (
            "transient_light_to_heavy",
            "load_light_A",
            "load_heavy_A",
            &starts[0],
        ),
        (
            "transient_heavy_to_light",
            "load_heavy_A",
            "load_light_A",
            &starts[1],
        ),
    ] {
        step_response(inputs, (first, last), start, asked, name, &mut found);
    }
    found
}

fn step_response(
    inputs: &Value,
    (first, last): (&str, &str),
    start: &[f64],
    asked: &Asked<'_>,
    name: &str,
    found: &mut Found,
) {
    let f = frequency(inputs);
    let at = number(inputs, "step_time_s") * f;
    let width = number(inputs, "step_width_s") * f;
    let end = number(inputs, "transient_window_s") * f;
    let supply = regulated_circuit(inputs, |rail| {
        Wave::step(number(rail, first), number(rail, last), at, width)
    });
    let system = System::assemble(&supply.circuit)
        .expect("the values are physical")
        .reduced();
    let run = transient(&system, start, 0.0, end, asked.options)
        .expect("the transient can be integrated");
    let mut nodes = vec![("raw".to_owned(), supply.raw)];
    for (index, rail) in supply.rails.iter().enumerate() {
        nodes.push((format!("rail_{}", index + 1), *rail));
    }
    for (node, at_node) in nodes {
        let probe = system.voltage(at_node, GROUND);
        let (low, high) = (run.valley(&probe, at, end), run.peak(&probe, at, end));
        found.insert(format!("{name}.{node}.minimum_V"), low.value);
        found.insert(format!("{name}.{node}.maximum_V"), high.value);
        found.insert(format!("{name}.{node}.final_V"), run.end(&probe));
    }
}

fn doubler(inputs: &Value, asked: &Asked<'_>) -> Found {
    let mut c = Circuit::new(frequency(inputs));
    // The midpoint is ground.
    let (a, top, bottom) = (c.node(), c.node(), c.node());
    let law = diode_law(inputs);
    let supply = source(&mut c, a, GROUND, inputs);
    let d1 = diode(&mut c, a, top, law);
    diode(&mut c, bottom, a, law);
    reservoir(&mut c, top, GROUND, inputs);
    reservoir(&mut c, GROUND, bottom, inputs);
    draw(&mut c, top, bottom, number(inputs, "load_current_A"));

    let system = System::assemble(&c)
        .expect("the values are physical")
        .reduced();
    let solved = settle(&system, asked);
    let mut found = Found::new();
    solved.node(&mut found, "upper_capacitor", &system.voltage(top, GROUND));
    solved.node(
        &mut found,
        "lower_capacitor",
        &system.voltage(GROUND, bottom),
    );
    solved.node(&mut found, "output", &system.voltage(top, bottom));
    solved.diode(&mut found, "diode", d1);
    solved.rms(&mut found, "source", &system.current(supply));
    solved.floquet(&mut found);
    found
}

/// Primary source and the start of a transformer's winding list.
fn primary(c: &mut Circuit, inputs: &Value) -> (ElementId, Winding) {
    let live = c.node();
    let wave = Wave::sine(number(inputs, "primary_source_peak_voltage_V"));
    // The mains side is an island of its own; its neutral is a node like any other.
    let neutral = c.node();
    let source = c.add(Element::Source {
        plus: live,
        minus: neutral,
        wave,
        ohms: 0.0,
    });
    let ohms = number(inputs, "primary_resistance_Ohm");
    (
        source,
        Winding {
            start: live,
            finish: neutral,
            turns: 1.0,
            ohms,
            leakage: 0.0,
        },
    )
}

fn magnetising(inputs: &Value) -> Option<f64> {
    inputs
        .get("magnetising_inductance_H")
        .and_then(Value::as_f64)
}

fn two_secondaries(inputs: &Value, asked: &Asked<'_>) -> Found {
    let mut c = Circuit::new(frequency(inputs));
    let (_, primary) = primary(&mut c, inputs);
    let mut windings = vec![primary];
    let mut sides = Vec::new();
    for (index, side) in inputs["secondaries"]
        .as_array()
        .expect("a list")
        .iter()
        .enumerate()
    {
        let (a, b, raw) = (c.node(), c.node(), c.node());
        // The second side has no node in common with the first.
        let minus = if index == 0 { GROUND } else { c.node() };
        windings.push(Winding {
            start: a,
            finish: b,
            turns: number(side, "turns_ratio"),
            ohms: number(side, "secondary_resistance_Ohm"),
            leakage: 0.0,
        });
        let d1 = bridge_of(&mut c, (a, b), (raw, minus), diode_law(inputs));
        reservoir(&mut c, raw, minus, side);
        draw(&mut c, raw, minus, number(side, "load_current_A"));
        sides.push((raw, minus, d1));
    }
    let transformer = c.add(Element::Transformer {
        windings,
        magnetising: magnetising(inputs),
    });

    let system = System::assemble(&c)
        .expect("the values are physical")
        .reduced();
    let solved = settle(&system, asked);
    let mut found = Found::new();
    for (index, (raw, minus, d1)) in sides.iter().enumerate() {
        let number = index + 1;
        solved.node(
            &mut found,
            &format!("raw_{number}"),
            &system.voltage(*raw, *minus),
        );
        solved.diode(&mut found, &format!("diode_{number}"), *d1);
        let winding = system.winding_current(transformer, number);
        solved.rms(&mut found, &format!("secondary_{number}"), &winding);
    }
    solved.rms(&mut found, "primary", &system.current(transformer));
    solved.floquet(&mut found);
    found
}

fn split(inputs: &Value, asked: &Asked<'_>) -> Found {
    let mut c = Circuit::new(frequency(inputs));
    let (_, primary) = primary(&mut c, inputs);
    let (a, b, plus, minus) = (c.node(), c.node(), c.node(), c.node());
    let law = diode_law(inputs);
    let turns = number(inputs, "turns_ratio");
    let half = |start, finish, key| Winding {
        start,
        finish,
        turns,
        ohms: number(inputs, key),
        leakage: 0.0,
    };
    let windings = vec![
        primary,
        half(a, GROUND, "half_a_resistance_Ohm"),
        half(GROUND, b, "half_b_resistance_Ohm"),
    ];
    let transformer = c.add(Element::Transformer {
        windings,
        magnetising: magnetising(inputs),
    });
    let d1 = diode(&mut c, a, plus, law);
    diode(&mut c, b, plus, law);
    let d3 = diode(&mut c, minus, a, law);
    diode(&mut c, minus, b, law);
    for (top, bottom, key) in [(plus, GROUND, "positive"), (GROUND, minus, "negative")] {
        reservoir(&mut c, top, bottom, &inputs[key]);
        draw(&mut c, top, bottom, number(&inputs[key], "load_current_A"));
    }

    let system = System::assemble(&c)
        .expect("the values are physical")
        .reduced();
    let solved = settle(&system, asked);
    let mut found = Found::new();
    solved.node(&mut found, "raw_positive", &system.voltage(plus, GROUND));
    solved.node(&mut found, "raw_negative", &system.voltage(GROUND, minus));
    solved.diode(&mut found, "diode_positive", d1);
    solved.diode(&mut found, "diode_negative", d3);
    // Out of the winding's ends, so against our direction in the first half and along it in the second.
    let (half_a, half_b) = (
        system.winding_current(transformer, 1),
        system.winding_current(transformer, 2),
    );
    solved.rms(&mut found, "half_a", &half_a);
    solved.rms(&mut found, "half_b", &half_b);
    let tap = Probe::sum(&[(&half_a, -1.0), (&half_b, 1.0)]);
    solved.mean(&mut found, "tap", &tap);
    solved.rms(&mut found, "tap", &tap);
    primary_outputs(&solved, &system, transformer, &mut found);
    found
}

fn shared_return(inputs: &Value, asked: &Asked<'_>) -> Found {
    let mut c = Circuit::new(frequency(inputs));
    let (a, b, raw) = (c.node(), c.node(), c.node());
    // J, the load's common, is ground.
    let (n, m) = (c.node(), c.node());
    let supply = source(&mut c, a, b, inputs);
    let d1 = bridge_of(&mut c, (a, b), (raw, n), diode_law(inputs));
    reservoir(&mut c, raw, m, inputs);
    c.add(Element::Resistor {
        a: GROUND,
        b: n,
        ohms: number(inputs, "wire_1_resistance_Ohm"),
    });
    c.add(Element::Resistor {
        a: m,
        b: GROUND,
        ohms: number(inputs, "wire_2_resistance_Ohm"),
    });
    draw(&mut c, raw, GROUND, number(inputs, "load_current_A"));

    let system = System::assemble(&c)
        .expect("the values are physical")
        .reduced();
    let solved = settle(&system, asked);
    let mut found = Found::new();
    solved.node(
        &mut found,
        "raw_to_reservoir_negative",
        &system.voltage(raw, m),
    );
    solved.node(
        &mut found,
        "raw_to_load_common",
        &system.voltage(raw, GROUND),
    );
    solved.node(
        &mut found,
        "raw_to_rectifier_negative",
        &system.voltage(raw, n),
    );
    solved.diode(&mut found, "diode", d1);
    solved.rms(&mut found, "source", &system.current(supply));
    for (name, plus, minus) in [("wire_1", GROUND, n), ("wire_2", m, GROUND)] {
        let drop = system.voltage(plus, minus);
        let orbit = &solved.orbit;
        let mut put = |key: &str, value| found.insert(format!("wires.{name}.{key}"), value);
        put("mean_V", orbit.mean(&drop));
        put("rms_V", orbit.rms(&drop));
        put(
            "peak_to_peak_V",
            orbit.peak(&drop).value - orbit.valley(&drop).value,
        );
    }
    solved.floquet(&mut found);
    found
}

fn half_wave_transformer(inputs: &Value, asked: &Asked<'_>) -> Found {
    let mut c = Circuit::new(frequency(inputs));
    let (_, primary) = primary(&mut c, inputs);
    let (a, raw) = (c.node(), c.node());
    let secondary = Winding {
        start: a,
        finish: GROUND,
        turns: number(inputs, "turns_ratio"),
        ohms: number(inputs, "secondary_resistance_Ohm"),
        leakage: 0.0,
    };
    let windings = vec![primary, secondary];
    let transformer = c.add(Element::Transformer {
        windings,
        magnetising: magnetising(inputs),
    });
    let d1 = diode(&mut c, a, raw, diode_law(inputs));
    reservoir(&mut c, raw, GROUND, inputs);
    draw(&mut c, raw, GROUND, number(inputs, "load_current_A"));

    let system = System::assemble(&c)
        .expect("the values are physical")
        .reduced();
    let solved = settle(&system, asked);
    let mut found = Found::new();
    solved.node(&mut found, "raw", &system.voltage(raw, GROUND));
    solved.diode(&mut found, "diode", d1);
    solved.rms(
        &mut found,
        "secondary",
        &system.winding_current(transformer, 1),
    );
    primary_outputs(&solved, &system, transformer, &mut found);
    found
}

fn primary_outputs(
    solved: &Solved<'_>,
    system: &System,
    transformer: ElementId,
    found: &mut Found,
) {
    let current = system.current(transformer);
    solved.mean(found, "primary", &current);
    solved.rms(found, "primary", &current);
    if let Some(magnetising) = system.magnetising_current(transformer) {
        solved.mean(found, "magnetising", &magnetising);
    }
    solved.floquet(found);
}
