//! Reading a document: one piece, in TOML.

use std::ops::Range;

use toml::Spanned;
use toml::de::{DeTable, DeValue};

use super::nearest::nearest;
use super::piece::{ENDING, INTRO};
use super::toml_text::StringPlaces;
use super::{
    BassLine, ClickBeats, Ending, FitRule, PadStrike, Parts, Piece, Problem, Section, Severity,
    Silence, Times, read_section,
};
use crate::event::{Channel, KeyNumber};
use crate::theory::{Figure, Key, Pitch, Scale};
use crate::time::{Feel, Meter, PlanRepeat, TempoPlan};

/// Largest document or chart that is read, in bytes.
const MOST_BYTES: usize = 4 << 20;

/// What a reader gives: the piece and warnings, or the problems (warnings among them).
pub(super) type ReadResult = Result<(Piece, Vec<Problem>), Vec<Problem>>;

impl Piece {
    /// Reads a document.
    ///
    /// # Errors
    /// Every problem found, with spans of `text`, errors and warnings together.
    pub fn read(text: &str) -> Result<(Piece, Vec<Problem>), Vec<Problem>> {
        if let Some(problem) = too_large(text) {
            return Err(vec![problem]);
        }
        let (table, errors) = DeTable::parse_recoverable(text);
        let mut problems: Vec<Problem> = errors
            .iter()
            .map(|e| {
                let span = e.span().unwrap_or(0..0);
                let help = "a document is TOML: `key = \"A minor\"`, sections under `[sections]`";
                Problem::error("toml", span, one_line(e.message()), help)
            })
            .collect();
        let piece = Reader {
            text,
            problems: &mut problems,
        }
        .piece(table.get_ref());
        finish(piece, problems)
    }

    /// Reads an inline chart: an argument with bar lines in it.
    ///
    /// # Errors
    /// As [`Piece::read`].
    pub fn read_inline(text: &str) -> Result<(Piece, Vec<Problem>), Vec<Problem>> {
        if let Some(problem) = too_large(text) {
            return Err(vec![problem]);
        }
        let mut problems = Vec::new();
        let mut piece = Piece {
            title: "chart".to_owned(),
            ..Piece::default()
        };
        for (name, range) in inline_sections(text) {
            let part = &text[range.clone()];
            let mut found = Vec::new();
            let mut section = read_section(part, piece.meter, &mut found);
            problems.extend(
                found
                    .into_iter()
                    .map(|p| p.placed(|s| s.start + range.start..s.end + range.start)),
            );
            place(&mut section, |s| s.start + range.start..s.end + range.start);
            if piece.sections.iter().any(|(n, _, _)| *n == name) {
                problems.push(Problem::error(
                    "chart-section-twice",
                    range.clone(),
                    format!("section {name} is written twice"),
                    "give each section its own name",
                ));
            }
            if name != INTRO && name != ENDING {
                piece.form.push(name.clone());
            }
            piece.sections.push((name, part.trim().to_owned(), section));
        }
        finish(piece, problems)
    }
}

fn finish(piece: Piece, problems: Vec<Problem>) -> ReadResult {
    if problems.iter().any(|p| p.severity == Severity::Error) {
        Err(problems)
    } else {
        Ok((piece, problems))
    }
}

fn one_line(message: &str) -> String {
    message.lines().collect::<Vec<_>>().join(", ")
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

/// Splits an inline chart at `[NAME]` at the start of a line, followed by a bar line. What comes before the first
/// is section A, unless it is only white space.
fn inline_sections(text: &str) -> Vec<(String, Range<usize>)> {
    let mut starts: Vec<(String, usize, usize)> = Vec::new();
    let mut at = 0;
    for line in text.split_inclusive('\n') {
        let indent = line.len() - line.trim_start().len();
        let rest = &line[indent..];
        if let Some(end) = rest.strip_prefix('[').and_then(|r| r.find(']')) {
            let name = &rest[1..=end];
            let behind = rest[end + 2..].trim_start();
            let named = !name.is_empty() && !name.contains([' ', '|', '.', '%', '/']);
            if named && (behind.starts_with('|') || behind.starts_with(":|")) {
                starts.push((name.to_owned(), at, at + indent + end + 2));
            }
        }
        at += line.len();
    }
    let mut found: Vec<(String, Range<usize>)> = Vec::new();
    let first = starts.first().map_or(text.len(), |s| s.1);
    if starts.is_empty() || !text[..first].trim().is_empty() {
        let taken = |n: &str| starts.iter().any(|s| s.0 == n);
        let name = ('A'..='Z')
            .map(String::from)
            .find(|n| !taken(n))
            .unwrap_or_default();
        found.push((name, 0..first));
    }
    for (i, (name, _, start)) in starts.iter().enumerate() {
        let end = starts.get(i + 1).map_or(text.len(), |s| s.1);
        found.push((name.clone(), *start..end));
    }
    found
}

/// A text value with its places in the document.
struct Text<'d> {
    value: &'d str,
    token: Range<usize>,
    places: StringPlaces,
}

struct Reader<'d, 'p> {
    text: &'d str,
    problems: &'p mut Vec<Problem>,
}

/// A table being read: keys asked for are known, all others are errors at the end.
struct Fields<'t, 'd> {
    table: &'t DeTable<'d>,
    /// Empty, or `parts.click`.
    name: &'static str,
    known: Vec<&'static str>,
}

impl<'t, 'd> Fields<'t, 'd> {
    fn new(table: &'t DeTable<'d>, name: &'static str) -> Self {
        Fields {
            table,
            name,
            known: Vec::new(),
        }
    }

    fn get(&mut self, key: &'static str) -> Option<&'t Spanned<DeValue<'d>>> {
        self.known.push(key);
        self.table.get(key)
    }

    fn path(&self, key: &str) -> String {
        if self.name.is_empty() {
            key.to_owned()
        } else {
            format!("{}.{key}", self.name)
        }
    }
}

impl<'d> Reader<'d, '_> {
    fn wrong(
        &mut self,
        code: &'static str,
        span: Range<usize>,
        message: impl Into<String>,
        help: impl Into<String>,
    ) {
        self.problems
            .push(Problem::error(code, span, message, help));
    }

    fn piece(&mut self, table: &DeTable<'_>) -> Piece {
        let mut piece = Piece::default();
        let mut top = Fields::new(table, "");
        if let Some(title) = self.string(&mut top, "title", "\"Low tide\"") {
            piece.title = title.value.to_owned();
        }
        if let Some(key) = self.string(&mut top, "key", "\"A minor\"") {
            match Key::read(key.value) {
                Ok(k) => piece.key = Some(k),
                Err(e) => self.wrong(e.code(), key.places.span(e.span()), e.to_string(), e.help()),
            }
        }
        if let Some(meter) = self.string(&mut top, "meter", "\"4/4\"") {
            match Meter::read(meter.value) {
                Ok(m) => piece.meter = m,
                Err(e) => self.wrong(e.code(), meter.token, e.to_string(), e.help()),
            }
        }
        if let Some(feel) = self.string(&mut top, "feel", "\"swing 2:1\"") {
            match Feel::read(feel.value) {
                Ok(f) => {
                    piece.feel = f;
                    if let Err(e) = f.check(&piece.meter) {
                        self.wrong(e.code(), feel.token, e.to_string(), e.help());
                    }
                }
                Err(e) => self.wrong(e.code(), feel.token, e.to_string(), e.help()),
            }
        }
        self.tempo(&mut top, &mut piece);
        self.sets(&mut top, &mut piece);
        self.numbers(&mut top, &mut piece);
        self.sections(&mut top, &mut piece);
        if let Some(parts) = self.table(&mut top, "parts") {
            self.parts(parts, &mut piece);
        }
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
                (None, other) => {
                    self.wrong_type(
                        top,
                        "tempo",
                        value,
                        other,
                        "a text",
                        "\"72 to 96 by 4 every 8 bars\"",
                    );
                    ("90", None)
                }
            };
            let read =
                TempoPlan::read(text).and_then(|plan| plan.check(&piece.meter).map(|()| plan));
            match read {
                Ok(plan) => piece.tempo = plan,
                Err(e) => {
                    let span = places.map_or(value.span(), |places| places.span(e.span.clone()));
                    self.wrong(e.code(), span, e.to_string(), e.help());
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
                Err(e) => self.wrong(
                    e.code(),
                    text.places.span(e.span()),
                    e.to_string(),
                    e.help(),
                ),
            }
        }
        piece.fit = self.choice(top, "fit", &FitRule::NAMES);
        if let Some(text) = self.string(top, "keys", "\"fourths\"") {
            piece.keys = Some(text.value.to_owned());
        }
        if let Some(text) = self.string(top, "tuning", "\"standard\"") {
            piece.tuning = Some(text.value.to_owned());
        }
        if let Some(capo) = self.integer(top, "capo", 0, 12) {
            piece.capo = u8::try_from(capo).unwrap_or(0);
        }
        for (key, value) in [
            ("fit", piece.fit.is_some()),
            ("keys", piece.keys.is_some()),
            ("tuning", piece.tuning.is_some()),
            ("capo", piece.capo > 0),
        ] {
            if value && let Some((name, _)) = top.table.get_key_value(key) {
                self.problems.push(Problem::warning(
                    "not-yet",
                    name.span(),
                    format!("`{key}` is kept, but this version does nothing with it"),
                    "leave it in: it will count in a later version",
                ));
            }
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
                    "write `times = 2` or `times = \"endless\"`",
                );
            } else if let Some(times) = self.integer(top, "times", 1, 100_000) {
                piece.times = Times::Count(u32::try_from(times).unwrap_or(1));
            }
        }
        if let Some(seed) = self.integer(top, "seed", 0, i64::MAX) {
            piece.seed = u64::try_from(seed).unwrap_or(1);
        }
        if let Some(transpose) = self.integer(top, "transpose", -24, 24) {
            piece.transpose = i32::try_from(transpose).unwrap_or(0);
        }
        if let Some(ending) = self.choice(
            top,
            "ending",
            &[("tonic", Ending::Tonic), ("none", Ending::None)],
        ) {
            piece.ending = ending;
        }
    }

    fn sections(&mut self, top: &mut Fields<'_, '_>, piece: &mut Piece) {
        let form = self.string(top, "form", "\"A A B A\"");
        let Some(table) = self.table(top, "sections") else {
            if top.table.get("sections").is_none() {
                self.wrong(
                    "document-sections",
                    0..0,
                    "a document has no sections",
                    "write `[sections]` and below it `A = \"| Am7 | Dm7 |\"`",
                );
            }
            return;
        };
        let mut entries: Vec<_> = table.iter().collect();
        entries.sort_by_key(|(name, _)| name.span().start);
        for (name, value) in entries {
            let label: &str = name.get_ref();
            if label.is_empty() || label.contains(char::is_whitespace) {
                self.wrong(
                    "document-section-name",
                    name.span(),
                    format!("a section name is one word, found `{label}`"),
                    "write `A`, `verse` or `B2`",
                );
                continue;
            }
            let DeValue::String(chart) = value.get_ref() else {
                self.wrong(
                    "document-type",
                    value.span(),
                    format!("section {label} is a text, found {}", kind(value.get_ref())),
                    "write its chart: `A = \"| Am7 | Dm7 |\"`",
                );
                continue;
            };
            let places = StringPlaces::new(self.text, value.span(), chart);
            let mut found = Vec::new();
            let mut section = read_section(chart, piece.meter, &mut found);
            self.problems
                .extend(found.into_iter().map(|p| p.placed(|s| places.span(s))));
            place(&mut section, |s| places.span(s));
            if let Some(key) = &piece.key {
                self.cautions(&section, key);
            }
            piece
                .sections
                .push((label.to_owned(), chart.to_string(), section));
        }
        let names: Vec<String> = piece.sections.iter().map(|s| s.0.clone()).collect();
        let playable = |n: &&String| *n != INTRO && *n != ENDING;
        match form {
            None => piece.form = names.iter().filter(playable).cloned().collect(),
            Some(form) => self.form(&form, &names, piece),
        }
        if piece.form.is_empty() && !names.is_empty() && self.problems.is_empty() {
            self.wrong(
                "document-form",
                0..0,
                "a form has no sections",
                "write `form = \"A\"` and a section A",
            );
        }
    }

    fn form(&mut self, form: &Text<'_>, names: &[String], piece: &mut Piece) {
        for word in form.value.split_whitespace() {
            let at = word.as_ptr() as usize - form.value.as_ptr() as usize;
            let span = form.places.span(at..at + word.len());
            if word == INTRO || word == ENDING {
                let message = format!("`{word}` is played once and does not belong to the form");
                self.wrong(
                    "form-section",
                    span,
                    message,
                    "leave it out: the section is played by itself",
                );
            } else if names.iter().any(|n| n == word) {
                piece.form.push(word.to_owned());
            } else {
                let near = nearest(word, names.iter().map(String::as_str));
                let help = match near.or(names.first().map(String::as_str)) {
                    Some(near) => format!("write `{near}`, or add a section {word}"),
                    None => format!("add a section {word}"),
                };
                self.wrong(
                    "form-section",
                    span,
                    format!("the form names a section {word}, which is not written"),
                    help,
                );
            }
        }
        if form.value.trim().is_empty() {
            self.wrong(
                "document-form",
                form.token.clone(),
                "a form has no sections",
                "write `form = \"A\"`",
            );
        }
    }

    fn cautions(&mut self, section: &Section, key: &Key) {
        let mut said: Vec<String> = Vec::new();
        for cell in section.bars.iter().flat_map(|bar| &bar.cells) {
            let super::Content::Figure(Figure::Relative(numeral)) = &cell.content else {
                continue;
            };
            let Some(caution) = numeral.caution(key) else {
                continue;
            };
            if !said.contains(&caution) {
                self.problems.push(Problem::warning(
                    "numeral-minor",
                    cell.span.clone(),
                    caution.clone(),
                    "numerals count from the major scale, in minor keys too",
                ));
                said.push(caution);
            }
        }
    }

    fn parts(&mut self, table: &DeTable<'_>, piece: &mut Piece) {
        let mut parts = Fields::new(table, "parts");
        let names: [(&'static str, &'static str); 5] = [
            ("click", "parts.click"),
            ("pads", "parts.pads"),
            ("bass", "parts.bass"),
            ("kit", "parts.kit"),
            ("drone", "parts.drone"),
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
            let span = |name: &str| {
                parts
                    .table
                    .get_key_value(name)
                    .map_or(0..0, |(k, _)| k.span())
            };
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
                self.wrong(
                    "part-channel",
                    span(name),
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
                        "silent bars are written like \"3 on 1 off\", found \"{}\"",
                        text.value
                    ),
                    "write how many bars click and how many are silent, each 1 to 64, or \"none\"",
                ),
            }
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

    fn string<'t>(
        &mut self,
        fields: &mut Fields<'t, '_>,
        key: &'static str,
        example: &str,
    ) -> Option<Text<'t>> {
        let value = fields.get(key)?;
        match value.get_ref() {
            DeValue::String(s) => {
                let places = StringPlaces::new(self.text, value.span(), s);
                Some(Text {
                    value: s,
                    token: value.span(),
                    places,
                })
            }
            other => {
                self.wrong_type(fields, key, value, other, "a text", example);
                None
            }
        }
    }

    fn integer(
        &mut self,
        fields: &mut Fields<'_, '_>,
        key: &'static str,
        min: i64,
        max: i64,
    ) -> Option<i64> {
        let value = fields.get(key)?;
        let range = if max == i64::MAX {
            format!("{min} or more")
        } else {
            format!("{min} to {max}")
        };
        let DeValue::Integer(integer) = value.get_ref() else {
            self.wrong_type(
                fields,
                key,
                value,
                value.get_ref(),
                &format!("a whole number, {range}"),
                &min.max(1).to_string(),
            );
            return None;
        };
        let number = i64::from_str_radix(integer.as_str(), integer.radix()).ok();
        match number.filter(|n| (min..=max).contains(n)) {
            Some(number) => Some(number),
            None => {
                let path = fields.path(key);
                let message = format!("`{path}` is {range}, found {}", integer.as_str());
                self.wrong(
                    "document-range",
                    value.span(),
                    message,
                    format!("write a whole number, {range}"),
                );
                None
            }
        }
    }

    fn boolean(&mut self, fields: &mut Fields<'_, '_>, key: &'static str) -> Option<bool> {
        let value = fields.get(key)?;
        let found = value.get_ref().as_bool();
        if found.is_none() {
            self.wrong_type(fields, key, value, value.get_ref(), "true or false", "true");
        }
        found
    }

    fn choice<T: Copy>(
        &mut self,
        fields: &mut Fields<'_, '_>,
        key: &'static str,
        choices: &[(&str, T)],
    ) -> Option<T> {
        let text = self.string(fields, key, &format!("\"{}\"", choices[0].0))?;
        if let Some((_, value)) = choices.iter().find(|(name, _)| *name == text.value) {
            return Some(*value);
        }
        let names: Vec<String> = choices
            .iter()
            .map(|(name, _)| format!("\"{name}\""))
            .collect();
        let near = nearest(text.value, choices.iter().map(|c| c.0)).unwrap_or(choices[0].0);
        let message = format!(
            "`{}` is {}, found \"{}\"",
            fields.path(key),
            names.join(" or "),
            text.value
        );
        self.wrong(
            "document-choice",
            text.token,
            message,
            format!("write `{key} = \"{near}\"`"),
        );
        None
    }

    fn table<'t, 'v>(
        &mut self,
        fields: &mut Fields<'t, 'v>,
        key: &'static str,
    ) -> Option<&'t DeTable<'v>> {
        let value = fields.get(key)?;
        let found = value.get_ref().as_table();
        if found.is_none() {
            let path = fields.path(key);
            let message = format!("`{path}` is a table, found {}", kind(value.get_ref()));
            self.wrong(
                "document-type",
                value.span(),
                message,
                format!("write `[{path}]` on a line of its own"),
            );
        }
        found
    }

    fn wrong_type(
        &mut self,
        fields: &Fields<'_, '_>,
        key: &str,
        value: &Spanned<DeValue<'_>>,
        found: &DeValue<'_>,
        expected: &str,
        example: &str,
    ) {
        let message = format!(
            "`{}` is {expected}, found {}",
            fields.path(key),
            kind(found)
        );
        self.wrong(
            "document-type",
            value.span(),
            message,
            format!("write `{key} = {example}`"),
        );
    }

    /// Reports the keys nobody asked for.
    fn finish(&mut self, fields: &Fields<'_, '_>) {
        let mut unknown: Vec<_> = fields
            .table
            .keys()
            .filter(|k| {
                !fields
                    .known
                    .iter()
                    .any(|known| *known == k.get_ref().as_ref())
            })
            .collect();
        unknown.sort_by_key(|k| k.span().start);
        for key in unknown {
            let word: &str = key.get_ref();
            let what = if fields.name == "parts" {
                "part"
            } else {
                "key"
            };
            let help = match nearest(word, fields.known.iter().copied()) {
                Some(near) => format!("write `{near}`"),
                None => format!("known are {}", fields.known.join(", ")),
            };
            self.wrong(
                "document-key",
                key.span(),
                format!("unknown {what} `{}`", fields.path(word)),
                help,
            );
        }
    }
}

fn kind(value: &DeValue<'_>) -> &'static str {
    match value {
        DeValue::String(_) => "a text",
        DeValue::Integer(_) => "a whole number",
        DeValue::Float(_) => "a decimal number",
        DeValue::Boolean(_) => "true or false",
        DeValue::Datetime(_) => "a date",
        DeValue::Array(_) => "a list",
        DeValue::Table(_) => "a table",
    }
}

#[cfg(test)]
mod tests;
