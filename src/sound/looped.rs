//! A piece as a file that can be repeated without a seam.

use std::fs::File;
use std::io::{self, Read, Seek, SeekFrom, Write};

use super::file::Frames;
use super::limiter::Limiter;
use super::rendering::Rendering;

/// Seconds of the loop that go through the limiter before its first frame: longer than it takes to recover.
const BEFORE_SECONDS: usize = 3;

/// Frames handled at once.
const BLOCK: usize = 4096;

/// Bytes of a frame in the spool.
const FRAME: usize = 8;

/// Frames of a piece that ends where it began: what still sounds after the last bar line sounds under the first bars, as
/// it does when the piece is repeated.
pub struct Looped {
    spool: File,
    length: u64,
    /// Where in the loop the next frame is read.
    at: u64,
    limiter: Option<Limiter>,
    /// Frames to be thrown away first.
    early: u64,
    left: u64,
}

impl Looped {
    /// Plays `rendering`, made on a desk without limiter, into a spool on disk and folds its end onto its beginning.
    /// `rate_hz` is that of the desk; `progress` is called with the frames made.
    ///
    /// # Errors
    /// When the spool cannot be written, or the piece has no length.
    pub fn new(
        mut rendering: Rendering<'_>,
        limited: bool,
        rate_hz: u32,
        progress: &mut dyn FnMut(u64),
    ) -> io::Result<Self> {
        let mut spool = tempfile::tempfile()?;
        let mut block = vec![[0.0f32; 2]; BLOCK];
        let mut total = 0u64;
        loop {
            let n = rendering.read(&mut block);
            if n == 0 {
                break;
            }
            spool.write_all(&bytes(&block[..n]))?;
            total += n as u64;
            progress(total);
        }
        let length = rendering.end();
        if length == 0 {
            return Err(io::Error::new(
                io::ErrorKind::InvalidInput,
                "the piece has no length",
            ));
        }
        let mut looped = Looped {
            spool,
            length,
            at: 0,
            limiter: None,
            early: 0,
            left: length,
        };
        let mut from = length;
        while from < total {
            let to = (from - length) % length;
            let room = (total - from).min(length - to).min(BLOCK as u64);
            let n = usize::try_from(room).unwrap_or(BLOCK);
            let mut tail = vec![[0.0f32; 2]; n];
            looped.get(from, &mut tail)?;
            let mut head = vec![[0.0f32; 2]; n];
            looped.get(to, &mut head)?;
            for (a, b) in head.iter_mut().zip(&tail) {
                *a = [a[0] + b[0], a[1] + b[1]];
            }
            looped.spool.seek(SeekFrom::Start(to * FRAME as u64))?;
            looped.spool.write_all(&bytes(&head))?;
            from += n as u64;
        }
        if limited {
            #[allow(clippy::cast_precision_loss)]
            let limiter = Limiter::new(rate_hz as f32);
            let before = BEFORE_SECONDS as u64 * u64::from(rate_hz);
            looped.at = (length - before % length) % length;
            looped.early = before + limiter.delay() as u64;
            looped.limiter = Some(limiter);
        }
        Ok(looped)
    }

    /// Frames of the loop.
    pub fn length(&self) -> u64 {
        self.length
    }

    fn get(&mut self, frame: u64, out: &mut [[f32; 2]]) -> io::Result<()> {
        let mut raw = vec![0u8; out.len() * FRAME];
        self.spool.seek(SeekFrom::Start(frame * FRAME as u64))?;
        self.spool.read_exact(&mut raw)?;
        for (frame, raw) in out.iter_mut().zip(raw.chunks_exact(FRAME)) {
            let side =
                |at: usize| f32::from_le_bytes([raw[at], raw[at + 1], raw[at + 2], raw[at + 3]]);
            *frame = [side(0), side(4)];
        }
        Ok(())
    }

    /// The next frames of the loop, over and over, through the limiter.
    fn turn(&mut self, out: &mut [[f32; 2]]) -> io::Result<()> {
        let mut done = 0;
        while done < out.len() {
            let room = usize::try_from(self.length - self.at).unwrap_or(usize::MAX);
            let n = room.min(out.len() - done);
            let at = self.at;
            self.get(at, &mut out[done..done + n])?;
            self.at = (self.at + n as u64) % self.length;
            done += n;
        }
        if let Some(limiter) = &mut self.limiter {
            limiter.process(out);
        }
        Ok(())
    }
}

impl Frames for Looped {
    fn read(&mut self, out: &mut [[f32; 2]]) -> io::Result<usize> {
        while self.early > 0 {
            let n = usize::try_from(self.early).unwrap_or(BLOCK).min(BLOCK);
            let mut thrown = vec![[0.0; 2]; n];
            self.turn(&mut thrown)?;
            self.early -= n as u64;
        }
        let n = usize::try_from(self.left)
            .unwrap_or(usize::MAX)
            .min(out.len());
        self.turn(&mut out[..n])?;
        self.left -= n as u64;
        Ok(n)
    }
}

fn bytes(frames: &[[f32; 2]]) -> Vec<u8> {
    let mut raw = Vec::with_capacity(frames.len() * FRAME);
    for sample in frames.as_flattened() {
        raw.extend_from_slice(&sample.to_le_bytes());
    }
    raw
}
