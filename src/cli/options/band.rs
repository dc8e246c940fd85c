//! What the band plays: groove, variation and how it ends.

use clap::Args;

use crate::chart::{Piece, Timing, Variation};
use crate::cli::failure::{Failure, read_value};
use crate::groove::ready_groove;
use crate::time::Ritardando;

/// The groove of a piece, and how far its bars differ.
#[derive(Args, Clone, Debug, Default)]
#[command(next_help_heading = "How long, and what is played")]
pub(in crate::cli) struct BandArguments {
    /// Groove, the rhythm the parts share: shuffle, bossa; `fivefold list grooves` has all
    #[arg(long, value_name = "GROOVE")]
    groove: Option<String>,
    /// How far bars differ: full (fills, and strokes that come at times), fills or none
    #[arg(long, value_name = "HOW")]
    variation: Option<String>,
    /// Whether the band plays exactly in time or drifts a little: exact or loose
    #[arg(long, value_name = "HOW")]
    timing: Option<String>,
    /// Slows down before the last bar: 2 bars, or 2 bars to 60%
    #[arg(long, value_name = "BARS")]
    ritardando: Option<String>,
}

impl BandArguments {
    /// Changes the piece as asked; its feel is settled before.
    pub(in crate::cli) fn apply(&self, piece: &mut Piece) -> Result<(), Failure> {
        if let Some(text) = &self.variation {
            piece.variation = read_value("--variation", text, Variation::read)?;
        }
        if let Some(text) = &self.timing {
            piece.timing = read_value("--timing", text, Timing::read)?;
        }
        if let Some(text) = &self.ritardando {
            piece.ritardando = Some(read_value("--ritardando", text, Ritardando::read)?);
        }
        if let Some(text) = &self.groove {
            piece.groove = Some(read_value("--groove", text, ready_groove)?);
            read_value("--groove", text, |_| piece.check_groove())?;
        }
        Ok(())
    }
}
