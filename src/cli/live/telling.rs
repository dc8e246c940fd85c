//! The messages shown while it plays.

use crate::live::{FollowState, Notice};
use crate::time::TICKS_PER_QUARTER;
use crate::view::hundredths;

/// Turns what happened into a line.
pub(super) struct Telling<'a> {
    /// What each lane plays to.
    pub(super) names: &'a [String],
    /// The input of the device that leads.
    pub(super) leader: Option<&'a str>,
    /// Ticks of what the tempo counts.
    pub(super) unit_ticks: u64,
}

impl Telling<'_> {
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
            Notice::NoBar => "there is no such bar".to_owned(),
            Notice::Paused => "stands still".to_owned(),
            Notice::Resumed => "goes on".to_owned(),
            Notice::Loops { first, last } if first == last => {
                format!("bar {first} again and again")
            }
            Notice::Loops { first, last } => format!("bars {first} to {last} again and again"),
            Notice::Marked(bar) => format!("a loop will begin with bar {bar}"),
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

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn each_thing_in_a_line() {
        let names = ["headphones".to_owned(), "desk synth".to_owned()];
        let telling = Telling {
            names: &names,
            leader: Some("looper"),
            unit_ticks: TICKS_PER_QUARTER * 3 / 2,
        };
        let all = [
            Notice::Tempo {
                milli_beats: 96_000,
                millionths: 1_066_667,
            },
            Notice::Tempo {
                milli_beats: 72_504,
                millionths: 800_000,
            },
            Notice::TempoLimit,
            Notice::NoBar,
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
        let lines: Vec<String> = all.into_iter().filter_map(|t| telling.text(t)).collect();
        insta::assert_snapshot!(lines.join("\n"), @"
        tempo 96 dotted quarters a minute, 106.67 % of the plan
        tempo 72.5 dotted quarters a minute, 80 % of the plan
        a tempo is 10 % to 1000 % of the plan and 3.6 to 960 quarter notes a minute
        there is no such bar
        stands still
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
    }
}
