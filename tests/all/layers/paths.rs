//! The paths that files of code name, and the circles these make.
//!
//! A reader of tokens, not of Rust: it knows `use` with trees in any depth, paths that begin with `crate`, `self` or
//! `super` anywhere, and what a module hands on from another. Comments, literals and tests are left out.

use std::collections::{BTreeMap, BTreeSet};

type Path = Vec<String>;

/// Words, strings with their quotes, `::`, and every other sign by itself.
pub(super) fn tokens(text: &str) -> Vec<String> {
    let chars: Vec<char> = text.chars().collect();
    let at = |i: usize| chars.get(i).copied().unwrap_or('\0');
    let word = |c: char| c.is_alphanumeric() || c == '_';
    let mut found = Vec::new();
    let mut i = 0;
    while i < chars.len() {
        match (at(i), at(i + 1)) {
            ('/', '/') => {
                while i < chars.len() && at(i) != '\n' {
                    i += 1;
                }
            }
            ('/', '*') => {
                let mut depth = 0;
                while i < chars.len() {
                    match (at(i), at(i + 1)) {
                        ('/', '*') => (depth, i) = (depth + 1, i + 2),
                        ('*', '/') => (depth, i) = (depth - 1, i + 2),
                        _ => i += 1,
                    }
                    if depth == 0 {
                        break;
                    }
                }
            }
            ('"', _) => {
                let start = i;
                i += 1;
                while i < chars.len() && at(i) != '"' {
                    i += if at(i) == '\\' { 2 } else { 1 };
                }
                i = (i + 1).min(chars.len());
                found.push(chars[start..i].iter().collect());
            }
            ('\'', '\\') => {
                i += 3;
                while i < chars.len() && at(i) != '\'' {
                    i += 1;
                }
                i += 1;
            }
            ('\'', _) => i += if at(i + 2) == '\'' { 3 } else { 1 },
            (':', ':') => {
                found.push("::".to_owned());
                i += 2;
            }
            (c, _) if word(c) => {
                let start = i;
                while i < chars.len() && word(at(i)) {
                    i += 1;
                }
                let name: String = chars[start..i].iter().collect();
                let hashes = (i..).take_while(|&j| at(j) == '#').count();
                if matches!(name.as_str(), "r" | "br" | "cr") && at(i + hashes) == '"' {
                    let end = format!("\"{}", "#".repeat(hashes));
                    let rest: String = chars[i + hashes + 1..].iter().collect();
                    let length = rest.find(&end).map_or(rest.len(), |n| n + end.len());
                    i += hashes + 1 + rest[..length.min(rest.len())].chars().count();
                } else {
                    found.push(name);
                }
            }
            (c, _) => {
                if !c.is_whitespace() {
                    found.push(c.to_string());
                }
                i += 1;
            }
        }
    }
    found
}

/// The place behind an item or an attribute: behind its last bracket, or behind a semicolon outside of brackets.
fn behind(tokens: &[String], mut at: usize) -> usize {
    let mut depth = 0;
    while at < tokens.len() {
        match tokens[at].as_str() {
            "{" | "(" | "[" => depth += 1,
            "}" | ")" | "]" => depth -= 1,
            _ => {}
        }
        at += 1;
        if depth == 0 && matches!(tokens[at - 1].as_str(), "}" | ";") {
            break;
        }
    }
    at
}

/// Leaves out every item for tests.
pub(super) fn without_tests(tokens: Vec<String>) -> Vec<String> {
    let starts = |at: usize, text: &str| {
        let wanted = text.split(' ');
        wanted
            .enumerate()
            .all(|(i, t)| tokens.get(at + i).is_some_and(|found| found == t))
    };
    let mut kept = Vec::new();
    let mut at = 0;
    while at < tokens.len() {
        if starts(at, "# [ cfg ( test ) ]") || starts(at, "# [ cfg ( all ( test") {
            // Over this attribute and others, then over the item.
            while starts(at, "# [") {
                let mut depth = 0;
                at += 1;
                loop {
                    match tokens.get(at).map(String::as_str) {
                        Some("[") => depth += 1,
                        Some("]") => depth -= 1,
                        None => break,
                        _ => {}
                    }
                    at += 1;
                    if depth == 0 {
                        break;
                    }
                }
            }
            at = behind(&tokens, at);
        } else {
            kept.push(tokens[at].clone());
            at += 1;
        }
    }
    kept
}

/// A path that is named, and the name under which this file has it from then on, where it is a `use`.
#[derive(Debug, PartialEq)]
struct Named {
    path: Path,
    under: Option<String>,
}

/// Reads one tree of a `use`; gives the place behind it.
fn tree(tokens: &[String], mut at: usize, before: &[String], found: &mut Vec<Named>) -> usize {
    let mut path = before.to_vec();
    loop {
        let token = tokens.get(at).map_or("", String::as_str);
        at += 1;
        match token {
            "::" => continue,
            "{" => {
                while tokens.get(at).is_some_and(|t| t != "}") {
                    at = tree(tokens, at, &path, found);
                    if tokens.get(at).is_some_and(|t| t == ",") {
                        at += 1;
                    }
                }
                return at + 1;
            }
            "self" if !path.is_empty() => {}
            name => path.push(name.to_owned()),
        }
        if tokens.get(at).is_none_or(|t| t != "::") {
            break;
        }
    }
    let mut under = path.last().cloned();
    if tokens.get(at).is_some_and(|t| t == "as") {
        under = tokens.get(at + 1).cloned();
        at += 2;
    }
    found.push(Named { path, under });
    at
}

/// Every path of a file that a `use` names or that begins with `crate`, `self` or `super`.
fn named(text: &str) -> Vec<Named> {
    let tokens = without_tests(tokens(text));
    let mut found = Vec::new();
    let mut at = 0;
    while at < tokens.len() {
        let next = tokens.get(at + 1).map_or("", String::as_str);
        match tokens[at].as_str() {
            // `use<'a>` is a bound, not an import.
            "use" if next != "<" => at = tree(&tokens, at + 1, &[], &mut found),
            "crate" | "self" | "super" if next == "::" => {
                let mut path = vec![tokens[at].clone()];
                while tokens.get(at + 1).is_some_and(|t| t == "::") {
                    path.extend(tokens.get(at + 2).cloned());
                    at += 2;
                }
                at += 1;
                found.push(Named { path, under: None });
            }
            _ => at += 1,
        }
    }
    found
}

/// Files that import each other.
#[derive(Debug, PartialEq, Eq, PartialOrd, Ord)]
pub(super) struct Circle {
    /// The folder they lie in, from `src`.
    pub folder: String,
    /// Their names without ending; each stands for the folder of its name too.
    pub files: Vec<String>,
    /// Who names what.
    pub because: BTreeSet<String>,
}

/// The modules of a crate with all paths they name.
pub(super) struct Tree {
    modules: BTreeMap<Path, Vec<Named>>,
}

impl Tree {
    /// Makes the tree of files, each with its path from `src`, parted by `/`, and its text. Tests are left out.
    pub(super) fn new(files: &[(String, String)]) -> Tree {
        let mut modules = BTreeMap::new();
        for (path, text) in files {
            let path = path.trim_end_matches(".rs");
            let mut module: Path = path.split('/').map(str::to_owned).collect();
            if module.iter().any(|part| part == "tests") || path == "main" {
                continue;
            }
            if matches!(module.last().map(String::as_str), Some("mod" | "lib")) {
                module.pop();
            }
            modules.insert(module, named(text));
        }
        Tree { modules }
    }

    /// The path from the root of the crate; `None` for what lies in another crate or within the file itself.
    fn absolute(&self, module: &[String], path: &[String]) -> Option<Path> {
        let mut from = module.to_vec();
        let mut rest = path;
        match rest.first().map(String::as_str) {
            Some("crate") => (from, rest) = (Vec::new(), &rest[1..]),
            Some("self") => rest = &rest[1..],
            Some("super") => {
                while rest.first().is_some_and(|part| part == "super") {
                    from.pop();
                    rest = &rest[1..];
                }
            }
            Some(first) => {
                from.push(first.to_owned());
                if !self.modules.contains_key(&from) {
                    return None;
                }
                rest = &rest[1..];
            }
            None => return None,
        }
        from.extend(rest.iter().cloned());
        Some(from)
    }

    /// The module in which a path ends, followed through what modules hand on.
    fn home(&self, path: &[String], patience: u32) -> Path {
        let mut at = Vec::new();
        for (i, name) in path.iter().enumerate() {
            at.push(name.clone());
            if self.modules.contains_key(&at) {
                continue;
            }
            at.pop();
            let handed_on = self
                .modules
                .get(&at)
                .into_iter()
                .flatten()
                .find(|named| named.under.as_ref() == Some(name));
            if let Some(named) = handed_on
                && patience > 0
                && let Some(mut further) = self.absolute(&at, &named.path)
            {
                further.extend_from_slice(&path[i + 1..]);
                return self.home(&further, patience - 1);
            }
            return at;
        }
        at
    }

    /// Every pair of a module and another whose contents it names.
    pub(super) fn pairs(&self) -> BTreeSet<(Path, Path)> {
        let mut found = BTreeSet::new();
        for (module, paths) in &self.modules {
            for named in paths {
                if let Some(path) = self.absolute(module, &named.path) {
                    let home = self.home(&path, 8);
                    if home != *module {
                        found.insert((module.clone(), home));
                    }
                }
            }
        }
        found
    }

    /// The import cycles between files of one folder. A file and the folder named after it are one.
    pub(super) fn circles(&self) -> Vec<Circle> {
        let mut folders: BTreeMap<Path, BTreeMap<(String, String), String>> = BTreeMap::new();
        for (from, to) in self.pairs() {
            let shared = from.iter().zip(&to).take_while(|(a, b)| a == b).count();
            if let (Some(a), Some(b)) = (from.get(shared), to.get(shared)) {
                folders
                    .entry(from[..shared].to_vec())
                    .or_default()
                    .entry((a.clone(), b.clone()))
                    .or_insert_with(|| format!("{} names {}", from.join("/"), to.join("/")));
            }
        }
        let mut circles = Vec::new();
        for (folder, edges) in folders {
            let reached = |from: &String| {
                let mut seen: BTreeSet<&String> = BTreeSet::new();
                let mut open = vec![from];
                while let Some(next) = open.pop() {
                    for (_, to) in edges.keys().filter(|(a, _)| a == next) {
                        if seen.insert(to) {
                            open.push(to);
                        }
                    }
                }
                seen
            };
            let all: BTreeSet<&String> = edges.keys().map(|(from, _)| from).collect();
            let mut done = BTreeSet::new();
            for file in all {
                let files: BTreeSet<&String> = reached(file)
                    .into_iter()
                    .filter(|other| reached(other).contains(file))
                    .collect();
                if files.is_empty() || !done.insert(files.clone()) {
                    continue;
                }
                let because = edges
                    .iter()
                    .filter(|((from, to), _)| files.contains(from) && files.contains(to))
                    .map(|(_, why)| why.clone())
                    .collect();
                circles.push(Circle {
                    folder: folder.join("/"),
                    files: files.into_iter().cloned().collect(),
                    because,
                });
            }
        }
        circles
    }
}

mod itself {
    use super::*;

    fn tree_of(files: &[(&str, &str)]) -> Tree {
        let owned: Vec<_> = files
            .iter()
            .map(|(path, text)| ((*path).to_owned(), (*text).to_owned()))
            .collect();
        Tree::new(&owned)
    }

    fn found(files: &[(&str, &str)]) -> Vec<(String, String)> {
        let circles = tree_of(files).circles();
        circles
            .into_iter()
            .map(|circle| (circle.folder, circle.files.join(" ")))
            .collect()
    }

    fn paths(text: &str) -> Vec<String> {
        let mut found: Vec<_> = named(text)
            .into_iter()
            .map(|named| named.path.join("::"))
            .collect();
        found.sort();
        found
    }

    #[test]
    fn a_circle_of_two_files_is_found() {
        let files = [
            ("a/mod.rs", "mod one; mod two;"),
            ("a/one.rs", "use super::two::Two; pub struct One(Two);"),
            ("a/two.rs", "use crate::a::one::One;\npub struct Two(One);"),
        ];
        assert_eq!(found(&files), [("a".to_owned(), "one two".to_owned())]);
        let straight = [
            files[0],
            files[1],
            ("a/two.rs", "// one::One\npub struct Two;"),
        ];
        assert_eq!(found(&straight), []);
    }

    #[test]
    fn a_circle_over_three_files_one_handed_on_and_one_in_a_folder_is_found() {
        let files = [
            (
                "a/mod.rs",
                "mod one; mod two; mod three; pub use two::{Two as Second};",
            ),
            ("a/one.rs", "use super::Second;"),
            ("a/two.rs", "mod deep;"),
            (
                "a/two/deep.rs",
                "fn f() -> u8 { super::super::three::THREE }",
            ),
            ("a/three.rs", "use super::{\n    one::{self, One},\n};"),
            ("a/apart.rs", "use super::one::One;"),
        ];
        assert_eq!(
            found(&files),
            [("a".to_owned(), "one three two".to_owned())]
        );
    }

    #[test]
    fn a_circle_deep_down_and_one_between_rooms_are_found() {
        let files = [
            ("a/mod.rs", "pub mod x;"),
            ("a/x.rs", "mod y; mod z; use crate::b::B;"),
            ("a/x/y.rs", "use super::z::Z;"),
            ("a/x/z.rs", "use super::y::Y;"),
            ("b/mod.rs", "use crate::a::x::X;"),
        ];
        let expected = [("", "a b"), ("a/x", "y z")];
        let expected = expected.map(|(a, b)| (a.to_owned(), b.to_owned()));
        assert_eq!(found(&files), expected);
    }

    #[test]
    fn parent_and_child_are_one_and_tests_are_free() {
        let files = [
            ("a/mod.rs", "mod one; mod two;"),
            (
                "a/one.rs",
                "mod part; use part::Part; pub struct One;\n\
                 #[cfg(test)]\n#[allow(unused)]\nmod tests { use crate::a::two::Two; }",
            ),
            ("a/one/part.rs", "use super::One;"),
            ("a/one/tests.rs", "use crate::a::two::Two;"),
            (
                "a/two.rs",
                "use super::one::One;\n#[cfg(test)]\nmod tests;\nuse super::one;",
            ),
        ];
        assert_eq!(found(&files), []);
    }

    #[test]
    fn nested_trees_over_many_lines_are_read() {
        let text = "pub(crate) use a::{\n    b::{c, d as e, f::*},\n    self,\n    g,\n};\nuse h;";
        assert_eq!(
            paths(text),
            ["a", "a::b::c", "a::b::d", "a::b::f::*", "a::g", "h"]
        );
    }

    #[test]
    fn comments_and_literals_name_nothing() {
        let text = r##"
            //! crate::no
            /* crate::no /* crate::no */ crate::no */
            const A: &str = "crate::no \" crate::no";
            const B: &str = r#"crate::no " crate::no"#;
            const C: char = '"'; const D: char = '\''; const E: char = '\u{22}';
            fn f<'a>(x: &'a str) -> impl Iterator + use<'a> { crate::yes::f(x) }
        "##;
        assert_eq!(paths(text), ["crate::yes::f"]);
    }
}
