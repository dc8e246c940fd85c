//! The options that change a piece, and what they make of it.

use std::num::IntErrorKind;

use clap::Args;

use super::Context;
use super::failure::{Failure, read_value, rendered};
use super::goal::{LengthBy, MOST_BARS, MOST_TIMES, WrittenPlan};
use super::part_settings;
use crate::arrange::{ArrangeError, Arrangement, Excerpt, JamPasses};
use crate::chart::{Ending, Form, Part, Parts, Piece, Places, Problem, SourceText, Times};
use crate::diagnostic::Diagnostic;
use crate::neck::Tuning;
use crate::theory::{Key, KeyOrder, PitchName, nearest};
use crate::time::{Amount, Clockwork, Feel, Length, Meter, Nanos, Tempo, TempoPlan, read_length};

/// What to change about the length of a piece and how it begins, and about its parts: what a click has too.
#[derive(Args, Clone, Debug, Default)]
#[command(next_help_heading = "How long, and what is played")]
pub(super) struct Extent {
    /// Passes (times through), or endless
    #[arg(long, value_name = "N", allow_hyphen_values = true)]
    times: Option<String>,
    /// Time to play, such as 10min or 90s
    #[arg(long = "for", value_name = "TIME", conflicts_with_all = ["times", "to", "bars"])]
    duration: Option<String>,
    /// End just after the time of --for, count-in included, not at the next bar line
    #[arg(long)]
    exact: bool,
    /// Bars to play, repeating as needed
    #[arg(long, value_name = "N", conflicts_with_all = ["times", "to"], allow_hyphen_values = true)]
    bars: Option<String>,
    /// First bar, counted from 1
    #[arg(long, value_name = "BAR", allow_hyphen_values = true)]
    from: Option<String>,
    /// Last bar, counted from 1
    #[arg(long, value_name = "BAR", allow_hyphen_values = true)]
    to: Option<String>,
    /// Bars of count-in, 0 to 8
    #[arg(long, value_name = "N", allow_hyphen_values = true)]
    count_in: Option<String>,
    /// No count-in, no ending, no seam
    #[arg(long = "loop", conflicts_with = "count_in")]
    looped: bool,
    /// A setting of a part, such as bass.line=walking; may be repeated; `fivefold list settings` has them all
    #[arg(long, value_name = "PART.KEY=VALUE")]
    part: Vec<String>,
    /// Seed of every random choice
    #[arg(long, value_name = "SEED", allow_hyphen_values = true)]
    pub(super) seed: Option<String>,
}

/// What to change about a piece.
#[derive(Args, Clone, Debug, Default)]
#[command(next_help_heading = "How long, and what is played")]
pub(super) struct Changes {
    /// 96, 80%, or '72 to 96 by 4 every 8 bars'
    #[arg(long, value_name = "PLAN")]
    tempo: Option<String>,
    /// Key to play it in; D keeps the mode
    #[arg(long, value_name = "KEY")]
    pub(super) key: Option<String>,
    /// Semitones to move the piece by, -24 to 24
    #[arg(
        long,
        value_name = "N",
        allow_hyphen_values = true,
        conflicts_with = "key"
    )]
    transpose: Option<String>,
    /// Parts that play: click,bass
    #[arg(long, value_name = "PARTS")]
    parts: Option<String>,
    #[command(flatten)]
    pub(super) extent: Extent,
    /// Tuning of the guitar: a name, or notes such as 'D A D G B E'
    #[arg(long, value_name = "TUNING")]
    tuning: Option<String>,
    /// Fret of the capo, 0 to 12
    #[arg(long, value_name = "FRET", allow_hyphen_values = true)]
    capo: Option<String>,
}

impl From<Extent> for Changes {
    fn from(extent: Extent) -> Self {
        Changes {
            extent,
            ..Changes::default()
        }
    }
}

/// Where a piece comes from: a text, and the places in it of what is checked later.
pub(super) struct Origin {
    pub(super) source: SourceText,
    pub(super) places: Places,
}

impl From<SourceText> for Origin {
    /// A text that says nothing of the kind.
    fn from(source: SourceText) -> Self {
        let places = Places::default();
        Origin { source, places }
    }
}

/// A piece with its form and its arrangement.
pub(super) struct Prepared {
    pub(super) piece: Piece,
    form: Form,
    excerpt: Excerpt,
    excerpt_options: Vec<&'static str>,
    /// Whether it is to be repeated without a seam.
    pub(super) looped: bool,
    /// Whether it ends exactly after the time that was asked for.
    pub(super) exact: bool,
    origin: Origin,
    plan: WrittenPlan,
    /// The passes of an endless jam, which are not all the same.
    jam: Option<JamPasses>,
}

impl Prepared {
    /// The same, its passes drawn one by one.
    pub(super) fn drawn_by(mut self, jam: JamPasses) -> Self {
        self.jam = Some(jam);
        self
    }

    /// The sections by name, each with its first bar in the first pass, counted from 1.
    pub(super) fn sections(&self) -> Vec<(String, i64)> {
        let mut found: Vec<(String, i64)> = Vec::new();
        for (bar, number) in self.form.intro.iter().chain(&*self.form.pass).zip(1..) {
            let name = bar.section.to_string();
            if bar.opens_section && !found.iter().any(|(known, _)| *known == name) {
                found.push((name, number));
            }
        }
        found
    }

    /// How long the piece is, count-in included; `None` without end.
    pub(super) fn duration(&self) -> Result<Option<Nanos>, Failure> {
        let arrangement = self.arrangement()?;
        let journey = arrangement.journey();
        Ok(journey.end().map(|end| {
            let mut clock = Clockwork::new(Tempo::DEFAULT);
            for (tick, tempo) in journey.tempo_pairs() {
                clock.change(tick, tempo);
            }
            clock.at(end)
        }))
    }

    /// The same, its tempo plan written in a text of its own.
    pub(super) fn planned_in(mut self, source: SourceText) -> Self {
        self.plan.span = 0..source.text.len();
        self.plan.source = source;
        self
    }

    /// Says where the tempo plan does not come to its last tempo.
    pub(super) fn warn_of_goal(&self, context: &mut Context<'_, '_>) -> Result<(), Failure> {
        if !self.plan.may_warn(&self.piece) {
            return Ok(());
        }
        let arrangement = self.arrangement()?;
        if let Some(warning) = self.plan.warning(&self.piece, &self.form, &arrangement) {
            let text = rendered(&[warning], &self.plan.source, context);
            context.say_rendered(&text);
        }
        Ok(())
    }

    /// The options that choose a part of the piece to play, which a document does not hold.
    pub(super) fn excerpt_options(&self) -> &[&'static str] {
        &self.excerpt_options
    }

    /// A fresh arrangement, from the first bar.
    pub(super) fn arrangement(&self) -> Result<Arrangement, Failure> {
        let form = self.form.clone();
        let made = match &self.jam {
            Some(jam) => {
                let maker = Box::new(jam.clone());
                Arrangement::made(&self.piece, form, maker, self.excerpt)
            }
            None => Arrangement::new(&self.piece, form, self.excerpt),
        };
        made.map_err(|e| {
            let places = &self.origin.places;
            let span = match &e {
                ArrangeError::Keys(_) | ArrangeError::KeysNeedKey => places.keys.clone(),
                _ => 0..0,
            };
            if span.is_empty() {
                return e.into();
            }
            let source = self.origin.source.clone();
            Failure::text(source, vec![Problem::of(&e, span)])
        })
    }
}

/// What helps a numeral without a key where there are options.
pub(super) const NEEDS_KEY: &str = "give a key, `--key 'A minor'` or in a document `key = \"A minor\"`, or write the chord in letters";

/// The last bar there can be: the longest form, as often as it can be played.
pub(super) const MOST_BAR: i64 = 10_000_000_000;

/// A whole number of an option, within its range.
pub(super) fn number(option: &str, text: &str, min: i64, max: i64) -> Result<i64, Failure> {
    let range = if max == i64::MAX {
        format!("{min} or more")
    } else {
        format!("{min} to {max}")
    };
    text.trim()
        .parse::<i64>()
        .ok()
        .filter(|n| (min..=max).contains(n))
        .ok_or_else(|| {
            Failure::new(
                "option-range",
                format!("`--{option}` is a whole number, {range}, found `{text}`"),
                match option {
                    "times" => "write `--times 2` or `--times endless`".to_owned(),
                    _ => {
                        // The nearest there is; a number that is none gets the least.
                        let near = match text.trim().parse::<i64>() {
                            Ok(n) => n.clamp(min, max),
                            Err(e) if *e.kind() == IntErrorKind::PosOverflow => max,
                            Err(e) if *e.kind() == IntErrorKind::NegOverflow => min,
                            Err(_) => min.max(1),
                        };
                        format!("write `--{option} {near}`")
                    }
                },
            )
        })
}

/// The meter of `--meter`.
pub(super) fn meter(text: &str) -> Result<Meter, Failure> {
    read_value("--meter", text, Meter::read)
}

/// The feel of `--feel`, which goes with the meter.
pub(super) fn feel(text: &str, meter: &Meter) -> Result<Feel, Failure> {
    read_value("--feel", text, |text| {
        Feel::read(text).and_then(|feel| feel.check(meter).map(|()| feel))
    })
}

/// One of several names.
pub(super) fn choice<T: Copy>(
    option: &str,
    text: &str,
    choices: &[(&str, T)],
) -> Result<T, Failure> {
    if let Some((_, value)) = choices.iter().find(|(name, _)| *name == text.trim()) {
        return Ok(*value);
    }
    let names: Vec<String> = choices
        .iter()
        .map(|(name, _)| format!("`{name}`"))
        .collect();
    let near = nearest(text, choices.iter().map(|c| c.0)).unwrap_or(choices[0].0);
    Err(Failure::new(
        "option-choice",
        format!("`--{option}` is {}, found `{text}`", names.join(" or ")),
        format!(
            "write `--{option} {}`",
            if near.contains(' ') {
                format!("'{near}'")
            } else {
                near.to_owned()
            }
        ),
    ))
}

impl Changes {
    /// Makes all changes but those of harmony, and unfolds the piece. Problems of the chart are shown in its origin.
    pub(super) fn apply(&self, mut piece: Piece, origin: Origin) -> Result<Prepared, Failure> {
        if let Some(text) = &self.tempo {
            piece.tempo = tempo(text, &piece)?;
        }
        if let Some(text) = &self.extent.count_in {
            piece.parts.click.count_in =
                u32::try_from(number("count-in", text, 0, 8)?).unwrap_or(0);
        }
        if let Some(text) = &self.extent.seed {
            piece.seed = u64::try_from(number("seed", text, 0, i64::MAX)?).unwrap_or(0);
        }
        if let Some(text) = &self.parts {
            choose_parts(text, &mut piece.parts)?;
        }
        if !self.extent.part.is_empty() {
            part_settings::change(&self.extent.part, &mut piece)?;
        }
        if let Some(text) = &self.tuning {
            piece.tuning = Some(read_value("--tuning", text, Tuning::read)?);
        }
        if let Some(text) = &self.capo {
            piece.capo = u8::try_from(number("capo", text, 0, 12)?).unwrap_or(0);
        }
        if self.extent.looped {
            piece.parts.click.count_in = 0;
            piece.ending = Ending::None;
        }
        let mut excerpt = self.excerpt(&mut piece)?;
        let plan = self.written_plan(&piece, &origin);
        let form = piece.unfold().map_err(|mut problems| {
            for problem in problems.iter_mut().filter(|p| p.code == "needs-key") {
                problem.help = NEEDS_KEY.to_owned();
            }
            Failure::text(origin.source.clone(), problems)
        })?;
        if self.extent.looped && excerpt == Excerpt::default() && piece.times != Times::Endless {
            // What is played again and again is voiced around: as many passes of a piece without end.
            let all = Arrangement::new(&piece, form.clone(), excerpt)?;
            let bars = all.journey().last_bar().unwrap_or(1);
            let once = (form.intro.len() + form.ending.len()) as u64;
            excerpt.from = Some(form.intro.len() as u64 + 1);
            excerpt.length = Some(Length::bars(bars.saturating_sub(once).max(1)));
            piece.times = Times::Endless;
        }
        Ok(Prepared {
            piece,
            form,
            excerpt,
            excerpt_options: self.excerpt_options(),
            looped: self.extent.looped,
            exact: self.extent.exact,
            origin,
            plan,
            jam: None,
        })
    }

    /// Moves the piece, or gives it a key.
    pub(super) fn harmony(&self, piece: &mut Piece) -> Result<(), Failure> {
        if let Some(text) = &self.key {
            let key = read_value("--key", text, Key::read)?;
            // A list of keys says where the piece is played; to move it would say another.
            if let Some(KeyOrder::Chosen(keys)) = &piece.keys
                && keys.first() != Some(&key)
            {
                let keys: Vec<String> = keys.iter().map(Key::to_string).collect();
                return Err(Failure::new(
                    "key-keys",
                    format!(
                        "the piece is played in the keys it lists, {}",
                        keys.join(", ")
                    ),
                    "leave `--key` out, or list other keys in the document",
                ));
            }
            match piece.key {
                Some(from) => piece.target = Some(moved(&from, key, text)?),
                None => piece.key = Some(key),
            }
        }
        if let Some(text) = &self.transpose {
            piece.target = None;
            piece.transpose = i32::try_from(number("transpose", text, -24, 24)?).unwrap_or(0);
        }
        Ok(())
    }

    /// The options that choose a part of the piece.
    fn excerpt_options(&self) -> Vec<&'static str> {
        let options = [
            ("--for", &self.extent.duration),
            ("--bars", &self.extent.bars),
            ("--from", &self.extent.from),
            ("--to", &self.extent.to),
        ];
        let given = options.into_iter().filter(|(_, value)| value.is_some());
        given.map(|(name, _)| name).collect()
    }

    /// Whether `--tempo` gives a plan in the place of the piece's own.
    fn has_plan(&self) -> bool {
        let plan = self.tempo.as_ref();
        plan.is_some_and(|text| !text.trim().ends_with('%'))
    }

    /// Where the tempo plan is written, and by what the piece can be made longer.
    fn written_plan(&self, piece: &Piece, origin: &Origin) -> WrittenPlan {
        let (source, span) = match self.tempo.as_ref().filter(|_| self.has_plan()) {
            Some(text) => (SourceText::new("<--tempo>", text.clone()), 0..text.len()),
            None => (origin.source.clone(), origin.places.tempo.clone()),
        };
        let length = if self.extent.duration.is_some() {
            LengthBy::Time {
                exact: self.extent.exact,
            }
        } else if self.extent.bars.is_some() {
            LengthBy::Bars
        } else if self.extent.to.is_some() || piece.times == Times::Endless {
            LengthBy::Nothing
        } else if self.extent.times.is_some() || origin.places.tempo.is_empty() {
            LengthBy::Times
        } else {
            LengthBy::DocumentTimes
        };
        WrittenPlan {
            source,
            span,
            length,
        }
    }

    fn excerpt(&self, piece: &mut Piece) -> Result<Excerpt, Failure> {
        if let Some(text) = &self.extent.times {
            piece.times = if text == "endless" {
                Times::Endless
            } else {
                Times::Count(u32::try_from(number("times", text, 1, MOST_TIMES)?).unwrap_or(1))
            };
        }
        let bar = |option: &str, text: &Option<String>| -> Result<Option<u64>, Failure> {
            let Some(text) = text else { return Ok(None) };
            Ok(u64::try_from(number(option, text, 1, MOST_BAR)?).ok())
        };
        let mut excerpt = Excerpt {
            from: bar("from", &self.extent.from)?,
            to: bar("to", &self.extent.to)?,
            length: None,
            exact: self.extent.exact,
        };
        if let Some(text) = &self.extent.duration {
            excerpt.length = Some(read_value("--for", text, read_length)?);
        }
        if self.extent.exact
            && !excerpt
                .length
                .is_some_and(|l| l.amount() == Amount::Seconds)
        {
            return Err(Failure::new(
                "exact-for",
                "`--exact` ends a piece after the time of `--for`, and no time is given",
                "write `--for 1min --exact`",
            ));
        }
        if let Some(text) = &self.extent.bars {
            let bars = number("bars", text, 1, MOST_BARS)?;
            excerpt.length = Some(Length::bars(u64::try_from(bars).unwrap_or(1)));
        }
        if excerpt.length.is_some() {
            // A length is filled with passes.
            piece.times = Times::Endless;
            piece.ending = Ending::None;
        }
        Ok(excerpt)
    }
}

/// The key to move a piece to. Moving keeps the mode: a note alone is the new tonic, another mode is refused.
fn moved(from: &Key, to: Key, text: &str) -> Result<Key, Failure> {
    if to.mode() == from.mode() {
        return Ok(to);
    }
    let kept = read_value("--key", text, |_| Key::new(to.tonic(), from.mode()))?;
    if PitchName::read(text.trim()).is_ok() {
        return Ok(kept);
    }
    let message = format!("a piece in {from} moves to a key of the same mode, found {to}");
    let problem = Problem::error(
        "option-key",
        0..text.len(),
        message,
        format!("write `--key '{kept}'`"),
    );
    Err(Failure::option("--key", text, problem))
}

fn tempo(text: &str, piece: &Piece) -> Result<TempoPlan, Failure> {
    let meter = piece.meter;
    if let Some(percent) = text.trim().strip_suffix('%') {
        let percent = percent.trim();
        let (whole, rest) = percent.split_once('.').unwrap_or((percent, "0"));
        let digits =
            |t: &str| !t.is_empty() && t.len() <= 3 && t.bytes().all(|b| b.is_ascii_digit());
        let milli = (digits(whole) && digits(rest))
            .then(|| format!("{whole}{rest:0<3}").parse::<u64>().ok())
            .flatten()
            .filter(|m| (10_000..=400_000).contains(m));
        let Some(milli) = milli else {
            let message = format!("a share of the tempo is 10% to 400%, found `{text}`");
            return Err(Failure::new(
                "tempo-percent",
                message,
                "write `--tempo 80%`",
            ));
        };
        let scaled = piece.tempo.scaled(milli);
        return match scaled.check(&meter) {
            Ok(()) => Ok(scaled),
            Err(e) => Err(Failure::new(
                e.code(),
                e.to_string(),
                "choose a share nearer to 100%",
            )),
        };
    }
    read_plan("--tempo", text, &meter)
}

/// A tempo plan that fits the meter.
pub(super) fn read_plan(option: &str, text: &str, meter: &Meter) -> Result<TempoPlan, Failure> {
    read_value(option, text, |text| {
        TempoPlan::read(text).and_then(|plan| plan.check(meter).map(|()| plan))
    })
}

fn choose_parts(text: &str, parts: &mut Parts) -> Result<(), Failure> {
    let names = Part::ALL.map(Part::name).join(", ");
    let help = format!("parts are {names}: `--parts click,bass`");
    let mut wanted: Vec<Part> = Vec::new();
    for word in text.split(',').map(str::trim).filter(|w| !w.is_empty()) {
        let Some(part) = Part::of(word) else {
            let message = format!("there is no part `{word}`");
            return Err(Failure::new("option-parts", message, help));
        };
        wanted.push(part);
    }
    if wanted.is_empty() {
        let message = "`--parts` names no part";
        return Err(Failure::new("option-parts", message, help));
    }
    for part in Part::ALL {
        parts.common_mut(part).on = wanted.contains(&part);
    }
    Ok(())
}
