//! Pieces that go through keys, and the laws that hold for every part in every piece.

use fivefold::Diagnostic;
use std::collections::{BTreeMap, BTreeSet, HashMap};

use fivefold::arrange::{ArrangeError, Arrangement, Excerpt};
use fivefold::chart::{FormBar, Part, Piece, Timing};
use fivefold::event::{Bar, Body, Event, Message, PartId, PartMessage, Source, wire_key};
use fivefold::theory::Scale;
use fivefold::time::Region;
use fivefold::view::{CheckReport, write_check_json, write_event_lines};
use proptest::prelude::*;
use serde_json::Value;

fn read(document: &str) -> Piece {
    Piece::read(document)
        .unwrap_or_else(|problems| panic!("{document}\n{problems:?}"))
        .0
}

fn arranged(piece: &Piece) -> Arrangement {
    Arrangement::new(piece, piece.unfold().unwrap(), Excerpt::default()).unwrap()
}

fn refused(piece: &Piece) -> ArrangeError {
    let made = Arrangement::new(piece, piece.unfold().unwrap(), Excerpt::default());
    made.err().unwrap()
}

fn lines(piece: &Piece) -> Vec<Value> {
    let mut out = Vec::new();
    write_event_lines(&mut arranged(piece), &mut out).unwrap();
    let text = String::from_utf8(out).unwrap();
    text.lines()
        .map(|line| serde_json::from_str(line).unwrap())
        .collect()
}

fn checked(piece: &Piece) -> Value {
    let report = CheckReport {
        piece,
        arrangement: &arranged(piece),
    };
    let mut out = Vec::new();
    write_check_json(&report, &mut out).unwrap();
    serde_json::from_slice(&out).unwrap()
}

fn document(lines: &str) -> String {
    format!(
        "key = \"A minor\"\nset = \"A minor pentatonic\"\n{lines}\n[sections]\nA = \"| Am7 | C / / D5 |\"\n"
    )
}

/// The chords of every bar from bar 1 on, with the number of its pass and whether all are inside the set.
fn bars(piece: &Piece) -> Vec<(Option<u64>, String, bool)> {
    let report = checked(piece);
    let all = report["bars"].as_array().unwrap().iter();
    all.filter(|bar| bar["index"].as_i64().unwrap() > 0)
        .map(|bar| {
            let chords = bar["chords"].as_array().unwrap();
            let names: Vec<&str> = chords
                .iter()
                .map(|c| c["symbol"].as_str().unwrap())
                .collect();
            let inside = chords.iter().all(|c| c["fit"]["inside"] == true);
            (bar["pass"].as_u64(), names.join(" "), inside)
        })
        .collect()
}

#[test]
fn chords_and_set_move_together_from_pass_to_pass() {
    let piece = read(&document("keys = \"A minor, D minor, F# minor\""));
    let bar = |pass, names: &str| (pass, names.to_owned(), true);
    assert_eq!(
        bars(&piece),
        [
            bar(Some(1), "Am7"),
            bar(Some(1), "C D5"),
            bar(Some(2), "Dm7"),
            bar(Some(2), "F G5"),
            bar(Some(3), "F#m7"),
            bar(Some(3), "A B5"),
            // The chord that is held at the end is that of the last key.
            bar(None, "F#m7"),
        ]
    );
    let arrangement = arranged(&piece);
    let sets: Vec<String> = (0..3)
        .map(|pass| {
            let score = arrangement.score_of(Region::Pass { pass, bar: 0 }).unwrap();
            score.set.unwrap().name()
        })
        .collect();
    assert_eq!(
        sets,
        [
            "A minor pentatonic",
            "D minor pentatonic",
            "F# minor pentatonic"
        ]
    );
}

#[test]
fn the_home_scale_moves_as_well() {
    let text = document("home = \"A dorian\"\nkeys = \"A minor, C minor\"").replace("D5", "D");
    let report = checked(&read(&text));
    for (bar, chord) in [(2, "D"), (4, "F")] {
        let chord_found = &report["bars"][bar]["chords"][1];
        assert_eq!(chord_found["symbol"], chord);
        assert_eq!(chord_found["fit"]["home"], true);
        assert_eq!(chord_found["fit"]["inside"], false);
    }
    // In aeolian, neither is at home.
    let report = checked(&read(&text.replace("home = \"A dorian\"\n", "")));
    for bar in [2, 4] {
        assert_eq!(report["bars"][bar]["chords"][1]["fit"]["home"], false);
    }
}

#[test]
fn each_pass_begins_with_the_signature_of_its_key() {
    let piece = read(&document("keys = \"fourths\""));
    let lines = lines(&piece);
    let found: Vec<(u64, i64, bool)> = lines
        .iter()
        .filter(|line| line["kind"] == "key")
        .map(|line| {
            (
                line["tick"].as_u64().unwrap(),
                line["fifths"].as_i64().unwrap(),
                line["minor"].as_bool().unwrap(),
            )
        })
        .collect();
    // The count-in has the first key; a pass has two bars of 3840 ticks.
    let ticks = (0..12u64).map(|pass| if pass == 0 { 0 } else { 3840 * (1 + 2 * pass) });
    let signatures = [0, -1, -2, -3, -4, -5, -6, 5, 4, 3, 2, 1];
    let expected: Vec<(u64, i64, bool)> = ticks
        .zip(signatures)
        .map(|(tick, fifths)| (tick, fifths, true))
        .collect();
    assert_eq!(found, expected);
}

#[test]
fn times_are_rounds_through_all_keys() {
    for (lines, passes) in [
        ("keys = \"fourths\"", 12),
        ("keys = \"semitones\"\ntimes = 2", 24),
        ("keys = \"A minor, D minor\"\ntimes = 3", 6),
        ("keys = \"E minor\"\ntimes = 2", 2),
        ("keys = \"shuffle\"", 12),
        ("times = 3", 3),
    ] {
        let piece = read(&document(lines));
        let bars = bars(&piece);
        assert_eq!(bars.len(), passes * 2 + 1, "{lines}");
        assert!(bars.iter().all(|bar| bar.2), "{lines}: {bars:?}");
    }
    let piece = read(&document("keys = \"A minor, D minor\"\ntimes = 2"));
    let first: Vec<String> = bars(&piece)
        .iter()
        .step_by(2)
        .map(|b| b.1.clone())
        .collect();
    assert_eq!(first, ["Am7", "Dm7", "Am7", "Dm7", "Dm7"]);
}

#[test]
fn an_intro_is_in_the_first_key_and_an_ending_in_the_last() {
    let text =
        document("keys = \"A minor, D minor\"") + "intro = \"| G5 |\"\nending = \"| G5 |\"\n";
    let names: Vec<String> = bars(&read(&text)).into_iter().map(|bar| bar.1).collect();
    assert_eq!(names, ["G5", "Am7", "C D5", "Dm7", "F G5", "C5"]);
}

#[test]
fn a_shuffle_is_of_the_seed() {
    let order = |seed: u64| -> Vec<String> {
        let piece = read(&document(&format!("keys = \"shuffle\"\nseed = {seed}")));
        bars(&piece)
            .iter()
            .step_by(2)
            .map(|b| b.1.clone())
            .collect()
    };
    assert_eq!(order(4), order(4));
    let different: BTreeSet<Vec<String>> = (0..20).map(order).collect();
    assert!(different.len() > 15, "{}", different.len());
}

#[test]
fn keys_that_are_none_are_refused() {
    let unread = |lines: &str| {
        let problems = Piece::read(&document(lines)).unwrap_err();
        let [problem] = &*problems else {
            panic!("{problems:?}");
        };
        format!("{}: {}; {}", problem.code, problem.message, problem.help)
    };
    assert_eq!(
        unread("keys = \"fourth\""),
        "keys-unknown: keys are an order or a list of keys, found `fourth`; write `fourths`"
    );
    assert_eq!(
        unread("keys = \"\""),
        "keys-empty: keys are an order or a list of keys, found nothing; write `fourths`, `fifths`, `semitones`, \
         `shuffle`, or keys such as `A minor, D minor`"
    );
    let error = refused(&read(&document("keys = \"D minor, F\"")));
    assert_eq!(
        format!("{}: {error}; {}", error.code(), error.help()),
        "keys-mode: a piece in A minor moves to keys of the same mode, found F major; write `F minor`"
    );
    let text = document("keys = \"fourths\"").replace("key = \"A minor\"\n", "");
    let error = refused(&read(&text));
    assert_eq!(error, ArrangeError::KeysNeedKey);
    assert_eq!(
        format!("{error}; {}", error.help()),
        "`keys` need a key to begin with; write the key of the chart: `key = \"A minor\"`"
    );
}

#[test]
fn a_piece_that_is_moved_begins_in_its_new_key() {
    let piece = read(&document("keys = \"fourths\"\ntranspose = 2"));
    let first: Vec<String> = bars(&piece)
        .iter()
        .step_by(2)
        .map(|b| b.1.clone())
        .collect();
    assert_eq!(first[..3], ["Bm7", "Em7", "Am7"]);
    assert!(bars(&piece).iter().all(|bar| bar.2));
}

/// All messages of a piece, bar by bar.
fn pull(arrangement: &mut Arrangement) -> Vec<(Bar, Vec<Event>)> {
    let mut found = Vec::new();
    loop {
        let mut events = Vec::new();
        match arrangement.next_bar(&mut events) {
            Some(bar) => found.push((bar, events)),
            None => return found,
        }
    }
}

const METERS: [(&str, [&str; 3]); 5] = [
    ("4/4", ["", " / / G", " Bb7"]),
    ("3/4", ["", " / G", " / /"]),
    ("6/8", ["", " E7#9", " /"]),
    ("7/8 = 2+2+3", ["", " / G", " G E7"]),
    ("5/4", ["", " / / D5 /", " / / / F/A"]),
];
const CHORDS: [&str; 8] = ["Am7", "C", "D5", "F/A", "E7#9", "Bb13", "N.C.", "Gm7b5"];
const KEYS: [&str; 5] = [
    "fourths",
    "shuffle",
    "A minor, D minor",
    "F minor, C# minor",
    "E minor",
];
const SETS: [&str; 4] = [
    "A minor pentatonic",
    "A hirajoshi",
    "A minor blues",
    "A 1 b2 4 5 b7",
];
const TEMPI: [&str; 4] = [
    "90",
    "60 to 120 by 20 every 1 bars",
    "200",
    "50 to 150 over 6 bars",
];
const RUNS: [&str; 6] = [
    "up",
    "down",
    "both",
    "thirds",
    "groups of three",
    "groups of four",
];
const LINES: [&str; 3] = ["walking", "roots", "root and fifth"];

fn pattern() -> impl Strategy<Value = String> {
    prop::collection::vec(
        prop::sample::select(vec!["D", "U", "x", ".", "-", "o"]),
        1..=32,
    )
    .prop_filter_map("a stroke", |places| {
        let strokes = places.iter().any(|p| ["D", "U", "x"].contains(p));
        strokes.then(|| places.concat())
    })
}

fn pieces() -> impl Strategy<Value = String> {
    let chart = (
        0..METERS.len(),
        prop::collection::vec((0..CHORDS.len(), 0..3usize), 1..5),
    );
    let general = (
        prop::option::of(0..KEYS.len()),
        0..SETS.len(),
        0..TEMPI.len(),
        any::<bool>(),
        0..1000u64,
        1..3u32,
    );
    let strum = (pattern(), 0..=40u32, any::<bool>());
    let guide = (0..RUNS.len(), 1..=8u32, 5..=6u32);
    let others = (
        prop::option::of(pattern()),
        any::<bool>(),
        prop::option::of(2..=6u32),
        1..=8u32,
        0..LINES.len(),
        any::<bool>(),
    );
    (chart, general, strum, guide, others).prop_map(
        |(
            (meter, bars),
            (keys, set, tempo, swing, seed, times),
            (strokes, spread, one_string),
            (run, notes, string),
            (rhythm, change, silent, subdivide, line, more),
        )| {
            let (meter, tails) = METERS[meter];
            let bars: Vec<String> = bars
                .iter()
                .map(|(chord, tail)| format!("{}{}", CHORDS[*chord], tails[*tail]))
                .collect();
            let feel = if swing && meter.ends_with("/4") { "swing 2:1" } else { "straight" };
            // By the seed, so that a third of the pieces are loose and a fifth slow down.
            let loose = if seed % 3 == 0 { "timing = \"loose\"\n" } else { "" };
            let slow = if seed % 5 == 0 { "ritardando = \"1 bar\"\n" } else { "" };
            let manner = format!("{loose}{slow}");
            let line_of = |name: &str, value: Option<String>| {
                value.map_or(String::new(), |value| format!("{name} = \"{value}\"\n"))
            };
            format!(
                "key = \"A minor\"\nmeter = \"{meter}\"\nfeel = \"{feel}\"\ntempo = \"{}\"\nset = \"{}\"\n{}times = {times}\nseed = {seed}\n{manner}\
                 [sections]\nA = \"| {} |\"\n\
                 [parts.click]\nsubdivide = {subdivide}\n{}\
                 [parts.pads]\nstrike = \"{}\"\n{}\
                 [parts.bass]\nline = \"{}\"\n\
                 [parts.strum]\nstrokes = \"{strokes}\"\nspread_ms = {spread}\none_string = {one_string}\n\
                 [parts.guide]\nrun = \"{}\"\nnotes = {notes}\nstring = {string}\n\
                 [parts.kit]\non = {more}\n[parts.drone]\non = {more}\n",
                TEMPI[tempo],
                SETS[set],
                line_of("keys", keys.map(|k| KEYS[k].to_owned())),
                bars.join(" | "),
                line_of("silent", silent.map(|n| format!("1 in {n}"))),
                if change { "change" } else { "bar" },
                line_of("rhythm", rhythm),
                LINES[line],
                RUNS[run],
            )
        },
    )
}

/// The bar of the chart that is played in a region.
fn form_bar(arrangement: &Arrangement, region: Region) -> Option<(FormBar, Option<Scale>)> {
    let at = match region {
        Region::CountIn { .. } => return None,
        Region::Intro { bar } | Region::Pass { bar, .. } | Region::Ending { bar } => bar,
    };
    let score = arrangement.score_of(region)?;
    Some((score.bars[usize::try_from(at).unwrap()].clone(), score.set))
}

fn part(arrangement: &Arrangement, name: &str) -> PartId {
    let parts = &arrangement.header().parts;
    PartId(u8::try_from(parts.iter().position(|p| p.name == name).unwrap()).unwrap())
}

/// The note-ons of a part: tick and key.
fn ons(events: &[Event], wanted: PartId) -> Vec<(u64, u8)> {
    events
        .iter()
        .filter_map(|event| match &event.body {
            Body::Channel(PartMessage {
                part,
                message: Message::NoteOn { key, .. },
                ..
            }) if *part == wanted => Some((event.tick.get(), key.get())),
            _ => None,
        })
        .collect()
}

/// Notes are paired, none sounds twice at once, none is left at the end, and each tick is in the order on the wire.
fn stream_is_sound(arrangement: &Arrangement, bars: &[(Bar, Vec<Event>)]) {
    let end = arrangement.end().unwrap();
    let header = arrangement.header();
    let mut sounding: HashMap<(u8, u8), u64> = HashMap::new();
    let mut last = None;
    for (at, (bar, events)) in bars.iter().enumerate() {
        for event in events {
            let final_bar = at + 1 == bars.len();
            let within = event.tick >= bar.start
                && (event.tick < bar.end() || final_bar && event.tick == end);
            assert!(within, "{event:?} in {bar:?}");
            let place = (event.tick, wire_key(event, header));
            assert!(last.is_none_or(|last| last <= place), "{event:?}");
            last = Some(place);
            let Body::Channel(PartMessage {
                channel, message, ..
            }) = &event.body
            else {
                continue;
            };
            match message {
                Message::NoteOn { key, .. } => {
                    assert!(event.tick < end, "{event:?} after the end");
                    let before = sounding.insert((channel.number(), key.get()), event.tick.get());
                    assert_eq!(before, None, "{event:?} sounds already");
                }
                Message::NoteOff { key } => {
                    let start = sounding.remove(&(channel.number(), key.get()));
                    assert!(
                        start.is_some_and(|s| s < event.tick.get()),
                        "{event:?}: {start:?}"
                    );
                }
                _ => {}
            }
        }
    }
    assert!(sounding.is_empty(), "{sounding:?}");
}

/// Each note of the guide has its degree at the same tick, by the set of its pass.
fn guide_is_named(arrangement: &Arrangement, bars: &[(Bar, Vec<Event>)]) {
    let guide = part(arrangement, "guide");
    for (bar, events) in bars {
        let Some((chart, set)) = form_bar(arrangement, bar.region) else {
            continue;
        };
        let set = set.unwrap();
        let names: BTreeMap<u8, String> = set
            .pitch_classes()
            .iter()
            .zip(set.degrees())
            .map(|(class, degree)| (class.value(), degree.to_string()))
            .collect();
        let lyrics: Vec<(u64, String)> = events
            .iter()
            .filter_map(|event| match &event.body {
                Body::Lyric { part, text } if *part == guide => {
                    Some((event.tick.get(), text.to_string()))
                }
                _ => None,
            })
            .collect();
        let notes = ons(events, guide);
        let expected: Vec<(u64, String)> = notes
            .iter()
            .map(|(tick, key)| (*tick, names[&(key % 12)].clone()))
            .collect();
        assert_eq!(lyrics, expected, "{set}");
        if is_last_of_ending(arrangement, bar) {
            assert!(notes.len() <= 1, "{notes:?}");
            continue;
        }
        assert!(
            notes
                .len()
                .is_multiple_of(chart.meter.beat_count() as usize)
        );
    }
}

/// A walk has a note on each beat, the first under each chord on its bass.
/// Whether a bar is the one a piece ends with.
fn is_last_of_ending(arrangement: &Arrangement, bar: &Bar) -> bool {
    let last = arrangement.journey().bars().last();
    matches!(bar.region, Region::Ending { .. })
        && last.is_some_and(|last| last.number == bar.number)
}

fn bass_walks(arrangement: &Arrangement, bars: &[(Bar, Vec<Event>)]) {
    let bass = part(arrangement, "bass");
    for (bar, events) in bars {
        let Some((chart, _)) = form_bar(arrangement, bar.region) else {
            continue;
        };
        if is_last_of_ending(arrangement, bar) {
            // Held: a note a chord.
            let chords = chart.chords.iter().filter(|c| c.harmony.chord().is_some());
            assert_eq!(ons(events, bass).len(), chords.count());
            continue;
        }
        let mut notes = ons(events, bass).into_iter();
        for (i, placed) in chart.chords.iter().enumerate() {
            let Some(chord) = placed.harmony.chord() else {
                continue;
            };
            let next = chart
                .chords
                .get(i + 1)
                .map_or(chart.meter.beat_count(), |c| c.beat);
            let under: Vec<(u64, u8)> =
                notes.by_ref().take((next - placed.beat) as usize).collect();
            assert_eq!(under.len(), (next - placed.beat) as usize, "{chart:?}");
            assert_eq!(under[0].1 % 12, chord.bass().pitch_class().value());
            assert!(under.iter().all(|n| (28..=52).contains(&n.1)), "{under:?}");
            assert!(under.windows(2).all(|w| w[0].1 != w[1].1), "{under:?}");
        }
        assert_eq!(notes.next(), None);
    }
}

/// Open strings of the standard tuning, the lowest first.
const OPEN: [u8; 6] = [40, 45, 50, 55, 59, 64];

/// Whether keys can lie on strings that rise, under one hand: a key of a lower string may be the higher one.
fn lie_from_low_to_high(keys: &[u8]) -> bool {
    let strings = |mask: u32| (0..6usize).filter(move |s| mask & (1 << s) != 0);
    (0u32..64)
        .filter(|mask| mask.count_ones() as usize == keys.len())
        .any(|mask| {
            let frets: Option<Vec<u8>> = strings(mask)
                .zip(keys)
                .map(|(string, key)| key.checked_sub(OPEN[string]))
                .collect();
            frets.is_some_and(|frets| {
                let stopped = frets.iter().filter(|f| **f > 0);
                let low = stopped.clone().min().copied().unwrap_or(0);
                stopped.max().copied().unwrap_or(0) - low <= 4
            })
        })
}

#[test]
fn a_shape_turned_round_lies_under_no_hand() {
    assert!(lie_from_low_to_high(&[48, 52, 55, 60, 64]));
    assert!(!lie_from_low_to_high(&[64, 60, 55, 52, 48]));
    assert!(!lie_from_low_to_high(&[64, 60, 55, 52]));
}

/// Strokes go down from the low strings and come up from the high ones, spread by the milliseconds asked for, or less where they
/// are louder.
fn strokes_are_spread(piece: &Piece, arrangement: &Arrangement, bars: &[(Bar, Vec<Event>)]) {
    let strum = part(arrangement, "strum");
    let settings = &piece.parts.strum;
    let pattern = settings.pattern.as_ref().unwrap().to_string();
    let text: Vec<char> = pattern.chars().filter(|c| *c != ' ').collect();
    let in_bar_tempo = piece.tempo.to_string().contains("over");
    let mut us_per_quarter = 0;
    for (bar, events) in bars {
        for event in events.iter().filter(|e| e.tick == bar.start) {
            if let Body::Tempo(tempo) = event.body {
                us_per_quarter = u64::from(tempo.us_per_quarter());
            }
        }
        let Some((chart, _)) = form_bar(arrangement, bar.region) else {
            continue;
        };
        if is_last_of_ending(arrangement, bar) {
            // One stroke that is held.
            continue;
        }
        let notes = ons(events, strum);
        let bar_ticks = chart.meter.bar_ticks();
        let at = |place: usize| bar_ticks * place as u64 / text.len() as u64;
        let mut seen = 0;
        for (place, stroke) in text.iter().enumerate().filter(|(_, c)| "DU".contains(**c)) {
            let offset = at(place);
            let rest = |c: &char| *c != '.';
            let until = text[place + 1..]
                .iter()
                .position(rest)
                .map_or(text.len(), |n| place + 1 + n);
            let chord = chart
                .chords
                .iter()
                .rposition(|c| c.offset_ticks <= offset)
                .unwrap();
            let chord_end = chart
                .chords
                .get(chord + 1)
                .map_or(bar_ticks, |c| c.offset_ticks);
            let length = at(until).min(chord_end) - offset;
            let own: Vec<(u64, u8)> = notes
                .iter()
                .map(|(tick, key)| (tick - bar.start.get(), *key))
                .filter(|(tick, _)| (offset..offset + length.max(1)).contains(tick))
                .collect();
            seen += own.len();
            let silent = chart.chords[chord].harmony.chord().is_none();
            assert_eq!(own.is_empty(), silent, "{stroke} at {offset}: {chart:?}");
            if silent {
                continue;
            }
            assert_eq!(own[0].0, offset);
            if settings.strings {
                assert_eq!(own.len(), 1);
                continue;
            }
            assert!(own.len() > 1 && own.len() <= if *stroke == 'U' { 4 } else { 6 });
            // The order of strings that are struck at the same tick is unknown.
            if own.windows(2).all(|w| w[0].0 < w[1].0) {
                let mut keys: Vec<u8> = own.iter().map(|n| n.1).collect();
                if *stroke == 'U' {
                    keys.reverse();
                }
                assert!(lie_from_low_to_high(&keys), "{stroke}: {own:?} {chart:?}");
            }
            if in_bar_tempo {
                continue;
            }
            let steps = own.len() as u64 - 1;
            let wanted = steps * u64::from(settings.spread_ms) * 960 * 1000 / us_per_quarter;
            let expected = wanted.min(length / 2);
            let found = own[steps as usize].0 - offset;
            // A louder stroke is quicker, by at most 36 of 100.
            let quickest = (wanted * 64 / 100).min(expected);
            assert!(
                found + 1 >= quickest && found <= expected + 1,
                "{found} {expected}: {own:?}"
            );
        }
        assert_eq!(seen, notes.len());
    }
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 120, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn laws_of_every_part(text in pieces()) {
        let piece = read(&text);
        let mut arrangement = arranged(&piece);
        let bars = pull(&mut arrangement);
        stream_is_sound(&arrangement, &bars);
        guide_is_named(&arrangement, &bars);
        if text.contains("walking") {
            bass_walks(&arrangement, &bars);
        }
        if text.contains("straight") && !text.contains("loose") {
            strokes_are_spread(&piece, &arrangement, &bars);
        }
        // A bar clicks as a whole or not at all; bar 1 clicks.
        let click = part(&arrangement, "click");
        let counts: BTreeSet<usize> = bars.iter().map(|(_, e)| ons(e, click).len()).collect();
        let chart_bars = bars.iter().filter(|(bar, _)| bar.number == 1);
        prop_assert!(chart_bars.clone().all(|(_, e)| !ons(e, click).is_empty()));
        prop_assert!(counts.iter().filter(|n| **n > 0).count() == 1, "{:?}", counts);
        prop_assert!(text.contains("silent") || !counts.contains(&0));
        // Pulled in one go the piece is the same.
        let mut whole = Vec::new();
        let mut again = arranged(&piece);
        while again.next_bar(&mut whole).is_some() {}
        let pulled: Vec<Event> = bars.iter().flat_map(|(_, e)| e.clone()).collect();
        prop_assert!(whole == pulled);
        // The document that is written plays the same.
        let written = read(&piece.to_document());
        let played: Vec<Event> = pull(&mut arranged(&written)).into_iter().flat_map(|(_, e)| e).collect();
        prop_assert!(played == pulled);
    }

    #[test]
    fn loose_hands_move_notes_a_little_and_change_none(text in pieces()) {
        let piece = read(&text);
        let [exact, loose] = [Timing::Exact, Timing::Loose].map(|timing| {
            let mut arrangement = arranged(&Piece { timing, ..piece.clone() });
            let events = pull(&mut arrangement).into_iter().flat_map(|(_, e)| e);
            (events.collect::<Vec<_>>(), arrangement)
        });
        for info in &exact.1.header().parts {
            let id = part(&exact.1, info.name);
            let (before, after) = (ons(&exact.0, id), ons(&loose.0, id));
            prop_assert_eq!(before.len(), after.len());
            let still = ["click", "drone"].contains(&info.name);
            // Strokes of one tick may change places.
            let sorted = |notes: &[(u64, u8)], keys: &dyn Fn(&(u64, u8)) -> u64| {
                let mut all: Vec<u64> = notes.iter().map(keys).collect();
                all.sort_unstable();
                all
            };
            prop_assert_eq!(sorted(&before, &|n| u64::from(n.1)), sorted(&after, &|n| u64::from(n.1)));
            let (before, after) = (sorted(&before, &|n| n.0), sorted(&after, &|n| n.0));
            let moved: Vec<u64> = before.iter().zip(&after).map(|(a, b)| a.abs_diff(*b)).collect();
            // 3 % of a quarter note, and the tick that a straight line between two points may add.
            prop_assert!(moved.iter().all(|ticks| *ticks <= if still { 0 } else { 31 }), "{} {:?}", info.name, moved);
            prop_assert!(still || moved.len() < 40 || moved.iter().any(|ticks| *ticks > 0), "{}", info.name);
        }
    }

    #[test]
    fn leaving_a_part_out_changes_no_other(text in pieces()) {
        let piece = read(&text);
        let mut arrangement = arranged(&piece);
        let all: Vec<Event> = pull(&mut arrangement).into_iter().flat_map(|(_, e)| e).collect();
        for info in &arrangement.header().parts {
            // Without the click there is no count-in.
            if info.name == "click" {
                continue;
            }
            let mut without = piece.clone();
            without.parts.common_mut(Part::of(info.name).unwrap()).on = false;
            let mut without = arranged(&without);
            let left: Vec<Event> = pull(&mut without).into_iter().flat_map(|(_, e)| e).collect();
            for (other, part_info) in without.header().parts.iter().enumerate() {
                let now = PartId(u8::try_from(other).unwrap());
                let before = part(&arrangement, part_info.name);
                prop_assert!(ons(&left, now) == ons(&all, before), "{}", part_info.name);
            }
        }
    }

    #[test]
    fn a_bar_is_the_same_however_it_is_reached(text in pieces()) {
        let piece = Piece { keys: None, ..read(&text) };
        let bars = pull(&mut arranged(&piece));
        for (bar, events) in bars.iter().filter(|(bar, _)| bar.number > 0) {
            let mut jumped = arranged(&piece);
            prop_assert!(jumped.seek(bar.number));
            let mut found = Vec::new();
            prop_assert_eq!(jumped.next_bar(&mut found).map(|b| b.number), Some(bar.number));
            for name in ["click", "bass", "strum", "guide"] {
                let part = part(&jumped, name);
                prop_assert!(ons(&found, part) == ons(events, part), "{} in bar {}", name, bar.number);
            }
        }
    }
}

#[test]
fn one_bar_in_so_many_is_silent() {
    let text = "times = 2000\nending = \"none\"\n[sections]\nA = \"| Am |\"\n[parts.click]\nsilent = \"1 in 4\"\n";
    let mut arrangement = arranged(&read(text));
    let click = part(&arrangement, "click");
    let bars = pull(&mut arrangement);
    let silent = bars
        .iter()
        .filter(|(_, e)| ons(e, click).is_empty())
        .count();
    // 500 expected, standard deviation 19.4; four of these.
    assert!(silent.abs_diff(500) < 78, "{silent}");
}
