//! Rules of fit: how they are named, and which chords of a piece break one.

use super::failure::Failure;
use crate::chart::FitRule;
use crate::theory::{Scale, ScaleKind};
use crate::view::{CheckReport, ChordFit, fits};

/// The rules of fit, a line each, as the help of several commands has them.
macro_rules! rules_of_fit {
    () => {
        "  inside  a beginner: every chord tone is a note of the set,
          so the shape holds every chord
  clear   a player who wants fuller chords: tones of the
          home scale, in which the set is heard, and no note
          of the set rubs (lies a semitone above a chord
          tone)
  home    a player who listens: any chord of the home scale;
          some notes of the set rub when held
  home with V
          the same, and in minor the major or 7 chord on the
          fifth; `--with E7` in A minor asks for it too
  blues   a blues player: what home admits, and 7, 9 and 13
          chords on the first, fourth and fifth; over minor
          sets the 7 chord on the flat sixth
"
    };
}
pub(super) use rules_of_fit;

/// A line for each chord that breaks a rule.
pub(super) fn judge(report: &CheckReport<'_>, rule: FitRule) -> Result<Vec<String>, Failure> {
    let Some(set) = &report.piece.set else {
        return Err(Failure::new(
            "fit-needs-set",
            "a rule of fit needs a set",
            "say which: `--set 'A minor pentatonic'`",
        ));
    };
    speaks_of(rule, set)?;
    let fits = fits(report);
    let name = rule.name();
    let said = |f: &ChordFit| {
        let why = f.fit.reason(rule)?;
        Some(format!("not {name}: {} in bar {}: {why}", f.symbol, f.bar))
    };
    Ok(fits.iter().filter_map(said).collect())
}

/// Whether a rule says anything about a set.
///
/// # Errors
/// For the blues rule over a set that is no blues set.
pub(super) fn speaks_of(rule: FitRule, set: &Scale) -> Result<(), Failure> {
    if rule != FitRule::Blues || set.kind().is_some_and(ScaleKind::is_blues) {
        return Ok(());
    }
    Err(Failure::new(
        "fit-blues",
        "the blues rule is for minor and major pentatonic and blues sets",
        "choose `--fit inside`, `--fit clear` or `--fit home`",
    ))
}

/// A rule by the name people type.
pub(super) fn fit_rule(text: &str) -> Result<FitRule, Failure> {
    super::options::choice("fit", text, &FitRule::NAMES)
}
