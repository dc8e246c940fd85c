//! Playing live: to an audio device, a MIDI port, or both.

use std::io::Write;
use std::path::Path;
use std::sync::Arc;
use std::sync::atomic::AtomicBool;
use std::time::Duration;

use super::Context;
use super::controls::Names;
use super::failure::Failure;
use super::options::Prepared;
use super::sound::SoundArguments;
use super::steering::{self, SteerArguments};
use crate::event::Source;
use crate::live::{Clock, Conductor, Lane, MonotonicClock, PortLane, Report, Stopped};
use crate::midi::{SystemPort, list_outputs, open_output, replace_file};
use crate::sound::{Desk, SoundLane, SoundReport, open_device};
use crate::view::{clock_time, receipt_text};

/// Time between opening a port and the first message.
const LEAD: Duration = Duration::from_millis(100);

/// What playing is to be like.
pub(super) struct Wishes<'a> {
    /// The MIDI port, by number or name.
    pub(super) port: Option<&'a str>,
    /// Where the receipt goes.
    pub(super) receipt: Option<&'a Path>,
    /// How it sounds.
    pub(super) sound: &'a SoundArguments,
    /// With what it is steered.
    pub(super) steer: &'a SteerArguments,
}

/// Plays to the port and the device asked for; where nothing was asked for, to the default device.
pub(super) fn perform(
    prepared: &Prepared,
    wishes: &Wishes<'_>,
    context: &mut Context<'_, '_>,
) -> Result<(), Failure> {
    let arguments = wishes.sound;
    let port = wishes
        .port
        .map(|name| open_port(name, context))
        .transpose()?;
    let stop = Arc::new(AtomicBool::new(false));
    let mut arrangement = prepared.arrangement()?;
    let mut sound = if port.is_none() || arguments.device().is_some() {
        let buffer = arguments.buffer()?;
        let device = open_device(arguments.device().flatten())?.with_buffer(buffer);
        let header = arrangement.header().clone();
        let font = arguments.font(&header, context)?;
        let gain = arguments.gain(&mut prepared.arrangement()?, font.as_ref())?;
        let desk = Desk::new(&header, device.rate(), gain, arguments.limited())
            .with_font(&header, font.as_ref())?;
        let name = device.name().to_owned();
        Some((name, SoundLane::new(device, desk, &stop)))
    } else {
        None
    };
    listen(&stop)?;
    let names: Vec<String> = sound
        .iter()
        .map(|(name, _)| name.clone())
        .chain(port.iter().map(|port| port.name().to_owned()))
        .collect();
    let offset = arguments.port_offset()?;
    if !context.json {
        let title = &prepared.piece.title;
        let length = prepared
            .duration()?
            .map_or("until stopped".to_owned(), clock_time);
        let err = &mut context.streams.err;
        writeln!(err, "{title}, {length}, seed {}", prepared.piece.seed)?;
        writeln!(err, "playing to {}; Ctrl-C stops", names.join(" and "))?;
        if let ([_, port], true) = (names.as_slice(), sound.is_some()) {
            writeln!(
                err,
                "{port} follows the sound as it is heard, by the clock of the device, {}",
                offset_words(offset)
            )?;
        }
    }
    let follows = sound.is_some();
    let mut port = port.map(|port| {
        let follow = sound.as_mut().map(|(_, lane)| lane.lead(offset));
        let clock = move || -> Box<dyn Clock> {
            match follow.and_then(|clock| clock()) {
                Some(clock) => Box::new(clock),
                None => Box::new(MonotonicClock::starting_in(LEAD)),
            }
        };
        let lane = PortLane::new(port, Box::new(clock), &stop).prompt();
        if follows { lane.following() } else { lane }
    });
    let mut lanes: Vec<&mut dyn Lane> = Vec::new();
    if let Some((_, lane)) = &mut sound {
        lanes.push(lane);
    }
    if let Some(lane) = &mut port {
        lanes.push(lane);
    }
    let last = arrangement.journey().last_bar();
    let names = Names::new(arrangement.header(), prepared.sections(), last);
    let steering = steering::begin(names, wishes.steer, false, context)?;
    #[cfg(feature = "jack")]
    let mut arrangement = super::faulty::Faulty::new(&mut arrangement);
    let (performed, played) = Conductor::new(&mut arrangement, &mut lanes, &stop)
        .asked_by(steering.controls())
        .play();
    // A run that failed has its receipt too.
    if let (Some(path), Some(report)) = (wishes.receipt, port.as_ref().and_then(PortLane::report)) {
        replace_file(path, |file| {
            serde_json::to_writer_pretty(&mut *file, &report.receipt)?;
            file.write_all(b"\n")
        })?;
    }
    played?;
    let stopped = stop.load(std::sync::atomic::Ordering::Relaxed);
    let sound = sound.as_ref().and_then(|(_, lane)| lane.report());
    let port = port.as_ref().and_then(PortLane::report);
    report(stopped, sound, port, context)
}

fn offset_words(offset_ms: f64) -> String {
    if offset_ms > 0.0 {
        format!("{offset_ms} ms after it")
    } else if offset_ms < 0.0 {
        format!("{} ms before it", -offset_ms)
    } else {
        "at the same time".to_owned()
    }
}

fn open_port(name: &str, context: &mut Context<'_, '_>) -> Result<SystemPort, Failure> {
    match open_output(Some(name)) {
        Ok(port) => Ok(port),
        Err(e) => {
            if let Ok(ports) = list_outputs()
                && !context.json
            {
                for port in ports {
                    writeln!(context.streams.err, "{port}")?;
                }
            }
            Err(e.into())
        }
    }
}

fn report(
    stopped: bool,
    sound: Option<&SoundReport>,
    port: Option<&Report>,
    context: &mut Context<'_, '_>,
) -> Result<(), Failure> {
    let how = if stopped {
        "stopped"
    } else {
        "played to the end"
    };
    if context.json {
        let mut line = serde_json::json!({ "stopped": if stopped { "asked" } else { "end" } });
        if let (Some(report), Some(fields)) = (port, line.as_object_mut()) {
            fields.insert("sent".to_owned(), report.sent.into());
            fields.insert("worst_late_ns".to_owned(), report.worst_late_ns.into());
            fields.insert(
                "late_beyond_1_ms".to_owned(),
                report.late_beyond_1_ms.into(),
            );
            fields.insert("receipt".to_owned(), serde_json::json!(report.receipt));
        }
        if let (Some(report), Some(fields)) = (sound, line.as_object_mut()) {
            let sound = serde_json::json!({
                "device": report.device,
                "rate_hz": report.rate_hz,
                "frames": report.tally.frames,
                "latency_ms": report.tally.latency.as_secs_f64() * 1e3,
                "dropouts": report.tally.xruns,
                "late": report.late,
                "changes_of_device": report.changes,
            });
            fields.insert("sound".to_owned(), sound);
        }
        writeln!(context.streams.out, "{line}")?;
        return Ok(());
    }
    if let Some(report) = sound {
        let dropouts = match report.tally.xruns {
            0 => "without a dropout".to_owned(),
            1 => "with 1 dropout".to_owned(),
            n => format!("with {n} dropouts"),
        };
        let latency = report.tally.latency.as_secs_f64() * 1e3;
        let late = if report.late > 0 {
            format!(", {} notes late", report.late)
        } else {
            String::new()
        };
        writeln!(
            context.streams.out,
            "{how}: sound at {} Hz {dropouts}{late}, latency of the device {latency:.0} ms",
            report.rate_hz
        )?;
    }
    if let Some(report) = port {
        let how = if report.stopped == Stopped::End {
            "played to the end"
        } else {
            "stopped"
        };
        let out = &mut context.streams.out;
        writeln!(out, "{how}: {} messages", report.sent)?;
        write!(out, "{}", receipt_text(&report.receipt))?;
        if let Some(notice) = report.receipt.granted.and_then(|granted| granted.notice()) {
            writeln!(context.streams.err, "{notice}")?;
        }
    }
    Ok(())
}

/// Sets `stop` on Ctrl-C and on the signals by which a system ends a program; a second one ends at once.
fn listen(stop: &Arc<AtomicBool>) -> Result<(), Failure> {
    use signal_hook::consts::{SIGINT, SIGTERM};
    let mut signals = vec![SIGINT, SIGTERM];
    #[cfg(unix)]
    signals.push(signal_hook::consts::SIGHUP);
    for signal in signals {
        signal_hook::flag::register_conditional_shutdown(signal, 130, Arc::clone(stop))?;
        signal_hook::flag::register(signal, Arc::clone(stop))?;
    }
    Ok(())
}
