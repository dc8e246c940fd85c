//! Voices that play notes.

use super::super::tables::Shape;
use super::super::voice::{Contour, HeldPatch, KeysPatch, Patch, PluckPatch, Sound};

/// A piano.
pub(super) static PIANO: Patch = Patch {
    sound: Sound::Keys(KeysPatch {
        ratio: 1.0,
        index_rad: 2.2,
        index_fall_s: 1.2,
        tine_ratio: 7.0,
        tine_share: 0.05,
        tine_fall_s: 0.3,
        contour: Contour {
            attack_s: 0.002,
            decay_s: 9.0,
            sustain: 0.0,
            release_s: 0.35,
        },
    }),
    level_db: -10.5,
    room: 0.2,
    width: 0.4,
    group: 0,
};

/// An electric piano, with the tine that its hammers strike.
pub(super) static ELECTRIC_PIANO: Patch = Patch {
    sound: Sound::Keys(KeysPatch {
        ratio: 1.0,
        index_rad: 1.5,
        index_fall_s: 3.0,
        tine_ratio: 14.0,
        tine_share: 0.1,
        tine_fall_s: 0.5,
        contour: Contour {
            attack_s: 0.002,
            decay_s: 8.0,
            sustain: 0.0,
            release_s: 0.4,
        },
    }),
    level_db: -9.9,
    room: 0.2,
    width: 0.4,
    group: 0,
};

/// Bells and mallets.
pub(super) static BELL: Patch = Patch {
    sound: Sound::Keys(KeysPatch {
        ratio: 3.5,
        index_rad: 1.2,
        index_fall_s: 1.5,
        tine_ratio: 6.3,
        tine_share: 0.08,
        tine_fall_s: 0.6,
        contour: Contour {
            attack_s: 0.002,
            decay_s: 4.0,
            sustain: 0.0,
            release_s: 0.8,
        },
    }),
    level_db: -11.7,
    room: 0.2,
    width: 0.4,
    group: 0,
};

/// An organ.
pub(super) static ORGAN: Patch = Patch {
    sound: Sound::Held(HeldPatch {
        shape: Shape::Organ,
        contour: Contour {
            attack_s: 0.012,
            decay_s: 1.0,
            sustain: 1.0,
            release_s: 0.12,
        },
        spread_cents: 0.0,
        swell: 0.0,
    }),
    level_db: -14.0,
    room: 0.15,
    width: 0.0,
    group: 0,
};

/// Reeds, brass and pipes.
pub(super) static REED: Patch = Patch {
    sound: Sound::Held(HeldPatch {
        shape: Shape::Reed,
        contour: Contour {
            attack_s: 0.04,
            decay_s: 1.0,
            sustain: 1.0,
            release_s: 0.18,
        },
        spread_cents: 3.0,
        swell: 0.0,
    }),
    level_db: -14.9,
    room: 0.12,
    width: 0.0,
    group: 0,
};

/// A guitar with nylon strings.
pub(super) static NYLON: Patch = Patch {
    sound: Sound::Pluck(PluckPatch {
        pick_at: 0.22,
        soft_edge_hz: 700.0,
        hard_edge_hz: 2600.0,
        noise: 0.02,
        onset_s: 0.0007,
        ring_s: 6.0,
        damping: 0.24,
        stop_s: 0.22,
    }),
    level_db: -9.4,
    room: 0.16,
    width: 0.25,
    group: 0,
};

/// A guitar with steel strings.
pub(super) static STEEL: Patch = Patch {
    sound: Sound::Pluck(PluckPatch {
        pick_at: 0.16,
        soft_edge_hz: 540.0,
        hard_edge_hz: 1650.0,
        noise: 0.02,
        onset_s: 0.0007,
        ring_s: 9.0,
        damping: 0.23,
        stop_s: 0.2,
    }),
    level_db: -13.2,
    room: 0.14,
    width: 0.25,
    group: 0,
};

/// A hollow electric guitar.
pub(super) static JAZZ: Patch = Patch {
    sound: Sound::Pluck(PluckPatch {
        pick_at: 0.24,
        soft_edge_hz: 420.0,
        hard_edge_hz: 1420.0,
        noise: 0.02,
        onset_s: 0.0007,
        ring_s: 10.0,
        damping: 0.22,
        stop_s: 0.15,
    }),
    level_db: -8.9,
    room: 0.14,
    width: 0.25,
    group: 0,
};

/// A solid electric guitar.
pub(super) static CLEAN: Patch = Patch {
    sound: Sound::Pluck(PluckPatch {
        pick_at: 0.12,
        soft_edge_hz: 1200.0,
        hard_edge_hz: 5500.0,
        noise: 0.02,
        onset_s: 0.0007,
        ring_s: 11.0,
        damping: 0.12,
        stop_s: 0.15,
    }),
    level_db: -9.9,
    room: 0.16,
    width: 0.25,
    group: 0,
};

/// Strings damped by the palm or the bow hand.
pub(super) static MUTED: Patch = Patch {
    sound: Sound::Pluck(PluckPatch {
        pick_at: 0.1,
        soft_edge_hz: 800.0,
        hard_edge_hz: 3200.0,
        noise: 0.02,
        onset_s: 0.0007,
        ring_s: 0.7,
        damping: 0.25,
        stop_s: 0.1,
    }),
    level_db: -8.0,
    room: 0.1,
    width: 0.25,
    group: 0,
};

/// A harp.
pub(super) static HARP: Patch = Patch {
    sound: Sound::Pluck(PluckPatch {
        pick_at: 0.3,
        soft_edge_hz: 900.0,
        hard_edge_hz: 3200.0,
        noise: 0.02,
        onset_s: 0.0007,
        ring_s: 5.0,
        damping: 0.22,
        stop_s: 0.6,
    }),
    level_db: -9.4,
    room: 0.25,
    width: 0.25,
    group: 0,
};

/// A banjo and its kin.
pub(super) static BANJO: Patch = Patch {
    sound: Sound::Pluck(PluckPatch {
        pick_at: 0.08,
        soft_edge_hz: 1800.0,
        hard_edge_hz: 6500.0,
        noise: 0.02,
        onset_s: 0.0007,
        ring_s: 1.8,
        damping: 0.1,
        stop_s: 0.12,
    }),
    level_db: -9.4,
    room: 0.1,
    width: 0.25,
    group: 0,
};

/// A fingered bass. Its strings are dark: at 500 Hz to 1 kHz two General MIDI fonts have 15 and 25 dB less than at 60 to
/// 120 Hz, and what a bass has above that lies in the band of the click.
pub(super) static BASS: Patch = Patch {
    sound: Sound::Pluck(PluckPatch {
        pick_at: 0.28,
        soft_edge_hz: 90.0,
        hard_edge_hz: 280.0,
        noise: 0.01,
        onset_s: 0.001,
        ring_s: 7.0,
        damping: 0.24,
        stop_s: 0.12,
    }),
    level_db: -6.0,
    room: 0.03,
    width: 0.0,
    group: 0,
};

/// A bass played with a pick: brighter than with the fingers.
pub(super) static PICKED_BASS: Patch = Patch {
    sound: Sound::Pluck(PluckPatch {
        pick_at: 0.16,
        soft_edge_hz: 240.0,
        hard_edge_hz: 900.0,
        noise: 0.02,
        onset_s: 0.001,
        ring_s: 8.0,
        damping: 0.22,
        stop_s: 0.1,
    }),
    level_db: -6.7,
    room: 0.03,
    width: 0.0,
    group: 0,
};

/// A synthetic bass.
pub(super) static SYNTH_BASS: Patch = Patch {
    sound: Sound::Held(HeldPatch {
        shape: Shape::Warm,
        contour: Contour {
            attack_s: 0.006,
            decay_s: 1.0,
            sustain: 1.0,
            release_s: 0.1,
        },
        spread_cents: 0.0,
        swell: 0.0,
    }),
    level_db: -10.5,
    room: 0.03,
    width: 0.0,
    group: 0,
};

/// A bowed string.
pub(super) static STRINGS: Patch = Patch {
    sound: Sound::Held(HeldPatch {
        shape: Shape::Bowed,
        contour: Contour {
            attack_s: 0.14,
            decay_s: 1.0,
            sustain: 1.0,
            release_s: 0.5,
        },
        spread_cents: 5.0,
        swell: 0.05,
    }),
    level_db: -9.9,
    room: 0.06,
    width: 0.0,
    group: 0,
};

/// Many bowed strings. The drone has this voice and plays it softly, so it is 8 dB louder than one string.
pub(super) static ENSEMBLE: Patch = Patch {
    sound: Sound::Held(HeldPatch {
        shape: Shape::Bowed,
        contour: Contour {
            attack_s: 0.14,
            decay_s: 1.0,
            sustain: 1.0,
            release_s: 0.5,
        },
        spread_cents: 5.0,
        swell: 0.05,
    }),
    level_db: -2.2,
    room: 0.06,
    width: 0.0,
    group: 0,
};

/// A soft pad.
pub(super) static WARM_PAD: Patch = Patch {
    sound: Sound::Held(HeldPatch {
        shape: Shape::Warm,
        contour: Contour {
            attack_s: 0.09,
            decay_s: 1.0,
            sustain: 1.0,
            release_s: 0.6,
        },
        spread_cents: 4.0,
        swell: 0.06,
    }),
    level_db: -13.7,
    room: 0.06,
    width: 0.0,
    group: 0,
};

/// A pad with more edge.
pub(super) static BRIGHT_PAD: Patch = Patch {
    sound: Sound::Held(HeldPatch {
        shape: Shape::Bowed,
        contour: Contour {
            attack_s: 0.07,
            decay_s: 1.0,
            sustain: 1.0,
            release_s: 0.6,
        },
        spread_cents: 7.0,
        swell: 0.08,
    }),
    level_db: -15.2,
    room: 0.06,
    width: 0.0,
    group: 0,
};

/// A synthetic lead.
pub(super) static LEAD: Patch = Patch {
    sound: Sound::Held(HeldPatch {
        shape: Shape::Bright,
        contour: Contour {
            attack_s: 0.008,
            decay_s: 1.0,
            sustain: 1.0,
            release_s: 0.12,
        },
        spread_cents: 4.0,
        swell: 0.0,
    }),
    level_db: -17.7,
    room: 0.15,
    width: 0.0,
    group: 0,
};
