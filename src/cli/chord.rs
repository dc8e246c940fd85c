//! `chord`: what a chord symbol means.

use clap::Args;

use super::Context;
use super::failure::{Failure, read_value, rendered};
use super::neck::draw_chord;
use super::options::NEEDS_KEY;
use super::picture::PictureArguments;
use super::shell::in_shell;
use crate::chart::{Problem, SourceText, numeral_caution};
use crate::diagnostic::Diagnostic;
use crate::theory::{Figure, FigureProblem, Key, figure, in_words};
use crate::view::ChordView;

/// Show what a chord symbol means.
#[derive(Args)]
#[command(after_help = "\
Examples:
  fivefold chord Am7
  fivefold chord 'C7(b9,#11)/E' --json
  fivefold chord V7/V --key 'A major'
  fivefold chord Am7 -o shapes.pdf")]
pub(super) struct Arguments {
    /// A chord symbol, or a numeral or number with --key
    #[arg(value_name = "SYMBOL")]
    symbol: String,
    /// Key in which a numeral or number is read
    #[arg(long, value_name = "KEY")]
    key: Option<String>,
    #[command(flatten)]
    picture: PictureArguments,
}

/// Turns `E flat m7` into `Ebm7`, as charts write it, and takes spaces away around what can be read; any other text stays as
/// it is.
fn in_one_word(text: &str) -> String {
    match in_words(text) {
        Some((root, length)) => format!("{root}{}", text[length..].replace(' ', "")),
        // Spaces around it are no mistake; beside one they keep the places as typed.
        None if figure::read(text.trim()).is_ok() => text.trim().to_owned(),
        None => text.to_owned(),
    }
}

/// Advice that is of use without a key: a numeral or a number is advised with one.
fn in_a_key(help: String) -> String {
    let advised = help.split('`').nth(1);
    let numeral = advised.filter(|text| matches!(figure::read(text), Ok(Figure::Relative(_))));
    match numeral {
        Some(numeral) => {
            let typed = in_shell(numeral);
            format!("write it with a key, such as `fivefold chord {typed} --key C`")
        }
        None => help,
    }
}

pub(super) fn run(arguments: &Arguments, context: &mut Context<'_, '_>) -> Result<(), Failure> {
    let key = arguments.key.as_ref();
    let key = key
        .map(|text| read_value("--key", text, Key::read))
        .transpose()?;
    let text = &in_one_word(&arguments.symbol);
    let figure = figure::read(text);
    if let (Ok(Figure::Relative(numeral)), Some(key)) = (&figure, &key)
        && let Some(caution) = numeral_caution(numeral, key, 0..text.len())
    {
        let source = SourceText::new("<SYMBOL>", text.clone());
        let warning = rendered(&[caution], &source, context);
        context.say_rendered(&warning);
    }
    let harmony = figure
        .and_then(|figure| figure.resolve(key.as_ref()))
        .map_err(|e| {
            let help = match e.problem() {
                FigureProblem::NeedsKey { .. } => NEEDS_KEY.to_owned(),
                _ if key.is_none() => in_a_key(e.help()),
                _ => e.help(),
            };
            let problem = Problem::of(&e, 0..text.len()).advising(help);
            Failure::option("SYMBOL", text, problem)
        })?;
    if arguments.picture.wanted() {
        return match harmony.chord() {
            Some(chord) => draw_chord(chord, &arguments.picture, context),
            None => {
                let help = "leave `-o` out, or name a chord";
                Err(Failure::new(
                    "picture-none",
                    "no chord has no shape to draw",
                    help,
                ))
            }
        };
    }
    let view = ChordView::new(&harmony);
    if context.json {
        serde_json::to_writer(&mut *context.streams.out, &view).map_err(std::io::Error::from)?;
        writeln!(context.streams.out)?;
    } else {
        context.show(&view.text())?;
        if harmony.chord().is_some() {
            let shapes = format!(
                "`fivefold neck {}` shows its shapes\n",
                in_shell(&view.symbol)
            );
            context.show(&shapes)?;
        }
    }
    Ok(())
}
