//! `log`: what was practiced, how it went, and what is due.

mod screen;

use std::path::PathBuf;

use clap::Args;
use serde_json::json;

use super::Context;
use super::failure::Failure;
use super::options::number;
use super::picture::PictureArguments;
use super::record::{LogArguments, Record};
use crate::log::{Player, TakeId, TakeRow, now};
use crate::view::{date, hundredths, shown};
use screen::Screen;

/// Takes that are listed at once.
const LISTED: usize = 12;

/// Show what was practiced, how it went, and what is due
#[derive(Args)]
#[command(next_help_heading = "What it does")]
#[command(after_help = "\
Examples:
  fivefold log
  fivefold log --who Ada --since 30d
  fivefold log --csv > takes.csv
  fivefold log --withdraw 12
  fivefold log --copy backup.sqlite
  fivefold log -o pace.svg

The log stays on this machine. A trend is shown from eight
takes on, with its standard error.")]
pub(super) struct Arguments {
    /// Days to look back: 7d, 4w, or a date
    #[arg(long, value_name = "WHEN")]
    since: Option<String>,
    /// One line a take, as comma-separated values
    #[arg(long, conflicts_with = "json")]
    csv: bool,
    /// List the players
    #[arg(long)]
    players: bool,
    /// Withdraw a take: it stays in the file, marked, and counts no more
    #[arg(long, value_name = "TAKE")]
    withdraw: Option<String>,
    /// Count a withdrawn take again
    #[arg(long, value_name = "TAKE")]
    restore: Option<String>,
    /// Remove a player and all their takes for good
    #[arg(long, value_name = "NAME")]
    forget: Option<String>,
    /// With --forget: do not ask; with -o: replace files that exist
    #[arg(long)]
    force: bool,
    /// Draw the pace over time: .svg .png .pdf; may be repeated
    #[arg(short = 'o', long = "output", value_name = "FILE")]
    output: Vec<PathBuf>,
    /// Copy the log to a file that does not exist yet
    #[arg(long, value_name = "FILE")]
    copy: Option<PathBuf>,
    #[command(flatten)]
    log: LogArguments,
}

pub(super) fn run(arguments: &Arguments, context: &mut Context<'_, '_>) -> Result<(), Failure> {
    let player = arguments.log.player()?;
    let Some(mut log) = arguments.log.open()? else {
        return Err(Failure::new(
            "log-none",
            "there is no log to show with `--no-log`",
            "leave `--no-log` out",
        ));
    };
    let out = |text: &str, context: &mut Context<'_, '_>| {
        if context.json {
            let line = json!({ "done": text.trim_end() });
            writeln!(context.streams.out, "{line}")
        } else {
            context.show(text)
        }
    };
    if let Some(text) = &arguments.withdraw {
        let id = number("withdraw", text, 1, i64::MAX)?;
        log.withdraw(TakeId(id))?;
        out(
            &format!("take {id} counts no more; `fivefold log --restore {id}` brings it back\n"),
            context,
        )?;
    } else if let Some(text) = &arguments.restore {
        let id = number("restore", text, 1, i64::MAX)?;
        log.restore(TakeId(id))?;
        out(&format!("take {id} counts again\n"), context)?;
    } else if let Some(name) = &arguments.forget {
        let name = super::failure::read_value("--forget", name, Player::read)?;
        if !arguments.force {
            confirm(&name, context)?;
        }
        log.forget(&name)?;
        out(&format!("{} is forgotten\n", shown(name.name())), context)?;
    } else if let Some(path) = &arguments.copy {
        log.copy(path)?;
        out(&format!("copied to {}\n", path.display()), context)?;
    } else if arguments.players {
        let players = log.players()?;
        if context.json {
            writeln!(context.streams.out, "{}", json!({ "players": players }))?;
        } else {
            let lines: Vec<String> = players
                .iter()
                .map(|name| format!("{}\n", shown(name)))
                .collect();
            context.show(&lines.concat())?;
        }
    } else {
        let since = arguments.since.as_deref().map(since).transpose()?;
        let record = Record { log, player };
        let picture = PictureArguments::new(&arguments.output, arguments.force);
        if picture.wanted() {
            let screen = Screen::read(&record, since, 0)?;
            return picture.write(&screen.picture()?, context);
        }
        return show(&record, since, arguments.csv, context);
    }
    Ok(())
}

/// Asks whether a player is to be removed.
fn confirm(player: &Player, context: &mut Context<'_, '_>) -> Result<(), Failure> {
    let refused = |help: &str| {
        let message = format!(
            "all takes of {} would be removed for good",
            shown(player.name())
        );
        Failure::new("log-forget", message, help)
    };
    if !context.streams.input_is_terminal || !context.streams.err_is_terminal {
        return Err(refused("add `--force` to do so"));
    }
    let question = format!("Remove all takes of {} for good?", shown(player.name()));
    if context.confirm(&question)? {
        Ok(())
    } else {
        Err(refused("nothing was removed"))
    }
}

/// The day from which on takes are shown: `7d`, `4w`, or a date.
fn since(text: &str) -> Result<i64, Failure> {
    let text = text.trim();
    let today = now().day();
    let back = |days: &str, each: i64| {
        let count = days.trim().parse::<i64>().ok()?;
        (0..=100_000).contains(&count).then(|| today - count * each)
    };
    let found = text
        .strip_suffix('d')
        .and_then(|days| back(days, 1))
        .or_else(|| text.strip_suffix('w').and_then(|weeks| back(weeks, 7)))
        .or_else(|| date::read(text));
    found.ok_or_else(|| {
        let meant = match text.to_lowercase().as_str() {
            "today" => Some("0d".to_owned()),
            "yesterday" => Some("1d".to_owned()),
            "week" | "last week" | "a week" => Some("7d".to_owned()),
            "month" | "last month" | "a month" => Some("30d".to_owned()),
            digits => back(digits, 1).map(|_| format!("{digits}d")),
        };
        let help = match meant {
            Some(meant) => format!("write `--since {meant}`"),
            None => "write `--since 7d`, `--since 4w` or `--since 2026-11-01`".to_owned(),
        };
        let message = format!("`--since` is so many days or weeks back or a date, found `{text}`");
        Failure::new("log-since", message, help)
    })
}

fn show(
    record: &Record,
    since: Option<i64>,
    csv: bool,
    context: &mut Context<'_, '_>,
) -> Result<(), Failure> {
    let most = if csv || context.json {
        usize::MAX
    } else {
        LISTED
    };
    if csv {
        let takes = record.log.takes(&record.player, since, most)?;
        writeln!(
            context.streams.out,
            "take,began,offset_seconds,day,seconds,exercise,key,set,tempo,word,asked,right,withdrawn"
        )?;
        for take in &takes {
            writeln!(context.streams.out, "{}", csv_line(take))?;
        }
        return Ok(());
    }
    let screen = Screen::read(record, since, most)?;
    if context.json {
        writeln!(context.streams.out, "{}", screen.json())?;
    } else if screen.takes.is_empty() {
        let name = shown(record.player.name());
        context.show(&format!(
            "nothing is in the log of {name} yet; begin with `fivefold drill roots`\n"
        ))?;
    } else {
        context.show(&screen.text())?;
    }
    Ok(())
}

/// A take as a line of comma-separated values (RFC 4180).
fn csv_line(take: &TakeRow) -> String {
    let quoted = |text: &str| format!("\"{}\"", text.replace('"', "\"\""));
    let optional = |text: &Option<String>| text.as_deref().map(quoted).unwrap_or_default();
    let tempo = take.tempo_milli.map(|tempo| hundredths(u64::from(tempo)));
    [
        take.id.0.to_string(),
        take.began.unix_seconds.to_string(),
        take.began.offset_seconds.to_string(),
        date::text(take.day),
        take.seconds.to_string(),
        quoted(&take.exercise),
        optional(&take.key),
        optional(&take.set),
        tempo.unwrap_or_default(),
        take.word
            .map(|word| word.name().to_owned())
            .unwrap_or_default(),
        take.asked.to_string(),
        take.right.to_string(),
        take.withdrawn.to_string(),
    ]
    .join(",")
}
