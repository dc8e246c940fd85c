//! The messages shown while it plays.

use serde_json::{Value, json};

use crate::event::PartId;
use crate::live::{FollowState, Notice};
use crate::time::TICKS_PER_QUARTER;
use crate::view::{hundredths, moved_by};

/// Turns what happened into a line.
pub(super) struct Telling<'a> {
    /// What each lane plays to.
    pub(super) names: &'a [String],
    /// The input of the device that leads.
    pub(super) leader: Option<&'a str>,
    /// Ticks of what the tempo counts.
    pub(super) unit_ticks: u64,
    /// The parts, in the order of their ids.
    pub(super) parts: Vec<&'static str>,
    /// How a line is written: [`Telling::text`] for people, [`Telling::event`] for programs.
    pub(super) write: fn(&Telling<'a>, Notice) -> Option<String>,
}

impl<'a> Telling<'a> {
    fn part(&self, part: PartId) -> &'static str {
        let name = self.parts.get(usize::from(part.0));
        name.copied().unwrap_or("that part")
    }

    /// The line as it is written.
    pub(super) fn line(&self, told: Notice) -> Option<String> {
        (self.write)(self, told)
    }

    /// The line; `None` if there is nothing to report.
    pub(super) fn text(&self, told: Notice) -> Option<String> {
        let lane = |i: usize| self.names.get(i).map_or("the port", String::as_str);
        let leader = self.leader.unwrap_or("the other device");
        Some(match told {
            Notice::Tempo {
                milli_beats,
                millionths,
            } => {
                let unit = match self.unit_ticks {
                    TICKS_PER_QUARTER => "",
                    ticks if ticks == TICKS_PER_QUARTER * 3 / 2 => " dotted quarters",
                    ticks if ticks == TICKS_PER_QUARTER / 2 => " eighths",
                    ticks if ticks == TICKS_PER_QUARTER * 2 => " halves",
                    _ => " beats",
                };
                let share = hundredths(u64::from(millionths / 10));
                format!(
                    "tempo {}{unit} a minute, {share} % of the plan",
                    hundredths(u64::from(milli_beats))
                )
            }
            Notice::TempoLimit => {
                "a tempo is 10 % to 1000 % of the plan and 3.6 to 960 quarter notes a minute"
                    .to_owned()
            }
            Notice::Tapped => "one beat; the next tap gives the tempo".to_owned(),
            Notice::Transposed(semitones) => transposed(semitones),
            Notice::Muted(part) => format!("{} is silent", self.part(part)),
            Notice::Unmuted(part) => format!("{} is heard", self.part(part)),
            Notice::NoBar => "there is no such bar".to_owned(),
            Notice::LastPass => {
                "this is the last pass; `again` plays it once more, `stop` ends it".to_owned()
            }
            Notice::Goes(bar) => format!("bar {bar} comes next"),
            Notice::GoesOnWith(bar) => format!("will go on with bar {bar}"),
            Notice::CountsIn(bar) => format!("counts in, then bar {bar}"),
            Notice::Paused => "paused".to_owned(),
            Notice::Resumed => "goes on".to_owned(),
            Notice::Loops { first, last } if first == last => {
                format!("bar {first} again and again")
            }
            Notice::Loops { first, last } => format!("bars {first} to {last} again and again"),
            Notice::Marked(bar) => format!("a loop will begin with bar {bar}"),
            Notice::LoopEnds => "the loop is off".to_owned(),
            Notice::NoLoop => "no loop plays".to_owned(),
            Notice::Gone(i) => format!("{} is gone; the piece waits until it is back", lane(i)),
            Notice::Back(i) => format!("{} is back", lane(i)),
            Notice::Clock(FollowState::Silent) => return None,
            Notice::Clock(FollowState::Learning) => format!("hears the clock of {leader}"),
            Notice::Clock(FollowState::Locked) => format!("follows the clock of {leader}"),
            Notice::Clock(FollowState::Lost) => {
                format!("the clock of {leader} is lost; the piece waits until it is back")
            }
            Notice::Led(bar) => format!("{leader} plays from bar {bar}"),
            Notice::TempoIsLed => format!("the tempo is that of {leader}"),
            // Drills say these themselves.
            Notice::Asked { .. } | Notice::Answered { .. } | Notice::Responded { .. } => {
                return None;
            }
        })
    }
}

impl Telling<'_> {
    /// The same for programs: an event of the kind `notice`.
    pub(super) fn event(&self, told: Notice) -> Option<String> {
        let text = self.text(told)?;
        let (what, more) = self.facts(told);
        let mut event = json!({ "kind": "notice", "what": what, "text": text });
        for (name, value) in more {
            event[name] = value;
        }
        Some(event.to_string())
    }

    /// What happened, by a word that stays, and its figures.
    fn facts(&self, told: Notice) -> (&'static str, Vec<(&'static str, Value)>) {
        let bar = |bar: i64| vec![("bar", json!(bar))];
        match told {
            Notice::Tempo {
                milli_beats,
                millionths,
            } => {
                let tempo = ("tempo_milli", json!(milli_beats));
                (
                    "tempo",
                    vec![tempo, ("share_millionths", json!(millionths))],
                )
            }
            Notice::TempoLimit => ("tempo-limit", Vec::new()),
            Notice::Tapped => ("tap", Vec::new()),
            Notice::Transposed(semitones) => ("transposed", vec![("semitones", json!(semitones))]),
            Notice::Muted(part) => ("muted", vec![("part", json!(self.part(part)))]),
            Notice::Unmuted(part) => ("unmuted", vec![("part", json!(self.part(part)))]),
            Notice::NoBar => ("no-bar", Vec::new()),
            Notice::LastPass => ("last-pass", Vec::new()),
            Notice::Goes(at) => ("goes", bar(at)),
            Notice::GoesOnWith(at) => ("goes-on-with", bar(at)),
            Notice::CountsIn(at) => ("counts-in", bar(at)),
            Notice::Paused => ("paused", Vec::new()),
            Notice::Resumed => ("resumed", Vec::new()),
            Notice::Loops { first, last } => {
                ("loop", vec![("bar", json!(first)), ("last", json!(last))])
            }
            Notice::Marked(at) => ("loop-begins", bar(at)),
            Notice::LoopEnds => ("loop-ends", Vec::new()),
            Notice::NoLoop => ("no-loop", Vec::new()),
            Notice::Gone(_) => ("port-gone", Vec::new()),
            Notice::Back(_) => ("port-back", Vec::new()),
            Notice::Clock(FollowState::Silent) => ("clock-silent", Vec::new()),
            Notice::Clock(FollowState::Learning) => ("clock-heard", Vec::new()),
            Notice::Clock(FollowState::Locked) => ("clock-followed", Vec::new()),
            Notice::Clock(FollowState::Lost) => ("clock-lost", Vec::new()),
            Notice::Led(at) => ("led", bar(at)),
            Notice::TempoIsLed => ("tempo-is-led", Vec::new()),
            Notice::Asked { .. } => ("asked", Vec::new()),
            Notice::Answered { .. } => ("answered", Vec::new()),
            Notice::Responded { .. } => ("responded", Vec::new()),
        }
    }
}

fn transposed(semitones: i8) -> String {
    let than = if semitones == 0 { "" } else { " than written" };
    format!("{}{than} from the next chord on", moved_by(semitones))
}

#[cfg(test)]
mod tests {
    use super::*;

    /// All of them but what is said in another place.
    const ALL: &[Notice] = &[
        Notice::Tempo {
            milli_beats: 96_000,
            millionths: 1_066_667,
        },
        Notice::Tempo {
            milli_beats: 72_504,
            millionths: 800_000,
        },
        Notice::TempoLimit,
        Notice::Tapped,
        Notice::Transposed(2),
        Notice::Transposed(-1),
        Notice::Transposed(0),
        Notice::Muted(PartId(1)),
        Notice::Unmuted(PartId(1)),
        Notice::NoBar,
        Notice::LastPass,
        Notice::Goes(9),
        Notice::GoesOnWith(9),
        Notice::CountsIn(9),
        Notice::LoopEnds,
        Notice::NoLoop,
        Notice::Paused,
        Notice::Resumed,
        Notice::Loops { first: 5, last: 8 },
        Notice::Loops { first: 5, last: 5 },
        Notice::Marked(3),
        Notice::Gone(1),
        Notice::Back(1),
        Notice::Clock(FollowState::Learning),
        Notice::Clock(FollowState::Locked),
        Notice::Clock(FollowState::Lost),
        Notice::Led(9),
        Notice::TempoIsLed,
    ];

    #[test]
    fn each_thing_in_a_line() {
        let names = ["headphones".to_owned(), "desk synth".to_owned()];
        let telling = Telling {
            names: &names,
            leader: Some("looper"),
            unit_ticks: TICKS_PER_QUARTER * 3 / 2,
            parts: vec!["click", "bass"],
            write: Telling::text,
        };
        let lines: Vec<String> = ALL.iter().filter_map(|t| telling.text(*t)).collect();
        insta::assert_snapshot!(lines.join("\n"), @"
        tempo 96 dotted quarters a minute, 106.67 % of the plan
        tempo 72.5 dotted quarters a minute, 80 % of the plan
        a tempo is 10 % to 1000 % of the plan and 3.6 to 960 quarter notes a minute
        one beat; the next tap gives the tempo
        2 semitones higher than written from the next chord on
        1 semitone lower than written from the next chord on
        as written from the next chord on
        bass is silent
        bass is heard
        there is no such bar
        this is the last pass; `again` plays it once more, `stop` ends it
        bar 9 comes next
        will go on with bar 9
        counts in, then bar 9
        the loop is off
        no loop plays
        paused
        goes on
        bars 5 to 8 again and again
        bar 5 again and again
        a loop will begin with bar 3
        desk synth is gone; the piece waits until it is back
        desk synth is back
        hears the clock of looper
        follows the clock of looper
        the clock of looper is lost; the piece waits until it is back
        looper plays from bar 9
        the tempo is that of looper
        ");
        assert_eq!(telling.text(Notice::Clock(FollowState::Silent)), None);
        assert_eq!(telling.event(Notice::Clock(FollowState::Silent)), None);
        let muted = telling.event(Notice::Muted(PartId(1))).unwrap();
        assert_eq!(
            serde_json::from_str::<Value>(&muted).unwrap(),
            json!({"kind": "notice", "what": "muted", "part": "bass", "text": "bass is silent"})
        );
        // Each has a word of its own.
        let mut words: Vec<&str> = ALL.iter().map(|told| telling.facts(*told).0).collect();
        let kinds: std::collections::BTreeSet<_> = ALL
            .iter()
            .map(std::mem::discriminant)
            .map(|d| format!("{d:?}"))
            .collect();
        words.sort_unstable();
        words.dedup();
        // A clock has a word for each of its three states that are told.
        assert_eq!(words.len(), kinds.len() + 2);
    }
}
