//! Two mains cycles of a node, with what flows and what must be met, as data for a drawing.

/// Everything that the Waves drawing shows for one node in one state.
#[derive(Clone, Debug, Default)]
pub struct Waves {
    /// Title of the job.
    pub title: String,
    /// `230 V 50 Hz`
    pub region: String,
    /// The node.
    pub node: String,
    /// The state.
    pub state: String,
    /// Mains frequency, Hz.
    pub frequency: f64,
    /// Mains voltage of the corner in hand, rms.
    pub mains: f64,
    /// Times in seconds, rising from 0 to two cycles, for all curves below.
    pub time: Vec<f64>,
    /// Node voltage in the corner in hand (parts as marked, nominal mains unless asked otherwise).
    pub volts: Vec<f64>,
    /// Node voltage at a worse corner, on the same times; empty if none was found.
    pub lowest: Vec<f64>,
    /// The regulator whose headroom is smallest at that corner; without one it is the corner with the node's lowest valley.
    pub worst_for: Option<String>,
    /// That corner: address and printed value, most telling first.
    pub lowest_corner: Vec<(String, String)>,
    /// Current of the rectifier that feeds the node, if one does.
    pub current: Option<Current>,
    /// When that rectifier conducts, in seconds.
    pub conduction: Vec<(f64, f64)>,
    /// Conduction angle of one pulse in degrees of the cycle.
    pub conduction_degrees: f64,
    /// What parts downstream need at this node (output plus dropout), corner in hand.
    pub needs: Vec<Need>,
    /// Limits on this node: name, minimum, maximum.
    pub limits: Vec<(String, Option<f64>, Option<f64>)>,
    /// Mean, valley, peak, rms ripple of the corner in hand.
    pub mean: f64,
    /// Lowest instant.
    pub valley: f64,
    /// Highest instant.
    pub peak: f64,
    /// rms of the alternating part.
    pub ripple_rms: f64,
    /// Rails downstream that are drawn below, in hand and at the lowest corner.
    pub rails: Vec<Rail>,
    /// A wave that was measured, laid over the corner in hand.
    pub measured: Option<Measured>,
}

/// A measured wave, laid where it fits the predicted one best.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Measured {
    /// Name of its file.
    pub name: String,
    /// Its mean cycle, twice, on [`Waves::time`].
    pub volts: Vec<f64>,
    /// Whole cycles that the mean cycle was made of.
    pub cycles: u32,
    /// Mean as measured; of a record without its DC it says nothing.
    pub mean: f64,
    /// Lowest to highest sample.
    pub peak_to_peak: f64,
    /// rms of what repeats with the mains.
    pub ripple_rms: f64,
    /// rms of what does not.
    pub rest_rms: f64,
    /// Whether it was taken to be read without its DC, so that it lies at the predicted mean.
    pub is_without_dc: bool,
    /// rms of measured less predicted, means taken off.
    pub apart_rms: f64,
    /// Ten, a hundred or their inverse, where the measured wave is about that many times the predicted one: a probe set otherwise
    /// than the instrument.
    pub probe: Option<f64>,
}

/// Current of the rectifier that charges the node.
#[derive(Clone, Debug, Default)]
pub struct Current {
    /// Its name.
    pub part: String,
    /// Whether it is what a split rectifier draws from the end under its return, and not what it gives to its output.
    pub is_lower: bool,
    /// Instantaneous output current, on [`Waves::time`].
    pub amps: Vec<f64>,
    /// Peak.
    pub peak: f64,
    /// rms.
    pub rms: f64,
}

/// What a regulator needs at the node.
#[derive(Clone, Debug, Default)]
pub struct Need {
    /// `U1`
    pub part: String,
    /// Output plus dropout in the corner in hand.
    pub volts: f64,
    /// Output plus dropout in its own worst corner.
    pub worst_volts: f64,
    /// Smallest distance from the node down to the need, corner in hand.
    pub headroom: f64,
    /// Smallest distance at the worst corner found.
    pub worst_headroom: f64,
}

/// A regulated rail fed from the node.
#[derive(Clone, Debug, Default)]
pub struct Rail {
    /// Its node.
    pub node: String,
    /// Voltage in the corner in hand, on [`Waves::time`].
    pub volts: Vec<f64>,
    /// At the worse corner; empty if none was found.
    pub lowest: Vec<f64>,
}
