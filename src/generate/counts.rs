//! Counts from a body of songs, from which the weights of progressions are made.
//!
//! Source: McGill Billboard annotations 2.0 (salami_chords), 739 songs of the US chart from 1958 to 1991, duplicates dropped.
//! Licence: CC0. Attribution: J. A. Burgoyne, J. Wild and I. Fujinaga, An Expert Ground Truth Set for Audio Chord
//! Recognition and Music Analysis, ISMIR 2011. Changed: aggregated into counts. A song counts as minor where its tonic
//! chord is minor more often than major: 132 songs, against 604 major ones.

/// The two kinds of home that were counted apart.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Third {
    /// Homes with a major third.
    Major,
    /// Homes with a minor third.
    Minor,
}

/// How often a root is followed by another: by row and column in semitones above the tonic.
type Changes = [[u16; 12]; 12];

/// Changes of root in major songs.
#[rustfmt::skip]
const MAJOR_CHANGES: Changes = [
    [0, 38, 1544, 414, 462, 6022, 30, 3460, 187, 1708, 1439, 81],
    [74, 0, 22, 17, 1, 10, 59, 12, 70, 0, 13, 5],
    [935, 33, 0, 21, 304, 687, 30, 1794, 17, 246, 166, 27],
    [108, 21, 108, 0, 9, 340, 12, 66, 100, 3, 180, 2],
    [141, 9, 406, 33, 0, 483, 11, 203, 1, 692, 10, 31],
    [6329, 10, 540, 202, 474, 0, 55, 3659, 113, 354, 441, 7],
    [35, 63, 11, 7, 33, 32, 0, 55, 30, 2, 3, 47],
    [5790, 22, 587, 51, 300, 2305, 20, 0, 95, 711, 165, 14],
    [105, 82, 3, 86, 1, 54, 30, 136, 0, 41, 192, 14],
    [564, 4, 1018, 8, 340, 1132, 10, 635, 42, 0, 103, 39],
    [1032, 0, 27, 102, 9, 1124, 0, 174, 90, 120, 0, 42],
    [45, 4, 8, 10, 91, 23, 62, 16, 2, 33, 15, 0],
];

/// Changes of root in minor songs.
#[rustfmt::skip]
const MINOR_CHANGES: Changes = [
    [0, 69, 81, 417, 0, 1242, 0, 380, 647, 5, 767, 14],
    [92, 0, 2, 16, 1, 4, 4, 16, 17, 0, 10, 0],
    [53, 18, 0, 38, 0, 32, 0, 90, 2, 59, 13, 0],
    [212, 22, 38, 0, 13, 362, 9, 63, 206, 1, 208, 0],
    [0, 3, 6, 1, 0, 16, 8, 2, 0, 3, 0, 9],
    [1136, 2, 57, 227, 12, 0, 12, 364, 197, 8, 247, 0],
    [0, 6, 0, 0, 0, 18, 0, 7, 23, 0, 1, 4],
    [741, 0, 48, 72, 6, 225, 4, 0, 206, 5, 55, 1],
    [276, 20, 5, 151, 2, 134, 17, 331, 0, 8, 691, 1],
    [6, 0, 66, 0, 2, 12, 0, 6, 2, 0, 3, 1],
    [1023, 25, 1, 211, 0, 227, 1, 140, 338, 5, 0, 8],
    [13, 0, 0, 2, 12, 4, 4, 1, 0, 1, 0, 0],
];

/// Major songs, of 604, that use a root at all.
const MAJOR_SONGS: [u16; 12] = [603, 59, 379, 133, 245, 567, 69, 561, 131, 364, 220, 63];

/// Minor songs, of 132, that use a root at all.
const MINOR_SONGS: [u16; 12] = [132, 20, 30, 88, 14, 109, 10, 99, 99, 16, 95, 10];

/// Chords on a root: major, 7, maj7, minor, m7.
type Qualities = [[u16; 5]; 12];

/// The suffixes of these chords.
pub(super) const SUFFIXES: [&str; 5] = ["", "7", "maj7", "m", "m7"];

/// Chords by root in major songs; a kind that is not among the most frequent of its root counts as none.
#[rustfmt::skip]
const MAJOR_QUALITIES: Qualities = [
    [21555, 3481, 984, 241, 0],
    [243, 11, 46, 6, 9],
    [807, 607, 23, 1914, 1801],
    [784, 46, 74, 27, 58],
    [212, 271, 0, 923, 849],
    [11849, 967, 860, 395, 244],
    [170, 34, 20, 16, 22],
    [7829, 2932, 0, 253, 318],
    [537, 64, 143, 0, 42],
    [361, 339, 0, 2824, 1177],
    [2353, 112, 72, 0, 47],
    [103, 53, 0, 38, 58],
];

/// Chords by root in minor songs; a kind that is not among the most frequent of its root counts as none.
#[rustfmt::skip]
const MINOR_QUALITIES: Qualities = [
    [265, 36, 0, 4510, 2566],
    [72, 15, 8, 12, 0],
    [119, 15, 0, 89, 54],
    [938, 75, 33, 5, 24],
    [20, 1, 0, 19, 0],
    [636, 414, 0, 541, 552],
    [20, 0, 5, 0, 0],
    [354, 426, 0, 448, 261],
    [1349, 67, 414, 0, 0],
    [11, 3, 0, 142, 3],
    [1767, 73, 30, 0, 44],
    [0, 6, 8, 27, 0],
];

/// The last chord of loops that begin on the tonic, by its root: 75 of two bars that one major song repeats alone, so that
/// they do not stand below, and 292 of four bars, whoever repeats them.
#[rustfmt::skip]
const MAJOR_LAST: [[u16; 12]; 2] = [
    [18, 0, 4, 0, 4, 21, 0, 23, 0, 1, 4, 0],
    [86, 0, 13, 0, 3, 67, 0, 89, 5, 7, 15, 0],
];

/// The same of minor songs. One song alone repeats only 30 loops of two bars, so those of four and of eight bars are added
/// to them: 130. Of four bars there are 92, whoever repeats them.
#[rustfmt::skip]
const MINOR_LAST: [[u16; 12]; 2] = [
    [29, 2, 1, 13, 0, 14, 0, 27, 6, 0, 38, 0],
    [17, 0, 1, 6, 0, 18, 0, 18, 5, 0, 27, 0],
];

/// Loops of two and of four bars that at least two songs repeat at once: the songs, and the bars as numerals. A loop
/// stands as its song writes the phrase, so the same chords can stand there from another one on.
#[rustfmt::skip]
pub(super) const LOOPS: [(u64, &str); 110] = [
    (53, "I | IV"),
    (28, "V | I"),
    (24, "I | V"),
    (23, "IV | I"),
    (19, "I | IV V"),
    (18, "ii | V"),
    (14, "V | IV"),
    (12, "I | vi"),
    (11, "IV V | I"),
    (10, "I IV | I"),
    (9, "IV | V"),
    (7, "I | bVII"),
    (7, "I | bVII IV"),
    (7, "I IV | V"),
    (7, "I | ii"),
    (7, "I vi | ii V"),
    (6, "i | bVI bVII"),
    (6, "I vi | IV V"),
    (6, "I V | IV V"),
    (5, "bVII | i"),
    (5, "bVI | bVII"),
    (5, "I | v"),
    (5, "I | iv"),
    (5, "i | IV"),
    (5, "I | I IV"),
    (4, "I | IV I"),
    (4, "bVII | I"),
    (4, "V IV | I"),
    (4, "I IV | V IV"),
    (4, "I | I V"),
    (4, "II | V"),
    (4, "bIII | bVI"),
    (4, "I V | IV"),
    (4, "IV | bIII"),
    (4, "bVII IV | I"),
    (3, "IV | iii"),
    (3, "vi | IV"),
    (3, "bIII | IV"),
    (3, "I IV | V I"),
    (2, "v | iv"),
    (2, "I | bVI bVII"),
    (2, "i IV | IV"),
    (2, "I | II"),
    (2, "IV | bVII"),
    (2, "IV I | V I"),
    (2, "I bVII | IV"),
    (2, "v | I"),
    (2, "bII | i"),
    (2, "bVI | bII"),
    (2, "vi | I"),
    (2, "bVI bVII | i"),
    (2, "i | i IV"),
    (2, "iv | bVII"),
    (2, "i | bVI"),
    (2, "i | iv"),
    (23, "I | I | IV | IV"),
    (13, "IV | IV | I | I"),
    (13, "I | V | I | I"),
    (11, "I | I | V | V"),
    (8, "V | V | I | I"),
    (8, "I | IV | V | I"),
    (7, "I | vi | IV | V"),
    (7, "I | IV | I | I"),
    (7, "IV | IV | V | V"),
    (5, "I | I | bVII | IV"),
    (5, "bVI | bVII | i | i"),
    (5, "i | i | iv | iv"),
    (5, "i | i | bVII | bVII"),
    (5, "I | I | IV | V"),
    (4, "I | IV | I | V"),
    (4, "ii | V | I | I"),
    (4, "V | I | I | IV"),
    (4, "I | I | vi | vi"),
    (3, "vi | vi | I | I"),
    (3, "V | V | IV | IV"),
    (3, "V | IV | I | I"),
    (3, "I | I | bVII | bVII"),
    (3, "I | I | ii | V"),
    (3, "I | I | IV | I"),
    (3, "I | I | bVI | bVI"),
    (3, "I | I | I | IV"),
    (3, "I | I | ii | ii"),
    (3, "i | i | bVI | bVI"),
    (3, "IV | V | I | I"),
    (3, "I | V | IV | V"),
    (3, "bVII | IV | I | I"),
    (3, "i | i | IV | IV"),
    (2, "i | bVI | i | bVI bVII"),
    (2, "I | II | IV | I"),
    (2, "i | i IV | i | i"),
    (2, "I | iii | IV | V"),
    (2, "I | V | IV | IV"),
    (2, "ii | ii | I | I"),
    (2, "i | i | bVII | IV"),
    (2, "I | I | IV | bVII"),
    (2, "I | vi | iii | V"),
    (2, "I | V | IV | I"),
    (2, "I | IV | V | V"),
    (2, "i | bVII | bVI | V"),
    (2, "V | I | I | V"),
    (2, "I | V | vi | IV"),
    (2, "IV | IV | vi | vi"),
    (2, "IV | I | V | I"),
    (2, "I | I | I | V I"),
    (2, "I | I | V | IV"),
    (2, "II | V | I | I"),
    (2, "bVII | bVII | IV | IV"),
    (2, "I | I VI | II V | I"),
    (2, "I | bVII | IV | I"),
    (2, "I | IV | IV | V"),
];

impl Third {
    /// How often a root is followed by another, in semitones above the tonic.
    pub(super) fn changes(self, from: u8, to: u8) -> u64 {
        let table = match self {
            Third::Major => &MAJOR_CHANGES,
            Third::Minor => &MINOR_CHANGES,
        };
        u64::from(table[usize::from(from % 12)][usize::from(to % 12)])
    }

    /// Songs that use a root, and how many there are.
    pub(super) fn songs(self, root: u8) -> (u64, u64) {
        let (table, all) = match self {
            Third::Major => (&MAJOR_SONGS, 604),
            Third::Minor => (&MINOR_SONGS, 132),
        };
        (u64::from(table[usize::from(root % 12)]), all)
    }

    /// How often a root has a chord of this suffix; `None` for a suffix that was not counted.
    pub(super) fn quality(self, root: u8, suffix: &str) -> Option<u64> {
        let place = SUFFIXES.iter().position(|s| *s == suffix)?;
        let table = match self {
            Third::Major => &MAJOR_QUALITIES,
            Third::Minor => &MINOR_QUALITIES,
        };
        let row = table[usize::from(root % 12)];
        row.get(place).map(|own| u64::from(*own))
    }

    /// How often a root has a chord of any suffix that was counted.
    pub(super) fn counted(self, root: u8) -> u64 {
        let own = SUFFIXES
            .iter()
            .filter_map(|suffix| self.quality(root, suffix));
        own.sum()
    }

    /// How many loops of two bars have this root last, or, where there are more bars, how many of four.
    pub(super) fn last(self, root: u8, bars: u32) -> u64 {
        let table = match self {
            Third::Major => &MAJOR_LAST,
            Third::Minor => &MINOR_LAST,
        };
        u64::from(table[usize::from(bars > 2)][usize::from(root % 12)])
    }

    /// How many of a hundred loops end on the chord on which they begin. In two bars of minor it is 6 of all 51 loops: of
    /// those that one song repeats alone there are too few.
    pub(super) fn last_is_first(self, bars: u32) -> u64 {
        let all: u64 = (0..12).map(|up| self.last(up, bars)).sum();
        match (self, bars) {
            (Third::Minor, ..=2) => 100 * 6 / 51,
            _ => 100 * self.last(0, bars) / all.max(1),
        }
    }
}
