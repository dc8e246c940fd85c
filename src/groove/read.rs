//! Reads a groove that is written out: a table of texts.

use std::collections::BTreeMap;
use std::ops::Range;

use toml::Spanned;
use toml::de::{DeTable, DeValue};

use super::error::{GrooveError, GrooveFault};
use super::groove::{Groove, GrooveBass, GrooveParts, KickAndBass, Meters, Rows};
use super::row::{BassRow, KitRow};
use super::{KitVoice, Pattern};
use crate::theory::nearest;
use crate::time::{Feel, Meter};

/// The keys of a groove's own table.
const KEYS: [&str; 13] = [
    "about",
    "meters",
    "feel",
    "tempo",
    "kick_and_bass",
    "bass",
    "strum",
    "lifted_strum",
    "pads",
    "kit",
    "lift",
    "middle",
    "last",
];

/// The keys that stand beside them.
const MORE_KEYS: [&str; 2] = ["touch", "like"];

/// Most meters of a groove: more than there are in use.
const MOST_METERS: usize = 16;

/// A table being read, with its name.
struct Table<'t, 'd> {
    table: &'t DeTable<'d>,
    path: &'static str,
}

/// Collects what is wrong on the way.
#[derive(Default)]
struct Reader {
    faults: Vec<GrooveFault>,
}

/// Reads a groove for `meter`, unless it names meters of its own. `ready` finds the groove it says it is like.
///
/// # Errors
/// Every fault found, with spans of the text of `table`; `whole` is the span of what speaks for all of it.
pub fn read_groove(
    table: &DeTable<'_>,
    whole: Range<usize>,
    meter: Meter,
    ready: &dyn Fn(&str) -> Result<Groove, GrooveError>,
) -> Result<Groove, Vec<GrooveFault>> {
    let mut reader = Reader::default();
    let table = Table {
        table,
        path: "groove",
    };
    let like = reader.text(&table, "like").and_then(|(name, span)| {
        let found = ready(name);
        reader.keep(found, span)
    });
    let mut parts = like.map_or_else(
        || GrooveParts::empty(meter),
        |like| GrooveParts {
            name: String::new(),
            ..like.parts().clone()
        },
    );
    reader.facts(&table, &mut parts);
    reader.rhythms(&table, &mut parts);
    reader.known_of_groove(&table);
    if !reader.faults.is_empty() {
        return Err(reader.faults);
    }
    let span = whole;
    Groove::new(parts).map_err(|error| vec![GrooveFault { error, span }])
}

impl Reader {
    fn wrong(&mut self, error: impl Into<GrooveError>, span: Range<usize>) {
        let error = error.into();
        self.faults.push(GrooveFault { error, span });
    }

    fn keep<T, E: Into<GrooveError>>(
        &mut self,
        found: Result<T, E>,
        span: Range<usize>,
    ) -> Option<T> {
        found.map_err(|error| self.wrong(error, span)).ok()
    }

    fn text<'t>(&mut self, table: &Table<'t, '_>, key: &str) -> Option<(&'t str, Range<usize>)> {
        let value = table.table.get(key)?;
        let text = value.get_ref().as_str();
        if text.is_none() {
            self.of_type(table, key, value, "a text");
        }
        text.map(|text| (text, value.span()))
    }

    fn table<'t, 'd>(
        &mut self,
        table: &Table<'t, 'd>,
        key: &str,
        path: &'static str,
    ) -> Option<Table<'t, 'd>> {
        let value = table.table.get(key)?;
        let found = value.get_ref().as_table();
        if found.is_none() {
            self.of_type(table, key, value, "a table");
        }
        found.map(|table| Table { table, path })
    }

    fn of_type(
        &mut self,
        table: &Table<'_, '_>,
        key: &str,
        value: &Spanned<DeValue<'_>>,
        expected: &'static str,
    ) {
        let path = format!("{}.{key}", table.path);
        self.wrong(GrooveError::Type { path, expected }, value.span());
    }

    /// Reports the keys of a groove's own table that it does not have. What is near to a voice of the kit was meant as one.
    fn known_of_groove(&mut self, table: &Table<'_, '_>) {
        let known = || KEYS.iter().chain(&MORE_KEYS).copied();
        let voices: Vec<String> = KitVoice::ALL
            .iter()
            .map(|voice| format!("kit.{}", voice.name()))
            .collect();
        for key in table.table.keys() {
            let word: &str = key.get_ref();
            if known().any(|known| known == word) {
                continue;
            }
            let names = KitVoice::ALL.iter().map(|voice| voice.name());
            let own = nearest(word, names.chain(known()));
            let voice = KitVoice::ALL.iter().position(|v| Some(v.name()) == own);
            let meant = match (voice, own) {
                (Some(voice), _) => vec![voices[voice].clone()],
                (None, Some(near)) => vec![near.to_owned()],
                (None, None) => known().map(str::to_owned).collect(),
            };
            let path = format!("{}.{word}", table.path);
            self.wrong(GrooveError::Key { path, meant }, key.span());
        }
    }

    /// Reports the keys that are none of `known`.
    fn known<'k>(&mut self, table: &Table<'_, '_>, known: impl Iterator<Item = &'k str> + Clone) {
        for key in table.table.keys() {
            let word: &str = key.get_ref();
            if known.clone().any(|known| known == word) {
                continue;
            }
            let meant = match nearest(word, known.clone()) {
                Some(near) => vec![near.to_owned()],
                None => known.clone().map(str::to_owned).collect(),
            };
            let path = format!("{}.{word}", table.path);
            self.wrong(GrooveError::Key { path, meant }, key.span());
        }
    }

    /// Everything that is said in words.
    fn facts(&mut self, table: &Table<'_, '_>, parts: &mut GrooveParts) {
        if let Some((about, _)) = self.text(table, "about") {
            about.clone_into(&mut parts.about);
        }
        if let Some((text, span)) = self.text(table, "meters") {
            let count = text.split(',').count();
            let read = || text.split(',').map(Meter::read).collect::<Result<_, _>>();
            if text.trim() == "grouped" {
                parts.meters = Meters::Grouped;
            } else if count > MOST_METERS {
                let most = MOST_METERS;
                self.wrong(GrooveError::Meters { count, most }, span);
            } else if let Some(meters) = self.keep(read(), span) {
                parts.meters = Meters::Of(meters);
            }
        }
        if let Some((text, span)) = self.text(table, "feel")
            && let Some(feel) = self.keep(Feel::read(text), span)
        {
            parts.feel = feel;
        }
        if let Some((text, span)) = self.text(table, "tempo") {
            let tempo = tempi(text).ok_or_else(|| GrooveError::Tempo(text.to_owned()));
            if let Some(tempo) = self.keep(tempo, span) {
                parts.tempo = Some(tempo);
            }
        }
        if let Some((text, span)) = self.text(table, "kick_and_bass") {
            let named = KickAndBass::NAMES.iter().find(|(name, _)| *name == text);
            let choices = || KickAndBass::NAMES.iter().map(|n| n.0.to_owned()).collect();
            let named = named.map(|n| n.1).ok_or_else(|| GrooveError::Choice {
                path: "groove.kick_and_bass",
                found: text.to_owned(),
                choices: choices(),
            });
            if let Some(named) = self.keep(named, span) {
                parts.kick_and_bass = named;
            }
        }
    }

    /// Everything that is a row.
    fn rhythms(&mut self, table: &Table<'_, '_>, parts: &mut GrooveParts) {
        for (key, pattern) in [
            ("strum", &mut parts.strum),
            ("lifted_strum", &mut parts.lifted_strum),
            ("pads", &mut parts.pads),
        ] {
            let Some((text, span)) = self.text(table, key) else {
                continue;
            };
            let read = Pattern::read(text).ok_or_else(|| GrooveError::Strokes(text.to_owned()));
            if let Some(read) = self.keep(read, span) {
                *pattern = Some(read);
            }
        }
        self.bass(table, &mut parts.rows);
        let voices = || KitVoice::ALL.iter().map(|voice| voice.name());
        if let Some(kit) = self.table(table, "kit", "groove.kit") {
            self.kit(&kit, &mut parts.rows.kit);
            self.known(&kit, voices());
        }
        if let Some(lift) = self.table(table, "lift", "groove.lift") {
            self.kit(&lift, &mut parts.lift);
            self.known(&lift, voices());
        }
        for (key, path, rows) in [
            ("middle", "groove.middle", &mut parts.middle),
            ("last", "groove.last", &mut parts.last),
        ] {
            if let Some(group) = self.table(table, key, path) {
                self.kit(&group, &mut rows.kit);
                self.bass(&group, rows);
                self.known(&group, voices().chain(["bass"]));
            }
        }
        if let Some(touch) = self.table(table, "touch", "groove.touch") {
            for voice in KitVoice::ALL {
                let Some((text, span)) = self.text(&touch, voice.name()) else {
                    continue;
                };
                let read = touches(text).ok_or_else(|| GrooveError::Touch(text.to_owned()));
                if let Some(three) = self.keep(read, span) {
                    parts.touch.insert(voice, three);
                }
            }
            self.known(&touch, voices());
        }
    }

    fn kit(&mut self, table: &Table<'_, '_>, rows: &mut BTreeMap<KitVoice, KitRow>) {
        for voice in KitVoice::ALL {
            let Some((text, span)) = self.text(table, voice.name()) else {
                continue;
            };
            let of_bass = false;
            let read = KitRow::read(text).map_err(|error| GrooveError::Row { error, of_bass });
            if let Some(row) = self.keep(read, span) {
                rows.insert(voice, row);
            }
        }
    }

    fn bass(&mut self, table: &Table<'_, '_>, rows: &mut Rows) {
        let Some((text, span)) = self.text(table, "bass") else {
            return;
        };
        if text.trim() == "walk" {
            rows.bass = GrooveBass::Walk;
            return;
        }
        let of_bass = true;
        let read = BassRow::read(text).map_err(|error| GrooveError::Row { error, of_bass });
        if let Some(row) = self.keep(read, span) {
            rows.bass = GrooveBass::Row(row);
        }
    }
}

/// Reads `70 to 140`.
fn tempi(text: &str) -> Option<(u32, u32)> {
    let (low, high) = text.split_once(" to ")?;
    let number = |t: &str| {
        t.trim()
            .parse::<u32>()
            .ok()
            .filter(|n| (1..=960).contains(n))
    };
    let (low, high) = (number(low)?, number(high)?);
    (low <= high).then_some((low, high))
}

/// Reads `92 70 50`.
fn touches(text: &str) -> Option<[u8; 3]> {
    let numbers: Option<Vec<u8>> = text
        .split_whitespace()
        .map(|t| t.parse::<u8>().ok().filter(|v| (1..=127).contains(v)))
        .collect();
    numbers?.try_into().ok()
}
