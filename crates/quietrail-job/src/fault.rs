//! Everything that can be wrong with a job: the values here, the words in [`crate::words`].

use crate::diagnostic::{Diagnostic, FileId};
use crate::model::Span;
use crate::words;
use crate::written::{Place, Value};
use std::collections::BTreeSet;

/// One thing wrong, with the values that say what.
#[derive(Clone, Debug, PartialEq)]
pub(crate) enum Fault {
    /// Nothing is written.
    Empty,
    /// The file is no text.
    NotText,
    /// The file is larger than [`crate::MAX_JOB_BYTES`].
    TooLarge { bytes: usize },
    /// The TOML reader stumbled.
    Syntax { said: String },
    /// A key or table is there twice.
    Twice { name: String },
    /// `format` is higher than this program knows.
    Newer { format: u64 },
    /// `format` is missing or is not a number that was ever used.
    Format { found: Option<String> },
    /// A table that no job holds.
    UnknownTable {
        name: String,
        of: &'static str,
        nearest: Option<String>,
    },
    /// A key that its table does not hold.
    UnknownKey {
        key: String,
        owner: String,
        nearest: Option<String>,
        known: Vec<&'static str>,
        /// The table inside this one that does hold it.
        belongs: Option<&'static str>,
    },
    /// A key that belongs to the circuit, in a catalogue entry.
    CircuitKey { key: String, owner: String },
    /// A value of another shape.
    WrongType {
        key: String,
        found: &'static str,
        wanted: String,
    },
    /// A text that is no quantity; the whole sentence of the reader.
    Unreadable { said: String },
    /// A quantity that can be read in two ways.
    Ambiguous { said: String },
    /// The unit of something else, or no known unit.
    Unit {
        said: String,
        nearest: Option<String>,
    },
    /// The second half of `62 dB at 120 Hz` is missing.
    NoAt { found: String, wanted: String },
    /// A word that is not on a closed list.
    UnknownChoice {
        key: String,
        found: String,
        known: &'static [&'static str],
        nearest: Option<String>,
    },
    /// Outside of what can stand there.
    Bounds {
        key: String,
        found: String,
        allowed: String,
    },
    /// A range whose first end is above its second.
    UpsideDown { said: String },
    /// A key that must be there is not.
    MissingKey {
        owner: String,
        key: &'static str,
        says: &'static str,
    },
    /// One of several keys must be there, and none is.
    MissingOneOf {
        owner: String,
        keys: Vec<&'static str>,
    },
    /// A figure that the physics needs is nowhere.
    MissingFigure {
        owner: String,
        key: &'static str,
        says: &'static str,
        entry: Entry,
    },
    /// Keys that exclude each other.
    BothGiven {
        owner: String,
        first: &'static str,
        second: &'static str,
    },
    /// Two figures of the same thing that do not meet.
    Disagree {
        first: String,
        second: String,
        computed: String,
    },
    /// A list that should rise and does not.
    NotRising { key: &'static str },
    /// A curve with too few or too many points.
    PointCount { found: usize },
    /// A transistor's junction with no points, or more than three.
    JunctionPoints { found: usize },
    /// A selector position that is not offered, or none that fits.
    Position {
        asked: Option<String>,
        offered: Vec<String>,
        nearest: Option<String>,
    },
    /// A rectifier form that needs a centre, on a winding without one.
    NoCentre { form: String, from: String },
    /// A form that needs a node which is not named, or a node that its form has no use for.
    FormNode {
        form: String,
        key: &'static str,
        wanted: bool,
    },
    /// A trimmer that cannot be set to what is asked.
    CannotReach {
        to: String,
        low: String,
        high: String,
    },
    /// A transistor whose saturation is not below its base-emitter voltage.
    SaturatesAbove {
        saturation: String,
        base_emitter: String,
    },
    /// A level in decibels that does not say against what, or against something that a limit cannot use.
    DecibelsOfWhat { found: String, unit: String },
    /// Decibels where those against the carrier are wanted, in a hertz where the flag says so.
    DecibelsOfCarrier { found: String, in_hertz: bool },
    /// A current limit that rises with input less output, where it is said to fold back.
    FoldsUp,
    /// One swing of a ring, which says nothing of how it dies away.
    OneSwing,
    /// A voltage rating of a capacitor on the mains, without the word that says whether it is one for alternating voltage.
    PeakRating { owner: String },
    /// A limit on noise without the band in which it counts.
    NoBand { what: &'static str },
    /// Neither `min` nor `max`.
    Unbounded { owner: String },
    /// A limit or a band that is written in a form that means nothing there.
    LimitForm {
        key: &'static str,
        found: String,
        wanted: &'static str,
    },
    /// A statistic of parts asked of a node, or of nodes asked of a part.
    NotOf {
        what: &'static str,
        of: String,
        wanted: &'static str,
    },
    /// A name that is taken.
    DuplicateName { name: String, first: &'static str },
    /// A name that cannot be used.
    UnusableName { name: String, why: &'static str },
    /// A node that nothing has.
    UnknownNode {
        name: String,
        nearest: Option<String>,
    },
    /// A part that is not there.
    UnknownPart {
        name: String,
        wanted: &'static str,
        nearest: Option<String>,
    },
    /// A node or part that is not there.
    UnknownSubject {
        name: String,
        /// A winding of a transformer has that name.
        is_winding: bool,
        nearest: Option<String>,
    },
    /// A state that is not declared.
    UnknownState {
        name: String,
        nearest: Option<String>,
    },
    /// A state that a load leaves out.
    StateLeftOut { load: String, states: Vec<String> },
    /// No states at all.
    NoStates,
    /// A winding or join that is not there.
    UnknownWinding {
        name: String,
        transformer: String,
        nearest: Option<String>,
    },
    /// A join that cannot be read.
    JoinText { said: String },
    /// A catalogue entry that is not there.
    UnknownEntry {
        name: String,
        kind: String,
        nearest: Option<String>,
    },
    /// A node that nothing feeds.
    Unfed {
        node: String,
        /// Whether it is fed, and leads nowhere.
        is_blind: bool,
        nearest: Option<String>,
    },
    /// Both ends of a part at one node.
    BridgesNothing { part: String, node: String },
    /// One end of a part where nothing else is.
    Dangling {
        part: String,
        node: String,
        nearest: Option<String>,
    },
    /// Two regulators, or a regulator and a rectifier, into one node.
    SourcesFight {
        node: String,
        first: String,
        second: String,
    },
    /// Windings side by side whose voltages differ.
    WindingsFight {
        join: String,
        first: String,
        second: String,
        circulating: String,
    },
    /// Joins that between them tie both ends of a winding together.
    JoinShorts { winding: String, join: String },
    /// A load of a current or a power across a winding.
    DrawsOneWay { found: String },
    /// Both halves about a centre swing the same way.
    HalvesTogether { join: String, mended: String },
    /// A regulator holds its output on one side of its return, and its input is filled on the other.
    OtherSide {
        regulator: String,
        input: String,
        ret: String,
        source: String,
        is_above: bool,
    },
    /// The socket has another mains than the region that the job names.
    OtherMains { mains: String, region: String },
    /// The builder's entry takes the place of a built-in one.
    TakesPlace { name: String, kind: String },
    /// An address that no figure has.
    UnknownFigure {
        name: String,
        nearest: Option<String>,
    },
    /// A range of an instrument that cannot be read.
    RangeText { said: String },
    /// A figure that cannot be said to move with others.
    Tied { name: String, why: &'static str },
    /// A figure that cannot be said to crowd around its nominal.
    NotSpread { name: String, why: &'static str },
    /// A lead that is not among the leads.
    UnknownLead {
        name: String,
        nearest: Option<String>,
    },
    /// A resistance of which nothing is left without the test leads.
    NulledAway { found: String, null: String },
    /// A winding with less resistance hot than cold.
    HotBelowCold { hot: String, cold: String },
    /// More volts under load than off load.
    AboveOffLoad { loaded: String, off_load: String },
    /// Volts that no small transformer makes of those put in.
    Ratio { reads: String, at: String },
}

/// What a catalogue entry has to do with a missing figure.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Entry {
    /// The table takes none.
    None,
    /// The part could name one.
    CouldName,
    /// The part names one, and that lacks the figure too.
    Named,
}

/// The faults of a job as they are found.
#[derive(Debug, Default)]
pub(crate) struct Faults {
    found: Vec<Diagnostic>,
    /// File, place, code and sentence of each, so that none is noted twice.
    noted: BTreeSet<(bool, usize, usize, String)>,
    /// Where to point at when the value at fault is in the built-in catalogue.
    pub(crate) fallback: Span,
}

impl Faults {
    /// Notes a fault at a place.
    pub(crate) fn at(&mut self, place: Place, fault: &Fault) {
        self.also(place, fault, Vec::new());
    }

    /// Notes a fault of a value.
    pub(crate) fn of(&mut self, value: &Value, fault: &Fault) {
        self.at(value.place(), fault);
    }

    /// Notes a fault at a place in the job file.
    pub(crate) fn job(&mut self, span: Span, fault: &Fault) {
        self.at(
            Place {
                file: Some(FileId::Job),
                span,
            },
            fault,
        );
    }

    /// Notes a fault together with other places that matter.
    pub(crate) fn also(&mut self, place: Place, fault: &Fault, also: Vec<(Span, String)>) {
        let (file, span) = match place.file {
            Some(file) => (file, place.span),
            None => (FileId::Job, self.fallback.clone()),
        };
        let diagnostic = Diagnostic {
            code: words::code(fault),
            severity: words::severity(fault),
            message: words::message(fault),
            file,
            span,
            label: words::label(fault),
            also,
            help: words::help(fault),
        };
        // The same fault of the same value can be met on two paths: in its own table and in the merged
        // one.
        self.push(diagnostic);
    }

    /// Notes a fault at a place in the job file, together with others that matter.
    pub(crate) fn job_also(&mut self, span: Span, fault: &Fault, also: Vec<(Span, String)>) {
        let place = Place {
            file: Some(FileId::Job),
            span,
        };
        self.also(place, fault, also);
    }

    /// Whether there is anything wrong that takes the meaning away.
    pub(crate) fn any_error(&self) -> bool {
        self.found
            .iter()
            .any(|found| found.severity == crate::Severity::Error)
    }

    fn push(&mut self, diagnostic: Diagnostic) {
        let Span { start, end } = diagnostic.span;
        let words = format!("{} {}", diagnostic.code, diagnostic.message);
        if self
            .noted
            .insert((diagnostic.file == FileId::Parts, start, end, words))
        {
            self.found.push(diagnostic);
        }
    }

    /// Whether all that is in it is one unit that cannot stand there.
    pub(crate) fn is_of_unit(&self) -> bool {
        let of_unit = |found: &Diagnostic| found.code == words::UNIT && found.help.is_none();
        matches!(self.found.as_slice(), [one] if of_unit(one))
    }

    /// Says of its first fault what to do.
    pub(crate) fn advise(&mut self, help: &str) {
        if let Some(first) = self.found.first_mut() {
            first.help = Some(help.to_owned());
        }
    }

    /// An empty list beside this one, to try something out.
    pub(crate) fn scratch(&self) -> Self {
        Self {
            fallback: self.fallback.clone(),
            ..Self::default()
        }
    }

    /// Takes over the faults that another list holds.
    pub(crate) fn append(&mut self, other: Faults) {
        other
            .found
            .into_iter()
            .for_each(|diagnostic| self.push(diagnostic));
    }

    /// How badly a tried form misses: a wrong shape or unit is farther off than a wrong value.
    pub(crate) fn misfit(&self) -> usize {
        self.found
            .iter()
            .map(|found| match found.code {
                "J013" => 4,
                "J016" => 3,
                "J014" => 2,
                _ => 1,
            })
            .max()
            .unwrap_or(0)
    }

    /// How many were found so far.
    pub(crate) fn len(&self) -> usize {
        self.found.len()
    }

    /// Of those found from the given count on, keeps what the closure wants.
    pub(crate) fn keep_from(&mut self, from: usize, keep: impl Fn(&Diagnostic) -> bool) {
        let later = self.found.split_off(from.min(self.found.len()));
        self.found.extend(later.into_iter().filter(keep));
    }

    /// All of them, in the order of the files.
    pub(crate) fn in_order(mut self) -> Vec<Diagnostic> {
        self.found.sort_by_key(|found| {
            (
                found.file == FileId::Parts,
                found.span.start,
                found.span.end,
                found.code,
            )
        });
        self.found
    }
}
