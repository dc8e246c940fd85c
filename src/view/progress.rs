//! How far long work on files is: a bar for a terminal, lines elsewhere.

use std::time::Duration;

use unicode_width::{UnicodeWidthChar, UnicodeWidthStr};

use super::shown::shown;

/// Work that is done sooner shows no bar.
const PATIENCE: Duration = Duration::from_millis(500);

/// The least time from one bar to the next.
const REDRAW: Duration = Duration::from_millis(100);

/// The least time before the first line, from one line to the next, and from the last but one to the end as far as that
/// is known.
const LINE: Duration = Duration::from_secs(2);

/// Columns that a name is shortened to where the bar has no room beside it.
const SHORT_NAME: usize = 8;

/// The smallest and the largest number of cells of a bar.
const CELLS: (usize, usize) = (4, 40);

/// What stands for the middle of a name that is too long.
const LEFT_OUT: &str = "...";

/// Where progress is shown.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum ProgressStyle {
    /// Nowhere: neither lines nor a bar.
    Hidden,
    /// In lines that stay.
    Lines,
    /// In a bar that is drawn again and again.
    Bar,
}

/// What is to be shown now.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(crate) enum ProgressDue {
    Nothing,
    /// A line, its end included.
    Line(String),
    /// The bar, see [`Progress::bar`].
    Bar,
}

/// How far the work on a row of files is. It asks no clock: each `now` is the time since the work began.
///
/// Work is counted in any unit, the same for all files. What is shown is the share of all of it, and the time left is
/// worked out from the time that this share took.
#[derive(Clone, Debug)]
pub(crate) struct Progress {
    style: ProgressStyle,
    /// The work on each file as it was planned.
    planned: Vec<f64>,
    /// How many files were begun, the current one included.
    begun: usize,
    /// The name of the file that was begun last, as it is shown.
    name: String,
    /// The work on the files that are done.
    done: f64,
    /// The work on the current file, and the share of it that is done; 0 between two files.
    current: f64,
    part: f64,
    /// Time taken by the work on the files that are done.
    worked: Duration,
    /// When the current file was begun.
    since: Option<Duration>,
    /// The largest share so far.
    share: f64,
    finished: bool,
    /// When something was shown last, and the percentage.
    last: Option<(Duration, u8)>,
}

impl Progress {
    /// Work on so many files, each with the work that is expected.
    pub(crate) fn new(style: ProgressStyle, planned: Vec<f64>) -> Self {
        Progress {
            style,
            planned,
            begun: 0,
            name: String::new(),
            done: 0.0,
            current: 0.0,
            part: 0.0,
            worked: Duration::ZERO,
            since: None,
            share: 0.0,
            finished: false,
            last: None,
        }
    }

    /// Begins the next file; `work` is what it takes, which may differ from the plan.
    pub(crate) fn begin(&mut self, name: &str, work: f64, now: Duration) {
        self.end(now);
        self.begun += 1;
        self.name = shown(name).into_owned();
        self.current = work;
        self.since = Some(now);
    }

    /// Tells that the share `part` of the current file, 0 to 1, is done; says what is to be shown.
    pub(crate) fn advance(&mut self, part: f64, now: Duration) -> ProgressDue {
        let complete = part >= 1.0 && self.part < 1.0;
        self.part = self.part.max(part.clamp(0.0, 1.0));
        self.share = self.share.max(self.true_share()).min(1.0);
        match self.style {
            ProgressStyle::Hidden => ProgressDue::Nothing,
            ProgressStyle::Bar => self.bar_due(complete, now),
            ProgressStyle::Lines => self.line_due(now),
        }
    }

    fn bar_due(&mut self, complete: bool, now: Duration) -> ProgressDue {
        let due = match self.last {
            None => now >= PATIENCE,
            // What comes then, until the file is in its place, tells of no progress.
            Some(_) if complete => true,
            Some((last, _)) => now.saturating_sub(last) >= REDRAW,
        };
        if !due {
            return ProgressDue::Nothing;
        }
        self.last = Some((now, self.percent()));
        ProgressDue::Bar
    }

    fn line_due(&mut self, now: Duration) -> ProgressDue {
        let (last, told) = match self.last {
            Some((last, told)) => (last, Some(told)),
            None => (Duration::ZERO, None),
        };
        let percent = self.percent();
        let due = now.saturating_sub(last) >= LINE && told.is_none_or(|told| told < percent);
        let Some(left) = self.left(now).filter(|left| due && *left >= LINE) else {
            return ProgressDue::Nothing;
        };
        self.last = Some((now, percent));
        let of_all = if self.planned.len() > 1 {
            " of all"
        } else {
            ""
        };
        ProgressDue::Line(format!(
            "{}: {percent} %{of_all}, about {} left\n",
            self.named(),
            hours(left)
        ))
    }

    /// Ends the current file, where one was begun.
    pub(crate) fn end(&mut self, now: Duration) {
        if let Some(since) = self.since.take() {
            self.worked += now.saturating_sub(since);
        }
        self.done += self.current;
        (self.current, self.part) = (0.0, 0.0);
        self.share = self.share.max(self.true_share()).min(1.0);
    }

    /// Ends the work; the last line, where lines were shown.
    pub(crate) fn finish(&mut self, now: Duration) -> Option<String> {
        self.end(now);
        (self.share, self.finished) = (1.0, true);
        if self.style != ProgressStyle::Lines || self.last.is_none() {
            return None;
        }
        let what = match self.planned.len() {
            0 | 1 => self.name.clone(),
            count => format!("{count} files"),
        };
        let took = Duration::from_secs_f64(now.as_secs_f64().round());
        Some(format!("{what}: 100 %, took {}\n", hours(took)))
    }

    /// The file, and which of how many it is.
    fn named(&self) -> String {
        match self.planned.len() {
            0 | 1 => self.name.clone(),
            count => format!("file {} of {count}, {}", self.begun, self.name),
        }
    }

    /// The bar in at most `columns` columns less one: what fills a line makes some terminals begin the next. Below 40
    /// columns it is left out where it does not fit, and the name with it.
    pub(crate) fn bar(&self, now: Duration, columns: usize) -> String {
        let left = match self.left(now) {
            Some(left) => format!(", {} left", hours(left)),
            None if self.share > 0.0 => ", finishing".to_owned(),
            None => String::new(),
        };
        let figures = format!("{:>3} %{left}", self.percent());
        let number = match self.planned.len() {
            0 | 1 => String::new(),
            count => format!("{} of {count} ", self.begun),
        };
        // Two spaces and two brackets stand around name and bar.
        let around = number.width() + figures.width() + 4;
        let room = columns.saturating_sub(1).saturating_sub(around);
        let (least, most) = CELLS;
        if room < least + 1 {
            return figures;
        }
        let wanted = self.name.width();
        let cells = room.saturating_sub(wanted.max(SHORT_NAME));
        let cells = cells.clamp(least, most);
        let name = shortened(&self.name, room - cells);
        #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)] // at most 40
        let full = ((self.share * cells as f64) as usize).min(cells);
        let rest = cells - full;
        format!("{number}{name} [{:=<full$}{:rest$}] {figures}", "", "")
    }

    /// The share of all work that is done, by the plan as it is now.
    fn true_share(&self) -> f64 {
        let ahead: f64 = self.planned.iter().skip(self.begun).sum();
        let all = self.done + self.current + ahead;
        if all > 0.0 {
            (self.done + self.current * self.part) / all
        } else {
            0.0
        }
    }

    /// Whole hundredths that are done; 100 only at the end.
    fn percent(&self) -> u8 {
        #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)] // 0 to 100
        let percent = (self.share * 100.0) as u8;
        percent.min(if self.finished { 100 } else { 99 })
    }

    /// How much longer it takes, as long as all of it goes as what is done; `None` before anything is done, and when only
    /// the end of the last file is left, which cannot be told.
    fn left(&self, now: Duration) -> Option<Duration> {
        let share = self.true_share();
        if share <= 0.0 || share >= 1.0 {
            return None;
        }
        let since = self.since.unwrap_or(now);
        let worked = self.worked + now.saturating_sub(since);
        Duration::try_from_secs_f64(worked.as_secs_f64() * (1.0 - share) / share).ok()
    }
}

/// `0:12`, `1:02:03`: a time in whole seconds, rounded up.
fn hours(time: Duration) -> String {
    let seconds = time.as_secs() + u64::from(time.subsec_nanos() > 0);
    let (hours, minutes, second) = (seconds / 3600, seconds / 60 % 60, seconds % 60);
    if hours > 0 {
        format!("{hours}:{minutes:02}:{second:02}")
    } else {
        format!("{minutes}:{second:02}")
    }
}

/// A name in at most so many columns: where it is longer, without its middle.
fn shortened(name: &str, columns: usize) -> String {
    if name.width() <= columns {
        return name.to_owned();
    }
    if columns <= LEFT_OUT.len() {
        return taken(name.chars(), columns);
    }
    let room = columns - LEFT_OUT.len();
    let head = taken(name.chars(), room.div_ceil(2));
    let tail = taken(name.chars().rev(), room / 2);
    let tail: String = tail.chars().rev().collect();
    format!("{head}{LEFT_OUT}{tail}")
}

/// The first characters that fit.
fn taken(chars: impl Iterator<Item = char>, columns: usize) -> String {
    let mut left = columns;
    let fits = |c: &char| {
        let width = c.width().unwrap_or(0);
        let fits = width <= left;
        left = left.saturating_sub(width);
        fits
    };
    chars.take_while(fits).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    const fn ms(ms: u64) -> Duration {
        Duration::from_millis(ms)
    }

    /// One file, whose share `part` was done at `now`.
    fn one(name: &str, part: f64, now: Duration) -> Progress {
        let mut progress = Progress::new(ProgressStyle::Bar, vec![10.0]);
        progress.begin(name, 10.0, Duration::ZERO);
        progress.advance(part, now);
        progress
    }

    /// The third of eight equal files, half done.
    fn third(name: &str) -> Progress {
        let mut progress = Progress::new(ProgressStyle::Bar, vec![1.0; 8]);
        for _ in 0..2 {
            progress.begin("x", 1.0, Duration::ZERO);
            progress.advance(1.0, Duration::ZERO);
        }
        progress.begin(name, 1.0, Duration::ZERO);
        progress.advance(0.5, ms(10_000));
        progress
    }

    #[test]
    fn a_bar_fits_its_terminal() {
        let bars = |columns: usize| -> String {
            let now = ms(8_000);
            [
                one("low-tide.wav", 0.4, now).bar(now, columns),
                one("low-tide.wav", 0.0, now).bar(now, columns),
                one("low-tide.wav", 0.001, now).bar(now, columns),
                one("low-tide.wav", 0.9999, now).bar(now, columns),
                one("low-tide.wav", 1.0, now).bar(now, columns),
                one("a-piece-with-a-long-name-for-its-file.flac", 0.4, now).bar(now, columns),
                one(
                    "\u{6F6E}\u{5F15}\u{6F6E}\u{5F15}\u{6F6E}\u{5F15}.wav",
                    0.4,
                    now,
                )
                .bar(now, columns),
                third("low-tide.wav").bar(ms(10_000), columns),
            ]
            .map(|bar| bar + "|\n")
            .concat()
        };
        insta::assert_snapshot!(bars(40), @"
        low-tide.wav [==     ]  40 %, 0:12 left|
        low-tide.wav [                  ]   0 %|
        low-tide.wav [    ]   0 %, 2:13:12 left|
        low-tide.wav [====== ]  99 %, 0:01 left|
        low-tide.wav [=======]  99 %, finishing|
        a-piec...e.flac [=   ]  40 %, 0:12 left|
        潮引潮...引.wav [=   ]  40 %, 0:12 left|
        3 of 8 low...av [=   ]  31 %, 0:22 left|
        ");
        insta::assert_snapshot!(bars(80), @"
        low-tide.wav [================                        ]  40 %, 0:12 left|
        low-tide.wav [                                        ]   0 %|
        low-tide.wav [                                        ]   0 %, 2:13:12 left|
        low-tide.wav [======================================= ]  99 %, 0:01 left|
        low-tide.wav [========================================]  99 %, finishing|
        a-piece-with-a-long-name-for-its-file.flac [======           ]  40 %, 0:12 left|
        潮引潮引潮引.wav [================                        ]  40 %, 0:12 left|
        3 of 8 low-tide.wav [============                            ]  31 %, 0:22 left|
        ");
        insta::assert_snapshot!(bars(30), @"
        l...v [=   ]  40 %, 0:12 left|
        low-tide.wav [        ]   0 %|
        lo [    ]   0 %, 2:13:12 left|
        l...v [=== ]  99 %, 0:01 left|
        l...v [====]  99 %, finishing|
        a...c [=   ]  40 %, 0:12 left|
        ...v [=   ]  40 %, 0:12 left|
         31 %, 0:22 left|
        ");
        insta::assert_snapshot!(bars(12), @"
        40 %, 0:12 left|
         0 %|
         0 %, 2:13:12 left|
        99 %, 0:01 left|
        99 %, finishing|
        40 %, 0:12 left|
        40 %, 0:12 left|
        31 %, 0:22 left|
        ");
    }

    #[test]
    fn a_name_steers_nothing() {
        let now = ms(1_000);
        let name = "\u{1B}[2J\u{202E}\n.wav";
        assert_eq!(
            one(name, 0.5, now).bar(now, 60),
            "\\u{1b}[2J\\u{202e}\\u{a}.wav [======       ]  50 %, 0:01 left"
        );
        let mut lines = Progress::new(ProgressStyle::Lines, vec![1.0]);
        lines.begin(name, 1.0, Duration::ZERO);
        let line = lines.advance(0.5, ms(4_000));
        let text = "\\u{1b}[2J\\u{202e}\\u{a}.wav: 50 %, about 0:04 left\n";
        assert_eq!(line, ProgressDue::Line(text.to_owned()));
    }

    /// A job that goes evenly, looked at from time to time; what it shows with the times.
    fn shown_of(
        style: ProgressStyle,
        works: &[f64],
        step: Duration,
        all: Duration,
    ) -> Vec<(Duration, String)> {
        let mut progress = Progress::new(style, works.to_vec());
        let whole: f64 = works.iter().sum();
        let (mut shown, mut now, mut before) = (Vec::new(), Duration::ZERO, 0.0);
        for (number, work) in works.iter().enumerate() {
            progress.begin(&format!("{number}.wav"), *work, now);
            loop {
                now += step;
                let done = now.as_secs_f64() / all.as_secs_f64() * whole;
                match progress.advance((done - before) / work, now) {
                    ProgressDue::Nothing => {}
                    ProgressDue::Line(line) => shown.push((now, line)),
                    ProgressDue::Bar => shown.push((now, progress.bar(now, 60))),
                }
                if done - before >= *work {
                    break;
                }
            }
            before += work;
            progress.end(now);
        }
        shown.extend(progress.finish(now).map(|line| (now, line)));
        shown
    }

    fn percent(text: &str) -> u32 {
        let before = text.split(" %").next().unwrap();
        before.rsplit(' ').next().unwrap().parse().unwrap()
    }

    #[test]
    fn short_work_shows_nothing() {
        let step = ms(10);
        for (style, all) in [
            (ProgressStyle::Bar, ms(490)),
            (ProgressStyle::Lines, ms(3_900)),
            (ProgressStyle::Hidden, ms(3_600_000)),
        ] {
            assert_eq!(shown_of(style, &[1.0], step, all), []);
            assert_eq!(shown_of(style, &[1.0, 0.0, 2.0], step, all), []);
        }
    }

    #[test]
    fn a_bar_is_drawn_ten_times_a_second_at_most() {
        let shown = shown_of(ProgressStyle::Bar, &[1.0], ms(7), ms(3_000));
        assert_eq!(shown[0].0, ms(504));
        // The last one, for the end of the file, comes at once.
        let (_, usual) = shown.split_last().unwrap();
        for pair in usual.windows(2) {
            let gap = pair[1].0 - pair[0].0;
            assert!((ms(100)..ms(107)).contains(&gap), "{gap:?}");
        }
        assert!(shown.last().unwrap().1.ends_with("]  99 %, finishing"));
    }

    #[test]
    fn lines_are_whole_and_few_and_tell_of_all_files() {
        let shown = shown_of(ProgressStyle::Lines, &[3.0, 1.0], ms(7), ms(12_000));
        let text: String = shown.iter().map(|(_, line)| line.as_str()).collect();
        insta::assert_snapshot!(text, @"
        file 1 of 2, 0.wav: 16 % of all, about 0:10 left
        file 1 of 2, 0.wav: 33 % of all, about 0:08 left
        file 1 of 2, 0.wav: 50 % of all, about 0:06 left
        file 1 of 2, 0.wav: 66 % of all, about 0:04 left
        2 files: 100 %, took 0:12
        ");
        let text: String = shown_of(ProgressStyle::Lines, &[1.0], ms(7), ms(5_000))
            .iter()
            .map(|(_, line)| line.as_str())
            .collect();
        insta::assert_snapshot!(text, @"
        0.wav: 40 %, about 0:03 left
        0.wav: 100 %, took 0:05
        ");
        let mut last = Duration::ZERO;
        for (now, line) in &shown {
            assert!(*now - last >= LINE, "{line}");
            assert_eq!(line.find('\n'), Some(line.len() - 1));
            last = *now;
        }
        // However long it takes, no percentage is told twice.
        let long = shown_of(ProgressStyle::Lines, &[1.0], ms(1_000), ms(36_000_000));
        assert_eq!(long.len(), 101);
        assert!(
            long.windows(2)
                .all(|pair| percent(&pair[0].1) < percent(&pair[1].1))
        );
    }

    #[test]
    fn the_time_left_is_that_of_all_files() {
        let mut progress = Progress::new(ProgressStyle::Bar, vec![6.0, 2.0]);
        progress.begin("a.wav", 6.0, ms(1_000));
        progress.advance(0.5, ms(4_000));
        // What came before the file was begun is no work on it.
        assert_eq!(progress.left(ms(4_000)), Some(ms(5_000)));
        progress.end(ms(7_000));
        // Nor is what comes between two files.
        progress.begin("b.wav", 2.0, ms(9_000));
        progress.advance(0.5, ms(10_000));
        assert_eq!(progress.left(ms(10_000)), Some(ms(1_000)));
        progress.end(ms(11_000));
        assert_eq!(progress.finish(ms(11_000)), None);
        assert_eq!(progress.percent(), 100);
    }

    #[test]
    fn a_plan_that_was_wrong_takes_nothing_back() {
        let mut progress = Progress::new(ProgressStyle::Bar, vec![1.0, 1.0]);
        progress.begin("a.wav", 1.0, ms(0));
        progress.advance(1.0, ms(1_000));
        progress.begin("b.wav", 9.0, ms(1_000));
        progress.advance(0.0, ms(1_000));
        assert_eq!(progress.percent(), 50);
        // The time left is by what is known now.
        assert_eq!(progress.left(ms(1_000)), Some(ms(9_000)));
        progress.advance(0.5, ms(5_500));
        assert_eq!(progress.percent(), 55);
    }

    proptest::proptest! {
        #[test]
        fn it_fits_never_falls_and_ends_whole(
            name in "\\PC{0,60}",
            columns in 0usize..130,
            steps in proptest::collection::vec((0usize..3, 0.0f64..1.2, 0u64..3_000), 0..40),
            planned in proptest::collection::vec(0.0f64..9.0, 0..4),
        ) {
            let mut progress = Progress::new(ProgressStyle::Bar, planned);
            let (mut now, mut last) = (Duration::ZERO, 0);
            for (kind, part, later) in steps {
                now += ms(later);
                match kind {
                    0 => progress.begin(&name, part, now),
                    1 => { progress.advance(part, now); }
                    _ => progress.end(now),
                }
                let bar = progress.bar(now, columns);
                // The figures are shown on the narrowest terminal too.
                proptest::prop_assert!(bar.width() < columns.max(24), "{bar}");
                let percent = progress.percent();
                proptest::prop_assert!((last..=100).contains(&percent));
                last = percent;
            }
            progress.finish(now);
            proptest::prop_assert_eq!(progress.percent(), 100);
        }
    }
}
