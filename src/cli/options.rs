//! The options that change a piece, as typed and as read, and the piece with its changes.

mod band;
mod origin;
mod prepared;
mod spot;
mod values;
mod wanted;

use clap::Args;

pub(super) use self::band::BandArguments;
pub(super) use self::origin::Origin;
pub(super) use self::prepared::Prepared;
pub(super) use self::values::{
    MOST_BAR, NEEDS_KEY, choice, feel, fresh_seed, meter, number, part_meant, percent, read_plan,
};
pub(super) use self::wanted::Wanted;

/// What to change about the length of a piece and how it begins, and about its parts: what a click has too.
#[derive(Args, Clone, Debug, Default)]
#[command(next_help_heading = "How long, and what is played")]
pub(super) struct Extent {
    /// Passes (times through), or endless
    #[arg(long, value_name = "N", allow_hyphen_values = true)]
    times: Option<String>,
    /// Time to play, such as 10min or 90s
    #[arg(long = "for", value_name = "TIME", allow_hyphen_values = true, conflicts_with_all = ["times", "bars"])]
    duration: Option<String>,
    /// End just after the time of --for, count-in included, not at the next bar line
    #[arg(long)]
    exact: bool,
    /// Bars to play, repeating as needed
    #[arg(
        long,
        value_name = "N",
        conflicts_with = "times",
        allow_hyphen_values = true
    )]
    bars: Option<String>,
    /// First bar, from 1, or a section
    #[arg(long, value_name = "BAR", allow_hyphen_values = true)]
    from: Option<String>,
    /// Last bar, from 1, or a section; with --times, --for or --bars the bars from --from to here go round
    #[arg(long, value_name = "BAR", allow_hyphen_values = true)]
    to: Option<String>,
    /// Bars of count-in, 0 to 8
    #[arg(long, value_name = "N", allow_hyphen_values = true)]
    count_in: Option<String>,
    /// No count-in, no ending, no seam
    #[arg(long = "loop", conflicts_with = "count_in")]
    looped: bool,
    /// A setting of a part, such as bass.line=walking; may be repeated; `fivefold list settings` has them all
    #[arg(long, value_name = "PART.KEY=VALUE")]
    part: Vec<String>,
    /// Seed of every random choice
    #[arg(long, value_name = "SEED", allow_hyphen_values = true)]
    seed: Option<String>,
}

/// What to change about a piece.
#[derive(Args, Clone, Debug, Default)]
#[command(next_help_heading = "How long, and what is played")]
pub(super) struct Changes {
    /// 96, 80%, or '72 to 96 by 4 every 8 bars'
    #[arg(long, value_name = "PLAN")]
    tempo: Option<String>,
    /// Key to play it in; D keeps the mode
    #[arg(long, value_name = "KEY")]
    key: Option<String>,
    /// Semitones to move the piece by, -24 to 24
    #[arg(
        long,
        value_name = "N",
        allow_hyphen_values = true,
        conflicts_with = "key"
    )]
    transpose: Option<String>,
    /// Parts that play: click,bass
    #[arg(long, value_name = "PARTS")]
    parts: Option<String>,
    #[command(flatten)]
    pub(super) extent: Extent,
    /// Tuning of the guitar: a name, or notes such as 'D A D G B E'
    #[arg(long, value_name = "TUNING")]
    tuning: Option<String>,
    /// Fret of the capo, 0 to 12
    #[arg(long, value_name = "FRET", allow_hyphen_values = true)]
    capo: Option<String>,
}

impl From<Extent> for Changes {
    fn from(extent: Extent) -> Self {
        Changes {
            extent,
            ..Changes::default()
        }
    }
}
