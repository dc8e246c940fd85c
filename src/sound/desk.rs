//! The mixing desk: the band, one gain, and the limiter.

use super::engine::Engine;
use super::font::{Font, FontError};
use super::limiter::Limiter;
use crate::event::{Header, PartMessage};

/// How peaks above the ceiling are handled.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Peaks {
    /// A limiter keeps them below it.
    Limited,
    /// They stay as they are, and are cut off where samples are whole numbers.
    Untouched,
}

/// Makes frames out of messages; what sounds in a file and on a device comes from here.
///
/// # Real time
/// Once made, it allocates nothing, locks nothing and blocks on nothing.
pub struct Desk {
    engine: Engine,
    gain: f32,
    limiter: Option<Limiter>,
}

impl Desk {
    /// A desk for the parts of `header` at `rate_hz` frames a second, with all amplitudes multiplied by `gain`.
    pub fn new(header: &Header, rate_hz: u32, gain: f32, peaks: Peaks) -> Self {
        #[allow(clippy::cast_precision_loss)]
        let rate = rate_hz as f32;
        Desk {
            engine: Engine::new(header, rate_hz),
            gain,
            limiter: match peaks {
                Peaks::Limited => Some(Limiter::new(rate)),
                Peaks::Untouched => None,
            },
        }
    }

    /// The same desk, with every part but the pulse played by `font`; see [`Engine::with_font`].
    ///
    /// # Errors
    /// When the font's player refuses.
    pub fn with_font(mut self, header: &Header, font: Option<&Font>) -> Result<Self, FontError> {
        if let Some(font) = font {
            self.engine = self.engine.with_font(header, font)?;
        }
        Ok(self)
    }

    /// Latency in frames, from the limiter's look-ahead.
    pub fn delay(&self) -> usize {
        self.limiter.as_ref().map_or(0, Limiter::delay)
    }

    /// The lowest gain the limiter used so far; 1 where it did nothing.
    pub fn lowest_gain(&self) -> f32 {
        self.limiter.as_ref().map_or(1.0, Limiter::lowest)
    }

    /// The engine that makes the sound, ahead of gain and limiter.
    pub fn engine(&mut self) -> &mut Engine {
        &mut self.engine
    }

    /// Takes a message; it takes effect with the next frame.
    pub fn message(&mut self, message: PartMessage) {
        self.engine.message(message);
    }

    /// Puts the next frames into `out`.
    pub fn render(&mut self, out: &mut [[f32; 2]]) {
        self.engine.render(out);
        if self.gain != 1.0 {
            for frame in out.iter_mut() {
                *frame = [frame[0] * self.gain, frame[1] * self.gain];
            }
        }
        if let Some(limiter) = &mut self.limiter {
            limiter.process(out);
        }
    }
}
