//! `--exact`: what is written lasts exactly as long as was asked for.

use midly::{MetaMessage, MidiMessage, Smf, TrackEventKind};

use super::*;

/// Pieces in which much is going on at the end: a drone, long chords, a ramp, a swung kit.
const PIECES: [(&str, &[&str]); 5] = [
    ("tempo = 72\n[parts.drone]", &["--for", "1min"]),
    (
        "tempo = 97.3\nmeter = \"7/8\"\n[parts.strum]",
        &["--for", "7.001s"],
    ),
    (
        "tempo = \"60 to 171 over 9 bars\"\nfeel = \"swing 2:1\"\n[parts.kit]\n[parts.drone]",
        &["--for", "20s", "--from", "2"],
    ),
    (
        "tempo = \"80 to 120 by 7 every 3 s\"\nplan = \"each pass\"\n[parts.strum]",
        &["--for", "0.5min", "--count-in", "2"],
    ),
    // Slow enough that no file can hold a slower last tick: this length leaves most of a tick.
    (
        "tempo = 3.6\n[parts.drone]",
        &["--for", "2.599s", "--count-in", "0"],
    ),
];

/// The document, its sections before its parts.
fn document(head: &str) -> String {
    let (lines, parts) = head.split_once("\n[").unwrap();
    let sections = "[sections]\nA = \"| Am7 | Dm7 |\"";
    format!("key = \"A minor\"\n{lines}\n{sections}\n[{parts}\n")
}

/// The length asked for, in milliseconds.
fn millis(arguments: &[&str]) -> u64 {
    let text = arguments[1];
    let (number, factor) = match text.strip_suffix("min") {
        Some(number) => (number, 60_000.0),
        None => (text.strip_suffix('s').unwrap(), 1000.0),
    };
    (number.parse::<f64>().unwrap() * factor).round() as u64
}

/// Writes the piece to `names` in a fresh folder.
fn written(head: &str, arguments: &[&str], names: &[&str]) -> TempDir {
    let folder = TempDir::new().unwrap();
    write(folder.path(), "a.toml", document(head));
    let outputs: Vec<&str> = names.iter().flat_map(|name| ["-o", name]).collect();
    let play = ["play", "a.toml"];
    let ran = run(folder.path(), &[&play[..], arguments, &outputs].concat());
    assert_eq!(ran.status, 0, "{ran:?}");
    folder
}

/// What a MIDI file says of its end, times in 1/960 us.
struct Read {
    end: u64,
    last_on: u64,
    last_off: u64,
    sounding: i64,
}

fn read(bytes: &[u8]) -> Read {
    let smf = Smf::parse(bytes).unwrap();
    let (mut tempi, mut ends) = (Vec::new(), Vec::new());
    let mut notes: Vec<(u64, bool)> = Vec::new();
    for track in &smf.tracks {
        let mut tick = 0u64;
        for event in track {
            tick += u64::from(event.delta.as_int());
            match event.kind {
                TrackEventKind::Meta(MetaMessage::Tempo(us)) => {
                    tempi.push((tick, u64::from(us.as_int())));
                }
                TrackEventKind::Meta(MetaMessage::EndOfTrack) => ends.push(tick),
                TrackEventKind::Midi { message, .. } => match message {
                    MidiMessage::NoteOn { .. } => notes.push((tick, true)),
                    MidiMessage::NoteOff { .. } => notes.push((tick, false)),
                    _ => {}
                },
                _ => {}
            }
        }
    }
    let time = |tick: u64| -> u64 {
        let until = tempi.iter().skip(1).map(|t| t.0).chain([u64::MAX]);
        let spans = tempi.iter().zip(until);
        let spans = spans.filter(|((start, _), _)| *start < tick);
        spans
            .map(|((start, us), end)| (end.min(tick) - start) * us)
            .sum()
    };
    let last = |on: bool| notes.iter().filter(|n| n.1 == on).map(|n| n.0).max();
    assert!(ends.windows(2).all(|pair| pair[0] == pair[1]), "{ends:?}");
    let sounding: i64 = notes.iter().map(|(_, on)| if *on { 1 } else { -1 }).sum();
    Read {
        end: time(ends[0]),
        last_on: time(last(true).unwrap()),
        last_off: time(last(false).unwrap()),
        sounding,
    }
}

#[test]
fn a_midi_file_ends_exactly_there_with_what_sounds() {
    for (head, arguments) in PIECES {
        let exact = [arguments, &["--exact"]].concat();
        let folder = written(head, &exact, &["a.mid", "a.jsonl"]);
        let found = read(&std::fs::read(folder.path().join("a.mid")).unwrap());
        let wanted = millis(arguments) * 1000 * 960;
        assert_eq!(found.end, wanted, "{head}");
        assert_eq!((found.last_off, found.sounding), (wanted, 0), "{head}");
        assert!(found.last_on < wanted, "{head}");
        // The event stream has the same end, to the nanosecond.
        let lines = std::fs::read_to_string(folder.path().join("a.jsonl")).unwrap();
        let end: serde_json::Value = serde_json::from_str(lines.lines().last().unwrap()).unwrap();
        assert_eq!(end["kind"], "end");
        assert_eq!(end["time_ns"], millis(arguments) * 1_000_000, "{head}");
        // Without it the piece goes on to a bar line.
        let folder = written(head, arguments, &["b.mid"]);
        let longer = read(&std::fs::read(folder.path().join("b.mid")).unwrap());
        assert!(longer.end > wanted, "{head}");
    }
}

fn samples(path: &Path) -> (u32, Vec<f32>) {
    let mut reader = hound::WavReader::open(path).unwrap();
    let rate = reader.spec().sample_rate;
    (rate, reader.samples::<f32>().map(Result::unwrap).collect())
}

#[test]
fn a_sound_file_has_exactly_as_many_frames() {
    for (i, (head, arguments)) in PIECES.into_iter().enumerate() {
        let rate = ["44100", "48000", "96000"][i % 3];
        let sound = [
            "--samples",
            "float",
            "--gain",
            "0",
            "--no-limiter",
            "--sample-rate",
            rate,
        ];
        let all = [arguments, &sound].concat();
        let folder = written(head, &[&all[..], &["--exact"]].concat(), &["a.wav"]);
        let (hertz, exact) = samples(&folder.path().join("a.wav"));
        assert_eq!(hertz.to_string(), rate);
        let frames = (millis(arguments) * u64::from(hertz) + 500) / 1000;
        assert_eq!(exact.len() as u64, 2 * frames, "{head}");
        // The samples are the same up to the last 10 ms, and fade out there.
        let folder = written(head, &all, &["b.wav"]);
        let (_, longer) = samples(&folder.path().join("b.wav"));
        assert!(longer.len() > exact.len(), "{head}");
        let fading = exact.len() - 2 * (hertz as usize / 100);
        assert!(exact[..fading] == longer[..fading], "{head}");
        assert_eq!(exact[exact.len() - 2..], [0.0, 0.0], "{head}");
        let loudest = exact[fading - hertz as usize / 5..fading].iter();
        assert!(
            loudest.map(|s| s.abs()).fold(0.0, f32::max) > 0.001,
            "{head}: it sounds"
        );
    }
}

#[test]
fn a_flac_file_and_a_loop_end_there_too() {
    let (head, arguments) = PIECES[0];
    let exact = [arguments, &["--exact"]].concat();
    let folder = written(head, &exact, &["a.flac"]);
    let bytes = std::fs::read(folder.path().join("a.flac")).unwrap();
    // STREAMINFO (RFC 9639, 8.2): the last 36 bits before the checksum count the frames.
    let count = bytes[21..26]
        .iter()
        .fold(0u64, |n, b| n << 8 | u64::from(*b));
    assert_eq!(count & 0xF_FFFF_FFFF, 60 * 44_100);
    let looped = [&exact[..], &["--loop", "--samples", "float"]].concat();
    let folder = written(head, &looped, &["a.wav"]);
    let (_, found) = samples(&folder.path().join("a.wav"));
    assert_eq!(found.len(), 2 * 60 * 44_100);
}

#[test]
fn check_shows_the_exact_end() {
    let exact = [
        "check",
        "| Am | F |",
        "--tempo",
        "97.3",
        "--for",
        "61s",
        "--exact",
    ];
    let text = fresh(&exact).good();
    assert!(text.contains("count-in of 1 bar, 24 bars, parts"), "{text}");
    assert!(text.contains("\nend      1:01.0\n"), "{text}");
    let json = fresh(&[&["--json"], &exact[..]].concat()).good();
    let found: serde_json::Value = serde_json::from_str(&json).unwrap();
    assert_eq!(found["duration_ns"], 61_000_000_000u64);
    assert_eq!(
        (&found["piece_bars"], &found["ending_bars"]),
        (&24.into(), &0.into())
    );
    let bars = found["bars"].as_array().unwrap();
    let ticks: u64 = bars
        .iter()
        .map(|b| b["duration_ticks"].as_u64().unwrap())
        .sum();
    assert_eq!(found["duration_ticks"], ticks);
    assert!(bars.last().unwrap()["duration_ticks"].as_u64().unwrap() < 3840);
}

#[test]
fn without_a_time_or_with_one_too_short_it_is_refused() {
    let play = ["play", "| Am | F |", "--exact", "-o", "a.mid"];
    let refused = |arguments: &[&str]| fresh(&[&play[..], arguments].concat()).refused();
    insta::assert_snapshot!(refused(&[]), @"
    Error: `--exact` ends a piece after the time of `--for`, and no time is given.
      Write `--for 1min --exact`.
    ");
    assert_eq!(refused(&["--bars", "4"]), refused(&[]));
    assert_eq!(refused(&["--times", "4"]), refused(&[]));
    assert_eq!(refused(&["--for", "4 bars"]), refused(&[]));
    insta::assert_snapshot!(refused(&["--for", "2s"]), @"
    Error: an exact length is longer than its count-in of 2.667 s, found 2 s.
      Write `--for 3s` or more, or leave the count-in out: `--count-in 0`.
    ");
    // The advice works.
    for time in ["1min", "3s"] {
        fresh(&[&play[..], &["--for", time]].concat()).good();
    }
    let no_count_in = ["--for", "2s", "--count-in", "0"];
    fresh(&[&play[..], &no_count_in].concat()).good();
}
