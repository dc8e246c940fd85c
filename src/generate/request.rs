//! The wishes for a progression.

use std::fmt;

use super::blues::Blues;
use crate::diagnostic::Diagnostic;
use crate::theory::Chord;

/// How often chords change.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Rhythm {
    /// A new chord every two bars.
    TwoBars,
    /// A new chord in every bar; at times two where a phrase ends.
    #[default]
    Mixed,
    /// A new chord in every bar.
    Bar,
    /// Twice a bar.
    HalfBar,
}

impl Rhythm {
    /// All rhythms by the names people type.
    pub const NAMES: [(&'static str, Rhythm); 4] = [
        ("two bars", Rhythm::TwoBars),
        ("bar", Rhythm::Bar),
        ("half bar", Rhythm::HalfBar),
        ("mixed", Rhythm::Mixed),
    ];

    /// How many chords so many bars have, without the second ones of a mixed rhythm; `None` where they do not divide.
    pub fn slots(self, bars: u32) -> Option<usize> {
        let bars = usize::try_from(bars).ok().filter(|b| *b > 0)?;
        match self {
            Rhythm::TwoBars => bars.is_multiple_of(2).then_some(bars / 2),
            Rhythm::Mixed | Rhythm::Bar => Some(bars),
            Rhythm::HalfBar => Some(bars * 2),
        }
    }
}

/// How far the chords go from plain ones.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Level {
    /// Major, minor and seventh chords (7, m7, maj7); power chords if these stand on fewer than three roots, and others
    /// if there are still too few.
    #[default]
    Plain,
    /// Any chord, mostly triads and sevenths.
    Mild,
    /// Any chord, sevenths and ninths as often as triads.
    Rich,
    /// Any chord, colorful ones before plain ones.
    Bold,
}

impl Level {
    /// All levels by the names people type, the plainest first.
    pub const NAMES: [(&'static str, Level); 4] = [
        ("plain", Level::Plain),
        ("mild", Level::Mild),
        ("rich", Level::Rich),
        ("bold", Level::Bold),
    ];
}

/// Which chords are asked for.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Flavor {
    /// Any chord that fits the set.
    #[default]
    Any,
    /// A third, a fifth and nothing else above the root.
    Triads,
    /// A third, a fifth, a seventh and nothing else above the root; 7sus4 as well where fewer than two of these fit.
    Sevenths,
}

impl Flavor {
    /// All flavors by the names people type.
    pub const NAMES: [(&'static str, Flavor); 3] = [
        ("any", Flavor::Any),
        ("triads", Flavor::Triads),
        ("sevenths", Flavor::Sevenths),
    ];
}

/// Which form of the blues is asked for.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum BluesWish {
    /// Under the blues rule any that has the length; under the other rules none.
    #[default]
    Any,
    /// None: phrases, whatever the rule.
    None,
    /// This one, whatever the rule.
    Form(Blues),
}

impl BluesWish {
    /// All wishes by the names people type.
    pub const NAMES: [(&'static str, BluesWish); 6] = [
        ("any", BluesWish::Any),
        (Blues::Plain.name(), BluesWish::Form(Blues::Plain)),
        (
            Blues::QuickChange.name(),
            BluesWish::Form(Blues::QuickChange),
        ),
        (Blues::Minor.name(), BluesWish::Form(Blues::Minor)),
        (Blues::Jazz.name(), BluesWish::Form(Blues::Jazz)),
        ("none", BluesWish::None),
    ];
}

/// The wishes for a progression; unset ones are left to chance.
#[derive(Clone, Debug, PartialEq)]
pub struct Request {
    /// Bars, 1 to 64.
    pub bars: u32,
    /// Which form of the blues to fill. The forms have 8, 12 or 16 bars.
    pub blues: BluesWish,
    /// How often chords change.
    pub rhythm: Rhythm,
    /// Which kind of chords to use.
    pub flavor: Flavor,
    /// How far the chords go from plain ones.
    pub level: Level,
    /// The first chord; by default a chord on the tonic.
    pub start: Option<Chord>,
    /// The last chord. By default one that leads home to the first, if any fits: its root is a flat second, fourth,
    /// fifth, flat sixth, flat seventh or seventh above the root of the first.
    pub end: Option<Chord>,
    /// Chords to use.
    pub with: Vec<Chord>,
    /// Chords to leave out.
    pub without: Vec<Chord>,
    /// How many different chords, 1 to 6; by default three or more, if there are so many.
    pub different: Option<u8>,
}

impl Default for Request {
    /// Eight plain bars, mostly a chord a bar.
    fn default() -> Self {
        Request {
            bars: 8,
            blues: BluesWish::Any,
            rhythm: Rhythm::Mixed,
            flavor: Flavor::Any,
            level: Level::Plain,
            start: None,
            end: None,
            with: Vec::new(),
            without: Vec::new(),
            different: None,
        }
    }
}

/// What of a jam was wished for.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum WishKind {
    /// The rule of fit.
    Rule,
    /// The form of the blues.
    Blues,
    /// The kind of chords.
    Flavor,
    /// The number of bars.
    Bars,
    /// How often chords change.
    Rhythm,
    /// The first chord.
    Start,
    /// The last chord.
    End,
    /// Chords to use.
    With,
    /// Chords to leave out.
    Without,
    /// The number of different chords.
    Different,
}

/// The wish that cannot be met: with it, nothing is left to choose from.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct WishError {
    /// What was wished for.
    pub wish: WishKind,
    /// Whether it could be met without a form of the blues.
    pub in_form: bool,
    pub(super) message: String,
    pub(super) help: String,
}

impl WishError {
    pub(super) fn new(wish: WishKind, message: impl Into<String>, help: impl Into<String>) -> Self {
        WishError {
            wish,
            in_form: false,
            message: message.into(),
            help: help.into(),
        }
    }
}

impl Diagnostic for WishError {
    fn code(&self) -> &'static str {
        "wish"
    }

    fn help(&self) -> String {
        self.help.clone()
    }
}

impl fmt::Display for WishError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.message)
    }
}

impl std::error::Error for WishError {}
