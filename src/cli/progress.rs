//! Progress of long work, told on standard error while files are written.

use std::io::{self, Write};
use std::path::Path;
use std::sync::{Mutex, MutexGuard, TryLockError};
use std::thread;
use std::time::{Duration, Instant};

use super::failure::Failure;
use super::help::columns;
use super::watched::Watched;
use super::{Context, Streams, is_dumb, lock};
use crate::event::{Bar, Source};
use crate::time::Tick;
use crate::view::{Manner, Progress, ProgressDue, ProgressStyle};

/// From the cursor on, all is cleared (ECMA-48, 8.3.39): a bar takes two rows where the terminal was made narrower.
const CLEAR: &str = "\x1B[J";

/// How long a process that ends waits for a bar that is being drawn: a terminal may take nothing.
const PATIENCE: Duration = Duration::from_millis(500);

/// Columns of a terminal that does not tell.
const USUAL_COLUMNS: usize = 80;

/// Time and terminal as progress sees them; tests answer in their place.
pub(super) struct Outside<'a> {
    /// Time since the program began.
    pub(super) elapsed: &'a dyn Fn() -> Duration,
    /// Columns that a bar has, as the terminal is now; `None` where lines are shown.
    pub(super) bar_columns: &'a dyn Fn() -> Option<usize>,
}

/// The columns of standard error now; `None` where it is no terminal, or one that does nothing but lines.
pub(super) fn bar_columns(err_is_terminal: bool) -> Option<usize> {
    if !err_is_terminal || is_dumb(std::env::var_os("TERM")) {
        return None;
    }
    let seen = terminal_size::terminal_size_of(io::stderr());
    let seen = seen.map(|(width, _)| usize::from(width.0));
    let said = columns(err_is_terminal).unwrap_or(USUAL_COLUMNS);
    // What is wider than the terminal is not drawn over.
    Some(seen.filter(|n| *n > 0).map_or(said, |n| n.min(said)))
}

/// The long work that is done now.
#[derive(Default)]
pub(super) enum Job {
    #[default]
    None,
    /// None: the work on each file that would be written is gathered.
    Planned(Vec<f64>),
    /// Files are written.
    Going {
        progress: Progress,
        /// When it began, since the program did.
        began: Duration,
        /// Whether its bar stands on the terminal.
        stands: bool,
    },
}

/// Whether a bar stands on the terminal, for whoever ends the process. Held while one is drawn.
static STANDS: Mutex<bool> = Mutex::new(false);

/// As long as this is kept, no bar is drawn.
#[cfg_attr(not(unix), allow(dead_code))] // elsewhere no signal ends a process
pub(super) struct Cleared {
    _held: Option<MutexGuard<'static, bool>>,
}

/// Takes the bar off the terminal, where one stands: for a process that ends now.
#[cfg_attr(not(unix), allow(dead_code))]
pub(super) fn clear() -> Cleared {
    let since = Instant::now();
    loop {
        let mut stands = match STANDS.try_lock() {
            Ok(stands) => stands,
            Err(TryLockError::Poisoned(e)) => e.into_inner(),
            Err(TryLockError::WouldBlock) if since.elapsed() < PATIENCE => {
                thread::sleep(Duration::from_millis(1));
                continue;
            }
            Err(TryLockError::WouldBlock) => return Cleared { _held: None },
        };
        if std::mem::take(&mut *stands) {
            let _ = write!(io::stderr(), "\r{CLEAR}");
        }
        return Cleared {
            _held: Some(stands),
        };
    }
}

impl Context<'_, '_> {
    /// Does long work on files, each with the work that is expected, and shows its progress. Within a job that is going
    /// already it is a part of that.
    pub(super) fn long_job<T>(
        &mut self,
        planned: Vec<f64>,
        work: impl FnOnce(&mut Self) -> Result<T, Failure>,
    ) -> Result<T, Failure> {
        if let Job::Going { .. } = self.job {
            return work(self);
        }
        let style = match (self.outside.bar_columns)() {
            _ if self.json => ProgressStyle::Hidden,
            Some(_) => ProgressStyle::Bar,
            None => ProgressStyle::Lines,
        };
        self.job = Job::Going {
            progress: Progress::new(style, planned),
            began: (self.outside.elapsed)(),
            stands: false,
        };
        let done = work(self);
        self.wipe();
        let now = self.worked();
        if let Job::Going { mut progress, .. } = std::mem::take(&mut self.job)
            && done.is_ok()
            && let Some(line) = progress.finish(now)
        {
            self.say_rendered(&line);
        }
        done
    }

    /// The work on each file that `ask` would write; nothing is written or shown. `None` where it fails.
    pub(super) fn planned(
        &self,
        ask: impl FnOnce(&mut Context<'_, '_>) -> Result<(), Failure>,
    ) -> Option<Vec<f64>> {
        let (mut out, mut err, mut input) = (io::sink(), io::sink(), io::empty());
        let mut streams = Streams::piped(&mut out, &mut err, &mut input);
        let mut context = Context {
            json: self.json,
            job: Job::Planned(Vec::new()),
            ..Context::plain(&mut streams, self.outside)
        };
        ask(&mut context).ok()?;
        match context.job {
            Job::Planned(planned) => Some(planned),
            _ => None,
        }
    }

    /// Begins a file of the job; `work` is what it takes.
    pub(super) fn begin_file(&mut self, path: &Path, work: f64) {
        let now = self.worked();
        if let Job::Going { progress, .. } = &mut self.job {
            let name = path.file_name().unwrap_or(path.as_os_str());
            progress.begin(&name.to_string_lossy(), work, now);
        }
    }

    /// Tells that the share `part` of the work on the file, 0 to 1, is done.
    pub(super) fn advance(&mut self, part: f64) {
        let now = self.worked();
        let Job::Going { progress, .. } = &mut self.job else {
            return;
        };
        match progress.advance(part, now) {
            ProgressDue::Nothing => {}
            ProgressDue::Line(line) => self.say_rendered(&line),
            ProgressDue::Bar => {
                let columns = (self.outside.bar_columns)().unwrap_or(USUAL_COLUMNS);
                let bar = progress.bar(now, columns);
                self.draw(&bar);
            }
        }
    }

    /// Ends the file.
    pub(super) fn end_file(&mut self) {
        let now = self.worked();
        if let Job::Going { progress, .. } = &mut self.job {
            progress.end(now);
        }
        self.wipe();
    }

    /// Time since the job began.
    fn worked(&self) -> Duration {
        match &self.job {
            Job::Going { began, .. } => (self.outside.elapsed)().saturating_sub(*began),
            _ => Duration::ZERO,
        }
    }

    /// Draws the bar over what is in the row, and leaves the cursor at its beginning.
    fn draw(&mut self, bar: &str) {
        self.set_bar(true, &format!("\r{bar}{CLEAR}\r"));
    }

    /// Takes the bar away, where one stands.
    fn wipe(&mut self) {
        if let Job::Going { stands: true, .. } = self.job {
            self.set_bar(false, &format!("\r{CLEAR}"));
        }
    }

    fn set_bar(&mut self, now: bool, text: &str) {
        let mut held = lock(&STANDS);
        *held = now;
        if let Job::Going { stands, .. } = &mut self.job {
            *stands = now;
        }
        self.control(text);
    }

    /// Writes to the terminal what controls it. Errors are ignored: it may be gone.
    fn control(&mut self, text: &str) {
        let before = self.err_manner.replace(Manner::Bytes);
        let err = &mut self.streams.err;
        let _ = err.write_all(text.as_bytes()).and_then(|()| err.flush());
        self.err_manner.set(before);
    }
}

/// A source is told of again when one part of so many was taken.
const PARTS: u64 = 2000;

/// Gives the bars of `source`, and tells how much of it was taken, 0 to 1: some thousand times, since a look at the clock
/// takes as long as a few events.
pub(super) fn told<'a>(
    source: &'a mut dyn Source,
    tell: &'a mut dyn FnMut(f64),
) -> Watched<'a, impl FnMut(Option<&Bar>, Option<Tick>)> {
    // Ticks from which on it is told again.
    let mut next = 0;
    Watched::new(source, move |bar, end| {
        let at = bar.map(|bar| bar.end().get());
        if at.is_none_or(|at| at >= next) {
            let end = end.map_or(0, Tick::get);
            next = at.unwrap_or(end) + end / PARTS;
            tell(at.map_or(1.0, |at| share(at, end)));
        }
    })
}

/// What share `n` is of `all`, 0 to 1.
#[allow(clippy::cast_precision_loss)] // a share is shown in hundredths
pub(super) fn share(n: u64, all: u64) -> f64 {
    (n as f64 / all.max(1) as f64).min(1.0)
}

#[cfg(test)]
mod tests {
    use std::cell::Cell;
    use std::ffi::OsString;
    use std::path::PathBuf;

    use tempfile::TempDir;

    use super::*;
    use crate::cli::run_outside;

    /// Keeps what is written at once, with the time.
    struct Kept<'a> {
        now: &'a Cell<Duration>,
        texts: Vec<(Duration, String)>,
    }

    impl Write for Kept<'_> {
        fn write(&mut self, bytes: &[u8]) -> io::Result<usize> {
            let text = String::from_utf8(bytes.to_vec()).unwrap();
            self.texts.push((self.now.get(), text));
            Ok(bytes.len())
        }

        fn flush(&mut self) -> io::Result<()> {
            Ok(())
        }
    }

    /// What a run wrote to standard error. Each look at the clock takes `step`.
    fn told(
        arguments: &[&str],
        step: Duration,
        bar_columns: Option<usize>,
    ) -> Vec<(Duration, String)> {
        let now = Cell::new(Duration::ZERO);
        let mut err = Kept {
            now: &now,
            texts: Vec::new(),
        };
        let (mut out, mut input) = (io::sink(), io::empty());
        let mut streams = Streams::piped(&mut out, &mut err, &mut input);
        let outside = Outside {
            elapsed: &|| {
                now.set(now.get() + step);
                now.get()
            },
            bar_columns: &|| bar_columns,
        };
        let arguments: Vec<OsString> = ["fivefold"]
            .iter()
            .chain(arguments)
            .map(OsString::from)
            .collect();
        assert_eq!(run_outside(arguments, &mut streams, &outside), 0);
        err.texts
    }

    /// A sound file and a MIDI file, which take some two hundred looks at the clock.
    fn export(folder: &TempDir, name: &str) -> (PathBuf, [String; 8]) {
        let wav = folder.path().join(format!("{name}.wav"));
        let midi = folder.path().join(format!("{name}.mid"));
        let path = |path: &Path| path.to_str().unwrap().to_owned();
        let arguments = [
            "play".to_owned(),
            "| Am | Dm |".to_owned(),
            "--tempo=240".to_owned(),
            "-o".to_owned(),
            path(&wav),
            "-o".to_owned(),
            path(&midi),
            "--force".to_owned(),
        ];
        (wav, arguments)
    }

    fn all(texts: &[(Duration, String)]) -> String {
        texts.iter().map(|(_, text)| text.as_str()).collect()
    }

    const NO_TIME: Duration = Duration::ZERO;
    const LONG: Duration = Duration::from_millis(150);

    #[test]
    fn short_work_and_json_write_nothing() {
        let folder = TempDir::new().unwrap();
        let (_, arguments) = export(&folder, "a");
        let arguments: Vec<&str> = arguments.iter().map(String::as_str).collect();
        for columns in [None, Some(80)] {
            assert_eq!(told(&arguments, NO_TIME, columns), []);
            let json = [&arguments[..], &["--json"]].concat();
            assert_eq!(told(&json, LONG, columns), []);
        }
    }

    /// The percentages that lines begin with or have before `of all`.
    fn percentages(text: &str) -> Vec<u32> {
        let words: Vec<&str> = text.split([' ', '\n', '\r']).collect();
        let before = words.windows(2).filter(|pair| pair[1].starts_with('%'));
        before.map(|pair| pair[0].parse().unwrap()).collect()
    }

    #[test]
    fn long_work_is_told_in_lines() {
        let folder = TempDir::new().unwrap();
        let (wav, arguments) = export(&folder, "a");
        let arguments: Vec<&str> = arguments.iter().map(String::as_str).collect();
        told(&arguments, NO_TIME, None);
        let quick = std::fs::read(&wav).unwrap();
        let texts = told(&arguments, LONG, None);
        assert!(std::fs::read(&wav).unwrap() == quick);
        let (last, lines) = texts.split_last().unwrap();
        assert!(lines.len() > 5, "{texts:?}");
        let mut before = Duration::ZERO;
        for (now, line) in lines {
            assert!(line.starts_with("file 1 of 2, a.wav: "), "{line}");
            assert!(line.contains(" % of all, about 0:"), "{line}");
            assert!(line.ends_with(" left\n"), "{line}");
            assert!(*now - before >= Duration::from_secs(2), "{texts:?}");
            before = *now;
        }
        assert!(last.1.starts_with("2 files: 100 %, took 0:"), "{last:?}");
        let told = percentages(&all(&texts));
        assert_eq!(told.len(), texts.len());
        assert!(told.is_sorted_by(|a, b| a < b), "{told:?}");
        // The loudness is measured first, in a pass that is half of the work.
        assert!(told[0] < 20, "{told:?}");
    }

    #[test]
    fn a_terminal_shows_a_bar_and_is_clean_in_the_end() {
        let folder = TempDir::new().unwrap();
        let (_, arguments) = export(&folder, "\u{1B}[2J");
        let arguments: Vec<&str> = arguments.iter().map(String::as_str).collect();
        let texts = told(&arguments, LONG, Some(60));
        let (last, bars) = texts.split_last().unwrap();
        assert!(bars.len() > 50);
        let wipe = format!("\r{CLEAR}");
        for (_, text) in bars.iter().filter(|(_, text)| *text != wipe) {
            let bar = text.strip_prefix('\r').unwrap();
            let bar = bar.strip_suffix(&format!("{CLEAR}\r")).unwrap();
            assert!(bar.len() < 60, "{bar}");
            assert!(!bar.contains(char::is_control), "{bar}");
            assert!(bar.contains(" of 2 \\u{1b}[2J."), "{bar}");
        }
        assert_eq!(last.1, wipe);
        let told = percentages(&all(&texts));
        assert!(told.is_sorted(), "{told:?}");
        assert_eq!((told[0] < 10, told.last()), (true, Some(&99)));
    }

    /// A hand-out is one job: all files of all items.
    #[test]
    fn a_hand_out_tells_of_all_its_files() {
        let folder = TempDir::new().unwrap();
        let routine = folder.path().join("r.toml");
        let text = "title = \"R\"\n[[items]]\npiece = \"'| Am |' --parts click --gain 0\"\nminutes = 1\n\
                    [[items]]\nrest = \"hands\"\nminutes = 1\n\
                    [[items]]\ndrill = \"roots --asks 4 --gain 0\"\nminutes = 1\n";
        std::fs::write(&routine, text).unwrap();
        let to = folder.path().join("out");
        let arguments = ["practice", routine.to_str().unwrap(), "--no-log", "--to"];
        let arguments = [&arguments[..], &[to.to_str().unwrap()]].concat();
        let texts = all(&told(&arguments, LONG, None));
        let lines: Vec<&str> = texts.lines().filter(|line| line.contains(" %")).collect();
        let told = percentages(&lines.join("\n"));
        assert!(told.len() > 20, "{texts}");
        assert!(told.is_sorted_by(|a, b| a < b), "{texts}");
        assert!(lines[0].starts_with("file 1 of 6, 01-piece-am-"), "{texts}");
        let last = lines[lines.len() - 2];
        // The sheet behind it takes no time that counts.
        assert!(last.starts_with("file 5 of 6, 03-drill-roots-"), "{texts}");
        assert!(lines[lines.len() - 1].starts_with("6 files: 100 %, took "));
        // The items are told of as before, a rest not being written.
        assert!(texts.starts_with("1 of 3: '| Am |' --parts click --gain 0\n"));
        assert!(texts.contains("\n3 of 3: roots --asks 4 --gain 0\n"));
        assert_eq!(std::fs::read_dir(&to).unwrap().count(), 8);
    }
}
