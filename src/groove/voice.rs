//! The voices of the kit.

/// A voice of the kit. Keys are those of the General MIDI percussion map.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum KitVoice {
    /// Bass drum.
    Kick,
    /// Snare, struck in the middle; soft strokes of it are ghosts.
    Snare,
    /// The stick laid across the snare's rim.
    SideStick,
    /// Closed hi-hat.
    Hat,
    /// Hi-hat closed by the foot.
    FootHat,
    /// Open hi-hat.
    OpenHat,
    /// Ride cymbal.
    Ride,
    /// The bell of the ride cymbal.
    Bell,
    /// Crash cymbal.
    Crash,
    /// High tom.
    HighTom,
    /// Middle tom.
    MidTom,
    /// Floor tom.
    FloorTom,
}

impl KitVoice {
    /// All voices, in the order they are written in.
    pub const ALL: [KitVoice; 12] = [
        KitVoice::Kick,
        KitVoice::Snare,
        KitVoice::SideStick,
        KitVoice::Hat,
        KitVoice::FootHat,
        KitVoice::OpenHat,
        KitVoice::Ride,
        KitVoice::Bell,
        KitVoice::Crash,
        KitVoice::HighTom,
        KitVoice::MidTom,
        KitVoice::FloorTom,
    ];

    /// The key of its row in a groove.
    pub const fn name(self) -> &'static str {
        match self {
            KitVoice::Kick => "kick",
            KitVoice::Snare => "snare",
            KitVoice::SideStick => "side_stick",
            KitVoice::Hat => "hat",
            KitVoice::FootHat => "foot_hat",
            KitVoice::OpenHat => "open_hat",
            KitVoice::Ride => "ride",
            KitVoice::Bell => "bell",
            KitVoice::Crash => "crash",
            KitVoice::HighTom => "high_tom",
            KitVoice::MidTom => "mid_tom",
            KitVoice::FloorTom => "floor_tom",
        }
    }

    /// The MIDI key (General MIDI percussion map: bass drum 1, acoustic snare, side stick, closed, pedal and open hi-hat, ride
    /// cymbal 1, ride bell, crash cymbal 1, high, low-mid and high floor tom).
    pub const fn key(self) -> i32 {
        match self {
            KitVoice::Kick => 36,
            KitVoice::Snare => 38,
            KitVoice::SideStick => 37,
            KitVoice::Hat => 42,
            KitVoice::FootHat => 44,
            KitVoice::OpenHat => 46,
            KitVoice::Ride => 51,
            KitVoice::Bell => 53,
            KitVoice::Crash => 49,
            KitVoice::HighTom => 50,
            KitVoice::MidTom => 47,
            KitVoice::FloorTom => 43,
        }
    }

    /// Velocities of an accent, a stroke and a ghost, where a groove says nothing else: rounded from the mean loudness of ten
    /// drummers (Groove MIDI Dataset 1.0.0, CC BY 4.0, Google LLC; means by style and step). Those of the crash and of the middle tom
    /// are common practice.
    pub const fn touch(self) -> [u8; 3] {
        match self {
            KitVoice::Kick => [82, 72, 50],
            KitVoice::Snare => [114, 108, 38],
            KitVoice::SideStick => [80, 70, 50],
            KitVoice::Hat => [92, 70, 52],
            KitVoice::FootHat => [64, 58, 48],
            KitVoice::OpenHat => [94, 84, 62],
            KitVoice::Ride => [94, 70, 54],
            KitVoice::Bell => [100, 90, 74],
            KitVoice::Crash => [98, 86, 64],
            KitVoice::HighTom => [100, 90, 70],
            KitVoice::MidTom => [100, 90, 70],
            KitVoice::FloorTom => [104, 94, 74],
        }
    }

    /// Whether it keeps time: hats and cymbals other than the crash. In a lifted section the ride plays what the closed hat
    /// has.
    pub const fn keeps_time(self) -> bool {
        matches!(
            self,
            KitVoice::Hat | KitVoice::FootHat | KitVoice::OpenHat | KitVoice::Ride | KitVoice::Bell
        )
    }
}
