//! What can be typed while it plays: a line a command.

use std::fmt;
use std::io::{self, BufRead};
use std::ops::Range;
use std::sync::{Arc, Mutex, PoisonError};
use std::thread;
use std::time::Instant;

use crossbeam_channel::Sender;

use super::answers::{self, Answers, Wanted};
use super::options::MOST_BAR;
use super::saying;
use super::standing::Standing;
use crate::arrange::{BarRange, Journey};
use crate::chart::{Problem, SourceText, place_of};
use crate::event::{Header, PartId};
use crate::live::{Control, Pace};
use crate::theory::nearest;
use crate::time::read_milli;
use crate::view::problem_json;

/// What the commands are, in one line.
pub(super) const COMMANDS: &str = "pause, go on, count in, stop, tempo 96, tempo +2, tempo 80%, tap, transpose +3, higher, lower, \
     silence bass, bring bass, go 5, go B, go +1, next, again, loop 5 8, loop from here, loop to here, loop off";

/// The longest line that is a command, in bytes, its end included.
const LONGEST: u64 = 4096;

/// Most bars from here that `go` takes.
const MOST_BY: i64 = 100_000;

/// How much of the input is quoted back, in characters.
const SAID: usize = 40;

/// The input as it is quoted back: cut where it is long, with terminal controls escaped.
fn said(text: &str) -> String {
    let visible = |c: char| if c.is_control() { '\u{FFFD}' } else { c };
    let mut characters = text.chars().map(visible);
    let mut said: String = characters.by_ref().take(SAID).collect();
    if characters.next().is_some() {
        said.push_str("...");
    }
    said
}

/// Why a line is not a command.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) struct NoCommand {
    /// What is wrong.
    pub(super) message: String,
    /// What to write, if there is better advice than the list of all commands.
    help: Option<String>,
    /// The bytes of the line that are wrong.
    pub(super) span: Range<usize>,
}

impl NoCommand {
    /// All of `text` is wrong.
    pub(super) fn all(text: &str, message: impl Into<String>) -> Self {
        NoCommand {
            message: message.into(),
            help: None,
            span: 0..text.len(),
        }
    }

    fn with_help(mut self, help: impl Into<String>) -> Self {
        self.help = Some(help.into());
        self
    }

    /// The same, found in a word that is part of `line`.
    fn within(mut self, line: &str, word: &str) -> Self {
        let start = place_of(word, line).start;
        self.span = start + self.span.start..start + self.span.end;
        self
    }

    /// What to write instead.
    pub(super) fn help(&self) -> String {
        self.help
            .clone()
            .unwrap_or_else(|| format!("there are {COMMANDS}"))
    }

    /// The same as a problem of the line.
    fn problem(&self) -> Problem {
        Problem::error("command", self.span.clone(), &*self.message, self.help())
    }
}

impl fmt::Display for NoCommand {
    /// The list of commands is left out: it is shown only if the first word is wrong.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.message)?;
        match &self.help {
            Some(help) => write!(f, "; {help}"),
            None => Ok(()),
        }
    }
}

/// Reports what is wrong with a command on standard error while it plays, above any open input line; as JSON if that is
/// wanted.
pub(super) fn remark(line: &str, wrong: &NoCommand, json: bool) {
    if json {
        let source = SourceText::new("<command>", line);
        saying::say(&problem_json(&wrong.problem(), &source));
    } else {
        saying::say(&wrong.to_string());
    }
}

/// What a line may name.
#[derive(Clone, Debug)]
pub(super) struct Names {
    /// Parts, in the order of their ids.
    parts: Vec<&'static str>,
    /// Sections and their first bars.
    sections: Vec<(String, i64)>,
    /// The last bar, if there is one.
    last: Option<i64>,
    /// How many of the last bars are an ending.
    ending: u64,
    /// Whether every name counts as known, for lines that are checked before there is a piece.
    any: bool,
    /// Where answers go, if the piece asks.
    answers: Option<Arc<Answers>>,
    /// What the piece does.
    standing: Standing,
}

impl Names {
    pub(super) fn new(header: &Header, sections: Vec<(String, i64)>, journey: &Journey) -> Self {
        let parts = header.parts.iter().map(|part| part.name).collect();
        let last = journey.last_bar();
        let last = last.and_then(|last| i64::try_from(last).ok());
        Names {
            ending: journey.bar_count().ending,
            ..Names::named(parts, sections, last)
        }
    }

    /// The same by the names alone.
    pub(super) fn named(
        parts: Vec<&'static str>,
        sections: Vec<(String, i64)>,
        last: Option<i64>,
    ) -> Self {
        Names {
            parts,
            sections,
            last,
            ending: 0,
            any: false,
            answers: None,
            standing: Standing::default(),
        }
    }

    /// What the piece does now.
    pub(super) fn standing(&self) -> &Standing {
        &self.standing
    }

    /// The same for a piece that asks.
    pub(super) fn answering(self, answers: Option<Arc<Answers>>) -> Self {
        Names { answers, ..self }
    }

    /// The same, to be kept.
    pub(super) fn shared_answers(&self) -> Option<Arc<Answers>> {
        self.answers.clone()
    }

    /// Where answers go, if the piece asks.
    pub(super) fn answers(&self) -> Option<&Answers> {
        self.answers.as_deref()
    }

    /// Accepts every name as that of a part or a section.
    pub(super) fn any() -> Self {
        Names {
            parts: Vec::new(),
            sections: Vec::new(),
            last: None,
            any: true,
            ..Names::named(Vec::new(), Vec::new(), None)
        }
    }

    /// The parts, in the order of their ids.
    #[cfg_attr(not(unix), allow(dead_code))] // for single keys
    pub(super) fn parts(&self) -> &[&'static str] {
        &self.parts
    }

    fn part(&self, name: &str) -> Result<PartId, NoCommand> {
        if self.any {
            return Ok(PartId(0));
        }
        let found = self.parts.iter().position(|part| *part == name);
        found
            .and_then(|at| u8::try_from(at).ok())
            .map(PartId)
            .ok_or_else(|| {
                NoCommand::all(name, format!("no part `{}` plays", said(name)))
                    .with_help(format!("there are {}", self.parts.join(", ")))
            })
    }

    /// The bars there are.
    fn bars(&self, last: i64) -> BarRange {
        let last = u64::try_from(last).unwrap_or(0);
        BarRange {
            last: Some(last.saturating_sub(self.ending)),
            ending: self.ending,
        }
    }

    fn bar(&self, text: &str) -> Result<i64, NoCommand> {
        if self.any {
            return Ok(1);
        }
        if let Some((_, bar)) = self.sections.iter().find(|(name, _)| name == text) {
            return Ok(*bar);
        }
        if !text.is_empty() && text.bytes().all(|b| b.is_ascii_digit()) {
            // More digits than a number holds mean a bar out of range, not a name.
            let bar = text.parse::<i64>().unwrap_or(i64::MAX);
            let last = self.last.unwrap_or(MOST_BAR);
            return if (1..=last).contains(&bar) {
                Ok(bar)
            } else {
                Err(NoCommand::all(
                    text,
                    format!("the piece has {}, found {}", self.bars(last), said(text)),
                ))
            };
        }
        Err({
            let names: Vec<&str> = self
                .sections
                .iter()
                .map(|(name, _)| name.as_str())
                .collect();
            let wrong = NoCommand::all(text, format!("`{}` is no bar and no section", said(text)));
            match nearest(text, names.iter().copied()) {
                Some(near) => wrong.with_help(format!("write `go {near}`")),
                None => wrong,
            }
        })
    }
}

/// Reads one line that was entered at `at`; `None` for an empty one.
///
/// # Errors
/// What is wrong, with the bytes of the line that are.
pub(super) fn read(line: &str, names: &Names, at: Instant) -> Result<Option<Control>, NoCommand> {
    let words: Vec<&str> = line.split_whitespace().collect();
    let part = |word| names.part(word).map_err(|e| e.within(line, word));
    let bar = |word| names.bar(word).map_err(|e| e.within(line, word));
    if let Some(answers) = names.answers()
        && let Some(answered) = answered(&words, line, answers, at)
    {
        return answered.map(Some);
    }
    let control = match words.as_slice() {
        [] => return Ok(None),
        ["pause"] => Control::Pause,
        ["go", "on"] => Control::Resume,
        ["pause", "or", "go", "on"] => Control::PauseOrResume,
        ["count", "in"] => Control::CountIn,
        ["stop" | "quit"] => Control::Stop,
        ["tempo", text] => Control::Tempo(tempo(text).map_err(|e| e.within(line, text))?),
        ["tap"] => Control::Tap(at),
        ["transpose", text] => {
            Control::Transpose(semitones(text).map_err(|e| e.within(line, text))?)
        }
        ["higher"] => Control::TransposeBy(1),
        ["lower"] => Control::TransposeBy(-1),
        ["silence", name] => Control::Mute(part(name)?),
        ["bring", name] | ["bring", "back", name] => Control::Unmute(part(name)?),
        ["silence", "or", "bring", name] => Control::MuteOrUnmute(part(name)?),
        ["next"] => Control::Next,
        ["again"] => Control::Again,
        ["loop", "off"] => Control::Loop(None),
        ["loop", "from", "here"] => Control::LoopFromHere,
        ["loop", "to", "here"] => Control::LoopToHere,
        ["loop", first, last] => {
            let found = (bar(first)?, bar(last)?);
            if found.1 < found.0 {
                let message = format!("write the earlier bar first: `loop {last} {first}`");
                let mut wrong = NoCommand::all(line, message);
                wrong.span = place_of(first, line).start..place_of(last, line).end;
                return Err(wrong);
            }
            Control::Loop(Some(found))
        }
        ["go", place] if place.starts_with(['+', '-']) => {
            Control::GoBy(bars_from_here(place).map_err(|e| e.within(line, place))?)
        }
        ["go", place] => Control::Go(bar(place)?),
        ["stroke"] => Control::Stroke(at),
        ["help"] => return Err(NoCommand::all(line.trim(), COMMANDS).within(line, line.trim())),
        _ => {
            let line_itself = line.trim();
            let message = format!("`{}` is no command", said(line_itself));
            return Err(NoCommand::all(line_itself, message)
                .with_help(format!("there are {COMMANDS}"))
                .within(line, line_itself));
        }
    };
    Ok(Some(control))
}

/// What a line of these words answers, or why it does not; `None` where it is a command.
fn answered(
    words: &[&str],
    line: &str,
    answers: &Answers,
    at: Instant,
) -> Option<Result<Control, NoCommand>> {
    let wanted = answers.wanted();
    let steers = match words {
        [] | ["stop" | "quit"] => true,
        // The minute is to be a minute, so nothing else steers it.
        _ if wanted == Wanted::Mark => {
            matches!(words, ["pause", ..] | ["go", "on"])
        }
        [word] => wanted != Wanted::Choice && !answers::looks_like_one(word),
        _ => true,
    };
    if steers {
        return None;
    }
    if let [word] = words
        && let Some(deed) = answers.typed(word)
    {
        return Some(Ok(answers.respond(deed, at)));
    }
    let text = line.trim();
    let help = match wanted {
        Wanted::Mark => "beside that there are pause, go on, stop",
        _ => "wait for what is asked",
    };
    let refused = NoCommand::all(text, answers.refusal(text)).with_help(help);
    Some(Err(refused.within(line, text)))
}

/// `+1` and `-2` count bars from here.
fn bars_from_here(text: &str) -> Result<i64, NoCommand> {
    let (sign, digits) = text.split_at(1);
    if digits.is_empty() || !digits.bytes().all(|b| b.is_ascii_digit()) {
        return Err(NoCommand::all(
            text,
            format!(
                "`go` takes a bar, a section, or bars from here such as +1, found `{}`",
                said(text)
            ),
        ));
    }
    let bars = digits.parse::<i64>().ok().filter(|n| *n <= MOST_BY);
    let bars = bars.ok_or_else(|| {
        NoCommand::all(
            text,
            format!(
                "`go` goes at most {MOST_BY} bars from here, found `{}`",
                said(text)
            ),
        )
    })?;
    Ok(if sign == "-" { -bars } else { bars })
}

/// `96` is beats a minute, `+2` and `-2` beats more and less, `80%` a share of the plan, `+2%` and `-2%` hundredths of it
/// more and less.
fn tempo(text: &str) -> Result<Pace, NoCommand> {
    let wrong = || {
        NoCommand::all(
            text,
            format!(
                "`tempo` takes beats a minute such as 96, a change such as +2, or a share such as 80% or +2%, found `{}`",
                said(text)
            ),
        )
    };
    let (sign, rest) = match text.split_at_checked(1) {
        Some(("+", rest)) => (1, rest),
        Some(("-", rest)) => (-1, rest),
        _ => (0, text),
    };
    let (number, share) = match rest.strip_suffix('%') {
        Some(number) => (number, true),
        None => (rest, false),
    };
    let thousandths = thousandths(number).ok_or_else(wrong)?;
    Ok(match (sign, share) {
        // A thousandth of a hundredth is ten millionths.
        (0, true) if (10_000..=1_000_000).contains(&thousandths) => {
            Pace::Share(thousandths.unsigned_abs() * 10)
        }
        (0, true) => {
            let message = "the tempo is 10% to 1000% of the plan";
            return Err(NoCommand::all(text, message));
        }
        (0, false) => Pace::Beats(thousandths.unsigned_abs()),
        (sign, true) => Pace::ShareBy(sign * thousandths * 10),
        (sign, false) => Pace::BeatsBy(sign * thousandths),
    })
}

/// A number with at most three decimals, in thousandths; below 10 000.
fn thousandths(text: &str) -> Option<i32> {
    let milli = read_milli(text).ok()?.get();
    i32::try_from(milli)
        .ok()
        .filter(|milli| *milli < 10_000_000)
}

fn semitones(text: &str) -> Result<i8, NoCommand> {
    let found = text.strip_prefix('+').unwrap_or(text).parse::<i8>().ok();
    found.filter(|s| (-24..=24).contains(s)).ok_or_else(|| {
        NoCommand::all(
            text,
            format!(
                "`transpose` takes -24 to 24 semitones, 0 as written, found `{}`",
                said(text)
            ),
        )
    })
}

/// Reads lines from standard input on a thread of its own, until it is closed, and sends what they ask for to
/// `controls`. Errors in a line are reported on standard error, as JSON if that is wanted, and playing goes on.
pub(super) fn listen(names: Names, controls: Sender<Control>, json: bool) {
    // A thread that waits for a line cannot be stopped, so one thread serves all pieces that are played in a row.
    static PLAYING: Mutex<Option<(Names, Sender<Control>)>> = Mutex::new(None);
    let now = || PLAYING.lock().unwrap_or_else(PoisonError::into_inner);
    if now().replace((names, controls)).is_some() {
        return;
    }
    let thread = thread::Builder::new().name("commands".to_owned());
    // It plays without the thread, too.
    let _ = thread.spawn(move || {
        let mut wrong = |line: &str, wrong: &NoCommand| remark(line, wrong, json);
        read_all(&mut io::stdin().lock(), &|| now().clone(), &mut wrong);
        // Nobody will type any more: whoever waits for it learns that.
        let mut playing = now();
        playing.take();
    });
}

/// Reads lines for the piece that plays: its names and where its controls go.
fn read_all(
    input: &mut dyn BufRead,
    playing: &dyn Fn() -> Option<(Names, Sender<Control>)>,
    wrong: &mut dyn FnMut(&str, &NoCommand),
) {
    // Whether this is still the rest of a line that was too long, which is not a command.
    let mut long = false;
    let mut line = Vec::new();
    loop {
        line.clear();
        match io::Read::take(&mut *input, LONGEST).read_until(b'\n', &mut line) {
            Ok(0) | Err(_) => return,
            Ok(_) => {}
        }
        let goes_on = long;
        let whole = line.ends_with(b"\n") || (!goes_on && (line.len() as u64) < LONGEST);
        long = !whole;
        if long && !goes_on {
            let message = format!("a command has fewer than {LONGEST} bytes");
            wrong("", &NoCommand::all("", message));
        }
        if long || goes_on {
            continue;
        }
        let text = String::from_utf8_lossy(&line);
        let at = Instant::now();
        let Some((names, controls)) = playing() else {
            return;
        };
        match read(&text, &names, at) {
            Ok(None) => {}
            // Between two pieces nothing takes it.
            Ok(Some(control)) => drop(controls.send(control)),
            Err(found) => wrong(&text, &found),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crossbeam_channel::bounded;

    fn names() -> Names {
        Names::named(
            vec!["click", "pads", "bass"],
            vec![("A".to_owned(), 1), ("bridge".to_owned(), 9)],
            Some(16),
        )
    }

    fn all(lines: &str) -> Vec<Result<Option<Control>, NoCommand>> {
        let at = Instant::now();
        lines.lines().map(|line| read(line, &names(), at)).collect()
    }

    #[test]
    fn while_changes_are_marked_lines_mark_and_pause() {
        let at = Instant::now();
        let names = names().answering(Some(Arc::new(Answers::marking())));
        let read = |line: &str| read(line, &names, at).map_err(|e| e.to_string());
        let respond = |id| Ok(Some(Control::Respond { id, at }));
        assert_eq!(read("stroke"), respond(0));
        assert_eq!(read("missed"), respond(1));
        assert_eq!(read("pause"), Ok(Some(Control::Pause)));
        assert_eq!(read("go on"), Ok(Some(Control::Resume)));
        assert_eq!(read("stop"), Ok(Some(Control::Stop)));
        assert_eq!(read(""), Ok(None));
        for other in ["tempo 90", "next", "clean", "go 5", "3"] {
            let no = "`stroke` or `missed` is asked for; beside that there are pause, go on, stop";
            assert_eq!(read(other), Err(no.to_owned()), "{other}");
        }
    }

    #[test]
    fn lines_are_commands() {
        let found: Vec<Control> = all(
            "pause\ngo on\npause or go on\ncount in\n tempo +2 \ntempo -0.5\ntempo -10%\ntempo 80%\ntempo 96.5\ntranspose -3\n\
             transpose +2\nhigher\nlower\n\nsilence bass\nbring bass\nbring back pads\nsilence or bring click\ngo 5\n\
             go bridge\ngo +1\ngo -2\nnext\nagain\nloop 5 8\nloop A bridge\nloop from here\nloop to here\nloop off\nstop",
        )
        .into_iter()
        .filter_map(|read| read.unwrap())
        .collect();
        assert_eq!(
            found,
            [
                Control::Pause,
                Control::Resume,
                Control::PauseOrResume,
                Control::CountIn,
                Control::Tempo(Pace::BeatsBy(2000)),
                Control::Tempo(Pace::BeatsBy(-500)),
                Control::Tempo(Pace::ShareBy(-100_000)),
                Control::Tempo(Pace::Share(800_000)),
                Control::Tempo(Pace::Beats(96_500)),
                Control::Transpose(-3),
                Control::Transpose(2),
                Control::TransposeBy(1),
                Control::TransposeBy(-1),
                Control::Mute(PartId(2)),
                Control::Unmute(PartId(2)),
                Control::Unmute(PartId(1)),
                Control::MuteOrUnmute(PartId(0)),
                Control::Go(5),
                Control::Go(9),
                Control::GoBy(1),
                Control::GoBy(-2),
                Control::Next,
                Control::Again,
                Control::Loop(Some((5, 8))),
                Control::Loop(Some((1, 9))),
                Control::LoopFromHere,
                Control::LoopToHere,
                Control::Loop(None),
                Control::Stop,
            ]
        );
    }

    #[test]
    fn what_is_no_command_says_what_to_write() {
        let said: Vec<String> = all(
            "dance\ntempo fast\ntempo 5000%\ntempo +\ntempo 1.2345\ngo +x\ntranspose 30\nsilence drums\ngo 17\ngo 0\ngo brigde\nloop 8 5\nhelp",
        )
        .into_iter()
        .map(|read| read.unwrap_err().to_string())
        .collect();
        insta::assert_snapshot!(said.join("\n"), @"
        `dance` is no command; there are pause, go on, count in, stop, tempo 96, tempo +2, tempo 80%, tap, transpose +3, higher, lower, silence bass, bring bass, go 5, go B, go +1, next, again, loop 5 8, loop from here, loop to here, loop off
        `tempo` takes beats a minute such as 96, a change such as +2, or a share such as 80% or +2%, found `fast`
        the tempo is 10% to 1000% of the plan
        `tempo` takes beats a minute such as 96, a change such as +2, or a share such as 80% or +2%, found `+`
        `tempo` takes beats a minute such as 96, a change such as +2, or a share such as 80% or +2%, found `1.2345`
        `go` takes a bar, a section, or bars from here such as +1, found `+x`
        `transpose` takes -24 to 24 semitones, 0 as written, found `30`
        no part `drums` plays; there are click, pads, bass
        the piece has bars 1 to 16, found 17
        the piece has bars 1 to 16, found 0
        `brigde` is no bar and no section; write `go bridge`
        write the earlier bar first: `loop 5 8`
        pause, go on, count in, stop, tempo 96, tempo +2, tempo 80%, tap, transpose +3, higher, lower, silence bass, bring bass, go 5, go B, go +1, next, again, loop 5 8, loop from here, loop to here, loop off
        ");
    }

    /// `go -9223372036854775808` once overflowed, and in a piece without end every bar up to 2^63 was taken.
    #[test]
    fn numbers_beyond_every_bar_are_refused_with_the_limit() {
        let endless = Names::named(vec!["click"], vec![("A".to_owned(), 1)], None);
        let said = |names: &Names, line: &str| {
            read(line, names, Instant::now()).map_err(|wrong| wrong.message)
        };
        for number in [
            "9223372036854775807",
            "9223372036854775808",
            "18446744073709551616",
            "10000000001",
            "0000000000000000000000099999999999",
        ] {
            for names in [&names(), &endless] {
                let last = names.last.unwrap_or(MOST_BAR);
                for line in [
                    format!("go {number}"),
                    format!("loop {number} 2"),
                    format!("loop 1 {number}"),
                ] {
                    assert_eq!(
                        said(names, &line),
                        Err(format!("the piece has bars 1 to {last}, found {number}"))
                    );
                }
                for sign in ["+", "-"] {
                    assert_eq!(
                        said(names, &format!("go {sign}{number}")),
                        Err(format!(
                            "`go` goes at most 100000 bars from here, found `{sign}{number}`"
                        ))
                    );
                }
            }
        }
        assert_eq!(
            said(&endless, "go 10000000000"),
            Ok(Some(Control::Go(10_000_000_000)))
        );
        assert_eq!(
            said(&endless, "go -100000"),
            Ok(Some(Control::GoBy(-100_000)))
        );
        assert!(said(&endless, "go -9223372036854775808").is_err());
        assert!(said(&endless, "go +-1").is_err());
    }

    proptest::proptest! {
        #[test]
        fn any_number_is_a_command_or_refused(
            word in "(go|loop [0-9]{0,3}|tempo|transpose) [+-]{0,2}[0-9]{0,40}[.%]?[0-9]{0,5}%?",
        ) {
            for last in [None, Some(16), Some(i64::MAX)] {
                let names = Names::named(vec!["click"], vec![("A".to_owned(), 1)], last);
                if let Ok(Some(Control::Go(bar))) = read(&word, &names, Instant::now()) {
                    proptest::prop_assert!((1..=last.unwrap_or(MOST_BAR)).contains(&bar));
                }
            }
        }
    }

    #[test]
    fn what_is_wrong_is_told_by_its_bytes() {
        let found: Vec<(&str, String)> = [
            "  dänce now ",
            "tempo  fast",
            "tempo 5000%",
            "go +x",
            "\u{2003}transpose 30",
            "bring back drüms",
            "go brigde",
            "go 17",
            " loop  8 5 ",
            "loop 5 Ä",
            " help",
        ]
        .map(|line| {
            let wrong = read(line, &names(), Instant::now()).unwrap_err();
            (&line[wrong.span.clone()], wrong.help())
        })
        .to_vec();
        let all = format!("there are {COMMANDS}");
        let found: Vec<(&str, &str)> = found
            .iter()
            .map(|(words, help)| (*words, if *help == all { "all" } else { help }))
            .collect();
        assert_eq!(
            found,
            [
                ("dänce now", "all"),
                ("fast", "all"),
                ("5000%", "all"),
                ("+x", "all"),
                ("30", "all"),
                ("drüms", "there are click, pads, bass"),
                ("brigde", "write `go bridge`"),
                ("17", "all"),
                ("8 5", "all"),
                ("Ä", "write `go A`"),
                ("help", "all"),
            ]
        );
    }

    #[test]
    fn any_bytes_are_survived() {
        let (controls, taken) = bounded(100);
        let mut bytes: Vec<u8> = (0..=255).collect();
        bytes.extend(std::iter::repeat_n(b'x', 10_000));
        bytes.extend(b"\npause\n\xFF\xFE\ngo on");
        let playing = || Some((names(), controls.clone()));
        read_all(&mut bytes.as_slice(), &playing, &mut |_, _| {});
        let found: Vec<Control> = taken.try_iter().collect();
        assert_eq!(found, [Control::Pause, Control::Resume]);
    }

    #[test]
    fn what_stands_at_the_end_of_a_line_that_is_too_long_is_no_command() {
        for length in [4091, 4092, 4093, 8187, 8188, 10_000] {
            for fill in [b'x', b' '] {
                let (controls, taken) = bounded(100);
                let mut bytes: Vec<u8> = std::iter::repeat_n(fill, length).collect();
                bytes.extend(b"stop\npause\n");
                let mut all = Vec::new();
                let mut wrong = |_: &str, wrong: &NoCommand| all.push(wrong.to_string());
                let playing = || Some((names(), controls.clone()));
                read_all(&mut bytes.as_slice(), &playing, &mut wrong);
                let found: Vec<Control> = taken.try_iter().collect();
                // As long as 4095 bytes and the end of the line, blanks before a command are nothing.
                if length == 4091 && fill == b' ' {
                    assert_eq!(found, [Control::Stop, Control::Pause]);
                    continue;
                }
                assert_eq!(found, [Control::Pause], "{length}");
                let said = if length == 4091 {
                    format!(
                        "`{}...` is no command; there are {COMMANDS}",
                        "x".repeat(SAID)
                    )
                } else {
                    "a command has fewer than 4096 bytes".to_owned()
                };
                assert_eq!(all, [said], "{length}");
            }
        }
    }

    #[test]
    fn what_is_said_back_is_short_and_steers_no_terminal() {
        let long = format!("\u{1B}[2J{}", "o".repeat(5000));
        assert_eq!(said(&long), format!("\u{FFFD}[2J{}...", "o".repeat(36)));
        assert_eq!(said("dance"), "dance");
    }
}
