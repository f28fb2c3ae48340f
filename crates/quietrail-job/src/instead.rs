//! What a job file has no word for, and what to write instead.

/// What to do about a table that no job holds; `None` for one that nobody would expect.
pub(crate) fn of_table(name: &str) -> Option<&'static str> {
    Some(match name.to_ascii_lowercase().replace('-', "_").as_str() {
        "thermistor" | "ntc" | "ptc" | "inrush" | "inrush_limiter" => {
            "a thermistor is not modelled: write its hot resistance, with its range, as a [resistor] where it stands, for the \
             supply that runs; for the first cycles a second job with its cold resistance, and of that look at \
             `quietrail transformer JOB --switch-on` alone"
        }
        "varistor" | "mov" | "arrester" | "surge_arrester" | "spark_gap" => {
            "what takes surges of the mains is not modelled, nor are surges: leave it out, it draws next to nothing below its \
             voltage"
        }
        "thyristor" | "scr" | "triac" | "crowbar" => {
            "not modelled: `quietrail prove JOB --faults` tries a crowbar where a fault puts too much on a load, and says what \
             it would have to bear"
        }
        "relay" | "thermostat" | "contactor" | "timer" => {
            "what switches is written as states: one in [states] for each position, and what each load draws in it"
        }
        "battery" | "cell" | "bench_supply" | "source" | "adapter" => {
            "a supply begins at the outlet, with [mains]: batteries and bench supplies are not modelled"
        }
        "zener" | "tvs" | "reference" | "voltage_reference" | "stabiliser" => {
            "a zener diode or a shunt reference is a [shunt], with `fixed`, or with `reference`, `upper` and `lower`"
        }
        "potentiometer" | "trimmer" | "pot" => {
            "a trimmer is written in the `set` of its regulator, any other as a [resistor] on either side of its wiper"
        }
        "mosfet" | "fet" | "jfet" | "triode" | "valve" | "tube" => {
            "only bipolar transistors are modelled; a whole regulator may be written as a [regulator], with figures read of it"
        }
        "opamp" | "op_amp" | "amplifier" | "comparator" | "optocoupler" => {
            "a loop of single parts is not modelled: write the whole as a [regulator], with figures read of it"
        }
        "choke" | "coil" | "ferrite" => "a choke is an [inductor]",
        "cap" | "condenser" | "electrolytic" | "reservoir" => "it is a [capacitor]",
        "bridge" | "bridge_rectifier" | "diodes" => {
            "a bridge is a [rectifier] with `form = \"bridge\"`; diodes drawn one by one are each a [diode]"
        }
        "ldo" | "voltage_regulator" => "it is a [regulator]",
        "bjt" | "darlington" | "pass_transistor" => "it is a [transistor]",
        "cable" | "lead" | "track" => {
            "it is a [wire], with its `resistance`, or its `length` and `area`"
        }
        "heatsink" | "heat_sink" | "cooler" => "it is a [sink]",
        "heater" | "oven" | "motor" => "it is a [load]",
        _ => return None,
    })
}

/// What to do about a statistic that no limit has.
pub(crate) fn of_statistic(word: &str) -> Option<&'static str> {
    Some(
        match word.to_ascii_lowercase().replace(['-', '_'], " ").as_str() {
            "voltage" | "volts" | "level" | "dc" | "output" | "average" => {
                "a voltage is judged as `mean`, `valley` or `peak`"
            }
            "regulation" | "load regulation" | "line regulation" | "stability" | "accuracy" => {
                "write a `mean` with `min` and `max`: it has to hold in every state, at every mains voltage and tolerance"
            }
            "dropout" => "what is left over the dropout is `headroom`, with `min = \"0 V\"`",
            "inrush" | "surge" | "inrush current" => {
                "not a limit: `quietrail transformer JOB --switch-on` tells what fuse and diodes meet, and judges it"
            }
            "rms" | "hum" => "hum of a node is its `ripple`, of a part's current `rms current`",
            "dissipation" | "heat" | "losses" => "heat that a part makes is its `power`",
            "efficiency" => "not judged; heat of each part is, as `power`",
            "holdup" | "hold up time" | "hold up" => "write `hold-up`, with `down_to`",
            _ => return None,
        },
    )
}

/// What to do about a form that no rectifier has.
pub(crate) fn of_form(word: &str) -> Option<&'static str> {
    Some(
        match word.to_ascii_lowercase().replace(['-', '_'], " ").as_str() {
            "full wave" | "fullwave" | "two way" | "biphase" => {
                "a full-wave rectifier is a `bridge`, or with the two halves of a winding a `centre-tap`"
            }
            "graetz" | "full bridge" => "write `bridge`",
            "dual" | "bipolar" | "plus minus" => {
                "for a rail on either side of common write `split`, with `negative`"
            }
            _ => return None,
        },
    )
}

#[cfg(test)]
mod tests {
    /// The code, message and help of the only diagnostic of a job with this at its end.
    fn only(tail: &str) -> (&'static str, String, String) {
        let text = format!(
            "format = 1\n[mains]\nvoltage = \"230 V\"\nfrequency = \"50 Hz\"\n[states]\non = \"on\"\n\
             [transformer.T1]\nprimary = [{{ name = \"P1\", volts = \"230 V\", resistance = \"30 Ω\" }}]\n\
             secondary = [{{ name = \"S1\", open = \"12 V at 230 V\", resistance = \"1 Ω\" }}]\n\
             [rectifier.D1]\nfrom = \"T1.S1\"\ninto = \"raw\"\nform = \"bridge\"\ndiode = \"silicon 1 A\"\n\
             [capacitor.C1]\nat = \"raw\"\nvalue = \"1000 µF\"\nesr = \"0.1 Ω\"\n{tail}"
        );
        let found = crate::read(&text, None).diagnostics;
        let [one] = found.as_slice() else {
            panic!("{found:?}")
        };
        let help = one.help.clone().unwrap_or_default();
        (one.code, one.message.clone(), help)
    }

    #[test]
    fn what_a_job_has_no_word_for_is_refused_with_what_to_write() {
        let (code, _, help) = only("[ntc.R9]\nbetween = [\"raw\", \"out\"]\n");
        assert_eq!(code, "J010");
        assert!(
            help.contains("hot resistance") && help.contains("[resistor]"),
            "{help}"
        );
        let (_, _, help) = only("[zener.Z1]\nat = \"raw\"\n");
        assert!(help.contains("[shunt]"), "{help}");
        // A slip of the pen is still one.
        let (_, _, help) = only("[resistro.R9]\nat = \"raw\"\n");
        assert!(help.contains("`resistor`"), "{help}");
    }

    #[test]
    fn a_limit_says_what_is_judged_instead() {
        let limit = |rest: &str| only(&format!("[[limit]]\nname = \"one\"\n{rest}\n"));
        let (code, _, help) = limit("of = \"raw\"\nwhat = \"regulation\"\nmax = \"3 %\"");
        assert!(code == "J017" && help.contains("`mean`"), "{code} {help}");
        let (code, said, help) = limit("of = \"T1.S1\"\nwhat = \"rms current\"\nmax = \"1 A\"");
        assert!(
            code == "J034" && said.contains("winding") && help.contains("`rated`"),
            "{said} {help}"
        );
        let (code, said, _) = limit("of = \"raw\"\nwhat = \"ripple\"\nmax = \"-74 dBV\"");
        assert!(code == "J083" && said.contains("in decibels"), "{said}");
    }

    #[test]
    fn a_bound_without_a_unit_is_no_bound() {
        let (code, said, _) = only(
            "[[limit]]\nname = \"one\"\nof = \"raw\"\nwhat = \"mean\"\nmin = \"9 V\"\nmax = 20\n",
        );
        assert!(
            code == "J013" && said.contains("`max` holds a number"),
            "{code} {said}"
        );
    }

    #[test]
    fn what_may_stand_there_is_told_with_all_its_units() {
        let load = |draws: &str| only(&format!("[load.lamp]\nat = \"raw\"\ndraws = {draws}\n"));
        let (code, _, help) = load("{ on = \"20 VA\" }");
        assert!(
            code == "J016" && help.contains("a current, a resistance or a power"),
            "{help}"
        );
        let (code, said, _) = load("\"800 mA\"");
        assert!(code == "J013" && said.contains("450 mA"), "{said}");
    }

    #[test]
    fn full_wave_is_no_half_wave() {
        let (code, _, help) = only(
            "[rectifier.D2]\nfrom = \"T1.S1\"\ninto = \"raw\"\nform = \"full-wave\"\ndiode = \"silicon 1 A\"\n",
        );
        assert!(code == "J017" && help.contains("`bridge`"), "{help}");
    }

    #[test]
    fn a_hold_up_has_its_level_and_nothing_else_has_one() {
        let limit = |rest: &str| {
            only(&format!(
                "[[limit]]\nname = \"one\"\nof = \"raw\"\n{rest}\n"
            ))
        };
        let (code, said, help) = limit("what = \"hold-up\"\nmin = \"20 ms\"");
        assert!(
            code == "J020" && said.contains("down_to") && help.contains("11.4 V"),
            "{said} {help}"
        );
        let (code, said, _) = limit("what = \"valley\"\nmin = \"20 V\"\ndown_to = \"11 V\"");
        assert!(code == "J028" && said.contains("hold-up"), "{code} {said}");
    }
}
