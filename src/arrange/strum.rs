//! The strummed guitar: chord shapes, struck down and up, or one string at a time.

use std::collections::HashMap;

use super::Note;
use crate::chart::{FormBar, Pattern, Stroke, StrumSettings, StrumShape};
use crate::event::{KeyNumber, Velocity};
use crate::generate::Chance;
use crate::neck::{ChordShape, HandModel, Neck, chord_shapes};
use crate::theory::Chord;
use crate::time::{Meter, TICKS_PER_QUARTER, Tempo};

/// The keys of each chord's shape from the lowest string up, by bar and chord; empty where nothing sounds.
#[derive(Clone, Debug, Default, PartialEq)]
pub(super) struct StrumShapes {
    keys: Vec<Vec<Vec<u8>>>,
    /// For each bar, how many strings of its first chord were struck one by one in the bars before: by strokes that say so,
    /// or by every stroke where each strikes one string.
    struck: Vec<usize>,
    /// The same where the run is lifted: the groove may have other strokes there.
    struck_lifted: Vec<usize>,
}

impl StrumShapes {
    /// The lowest key that is strummed at an offset of a bar, in ticks from the bar line.
    pub(super) fn lowest(&self, bar: usize, chart: &FormBar, offset_ticks: u64) -> Option<u8> {
        let mut chords = chart.chords.iter();
        let chord = chords.rposition(|c| c.offset_ticks <= offset_ticks)?;
        self.keys.get(bar)?.get(chord)?.iter().min().copied()
    }
}

/// How many of the easiest shapes are compared for the shortest way of the hand.
const COMPARED: usize = 4;

/// Strings an up-stroke reaches (common practice: fewer than a down-stroke).
const UP_STRINGS: usize = 4;

/// The shape of each chord: of the few easiest, the one with the least effort for the hand. `of_groove` has the strokes of the groove
/// in a meter, lifted or not.
pub(super) fn shapes(
    bars: &[FormBar],
    settings: &StrumSettings,
    neck: &Neck,
    of_groove: &dyn Fn(&Meter, bool) -> Pattern,
) -> StrumShapes {
    let hand = HandModel::default();
    let mut known: HashMap<Chord, Vec<ChordShape>> = HashMap::new();
    let mut last: Option<ChordShape> = None;
    let mut found = Vec::with_capacity(bars.len());
    for bar in bars {
        let mut here = Vec::with_capacity(bar.chords.len());
        for placed in &bar.chords {
            let Some(chord) = placed.harmony.chord() else {
                here.push(Vec::new());
                continue;
            };
            let all = known
                .entry(*chord)
                .or_insert_with(|| chord_shapes(chord, neck, &hand, COMPARED));
            let same = last
                .as_ref()
                .filter(|shape| shape.chord() == chord)
                .cloned();
            let near = |shape: &&ChordShape| {
                let change = last
                    .as_ref()
                    .map_or(0, |last| u32::from(last.change_to(shape)));
                u32::from(shape.effort_hundredths()) + change
            };
            let shape = match settings.shape {
                StrumShape::Near => same.or_else(|| all.iter().min_by_key(near).cloned()),
                StrumShape::Easiest => all.first().cloned(),
            };
            let mut keys: Vec<u8> = shape
                .iter()
                .flat_map(|s| s.positions())
                .map(|position| position.midi)
                .collect();
            // Two strings on one pitch are the same key, which cannot sound twice.
            let mut heard: Vec<u8> = Vec::new();
            keys.retain(|k| {
                !heard.contains(k) && {
                    heard.push(*k);
                    true
                }
            });
            here.push(keys);
            last = shape.or(last);
        }
        found.push(here);
    }
    // The strokes of a bar that strike one string.
    let singles = |bar: &FormBar, lifted: bool| -> Vec<u64> {
        let own = own_pattern(settings, bar).cloned();
        let groove = || settings.strings.then(|| of_groove(&bar.meter, lifted));
        let spans = own.or_else(groove).map(|p| p.spans(bar.meter.bar_ticks()));
        let spans = spans.into_iter().flatten();
        spans
            .filter(|s| settings.strings || s.2 == Stroke::String)
            .map(|s| s.0)
            .collect()
    };
    StrumShapes {
        keys: found,
        struck: struck(bars, &|bar| singles(bar, false)),
        struck_lifted: struck(bars, &|bar| singles(bar, true)),
    }
}

/// The strokes of a bar, where its part says them.
fn own_pattern<'a>(settings: &'a StrumSettings, bar: &FormBar) -> Option<&'a Pattern> {
    let of_section = settings.in_sections.get(&*bar.section);
    of_section.or(settings.pattern.as_ref())
}

/// What the band has for the strum in a bar.
#[derive(Clone, Copy, Debug)]
pub(super) struct Hand<'a> {
    /// The strokes of the groove.
    pub(super) pattern: &'a Pattern,
    /// Where the backbeat falls, in ticks from the bar line.
    pub(super) backbeat: &'a [u64],
    /// Whether each chord is struck once and held.
    pub(super) held: bool,
    /// Whether the strokes of the groove are those of a lifted section.
    pub(super) lifted: bool,
    /// The tempo of the bar, by which the strings of a stroke spread.
    pub(super) tempo: Tempo,
}

/// How loud a stroke is, and how much louder on the backbeat; how loud a muted one is, and strings one by one.
const STROKE: i32 = 80;
const ACCENT: i32 = 10;
const MUTED: i32 = 52;
const SINGLE: i32 = 84;
/// Of the time from string to string, how many hundredths less each step of velocity above [`STROKE`] takes: a harder stroke goes
/// through the strings quicker (common practice).
const QUICKER: u32 = 2;
/// Longest note of a muted stroke, in ticks.
const MUTED_TICKS: u64 = 90;

/// How many strings were struck one by one before each bar, while its first chord was held. `singles` are the offsets in
/// ticks of the strokes of a bar that strike one.
fn struck(bars: &[FormBar], singles: &dyn Fn(&FormBar) -> Vec<u64>) -> Vec<usize> {
    let mut found = Vec::with_capacity(bars.len());
    // Within one section: the same chord in the next one begins anew.
    let mut before: Option<(&FormBar, usize)> = None;
    for bar in bars {
        let first = bar.chords.first().map(|c| &c.harmony);
        let carried = before
            .filter(|(last, _)| last.section == bar.section && !bar.opens_section)
            .filter(|(last, _)| last.chords.last().map(|c| &c.harmony) == first)
            .map_or(0, |(_, count)| count);
        found.push(carried);
        let from = bar.chords.last().map_or(0, |c| c.offset_ticks);
        let singles = singles(bar)
            .iter()
            .filter(|offset| **offset >= from)
            .count();
        let held = if bar.chords.len() == 1 { carried } else { 0 };
        before = Some((bar, held + singles));
    }
    found
}

/// The strokes of a bar of the chart, the `index`th of its run.
pub(super) fn strum(
    settings: &StrumSettings,
    shapes: &StrumShapes,
    chart: &FormBar,
    index: usize,
    hand: Hand<'_>,
    mut chance: Chance,
) -> Vec<Note> {
    let spans = if hand.held {
        let chords = chart.chords.iter();
        chords
            .map(|c| (c.offset_ticks, c.length_ticks, Stroke::Down))
            .collect()
    } else {
        let pattern = own_pattern(settings, chart).unwrap_or(hand.pattern);
        pattern.spans(chart.meter.bar_ticks())
    };
    let singly = settings.strings || spans.iter().any(|s| s.2 == Stroke::String);
    let before = match hand.lifted {
        true => &shapes.struck_lifted,
        false => &shapes.struck,
    };
    let before = before.get(index).copied().unwrap_or(0);
    let keys = shapes.keys.get(index).map_or(&[][..], Vec::as_slice);
    let strokes = strokes(settings, (keys, before), chart, &spans);
    let mut notes = Vec::new();
    for (i, struck) in strokes.iter().enumerate() {
        let touch = touch(struck, singly, &hand);
        let spread = spread_ticks(
            settings.spread_ms * 1000 * quickness(touch) / 100,
            hand.tempo,
            struck.keys.len(),
            struck.end - struck.offset,
        );
        for (place, key) in (0u64..).zip(&struck.keys) {
            // A string rings through strokes that do not touch it, until one stops or strikes it.
            let mut end = struck.end;
            for next in &strokes[i + 1..] {
                if singly
                    || next.offset != end
                    || end >= struck.chord_end
                    || next.keys.contains(key)
                {
                    break;
                }
                end = next.end;
            }
            // The first string is on the beat, each later one a little after it.
            let late = (spread * place / 100).min(end - struck.offset - 1);
            let offset = struck.offset + late;
            if struck.muted {
                end = end.min(offset + MUTED_TICKS);
            }
            let touch = if singly {
                touch
            } else {
                touch + chance.around(4)
            };
            notes.push(note(offset, end - offset, *key, touch));
        }
    }
    notes
}

/// What each stroke of a bar strikes, and when it ends at the latest: with its chord. `keys` are those of each chord, `before` says
/// how many strings of the first were struck one by one in the bars before.
fn strokes(
    settings: &StrumSettings,
    (keys, before): (&[Vec<u8>], usize),
    chart: &FormBar,
    spans: &[(u64, u64, Stroke)],
) -> Vec<Struck> {
    let bar_ticks = chart.meter.bar_ticks();
    // Strings that were struck one by one, and of which chord of the bar.
    let mut struck = (0, before);
    spans
        .iter()
        .filter_map(|(offset, length, stroke)| {
            let chord = chart
                .chords
                .iter()
                .rposition(|c| c.offset_ticks <= *offset)?;
            if struck.0 != chord {
                struck = (chord, 0);
            }
            let keys = keys.get(chord).filter(|keys| !keys.is_empty())?;
            let chord_end = chart
                .chords
                .get(chord + 1)
                .map_or(bar_ticks, |next| next.offset_ticks);
            let keys = match stroke {
                _ if settings.strings => {
                    struck.1 += 1;
                    vec![keys[(struck.1 - 1) % keys.len()]]
                }
                Stroke::String => {
                    struck.1 += 1;
                    vec![*keys.get(struck.1 - 1)?]
                }
                Stroke::Up => keys.iter().rev().take(UP_STRINGS).copied().collect(),
                _ => keys.clone(),
            };
            Some(Struck {
                offset: *offset,
                end: (offset + length).min(chord_end),
                chord_end,
                keys,
                up: *stroke == Stroke::Up,
                muted: *stroke == Stroke::Muted,
            })
        })
        .collect()
}

/// A stroke and what it strikes.
struct Struck {
    offset: u64,
    end: u64,
    chord_end: u64,
    keys: Vec<u8>,
    up: bool,
    muted: bool,
}

/// How hard a stroke is: strings one by one at even strength, strokes louder at the bar line and on the backbeat.
fn touch(struck: &Struck, singly: bool, hand: &Hand<'_>) -> i32 {
    if struck.muted {
        return MUTED;
    }
    if singly {
        return SINGLE;
    }
    let on_backbeat = hand.backbeat.contains(&struck.offset);
    let first = if struck.offset == 0 { 8 } else { 0 };
    let leaning = if on_backbeat { ACCENT } else { 0 };
    STROKE + first + leaning - if struck.up { 8 } else { 0 }
}

fn note(offset_ticks: u64, length_ticks: u64, key: u8, velocity: i32) -> Note {
    Note {
        offset_ticks,
        length_ticks,
        key: KeyNumber::clamped(i32::from(key)),
        velocity: Velocity::clamped(velocity),
        degree: None,
    }
}

/// In hundredths, how long a stroke of a velocity takes beside the usual one: as long, or less where it is louder.
fn quickness(touch: i32) -> u32 {
    let louder = u32::try_from(touch - STROKE).unwrap_or(0);
    100u32.saturating_sub(QUICKER * louder)
}

/// Hundredths of a tick from string to string: the microseconds asked for at this tempo, the whole stroke within half its
/// length.
fn spread_ticks(us: u32, tempo: Tempo, strings: usize, length_ticks: u64) -> u64 {
    let wanted = u64::from(us) * TICKS_PER_QUARTER * 100 / u64::from(tempo.us_per_quarter()).max(1);
    let steps = (strings as u64).saturating_sub(1).max(1);
    wanted.min(length_ticks * 100 / 2 / steps)
}

#[cfg(test)]
mod tests {
    use std::collections::BTreeMap;

    use super::*;
    use crate::chart::{Parts, Piece};

    fn usual(pattern: &Pattern) -> Hand<'_> {
        Hand {
            pattern,
            backbeat: &[],
            held: false,
            lifted: false,
            tempo: Tempo::DEFAULT,
        }
    }

    fn usual_of_meter(meter: &Meter, _: bool) -> Pattern {
        Pattern::usual(meter)
    }

    fn strummed(chart: &str, settings: &StrumSettings, seed: u64) -> Vec<(u64, u64, u8, u8)> {
        let (piece, _) = Piece::read_inline(chart).unwrap();
        let form = piece.unfold().unwrap();
        let shapes = shapes(&form.pass, settings, &Neck::standard(), &usual_of_meter);
        let chance = Chance::new(seed, "velocity", "strum", 0, 0);
        strum(
            settings,
            &shapes,
            &form.pass[0],
            0,
            usual(&Pattern::usual(&form.pass[0].meter)),
            chance,
        )
        .iter()
        .map(|n| {
            (
                n.offset_ticks,
                n.length_ticks,
                n.key.get(),
                n.velocity.get(),
            )
        })
        .collect()
    }

    fn settings(pattern: &str) -> StrumSettings {
        StrumSettings {
            pattern: Pattern::read(pattern),
            ..Parts::default().strum
        }
    }

    #[test]
    fn down_goes_up_the_strings_and_up_comes_back() {
        let s = settings("D . U .");
        let notes = strummed("| C |", &s, 1);
        // x32010: C3 E3 G3 C4 E4, then the highest four from the top.
        let keys: Vec<u8> = notes.iter().map(|n| n.2).collect();
        assert_eq!(keys, [48, 52, 55, 60, 64, 64, 60, 55, 52]);
        // 12 ms at 120 a minute are 23.04 ticks of 960; the loud stroke on the bar line takes 84 hundredths.
        let starts: Vec<u64> = notes.iter().map(|n| n.0).collect();
        assert_eq!(starts, [0, 19, 38, 58, 77, 1920, 1943, 1966, 1989]);
        assert!(notes.iter().all(|n| n.0 + n.1 == 1920 || n.0 + n.1 == 3840));
    }

    #[test]
    fn a_short_stroke_is_spread_less() {
        let s = StrumSettings {
            spread_ms: 40,
            ..settings("D D D D D D D D D D D D D D D D")
        };
        let notes = strummed("| G |", &s, 1);
        assert_eq!(notes.len(), 16 * 6);
        for stroke in notes.chunks(6) {
            assert!(stroke[5].0 - stroke[0].0 <= 120);
        }
    }

    #[test]
    fn one_string_at_a_time_rings_each() {
        let s = StrumSettings {
            strings: true,
            ..settings("D D D D D D D D")
        };
        let notes = strummed("| C |", &s, 1);
        let keys: Vec<u8> = notes.iter().map(|n| n.2).collect();
        assert_eq!(keys, [48, 52, 55, 60, 64, 48, 52, 55]);
        assert!(notes.iter().all(|n| n.3 == notes[0].3), "{notes:?}");
    }

    #[test]
    fn one_string_at_a_time_begins_with_the_lowest_of_each_chord() {
        let s = StrumSettings {
            strings: true,
            ..settings("D D D D")
        };
        let (piece, _) = Piece::read_inline("| C | % | D | C G |").unwrap();
        let form = piece.unfold().unwrap();
        let shapes = shapes(&form.pass, &s, &Neck::standard(), &usual_of_meter);
        let keys = |bar: usize| -> Vec<u8> {
            let usual = Pattern::usual(&form.pass[bar].meter);
            let chance = Chance::new(1, "velocity", "strum", 0, 0);
            let notes = strum(
                &s,
                &shapes,
                &form.pass[bar],
                bar,
                self::usual(&usual),
                chance,
            );
            notes.iter().map(|n| n.key.get()).collect()
        };
        // A chord that is held goes on where it was: C x32010 has five strings.
        assert_eq!(keys(0), [48, 52, 55, 60]);
        assert_eq!(keys(1), [64, 48, 52, 55]);
        assert_eq!(keys(2), [50, 57, 62, 66]);
        assert_eq!(keys(3), [48, 52, 43, 47]);
    }

    #[test]
    fn a_lifted_strum_of_other_strokes_goes_on_where_it_was() {
        let s = StrumSettings {
            strings: true,
            pattern: None,
            ..Parts::default().strum
        };
        let (piece, _) = Piece::read_inline("| C | % |").unwrap();
        let form = piece.unfold().unwrap();
        let strokes = |lifted| match lifted {
            false => Pattern::read("D D D D").unwrap(),
            true => Pattern::read("D . D .").unwrap(),
        };
        let of_groove = |_: &Meter, lifted| strokes(lifted);
        let shapes = shapes(&form.pass, &s, &Neck::standard(), &of_groove);
        let keys = |lifted: bool| -> Vec<u8> {
            let own = strokes(lifted);
            let hand = Hand {
                lifted,
                ..usual(&own)
            };
            let bars = (0..2).flat_map(|bar| {
                let chance = Chance::new(1, "velocity", "strum", 0, 0);
                strum(&s, &shapes, &form.pass[bar], bar, hand, chance)
            });
            bars.map(|n| n.key.get()).collect()
        };
        // C x32010 has five strings.
        assert_eq!(keys(false), [48, 52, 55, 60, 64, 48, 52, 55]);
        assert_eq!(keys(true), [48, 52, 55, 60]);
    }

    #[test]
    fn single_strings_begin_with_each_chord_and_end_with_its_highest() {
        let s = settings("s s s s");
        let (piece, _) = Piece::read_inline("| C | % | D | C G |").unwrap();
        let form = piece.unfold().unwrap();
        let shapes = shapes(&form.pass, &s, &Neck::standard(), &usual_of_meter);
        let keys = |bar: usize| -> Vec<(u64, u8)> {
            let chance = Chance::new(1, "velocity", "strum", 0, 0);
            strum(
                &s,
                &shapes,
                &form.pass[bar],
                bar,
                usual(&Pattern::usual(&form.pass[bar].meter)),
                chance,
            )
            .iter()
            .map(|n| (n.offset_ticks / 960, n.key.get()))
            .collect()
        };
        // C x32010 over two bars, D xx0232 in one, then two strings of C and two of G 320003.
        assert_eq!(keys(0), [(0, 48), (1, 52), (2, 55), (3, 60)]);
        assert_eq!(keys(1), [(0, 64)]);
        assert_eq!(keys(2), [(0, 50), (1, 57), (2, 62), (3, 66)]);
        assert_eq!(keys(3), [(0, 48), (1, 52), (2, 43), (3, 47)]);
    }

    #[test]
    fn a_section_has_its_own_strokes() {
        let s = StrumSettings {
            in_sections: BTreeMap::from([("A".to_owned(), Pattern::read("D . . .").unwrap())]),
            ..settings("D D D D")
        };
        assert_eq!(strummed("| C |", &s, 1).len(), 5);
        let s = StrumSettings {
            in_sections: BTreeMap::from([("B".to_owned(), Pattern::read("D . . .").unwrap())]),
            ..settings("D D D D")
        };
        assert_eq!(strummed("| C |", &s, 1).len(), 20);
    }

    #[test]
    fn differences_are_seeded() {
        let s = settings("D D D D");
        assert_eq!(strummed("| Am |", &s, 1), strummed("| Am |", &s, 1));
        assert_ne!(strummed("| Am |", &s, 1), strummed("| Am |", &s, 2));
    }

    #[test]
    fn a_stroke_ends_with_its_chord() {
        let notes = strummed("| C G |", &settings("D . . ."), 1);
        assert!(notes.iter().all(|n| n.0 + n.1 == 1920), "{notes:?}");
    }
}
