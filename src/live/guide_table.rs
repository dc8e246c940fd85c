//! Tables of `DEVELOPERS.md`, which tests read to check that they are true.

use std::collections::BTreeMap;

/// A row of a table.
#[derive(Clone, Debug)]
struct Row(Vec<String>);

impl Row {
    /// A cell, counted from 0.
    fn cell(&self, at: usize) -> &str {
        &self.0[at]
    }

    /// The names of `all` that a cell stands for: one, several separated by ` · `, `any`, `paused, any` for those with
    /// that prefix, or `any but` followed by exceptions.
    fn choices(&self, at: usize, all: &[&str]) -> Vec<String> {
        let cell = self.cell(at);
        let (left_out, cell) = match cell.strip_prefix("any but ") {
            Some(rest) => (true, rest),
            None => (false, cell),
        };
        let mut named = Vec::new();
        for name in cell.split(" · ") {
            let begins = name.strip_suffix("any");
            let found: Vec<_> = all
                .iter()
                .filter(|one| begins.map_or(**one == name, |begin| one.starts_with(begin)))
                .collect();
            assert!(!found.is_empty(), "`{name}` is none of {all:?}");
            named.extend(found);
        }
        let chosen = all.iter().filter(|one| named.contains(one) != left_out);
        chosen.map(|one| (*one).to_owned()).collect()
    }
}

/// The rows of the table under a heading or a line in bold.
fn rows(title: &str) -> Vec<Row> {
    let text = include_str!("../../DEVELOPERS.md");
    let marked = format!("**{title}");
    let mut lines = text.lines().skip_while(|line| !line.starts_with(&marked));
    assert!(lines.next().is_some(), "no table {title}");
    let table = lines.skip_while(|line| !line.starts_with('|'));
    let rows = table.take_while(|line| line.starts_with('|')).skip(2);
    let cells = |line: &str| {
        let inner = line.trim_matches('|').split('|');
        Row(inner.map(|cell| cell.trim().replace('`', "")).collect())
    };
    rows.map(cells).collect()
}

/// Compares the outcome of every state and event with the table of this title. The first two cells name state and
/// event, the next three the outcome.
pub(crate) fn hold(
    title: &str,
    states: &[&str],
    happenings: &[&str],
    found: impl Fn(&str, &str) -> [String; 3],
) {
    let mut claims: BTreeMap<(String, String), Row> = BTreeMap::new();
    for row in rows(title) {
        for state in row.choices(0, states) {
            for happening in row.choices(1, happenings) {
                let before = claims.insert((state.clone(), happening.clone()), row.clone());
                assert!(before.is_none(), "{state}, {happening} stands twice");
            }
        }
    }
    let mut wrong = Vec::new();
    for state in states {
        for happening in happenings {
            let found = found(state, happening);
            let claimed = claims.remove(&((*state).to_owned(), (*happening).to_owned()));
            let claimed = claimed.map(|row| [2, 3, 4].map(|cell| row.cell(cell).to_owned()));
            if claimed.as_ref() != Some(&found) {
                let found = found.join(" | ");
                wrong.push(format!(
                    "| {state} | {happening} | {found} | claimed {claimed:?}"
                ));
            }
        }
    }
    assert!(wrong.is_empty(), "\n{}", wrong.join("\n"));
    assert!(claims.is_empty(), "{claims:?}");
}
