//! What all drills share: the neck, the order of chance, where it goes, and how it is played and judged.

use std::time::{SystemTime, UNIX_EPOCH};

use clap::Args;

use crate::chart::SourceText;
use crate::cli::Context;
use crate::cli::failure::{Failure, read_value};
use crate::cli::options::{Wanted, number};
use crate::cli::sink::{self, SinkArguments};
use crate::drill::Exercise;
use crate::neck::{DEFAULT_FRETS, Fret, Neck, Tuning};

/// The neck a drill is played on, and what it is played to.
#[derive(Args, Clone, Debug, Default)]
#[command(next_help_heading = "How it is played")]
pub(super) struct DrillArguments {
    /// Tuning: a name, or notes such as 'D A D G B E'
    #[arg(long, value_name = "TUNING")]
    tuning: Option<String>,
    /// Fret of the capo, 0 to 12
    #[arg(long, value_name = "FRET", allow_hyphen_values = true)]
    capo: Option<String>,
    /// Seed of the order; another each time unless said
    #[arg(long, value_name = "SEED", allow_hyphen_values = true)]
    seed: Option<String>,
    /// Bars of count-in, 0 to 8
    #[arg(long, value_name = "N", allow_hyphen_values = true)]
    count_in: Option<String>,
    /// Show what will be asked without playing
    #[arg(long, conflicts_with_all = ["output", "port", "pedals", "answers"])]
    show: bool,
    /// Take the notes of this MIDI input as answers: a port as for --port
    #[arg(long, value_name = "PORT", conflicts_with = "output")]
    answers: Option<String>,
    #[command(flatten)]
    sink: SinkArguments,
}

impl DrillArguments {
    /// The neck.
    pub(super) fn neck(&self) -> Result<Neck, Failure> {
        let tuning = self.tuning.as_ref();
        let tuning = tuning.map(|text| read_value("--tuning", text, Tuning::read));
        let tuning = tuning.transpose()?.unwrap_or_else(Tuning::standard);
        let capo = match &self.capo {
            Some(text) => u8::try_from(number("capo", text, 0, 12)?).unwrap_or(0),
            None => 0,
        };
        Ok(Neck::new(tuning, DEFAULT_FRETS, Fret::new(capo)?)?)
    }

    /// The seed that was given, else one that differs from run to run.
    pub(super) fn seed(&self) -> Result<u64, Failure> {
        match &self.seed {
            Some(text) => {
                let seed = number("seed", text, 0, i64::MAX)?;
                Ok(u64::try_from(seed).unwrap_or(0))
            }
            None => {
                let now = SystemTime::now().duration_since(UNIX_EPOCH);
                let nanos = now.map_or(1, |now| now.as_nanos());
                // Short enough to be typed again.
                Ok(u64::try_from(nanos % 1_000_000).unwrap_or(1))
            }
        }
    }

    /// Plays an exercise, or writes it; then shows what was right.
    pub(super) fn send(
        &self,
        exercise: Exercise,
        context: &mut Context<'_, '_>,
    ) -> Result<(), Failure> {
        let mut piece = exercise.piece;
        if let Some(text) = &self.count_in {
            let bars = number("count-in", text, 0, 8)?;
            piece.parts.click.count_in = u32::try_from(bars).unwrap_or(1);
        }
        if self.show {
            return show(&piece.asks, context);
        }
        let source = SourceText::new("<drill>", piece.to_document());
        let prepared = Wanted::default().apply(piece, source.into())?;
        let sink = self.sink.answered_by(self.answers.as_deref());
        let sent = sink::send(&prepared, &sink, context)?;
        sent.tell_outcomes(context)
    }
}

/// What will be asked, a line each.
fn show(asks: &[crate::chart::Ask], context: &mut Context<'_, '_>) -> Result<(), Failure> {
    if context.json {
        let asks: Vec<_> = asks
            .iter()
            .map(|ask| {
                serde_json::json!({
                    "bar": ask.bar,
                    "text": ask.text,
                    "answer": ask.answer.to_string(),
                    "beats": ask.beats,
                })
            })
            .collect();
        writeln!(
            context.streams.out,
            "{}",
            serde_json::json!({ "asks": asks })
        )?;
        return Ok(());
    }
    let width = asks.iter().map(|ask| ask.text.len()).max().unwrap_or(0);
    let lines: Vec<String> = asks
        .iter()
        .map(|ask| format!("bar {:>3}  {:width$}  {}\n", ask.bar, ask.text, ask.answer))
        .collect();
    context.show(&lines.concat())?;
    Ok(())
}
