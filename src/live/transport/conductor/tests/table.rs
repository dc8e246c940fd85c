//! The conductor's states, held to the table in `DEVELOPERS.md`: every pair of a state and what it can be asked for.

use std::cell::RefCell;
use std::rc::Rc;
use std::time::{Duration, Instant};

use super::*;
use crate::live::guide_table::hold;
use crate::live::transport::Here;
use crate::live::transport::conductor::state::{State, Then};
use crate::live::{Passage, Wish};
use crate::time::Timed;

/// All states, as the table calls them.
const STATES: [&str; 5] = [
    "playing",
    "paused",
    "paused, sent",
    "lost, then play",
    "lost, then pause",
];

/// All that it can be asked for, and what happens to a port. A bar exists unless stated otherwise.
const ASKED: [&str; 25] = [
    "Pause",
    "Resume",
    "PauseOrResume",
    "CountIn",
    "Tempo",
    "Tempo, too fast",
    "Tap, twice",
    "Transpose",
    "TransposeBy",
    "Mute",
    "Unmute",
    "MuteOrUnmute",
    "Go",
    "Go, no bar",
    "GoBy",
    "Next",
    "Again",
    "Loop",
    "Loop, no bar",
    "Loop, none",
    "LoopFromHere",
    "LoopToHere",
    "Stop",
    "port gone",
    "port back",
];

fn name(state: &State) -> &'static str {
    match state {
        State::Playing => "playing",
        State::Paused { at: None } => "paused",
        State::Paused { at: Some(_) } => "paused, sent",
        State::Lost {
            then: Then::Play, ..
        } => "lost, then play",
        State::Lost {
            then: Then::Pause, ..
        } => "lost, then pause",
    }
}

/// The wishes and notices that a [`Notepad`] recorded.
struct Page {
    wishes: Vec<Wish>,
    here: Here,
    condition: Condition,
}

/// A lane that plays nothing and notes what is wished.
#[derive(Clone)]
struct Notepad(Rc<RefCell<Page>>);

impl Notepad {
    /// A lane in its second bar.
    fn new() -> Self {
        Notepad(Rc::new(RefCell::new(Page {
            wishes: Vec::new(),
            here: Here {
                run: 0,
                bars: 2,
                plan: Tempo::DEFAULT,
                semitones: 0,
                paused: false,
            },
            condition: Condition::Fine,
        })))
    }
}

impl Lane for Notepad {
    fn begin(&mut self) -> Result<(), LaneError> {
        Ok(())
    }
    fn offer(&mut self, _: Item) -> Offer {
        Offer::Taken
    }
    fn room(&self) -> usize {
        100
    }
    fn wish(&mut self, wish: Timed<Wish>) {
        self.0.borrow_mut().wishes.push(wish.what);
    }
    fn now(&self) -> Nanos {
        Nanos::ZERO
    }
    fn time_at(&self, _: Instant) -> Option<Nanos> {
        None
    }
    fn place(&self) -> Here {
        self.0.borrow().here
    }
    fn passage(&mut self) -> Option<Passage> {
        None
    }
    fn condition(&self) -> Condition {
        self.0.borrow().condition
    }
    fn settle(&mut self) {
        self.0.borrow_mut().condition = Condition::Fine;
    }
    fn is_over(&mut self) -> Result<bool, LaneError> {
        Ok(false)
    }
    fn close(&mut self) -> Result<(), LaneError> {
        Ok(())
    }
}

/// The name of a variant: what stands before its fields.
fn variant(value: &impl std::fmt::Debug) -> String {
    let text = format!("{value:?}");
    let end = text.find(|c: char| !c.is_alphanumeric());
    text[..end.unwrap_or(text.len())].to_owned()
}

fn shown<T: std::fmt::Debug>(list: &[T]) -> String {
    match list {
        [] => "–".to_owned(),
        some => some.iter().map(variant).collect::<Vec<_>>().join(", "),
    }
}

fn controls(asked: &str) -> Vec<Control> {
    let part = PartId(0);
    vec![match asked {
        "Pause" => Control::Pause,
        "Resume" => Control::Resume,
        "PauseOrResume" => Control::PauseOrResume,
        "CountIn" => Control::CountIn,
        "Tempo" => Control::Tempo(Pace::Share(1_100_000)),
        "Tempo, too fast" => Control::Tempo(Pace::Beats(2_000_000)),
        "Tap, twice" => {
            let at = Instant::now();
            let later = at + Duration::from_millis(500);
            return vec![Control::Tap(at), Control::Tap(later)];
        }
        "Transpose" => Control::Transpose(2),
        "TransposeBy" => Control::TransposeBy(-1),
        "Mute" => Control::Mute(part),
        "Unmute" => Control::Unmute(part),
        "MuteOrUnmute" => Control::MuteOrUnmute(part),
        "Go" => Control::Go(7),
        "Go, no bar" => Control::Go(99),
        "GoBy" => Control::GoBy(1),
        "Next" => Control::Next,
        "Again" => Control::Again,
        "Loop" => Control::Loop(Some((2, 3))),
        "Loop, no bar" => Control::Loop(Some((2, 99))),
        "Loop, none" => Control::Loop(None),
        "LoopFromHere" => Control::LoopFromHere,
        "LoopToHere" => Control::LoopToHere,
        "Stop" => Control::Stop,
        other => panic!("{other}"),
    }]
}

/// The outcome of a control in a state: the next state, what is wished, what is told.
fn found(state: &str, asked: &str) -> [String; 3] {
    let notepad = Notepad::new();
    let mut lane = notepad.clone();
    let mut lanes: [&mut dyn Lane; 1] = [&mut lane];
    let mut source = Bars::new(8);
    let stop = AtomicBool::new(false);
    let (send, receive) = bounded(16);
    let told = RefCell::new(Vec::new());
    let mut tell = |what| told.borrow_mut().push(what);
    let mut conductor = Conductor::new(&mut source, &mut lanes, &stop)
        .asked_by(&receive)
        .notifying(&mut tell);
    assert!(conductor.turn().unwrap());
    let become_gone = || notepad.0.borrow_mut().condition = Condition::Gone;
    let pause = || send.send(Control::Pause).unwrap();
    match state {
        "playing" => {}
        "paused" => pause(),
        "paused, sent" => {
            pause();
            send.send(Control::Go(5)).unwrap();
        }
        "lost, then play" => become_gone(),
        "lost, then pause" => {
            pause();
            conductor.turn().unwrap();
            become_gone();
        }
        other => panic!("{other}"),
    }
    conductor.turn().unwrap();
    // The port stays gone; that is seen again at each turn.
    conductor.turn().unwrap();
    assert_eq!(name(&conductor.state), state);
    notepad.0.borrow_mut().wishes.clear();
    told.borrow_mut().clear();
    match asked {
        "port gone" => become_gone(),
        "port back" => notepad.0.borrow_mut().condition = Condition::Back,
        _ => controls(asked)
            .into_iter()
            .for_each(|control| send.send(control).unwrap()),
    }
    let goes_on = conductor.turn().unwrap();
    let next = match name(&conductor.state) {
        _ if !goes_on => "over",
        next if next == state => "the same",
        next => next,
    };
    let wishes = shown(&notepad.0.borrow().wishes);
    let told = shown(&told.borrow());
    [next.to_owned(), wishes, told]
}

#[test]
fn every_state_answers_everything_as_the_table_says() {
    hold("What a conductor is asked for", &STATES, &ASKED, found);
}
