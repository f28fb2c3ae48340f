//! What a drawing is made of.

/// A place on the sheet, x to the right and y down, in CSS pixels.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Point {
    /// To the right.
    pub x: f64,
    /// Down.
    pub y: f64,
}

/// A drawing: its size, what it says, and its marks in the order of painting.
#[derive(Clone, Debug, PartialEq)]
pub struct Scene {
    /// Width in CSS pixels.
    pub width: f64,
    /// Height in CSS pixels.
    pub height: f64,
    /// What is drawn.
    pub title: String,
    /// The verdict, for those who do not see the drawing.
    pub description: String,
    /// Where the time axis runs, for a page that lays a read-out over it: left end, right end,
    /// seconds at the right end.
    pub time_axis: Option<(f64, f64, f64)>,
    /// Upper and lower ends of what such a read-out's upright crosses.
    pub panels: Vec<(f64, f64)>,
    /// In the order of painting.
    pub marks: Vec<Mark>,
}

/// One stroke or fill.
#[derive(Clone, Debug, PartialEq)]
pub enum Mark {
    /// A straight line.
    Line {
        /// One end.
        from: Point,
        /// The other end.
        to: Point,
        /// How it is drawn.
        ink: Ink,
    },
    /// A curve.
    Polyline {
        /// Its points.
        points: Vec<Point>,
        /// How it is drawn.
        ink: Ink,
    },
    /// A filled shape, closed by itself.
    Area {
        /// Its outline.
        points: Vec<Point>,
        /// How it is filled.
        ink: Ink,
    },
    /// A rectangle.
    Rect {
        /// Where.
        area: Frame,
        /// How it is filled.
        ink: Ink,
    },
    /// A shortfall: outline and 45° lines.
    Hatch {
        /// Its outline, closed by itself.
        outline: Vec<Point>,
    },
    /// A bracket over a stretch, open below.
    Bracket {
        /// Left end.
        left: f64,
        /// Right end.
        right: f64,
        /// Height of its back.
        top: f64,
        /// How far its ends reach down.
        depth: f64,
    },
    /// A circle.
    Circle {
        /// Its middle.
        at: Point,
        /// Its radius.
        radius: f64,
        /// How it is drawn or filled.
        ink: Ink,
    },
    /// Marks that lead somewhere.
    Link {
        /// Where.
        href: String,
        /// What is there, for those who do not see the drawing.
        label: String,
        /// What is drawn.
        marks: Vec<Mark>,
    },
    /// A line of text.
    Text {
        /// Start, middle or end of the baseline.
        at: Point,
        /// The words.
        text: String,
        /// Font size in CSS pixels.
        size: f64,
        /// Regular or bold.
        weight: Weight,
        /// Which of the three `at` is.
        align: Align,
        /// Colour.
        ink: Ink,
        /// Whether the sheet shines through around the letters, where lines pass below.
        halo: bool,
    },
}

/// The inks of the drawings. Each is a class of the writer's style sheet.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Ink {
    /// The sheet itself.
    Sheet,
    /// Conduction: a fill without edge.
    Ground,
    /// Grid.
    Hair,
    /// Fine rule.
    Rule,
    /// Axes and brackets.
    Axis,
    /// What must be met: 4 px.
    Sill,
    /// The same at its own worst corner: 3 px.
    SillThin,
    /// A need at its worst corner: dashed.
    NeedAtWorst,
    /// A limit that is asked of the node.
    Limit,
    /// The curve of the corner in hand.
    Level,
    /// A clearing under a curve where it runs over hatching.
    Clearing,
    /// The curve of the lowest corner: dashed.
    Lowest,
    /// A curve that was measured: fine, with dots.
    Measured,
    /// Below the curve of the corner in hand.
    Pale,
    /// Below a current.
    Mid,
    /// A leader from a curve to its label.
    Leader,
    /// Nothing to show: dotted outline.
    Dotted,
    /// What the corner in hand fills: solid.
    Hand,
    /// What all corners fill, where it needs an edge.
    PaleBox,
    /// The surface of a level that ripples: fine.
    Surface,
    /// The way from one level to the next.
    Path,
    /// From a station down to the circuit: dotted.
    Drop,
    /// A symbol of a part.
    Symbol,
    /// The same of the part whose card is open.
    SymbolOpen,
    /// The outline of a symbol over another.
    SymbolLine,
    /// Lines inside an open symbol.
    OnInk,
    /// A join of lines.
    Joint,
    /// What was before a change: dashed outline.
    Was,
    /// Text on what the corner in hand fills.
    TextOnHand,
    /// Text on an open symbol.
    TextOnInk,
    /// Text that states facts.
    TextInk,
    /// Text on axes and conditions.
    TextSoft,
    /// Text about what is predicted.
    TextLevel,
    /// Text about a shortfall.
    TextShort,
}

/// Weight of a text.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[allow(missing_docs, reason = "the two weights of the face")]
pub enum Weight {
    Regular,
    Bold,
}

/// Which end of a text its place is.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[allow(missing_docs, reason = "the names say it")]
pub enum Align {
    Start,
    Middle,
    End,
}

/// An upright rectangle.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Frame {
    /// Left edge.
    pub x: f64,
    /// Upper edge.
    pub y: f64,
    /// Width.
    pub width: f64,
    /// Height.
    pub height: f64,
}

impl Frame {
    /// Right edge.
    pub fn right(&self) -> f64 {
        self.x + self.width
    }

    /// Lower edge.
    pub fn bottom(&self) -> f64 {
        self.y + self.height
    }

    /// Whether the two share any area.
    pub fn overlaps(&self, other: &Frame) -> bool {
        self.x < other.right()
            && other.x < self.right()
            && self.y < other.bottom()
            && other.y < self.bottom()
    }

    /// Whether a point is inside.
    pub fn holds(&self, point: Point) -> bool {
        (self.x..=self.right()).contains(&point.x) && (self.y..=self.bottom()).contains(&point.y)
    }
}

impl Mark {
    /// The box around a text: from the capitals' height to the descenders. `None` for other marks.
    pub fn text_box(&self) -> Option<Frame> {
        let Mark::Text {
            at,
            text,
            size,
            weight,
            align,
            ..
        } = self
        else {
            return None;
        };
        let width = super::face::text_width(text, *size, *weight);
        let x = match align {
            Align::Start => at.x,
            Align::Middle => at.x - width / 2.0,
            Align::End => at.x - width,
        };
        Some(super::face::line_box(x, at.y, width, *size))
    }
}

/// Shorthand for a place.
pub(super) const fn at(x: f64, y: f64) -> Point {
    Point { x, y }
}
