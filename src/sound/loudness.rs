//! How loud a piece is, and the gain that makes it as loud as every other.

use ebur128::{EbuR128, Mode};

use super::desk::{Desk, Peaks};
use super::font::{Font, FontError};
use super::rendering::Rendering;
use crate::event::Source;

/// Loudness of every piece, in LUFS.
pub const TARGET_LUFS: f64 = -18.0;

/// Peak of a click alone, in decibels below full scale: it is set by its peak, since the loudness of something so short
/// says little about how sharp it is.
pub const CLICK_PEAK_DB: f64 = -10.0;

/// Most that is added to a quiet piece, in decibels.
const MOST_GAIN_DB: f64 = 24.0;

/// Seconds that are measured from the start of the piece, for file and device alike.
pub const MEASURED_SECONDS: u32 = 60;

/// Seconds that are measured where a SoundFont plays, which is slower.
pub const MEASURED_SECONDS_FONT: u32 = 30;

/// Sample rate of the measurement, in frames a second.
pub const MEASURED_RATE_HZ: u32 = 44_100;

/// The measured loudness of a piece before any gain.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Loudness {
    /// Integrated loudness by EBU R 128 in LUFS; minus infinity for silence.
    pub lufs: f64,
    /// Largest magnitude of a sample, 1 being full scale.
    pub peak: f64,
    /// What to multiply amplitudes by.
    pub gain: f32,
}

/// Measures the first [`MEASURED_SECONDS`] of `source` and works out its gain; [`MEASURED_SECONDS_FONT`] where `font` plays it.
///
/// The same piece has the same gain in a file and on a device, and it does not change while it sounds, so the first
/// sound is never louder than the rest. `progress` is called now and then with the frames measured, of which there are
/// [`MEASURED_RATE_HZ`] a second.
///
/// # Errors
/// When the font's player refuses.
pub fn measure(
    source: &mut dyn Source,
    font: Option<&Font>,
    progress: &mut dyn FnMut(u64),
) -> Result<Loudness, FontError> {
    let header = source.header().clone();
    let click_alone = header.parts.iter().all(|part| part.pulse);
    let mut meter = EbuR128::new(2, MEASURED_RATE_HZ, Mode::I).ok();
    let desk =
        Desk::new(&header, MEASURED_RATE_HZ, 1.0, Peaks::Untouched).with_font(&header, font)?;
    let mut rendering = Rendering::new(source, desk, MEASURED_RATE_HZ);
    let mut frames = vec![[0.0f32; 2]; 4096];
    let mut peak = 0.0f32;
    let seconds = font.map_or(MEASURED_SECONDS, |_| MEASURED_SECONDS_FONT);
    let mut left = u64::from(seconds) * u64::from(MEASURED_RATE_HZ);
    let mut measured = 0;
    while left > 0 {
        let n = rendering.read(&mut frames);
        if n == 0 {
            break;
        }
        let frames = &frames[..n];
        for frame in frames {
            peak = peak.max(frame[0].abs()).max(frame[1].abs());
        }
        if let Some(meter) = &mut meter
            && !click_alone
        {
            let _ = meter.add_frames_f32(frames.as_flattened());
        }
        left = left.saturating_sub(n as u64);
        measured += n as u64;
        progress(measured);
    }
    let lufs = meter
        .and_then(|m| m.loudness_global().ok())
        .unwrap_or(f64::NEG_INFINITY);
    let peak = f64::from(peak);
    let decibels = if click_alone || !lufs.is_finite() {
        CLICK_PEAK_DB - 20.0 * libm::log10(peak.max(1e-6))
    } else {
        TARGET_LUFS - lufs
    };
    Ok(Loudness {
        lufs,
        peak,
        gain: amplitude(decibels.min(MOST_GAIN_DB)),
    })
}

/// The factor of so many decibels.
pub fn amplitude(decibels: f64) -> f32 {
    #[allow(clippy::cast_possible_truncation)]
    let factor = libm::pow(10.0, decibels / 20.0) as f32;
    factor
}
