//! The known word nearest to an unknown one, for every reader of names.

/// The word of `known` that differs from `word` by the fewest insertions, deletions, replacements and swaps of
/// neighbors, if it is near enough to be what was meant.
pub(crate) fn nearest<'a>(word: &str, known: impl IntoIterator<Item = &'a str>) -> Option<&'a str> {
    let limit = 1 + word.chars().count() / 4;
    known
        .into_iter()
        .map(|candidate| (distance(word, candidate), candidate))
        .filter(|(d, _)| *d <= limit)
        .min_by_key(|(d, _)| *d)
        .map(|(_, candidate)| candidate)
}

/// The edit distance of two words with swaps of neighbors (optimal string alignment), ignoring case. Words longer than
/// 64 letters are compared by their beginnings.
pub(crate) fn distance(a: &str, b: &str) -> usize {
    let a: Vec<char> = a.chars().flat_map(char::to_lowercase).take(64).collect();
    let b: Vec<char> = b.chars().flat_map(char::to_lowercase).take(64).collect();
    let mut rows = vec![(0..=b.len()).collect::<Vec<usize>>()];
    for i in 1..=a.len() {
        let mut row = vec![i];
        for j in 1..=b.len() {
            let cost = usize::from(a[i - 1] != b[j - 1]);
            let mut best = (rows[i - 1][j] + 1)
                .min(row[j - 1] + 1)
                .min(rows[i - 1][j - 1] + cost);
            if i > 1 && j > 1 && a[i - 1] == b[j - 2] && a[i - 2] == b[j - 1] {
                best = best.min(rows[i - 2][j - 2] + 1);
            }
            row.push(best);
        }
        rows.push(row);
    }
    rows[a.len()][b.len()]
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
    }
}
