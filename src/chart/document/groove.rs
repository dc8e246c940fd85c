//! `groove`, `variation` and `timing`: the rhythm that the parts share, by name or written out.

use toml::de::DeValue;

use super::fields::{Fields, Reader};
use crate::chart::{Piece, Problem, Timing, Variation};
use crate::groove::{read_groove, ready_groove};

impl Reader<'_, '_> {
    /// `groove`, a name or a table, `variation` and `timing`.
    pub(super) fn groove(&mut self, top: &mut Fields<'_, '_>, piece: &mut Piece) {
        if let Some(text) = self.string(top, "variation", "\"fills\"") {
            match Variation::read(text.value) {
                Ok(variation) => piece.variation = variation,
                Err(e) => self.refuse(&e, &text),
            }
        }
        if let Some(timing) = self.choice(top, "timing", &Timing::NAMES) {
            piece.timing = timing;
        }
        let Some(value) = top.get("groove") else {
            return;
        };
        if let DeValue::Table(table) = value.get_ref() {
            match read_groove(table, value.span(), piece.meter, &ready_groove) {
                Ok(groove) => piece.groove = Some(groove),
                Err(faults) => {
                    let problems = faults.iter().map(|fault| Problem::of(fault, value.span()));
                    self.problems.extend(problems);
                }
            }
        } else if let Some(name) = self.string(top, "groove", "\"shuffle\"") {
            match ready_groove(name.value) {
                Ok(groove) => piece.groove = Some(groove),
                Err(e) => self.refuse(&e, &name),
            }
        }
        if let Err(e) = piece.check_groove() {
            self.problems.push(Problem::of(&e, value.span()));
        }
    }
}
