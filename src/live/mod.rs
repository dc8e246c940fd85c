//! Playing in real time: clocks, the sending thread, and an account of how it went.

mod clock;
mod player;
mod sender;

pub use clock::{Clock, MonotonicClock, VirtualClock};
pub use player::{Outcome, PlayError, play};
pub use sender::{Queued, Report, Sender, Stopped};
