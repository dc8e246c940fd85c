//! What a listener can ask for while it plays.

use std::time::Instant;

use crate::event::PartId;

/// A tempo asked for while it plays. The rest of the plan scales with it, so a ramp keeps its shape.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Pace {
    /// The plan at so many millionths of its tempo, 100 000 to 10 000 000.
    Share(u32),
    /// The plan at so many millionths of its own tempo more than now, or less.
    ShareBy(i32),
    /// What plays now at so many thousandths of a beat a minute. A beat is what the plan's tempo counts.
    Beats(u32),
    /// What plays now at so many thousandths of a beat a minute more, or less.
    BeatsBy(i32),
}

/// What a listener can ask for while it plays.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Control {
    /// Pause; what sounds ends.
    Pause,
    /// Go on where it is paused.
    Resume,
    /// Toggle between the two.
    PauseOrResume,
    /// Begin the bar that plays, or the one it is paused in, again now, after a bar of count-in.
    CountIn,
    /// Change the tempo.
    Tempo(Pace),
    /// A beat was tapped at this moment: two and more set the tempo of what plays now.
    Tap(Instant),
    /// Move everything pitched by so many semitones, -24 to 24 (0 as written), from the next chord on.
    Transpose(i8),
    /// The same, counted from how it is moved now.
    TransposeBy(i8),
    /// Mute a part.
    Mute(PartId),
    /// Let it be heard again.
    Unmute(PartId),
    /// Toggle between the two.
    MuteOrUnmute(PartId),
    /// Go to this bar, counted from 1, at the next bar line.
    Go(i64),
    /// Go so many bars on from the one that plays (0: play it again), at the next bar line.
    GoBy(i64),
    /// Go on with the next pass at the next bar line; in an endless jam that is a new progression.
    Next,
    /// Begin this pass again at the next bar line.
    Again,
    /// From the last of these bars go back to the first, again and again; `None` ends that.
    Loop(Option<(i64, i64)>),
    /// The bar that plays is the first of a loop to come.
    LoopFromHere,
    /// The bar that plays is the last of a loop, which begins with the bar marked before, or with this one.
    LoopToHere,
    /// The player struck a note at this moment, for the check of the player's timing.
    Stroke(Instant),
    /// The player did something that may answer an ask.
    Respond {
        /// A number by which the sender knows what it was.
        id: u32,
        /// When it was.
        at: Instant,
    },
    /// Stop playing and end.
    Stop,
}
