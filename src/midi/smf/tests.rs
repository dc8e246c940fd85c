use midly::live::LiveEvent;
use midly::{MetaMessage, Smf, TrackEventKind};

use super::*;

#[test]
fn variable_length_quantities_of_the_standard() {
    // Standard MIDI Files 1.0, table of variable-length quantities.
    let table: [(u32, &[u8]); 12] = [
        (0x00, &[0x00]),
        (0x40, &[0x40]),
        (0x7F, &[0x7F]),
        (0x80, &[0x81, 0x00]),
        (0x2000, &[0xC0, 0x00]),
        (0x3FFF, &[0xFF, 0x7F]),
        (0x4000, &[0x81, 0x80, 0x00]),
        (0x10_0000, &[0xC0, 0x80, 0x00]),
        (0x1F_FFFF, &[0xFF, 0xFF, 0x7F]),
        (0x20_0000, &[0x81, 0x80, 0x80, 0x00]),
        (0x800_0000, &[0xC0, 0x80, 0x80, 0x00]),
        (0xFFF_FFFF, &[0xFF, 0xFF, 0xFF, 0x7F]),
    ];
    for (value, bytes) in table {
        assert_eq!(vlq(value, &mut [0; 4]), bytes, "{value:#x}");
    }
}

fn bytes(hex: &str) -> Vec<u8> {
    let digits: String = hex.chars().filter(char::is_ascii_hexdigit).collect();
    (0..digits.len())
        .step_by(2)
        .map(|i| u8::from_str_radix(&digits[i..i + 2], 16).unwrap())
        .collect()
}

/// The two example files of Standard MIDI Files 1.0: the same piece on one track and on four.
fn examples() -> [Vec<u8>; 2] {
    let single = bytes(
        "4D546864 00000006 0000 0001 0060  4D54726B 0000003B
         00 FF580404021808  00 FF510307A120  00 C005  00 C12E  00 C246
         00 923060  00 3C60  60 914340  60 904C20
         8140 823040  00 3C40  00 814340  00 804C40  00 FF2F00",
    );
    let parallel = bytes(
        "4D546864 00000006 0001 0004 0060
         4D54726B 00000014  00 FF580404021808  00 FF510307A120  8300 FF2F00
         4D54726B 00000010  00 C005  8140 904C20  8140 4C00  00 FF2F00
         4D54726B 0000000F  00 C12E  60 914340  8220 4300  00 FF2F00
         4D54726B 00000015  00 C246  00 923060  00 3C60  8300 3000  00 3C00  00 FF2F00",
    );
    [single, parallel]
}

/// Reads a file with midly and writes it with our tracks.
fn rewritten(file: &[u8]) -> Vec<u8> {
    let smf = Smf::parse(file).unwrap();
    let midly::Timing::Metrical(division) = smf.header.timing else {
        panic!("ticks to the quarter")
    };
    let format = match smf.header.format {
        midly::Format::SingleTrack => SmfFormat::Single,
        _ => SmfFormat::Parallel,
    };
    let mut tracks = Vec::new();
    for events in &smf.tracks {
        let mut track = Track::new();
        let mut tick = Tick::ZERO;
        for event in events {
            tick += u64::from(event.delta.as_int());
            match event.kind {
                TrackEventKind::Midi { channel, message } => {
                    track
                        .channel(tick, LiveEvent::Midi { channel, message })
                        .unwrap();
                }
                TrackEventKind::Meta(MetaMessage::EndOfTrack) => track.finish(tick).unwrap(),
                TrackEventKind::Meta(MetaMessage::Tempo(us)) => {
                    track
                        .meta(tick, 0x51, &us.as_int().to_be_bytes()[1..])
                        .unwrap();
                }
                TrackEventKind::Meta(MetaMessage::TimeSignature(n, d, c, b)) => {
                    track.meta(tick, 0x58, &[n, d, c, b]).unwrap();
                }
                other => panic!("not in the examples: {other:?}"),
            }
        }
        tracks.push(track);
    }
    let mut out = Vec::new();
    join(
        tracks,
        format,
        division.as_int(),
        &mut out,
        &mut Written::default(),
    )
    .unwrap();
    out
}

#[test]
fn example_files_of_the_standard_byte_for_byte() {
    let [single, parallel] = examples();
    assert_eq!((single.len(), parallel.len()), (81, 118));
    assert_eq!(rewritten(&single), single);
    assert_eq!(rewritten(&parallel), parallel);
}

#[test]
fn a_silence_longer_than_a_delta_can_say_is_bridged() {
    let mut track = Track::new();
    let end = Tick::new(3 * LONGEST_DELTA + 5);
    track.finish(end).unwrap();
    let mut out = Vec::new();
    join(
        vec![track],
        SmfFormat::Single,
        960,
        &mut out,
        &mut Written::default(),
    )
    .unwrap();
    let smf = Smf::parse(&out).unwrap();
    let ticks: u64 = smf.tracks[0]
        .iter()
        .map(|e| u64::from(e.delta.as_int()))
        .sum();
    assert_eq!(ticks, end.get());
    assert_eq!(smf.tracks[0].len(), 4);
}

#[test]
fn a_file_is_replaced_whole_or_not_at_all() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("x.mid");
    std::fs::write(&path, b"old").unwrap();
    let failed = replace_file(&path, |file| {
        file.write_all(b"half of the new")?;
        Err(io::Error::other("the disk is full"))
    });
    let message = failed.unwrap_err().to_string();
    assert!(
        message.ends_with("x.mid: the disk is full") && message.starts_with("cannot write "),
        "{message}"
    );
    assert_eq!(std::fs::read(&path).unwrap(), b"old");
    replace_file(&path, |file| file.write_all(b"new")).unwrap();
    assert_eq!(std::fs::read(&path).unwrap(), b"new");
    // No other file is left.
    assert_eq!(std::fs::read_dir(folder.path()).unwrap().count(), 1);
    let missing = folder.path().join("none").join("x.mid");
    assert!(
        replace_file(&missing, |_| Ok(()))
            .unwrap_err()
            .to_string()
            .starts_with("cannot create a file in the folder of ")
    );
}
