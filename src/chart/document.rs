//! Reading a document: one piece, in TOML.

mod asks;
mod fields;
mod groove;
mod inline;
mod parts;
mod sections;

use std::ops::Range;

use toml::de::{DeTable, DeValue};

use self::fields::{Fields, Reader};
use super::problem::MOST_PROBLEMS;
use super::toml_text::StringPlaces;
use super::{Ending, FitRule, Piece, Places, Problem, Problems, Reading, Section, Severity, Times};
use crate::neck::Tuning;
use crate::theory::{Key, KeyOrder, Scale};
use crate::time::{Feel, Meter, PlanRepeat, Ritardando, TempoPlan};

/// Largest document or chart that is read, in bytes.
pub const MOST_BYTES: usize = 4 << 20;

/// The result of reading: the piece with its warnings and places, or the problems (warnings among them).
pub(super) type ReadResult = Result<(Piece, Reading), Problems>;

impl Piece {
    /// Reads a document.
    ///
    /// # Errors
    /// Every problem found, with spans of `text`, errors and warnings together.
    pub fn read(text: &str) -> Result<(Piece, Reading), Problems> {
        if let Some(problem) = too_large(text) {
            return Err(vec![problem].into());
        }
        let (table, errors) = DeTable::parse_recoverable(text);
        let mut problems: Vec<Problem> = errors
            .iter()
            .map(|e| broken_toml(text, e.span().unwrap_or(0..0), e.message()))
            .collect();
        let broken = !problems.is_empty();
        let mut reader = Reader {
            text,
            problems: &mut problems,
            places: Places::default(),
        };
        let piece = reader.piece(table.get_ref());
        let places = reader.places;
        if broken {
            // Whatever follows a broken line may have been lost with it.
            let follows = [
                "document-sections",
                "document-form",
                "document-key",
                "form-section",
            ];
            problems.retain(|p| !follows.contains(&p.code));
        }
        finish(piece, places, problems)
    }

    /// Reads an inline chart: an argument with bar lines in it.
    ///
    /// # Errors
    /// As [`Piece::read`].
    pub fn read_inline(text: &str) -> Result<(Piece, Reading), Problems> {
        inline::read(text, Meter::COMMON)
    }

    /// Changes parts as `[parts.NAME]` tables of a document would; what these do not name stays as it is.
    ///
    /// # Errors
    /// Every problem found, with spans of `text`; the piece may then have been changed in part.
    pub fn change_parts(&mut self, text: &str) -> Result<(), Problems> {
        let (table, errors) = DeTable::parse_recoverable(text);
        let mut problems: Vec<Problem> = errors
            .iter()
            .map(|e| broken_toml(text, e.span().unwrap_or(0..0), e.message()))
            .collect();
        let mut reader = Reader {
            text,
            problems: &mut problems,
            places: Places::default(),
        };
        let mut top = Fields::new(table.get_ref(), "");
        if let Some(parts) = reader.table(&mut top, "parts") {
            reader.parts(parts, self);
        }
        if problems.is_empty() {
            Ok(())
        } else {
            Err(problems.into())
        }
    }

    /// The same in another meter than 4/4.
    ///
    /// # Errors
    /// As [`Piece::read`].
    pub fn read_inline_in(text: &str, meter: Meter) -> Result<(Piece, Reading), Problems> {
        inline::read(text, meter)
    }
}

/// Puts the problems into the order of the text.
fn finish(piece: Piece, places: Places, mut problems: Vec<Problem>) -> ReadResult {
    problems.sort_by_key(|p| (p.span.start, p.span.end));
    if !problems.iter().any(|p| p.severity == Severity::Error) {
        problems.truncate(MOST_PROBLEMS);
        let warnings = problems;
        return Ok((piece, Reading { warnings, places }));
    }
    if problems.len() > MOST_PROBLEMS {
        // Errors before warnings, but still in the order of the text.
        let mut errors = 0;
        let total = problems
            .iter()
            .filter(|p| p.severity == Severity::Error)
            .count();
        problems.retain(|p| {
            errors += usize::from(p.severity == Severity::Error);
            p.severity == Severity::Error && errors <= MOST_PROBLEMS
        });
        if total > MOST_PROBLEMS {
            let span = problems.last().map_or(0..0, |p| p.span.clone());
            let message = format!(
                "there are {} more errors behind this",
                total - MOST_PROBLEMS
            );
            problems.push(Problem::error(
                "more-errors",
                span,
                message,
                "mend these first",
            ));
        }
    }
    Err(problems.into())
}

/// The problem of a text that is not TOML, in our words if the mistake is a common one.
fn broken_toml(text: &str, span: Range<usize>, message: &str) -> Problem {
    let found = text.get(span.clone()).unwrap_or("");
    if message.contains("must be quoted") {
        let help = if (1..=60).contains(&found.len()) && !found.contains(['"', '\n']) {
            format!("write `\"{found}\"`")
        } else {
            "write a quotation mark before and behind it".to_owned()
        };
        return Problem::error(
            "toml",
            span,
            "expected a text in quotes, found one without",
            help,
        );
    }
    if message.contains("duplicate key") {
        let message = format!("`{found}` is written twice");
        return Problem::error("toml", span, message, "leave one of the two out");
    }
    let message = message.lines().collect::<Vec<_>>().join(", ");
    let help = "a document is TOML: `key = \"A minor\"`, sections under `[sections]`";
    Problem::error("toml", span, message, help)
}

fn too_large(text: &str) -> Option<Problem> {
    (text.len() > MOST_BYTES).then(|| {
        let message = format!(
            "a document has at most {MOST_BYTES} bytes, found {}",
            text.len()
        );
        Problem::error(
            "document-size",
            0..0,
            message,
            "split it into several pieces",
        )
    })
}

fn place(section: &mut Section, map: impl Fn(Range<usize>) -> Range<usize>) {
    for bar in &mut section.bars {
        bar.span = map(bar.span.clone());
        for cell in &mut bar.cells {
            cell.span = map(cell.span.clone());
        }
    }
}

impl Reader<'_, '_> {
    fn piece(&mut self, table: &DeTable<'_>) -> Piece {
        let mut piece = Piece::default();
        let mut top = Fields::new(table, "");
        if let Some(title) = self.string(&mut top, "title", "\"Low tide\"") {
            piece.title = title.value.to_owned();
        }
        if let Some(key) = self.string(&mut top, "key", "\"A minor\"") {
            match Key::read(key.value) {
                Ok(k) => piece.key = Some(k),
                Err(e) => self.refuse(&e, &key),
            }
        }
        if let Some(meter) = self.string(&mut top, "meter", "\"4/4\"") {
            match Meter::read(meter.value) {
                Ok(m) => piece.meter = m,
                Err(e) => self.refuse(&e, &meter),
            }
        }
        if let Some(feel) = self.string(&mut top, "feel", "\"swing 2:1\"") {
            match Feel::read(feel.value) {
                Ok(f) => {
                    piece.feel = Some(f);
                    if let Err(e) = f.check(&piece.meter) {
                        self.refuse(&e, &feel);
                    }
                }
                Err(e) => self.refuse(&e, &feel),
            }
        }
        self.groove(&mut top, &mut piece);
        self.tempo(&mut top, &mut piece);
        self.sets(&mut top, &mut piece);
        self.numbers(&mut top, &mut piece);
        self.sections(&mut top, &mut piece);
        if let Some(parts) = self.table(&mut top, "parts") {
            self.parts(parts, &mut piece);
        }
        self.asks(&mut top, &mut piece);
        self.finish(&top);
        piece
    }

    fn tempo(&mut self, top: &mut Fields<'_, '_>, piece: &mut Piece) {
        if let Some(value) = top.get("tempo") {
            let plain = match value.get_ref() {
                DeValue::Integer(i) => Some(i.as_str().to_owned()),
                DeValue::Float(f) => Some(f.as_str().to_owned()),
                _ => None,
            };
            let (text, places) = match (&plain, value.get_ref()) {
                (Some(plain), _) => (plain.as_str(), None),
                (None, DeValue::String(s)) => {
                    (&**s, Some(StringPlaces::new(self.text, value.span(), s)))
                }
                (None, _) => {
                    self.wrong_type(
                        top,
                        "tempo",
                        value,
                        "a text",
                        "\"72 to 96 by 4 every 8 bars\"",
                    );
                    ("90", None)
                }
            };
            let read =
                TempoPlan::read(text).and_then(|plan| plan.check(&piece.meter).map(|()| plan));
            match read {
                Ok(plan) => {
                    piece.tempo = plan;
                    self.places.tempo = value.span();
                }
                Err(e) => {
                    let problem = Problem::of(&e, 0..text.len());
                    self.problems.push(problem.placed(|span| {
                        let places = places.as_ref();
                        places.map_or(value.span(), |places| places.span(span))
                    }));
                }
            }
        }
        let plans = [
            ("once", PlanRepeat::Once),
            ("each pass", PlanRepeat::EachPass),
        ];
        if let Some(plan) = self.choice(top, "plan", &plans) {
            piece.plan = plan;
        }
    }

    fn sets(&mut self, top: &mut Fields<'_, '_>, piece: &mut Piece) {
        for (key, help) in [("set", "\"A minor pentatonic\""), ("home", "\"A dorian\"")] {
            let Some(text) = self.string(top, key, help) else {
                continue;
            };
            match Scale::read(text.value) {
                Ok(scale) if key == "set" => piece.set = Some(scale),
                Ok(scale) => piece.home = Some(scale),
                Err(e) => self.refuse(&e, &text),
            }
        }
        piece.fit = self.choice(top, "fit", &FitRule::NAMES);
        if let Some(text) = self.string(top, "keys", "\"fourths\"") {
            match KeyOrder::read(text.value) {
                Ok(order) => {
                    piece.keys = Some(order);
                    self.places.keys = text.token;
                }
                Err(e) => self.refuse(&e, &text),
            }
        }
        if let Some(text) = self.string(top, "tuning", "\"standard\"") {
            match Tuning::read(text.value) {
                Ok(tuning) => piece.tuning = Some(tuning),
                Err(e) => self.refuse(&e, &text),
            }
        }
        if let Some(capo) = self.integer(top, "capo", 0, 12) {
            piece.capo = u8::try_from(capo).unwrap_or(0);
        }
    }

    /// Semitones, or the key to move to.
    fn transpose(&mut self, top: &mut Fields<'_, '_>, piece: &mut Piece) {
        let name = top.get("transpose").is_some_and(|v| v.get_ref().is_str());
        if !name {
            if let Some(transpose) = self.integer(top, "transpose", -24, 24) {
                piece.transpose = i32::try_from(transpose).unwrap_or(0);
            }
            return;
        }
        let Some(text) = self.string(top, "transpose", "\"Eb minor\"") else {
            return;
        };
        match (Key::read(text.value), piece.key) {
            (Ok(to), Some(from)) if to.mode() == from.mode() => piece.target = Some(to),
            (Ok(to), Some(from)) => self.wrong(
                "document-transpose",
                text.token,
                format!("a piece in {from} moves to a key of the same mode, found {to}"),
                format!("write `\"{} {}\"`", to.tonic(), from.mode().as_str()),
            ),
            (Ok(_), None) => self.wrong(
                "document-transpose",
                text.token,
                "only a piece with a key moves to another",
                "write semitones, such as `6`, or add the key of the piece: `key = \"A minor\"`",
            ),
            (Err(e), _) => self.refuse(&e, &text),
        }
    }

    fn numbers(&mut self, top: &mut Fields<'_, '_>, piece: &mut Piece) {
        if let Some(value) = top.get("times") {
            let endless = value.get_ref().as_str() == Some("endless");
            if endless {
                piece.times = Times::Endless;
            } else if value.get_ref().is_str() {
                let found = value.get_ref().as_str().unwrap_or_default().to_owned();
                self.wrong(
                    "document-times",
                    value.span(),
                    format!("`times` is a number or \"endless\", found \"{found}\""),
                    match found.trim().parse::<i64>() {
                        Ok(times) if (1..=100_000).contains(&times) => format!("write `{times}`"),
                        _ => "write `2` or `\"endless\"`".to_owned(),
                    },
                );
            } else if let Some(times) = self.integer(top, "times", 1, 100_000) {
                piece.times = Times::Count(u32::try_from(times).unwrap_or(1));
            }
        }
        if let Some(seed) = self.integer(top, "seed", 0, i64::MAX) {
            piece.seed = u64::try_from(seed).unwrap_or(1);
        }
        self.transpose(top, piece);
        if let Some(ending) = self.choice(
            top,
            "ending",
            &[("tonic", Ending::Tonic), ("none", Ending::None)],
        ) {
            piece.ending = ending;
        }
        if let Some(text) = self.string(top, "ritardando", "\"2 bars\"") {
            match Ritardando::read(text.value) {
                Ok(ritardando) => piece.ritardando = Some(ritardando),
                Err(e) => self.refuse(&e, &text),
            }
        }
    }
}

#[cfg(test)]
mod tests;
