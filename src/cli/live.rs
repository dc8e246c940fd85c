//! Playing live: to an audio device, a MIDI port, or both.

#![warn(clippy::too_many_lines, clippy::fn_params_excessive_bools)]

mod account;
mod process;
mod showing;
mod telling;

use std::io::Write;
use std::path::Path;
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};
use std::time::Duration;

use self::account::Account;
pub(super) use self::account::How;
use self::showing::{Showing, bar_event};
use self::telling::Telling;
use super::Context;
use super::asking::Asking;
use super::controls::Names;
use super::failure::Failure;
use super::hint::Hint;
use super::options::Prepared;
use super::saying;
use super::screen::{self, Screen};
use super::sheet::SheetArguments;
use super::signals;
use super::sound::SoundArguments;
use super::steering::{self, Check, Listening, SteerArguments, Steering};
use super::watcher;
use crate::arrange::Arrangement;
use crate::event::Source;
use crate::live::{
    Clock, Conductor, Lane, LaneError, Moment, MonotonicClock, Notice, PORT_LOOK, Performed,
    PlayerTiming, PortLane,
};
use crate::midi::{PortWatch, SystemPort, list_outputs, open_output};
use crate::sound::{Desk, SoundLane, open_device};
use crate::view::{BarLine, Look, StageMaker, StageState, clock_time, shown};

/// Time between opening a port and the first message.
const LEAD: Duration = Duration::from_millis(100);

/// How long writing the last messages may take after playing.
const SETTLE: Duration = Duration::from_millis(500);

/// What is asked for when playing.
pub(super) struct Wishes<'a> {
    /// The MIDI port, by number or name.
    pub(super) port: Option<&'a str>,
    /// Whether the MIDI clock is sent.
    pub(super) clock: bool,
    /// Where the receipt goes.
    pub(super) receipt: Option<&'a Path>,
    /// What a sheet is like, where the receipt is one.
    pub(super) sheet: &'a SheetArguments,
    /// How it sounds.
    pub(super) sound: &'a SoundArguments,
    /// What controls it.
    pub(super) steer: &'a SteerArguments,
    /// What it asks, if it asks.
    pub(super) asking: Option<&'a mut Asking>,
}

/// The audio device it is heard on.
struct Heard {
    name: String,
    lane: SoundLane,
}

/// Plays to the port and the device asked for; where nothing was asked for, to the default device.
pub(super) fn perform(
    prepared: &Prepared,
    wishes: &mut Wishes<'_>,
    context: &mut Context<'_, '_>,
) -> Result<(How, Option<PlayerTiming>), Failure> {
    // Before anything is open that it would hold open too.
    if wishes.steer.shows_stage(context) {
        watcher::begin();
    }
    wishes.steer.find_inputs(context)?;
    let port = wishes
        .port
        .map(|name| open_port(name, context))
        .transpose()?;
    let ending = signals::ending();
    let mut sound = if port.is_none() || wishes.sound.device().is_some() {
        Some(open_sound(prepared, wishes.sound, &ending.stop, context)?)
    } else {
        None
    };
    signals::listen(&ending)?;
    let names = names(sound.as_ref(), port.as_ref());
    let offset_ms = wishes.sound.port_offset()?;
    announce(prepared, &names, offset_ms, context)?;
    let players = Players::listen(wishes.steer, context)?;
    let mut port = port.map(|port| {
        let lane = port_lane(port, sound.as_mut(), offset_ms, &ending.stop);
        if wishes.clock {
            lane.with_clock()
        } else {
            lane
        }
    });
    let mut lanes: Vec<&mut dyn Lane> = Vec::new();
    if let Some(sound) = &mut sound {
        lanes.push(&mut sound.lane);
    }
    if let Some(lane) = &mut port {
        lanes.push(lane);
    }
    let participants = Participants {
        names: &names,
        players: &players,
        steer: wishes.steer,
        ending: &ending,
        asking: wishes.asking.as_deref_mut(),
    };
    let conducted = conduct(prepared, &mut lanes, participants, context)?;
    let strokes = conducted.performed.player.clone();
    let sound = sound.as_ref().and_then(|sound| sound.lane.report());
    let how = how(&ending);
    let account = Account::new(conducted.performed, conducted.heard, port.as_ref(), sound);
    // A failed run gets its receipt too.
    let account = match wishes.receipt {
        Some(path) => {
            account.keep(path, (prepared, wishes.sheet), context)?;
            account.in_full()
        }
        None => account,
    };
    conducted.played?;
    account.report(how, context)?;
    players.tell_losses(context)?;
    Ok((how, strokes))
}

/// What it is played to, the device first.
fn names(sound: Option<&Heard>, port: Option<&SystemPort>) -> Vec<String> {
    let device = sound.map(|sound| sound.name.clone());
    let port = port.map(|port| port.name().to_owned());
    device.into_iter().chain(port).collect()
}

fn how(ending: &signals::Ending) -> How {
    if ending.stop.load(Ordering::Relaxed) {
        How::Stopped
    } else {
        How::ToTheEnd
    }
}

/// Opens the audio device, with the desk that makes the sound.
fn open_sound(
    prepared: &Prepared,
    arguments: &SoundArguments,
    stop: &Arc<AtomicBool>,
    context: &mut Context<'_, '_>,
) -> Result<Heard, Failure> {
    let buffer = arguments.buffer()?;
    let device = open_device(arguments.device().flatten())?.with_buffer(buffer);
    let header = prepared.arrangement().header().clone();
    let font = arguments.font(&header, context)?;
    let gain = arguments.gain(&mut prepared.arrangement(), font.as_ref(), &mut |_| {})?;
    let desk = Desk::new(&header, device.rate(), gain, arguments.peaks())
        .with_font(&header, font.as_ref())?;
    Ok(Heard {
        name: device.name().to_owned(),
        lane: SoundLane::new(device, desk, stop),
    })
}

/// Announces what is played, and to what: a device, a port, or a port that follows a device.
fn announce(
    prepared: &Prepared,
    names: &[String],
    offset_ms: f64,
    context: &mut Context<'_, '_>,
) -> Result<(), Failure> {
    if context.json {
        return Ok(());
    }
    let title = shown(&prepared.piece.title);
    let length = prepared
        .duration()
        .map_or("until stopped".to_owned(), clock_time);
    let err = &mut context.streams.err;
    writeln!(err, "{title}, {length}, seed {}", prepared.piece.seed)?;
    writeln!(err, "playing to {}; Ctrl-C stops", names.join(" and "))?;
    if let [_, port] = names {
        writeln!(
            err,
            "{port} follows the sound as it is heard, by the clock of the device, {}",
            offset_words(offset_ms)
        )?;
    }
    Ok(())
}

/// The lane of a port: by the clock of the device beside it, else by one of its own.
fn port_lane(
    port: SystemPort,
    sound: Option<&mut Heard>,
    offset_ms: f64,
    stop: &Arc<AtomicBool>,
) -> PortLane<SystemPort> {
    let keeper = Box::new(PortWatch::new(&port));
    let by_itself = || -> Box<dyn Clock> { Box::new(MonotonicClock::starting_in(LEAD)) };
    let lane = match sound {
        None => PortLane::new(port, Box::new(by_itself), stop),
        Some(sound) => {
            let follow = sound.lane.lead(offset_ms);
            let clock = move || match follow() {
                Some(clock) => Box::new(clock),
                None => by_itself(),
            };
            PortLane::new(port, Box::new(clock), stop).following()
        }
    };
    lane.prompt().kept(keeper, PORT_LOOK)
}

/// The inputs that are listened to while it plays: a device that leads, and a player whose timing is checked.
struct Players {
    leader: Option<Listening>,
    check: Option<Check>,
}

impl Players {
    fn listen(steer: &SteerArguments, context: &mut Context<'_, '_>) -> Result<Self, Failure> {
        let players = Players {
            leader: steer.leader()?,
            check: steer.check()?,
        };
        if let (Some(leader), false) = (&players.leader, context.json) {
            let err = &mut context.streams.err;
            writeln!(err, "{} leads: it begins when that does", leader.name())?;
        }
        Ok(players)
    }

    /// Whether the space bar strikes.
    fn strike_by_space(&self) -> bool {
        self.check
            .as_ref()
            .is_some_and(|check| check.input.is_none())
    }

    /// Reports inputs that lost messages.
    fn tell_losses(&self, context: &mut Context<'_, '_>) -> Result<(), Failure> {
        if context.json {
            return Ok(());
        }
        let player = self.check.as_ref().and_then(|check| check.input.as_ref());
        let inputs = [self.leader.as_ref(), player].into_iter().flatten();
        for input in inputs.filter(|input| input.dropped() > 0) {
            let (lost, name) = (input.dropped(), input.name());
            writeln!(context.streams.err, "{lost} messages of {name} were lost")?;
        }
        Ok(())
    }
}

/// Who and what takes part while a piece is played.
struct Participants<'a> {
    /// What each lane plays to.
    names: &'a [String],
    players: &'a Players,
    steer: &'a SteerArguments,
    ending: &'a signals::Ending,
    asking: Option<&'a mut Asking>,
}

/// What came of playing.
struct Conducted {
    performed: Performed,
    /// The first failure of a lane.
    played: Result<(), LaneError>,
    /// What was heard, in a line.
    heard: Option<String>,
}

/// Plays the piece to the lanes, until it ends or is stopped. All messages are written when this returns.
fn conduct(
    prepared: &Prepared,
    lanes: &mut [&mut dyn Lane],
    mut stage: Participants<'_>,
    context: &mut Context<'_, '_>,
) -> Result<Conducted, Failure> {
    let mut arrangement = prepared.arrangement();
    let telling = telling(&stage, &arrangement, context);
    let names = stage.may_name(prepared, &arrangement);
    let steering = steering::begin(
        names.clone(),
        stage.steer,
        stage.players.strike_by_space(),
        context,
    )?;
    let mut showing = showing(prepared, &stage, (&names, &steering), context);
    #[cfg(feature = "jack")]
    let mut arrangement = super::faulty::faulty(&mut arrangement);
    let mut asking = stage.asking.take();
    let mut tell = |told: Notice| {
        if let Some(asking) = asking.as_deref_mut()
            && let Some(line) = asking.tell(told)
            && !screen::ask(asking.on_stage())
        {
            saying::say(&line);
        }
        if let Some(text) = telling.line(told) {
            saying::say(&text);
        }
    };
    let mut show = |moment: &Moment| showing.look(moment);
    let mut suspend = process::suspend;
    let ending = stage.ending;
    let mut conductor = Conductor::new(&mut arrangement, lanes, &ending.stop)
        .asked_by(steering.controls())
        .notifying(&mut tell)
        .showing(&mut show)
        .suspended_by(&ending.suspended, &mut suspend);
    if let Some(leader) = &stage.players.leader {
        conductor = conductor.led_by(&leader.heard);
    }
    if stage.steer.counts_in_after_pause() {
        conductor = conductor.counting_in_after_pauses();
    }
    if let Some(check) = &stage.players.check {
        let heard = check.input.as_ref().map(|input| &input.heard);
        conductor = conductor.checking(heard, check.each_beat, check.delay_ns);
    }
    let (performed, played) = {
        let _hook = process::StopOnPanic::new(&ending.stop);
        conductor.play()
    };
    ending.silenced.store(true, Ordering::Release);
    let heard = showing.account();
    // The terminal is given back before anything else is written.
    drop(showing);
    drop(steering);
    saying::settle(SETTLE);
    Ok(Conducted {
        performed,
        played,
        heard,
    })
}

impl<'a> Participants<'a> {
    fn leader(&self) -> Option<&'a str> {
        self.players.leader.as_ref().map(Listening::name)
    }

    /// What a line or a key may name.
    fn may_name(&self, prepared: &Prepared, arrangement: &Arrangement) -> Names {
        let answers = self.asking.as_ref();
        let answers = answers.map(|asking| Arc::clone(asking.answers()));
        let (header, journey) = (arrangement.header(), arrangement.journey());
        Names::new(header, prepared.sections(), journey).answering(answers)
    }
}

fn telling<'a>(
    stage: &Participants<'a>,
    arrangement: &Arrangement,
    context: &Context<'_, '_>,
) -> Telling<'a> {
    let first = arrangement.journey().grid().first_meter();
    let parts = arrangement.header().parts.iter();
    Telling {
        names: stage.names,
        leader: stage.leader(),
        unit_ticks: first.tempo_unit_ticks(),
        parts: parts.map(|part| part.name).collect(),
        write: if context.json {
            Telling::event
        } else {
            Telling::text
        },
    }
}

/// What is shown meanwhile: on the stage, where there is room for it, else in lines.
fn showing(
    prepared: &Prepared,
    stage: &Participants<'_>,
    (names, steering): (&Names, &Steering),
    context: &Context<'_, '_>,
) -> Showing {
    let maker = || StageMaker::new(&prepared.piece, prepared.form(), prepared.arrangement());
    let write = if context.json {
        bar_event
    } else {
        BarLine::to_string
    };
    let screen = stage.steer.shows_stage(context).then(|| {
        let hint = if steering.takes_keys() {
            Hint::of(names, stage.players.strike_by_space())
        } else {
            Hint::none()
        };
        let leader = stage.leader().map(str::to_owned);
        let maker = maker().playing_to(stage.names.to_vec(), leader);
        let maker = maker.with_motion(stage.steer.motion());
        let keys = Box::new(move |state: &StageState| hint.line(state));
        Screen::of_stage(maker, keys, Look::of(context.color))
    });
    Showing::new(maker(), write, names.standing().clone()).on(screen.flatten())
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
