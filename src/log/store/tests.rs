use std::fs;

use tempfile::{TempDir, tempdir};

use super::*;
use crate::diagnostic::Diagnostic;
use crate::log::{KeyShare, TakeAsk};

/// Counts reviews: enough to see which outcomes were taken in, in which order.
fn counting() -> Box<Remember> {
    Box::new(|before, outcome, day| {
        let right = counts(outcome)?;
        let (reviews, failed) = before.map_or((0, 0), |b| (b.reviews, b.failed));
        Some(FactRecord {
            stability_days: f64::from(reviews + 1),
            difficulty: 5.0,
            day,
            reviews: reviews + 1,
            failed: failed + u32::from(!right),
        })
    })
}

fn place() -> (TempDir, PathBuf) {
    let folder = tempdir().unwrap();
    let path = folder.path().join("log.sqlite");
    (folder, path)
}

fn log(path: &Path) -> Log {
    Log::open(path, counting()).unwrap()
}

fn ada() -> Player {
    Player::read("Ada").unwrap()
}

fn ask(fact: &str, outcome: &str) -> TakeAsk {
    TakeAsk {
        fact: fact.to_owned(),
        asked: fact.to_owned(),
        answer: "string 6 fret 3".to_owned(),
        outcome: outcome.to_owned(),
        came: None,
        after_ticks: Some(500),
    }
}

fn take(player: &Player, day: i64, asks: Vec<TakeAsk>) -> Take {
    Take {
        player: player.clone(),
        began: Moment {
            unix_seconds: day * 86_400 + 12 * 3600,
            offset_seconds: 0,
        },
        seconds: 60,
        exercise: "roots on 6".to_owned(),
        title: "Roots".to_owned(),
        document: "title = \"Roots\"".to_owned(),
        seed: u64::MAX,
        key: None,
        set: None,
        plan: "60".to_owned(),
        tempo_milli: Some(60_000),
        word: Some(Word::Clean),
        before: None,
        after: None,
        asks,
    }
}

#[test]
fn takes_come_back() {
    let (_folder, path) = place();
    let mut first = log(&path);
    let id = first.add(&take(
        &ada(),
        3,
        vec![ask("G", "right"), ask("A", "wrong"), ask("B", "unsure")],
    ));
    let id = id.unwrap();
    drop(first);
    let log = log(&path);
    let rows = log.takes(&ada(), None, 10).unwrap();
    assert_eq!(rows.len(), 1);
    assert_eq!((rows[0].id, rows[0].day, rows[0].seconds), (id, 3, 60));
    assert_eq!((rows[0].asked, rows[0].right), (2, 1));
    assert_eq!(rows[0].word, Some(Word::Clean));
    let facts = log.facts(&ada()).unwrap();
    let names: Vec<_> = facts
        .iter()
        .map(|(name, f)| (name.as_str(), f.failed))
        .collect();
    assert_eq!(names, [("A", 1), ("G", 0)]);
    assert_eq!(
        log.judged(&ada(), "roots on 6", 5).unwrap(),
        [(3, 60_000, Word::Clean)]
    );
    assert!(log.takes(&ada(), Some(4), 10).unwrap().is_empty());
    assert!(log.takes(&Player::default(), None, 10).unwrap().is_empty());
}

#[test]
fn keys_are_counted_for_each_set_and_player() {
    let (_folder, path) = place();
    let mut log = log(&path);
    let mut add = |player: &Player, key: Option<&str>, set: Option<&str>, seconds| {
        let take = Take {
            key: key.map(str::to_owned),
            set: set.map(str::to_owned),
            seconds,
            ..take(player, 1, Vec::new())
        };
        log.add(&take).unwrap()
    };
    let set = Some("A minor pentatonic");
    add(&ada(), Some("A minor"), set, 60);
    add(&ada(), Some("A minor"), set, 30);
    // The root of the set is that of the first key.
    add(
        &ada(),
        Some("Bb minor, A minor, D minor"),
        Some("Bb minor pentatonic"),
        100,
    );
    // None of these count: another set, one whose name ends alike, another player, no key, no set, a withdrawn take.
    add(&ada(), Some("A minor"), Some("A minor"), 7);
    add(&ada(), Some("A minor"), Some("A harmonic minor"), 7);
    add(&Player::default(), Some("A minor"), set, 7);
    add(&ada(), None, set, 7);
    add(&ada(), Some("A minor"), None, 7);
    let wrong = add(&ada(), Some("G minor"), set, 7);
    log.withdraw(wrong).unwrap();
    let totals = |set: &str| {
        let totals = log.practiced(&ada(), set).unwrap().into_iter();
        totals
            .map(|total| (total.key, total.milliseconds))
            .collect::<Vec<_>>()
    };
    let of = |key: &str, milliseconds| (key.to_owned(), milliseconds);
    assert_eq!(
        totals("minor pentatonic"),
        [
            of("A minor", 90_000 + 33_333),
            of("Bb minor", 33_333),
            of("D minor", 33_333)
        ]
    );
    assert_eq!(totals("minor"), [of("A minor", 7000)]);
    assert_eq!(totals("pentatonic"), []);
}

#[test]
fn equal_documents_are_stored_once() {
    let (_folder, path) = place();
    let mut log = log(&path);
    for day in 0..5 {
        log.add(&take(&ada(), day, Vec::new())).unwrap();
    }
    let count: i64 = log
        .db()
        .query_row("SELECT count(*) FROM documents", [], |r| r.get(0))
        .unwrap();
    assert_eq!(count, 1);
}

#[test]
fn a_withdrawn_take_stays_and_counts_no_more() {
    let (_folder, path) = place();
    let mut log = log(&path);
    let first = log.add(&take(&ada(), 1, vec![ask("G", "wrong")])).unwrap();
    log.add(&take(&ada(), 2, vec![ask("G", "right"), ask("G", "right")]))
        .unwrap();
    let reviews = |log: &Log| {
        let facts = log.facts(&ada()).unwrap();
        facts.first().map(|(_, f)| (f.reviews, f.failed, f.day))
    };
    assert_eq!(reviews(&log), Some((3, 1, 2)));
    log.withdraw(first).unwrap();
    log.withdraw(first).unwrap();
    assert_eq!(reviews(&log), Some((2, 0, 2)));
    assert_eq!(log.days(&ada(), None).unwrap().len(), 1);
    let rows = log.takes(&ada(), None, 10).unwrap();
    assert_eq!(rows.iter().filter(|row| row.withdrawn).count(), 1);
    log.restore(first).unwrap();
    assert_eq!(reviews(&log), Some((3, 1, 2)));
    assert_eq!(log.days(&ada(), None).unwrap().len(), 2);
    assert_eq!(log.withdraw(TakeId(99)).unwrap_err().code(), "log-take");
}

#[test]
fn who_is_forgotten_is_in_no_byte_of_the_file() {
    let (folder, path) = place();
    let mut log = log(&path);
    let gone = Player::read("Quillon Brightwater").unwrap();
    for day in 0..50 {
        let mut one = take(&gone, day, vec![ask("Zanzibar chord", "wrong")]);
        one.document = format!("title = \"Marmalade {day}\"");
        log.add(&one).unwrap();
        log.add(&take(&ada(), day, vec![ask("G", "right")]))
            .unwrap();
    }
    log.set(&gone, "routine", Some("Pomegranate")).unwrap();
    log.forget(&gone).unwrap();
    assert_eq!(log.players().unwrap(), ["Ada"]);
    assert_eq!(log.takes(&ada(), None, 100).unwrap().len(), 50);
    for file in fs::read_dir(folder.path()).unwrap() {
        let bytes = fs::read(file.unwrap().path()).unwrap();
        for word in ["Quillon", "Zanzibar", "Marmalade", "Pomegranate"] {
            let found = bytes.windows(word.len()).any(|w| w == word.as_bytes());
            assert!(!found, "{word}");
        }
    }
    assert_eq!(log.forget(&gone).unwrap_err().code(), "log-player");
}

#[test]
fn settings_are_each_player_s_own() {
    let (_folder, path) = place();
    let mut log = log(&path);
    let ben = Player::read("Ben").unwrap();
    log.set(&ada(), "order", Some("C G")).unwrap();
    log.set(&ada(), "order", Some("A D")).unwrap();
    assert_eq!(
        log.setting(&ada(), "order").unwrap().as_deref(),
        Some("A D")
    );
    assert_eq!(log.setting(&ben, "order").unwrap(), None);
    log.set(&ada(), "order", None).unwrap();
    assert_eq!(log.setting(&ada(), "order").unwrap(), None);
}

#[test]
fn names_are_data() {
    let (_folder, path) = place();
    let mut log = log(&path);
    for name in [
        "../../x",
        "'; DROP TABLE takes; --",
        "Zo\u{eb}",
        "\u{202e}right to left",
    ] {
        let player = Player::read(name).unwrap();
        log.add(&take(&player, 1, Vec::new())).unwrap();
        assert_eq!(log.takes(&player, None, 10).unwrap().len(), 1, "{name}");
    }
    assert_eq!(log.players().unwrap().len(), 4);
}

#[cfg(unix)]
#[test]
fn the_file_is_its_owner_s_alone() {
    use std::os::unix::fs::PermissionsExt;
    let (folder, path) = place();
    let mut log = log(&path);
    log.add(&take(&ada(), 1, Vec::new())).unwrap();
    let copy = folder.path().join("copy.sqlite");
    log.copy(&copy).unwrap();
    let mut files = 0;
    for file in fs::read_dir(folder.path()).unwrap() {
        let mode = file.unwrap().metadata().unwrap().permissions().mode();
        assert_eq!(mode & 0o777, 0o600);
        files += 1;
    }
    // The log, what belongs to it while it is open, and the copy.
    assert!(files >= 3, "{files}");
    assert_eq!(log.copy(&copy).unwrap_err().code(), "log-exists");
    drop(log);
    let again = Log::open(&copy, counting()).unwrap();
    assert_eq!(again.takes(&ada(), None, 10).unwrap().len(), 1);
}

#[test]
fn files_that_are_no_log_are_left_as_they_are() {
    let (folder, path) = place();
    let refused = |bytes: &[u8], code: &str| {
        fs::write(&path, bytes).unwrap();
        let error = Log::open(&path, counting()).err().unwrap();
        assert_eq!(error.code(), code, "{error}");
        assert!(error.to_string().contains("log.sqlite"), "{error}");
        assert_eq!(fs::read(&path).unwrap(), bytes);
    };
    refused(b"dear diary, today I practiced", "log-foreign");
    refused(&[0x5A; 4096], "log-foreign");
    // A database of another program.
    let other = folder.path().join("other.sqlite");
    let db = Connection::open(&other).unwrap();
    db.execute_batch("CREATE TABLE takes (x)").unwrap();
    drop(db);
    refused(&fs::read(&other).unwrap(), "log-foreign");
    // One of a newer program.
    let newer = folder.path().join("newer.sqlite");
    drop(Log::open(&newer, counting()).unwrap());
    let db = Connection::open(&newer).unwrap();
    db.pragma_update(None, "journal_mode", "delete").unwrap();
    db.pragma_update(None, "user_version", 99).unwrap();
    drop(db);
    refused(&fs::read(&newer).unwrap(), "log-newer");
}

#[test]
fn a_damaged_log_is_told_and_left() {
    let (_folder, path) = place();
    let mut first = log(&path);
    for day in 0..200 {
        first
            .add(&take(&ada(), day, vec![ask("G", "right"); 5]))
            .unwrap();
    }
    drop(first);
    let mut bytes = fs::read(&path).unwrap();
    assert!(bytes.len() > 40_000);
    for byte in &mut bytes[4096..] {
        *byte = 0xA5;
    }
    fs::write(&path, &bytes).unwrap();
    let told = match Log::open(&path, counting()) {
        Err(e) => e,
        Ok(mut log) => {
            let added = log.add(&take(&ada(), 1, Vec::new()));
            added.err().or(log.takes(&ada(), None, 10).err()).unwrap()
        }
    };
    assert_eq!(told.code(), "log-damaged", "{told}");
    assert_eq!(fs::read(&path).unwrap()[4096..], bytes[4096..]);
}

/// A log of each earlier layout, with a take in it.
#[test]
fn older_logs_are_brought_up_to_date() {
    for layout in 1..schema::NEWEST {
        let (_folder, path) = place();
        let db = Connection::open(&path).unwrap();
        schema::make_older(&db, layout).unwrap();
        db.execute_batch(
            "INSERT INTO players (name) VALUES ('Ada');
             INSERT INTO documents (hash, text) VALUES (x'00', 'title = \"x\"');
             INSERT INTO takes (player, began, utc_offset, day, seconds, exercise, title, document, seed, plan, program,
                                asked, right)
                 VALUES (1, 0, 0, 5, 30, 'roots on 6', 'x', 1, 1, '60', '0.0.1', 2, 1);
             INSERT INTO days (player, day, takes, seconds) VALUES (1, 5, 1, 30);
             INSERT INTO asks (take, number, fact, asked, answer, outcome) VALUES (1, 1, 'G', 'G', 'x', 'right');
             INSERT INTO asks (take, number, fact, asked, answer, outcome) VALUES (1, 2, 'A', 'A', 'x', 'wrong');",
        )
        .unwrap();
        if layout >= 2 {
            db.execute_batch(
                "INSERT INTO facts VALUES (1, 'A', 1.0, 5.0, 5, 1, 1);
                 INSERT INTO facts VALUES (1, 'G', 1.0, 5.0, 5, 1, 0);",
            )
            .unwrap();
        }
        drop(db);
        let mut log = log(&path);
        assert_eq!(schema::layout(log.db()).unwrap(), schema::NEWEST);
        let facts = log.facts(&ada()).unwrap();
        let known = |(name, f): &(String, FactRecord)| (name.clone(), f.reviews, f.failed, f.day);
        let known: Vec<_> = facts.iter().map(known).collect();
        assert_eq!(
            known,
            [("A".to_owned(), 1, 1, 5), ("G".to_owned(), 1, 0, 5)]
        );
        log.add(&take(&ada(), 6, vec![ask("G", "missed")])).unwrap();
        assert_eq!(log.takes(&ada(), None, 10).unwrap().len(), 2);
        let sums = log.exercises(&ada(), None).unwrap();
        assert_eq!(
            (sums[0].takes, sums[0].seconds, sums[0].asked, sums[0].right),
            (2, 90, 3, 1)
        );
    }
}

#[test]
fn sums_are_those_of_the_takes() {
    let (_folder, path) = place();
    let mut log = log(&path);
    let takes: Vec<Take> = (0..30)
        .map(|i| take(&ada(), i / 4, vec![ask("G", "right"), ask("A", "missed")]))
        .collect();
    let ids = log.add_all(&takes).unwrap();
    for id in [3, 7, 8, 20] {
        log.withdraw(ids[id]).unwrap();
    }
    log.restore(ids[8]).unwrap();
    let query =
        "SELECT count(*), sum(seconds), sum(asked), sum(right) FROM takes WHERE NOT withdrawn";
    let counted: (u32, i64, i64, i64) = log
        .db()
        .query_row(query, [], |r| {
            Ok((r.get(0)?, r.get(1)?, r.get(2)?, r.get(3)?))
        })
        .unwrap();
    let sums = &log.exercises(&ada(), None).unwrap()[0];
    assert_eq!((sums.takes, sums.seconds, sums.asked, sums.right), counted);
    assert_eq!(counted.0, 27);
    let days = log.days(&ada(), None).unwrap();
    assert_eq!(days.iter().map(|d| d.takes).sum::<u32>(), 27);
}

#[test]
fn a_full_disk_is_told_and_the_log_stays_whole() {
    let (_folder, path) = place();
    let mut log = log(&path);
    log.add(&take(&ada(), 1, vec![ask("G", "right")])).unwrap();
    let pages: i64 = log
        .db()
        .pragma_query_value(None, "page_count", |r| r.get(0))
        .unwrap();
    log.db()
        .pragma_update(None, "max_page_count", pages + 2)
        .unwrap();
    let mut told = None;
    for day in 2..500 {
        let mut one = take(&ada(), day, vec![ask("G", "right"); 20]);
        one.document = format!(
            "title = \"{}\"",
            "x".repeat(2000 + usize::try_from(day).unwrap())
        );
        if let Err(error) = log.add(&one) {
            told = Some((day, error));
            break;
        }
    }
    let (day, error) = told.unwrap();
    assert_eq!(error.code(), "log-full", "{error}");
    let rows = log.takes(&ada(), None, 1000).unwrap();
    assert_eq!(i64::try_from(rows.len()).unwrap(), day - 1);
    let whole: String = log
        .db()
        .query_row("PRAGMA integrity_check", [], |r| r.get(0))
        .unwrap();
    assert_eq!(whole, "ok");
}

#[test]
fn places_where_no_file_can_be() {
    let (folder, path) = place();
    fs::write(&path, b"").unwrap();
    // A file is no folder.
    let error = Log::open(&path.join("log.sqlite"), counting())
        .err()
        .unwrap();
    assert_eq!(error.code(), "log-make", "{error}");
    let error = Log::open(&folder.path().join("none").join("log.sqlite"), counting())
        .err()
        .unwrap();
    assert_eq!(error.code(), "log-make", "{error}");
    // A folder is no file.
    let error = Log::open(folder.path(), counting()).err().unwrap();
    assert_eq!(error.code(), "log-make", "{error}");
}

#[test]
fn a_clock_that_is_set_back_and_another_time_zone_break_nothing() {
    let (_folder, path) = place();
    let mut log = log(&path);
    let days = [10, 11, 4, 12];
    for day in days {
        log.add(&take(&ada(), day, vec![ask("G", "right")]))
            .unwrap();
    }
    let mut east = take(&ada(), 12, vec![ask("G", "right")]);
    // Noon UTC is 2 in the night fourteen hours east: still the day before there.
    east.began.offset_seconds = 14 * 3600;
    assert_eq!(east.began.day(), 12);
    log.add(&east).unwrap();
    let facts = log.facts(&ada()).unwrap();
    assert_eq!((facts[0].1.reviews, facts[0].1.day), (5, 12));
    let listed: Vec<i64> = log
        .takes(&ada(), None, 10)
        .unwrap()
        .iter()
        .map(|r| r.day)
        .collect();
    assert_eq!(listed, [12, 12, 11, 10, 4]);
}

#[test]
fn two_at_once_lose_nothing() {
    let (_folder, path) = place();
    drop(log(&path));
    let writers: Vec<_> = (0..2)
        .map(|i| {
            let path = path.clone();
            std::thread::spawn(move || {
                let mut log = log(&path);
                let player = Player::read(&format!("player {i}")).unwrap();
                for day in 0..40 {
                    log.add(&take(&player, day, vec![ask("G", "right")]))
                        .unwrap();
                }
            })
        })
        .collect();
    for writer in writers {
        writer.join().unwrap();
    }
    let log = log(&path);
    for i in 0..2 {
        let player = Player::read(&format!("player {i}")).unwrap();
        assert_eq!(log.takes(&player, None, 1000).unwrap().len(), 40);
    }
}

#[test]
fn keys_that_do_not_always_go_clean_are_the_weakest() {
    let (_folder, path) = place();
    let mut log = log(&path);
    let add = |log: &mut Log, keys: &str, word| {
        log.add(&Take {
            key: Some(keys.to_owned()),
            word: Some(word),
            ..take(&ada(), 3, Vec::new())
        })
        .unwrap()
    };
    add(&mut log, "C major", Word::Missed); // long ago
    for word in [Word::Clean, Word::Missed, Word::Nearly] {
        add(&mut log, "A minor, E minor", word);
    }
    add(&mut log, "E minor", Word::Clean);
    add(&mut log, "D minor", Word::Clean);
    add(&mut log, "D minor", Word::Clean);
    add(&mut log, "G minor", Word::Missed);
    let withdrawn = add(&mut log, "D minor", Word::Missed);
    log.withdraw(withdrawn).unwrap();
    let key = |key: &str, takes, clean| KeyShare {
        key: key.to_owned(),
        takes,
        clean,
    };
    // G minor was played once, D minor was always clean.
    let weak = [key("A minor", 3, 1), key("E minor", 4, 2)];
    assert_eq!(log.weakest_keys(&ada(), 100, 8).unwrap(), weak);
    assert_eq!(log.weakest_keys(&ada(), 100, 1).unwrap(), weak[..1]);
    assert_eq!(log.weakest_keys(&Player::default(), 100, 8).unwrap(), []);
    add(&mut log, "C major", Word::Clean);
    assert_eq!(log.weakest_keys(&ada(), 7, 8).unwrap().len(), 2);
    assert_eq!(log.weakest_keys(&ada(), 100, 8).unwrap().len(), 3);
}
