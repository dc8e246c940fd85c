//! A piece that asks, played on a clock that jumps, with a player who answers.

use std::sync::atomic::{AtomicBool, Ordering};

use crossbeam_channel::bounded;
use fivefold::drill::{Deed, Exercise, Happening, Judge, RootNotes, Roots};
use fivefold::event::Source;
use fivefold::live::{
    Conductor, Control, Lane, Notice, Pace, RecordingPort, SteppedLane, VirtualClock,
};
use fivefold::midi::{SmfFormat, write_smf};
use fivefold::neck::{Neck, StringNumber};
use fivefold::time::{Nanos, TempoPlan};
use fivefold::view::write_event_lines;
use serde_json::Value;

use super::arranged;

/// G, A, B, C# and E on string 6 at 120, each asked for over a bar of two seconds and answered for another; the first is
/// asked at 2 s, behind the count-in.
fn exercise() -> Exercise {
    let drill = Roots {
        neck: Neck::standard(),
        strings: vec![StringNumber::new(6).unwrap()],
        notes: RootNotes::Marked,
        beats: 4,
        tempo: TempoPlan::steady(120),
        shape: None,
        seed: 3,
    };
    drill.exercise(&drill.all().unwrap()).unwrap()
}

/// What a player and a listener do at a millisecond.
#[derive(Clone, Debug)]
enum Doing {
    Answer(Deed),
    Ask(Control),
}

/// The asks with their outcomes, in the order in which they were decided; and all notices.
fn outcomes(doings: &[(u64, Doing)], until_ms: u64) -> (Vec<(usize, String)>, Vec<Notice>) {
    let exercise = exercise();
    let form = exercise.piece.unfold().unwrap();
    let mut judge = Judge::new(&exercise.piece, &form, &Neck::standard()).unwrap();
    let clock = VirtualClock::default();
    let port = RecordingPort::new(&clock);
    let lane = SteppedLane::new(port, &clock);
    let (mut held, stop) = (lane.clone(), AtomicBool::new(false));
    let mut source = arranged(&exercise.piece);
    let mut lanes: [&mut dyn Lane; 1] = [&mut held];
    let (send, receive) = bounded(64);
    let mut deeds = Vec::new();
    let mut told = Vec::new();
    let mut tell = |what| told.push(what);
    let mut conductor = Conductor::new(&mut source, &mut lanes, &stop)
        .asked_by(&receive)
        .notifying(&mut tell);
    for ms in (0..until_ms).step_by(10) {
        if !conductor.turn().unwrap() {
            break;
        }
        lane.play_until(Nanos::new((ms + 10) * 1_000_000));
        for (at, doing) in doings.iter().filter(|(at, _)| (ms..ms + 10).contains(at)) {
            let control = match doing {
                Doing::Ask(control) => *control,
                Doing::Answer(deed) => {
                    deeds.push(deed.clone());
                    Control::Respond {
                        id: u32::try_from(deeds.len() - 1).unwrap(),
                        at: lane.instant(Nanos::new(at * 1_000_000)),
                    }
                }
            };
            send.send(control).unwrap();
        }
    }
    stop.store(true, Ordering::Relaxed);
    conductor.play().1.unwrap();
    for notice in &told {
        let ask = |id: u32| usize::try_from(id).unwrap() - 1;
        judge.take(match *notice {
            Notice::Asked { id, at } => Happening::Asked { ask: ask(id), at },
            Notice::Answered { id, at } => Happening::Answered { ask: ask(id), at },
            Notice::Responded { id, at } => Happening::Responded {
                deed: deeds[usize::try_from(id).unwrap()].clone(),
                at,
            },
            _ => continue,
        });
    }
    let outcomes = judge.judged().iter();
    let outcomes = outcomes.map(|j| (j.ask, j.outcome.word().to_owned()));
    (outcomes.collect(), told)
}

fn fret(fret: u8) -> Doing {
    Doing::Answer(Deed::Fret(fret))
}

fn words(outcomes: &[(usize, String)]) -> Vec<(usize, &str)> {
    outcomes
        .iter()
        .map(|(ask, word)| (*ask, word.as_str()))
        .collect()
}

#[test]
fn answers_of_every_kind() {
    // Beats of half a second: asked at 2 s, 6 s, 10 s, 14 s and 18 s.
    let doings = [
        (1_900, fret(3)),
        (2_300, fret(3)),
        (7_400, fret(17)),
        (11_700, fret(7)),
        (14_100, fret(4)),
        (14_200, fret(9)),
    ];
    let (outcomes, told) = outcomes(&doings, 24_000);
    assert_eq!(
        words(&outcomes),
        [
            (0, "at once"),
            (1, "right"),
            (2, "late"),
            (3, "wrong"),
            (4, "missed")
        ]
    );
    // Each is told at its tick: two seconds are 3840 ticks.
    let asked: Vec<u64> = told
        .iter()
        .filter_map(|n| match n {
            Notice::Asked { at, .. } => Some(at.get()),
            _ => None,
        })
        .collect();
    assert_eq!(asked, [3_840, 11_520, 19_200, 26_880, 34_560]);
}

#[test]
fn pauses_and_tempi_change_no_outcome() {
    // Paused for ten seconds in the first beat of the first ask; answered half a beat later in played time.
    let doings = [
        (2_200, Doing::Ask(Control::Pause)),
        (12_200, Doing::Ask(Control::Resume)),
        (12_400, fret(3)),
        // Twice as fast: the second ask is at 16 s instead of 18 s, and its last beat begins 0.75 s later.
        (14_000, Doing::Ask(Control::Tempo(Pace::Share(2_000_000)))),
        (15_700, fret(5)),
    ];
    let (outcomes, told) = outcomes(&doings, 17_500);
    assert_eq!(words(&outcomes)[..1], [(0, "at once")], "{told:?}");
    assert_eq!(outcomes[1].0, 1);
    assert!(told.contains(&Notice::Paused) && told.contains(&Notice::Resumed));
}

#[test]
fn asks_that_are_left_have_no_outcome_and_those_heard_again_have_two() {
    // In the bar of the first ask the first answer is jumped over: to bar 5, the third ask, at 4 s.
    let doings = [
        (3_000, Doing::Ask(Control::Go(5))),
        (4_200, fret(7)),
        (6_500, Doing::Ask(Control::Go(5))),
        (8_200, fret(8)),
    ];
    let (outcomes, _) = outcomes(&doings, 10_000);
    assert_eq!(words(&outcomes), [(2, "at once"), (2, "wrong")]);
}

/// Asks and answers by the nanosecond at which they are in the event lines.
fn in_lines(exercise: &Exercise) -> Vec<(String, u64)> {
    let mut out = Vec::new();
    write_event_lines(&mut arranged(&exercise.piece), &mut out).unwrap();
    let text = String::from_utf8(out).unwrap();
    let lines = text
        .lines()
        .map(|line| serde_json::from_str::<Value>(line).unwrap());
    lines
        .filter(|line| line["kind"] == "ask" || line["kind"] == "answer")
        .map(|line| {
            let text = line["text"].as_str().unwrap().to_owned();
            (text, line["time_ns"].as_u64().unwrap())
        })
        .collect()
}

#[test]
fn played_and_written_asks_are_at_the_same_nanoseconds() {
    let mut exercise = exercise();
    exercise.piece.tempo = TempoPlan::read("90 to 133 over 9 bars").unwrap();
    let lines = in_lines(&exercise);
    assert_eq!(lines.len(), 10);
    // The file: cue points, by its own tempo map, in nanoseconds.
    let mut file = Vec::new();
    write_smf(&mut arranged(&exercise.piece), SmfFormat::Single, &mut file).unwrap();
    let smf = midly::Smf::parse(&file).unwrap();
    let (mut sum, mut us, mut cues) = (0u128, 500_000u128, Vec::new());
    for event in &smf.tracks[0] {
        // 1/960 of a quarter in nanoseconds is us * 1000 / 960; kept in 960ths.
        sum += u128::from(event.delta.as_int()) * us * 1000;
        match event.kind {
            midly::TrackEventKind::Meta(midly::MetaMessage::Tempo(tempo)) => {
                us = u128::from(tempo.as_int());
            }
            midly::TrackEventKind::Meta(midly::MetaMessage::CuePoint(text)) => {
                let text = String::from_utf8(text.to_vec()).unwrap();
                cues.push((text, u64::try_from((sum + 480) / 960).unwrap()));
            }
            _ => {}
        }
    }
    assert_eq!(cues, lines);
    // The port: the note of each answer goes out with it.
    let clock = VirtualClock::default();
    let port = RecordingPort::new(&clock);
    let stop = std::sync::Arc::new(AtomicBool::new(false));
    let mut source = arranged(&exercise.piece);
    let guide = source
        .header()
        .parts
        .iter()
        .find(|part| part.name == "guide");
    let status = 0x90 | guide.unwrap().channel.nibble();
    let virtual_clock = clock.clone();
    let mut lane = fivefold::live::PortLane::new(
        port.clone(),
        Box::new(move || Box::new(virtual_clock)),
        &stop,
    );
    fivefold::live::play_on(&mut source, &mut [&mut lane], None, &stop).unwrap();
    let sent: Vec<u64> = port
        .sent()
        .iter()
        .filter(|sent| sent.bytes[0] == status)
        .map(|sent| sent.at.get())
        .collect();
    let answers: Vec<u64> = lines.iter().skip(1).step_by(2).map(|(_, at)| *at).collect();
    assert_eq!(sent, answers);
}
