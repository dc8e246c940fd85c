//! How many strings and frets there are at most.

/// The most strings a tuning has.
pub const MAX_STRINGS: usize = 8;

/// The fewest strings a tuning has.
pub const MIN_STRINGS: usize = 4;

/// The highest fret there is; no instrument in use has more.
pub const MAX_FRET: u8 = 36;
