//! Controls and what is done with them: the main thread while it plays. It knows no port and no device, and waits in
//! one place only.

mod channels;
mod conductor;
mod control;
mod lane;
mod tap;

pub(crate) use channels::{Ends, Intake, channels};
pub use conductor::{Activity, Conductor, Moment, Notice, Performed, play_on};
pub use control::{Control, Pace};
pub(crate) use lane::Place;
pub use lane::{Condition, Here, Lane, LaneError, Offer};
pub use tap::Tapping;
