//! How a player's strokes lie, in words.

use std::fmt::Write as _;

use crate::diagnostic::counted;
use crate::live::{Bias, PlaceTiming, PlayerTiming, Trend, noticed_ns};

/// How a player's strokes lie, as sentences to read aloud and a table of the places of the bar; every line ends with a
/// line feed.
pub fn player_timing_text(timing: &PlayerTiming) -> String {
    let mut text = heard(timing) + "\n";
    if timing.interruptions > 0 {
        let times = match timing.interruptions {
            1 => "once".to_owned(),
            n => format!("{n} times"),
        };
        #[allow(clippy::cast_precision_loss)] // shown to a tenth of a second
        let seconds = timing.not_judged_ns as f64 / 1e9;
        let _ = writeln!(
            text,
            "what you played to was interrupted {times}: {seconds:.1} s are not judged, with {} in them",
            counted(timing.withheld, "stroke")
        );
    }
    if let Some(mean) = timing.mean_ns {
        text += &bias(mean, timing.bias);
        text.push('\n');
    }
    if let Some(spread) = timing.spread_ns {
        text += &steadiness(timing, spread);
        text.push('\n');
    }
    if let Some(trend) = timing.trend {
        text += &drift(trend);
        text.push('\n');
    }
    if timing.at_places.len() > 1 {
        places(&mut text, &timing.at_places);
    }
    if timing.latency_ns != 0 {
        let delay = short(timing.latency_ns);
        let _ = writeln!(text, "the stated delay of the input, {delay}, is taken off");
    }
    if timing.coarse {
        text += "heard through the computer's keyboard, which is late by tens of milliseconds and not always by as many:\n\
                 the figures are rough\n";
    }
    text
}

fn drift(trend: Trend) -> String {
    if !trend.certain {
        return "no trend that is certain".to_owned();
    }
    let whither = if trend.ns_per_minute < 0 {
        "earlier and earlier"
    } else {
        "later and later"
    };
    let doubt = signed(trend.error_ns_per_minute).saturating_mul(2);
    format!(
        "they come {whither}, by {} a minute, give or take {}",
        short(trend.ns_per_minute),
        short(doubt)
    )
}

fn signed(ns: u64) -> i64 {
    i64::try_from(ns).unwrap_or(i64::MAX)
}

/// Which strokes were heard, and which places were missed.
fn heard(timing: &PlayerTiming) -> String {
    let PlayerTiming {
        strokes, places, ..
    } = timing;
    let mut said = match (*strokes, *places) {
        (0, _) => "no stroke that counts".to_owned(),
        (strokes, 0) => counted(strokes, "stroke"),
        (strokes, places) => {
            format!(
                "{} at {}",
                counted(strokes, "stroke"),
                counted(places, "place")
            )
        }
    };
    for (count, what) in [
        (timing.missed, "missed"),
        (timing.outliers, "outlier, left out"),
        (timing.doubled, "doubled and taken for one"),
    ] {
        if count > 0 {
            let _ = write!(said, "; {count} {what}");
        }
    }
    said
}

fn bias(mean_ns: i64, bias: Option<Bias>) -> String {
    let mut said = format!("on average {}", side(mean_ns));
    match bias {
        None => said += ", but of too few strokes to judge",
        Some(Bias::On) => said += ", which nobody would notice or which may be chance",
        // From memory of reviews of tapping (Repp 2005 covers the lead itself): the amount differs between studies.
        Some(Bias::Early) if (-60_000_000..=-20_000_000).contains(&mean_ns) => {
            said +=
                "; people who tap along with a click are often 20 to 60 ms early, musicians less";
        }
        Some(Bias::Early | Bias::Late) => {}
    }
    said
}

fn steadiness(timing: &PlayerTiming, spread_ns: u64) -> String {
    // From memory, no study looked up: the usual variation of players.
    let mut said = format!(
        "steady to {} (standard deviation); players who tap to a click often vary by 10 to 30 ms",
        short(signed(spread_ns))
    );
    if let (Some(low), Some(high)) = (timing.low_ns, timing.high_ns) {
        let _ = write!(said, "\neight of ten from {} to {}", side(low), side(high));
    }
    let _ = write!(said, "; {} of {} early", timing.early, timing.strokes);
    if let Some(gap) = timing.gap_ns {
        let least = short(signed(noticed_ns(gap)));
        let _ = write!(
            said,
            "\nlisteners notice one note of an even row that is {least} off at this speed"
        );
    }
    said
}

fn places(text: &mut String, places: &[PlaceTiming]) {
    let _ = writeln!(
        text,
        "{:22} {:>7} {:>14} {:>8}",
        "place", "strokes", "average", "spread"
    );
    for place in places {
        let name = place.name();
        let spread = place.spread_ns.map(signed);
        let judged = match place.bias {
            None => "too few to judge",
            Some(Bias::Early) => "early",
            Some(Bias::On) => "on",
            Some(Bias::Late) => "late",
        };
        let _ = writeln!(
            text,
            "{name:22} {:>7} {:>14} {:>8}  {judged}",
            place.count,
            side(place.mean_ns),
            spread.map_or("-".to_owned(), short)
        );
    }
}

/// A time with its side.
fn side(ns: i64) -> String {
    match ns {
        ..0 => format!("{} early", short(ns)),
        0 => "on time".to_owned(),
        1.. => format!("{} late", short(ns)),
    }
}

/// A time in milliseconds without its sign: a tenth below 10 ms, else whole ones.
fn short(ns: i64) -> String {
    #[allow(clippy::cast_precision_loss)] // for printing
    let ms = ns.unsigned_abs() as f64 / 1e6;
    if ms < 9.95 {
        format!("{ms:.1} ms")
    } else {
        format!("{ms:.0} ms")
    }
}

#[cfg(test)]
mod tests {
    use insta::assert_snapshot;

    use super::*;
    use crate::live::{Stroke, Strokes};
    use crate::time::Nanos;

    const MS: i64 = 1_000_000;

    /// Strokes on the eighths of a 4/4 at 120 a minute, each so many milliseconds from its place.
    fn strokes(into: &mut Strokes, offsets_ms: impl IntoIterator<Item = i64>) {
        for (i, offset_ms) in (0..).zip(offsets_ms) {
            let in_bar = u32::try_from(i % 8).unwrap();
            let at = 1_000 + 250 * i + offset_ms;
            into.passed(1);
            into.note(&Stroke {
                offset_ns: offset_ms * MS,
                bar: i / 8 + 1,
                beat: in_bar / 2 + 1,
                part: in_bar % 2 + 1,
                parts: 2,
                gap_ns: 250_000_000,
                at: Nanos::new(u64::try_from(at * MS).unwrap()),
            });
        }
    }

    #[test]
    fn a_player_who_leads_and_drags_the_off_beats() {
        let mut all = Strokes::new(8 * MS);
        // Off beats 12 ms later than beats, and everything jittered by up to 6 ms either way.
        strokes(
            &mut all,
            (0..96).map(|i| -18 + 12 * (i % 2) + (i * 5) % 13 - 6),
        );
        all.passed(4);
        assert_snapshot!(player_timing_text(&all.timing()), @"
        96 strokes at 100 places; 4 missed
        on average 20 ms early; people who tap along with a click are often 20 to 60 ms early, musicians less
        steady to 7.2 ms (standard deviation); players who tap to a click often vary by 10 to 30 ms
        eight of ten from 30 ms early to 10 ms early; 96 of 96 early
        listeners notice one note of an even row that is 6.2 ms off at this speed
        no trend that is certain
        place                  strokes        average   spread
        beat 1                      12    26 ms early   3.6 ms  early
        beat 1, part 2 of 2         12    14 ms early   4.0 ms  early
        beat 2                      12    26 ms early   4.0 ms  early
        beat 2, part 2 of 2         12    14 ms early   3.8 ms  early
        beat 3                      12    26 ms early   4.1 ms  early
        beat 3, part 2 of 2         12    14 ms early   3.8 ms  early
        beat 4                      12    26 ms early   4.0 ms  early
        beat 4, part 2 of 2         12    14 ms early   4.0 ms  early
        the stated delay of the input, 8.0 ms, is taken off
        ");
    }

    #[test]
    fn what_was_interrupted_is_said() {
        let mut all = Strokes::new(0);
        strokes(&mut all, (0..12).map(|i| i % 3));
        all.interrupted();
        all.interrupted();
        all.withhold();
        all.not_judged(Nanos::new(3_140_000_000), 4);
        let text = player_timing_text(&all.timing());
        let second = text.lines().nth(1);
        let said = "what you played to was interrupted 2 times: 3.1 s are not judged, with 1 stroke in them";
        assert_eq!(second, Some(said));
    }

    #[test]
    fn a_beginner_at_the_space_bar_who_slows_down() {
        let mut all = Strokes::new(0).coarse();
        strokes(
            &mut all,
            (0..64).map(|i| {
                if i == 9 {
                    110
                } else {
                    i - 20 + (i * 7) % 31 - 15
                }
            }),
        );
        assert_snapshot!(player_timing_text(&all.timing()), @"
        63 strokes at 64 places; 1 missed; 1 outlier, left out
        on average 12 ms late
        steady to 21 ms (standard deviation); players who tap to a click often vary by 10 to 30 ms
        eight of ten from 16 ms early to 39 ms late; 19 of 63 early
        listeners notice one note of an even row that is 6.2 ms off at this speed
        they come later and later, by 238 ms a minute, give or take 30 ms
        place                  strokes        average   spread
        beat 1                       8    6.9 ms late    24 ms  on
        beat 1, part 2 of 2          7     12 ms late    22 ms  too few to judge
        beat 2                       8    7.4 ms late    20 ms  on
        beat 2, part 2 of 2          8     12 ms late    21 ms  on
        beat 3                       8     16 ms late    20 ms  late
        beat 3, part 2 of 2          8     16 ms late    24 ms  on
        beat 4                       8     12 ms late    18 ms  on
        beat 4, part 2 of 2          8     12 ms late    21 ms  on
        heard through the computer's keyboard, which is late by tens of milliseconds and not always by as many:
        the figures are rough
        ");
    }

    #[test]
    fn little_and_nothing() {
        let mut all = Strokes::new(0);
        assert_snapshot!(player_timing_text(&all.timing()), @"no stroke that counts");
        all.passed(2);
        assert_snapshot!(player_timing_text(&all.timing()), @"no stroke that counts; 2 missed");
        strokes(&mut all, [0]);
        assert_snapshot!(player_timing_text(&all.timing()), @"
        1 stroke at 3 places; 2 missed
        on average on time, but of too few strokes to judge
        ");
    }

    #[test]
    fn what_is_noticed_is_6_ms_or_a_fortieth() {
        // Friberg and Sundberg: 6 ms up to about 240 ms; 2.5 % of 500 ms are 12.5 ms.
        assert_eq!(noticed_ns(100_000_000), 6_000_000);
        assert_eq!(noticed_ns(240_000_000), 6_000_000);
        assert_eq!(noticed_ns(500_000_000), 12_500_000);
    }

    #[test]
    fn times_are_told_in_milliseconds() {
        let told: Vec<String> = [0, -49_999, 50_000, 9_949_999, -9_950_000, 123_499_999]
            .map(side)
            .to_vec();
        assert_eq!(
            told,
            [
                "on time",
                "0.0 ms early",
                "0.1 ms late",
                "9.9 ms late",
                "10 ms early",
                "123 ms late"
            ]
        );
    }
}
