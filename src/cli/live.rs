//! Playing live: to an audio device, a MIDI port, or both.

mod account;
mod process;
mod signals;
mod telling;

use std::io::Write;
use std::path::Path;
use std::sync::Arc;
use std::sync::atomic::Ordering;
use std::time::Duration;

use self::account::Account;
use self::telling::Telling;
use super::Context;
use super::controls::Names;
use super::failure::Failure;
use super::options::Prepared;
use super::saying;
use super::sound::SoundArguments;
use super::steering::{self, SteerArguments};
use crate::event::Source;
use crate::live::{Clock, Conductor, Lane, MonotonicClock, Notice, PORT_LOOK, PortLane};
use crate::midi::{PortWatch, SystemPort, list_outputs, open_output, replace_file};
use crate::sound::{Desk, SoundLane, open_device};
use crate::view::{Manner, Shown, clock_time, shown};

/// Time between opening a port and the first message.
const LEAD: Duration = Duration::from_millis(100);

/// How long the last words said while it played may take to be written.
const SETTLE: Duration = Duration::from_millis(500);

/// What playing is to be like.
pub(super) struct Wishes<'a> {
    /// The MIDI port, by number or name.
    pub(super) port: Option<&'a str>,
    /// Whether the MIDI clock is sent.
    pub(super) clock: bool,
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
    let ending = signals::Ending::default();
    let stop = Arc::clone(&ending.stop);
    let mut arrangement = prepared.arrangement()?;
    let mut sound = if port.is_none() || arguments.device().is_some() {
        let buffer = arguments.buffer()?;
        let device = open_device(arguments.device().flatten())?.with_buffer(buffer);
        let header = arrangement.header().clone();
        let font = arguments.font(&header, context)?;
        let gain = arguments.gain(&mut prepared.arrangement()?, font.as_ref())?;
        let desk = Desk::new(&header, device.rate(), gain, arguments.peaks())
            .with_font(&header, font.as_ref())?;
        let name = device.name().to_owned();
        Some((name, SoundLane::new(device, desk, &stop)))
    } else {
        None
    };
    signals::listen(&ending)?;
    let names: Vec<String> = sound
        .iter()
        .map(|(name, _)| name.clone())
        .chain(port.iter().map(|port| port.name().to_owned()))
        .collect();
    let offset = arguments.port_offset()?;
    if !context.json {
        let title = shown(&prepared.piece.title);
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
    let leader = wishes.steer.leader()?;
    let check = wishes.steer.check()?;
    if let (Some(leader), false) = (&leader, context.json) {
        let err = &mut context.streams.err;
        writeln!(err, "{} leads: it begins when that does", leader.name())?;
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
        let keeper = Box::new(PortWatch::new(&port));
        let mut lane = PortLane::new(port, Box::new(clock), &stop)
            .prompt()
            .kept(keeper, PORT_LOOK);
        if follows {
            lane = lane.following();
        }
        if wishes.clock {
            lane = lane.with_clock();
        }
        lane
    });
    let mut lanes: Vec<&mut dyn Lane> = Vec::new();
    if let Some((_, lane)) = &mut sound {
        lanes.push(lane);
    }
    if let Some(lane) = &mut port {
        lanes.push(lane);
    }
    let journey = arrangement.journey();
    let unit_ticks = journey.grid().first_meter().tempo_unit_ticks();
    let last = journey.last_bar();
    let bars = Names::new(arrangement.header(), prepared.sections(), last);
    let by_space = check.as_ref().is_some_and(|check| check.input.is_none());
    let steering = steering::begin(bars, wishes.steer, by_space, context)?;
    #[cfg(feature = "jack")]
    let mut arrangement = super::faulty::Faulty::new(&mut arrangement);
    let quiet = context.json;
    let telling = Telling {
        names: &names,
        leader: leader.as_ref().map(steering::Listening::name),
        unit_ticks,
    };
    let mut tell = |told: Notice| {
        if !quiet && let Some(text) = telling.text(told) {
            saying::say(&text);
        }
    };
    let mut suspend = process::suspend;
    let mut conductor = Conductor::new(&mut arrangement, &mut lanes, &stop)
        .asked_by(steering.controls())
        .notifying(&mut tell)
        .suspended_by(&ending.suspended, &mut suspend);
    if let Some(leader) = &leader {
        conductor = conductor.led_by(&leader.heard);
    }
    if let Some(check) = &check {
        let heard = check.input.as_ref().map(|input| &input.heard);
        conductor = conductor.checking(heard, check.each_beat, check.delay_ns);
    }
    let (performed, played) = {
        let _hook = process::StopOnPanic::new(&stop);
        conductor.play()
    };
    ending.silenced.store(true, Ordering::Release);
    drop(steering);
    saying::settle(SETTLE);
    let account = Account::new(
        performed,
        port.as_ref(),
        sound.as_ref().and_then(|(_, lane)| lane.report()),
    );
    // A run that failed has its receipt too.
    if let Some(path) = wishes.receipt {
        replace_file(path, |file| {
            let out = Shown::new(&mut *file, Manner::Json);
            serde_json::to_writer_pretty(out, &account.written())?;
            file.write_all(b"\n")
        })?;
    }
    played?;
    let inputs = [
        leader.as_ref(),
        check.as_ref().and_then(|c| c.input.as_ref()),
    ];
    for input in inputs.into_iter().flatten().filter(|i| i.dropped() > 0) {
        if !quiet {
            let err = &mut context.streams.err;
            writeln!(
                err,
                "{} messages of {} were lost",
                input.dropped(),
                input.name()
            )?;
        }
    }
    account.report(stop.load(Ordering::Relaxed), context)
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
