//! How a shape is run through.

/// How the guide runs through a shape.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Run {
    /// From the lowest note to the highest, again and again.
    Up,
    /// From the highest to the lowest.
    Down,
    /// Up and back down.
    #[default]
    Both,
    /// Each note and the next but one, up and back down.
    Thirds,
    /// Groups of three, each a step higher, and back down.
    Threes,
    /// Groups of four.
    Fours,
}

impl Run {
    /// All runs, in the order they are listed.
    pub(in crate::chart) const ALL: [Run; 6] = [
        Run::Up,
        Run::Down,
        Run::Both,
        Run::Thirds,
        Run::Threes,
        Run::Fours,
    ];

    /// What a document says for each of [`Run::ALL`].
    pub(in crate::chart) const WORDS: [&'static str; 6] = [
        "up",
        "down",
        "both",
        "thirds",
        "groups of three",
        "groups of four",
    ];

    /// All runs, each by a word of its own.
    pub const NAMES: [(&'static str, Run); 6] = [
        ("up", Run::Up),
        ("down", Run::Down),
        ("both", Run::Both),
        ("thirds", Run::Thirds),
        ("threes", Run::Threes),
        ("fours", Run::Fours),
    ];

    /// The word for it, such as `both`.
    #[must_use]
    pub fn name(self) -> &'static str {
        let mut names = Self::NAMES.iter();
        names.find(|(_, run)| *run == self).map_or("", |n| n.0)
    }

    /// Places of a shape of so many notes, the lowest 0, in the order of the run. It is played again and again: its end
    /// joins its beginning.
    ///
    /// ```
    /// use fivefold::chart::Run;
    /// assert_eq!(Run::Both.order(4), [0, 1, 2, 3, 2, 1]);
    /// ```
    #[must_use]
    pub fn order(self, notes: usize) -> Vec<usize> {
        let n = notes;
        if n < 2 {
            return (0..n).collect();
        }
        let up = 0..n;
        let down = || (0..n).rev();
        // Groups of `size`, each a step higher, then each a step lower.
        let groups = |size: usize, step: usize| -> Vec<usize> {
            let reach = (size - 1) * step;
            if n <= reach {
                return (0..n).chain((1..n - 1).rev()).collect();
            }
            let rising = (0..n - reach).flat_map(|i| (0..size).map(move |k| i + k * step));
            let falling = (reach..n)
                .rev()
                .flat_map(|i| (0..size).map(move |k| i - k * step));
            rising.chain(falling).collect()
        };
        match self {
            Run::Up => up.collect(),
            Run::Down => down().collect(),
            Run::Both => up.chain((1..n - 1).rev()).collect(),
            Run::Thirds => groups(2, 2),
            Run::Threes => groups(3, 1),
            Run::Fours => groups(4, 1),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn runs_of_every_kind() {
        assert_eq!(Run::Up.order(5), [0, 1, 2, 3, 4]);
        assert_eq!(Run::Down.order(5), [4, 3, 2, 1, 0]);
        assert_eq!(Run::Both.order(5), [0, 1, 2, 3, 4, 3, 2, 1]);
        assert_eq!(Run::Thirds.order(5), [0, 2, 1, 3, 2, 4, 4, 2, 3, 1, 2, 0]);
        assert_eq!(
            Run::Threes.order(5),
            [0, 1, 2, 1, 2, 3, 2, 3, 4, 4, 3, 2, 3, 2, 1, 2, 1, 0]
        );
        assert_eq!(
            Run::Fours.order(5),
            [0, 1, 2, 3, 1, 2, 3, 4, 4, 3, 2, 1, 3, 2, 1, 0]
        );
        assert_eq!(Run::Fours.order(3), [0, 1, 2, 1]);
    }

    #[test]
    fn every_run_has_a_word() {
        for run in Run::ALL {
            assert!(Run::NAMES.contains(&(run.name(), run)), "{run:?}");
        }
    }
}
