//! `[parts]`: what each part plays.

use std::collections::BTreeMap;
use std::ops::Range;

use toml::de::{DeTable, DeValue};

use super::fields::{Fields, Reader, kind};
use crate::chart::parts::Kind;
use crate::chart::{ClickBeats, Part, Parts, Pattern, Piece, Setting, Silence};
use crate::diagnostic::or;
use crate::event::{Channel, KeyNumber};
use crate::theory::Pitch;

impl Reader<'_, '_> {
    pub(super) fn parts(&mut self, table: &DeTable<'_>, piece: &mut Piece) {
        let mut fields = Fields::new(table, "parts");
        for part in Part::ALL {
            let Some(table) = self.table(&mut fields, part.name()) else {
                continue;
            };
            // A part that is named plays, unless it says otherwise.
            piece.parts.common_mut(part).on = true;
            let mut of_part = Fields::new(table, part.path());
            for setting in part.settings() {
                if let Kind::Rhythms(lens) = setting.kind {
                    let names: Vec<&str> = piece.sections.iter().map(|s| &*s.0).collect();
                    if let Some(rhythms) = self.rhythms(&mut of_part, setting.key, &names) {
                        *lens(&mut piece.parts, part) = rhythms;
                    }
                    continue;
                }
                self.setting(&mut of_part, setting, part, &mut piece.parts);
            }
            match part {
                Part::Pads => self.register(table, &piece.parts),
                Part::Click | Part::Bass | Part::Kit | Part::Drone | Part::Strum | Part::Guide => {}
            }
            self.finish(&of_part);
        }
        self.finish(&fields);
        self.channels(&fields, &piece.parts);
    }

    fn setting(
        &mut self,
        fields: &mut Fields<'_, '_>,
        setting: &Setting,
        part: Part,
        parts: &mut Parts,
    ) {
        let key = setting.key;
        match setting.kind {
            Kind::YesNo(lens) => {
                if let Some(yes) = self.boolean(fields, key) {
                    *lens(parts, part) = yes;
                }
            }
            Kind::Whole {
                least, most, set, ..
            } => {
                if let Some(number) = self.integer(fields, key, least, most) {
                    set(parts, part, number);
                }
            }
            Kind::Choice { words, set, .. } => {
                let words: Vec<(&str, usize)> = words.iter().copied().zip(0..).collect();
                if let Some(at) = self.choice(fields, key, &words) {
                    set(parts, at);
                }
            }
            Kind::Note { usual, lens } => {
                if let Some(note) = self.note(fields, key, usual) {
                    *lens(parts, part) = note;
                }
            }
            Kind::Rhythm(lens) => {
                if let Some(pattern) = self.pattern(fields, key) {
                    *lens(parts, part) = Some(pattern);
                }
            }
            // Needs the sections: read by the caller.
            Kind::Rhythms(_) => {}
            Kind::Beats(lens) => {
                if let Some(beats) = self.beats(fields, key) {
                    *lens(parts, part) = beats;
                }
            }
            Kind::Silent(lens) => {
                if let Some(silent) = self.silent(fields, key) {
                    *lens(parts, part) = silent;
                }
            }
        }
    }

    /// Two pitched parts on one channel would end each other's notes.
    fn channels(&mut self, parts: &Fields<'_, '_>, settings: &Parts) {
        let pitched: Vec<(&str, Channel)> = Part::ALL
            .into_iter()
            .filter(|part| part.is_pitched() && settings.common(*part).on)
            .map(|part| (part.name(), settings.common(part).channel))
            .collect();
        for (i, (name, channel)) in pitched.iter().enumerate() {
            let key = |name: &str| parts.table.get_key_value(name).map(|(key, _)| key.span());
            let span = |name: &str| key(name).unwrap_or(0..0);
            if *channel == Channel::PERCUSSION {
                let message = format!("channel 10 is for percussion, and {name} has pitches");
                self.wrong(
                    "part-channel",
                    span(name),
                    message,
                    "choose another channel, 1 to 16",
                );
            }
            if let Some((other, _)) = pitched[..i].iter().find(|(_, c)| c == channel) {
                let message = format!(
                    "{other} and {name} are both on channel {}",
                    channel.number()
                );
                // One of the two was given its channel; the other may have the usual one.
                self.wrong(
                    "part-channel",
                    key(name).unwrap_or_else(|| span(other)),
                    message,
                    "give each pitched part its own channel",
                );
            }
        }
    }

    fn pattern(&mut self, fields: &mut Fields<'_, '_>, key: &'static str) -> Option<Pattern> {
        let text = self.string(fields, key, "\"D . D U . U D U\"")?;
        let pattern = Pattern::read(text.value);
        if pattern.is_none() {
            self.no_rhythm(text.value, text.token);
        }
        pattern
    }

    fn no_rhythm(&mut self, found: &str, span: Range<usize>) {
        let message = format!(
            "a rhythm has 1 to 32 places D U m x s . - o with at least one stroke, found \"{found}\""
        );
        let help = "write `\"D . D U . U D U\"`";
        self.wrong("part-rhythm", span, message, help);
    }

    /// Rhythms by the names of sections.
    fn rhythms(
        &mut self,
        fields: &mut Fields<'_, '_>,
        key: &'static str,
        sections: &[&str],
    ) -> Option<BTreeMap<String, Pattern>> {
        let value = fields.get(key)?;
        let Some(table) = value.get_ref().as_table() else {
            let name = sections.first().unwrap_or(&"A");
            let meant = match value.get_ref() {
                DeValue::String(text) if Pattern::read(text).is_some() => text.as_ref(),
                _ => "D . D U . U D U",
            };
            let example = format!("{{ {name} = \"{meant}\" }}");
            self.wrong_type(fields, key, value, "a table", &example);
            return None;
        };
        let mut rhythms = BTreeMap::new();
        for (name, value) in table {
            let label: &str = name.get_ref();
            if !sections.contains(&label) {
                let message = format!("`{}` names a section, found `{label}`", fields.path(key));
                let known: Vec<String> = sections.iter().map(|s| format!("`{s}`")).collect();
                let help = format!("write {}", or(&known));
                self.wrong("part-section", name.span(), message, help);
                continue;
            }
            let text = value.get_ref().as_str();
            match text.and_then(Pattern::read) {
                Some(rhythm) => {
                    rhythms.insert(label.to_owned(), rhythm);
                }
                None => self.no_rhythm(text.unwrap_or(kind(value.get_ref())), value.span()),
            }
        }
        Some(rhythms)
    }

    fn beats(&mut self, fields: &mut Fields<'_, '_>, key: &'static str) -> Option<ClickBeats> {
        let value = fields.get(key)?;
        let list = match value.get_ref() {
            DeValue::String(s) if s == "all" => return Some(ClickBeats::All),
            DeValue::Array(list) => list,
            other => {
                let expected = "a list of beats or \"all\"";
                let meant = listed(other).unwrap_or_else(|| "[2, 4]".to_owned());
                self.wrong_type(fields, key, value, expected, &meant);
                return None;
            }
        };
        let beat = |value: &DeValue<'_>| {
            let beat = value.as_integer()?.as_str().parse().ok()?;
            (1..=32).contains(&beat).then_some(beat)
        };
        let beats: Option<Vec<u32>> = list.iter().map(|v| beat(v.get_ref())).collect();
        match beats {
            Some(beats) if !beats.is_empty() => Some(ClickBeats::Only(beats)),
            _ => {
                let message = format!("`{}` lists beats from 1 to 32", fields.path(key));
                let help = "write `[2, 4]` or `\"all\"`";
                self.wrong("click-beats", value.span(), message, help);
                None
            }
        }
    }

    /// The outer `None` means that it cannot be read.
    #[allow(clippy::option_option)]
    fn silent(
        &mut self,
        fields: &mut Fields<'_, '_>,
        key: &'static str,
    ) -> Option<Option<Silence>> {
        let text = self.string(fields, key, "\"3 on 1 off\"")?;
        let silence = Silence::read(text.value);
        if silence.is_none() {
            let message = format!(
                "silent bars are written like \"3 on 1 off\" or \"1 in 4\", found \"{}\"",
                text.value
            );
            let help = "write how many bars click and how many are silent, each 1 to 64, a chance of 1 in 2 to 64, or \"none\"";
            self.wrong("click-silent", text.token, message, help);
        }
        silence
    }

    fn note(
        &mut self,
        fields: &mut Fields<'_, '_>,
        key: &'static str,
        usual: &str,
    ) -> Option<KeyNumber> {
        let text = self.string(fields, key, &format!("\"{usual}\""))?;
        let pitch = Pitch::read(text.value).ok();
        let note = pitch.and_then(|pitch| KeyNumber::new(pitch.midi()).ok());
        if note.is_none() {
            let message = format!(
                "`{}` is a note with its octave, found \"{}\"",
                fields.path(key),
                text.value
            );
            let help = format!("write `\"{usual}\"`, for example; C4 is middle C");
            self.wrong("pads-register", text.token, message, help);
        }
        note
    }

    /// The pads need room to lead their voices.
    fn register(&mut self, table: &DeTable<'_>, parts: &Parts) {
        let written = ["high", "low"].iter().find_map(|key| table.get(*key));
        if let Some(written) = written
            && parts.pads.high.get() < parts.pads.low.get().saturating_add(16)
        {
            self.wrong(
                "pads-register",
                written.span(),
                "the register of the pads spans at least 16 semitones",
                "write a higher `high` or a lower `low`, such as \"E5\" and \"E3\"",
            );
        }
    }
}

/// Beats as they are listed, from a text or a number that may have meant them: `"2, 4"` is `[2, 4]`.
fn listed(value: &DeValue<'_>) -> Option<String> {
    let text = match value {
        DeValue::String(text) => text.as_ref(),
        DeValue::Integer(number) => number.as_str(),
        _ => return None,
    };
    let words = text.split(|c: char| !c.is_ascii_digit());
    let words = words.filter(|word| !word.is_empty());
    let beats: Vec<u32> = words.map(str::parse).collect::<Result<_, _>>().ok()?;
    let all = !beats.is_empty() && beats.iter().all(|beat| (1..=32).contains(beat));
    all.then(|| format!("{beats:?}"))
}
