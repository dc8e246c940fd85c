//! What the stage shows is what sounds: chords and beats beside what a port was sent, on a clock that jumps.

use std::cell::Cell;
use std::collections::BTreeSet;
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};

use crossbeam_channel::bounded;
use fivefold::arrange::{Arrangement, Excerpt, JamPasses};
use fivefold::chart::{Piece, Times};
use fivefold::event::Source;
use fivefold::generate::{Ground, Jam, Request};
use fivefold::live::{
    Conductor, Control, Lane, Moment, Pace, Recorded, RecordingPort, SteppedLane, VirtualClock,
};
use fivefold::theory::{KeyOrder, Scale, symbol};
use fivefold::time::Nanos;
use fivefold::view::{Stage, StageMaker, StageState};
use rand::rngs::Xoshiro256PlusPlus;
use rand::{RngExt, SeedableRng};

use super::arranged;

/// Milliseconds from look to look.
const LOOK_MS: u64 = 16;

/// After a chord or a beat the stage may be so late, in looks: a frame of thirty a second.
const LATE: u32 = 2;

/// What sounds, read off the messages of a port.
struct Ear {
    pads: u8,
    click: u8,
    /// Keys that sound of the part that plays chords.
    held: BTreeSet<u8>,
    /// Clicks since the start.
    clicks: u64,
}

impl Ear {
    fn of(source: &dyn Source) -> Ear {
        let nibble = |name: &str| {
            let mut parts = source.header().parts.iter();
            parts
                .find(|part| part.name == name)
                .unwrap()
                .channel
                .nibble()
        };
        Ear {
            pads: nibble("pads"),
            click: nibble("click"),
            held: BTreeSet::new(),
            clicks: 0,
        }
    }

    fn hear(&mut self, sent: &Recorded) {
        let [status, key, velocity] = sent.bytes[..] else {
            return;
        };
        let on = status >> 4 == 9 && velocity > 0;
        if status & 15 == self.pads && matches!(status >> 4, 8 | 9) {
            if on {
                self.held.insert(key);
            } else {
                self.held.remove(&key);
            }
        }
        self.clicks += u64::from(on && status & 15 == self.click);
    }

    /// Whether all that sounds belongs to the chord.
    fn agrees(&self, chord: Option<&str>) -> bool {
        let harmony = chord.map(|name| symbol::read(name).unwrap());
        let tones: BTreeSet<u8> = match harmony.as_ref().and_then(|harmony| harmony.chord()) {
            Some(chord) => chord
                .tones()
                .iter()
                .map(|t| t.pitch_class().value())
                .collect(),
            None => BTreeSet::new(),
        };
        self.held.iter().all(|key| tones.contains(&(key % 12)))
    }
}

/// What was compared.
#[derive(Debug, Default)]
struct Compared {
    looks: u64,
    clicks: u64,
    chords: BTreeSet<String>,
    keys: BTreeSet<String>,
    bars: BTreeSet<i64>,
    sections: BTreeSet<String>,
    /// The line of each bar that was heard, in order.
    lines: Vec<String>,
}

impl Compared {
    fn note(&mut self, stage: &Stage) {
        self.looks += 1;
        self.chords
            .extend(stage.chord.iter().map(|chord| chord.name.clone()));
        self.keys.extend(stage.place.key.clone());
        self.sections.extend(stage.place.section.clone());
        self.bars.insert(stage.place.bar);
    }
}

/// Whether what is heard is shown.
#[derive(Clone, Copy, PartialEq, Eq)]
enum Showing {
    Shown,
    Unseen,
}

/// A look: its millisecond, what is shown, and what the port is sent from it to the next.
type Step<'a> = dyn FnMut(u64, Option<Moment>, &[Recorded]) + 'a;

/// Plays for so long while the listener does `doings` at these milliseconds, and takes a step at each look.
fn drive(
    source: &Arrangement,
    doings: &[(u64, Control)],
    until_ms: u64,
    showing: Showing,
    step: &mut Step<'_>,
) {
    let mut source = source.clone();
    let clock = VirtualClock::default();
    let port = RecordingPort::new(&clock);
    let lane = SteppedLane::new(port.clone(), &clock);
    let (mut held, stop) = (lane.clone(), AtomicBool::new(false));
    let mut lanes: [&mut dyn Lane; 1] = [&mut held];
    let (send, receive) = bounded(64);
    let newest = Cell::new(None);
    let mut show = |moment: &_| newest.set(Some(*moment));
    let mut conductor = Conductor::new(&mut source, &mut lanes, &stop).asked_by(&receive);
    if showing == Showing::Shown {
        conductor = conductor.showing(&mut show);
    }
    let mut doings = doings.iter().peekable();
    let mut last = 0;
    for ms in (0..until_ms).step_by(usize::try_from(LOOK_MS).unwrap()) {
        while let Some((_, control)) = doings.next_if(|(at, _)| *at <= ms) {
            send.send(*control).unwrap();
        }
        if !conductor.turn().unwrap() {
            break;
        }
        let moment = newest.take();
        lane.play_until(Nanos::new((ms + LOOK_MS) * 1_000_000));
        step(ms, moment, &port.take());
        last = ms;
    }
    stop.store(true, Ordering::Relaxed);
    conductor.play().1.unwrap();
    step(last, None, &port.take());
}

/// Plays as [`drive`] does. At each look the chord that is shown holds what sounds, and the beat has moved on with each click,
/// but for a frame.
fn shown_is_heard(
    piece: &Piece,
    source: &Arrangement,
    doings: &[(u64, Control)],
    until_ms: u64,
) -> Compared {
    let mut maker = StageMaker::new(piece, &piece.unfold().unwrap(), source.clone());
    let mut ear = Ear::of(source);
    let mut compared = Compared::default();
    let (mut wrong, mut behind, mut beats, mut beat) = (0, 0, 0, None);
    let mut step = |ms: u64, moment: Option<Moment>, sent: &[Recorded]| {
        if let Some(moment) = moment {
            let stage = maker.stage(&moment);
            compared.note(&stage);
            if beat.is_none_or(|(run, bar, _)| (run, bar) != (moment.run, stage.place.bar)) {
                let line = maker.line(&moment);
                compared.lines.extend(line.map(|line| line.to_string()));
            }
            let here = (moment.run, stage.place.bar, stage.beat);
            if beat.replace(here) != Some(here) {
                beats += 1;
            }
            let chord = stage.chord.as_ref().map(|chord| &*chord.name);
            wrong = if stage.state != StageState::Plays || ear.agrees(chord) {
                0
            } else {
                wrong + 1
            };
            behind = if beats == ear.clicks { 0 } else { behind + 1 };
            assert!(
                wrong <= LATE,
                "{ms} ms: {:?} sounds at {stage:#?}",
                ear.held
            );
            assert!(
                behind <= LATE || stage.state != StageState::Plays,
                "{ms} ms: {beats} beats, {} clicks, {stage:#?}",
                ear.clicks
            );
        }
        sent.iter().for_each(|sent| ear.hear(sent));
    };
    drive(source, doings, until_ms, Showing::Shown, &mut step);
    compared.clicks = ear.clicks;
    compared
}

fn read(text: &str) -> Piece {
    Piece::read(text).unwrap().0
}

/// Two sections in turn, an intro and an ending, through four keys.
fn journey(plan: &str) -> Piece {
    read(&format!(
        "tempo = \"{plan}\"\nkey = \"A minor\"\nset = \"A minor pentatonic\"\ntimes = 2\nkeys = \"A minor, D minor, G minor, C minor\"\n\
         form = \"A B A\"\n[sections]\nA = \"| Am | F G | % | Am |\"\nB = \"| Dm / E7 / | N.C. | Am Am7 |\"\n[parts.bass]\n",
    ))
}

#[test]
fn keys_repeats_sections_and_the_ending_are_shown_as_they_sound() {
    let piece = journey("90 to 150");
    let source = arranged(&piece);
    let compared = shown_is_heard(&piece, &source, &[], 600_000);
    assert_eq!(compared.keys.len(), 4, "{compared:?}");
    // A bar of count-in, eleven bars eight times, an ending of one.
    assert_eq!(compared.clicks, 4 * (1 + 11 * 8 + 1));
    assert_eq!(compared.bars.len(), 1 + 11 * 8 + 1);
    assert!(compared.chords.len() >= 20, "{compared:?}");
    assert_eq!(compared.sections.len(), 3, "{compared:?}");
    let lines = compared.lines;
    assert_eq!(lines.len(), 89);
    insta::assert_snapshot!([&lines[..13], &lines[87..]].concat().join("\n"), @"
    bar 1 of 89, A, pass 1: Am; 90, A minor
    bar 2 of 89: F, G; 91, A minor
    bar 3 of 89: F, G; 91, A minor
    bar 4 of 89: Am; 92, A minor
    bar 5 of 89, B: Dm, E7; 93, A minor
    bar 6 of 89; 93, A minor
    bar 7 of 89: Am, Am7; 94, A minor
    bar 8 of 89, A: Am; 95, A minor
    bar 9 of 89: F, G; 95, A minor
    bar 10 of 89: F, G; 96, A minor
    bar 11 of 89: Am; 97, A minor
    bar 12 of 89, A, pass 2: Dm; 98, D minor
    bar 13 of 89: Bb, C; 98, D minor
    bar 88 of 89: Cm; 149, C minor
    bar 89 of 89, ending: Cm; 150, C minor
    ");
}

#[test]
fn a_loop_and_a_transposition_are_told_bar_by_bar() {
    let piece = journey("120");
    let doings = [
        (2000, Control::Loop(Some((2, 3)))),
        (8500, Control::TransposeBy(2)),
        (14_500, Control::Loop(None)),
    ];
    let compared = shown_is_heard(&piece, &arranged(&piece), &doings, 24_000);
    insta::assert_snapshot!(compared.lines.join("\n"), @"
    bar 1 of 89, A, pass 1: Am; 120, A minor
    bar 2 of 89: F, G; 120, A minor
    bar 3 of 89: F, G; 120, A minor
    bar 2 of 89: F, G; 120, A minor
    bar 3 of 89: G, A; 120, B minor
    bar 2 of 89: G, A; 120, B minor
    bar 3 of 89: G, A; 120, B minor
    bar 4 of 89: Bm; 120, B minor
    bar 5 of 89, B: Em, F#7; 120, B minor
    bar 6 of 89; 120, B minor
    bar 7 of 89: Bm, Bm7; 120, B minor
    ");
}

/// What is told of the chords to come, looked at once: the two others that follow, and when.
#[test]
fn the_next_chords_are_the_next_others() {
    let piece = journey("120");
    let source = arranged(&piece);
    let mut maker = StageMaker::new(&piece, &piece.unfold().unwrap(), source.clone());
    let clock = VirtualClock::default();
    let lane = SteppedLane::new(RecordingPort::new(&clock), &clock);
    let (mut held, stop) = (lane.clone(), AtomicBool::new(false));
    let mut lanes: [&mut dyn Lane; 1] = [&mut held];
    let newest = Cell::new(None);
    let mut show = |moment: &_| newest.set(Some(*moment));
    let mut source = source;
    let mut conductor = Conductor::new(&mut source, &mut lanes, &stop).showing(&mut show);
    let mut told = Vec::new();
    for beat in 0..32 {
        // In the middle of each beat of half a second.
        conductor.turn().unwrap();
        lane.play_until(Nanos::new((beat * 500 + 250) * 1_000_000));
        conductor.turn().unwrap();
        let stage = maker.stage(&newest.take().unwrap());
        let chord = stage
            .chord
            .map(|chord| format!("{} for {}", chord.name, chord.ticks));
        let next = stage
            .next
            .iter()
            .map(|next| format!("{} in {}", next.name, next.ticks));
        let next: Vec<String> = next.collect();
        let chord = chord.unwrap_or_else(|| "count-in".to_owned());
        told.push(format!(
            "{}.{} {chord}; {}",
            stage.place.bar,
            stage.beat,
            next.join(", ")
        ));
    }
    stop.store(true, Ordering::Relaxed);
    conductor.play().1.unwrap();
    insta::assert_snapshot!(told.join("\n"), @"
    0.1 count-in; Am in 3360, F in 7200
    0.2 count-in; Am in 2400, F in 6240
    0.3 count-in; Am in 1440, F in 5280
    0.4 count-in; Am in 480, F in 4320
    1.1 Am for 3360; F in 3360, G in 5280
    1.2 Am for 2400; F in 2400, G in 4320
    1.3 Am for 1440; F in 1440, G in 3360
    1.4 Am for 480; F in 480, G in 2400
    2.1 F for 1440; G in 1440, F in 3360
    2.2 F for 480; G in 480, F in 2400
    2.3 G for 1440; F in 1440, G in 3360
    2.4 G for 480; F in 480, G in 2400
    3.1 F for 1440; G in 1440, Am in 3360
    3.2 F for 480; G in 480, Am in 2400
    3.3 G for 1440; Am in 1440, Dm in 5280
    3.4 G for 480; Am in 480, Dm in 4320
    4.1 Am for 3360; Dm in 3360, E7 in 5280
    4.2 Am for 2400; Dm in 2400, E7 in 4320
    4.3 Am for 1440; Dm in 1440, E7 in 3360
    4.4 Am for 480; Dm in 480, E7 in 2400
    5.1 Dm for 1440; E7 in 1440, N.C. in 3360
    5.2 Dm for 480; E7 in 480, N.C. in 2400
    5.3 E7 for 1440; N.C. in 1440, Am in 5280
    5.4 E7 for 480; N.C. in 480, Am in 4320
    6.1 N.C. for 3360; Am in 3360, Am7 in 5280
    6.2 N.C. for 2400; Am in 2400, Am7 in 4320
    6.3 N.C. for 1440; Am in 1440, Am7 in 3360
    6.4 N.C. for 480; Am in 480, Am7 in 2400
    7.1 Am for 1440; Am7 in 1440, Am in 3360
    7.2 Am for 480; Am7 in 480, Am in 2400
    7.3 Am7 for 1440; Am in 1440, F in 5280
    7.4 Am7 for 480; Am in 480, F in 4320
    ");
}

#[test]
fn an_endless_jam_shows_what_it_draws() {
    let set = Scale::read("A minor pentatonic").unwrap();
    let jam = Jam::new(Ground::new(set, 7), &Request::default()).unwrap();
    let mut piece = jam.piece(&jam.draw(0).unwrap(), Times::Endless);
    piece.keys = Some(KeyOrder::Fourths);
    let passes = JamPasses::new(Arc::new(jam), &piece);
    let form = piece.unfold().unwrap();
    let source = Arrangement::made(&piece, form, Box::new(passes), Excerpt::default()).unwrap();
    let compared = shown_is_heard(&piece, &source, &[], 600_000);
    assert_eq!(compared.keys.len(), 12, "{compared:?}");
    assert!(compared.bars.len() > 100, "{compared:?}");
}

/// What a listener does in an hour, at random.
fn random(seed: u64, until_ms: u64) -> Vec<(u64, Control)> {
    let mut random = Xoshiro256PlusPlus::seed_from_u64(seed);
    let mut at = 3000;
    let mut doings = Vec::new();
    while at < until_ms {
        let bar = random.random_range(1..90);
        let control = match random.random_range(0..11) {
            0 => Control::Pause,
            1 => Control::Resume,
            2 => Control::Go(bar),
            3 => Control::Loop(Some((bar, bar + random.random_range(0..3)))),
            4 | 5 => Control::Loop(None),
            6 => Control::Next,
            7 => Control::Again,
            8 => Control::TransposeBy(random.random_range(-3..4)),
            9 => Control::CountIn,
            _ => Control::Tempo(Pace::Share(random.random_range(500_000..2_000_000))),
        };
        doings.push((at, control));
        // Where it is paused, it soon goes on.
        if control == Control::Pause {
            doings.push((at + 700, Control::Resume));
        }
        at += random.random_range(800..9000);
    }
    // Resumptions were put in behind.
    doings.sort_by_key(|(at, _)| *at);
    doings
}

#[test]
fn over_an_hour_of_commands_the_stage_is_never_a_frame_behind() {
    let piece = Piece {
        times: Times::Endless,
        ..journey("90 to 150 by 20 every 16 bars")
    };
    let source = arranged(&piece);
    let hour = 3_600_000;
    let compared = shown_is_heard(&piece, &source, &random(2026, hour), hour);
    assert!(
        compared.looks > 200_000 && compared.clicks > 3_000,
        "{compared:?}"
    );
    assert!(
        compared.keys.len() > 4 && compared.chords.len() > 40,
        "{compared:?}"
    );
}

/// Plays as [`drive`] does; calls `look` with the stage, if anything is shown. Returns what the port was sent, and when.
fn wire(
    piece: &Piece,
    doings: &[(u64, Control)],
    until_ms: u64,
    mut look: Option<&mut dyn FnMut(&Stage)>,
) -> Vec<(u64, Vec<u8>)> {
    let source = arranged(piece);
    let mut maker = StageMaker::new(piece, &piece.unfold().unwrap(), source.clone());
    let showing = look.as_ref().map_or(Showing::Unseen, |_| Showing::Shown);
    let mut all = Vec::new();
    let mut step = |_: u64, moment: Option<Moment>, sent: &[Recorded]| {
        if let (Some(moment), Some(look)) = (moment, &mut look) {
            look(&maker.stage(&moment));
        }
        let sent = sent.iter();
        all.extend(sent.map(|sent| (sent.at.get(), sent.bytes.to_vec())));
    };
    drive(&source, doings, until_ms, showing, &mut step);
    all
}

#[test]
fn what_is_sent_is_the_same_with_and_without_a_stage() {
    let piece = Piece {
        times: Times::Endless,
        ..journey("90 to 150 by 20 every 16 bars")
    };
    let half_an_hour = 1_800_000;
    let doings = random(7, half_an_hour);
    let mut looks = 0;
    let mut count = |_: &Stage| looks += 1;
    let shown = wire(&piece, &doings, half_an_hour, Some(&mut count));
    let unseen = wire(&piece, &doings, half_an_hour, None);
    assert!(looks > 100_000 && shown.len() > 10_000, "{looks}");
    let differ = shown.iter().zip(&unseen).position(|(a, b)| a != b);
    assert_eq!((differ, shown.len()), (None, unseen.len()));
}

#[test]
fn a_transposition_is_heard_at_the_beat_that_is_announced() {
    let piece = journey("120");
    // Every 90 ms of two bars: in a bar of one chord and in one of two. At a chord itself either may come first.
    for at in (2_010..6_000).step_by(90).filter(|at| at % 1000 < 970) {
        let (mut beats, mut here, mut announced) = (0_u64, None, None);
        let (mut heard, mut otherwise) = (None, 0);
        let mut look = |stage: &Stage| {
            if here.replace((stage.place.bar, stage.beat)) != Some((stage.place.bar, stage.beat)) {
                beats += 1;
            }
            match stage.moves {
                Some(moves) => {
                    assert_eq!(moves.semitones, 3);
                    let beat = beats + moves.beats.unwrap();
                    // Once, and then the same at each look, but for a frame at the chord itself.
                    otherwise += u32::from(*announced.get_or_insert(beat) != beat);
                }
                None if announced.is_some() && heard.is_none() => {
                    heard = Some((beats, stage.chord.clone().unwrap().name));
                }
                None => {}
            }
        };
        wire(
            &piece,
            &[(at, Control::TransposeBy(3))],
            9_000,
            Some(&mut look),
        );
        let (beat, chord) = heard.unwrap();
        assert_eq!(Some(beat), announced, "{at}");
        assert!(otherwise <= LATE, "{at}: {otherwise}");
        // Am, F and G a minor third higher.
        assert!(["Cm", "Ab", "Bb"].contains(&&*chord), "{at}: {chord}");
    }
}
