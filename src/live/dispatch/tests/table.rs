//! The dispatcher's states, held to the table in `DEVELOPERS.md`: every pair of a state and what can happen in it.

use super::*;
use crate::live::dispatch::state::Stage;
use crate::live::guide_table::hold;

/// All states, as the table calls them. What is paused goes on where it was.
const STATES: [&str; 11] = [
    "waiting",
    "entering",
    "playing",
    "leaving",
    "rejoining",
    "paused, waiting",
    "paused, entering",
    "paused, playing",
    "paused, leaving",
    "paused, rejoining",
    "over",
];

/// All that can happen: what is wished, which entry comes, and what the machine does.
const HAPPENINGS: [&str; 16] = [
    "Pause",
    "Resume",
    "Tempo",
    "Follow",
    "Transpose",
    "Mute",
    "Unmute",
    "Leave",
    "Begin",
    "Origin",
    "Message",
    "Bar",
    "Turn",
    "End",
    "stall",
    "stop",
];

/// Where the playing run begins its second bar.
const LINE: u64 = 4 * QUARTER;

fn name(state: &State) -> String {
    let stage = |stage: &Stage| match stage {
        Stage::Waiting(_) => "waiting",
        Stage::Playing(playing) => match (playing.pass, playing.leaving) {
            (Pass::Entering, _) => "entering",
            (Pass::Rejoining { .. }, _) => "rejoining",
            (Pass::Through, Some(_)) => "leaving",
            (Pass::Through, None) => "playing",
        },
    };
    match state {
        State::Moving(at) => stage(at).to_owned(),
        State::Paused { stage: at, .. } => format!("paused, {}", stage(at)),
        State::Over => "over".to_owned(),
    }
}

/// A dispatcher with the MIDI clock, and the channels to and from it.
struct Bench {
    dispatcher: Dispatcher,
    queue: Sender<Item>,
    passages: crossbeam_channel::Receiver<Passage>,
    now: u64,
}

/// The effect of an event: notes, messages of the clock, and changes of the map as played.
#[derive(Debug, Default, PartialEq, Eq)]
struct Outcome {
    sent: Vec<String>,
    told: Vec<String>,
}

impl Bench {
    fn new() -> Self {
        let (queue, taken) = bounded(100);
        let (tell, passages) = bounded(100);
        Bench {
            dispatcher: Dispatcher::new(taken).with_clock().telling(tell),
            queue,
            passages,
            now: 0,
        }
    }

    fn put(&self, run: u32, entry: Entry) {
        self.queue.send(Item { run, entry }).unwrap();
    }

    fn begin_run(&self, run: u32, line: u64) {
        let tick = Tick::new(line);
        self.put(
            run,
            Entry::Origin {
                tick,
                song: Some(line),
            },
        );
        self.put(
            run,
            Entry::Bar {
                tick,
                end: tick + LINE,
                song: Some(line),
                then: None,
            },
        );
        self.put(run, on(line, 1, 1, 60));
    }

    /// Does what is due up to now. Only pulses may come before that.
    fn step(&mut self) -> Outcome {
        let mut outcome = Outcome::default();
        while self.dispatcher.due().is_some_and(|at| at.get() <= self.now) {
            let Some(sent) = self.dispatcher.step() else {
                continue;
            };
            outcome.sent.extend(match sent.what {
                Outgoing::System(System::Clock) => None,
                Outgoing::System(message) => {
                    Some(format!("{message:?}").split('(').next().unwrap().to_owned())
                }
                Outgoing::Part(part) => match part.message {
                    Message::NoteOn { .. } => Some("note-on".to_owned()),
                    Message::NoteOff { .. } => Some("note-off".to_owned()),
                    _ => None,
                },
            });
        }
        for passage in self.passages.try_iter() {
            outcome
                .told
                .push(if passage.paused { "paused" } else { "moves" }.to_owned());
        }
        outcome
    }

    fn wish(&mut self, wish: Wish) {
        let at = Nanos::new(self.now);
        assert!(self.dispatcher.wish(Timed { at, what: wish }));
    }

    /// A dispatcher in a state, a note sounding where anything can.
    fn in_state(state: &str) -> Self {
        let mut bench = Bench::new();
        let (paused, stage) = match state.strip_prefix("paused, ") {
            Some(stage) => (true, stage),
            None => (false, state),
        };
        bench.begin_run(0, 0);
        bench.step();
        bench.now = 100_000_000;
        bench.step();
        match stage {
            "waiting" => {
                // As after a jump whose entries have not come.
                bench.wish(Wish::Begin {
                    run: 1,
                    song: Some(0),
                    skip: 0,
                });
            }
            "entering" => {
                bench.wish(Wish::Begin {
                    run: 1,
                    song: Some(0),
                    skip: 480,
                });
                bench.begin_run(1, 0);
            }
            "leaving" => bench.wish(Wish::Leave { run: 1, song: 0 }),
            "rejoining" => {
                bench.put(0, on(2 * QUARTER, 1, 1, 64));
                bench.now = 9_000_000_000;
                assert!(bench.dispatcher.look_for_stall(Nanos::new(bench.now)));
                bench.step();
            }
            "over" => bench.dispatcher.stop(Nanos::new(bench.now)),
            _ => {}
        }
        bench.step();
        if paused {
            bench.wish(Wish::Pause);
            bench.step();
        }
        assert_eq!(name(&bench.dispatcher.state), state);
        bench.now += 100_000_000;
        bench.step();
        bench
    }

    fn happen(&mut self, happening: &str) {
        let run = self.dispatcher.run;
        // Entries come in order of ticks; the next one of a run that plays is due after the next bar line.
        let tick = Tick::new(LINE);
        let mut entry = |entry| {
            self.queue.send(Item { run, entry }).unwrap();
            self.now += 10_000_000_000;
        };
        match happening {
            "Pause" => self.wish(Wish::Pause),
            "Resume" => self.wish(Wish::Resume),
            "Tempo" => self.wish(Wish::Tempo(2_000_000)),
            "Follow" => self.wish(Wish::Follow(Tempo::new(400_000).unwrap())),
            "Transpose" => self.wish(Wish::Transpose(2)),
            "Mute" => self.wish(Wish::Mute(PartId(1))),
            "Unmute" => self.wish(Wish::Unmute(PartId(1))),
            "Leave" => self.wish(Wish::Leave { run: 7, song: 0 }),
            "Begin" => self.wish(Wish::Begin {
                run: 7,
                song: Some(0),
                skip: 0,
            }),
            "Origin" => entry(Entry::Origin {
                tick,
                song: Some(LINE),
            }),
            "Message" => entry(on(LINE, 1, 1, 67)),
            "Bar" => entry(Entry::Bar {
                tick,
                end: tick + LINE,
                song: Some(LINE),
                then: None,
            }),
            "Turn" => entry(Entry::Turn { tick }),
            "End" => entry(Entry::End { tick }),
            "stall" => {
                // Something is due, and it is long past.
                self.put(run, on(3 * QUARTER, 0, 10, 76));
                self.now += 5_000_000_000;
                self.dispatcher.look_for_stall(Nanos::new(self.now));
            }
            "stop" => self.dispatcher.stop(Nanos::new(self.now)),
            other => panic!("{other}"),
        }
    }
}

fn shown(list: &[String]) -> String {
    if list.is_empty() {
        "–".to_owned()
    } else {
        list.join(", ")
    }
}

/// The outcome of an event in a state: the next state, what is sent, what is told.
fn found(state: &str, happening: &str) -> [String; 3] {
    let mut bench = Bench::in_state(state);
    bench.happen(happening);
    let outcome = bench.step();
    let next = name(&bench.dispatcher.state);
    let next = if next == state {
        "the same"
    } else if next.strip_prefix("paused, ") == Some(state) {
        "paused"
    } else if state.strip_prefix("paused, ") == Some(&next) {
        "resumed"
    } else {
        &next
    };
    [next.to_owned(), shown(&outcome.sent), shown(&outcome.told)]
}

#[test]
fn every_state_does_with_everything_what_the_table_says() {
    hold("What happens in a dispatcher", &STATES, &HAPPENINGS, found);
}
