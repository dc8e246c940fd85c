//! How a run went, for the person, for programs and for the receipt.

use serde::Serialize;

use crate::cli::Context;
use crate::cli::failure::Failure;
use crate::diagnostic::counted;
use crate::live::{Performed, PlayedMap, PlayerTiming, PortLane, Receipt, Report as PortReport};
use crate::midi::SystemPort;
use crate::picture::{Captioned, Drawing, PAGE_PT, lateness_picture, page_of, strokes_picture};
use crate::sound::SoundReport;
use crate::view::{player_timing_text, receipt_text, receipt_verdict};

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
pub(super) struct Written<'a> {
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

    /// As it is written down.
    pub(super) fn written(&self) -> Written<'_> {
        Written {
            receipt: self.port.map(|report| &report.receipt),
            stalls: self.stalls,
            jumps_untold: self.untold,
            player: self.performed.player.as_ref(),
            played: &self.performed.map,
        }
    }

    /// As a picture: how late messages were, where they went to a port, and how the player's strokes lay, where they were
    /// checked; of a run without both, and without a port, the words alone.
    pub(super) fn picture(&self) -> Drawing {
        let mut drawings = Vec::new();
        if let Some(report) = self.port {
            drawings.push(Captioned {
                caption: "How late messages were".to_owned(),
                drawing: lateness_picture(&report.receipt.at_call),
            });
        }
        if let Some(player) = &self.performed.player {
            drawings.push(Captioned {
                caption: "How your strokes lay".to_owned(),
                drawing: strokes_picture(&player.at_places),
            });
        }
        let about = if drawings.is_empty() {
            "nothing went to a MIDI port, and no strokes were checked"
        } else {
            ""
        };
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
