//! Frames cut off at an exact length.

use std::io;

use super::file::Frames;

/// Over how many seconds what sounds at the end dies away, so that it ends without a pop: 10 ms.
const FADE_SECONDS: f32 = 0.01;

/// The first so many frames of another source; what sounds at the end dies away within the last 10 ms.
pub struct Cut<'a> {
    frames: &'a mut dyn Frames,
    /// Frames still to be given.
    left: u64,
    /// Frames over which the end dies away.
    fade: u64,
}

impl<'a> Cut<'a> {
    /// The first `length` of `frames` at `rate_hz` frames a second, padded with silence if there are fewer.
    pub fn new(frames: &'a mut dyn Frames, length: u64, rate_hz: u32) -> Self {
        #[allow(clippy::cast_precision_loss, clippy::cast_possible_truncation)]
        #[allow(clippy::cast_sign_loss)] // at most some thousand
        let fade = (rate_hz as f32 * FADE_SECONDS) as u64;
        Cut {
            frames,
            left: length,
            fade: fade.max(1),
        }
    }
}

impl Frames for Cut<'_> {
    fn read(&mut self, out: &mut [[f32; 2]]) -> io::Result<usize> {
        let n = usize::try_from(self.left)
            .unwrap_or(usize::MAX)
            .min(out.len());
        let read = self.frames.read(&mut out[..n])?;
        // They may come in pieces; nothing more means that all were given.
        let n = if read == 0 { n } else { read };
        out[read..n].fill([0.0; 2]);
        for frame in &mut out[..n] {
            self.left -= 1;
            if self.left < self.fade {
                #[allow(clippy::cast_precision_loss)] // at most some thousand
                let share = self.left as f32 / self.fade as f32;
                *frame = [frame[0] * share, frame[1] * share];
            }
        }
        Ok(n)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// So many frames of full scale, five at a time.
    struct Full(usize);

    impl Frames for Full {
        fn read(&mut self, out: &mut [[f32; 2]]) -> io::Result<usize> {
            let n = out.len().min(5).min(self.0);
            out[..n].fill([1.0, -1.0]);
            self.0 -= n;
            Ok(n)
        }
    }

    fn all(mut frames: impl Frames) -> Vec<[f32; 2]> {
        let mut found = Vec::new();
        let mut block = [[9.0; 2]; 64];
        loop {
            let n = frames.read(&mut block).unwrap();
            if n == 0 {
                return found;
            }
            found.extend_from_slice(&block[..n]);
        }
    }

    #[test]
    fn the_end_comes_after_so_many_frames_and_without_a_crack() {
        let mut full = Full(5000);
        let found = all(Cut::new(&mut full, 1000, 10_000));
        assert_eq!(found.len(), 1000);
        assert!(found[..900].iter().all(|frame| *frame == [1.0, -1.0]));
        assert_eq!(found[999], [0.0, 0.0]);
        let steps = found.windows(2).map(|pair| (pair[1][0] - pair[0][0]).abs());
        assert!(steps.fold(0.0, f32::max) < 0.011);
    }

    #[test]
    fn where_there_are_fewer_frames_silence_follows() {
        let mut full = Full(10);
        let found = all(Cut::new(&mut full, 300, 10_000));
        assert_eq!(found.len(), 300);
        assert_eq!(found[9], [1.0, -1.0]);
        assert_eq!(found[10], [0.0, 0.0]);
    }
}
