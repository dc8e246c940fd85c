//! The drone: the tonic, with or without its fifth, held through a run of bars.

use crate::chart::DroneSettings;
use crate::theory::PitchName;

/// Register of the drone's tonic: A2 to G#3.
const LOW: i32 = 45;

/// The keys of the drone.
pub(super) fn drone(settings: &DroneSettings, tonic: PitchName) -> Vec<i32> {
    let class = i32::from(tonic.pitch_class().value());
    let root = LOW + (class - LOW).rem_euclid(12);
    if settings.fifth {
        vec![root, root + 7]
    } else {
        vec![root]
    }
}
