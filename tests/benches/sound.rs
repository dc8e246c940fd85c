//! Times real time of rendering, side by side with another synthesizer on the same MIDI file.
//!
//! Run with `cargo bench --bench sound`. The other is Debian's fluidsynth with the package timgm6mb-soundfont; where it is
//! not installed, its rows are left out. Whole processes are timed, each the median of five runs, taken in turn; both
//! write a WAV file of 16 bits at 44.1 kHz. fluidsynth measures no loudness and holds no peaks, so our second row leaves
//! that out as well.

#![allow(
    clippy::print_stdout,
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::cast_precision_loss
)]

use std::process::{Command, Stdio};
use std::time::Instant;

/// Five parts, about three minutes.
const PIECE: &str = r#"
tempo = "113"
times = 11
[sections]
A = "| Am7 | Fmaj7 | Dm7 | C / E7 / | Am7 | Fmaj7 | Dm7 | E7 |"
[parts.kit]
[parts.strum]
"#;

const RUNS: usize = 5;

/// What is timed: its name, and what makes its command.
type Row<'a> = (&'static str, Box<dyn Fn() -> Command + 'a>);

fn run(command: &mut Command) -> f64 {
    let began = Instant::now();
    let status = command
        .stdout(Stdio::null())
        .stderr(Stdio::null())
        .stdin(Stdio::null())
        .status()
        .expect("the command starts");
    assert!(status.success(), "{command:?}");
    began.elapsed().as_secs_f64()
}

/// The SoundFont of the Debian package, if it is installed.
fn font() -> Option<String> {
    let listed = Command::new("dpkg")
        .args(["-L", "timgm6mb-soundfont"])
        .output()
        .ok()?;
    let listed = String::from_utf8(listed.stdout).ok()?;
    let found = listed.lines().find(|line| line.ends_with("TimGM6mb.sf2"));
    found.map(str::to_owned)
}

fn main() {
    let folder = tempfile::tempdir().unwrap();
    let at = |name: &str| folder.path().join(name);
    std::fs::write(at("five.toml"), PIECE).unwrap();
    let ours = |arguments: &[&str]| {
        let mut command = Command::new(env!("CARGO_BIN_EXE_fivefold"));
        command
            .arg("play")
            .arg(at("five.toml"))
            .arg("--force")
            .args(arguments)
            .current_dir(folder.path());
        command
    };
    run(&mut ours(&["-o", "five.mid"]));
    let other = Command::new("fluidsynth")
        .arg("--version")
        .stdout(Stdio::null())
        .stderr(Stdio::null())
        .status()
        .is_ok_and(|s| s.success());
    let font = font().filter(|_| other);
    let other = font.is_some();
    let font = font.unwrap_or_default();
    let mut rows: Vec<Row<'_>> = vec![
        (
            "fivefold, brought to -18 LUFS",
            Box::new(|| ours(&["-o", "a.wav"])),
        ),
        (
            "fivefold, as the voices are",
            Box::new(|| ours(&["-o", "b.wav", "--gain", "0", "--no-limiter"])),
        ),
    ];
    if other {
        rows.push((
            "fivefold, SoundFont",
            Box::new(|| {
                ours(&[
                    "-o",
                    "c.wav",
                    "--gain",
                    "0",
                    "--no-limiter",
                    "--soundfont",
                    &font,
                ])
            }),
        ));
        rows.push((
            "fluidsynth, the same SoundFont",
            Box::new(|| {
                let mut command = Command::new("fluidsynth");
                command.args(["-ni", "-g", "0.5", "-r", "44100", "-T", "wav", "-F"]);
                command.arg(at("d.wav")).arg(&font).arg(at("five.mid"));
                command
            }),
        ));
    }
    let mut seconds = vec![Vec::new(); rows.len()];
    for _ in 0..RUNS {
        for ((_, command), seconds) in rows.iter().zip(&mut seconds) {
            seconds.push(run(&mut command()));
        }
    }
    let reader = hound::WavReader::open(at("a.wav")).unwrap();
    let length = f64::from(reader.duration()) / f64::from(reader.spec().sample_rate);
    println!("five parts, {length:.1} s of sound");
    let medians: Vec<f64> = seconds
        .iter_mut()
        .map(|seconds| {
            seconds.sort_by(f64::total_cmp);
            seconds[RUNS / 2]
        })
        .collect();
    for ((name, _), median) in rows.iter().zip(&medians) {
        let times = length / median;
        let beside = if other {
            format!(", {:.2} times fluidsynth", medians[rows.len() - 1] / median)
        } else {
            String::new()
        };
        println!("{name:32} {median:6.3} s, {times:4.0} times real time{beside}");
    }
}
