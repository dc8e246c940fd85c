//! The effort of a shape beside its grip, and a lower bound on the whole while the search is under way.
//!
//! The weights are explained with the [room](crate::neck#the-model-of-the-hand).

use super::{Branch, Search};
use crate::neck::hand::{MUTED, place_effort};
use crate::neck::weight;

/// The highest strings, from which a shape sounds full.
const FULL_STRINGS: usize = 5;

impl Search<'_> {
    /// A lower bound on the effort of the hand so far: its fingers, its place, and the open strings beside it.
    pub(super) fn least_of_hand(&self, branch: &Branch) -> u16 {
        let mut effort = weight::FINGER * small(branch.fingers);
        if self.low > 0 {
            let bass_low = branch.bass.is_some_and(|bass| bass.fret == self.low);
            let high = branch.high.max(self.low);
            effort += place_effort(self.low, high, branch.rings, bass_low);
        }
        // Counted as one finger so far, whether it lies flat or another joins it.
        if self.hand.barre() && branch.at_low > 1 && !branch.broken {
            effort += weight::BARRE_OF_TWO.min(weight::FINGER);
        }
        effort
    }

    /// A lower bound on the effort of every shape this branch leads to. A string left out above the last that sounds so
    /// far may turn out to lie between two that sound.
    pub(super) fn least_effort(&self, branch: &Branch) -> u16 {
        let left_out = self.left_out_above().min(weight::MUTED_BETWEEN);
        self.least_of_hand(branch) + self.effort_below(branch) + left_out * small(branch.trailing)
    }

    /// The effort of a string left out above the highest that sounds.
    fn left_out_above(&self) -> u16 {
        match self.tones.all.count_ones() {
            // Root and fifth alone are meant for the low strings.
            ..3 => weight::LEFT_OUT_ABOVE_TWO_TONES,
            _ => weight::LEFT_OUT_ABOVE,
        }
    }

    /// The effort that lies in the bass, in the strings left out below it and between those that sound; the weights are
    /// explained with the hand.
    fn effort_below(&self, branch: &Branch) -> u16 {
        let strings = branch.frets[..self.strings].iter();
        let below = strings.take_while(|fret| **fret == MUTED).count();
        // Root and fifth alone are meant for the low strings; other chords for the highest five and any beyond.
        let left_out = if self.tones.all.count_ones() < 3 {
            weight::LEFT_OUT_BELOW_TWO_TONES * small(below)
        } else {
            let extra = self.strings.saturating_sub(FULL_STRINGS);
            weight::LEFT_OUT_BELOW * small(below)
                + weight::THIN_STRING * small(below.saturating_sub(extra))
        };
        let step = match branch.lowest_step {
            _ if self.tones.slash.is_some() => 0,
            1..=3 => weight::CLOSE_TO_BASS,
            5 => weight::FOURTH_ON_BASS,
            _ => 0,
        };
        let bass = match branch.bass {
            Some(bass) if self.tones.slash.is_none() && bass.bit != self.tones.root => {
                if bass.bit == self.tones.fifth {
                    weight::FIFTH_IN_BASS
                } else {
                    weight::OTHER_IN_BASS
                }
            }
            _ => 0,
        };
        left_out + step + weight::MUTED_BETWEEN * small(branch.inner_mutes) + bass
    }

    /// The effort that lies in what sounds and what does not.
    pub(super) fn effort_of_sound(&self, branch: &Branch) -> u16 {
        let (root, fifth) = (self.tones.root, self.tones.fifth);
        let mut effort = self.effort_below(branch) + self.left_out_above() * small(branch.trailing);
        let missing = self.tones.all & !branch.sounding;
        for (tones, each) in [
            (root, weight::NO_ROOT),
            (fifth, weight::NO_FIFTH),
            (!(root | fifth), weight::NO_OTHER),
        ] {
            effort += each * small((missing & tones).count_ones() as usize);
        }
        effort
    }
}

/// A small count of strings, tones or fingers.
fn small(count: usize) -> u16 {
    u16::try_from(count).unwrap_or(0)
}
