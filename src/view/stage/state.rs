//! What the piece does beside playing, what a drill asks, and what went wrong.

use serde::Serialize;

use crate::live::{Activity, FollowState, Moment};
use crate::time::Nanos;

/// Whether it plays, and what it waits for where it does not.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
#[serde(tag = "state", content = "for", rename_all = "lowercase")]
pub enum StageState {
    /// It plays, count-in and ending included.
    Plays,
    /// The listener has paused it.
    Paused,
    /// It waits: for a port that is gone, or for the clock of another device.
    Waits(String),
}

/// What a drill asks, and what came of it.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize)]
pub struct StageAsk {
    /// What is asked.
    pub text: String,
    /// How to answer; `None` once the time for it is over, or an answer was given.
    pub how: Option<String>,
    /// The answer, once it is told.
    pub answer: Option<String>,
    /// What was made of what the player did.
    pub judged: Option<String>,
}

/// What went wrong so that it can be heard.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "lowercase")]
pub enum StageTrouble {
    /// The sound broke off.
    Broken,
    /// Notes came late.
    Late,
}

impl StageTrouble {
    /// In a few words.
    #[must_use]
    pub const fn words(self) -> &'static str {
        match self {
            StageTrouble::Broken => "the sound broke off",
            StageTrouble::Late => "notes came late",
        }
    }
}

/// How long a trouble is shown.
const SHOWN: Nanos = Nanos::new(5_000_000_000);

/// Notices what went wrong a little before.
#[derive(Debug, Default)]
pub(super) struct Troubles {
    dropouts: u64,
    heard_late: u64,
    last: Option<(Nanos, StageTrouble)>,
}

impl Troubles {
    /// Takes in a moment; returns what is to be shown.
    pub(super) fn at(&mut self, moment: &Moment) -> Option<StageTrouble> {
        if moment.heard_late > self.heard_late {
            self.last = Some((moment.at, StageTrouble::Late));
        }
        if moment.dropouts > self.dropouts {
            self.last = Some((moment.at, StageTrouble::Broken));
        }
        self.dropouts = moment.dropouts;
        self.heard_late = moment.heard_late;
        let (since, trouble) = self.last?;
        let age = moment.at.get().saturating_sub(since.get());
        (age < SHOWN.get()).then_some(trouble)
    }
}

/// Whom the piece plays to and follows, for what it waits for.
#[derive(Clone, Debug, Default)]
pub(super) struct Company {
    /// What each lane plays to.
    pub(super) lanes: Vec<String>,
    /// The device whose clock is followed.
    pub(super) leader: Option<String>,
}

impl Company {
    pub(super) fn state(&self, moment: &Moment) -> StageState {
        let leader = || self.leader.as_deref().unwrap_or("the other device");
        match (moment.activity(), moment.gone, moment.followed) {
            (Activity::Plays, ..) => StageState::Plays,
            (Activity::Paused, ..) => StageState::Paused,
            (Activity::Waits, Some(lane), _) => {
                let name = self.lanes.get(lane).map_or("the port", String::as_str);
                StageState::Waits(name.to_owned())
            }
            (Activity::Waits, None, Some(FollowState::Learning | FollowState::Locked)) => {
                StageState::Waits(format!("the start of {}", leader()))
            }
            (Activity::Waits, None, _) => StageState::Waits(format!("the clock of {}", leader())),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::event::Bar;
    use crate::time::{Meter, Region, Tempo, Tick};

    fn moment(ms: u64) -> Moment {
        Moment::first(
            Bar {
                number: 1,
                region: Region::Pass { pass: 0, bar: 0 },
                start: Tick::ZERO,
                meter: Meter::COMMON,
            },
            Tempo::DEFAULT,
            Nanos::new(ms * 1_000_000),
        )
    }

    #[test]
    fn a_trouble_is_shown_for_five_seconds() {
        let mut troubles = Troubles::default();
        let mut at = |ms, dropouts, heard_late| {
            let mut moment = moment(ms);
            moment.dropouts = dropouts;
            moment.heard_late = heard_late;
            troubles.at(&moment)
        };
        assert_eq!(at(0, 0, 0), None);
        assert_eq!(at(1000, 0, 2), Some(StageTrouble::Late));
        assert_eq!(at(5999, 0, 2), Some(StageTrouble::Late));
        assert_eq!(at(6000, 0, 2), None);
        // What broke off is worse than what came late.
        assert_eq!(at(7000, 1, 3), Some(StageTrouble::Broken));
        assert_eq!(at(8000, 1, 4), Some(StageTrouble::Late));
        // Another device begins to count anew.
        assert_eq!(at(13_000, 0, 4), None);
    }

    #[test]
    fn what_it_waits_for() {
        let company = Company {
            lanes: vec!["headphones".to_owned(), "desk synth".to_owned()],
            leader: Some("looper".to_owned()),
        };
        let state = |change: &dyn Fn(&mut Moment)| {
            let mut moment = moment(0);
            change(&mut moment);
            company.state(&moment)
        };
        let waits = |name: &str| StageState::Waits(name.to_owned());
        assert_eq!(state(&|_| {}), StageState::Plays);
        assert_eq!(state(&|m| m.paused = true), StageState::Paused);
        assert_eq!(
            state(&|m| (m.paused, m.gone) = (true, Some(1))),
            waits("desk synth")
        );
        let led = |followed| state(&|m| (m.paused, m.followed) = (true, Some(followed)));
        assert_eq!(led(FollowState::Silent), waits("the clock of looper"));
        assert_eq!(led(FollowState::Lost), waits("the clock of looper"));
        assert_eq!(led(FollowState::Locked), waits("the start of looper"));
        assert_eq!(
            state(&|m| m.followed = Some(FollowState::Locked)),
            StageState::Plays
        );
    }
}
