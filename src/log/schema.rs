//! The layout of the file, and how an older one becomes the newest.

use rusqlite::{Connection, Result};

/// Marks the file as ours (SQLite's `application_id`): the letters `FVFD`.
pub(super) const APPLICATION: i64 = 0x4656_4644;

/// One step each: from the layout with that number (0: an empty file) to the next.
const STEPS: [&str; 3] = [
    "
    CREATE TABLE players (id INTEGER PRIMARY KEY, name TEXT NOT NULL UNIQUE) STRICT;
    CREATE TABLE documents (id INTEGER PRIMARY KEY, hash BLOB NOT NULL UNIQUE, text TEXT NOT NULL) STRICT;
    CREATE TABLE takes (
        id INTEGER PRIMARY KEY AUTOINCREMENT,
        player INTEGER NOT NULL REFERENCES players(id) ON DELETE CASCADE,
        began INTEGER NOT NULL,
        utc_offset INTEGER NOT NULL,
        day INTEGER NOT NULL,
        seconds INTEGER NOT NULL,
        exercise TEXT NOT NULL,
        title TEXT NOT NULL,
        document INTEGER NOT NULL REFERENCES documents(id),
        seed INTEGER NOT NULL,
        key TEXT,
        set_name TEXT,
        plan TEXT NOT NULL,
        tempo_milli INTEGER,
        word TEXT,
        can_before REAL, doubt_before REAL, practise_before REAL,
        can_after REAL, doubt_after REAL, practise_after REAL,
        program TEXT NOT NULL,
        asked INTEGER NOT NULL,
        right INTEGER NOT NULL,
        withdrawn INTEGER NOT NULL DEFAULT 0
    ) STRICT;
    CREATE INDEX takes_by_day ON takes (player, day);
    CREATE INDEX takes_by_exercise ON takes (player, exercise, id);
    CREATE INDEX takes_by_document ON takes (document);
    CREATE TABLE asks (
        take INTEGER NOT NULL REFERENCES takes(id) ON DELETE CASCADE,
        number INTEGER NOT NULL,
        fact TEXT NOT NULL,
        asked TEXT NOT NULL,
        answer TEXT NOT NULL,
        outcome TEXT NOT NULL,
        came TEXT,
        after_ticks INTEGER,
        PRIMARY KEY (take, number)
    ) STRICT, WITHOUT ROWID;
    CREATE INDEX asks_by_fact ON asks (fact, take);
    CREATE TABLE days (
        player INTEGER NOT NULL REFERENCES players(id) ON DELETE CASCADE,
        day INTEGER NOT NULL,
        takes INTEGER NOT NULL,
        seconds INTEGER NOT NULL,
        PRIMARY KEY (player, day)
    ) STRICT, WITHOUT ROWID;
    CREATE TABLE settings (
        player INTEGER NOT NULL REFERENCES players(id) ON DELETE CASCADE,
        name TEXT NOT NULL,
        value TEXT NOT NULL,
        PRIMARY KEY (player, name)
    ) STRICT, WITHOUT ROWID;
    ",
    // What is remembered of each fact, so that what is due needs no walk through all takes.
    "
    CREATE TABLE facts (
        player INTEGER NOT NULL REFERENCES players(id) ON DELETE CASCADE,
        fact TEXT NOT NULL,
        stability REAL NOT NULL,
        difficulty REAL NOT NULL,
        day INTEGER NOT NULL,
        reviews INTEGER NOT NULL,
        failed INTEGER NOT NULL,
        PRIMARY KEY (player, fact)
    ) STRICT, WITHOUT ROWID;
    ",
    // Sums of each exercise and day, and the takes with a word or a pace by themselves: a long log is shown as fast as a
    // short one.
    "
    CREATE TABLE sums (
        player INTEGER NOT NULL REFERENCES players(id) ON DELETE CASCADE,
        exercise TEXT NOT NULL,
        day INTEGER NOT NULL,
        takes INTEGER NOT NULL,
        seconds INTEGER NOT NULL,
        asked INTEGER NOT NULL,
        right INTEGER NOT NULL,
        PRIMARY KEY (player, exercise, day)
    ) STRICT, WITHOUT ROWID;
    INSERT INTO sums SELECT player, exercise, day, count(*), sum(seconds), sum(asked), sum(right) FROM takes
        WHERE NOT withdrawn GROUP BY player, exercise, day;
    CREATE INDEX takes_with_word ON takes (player, exercise, id) WHERE word IS NOT NULL AND tempo_milli IS NOT NULL;
    CREATE INDEX takes_with_pace ON takes (player, exercise, id) WHERE can_after IS NOT NULL AND doubt_after IS NOT NULL;
    DROP INDEX takes_by_exercise;
    ",
];

/// The number of the newest layout.
pub(super) const NEWEST: i64 = STEPS.len() as i64;

/// The number of the layout of a file, 0 of an empty one.
pub(super) fn layout(db: &Connection) -> Result<i64> {
    db.pragma_query_value(None, "user_version", |row| row.get(0))
}

/// Whether the file has tables of another program.
pub(super) fn is_foreign(db: &Connection) -> Result<bool> {
    let id: i64 = db.pragma_query_value(None, "application_id", |row| row.get(0))?;
    let tables: i64 = db.query_row("SELECT count(*) FROM sqlite_master", [], |row| row.get(0))?;
    Ok(tables > 0 && id != APPLICATION)
}

/// Makes the layout the newest, step by step, in one transaction. `facts` is called after the step that makes the table of
/// facts, to fill it.
pub(super) fn migrate(
    db: &mut Connection,
    fill_facts: impl FnOnce(&Connection) -> Result<()>,
) -> Result<()> {
    let migration = db.transaction_with_behavior(rusqlite::TransactionBehavior::Immediate)?;
    // Another program may have done it meanwhile.
    let from = layout(&migration)?;
    let done = usize::try_from(from).unwrap_or(STEPS.len());
    let steps = STEPS.get(done..).unwrap_or_default();
    for step in steps {
        migration.execute_batch(step)?;
    }
    if (1..2).contains(&from) {
        fill_facts(&migration)?;
    }
    if !steps.is_empty() {
        migration.pragma_update(None, "application_id", APPLICATION)?;
        migration.pragma_update(None, "user_version", NEWEST)?;
    }
    migration.commit()
}

/// An older layout, for tests of what comes after it.
#[cfg(test)]
pub(super) fn make_older(db: &Connection, layout: i64) -> Result<()> {
    let steps = STEPS.iter().zip(0..layout);
    for (step, _) in steps {
        db.execute_batch(step)?;
    }
    db.pragma_update(None, "application_id", APPLICATION)?;
    db.pragma_update(None, "user_version", layout)
}
