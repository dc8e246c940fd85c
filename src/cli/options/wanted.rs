//! The changes to a piece, all options read.

use super::origin::Origin;
use super::prepared::Prepared;
use super::spot::{Section, Spot, rounds, sections};
use super::values::{NEEDS_KEY, number, parts, read_plan};
use super::{Changes, Extent};
use crate::arrange::{Arrangement, Excerpt, JamPasses, pass_count};
use crate::chart::{Ending, Form, Part, Piece, Problem, SourceText, Times};
use crate::cli::failure::{Failure, read_value};
use crate::cli::goal::{LengthBy, MOST_BARS, MOST_TIMES, WrittenPlan};
use crate::cli::part_settings;
use crate::diagnostic::Diagnostic;
use crate::neck::Tuning;
use crate::theory::{Key, KeyOrder, PitchName};
use crate::time::{Amount, Length, Meter, TempoPlan, read_length};

/// The changes to a piece, all options read.
#[derive(Clone, Debug, Default)]
pub(in crate::cli) struct Wanted {
    tempo: Option<WantedTempo>,
    /// The key, with what was typed.
    key: Option<(Key, String)>,
    transpose: Option<i32>,
    parts: Option<Vec<Part>>,
    tuning: Option<Tuning>,
    capo: Option<u8>,
    times: Option<Times>,
    length: Option<Length>,
    exact: bool,
    from: Option<Spot>,
    to: Option<Spot>,
    count_in: Option<u32>,
    looped: bool,
    /// Settings of parts, which are read as the lines of a document.
    part: Vec<String>,
    seed: Option<u64>,
    /// The options that choose a part of the piece to play, which a document does not hold.
    excerpt_options: Vec<&'static str>,
}

/// A tempo of its own, or a share of the piece's.
#[derive(Clone, Debug)]
enum WantedTempo {
    /// A plan as it was typed: whether it can be played depends on the meter.
    Plan(String),
    /// A share of the tempo in thousandths of a percent.
    Share(u64),
}

impl Extent {
    /// Refuses settings of parts that a piece of one part does not have.
    pub(in crate::cli) fn refuse_other_parts(&self, only: Part) -> Result<(), Failure> {
        let of = |text: &&String| {
            text.split('.')
                .next()
                .and_then(|part| Part::of(part.trim()))
        };
        let other = self
            .part
            .iter()
            .find(|text| of(text).is_some_and(|part| part != only));
        let Some(text) = other else { return Ok(()) };
        let name = only.name();
        Err(Failure::new(
            "option-part-absent",
            format!("the only part here is the {name}, found `{text}`"),
            format!("write a setting of it, such as `--part {name}.level=80`"),
        ))
    }

    /// Reads all options.
    pub(in crate::cli) fn read(&self) -> Result<Wanted, Failure> {
        Changes::from(self.clone()).read()
    }

    fn times(&self) -> Result<Option<Times>, Failure> {
        let Some(text) = &self.times else {
            return Ok(None);
        };
        if text == "endless" {
            return Ok(Some(Times::Endless));
        }
        let count = number("times", text, 1, MOST_TIMES)?;
        Ok(Some(Times::Count(u32::try_from(count).unwrap_or(1))))
    }

    fn length(&self) -> Result<Option<Length>, Failure> {
        let time = self.duration.as_ref();
        let time = time.map(|text| read_value("--for", text, read_length));
        let time = time.transpose()?;
        if self.exact && time.is_none_or(|length| length.amount() != Amount::Seconds) {
            return Err(Failure::new(
                "exact-for",
                "`--exact` ends a piece after the time of `--for`, and no time is given",
                "write `--for 1min --exact`",
            ));
        }
        let Some(text) = &self.bars else {
            return Ok(time);
        };
        let bars = number("bars", text, 1, MOST_BARS)?;
        Ok(Some(Length::bars(u64::try_from(bars).unwrap_or(1))))
    }

    fn options_of_excerpt(&self) -> Vec<&'static str> {
        let options = [
            ("--for", &self.duration),
            ("--bars", &self.bars),
            ("--from", &self.from),
            ("--to", &self.to),
        ];
        let given = options.into_iter().filter(|(_, value)| value.is_some());
        given.map(|(name, _)| name).collect()
    }
}

/// `80%` in thousandths of a percent.
fn share(text: &str, percent: &str) -> Result<u64, Failure> {
    let percent = percent.trim();
    let (whole, rest) = percent.split_once('.').unwrap_or((percent, "0"));
    let digits = |t: &str| !t.is_empty() && t.len() <= 3 && t.bytes().all(|b| b.is_ascii_digit());
    (digits(whole) && digits(rest))
        .then(|| format!("{whole}{rest:0<3}").parse::<u64>().ok())
        .flatten()
        .filter(|share| (10_000..=400_000).contains(share))
        .ok_or_else(|| {
            let message = format!("a share of the tempo is 10% to 400%, found `{text}`");
            Failure::new("tempo-percent", message, "write `--tempo 80%`")
        })
}

impl Changes {
    /// Reads all options.
    pub(in crate::cli) fn read(&self) -> Result<Wanted, Failure> {
        let extent = &self.extent;
        let whole = |option: &str, text: &Option<String>, min, max| {
            let text = text.as_ref();
            text.map(|text| number(option, text, min, max)).transpose()
        };
        let tempo = match &self.tempo {
            None => None,
            Some(text) => Some(match text.trim().strip_suffix('%') {
                Some(percent) => WantedTempo::Share(share(text, percent)?),
                None => WantedTempo::Plan(text.clone()),
            }),
        };
        let key = match &self.key {
            None => None,
            Some(text) => Some((read_value("--key", text, Key::read)?, text.clone())),
        };
        let tuning = self.tuning.as_ref();
        let tuning = tuning.map(|text| read_value("--tuning", text, Tuning::read));
        let semitones = whole("transpose", &self.transpose, -24, 24)?;
        let capo = whole("capo", &self.capo, 0, 12)?;
        let count_in = whole("count-in", &extent.count_in, 0, 8)?;
        let seed = whole("seed", &extent.seed, 0, i64::MAX)?;
        Ok(Wanted {
            tempo,
            key,
            transpose: semitones.and_then(|n| i32::try_from(n).ok()),
            parts: self.parts.as_deref().map(parts).transpose()?,
            tuning: tuning.transpose()?,
            capo: capo.and_then(|fret| u8::try_from(fret).ok()),
            times: extent.times()?,
            length: extent.length()?,
            exact: extent.exact,
            from: Spot::read("from", extent.from.as_ref())?,
            to: Spot::read("to", extent.to.as_ref())?,
            count_in: count_in.and_then(|bars| u32::try_from(bars).ok()),
            looped: extent.looped,
            part: extent.part.clone(),
            seed: seed.and_then(|seed| u64::try_from(seed).ok()),
            excerpt_options: extent.options_of_excerpt(),
        })
    }
}

impl Wanted {
    /// The seed, where one was given.
    pub(in crate::cli) const fn seed(&self) -> Option<u64> {
        self.seed
    }

    /// The key, where one was given.
    pub(in crate::cli) fn key(&self) -> Option<Key> {
        self.key.as_ref().map(|(key, _)| *key)
    }

    /// Moves the piece, or gives it a key.
    pub(in crate::cli) fn harmony(&self, piece: &mut Piece) -> Result<(), Failure> {
        if let Some((key, text)) = &self.key {
            // The piece lists its keys, and `--key` would contradict that.
            if let Some(KeyOrder::Chosen(keys)) = &piece.keys
                && keys.first() != Some(key)
            {
                let keys: Vec<String> = keys.iter().map(Key::to_string).collect();
                let message = format!(
                    "the piece is played in the keys it lists, {}",
                    keys.join(", ")
                );
                let help = "leave `--key` out, or list other keys";
                return Err(Failure::new("key-keys", message, help));
            }
            match piece.key {
                Some(from) => piece.target = Some(moved(&from, *key, text)?),
                None => piece.key = Some(*key),
            }
        }
        if let Some(semitones) = self.transpose {
            piece.target = None;
            piece.transpose = semitones;
        }
        Ok(())
    }

    /// Makes all changes but those of harmony, unfolds the piece and arranges it. Problems of the chart are shown in its
    /// origin.
    pub(in crate::cli) fn apply(&self, piece: Piece, origin: Origin) -> Result<Prepared, Failure> {
        self.apply_over(piece, origin, |_| None)
    }

    /// The same; `passes` makes those of an endless jam, which are not all the same.
    pub(in crate::cli) fn apply_over(
        &self,
        mut piece: Piece,
        origin: Origin,
        passes: impl FnOnce(&Piece) -> Option<JamPasses>,
    ) -> Result<Prepared, Failure> {
        if let Some(tempo) = &self.tempo {
            piece.tempo = tempo.plan(&piece)?;
        }
        if let Some(bars) = self.count_in {
            piece.parts.click.count_in = bars;
        }
        if let Some(seed) = self.seed {
            piece.seed = seed;
        }
        if let Some(wanted) = &self.parts {
            for part in Part::ALL {
                piece.parts.common_mut(part).on = wanted.contains(&part);
            }
        }
        if !self.part.is_empty() {
            part_settings::change(&self.part, &mut piece)?;
        }
        if self.tuning.is_some() {
            piece.tuning = self.tuning;
        }
        if let Some(fret) = self.capo {
            piece.capo = fret;
        }
        if self.looped {
            piece.parts.click.count_in = 0;
            piece.ending = Ending::None;
        }
        if let Some(times) = self.times {
            piece.times = times;
        }
        if self.length.is_some() {
            // Passes are repeated to fill the length.
            piece.times = Times::Endless;
            piece.ending = Ending::None;
        }
        self.arranged(piece, origin, passes)
    }

    /// Unfolds and arranges a piece that all changes were made to.
    fn arranged(
        &self,
        mut piece: Piece,
        origin: Origin,
        passes: impl FnOnce(&Piece) -> Option<JamPasses>,
    ) -> Result<Prepared, Failure> {
        let plan = self.written_plan(&piece, &origin);
        let mut form = piece.unfold().map_err(|mut problems| {
            for problem in problems.iter_mut().filter(|p| p.code == "needs-key") {
                problem.help = NEEDS_KEY.to_owned();
            }
            Failure::text(origin.source.clone(), problems)
        })?;
        let mut excerpt = self.excerpt(&form)?;
        if let Some(to) = excerpt.to.filter(|_| self.in_rounds()) {
            form = rounds(&form, excerpt.from.unwrap_or(1), to)?;
            piece.ending = Ending::None;
            (excerpt.from, excerpt.to) = (None, None);
        }
        if self.looped && excerpt == Excerpt::default() && piece.times != Times::Endless {
            // The loop is voiced around its seam, as so many passes of a piece without end.
            let passes = pass_count(&piece)
                .map_err(|e| origin.wrong(e))?
                .unwrap_or(1);
            let bars = passes.saturating_mul(form.pass.len() as u64);
            excerpt.from = Some(form.intro.len() as u64 + 1);
            excerpt.length = Some(Length::bars(bars.max(1)));
            piece.times = Times::Endless;
        }
        let made = match passes(&piece) {
            Some(_) if self.in_rounds() => {
                let message = "an endless jam draws other bars in each pass, so none go round";
                let help = "leave `--endless` or `--to` out";
                return Err(Failure::new("jam-endless-rounds", message, help));
            }
            Some(passes) => Arrangement::made(&piece, form.clone(), Box::new(passes), excerpt),
            None => Arrangement::new(&piece, form.clone(), excerpt),
        };
        let arrangement = made.map_err(|e| origin.wrong(e))?;
        Ok(Prepared {
            piece,
            form,
            excerpt_options: self.excerpt_options.clone(),
            looped: self.looped,
            exact: self.exact,
            plan,
            arrangement,
        })
    }

    /// The part of the piece that is asked for.
    fn excerpt(&self, form: &Form) -> Result<Excerpt, Failure> {
        let sections = sections(form);
        let spot = |option, spot: &Option<Spot>, bar: fn(&Section) -> u64| {
            let spot = spot.as_ref();
            spot.map(|spot| spot.bar(option, &sections, bar))
                .transpose()
        };
        Ok(Excerpt {
            from: spot("from", &self.from, |section| section.first)?,
            to: spot("to", &self.to, |section| section.last)?,
            length: self.length,
            exact: self.exact,
        })
    }

    /// Whether the bars up to `--to` are played as often, or as long, as another option says.
    const fn in_rounds(&self) -> bool {
        self.to.is_some() && (self.times.is_some() || self.length.is_some())
    }

    /// Where the tempo plan is written, and the option or line that makes the piece longer.
    fn written_plan(&self, piece: &Piece, origin: &Origin) -> WrittenPlan {
        let (source, span) = match &self.tempo {
            Some(WantedTempo::Plan(text)) => {
                (SourceText::new("<--tempo>", text.clone()), 0..text.len())
            }
            _ => (origin.source.clone(), origin.places.tempo.clone()),
        };
        let length = match self.length {
            // Who asks for a time to the tick, or for a loop, knows that the plan does not end there.
            _ if self.exact || self.looped => LengthBy::Nothing,
            Some(_) if self.excerpt_options.contains(&"--bars") => LengthBy::Bars,
            Some(_) => LengthBy::Time,
            None if (self.to.is_some() && !self.in_rounds()) || piece.times == Times::Endless => {
                LengthBy::Nothing
            }
            None if self.times.is_some() || origin.places.tempo.is_empty() => LengthBy::Times,
            None => LengthBy::DocumentTimes,
        };
        WrittenPlan {
            source,
            span,
            length,
        }
    }
}

impl WantedTempo {
    /// The plan for a piece.
    fn plan(&self, piece: &Piece) -> Result<TempoPlan, Failure> {
        let meter: &Meter = &piece.meter;
        match self {
            WantedTempo::Plan(text) => read_plan("--tempo", text, meter),
            WantedTempo::Share(share) => {
                let scaled = piece.tempo.scaled(*share);
                match scaled.check(meter) {
                    Ok(()) => Ok(scaled),
                    Err(e) => {
                        let help = "choose a share nearer to 100%";
                        Err(Failure::new(e.code(), e.to_string(), help))
                    }
                }
            }
        }
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
    let help = format!("write `--key '{kept}'`");
    let problem = Problem::error("option-key", 0..text.len(), message, help);
    Err(Failure::option("--key", text, problem))
}
