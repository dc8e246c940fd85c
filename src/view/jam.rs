//! A generated progression: bar by bar with how it fits, in every key it goes through, and the odds of every choice.

use std::fmt::Write;

use serde::Serialize;

use super::theory::FitJson;
use crate::arrange::PassScore;
use crate::chart::FitRule;
use crate::generate::{
    Fit, Generator, Odds, Progression, Table, chart_text, fit_bars, weight_tables,
};
use crate::theory::{Chord, Harmony};

/// A progression and what it was drawn from.
pub struct JamReport<'a> {
    /// The table of chords that may be used.
    pub table: &'a Table,
    /// The generator that drew it.
    pub generator: &'a Generator,
    /// The progression that was drawn.
    pub progression: &'a Progression,
    /// The seed it was drawn by.
    pub seed: u64,
    /// How many of the likeliest sequences to list.
    pub likeliest: usize,
    /// Whether to tell the odds of each choice and the count of all.
    pub why: bool,
    /// The passes as they sound, in the order of the keys; none where the piece stays in one key.
    pub passes: Vec<PassScore>,
}

impl JamReport<'_> {
    /// The progression as text: the chart, for each bar the notes of the set that are chord tones and what rubs, and the
    /// chords of each pass where they go through keys. With `why` also the odds of the three draws.
    pub fn text(&self) -> String {
        let JamReport {
            table,
            generator,
            progression,
            seed,
            ..
        } = self;
        let bars = progression.chords_by_bar();
        let rule = FitRule::name(table.rule);
        let notes: Vec<String> = table.set.notes().iter().map(ToString::to_string).collect();
        let mut out = format!(
            "{}: {}, rule {rule}, seed {seed}\n",
            table.set.name(),
            notes.join(" ")
        );
        let _ = writeln!(out, "{}", chart_text(&bars));
        self.bars_text(&bars, &mut out);
        for (number, pass) in (1..).zip(&self.passes) {
            let key = pass.key.map_or(String::new(), |key| format!(" in {key}"));
            let _ = writeln!(out, "pass {number}{key}\n{}", pass_chart(pass));
        }
        if self.why {
            self.odds_text(&mut out);
        }
        for (rank, (chords, own)) in (1..).zip(generator.likeliest(progression, self.likeliest)) {
            let odds = if self.why {
                format!(" ({})", odds(&own))
            } else {
                String::new()
            };
            let _ = writeln!(out, "{rank:>5}  {}{odds}", names(&chords).join(" "));
        }
        out
    }

    /// Each chord with how it fits.
    fn bars_text(&self, bars: &[Vec<Chord>], out: &mut String) {
        let width = bars
            .iter()
            .flatten()
            .map(|c| c.to_string().chars().count())
            .max()
            .unwrap_or(1)
            .max(5);
        let _ = writeln!(
            out,
            "  bar  {:<width$}  notes of the set in the chord",
            "chord"
        );
        let fits = self.fits(bars);
        for (number, (bar, fits)) in (1..).zip(bars.iter().zip(&fits)) {
            for (i, (chord, found)) in bar.iter().zip(fits).enumerate() {
                let shared: Vec<String> = found.shared.iter().map(ToString::to_string).collect();
                let rubs: Vec<String> = found
                    .rubs
                    .iter()
                    .map(|r| format!("{} rubs on {}", r.note, r.against))
                    .collect();
                let label = if i == 0 {
                    format!("{number}")
                } else {
                    String::new()
                };
                let rest = if rubs.is_empty() {
                    String::new()
                } else {
                    format!("; {}", rubs.join(", "))
                };
                let _ = writeln!(
                    out,
                    "{label:>5}  {:<width$}  {}{rest}",
                    chord.to_string(),
                    shared.join(" ")
                );
            }
        }
    }

    /// How the chords of the bars lie over the set.
    fn fits(&self, bars: &[Vec<Chord>]) -> Vec<Vec<Fit>> {
        let bar = |bar: &Vec<Chord>| bar.iter().copied().map(Harmony::Chord).collect();
        let bars: Vec<Vec<Harmony>> = bars.iter().map(bar).collect();
        fit_bars(&bars, &self.table.set, &self.table.home)
    }

    /// How likely each choice was.
    fn odds_text(&self, out: &mut String) {
        let (generator, progression) = (self.generator, self.progression);
        if let Some(plan) = generator.plan(progression) {
            let phrases = match plan.named {
                true => String::new(),
                false => format!("phrases of {} bars, ", plan.phrase_bars),
            };
            let odds = odds(&progression.plan_odds);
            let _ = writeln!(out, "plan      {phrases}{} ({odds})", plan.form);
        }
        let palette = names(&progression.palette);
        let _ = writeln!(
            out,
            "palette   {} ({} different: {}; these: {})",
            palette.join(" "),
            palette.len(),
            odds(&progression.size_odds),
            odds(&progression.palette_odds)
        );
        let _ = writeln!(out, "sequence  {}", odds(&progression.sequence_odds));
        let _ = writeln!(out, "in all    {} ways", generator.count());
    }

    /// The same as one line of JSON.
    pub fn json(&self) -> String {
        let JamReport {
            table,
            generator,
            progression,
            seed,
            ..
        } = self;
        let bars = progression.chords_by_bar();
        let fits = self.fits(&bars);
        let plan = generator.plan(progression);
        let odds = |odds: &Odds| self.why.then(|| OddsJson::new(odds));
        let json = JamJson {
            set: table.set.name(),
            home: table.home.name(),
            rule: FitRule::name(table.rule),
            seed: *seed,
            chart: chart_text(&bars),
            bars: (1..)
                .zip(bars.iter().zip(&fits))
                .map(|(bar, (chords, fits))| BarJson::new(bar, chords, fits))
                .collect(),
            passes: (1..).zip(&self.passes).map(PassJson::new).collect(),
            plan: PlanJson {
                phrase_bars: plan.as_ref().map_or(0, |p| p.phrase_bars),
                form: plan.map_or(String::new(), |p| p.form),
                odds: odds(&progression.plan_odds),
            },
            palette: PaletteJson {
                chords: names(&progression.palette),
                size_odds: odds(&progression.size_odds),
                odds: odds(&progression.palette_odds),
            },
            sequence_odds: odds(&progression.sequence_odds),
            likeliest: generator
                .likeliest(progression, self.likeliest)
                .iter()
                .map(|(chords, own)| LikelyJson {
                    chords: names(chords),
                    odds: odds(own),
                })
                .collect(),
            count: self.why.then(|| generator.count().to_string()),
            weights: if self.why {
                WeightJson::all()
            } else {
                Vec::new()
            },
        };
        serde_json::to_string(&json).unwrap_or_default()
    }
}

/// The symbols of chords.
fn names(chords: &[Chord]) -> Vec<String> {
    chords.iter().map(ToString::to_string).collect()
}

/// The chords of a pass in the chart notation, four bars to a line.
fn pass_chart(pass: &PassScore) -> String {
    let bars: Vec<String> = pass
        .bars
        .iter()
        .map(|bar| {
            let chords = bar.chords.iter().filter(|c| !c.held);
            let names: Vec<String> = chords.map(|c| c.harmony.to_string()).collect();
            format!(" {} |", names.join(" "))
        })
        .collect();
    let lines: Vec<String> = bars
        .chunks(4)
        .map(|line| format!("|{}", line.concat()))
        .collect();
    lines.join("\n")
}

/// Exact where the numbers are small enough to read; JSON always has them.
fn odds(odds: &Odds) -> String {
    if odds.total < 1_000_000 {
        format!("{} of {}", odds.share, odds.total)
    } else {
        format!("{:.2} %", odds.probability() * 100.0)
    }
}

#[derive(Serialize)]
struct JamJson {
    set: String,
    home: String,
    rule: &'static str,
    seed: u64,
    chart: String,
    bars: Vec<BarJson>,
    #[serde(skip_serializing_if = "Vec::is_empty")]
    passes: Vec<PassJson>,
    plan: PlanJson,
    palette: PaletteJson,
    #[serde(skip_serializing_if = "Option::is_none")]
    sequence_odds: Option<OddsJson>,
    #[serde(skip_serializing_if = "Vec::is_empty")]
    likeliest: Vec<LikelyJson>,
    /// An integer too large for a JSON number, written as a string.
    #[serde(skip_serializing_if = "Option::is_none")]
    count: Option<String>,
    #[serde(skip_serializing_if = "Vec::is_empty")]
    weights: Vec<WeightJson>,
}

#[derive(Serialize)]
struct BarJson {
    bar: usize,
    chords: Vec<ChordJson>,
}

impl BarJson {
    /// A bar, counted from 1, each chord with how it fits.
    fn new(bar: usize, chords: &[Chord], fits: &[Fit]) -> Self {
        let chord = |(chord, found): (&Chord, &Fit)| ChordJson {
            symbol: chord.to_string(),
            shared: found.shared.iter().map(ToString::to_string).collect(),
            fit: FitJson::new(found),
        };
        BarJson {
            bar,
            chords: chords.iter().zip(fits).map(chord).collect(),
        }
    }
}

#[derive(Serialize)]
struct ChordJson {
    symbol: String,
    shared: Vec<String>,
    fit: FitJson,
}

/// A pass in one of the keys, counted from 1.
#[derive(Serialize)]
struct PassJson {
    pass: usize,
    key: Option<String>,
    chart: String,
}

impl PassJson {
    fn new((pass, score): (usize, &PassScore)) -> Self {
        PassJson {
            pass,
            key: score.key.map(|key| key.to_string()),
            chart: pass_chart(score),
        }
    }
}

#[derive(Serialize)]
struct PlanJson {
    phrase_bars: u32,
    form: String,
    #[serde(skip_serializing_if = "Option::is_none")]
    odds: Option<OddsJson>,
}

#[derive(Serialize)]
struct PaletteJson {
    chords: Vec<String>,
    #[serde(skip_serializing_if = "Option::is_none")]
    size_odds: Option<OddsJson>,
    #[serde(skip_serializing_if = "Option::is_none")]
    odds: Option<OddsJson>,
}

#[derive(Serialize)]
struct LikelyJson {
    chords: Vec<String>,
    #[serde(skip_serializing_if = "Option::is_none")]
    odds: Option<OddsJson>,
}

#[derive(Serialize)]
struct WeightJson {
    table: &'static str,
    row: String,
    weight: u64,
    reason: &'static str,
}

impl WeightJson {
    fn all() -> Vec<WeightJson> {
        weight_tables()
            .into_iter()
            .map(|(table, row, weight, reason)| WeightJson {
                table,
                row,
                weight,
                reason,
            })
            .collect()
    }
}

/// Exact whole numbers as text, and their quotient.
#[derive(Serialize)]
struct OddsJson {
    share: String,
    total: String,
    probability: f64,
}

impl OddsJson {
    fn new(odds: &Odds) -> Self {
        OddsJson {
            share: odds.share.to_string(),
            total: odds.total.to_string(),
            probability: odds.probability(),
        }
    }
}
