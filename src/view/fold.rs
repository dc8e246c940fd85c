//! Wraps lines to fit a terminal: broken at spaces, the rest indented under its column.

use std::io::{self, Write};

/// Passes lines on, long ones wrapped.
pub(crate) struct Folded<W: Write> {
    out: W,
    /// Characters that fit on a line; `None` for no limit.
    columns: Option<usize>,
    /// The beginning of a line that is not complete yet.
    begun: Vec<u8>,
}

impl<W: Write> Folded<W> {
    pub(crate) fn new(out: W, columns: Option<usize>) -> Self {
        Folded {
            out,
            columns,
            begun: Vec::new(),
        }
    }
}

impl<W: Write> Write for Folded<W> {
    fn write(&mut self, bytes: &[u8]) -> io::Result<usize> {
        let Some(columns) = self.columns else {
            return self.out.write(bytes);
        };
        self.begun.extend_from_slice(bytes);
        while let Some(end) = self.begun.iter().position(|b| *b == b'\n') {
            let line: Vec<u8> = self.begun.drain(..=end).collect();
            let line = String::from_utf8_lossy(&line[..end]);
            for part in folded(&line, columns) {
                writeln!(self.out, "{part}")?;
            }
        }
        Ok(bytes.len())
    }

    /// An incomplete line is kept until it ends.
    fn flush(&mut self) -> io::Result<()> {
        self.out.flush()
    }
}

/// A line split into parts that fit, if its words do. A chart is broken behind a bar line, and its next part begins
/// with one. A last column that fits on a line of its own is put there; other text is indented to its column.
fn folded(line: &str, columns: usize) -> Vec<String> {
    let mut parts = Vec::new();
    let mut rest = line.to_owned();
    let chart = line.trim_start().starts_with('|');
    let hang = if chart {
        "| ".to_owned()
    } else {
        " ".repeat(hang(line, columns))
    };
    while rest.chars().count() > columns {
        let begin = rest.len() - rest.trim_start().len();
        let room = rest.char_indices().nth(columns).map_or(rest.len(), |c| c.0);
        let spaces = || rest.match_indices(' ').filter(|(at, _)| *at > begin);
        let at = if chart {
            // Behind a bar line other than the first.
            let behind = |at: &usize| rest[..*at].ends_with('|') && *at > begin + 1;
            let ends = || spaces().map(|s| s.0).filter(behind);
            ends().take_while(|at| *at <= room).last().or(ends().next())
        } else {
            let last_column = column(&rest).filter(|at| {
                let length = rest[*at..].chars().count();
                parts.is_empty() && *at > columns / 2 && *at <= room && length + 4 <= columns
            });
            let ends = || spaces().map(|s| s.0);
            let plain = ends().take_while(|at| *at <= room).last().or(ends().next());
            last_column.map(|at| at - 1).or(plain)
        };
        let Some(at) = at else { break };
        let next = rest[at..].trim_start();
        if next.is_empty() || next.len() + hang.len() >= rest.len() {
            break;
        }
        let next = format!("{hang}{next}");
        parts.push(rest[..at].trim_end().to_owned());
        rest = next;
    }
    parts.push(rest);
    parts
}

/// Where the last column of a line begins: behind its last two spaces.
fn column(line: &str) -> Option<usize> {
    let text = line.trim_end();
    let before = text.rfind("  ")?;
    (!text[..before].trim().is_empty()).then_some(before + 2)
}

/// Indentation of the part that does not fit any more.
fn hang(line: &str, columns: usize) -> usize {
    let begin = line.len() - line.trim_start().len();
    match column(line).map(|at| line[..at].chars().count()) {
        Some(at) if at <= columns / 2 => at,
        _ => begin + 4,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_long_line_is_broken_where_it_reads_well() {
        let fold = |line: &str| folded(line, 30).join("\n");
        assert_eq!(fold("short  line"), "short  line");
        assert_eq!(
            fold("bass.line  roots, fifths, octaves or walking"),
            "bass.line  roots, fifths,\n           octaves or walking"
        );
        assert_eq!(
            fold("low-tide  minor  A minor  72 to 96 by 4"),
            "low-tide  minor  A minor\n    72 to 96 by 4"
        );
        assert_eq!(
            fold("| Cmaj7 D9 | Bm7b5 | Em7 A7 | Dm7 |"),
            "| Cmaj7 D9 | Bm7b5 | Em7 A7 |\n| Dm7 |"
        );
        assert_eq!(
            fold("  a sentence that is too long for one line"),
            "  a sentence that is too long\n      for one line"
        );
        let word = "a-word-that-has-no-room-on-any-line-at-all";
        assert_eq!(fold(word), word);
        assert_eq!(fold(&format!("| {word} |")), format!("| {word} |"));
    }

    proptest::proptest! {
        #[test]
        fn words_stay_in_their_order(line in "[ |a-g\u{e9}]{0,120}", columns in 10usize..60) {
            let words = |text: &str| -> Vec<String> {
                let words = text.split_whitespace().filter(|w| *w != "|");
                words.map(str::to_owned).collect()
            };
            let parts = folded(&line, columns);
            proptest::prop_assert_eq!(words(&parts.join(" ")), words(&line));
        }

        #[test]
        fn the_same_in_whatever_pieces_it_comes(text in "[ a-f\n\u{e9}]{0,90}", size in 1usize..9) {
            let text = text + "\n";
            let mut out = Vec::new();
            let mut writer = Folded::new(&mut out, Some(20));
            for piece in text.as_bytes().chunks(size) {
                writer.write_all(piece).unwrap();
            }
            let whole: Vec<String> = text.lines().flat_map(|l| folded(l, 20)).collect();
            proptest::prop_assert_eq!(String::from_utf8(out).unwrap(), whole.join("\n") + "\n");
        }
    }
}
