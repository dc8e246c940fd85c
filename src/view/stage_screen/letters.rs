//! Large letters for a terminal, of our own drawing: each is seven dots high, and a dot is some halves of a cell wide
//! and high.

use ratatui::buffer::Buffer;
use ratatui::layout::Rect;
use ratatui::style::Style;

/// Dots of a letter from top to bottom.
const HIGH: u16 = 7;

/// Dots of a space between words.
const SPACE: u16 = 3;

/// The letters: a line of names, each above the first column of its letter, and seven lines of dots. One column parts
/// two letters.
const SHEETS: [[&str; 8]; 5] = [
    [
        "A     B     C     D     E     F     G     M     N     a     b    d    e    g    h    i j  ",
        ".###. ####. .###. ####. ##### ##### .###. #...# #...# ..... #... ...# .... .... #... # ..#",
        "#...# #...# #...# #...# #.... #.... #...# ##.## ##..# ..... #... ...# .... .... #... . ...",
        "#...# #...# #.... #...# #.... #.... #.... #.#.# ##..# .###. #... ...# .##. .### #... # ..#",
        "##### ####. #.... #...# ####. ####. #.### #.#.# #.#.# ....# ###. .### #..# #..# ###. # ..#",
        "#...# #...# #.... #...# #.... #.... #...# #...# #..## .#### #..# #..# #### .### #..# # ..#",
        "#...# #...# #...# #...# #.... #.... #...# #...# #..## #...# #..# #..# #... ...# #..# # #.#",
        "#...# ####. .###. ####. ##### #.... .###. #...# #...# .#### ###. .### .### .##. #..# # .#.",
    ],
    [
        "l m     n    o    p    r   s    t   u    0     1   2     3     4     5     6     7    ",
        "# ..... .... .... .... ... .... .#. .... .###. .#. .###. .###. ...#. ##### ..##. #####",
        "# ..... .... .... .... ... .... .#. .... #...# ##. #...# #...# ..##. #.... .#... ....#",
        "# ##.#. ###. .##. ###. #.# .### ### #..# #..## .#. ....# ....# .#.#. ####. #.... ...#.",
        "# #.#.# #..# #..# #..# ##. #... .#. #..# #.#.# .#. ...#. ..##. #..#. ....# ####. ..#..",
        "# #.#.# #..# #..# ###. #.. .##. .#. #..# ##..# .#. ..#.. ....# ##### ....# #...# ..#..",
        "# #.#.# #..# #..# #... #.. ...# .#. #..# #...# .#. .#... #...# ...#. #...# #...# .#...",
        "# #.#.# #..# .##. #... #.. ###. ..# .### .###. ### ##### .###. ...#. .###. .###. .#...",
    ],
    [
        "8     9     #     /    (  )  ,  . : +   -   c   ",
        ".###. .###. .#.#. ...# .# #. .. . . ... ... ....",
        "#...# #...# .#.#. ...# #. .# .. . . ... ... ....",
        "#...# #...# ##### ..#. #. .# .. . # .#. ... .###",
        ".###. .#### .#.#. ..#. #. .# .. . . ### ### #...",
        "#...# ....# ##### .#.. #. .# .. . . .#. ... #...",
        "#...# ...#. .#.#. .#.. #. .# .# . # ... ... #...",
        ".###. .##.. .#.#. #... .# #. #. # . ... ... .###",
    ],
    [
        "H     I   J     K     L     O     P     Q     R     S     T     U     V     ",
        "#...# ### ..### #...# #.... .###. ####. .###. ####. .#### ##### #...# #...#",
        "#...# .#. ...#. #..#. #.... #...# #...# #...# #...# #.... ..#.. #...# #...#",
        "#...# .#. ...#. #.#.. #.... #...# #...# #...# #...# #.... ..#.. #...# #...#",
        "##### .#. ...#. ##... #.... #...# ####. #...# ####. .###. ..#.. #...# #...#",
        "#...# .#. ...#. #.#.. #.... #...# #.... #.#.# #.#.. ....# ..#.. #...# #...#",
        "#...# .#. #..#. #..#. #.... #...# #.... #..#. #..#. ....# ..#.. #...# .#.#.",
        "#...# ### .##.. #...# ##### .###. #.... .##.# #...# ####. ..#.. .###. ..#..",
    ],
    [
        "W     X     Y     Z     f   k    q    v     w     x     y    z    ?     ! ",
        "#...# #...# #...# ##### .## #... .... ..... ..... ..... .... .... .###. #",
        "#...# #...# #...# ....# #.. #... .... ..... ..... ..... .... .... #...# #",
        "#...# .#.#. .#.#. ...#. ### #..# .### #...# #...# #...# #..# #### ....# #",
        "#.#.# ..#.. ..#.. ..#.. #.. #.#. #..# #...# #.#.# .#.#. #..# ...# ..##. #",
        "#.#.# .#.#. ..#.. .#... #.. ##.. .### .#.#. #.#.# ..#.. .### .##. ..#.. #",
        "##.## #...# ..#.. #.... #.. #.#. ...# .#.#. #.#.# .#.#. ...# #... ..... .",
        "#...# #...# ..#.. ##### #.. #..# ...# ..#.. .#.#. #...# .##. #### ..#.. #",
    ],
];

/// The characters of a cell by its quarters that are filled: 1 for the upper left, 2 for the upper right, 4 for the
/// lower left, 8 for the lower right (Unicode, Block Elements).
const QUARTERS: [char; 16] = [
    ' ', '\u{2598}', '\u{259D}', '\u{2580}', '\u{2596}', '\u{258C}', '\u{259E}', '\u{259B}',
    '\u{2597}', '\u{259A}', '\u{2590}', '\u{259C}', '\u{2584}', '\u{2599}', '\u{259F}', '\u{2588}',
];

/// How large a dot is.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
struct Dot {
    /// Width in halves of a column.
    wide: u16,
    /// Height in halves of a row.
    high: u16,
}

/// A text in large letters.
pub(super) struct Letters {
    /// Columns of dots, each a bit a dot, the top one first.
    columns: Vec<u8>,
    dot: Dot,
}

impl Letters {
    /// The largest letters in which a text fits into so many columns and rows; `None` where it fits in none, or a
    /// character has no letter.
    ///
    /// Height comes first: where the text is long, letters are up to twice as narrow.
    pub(super) fn largest(text: &str, columns: u16, rows: u16) -> Option<Letters> {
        let dots = dots(text)?;
        let across = u16::try_from(dots.len()).ok().filter(|dots| *dots > 0)?;
        let highest = rows.saturating_mul(2) / HIGH;
        let mut sizes = (1..=highest).rev().flat_map(|high| {
            let widths = (high..=high * 2).rev();
            widths.map(move |wide| Dot { wide, high })
        });
        let room = u32::from(columns) * 2;
        let dot = sizes.find(|dot| u32::from(across) * u32::from(dot.wide) <= room)?;
        Some(Letters { columns: dots, dot })
    }

    /// Columns of the screen it takes.
    pub(super) fn width(&self) -> u16 {
        let halves = self.columns.len() * usize::from(self.dot.wide);
        u16::try_from(halves.div_ceil(2)).unwrap_or(u16::MAX)
    }

    /// Rows of the screen it takes.
    pub(super) fn height(&self) -> u16 {
        (HIGH * self.dot.high).div_ceil(2)
    }

    /// Draws it from the upper left corner of an area on; what lies outside is left out.
    pub(super) fn draw(&self, area: Rect, style: Style, buffer: &mut Buffer) {
        let at = Rect {
            width: self.width().min(area.width),
            height: self.height().min(area.height),
            ..area
        };
        for position in at.intersection(buffer.area).positions() {
            let (x, y) = ((position.x - at.x) * 2, (position.y - at.y) * 2);
            let quarters = [(0, 0), (1, 0), (0, 1), (1, 1)];
            let filled = quarters.iter().zip([1, 2, 4, 8]);
            let filled = filled.filter(|((right, down), _)| self.is_filled(x + right, y + down));
            let index: usize = filled.map(|(_, bit)| bit).sum();
            buffer[position].set_char(QUARTERS[index]).set_style(style);
        }
    }

    /// Whether there is a dot at so many halves of a cell from the left and the top.
    fn is_filled(&self, halves_right: u16, halves_down: u16) -> bool {
        let column = self.columns.get(usize::from(halves_right / self.dot.wide));
        let row = halves_down / self.dot.high;
        row < HIGH && column.is_some_and(|dots| dots & (1 << row) != 0)
    }
}

/// The columns of dots of a text; `None` where a character has no letter.
fn dots(text: &str) -> Option<Vec<u8>> {
    let mut columns: Vec<u8> = Vec::new();
    for (at, c) in text.chars().enumerate() {
        if at > 0 {
            columns.push(0);
        }
        if c == ' ' {
            columns.extend((0..SPACE).map(|_| 0));
        } else {
            columns.extend(letter(c)?);
        }
    }
    Some(columns)
}

/// The columns of dots of one letter.
fn letter(c: char) -> Option<impl Iterator<Item = u8>> {
    let (sheet, from) = SHEETS.iter().find_map(|sheet| {
        let from = sheet[0].chars().position(|name| name == c && name != ' ')?;
        Some((sheet, from))
    })?;
    let is_dot = |row: &&str, column: usize| row.as_bytes().get(column) == Some(&b'#');
    let is_gap = |column: &usize| matches!(sheet[1].as_bytes().get(*column), Some(b' ') | None);
    let to = (from..).find(is_gap)?;
    Some((from..to).map(move |column| {
        let rows = sheet[1..].iter().enumerate();
        let filled = rows.filter(|(_, row)| is_dot(row, column));
        filled.fold(0, |dots, (row, _)| dots | 1 << row)
    }))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::theory::{Harmony, figure};

    /// A text drawn in an area of so many columns and rows.
    fn drawn(text: &str, columns: u16, rows: u16) -> String {
        let Some(letters) = Letters::largest(text, columns, rows) else {
            return "(does not fit)".to_owned();
        };
        let area = Rect::new(0, 0, letters.width(), letters.height());
        assert!(area.width <= columns && area.height <= rows, "{area}");
        let mut buffer = Buffer::empty(area);
        letters.draw(area, Style::new(), &mut buffer);
        let rows = (0..area.height).map(|y| {
            let row = (0..area.width).map(|x| buffer[(x, y)].symbol());
            row.collect::<String>().trim_end().to_owned()
        });
        rows.collect::<Vec<_>>().join("\n")
    }

    #[test]
    fn a_symbol_takes_the_largest_letters_that_fit() {
        insta::assert_snapshot!(drawn("F#m7", 60, 8), @"
        ██████████    ██  ██                ██████████
        ██            ██  ██                        ██
        ██          ██████████  ████  ██          ██
        ████████      ██  ██    ██  ██  ██      ██
        ██          ██████████  ██  ██  ██      ██
        ██            ██  ██    ██  ██  ██    ██
        ██            ██  ██    ██  ██  ██    ██
        ");
        insta::assert_snapshot!(drawn("F#m7", 60, 4), @"
        █▀▀▀▀  █ █        ▀▀▀▀█
        █▄▄▄  ▀█▀█▀ █▀▄▀▄   ▄▀
        █     ▀█▀█▀ █ █ █  ▄▀
        ▀      ▀ ▀  ▀ ▀ ▀  ▀
        ");
        insta::assert_snapshot!(drawn("F#m7", 14, 8), @"
        ▛▀▘▐▐    ▀▀▌
        ▙▄ ▜▜▘▛▞▖ ▞
        ▌  ▜▜▘▌▌▌▗▘
        ▘  ▝▝ ▘▘▘▝
        ");
        insta::assert_snapshot!(drawn("F#m7", 10, 8), @"(does not fit)");
        insta::assert_snapshot!(drawn("F#m7", 60, 3), @"(does not fit)");
    }

    #[test]
    fn all_letters() {
        let names = SHEETS.map(|sheet| sheet[0].split_whitespace().collect::<String>());
        insta::assert_snapshot!(names.map(|names| drawn(&names, 200, 4)).join("\n\n"), @"
        ▄▀▀▀▄ █▀▀▀▄ ▄▀▀▀▄ █▀▀▀▄ █▀▀▀▀ █▀▀▀▀ ▄▀▀▀▄ █▄ ▄█ █▄  █       █       █           █    ▀   ▀
        █▄▄▄█ █▄▄▄▀ █     █   █ █▄▄▄  █▄▄▄  █ ▄▄▄ █ █ █ █▀▄ █  ▀▀▀▄ █▄▄   ▄▄█ ▄▀▀▄ ▄▀▀█ █▄▄  █   █
        █   █ █   █ █   ▄ █   █ █     █     █   █ █   █ █  ██ ▄▀▀▀█ █  █ █  █ █▀▀▀  ▀▀█ █  █ █ ▄ █
        ▀   ▀ ▀▀▀▀   ▀▀▀  ▀▀▀▀  ▀▀▀▀▀ ▀      ▀▀▀  ▀   ▀ ▀   ▀  ▀▀▀▀ ▀▀▀   ▀▀▀  ▀▀▀  ▀▀  ▀  ▀ ▀  ▀

        █                                █       ▄▀▀▀▄ ▄█  ▄▀▀▀▄ ▄▀▀▀▄   ▄█  █▀▀▀▀  ▄▀▀  ▀▀▀▀█
        █ █▀▄▀▄ █▀▀▄ ▄▀▀▄ █▀▀▄ █▄▀ ▄▀▀▀ ▀█▀ █  █ █ ▄▀█  █     ▄▀   ▄▄▀ ▄▀ █  ▀▀▀▀▄ █▄▄▄    ▄▀
        █ █ █ █ █  █ █  █ █▀▀  █    ▀▀▄  █  █  █ █▀  █  █   ▄▀   ▄   █ ▀▀▀█▀ ▄   █ █   █  ▄▀
        ▀ ▀ ▀ ▀ ▀  ▀  ▀▀  ▀    ▀   ▀▀▀    ▀  ▀▀▀  ▀▀▀  ▀▀▀ ▀▀▀▀▀  ▀▀▀     ▀   ▀▀▀   ▀▀▀   ▀

        ▄▀▀▀▄ ▄▀▀▀▄  █ █     █ ▄▀ ▀▄
        ▀▄▄▄▀ ▀▄▄▄█ ▀█▀█▀   █  █   █      ▀ ▄█▄ ▄▄▄ ▄▀▀▀
        █   █    ▄▀ ▀█▀█▀  █   █   █  ▄   ▄  ▀      █
         ▀▀▀   ▀▀    ▀ ▀  ▀     ▀ ▀  ▀  ▀            ▀▀▀

        █   █ ▀█▀   ▀█▀ █  ▄▀ █     ▄▀▀▀▄ █▀▀▀▄ ▄▀▀▀▄ █▀▀▀▄ ▄▀▀▀▀ ▀▀█▀▀ █   █ █   █
        █▄▄▄█  █     █  █▄▀   █     █   █ █▄▄▄▀ █   █ █▄▄▄▀ ▀▄▄▄    █   █   █ █   █
        █   █  █  ▄  █  █ ▀▄  █     █   █ █     █ ▀▄▀ █ ▀▄      █   █   █   █ ▀▄ ▄▀
        ▀   ▀ ▀▀▀  ▀▀   ▀   ▀ ▀▀▀▀▀  ▀▀▀  ▀      ▀▀ ▀ ▀   ▀ ▀▀▀▀    ▀    ▀▀▀    ▀

        █   █ █   █ █   █ ▀▀▀▀█ ▄▀▀ █                                     ▄▀▀▀▄ █
        █ ▄ █  ▀▄▀   ▀▄▀    ▄▀  █▀▀ █ ▄▀ ▄▀▀█ █   █ █ ▄ █ ▀▄ ▄▀ █  █ ▀▀▀█   ▄▄▀ █
        █▄▀▄█ ▄▀ ▀▄   █   ▄▀    █   █▀▄   ▀▀█  █ █  █ █ █  ▄▀▄   ▀▀█ ▄▀▀    ▀   ▀
        ▀   ▀ ▀   ▀   ▀   ▀▀▀▀▀ ▀   ▀  ▀    ▀   ▀    ▀ ▀  ▀   ▀  ▀▀  ▀▀▀▀   ▀   ▀
        ");
    }

    #[test]
    fn no_two_letters_look_alike() {
        let names: Vec<char> = SHEETS.iter().flat_map(|s| s[0].chars()).collect();
        let names: Vec<char> = names.into_iter().filter(|c| *c != ' ').collect();
        assert!(names.len() > 40, "{names:?}");
        for (at, one) in names.iter().enumerate() {
            for other in &names[at + 1..] {
                let [a, b] = [one, other].map(|c| letter(*c).unwrap().collect::<Vec<_>>());
                assert_ne!(a, b, "{one} {other}");
            }
        }
    }

    #[test]
    fn each_symbol_that_is_printed_has_its_letters() {
        let suffixes = [
            "",
            "m",
            "dim",
            "aug",
            "sus4",
            "sus2",
            "sus2sus4",
            "5",
            "6",
            "m6",
            "6/9",
            "m6/9",
            "6sus4",
            "6sus2",
            "7",
            "maj7",
            "mMaj7",
            "m7",
            "dim7",
            "m7b5",
            "dimMaj7",
            "7#5",
            "7alt",
            "7sus4",
            "7sus2",
            "maj7sus4",
            "maj7sus2",
            "9",
            "maj9",
            "m9",
            "mMaj9",
            "9sus4",
            "maj9sus4",
            "13",
            "maj13",
            "m13",
            "mMaj13",
            "13sus4",
            "maj13sus4",
            "11",
            "maj11",
            "m11",
            "mMaj11",
            "add9",
            "m(add9)",
            "7b9",
            "7#9",
            "7#11",
            "7b13",
            "13b9",
            "maj7#11",
            "(no3)",
            "(b5)",
            "5(add9)",
            "m7(no5)",
            "sus4(add13)",
            "7b5",
            "m(b6)",
            "(add9,no5)",
            ":(1,b3,3,5)",
        ];
        let mut drawn = 0;
        for root in ["A", "Bb", "C#", "D", "Eb", "F#", "Gb", "B##", "Ebb"] {
            for suffix in suffixes {
                for bass in ["", "/E", "/Ab", "/F#"] {
                    let text = format!("{root}{suffix}{bass}");
                    let Ok(chord) = figure::read(&text).and_then(|f| f.resolve(None)) else {
                        continue;
                    };
                    drawn += 1;
                    let printed = chord.to_string();
                    assert!(dots(&printed).is_some(), "{text} {printed}");
                }
            }
        }
        // Of 2160; some of these are no chords, such as one with a bass it holds twice.
        assert!(drawn > 1800, "{drawn}");
        assert!(dots(&Harmony::NoChord.to_string()).is_some());
        assert!(dots("+-o").is_some());
        assert!(dots("Am\u{1F3B8}").is_none());
    }
}
