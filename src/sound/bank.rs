//! Which voice a General MIDI program or percussion key has.
//!
//! The families are those of the General MIDI sound set (sixteen of eight programs); within one, programs that are
//! alike share a voice.

use super::tables::Shape;
use super::voice::{
    Contour, DrumPatch, HeldPatch, Hiss, Kept, KeysPatch, Mode, Patch, PluckPatch, Sound,
};

#[allow(clippy::too_many_arguments, reason = "a row of a table")]
const fn pluck(
    level: f32,
    room: f32,
    place: f32,
    edge: (f32, f32),
    ring: f32,
    damping: f32,
    stop: f32,
) -> Patch {
    Patch {
        sound: Sound::Pluck(PluckPatch {
            place,
            edge,
            noise: 0.02,
            ring,
            damping,
            stop,
        }),
        level,
        room,
        width: 0.25,
        group: 0,
    }
}

#[allow(clippy::too_many_arguments, reason = "a row of a table")]
const fn held(
    level: f32,
    room: f32,
    shape: Shape,
    attack: f32,
    release: f32,
    spread: f32,
    swell: f32,
) -> Patch {
    Patch {
        sound: Sound::Held(HeldPatch {
            shape,
            contour: Contour {
                attack,
                decay: 1.0,
                sustain: 1.0,
                release,
            },
            spread,
            swell,
        }),
        level,
        room,
        width: 0.5,
        group: 0,
    }
}

const fn keys(
    level: f32,
    ratio: f64,
    depth: (f32, f32),
    tine: (f64, f32, f32),
    decay: f32,
    release: f32,
) -> Patch {
    Patch {
        sound: Sound::Keys(KeysPatch {
            ratio,
            depth,
            tine,
            contour: Contour {
                attack: 0.002,
                decay,
                sustain: 0.0,
                release,
            },
        }),
        level,
        room: 0.2,
        width: 0.4,
        group: 0,
    }
}

static PIANO: Patch = keys(0.30, 1.0, (2.2, 1.2), (7.0, 0.05, 0.3), 9.0, 0.35);
static ELECTRIC_PIANO: Patch = keys(0.32, 1.0, (1.5, 3.0), (14.0, 0.10, 0.5), 8.0, 0.4);
static BELL: Patch = keys(0.26, 3.5, (1.2, 1.5), (6.3, 0.08, 0.6), 4.0, 0.8);
static ORGAN: Patch = held(0.20, 0.15, Shape::Organ, 0.012, 0.12, 0.0, 0.0);
static REED: Patch = held(0.18, 0.2, Shape::Reed, 0.04, 0.18, 3.0, 0.0);
static NYLON: Patch = pluck(0.34, 0.16, 0.22, (700.0, 2600.0), 6.0, 0.24, 0.22);
static STEEL: Patch = pluck(0.27, 0.14, 0.16, (1300.0, 5200.0), 9.0, 0.17, 0.2);
static JAZZ: Patch = pluck(0.36, 0.14, 0.24, (600.0, 2200.0), 10.0, 0.2, 0.15);
static CLEAN: Patch = pluck(0.32, 0.16, 0.12, (1200.0, 5500.0), 11.0, 0.12, 0.15);
static MUTED: Patch = pluck(0.40, 0.1, 0.1, (800.0, 3200.0), 0.7, 0.25, 0.1);
static HARP: Patch = pluck(0.34, 0.25, 0.3, (900.0, 3200.0), 5.0, 0.22, 0.6);
static BANJO: Patch = pluck(0.34, 0.1, 0.08, (1800.0, 6500.0), 1.8, 0.1, 0.12);
static BASS: Patch = Patch {
    width: 0.0,
    ..pluck(0.50, 0.03, 0.28, (350.0, 1500.0), 7.0, 0.2, 0.12)
};
static PICKED_BASS: Patch = Patch {
    width: 0.0,
    ..pluck(0.46, 0.03, 0.12, (700.0, 3000.0), 8.0, 0.16, 0.1)
};
static SYNTH_BASS: Patch = Patch {
    width: 0.0,
    ..held(0.30, 0.03, Shape::Warm, 0.006, 0.1, 0.0, 0.0)
};
static STRINGS: Patch = held(0.24, 0.35, Shape::Bowed, 0.14, 0.5, 5.0, 0.05);
static WARM_PAD: Patch = held(0.155, 0.35, Shape::Warm, 0.09, 0.6, 4.0, 0.06);
static BRIGHT_PAD: Patch = held(0.13, 0.35, Shape::Bowed, 0.07, 0.6, 7.0, 0.08);
static LEAD: Patch = held(0.13, 0.15, Shape::Bright, 0.008, 0.12, 4.0, 0.0);

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
        40..=44 | 47..=55 => &STRINGS,
        56..=79 | 109..=111 => &REED,
        80..=87 => &LEAD,
        89 | 91 | 94 => &WARM_PAD,
        88 | 90 | 92..=103 => &BRIGHT_PAD,
        104..=106 => &BANJO,
        108 => &BELL,
        _ => &BRIGHT_PAD,
    }
}

const fn mode(start: f32, end: f32, glide: f32, share: f32, ring: f32) -> Mode {
    Mode {
        hertz: (start, end),
        glide,
        share,
        ring,
    }
}

const QUIET: Hiss = Hiss {
    share: 0.0,
    ring: 0.01,
    band: (1000.0, 1.0),
    kept: Kept::Band,
};

const fn hiss(share: f32, ring: f32, middle: f32, narrow: f32, kept: Kept) -> Hiss {
    Hiss {
        share,
        ring,
        band: (middle, narrow),
        kept,
    }
}

const fn drum(level: f32, room: f32, group: u8, modes: &'static [Mode], hiss: Hiss) -> Patch {
    Patch {
        sound: Sound::Drum(DrumPatch {
            modes,
            hiss,
            attack: 0.0004,
        }),
        level,
        room,
        width: 0.0,
        group,
    }
}

// The click: three things told apart by pitch and by timbre. Their strongest partials lie between 1 and 4 kHz, where
// the ear is keenest and a guitar has little of its strength; they are over before the next note.
static CLICK_ACCENT: Patch = drum(
    0.95,
    0.0,
    0,
    &[
        mode(2093.0, 2093.0, 1.0, 0.75, 0.085),
        mode(4186.0, 4186.0, 1.0, 0.28, 0.04),
        mode(6100.0, 6100.0, 1.0, 0.12, 0.02),
    ],
    QUIET,
);
static CLICK_BEAT: Patch = drum(
    0.95,
    0.0,
    0,
    &[
        mode(1396.9, 1396.9, 1.0, 0.78, 0.075),
        mode(3520.0, 3520.0, 1.0, 0.18, 0.03),
    ],
    QUIET,
);
static CLICK_SUBDIVISION: Patch = drum(
    0.95,
    0.0,
    0,
    &[mode(988.0, 988.0, 1.0, 0.45, 0.035)],
    hiss(0.5, 0.02, 3200.0, 2.0, Kept::Band),
);

static KICK: Patch = drum(
    1.44,
    0.04,
    0,
    &[
        mode(150.0, 52.0, 0.035, 0.9, 0.42),
        mode(320.0, 110.0, 0.015, 0.25, 0.06),
    ],
    hiss(0.12, 0.015, 2500.0, 0.8, Kept::Band),
);
static SNARE: Patch = drum(
    0.85,
    0.22,
    0,
    &[
        mode(205.0, 182.0, 0.02, 0.5, 0.16),
        mode(340.0, 331.0, 0.02, 0.28, 0.11),
    ],
    hiss(0.75, 0.19, 3600.0, 0.6, Kept::Band),
);
static CLAP: Patch = drum(0.77, 0.3, 0, &[], hiss(0.9, 0.2, 1500.0, 1.4, Kept::Band));
static CLOSED_HAT: Patch = drum(
    0.51,
    0.08,
    1,
    &[],
    hiss(0.55, 0.07, 8000.0, 0.9, Kept::Above),
);
static OPEN_HAT: Patch = drum(0.48, 0.12, 1, &[], hiss(0.5, 0.6, 7500.0, 0.9, Kept::Above));
static CRASH: Patch = drum(
    0.51,
    0.25,
    0,
    &[mode(3150.0, 3150.0, 1.0, 0.06, 0.9)],
    hiss(0.6, 1.8, 5200.0, 0.6, Kept::Above),
);
static RIDE: Patch = drum(
    0.44,
    0.15,
    0,
    &[
        mode(3520.0, 3520.0, 1.0, 0.16, 0.5),
        mode(5230.0, 5230.0, 1.0, 0.12, 0.7),
    ],
    hiss(0.3, 1.0, 7000.0, 0.8, Kept::Above),
);
static LOW_TOM: Patch = drum(
    1.02,
    0.15,
    0,
    &[mode(140.0, 92.0, 0.05, 0.9, 0.45)],
    hiss(0.1, 0.05, 900.0, 0.8, Kept::Band),
);
static HIGH_TOM: Patch = drum(
    0.94,
    0.15,
    0,
    &[mode(230.0, 160.0, 0.05, 0.9, 0.35)],
    hiss(0.1, 0.05, 1400.0, 0.8, Kept::Band),
);
static SHAKER: Patch = drum(0.51, 0.1, 0, &[], hiss(0.5, 0.09, 6000.0, 1.2, Kept::Band));
static COWBELL: Patch = drum(
    0.51,
    0.1,
    0,
    &[
        mode(562.0, 562.0, 1.0, 0.45, 0.2),
        mode(845.0, 845.0, 1.0, 0.45, 0.22),
    ],
    QUIET,
);
static CLAVES: Patch = drum(0.68, 0.1, 0, &[mode(2500.0, 2500.0, 1.0, 0.7, 0.09)], QUIET);
static HIGH_HAND: Patch = drum(
    0.77,
    0.15,
    0,
    &[mode(390.0, 340.0, 0.02, 0.8, 0.2)],
    hiss(0.15, 0.03, 1800.0, 0.8, Kept::Band),
);
static LOW_HAND: Patch = drum(
    0.85,
    0.15,
    0,
    &[mode(230.0, 205.0, 0.02, 0.8, 0.26)],
    hiss(0.15, 0.03, 1200.0, 0.8, Kept::Band),
);

/// The voice of a key of the General MIDI percussion map.
pub(super) fn percussion(key: u8) -> &'static Patch {
    match key {
        35 | 36 => &KICK,
        38 | 40 => &SNARE,
        37 => &CLICK_SUBDIVISION,
        39 => &CLAP,
        42 | 44 => &CLOSED_HAT,
        46 => &OPEN_HAT,
        41 | 43 | 45 => &LOW_TOM,
        47 | 48 | 50 => &HIGH_TOM,
        49 | 52 | 55 | 57 => &CRASH,
        51 | 53 | 59 => &RIDE,
        54 | 69 | 70 | 73 | 74 | 82 => &SHAKER,
        56 | 67 | 68 | 80 | 81 | 83 => &COWBELL,
        34 | 76 => &CLICK_ACCENT,
        31 | 33 | 77 => &CLICK_BEAT,
        75 | 85 => &CLAVES,
        60 | 62 | 63 | 65 | 71 | 78 => &HIGH_HAND,
        61 | 64 | 66 | 72 | 79 | 84 | 86 | 87 => &LOW_HAND,
        _ => &CLAVES,
    }
}
