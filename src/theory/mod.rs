//! Music theory: pitches, intervals, scales, keys, chords and the ways people write them.
