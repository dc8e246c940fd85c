//! `[[asks]]`: what the piece asks of the player.

use toml::de::{DeTable, DeValue};

use super::fields::{Fields, Reader, kind};
use crate::chart::ask::{FEWEST_ASK_BEATS, MOST_ASK_BEATS, MOST_ASK_CHARS, MOST_ASKS};
use crate::chart::{Answer, Ask, Piece};
use crate::theory::Pitch;

impl Reader<'_, '_> {
    pub(super) fn asks(&mut self, top: &mut Fields<'_, '_>, piece: &mut Piece) {
        let Some(value) = top.get("asks") else { return };
        let DeValue::Array(list) = value.get_ref() else {
            let message = format!("`asks` is a list, found {}", kind(value.get_ref()));
            let help = "write `[[asks]]` on a line of its own for each";
            self.wrong("document-type", value.span(), message, help);
            return;
        };
        if list.len() > MOST_ASKS {
            let message = format!("a piece has at most {MOST_ASKS} asks, found {}", list.len());
            self.wrong("asks-many", value.span(), message, "leave some out");
            return;
        }
        for one in list.iter() {
            match one.get_ref() {
                DeValue::Table(table) => {
                    let ask = self.ask(table, one.span());
                    piece.asks.extend(ask);
                }
                other => {
                    let message = format!("an ask is a table, found {}", kind(other));
                    let help = "write `[[asks]]` on a line of its own for each";
                    self.wrong("document-type", one.span(), message, help);
                }
            }
        }
    }

    fn ask(&mut self, table: &DeTable<'_>, span: std::ops::Range<usize>) -> Option<Ask> {
        let mut fields = Fields::new(table, "asks");
        let small = |n: Option<i64>| n.and_then(|n| u32::try_from(n).ok());
        let bar = small(self.integer(&mut fields, "bar", 1, i64::from(u32::MAX)));
        let beat = small(self.integer(&mut fields, "beat", 1, 64)).unwrap_or(1);
        let (fewest, most) = (i64::from(FEWEST_ASK_BEATS), i64::from(MOST_ASK_BEATS));
        let beats = small(self.integer(&mut fields, "beats", fewest, most)).unwrap_or(4);
        let text = self.string(&mut fields, "ask", "\"G on string 6\"");
        let text = text.and_then(|text| {
            let chars = text.value.chars().count();
            if (1..=MOST_ASK_CHARS).contains(&chars) && !text.value.contains(char::is_control) {
                return Some(text.value.to_owned());
            }
            let message = format!("an ask is one line of 1 to {MOST_ASK_CHARS} characters");
            let help = "write less, such as \"G on string 6\"";
            self.wrong("ask-text", text.token, message, help);
            None
        });
        let note = self.string(&mut fields, "note", "\"Eb4\"");
        let note = note.and_then(|note| match Pitch::read(note.value) {
            Ok(pitch) => Some(pitch),
            Err(e) => {
                self.refuse(&e, &note);
                None
            }
        });
        let answer = self.string(&mut fields, "answer", "\"string 6 fret 3\"");
        let answer = answer.and_then(|answer| {
            let read = Answer::read(answer.value);
            if read.is_none() {
                let message = "an answer is a place on the neck or one word of up to 16 letters";
                let help = "write \"string 6 fret 3\", or a word such as \"b3\"";
                self.wrong("ask-answer", answer.token, message, help);
            }
            read
        });
        for key in ["bar", "ask", "answer"] {
            if !table.contains_key(key) {
                let message = format!("an ask has no `{key}`");
                let help = "an ask has `bar`, `ask` and `answer`; `beat`, `beats` and `note` can be left out";
                self.wrong("ask-incomplete", span.clone(), message, help);
            }
        }
        self.finish(&fields);
        Some(Ask {
            bar: bar?,
            beat,
            text: text?,
            note,
            answer: answer?,
            beats,
        })
    }
}
