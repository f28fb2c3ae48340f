//! The supply that oscillators of tests hang on.

/// All of a job but the oscillator and the bench.
pub(crate) const SUPPLY: &str = r#"
format = 1
[mains]
voltage = "230 V"
frequency = "50 Hz"
[states]
on = "on"
[transformer.T1]
primary = [{ name = "P1", volts = "230 V", resistance = "30 Ω" }]
secondary = [{ name = "S1", open = "9 V at 230 V", resistance = "0.3 Ω" }]
[rectifier.D1]
from = "T1.S1"
into = "pin"
form = "bridge"
diode = "silicon 3 A"
[capacitor.C1]
at = "pin"
value = "4700 µF"
esr = "50 mΩ"
[load.osc]
at = "pin"
draws = { on = "60 mA" }
"#;
