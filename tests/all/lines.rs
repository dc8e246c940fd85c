//! The lines of bass, pads, strum and guide, measured over the ready charts and drawn jams.

use std::collections::{BTreeMap, BTreeSet};

use fivefold::arrange::movement;
use fivefold::chart::{BassLine, FormBar, Part, Piece, Run, Times};
use fivefold::event::{Body, Event, Message, PartMessage, Source};
use fivefold::groove::{Pattern, ready_groove, ready_grooves};
use fivefold::theory::{Chord, Scale};
use fivefold::time::{Feel, Meter, Region, TempoPlan};
use fivefold::{Arrangement, Excerpt};

use crate::drawn::jams;
use crate::ready_charts;

/// A note of a bar, in ticks from the bar line.
#[derive(Clone, Copy, Debug)]
struct Note {
    part: Part,
    at: u64,
    key: u8,
    velocity: u8,
}

/// A bar as it sounds, with its chords and the set.
struct Heard {
    chart: FormBar,
    set: Option<Scale>,
    region: Region,
    notes: Vec<Note>,
}

impl Heard {
    /// Notes of a part, in the order they begin.
    fn of(&self, part: Part) -> Vec<Note> {
        let notes = self.notes.iter().filter(|n| n.part == part);
        notes.copied().collect()
    }
}

fn heard(piece: &Piece) -> Vec<Heard> {
    let form = piece.unfold().unwrap();
    let mut source = Arrangement::new(piece, form, Excerpt::default()).unwrap();
    let header = source.header().parts.iter();
    let parts: Vec<Part> = header.map(|p| Part::of(p.name).unwrap()).collect();
    let mut found = Vec::new();
    let mut events: Vec<Event> = Vec::new();
    while let Some(bar) = source.next_bar(&mut events) {
        let drained = events.drain(..);
        let notes = drained.filter_map(|event| match event.body {
            Body::Channel(PartMessage {
                part,
                message: Message::NoteOn { key, velocity },
                ..
            }) => Some(Note {
                part: parts[usize::from(part.0)],
                at: event.tick.saturating_since(bar.start),
                key: key.get(),
                velocity: velocity.get(),
            }),
            _ => None,
        });
        let notes = notes.collect();
        let at = match bar.region {
            Region::CountIn { .. } => continue,
            Region::Intro { bar } | Region::Pass { bar, .. } | Region::Ending { bar } => bar,
        };
        let score = source.score_of(bar.region).unwrap();
        found.push(Heard {
            chart: score.bars[usize::try_from(at).unwrap()].clone(),
            set: score.set,
            region: bar.region,
            notes,
        });
    }
    found
}

/// The same piece with all parts, played twice.
fn with_all_parts(mut piece: Piece) -> Piece {
    piece.times = Times::Count(2);
    piece.keys = None;
    for part in [Part::Pads, Part::Bass, Part::Kit, Part::Strum] {
        piece.parts.common_mut(part).on = true;
    }
    piece.parts.guide.common.on = piece.set.is_some() && piece.asks.is_empty();
    piece.parts.strum.strings = false;
    piece
}

/// The ready charts and two hundred jams over six sets in five roots, all parts playing.
fn pieces() -> Vec<(String, Piece)> {
    let mut found: Vec<(String, Piece)> = ready_charts()
        .into_iter()
        .map(|path| {
            let text = std::fs::read_to_string(&path).unwrap();
            let name = path.file_stem().unwrap().to_str().unwrap().to_owned();
            (name, with_all_parts(Piece::read(&text).unwrap().0))
        })
        .collect();
    found.extend(
        jams(7)
            .into_iter()
            .map(|(name, piece)| (name, with_all_parts(piece))),
    );
    assert!(found.len() > 200, "{}", found.len());
    found
}

/// Sevenths and extensions are rare where nothing is asked for, so the pads are judged over these too.
const RICH: [&str; 8] = [
    "| Dm9 | G13 | Cmaj9 | A7b9 |",
    "| Am7 | D9 | Gmaj7 | C6/9 |",
    "| Em9 | A13 | Dmaj9 | B7#9 |",
    "| F#m7b5 | B7b9 | Em9 | Em9 |",
    "| Bbmaj9 | Eb9 | Abmaj7 | Db13 |",
    "| Cm11 | F13b9 | Bbmaj13 | G7alt |",
    "| E9 | E9 | A9 | E9 | B9 | A9 | E9 | B7#9 |",
    "| Dm7 G7 | Em7 A7b9 | Dm9 G13 | C6/9 |",
];

fn rich() -> Vec<(String, Piece)> {
    RICH.iter()
        .map(|chart| {
            let text = format!("[sections]\nA = \"{chart}\"\n");
            (
                (*chart).to_owned(),
                with_all_parts(Piece::read(&text).unwrap().0),
            )
        })
        .collect()
}

/// So many of so many.
#[derive(Clone, Copy, Default)]
struct Share {
    part: u64,
    all: u64,
}

impl Share {
    fn add(&mut self, is: bool) {
        self.all += 1;
        self.part += u64::from(is);
    }

    fn percent(self) -> f64 {
        self.part as f64 * 100.0 / self.all.max(1) as f64
    }
}

impl std::fmt::Display for Share {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(f, "{} of {} ({:.1}%)", self.part, self.all, self.percent())
    }
}

/// A chord as the pads begin it, above the bass that begins with it.
struct Held {
    chord: Chord,
    /// From the lowest up.
    keys: Vec<u8>,
    bass: Option<u8>,
    /// Whether the bass walks.
    walks: bool,
}

/// The chords of the pads of each piece. In the plain groove all are struck where they begin.
fn held(pieces: Vec<(String, Piece)>) -> Vec<(String, Vec<Held>)> {
    let mut found = Vec::with_capacity(pieces.len());
    for (name, mut piece) in pieces {
        piece.groove = Some(ready_groove("plain").unwrap());
        piece.feel = None;
        let mut chords = Vec::new();
        for bar in heard(&piece) {
            let (pads, bass) = (bar.of(Part::Pads), bar.of(Part::Bass));
            for placed in &bar.chart.chords {
                let at = placed.offset_ticks;
                let begun = pads.iter().filter(|n| n.at == at);
                let mut keys: Vec<u8> = begun.map(|n| n.key).collect();
                keys.sort_unstable();
                if let Some(chord) = placed.harmony.chord()
                    && !keys.is_empty()
                {
                    chords.push(Held {
                        chord: *chord,
                        keys,
                        bass: bass.iter().find(|n| n.at == at).map(|n| n.key),
                        walks: piece.parts.bass.line == BassLine::Walking,
                    });
                }
            }
        }
        found.push((name, chords));
    }
    found
}

/// The interval between a root and a tenth above is where hands lie at a piano; more than two octaves leave a hole, and less than
/// a fifth above the bass is muddy (common practice).
#[test]
fn the_lowest_voice_of_the_pads_fills_the_gap_above_the_bass() {
    for (kind, pieces) in [("usual", pieces()), ("rich", rich())] {
        let (mut gaps, mut places): (Vec<u8>, Vec<f64>) = (Vec::new(), Vec::new());
        for (name, chords) in held(pieces) {
            for held in chords {
                let (lowest, bass) = (held.keys[0], held.bass.unwrap());
                // A walk goes up to A2, so there the bass may come nearer for a moment.
                let least = if held.walks { 1 } else { 7 };
                assert!(
                    lowest >= bass + least,
                    "{name}: {:?} above {bass}",
                    held.keys
                );
                gaps.push(lowest - bass);
                let upper = &held.keys[1..];
                let sum: f64 = upper.iter().map(|k| f64::from(*k)).sum();
                places.push(sum / upper.len() as f64);
            }
        }
        let mean = gaps.iter().map(|g| f64::from(*g)).sum::<f64>() / gaps.len() as f64;
        let widest = gaps.iter().max().copied().unwrap_or(0);
        // Before the pads knew of the bass: 22.3 on average over the usual pieces, 34 at most.
        assert!(
            (7.0..=14.0).contains(&mean) && widest <= 24,
            "{kind}: {mean:.1} semitones on average, {widest} at most"
        );
        // The voices above it are not drawn down with it: they lay on E4 (64) before, the middle of E3 to E5.
        let place = places.iter().sum::<f64>() / places.len() as f64;
        assert!(
            (60.0..=67.0).contains(&place),
            "{kind}: the other voices lie on {place:.1} on average"
        );
    }
}

/// A bass below has the root: extended chords give it up before the fifth, and none sounds beside a flat ninth (rootless voicings
/// of the left hand at a piano, common practice).
#[test]
fn extended_chords_leave_their_root_to_the_bass() {
    let (mut root_alone, mut beside_b9) = (Share::default(), Share::default());
    let mut all = pieces();
    all.extend(rich());
    for (_, chords) in held(all) {
        for Held { chord, keys, .. } in chords {
            let root = chord.root().pitch_class().value();
            let has = |class: u8| keys.iter().any(|k| k % 12 == class);
            let degrees = chord.degrees();
            if degrees.iter().any(|d| d.number() > 7) {
                let fifth = chord.fifth().map_or(7, |d| d.semitones());
                let fifth = (i32::from(root) + fifth).rem_euclid(12) as u8;
                root_alone.add(has(root) && !has(fifth));
            }
            if degrees.iter().any(|d| d.number() == 9 && d.alter() < 0) {
                beside_b9.add(has(root));
            }
        }
    }
    // Before: 54 of 71, and 8 of 12.
    assert!(root_alone.all > 60 && beside_b9.all >= 12);
    assert!(
        root_alone.part + beside_b9.part == 0,
        "a root without its fifth in {root_alone} extended chords, beside a flat ninth in {beside_b9}"
    );
}

/// Low interval limits of arranging books, the lowest key for each interval up to an octave (common practice).
#[test]
fn no_narrow_interval_of_the_pads_stands_low() {
    let lowest = [0, 52, 51, 48, 46, 46, 46, 34, 41, 41, 41, 41, 0];
    let mut muddy = Share::default();
    let mut all = pieces();
    all.extend(rich());
    for (_, chords) in held(all) {
        for pair in chords.iter().flat_map(|held| held.keys.windows(2)) {
            let lowest = lowest.get(usize::from(pair[1] - pair[0]));
            muddy.add(lowest.is_some_and(|lowest| pair[0] < *lowest));
        }
    }
    assert!(muddy.all > 10_000 && muddy.part == 0, "{muddy}");
}

/// The ear follows the highest voice: it neither stays for long while chords change, nor leaps, and it turns (common practice).
#[test]
fn the_top_of_the_pads_is_a_line() {
    let (mut still, mut small, mut turns) = (Share::default(), Share::default(), Share::default());
    let (mut longest, mut moved, mut changes) = (0, 0, 0u32);
    let mut all = pieces();
    all.extend(rich());
    for (_, chords) in held(all) {
        let mut tops: Vec<u8> = Vec::new();
        let mut same = 1;
        let pairs = chords.windows(2);
        for pair in pairs.filter(|pair| pair[0].chord != pair[1].chord) {
            let (from, to) = (&pair[0].keys, &pair[1].keys);
            moved += movement(from, to);
            changes += 1;
            let (from, to) = (from[from.len() - 1], to[to.len() - 1]);
            still.add(from == to);
            same = if from == to { same + 1 } else { 1 };
            longest = longest.max(same);
            if from != to {
                small.add(from.abs_diff(to) <= 4);
            }
            tops.push(to);
        }
        let up = tops.windows(2).any(|w| w[1] > w[0]);
        turns.add(up && tops.windows(2).any(|w| w[1] < w[0]));
    }
    let mean = f64::from(moved) / f64::from(changes);
    let shown = format!(
        "the top stays in {still} changes, {longest} chords long at most, moves by a third at most in {small}, goes up and down in \
         {turns} pieces; all voices move {mean:.2} semitones a change"
    );
    // Before: 1318 of 3756 changes, 35 chords long, and 5 pieces that went one way; voices moved 4.70.
    assert!(still.percent() < 26.0 && longest <= 8, "{shown}");
    assert!(small.percent() > 99.0 && turns.part == turns.all, "{shown}");
    // The least movement there is, whatever the top does and wherever the lowest voice lies, is 4.7.
    assert!(mean < 5.0, "{shown}");
}

/// Held chords carry slow grooves; others have the Charleston rhythm (on 1 and after 2) or strike between the beats (common practice).
#[test]
fn the_pads_have_the_rhythm_of_the_groove() {
    let rhythm = |name: &str| ready_groove(name).unwrap().parts().pads.clone();
    let offsets = |name: &str, meter: &str| -> Vec<u64> {
        let ticks = Meter::read(meter).unwrap().bar_ticks();
        let spans = rhythm(name).map(|r| r.spans(ticks));
        spans.iter().flatten().map(|s| s.0).collect()
    };
    for held in ["ballad", "six-eight ballad", "slow blues", "rock eighths"] {
        assert_eq!(rhythm(held), None, "{held}");
    }
    assert_eq!(offsets("swing", "4/4"), [0, 1440]);
    for between in ["one-drop", "four on the floor"] {
        assert_eq!(
            offsets(between, "4/4"),
            [480, 1440, 2400, 3360],
            "{between}"
        );
    }
    let known = ready_grooves().iter().map(|g| g.parts().pads.as_ref());
    let kinds: BTreeSet<String> = known.flatten().map(ToString::to_string).collect();
    assert!(kinds.len() >= 4, "{kinds:?}");
}

/// The share of chords under which the guide begins on a tone of theirs, where the set has one within two steps of the note that is
/// played; and the widest leap of the line, passes and ending included.
#[test]
fn the_guide_meets_chords_on_their_tones_and_leaps_no_octave() {
    let mut on = Share::default();
    let mut widest = 0;
    for (at, (name, piece)) in pieces().into_iter().enumerate() {
        if !piece.parts.guide.common.on {
            continue;
        }
        let mut piece = piece;
        for part in [Part::Pads, Part::Bass, Part::Kit, Part::Strum] {
            piece.parts.common_mut(part).on = false;
        }
        // Up and down over all, the other runs over some.
        let runs = Run::NAMES.map(|(_, run)| run).into_iter();
        for run in runs.filter(|run| *run == Run::Both || at % 12 == 0) {
            piece.parts.guide.run = run;
            let mut last: Option<u8> = None;
            for bar in heard(&piece) {
                let notes = bar.of(Part::Guide);
                for note in &notes {
                    let leap = last.replace(note.key).map_or(0, |l| l.abs_diff(note.key));
                    assert!(leap <= 12, "{name}, {run:?}: a leap of {leap} semitones");
                    widest = widest.max(leap);
                }
                for placed in &bar.chart.chords {
                    let (Some(chord), Some(set)) = (placed.harmony.chord(), bar.set) else {
                        continue;
                    };
                    let Some(note) = notes.iter().find(|n| n.at == placed.offset_ticks) else {
                        continue;
                    };
                    let tones: Vec<u8> = chord.pitch_classes().iter().map(|c| c.value()).collect();
                    let set = set.pitch_classes();
                    let class = |at: usize| set[at % set.len()].value();
                    let at = (0..set.len())
                        .find(|at| class(*at) == note.key % 12)
                        .unwrap();
                    let at = at + set.len();
                    if (at - 2..=at + 2).any(|near| tones.contains(&class(near))) {
                        on.add(tones.contains(&class(at)));
                    }
                }
            }
        }
    }
    // Before, with the run up and down: 2935 of 4895, and leaps of 27 semitones.
    assert!(
        on.all > 4_000 && on.percent() > 98.0,
        "the guide begins on a tone of the chord in {on}; it leaps {widest} semitones at most"
    );
}

/// The strokes of a bar of the strum: notes that begin within 120 ticks.
fn strokes(bar: &Heard) -> Vec<Vec<Note>> {
    let mut found: Vec<Vec<Note>> = Vec::new();
    for note in bar.of(Part::Strum) {
        match found.last_mut() {
            Some(stroke) if note.at - stroke[0].at < 120 => stroke.push(note),
            _ => found.push(vec![note]),
        }
    }
    found
}

/// A hand that strikes harder goes through the strings quicker, and a down stroke begins on the beat, not before it (common
/// practice).
#[test]
fn a_loud_stroke_is_quicker_and_begins_in_time() {
    let (mut soft, mut loud) = (Vec::new(), Vec::new());
    for (name, mut piece) in pieces().into_iter().step_by(8) {
        piece.tempo = TempoPlan::read("60").unwrap();
        piece.feel = Some(Feel::Straight);
        piece.parts.strum.pattern = Pattern::read("D D D D D D D D");
        piece.parts.strum.in_sections.clear();
        for bar in heard(&piece) {
            if matches!(bar.region, Region::Ending { .. }) {
                continue;
            }
            let step = bar.chart.meter.bar_ticks() / 8;
            for stroke in strokes(&bar) {
                assert_eq!(stroke[0].at % step, 0, "{name}: {stroke:?}");
                if stroke.len() < 4 {
                    continue;
                }
                let count = stroke.len() as f64;
                let touch = stroke.iter().map(|n| f64::from(n.velocity)).sum::<f64>() / count;
                // 960 ticks are a second.
                let ms = (stroke[stroke.len() - 1].at - stroke[0].at) as f64 / 0.96 / (count - 1.0);
                if touch < 84.0 { &mut soft } else { &mut loud }.push(ms);
            }
        }
    }
    let mean = |all: &[f64]| all.iter().sum::<f64>() / all.len() as f64;
    let shown = format!(
        "from string to string {:.1} ms in {} soft strokes, {:.1} ms in {} loud ones",
        mean(&soft),
        soft.len(),
        mean(&loud),
        loud.len()
    );
    // Before: 11.7 ms in both.
    assert!(soft.len() > 500 && loud.len() > 200, "{shown}");
    assert!((mean(&soft) - 12.0).abs() < 0.5, "{shown}");
    assert!((8.0..10.5).contains(&mean(&loud)), "{shown}");
}

#[test]
fn the_strum_leans_on_the_backbeat() {
    let (mut on, mut off) = (Vec::new(), Vec::new());
    for (_, mut piece) in pieces().into_iter().step_by(8) {
        if piece.meter != Meter::COMMON {
            continue;
        }
        piece.groove = Some(ready_groove("rock eighths").unwrap());
        piece.feel = Some(Feel::Straight);
        piece.parts.strum.pattern = Pattern::read("D D D D D D D D");
        piece.parts.strum.in_sections.clear();
        for bar in heard(&piece) {
            if matches!(bar.region, Region::Ending { .. }) || bar.chart.meter != Meter::COMMON {
                continue;
            }
            for stroke in strokes(&bar) {
                let sum: u32 = stroke.iter().map(|n| u32::from(n.velocity)).sum();
                let touch = f64::from(sum) / stroke.len() as f64;
                match stroke[0].at {
                    960 | 2880 => on.push(touch),
                    480 | 1440 | 1920 | 2400 | 3360 => off.push(touch),
                    _ => {}
                }
            }
        }
    }
    let mean = |all: &[f64]| all.iter().sum::<f64>() / all.len() as f64;
    assert!(
        on.len() > 200 && mean(&on) > mean(&off) + 6.0,
        "{:.1} on the backbeat of {}, {:.1} beside it",
        mean(&on),
        on.len(),
        mean(&off)
    );
}

#[test]
fn grooves_have_strokes_of_their_own_and_some_are_muted() {
    let of_common = ready_grooves().iter().filter(|g| g.suits(&Meter::COMMON));
    let patterns: BTreeSet<String> = of_common
        .map(|g| g.figure(&Meter::COMMON, 0, false).strum.to_string())
        .collect();
    let muted = patterns.iter().filter(|p| p.contains('m')).count();
    assert!(patterns.len() >= 4 && muted >= 2, "{patterns:?}");
}

/// One string at a time begins each chord with the lowest string of its shape, and is even, so that a dull string is heard.
#[test]
fn single_strings_begin_with_the_lowest_and_are_even() {
    let (mut lowest, mut loud) = (Share::default(), BTreeSet::new());
    for (name, mut piece) in pieces().into_iter().step_by(4) {
        piece.parts.strum.pattern = Pattern::read("D D D D D D D D");
        piece.parts.strum.in_sections.clear();
        let whole = heard(&piece);
        piece.parts.strum.strings = true;
        let mut before: Option<Chord> = None;
        for (bar, whole) in heard(&piece).iter().zip(&whole) {
            let notes = bar.of(Part::Strum);
            loud.extend(notes.iter().map(|n| n.velocity));
            for placed in &bar.chart.chords {
                let chord = placed.harmony.chord().copied();
                if chord.is_none() || std::mem::replace(&mut before, chord) == chord {
                    continue;
                }
                let begun = |notes: &[Note]| -> Option<u8> {
                    let within = |n: &&Note| {
                        (placed.offset_ticks..placed.offset_ticks + placed.length_ticks)
                            .contains(&n.at)
                    };
                    notes.iter().find(within).map(|n| n.key)
                };
                let (single, down) = (begun(&notes), begun(&whole.of(Part::Strum)));
                lowest.add(single == down);
                assert!(single.is_some(), "{name}: {placed:?}");
            }
        }
    }
    assert!(
        lowest.all > 400 && lowest.part == lowest.all && loud.len() == 1,
        "the lowest string begins in {lowest}, velocities are {loud:?}"
    );
}

/// The beat of a meter in 4, counted in quarters, of each note of the strum that is the lowest there.
fn strums_lowest(strum: &[Note], beat: u64, key: u8) -> bool {
    let here = strum.iter().filter(|n| n.at / 960 == beat);
    here.map(|n| n.key).min() == Some(key)
}

/// A bass guitar's roots lie on its two low strings, up to A2, and a note on the pitch of the strum's lowest string makes one mud of
/// two parts (common practice).
#[test]
fn the_bass_begins_near_g_stays_low_and_beside_the_strum() {
    let (mut near, mut low, mut unison) = (Share::default(), Share::default(), Share::default());
    let mut which: BTreeMap<String, u32> = BTreeMap::new();
    for (name, piece) in pieces() {
        let mut first = true;
        for bar in heard(&piece) {
            let strum = bar.of(Part::Strum);
            for note in bar.of(Part::Bass) {
                if std::mem::take(&mut first) {
                    near.add(note.key.abs_diff(31) <= 8);
                }
                low.add((28..=45).contains(&note.key));
                let same = strums_lowest(&strum, note.at / 960, note.key);
                unison.add(same);
                if same {
                    *which.entry(name.clone()).or_default() += 1;
                }
            }
        }
    }
    let shown = format!(
        "{near} begin within the roots around G1, {low} of the notes lie from E1 to A2, {unison} in unison with the strum: {which:?}"
    );
    assert!(near.part == near.all && low.percent() > 98.0, "{shown}");
    assert!(unison.all > 10_000 && unison.part == 0, "{shown}");
}

/// A note a semitone above a tone of the chord is gone through, not leapt to; and roots follow each other by less than a fifth where
/// an octave allows it (both common practice).
#[test]
fn a_walk_leaps_to_no_avoid_note_and_chooses_the_octave_of_its_roots() {
    let (mut avoid, mut far, mut low) = (Share::default(), Share::default(), Share::default());
    let mut unison = Share::default();
    let mut first: Option<String> = None;
    for (name, mut piece) in pieces() {
        piece.parts.bass.line = BassLine::Walking;
        let mut root: Option<u8> = None;
        for bar in heard(&piece) {
            let (bass, strum) = (bar.of(Part::Bass), bar.of(Part::Strum));
            for note in &bass {
                low.add((28..=45).contains(&note.key));
                unison.add(strums_lowest(&strum, note.at / 960, note.key));
            }
            for placed in &bar.chart.chords {
                let Some(chord) = placed.harmony.chord() else {
                    continue;
                };
                let end = placed.offset_ticks + placed.length_ticks;
                let within = |n: &&Note| (placed.offset_ticks..end).contains(&n.at);
                let under: Vec<Note> = bass.iter().filter(within).copied().collect();
                let Some(one) = under.first() else {
                    continue;
                };
                if let Some(before) = root.replace(one.key).filter(|before| *before != one.key) {
                    far.add(before.abs_diff(one.key) > 6);
                }
                if let [one, two, _, ..] = under[..] {
                    let tones: Vec<u8> = chord.pitch_classes().iter().map(|c| c.value()).collect();
                    let has = |key: u8| tones.contains(&(key % 12));
                    let avoided = !has(two.key) && has(two.key - 1);
                    let leapt = avoided && one.key.abs_diff(two.key) > 2;
                    if leapt {
                        first.get_or_insert(format!("{name}: {chord} {under:?}"));
                    }
                    avoid.add(leapt);
                }
            }
        }
    }
    let shown = format!(
        "avoid notes are leapt to in {avoid} (first in {first:?}), roots lie farther than a tritone apart in {far}, {low} from E1 to A2, {unison} in unison"
    );
    // Before: 160 of 3326, and 1042 of 3682.
    assert!(avoid.all > 3_000 && avoid.part == 0, "{shown}");
    // In the upper octave E to A are mostly the lowest string of the strum.
    assert!(far.percent() < 24.0, "{shown}");
    assert!(low.percent() > 95.0 && unison.part == 0, "{shown}");
}

#[test]
fn a_walk_has_the_skips_and_ghosts_of_its_groove() {
    let text = "groove = \"swing\"\ntimes = 20\n[sections]\nA = \"| Dm7 | G7 | Cmaj7 | % |\"\n[parts.kit]\n";
    let (mut skips, mut ghosts, mut beats) = (0, 0, 0);
    for bar in heard(&Piece::read(text).unwrap().0) {
        for note in bar.of(Part::Bass) {
            match (note.at % 960, note.velocity) {
                (0, _) => beats += 1,
                (_, ..60) => ghosts += 1,
                _ => skips += 1,
            }
        }
    }
    assert!(
        beats > 300 && (10..80).contains(&skips) && (20..120).contains(&ghosts),
        "{beats} notes on beats, {skips} skips, {ghosts} ghosts"
    );
}

/// Root, third, fifth and sixth of a shuffle rise.
#[test]
fn the_notes_of_a_shuffle_rise() {
    let text =
        "groove = \"shuffle\"\nvariation = \"none\"\n[sections]\nA = \"| C | F | G | A |\"\n";
    for bar in heard(&Piece::read(text).unwrap().0) {
        let keys: Vec<u8> = bar.of(Part::Bass).iter().map(|n| n.key).collect();
        if matches!(bar.region, Region::Pass { .. }) {
            assert_eq!(keys.len(), 4, "{keys:?}");
        }
        assert!(keys.windows(2).all(|w| w[1] > w[0]), "{keys:?}");
    }
}
