//! Wishes that wait until every lane has room for them, so that none is lost and all lanes take the same.

use super::notice::Notice;
use crate::live::dispatch::Wish;

/// Wishes not yet handed to the lanes, in order, and what the listener is told when they are. One that overrides an
/// earlier one of its kind replaces it, so there are never more than a few, and one for each part.
#[derive(Debug, Default)]
pub(super) struct Wishes(Vec<(Wish, Option<Notice>)>);

/// Whether `later` makes `earlier` superfluous.
fn replaces(later: &Wish, earlier: &Wish) -> bool {
    use Wish::{Begin, Follow, Leave, Mute, Pause, Resume, Tempo, Transpose, Unmute};
    match (later, earlier) {
        (Tempo(_) | Follow(_), Tempo(_) | Follow(_))
        | (Transpose(_), Transpose(_))
        | (Pause | Resume, Pause | Resume)
        | (Leave { .. }, Leave { .. })
        // A run that begins now does so wherever the piece was.
        | (Begin { .. }, Begin { .. } | Leave { .. } | Pause | Resume) => true,
        (Mute(part) | Unmute(part), Mute(other) | Unmute(other)) => part == other,
        _ => false,
    }
}

impl Wishes {
    /// Adds a wish behind the others.
    pub(super) fn push(&mut self, wish: Wish, notice: Option<Notice>) {
        self.0.retain(|(earlier, _)| !replaces(&wish, earlier));
        self.0.push((wish, notice));
    }

    pub(super) fn len(&self) -> usize {
        self.0.len()
    }

    /// Takes all of them out.
    pub(super) fn take(&mut self) -> Vec<(Wish, Option<Notice>)> {
        std::mem::take(&mut self.0)
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
            kept.push(*wish, None);
        }
        kept.0.into_iter().map(|(wish, _)| wish).collect()
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
        let silence = |part| Wish::Mute(PartId(part));
        assert_eq!(
            kept(&[
                Wish::Tempo(1),
                silence(1),
                silence(2),
                Wish::Pause,
                Wish::Tempo(2),
                Wish::Unmute(PartId(1)),
                Wish::Resume,
            ]),
            [
                silence(2),
                Wish::Tempo(2),
                Wish::Unmute(PartId(1)),
                Wish::Resume
            ]
        );
        // Beginning now overrides pauses and leaves before it; a pause after it stays.
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
                    1 => Wish::Resume,
                    2 => Wish::Tempo(u32::from(n)),
                    3 => Wish::Transpose(1),
                    4 if silent => Wish::Mute(PartId(n)),
                    4 => Wish::Unmute(PartId(n)),
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
