//! The file itself: opened, added to, and put right.

use std::path::{Path, PathBuf};
use std::time::Duration;

use rusqlite::{
    Connection, OpenFlags, OptionalExtension, Row, Transaction, TransactionBehavior, params,
};
use sha2::{Digest, Sha256};

use super::schema;
use super::take::{Moment, Pace, Take, TakeId, TakeRow, Word};
use super::{LogError, Player};

/// How long another program is waited for.
const PATIENCE: Duration = Duration::from_secs(5);

/// What is remembered of a fact.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct FactRecord {
    /// Days after which it is still known with a chance of nine in ten.
    pub stability_days: f64,
    /// How hard it is, 1 to 10.
    pub difficulty: f64,
    /// The local day on which it was last asked.
    pub day: i64,
    /// How often it was asked, outcomes that count alone.
    pub reviews: u32,
    /// How often the answer was wrong or missing.
    pub failed: u32,
}

/// How what is remembered changes: what was known before, the outcome of an ask by its word, and the local day; gives what
/// is known now, `None` where nothing is known yet and the outcome says nothing.
pub type Remember = dyn Fn(Option<FactRecord>, &str, i64) -> Option<FactRecord>;

/// The log of all takes.
pub struct Log {
    db: Connection,
    path: PathBuf,
    remember: Box<Remember>,
}

impl Log {
    /// Opens the log, and makes it where there is none; an older one is brought to the newest layout. In the folder
    /// `fivefold` of the platform's data folder a missing folder is made, readable by its owner alone; elsewhere the folder
    /// must exist.
    ///
    /// # Errors
    /// When the file cannot be made or is no log, was written by a newer program, or is damaged. Then nothing has been
    /// changed.
    pub fn open(path: &Path, remember: Box<Remember>) -> Result<Log, LogError> {
        make(path)?;
        let fail = |e| LogError::of(e, path);
        let flags = OpenFlags::SQLITE_OPEN_READ_WRITE | OpenFlags::SQLITE_OPEN_NO_MUTEX;
        let mut db = Connection::open_with_flags(path, flags).map_err(fail)?;
        db.busy_timeout(PATIENCE).map_err(fail)?;
        // Nothing is written before it is known to be ours.
        let found = schema::layout(&db).map_err(fail)?;
        if schema::is_foreign(&db).map_err(fail)? {
            let path = path.to_owned();
            return Err(LogError::Foreign { path });
        }
        if found > schema::NEWEST {
            return Err(LogError::Newer {
                path: path.to_owned(),
                found,
                known: schema::NEWEST,
            });
        }
        db.pragma_update(None, "journal_mode", "wal")
            .map_err(fail)?;
        db.pragma_update(None, "synchronous", "full")
            .map_err(fail)?;
        db.pragma_update(None, "foreign_keys", true).map_err(fail)?;
        db.pragma_update(None, "secure_delete", true)
            .map_err(fail)?;
        if found < schema::NEWEST {
            schema::migrate(&mut db, |db| fill_facts(db, &remember)).map_err(fail)?;
        }
        Ok(Log {
            db,
            path: path.to_owned(),
            remember,
        })
    }

    /// Where it lies.
    #[must_use]
    pub fn path(&self) -> &Path {
        &self.path
    }

    pub(super) fn fail(&self) -> impl Fn(rusqlite::Error) -> LogError + use<> {
        let path = self.path.clone();
        move |e| LogError::of(e, &path)
    }

    #[cfg(test)]
    fn db(&self) -> &Connection {
        &self.db
    }

    /// Does all of something or nothing.
    fn change<T>(
        &mut self,
        what: impl FnOnce(&Transaction<'_>, &Remember) -> rusqlite::Result<T>,
    ) -> Result<T, LogError> {
        let fail = self.fail();
        let change = self
            .db
            .transaction_with_behavior(TransactionBehavior::Immediate);
        let change = change.map_err(&fail)?;
        let done = what(&change, &self.remember).map_err(&fail)?;
        change.commit().map_err(&fail)?;
        Ok(done)
    }

    /// Adds a take. When this returns it is on the disk.
    ///
    /// # Errors
    /// When it cannot be written; then nothing of it is.
    pub fn add(&mut self, take: &Take) -> Result<TakeId, LogError> {
        self.change(|db, remember| add(db, take, remember))
    }

    /// Adds takes, all or none, in one go.
    ///
    /// # Errors
    /// As [`Log::add`].
    pub fn add_all(&mut self, takes: &[Take]) -> Result<Vec<TakeId>, LogError> {
        self.change(|db, remember| takes.iter().map(|take| add(db, take, remember)).collect())
    }

    /// Withdraws a take: it stays in the file, marked, and counts no more. A take that was withdrawn before stays so.
    ///
    /// # Errors
    /// When there is no such take, or the file cannot be written.
    pub fn withdraw(&mut self, id: TakeId) -> Result<(), LogError> {
        self.mark(id, true)
    }

    /// Takes the withdrawal of a take back.
    ///
    /// # Errors
    /// As [`Log::withdraw`].
    pub fn restore(&mut self, id: TakeId) -> Result<(), LogError> {
        self.mark(id, false)
    }

    fn mark(&mut self, id: TakeId, withdrawn: bool) -> Result<(), LogError> {
        let found = self.change(|db, remember| mark(db, id, withdrawn, remember))?;
        found.ok_or(LogError::NoTake { id: id.0 })
    }

    /// All players, in the order of the alphabet.
    ///
    /// # Errors
    /// When the file cannot be read.
    pub fn players(&self) -> Result<Vec<String>, LogError> {
        self.rows("SELECT name FROM players ORDER BY name", [], |row| {
            row.get(0)
        })
    }

    /// Removes a player and all that is known of them for good: nothing of it stays in the file.
    ///
    /// # Errors
    /// When there is no such player, or the file cannot be written.
    pub fn forget(&mut self, player: &Player) -> Result<(), LogError> {
        let name = player.name();
        let gone = self.change(|db, _| {
            let gone = db.execute("DELETE FROM players WHERE name = ?", [name])?;
            db.execute(
                "DELETE FROM documents WHERE id NOT IN (SELECT document FROM takes)",
                [],
            )?;
            Ok(gone)
        })?;
        if gone == 0 {
            let name = name.to_owned();
            return Err(LogError::NoPlayer { name });
        }
        // What the journal still holds goes too.
        let fail = self.fail();
        self.db.execute_batch("VACUUM").map_err(&fail)?;
        let query = "PRAGMA wal_checkpoint(TRUNCATE)";
        self.db.query_row(query, [], |_| Ok(())).map_err(&fail)
    }

    /// Copies the log to a file that does not exist yet.
    ///
    /// # Errors
    /// When the file exists or cannot be written.
    pub fn copy(&self, to: &Path) -> Result<(), LogError> {
        if to.exists() {
            let path = to.to_owned();
            return Err(LogError::Exists { path });
        }
        make_file(to)?;
        let text = to.to_string_lossy();
        let copied = self.db.execute("VACUUM INTO ?", [&*text]);
        copied.map(|_| ()).map_err(|e| LogError::of(e, to))
    }

    /// What SQLite says of the file after looking at all of it: `ok`, or what is wrong. Takes long where it is large.
    ///
    /// # Errors
    /// When the file cannot be read.
    pub fn check(&self) -> Result<String, LogError> {
        let found = self
            .db
            .query_row("PRAGMA integrity_check", [], |row| row.get(0));
        found.map_err(self.fail())
    }

    /// A setting of a player, such as the routine used last.
    ///
    /// # Errors
    /// When the file cannot be read.
    pub fn setting(&self, player: &Player, name: &str) -> Result<Option<String>, LogError> {
        let query = "SELECT value FROM settings JOIN players ON players.id = player
                     WHERE players.name = ? AND settings.name = ?";
        let found = self
            .db
            .query_row(query, [player.name(), name], |row| row.get(0));
        found.optional().map_err(self.fail())
    }

    /// Keeps a setting of a player; `None` takes it away.
    ///
    /// # Errors
    /// When the file cannot be written.
    pub fn set(
        &mut self,
        player: &Player,
        name: &str,
        value: Option<&str>,
    ) -> Result<(), LogError> {
        self.change(|db, _| {
            let id = player_id(db, player)?;
            match value {
                Some(value) => db.execute(
                    "INSERT OR REPLACE INTO settings (player, name, value) VALUES (?, ?, ?)",
                    params![id, name, value],
                ),
                None => db.execute(
                    "DELETE FROM settings WHERE player = ? AND name = ?",
                    params![id, name],
                ),
            }
        })
        .map(|_| ())
    }

    /// What is remembered of a player's facts, by name.
    ///
    /// # Errors
    /// When the file cannot be read.
    pub fn facts(&self, player: &Player) -> Result<Vec<(String, FactRecord)>, LogError> {
        let query = "SELECT stability, difficulty, day, reviews, failed, fact FROM facts
                     WHERE player = (SELECT id FROM players WHERE name = ?) ORDER BY fact";
        self.rows(query, [player.name()], |row| {
            Ok((row.get(5)?, fact_record(row)?))
        })
    }

    /// The takes of a player since a day, the newest first, at most so many; withdrawn ones among them.
    ///
    /// # Errors
    /// When the file cannot be read.
    pub fn takes(
        &self,
        player: &Player,
        since: Option<i64>,
        most: usize,
    ) -> Result<Vec<TakeRow>, LogError> {
        let query = "SELECT id, began, utc_offset, day, seconds, exercise, key, set_name, tempo_milli, word, asked, right,
                            withdrawn
                     FROM takes WHERE player = (SELECT id FROM players WHERE name = ?) AND day >= ?
                     ORDER BY day DESC, id DESC LIMIT ?";
        let most = i64::try_from(most).unwrap_or(i64::MAX);
        let since = since.unwrap_or(i64::MIN);
        self.rows(query, params![player.name(), since, most], take_row)
    }

    /// The last takes of an exercise that were judged, the oldest first: day, tempo in thousandths of a beat a minute, and
    /// word.
    ///
    /// # Errors
    /// When the file cannot be read.
    pub fn judged(
        &self,
        player: &Player,
        exercise: &str,
        most: usize,
    ) -> Result<Vec<(i64, u32, Word)>, LogError> {
        let query = "SELECT day, tempo_milli, word FROM takes
                     WHERE player = (SELECT id FROM players WHERE name = ?) AND exercise = ? AND NOT withdrawn
                       AND word IS NOT NULL AND tempo_milli IS NOT NULL
                     ORDER BY id DESC LIMIT ?";
        let most = i64::try_from(most).unwrap_or(i64::MAX);
        let values = params![player.name(), exercise, most];
        let rows = self.rows(query, values, |row| {
            let word: String = row.get(2)?;
            Ok((row.get(0)?, row.get(1)?, Word::named(&word)))
        })?;
        let known = rows.into_iter().rev();
        Ok(known
            .filter_map(|(day, tempo, word)| Some((day, tempo, word?)))
            .collect())
    }

    /// All rows of a query.
    pub(super) fn rows<T>(
        &self,
        query: &str,
        values: impl rusqlite::Params,
        read: impl FnMut(&Row<'_>) -> rusqlite::Result<T>,
    ) -> Result<Vec<T>, LogError> {
        let rows = || -> rusqlite::Result<Vec<T>> {
            let mut statement = self.db.prepare_cached(query)?;
            statement.query_map(values, read)?.collect()
        };
        rows().map_err(self.fail())
    }
}

/// Makes the file where there is none, readable by its owner alone.
fn make(path: &Path) -> Result<(), LogError> {
    if path.exists() {
        return Ok(());
    }
    let usual = super::usual_place().is_ok_and(|usual| usual == path);
    if let (true, Some(folder)) = (usual, path.parent()) {
        let mut builder = std::fs::DirBuilder::new();
        builder.recursive(true);
        private_folder(&mut builder);
        let made = builder.create(folder);
        made.map_err(|source| LogError::Make {
            path: folder.to_owned(),
            source,
        })?;
    }
    match make_file(path) {
        // Another program was faster.
        Err(LogError::Make { source, .. })
            if source.kind() == std::io::ErrorKind::AlreadyExists =>
        {
            Ok(())
        }
        made => made,
    }
}

fn make_file(path: &Path) -> Result<(), LogError> {
    let mut options = std::fs::OpenOptions::new();
    options.write(true).create_new(true);
    private_file(&mut options);
    let made = options.open(path);
    made.map(|_| ()).map_err(|source| LogError::Make {
        path: path.to_owned(),
        source,
    })
}

/// A folder for its owner alone.
#[cfg(unix)]
fn private_folder(builder: &mut std::fs::DirBuilder) {
    std::os::unix::fs::DirBuilderExt::mode(builder, 0o700);
}

/// Elsewhere the folder of a user's data is that user's already.
#[cfg(not(unix))]
fn private_folder(_: &mut std::fs::DirBuilder) {}

/// A file for its owner alone.
#[cfg(unix)]
fn private_file(options: &mut std::fs::OpenOptions) {
    std::os::unix::fs::OpenOptionsExt::mode(options, 0o600);
}

/// As the folder it lies in.
#[cfg(not(unix))]
fn private_file(_: &mut std::fs::OpenOptions) {}

fn player_id(db: &Connection, player: &Player) -> rusqlite::Result<i64> {
    db.execute(
        "INSERT OR IGNORE INTO players (name) VALUES (?)",
        [player.name()],
    )?;
    db.query_row(
        "SELECT id FROM players WHERE name = ?",
        [player.name()],
        |row| row.get(0),
    )
}

fn document_id(db: &Connection, text: &str) -> rusqlite::Result<i64> {
    let hash = Sha256::digest(text.as_bytes());
    let hash = hash.as_slice();
    db.execute(
        "INSERT OR IGNORE INTO documents (hash, text) VALUES (?, ?)",
        params![hash, text],
    )?;
    db.query_row("SELECT id FROM documents WHERE hash = ?", [hash], |row| {
        row.get(0)
    })
}

/// Whether an outcome counts, and whether it is right.
fn counts(outcome: &str) -> Option<bool> {
    match outcome {
        "at once" | "right" | "late" => Some(true),
        "wrong" | "missed" => Some(false),
        _ => None,
    }
}

fn add(db: &Connection, take: &Take, remember: &Remember) -> rusqlite::Result<TakeId> {
    let player = player_id(db, &take.player)?;
    let document = document_id(db, &take.document)?;
    let day = take.began.day();
    let counted = take.asks.iter().filter_map(|ask| counts(&ask.outcome));
    let counted: Vec<bool> = counted.collect();
    let number = |n: usize| i64::try_from(n).unwrap_or(i64::MAX);
    let asked = number(counted.len());
    let right = number(counted.iter().filter(|right| **right).count());
    let pace = |pace: &Option<Pace>| {
        let pace = pace.as_ref();
        (
            pace.map(|p| p.can),
            pace.map(|p| p.doubt),
            pace.map(|p| p.practice),
        )
    };
    let (before, after) = (pace(&take.before), pace(&take.after));
    db.prepare_cached(
        "INSERT INTO takes (player, began, utc_offset, day, seconds, exercise, title, document, seed, key, set_name, plan,
                            tempo_milli, word, can_before, doubt_before, practise_before, can_after, doubt_after,
                            practise_after, program, asked, right)
         VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)",
    )?
    .execute(params![
        player,
        take.began.unix_seconds,
        take.began.offset_seconds,
        day,
        take.seconds,
        take.exercise,
        take.title,
        document,
        take.seed.cast_signed(),
        take.key,
        take.set,
        take.plan,
        take.tempo_milli,
        take.word.map(Word::name),
        before.0,
        before.1,
        before.2,
        after.0,
        after.1,
        after.2,
        env!("CARGO_PKG_VERSION"),
        asked,
        right,
    ])?;
    let id = TakeId(db.last_insert_rowid());
    let mut insert = db.prepare_cached(
        "INSERT INTO asks (take, number, fact, asked, answer, outcome, came, after_ticks)
         VALUES (?, ?, ?, ?, ?, ?, ?, ?)",
    )?;
    for (number, ask) in (1i64..).zip(&take.asks) {
        insert.execute(params![
            id.0,
            number,
            ask.fact,
            ask.asked,
            ask.answer,
            ask.outcome,
            ask.came,
            ask.after_ticks.and_then(|ticks| i64::try_from(ticks).ok()),
        ])?;
        review(db, player, &ask.fact, &ask.outcome, day, remember)?;
    }
    let sums = Sums {
        player,
        day,
        takes: 1,
        seconds: i64::from(take.seconds),
        asked,
        right,
    };
    sums.put(db, &take.exercise)?;
    Ok(id)
}

/// What a take adds to the sums of its day and its exercise.
struct Sums {
    player: i64,
    day: i64,
    takes: i64,
    seconds: i64,
    asked: i64,
    right: i64,
}

impl Sums {
    fn put(&self, db: &Connection, exercise: &str) -> rusqlite::Result<()> {
        db.prepare_cached(
            "INSERT INTO days (player, day, takes, seconds) VALUES (?, ?, ?, ?)
             ON CONFLICT DO UPDATE SET takes = takes + excluded.takes, seconds = seconds + excluded.seconds",
        )?
        .execute(params![self.player, self.day, self.takes, self.seconds])?;
        db.prepare_cached(
            "INSERT INTO sums (player, exercise, day, takes, seconds, asked, right) VALUES (?, ?, ?, ?, ?, ?, ?)
             ON CONFLICT DO UPDATE SET takes = takes + excluded.takes, seconds = seconds + excluded.seconds,
                 asked = asked + excluded.asked, right = right + excluded.right",
        )?
        .execute(params![
            self.player,
            exercise,
            self.day,
            self.takes,
            self.seconds,
            self.asked,
            self.right
        ])?;
        Ok(())
    }
}

/// Takes the outcome of an ask into what is remembered of its fact.
fn review(
    db: &Connection,
    player: i64,
    fact: &str,
    outcome: &str,
    day: i64,
    remember: &Remember,
) -> rusqlite::Result<()> {
    let query = "SELECT stability, difficulty, day, reviews, failed FROM facts WHERE player = ? AND fact = ?";
    let mut statement = db.prepare_cached(query)?;
    let before = statement
        .query_row(params![player, fact], fact_record)
        .optional()?;
    let Some(now) = remember(before, outcome, day) else {
        return Ok(());
    };
    db.prepare_cached(
        "INSERT OR REPLACE INTO facts (player, fact, stability, difficulty, day, reviews, failed)
         VALUES (?, ?, ?, ?, ?, ?, ?)",
    )?
    .execute(params![
        player,
        fact,
        now.stability_days,
        now.difficulty,
        now.day,
        now.reviews,
        now.failed,
    ])?;
    Ok(())
}

/// Remembers a fact of a player anew, from all takes that count.
fn remember_anew(
    db: &Connection,
    player: i64,
    fact: &str,
    remember: &Remember,
) -> rusqlite::Result<()> {
    db.execute(
        "DELETE FROM facts WHERE player = ? AND fact = ?",
        params![player, fact],
    )?;
    let query = "SELECT outcome, day FROM asks JOIN takes ON takes.id = take
                 WHERE fact = ? AND player = ? AND NOT withdrawn ORDER BY take, number";
    let mut statement = db.prepare_cached(query)?;
    let rows = statement.query_map(params![fact, player], |row| Ok((row.get(0)?, row.get(1)?)))?;
    let rows: Vec<(String, i64)> = rows.collect::<rusqlite::Result<_>>()?;
    for (outcome, day) in rows {
        review(db, player, fact, &outcome, day, remember)?;
    }
    Ok(())
}

fn mark(
    db: &Connection,
    id: TakeId,
    withdrawn: bool,
    remember: &Remember,
) -> rusqlite::Result<Option<()>> {
    let query =
        "SELECT player, day, seconds, asked, right, withdrawn, exercise FROM takes WHERE id = ?";
    let found = db.query_row(query, [id.0], |row| {
        let sums = Sums {
            player: row.get(0)?,
            day: row.get(1)?,
            takes: 1,
            seconds: row.get(2)?,
            asked: row.get(3)?,
            right: row.get(4)?,
        };
        let (was, exercise): (bool, String) = (row.get(5)?, row.get(6)?);
        Ok((sums, was, exercise))
    });
    let Some((sums, was, exercise)) = found.optional()? else {
        return Ok(None);
    };
    if was == withdrawn {
        return Ok(Some(()));
    }
    db.execute(
        "UPDATE takes SET withdrawn = ? WHERE id = ?",
        params![withdrawn, id.0],
    )?;
    let sign = if withdrawn { -1 } else { 1 };
    let player = sums.player;
    let change = Sums {
        takes: sign,
        seconds: sign * sums.seconds,
        asked: sign * sums.asked,
        right: sign * sums.right,
        ..sums
    };
    change.put(db, &exercise)?;
    let mut facts = db.prepare("SELECT DISTINCT fact FROM asks WHERE take = ?")?;
    let facts = facts.query_map([id.0], |row| row.get(0))?;
    let facts: Vec<String> = facts.collect::<rusqlite::Result<_>>()?;
    for fact in facts {
        remember_anew(db, player, &fact, remember)?;
    }
    Ok(Some(()))
}

/// Fills the table of facts of a file that had none.
fn fill_facts(db: &Connection, remember: &Remember) -> rusqlite::Result<()> {
    let query = "SELECT DISTINCT player, fact FROM asks JOIN takes ON takes.id = take";
    let mut facts = db.prepare(query)?;
    let facts = facts.query_map([], |row| Ok((row.get(0)?, row.get(1)?)))?;
    let facts: Vec<(i64, String)> = facts.collect::<rusqlite::Result<_>>()?;
    for (player, fact) in facts {
        remember_anew(db, player, &fact, remember)?;
    }
    Ok(())
}

fn fact_record(row: &Row<'_>) -> rusqlite::Result<FactRecord> {
    Ok(FactRecord {
        stability_days: row.get(0)?,
        difficulty: row.get(1)?,
        day: row.get(2)?,
        reviews: row.get(3)?,
        failed: row.get(4)?,
    })
}

fn take_row(row: &Row<'_>) -> rusqlite::Result<TakeRow> {
    let word: Option<String> = row.get(9)?;
    Ok(TakeRow {
        id: TakeId(row.get(0)?),
        began: Moment {
            unix_seconds: row.get(1)?,
            offset_seconds: row.get(2)?,
        },
        day: row.get(3)?,
        seconds: row.get(4)?,
        exercise: row.get(5)?,
        key: row.get(6)?,
        set: row.get(7)?,
        tempo_milli: row.get(8)?,
        word: word.as_deref().and_then(Word::named),
        asked: row.get(10)?,
        right: row.get(11)?,
        withdrawn: row.get(12)?,
    })
}

#[cfg(test)]
mod tests;
