//! Writing a groove back as the table it is read from.

use std::collections::BTreeMap;

use toml::{Table, Value};

use super::KitVoice;
use super::groove::{Groove, GrooveBass, Meters, Rows};
use super::plain::PLAIN;
use super::row::KitRow;

impl Groove {
    /// The table that reads back to the same groove, all of it.
    pub fn to_table(&self) -> Table {
        let parts = self.parts();
        let mut table = Table::new();
        let mut put = |key: &str, text: Option<String>| {
            if let Some(text) = text {
                table.insert(key.to_owned(), Value::String(text));
            }
        };
        put(
            "about",
            Some(parts.about.clone()).filter(|about| !about.is_empty()),
        );
        let all = parts.meters == Meters::All;
        put("meters", Some(parts.meters.to_string()).filter(|_| !all));
        // What is made for every meter has no rows to write.
        put("like", all.then(|| PLAIN.to_owned()));
        put("feel", Some(parts.feel.to_string()));
        put(
            "tempo",
            parts.tempo.map(|(low, high)| format!("{low} to {high}")),
        );
        put("kick_and_bass", Some(parts.kick_and_bass.name().to_owned()));
        put("bass", bass(&parts.rows.bass));
        put("strum", parts.strum.as_ref().map(ToString::to_string));
        put(
            "lifted_strum",
            parts.lifted_strum.as_ref().map(ToString::to_string),
        );
        put("pads", parts.pads.as_ref().map(ToString::to_string));
        let group = |rows: &Rows| {
            let mut group = kit(&rows.kit);
            if let Some(bass) = bass(&rows.bass) {
                group.insert("bass".to_owned(), bass.into());
            }
            group
        };
        let touch = parts.touch.iter().map(|(voice, [accent, stroke, ghost])| {
            let text = format!("{accent} {stroke} {ghost}");
            (voice.name().to_owned(), Value::String(text))
        });
        for (key, inner) in [
            ("kit", kit(&parts.rows.kit)),
            ("lift", kit(&parts.lift)),
            ("middle", group(&parts.middle)),
            ("last", group(&parts.last)),
            ("touch", touch.collect()),
        ] {
            if !inner.is_empty() {
                table.insert(key.to_owned(), Value::Table(inner));
            }
        }
        table
    }
}

fn bass(bass: &GrooveBass) -> Option<String> {
    match bass {
        GrooveBass::StrongBeats => None,
        GrooveBass::Walk => Some("walk".to_owned()),
        GrooveBass::Row(row) => Some(row.to_string()),
    }
}

fn kit(rows: &BTreeMap<KitVoice, KitRow>) -> Table {
    let rows = rows.iter();
    rows.map(|(voice, row)| (voice.name().to_owned(), Value::String(row.to_string())))
        .collect()
}
