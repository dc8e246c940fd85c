//! How things are shown: to people as text, to programs as JSON.

#[cfg(feature = "cli")]
pub(crate) mod date;
mod events;
#[cfg(feature = "cli")]
mod fold;
mod form;
mod jam;
mod neck;
mod neck_drawing;
#[cfg(feature = "cli")]
mod pace_plot;
#[cfg(feature = "live")]
mod player_timing;
mod problems;
#[cfg(feature = "cli")]
mod progress;
#[cfg(feature = "live")]
mod receipt;
mod shown;
#[cfg(feature = "live")]
mod stage;
#[cfg(feature = "cli")]
mod stage_screen;
mod theory;
mod time;

pub use events::{EventLinesError, write_event_lines};
#[cfg(feature = "cli")]
pub(crate) use fold::Folded;
pub use form::{CheckReport, ChordFit, fits, write_check_json, write_check_text};
pub use jam::JamReport;
pub(crate) use neck::window;
pub use neck::{
    BarreView, LowestView, NeckLabels, NeckStyle, NeckView, PositionView, RootsView, ShapeView,
    StringNoteView, chord_on_neck, positions_on_neck, scale_on_neck,
};
#[cfg(feature = "cli")]
pub(crate) use pace_plot::pace_plot;
#[cfg(feature = "live")]
pub use player_timing::player_timing_text;
pub(crate) use problems::render_plain;
pub use problems::{ProblemView, problem_json, render_problems};
#[cfg(feature = "cli")]
pub(crate) use progress::{Progress, ProgressDue, ProgressStyle};
#[cfg(feature = "live")]
pub(crate) use receipt::short as lateness_words;
#[cfg(feature = "live")]
pub use receipt::{receipt_text, receipt_verdict};
pub(crate) use shown::shown;
#[cfg(feature = "cli")]
pub(crate) use shown::{Manner, Shown, shown_lines};
#[cfg(feature = "live")]
pub use stage::{
    BarLine, BarTally, Motion, Stage, StageAsk, StageChord, StageMaker, StageMark, StageMove,
    StageNeck, StagePlace, StagePlan, StageState, StageString, StageTrouble, moved_by,
};
#[cfg(feature = "cli")]
pub(crate) use stage_screen::{
    Look, StageCard, draw_card, draw_page, draw_stage, fits as stage_fits,
};
pub use theory::{
    ChordView, FitJson, RubJson, ScaleChordView, ScaleView, scale_chords, scale_chords_text,
};
#[cfg(feature = "live")]
pub(crate) use time::hundredths;
pub use time::{clock_time, tempo_text};

#[cfg(test)]
mod tests;
