//! Playing live with real pieces, on a clock that jumps.

mod asks;
mod closeness;
mod day;
mod faults;
mod led;
mod stage;

use std::sync::Arc;
use std::sync::atomic::AtomicBool;

use crossbeam_channel::bounded;
use fivefold::arrange::{Arrangement, Excerpt};
use fivefold::chart::Piece;
use fivefold::event::Source;
use fivefold::live::{
    Control, Fault, Pace, PortLane, Recorded, RecordingPort, VirtualClock, play, play_on,
};

fn arranged(piece: &Piece) -> Arrangement {
    Arrangement::new(piece, piece.unfold().unwrap(), Excerpt::default()).unwrap()
}

fn piece() -> Piece {
    let text = "tempo = \"90 to 120 by 10 every 2 bars\"\nkey = \"A minor\"\n[sections]\n\
                A = \"| Am7 | Fmaj7 | Dm7 | C / E7 / | Am7 | D7 | G7 | C |\"\n[parts.kit]\n[parts.strum]\n";
    Piece::read(text).unwrap().0
}

/// What a port gets, at most `most` messages, when all `controls` are asked for before the start.
fn recorded(piece: &Piece, controls: &[Control], most: usize) -> Vec<Recorded> {
    let clock = VirtualClock::default();
    let port = RecordingPort::new(&clock).failing(most, Fault::Gone);
    let stop = Arc::new(AtomicBool::new(false));
    let (send, receive) = bounded(16);
    for control in controls {
        send.send(*control).unwrap();
    }
    let mut lane = PortLane::new(port.clone(), Box::new(move || Box::new(clock)), &stop);
    let mut source = arranged(piece);
    let _ = play_on(&mut source, &mut [&mut lane], Some(&receive), &stop);
    port.sent()
}

fn struck(sent: &[Recorded]) -> Vec<(u64, Vec<u8>)> {
    let on = |r: &&Recorded| r.bytes[0] >> 4 == 9;
    let of = |r: &Recorded| (r.at.get(), r.bytes.clone());
    sent.iter().filter(on).map(of).collect()
}

#[test]
fn a_loop_of_a_ladder_is_the_same_each_time_round() {
    // Bars 3 to 6: two at 100, two at 110. Sixteen beats in all.
    let sent = struck(&recorded(&piece(), &[Control::Loop(Some((3, 6)))], 2500));
    let round = 8 * u64::from((60_000_000.0f64 / 100.0).round() as u32)
        + 8 * u64::from((60_000_000.0f64 / 110.0).round() as u32);
    let round = round * 1000;
    // A count-in and two bars at 90 come before.
    let first = 12 * u64::from((60_000_000.0f64 / 90.0).round() as u32) * 1000;
    let of = |n: u64| -> Vec<(u64, Vec<u8>)> {
        let from = first + n * round;
        let inside = |(at, _): &&(u64, Vec<u8>)| (from..from + round).contains(at);
        let moved = |(at, bytes): &(u64, Vec<u8>)| (at - from, bytes.clone());
        sent.iter().filter(inside).map(moved).collect()
    };
    let (one, two) = (of(0), of(1));
    assert!(one.len() > 100, "{}", one.len());
    // A round begins with no note held, so the first bar differs the second time;
    // everything else is the same to the nanosecond.
    assert_eq!(two, of(2));
    assert_eq!(two, of(3));
    let clicks = |notes: &[(u64, Vec<u8>)]| -> Vec<(u64, Vec<u8>)> {
        let is = |(_, bytes): &&(u64, Vec<u8>)| bytes[0] == 0x99 && [76, 77].contains(&bytes[1]);
        notes.iter().filter(is).cloned().collect()
    };
    assert_eq!(clicks(&one), clicks(&two));
    assert_eq!(clicks(&one).len(), 16);
}

#[test]
fn a_jump_begins_a_bar_as_the_piece_has_it() {
    let sent = struck(&recorded(&piece(), &[Control::Go(5)], 600));
    let from = Excerpt {
        from: Some(5),
        ..Excerpt::default()
    };
    let clock = VirtualClock::default();
    let port = RecordingPort::new(&clock);
    let stop = Arc::new(AtomicBool::new(false));
    let mut piece = piece();
    piece.parts.click.count_in = 0;
    let mut source = Arrangement::new(&piece, piece.unfold().unwrap(), from).unwrap();
    play(&mut source, port.clone(), clock, &stop).unwrap();
    let wanted = struck(&port.sent());
    assert!(wanted.len() > 100);
    assert_eq!(sent, wanted);
}

#[test]
fn wishes_shape_a_real_piece() {
    let plain = struck(&recorded(&piece(), &[], 100_000));
    let bass = {
        let source = arranged(&piece());
        let parts = &source.header().parts;
        let at = parts.iter().position(|p| p.name == "bass").unwrap();
        (
            fivefold::event::PartId(at as u8),
            parts[at].channel.nibble(),
        )
    };
    let controls = [
        Control::Tempo(Pace::Share(2_000_000)),
        Control::Transpose(2),
        Control::Mute(bass.0),
    ];
    let other = struck(&recorded(&piece(), &controls, 100_000));
    let wanted: Vec<(u64, Vec<u8>)> = plain
        .iter()
        .filter(|(_, bytes)| bytes[0] & 15 != bass.1)
        .cloned()
        .collect();
    assert_eq!(other.len(), wanted.len());
    for ((at, bytes), (plain_at, plain_bytes)) in other.iter().zip(&wanted) {
        // Half the time, but for the rounding of a tempo to whole microseconds: a millionth.
        let off = (*at as f64 * 2.0 - *plain_at as f64).abs();
        assert!(off <= 2e-6 * *plain_at as f64 + 2.0, "{at} for {plain_at}");
        let moved = if bytes[0] == 0x99 { 0 } else { 2 };
        assert_eq!(bytes[1], plain_bytes[1] + moved);
        assert_eq!((bytes[0], bytes[2]), (plain_bytes[0], plain_bytes[2]));
    }
}

#[test]
fn an_exact_length_ends_live_to_the_nanosecond() {
    for (tempo, millis) in [
        ("72", 20_000),
        ("60 to 171 over 9 bars", 12_345),
        ("97.3", 7_001),
    ] {
        let text = format!(
            "tempo = \"{tempo}\"\nkey = \"A minor\"\ntimes = \"endless\"\n[sections]\nA = \"| Am7 | Fmaj7 |\"\n[parts.drone]\n"
        );
        let piece = Piece::read(&text).unwrap().0;
        let excerpt = Excerpt {
            length: Some(fivefold::time::Length::millis(millis)),
            exact: true,
            ..Excerpt::default()
        };
        let mut source = Arrangement::new(&piece, piece.unfold().unwrap(), excerpt).unwrap();
        let clock = VirtualClock::default();
        let port = RecordingPort::new(&clock);
        let stop = Arc::new(AtomicBool::new(false));
        play(&mut source, port.clone(), clock, &stop).unwrap();
        let sent = port.sent();
        let notes = sent.iter().filter(|r| matches!(r.bytes[0] >> 4, 8 | 9));
        let last = notes.clone().map(|r| r.at.get()).max();
        assert_eq!(last, Some(millis * 1_000_000), "{tempo}");
        let ons = notes.clone().filter(|r| r.bytes[0] >> 4 == 9);
        assert!(ons.clone().all(|r| r.at.get() < millis * 1_000_000));
        assert_eq!(ons.count(), notes.filter(|r| r.bytes[0] >> 4 == 8).count());
    }
}
