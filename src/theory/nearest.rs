//! The known word nearest to an unknown one, for every reader of names.

/// The word of `known` that differs from `word` by the fewest insertions, deletions, replacements and swaps of
/// neighbors, if it is near enough to be what was meant.
pub(crate) fn nearest<'a>(word: &str, known: impl IntoIterator<Item = &'a str>) -> Option<&'a str> {
    let word = Compared::new(word);
    let limit = 1 + word.letters / 4;
    let near = |candidate| Some((word.within(candidate, limit)?, candidate));
    let found = known.into_iter().filter_map(near);
    found.min_by_key(|(far, _)| *far).map(|(_, near)| near)
}

/// Letters of a word that are compared.
const MOST_LETTERS: usize = 64;

/// A word to be compared with others, without regard to case. Of a long one the beginning is compared.
pub(crate) struct Compared {
    folded: String,
    letters: usize,
}

impl Compared {
    pub(crate) fn new(word: &str) -> Compared {
        let letters = word.chars().flat_map(char::to_lowercase);
        let folded: String = letters.take(MOST_LETTERS).collect();
        Compared {
            letters: folded.chars().count(),
            folded,
        }
    }

    /// The edit distance to another word with swaps of neighbors (optimal string alignment), if it is at most this.
    pub(crate) fn within(&self, other: &str, most: usize) -> Option<usize> {
        // Words differ by at least what one is longer, which is known sooner; in lower case none has fewer letters.
        let length = other.chars().take(MOST_LETTERS).count();
        if length > self.letters + most {
            return None;
        }
        let other = Compared::new(other);
        if self.letters.abs_diff(other.letters) > most {
            return None;
        }
        Some(strsim::osa_distance(&self.folded, &other.folded)).filter(|far| *far <= most)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn near_words_are_offered_and_far_ones_are_not() {
        let known = ["title", "tempo", "times", "key", "keys"];
        assert_eq!(nearest("tmepo", known), Some("tempo"));
        assert_eq!(nearest("Titel", known), Some("title"));
        assert_eq!(nearest("bpm", known), None);
        assert_eq!(nearest("", known), None);
        assert_eq!(nearest("kye", ["key", "kyes"]), Some("key"));
    }

    #[test]
    fn a_distance_is_known_up_to_a_limit() {
        // Handbook values: kitten to sitting is 3, a swap of neighbors 1.
        assert_eq!(Compared::new("Kitten").within("sitting", 3), Some(3));
        assert_eq!(Compared::new("kitten").within("sitting", 2), None);
        assert_eq!(Compared::new("dorain").within("Dorian", 9), Some(1));
        assert_eq!(Compared::new("").within("abc", 3), Some(3));
        assert_eq!(Compared::new("").within("abc", 2), None);
        // A letter that is two in lower case, and words of which the beginnings are compared.
        assert_eq!(Compared::new("i\u{307}").within("\u{130}", 0), Some(0));
        let long = "x".repeat(100);
        assert_eq!(Compared::new(&long).within(&long[1..], 0), Some(0));
        assert_eq!(Compared::new(&long).within("x", 62), None);
    }
}
