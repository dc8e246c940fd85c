//! How a long log compares with a short one, and the start of a routine with that of a small command:
//! `cargo bench --bench log`. Whole processes are timed in turn, and ratios of their medians are printed.

#![allow(clippy::print_stdout, reason = "this is its result")]

use std::error::Error;
use std::path::Path;
use std::process::{Command, Stdio};
use std::time::{Duration, Instant};

use fivefold::log::{FactRecord, Log, Moment, Pace, Player, Take, TakeAsk, Word};

const PROGRAM: &str = env!("CARGO_BIN_EXE_fivefold");

/// Runs of each command.
const RUNS: usize = 31;

/// Takes that are added in one go.
const AT_ONCE: i64 = 5_000;

fn take(number: i64) -> Take {
    let asks = (0..8).map(|i| TakeAsk {
        fact: format!("note {} on string 6", (number + i) % 24),
        asked: "G on string 6".to_owned(),
        answer: "string 6 fret 3".to_owned(),
        outcome: if (number + i) % 5 == 0 {
            "wrong"
        } else {
            "right"
        }
        .to_owned(),
        came: None,
        after_ticks: Some(900),
    });
    let roots = number % 3 > 0;
    let pace = Pace {
        can: 80.0,
        doubt: 4.0,
        practice: 72.0,
    };
    Take {
        player: Player::default(),
        began: Moment {
            // Forty takes a day, up to now or so.
            unix_seconds: 1_700_000_000 + number / 40 * 86_400 + number % 40 * 60,
            offset_seconds: 3600,
        },
        seconds: 60,
        exercise: if roots {
            "roots on 6 5, marked"
        } else {
            "scale"
        }
        .to_owned(),
        title: "Take".to_owned(),
        document: format!("title = \"{}\"", number % 50),
        seed: 1,
        key: None,
        set: None,
        plan: "60".to_owned(),
        tempo_milli: (!roots).then_some(80_000),
        word: (!roots).then_some(Word::Clean),
        before: None,
        after: (!roots).then_some(pace),
        asks: if roots { asks.collect() } else { Vec::new() },
    }
}

fn filled(path: &Path, takes: i64) -> Result<(), Box<dyn Error>> {
    let remember = |before: Option<FactRecord>, _: &str, day| {
        let reviews = before.map_or(0, |b| b.reviews);
        Some(FactRecord {
            stability_days: 3.0,
            difficulty: 5.0,
            day,
            reviews: reviews + 1,
            failed: reviews / 4,
        })
    };
    let mut log = Log::open(path, Box::new(remember))?;
    let mut from = 0;
    while from < takes {
        let until = takes.min(from + AT_ONCE);
        log.add_all(&(from..until).map(take).collect::<Vec<_>>())?;
        from = until;
    }
    Ok(())
}

/// The median time of each command; they run in turn, so that the machine's mood meets all of them.
fn medians(commands: &[Vec<&str>]) -> Result<Vec<Duration>, Box<dyn Error>> {
    let mut times = vec![Vec::new(); commands.len()];
    for _ in 0..RUNS {
        for (command, times) in commands.iter().zip(&mut times) {
            let began = Instant::now();
            let status = Command::new(PROGRAM)
                .args(command)
                .stdout(Stdio::null())
                .stderr(Stdio::null())
                .status()?;
            times.push(began.elapsed());
            assert!(status.success(), "{command:?}");
        }
    }
    Ok(times
        .into_iter()
        .map(|mut times| {
            times.sort();
            times[RUNS / 2]
        })
        .collect())
}

fn main() -> Result<(), Box<dyn Error>> {
    let folder = tempfile::tempdir()?;
    let (short, long) = (
        folder.path().join("short.sqlite"),
        folder.path().join("long.sqlite"),
    );
    filled(&short, 1_000)?;
    filled(&long, 100_000)?;
    let (short, long) = (short.display().to_string(), long.display().to_string());
    let commands = [
        vec!["log", "--log", &short],
        vec!["log", "--log", &long],
        vec!["chord", "Am7"],
        vec!["practice", "--show", "--log", &long],
        vec!["drill", "roots", "--show", "--log", &long],
    ];
    let times = medians(&commands)?;
    let ratio = |a: usize, b: usize| times[a].as_secs_f64() / times[b].as_secs_f64();
    println!(
        "log of 100 000 takes / of 1 000: {:.2} ({:?} / {:?})",
        ratio(1, 0),
        times[1],
        times[0]
    );
    println!(
        "practice --show / chord Am7: {:.2} ({:?} / {:?})",
        ratio(3, 2),
        times[3],
        times[2]
    );
    println!(
        "drill roots --show / chord Am7: {:.2} ({:?})",
        ratio(4, 2),
        times[4]
    );
    Ok(())
}
