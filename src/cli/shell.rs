//! Words as a shell takes them.

/// A word of a command line, quoted for a shell.
pub(super) fn in_shell(word: &str) -> String {
    let plain = |c: char| c.is_alphanumeric() || "-_./=,:%+".contains(c);
    if !word.is_empty() && word.chars().all(plain) {
        word.to_owned()
    } else {
        format!("'{}'", word.replace('\'', r"'\''"))
    }
}
