//! Playing in real time: clocks, the sending thread, and an account of how it went.

mod channels;
mod clock;
mod conductor;
mod control;
mod dispatch;
mod drift;
mod fake;
mod follow;
mod keeper;
mod lane;
mod lines;
mod os;
mod played;
mod player;
mod receipt;
mod sender;
mod silencer;
mod strokes;
mod tap;
mod waiting;

pub(crate) use channels::{Ends, Intake, channels};
pub use clock::{Clock, MonotonicClock, VirtualClock};
pub use conductor::{Conductor, Performed, Told, play_on};
pub use control::{Control, Pace};
pub use dispatch::{Dispatcher, Entry, Item, Outgoing, Passage, STALL, Sent, TimedWish, Wish};
pub use fake::{Fault, Recorded, RecordingPort, SteppedLane};
pub use follow::{FollowAction, FollowState, Follower, Steering};
pub use keeper::{Keeper, PORT_LOOK};
pub(crate) use lane::Place;
pub use lane::{Condition, Here, Lane, LaneError, Offer};
pub use os::{Granted, Policy, prepare_timing_thread, raise_audio_thread, stolen_ns};
pub use played::{PlayedAt, PlayedMap, Stand};
pub use player::{ClockMaker, Outcome, PlayError, PortLane, play};
pub use receipt::{AUDIBLE_NS, Lateness, Receipt, Recorder};
pub use sender::{Due, Queued, Report, Sender, Stopped, Stream};
pub use strokes::{
    DOUBLED_NS, Lean, PlaceTiming, PlayerTiming, Stroke, Strokes, Trend, noticed_ns,
};
pub use tap::Tapping;
pub(crate) use waiting::Waiting;
pub use waiting::{Margin, Spin};
