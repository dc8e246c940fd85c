//! Wishes that wait until every lane has room for them, so that none is lost and all lanes take the same.

use super::{Conductor, TOGETHER_NS, Wish};
use crate::time::{Nanos, Timed};

/// Wishes that were made and not handed to the lanes yet, in order. One that makes an earlier one of its kind void takes
/// its place, so there are never more than a few and one for each part.
#[derive(Debug, Default)]
pub(super) struct Wishes {
    waiting: Vec<Wish>,
}

/// Whether `later` leaves nothing of `earlier` to be done.
fn replaces(later: &Wish, earlier: &Wish) -> bool {
    use Wish::{Begin, Bring, Follow, GoOn, Leave, Pause, Silence, Tempo, Transpose};
    match (later, earlier) {
        (Tempo(_) | Follow(_), Tempo(_) | Follow(_))
        | (Transpose(_), Transpose(_))
        | (Pause | GoOn, Pause | GoOn)
        | (Leave { .. }, Leave { .. })
        // A run that begins now does so wherever the piece was.
        | (Begin { .. }, Begin { .. } | Leave { .. } | Pause | GoOn) => true,
        (Silence(part) | Bring(part), Silence(other) | Bring(other)) => part == other,
        _ => false,
    }
}

impl Wishes {
    /// Adds a wish behind the others.
    pub(super) fn push(&mut self, wish: Wish) {
        self.waiting.retain(|earlier| !replaces(&wish, earlier));
        self.waiting.push(wish);
    }
}

impl Conductor<'_, '_> {
    /// Wishes for something in all lanes.
    pub(super) fn wish(&mut self, wish: Wish) {
        self.wishes.push(wish);
        self.hand_over_wishes();
    }

    /// Hands over the wishes that wait, once every lane has room for all of them; they take effect in all at the same time.
    pub(super) fn hand_over_wishes(&mut self) {
        let waiting = self.wishes.waiting.len();
        if waiting == 0 || self.lanes.iter().any(|lane| lane.room() < waiting) {
            return;
        }
        let at = match &*self.lanes {
            [_] | [] => Nanos::ZERO,
            [first, ..] => self.together(first.now()),
        };
        for wish in std::mem::take(&mut self.wishes.waiting) {
            for lane in self.lanes.iter_mut() {
                lane.wish(Timed { at, what: wish });
            }
        }
    }

    /// When a wish that is made when the first lane has reached `now` takes effect in all.
    pub(super) fn together(&self, now: Nanos) -> Nanos {
        let grain = self.lanes.first().map_or(0, |lane| lane.grain().get());
        Nanos::new(now.get() + grain + TOGETHER_NS)
    }
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;
    use crate::event::PartId;

    fn kept(wishes: &[Wish]) -> Vec<Wish> {
        let mut kept = Wishes::default();
        for wish in wishes {
            kept.push(*wish);
        }
        kept.waiting
    }

    #[test]
    fn the_last_of_a_kind_stays_and_keeps_its_place_among_others() {
        let (begin, leave) = (
            |run| Wish::Begin {
                run,
                song: None,
                skip: 0,
            },
            |run| Wish::Leave { run, song: 0 },
        );
        let silence = |part| Wish::Silence(PartId(part));
        assert_eq!(
            kept(&[
                Wish::Tempo(1),
                silence(1),
                silence(2),
                Wish::Pause,
                Wish::Tempo(2),
                Wish::Bring(PartId(1)),
                Wish::GoOn,
            ]),
            [
                silence(2),
                Wish::Tempo(2),
                Wish::Bring(PartId(1)),
                Wish::GoOn
            ]
        );
        // What begins now makes void what stood or was to be left for; a pause after it stays.
        assert_eq!(
            kept(&[leave(1), Wish::Pause, begin(2), Wish::Pause]),
            [begin(2), Wish::Pause]
        );
        assert_eq!(kept(&[begin(1), leave(2)]), [begin(1), leave(2)]);
    }

    proptest! {
        #[test]
        fn few_wait_however_many_come(made in prop::collection::vec((0u8..7, 0u8..4, any::<bool>()), 0..300)) {
            let wishes: Vec<Wish> = made
                .into_iter()
                .map(|(kind, n, silent)| match kind {
                    0 => Wish::Pause,
                    1 => Wish::GoOn,
                    2 => Wish::Tempo(u32::from(n)),
                    3 => Wish::Transpose(1),
                    4 if silent => Wish::Silence(PartId(n)),
                    4 => Wish::Bring(PartId(n)),
                    5 => Wish::Leave { run: u32::from(n), song: 0 },
                    _ => Wish::Begin { run: u32::from(n), song: None, skip: 0 },
                })
                .collect();
            let kept = kept(&wishes);
            // Pausing or going on, tempo, transposition, leaving, beginning, and four parts.
            prop_assert!(kept.len() <= 9, "{:?}", kept);
            prop_assert_eq!(kept.last(), wishes.last());
        }
    }
}
