//! Writing a piece back as a document.

use std::collections::BTreeMap;

use serde::Serialize;

use super::parts::{BassLine, ClickBeats, PadStrike, PartCommon, Run};
use super::{Ending, Parts, Piece, Times};
use crate::time::{Feel, PlanRepeat};

#[derive(Serialize)]
struct Document<'a> {
    title: &'a str,
    #[serde(skip_serializing_if = "Option::is_none")]
    key: Option<String>,
    meter: String,
    #[serde(skip_serializing_if = "Option::is_none")]
    feel: Option<String>,
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
    keys: Option<&'a str>,
    seed: u64,
    #[serde(skip_serializing_if = "Option::is_none")]
    transpose: Option<toml::Value>,
    #[serde(skip_serializing_if = "is_zero")]
    capo: i32,
    #[serde(skip_serializing_if = "Option::is_none")]
    tuning: Option<&'a str>,
    #[serde(skip_serializing_if = "Option::is_none")]
    ending: Option<&'static str>,
    sections: toml::Table,
    #[serde(skip_serializing_if = "BTreeMap::is_empty")]
    parts: BTreeMap<&'static str, toml::Table>,
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
            feel: (self.feel != Feel::Straight).then(|| self.feel.to_string()),
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
            keys: self.keys.as_deref(),
            seed: self.seed,
            transpose,
            capo: i32::from(self.capo),
            tuning: self.tuning.as_deref(),
            ending: (self.ending == Ending::None).then_some("none"),
            sections: self
                .sections
                .iter()
                .map(|(name, text, _)| (name.clone(), toml::Value::String(text.clone())))
                .collect(),
            parts: parts(&self.parts),
        };
        toml::to_string(&document).unwrap_or_default()
    }
}

fn parts(parts: &Parts) -> BTreeMap<&'static str, toml::Table> {
    let default = Parts::default();
    let mut tables = BTreeMap::new();
    for name in Parts::NAMES {
        let (Some(now), Some(usual)) = (parts.common(name), default.common(name)) else {
            continue;
        };
        let mut table = common(now, usual);
        if name == "click" {
            click(parts, &default, &mut table);
        }
        if name == "pads" {
            pads(parts, &default, &mut table);
        }
        if name == "bass" && parts.bass.line == BassLine::RootFifth {
            text(&mut table, "line", "root and fifth");
        }
        if name == "bass" && parts.bass.line == BassLine::Walking {
            text(&mut table, "line", "walking");
        }
        if name == "strum" {
            strum(parts, &default, &mut table);
        }
        if name == "guide" {
            guide(parts, &default, &mut table);
        }
        if name == "drone" && !parts.drone.fifth {
            text(&mut table, "notes", "tonic");
        }
        // A table by itself would turn a part on.
        if !table.is_empty() && !now.on {
            table.insert("on".to_owned(), false.into());
        }
        if !table.is_empty() {
            tables.insert(name, table);
        }
    }
    tables
}

fn text(table: &mut toml::Table, key: &str, value: impl Into<String>) {
    table.insert(key.to_owned(), toml::Value::String(value.into()));
}

fn common(now: &PartCommon, usual: &PartCommon) -> toml::Table {
    let mut table = toml::Table::new();
    let mut int = |key: &str, value: i64| table.insert(key.to_owned(), value.into());
    if now.level != usual.level {
        int("level", i64::from(now.level));
    }
    if now.pan != usual.pan {
        int("pan", i64::from(now.pan));
    }
    if let Some(program) = now.program.filter(|p| Some(*p) != usual.program) {
        int("program", i64::from(program) + 1);
    }
    if now.channel != usual.channel {
        int("channel", i64::from(now.channel.number()));
    }
    if now.on != usual.on {
        table.insert("on".to_owned(), now.on.into());
    }
    table
}

fn click(parts: &Parts, default: &Parts, table: &mut toml::Table) {
    let (now, usual) = (&parts.click, &default.click);
    if now.count_in != usual.count_in {
        table.insert("count_in".to_owned(), i64::from(now.count_in).into());
    }
    if now.accents != usual.accents {
        table.insert("accents".to_owned(), now.accents.into());
    }
    if now.subdivide != usual.subdivide {
        table.insert("subdivide".to_owned(), i64::from(now.subdivide).into());
    }
    if let ClickBeats::Only(beats) = &now.beats {
        let beats = beats
            .iter()
            .map(|b| toml::Value::Integer(i64::from(*b)))
            .collect();
        table.insert("beats".to_owned(), toml::Value::Array(beats));
    }
    if let Some(silent) = &now.silent {
        text(table, "silent", silent.to_string());
    }
}

fn pads(parts: &Parts, default: &Parts, table: &mut toml::Table) {
    let (now, usual) = (&parts.pads, &default.pads);
    if now.voices != usual.voices {
        table.insert("voices".to_owned(), i64::from(now.voices).into());
    }
    let note = |key: u8| crate::theory::Pitch::of_key(i32::from(key)).to_string();
    if now.low != usual.low {
        text(table, "low", note(now.low.get()));
    }
    if now.high != usual.high {
        text(table, "high", note(now.high.get()));
    }
    if now.strike == PadStrike::Change {
        text(table, "strike", "change");
    }
    if let Some(rhythm) = &now.rhythm {
        text(table, "rhythm", rhythm.to_string());
    }
}

fn strum(parts: &Parts, default: &Parts, table: &mut toml::Table) {
    let (now, usual) = (&parts.strum, &default.strum);
    if let Some(pattern) = &now.pattern {
        text(table, "strokes", pattern.to_string());
    }
    if now.spread_ms != usual.spread_ms {
        table.insert("spread_ms".to_owned(), i64::from(now.spread_ms).into());
    }
    if now.strings {
        table.insert("one_string".to_owned(), true.into());
    }
}

fn guide(parts: &Parts, default: &Parts, table: &mut toml::Table) {
    let (now, usual) = (&parts.guide, &default.guide);
    if now.string != usual.string {
        table.insert("string".to_owned(), i64::from(now.string).into());
    }
    if now.run != usual.run {
        let name = Run::NAMES.iter().find(|(_, run)| *run == now.run);
        text(table, "run", name.map_or("both", |(name, _)| name));
    }
    if let Some(notes) = now.notes {
        table.insert("notes".to_owned(), i64::from(notes).into());
    }
}
