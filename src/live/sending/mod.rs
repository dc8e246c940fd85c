//! Sending to a MIDI port in time, on a thread of its own: waiting, sending, silencing, and reopening a port that goes
//! away.

mod clock;
mod keeper;
mod port_lane;
mod sender;
mod silencer;
mod stream;
mod waiting;

pub use clock::{Clock, MonotonicClock};
pub use keeper::{Keeper, PORT_LOOK};
pub use port_lane::{ClockMaker, Outcome, PlayError, PortLane, play};
pub use sender::{Due, Report, Sender, Stopped, Stream};
#[cfg(any(test, feature = "test-support"))]
pub(super) use stream::{LiveStream, live_stream};
pub(crate) use waiting::Waiting;
pub use waiting::{Margin, Spin};
