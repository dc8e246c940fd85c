//! What a listener asks for and what becomes of it: the main thread while it plays. No port, no device, no waiting but one.

mod channels;
mod conductor;
mod control;
mod lane;
mod tap;

pub(crate) use channels::{Ends, Intake, channels};
pub use conductor::{Conductor, Notice, Performed, play_on};
pub use control::{Control, Pace};
pub(crate) use lane::Place;
pub use lane::{Condition, Here, Lane, LaneError, Offer};
pub use tap::Tapping;
