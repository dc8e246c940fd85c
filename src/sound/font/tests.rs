use crate::diagnostic::Diagnostic;
use std::io::Write as _;

use proptest::prelude::*;
use tempfile::TempDir;

use super::build::Draft;
use super::*;

/// A folder with one file of these bytes in it.
fn file(bytes: &[u8]) -> (TempDir, PathBuf) {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("some.sf2");
    std::fs::File::create(&path)
        .unwrap()
        .write_all(bytes)
        .unwrap();
    (folder, path)
}

fn load(bytes: &[u8]) -> Result<Font, FontError> {
    let (_folder, path) = file(bytes);
    Font::load(path)
}

fn font() -> Font {
    load(&Draft::new().bytes()).unwrap()
}

/// The fault of a file of these bytes.
fn fault(bytes: &[u8]) -> FontFault {
    load(bytes).unwrap_err().fault
}

fn damage(bytes: &[u8]) -> String {
    match fault(bytes) {
        FontFault::Damaged(text) => text,
        other => panic!("{other:?}"),
    }
}

fn on(key: i32) -> Message {
    Message::NoteOn {
        key: KeyNumber::clamped(key),
        velocity: Velocity::clamped(127),
    }
}

fn off(key: i32) -> Message {
    Message::NoteOff {
        key: KeyNumber::clamped(key),
    }
}

fn one() -> Channel {
    Channel::new(1).unwrap()
}

/// Renders `frames` frames; the left side.
fn render(synth: &mut FontSynth, frames: usize) -> Vec<f32> {
    let (mut left, mut right) = (vec![9.0; frames], vec![9.0; frames]);
    synth.render(&mut left, &mut right);
    left
}

fn peak(samples: &[f32]) -> f32 {
    samples.iter().fold(0.0, |peak, s| peak.max(s.abs()))
}

#[test]
fn a_good_font_is_read() {
    let font = font();
    assert_eq!(font.name(), "Made by hand");
    font.prove(ProgramKind::Pitched, &[0, 33]).unwrap();
    font.prove(ProgramKind::Kit, &[0]).unwrap();
    assert_eq!(
        font.missing(ProgramKind::Pitched, &[33, 5, 0, 5, 7]),
        [5, 7]
    );
    assert_eq!(font.missing(ProgramKind::Kit, &[0, 8]), [8]);
}

#[test]
fn files_of_other_kinds_are_named() {
    let kind = |head: &[u8]| match fault(head) {
        FontFault::OtherKind(kind) => kind,
        other => panic!("{other:?}"),
    };
    assert_eq!(kind(b"RIFF\x24\0\0\0WAVEfmt "), "a WAV file");
    assert_eq!(kind(b"MThd\0\0\0\x06\0\x01\0\x02"), "a MIDI file");
    assert_eq!(kind(b"OggS\0\0"), "an Ogg file");
    assert_eq!(kind(b"PK\x03\x04"), "a ZIP archive");
    assert_eq!(kind(b"R"), "something else");
    assert_eq!(kind(&[0; 1000]), "something else");
    let mut old = Draft::new();
    old.version = 1;
    assert_eq!(kind(&old.bytes()), "a SoundFont 1 file");
    assert_eq!(fault(b""), FontFault::Empty);
}

#[test]
fn compressed_samples_are_refused_by_any_of_their_marks() {
    let mut draft = Draft::new();
    draft.version = 3;
    assert_eq!(fault(&draft.bytes()), FontFault::Compressed);
    let mut draft = Draft::new();
    draft.kind |= 0x10;
    assert_eq!(fault(&draft.bytes()), FontFault::Compressed);
    let mut draft = Draft::new();
    draft.samples[0] = i16::from_le_bytes(*b"Og");
    draft.samples[1] = i16::from_le_bytes(*b"gS");
    assert_eq!(fault(&draft.bytes()), FontFault::Compressed);
}

#[test]
fn a_version_is_known_before_what_follows_is_read() {
    let mut draft = Draft::new();
    draft.version = 3;
    let mut bytes = draft.bytes();
    let at = place(&bytes, b"smpl") - 4;
    bytes[at..at + 4].copy_from_slice(&u32::MAX.to_le_bytes());
    assert_eq!(fault(&bytes), FontFault::Compressed);
}

#[test]
fn a_chunk_of_odd_length_may_be_padded_or_not() {
    let mut draft = Draft::new();
    draft.name = b"Odd";
    let padded = draft.bytes();
    assert_eq!(load(&padded).unwrap().name(), "Odd");
    let mut bytes = padded;
    bytes.remove(place(&bytes, b"INAM") + 3);
    // The list and the whole are a byte shorter.
    for at in [4, 16] {
        bytes[at] -= 1;
    }
    assert_eq!(load(&bytes).unwrap().name(), "Odd");
}

#[test]
fn what_is_no_file_is_not_opened() {
    let folder = tempfile::tempdir().unwrap();
    let fault = |path: &Path| Font::load(path).unwrap_err().fault;
    assert_eq!(fault(folder.path()), FontFault::NotAFile);
    assert!(matches!(
        fault(&folder.path().join("none.sf2")),
        FontFault::Unreadable(_)
    ));
    #[cfg(unix)]
    {
        let pipe = folder.path().join("pipe");
        let made = std::process::Command::new("mkfifo")
            .arg(&pipe)
            .status()
            .unwrap();
        assert!(made.success());
        assert_eq!(fault(&pipe), FontFault::NotAFile);
        assert_eq!(fault(Path::new("/dev/zero")), FontFault::NotAFile);
    }
}

#[test]
fn a_file_beyond_two_gibibytes_is_refused() {
    let (_folder, path) = file(&Draft::new().bytes());
    let length = (1 << 31) + 1;
    // A hole: it takes no room.
    std::fs::OpenOptions::new()
        .write(true)
        .open(&path)
        .unwrap()
        .set_len(length)
        .unwrap();
    assert_eq!(
        Font::load(&path).unwrap_err().fault,
        FontFault::TooLarge(length)
    );
}

#[test]
fn a_file_cut_anywhere_is_refused() {
    let whole = Draft::new().bytes();
    for length in 0..whole.len() {
        let fault = fault(&whole[..length]);
        let good = match length {
            0 => fault == FontFault::Empty,
            1..=11 => matches!(fault, FontFault::OtherKind(_)),
            _ => {
                fault
                    == FontFault::CutShort {
                        said: u64::try_from(whole.len()).unwrap(),
                        found: u64::try_from(length).unwrap(),
                    }
            }
        };
        assert!(good, "{length}: {fault:?}");
    }
}

/// Where the contents of a chunk begin.
fn place(bytes: &[u8], id: &[u8; 4]) -> usize {
    bytes.windows(4).position(|w| w == id).unwrap() + 8
}

fn with(id: &[u8; 4], offset: usize, new: &[u8]) -> Vec<u8> {
    let mut bytes = Draft::new().bytes();
    let at = place(&bytes, id) + offset;
    bytes[at..at + new.len()].copy_from_slice(new);
    bytes
}

/// The font with another size in the head of a chunk.
fn with_size(id: &[u8; 4], size: u32) -> Vec<u8> {
    let mut bytes = Draft::new().bytes();
    let at = place(&bytes, id) - 4;
    bytes[at..at + 4].copy_from_slice(&size.to_le_bytes());
    bytes
}

#[test]
fn sizes_that_lie_are_refused() {
    for id in [
        b"INFO", b"smpl", b"phdr", b"pbag", b"pgen", b"inst", b"ibag", b"igen", b"shdr",
    ] {
        let huge = if id == b"INFO" {
            // The head of a list is before its kind.
            let mut bytes = Draft::new().bytes();
            bytes[16..20].copy_from_slice(&u32::MAX.to_le_bytes());
            bytes
        } else {
            with_size(id, 0xFFFF_FFF0)
        };
        let text = damage(&huge);
        assert!(text.contains("are left"), "{text}");
    }
    insta::assert_snapshot!(damage(&with_size(b"shdr", 0x7FFF_FFFF)), @"its chunk `shdr` says 2147483647 bytes where 92 are left");
    insta::assert_snapshot!(damage(&with_size(b"smpl", 0)), @r"its chunk `\x80>`>` says 1029979649 bytes where 1992 are left");
    insta::assert_snapshot!(damage(&with_size(b"pgen", 7)), @"its table `pgen` has 7 bytes, not 1 or more records of 4");
}

#[test]
fn references_that_lead_nowhere_are_refused() {
    insta::assert_snapshot!(damage(&with(b"phdr", 38 + 24, &[9, 0])), @"preset 0 has zones 0 to 9 of 3");
    insta::assert_snapshot!(damage(&with(b"pbag", 4, &[200, 0])), @"zone 0 of its presets has generators 0 to 200 of 3");
    insta::assert_snapshot!(damage(&with(b"pgen", 2, &[1, 0])), @"preset 0 plays instrument 1 of 1");
    insta::assert_snapshot!(damage(&with(b"inst", 22 + 20, &[0, 0])), @"instrument 0 has zones 0 to 0 of 1");
    insta::assert_snapshot!(damage(&with(b"ibag", 4, &[9, 0])), @"zone 0 of its instruments has generators 0 to 9 of 5");
    insta::assert_snapshot!(damage(&with(b"igen", 18, &[1, 0])), @"instrument 0 plays sample 1 of 1");
    insta::assert_snapshot!(damage(&with(b"shdr", 24, &[233, 3])), @"instrument 0 plays sample 0 from 0 to 1001, looped 100 to 900, of 1000 in the file");
    insta::assert_snapshot!(damage(&with(b"shdr", 36, &[0; 4])), @"sample 0 was recorded at 0 frames a second");
}

#[test]
fn more_zones_than_can_be_played_are_refused() {
    // 200 zones of a preset, each with an instrument of 200 zones, in 3 kB.
    let mut draft = Draft::new();
    draft.presets = vec![(0, 0)];
    draft.zone = vec![];
    let mut bytes = draft.bytes();
    let mut replace = |id: &[u8; 4], body: Vec<u8>| {
        let at = place(&bytes, id);
        let old = usize::try_from(u32::from_le_bytes(bytes[at - 4..at].try_into().unwrap()));
        let size = u32::try_from(body.len()).unwrap();
        bytes.splice(
            at - 4..at + old.unwrap(),
            [size.to_le_bytes().to_vec(), body].concat(),
        );
    };
    let zones: Vec<u8> = (0..=200u16)
        .flat_map(|n| [n.to_le_bytes(), [0, 0]].concat())
        .collect();
    replace(b"pbag", zones.clone());
    replace(b"ibag", zones);
    replace(b"pgen", [[41, 0, 0, 0].repeat(200), vec![0; 4]].concat());
    replace(b"igen", [[53, 0, 0, 0].repeat(200), vec![0; 4]].concat());
    let at = place(&bytes, b"phdr") + 38 + 24;
    bytes[at] = 200;
    let at = place(&bytes, b"inst") + 22 + 20;
    bytes[at] = 200;
    let length = u32::try_from(bytes.len() - 8).unwrap();
    bytes[4..8].copy_from_slice(&length.to_le_bytes());
    let pdta = bytes.windows(4).position(|w| w == b"pdta").unwrap();
    let size = u32::try_from(bytes.len() - pdta).unwrap();
    bytes[pdta - 4..pdta].copy_from_slice(&size.to_le_bytes());
    insta::assert_snapshot!(damage(&bytes), @"preset 0 has too many zones to be played");
}

#[test]
fn a_loop_that_a_high_note_would_leap_over_is_not_looped() {
    let mut draft = Draft::new();
    // The library leaves the sample, and panics, where a loop of two samples is read in steps of 28.
    draft.sample = [0, 1000, 996, 998, 44_100];
    let font = load(&draft.bytes()).unwrap();
    let mut synth = FontSynth::dry(&font, 44_100).unwrap();
    synth.message(one(), on(127));
    assert!(peak(&render(&mut synth, 20)) > 0.1);
    render(&mut synth, 4096);
    assert_eq!(synth.faults(), 0);
    assert_eq!(peak(&render(&mut synth, 64)), 0.0);
    // The same loop is kept where no key reaches it.
    draft.zone.insert(0, (43, 0x3900));
    let font = load(&draft.bytes()).unwrap();
    let mut synth = FontSynth::dry(&font, 44_100).unwrap();
    synth.message(one(), on(57));
    render(&mut synth, 4096);
    assert!(peak(&render(&mut synth, 64)) > 0.1);
}

#[test]
fn numbers_that_would_run_away_are_brought_within_bounds() {
    // Resonance below none, where the library's filter is unstable; a tremolo of 3000 dB.
    for wild in [(9, -15), (13, 30_000)] {
        let mut draft = Draft::new();
        draft.zone.insert(0, wild);
        draft.zone.insert(0, (8, 6000));
        load(&draft.bytes())
            .unwrap()
            .prove(ProgramKind::Pitched, &[0])
            .unwrap();
        let mut draft = Draft::new();
        draft.preset_zone = vec![wild];
        draft.zone.insert(0, (8, 6000));
        load(&draft.bytes())
            .unwrap()
            .prove(ProgramKind::Pitched, &[0])
            .unwrap();
    }
    let mut draft = Draft::new();
    draft.preset_zone = vec![(51, 30_000)];
    insta::assert_snapshot!(damage(&draft.bytes()), @"preset 0 plays sample 0 30058 semitones above its pitch");
}

#[test]
fn a_program_without_sound_is_refused() {
    let mut draft = Draft::new();
    draft.samples = vec![0; 1000];
    let error = load(&draft.bytes())
        .unwrap()
        .prove(ProgramKind::Pitched, &[33])
        .unwrap_err();
    assert_eq!(error.code(), "font-silent");
    assert!(
        error
            .to_string()
            .ends_with("gives no sound when program 34 is played")
    );
}

#[test]
fn errors_name_the_file_and_what_to_give() {
    let error = Font::load("no/such/file.sf2").unwrap_err();
    assert!(
        error
            .to_string()
            .starts_with("the SoundFont `no/such/file.sf2` cannot be read (")
    );
    let shown = |fault: FontFault| {
        let error = fault.of(Path::new("some.sf2"));
        format!("{}\n{error}\n{}", error.code(), error.help())
    };
    insta::assert_snapshot!(shown(FontFault::Compressed), @"
    font-compressed
    the SoundFont `some.sf2` holds compressed samples (SoundFont 3); only SoundFont 2 (.sf2) is read
    give the .sf2 edition of this SoundFont, or convert it: editors of SoundFonts save as .sf2
    ");
    insta::assert_snapshot!(shown(FontFault::OtherKind("a WAV file")), @"
    font-other-kind
    the SoundFont `some.sf2` is a WAV file, not a SoundFont 2 file
    only SoundFont 2 is read: give a file that ends in .sf2, unpacked
    ");
    insta::assert_snapshot!(shown(FontFault::CutShort { said: 100, found: 10 }), @"
    font-cut-short
    the SoundFont `some.sf2` is cut short: it says 100 bytes and has 10
    fetch or copy the file again; its download may have stopped early
    ");
    insta::assert_snapshot!(shown(FontFault::Unplayable { kind: ProgramKind::Kit, program: 0 }), @"
    font-unplayable
    the SoundFont `some.sf2` fails when drum kit 1 is played
    give another .sf2 file, or choose another program for the part
    ");
}

#[test]
fn a_message_is_heard_from_the_next_block_of_eight_on() {
    let font = font();
    // Any number of frames before the message, rendered in pieces of any length.
    for before in 0..40usize {
        for piece in [1, 3, 7, 8, 13] {
            let mut synth = FontSynth::dry(&font, 44_100).unwrap();
            let mut rest = before;
            while rest > 0 {
                let now = rest.min(piece);
                assert_eq!(peak(&render(&mut synth, now)), 0.0);
                rest -= now;
            }
            synth.message(one(), on(69));
            let mut heard = Vec::new();
            while heard.len() < 16 {
                heard.extend(render(&mut synth, piece));
            }
            let delay = heard.iter().position(|s| *s != 0.0).unwrap();
            assert_eq!(
                delay,
                before.next_multiple_of(8) - before,
                "{before} {piece}"
            );
            // At its full height at once.
            assert!(heard[delay] > 0.05, "{}", heard[delay]);
        }
    }
}

#[test]
fn pieces_of_any_length_give_the_same_sound() {
    let font = font();
    let play = |lengths: &[usize]| {
        let mut synth = FontSynth::new(&font, 48_000).unwrap();
        let mut all = Vec::new();
        for (n, length) in lengths.iter().cycle().enumerate() {
            if all.len() >= 4000 {
                break;
            }
            if n == 0 {
                synth.message(one(), on(60));
            }
            all.extend(render(&mut synth, *length));
        }
        all.truncate(4000);
        all
    };
    let whole = play(&[4000]);
    assert!(peak(&whole) > 0.05);
    assert_eq!(play(&[1, 2, 3, 5, 7, 11, 13, 64]), whole);
    assert_eq!(play(&[0, 8]), whole);
}

#[test]
fn a_key_sounds_at_its_pitch() {
    let font = font();
    // Root key 69 sounds at 441 Hz; count rising crossings over a second.
    for (key, hz) in [(57, 220.5), (69, 441.0), (81, 882.0)] {
        let mut synth = FontSynth::dry(&font, 44_100).unwrap();
        synth.message(one(), on(key));
        let sound = render(&mut synth, 44_100);
        let crossings = sound
            .windows(2)
            .filter(|w| w[0] < 0.0 && w[1] >= 0.0)
            .count();
        let counted = f64::from(u32::try_from(crossings).unwrap());
        assert!((counted - hz).abs() <= 1.0, "{key}: {counted}");
    }
}

#[test]
fn notes_end_and_silence_ends_all_at_once() {
    let font = font();
    let mut synth = FontSynth::new(&font, 44_100).unwrap();
    synth.message(one(), on(60));
    render(&mut synth, 4096);
    synth.message(one(), off(60));
    render(&mut synth, 512);
    assert!(peak(&render(&mut synth, 64)) > 0.01, "still dying away");
    render(&mut synth, 22_050);
    let mut dry = FontSynth::dry(&font, 44_100).unwrap();
    dry.message(one(), on(60));
    render(&mut dry, 4096);
    dry.message(one(), off(60));
    render(&mut dry, 22_050);
    assert_eq!(peak(&render(&mut dry, 64)), 0.0);

    synth.message(one(), on(60));
    synth.message(Channel::PERCUSSION, on(38));
    render(&mut synth, 4099);
    synth.silence();
    assert_eq!(peak(&render(&mut synth, 44_100)), 0.0);
}

#[test]
fn silence_keeps_programs_and_controllers() {
    let font = font();
    let mut synth = FontSynth::dry(&font, 44_100).unwrap();
    let volume = |value| Message::Control {
        controller: 7,
        value,
    };
    let loud = |synth: &mut FontSynth| {
        synth.message(one(), on(69));
        let loud = peak(&render(synth, 512));
        synth.silence();
        loud
    };
    let full = loud(&mut synth);
    synth.message(one(), volume(50));
    let half = loud(&mut synth);
    // 50 of 100, squared.
    assert!((half / full - 0.25).abs() < 0.01, "{half} {full}");
    assert_eq!(loud(&mut synth), half);
    // Hard left: the right side is silent.
    synth.message(
        one(),
        Message::Control {
            controller: 10,
            value: 0,
        },
    );
    synth.message(one(), on(69));
    let (mut left, mut right) = ([0f32; 512], [0f32; 512]);
    synth.render(&mut left, &mut right);
    assert!(peak(&left) > 0.01);
    assert!(peak(&right) < 0.001);
}

#[test]
fn sustain_holds_and_all_sound_off_ends() {
    let font = font();
    let control = |controller, value| Message::Control { controller, value };
    let mut synth = FontSynth::dry(&font, 44_100).unwrap();
    synth.message(one(), control(64, 127));
    synth.message(one(), on(69));
    render(&mut synth, 512);
    synth.message(one(), off(69));
    render(&mut synth, 44_100);
    assert!(peak(&render(&mut synth, 512)) > 0.05);
    synth.message(one(), control(64, 0));
    render(&mut synth, 22_050);
    assert_eq!(peak(&render(&mut synth, 512)), 0.0);
    synth.message(one(), on(69));
    render(&mut synth, 512);
    synth.message(one(), control(120, 0));
    render(&mut synth, 8);
    assert_eq!(peak(&render(&mut synth, 512)), 0.0);
}

#[cfg(debug_assertions)]
#[test]
fn playing_allocates_nothing() {
    use assert_no_alloc::{assert_no_alloc, violation_count};
    let font = font();
    let mut synth = FontSynth::new(&font, 44_100).unwrap();
    let (mut left, mut right) = (vec![0f32; 777], vec![0f32; 777]);
    let before = violation_count();
    assert_no_alloc(|| {
        for key in 0..128 {
            synth.message(one(), on(key));
            synth.message(Channel::PERCUSSION, on(key));
            if key % 3 == 0 {
                synth.message(one(), off(key));
            }
            for controller in [0, 1, 7, 10, 11, 64, 91, 93, 120, 121, 123, 77] {
                let value = u8::try_from(key).unwrap();
                synth.message(one(), Message::Control { controller, value });
            }
            synth.message(one(), Message::Program(33));
            synth.set_gain(0.4);
            synth.render(&mut left, &mut right);
        }
        synth.silence();
        synth.render(&mut left, &mut right);
    });
    assert_eq!(violation_count(), before);
    assert_eq!(synth.faults(), 0);
    // The counter works.
    assert_no_alloc(|| drop(std::hint::black_box(vec![0u8; 3])));
    assert!(violation_count() > before);
}

#[test]
fn gain_multiplies_and_nothing_is_clipped() {
    let font = font();
    let loud = |gain: Option<f32>| {
        let mut synth = FontSynth::new(&font, 44_100).unwrap();
        if let Some(gain) = gain {
            synth.set_gain(gain);
        }
        synth.message(one(), on(69));
        peak(&render(&mut synth, 1024))
    };
    let plain = loud(None);
    assert!((0.05..0.5).contains(&plain), "{plain}");
    assert!((loud(Some(5.0)) / plain - 10.0).abs() < 1e-4);
    assert!(loud(Some(50.0)) > 2.0);
    assert_eq!(loud(Some(0.0)), 0.0);
}

#[test]
fn a_missing_program_is_played_by_the_first_preset() {
    let font = font();
    let mut synth = FontSynth::dry(&font, 44_100).unwrap();
    synth.message(one(), Message::Program(77));
    synth.message(one(), on(69));
    assert!(peak(&render(&mut synth, 64)) > 0.05);
}

#[test]
fn rates_out_of_range_are_refused() {
    let font = font();
    for rate in [0, 22_049, 192_001, u32::MAX] {
        assert_eq!(
            FontSynth::new(&font, rate).unwrap_err().fault,
            FontFault::Rate(rate)
        );
    }
    for rate in [22_050, 44_100, 192_000] {
        FontSynth::new(&font, rate).unwrap();
    }
}

/// Wants the folder with mutated files of `FIVEFOLD_FUZZ_FONT`, for a search longer than a test may take.
#[test]
#[ignore = "wants a font in FIVEFOLD_FUZZ_FONT"]
fn no_mutation_of_a_large_font_escapes() {
    let number = |name: &str, default: u64| {
        std::env::var(name)
            .ok()
            .and_then(|text| text.parse().ok())
            .unwrap_or(default)
    };
    let whole = std::fs::read(std::env::var("FIVEFOLD_FUZZ_FONT").unwrap()).unwrap();
    let first = number("FIVEFOLD_FUZZ_FIRST", 0);
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("some.sf2");
    let (mut refused, mut failing, mut sound) = (0, 0, 0);
    let mut slowest = std::time::Duration::ZERO;
    let mut words = std::collections::BTreeMap::<String, u32>::new();
    for seed in first..first + number("FIVEFOLD_FUZZ_COUNT", 100) {
        std::fs::write(&path, mutated(&whole, seed)).unwrap();
        let start = std::time::Instant::now();
        match Font::load(&path) {
            Err(error) => {
                refused += 1;
                let text = error.fault.to_string();
                let text = text.split(|c: char| c.is_ascii_digit()).next().unwrap();
                *words.entry(text.to_owned()).or_default() += 1;
            }
            Ok(font) => {
                let programs = [0, 25, 33, 89];
                let proved = font.prove(ProgramKind::Pitched, &programs).is_ok()
                    && font.prove(ProgramKind::Kit, &[0]).is_ok();
                if proved {
                    sound += 1;
                } else {
                    failing += 1;
                }
                if faults_of(&font, programs) > 0 {
                    *words.entry("FAULT while playing".to_owned()).or_default() += 1;
                    eprintln!("seed {seed}: a fault while playing, proved: {proved}");
                }
            }
        }
        slowest = slowest.max(start.elapsed());
    }
    let status = std::fs::read_to_string("/proc/self/status").unwrap_or_default();
    let peak = status
        .lines()
        .find(|l| l.starts_with("VmHWM"))
        .unwrap_or("");
    eprintln!(
        "{refused} refused, {failing} fail in the proof, {sound} play; slowest {slowest:?}; {peak}"
    );
    eprintln!("{words:#?}");
}

/// A font with bytes changed: most often in its tables, for a quarter of the seeds values of generators above all.
fn mutated(whole: &[u8], seed: u64) -> Vec<u8> {
    use rand::{RngExt as _, SeedableRng as _};
    let tables = place(whole, b"phdr") - 8;
    let mut chance = rand::rngs::Xoshiro256PlusPlus::seed_from_u64(seed);
    let mut bytes = whole.to_vec();
    let from = if seed.is_multiple_of(8) { 0 } else { tables };
    if seed % 4 == 1 {
        // Values of generators alone, many of them: most such files are read.
        for table in [b"pgen", b"igen"] {
            let at = place(whole, table);
            let size = u32::from_le_bytes(whole[at - 4..at].try_into().unwrap());
            let records = usize::try_from(size).unwrap() / 4 - 1;
            for _ in 0..chance.random_range(1..=400) {
                let at = at + 4 * chance.random_range(0..records);
                let kind = u16::from_le_bytes([bytes[at], bytes[at + 1]]);
                // Those that refer to samples are refused too soon.
                if ![0, 1, 2, 3, 4, 12, 41, 45, 50, 53].contains(&kind) {
                    let reach = chance.random_range(1..=32_767);
                    let value: i16 = chance.random_range(-reach..=reach);
                    bytes[at + 2..at + 4].copy_from_slice(&value.to_le_bytes());
                }
            }
        }
    }
    let least = if seed % 4 == 1 { 0 } else { 1 };
    for _ in 0..chance.random_range(least..=12 * least) {
        let at = chance.random_range(from..bytes.len());
        bytes[at] = match chance.random_range(0..3) {
            0 => bytes[at] ^ (1 << chance.random_range(0..8)),
            1 => 0xFF,
            _ => chance.random_range(0..=255),
        };
    }
    bytes
}

/// Plays half a second of a few keys, which must be numbers, and counts the faults.
fn faults_of(font: &Font, programs: [u8; 4]) -> u32 {
    let mut synth = FontSynth::new(font, 48_000).unwrap();
    for (n, program) in (1..).zip(programs) {
        let channel = Channel::new(n).unwrap();
        synth.message(channel, Message::Program(program));
        for key in [30, 60, 90] {
            synth.message(channel, on(key));
            synth.message(Channel::PERCUSSION, on(key));
        }
    }
    let (mut left, mut right) = (vec![0f32; 24_000], vec![0f32; 24_000]);
    synth.render(&mut left, &mut right);
    assert!(left.iter().chain(&right).all(|s| s.is_finite()));
    synth.faults()
}

/// A font as the library reads it, without our checks.
fn unchecked(draft: &Draft) -> Font {
    let sounds = SoundFont::new(&mut draft.bytes().as_slice()).unwrap();
    Font {
        path: PathBuf::from("some.sf2"),
        name: String::new(),
        sounds: Arc::new(sounds),
        presets: BTreeSet::new(),
    }
}

#[test]
fn what_slips_through_the_checks_is_caught_when_it_plays() {
    // A panic, at keys that leap over the loop; and a filter that runs away.
    let mut panics = Draft::new();
    panics.sample = [0, 998, 996, 998, 44_100];
    let mut runs_away = Draft::new();
    runs_away.sample[1] = 998;
    runs_away.zone.extend([(8, 6000), (9, -15)]);
    for draft in [panics, runs_away] {
        let font = unchecked(&draft);
        let error = font.prove(ProgramKind::Pitched, &[0]).unwrap_err();
        assert_eq!(error.code(), "font-unplayable");
        let mut synth = FontSynth::new(&font, 44_100).unwrap();
        synth.message(one(), on(127));
        for _ in 0..200 {
            assert!(peak(&render(&mut synth, 441)) < 1e9);
        }
        let faults = synth.faults();
        assert!(faults > 0);
        // It plays on.
        synth.message(one(), on(40));
        assert!(peak(&render(&mut synth, 16)) > 0.0);
        assert_eq!(synth.faults(), faults);
        // The checks mend both.
        load(&draft.bytes())
            .unwrap()
            .prove(ProgramKind::Pitched, &[0])
            .unwrap();
    }
}

/// Loads, proves and plays whatever the bytes make; returns whether they made a font.
fn survive(bytes: &[u8]) -> bool {
    let Ok(font) = load(bytes) else { return false };
    let proved = font.prove(ProgramKind::Pitched, &[0]);
    if let Err(error) = proved {
        // Silence is not a failure: the change may have cut a sample to nothing.
        assert_eq!(error.code(), "font-silent", "{error}");
    }
    let mut synth = FontSynth::new(&font, 48_000).unwrap();
    for key in [0, 60, 127] {
        synth.message(one(), on(key));
        synth.message(Channel::PERCUSSION, on(key));
    }
    let (mut left, mut right) = (vec![0f32; 2000], vec![0f32; 2000]);
    synth.render(&mut left, &mut right);
    assert!(left.iter().chain(&right).all(|s| s.is_finite()));
    // What passes the checks does not make the library fail: catching is the second line.
    assert_eq!(synth.faults(), 0);
    true
}

/// Generators of any kind and value, often of the kinds that move pitch, filter and loop.
fn generators() -> impl Strategy<Value = Vec<(u16, i16)>> {
    let kind = prop_oneof![
        Just(2u16),
        Just(3),
        5..14u16,
        21..40u16,
        51..53u16,
        54..59u16,
        0..64u16
    ];
    // The instrument and the sample come after these, and the first zone must not end before them.
    let kind = kind.prop_filter("ends the zone", |kind| ![41, 53].contains(kind));
    let value = prop_oneof![any::<i16>(), -1200..1200i16, 0..4i16];
    prop::collection::vec((kind, value), 0..8)
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(24))]

    #[test]
    fn no_generators_escape(
        zone in generators(),
        preset_zone in generators(),
        sample in (0..20u32, 980..1001u32, 0..1001u32, 0..1001u32, 1..200_000u32),
        pitch in any::<u8>(),
    ) {
        let mut draft = Draft::new();
        draft.zone.extend(zone);
        draft.preset_zone = preset_zone;
        draft.sample = sample.into();
        draft.pitch = pitch;
        survive(&draft.bytes());
    }

    #[test]
    fn no_mutation_escapes(
        flips in prop::collection::vec((any::<prop::sample::Index>(), any::<u8>()), 1..6),
        tables in any::<bool>(),
    ) {
        let mut bytes = Draft::new().bytes();
        let from = if tables { place(&bytes, b"phdr") } else { 0 };
        let length = bytes.len() - from;
        for (at, value) in flips {
            bytes[from + at.index(length)] = value;
        }
        survive(&bytes);
    }
}
