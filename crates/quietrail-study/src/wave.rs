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
    /// Node voltage at the corner with the lowest valley, on the same times; empty if none was found.
    pub lowest: Vec<f64>,
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
}

/// Current of the rectifier that charges the node.
#[derive(Clone, Debug, Default)]
pub struct Current {
    /// Its name.
    pub part: String,
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
    /// At the lowest corner; empty if none was found.
    pub lowest: Vec<f64>,
}
