//! What drills say of the neck and of places in a shape, each in one way: facts of one name are one fact.

use crate::chart::{MOST_ASK_CHARS, Piece};
use crate::neck::{Neck, Position, StringNumber, Tuning};
use crate::theory::{Pitch, ScaleFormula};

/// What tells a neck from the usual one, to be put behind a name; nothing for standard tuning without a capo.
pub(super) fn neck_words(neck: &Neck) -> String {
    let mut words = String::new();
    if *neck.tuning() != Tuning::standard() {
        words = format!(", tuned {}", neck.tuning());
    }
    if !neck.capo().is_open() {
        words += &format!(", capo {}", neck.capo());
    }
    words
}

/// The name of what is known of a place in the shape that begins at the root on a string, in every key, such as `b3 on
/// string 4, minor pentatonic from 1 on string 6`.
pub(super) fn place_fact(
    place: &Position,
    set: ScaleFormula,
    from: StringNumber,
    neck: &Neck,
) -> String {
    let Position { degree, string, .. } = place;
    let words = neck_words(neck);
    format!("{degree} on string {string}, {set} from 1 on string {from}{words}")
}

/// Puts a piece on a neck.
pub(super) fn put_on(piece: &mut Piece, neck: &Neck) {
    piece.capo = neck.capo().value();
    let standard = *neck.tuning() == Tuning::standard();
    piece.tuning = (!standard).then(|| *neck.tuning());
}

/// The text of an ask: the whole of it, or the short one where that is longer than a line.
pub(super) fn ask_text(whole: String, short: String) -> String {
    if whole.chars().count() <= MOST_ASK_CHARS {
        whole
    } else {
        short
    }
}

/// The pitch of a place, with the letter its set gives it.
pub(super) fn pitch_of(place: &Position) -> Pitch {
    let key = i32::from(place.midi);
    let near = Pitch::of_key(key);
    let octave = near.octave();
    // B# lies in the octave below the C it sounds as, Cb in the one above the B.
    [octave, octave.saturating_sub(1), octave.saturating_add(1)]
        .into_iter()
        .map(|octave| Pitch::new(place.note, octave))
        .find(|pitch| pitch.midi() == key)
        .unwrap_or(near)
}
