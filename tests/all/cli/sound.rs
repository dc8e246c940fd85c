//! Sound files and audio devices as the program is called.

use super::{command, finish, run};
use tempfile::TempDir;

const CHART: &str = "| Am7 | D9 |";

fn folder() -> TempDir {
    tempfile::tempdir().unwrap()
}

#[test]
fn sound_files_are_what_was_asked_for() {
    let folder = folder();
    for (rate, samples, bits) in [
        ("44100", "16", 16),
        ("48000", "24", 24),
        ("96000", "float", 32),
    ] {
        let arguments = [
            "play",
            CHART,
            "-o",
            "a.wav",
            "--sample-rate",
            rate,
            "--samples",
            samples,
            "--force",
        ];
        let said = run(folder.path(), &arguments).good();
        assert!(said.starts_with("wrote a.wav: 0:1"), "{said}");
        assert!(said.ends_with("-18 LUFS, seed 1\n"), "{said}");
        let reader = hound::WavReader::open(folder.path().join("a.wav")).unwrap();
        let spec = reader.spec();
        assert_eq!(spec.sample_rate.to_string(), rate);
        assert_eq!((spec.channels, spec.bits_per_sample), (2, bits));
        // A count-in, two bars and the held chord at 90, and what rings on.
        let seconds = f64::from(reader.duration()) / f64::from(spec.sample_rate);
        assert!((4.0 * 8.0 / 3.0..16.0).contains(&seconds), "{seconds}");
    }
    // The same bytes each time, with and without other files beside it.
    let wav = std::fs::read(folder.path().join("a.wav")).unwrap();
    let again = [
        "play",
        CHART,
        "-o",
        "b.wav",
        "-o",
        "b.mid",
        "-o",
        "b.flac",
        "--samples",
        "24",
    ];
    run(folder.path(), &again).good();
    let again = [
        "play",
        CHART,
        "-o",
        "c.wav",
        "--sample-rate",
        "96000",
        "--samples",
        "float",
    ];
    run(folder.path(), &again).good();
    assert!(std::fs::read(folder.path().join("c.wav")).unwrap() == wav);
    let flac = std::fs::read(folder.path().join("b.flac")).unwrap();
    let plain = std::fs::read(folder.path().join("b.wav")).unwrap();
    assert!(flac.starts_with(b"fLaC"));
    assert!(
        flac.len() < plain.len() * 3 / 4,
        "{} of {}",
        flac.len(),
        plain.len()
    );
}

#[test]
fn a_flac_file_holds_the_samples_of_the_wav_file() {
    // STREAMINFO of RFC 9639, section 8.2: the MD5 of the samples as they would lie in a WAV file.
    let folder = folder();
    run(
        folder.path(),
        &["play", CHART, "-o", "a.wav", "-o", "a.flac"],
    )
    .good();
    let flac = std::fs::read(folder.path().join("a.flac")).unwrap();
    let info = &flac[8..8 + 34];
    let reader = hound::WavReader::open(folder.path().join("a.wav")).unwrap();
    let rate = u32::from(info[10]) << 12 | u32::from(info[11]) << 4 | u32::from(info[12]) >> 4;
    assert_eq!(rate, reader.spec().sample_rate);
    let count = u64::from(info[13] & 0x0F) << 32
        | u64::from(u32::from_be_bytes([info[14], info[15], info[16], info[17]]));
    assert_eq!(count, u64::from(reader.duration()));
    let raw: Vec<u8> = reader
        .into_samples::<i16>()
        .flat_map(|s| s.unwrap().to_le_bytes())
        .collect();
    use md5::{Digest, Md5};
    assert_eq!(Md5::digest(&raw).as_slice(), &info[18..34]);
}

#[test]
fn a_loop_lasts_as_long_as_its_bars() {
    let folder = folder();
    let arguments = ["play", CHART, "--tempo", "120", "--times", "2", "--loop"];
    let arguments = [&arguments[..], &["-o", "a.wav", "-o", "a.mid"]].concat();
    let said = run(folder.path(), &arguments).good();
    assert!(said.starts_with("wrote a.wav: 0:08.0, 44.1 kHz"), "{said}");
    let reader = hound::WavReader::open(folder.path().join("a.wav")).unwrap();
    assert_eq!(reader.duration(), 16 * 22_050);
    // Neither count-in nor held chord, in the MIDI file too.
    assert!(said.contains("wrote a.mid: 4 tracks, 4 bars, "), "{said}");
    let wrong = ["play", CHART, "--loop", "--count-in", "1", "-o", "a.wav"];
    assert!(run(folder.path(), &wrong).refused().contains("--count-in"));
}

#[test]
fn a_click_alone_is_held_by_its_peak() {
    let folder = folder();
    let arguments = ["click", "120", "--for", "10s", "-o", "a.wav"];
    let said = run(folder.path(), &arguments).good();
    // A click alone is held by its peak, not by its loudness.
    assert!(!said.contains("LUFS"), "{said}");
    let reader = hound::WavReader::open(folder.path().join("a.wav")).unwrap();
    let peak = reader
        .into_samples::<i16>()
        .map(|s| i32::from(s.unwrap()).abs())
        .max()
        .unwrap();
    let decibels = 20.0 * (f64::from(peak) / 32_768.0).log10();
    assert!((decibels + 10.0).abs() < 0.2, "{decibels}");
}

#[test]
fn wrong_wishes_about_sound() {
    let folder = folder();
    std::fs::write(folder.path().join("a.sf2"), b"RIFF....").unwrap();
    let mut all = String::new();
    for arguments in [
        &["--sample-rate", "44000", "-o", "a.wav"][..],
        &["--samples", "float", "-o", "a.flac"],
        &["--gain", "30", "-o", "a.wav"],
        &["--gain", "loud", "-o", "a.wav"],
        &["--soundfont", "none.sf2", "-o", "a.wav"],
        &["--soundfont", "a.sf2", "-o", "a.wav"],
        &["--for", "700min", "--sample-rate", "96000", "-o", "a.wav"],
        &["--sound", "--device-buffer", "7"],
    ] {
        all.push_str(&run(folder.path(), &[&["play", CHART], arguments].concat()).refused());
    }
    insta::assert_snapshot!(all, @"
    Error: `--sample-rate` is `44100`, `48000` or `96000`, found `44000`.
      Write `--sample-rate 44100`.
    Error: a .flac file holds whole numbers, not floating point.
      Write `--samples 24`, or a .wav file.
    Error: `--gain` is in decibels, -60 to 24, found `30`.
      Write `--gain -6`.
    Error: `--gain` is in decibels, -60 to 24, found `loud`.
      Write `--gain -6`.
    Error: the SoundFont `none.sf2` cannot be read (No such file or directory).
      Check the name and whether you may read the file; give a SoundFont 2 file (.sf2).
    Error: the SoundFont `a.sf2` is another kind of RIFF file, not a SoundFont 2 file.
      Only SoundFont 2 is read: give a file that ends in .sf2, unpacked.
    Error: such a file holds at most 186 minutes, and the piece lasts 11:40:02.7.
      Write a .flac file, fewer bits, or a part of the piece: `--for 60min`.
    Error: `--device-buffer` is a whole number, 64 to 8192, found `7`.
      Write `--device-buffer 64`.
    ");
    assert_eq!(std::fs::read_dir(folder.path()).unwrap().count(), 1);
}

#[cfg(target_os = "linux")]
#[test]
fn without_a_device_it_says_what_to_do() {
    let folder = folder();
    std::fs::write(folder.path().join("alsa.conf"), "").unwrap();
    for arguments in [
        &["play", CHART][..],
        &["click", "120"],
        &["jam", "--set", "A minor pentatonic", "--seed", "1"],
        &["play", CHART, "--sound=headphones"],
        &["ports"],
    ] {
        let mut command = command(folder.path(), arguments);
        command.env("ALSA_CONFIG_PATH", folder.path().join("alsa.conf"));
        let ran = finish(command.output().unwrap());
        assert_eq!(ran.status, 2, "{ran:?}");
        assert!(ran.err.contains("`-o piece.wav`"), "{ran:?}");
        assert!(!ran.err.contains("ALSA lib"), "{ran:?}");
    }
}
