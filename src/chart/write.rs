//! Writing a piece back as a document.

use std::collections::BTreeMap;

use serde::Serialize;

use super::{Ask, Ending, Part, Parts, Piece, Times, Timing, Variation};
use crate::groove::Groove;
use crate::neck::Tuning;
use crate::theory::KeyOrder;
use crate::time::PlanRepeat;

#[derive(Serialize)]
struct Document<'a> {
    title: &'a str,
    #[serde(skip_serializing_if = "Option::is_none")]
    key: Option<String>,
    meter: String,
    #[serde(skip_serializing_if = "Option::is_none")]
    feel: Option<String>,
    #[serde(skip_serializing_if = "Option::is_none")]
    groove: Option<String>,
    #[serde(skip_serializing_if = "Option::is_none")]
    variation: Option<&'static str>,
    #[serde(skip_serializing_if = "Option::is_none")]
    timing: Option<&'static str>,
    tempo: String,
    #[serde(skip_serializing_if = "Option::is_none")]
    plan: Option<&'static str>,
    #[serde(skip_serializing_if = "Option::is_none")]
    set: Option<String>,
    #[serde(skip_serializing_if = "Option::is_none")]
    home: Option<String>,
    #[serde(skip_serializing_if = "Option::is_none")]
    fit: Option<&'static str>,
    form: String,
    times: toml::Value,
    #[serde(skip_serializing_if = "Option::is_none")]
    keys: Option<String>,
    seed: u64,
    #[serde(skip_serializing_if = "Option::is_none")]
    transpose: Option<toml::Value>,
    #[serde(skip_serializing_if = "is_zero")]
    capo: i32,
    #[serde(skip_serializing_if = "Option::is_none")]
    tuning: Option<String>,
    #[serde(skip_serializing_if = "Option::is_none")]
    ending: Option<&'static str>,
    #[serde(skip_serializing_if = "Option::is_none")]
    ritardando: Option<String>,
    #[serde(rename = "groove", skip_serializing_if = "Option::is_none")]
    own_groove: Option<toml::Table>,
    sections: toml::Table,
    #[serde(skip_serializing_if = "BTreeMap::is_empty")]
    parts: BTreeMap<&'static str, toml::Table>,
    #[serde(skip_serializing_if = "Vec::is_empty")]
    asks: Vec<AskTable<'a>>,
}

#[derive(Serialize)]
struct AskTable<'a> {
    bar: u32,
    #[serde(skip_serializing_if = "is_one")]
    beat: u32,
    ask: &'a str,
    answer: String,
    beats: u32,
    #[serde(skip_serializing_if = "Option::is_none")]
    note: Option<String>,
}

#[allow(clippy::trivially_copy_pass_by_ref)] // the signature serde asks for
fn is_one(v: &u32) -> bool {
    *v == 1
}

#[allow(clippy::trivially_copy_pass_by_ref)] // the signature serde asks for
fn is_zero(v: &i32) -> bool {
    *v == 0
}

impl Piece {
    /// The piece as a document that reads back to the same piece.
    ///
    /// Parts are written where they differ from the default. A piece moved to another key is written in its own key
    /// with the key to move it to: semitones alone do not tell Eb minor from D# minor.
    pub fn to_document(&self) -> String {
        let transpose = match (&self.key, &self.target) {
            (Some(_), Some(target)) => Some(toml::Value::String(target.to_string())),
            _ if self.transpose == 0 => None,
            _ => Some(toml::Value::Integer(i64::from(self.transpose))),
        };
        let document = Document {
            title: &self.title,
            key: self.key.map(|key| key.to_string()),
            meter: self.meter.to_string(),
            feel: self.feel.map(|feel| feel.to_string()),
            groove: self
                .groove
                .as_ref()
                .map(|g| g.parts().name.clone())
                .filter(|name| !name.is_empty()),
            timing: (self.timing == Timing::Loose).then_some("loose"),
            variation: (self.variation != Variation::Full).then(|| self.variation.name()),
            tempo: self.tempo.to_string(),
            plan: (self.plan == PlanRepeat::EachPass).then_some("each pass"),
            set: self.set.as_ref().map(|set| set.name()),
            home: self.home.as_ref().map(|home| home.name()),
            fit: self.fit.map(super::FitRule::name),
            form: self.form.join(" "),
            times: match self.times {
                Times::Count(n) => toml::Value::Integer(i64::from(n)),
                Times::Endless => toml::Value::String("endless".to_owned()),
            },
            keys: self.keys.as_ref().map(KeyOrder::to_string),
            seed: self.seed,
            transpose,
            capo: i32::from(self.capo),
            tuning: self.tuning.as_ref().map(tuning_text),
            ending: (self.ending == Ending::None).then_some("none"),
            ritardando: self.ritardando.map(|slowing| slowing.to_string()),
            own_groove: self
                .groove
                .as_ref()
                .filter(|g| g.parts().name.is_empty())
                .map(Groove::to_table),
            sections: self
                .sections
                .iter()
                .map(|(name, text, _)| (name.clone(), toml::Value::String(text.clone())))
                .collect(),
            parts: parts(&self.parts),
            asks: self.asks.iter().map(ask).collect(),
        };
        toml::to_string(&document).unwrap_or_default()
    }
}

fn ask(ask: &Ask) -> AskTable<'_> {
    AskTable {
        bar: ask.bar,
        beat: ask.beat,
        ask: &ask.text,
        answer: ask.answer.to_string(),
        beats: ask.beats,
        note: ask.note.map(|note| note.to_string()),
    }
}

/// The name of a tuning where it reads back to the same notes, else its notes.
fn tuning_text(tuning: &Tuning) -> String {
    let named = tuning.name();
    named
        .filter(|name| Tuning::read(name).as_ref() == Ok(tuning))
        .map_or_else(|| tuning.to_string(), str::to_owned)
}

fn parts(parts: &Parts) -> BTreeMap<&'static str, toml::Table> {
    let usual = Parts::default();
    let mut tables = BTreeMap::new();
    for part in Part::ALL {
        let mut table = toml::Table::new();
        for setting in part.settings() {
            let now = setting.value(part, parts);
            if now != setting.value(part, &usual)
                && let Some(now) = now
            {
                table.insert(setting.key.to_owned(), now);
            }
        }
        // A table by itself would turn a part on.
        if !table.is_empty() && !parts.common(part).on {
            table.insert("on".to_owned(), false.into());
        }
        if !table.is_empty() {
            tables.insert(part.name(), table);
        }
    }
    tables
}
