//! Which voice a General MIDI program or percussion key has.
//!
//! The families are those of the General MIDI sound set (sixteen of eight programs); within one, programs that are
//! alike share a voice.

mod percussion;
mod pitched;

use self::percussion as drums;
use self::pitched::*;
use super::voice::Patch;

/// The voice of a program, counted from 0.
pub(super) fn program(number: u8) -> &'static Patch {
    match number {
        0..=3 => &PIANO,
        4..=7 => &ELECTRIC_PIANO,
        8..=15 | 112..=119 => &BELL,
        16..=19 => &ORGAN,
        20..=23 => &REED,
        24 => &NYLON,
        25 => &STEEL,
        26 => &JAZZ,
        27 | 29..=31 => &CLEAN,
        28 | 45 => &MUTED,
        34 | 36 | 37 => &PICKED_BASS,
        32..=35 => &BASS,
        38..=39 => &SYNTH_BASS,
        46 | 107 => &HARP,
        48 | 49 => &ENSEMBLE,
        40..=44 | 47 | 50..=55 => &STRINGS,
        56..=79 | 109..=111 => &REED,
        80..=87 => &LEAD,
        89 | 91 | 94 => &WARM_PAD,
        88 | 90 | 92..=103 => &BRIGHT_PAD,
        104..=106 => &BANJO,
        108 => &BELL,
        _ => &BRIGHT_PAD,
    }
}

/// The voice of a key of the General MIDI percussion map.
pub(super) fn percussion(key: u8) -> &'static Patch {
    match key {
        35 | 36 => &drums::KICK,
        38 | 40 => &drums::SNARE,
        37 => &drums::SIDE_STICK,
        39 => &drums::CLAP,
        42 | 44 => &drums::CLOSED_HAT,
        46 => &drums::OPEN_HAT,
        41 | 43 | 45 => &drums::LOW_TOM,
        47 | 48 | 50 => &drums::HIGH_TOM,
        49 | 52 | 55 | 57 => &drums::CRASH,
        51 | 53 | 59 => &drums::RIDE,
        54 | 69 | 70 | 73 | 74 | 82 => &drums::SHAKER,
        56 | 67 | 68 | 80 | 81 | 83 => &drums::COWBELL,
        34 | 76 => &drums::CLICK_ACCENT,
        31 | 33 | 77 => &drums::CLICK_BEAT,
        75 | 85 => &drums::CLAVES,
        60 | 62 | 63 | 65 | 71 | 78 => &drums::HIGH_HAND,
        61 | 64 | 66 | 72 | 79 | 84 | 86 | 87 => &drums::LOW_HAND,
        _ => &drums::CLAVES,
    }
}

/// The voice of a key in the part that is the pulse: its strokes between beats have a sound of their own, which no
/// stick on a rim is mistaken for.
pub(super) fn pulse(key: u8) -> &'static Patch {
    match key {
        37 => &drums::CLICK_BETWEEN,
        _ => percussion(key),
    }
}
