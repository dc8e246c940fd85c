//! A routine as files: each item as MIDI, as sound and as a sheet, with an index.

use std::ffi::OsString;
use std::fmt::Write as _;
use std::path::Path;

use super::{Ready, parsed};
use crate::cli::failure::{Failure, cause};
use crate::cli::record::LogArguments;
use crate::cli::{Command, Context, dispatch};
use crate::diagnostic::counted;
use crate::midi::replace_file;
use crate::practice::{Item, Routine, What};
use crate::sheet::{IndexItem, index_html};
use crate::view::shown;

/// The index of the files.
const INDEX: &str = "index.txt";

/// The longest part of a file's name that is taken from an item, in characters.
const MOST_CHARS: usize = 40;

/// The work on a file of an item that cannot be planned, in the unit of the others; it is known when it is begun.
const UNKNOWN_WORK: f64 = 60.0;

/// The same with links, for a phone.
const LINKS: &str = "index.html";

/// The kinds of files that are written of each item.
const ENDINGS: [&str; 3] = ["mid", "wav", "pdf"];

/// An item that is to be written.
struct Sheet<'a> {
    /// Counted from 1.
    number: usize,
    text: &'a str,
    command: Command,
}

/// Writes all items into a folder, which is made where it is missing; the sheets of drills with the pace so far by this log,
/// where one is given.
pub(super) fn write(
    routine: &Routine,
    ready: &[Ready<'_>],
    (folder, so_far): (&Path, Option<&LogArguments>),
    context: &mut Context<'_, '_>,
) -> Result<(), Failure> {
    std::fs::create_dir_all(folder).map_err(|e| {
        let message = format!(
            "the folder {} cannot be made: {}",
            folder.display(),
            cause(&e)
        );
        Failure::new("handout-folder", message, "name another")
    })?;
    let mut index = format!(
        "{}\n{}\n",
        routine.title,
        counted(u64::from(routine.minutes()), "minute")
    );
    if !routine.about.is_empty() {
        let _ = writeln!(index, "{}", routine.about);
    }
    index += "\nTurn the volume down before you start, above all in headphones. Rests belong to it: if a hand or arm hurts,\n\
              tingles or goes numb, stop, and ask a licensed clinician.\n\n";
    let mut sheets = Vec::new();
    for (number, one) in (1..).zip(ready) {
        index += &listed(number, one.item);
        if let What::Rest(_) = one.item.what {
            continue;
        }
        for path in files(number, one.item) {
            let _ = writeln!(index, "    {path}");
        }
        let command = parsed(&command_of(number, one, folder, so_far))
            .map_err(|e| Failure::new("handout-item", e.to_string(), "mend the item"))?;
        sheets.push(Sheet {
            number,
            text: one.item.what.text(),
            command,
        });
    }
    let planned = sheets.iter().flat_map(|sheet| works(sheet, context));
    context.long_job(planned.collect(), |context| {
        for sheet in &sheets {
            if !context.json {
                let (number, count, text) = (sheet.number, ready.len(), shown(sheet.text));
                context.say_rendered(&format!("{number} of {count}: {text}\n"));
            }
            dispatch(&sheet.command, context)?;
        }
        Ok(())
    })?;
    for (name, text) in [(INDEX, index), (LINKS, links(routine))] {
        let path = folder.join(name);
        replace_file(&path, |file| {
            std::io::Write::write_all(file, text.as_bytes())
        })?;
        if context.json {
            let line = serde_json::json!({ "written": path.display().to_string() });
            writeln!(context.streams.out, "{line}")?;
        } else {
            context.show(&format!("wrote {}\n", path.display()))?;
        }
    }
    Ok(())
}

/// The index as a page with links to the files beside it.
fn links(routine: &Routine) -> String {
    let mut items = Vec::new();
    for (number, item) in (1..).zip(&routine.items) {
        let (kind, text) = (item.what.kind(), item.what.text());
        let files = match item.what {
            What::Rest(_) => Vec::new(),
            _ => files(number, item).to_vec(),
        };
        items.push(IndexItem {
            title: format!("{kind} {text}"),
            about: counted(u64::from(item.minutes), "minute"),
            say: item.say.clone(),
            files,
        });
    }
    index_html(&routine.title, &routine.about, &items)
}

/// The work on each file of an item.
fn works(sheet: &Sheet<'_>, context: &Context<'_, '_>) -> Vec<f64> {
    let planned = context.planned(|context| dispatch(&sheet.command, context));
    let planned = planned.filter(|planned| planned.len() == ENDINGS.len());
    planned.unwrap_or_else(|| vec![UNKNOWN_WORK; ENDINGS.len()])
}

/// What the index says of an item.
fn listed(number: usize, item: &Item) -> String {
    let (kind, text) = (item.what.kind(), item.what.text());
    let minutes = counted(u64::from(item.minutes), "minute");
    let say = item.say.as_ref();
    let say = say.map_or(String::new(), |say| format!("    {say}\n"));
    format!("{number:>2}. {minutes}: {kind} {text}\n{say}")
}

/// The files that an item becomes, within the folder.
fn files(number: usize, item: &Item) -> [String; ENDINGS.len()] {
    let stem = file_name(item.what.kind(), item.what.text());
    ENDINGS.map(|ending| format!("{number:02}-{stem}.{ending}"))
}

/// The command that writes an item.
fn command_of(
    number: usize,
    one: &Ready<'_>,
    folder: &Path,
    so_far: Option<&LogArguments>,
) -> Vec<OsString> {
    let mut words = one.words.clone();
    let is_drill = matches!(one.item.what, What::Drill(_));
    // Pieces and jams are made as long as the item; an exercise is one take.
    if !is_drill {
        words.push(format!("--for={}min", one.item.minutes).into());
    }
    for file in files(number, one.item) {
        words.push(OsString::from("-o"));
        words.push(folder.join(file).into_os_string());
    }
    match so_far {
        _ if !is_drill => {}
        None => words.push("--no-log".into()),
        Some(log) => {
            words.push("--so-far".into());
            words.extend(log.words());
        }
    }
    words
}

/// The name of a file from what an item is: letters and digits of it, with hyphens between.
fn file_name(kind: &str, text: &str) -> String {
    let mut name = String::from(kind);
    for word in text
        .split(|c: char| !c.is_ascii_alphanumeric())
        .filter(|word| !word.is_empty())
    {
        if name.len() + word.len() >= MOST_CHARS {
            break;
        }
        name.push('-');
        name += &word.to_ascii_lowercase();
    }
    name
}

#[cfg(test)]
mod tests {
    use std::io;

    use super::*;
    use crate::cli::{Streams, run};
    use crate::sound::made_by_hand;

    /// The status of the program.
    fn status(arguments: &[&str]) -> u8 {
        let words = ["fivefold"].iter().chain(arguments).map(OsString::from);
        let (out, err, input) = (&mut io::sink(), &mut io::sink(), &mut io::empty());
        run(words, &mut Streams::piped(out, err, input))
    }

    #[test]
    fn a_hand_out_plays_through_the_soundfont() {
        let folder = tempfile::tempdir().unwrap();
        let path = |name: &str| folder.path().join(name).to_str().unwrap().to_owned();
        let (routine, font) = (path("r.toml"), path("a.sf2"));
        std::fs::write(&font, made_by_hand()).unwrap();
        std::fs::write(
            &routine,
            "title = \"R\"\n[[items]]\npiece = \"'| Am |' --parts bass --gain 0\"\nminutes = 1\n",
        )
        .unwrap();
        let written = |to: &str, more: &[&str]| {
            let out = path(to);
            let call = ["practice", &*routine, "--no-log", "--to", &*out];
            assert_eq!(status(&[&call[..], more].concat()), 0);
            let wave = folder
                .path()
                .join(to)
                .join("01-piece-am-parts-bass-gain-0.wav");
            std::fs::read(wave).unwrap()
        };
        let plain = written("plain", &[]);
        let by_font = written("font", &["--soundfont", &font]);
        assert_ne!(plain, by_font);
        // The same as the piece by itself.
        let alone = path("alone.wav");
        let piece = [
            "play",
            "| Am |",
            "--parts",
            "bass",
            "--gain",
            "0",
            "--for=1min",
        ];
        let sent = ["--soundfont", &*font, "-o", &*alone];
        assert_eq!(status(&[&piece[..], &sent].concat()), 0);
        assert_eq!(std::fs::read(&alone).unwrap(), by_font);
    }

    #[test]
    fn names_are_plain() {
        assert_eq!(
            file_name("drill", "roots --notes marked"),
            "drill-roots-notes-marked"
        );
        assert_eq!(file_name("piece", "../../etc/passwd"), "piece-etc-passwd");
        assert_eq!(file_name("jam", "\u{e9}\u{202e}"), "jam");
        assert!(file_name("drill", &"very long words ".repeat(9)).len() <= MOST_CHARS);
    }
}
