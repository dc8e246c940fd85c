//! Messages while it plays, shown above a line that is being typed.
//!
//! A thread of its own writes them, so that playing never waits for a blocked terminal or pipe. When [`WAITING`]
//! messages wait already, new ones are lost: lines, not notes.

use std::io::Write;
use std::sync::OnceLock;
use std::thread;
use std::time::Duration;

use crossbeam_channel::{Receiver, Sender, bounded};

use super::screen;
use crate::view::{Manner, shown_lines};

/// Things that may wait to be written.
const WAITING: usize = 256;

/// Back to the beginning of the row, and clear it (ECMA-48, 8.3.41).
const WIPE: &str = "\r\x1B[K";

/// What the writing thread receives.
enum Notice {
    /// A line of its own.
    Say(String),
    /// The line that is being typed, as it is now.
    Typed(String),
    /// The line that is being typed once more, after another process had the terminal.
    Again,
    /// No line is being typed any more.
    Close,
    /// Answer when all before this is written.
    Written(Sender<()>),
}

/// Writes notices while a line may be open.
#[derive(Default)]
struct Page {
    typed: Option<String>,
}

impl Page {
    fn text(&mut self, notice: Notice) -> String {
        match notice {
            Notice::Say(text) => match &self.typed {
                Some(line) => format!("{WIPE}{text}\n> {line}"),
                None => format!("{text}\n"),
            },
            Notice::Typed(line) => {
                let text = format!("{WIPE}> {line}");
                self.typed = Some(line);
                text
            }
            Notice::Again => self
                .typed
                .as_ref()
                .map_or_else(String::new, |line| format!("> {line}")),
            Notice::Close => match self.typed.take() {
                Some(_) => WIPE.to_owned(),
                None => String::new(),
            },
            Notice::Written(answer) => {
                let _ = answer.try_send(());
                String::new()
            }
        }
    }
}

/// Shows it on the stage, where one is shown.
fn on_stage(notice: &Notice) -> bool {
    match notice {
        Notice::Say(text) => screen::say(text),
        Notice::Typed(line) => screen::typed(Some(line)),
        Notice::Close => screen::typed(None),
        Notice::Again | Notice::Written(_) => false,
    }
}

fn write_all(notices: &Receiver<Notice>, out: &mut dyn Write) {
    let mut page = Page::default();
    for notice in notices {
        if on_stage(&notice) {
            continue;
        }
        let text = page.text(notice);
        // Errors are ignored: the stream may be closed.
        if !text.is_empty() {
            let _ = out.write_all(text.as_bytes()).and_then(|()| out.flush());
        }
    }
}

/// The channel to the thread, which starts with the first notice.
fn writer() -> &'static Sender<Notice> {
    static WRITER: OnceLock<Sender<Notice>> = OnceLock::new();
    WRITER.get_or_init(|| {
        let (send, notices) = bounded(WAITING);
        // Without a thread messages are lost.
        let _ = thread::Builder::new()
            .name("notices".to_owned())
            .spawn(move || write_all(&notices, &mut std::io::stderr()));
        send
    })
}

fn tell(notice: Notice) {
    let _ = writer().try_send(notice);
}

/// Writes a message to standard error, above the line that may be open.
pub(super) fn say(text: &str) {
    tell(Notice::Say(shown_lines(text, Manner::Text)));
}

/// Shows the line that is being typed.
pub(super) fn show_line(text: &str) {
    tell(Notice::Typed(shown_lines(text, Manner::Text)));
}

/// Shows the open line again, after another process had the terminal.
#[cfg_attr(not(unix), allow(dead_code))] // for single keys
pub(super) fn show_again() {
    tell(Notice::Again);
}

/// Takes the line away, if one is open.
pub(super) fn close_line() {
    tell(Notice::Close);
}

/// Waits until all messages are written, but no longer than `patience`.
pub(super) fn settle(patience: Duration) {
    let (answer, written) = bounded(1);
    if writer().try_send(Notice::Written(answer)).is_ok() {
        let _ = written.recv_timeout(patience);
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn lines_stand_above_the_one_that_is_typed() {
        let mut page = Page::default();
        let mut text = String::new();
        for notice in [
            Notice::Say("stands still".to_owned()),
            Notice::Typed("tem".to_owned()),
            Notice::Say("goes on".to_owned()),
            Notice::Again,
            Notice::Close,
            Notice::Close,
            Notice::Again,
            Notice::Say("stands still".to_owned()),
        ] {
            text += &page.text(notice);
        }
        assert_eq!(
            text,
            "stands still\n\r\x1B[K> tem\r\x1B[Kgoes on\n> tem> tem\r\x1B[Kstands still\n"
        );
    }

    #[test]
    fn a_stream_that_takes_nothing_holds_up_nobody() {
        /// Takes nothing until its channel is closed.
        struct Stuck(Receiver<()>);
        impl Write for Stuck {
            fn write(&mut self, bytes: &[u8]) -> std::io::Result<usize> {
                let _ = self.0.recv();
                Ok(bytes.len())
            }
            fn flush(&mut self) -> std::io::Result<()> {
                Ok(())
            }
        }
        let (free, stuck) = bounded::<()>(0);
        let (send, notices) = bounded(WAITING);
        let thread = thread::spawn(move || write_all(&notices, &mut Stuck(stuck)));
        // This would never end if anything waited for the stream.
        let mut lost = 0;
        for i in 0..10 * WAITING {
            lost += usize::from(send.try_send(Notice::Say(i.to_string())).is_err());
        }
        assert!(lost >= 8 * WAITING, "{lost}");
        drop(free);
        drop(send);
        thread.join().unwrap();
    }
}
