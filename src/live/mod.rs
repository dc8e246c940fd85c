//! Playing in real time: clocks, the sending thread, and an account of how it went.

mod clock;
mod conductor;
mod dispatch;
mod fake;
mod follow;
mod os;
mod player;
mod receipt;
mod sender;
mod strokes;
mod tap;
mod waiting;

pub use clock::{Clock, MonotonicClock, VirtualClock};
pub use conductor::{Control, play_on};
pub use dispatch::{Dispatcher, Entry, Item, STALL, Sent, TimedWish, Wish};
pub use fake::{Fault, Recorded, RecordingPort};
pub use follow::{FollowAction, FollowState, Follower, Steering};
pub use os::{Granted, Policy, prepare_timing_thread, raise_audio_thread, stolen_ns};
pub(crate) use player::Place;
pub use player::{ClockMaker, Lane, LaneError, Offer, Outcome, PlayError, PortLane, play};
pub use receipt::{AUDIBLE_NS, Lateness, Receipt, Recorder};
pub use sender::{Due, Queued, Report, Sender, Stopped, Stream};
pub use strokes::{DOUBLED_NS, Lean, PlaceTiming, PlayerTiming, Stroke, Strokes, Trend};
pub use tap::Tapping;
pub use waiting::Margin;
pub(crate) use waiting::Waiting;
