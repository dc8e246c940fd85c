//! The weights of effort, in hundredths of one finger put down; the [room](super#the-model-of-the-hand) gives their
//! reasons. All are our own choice.

/// A finger put down.
pub(super) const FINGER: u16 = 100;
/// The index laid over two strings.
pub(super) const BARRE_OF_TWO: u16 = 94;
/// The index laid over three strings.
pub(super) const BARRE_OF_THREE: u16 = 111;
/// Each string of an index barre beyond the third.
pub(super) const BARRE_STRING: u16 = 10;
/// Another finger laid flat, and each string under it.
pub(super) const UPPER_BARRE: (u16, u16) = (100, 35);
/// Each string, beyond the first, between neighboring fingers on one fret.
pub(super) const SPREAD_STRING: u16 = 20;
/// A finger with a free fret beside it.
pub(super) const STRETCHED_FINGER: u16 = 30;
/// Four, five and six frets under the hand.
pub(super) const STRETCH: [u16; 3] = [120, 240, 400];
/// Each fret from the nut to the lowest finger.
pub(super) const PLACE_FRET: u16 = 30;
/// Open strings beside frets above [`OPEN_REACH`], and each fret above it.
pub(super) const OPEN_BESIDE_HIGH: (u16, u16) = (200, 40);
/// The highest fret beside which open strings ring as a matter of course.
pub(super) const OPEN_REACH: u16 = 3;
/// Open strings above a bass at the lowest fret held.
pub(super) const OPEN_OVER_INDEX: u16 = 130;
/// A string left out below the bass.
pub(super) const LEFT_OUT_BELOW: u16 = 30;
/// The same for root and fifth alone.
pub(super) const LEFT_OUT_BELOW_TWO_TONES: u16 = 90;
/// As well, each of the five highest strings left out below the bass, in a chord of three tones or more.
pub(super) const THIN_STRING: u16 = 150;
/// The two lowest strings one to three semitones apart, in a chord without a slash.
pub(super) const CLOSE_TO_BASS: u16 = 340;
/// The two lowest strings a fourth apart, in a chord without a slash.
pub(super) const FOURTH_ON_BASS: u16 = 120;
/// A string left out above the highest that sounds.
pub(super) const LEFT_OUT_ABOVE: u16 = 200;
/// The same for root and fifth alone.
pub(super) const LEFT_OUT_ABOVE_TWO_TONES: u16 = 20;
/// A muted string between sounding ones.
pub(super) const MUTED_BETWEEN: u16 = 240;
/// The root left out.
pub(super) const NO_ROOT: u16 = 250;
/// The natural fifth left out.
pub(super) const NO_FIFTH: u16 = 40;
/// Another tone left out.
pub(super) const NO_OTHER: u16 = 120;
/// The fifth in the bass of a chord without a slash.
pub(super) const FIFTH_IN_BASS: u16 = 250;
/// Another tone than root and fifth in that bass.
pub(super) const OTHER_IN_BASS: u16 = 400;
