//! Code for one system has a counterpart for the others: only one of them can be built where the tests run.

use std::collections::BTreeMap;

use super::paths::{tokens, without_tests};
use super::source_files;

/// Code for some systems only that others need not have: the file, the name, the reason.
const ALONE: [(&str, &str, &str); 3] = [
    (
        "midi/quiet.rs",
        "_errors",
        "ALSA alone writes to the terminal by itself",
    ),
    (
        "cli/signals.rs",
        "let",
        "elsewhere terminals suspend nothing",
    ),
    (
        "live/os.rs",
        "stolen_in",
        "reads a file that Linux alone has",
    ),
];

/// A system that code is written for.
struct System {
    os: &'static str,
    family: &'static str,
    env: &'static str,
}

const SYSTEMS: [System; 5] = [
    System {
        os: "linux",
        family: "unix",
        env: "gnu",
    },
    System {
        os: "linux",
        family: "unix",
        env: "musl",
    },
    System {
        os: "macos",
        family: "unix",
        env: "",
    },
    System {
        os: "windows",
        family: "windows",
        env: "msvc",
    },
    System {
        os: "freebsd",
        family: "unix",
        env: "",
    },
];

/// The tokens between the brackets of a `cfg`.
type Condition = Vec<String>;

/// Whether a condition holds on a system; one that is about no system does not. Gives the place behind it.
fn holds(condition: &[String], at: usize, system: &System) -> (bool, usize) {
    let word = |i: usize| condition.get(i).map_or("", String::as_str);
    if word(at + 1) == "(" {
        let (mut parts, mut next) = (Vec::new(), at + 2);
        while next < condition.len() && word(next) != ")" {
            let (part, behind) = holds(condition, next, system);
            parts.push(part);
            next = behind + usize::from(word(behind) == ",");
        }
        let held = match word(at) {
            "not" => !parts.contains(&true),
            "any" => parts.contains(&true),
            _ => !parts.contains(&false),
        };
        return (held, next + 1);
    }
    if word(at + 1) == "=" {
        let value = word(at + 2).trim_matches('"');
        let held = match word(at) {
            "target_os" => system.os == value,
            "target_family" => system.family == value,
            "target_env" => system.env == value,
            _ => false,
        };
        return (held, at + 3);
    }
    (word(at) == system.family, at + 1)
}

fn names_a_system(condition: &[String]) -> bool {
    let words = [
        "unix",
        "windows",
        "target_os",
        "target_family",
        "target_env",
    ];
    condition.iter().any(|word| words.contains(&word.as_str()))
}

/// Every name of a file that exists on some systems only. Fields and statements count with their block.
fn one_sided(text: &str) -> Vec<String> {
    let tokens = without_tests(tokens(text));
    let mut blocks = vec![0];
    let mut seen: BTreeMap<(usize, String), (Vec<Condition>, String)> = BTreeMap::new();
    let mut at = 0;
    while at < tokens.len() {
        match tokens[at].as_str() {
            "{" => blocks.push(at),
            "}" => drop(blocks.pop()),
            _ => {}
        }
        let starts = ["#", "[", "cfg", "("];
        if !(0..4).all(|i| tokens.get(at + i).is_some_and(|t| t == starts[i])) {
            at += 1;
            continue;
        }
        let closing = |from: usize| {
            let mut depth = 0;
            let end = tokens[from..].iter().position(|token| {
                match token.as_str() {
                    "[" => depth += 1,
                    "]" => depth -= 1,
                    _ => {}
                }
                depth == 0
            });
            end.map_or(tokens.len(), |end| from + end)
        };
        let end = closing(at + 1);
        let condition = tokens[at + 4..end - 1].to_vec();
        at = end + 1;
        if !names_a_system(&condition) {
            continue;
        }
        // Over further attributes and the visibility to what is there.
        let mut item = at;
        while tokens.get(item).is_some_and(|t| t == "#") {
            item = closing(item + 1) + 1;
        }
        if tokens.get(item).is_some_and(|t| t == "pub") {
            item += 1;
            if tokens.get(item).is_some_and(|t| t == "(") {
                item += tokens[item..]
                    .iter()
                    .position(|t| t == ")")
                    .map_or(0, |n| n + 1);
            }
        }
        let word = |i: usize| tokens.get(i).cloned().unwrap_or_default();
        let kinds = [
            "fn", "mod", "type", "const", "static", "struct", "enum", "trait",
        ];
        let (key, name) = if kinds.contains(&word(item).as_str()) {
            (word(item + 1), word(item + 1))
        } else {
            (String::new(), word(item))
        };
        let block = blocks.last().copied().unwrap_or(0);
        seen.entry((block, key))
            .or_insert_with(|| (Vec::new(), name))
            .0
            .push(condition);
    }
    let everywhere = |conditions: &[Condition]| {
        SYSTEMS
            .iter()
            .all(|system| conditions.iter().any(|c| holds(c, 0, system).0))
    };
    seen.into_values()
        .filter(|(conditions, _)| !everywhere(conditions))
        .map(|(_, name)| name)
        .collect()
}

#[test]
fn code_for_one_system_has_a_counterpart_for_the_others() {
    let mut met = Vec::new();
    for (path, text) in source_files() {
        if path.ends_with("tests.rs") {
            continue;
        }
        for name in one_sided(&text) {
            let known = ALONE.iter().any(|(file, n, _)| *file == path && *n == name);
            assert!(
                known,
                "{path}: `{name}` is there on some systems only; write the others' or say why not"
            );
            met.push((path.clone(), name));
        }
    }
    for (file, name, _) in ALONE {
        let stays = met.contains(&(file.to_owned(), name.to_owned()));
        assert!(stays, "{file}: `{name}` need not be in the list any more");
    }
}

#[test]
fn what_is_missing_is_seen() {
    let both = "#[cfg(unix)]\nfn a() {}\n#[cfg(not(unix))]\npub(crate) fn a() {}";
    assert!(one_sided(both).is_empty());
    let three = "#[cfg(target_os = \"linux\")] mod s {} #[cfg(target_os = \"macos\")] #[allow(x)] mod s {} \
        #[cfg(windows)] mod s {}";
    assert_eq!(one_sided(three), ["s"]);
    let rest = "#[cfg(not(any(target_os = \"linux\", target_os = \"macos\", windows)))] mod s {}";
    assert!(one_sided(&format!("{three} {rest}")).is_empty());
    let other = "#[cfg(unix)] fn a() {} mod b { #[cfg(not(unix))] fn a() {} }";
    assert_eq!(one_sided(other), ["a", "a"]);
    let statement = "fn f() { #[cfg(unix)] return 1; #[cfg(not(unix))] 2 }";
    assert!(one_sided(statement).is_empty());
    assert_eq!(
        one_sided("fn f() { #[cfg(all(windows, debug_assertions))] g(); }"),
        ["g"]
    );
    assert!(one_sided("#[cfg(feature = \"x\")] fn a() {}").is_empty());
    assert!(
        one_sided("#[cfg(test)] mod tests { #[cfg(unix)] fn a() {} } #[test] fn b() {}").is_empty()
    );
}
