//! What went wrong, and how it is reported.

use std::io;

use super::Context;
use crate::arrange::{ArrangeError, ExcerptError};
use crate::chart::{Problem, SourceText};
use crate::diagnostic::Diagnostic;
use crate::drill::{ChangesError, RootsError, SetDrillError};
use crate::live::LaneError;
use crate::log::LogError;
use crate::midi::{PortError, SmfError};
use crate::neck::NeckError;
use crate::sound::{DeviceError, FontError};
use crate::view::{ProblemView, problem_json, render_plain, render_problems};

/// Why a command did not do what it was asked.
pub(super) enum Failure {
    /// Texts are wrong, each in these places.
    Texts(Vec<(SourceText, Vec<Problem>)>),
    /// Any other error.
    Plain {
        code: &'static str,
        message: String,
        help: String,
    },
    /// Nothing went wrong, but the answer is no.
    No,
    /// Writing the results failed.
    Output(io::Error),
}

impl Failure {
    pub(super) fn new(
        code: &'static str,
        message: impl Into<String>,
        help: impl Into<String>,
    ) -> Self {
        Failure::Plain {
            code,
            message: message.into(),
            help: help.into(),
        }
    }

    /// A text in which something is wrong.
    pub(super) fn text(source: SourceText, problems: impl Into<Vec<Problem>>) -> Self {
        Failure::Texts(vec![(source, problems.into())])
    }

    /// An option's value in which something is wrong. `value` is all that was given: the problem's span counts its bytes.
    pub(super) fn option(name: &str, value: &str, problem: Problem) -> Self {
        Failure::text(SourceText::new(format!("<{name}>"), value), vec![problem])
    }

    /// An option's value that cannot be read.
    pub(super) fn value(name: &str, value: &str, error: &dyn Diagnostic) -> Self {
        Failure::option(name, value, Problem::of(error, 0..value.len()))
    }

    /// A file that cannot be read.
    pub(super) fn unreadable(name: &str, e: &io::Error) -> Self {
        Failure::new(
            "input",
            format!("cannot read {name}: {}", cause(e)),
            "name another file, or make this one readable",
        )
    }

    /// Reports it and returns the exit status.
    pub(super) fn report(&self, context: &mut Context<'_, '_>) -> u8 {
        let text = match self {
            Failure::No => return 1,
            // A reader that closes the pipe is not a failure.
            Failure::Output(e) if e.kind() == io::ErrorKind::BrokenPipe => return 0,
            Failure::Texts(texts) => texts
                .iter()
                .map(|(source, problems)| rendered(problems, source, context))
                .collect(),
            Failure::Plain {
                code,
                message,
                help,
            } => plain(context, code, message, help),
            Failure::Output(e) => plain(
                context,
                "output",
                &format!("cannot write the results: {e}"),
                "check where they go",
            ),
        };
        context.say_rendered(&text);
        2
    }
}

/// The problems of a text as reported: as JSON, a line each, or as text, with colors if wanted. In the text, terminal
/// controls are escaped.
pub(super) fn rendered(
    problems: &[Problem],
    source: &SourceText,
    context: &Context<'_, '_>,
) -> String {
    if !context.json {
        return render_problems(problems, source, context.color);
    }
    let lines = problems.iter().map(|p| problem_json(p, source) + "\n");
    lines.collect()
}

fn plain(context: &Context<'_, '_>, code: &'static str, message: &str, help: &str) -> String {
    if context.json {
        return plain_json(code, message, help);
    }
    let problem = Problem::error(code, 0..0, message, help);
    render_plain(&problem, context.color)
}

/// An error that is in no text, as a line of JSON.
pub(super) fn plain_json(code: &str, message: &str, help: &str) -> String {
    let view = ProblemView {
        code,
        severity: "error",
        file: None,
        line: None,
        column: None,
        span: None,
        message,
        help,
    };
    serde_json::to_string(&view).unwrap_or_default() + "\n"
}

impl From<io::Error> for Failure {
    fn from(e: io::Error) -> Self {
        Failure::Output(e)
    }
}

/// Errors of the library whose advice also fits a command line.
macro_rules! as_it_is {
    ($($error:ty),*) => {$(
        impl From<$error> for Failure {
            fn from(e: $error) -> Self {
                Failure::new(e.code(), e.to_string(), e.help())
            }
        }
    )*};
}

as_it_is!(
    crate::notation::WrittenError,
    NeckError,
    PortError,
    DeviceError,
    FontError,
    LaneError,
    LogError,
    RootsError,
    ChangesError,
    SetDrillError
);

// The library knows no options: advice that names them is added here.

impl From<ArrangeError> for Failure {
    fn from(e: ArrangeError) -> Self {
        let help = match &e {
            ArrangeError::Excerpt(ExcerptError::Backwards { from, to }) => {
                format!("write `--from {to} --to {from}`")
            }
            ArrangeError::Excerpt(ExcerptError::CountIn { count_in, .. }) => format!(
                "write `--for {}s` or more, or leave the count-in out: `--count-in 0`",
                count_in.get() / 1_000_000_000 + 1
            ),
            _ => e.help(),
        };
        Failure::new(e.code(), e.to_string(), help)
    }
}

impl From<SmfError> for Failure {
    fn from(e: SmfError) -> Self {
        let help = match &e {
            SmfError::Endless => "say how much of it: `--for 10min` or `--bars 64`".to_owned(),
            _ => e.help(),
        };
        Failure::new(e.code(), e.to_string(), help)
    }
}

/// Reads an option's value.
pub(super) fn read_value<T, E: Diagnostic>(
    name: &str,
    value: &str,
    reader: impl FnOnce(&str) -> Result<T, E>,
) -> Result<T, Failure> {
    reader(value).map_err(|e| Failure::value(name, value, &e))
}

/// What the system said, without the number it adds.
pub(super) fn cause(e: &io::Error) -> String {
    let text = e.to_string();
    text.split(" (os error").next().unwrap_or(&text).to_owned()
}
