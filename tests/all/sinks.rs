//! One piece in every sink: file, event lines and port agree to the nanosecond.

use std::collections::HashMap;
use std::sync::Arc;
use std::sync::atomic::AtomicBool;

use fivefold::arrange::{Arrangement, Excerpt};
use fivefold::chart::Piece;
use fivefold::event::Source;
use fivefold::live::{RecordingPort, VirtualClock, play};
use fivefold::midi::{SmfFormat, write_smf};
use fivefold::view::write_event_lines;
use midly::{Format, MetaMessage, MidiMessage, Smf, TrackEventKind};

use crate::ready_charts;

fn pieces() -> Vec<(String, Piece)> {
    let mut found: Vec<(String, Piece)> = ready_charts()
        .into_iter()
        .map(|path| {
            let text = std::fs::read_to_string(&path).unwrap();
            (
                path.file_stem().unwrap().to_string_lossy().into_owned(),
                Piece::read(&text).unwrap().0,
            )
        })
        .collect();
    let plans = [
        "3.6 to 960 over 2 bars",
        "90 to 60 over 30 s, 71.5 for 7 beats, 100 to 130 by 7 back 3 every 3 bars",
    ];
    for plan in plans {
        let text = format!(
            "title = \"{plan}\"\ntempo = \"{plan}\"\nplan = \"each pass\"\ntimes = 4\nfeel = \"swing 3:2\"\n[sections]\nA = \"| Am7 | D9 / G / | (3/4) F | E7 |\"\n[parts.kit]\n[parts.drone]\n"
        );
        found.push((plan.to_owned(), Piece::read(&text).unwrap().0));
    }
    found
}

fn arranged(piece: &Piece) -> Arrangement {
    Arrangement::new(piece, piece.unfold().unwrap(), Excerpt::default()).unwrap()
}

fn file(piece: &Piece, format: SmfFormat) -> Vec<u8> {
    let mut bytes = Vec::new();
    write_smf(&mut arranged(piece), format, &mut bytes).unwrap();
    bytes
}

/// The channel messages of a file with their times in nanoseconds, by midly: exact sums of its tempo events.
fn file_times(bytes: &[u8]) -> Vec<(u64, Vec<u8>)> {
    let smf = Smf::parse(bytes).unwrap();
    let mut tempi: Vec<(u64, u64)> = Vec::new();
    let mut messages: Vec<(u64, Vec<u8>)> = Vec::new();
    for track in &smf.tracks {
        let mut tick = 0;
        for event in track {
            tick += u64::from(event.delta.as_int());
            match event.kind {
                TrackEventKind::Meta(MetaMessage::Tempo(us)) => {
                    tempi.push((tick, u64::from(us.as_int())))
                }
                TrackEventKind::Midi { channel, message } => {
                    let mut bytes = Vec::new();
                    midly::live::LiveEvent::Midi { channel, message }
                        .write(&mut bytes)
                        .unwrap();
                    messages.push((tick, bytes));
                }
                _ => {}
            }
        }
    }
    let time = |tick: u64| -> u64 {
        let ends = tempi.iter().skip(1).map(|t| t.0).chain([u64::MAX]);
        let units: u64 = tempi
            .iter()
            .zip(ends)
            .filter(|((start, _), _)| *start < tick)
            .map(|((start, us), end)| (end.min(tick) - start) * us * 25)
            .sum();
        (units + 12) / 24
    };
    let mut timed: Vec<(u64, Vec<u8>)> = messages
        .into_iter()
        .map(|(tick, bytes)| (time(tick), bytes))
        .collect();
    timed.sort();
    timed
}

#[test]
fn file_event_lines_and_port_have_the_same_nanoseconds() {
    for (name, piece) in pieces() {
        let from_file = file_times(&file(&piece, SmfFormat::Parallel));
        assert!(!from_file.is_empty());

        let mut lines = Vec::new();
        write_event_lines(&mut arranged(&piece), &mut lines).unwrap();
        let mut from_lines: Vec<(u64, Vec<u8>)> = Vec::new();
        for line in String::from_utf8(lines).unwrap().lines() {
            let line: serde_json::Value = serde_json::from_str(line).unwrap();
            let byte = |field: &str| u8::try_from(line[field].as_u64().unwrap()).unwrap();
            let message = match line["kind"].as_str().unwrap() {
                "note_on" => vec![0x90, byte("key"), byte("velocity")],
                "note_off" => vec![0x80, byte("key"), byte("velocity")],
                "program" => vec![0xC0, byte("program") - 1],
                "control" => vec![0xB0, byte("controller"), byte("value")],
                _ => continue,
            };
            let mut message = message;
            message[0] |= byte("channel") - 1;
            from_lines.push((line["time_ns"].as_u64().unwrap(), message));
        }
        from_lines.sort();
        assert_eq!(from_file, from_lines, "{name}");

        let clock = VirtualClock::default();
        let port = RecordingPort::new(&clock);
        let stop = Arc::new(AtomicBool::new(false));
        let outcome = play(&mut arranged(&piece), port.clone(), clock, &stop).unwrap();
        assert_eq!(outcome.report.worst_late_ns, 0);
        let sent = port.sent();
        // What follows the piece is the silencing at the end.
        let played = usize::try_from(outcome.report.sent).unwrap();
        let mut from_port: Vec<(u64, Vec<u8>)> = sent[..played]
            .iter()
            .map(|r| (r.at.get(), r.bytes.clone()))
            .collect();
        from_port.sort();
        assert_eq!(from_file, from_port, "{name}");
        assert!(
            sent[played..].iter().all(|r| r.bytes[0] & 0xF0 == 0xB0),
            "{name}: a note was left open"
        );
    }
}

#[test]
fn midly_reads_every_file_and_writes_the_same_bytes() {
    for (name, piece) in pieces() {
        for format in [SmfFormat::Parallel, SmfFormat::Single] {
            let bytes = file(&piece, format);
            let smf = Smf::parse(&bytes).unwrap();
            let mut again = Vec::new();
            smf.write(&mut again).unwrap();
            assert!(again == bytes, "{name} {format:?}");
        }
    }
}

#[test]
fn a_file_is_what_other_programs_expect() {
    for (name, piece) in pieces() {
        let bytes = file(&piece, SmfFormat::Parallel);
        let smf = Smf::parse(&bytes).unwrap();
        assert_eq!(smf.header.format, Format::Parallel);
        let mut ends = Vec::new();
        for (index, track) in smf.tracks.iter().enumerate() {
            let mut tick: u64 = 0;
            let mut down: HashMap<(u8, u8), u64> = HashMap::new();
            let mut tempo_ticks = Vec::new();
            assert!(
                matches!(
                    track[0].kind,
                    TrackEventKind::Meta(MetaMessage::TrackName(_))
                ),
                "{name}"
            );
            for event in track {
                tick += u64::from(event.delta.as_int());
                match event.kind {
                    TrackEventKind::Midi { channel, message } => {
                        assert!(
                            index > 0,
                            "{name}: a channel message on the conductor track"
                        );
                        match message {
                            MidiMessage::NoteOn { key, vel } => {
                                assert!(vel > 0);
                                let before = down.insert((channel.as_int(), key.as_int()), tick);
                                assert_eq!(before, None, "{name}: a key sounds twice");
                            }
                            MidiMessage::NoteOff { key, .. } => {
                                let start = down.remove(&(channel.as_int(), key.as_int())).unwrap();
                                assert!(start < tick, "{name}: a note of no length");
                            }
                            _ => {}
                        }
                    }
                    TrackEventKind::Meta(meta) => match meta {
                        MetaMessage::Tempo(_) => {
                            assert_eq!(index, 0);
                            tempo_ticks.push(tick);
                        }
                        MetaMessage::TrackName(text)
                        | MetaMessage::Marker(text)
                        | MetaMessage::Text(text) => {
                            assert!(text.iter().all(|b| (0x20..0x7F).contains(b)), "{name}");
                        }
                        MetaMessage::EndOfTrack => ends.push(tick),
                        _ => {}
                    },
                    _ => panic!("{name}: {event:?}"),
                }
            }
            assert!(down.is_empty(), "{name}");
            if index == 0 {
                assert_eq!(tempo_ticks[0], 0);
                assert!(tempo_ticks.windows(2).all(|w| w[0] < w[1]), "{name}");
            }
        }
        assert!(ends.windows(2).all(|w| w[0] == w[1]), "{name}: {ends:?}");
        assert_eq!(ends.len(), smf.tracks.len());
        assert_eq!(ends[0], arranged(&piece).journey().end().unwrap().get());
    }
}

#[test]
fn percussion_is_on_channel_ten_and_nothing_else_is() {
    for (name, piece) in pieces() {
        let bytes = file(&piece, SmfFormat::Parallel);
        for track in &Smf::parse(&bytes).unwrap().tracks {
            let TrackEventKind::Meta(MetaMessage::TrackName(part)) = track[0].kind else {
                panic!()
            };
            let percussion = matches!(part, b"click" | b"kit");
            for event in track {
                if let TrackEventKind::Midi { channel, .. } = event.kind {
                    assert_eq!(channel.as_int() == 9, percussion, "{name}");
                }
            }
        }
    }
}

#[test]
fn one_track_holds_what_several_hold() {
    for (name, piece) in pieces() {
        let (many, one) = (
            file(&piece, SmfFormat::Parallel),
            file(&piece, SmfFormat::Single),
        );
        assert_eq!(Smf::parse(&one).unwrap().tracks.len(), 1);
        assert_eq!(file_times(&many), file_times(&one), "{name}");
    }
}

#[test]
fn the_same_seed_gives_the_same_bytes_and_another_seed_others() {
    let (_, piece) = pieces()
        .into_iter()
        .find(|(name, _)| name == "first-twelve")
        .unwrap();
    let other = Piece {
        seed: 2,
        ..piece.clone()
    };
    assert_eq!(
        file(&piece, SmfFormat::Parallel),
        file(&piece, SmfFormat::Parallel)
    );
    assert_ne!(
        file(&piece, SmfFormat::Parallel),
        file(&other, SmfFormat::Parallel)
    );
}

/// A source that breaks off after some bars.
struct Broken(fivefold::arrange::Arrangement, u32);

impl Source for Broken {
    fn header(&self) -> &fivefold::event::Header {
        self.0.header()
    }
    fn end(&self) -> Option<fivefold::time::Tick> {
        self.0.end()
    }
    fn next_bar(
        &mut self,
        events: &mut Vec<fivefold::event::Event>,
    ) -> Option<fivefold::event::Bar> {
        self.1 = self.1.checked_sub(1).expect("asked to");
        self.0.next_bar(events)
    }
    fn seek(&mut self, number: i64) -> bool {
        self.0.seek(number)
    }
}

#[test]
fn a_fault_while_bars_are_made_leaves_nothing_sounding() {
    let piece = Piece::read_inline("| Am7 | Fmaj7 | Dm7 | C |").unwrap().0;
    for bars in [1, 2, 4] {
        let clock = VirtualClock::default();
        let port = RecordingPort::new(&clock);
        let stop = Arc::new(AtomicBool::new(false));
        let mut source = Broken(arranged(&piece), bars);
        let played = std::panic::catch_unwind(std::panic::AssertUnwindSafe(|| {
            play(&mut source, port.clone(), clock, &stop)
        }));
        assert!(played.is_err(), "the fault goes on");
        let mut down = std::collections::HashSet::new();
        for sent in port.sent() {
            match sent.bytes[0] >> 4 {
                9 => assert!(down.insert((sent.bytes[0] & 15, sent.bytes[1]))),
                8 => assert!(down.remove(&(sent.bytes[0] & 15, sent.bytes[1]))),
                _ => {}
            }
        }
        assert!(down.is_empty(), "{bars} bars: {down:?}");
    }
}
