//! A piece that asks, while it plays: what is shown, what is waited for, and what became of each ask.

use std::sync::Arc;

use serde_json::json;

use super::answers::{Answers, MARKS, Wanted};
use crate::chart::{Answer, Ask, Form, Piece};
use crate::drill::{Deed, FreeCount, Happening, Judge, Judged, Mark, Outcome, Tally};
use crate::live::Notice;
use crate::neck::NeckError;
use crate::time::{TICKS_PER_QUARTER, Tick};
use crate::view::{StageAsk, hundredths};

/// See the module.
pub(super) struct Asking {
    asks: Vec<Ask>,
    judge: Judge,
    answers: Arc<Answers>,
    json: bool,
    /// Whether how to answer was said.
    explained: bool,
    /// What the player marked, and the ticks played until then.
    marks: Vec<(Tick, Mark)>,
    /// Bars of count-in of a piece in which the player marks.
    count_in: u32,
    /// Whether the piece is paused: what is marked then does not count.
    paused: bool,
    /// What the stage shows of it.
    stage: Option<StageAsk>,
}

impl Asking {
    /// What a piece asks; `None` where it asks nothing.
    pub(super) fn of(piece: &Piece, form: &Form, json: bool) -> Result<Option<Self>, NeckError> {
        if piece.asks.is_empty() {
            return Ok(None);
        }
        Ok(Some(Asking {
            asks: piece.asks.clone(),
            judge: Judge::new(piece, form, &piece.neck()?)?,
            answers: Arc::default(),
            json,
            explained: false,
            marks: Vec::new(),
            count_in: 0,
            paused: false,
            stage: None,
        }))
    }

    /// A piece that asks nothing: the player marks what is done.
    pub(super) fn marking(
        piece: &Piece,
        form: &Form,
        json: bool,
    ) -> Result<Option<Self>, NeckError> {
        Ok(Some(Asking {
            asks: Vec::new(),
            judge: Judge::new(piece, form, &piece.neck()?)?,
            answers: Arc::new(Answers::marking()),
            json,
            explained: false,
            marks: Vec::new(),
            count_in: piece.parts.click.count_in,
            paused: false,
            stage: None,
        }))
    }

    /// What was marked in the minute after the count-in.
    pub(super) fn free_count(&self) -> FreeCount {
        FreeCount::of(&self.marks, self.count_in)
    }

    /// Takes in a mark; returns the line to show, if it is one of the minute.
    fn marked(&mut self, deed: &Deed, at: Tick) -> Option<String> {
        if self.paused {
            return None;
        }
        let mark = match deed {
            Deed::Word(word) if word == MARKS[1].1 => Mark::Missed,
            Deed::Pitch(_) => Mark::Heard,
            _ => Mark::Clean,
        };
        let before = self.free_count();
        self.marks.push((at, mark));
        let FreeCount { changes, clean } = self.free_count();
        if changes == before.changes {
            return None;
        }
        self.stage = Some(StageAsk {
            text: changes.to_string(),
            how: Some("changes".to_owned()),
            answer: None,
            judged: (clean == before.clean).then(|| "did not ring".to_owned()),
        });
        if self.json {
            let clean = clean > before.clean;
            let line = json!({"kind": "mark", "change": changes, "clean": clean});
            return Some(line.to_string());
        }
        let word = if clean > before.clean {
            ""
        } else {
            "   did not ring"
        };
        Some(format!("  {changes}{word}"))
    }

    /// Where answers are put.
    pub(super) fn answers(&self) -> &Arc<Answers> {
        &self.answers
    }

    /// Takes in what the conductor tells; returns the line to show, if it is about an ask.
    pub(super) fn tell(&mut self, notice: Notice) -> Option<String> {
        let place = |id: u32| usize::try_from(id).ok()?.checked_sub(1);
        match notice {
            Notice::Asked { id, at } => {
                let ask = place(id)?;
                self.judge.take(Happening::Asked { ask, at });
                self.asked(ask)
            }
            Notice::Answered { id, at } => {
                let ask = place(id)?;
                let judged = self.judge.take(Happening::Answered { ask, at }).cloned();
                self.answers.want(Wanted::Nothing);
                self.answered(ask, judged.as_ref())
            }
            Notice::Responded { id, at } => {
                let deed = self.answers.deed(id)?;
                if !self.answers.choices().is_empty() {
                    return self.marked(&deed, at);
                }
                let judged = self.judge.take(Happening::Responded {
                    deed: deed.clone(),
                    at,
                });
                let judged = judged.cloned();
                self.responded(&deed, judged.as_ref())
            }
            Notice::Paused => {
                self.paused = true;
                None
            }
            Notice::Resumed | Notice::CountsIn(_) => {
                self.paused = false;
                None
            }
            _ => None,
        }
    }

    /// What the stage shows of it, if anything.
    pub(super) fn on_stage(&self) -> Option<StageAsk> {
        self.stage.clone()
    }

    fn asked(&mut self, ask: usize) -> Option<String> {
        let one = self.asks.get(ask)?;
        let (wanted, how) = match one.answer {
            Answer::Place { .. } => (Wanted::Fret, "   type the fret"),
            Answer::Word(_) => (Wanted::Word, "   type the degree"),
        };
        self.answers.want(wanted);
        self.stage = Some(StageAsk {
            text: format!("{}?", one.text),
            how: Some(how.trim_start().to_owned()),
            answer: None,
            judged: None,
        });
        if self.json {
            return Some(json!({"kind": "ask", "id": ask + 1, "text": one.text}).to_string());
        }
        let first = !std::mem::replace(&mut self.explained, true);
        let how = if first { how } else { "" };
        Some(format!("{}?{how}", one.text))
    }

    fn answered(&mut self, ask: usize, judged: Option<&Judged>) -> Option<String> {
        let one = self.asks.get(ask)?;
        let answer = one.answer.to_string();
        if let Some(stage) = &mut self.stage {
            stage.how = None;
            stage.answer = Some(answer.clone());
            if judged.is_some() {
                stage.judged = Some("missed".to_owned());
            }
        }
        if self.json {
            let outcome = judged.map(|judged| judged.outcome.word());
            let line = json!({"kind": "answer", "id": ask + 1, "text": answer, "outcome": outcome});
            return Some(line.to_string());
        }
        Some(match judged {
            Some(_) => format!("  {answer}   missed"),
            None => format!("  {answer}"),
        })
    }

    fn responded(&mut self, deed: &Deed, judged: Option<&Judged>) -> Option<String> {
        // What comes while nothing is asked is the player's own.
        let judged = judged?;
        self.answers.want(Wanted::Nothing);
        if self.json {
            let line = json!({
                "kind": "response",
                "id": judged.ask + 1,
                "outcome": judged.outcome.word(),
                "came": judged.outcome.came(),
            });
            return Some(line.to_string());
        }
        let text = match &judged.outcome {
            Outcome::Right { at_once: true } => "right, at once".to_owned(),
            Outcome::Right { at_once: false } => "right".to_owned(),
            Outcome::Late => "right, but late".to_owned(),
            Outcome::Wrong(what) => format!("no: {}", self.told_apart(judged.ask, deed, what)),
            Outcome::Unsure => "that could not be told apart".to_owned(),
            Outcome::Missed => "missed".to_owned(),
        };
        if let Some(stage) = &mut self.stage {
            stage.how = None;
            stage.judged = Some(text.clone());
        }
        Some(format!("  {text}"))
    }

    /// What the player did instead, with the note of a fret that was named.
    fn told_apart(&self, ask: usize, deed: &Deed, what: &str) -> String {
        let note = match (deed, self.asks.get(ask).map(|ask| &ask.answer)) {
            (Deed::Fret(fret), Some(Answer::Place { string, .. })) => {
                self.judge.note_at(*string, *fret)
            }
            _ => None,
        };
        match note {
            Some(note) => format!("{what} is {note}"),
            None => what.to_owned(),
        }
    }

    /// What became of each ask, in the order in which it was decided.
    pub(super) fn judged(&self) -> &[Judged] {
        self.judge.judged()
    }

    /// What was asked.
    pub(super) fn ask(&self, judged: &Judged) -> Option<&Ask> {
        self.asks.get(judged.ask)
    }

    /// How it went, in a few lines; `None` where nothing was judged.
    pub(super) fn summary(&self) -> Option<String> {
        let judged = self.judged();
        let tally = Tally::of(judged);
        if judged.is_empty() {
            return None;
        }
        let mut parts = vec![format!("{} right", tally.right)];
        if tally.at_once > 0 {
            parts[0] += &format!(" ({} at once)", tally.at_once);
        }
        for (count, word) in [
            (tally.late, "late"),
            (tally.wrong, "wrong"),
            (tally.missed, "missed"),
            (tally.unsure, "not judged"),
        ] {
            if count > 0 {
                parts.push(format!("{count} {word}"));
            }
        }
        let mut text = format!("{} asked: {}\n", judged.len(), parts.join(", "));
        let mut again: Vec<&str> = Vec::new();
        for one in judged {
            let failed = matches!(one.outcome, Outcome::Wrong(_) | Outcome::Missed);
            if let (true, Some(ask)) = (failed, self.ask(one))
                && !again.contains(&ask.text.as_str())
            {
                again.push(&ask.text);
            }
        }
        if !again.is_empty() {
            text += &format!("not yet: {}\n", again.join("; "));
        }
        Some(text)
    }

    /// The same for programs.
    pub(super) fn summary_json(&self) -> serde_json::Value {
        let tally = Tally::of(self.judged());
        let asks: Vec<_> = self
            .judged()
            .iter()
            .filter_map(|judged| {
                let ask = self.ask(judged)?;
                Some(json!({
                    "id": judged.ask + 1,
                    "text": ask.text,
                    "answer": ask.answer.to_string(),
                    "outcome": judged.outcome.word(),
                    "came": judged.outcome.came(),
                    "after_quarters": judged.after_ticks.map(quarters),
                }))
            })
            .collect();
        json!({
            "asked": asks.len(),
            "right": tally.right,
            "at_once": tally.at_once,
            "late": tally.late,
            "wrong": tally.wrong,
            "missed": tally.missed,
            "unsure": tally.unsure,
            "asks": asks,
        })
    }
}

/// Quarter notes, with up to two decimals.
fn quarters(ticks: u64) -> String {
    hundredths(ticks * 1000 / TICKS_PER_QUARTER)
}
