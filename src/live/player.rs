//! Plays a source to a port: this thread pulls bars, another sends.

use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};
use std::thread;
use std::time::{Duration, Instant};

use crossbeam_channel::{SendTimeoutError, bounded};

use super::Clock;
use super::sender::{Queued, Report, Sender, Stopped};
use crate::event::{Body, Source, Stopwatch};
use crate::midi::{OutputPort, PortError};

/// Messages that may wait between the arranging and the sending thread.
const QUEUE: usize = 1024;

/// How long the sender may take to silence and end, even when a driver blocks.
const SHUTDOWN: Duration = Duration::from_secs(2);

/// How playing went.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Outcome {
    /// What the sender did.
    pub report: Report,
    /// Bars handed to the sender, count-in included.
    pub bars: u64,
}

/// Why playing failed.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
#[non_exhaustive]
pub enum PlayError {
    /// The port failed.
    #[error(transparent)]
    Port(#[from] PortError),
    /// The sending thread could not be started, or broke off.
    #[error("the sending thread {0}")]
    Thread(String),
    /// The driver blocked at the end.
    #[error("the MIDI driver did not answer within two seconds; a note may still sound")]
    Blocked,
}

/// Plays `source` to its end, or until `stop` is set; then everything that sounds is silenced.
///
/// # Errors
/// When the port fails or its driver blocks. What sounds is silenced as far as the port still takes messages.
pub fn play<P, C>(
    source: &mut dyn Source,
    port: P,
    clock: C,
    stop: &Arc<AtomicBool>,
) -> Result<Outcome, PlayError>
where
    P: OutputPort + 'static,
    C: Clock + 'static,
{
    let (queue, taken) = bounded::<Queued>(QUEUE);
    let sender = Sender::new(port, clock, Arc::clone(stop));
    let thread = thread::Builder::new()
        .name("send".to_owned())
        .spawn(move || sender.run(&taken))
        .map_err(|e| PlayError::Thread(format!("cannot be started ({e})")))?;
    let wake = thread.thread().clone();
    let mut watch = Stopwatch::default();
    let mut events = Vec::new();
    let mut bars = 0;
    'bars: while !stop.load(Ordering::Relaxed) && source.next_bar(&mut events).is_some() {
        bars += 1;
        for event in events.drain(..) {
            let at = watch.read(&event);
            let Body::Channel {
                channel, message, ..
            } = event.body
            else {
                continue;
            };
            let mut queued = Queued {
                at,
                channel,
                message,
            };
            loop {
                match queue.send_timeout(queued, Duration::from_millis(20)) {
                    Ok(()) => break,
                    Err(SendTimeoutError::Timeout(back)) if !stop.load(Ordering::Relaxed) => {
                        queued = back
                    }
                    Err(_) => break 'bars,
                }
            }
        }
    }
    drop(queue);
    // The sender plays out what is queued; only a stop limits it.
    let mut stopped_at: Option<Instant> = None;
    while !thread.is_finished() {
        if stop.load(Ordering::Relaxed) {
            wake.unpark();
            let since = *stopped_at.get_or_insert_with(Instant::now);
            if since.elapsed() > SHUTDOWN {
                return Err(PlayError::Blocked);
            }
        }
        thread::sleep(Duration::from_millis(5));
    }
    let report = thread
        .join()
        .map_err(|_| PlayError::Thread("broke off".to_owned()))?;
    match report.stopped {
        Stopped::Failed(e) => Err(PlayError::Port(e)),
        _ => Ok(Outcome { report, bars }),
    }
}
