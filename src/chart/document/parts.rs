//! `[parts]`: what each part plays.

use toml::de::{DeTable, DeValue};

use super::fields::{Fields, Reader};
use crate::chart::{BassLine, ClickBeats, PadStrike, Parts, Pattern, Piece, Run, Silence};
use crate::event::{Channel, KeyNumber};
use crate::theory::Pitch;

impl Reader<'_, '_> {
    pub(super) fn parts(&mut self, table: &DeTable<'_>, piece: &mut Piece) {
        let mut parts = Fields::new(table, "parts");
        let names: [(&'static str, &'static str); 7] = [
            ("click", "parts.click"),
            ("pads", "parts.pads"),
            ("bass", "parts.bass"),
            ("kit", "parts.kit"),
            ("drone", "parts.drone"),
            ("strum", "parts.strum"),
            ("guide", "parts.guide"),
        ];
        for (name, path) in names {
            let Some(table) = self.table(&mut parts, name) else {
                continue;
            };
            let mut fields = Fields::new(table, path);
            // A part that is named plays, unless it says otherwise.
            self.common(&mut fields, name, &mut piece.parts);
            match name {
                "click" => self.click(&mut fields, &mut piece.parts),
                "pads" => self.pads(&mut fields, &mut piece.parts),
                "bass" => {
                    let lines = [
                        ("roots", BassLine::Roots),
                        ("root and fifth", BassLine::RootFifth),
                        ("walking", BassLine::Walking),
                    ];
                    if let Some(line) = self.choice(&mut fields, "line", &lines) {
                        piece.parts.bass.line = line;
                    }
                }
                "drone" => {
                    if let Some(fifth) = self.choice(
                        &mut fields,
                        "notes",
                        &[("tonic", false), ("tonic and fifth", true)],
                    ) {
                        piece.parts.drone.fifth = fifth;
                    }
                }
                "strum" => self.strum(&mut fields, &mut piece.parts),
                "guide" => self.guide(&mut fields, &mut piece.parts),
                _ => {}
            }
            self.finish(&fields);
        }
        self.finish(&parts);
        self.channels(&parts, &piece.parts);
    }

    /// Two pitched parts on one channel would end each other's notes.
    fn channels(&mut self, parts: &Fields<'_, '_>, settings: &Parts) {
        let pitched: Vec<(&str, Channel)> = Parts::NAMES
            .iter()
            .filter_map(|name| settings.common(name).map(|c| (*name, c)))
            .filter(|(_, c)| c.on && c.program.is_some())
            .map(|(name, c)| (name, c.channel))
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
                // One of the two says so; the other may have its usual channel.
                self.wrong(
                    "part-channel",
                    key(name).unwrap_or_else(|| span(other)),
                    message,
                    "give each pitched part its own channel",
                );
            }
        }
    }

    fn common(&mut self, fields: &mut Fields<'_, '_>, name: &str, parts: &mut Parts) {
        let on = self.boolean(fields, "on");
        let level = self.integer(fields, "level", 0, 127);
        let pan = self.integer(fields, "pan", -100, 100);
        let channel = self.integer(fields, "channel", 1, 16);
        let pitched = parts.common(name).is_some_and(|c| c.program.is_some());
        let program = if pitched {
            self.integer(fields, "program", 1, 128)
        } else {
            None
        };
        let Some(common) = parts.common_mut(name) else {
            return;
        };
        common.on = on.unwrap_or(true);
        let small = |v: i64| u8::try_from(v).unwrap_or(0);
        if let Some(level) = level {
            common.level = small(level);
        }
        if let Some(pan) = pan {
            common.pan = i8::try_from(pan).unwrap_or(0);
        }
        if let Some(Ok(channel)) = channel.map(|c| Channel::new(small(c))) {
            common.channel = channel;
        }
        if let Some(program) = program {
            common.program = Some(small(program - 1));
        }
    }

    fn click(&mut self, fields: &mut Fields<'_, '_>, parts: &mut Parts) {
        let click = &mut parts.click;
        if let Some(bars) = self.integer(fields, "count_in", 0, 8) {
            click.count_in = u32::try_from(bars).unwrap_or(1);
        }
        if let Some(accents) = self.boolean(fields, "accents") {
            click.accents = accents;
        }
        if let Some(n) = self.integer(fields, "subdivide", 1, 8) {
            click.subdivide = u32::try_from(n).unwrap_or(1);
        }
        if let Some(value) = fields.get("beats") {
            match value.get_ref() {
                DeValue::String(s) if s == "all" => click.beats = ClickBeats::All,
                DeValue::Array(list) => {
                    let beats: Option<Vec<u32>> = list
                        .iter()
                        .map(|v| {
                            v.get_ref()
                                .as_integer()
                                .and_then(|i| i.as_str().parse().ok())
                        })
                        .map(|v| v.filter(|b| (1..=32).contains(b)))
                        .collect();
                    match beats {
                        Some(beats) if !beats.is_empty() => click.beats = ClickBeats::Only(beats),
                        _ => self.wrong(
                            "click-beats",
                            value.span(),
                            "`parts.click.beats` lists beats from 1 to 32",
                            "write `beats = [2, 4]` or `beats = \"all\"`",
                        ),
                    }
                }
                other => self.wrong_type(
                    fields,
                    "beats",
                    value,
                    other,
                    "a list of beats or \"all\"",
                    "[2, 4]",
                ),
            }
        }
        if let Some(text) = self.string(fields, "silent", "\"3 on 1 off\"") {
            match Silence::read(text.value) {
                Some(silence) => click.silent = silence,
                None => self.wrong(
                    "click-silent",
                    text.token,
                    format!(
                        "silent bars are written like \"3 on 1 off\" or \"1 in 4\", found \"{}\"",
                        text.value
                    ),
                    "write how many bars click and how many are silent, each 1 to 64, a chance of 1 in 2 to 64, or \"none\"",
                ),
            }
        }
    }

    fn pattern(&mut self, fields: &mut Fields<'_, '_>, key: &'static str) -> Option<Pattern> {
        let text = self.string(fields, key, "\"D . D U . U D U\"")?;
        let pattern = Pattern::read(text.value);
        if pattern.is_none() {
            let message = format!(
                "a rhythm has 1 to 32 places D U x . - o with at least one stroke, found \"{}\"",
                text.value
            );
            let help = format!("write `{key} = \"D . D U . U D U\"`");
            self.wrong("part-rhythm", text.token, message, help);
        }
        pattern
    }

    fn strum(&mut self, fields: &mut Fields<'_, '_>, parts: &mut Parts) {
        if let Some(pattern) = self.pattern(fields, "strokes") {
            parts.strum.pattern = Some(pattern);
        }
        if let Some(ms) = self.integer(fields, "spread_ms", 0, 40) {
            parts.strum.spread_ms = u32::try_from(ms).unwrap_or(12);
        }
        if let Some(strings) = self.boolean(fields, "one_string") {
            parts.strum.strings = strings;
        }
    }

    fn guide(&mut self, fields: &mut Fields<'_, '_>, parts: &mut Parts) {
        if let Some(string) = self.integer(fields, "string", 5, 6) {
            parts.guide.string = u8::try_from(string).unwrap_or(6);
        }
        if let Some(run) = self.choice(fields, "run", &Run::NAMES) {
            parts.guide.run = run;
        }
        if let Some(notes) = self.integer(fields, "notes", 1, 8) {
            parts.guide.notes = u32::try_from(notes).ok();
        }
    }

    fn pads(&mut self, fields: &mut Fields<'_, '_>, parts: &mut Parts) {
        let pads = &mut parts.pads;
        if let Some(voices) = self.integer(fields, "voices", 2, 6) {
            pads.voices = u32::try_from(voices).unwrap_or(4);
        }
        if let Some(strike) = self.choice(
            fields,
            "strike",
            &[("bar", PadStrike::Bar), ("change", PadStrike::Change)],
        ) {
            pads.strike = strike;
        }
        if let Some(rhythm) = self.pattern(fields, "rhythm") {
            parts.pads.rhythm = Some(rhythm);
        }
        let pads = &mut parts.pads;
        let mut span = None;
        for (key, default) in [("low", "\"E3\""), ("high", "\"E5\"")] {
            let Some(text) = self.string(fields, key, default) else {
                continue;
            };
            let pitch = Pitch::read(text.value)
                .ok()
                .and_then(|p| KeyNumber::new(p.midi()).ok());
            match pitch {
                Some(k) if key == "low" => pads.low = k,
                Some(k) => pads.high = k,
                None => self.wrong(
                    "pads-register",
                    text.token.clone(),
                    format!(
                        "`parts.pads.{key}` is a note with its octave, found \"{}\"",
                        text.value
                    ),
                    format!("write {default} (C4 is middle C)"),
                ),
            }
            span = Some(text.token);
        }
        if let Some(span) = span
            && pads.high.get() < pads.low.get().saturating_add(16)
        {
            self.wrong(
                "pads-register",
                span,
                "the register of the pads spans at least 16 semitones",
                "write `low = \"E3\"` and `high = \"E5\"`",
            );
        }
    }
}
