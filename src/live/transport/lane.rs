//! Where a piece is heard: the common interface of a MIDI port and an audio device.

use std::sync::atomic::{AtomicBool, AtomicI8, AtomicU32, AtomicU64, Ordering};
use std::time::Instant;

use crate::diagnostic::Diagnostic;
use crate::live::dispatch::{Dispatcher, Item, Passage, Wish};
use crate::time::{Nanos, Tempo, Timed};

/// Whether a lane took an entry.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Offer {
    /// The lane took it.
    Taken,
    /// It has no room now.
    Full,
    /// It takes no more entries, because it has ended.
    Ended,
}

/// Why a lane failed.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
#[error("{message}")]
pub struct LaneError {
    /// A stable name for programs.
    pub code: &'static str,
    /// What is wrong.
    pub message: String,
    /// What can be done about it.
    pub help: String,
}

impl LaneError {
    /// What failed in the lane.
    pub(crate) fn of(error: &dyn Diagnostic) -> Self {
        LaneError {
            code: error.code(),
            message: error.to_string(),
            help: error.help(),
        }
    }
}

impl Diagnostic for LaneError {
    fn code(&self) -> &'static str {
        self.code
    }

    fn help(&self) -> String {
        self.help.clone()
    }
}

/// Where a piece is heard: a MIDI port, an audio device.
pub trait Lane {
    /// Begins to play what was offered so far.
    ///
    /// # Errors
    /// When the lane cannot begin.
    fn begin(&mut self) -> Result<(), LaneError>;

    /// Offers it an entry; they come in order.
    fn offer(&mut self, item: Item) -> Offer;

    /// How many wishes it has room for now.
    fn room(&self) -> usize;

    /// Hands it a wish, for which there must be [`Lane::room`]; lanes that play together get the same wishes.
    fn wish(&mut self, wish: Timed<Wish>);

    /// The time it has reached, zero before it has begun.
    fn now(&self) -> Nanos;

    /// How far it may advance at once: it renders in blocks of this length.
    fn grain(&self) -> Nanos {
        Nanos::ZERO
    }

    /// The time at which it was at an instant, as it is heard; `None` where that is not known.
    fn time_at(&self, instant: Instant) -> Option<Nanos>;

    /// The time at which it is now, as it is heard; `None` where that is not known.
    fn time(&self) -> Option<Nanos> {
        self.time_at(Instant::now())
    }

    /// How often the sound was interrupted: dropouts and stalls of a device or of the machine, another device.
    fn interruptions(&self) -> u64 {
        0
    }

    /// How often the sound broke off so that it can be heard: dropouts of a device, another device, stalls of the machine.
    fn dropouts(&self) -> u64 {
        0
    }

    /// How many messages came so late that it can be heard.
    fn heard_late(&self) -> u64 {
        0
    }

    /// Whether the time at which something is heard is known; for a while after an interruption it is not.
    fn time_is_known(&self) -> bool {
        true
    }

    /// What it plays.
    fn place(&self) -> Here;

    /// The next change of the map as played that was not taken yet; every lane of a piece tells the same.
    fn passage(&mut self) -> Option<Passage>;

    /// The condition of its port or device.
    fn condition(&self) -> Condition {
        Condition::Fine
    }

    /// Acknowledges that it is back.
    fn settle(&mut self) {}

    /// Whether it has played everything. Called often; the place to notice that a device is gone.
    ///
    /// # Errors
    /// When the lane has failed.
    fn is_over(&mut self) -> Result<bool, LaneError>;

    /// Ends it, silencing what sounds. Takes a few seconds at most.
    ///
    /// # Errors
    /// When it failed, before or now.
    fn close(&mut self) -> Result<(), LaneError>;
}

/// The condition of the port or device a lane plays to.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Condition {
    /// Nothing is wrong.
    Fine,
    /// It is gone, and the lane waits for it.
    Gone,
    /// It was gone and is back.
    Back,
}

/// What a lane plays.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Here {
    /// The run of bars.
    pub run: u32,
    /// How many bar lines of it have passed.
    pub bars: u32,
    /// The tempo of the plan.
    pub plan: Tempo,
    /// Whether it is paused and nothing sounds.
    pub paused: bool,
    /// By how many semitones the chord is transposed that plays.
    pub semitones: i8,
}

/// What a dispatcher plays, published by its thread to others.
#[derive(Debug, Default)]
pub(crate) struct Place {
    /// Run and bar lines as two halves of one value, so that they are read together.
    bars: AtomicU64,
    plan_us: AtomicU32,
    paused: AtomicBool,
    semitones: AtomicI8,
    untold: AtomicU32,
}

impl Place {
    /// Tells it.
    ///
    /// # Real time
    /// A few stores.
    pub(crate) fn tell(&self, dispatcher: &Dispatcher) {
        let (run, bars) = dispatcher.place();
        self.plan_us
            .store(dispatcher.plan().us_per_quarter(), Ordering::Relaxed);
        self.paused.store(dispatcher.is_paused(), Ordering::Release);
        self.semitones
            .store(dispatcher.semitones(), Ordering::Relaxed);
        self.untold.store(dispatcher.untold(), Ordering::Relaxed);
        let place = u64::from(run) << 32 | u64::from(bars);
        self.bars.store(place, Ordering::Release);
    }

    /// What was published last.
    #[allow(clippy::cast_possible_truncation)] // two halves
    pub(crate) fn get(&self) -> Here {
        let place = self.bars.load(Ordering::Acquire);
        let plan = u64::from(self.plan_us.load(Ordering::Relaxed));
        Here {
            run: (place >> 32) as u32,
            bars: place as u32,
            plan: Tempo::new(plan).unwrap_or(Tempo::DEFAULT),
            paused: self.paused.load(Ordering::Acquire),
            semitones: self.semitones.load(Ordering::Relaxed),
        }
    }

    /// Jumps that could not be sent to a follower; see [`Dispatcher::untold`].
    pub(crate) fn untold(&self) -> u32 {
        self.untold.load(Ordering::Relaxed)
    }
}
