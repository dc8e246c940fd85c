//! A program that writes takes down and is killed at a random moment: what it called saved is there afterward.

use std::io::{BufRead, BufReader, Write};
use std::path::Path;
use std::process::{Command, Stdio};
use std::time::Duration;

use fivefold::log::{FactRecord, Log, Moment, Player, Remember, Take, TakeAsk};
use rand::rngs::Xoshiro256PlusPlus;
use rand::{Rng, SeedableRng};

/// Where the child writes; it does nothing without.
const PLACE: &str = "FIVEFOLD_KILLED_LOG";

/// How often it is killed, instead of a hundred times.
const KILLS: &str = "FIVEFOLD_KILLS";

fn remember() -> Box<Remember> {
    Box::new(|before: Option<FactRecord>, _, day| {
        let reviews = before.map_or(0, |b| b.reviews);
        Some(FactRecord {
            stability_days: 1.0,
            difficulty: 5.0,
            day,
            reviews: reviews + 1,
            failed: 0,
        })
    })
}

fn take(number: i64) -> Take {
    let ask = TakeAsk {
        fact: "G on string 6".to_owned(),
        asked: "G on string 6".to_owned(),
        answer: "string 6 fret 3".to_owned(),
        outcome: "right".to_owned(),
        came: None,
        after_ticks: Some(900),
    };
    Take {
        player: Player::default(),
        began: Moment {
            unix_seconds: number * 1_000,
            offset_seconds: 0,
        },
        seconds: 30,
        exercise: "roots on 6".to_owned(),
        title: "Roots".to_owned(),
        document: format!("title = \"Roots {}\"", number % 7),
        seed: 1,
        key: None,
        set: None,
        plan: "60".to_owned(),
        tempo_milli: None,
        word: None,
        before: None,
        after: None,
        asks: vec![ask; 10],
    }
}

/// The program that is killed: writes takes without end, and says of each that it is saved.
#[test]
#[ignore = "run by the test below"]
fn writer() {
    let Ok(place) = std::env::var(PLACE) else {
        return;
    };
    let mut log = Log::open(Path::new(&place), remember()).unwrap();
    let mut out = std::io::stdout().lock();
    for number in 0.. {
        let id = log.add(&take(number)).unwrap();
        writeln!(out, "saved {}", id.0).unwrap();
        out.flush().unwrap();
    }
}

#[test]
fn no_take_that_was_called_saved_is_missing() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("log.sqlite");
    let kills = std::env::var(KILLS)
        .ok()
        .and_then(|n| n.parse().ok())
        .unwrap_or(100);
    let mut random = Xoshiro256PlusPlus::seed_from_u64(12);
    let mut saved = Vec::new();
    for _ in 0..kills {
        let mut child = Command::new(std::env::current_exe().unwrap())
            .args(["--exact", "log_kills::writer", "--ignored", "--nocapture"])
            .env(PLACE, &path)
            .stdout(Stdio::piped())
            .stderr(Stdio::null())
            .spawn()
            .unwrap();
        let mut lines = BufReader::new(child.stdout.take().unwrap())
            .lines()
            .map_while(Result::ok);
        // What the harness says first does not count; once it writes, it is killed within twenty milliseconds.
        let id = |line: &str| {
            line.split("saved ")
                .nth(1)
                .and_then(|n| n.trim().parse::<i64>().ok())
        };
        let first = lines.by_ref().find_map(|line| id(&line));
        std::thread::sleep(Duration::from_micros(random.next_u64() % 20_000));
        child.kill().unwrap();
        child.wait().unwrap();
        saved.push(first.unwrap());
        saved.extend(lines.filter_map(|line| id(&line)));
    }
    let log = Log::open(&path, remember()).unwrap();
    let takes = log.takes(&Player::default(), None, usize::MAX).unwrap();
    let there: std::collections::HashSet<i64> = takes.iter().map(|take| take.id.0).collect();
    let missing: Vec<&i64> = saved.iter().filter(|id| !there.contains(id)).collect();
    assert!(missing.is_empty(), "{missing:?} of {}", saved.len());
    assert!(saved.len() >= kills, "{}", saved.len());
    // Each take is whole, and what is remembered agrees with the takes.
    assert!(
        takes
            .iter()
            .all(|take| (take.asked, take.right) == (10, 10))
    );
    let facts = log.facts(&Player::default()).unwrap();
    assert_eq!(facts[0].1.reviews as usize, 10 * takes.len());
    assert_eq!(log.check().unwrap(), "ok");
}
