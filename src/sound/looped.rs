//! A piece as a file that loops seamlessly.

use std::fs::File;
use std::io::{self, Read, Seek, SeekFrom, Write};

use super::desk::Peaks;
use super::file::Frames;
use super::limiter::Limiter;
use super::rendering::Rendering;
use crate::midi::spool;

/// Seconds of the loop that go through the limiter before its first frame: longer than it takes to recover.
const BEFORE_SECONDS: usize = 3;

/// Frames handled at once.
const BLOCK: usize = 4096;

/// Bytes of a frame in the spool.
const FRAME: usize = 8;

/// Frames of a piece that ends where it began: what still sounds after the last bar line sounds under the first bars, as
/// it does when the piece is repeated.
pub struct Looped {
    spool: Spool,
    limiter: Option<Limiter>,
    /// Frames still to be given.
    left: u64,
}

/// The frames of a loop on disk, read around and around.
struct Spool {
    file: File,
    /// Frames of the loop.
    length: u64,
    /// The next frame, counted from 0.
    at: u64,
}

impl Looped {
    /// Plays `rendering`, made on a desk without limiter, into a spool on disk and adds what sounds after its end to
    /// its beginning. The spool has no name, and none is made once the process has been told to end. `rate_hz` is that
    /// of the desk; `progress` is called with the frames made.
    ///
    /// # Errors
    /// When the spool cannot be written, or the piece has no length.
    pub fn new(
        mut rendering: Rendering<'_>,
        peaks: Peaks,
        rate_hz: u32,
        progress: &mut dyn FnMut(u64),
    ) -> io::Result<Self> {
        let mut file = spool()?;
        let total = play_into(&mut file, &mut rendering, progress)?;
        let length = rendering.end();
        if length == 0 {
            return Err(io::Error::new(
                io::ErrorKind::InvalidInput,
                "the piece has no length",
            ));
        }
        let mut spool = Spool {
            file,
            length,
            at: 0,
        };
        spool.add_tail(total)?;
        let mut looped = Looped {
            spool,
            limiter: None,
            left: length,
        };
        if peaks == Peaks::Limited {
            looped.limit(rate_hz)?;
        }
        Ok(looped)
    }

    /// Puts a limiter behind the spool and lets it settle, so that the first frame is limited as if the loop had been
    /// repeated before.
    fn limit(&mut self, rate_hz: u32) -> io::Result<()> {
        #[allow(clippy::cast_precision_loss)]
        let limiter = Limiter::new(rate_hz as f32);
        let before = BEFORE_SECONDS as u64 * u64::from(rate_hz);
        let length = self.spool.length;
        self.spool.at = (length - before % length) % length;
        let mut early = before + limiter.delay() as u64;
        self.limiter = Some(limiter);
        let mut unheard = vec![[0.0; 2]; BLOCK];
        while early > 0 {
            let n = usize::try_from(early).unwrap_or(BLOCK).min(BLOCK);
            self.turn(&mut unheard[..n])?;
            early -= n as u64;
        }
        Ok(())
    }

    /// Frames of the loop.
    pub fn length(&self) -> u64 {
        self.spool.length
    }

    /// The next frames of the loop, over and over, through the limiter.
    fn turn(&mut self, out: &mut [[f32; 2]]) -> io::Result<()> {
        self.spool.read_around(out)?;
        if let Some(limiter) = &mut self.limiter {
            limiter.process(out);
        }
        Ok(())
    }
}

/// Writes all frames of `rendering` to `file` and says how many there were.
fn play_into(
    file: &mut File,
    rendering: &mut Rendering<'_>,
    progress: &mut dyn FnMut(u64),
) -> io::Result<u64> {
    let mut block = vec![[0.0f32; 2]; BLOCK];
    let mut total = 0u64;
    loop {
        let n = rendering.read(&mut block);
        if n == 0 {
            return Ok(total);
        }
        file.write_all(&bytes(&block[..n]))?;
        total += n as u64;
        progress(total);
    }
}

impl Spool {
    /// Adds the frames behind the loop, up to frame `total`, to those at its beginning.
    fn add_tail(&mut self, total: u64) -> io::Result<()> {
        let mut from = self.length;
        while from < total {
            let to = (from - self.length) % self.length;
            let room = (total - from).min(self.length - to).min(BLOCK as u64);
            let n = usize::try_from(room).unwrap_or(BLOCK);
            let mut tail = vec![[0.0f32; 2]; n];
            self.get(from, &mut tail)?;
            let mut head = vec![[0.0f32; 2]; n];
            self.get(to, &mut head)?;
            for (a, b) in head.iter_mut().zip(&tail) {
                *a = [a[0] + b[0], a[1] + b[1]];
            }
            self.file.seek(SeekFrom::Start(to * FRAME as u64))?;
            self.file.write_all(&bytes(&head))?;
            from += n as u64;
        }
        Ok(())
    }

    fn get(&mut self, frame: u64, out: &mut [[f32; 2]]) -> io::Result<()> {
        let mut raw = vec![0u8; out.len() * FRAME];
        self.file.seek(SeekFrom::Start(frame * FRAME as u64))?;
        self.file.read_exact(&mut raw)?;
        for (frame, raw) in out.iter_mut().zip(raw.chunks_exact(FRAME)) {
            let side =
                |at: usize| f32::from_le_bytes([raw[at], raw[at + 1], raw[at + 2], raw[at + 3]]);
            *frame = [side(0), side(4)];
        }
        Ok(())
    }

    /// The next frames; behind the last comes the first.
    fn read_around(&mut self, out: &mut [[f32; 2]]) -> io::Result<()> {
        let mut done = 0;
        while done < out.len() {
            let room = usize::try_from(self.length - self.at).unwrap_or(usize::MAX);
            let n = room.min(out.len() - done);
            self.get(self.at, &mut out[done..done + n])?;
            self.at = (self.at + n as u64) % self.length;
            done += n;
        }
        Ok(())
    }
}

impl Frames for Looped {
    fn read(&mut self, out: &mut [[f32; 2]]) -> io::Result<usize> {
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

#[cfg(test)]
mod tests {
    use std::sync::mpsc;
    use std::thread;
    use std::time::Duration;

    use super::super::Desk;
    use super::*;
    use crate::event::{Bar, Event, Header, Source};
    use crate::midi::abandon_files;
    use crate::time::Tick;

    /// A source without a single bar.
    struct Nothing(Header);

    impl Source for Nothing {
        fn header(&self) -> &Header {
            &self.0
        }

        fn end(&self) -> Option<Tick> {
            Some(Tick::ZERO)
        }

        fn next_bar(&mut self, _: &mut Vec<Event>) -> Option<Bar> {
            None
        }

        fn seek(&mut self, _: i64) -> bool {
            false
        }
    }

    /// On some file systems a spool has a name for a moment. It used to be made even after the process was told to end.
    #[test]
    fn no_spool_is_made_once_the_process_is_told_to_end() {
        let abandoned = abandon_files();
        let (done, is_done) = mpsc::channel();
        let thread = thread::spawn(move || {
            let mut source = Nothing(Header {
                title: String::new(),
                seed: 0,
                parts: Vec::new(),
            });
            let desk = Desk::new(source.header(), 48_000, 1.0, Peaks::Untouched);
            let rendering = Rendering::new(&mut source, desk, 48_000);
            let looped = Looped::new(rendering, Peaks::Untouched, 48_000, &mut |_| {});
            let _ = done.send(looped.err().map(|e| e.kind()));
        });
        assert!(is_done.recv_timeout(Duration::from_millis(300)).is_err());
        drop(abandoned);
        let kind = is_done.recv_timeout(Duration::from_secs(20)).unwrap();
        assert_eq!(kind, Some(io::ErrorKind::InvalidInput));
        thread.join().unwrap();
    }
}
