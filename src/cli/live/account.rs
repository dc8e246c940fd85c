//! How a run went, for the person, for programs and for the receipt.

use std::io::Write;
use std::path::Path;

use serde::Serialize;

use crate::cli::Context;
use crate::cli::failure::Failure;
use crate::cli::options::Prepared;
use crate::cli::picture::write_picture;
use crate::cli::sheet::{self, SheetArguments, SheetKind};
use crate::diagnostic::counted;
use crate::live::{Performed, PlayedMap, PlayerTiming, PortLane, Receipt, Report as PortReport};
use crate::midi::{SystemPort, replace_file};
use crate::picture::{Captioned, Drawing, PAGE_PT, lateness_picture, page_of, strokes_picture};
use crate::sound::SoundReport;
use crate::view::{Manner, Shown, player_timing_text, receipt_text, receipt_verdict};

/// How a run came to its end.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(in crate::cli) enum How {
    /// The piece was over.
    ToTheEnd,
    /// It was stopped on request.
    Stopped,
}

impl How {
    fn words(self) -> &'static str {
        match self {
            How::ToTheEnd => "played to the end",
            How::Stopped => "stopped",
        }
    }

    /// Its name for programs.
    fn code(self) -> &'static str {
        match self {
            How::ToTheEnd => "end",
            How::Stopped => "asked",
        }
    }
}

/// Of a run of which nothing can be drawn.
const NOT_DRAWN: &str = "nothing went to a MIDI port, and no strokes were checked";

/// The reports of everything that played.
pub(super) struct Account<'a> {
    performed: Performed,
    /// What was heard, in a line.
    heard: Option<String>,
    port: Option<&'a PortReport>,
    sound: Option<&'a SoundReport>,
    stalls: u32,
    untold: u32,
    /// How the receipt of a port is told.
    receipt: fn(&Receipt) -> String,
}

/// The receipt as it is written down. The names of the fields are an interface.
#[derive(Serialize)]
struct Written<'a> {
    #[serde(flatten)]
    receipt: Option<&'a Receipt>,
    /// Stalls of the machine after which the piece went on with the next bar.
    stalls: u32,
    /// Jumps that could not be sent to a follower of the MIDI clock.
    jumps_untold: u32,
    /// The check of the player's timing.
    player: Option<&'a PlayerTiming>,
    /// The map as played.
    played: &'a PlayedMap,
}

impl<'a> Account<'a> {
    pub(super) fn new(
        performed: Performed,
        heard: Option<String>,
        port: Option<&'a PortLane<SystemPort>>,
        sound: Option<&'a SoundReport>,
    ) -> Self {
        Account {
            performed,
            heard,
            port: port.and_then(PortLane::report),
            sound,
            stalls: port.map_or(0, PortLane::stalls),
            untold: port.map_or(0, PortLane::untold),
            receipt: |receipt| receipt_verdict(receipt) + "\n",
        }
    }

    /// The same, with all figures of a port in words too.
    pub(super) fn in_full(self) -> Self {
        Account {
            receipt: receipt_text,
            ..self
        }
    }

    /// Writes it as the name of the file says: as a picture, on the sheet of the piece, or as JSON.
    pub(super) fn keep(
        &self,
        path: &Path,
        (prepared, sheet): (&Prepared, &SheetArguments),
        context: &mut Context<'_, '_>,
    ) -> Result<(), Failure> {
        match SheetKind::of(path) {
            Some(SheetKind::Svg | SheetKind::Png) => write_picture(&self.picture(), path),
            Some(kind) => {
                let drawings = self.drawings();
                if drawings.is_empty() && !context.json {
                    context
                        .say_rendered(&format!("{NOT_DRAWN}: the sheet does not show the run\n"));
                }
                let sheet = sheet.clone().with_record(drawings);
                sheet::write(prepared, path, kind, &sheet, context).map(drop)
            }
            None => Ok(replace_file(path, |file| {
                let out = Shown::new(&mut *file, Manner::Json);
                serde_json::to_writer_pretty(out, &self.written())?;
                file.write_all(b"\n")
            })?),
        }
    }

    /// As it is written down.
    fn written(&self) -> Written<'_> {
        Written {
            receipt: self.port.map(|report| &report.receipt),
            stalls: self.stalls,
            jumps_untold: self.untold,
            player: self.performed.player.as_ref(),
            played: &self.performed.map,
        }
    }

    /// What can be drawn of it: how late messages were, where they went to a port, and how the player's strokes lay, where
    /// they were checked.
    fn drawings(&self) -> Vec<Captioned> {
        let late = self.port.map(|report| Captioned {
            caption: "How late messages were".to_owned(),
            drawing: lateness_picture(&report.receipt.at_call),
        });
        let player = self.performed.player.as_ref();
        let strokes = player.map(|player| Captioned {
            caption: "How your strokes lay".to_owned(),
            drawing: strokes_picture(&player.at_places),
        });
        late.into_iter().chain(strokes).collect()
    }

    /// As a picture; of a run of which nothing can be drawn, the words alone.
    fn picture(&self) -> Drawing {
        let drawings = self.drawings();
        let about = if drawings.is_empty() { NOT_DRAWN } else { "" };
        page_of("How it went", about, &drawings, PAGE_PT)
    }

    /// Prints the account, in words or as JSON.
    pub(super) fn report(&self, how: How, context: &mut Context<'_, '_>) -> Result<(), Failure> {
        if context.json {
            writeln!(context.streams.out, "{}", self.json(how))?;
            return Ok(());
        }
        let out = &mut context.streams.out;
        match &self.heard {
            Some(heard) => writeln!(out, "{}: {heard}", how.words())?,
            None => writeln!(out, "{}", how.words())?,
        }
        if let Some(report) = self.sound {
            writeln!(out, "{}", sound_words(report))?;
        }
        if let Some(report) = self.port {
            write!(out, "{}", (self.receipt)(&report.receipt))?;
            if let Some(notice) = report.receipt.granted.and_then(|granted| granted.notice()) {
                writeln!(context.streams.err, "{notice}")?;
            }
        }
        if self.stalls > 0 {
            writeln!(
                context.streams.err,
                "the machine stood still {}; each time the piece went on with the next bar",
                times(self.stalls)
            )?;
        }
        if self.untold > 0 {
            writeln!(
                context.streams.err,
                "a follower of the MIDI clock was not told of a jump {}: there is no song position for its place",
                times(self.untold)
            )?;
        }
        if let Some(player) = &self.performed.player {
            write!(context.streams.out, "{}", player_timing_text(player))?;
        }
        Ok(())
    }

    fn json(&self, how: How) -> serde_json::Value {
        let mut line = serde_json::json!({ "stopped": how.code() });
        let Some(fields) = line.as_object_mut() else {
            return line;
        };
        let mut put = |name: &str, value: serde_json::Value| fields.insert(name.to_owned(), value);
        if let Some(report) = self.port {
            put("sent", report.sent.into());
            put("worst_late_ns", report.worst_late_ns.into());
            put("late_beyond_1_ms", report.late_beyond_1_ms.into());
            put("receipt", serde_json::json!(report.receipt));
            put("stalls", self.stalls.into());
            put("jumps_untold", self.untold.into());
        }
        if let Some(player) = &self.performed.player {
            put("player", serde_json::json!(player));
        }
        if let Some(report) = self.sound {
            let sound = serde_json::json!({
                "device": report.device,
                "rate_hz": report.rate_hz,
                "frames": report.tally.frames,
                "latency_ms": report.tally.latency.as_secs_f64() * 1e3,
                "dropouts": report.tally.xruns,
                "late": report.late,
                "changes_of_device": report.changes,
            });
            put("sound", sound);
        }
        line
    }
}

/// Whether the sound went through.
fn sound_words(report: &SoundReport) -> String {
    let late = match report.late {
        0 => String::new(),
        late => format!("; {} came late", counted(late, "note")),
    };
    match report.tally.xruns {
        0 => format!("the sound never broke off{late}"),
        count => {
            let broke = times(u32::try_from(count).unwrap_or(u32::MAX));
            format!(
                "the sound broke off {broke}{late}; a larger `--device-buffer` makes that rarer"
            )
        }
    }
}

fn times(count: u32) -> String {
    match count {
        1 => "once".to_owned(),
        2 => "twice".to_owned(),
        n => format!("{n} times"),
    }
}

#[cfg(test)]
mod tests {
    use std::io;
    use std::time::Duration;

    use super::*;
    use crate::SourceText;
    use crate::chart::Piece;
    use crate::cli::Streams;
    use crate::cli::options::Wanted;
    use crate::cli::progress::Outside;
    use crate::live::{Stroke, Strokes};
    use crate::time::Nanos;

    /// The receipt of a run in a file of this name, and what is said.
    fn kept(performed: Performed, name: &str) -> (String, String) {
        let (piece, _) =
            Piece::read("title = \"Two Rooms\"\n[sections]\na = \"| Am | C |\"\n").unwrap();
        let source = SourceText::new("two-rooms.toml", piece.to_document());
        let Ok(prepared) = Wanted::default().apply(piece, source.into()) else {
            panic!("the piece can be played");
        };
        let (mut out, mut err, mut input) = (Vec::new(), Vec::new(), io::empty());
        let mut streams = Streams::piped(&mut out, &mut err, &mut input);
        let outside = Outside {
            elapsed: &|| Duration::ZERO,
            bar_columns: &|| None,
        };
        let mut context = Context::plain(&mut streams, &outside);
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join(name);
        let account = Account::new(performed, None, None, None);
        let sheet = (&prepared, &SheetArguments::default());
        assert!(account.keep(&path, sheet, &mut context).is_ok());
        let written = std::fs::read(&path).unwrap();
        let written = String::from_utf8_lossy(&written).into_owned();
        (written, String::from_utf8(err).unwrap())
    }

    /// A run with two strokes.
    fn struck() -> Performed {
        let mut strokes = Strokes::new(0);
        for (beat, late_ms) in [(1, 12), (2, 20)] {
            strokes.note(&Stroke {
                offset_ns: late_ms * 1_000_000,
                bar: 1,
                beat,
                part: 1,
                parts: 1,
                gap_ns: 1_000_000_000,
                at: Nanos::new(u64::from(beat) * 1_000_000_000),
            });
        }
        Performed {
            player: Some(strokes.timing()),
            ..Performed::default()
        }
    }

    #[test]
    fn a_receipt_is_the_sheet_with_the_run_on_it_or_the_run_alone() {
        let (sheet, said) = kept(struck(), "run.html");
        for part in [
            "Two Rooms",
            "Am",
            "<h2>How your strokes lay",
            "Strokes by place",
        ] {
            assert!(sheet.contains(part), "{part}: {sheet}");
        }
        assert_eq!(said, "");
        let (page, _) = kept(struck(), "run.pdf");
        assert!(page.starts_with("%PDF-"));
        // By itself it holds nothing of the chart.
        let (picture, _) = kept(struck(), "run.svg");
        assert!(picture.contains("Strokes by place") && !picture.contains("Two Rooms"));
        let (json, _) = kept(struck(), "run.json");
        let json: serde_json::Value = serde_json::from_str(&json).unwrap();
        assert_eq!(json["player"]["strokes"], 2, "{json}");
    }

    #[test]
    fn a_sheet_that_shows_nothing_of_the_run_is_told() {
        let (sheet, said) = kept(Performed::default(), "run.htm");
        assert!(sheet.contains("Two Rooms") && !sheet.contains("How your strokes lay"));
        let told = "nothing went to a MIDI port, and no strokes were checked: the sheet does not show the run\n";
        assert_eq!(said, told);
    }
}
