//! The tones of a chord as the search sees them: which must sound, and which may be missing.

use crate::theory::{Chord, Degree};

/// How strictly the tones of a chord are asked for; each step is tried where the one before finds nothing.
#[derive(Clone, Copy, PartialEq, Eq)]
pub(super) enum Strictness {
    /// All but a natural fifth, a natural ninth below an eleventh or thirteenth, an eleventh below a thirteenth, and the
    /// root of a chord of five tones or more whose fifth is not there either (common practice).
    Full,
    /// As well, one altered ninth of two and one altered fifth, eleventh or thirteenth of several are enough, and the
    /// root may be missing.
    Altered,
    /// The third or what is in its place, and the seventh or sixth.
    Shell,
}

/// A set of tones, a bit each.
pub(super) type Bits = u16;

/// The tones of a chord as the search sees them.
pub(super) struct Tones {
    /// The bit of each pitch class; none for a foreign one.
    pub(super) bits: [Bits; 12],
    pub(super) root: Bits,
    pub(super) fifth: Bits,
    pub(super) all: Bits,
    /// Tones that must sound.
    pub(super) needed: Bits,
    /// Groups in which at least one tone must sound.
    groups: [Bits; 2],
    /// Whether the root may be missing only with the fifth.
    root_after_fifth: bool,
    /// The pitch class of the slash bass.
    pub(super) slash: Option<u8>,
}

impl Tones {
    pub(super) fn new(chord: &Chord, strictness: Strictness) -> Tones {
        let class = |degree: Degree| {
            let class = chord.root().pitch_class().up(degree.semitones());
            usize::from(class.value())
        };
        let mut tones = Tones {
            bits: [0; 12],
            root: 0,
            fifth: 0,
            all: 0,
            needed: 0,
            groups: [0; 2],
            root_after_fifth: false,
            slash: chord.slash().map(|bass| bass.pitch_class().value()),
        };
        for degree in chord.degrees() {
            let bit = 1 << class(*degree);
            tones.bits[class(*degree)] = bit;
            tones.all |= bit;
        }
        let has = |number: u8| chord.degrees().iter().any(|d| d.number() == number);
        let of = |wanted: &dyn Fn(Degree) -> bool| -> Bits {
            let degrees = chord.degrees().iter();
            degrees
                .filter(|degree| wanted(**degree))
                .fold(0, |bits, degree| bits | 1 << class(*degree))
        };
        tones.root = of(&|d| d == Degree::ROOT);
        tones.fifth = of(&|d| d.number() == 5 && d.alter() == 0);
        let count = tones.all.count_ones();
        let stacked = has(7) && (has(11) || has(13));
        let mut free = 0;
        if count > 3 {
            free |= of(&|d| match (d.number(), d.alter()) {
                (5, 0) => true,
                (9, 0) => stacked,
                (11, 0) => stacked && has(13),
                _ => false,
            });
        }
        if count > 4 {
            free |= tones.root;
            tones.root_after_fifth = strictness == Strictness::Full;
        }
        tones.needed = tones.all & !free;
        if strictness == Strictness::Altered {
            let ninths = of(&|d| d.number() == 9 && d.alter() != 0);
            let others = of(&|d| matches!(d.number(), 5 | 11 | 13) && d.alter() != 0);
            for (group, bits) in tones.groups.iter_mut().zip([ninths, others]) {
                if bits.count_ones() > 1 {
                    tones.needed &= !bits;
                    *group = bits;
                }
            }
        }
        if strictness == Strictness::Shell {
            let third = match has(3) {
                true => of(&|d| d.number() == 3),
                false => of(&|d| matches!(d.number(), 2 | 4)),
            };
            let seventh = match has(7) {
                true => of(&|d| d.number() == 7),
                false => of(&|d| d.number() == 6),
            };
            tones.needed &= third | seventh;
        }
        tones
    }

    /// Whether so many tones are enough.
    pub(super) fn enough(&self, sounding: Bits) -> bool {
        let missing = |bits: Bits| bits != 0 && sounding & bits == 0;
        sounding & self.needed == self.needed
            && !self.groups.iter().any(|group| missing(*group))
            && !(self.root_after_fifth && missing(self.root) && sounding & self.fifth != 0)
            // Of a chord of three tones or more at least three are heard.
            && sounding.count_ones() >= self.all.count_ones().min(3)
    }
}
