//! Changes of chords as they sound.

use fivefold::arrange::{Arrangement, Excerpt};
use fivefold::chart::Piece;
use fivefold::drill::{ChangeOrder, ChangeStep, Changes};
use fivefold::event::{Body, Message, PartMessage, Source};
use fivefold::neck::Neck;
use fivefold::time::TempoPlan;

fn drill(step: ChangeStep) -> Changes {
    Changes {
        neck: Neck::standard(),
        chords: ChangeOrder::Usual.chords().unwrap(),
        step,
        beats: 4,
        seed: 5,
    }
}

fn piece(drill: &Changes) -> Piece {
    let walk = drill.walk(usize::MAX, |_| 100);
    drill.exercise(&walk, TempoPlan::steady(60)).unwrap().piece
}

/// Beats of the piece in which the strummed guitar strikes, with its keys from the first.
fn struck(piece: &Piece) -> Vec<(u64, Vec<u8>)> {
    let mut piece = piece.clone();
    piece.parts.click.count_in = 0;
    piece.parts.strum.spread_ms = 0;
    let form = piece.unfold().unwrap();
    let mut a = Arrangement::new(&piece, form, Excerpt::default()).unwrap();
    let strum = a.header().parts.iter().position(|p| p.name == "strum");
    let mut events = Vec::new();
    while a.next_bar(&mut events).is_some() {}
    let mut found: Vec<(u64, Vec<u8>)> = Vec::new();
    for event in &events {
        if let Body::Channel(PartMessage {
            part,
            message: Message::NoteOn { key, .. },
            ..
        }) = event.body
            && Some(usize::from(part.0)) == strum
        {
            assert_eq!(event.tick.get() % 960, 0);
            let beat = event.tick.get() / 960;
            match found.last_mut() {
                Some((last, keys)) if *last == beat => keys.push(key.get()),
                _ => found.push((beat, vec![key.get()])),
            }
        }
    }
    found
}

#[test]
fn strings_sound_alone_from_the_lowest_a_beat_each() {
    let drill = drill(ChangeStep::Strings);
    let mut wanted = Vec::new();
    for (count, shape) in (0..).zip(drill.shapes().unwrap()) {
        // Two bars a chord; what its strings leave of them is silent.
        for (beat, position) in (0..).zip(shape.positions()) {
            wanted.push((count * 8 + beat, vec![position.midi]));
        }
    }
    assert_eq!(struck(&piece(&drill)), wanted);
    // C x32010 and D xx0232 by the open strings E2 A2 D3 G3 B3 E4 (40 45 50 55 59 64).
    let keys: Vec<u8> = wanted.iter().filter(|w| w.0 < 8).map(|w| w.1[0]).collect();
    assert_eq!(keys, [48, 52, 55, 60, 64]);
    let keys: Vec<u8> = wanted
        .iter()
        .filter(|w| w.0 / 8 == 6)
        .map(|w| w.1[0])
        .collect();
    assert_eq!(keys, [50, 57, 62, 66]);
}

#[test]
fn a_strum_a_beat_on_the_shape_that_is_shown() {
    for step in [ChangeStep::Strum, ChangeStep::Changes] {
        let drill = drill(step);
        let shapes = drill.shapes().unwrap();
        let walk = match step {
            ChangeStep::Strum => (0..drill.chords.len()).collect(),
            _ => drill.walk(usize::MAX, |_| 100),
        };
        let struck = struck(&piece(&drill));
        assert_eq!(struck.len(), 4 * walk.len());
        for (beat, (at, mut keys)) in (0..).zip(struck) {
            assert_eq!(at, beat);
            let shape = &shapes[walk[usize::try_from(beat / 4).unwrap()]];
            let mut wanted: Vec<u8> = shape.positions().iter().map(|p| p.midi).collect();
            keys.sort_unstable();
            wanted.sort_unstable();
            assert_eq!(keys, wanted);
        }
    }
}

#[test]
fn the_steps_follow_one_another_and_a_seed_makes_the_same_piece() {
    let all = piece(&drill(ChangeStep::All));
    assert_eq!(all.form, ["strings", "strum", "changes"]);
    let text = all.to_document();
    assert_eq!(text, piece(&drill(ChangeStep::All)).to_document());
    let (read, _) = Piece::read(&text).unwrap();
    assert_eq!(struck(&read), struck(&all));
    let other = Changes {
        seed: 6,
        ..drill(ChangeStep::All)
    };
    assert_ne!(text, piece(&other).to_document());
}
