//! From bytes of a terminal to controls; nothing here reads or writes.

use std::time::{Duration, Instant};

use crate::cli::answers::{Answers, Wanted};
use crate::cli::controls::{self, Names};
use crate::cli::hint::{keys_of, keys_of_marks};
use crate::event::PartId;
use crate::live::{Activity, Control, Pace};

/// A key of a terminal.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Key {
    Char(char),
    Up,
    Down,
    Left,
    Right,
    Enter,
    Back,
    /// Ctrl-U: the line from its beginning.
    Wipe,
    Escape,
    /// A key without a meaning here.
    Other,
}

const ESCAPE: u8 = 0x1B;

/// The longest byte sequence that counts as one key. Terminals send shorter ones.
const MOST_BYTES: usize = 32;

/// What an incomplete beginning may still become.
enum Taken {
    /// A key, and how many bytes it took.
    Key(Key, usize),
    /// More bytes are needed.
    More,
}

/// Puts bytes together to keys.
#[derive(Debug, Default)]
struct Decoder {
    rest: Vec<u8>,
}

impl Decoder {
    /// The keys that are whole with these bytes.
    fn feed(&mut self, bytes: &[u8]) -> Vec<Key> {
        self.rest.extend_from_slice(bytes);
        let mut found = Vec::new();
        let mut at = 0;
        while at < self.rest.len() {
            match take(&self.rest[at..]) {
                Taken::Key(key, len) => {
                    found.push(key);
                    at += len;
                }
                Taken::More => break,
            }
        }
        self.rest.drain(..at);
        found
    }

    /// The keys of a beginning after which nothing came: Escape by itself.
    fn give_up(&mut self) -> Vec<Key> {
        match std::mem::take(&mut self.rest).as_slice() {
            [] => Vec::new(),
            [ESCAPE] => vec![Key::Escape],
            _ => vec![Key::Other],
        }
    }
}

/// The first key of `bytes`, which are not empty. Sequences are those of ECMA-48, 5.4 (control sequences), and the arrows in
/// their application mode (ESC O).
fn take(bytes: &[u8]) -> Taken {
    let key = match bytes[0] {
        b'\r' | b'\n' => Key::Enter,
        0x08 | 0x7F => Key::Back,
        0x15 => Key::Wipe,
        ESCAPE => return escaped(bytes),
        c @ b' '..=b'~' => Key::Char(char::from(c)),
        0xC2..=0xF4 => return beyond_ascii(bytes),
        _ => Key::Other,
    };
    Taken::Key(key, 1)
}

fn escaped(bytes: &[u8]) -> Taken {
    let arrow = |letter| match letter {
        b'A' => Key::Up,
        b'B' => Key::Down,
        b'C' => Key::Right,
        b'D' => Key::Left,
        _ => Key::Other,
    };
    match bytes {
        [_] | [_, b'O'] => Taken::More,
        [_, ESCAPE, ..] => Taken::Key(Key::Escape, 1),
        [_, b'O', letter, ..] => Taken::Key(arrow(*letter), 3),
        [_, b'[', rest @ ..] => {
            let middle = rest
                .iter()
                .take_while(|b| (0x20..=0x3F).contains(*b))
                .count();
            match rest.get(middle) {
                _ if middle > MOST_BYTES => Taken::Key(Key::Other, 2 + middle),
                None => Taken::More,
                Some(last @ 0x40..=0x7E) => Taken::Key(arrow(*last), 3 + middle),
                // Broken off: the byte that breaks it is a key of its own.
                Some(_) => Taken::Key(Key::Other, 2 + middle),
            }
        }
        // A key together with Alt.
        [_, ..] => Taken::Key(Key::Other, 2),
        [] => Taken::More,
    }
}

fn beyond_ascii(bytes: &[u8]) -> Taken {
    let len = match bytes[0] {
        0xC2..=0xDF => 2,
        0xE0..=0xEF => 3,
        _ => 4,
    };
    let have = &bytes[..len.min(bytes.len())];
    match std::str::from_utf8(have) {
        Ok(text) => {
            let c = text.chars().next().filter(|c| !c.is_control());
            Taken::Key(c.map_or(Key::Other, Key::Char), len)
        }
        Err(e) if e.error_len().is_none() => Taken::More,
        Err(_) => Taken::Key(Key::Other, 1),
    }
}

/// What a key leads to.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) enum Action {
    /// Asks for this.
    Do(Control),
    /// Shows this message.
    Say(String),
    /// A line is open, and this is in it.
    Line(String),
    /// The open line is closed: entered or abandoned.
    Closed,
}

/// Longest line, in characters: it stays within one row of a terminal.
const MOST_CHARS: usize = 60;

/// The most different keys a hand presses between two reads; more were pasted.
const MOST_KEYS: usize = 6;

/// How long the first digit of a fret waits for a second.
const SECOND_DIGIT: Duration = Duration::from_millis(800);

/// How long a key that has begun may take to go on. A terminal sends it whole; a slow line does not.
const KEY: Duration = Duration::from_millis(50);

/// The keys, and the line that may be open.
#[derive(Debug)]
pub(super) struct Board {
    names: Names,
    /// Whether the space bar strikes.
    strokes: bool,
    decoder: Decoder,
    line: Option<String>,
    /// An answer that has begun, and when.
    answer: Option<(String, Instant)>,
}

impl Board {
    pub(super) fn new(names: Names, strokes: bool) -> Self {
        Board {
            names,
            strokes,
            decoder: Decoder::default(),
            line: None,
            answer: None,
        }
    }

    /// How long to wait for more, after which [`Board::give_up`] is due: where a key or an answer has begun that may go
    /// on.
    pub(super) fn patience(&self, now: Instant) -> Option<Duration> {
        let key = (!self.decoder.rest.is_empty()).then_some(KEY);
        let digit = self.answer.as_ref().map(|(_, since)| {
            let waited = now.saturating_duration_since(*since);
            SECOND_DIGIT.saturating_sub(waited)
        });
        key.or(digit)
    }

    /// What these bytes lead to, which were read together at `at`.
    pub(super) fn take(&mut self, bytes: &[u8], at: Instant) -> Vec<Action> {
        let keys = self.decoder.feed(bytes);
        self.press(&keys, at)
    }

    /// What a pause leads to.
    pub(super) fn give_up(&mut self, at: Instant) -> Vec<Action> {
        let keys = self.decoder.give_up();
        let mut actions = self.press(&keys, at);
        let over =
            |(_, since): &(String, Instant)| at.saturating_duration_since(*since) >= SECOND_DIGIT;
        if self.answer.as_ref().is_some_and(over) {
            self.enter_answer(&mut actions);
        }
        actions
    }

    fn press(&mut self, keys: &[Key], at: Instant) -> Vec<Action> {
        let pasted = keys.len() > MOST_KEYS && keys.iter().any(|key| *key != keys[0]);
        if pasted && self.line.is_none() {
            return vec![Action::Say(
                "pasted text is not taken for keys; Enter opens a line for it".to_owned(),
            )];
        }
        let mut actions = Vec::new();
        for key in keys {
            if self.line.is_some() {
                self.edit(*key, at, &mut actions);
                // Text pasted behind the end of a line is not taken as keys.
                if pasted && self.line.is_none() {
                    break;
                }
            } else if !self.answer(*key, at, &mut actions) {
                actions.extend(self.single(*key, at));
            }
        }
        actions
    }

    /// Whether a key is part of an answer: while one is waited for, digits and accidentals are.
    fn answer(&mut self, key: Key, at: Instant, actions: &mut Vec<Action>) -> bool {
        let wanted = self
            .names
            .answers()
            .map_or(Wanted::Nothing, Answers::wanted);
        if wanted == Wanted::Nothing {
            // The time to answer is over; what was begun is dropped.
            if self.answer.take().is_some() {
                actions.push(Action::Closed);
            }
            return false;
        }
        if matches!(wanted, Wanted::Choice | Wanted::Mark) {
            return self.choose(key, at, actions);
        }
        let (text, since) = self.answer.take().unwrap_or((String::new(), at));
        let text = match key {
            Key::Char(c @ '0'..='9') => text + c.encode_utf8(&mut [0; 4]),
            Key::Char(c @ ('b' | '#')) if wanted == Wanted::Word => {
                text + c.encode_utf8(&mut [0; 4])
            }
            Key::Enter if !text.is_empty() => {
                self.answer = Some((text, since));
                self.enter_answer(actions);
                return true;
            }
            Key::Back | Key::Wipe | Key::Escape if !text.is_empty() => {
                actions.push(Action::Closed);
                return true;
            }
            _ => {
                // Another key is a command; what was begun still counts as an answer.
                if !text.is_empty() {
                    self.answer = Some((text, since));
                    self.enter_answer(actions);
                }
                return false;
            }
        };
        // Only 1, 2 and 3 begin a fret of two digits; a degree ends with its digit.
        let open = match wanted {
            Wanted::Fret => matches!(&*text, "1" | "2" | "3"),
            _ => !text.ends_with(|c: char| c.is_ascii_digit()),
        };
        self.answer = Some((text.clone(), since));
        if open {
            actions.push(Action::Line(text));
        } else {
            self.enter_answer(actions);
        }
        true
    }

    /// Whether a key is one of the choices, or that the player will not choose.
    fn choose(&self, key: Key, at: Instant, actions: &mut Vec<Action>) -> bool {
        let Some(answers) = self.names.answers() else {
            return false;
        };
        let Key::Char(key) = key else { return true };
        match answers.choices().iter().find(|(choice, _)| *choice == key) {
            Some((_, word)) => {
                let deed = answers.typed(word);
                actions.extend(deed.map(|deed| Action::Do(answers.respond(deed, at))));
            }
            None if key == 'q' => actions.push(Action::Do(Control::Stop)),
            None if answers.wanted() == Wanted::Mark => {
                actions.push(if key == 'p' {
                    Action::Do(Control::PauseOrResume)
                } else {
                    Action::Say(keys_of_marks(answers))
                });
            }
            None => actions.push(Action::Say(keys_of(answers.choices()))),
        }
        true
    }

    /// The answer that has begun is given, as of its first key.
    fn enter_answer(&mut self, actions: &mut Vec<Action>) {
        let Some((text, since)) = self.answer.take() else {
            return;
        };
        actions.push(Action::Closed);
        if let Some(answers) = self.names.answers()
            && let Some(deed) = answers.typed(&text)
        {
            actions.push(Action::Do(answers.respond(deed, since)));
        }
    }

    /// A key while no line is open.
    fn single(&mut self, key: Key, at: Instant) -> Option<Action> {
        let beats = |beats: i32| Control::Tempo(Pace::BeatsBy(beats * 1000));
        let control = match key {
            Key::Up => beats(5),
            Key::Down => beats(-5),
            Key::Right => beats(1),
            Key::Left => beats(-1),
            Key::Char(' ') if self.strokes => Control::Stroke(at),
            Key::Char(' ' | 'p') => Control::PauseOrResume,
            Key::Char('c') => Control::CountIn,
            Key::Char('q') => Control::Stop,
            Key::Char('t') => Control::Tap(at),
            Key::Char('h') => Control::TransposeBy(1),
            Key::Char('l') => Control::TransposeBy(-1),
            Key::Char('n') => Control::Next,
            Key::Char('a') => Control::Again,
            Key::Char('b') => Control::LoopFromHere,
            Key::Char('e') => Control::LoopToHere,
            Key::Char('o') => Control::Loop(None),
            // Where digits answer, one that comes too late must not silence a part.
            Key::Char('0'..='9') if self.names.answers().is_some() => {
                let text = "nothing is asked now; a line silences a part: Enter, silence click";
                return Some(Action::Say(text.to_owned()));
            }
            Key::Char(digit @ '1'..='9') => return Some(self.part(digit)),
            Key::Char('g') => return Some(self.open("go ")),
            Key::Enter => return Some(self.open("")),
            Key::Char('?') => return Some(Action::Say(self.help())),
            Key::Char(other) => {
                return Some(Action::Say(format!("`{other}` is no key; ? shows them")));
            }
            Key::Back | Key::Wipe | Key::Escape | Key::Other => return None,
        };
        Some(Action::Do(control))
    }

    fn part(&self, digit: char) -> Action {
        let number = digit.to_digit(10).and_then(|n| u8::try_from(n).ok());
        let id = number.and_then(|n| n.checked_sub(1)).unwrap_or(0);
        if usize::from(id) < self.names.parts().len() {
            Action::Do(Control::MuteOrUnmute(PartId(id)))
        } else {
            Action::Say(format!("no part {digit} plays; there are {}", self.parts()))
        }
    }

    fn parts(&self) -> String {
        let numbered = self.names.parts().iter().zip(1..=9);
        let numbered: Vec<String> = numbered.map(|(name, n)| format!("{n} {name}")).collect();
        numbered.join(", ")
    }

    fn open(&mut self, text: &str) -> Action {
        self.line = Some(text.to_owned());
        Action::Line(text.to_owned())
    }

    /// A key while a line is open.
    fn edit(&mut self, key: Key, at: Instant, actions: &mut Vec<Action>) {
        let Some(line) = &mut self.line else { return };
        match key {
            Key::Char(c) if line.chars().count() < MOST_CHARS => line.push(c),
            Key::Back => {
                line.pop();
            }
            Key::Wipe => line.clear(),
            Key::Enter => {
                let line = std::mem::take(line);
                self.line = None;
                actions.push(Action::Closed);
                match controls::read(&line, &self.names, at) {
                    Ok(control) => actions.extend(control.map(Action::Do)),
                    Err(wrong) => actions.push(Action::Say(wrong.to_string())),
                }
                return;
            }
            Key::Escape => {
                self.line = None;
                actions.push(Action::Closed);
                return;
            }
            _ => return,
        }
        actions.push(Action::Line(line.clone()));
    }

    /// The keys, in a few rows: what they do now first.
    fn help(&self) -> String {
        let now = match self.names.standing().get() {
            Activity::Plays => return self.all_keys(),
            Activity::Paused => {
                "it is paused: space goes on, c counts in and begins the bar again\n\
                 g a bar or section to go on with; q stops\n\
                 the others act as while it plays:\n"
            }
            Activity::Waits => {
                "it waits, and goes on by itself; q stops\n\
                 the others act as while it plays:\n"
            }
        };
        format!("{now}{}", self.all_keys())
    }

    fn all_keys(&self) -> String {
        let space = if self.strokes {
            "space your note, p pauses and goes on"
        } else {
            "space pauses and goes on"
        };
        let asked = match self.names.answers() {
            Some(_) => {
                "\n\
                 while a fret is asked for, digits are the answer; Enter ends 1, 2 or 3 at once\n\
                 while a degree is asked for, 1 to 7 are the answer, b and # before them"
            }
            None => "",
        };
        format!(
            "{space}, c counts in, q stops\n\
             up, down 5 beats a minute more, less; right, left 1 beat; t taps the tempo\n\
             h, l a semitone higher, lower; n next pass, a again\n\
             b, e loop from here, to here; o loop off; g a bar or section to go to\n\
             {}: silences or brings back\n\
             Enter opens a line for any command, Esc leaves it{asked}",
            self.parts()
        )
    }
}

/// What steers a piece while it plays, for a list of all.
pub(in crate::cli) struct Listed {
    /// The key as it is named, or several; empty where only a line does it.
    pub(in crate::cli) key: &'static str,
    /// The line that does the same, with an example of what it takes.
    pub(in crate::cli) line: &'static str,
    /// What it does.
    pub(in crate::cli) about: &'static str,
}

const fn listed(key: &'static str, line: &'static str, about: &'static str) -> Listed {
    Listed { key, line, about }
}

/// All keys, and the lines that do more than a key.
pub(in crate::cli) const CONTROLS: [Listed; 23] = [
    listed(
        "space, p",
        "pause or go on",
        "pauses, goes on (a stroke, with --strokes)",
    ),
    listed(
        "c",
        "count in",
        "begins this bar again after a bar of count-in",
    ),
    listed("q", "stop", "ends"),
    listed("up", "tempo +5", "5 beats a minute more"),
    listed("down", "tempo -5", "5 beats a minute less"),
    listed("right", "tempo +1", "1 beat a minute more"),
    listed("left", "tempo -1", "1 beat a minute less"),
    listed("", "tempo 96", "beats a minute, now"),
    listed("", "tempo 80%", "a share of the plan"),
    listed("t", "tap", "a beat: from the second on, that is the tempo"),
    listed("h", "higher", "a semitone higher, from the next chord on"),
    listed("l", "lower", "a semitone lower, from the next chord on"),
    listed("", "transpose +3", "semitones from the key as written"),
    listed(
        "n",
        "next",
        "the next pass; in an endless jam a new progression",
    ),
    listed("a", "again", "the first bar of this pass"),
    listed("g", "go 5", "goes to a bar, or to a section: go B"),
    listed("", "go +1", "goes so many bars ahead"),
    listed("b", "loop from here", "this bar begins a loop"),
    listed(
        "e",
        "loop to here",
        "this bar ends the loop, which plays again and again",
    ),
    listed("", "loop 5 8", "plays these bars again and again"),
    listed("o", "loop off", "goes on behind the loop"),
    listed(
        "1 to 9",
        "silence or bring bass",
        "takes a part away, and brings it back",
    ),
    listed("?", "help", "shows these"),
];

/// The most important keys, in one line.
pub(in crate::cli) fn first_line(names: &Names, strokes: bool) -> String {
    if let Some(answers) = names.answers()
        && answers.wanted() == Wanted::Mark
    {
        return format!("keys: {}", keys_of_marks(answers));
    }
    let space = if strokes {
        "space note, p pause"
    } else {
        "space pause"
    };
    format!("keys: {space}, arrows tempo, t tap, c count in, q stop, ? all keys")
}

#[cfg(test)]
mod tests;
