//! Pictures of what is recorded: the pace over time, how late a run was, how a player's strokes lie.

use super::drawing::Drawing;
use super::plot::Plot;
#[cfg(feature = "live")]
use {
    super::drawing::{Anchor, Face, Ink, Item, Words},
    crate::live::{AUDIBLE_NS, Lateness, PlaceTiming},
    crate::view::lateness_words,
};

/// Width and height of a plot by itself.
const SIZE_PT: (f32, f32) = (520.0, 180.0);

/// The tempo the hands can do over days, with its doubt: for each take the day (counted from any day), the tempo and how far to
/// either side of it the truth may lie, in beats a minute.
pub fn pace_picture(takes: &[(i64, f64, f64)]) -> Drawing {
    #[allow(clippy::cast_precision_loss, clippy::cast_possible_truncation)] // to be drawn
    let place = |(index, (day, can, doubt)): (usize, &(i64, f64, f64))| {
        let day = (*day - takes[0].0) as f32;
        // Takes of one day one behind the other.
        let same = takes[..index]
            .iter()
            .rev()
            .take_while(|t| t.0 == takes[index].0);
        let within = same.count() as f32;
        let of_day = takes.iter().filter(|t| t.0 == takes[index].0).count() as f32;
        (day + within / of_day, *can as f32, *doubt as f32)
    };
    let points: Vec<(f32, f32, f32)> = takes.iter().enumerate().map(place).collect();
    let line: Vec<(f32, f32)> = points.iter().map(|(at, can, _)| (*at, *can)).collect();
    let (first, last) = (line.first().copied(), line.last().copied());
    let about = match (first, last) {
        (Some((_, from)), Some((_, to))) => format!(
            "Pace over {} takes: from {from:.0} to {to:.0} beats a minute.",
            line.len()
        ),
        _ => "No takes.".to_owned(),
    };
    Plot {
        size_pt: SIZE_PT,
        across: (0.0, last.map_or(1.0, |l| l.0.max(1.0))),
        across_label: &|day| format!("day {:.0}", day.floor() + 1.0),
        up_label: &|tempo| format!("{tempo:.0}"),
        points: line.clone(),
        line,
        doubt: points
            .iter()
            .map(|(at, can, doubt)| (*at, can - doubt, can + doubt))
            .collect(),
        about,
        ..Plot::default()
    }
    .draw()
}

/// Rows of bars over a scale of tenfold steps, from a microsecond to a second.
#[cfg(feature = "live")]
pub fn lateness_picture(late: &Lateness) -> Drawing {
    let rows = [
        ("half within", late.median_ns),
        ("99 of 100 within", late.p99_ns),
        ("999 of 1000 within", late.p999_ns),
        ("the latest", late.worst_ns),
    ];
    let (left, right, top, step) = (110.0, 440.0, 14.0, 22.0);
    let mut drawing = Drawing {
        width_pt: SIZE_PT.0,
        height_pt: top + step * 4.0 + 20.0,
        about: format!(
            "Lateness of {} messages: {}.",
            late.count,
            rows.map(|(what, ns)| format!("{what} {}", lateness_words(ns)))
                .join(", ")
        ),
        ..Drawing::default()
    };
    // 1 us to 1 s are six steps of ten.
    #[allow(clippy::cast_precision_loss)] // to be drawn
    let x =
        |ns: u64| left + (right - left) * ((ns.max(1) as f32 / 1e3).log10() / 6.0).clamp(0.0, 1.0);
    let bottom = top + step * 4.0;
    for (ns, label) in [
        (1_000, "1 us"),
        (10_000, "10 us"),
        (100_000, "0.1 ms"),
        (1_000_000, "1 ms"),
        (10_000_000, "10 ms"),
        (100_000_000, "0.1 s"),
        (1_000_000_000, "1 s"),
    ] {
        drawing.line((x(ns), top - 6.0), (x(ns), bottom), 0.5, Ink::Light);
        drawing.words(label_at((x(ns), bottom + 12.0), Anchor::Middle, label));
    }
    let audible = x(AUDIBLE_NS);
    drawing.line((audible, top - 6.0), (audible, bottom), 1.2, Ink::Black);
    drawing.words(label_at(
        (audible + 4.0, top),
        Anchor::Start,
        "may be heard",
    ));
    for (at, (what, ns)) in (0u8..).zip(rows) {
        let y = top + step * (f32::from(at) + 0.5);
        drawing.words(label_at((left - 6.0, y + 3.0), Anchor::End, what));
        drawing.items.push(Item::Block {
            corner: (left, y - 5.0),
            size: ((x(ns) - left).max(0.5), 10.0),
            round_pt: 0.0,
            fill: Ink::Gray,
        });
        drawing.words(label_at(
            (x(ns) + 5.0, y + 3.0),
            Anchor::Start,
            &lateness_words(ns),
        ));
    }
    drawing
}

/// How a player's strokes lie at each place of the bar: the average and the spread around it, early at the left.
#[cfg(feature = "live")]
pub fn strokes_picture(places: &[PlaceTiming]) -> Drawing {
    #[allow(clippy::cast_precision_loss)] // to be drawn
    let ms = |ns: i64| ns as f32 / 1e6;
    let spread = |place: &PlaceTiming| ms(i64::try_from(place.spread_ns.unwrap_or(0)).unwrap_or(0));
    let reach = |place: &PlaceTiming| ms(place.mean_ns).abs() + spread(place);
    let most = places.iter().map(reach).fold(10.0, f32::max);
    let (left, right, top, step) = (110.0, 500.0, 12.0, 20.0);
    let x = |ms: f32| (left + right) / 2.0 + (right - left) / 2.0 * (ms / most).clamp(-1.0, 1.0);
    let mut y = top;
    let said: Vec<String> = places
        .iter()
        .map(|place| format!("{} {:+.1} ms", place.name(), ms(place.mean_ns)))
        .collect();
    let mut drawing = Drawing {
        width_pt: SIZE_PT.0,
        about: format!("Strokes by place, average: {}.", said.join(", ")),
        ..Drawing::default()
    };
    for place in places {
        let middle = y + step / 2.0;
        drawing.words(label_at(
            (left - 8.0, middle + 3.0),
            Anchor::End,
            &place.name(),
        ));
        let (mean, spread) = (ms(place.mean_ns), spread(place));
        let (from, to) = ((x(mean - spread), middle), (x(mean + spread), middle));
        drawing.line(from, to, 5.0, Ink::Light);
        drawing.items.push(Item::Round {
            center: (x(mean), middle),
            radius_pt: 3.0,
            fill: Ink::Black,
            edge: Ink::Black,
            edge_pt: 0.2,
        });
        y += step;
    }
    drawing.line((x(0.0), top), (x(0.0), y), 1.0, Ink::Gray);
    for (at, anchor, text) in [
        (left, Anchor::Start, format!("{most:.0} ms early")),
        (x(0.0), Anchor::Middle, "on".to_owned()),
        (right, Anchor::End, format!("{most:.0} ms late")),
    ] {
        drawing.words(label_at((at, y + 11.0), anchor, &text));
    }
    drawing.height_pt = y + 16.0;
    drawing
}

#[cfg(feature = "live")]
fn label_at(at: (f32, f32), anchor: Anchor, text: &str) -> Words {
    Words::new(text, 9.0, Face::Plain, at, Ink::Gray).anchored(anchor)
}

#[cfg(all(test, feature = "live"))]
mod tests {
    use super::*;
    use crate::picture::{Drawing, Item};

    /// All centers of points that are drawn.
    fn points(drawing: &Drawing) -> Vec<(f32, f32)> {
        let found = drawing.items.iter().filter_map(|item| match item {
            Item::Round { center, .. } => Some(*center),
            _ => None,
        });
        found.collect()
    }

    #[test]
    fn a_faster_pace_is_drawn_higher_and_a_later_take_further_right() {
        let takes = [(100, 60.0, 8.0), (100, 64.0, 6.0), (107, 80.0, 3.0)];
        let drawing = pace_picture(&takes);
        let drawn = points(&drawing);
        assert_eq!(drawn.len(), 3);
        for two in drawn.windows(2) {
            assert!(two[0].0 < two[1].0 && two[0].1 > two[1].1, "{drawn:?}");
        }
        // Two takes of a day lie half a day apart, the third a week after the first.
        let (first, second, third) = (drawn[0].0, drawn[1].0, drawn[2].0);
        assert!(((second - first) * 14.0 - (third - first)).abs() < 0.5);
        assert_eq!(
            drawing.about,
            "Pace over 3 takes: from 60 to 80 beats a minute."
        );
        assert!(pace_picture(&[]).about.starts_with("No takes"));
    }

    #[test]
    fn early_strokes_lie_at_the_left_and_late_ones_at_the_right() {
        let place = |beat, mean_ns| PlaceTiming {
            beat,
            part: 1,
            parts: 2,
            count: 9,
            mean_ns,
            spread_ns: Some(4_000_000),
            bias: None,
        };
        let drawing = strokes_picture(&[place(1, -12_000_000), place(2, 0), place(3, 12_000_000)]);
        let drawn = points(&drawing);
        let (early, on, late) = (drawn[0].0, drawn[1].0, drawn[2].0);
        assert!(early < on && on < late && ((on - early) - (late - on)).abs() < 0.01);
        assert!(drawn.windows(2).all(|two| two[0].1 < two[1].1));
        assert!(
            drawing.about.contains("beat 1 -12.0 ms"),
            "{}",
            drawing.about
        );
    }

    #[test]
    fn ten_times_as_late_is_a_step_further_whatever_the_lateness() {
        let late = Lateness {
            count: 10,
            median_ns: 10_000,
            p99_ns: 100_000,
            p999_ns: 1_000_000,
            worst_ns: 10_000_000,
            ..Lateness::default()
        };
        let drawing = lateness_picture(&late);
        let wide = drawing.items.iter().filter_map(|item| match item {
            Item::Block { size, .. } => Some(size.0),
            _ => None,
        });
        let wide: Vec<f32> = wide.collect();
        // A microsecond is nothing, a second the whole: 55 points for each tenfold step.
        for (wide, steps) in wide.iter().zip([1.0, 2.0, 3.0, 4.0]) {
            assert!((wide - 55.0 * steps).abs() < 0.1, "{wide}");
        }
        assert!(
            drawing.about.ends_with("the latest 10.0 ms."),
            "{}",
            drawing.about
        );
    }
}
