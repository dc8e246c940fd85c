//! Routines: what is practiced in a session, item by item.

use std::ops::Range;

use serde::Deserialize;
use toml::Spanned;

use crate::chart::{Problem, Problems};

/// The longest an item may last, in minutes.
const MOST_MINUTES: i64 = 120;

/// The most items of a routine.
const MOST_ITEMS: usize = 100;

/// The largest routine that is read, in bytes.
const MOST_BYTES: usize = 1 << 16;

/// A session: items in order.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Routine {
    /// Its title, shown at its start.
    pub title: String,
    /// What it is for, in a line; may be empty.
    pub about: String,
    /// What is practiced, in order; one at least.
    pub items: Vec<Item>,
}

/// One thing to practice.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Item {
    /// What it is.
    pub what: What,
    /// How long, 1 to 120 minutes.
    pub minutes: u32,
    /// What share must be right, 1 to 100 in a hundred; drills alone have one.
    pub goal: Option<u32>,
    /// What the player is told before it.
    pub say: Option<String>,
    /// Where it is written: the bytes of its text.
    pub span: Range<usize>,
}

/// The kinds of items. Drills, jams and pieces are written as they are typed on a command line, without the first word.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum What {
    /// A drill, such as `roots --notes marked`.
    Drill(String),
    /// A jam, such as `--set 'A minor pentatonic'`.
    Jam(String),
    /// A piece, such as `low-tide --tempo 80%`.
    Piece(String),
    /// A rest, and what to do in it.
    Rest(String),
}

impl What {
    /// The word for the kind: the command, or `rest`.
    #[must_use]
    pub const fn kind(&self) -> &'static str {
        match self {
            What::Drill(_) => "drill",
            What::Jam(_) => "jam",
            What::Piece(_) => "piece",
            What::Rest(_) => "rest",
        }
    }

    /// What is written for it.
    #[must_use]
    pub fn text(&self) -> &str {
        match self {
            What::Drill(text) | What::Jam(text) | What::Piece(text) | What::Rest(text) => text,
        }
    }
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Written {
    title: Option<String>,
    about: Option<String>,
    #[serde(default)]
    items: Vec<Spanned<WrittenItem>>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct WrittenItem {
    drill: Option<Spanned<String>>,
    jam: Option<Spanned<String>>,
    piece: Option<Spanned<String>>,
    rest: Option<Spanned<String>>,
    minutes: Option<Spanned<i64>>,
    goal: Option<Spanned<i64>>,
    say: Option<String>,
}

impl Routine {
    /// Reads a routine, a TOML text.
    ///
    /// ```
    /// use fivefold::practice::{Routine, What};
    /// let routine = Routine::read("[[items]]\ndrill = \"roots\"\nminutes = 5\n").unwrap();
    /// assert_eq!(routine.items[0].what, What::Drill("roots".to_owned()));
    /// assert_eq!(routine.minutes(), 5);
    /// ```
    ///
    /// # Errors
    /// All problems found, with spans of `text`.
    pub fn read(text: &str) -> Result<Routine, Problems> {
        let wrong =
            |code, span, message: String, help: &str| Problem::error(code, span, message, help);
        if text.len() > MOST_BYTES {
            let message = format!(
                "a routine has at most {MOST_BYTES} bytes, found {}",
                text.len()
            );
            let help = "split it into several";
            return Err(vec![wrong("routine-size", 0..0, message, help)].into());
        }
        let written: Written = toml::from_str(text).map_err(|e| {
            let message = e.message().lines().collect::<Vec<_>>().join(", ");
            let help = "a routine has `title` and `[[items]]`, each with one of drill, jam, piece and rest, and `minutes`; \
                        `goal` and `say` can be added";
            Problems::from(vec![wrong("routine-form", e.span().unwrap_or(0..0), message, help)])
        })?;
        let mut problems = Vec::new();
        let mut items = Vec::new();
        if written.items.is_empty() {
            let message = "a routine has no items".to_owned();
            let help = "write `[[items]]`, and below it `drill = \"roots\"` and `minutes = 5`";
            problems.push(wrong("routine-items", 0..0, message, help));
        }
        if written.items.len() > MOST_ITEMS {
            let message = format!(
                "a routine has at most {MOST_ITEMS} items, found {}",
                written.items.len()
            );
            problems.push(wrong(
                "routine-items",
                0..0,
                message,
                "split it into several",
            ));
        }
        for item in written.items.into_iter().take(MOST_ITEMS) {
            let span = item.span();
            items.extend(read_item(item.into_inner(), span, &mut problems));
        }
        if !problems.is_empty() {
            return Err(problems.into());
        }
        Ok(Routine {
            title: written.title.unwrap_or_else(|| "Practice".to_owned()),
            about: written.about.unwrap_or_default(),
            items,
        })
    }

    /// How long it takes, in minutes.
    #[must_use]
    pub fn minutes(&self) -> u32 {
        self.items.iter().map(|item| item.minutes).sum()
    }
}

fn read_item(item: WrittenItem, whole: Range<usize>, problems: &mut Vec<Problem>) -> Option<Item> {
    type Kind = (Option<Spanned<String>>, fn(String) -> What);
    let kinds: [Kind; 4] = [
        (item.drill, What::Drill),
        (item.jam, What::Jam),
        (item.piece, What::Piece),
        (item.rest, What::Rest),
    ];
    let mut found = kinds
        .into_iter()
        .filter_map(|(text, kind)| Some((text?, kind)));
    let first = found.next();
    if first.is_none() || found.next().is_some() {
        let message = "an item is one of drill, jam, piece and rest";
        let help =
            "write one of them, such as `drill = \"roots\"`, and `[[items]]` above each item";
        problems.push(Problem::error("routine-item", whole, message, help));
        return None;
    }
    let (text, kind) = first?;
    let span = text.span();
    let what = kind(text.into_inner());
    let mut number = |value: Option<Spanned<i64>>, name: &str, most: i64| {
        let value = value?;
        let (at, found) = (value.span(), value.into_inner());
        if !(1..=most).contains(&found) {
            let message = format!("`{name}` is a whole number, 1 to {most}, found {found}");
            let help = format!("write {}", found.clamp(1, most));
            problems.push(Problem::error("routine-number", at, message, help));
        }
        u32::try_from(found).ok()
    };
    let minutes = item.minutes.is_some();
    let length = number(item.minutes, "minutes", MOST_MINUTES);
    let goal_at = item.goal.as_ref().map(Spanned::span);
    let goal = number(item.goal, "goal", 100);
    if !minutes {
        let message = "an item has no `minutes`";
        problems.push(Problem::error(
            "routine-minutes",
            whole,
            message,
            "write `minutes = 5`",
        ));
    }
    if let (Some(at), false) = (goal_at, matches!(what, What::Drill(_))) {
        let message = format!("only a drill has a goal, and this is a {}", what.kind());
        problems.push(Problem::error(
            "routine-goal",
            at,
            message,
            "leave `goal` out",
        ));
    }
    Some(Item {
        what,
        minutes: length?,
        goal,
        say: item.say,
        span,
    })
}

/// A routine that comes with the program.
#[derive(Clone, Copy, Debug)]
pub struct ReadyRoutine {
    /// The name to ask for.
    pub name: &'static str,
    /// The text of the routine.
    pub text: &'static str,
}

/// All of them. Each reads without a problem.
pub const READY_ROUTINES: [ReadyRoutine; 3] = [
    ReadyRoutine {
        name: "first-half-hour",
        text: include_str!("routines/first-half-hour.toml"),
    },
    ReadyRoutine {
        name: "open-chords",
        text: include_str!("routines/open-chords.toml"),
    },
    ReadyRoutine {
        name: "teacher-warm-up",
        text: include_str!("routines/teacher-warm-up.toml"),
    },
];

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn ready_ones_read() {
        for ready in READY_ROUTINES {
            let routine = Routine::read(ready.text).unwrap();
            assert!(!routine.about.is_empty(), "{}", ready.name);
            assert!(routine.minutes() <= 30, "{}", ready.name);
        }
        // The half hour has rests among its items.
        let half = Routine::read(READY_ROUTINES[0].text).unwrap();
        let rests = half
            .items
            .iter()
            .filter(|item| matches!(item.what, What::Rest(_)));
        assert!(rests.count() >= 2);
    }

    /// What is underlined, and what is said of it.
    fn refused(text: &str) -> Vec<String> {
        let problems = Routine::read(text).unwrap_err();
        let said = |p: &Problem| format!("{} | {} | {}", &text[p.span.clone()], p.message, p.help);
        problems.iter().map(said).collect()
    }

    #[test]
    fn what_is_wrong_is_told_with_its_place() {
        insta::assert_snapshot!(
            [
                "",
                "title = 3\n",
                "[[items]]\ndril = \"roots\"\n",
                "[[items]]\nminutes = 3\n",
                "[[items]]\ndrill = \"roots\"\nrest = \"x\"\nminutes = 3\n",
                "[[items]]\ndrill = \"roots\"\n",
                "[[items]]\ndrill = \"roots\"\nminutes = 0\n",
                "[[items]]\ndrill = \"roots\"\nminutes = 500\ngoal = 101\n",
                "[[items]]\nrest = \"stretch\"\nminutes = 1\ngoal = 80\n",
                "[[items]\n",
            ]
            .map(|text| refused(text).join("\n"))
            .join("\n"),
            @r#"
         | a routine has no items | write `[[items]]`, and below it `drill = "roots"` and `minutes = 5`
        3 | invalid type: integer `3`, expected a string | a routine has `title` and `[[items]]`, each with one of drill, jam, piece and rest, and `minutes`; `goal` and `say` can be added
        dril | unknown field `dril`, expected one of `drill`, `jam`, `piece`, `rest`, `minutes`, `goal`, `say` | a routine has `title` and `[[items]]`, each with one of drill, jam, piece and rest, and `minutes`; `goal` and `say` can be added
        [[items]] | an item is one of drill, jam, piece and rest | write one of them, such as `drill = "roots"`, and `[[items]]` above each item
        [[items]] | an item is one of drill, jam, piece and rest | write one of them, such as `drill = "roots"`, and `[[items]]` above each item
        [[items]] | an item has no `minutes` | write `minutes = 5`
        0 | `minutes` is a whole number, 1 to 120, found 0 | write 1
        500 | `minutes` is a whole number, 1 to 120, found 500 | write 120
        101 | `goal` is a whole number, 1 to 100, found 101 | write 100
        80 | only a drill has a goal, and this is a rest | leave `goal` out
         | unclosed array table, expected `]` | a routine has `title` and `[[items]]`, each with one of drill, jam, piece and rest, and `minutes`; `goal` and `say` can be added
        "#
        );
    }

    proptest::proptest! {
        #[test]
        fn any_text_is_read_or_refused(text in "(\\[\\[items\\]\\]|drill|rest|minutes|goal|=|\"|[a-z0-9 '\n-]){0,40}") {
            if let Err(problems) = Routine::read(&text) {
                for problem in problems.iter() {
                    proptest::prop_assert!(text.get(problem.span.clone()).is_some());
                }
            }
        }
    }
}
