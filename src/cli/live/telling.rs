//! What the person is told while it plays.

use crate::live::{FollowState, Told};
use crate::time::TICKS_PER_QUARTER;

/// Turns what happened into a line.
pub(super) struct Telling<'a> {
    /// What each lane plays to.
    pub(super) names: &'a [String],
    /// The input of the device that leads.
    pub(super) leader: Option<&'a str>,
    /// Ticks of what the tempo counts.
    pub(super) unit_ticks: u64,
}

/// A number of thousandths, without noughts behind it.
fn decimals(milli: u32) -> String {
    // Hundredths are enough for a tempo.
    let hundredths = (milli + 5) / 10;
    let text = format!("{}.{:02}", hundredths / 100, hundredths % 100);
    text.trim_end_matches('0').trim_end_matches('.').to_owned()
}

impl Telling<'_> {
    /// The line; `None` where there is nothing to say.
    pub(super) fn text(&self, told: Told) -> Option<String> {
        let lane = |i: usize| self.names.get(i).map_or("the port", String::as_str);
        let leader = self.leader.unwrap_or("the other device");
        Some(match told {
            Told::Tempo {
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
                let share = decimals(millionths / 10);
                format!(
                    "tempo {}{unit} a minute, {share} % of the plan",
                    decimals(milli_beats)
                )
            }
            Told::TempoLimit => {
                "a tempo is 10 % to 1000 % of the plan and 3.6 to 960 quarter notes a minute"
                    .to_owned()
            }
            Told::NoBar => "there is no such bar".to_owned(),
            Told::Stands => "stands still".to_owned(),
            Told::GoesOn => "goes on".to_owned(),
            Told::Loops { first, last } if first == last => {
                format!("bar {first} again and again")
            }
            Told::Loops { first, last } => format!("bars {first} to {last} again and again"),
            Told::Marked(bar) => format!("a loop will begin with bar {bar}"),
            Told::Gone(i) => format!("{} is gone; the piece waits until it is back", lane(i)),
            Told::Back(i) => format!("{} is back", lane(i)),
            Told::Clock(FollowState::Silent) => return None,
            Told::Clock(FollowState::Learning) => format!("hears the clock of {leader}"),
            Told::Clock(FollowState::Locked) => format!("follows the clock of {leader}"),
            Told::Clock(FollowState::Lost) => {
                format!("the clock of {leader} is lost; the piece waits until it is back")
            }
            Told::Led(bar) => format!("{leader} plays from bar {bar}"),
            Told::TempoIsLed => format!("the tempo is that of {leader}"),
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
            Told::Tempo {
                milli_beats: 96_000,
                millionths: 1_066_667,
            },
            Told::Tempo {
                milli_beats: 72_504,
                millionths: 800_000,
            },
            Told::TempoLimit,
            Told::NoBar,
            Told::Stands,
            Told::GoesOn,
            Told::Loops { first: 5, last: 8 },
            Told::Loops { first: 5, last: 5 },
            Told::Marked(3),
            Told::Gone(1),
            Told::Back(1),
            Told::Clock(FollowState::Learning),
            Told::Clock(FollowState::Locked),
            Told::Clock(FollowState::Lost),
            Told::Led(9),
            Told::TempoIsLed,
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
        assert_eq!(telling.text(Told::Clock(FollowState::Silent)), None);
    }
}
