//! A source rendered to frames, as fast as the machine can.

use super::cues::{Cues, nearest_frame};
use super::desk::Desk;
use crate::event::Source;

/// Longest tail after the end of a piece, in seconds.
const LONGEST_TAIL: u64 = 15;

/// Frames of a source, from the start of the count-in until the last note has died away.
///
/// It holds one bar of events, whatever the length of the piece. The limiter's delay is taken out: every onset lies on the
/// frame nearest to its time.
pub struct Rendering<'a> {
    cues: Cues<'a>,
    desk: Desk,
    /// Frames given to the desk so far.
    made: u64,
    /// Frames still to be thrown away, since they come before the first.
    early: usize,
    /// The frame at which all has died away, once that is known.
    last: Option<u64>,
    rate_hz: u32,
}

/// Step in frames of the search for the end.
const STEP: usize = 512;

impl<'a> Rendering<'a> {
    /// Renders `source` on `desk`, which was made for `rate_hz`.
    pub fn new(source: &'a mut dyn Source, desk: Desk, rate_hz: u32) -> Self {
        Rendering {
            early: desk.delay(),
            cues: Cues::new(source, rate_hz),
            desk,
            made: 0,
            last: None,
            rate_hz,
        }
    }

    /// Puts the next frames into `out` and says how many; fewer than asked for only at the end.
    pub fn read(&mut self, out: &mut [[f32; 2]]) -> usize {
        while self.early > 0 {
            let n = self.early.min(out.len());
            if n == 0 || self.make(&mut out[..n]) < n {
                return 0;
            }
            self.early -= n;
        }
        self.make(out)
    }

    /// The desk, after all was read.
    pub fn desk(&self) -> &Desk {
        &self.desk
    }

    /// The frame at which the piece ends; known once all was read.
    pub fn end(&self) -> u64 {
        self.cues.end()
    }

    fn make(&mut self, out: &mut [[f32; 2]]) -> usize {
        let mut done = 0;
        while done < out.len() {
            if self.last.is_some_and(|last| self.made >= last) {
                break;
            }
            let mut n = out.len() - done;
            if let Some(last) = self.last {
                n = n.min(usize::try_from(last - self.made).unwrap_or(n));
            }
            let next = self.cues.peek();
            let next = next.map(|next| (nearest_frame(next.at, self.rate_hz), next.what));
            match next {
                Some((frame, message)) if frame <= self.made => {
                    self.desk.message(message);
                    self.cues.next();
                    continue;
                }
                Some((frame, _)) => n = n.min(usize::try_from(frame - self.made).unwrap_or(n)),
                None if self.last.is_none() => {
                    let end = self.cues.end();
                    if self.made < end {
                        n = n.min(usize::try_from(end - self.made).unwrap_or(n));
                    } else {
                        let longest = LONGEST_TAIL * u64::from(self.rate_hz);
                        let over = self.desk.engine().is_silent() || self.made >= end + longest;
                        if over {
                            self.last = Some(self.made + self.desk.delay() as u64);
                            continue;
                        }
                        n = n.min(STEP);
                    }
                }
                None => {}
            }
            self.desk.render(&mut out[done..done + n]);
            self.made += n as u64;
            done += n;
        }
        done
    }
}
