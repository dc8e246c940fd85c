//! Playing in real time: clocks, the sending thread, and an account of how it went.

mod clock;
mod fake;
mod player;
mod sender;

pub(crate) use clock::wait_while;
pub use clock::{Clock, MonotonicClock, VirtualClock};
pub use fake::{Fault, Recorded, RecordingPort};
pub use player::{
    ClockMaker, Lane, LaneError, Offer, Outcome, PlayError, PortLane, Timed, play, play_on,
};
pub use sender::{Queued, Report, Sender, Stopped};
