//! Playing in real time. Deciding what is due when is pure; sending waits for nothing but its clock.

#![warn(clippy::too_many_lines, clippy::fn_params_excessive_bools)]

mod dispatch;
mod following;
#[cfg(test)]
mod guide_table;
mod os;
mod reporting;
mod sending;
#[cfg(any(test, feature = "test-support"))]
mod test_support;
mod transport;

pub use dispatch::{Dispatcher, Entry, Item, Outgoing, Passage, STALL, Wish};
pub use following::{FollowAction, FollowState, Follower, Steering};
pub use os::{Granted, Policy, prepare_timing_thread, raise_audio_thread, stolen_ns};
pub use reporting::{
    AUDIBLE_NS, Bias, CountedStroke, DOUBLED_NS, Lateness, PlaceTiming, PlayedAt, PlayedMap,
    PlayerTiming, Receipt, Recorder, Stand, Stroke, Strokes, Trend, noticed_ns,
};
pub(crate) use sending::Waiting;
pub use sending::{
    Clock, ClockMaker, Due, Keeper, Margin, MonotonicClock, Outcome, PORT_LOOK, PlayError,
    PortLane, Report, Sender, Spin, Stopped, Stream, play,
};
#[cfg(any(test, feature = "test-support"))]
pub use test_support::{Fault, Recorded, RecordingPort, SteppedLane, VirtualClock};
pub use transport::{
    Activity, Condition, Conductor, Control, Here, Lane, LaneError, Moment, Notice, Offer, Pace,
    Performed, Tapping, play_on,
};
pub(crate) use transport::{Ends, Intake, Place, channels};
