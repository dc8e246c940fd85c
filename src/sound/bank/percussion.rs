//! Percussion and the click.

use super::super::voice::{DrumPatch, Hiss, Kept, Mode, Patch, Sound};

/// No noise at all.
const QUIET: Hiss = Hiss {
    share: 0.0,
    ring_s: 0.01,
    middle_hz: 1000.0,
    quality: 1.0,
    kept: Kept::Band,
};

/// Seconds from silence to full.
const ATTACK_S: f32 = 0.0004;

/// The first beat of a bar.
pub(super) static CLICK_ACCENT: Patch = Patch {
    sound: Sound::Drum(DrumPatch {
        modes: &[
            Mode {
                start_hz: 2794.0,
                end_hz: 2794.0,
                glide_s: 1.0,
                share: 0.75,
                ring_s: 0.1,
            },
            Mode {
                start_hz: 5588.0,
                end_hz: 5588.0,
                glide_s: 1.0,
                share: 0.28,
                ring_s: 0.04,
            },
            Mode {
                start_hz: 8100.0,
                end_hz: 8100.0,
                glide_s: 1.0,
                share: 0.12,
                ring_s: 0.02,
            },
        ],
        hiss: QUIET,
        attack_s: ATTACK_S,
    }),
    level_db: -0.4,
    room: 0.0,
    width: 0.0,
    group: 0,
};

/// The other beats.
pub(super) static CLICK_BEAT: Patch = Patch {
    sound: Sound::Drum(DrumPatch {
        modes: &[
            Mode {
                start_hz: 2093.0,
                end_hz: 2093.0,
                glide_s: 1.0,
                share: 0.78,
                ring_s: 0.1,
            },
            Mode {
                start_hz: 5274.0,
                end_hz: 5274.0,
                glide_s: 1.0,
                share: 0.18,
                ring_s: 0.03,
            },
        ],
        hiss: QUIET,
        attack_s: ATTACK_S,
    }),
    level_db: 1.4,
    room: 0.0,
    width: 0.0,
    group: 0,
};

/// The strokes between beats.
pub(super) static CLICK_BETWEEN: Patch = Patch {
    sound: Sound::Drum(DrumPatch {
        modes: &[Mode {
            start_hz: 3520.0,
            end_hz: 3520.0,
            glide_s: 1.0,
            share: 0.8,
            ring_s: 0.035,
        }],
        hiss: QUIET,
        attack_s: ATTACK_S,
    }),
    level_db: 5.0,
    room: 0.0,
    width: 0.0,
    group: 0,
};

/// A bass drum.
pub(super) static KICK: Patch = Patch {
    sound: Sound::Drum(DrumPatch {
        modes: &[
            Mode {
                start_hz: 150.0,
                end_hz: 52.0,
                glide_s: 0.035,
                share: 0.9,
                ring_s: 0.42,
            },
            Mode {
                start_hz: 320.0,
                end_hz: 110.0,
                glide_s: 0.015,
                share: 0.25,
                ring_s: 0.06,
            },
        ],
        hiss: Hiss {
            share: 0.12,
            ring_s: 0.015,
            middle_hz: 2500.0,
            quality: 0.8,
            kept: Kept::Band,
        },
        attack_s: ATTACK_S,
    }),
    level_db: 3.2,
    room: 0.04,
    width: 0.0,
    group: 0,
};

/// A snare drum.
pub(super) static SNARE: Patch = Patch {
    sound: Sound::Drum(DrumPatch {
        modes: &[
            Mode {
                start_hz: 205.0,
                end_hz: 182.0,
                glide_s: 0.02,
                share: 0.5,
                ring_s: 0.16,
            },
            Mode {
                start_hz: 340.0,
                end_hz: 331.0,
                glide_s: 0.02,
                share: 0.28,
                ring_s: 0.11,
            },
        ],
        hiss: Hiss {
            share: 0.75,
            ring_s: 0.19,
            middle_hz: 5600.0,
            quality: 0.9,
            kept: Kept::Band,
        },
        attack_s: ATTACK_S,
    }),
    level_db: 6.6,
    room: 0.22,
    width: 0.0,
    group: 0,
};

/// A stick laid across the rim of the snare.
pub(super) static SIDE_STICK: Patch = Patch {
    sound: Sound::Drum(DrumPatch {
        modes: &[
            Mode {
                start_hz: 540.0,
                end_hz: 520.0,
                glide_s: 0.01,
                share: 0.4,
                ring_s: 0.05,
            },
            Mode {
                start_hz: 988.0,
                end_hz: 988.0,
                glide_s: 1.0,
                share: 0.45,
                ring_s: 0.035,
            },
        ],
        hiss: Hiss {
            share: 0.4,
            ring_s: 0.02,
            middle_hz: 5200.0,
            quality: 1.5,
            kept: Kept::Band,
        },
        attack_s: ATTACK_S,
    }),
    level_db: 2.6,
    room: 0.1,
    width: 0.0,
    group: 0,
};

/// Hands.
pub(super) static CLAP: Patch = Patch {
    sound: Sound::Drum(DrumPatch {
        modes: &[],
        hiss: Hiss {
            share: 0.9,
            ring_s: 0.2,
            middle_hz: 1500.0,
            quality: 1.4,
            kept: Kept::Band,
        },
        attack_s: ATTACK_S,
    }),
    level_db: -2.3,
    room: 0.3,
    width: 0.0,
    group: 0,
};

/// A closed hi-hat.
pub(super) static CLOSED_HAT: Patch = Patch {
    sound: Sound::Drum(DrumPatch {
        modes: &[],
        hiss: Hiss {
            share: 0.55,
            ring_s: 0.07,
            middle_hz: 8000.0,
            quality: 0.9,
            kept: Kept::Above,
        },
        attack_s: ATTACK_S,
    }),
    level_db: 1.2,
    room: 0.08,
    width: 0.0,
    group: 1,
};

/// An open hi-hat, stopped by a closed one.
pub(super) static OPEN_HAT: Patch = Patch {
    sound: Sound::Drum(DrumPatch {
        modes: &[],
        hiss: Hiss {
            share: 0.5,
            ring_s: 0.6,
            middle_hz: 7500.0,
            quality: 0.9,
            kept: Kept::Above,
        },
        attack_s: ATTACK_S,
    }),
    level_db: -0.4,
    room: 0.12,
    width: 0.0,
    group: 1,
};

/// A crash cymbal.
pub(super) static CRASH: Patch = Patch {
    sound: Sound::Drum(DrumPatch {
        modes: &[Mode {
            start_hz: 3150.0,
            end_hz: 3150.0,
            glide_s: 1.0,
            share: 0.06,
            ring_s: 0.9,
        }],
        hiss: Hiss {
            share: 0.6,
            ring_s: 1.8,
            middle_hz: 5200.0,
            quality: 0.6,
            kept: Kept::Above,
        },
        attack_s: ATTACK_S,
    }),
    level_db: -5.8,
    room: 0.25,
    width: 0.0,
    group: 0,
};

/// A ride cymbal.
pub(super) static RIDE: Patch = Patch {
    sound: Sound::Drum(DrumPatch {
        modes: &[
            Mode {
                start_hz: 4435.0,
                end_hz: 4435.0,
                glide_s: 1.0,
                share: 0.16,
                ring_s: 0.5,
            },
            Mode {
                start_hz: 5920.0,
                end_hz: 5920.0,
                glide_s: 1.0,
                share: 0.12,
                ring_s: 0.7,
            },
        ],
        hiss: Hiss {
            share: 0.3,
            ring_s: 1.0,
            middle_hz: 7000.0,
            quality: 0.8,
            kept: Kept::Above,
        },
        attack_s: ATTACK_S,
    }),
    level_db: -7.1,
    room: 0.15,
    width: 0.0,
    group: 0,
};

/// A floor tom.
pub(super) static LOW_TOM: Patch = Patch {
    sound: Sound::Drum(DrumPatch {
        modes: &[Mode {
            start_hz: 140.0,
            end_hz: 92.0,
            glide_s: 0.05,
            share: 0.9,
            ring_s: 0.45,
        }],
        hiss: Hiss {
            share: 0.1,
            ring_s: 0.05,
            middle_hz: 900.0,
            quality: 0.8,
            kept: Kept::Band,
        },
        attack_s: ATTACK_S,
    }),
    level_db: 0.2,
    room: 0.15,
    width: 0.0,
    group: 0,
};

/// A high tom.
pub(super) static HIGH_TOM: Patch = Patch {
    sound: Sound::Drum(DrumPatch {
        modes: &[Mode {
            start_hz: 230.0,
            end_hz: 160.0,
            glide_s: 0.05,
            share: 0.9,
            ring_s: 0.35,
        }],
        hiss: Hiss {
            share: 0.1,
            ring_s: 0.05,
            middle_hz: 1400.0,
            quality: 0.8,
            kept: Kept::Band,
        },
        attack_s: ATTACK_S,
    }),
    level_db: -0.5,
    room: 0.15,
    width: 0.0,
    group: 0,
};

/// A shaker, a tambourine.
pub(super) static SHAKER: Patch = Patch {
    sound: Sound::Drum(DrumPatch {
        modes: &[],
        hiss: Hiss {
            share: 0.5,
            ring_s: 0.09,
            middle_hz: 6000.0,
            quality: 1.2,
            kept: Kept::Band,
        },
        attack_s: ATTACK_S,
    }),
    level_db: -5.8,
    room: 0.1,
    width: 0.0,
    group: 0,
};

/// A cowbell.
pub(super) static COWBELL: Patch = Patch {
    sound: Sound::Drum(DrumPatch {
        modes: &[
            Mode {
                start_hz: 562.0,
                end_hz: 562.0,
                glide_s: 1.0,
                share: 0.45,
                ring_s: 0.2,
            },
            Mode {
                start_hz: 845.0,
                end_hz: 845.0,
                glide_s: 1.0,
                share: 0.45,
                ring_s: 0.22,
            },
        ],
        hiss: QUIET,
        attack_s: ATTACK_S,
    }),
    level_db: -5.8,
    room: 0.1,
    width: 0.0,
    group: 0,
};

/// Claves.
pub(super) static CLAVES: Patch = Patch {
    sound: Sound::Drum(DrumPatch {
        modes: &[Mode {
            start_hz: 2500.0,
            end_hz: 2500.0,
            glide_s: 1.0,
            share: 0.7,
            ring_s: 0.09,
        }],
        hiss: QUIET,
        attack_s: ATTACK_S,
    }),
    level_db: -3.3,
    room: 0.1,
    width: 0.0,
    group: 0,
};

/// A small drum struck by hand.
pub(super) static HIGH_HAND: Patch = Patch {
    sound: Sound::Drum(DrumPatch {
        modes: &[Mode {
            start_hz: 390.0,
            end_hz: 340.0,
            glide_s: 0.02,
            share: 0.8,
            ring_s: 0.2,
        }],
        hiss: Hiss {
            share: 0.15,
            ring_s: 0.03,
            middle_hz: 1800.0,
            quality: 0.8,
            kept: Kept::Band,
        },
        attack_s: ATTACK_S,
    }),
    level_db: -2.3,
    room: 0.15,
    width: 0.0,
    group: 0,
};

/// A larger drum struck by hand.
pub(super) static LOW_HAND: Patch = Patch {
    sound: Sound::Drum(DrumPatch {
        modes: &[Mode {
            start_hz: 230.0,
            end_hz: 205.0,
            glide_s: 0.02,
            share: 0.8,
            ring_s: 0.26,
        }],
        hiss: Hiss {
            share: 0.15,
            ring_s: 0.03,
            middle_hz: 1200.0,
            quality: 0.8,
            kept: Kept::Band,
        },
        attack_s: ATTACK_S,
    }),
    level_db: -1.4,
    room: 0.15,
    width: 0.0,
    group: 0,
};
