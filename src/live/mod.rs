//! Playing in real time: clocks, the sending thread, and an account of how it went.

mod clock;
mod conductor;
mod control;
mod dispatch;
mod fake;
mod os;
mod played;
mod player;
mod receipt;
mod sender;
mod silencer;
mod tap;
mod waiting;

pub use clock::{Clock, MonotonicClock, VirtualClock};
pub use conductor::{Conductor, Performed, Told, play_on};
pub use control::{Control, Pace};
pub use dispatch::{
    Dispatcher, Entry, Item, Outgoing, Passage, STALL, Sent, TimedWish, Wish,
};
pub use fake::{Fault, Recorded, RecordingPort};
pub use os::{Granted, Policy, prepare_timing_thread, raise_audio_thread, stolen_ns};
pub use played::{PlayedAt, PlayedMap, Stand};
pub(crate) use player::{PASSAGES, Place};
pub use player::{
    ClockMaker, Condition, Here, Keeper, Lane, LaneError, Offer, Outcome, PORT_LOOK, PlayError,
    PortLane, play,
};
pub use receipt::{AUDIBLE_NS, Lateness, Receipt, Recorder};
pub use sender::{Due, Queued, Report, Sender, Stopped, Stream};
pub use waiting::Margin;
pub(crate) use waiting::Waiting;
