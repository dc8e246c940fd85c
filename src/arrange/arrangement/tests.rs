use super::*;
use crate::arrange::BarRange;
use crate::diagnostic::Diagnostic;
use crate::event::Source;
use crate::event::{KeyNumber, PartMessage};
use crate::time::{BarSpan, Clockwork, Tempo};

fn piece(text: &str) -> Piece {
    match Piece::read(text) {
        Ok((piece, _)) => piece,
        Err(problems) => panic!("{problems:?}"),
    }
}

fn arranged(piece: &Piece) -> Arrangement {
    Arrangement::new(piece, piece.unfold().unwrap(), Excerpt::default()).unwrap()
}

fn pulled(source: &mut Arrangement) -> Vec<Event> {
    let mut events = Vec::new();
    while source.next_bar(&mut events).is_some() {}
    events
}

/// A piece with everything that crosses a bar line: held chords, a drone, swung notes, a ramp, meter changes,
/// repeats, intro and ending.
const CROSSING: &str = r#"
key = "D minor"
meter = "4/4"
feel = "swing 2:1"
tempo = "70 to 110 over 9 bars, 84"
times = 3
form = "A B"
[sections]
intro = "| Dm7 | / / A7 / |"
A = "|: Dm7 | / / / / | (3/4) Gm7 | / C7 / :|"
B = "| Bbmaj7 | % | (2/2) A7 | / Dm |"
ending = "| Dm | / / / / |"
[parts.click]
subdivide = 2
[parts.pads]
strike = "change"
[parts.bass]
line = "root and fifth"
[parts.kit]
[parts.drone]
"#;

/// Every note of the piece made at once: no bars, no carried note-offs.
fn at_once(mut arrangement: Arrangement) -> Vec<Event> {
    let mut events = Vec::new();
    let mut fresh = true;
    let mut cursor = crate::time::TempoCursor::new(arrangement.journey().map());
    let bars: Vec<BarSpan> = arrangement.journey().bars().collect();
    for bar in bars {
        arrangement.prepare(bar.region);
        let tempo = cursor.tempo_at(bar.start);
        for (part, notes) in arrangement.notes(&bar, tempo, fresh) {
            for note in notes {
                let (on, end) = arrangement.place(&part, &bar, tempo, &note);
                events.push(on);
                let message = Message::NoteOff { key: note.key };
                events.push(Event::of_part(end, part.id, part.channel, message));
            }
        }
        fresh = matches!(bar.region, Region::CountIn { .. });
    }
    sort(&mut events, arrangement.header());
    events
}

fn is_note(event: &Event) -> bool {
    matches!(
        event.body,
        Body::Channel(PartMessage {
            message: Message::NoteOn { .. } | Message::NoteOff { .. },
            ..
        })
    )
}

#[test]
fn lazy_bars_are_the_whole_piece_made_at_once() {
    let piece = piece(CROSSING);
    let mut lazy = arranged(&piece);
    let whole = at_once(arranged(&piece));
    let events = pulled(&mut lazy);
    let notes: Vec<Event> = events.iter().filter(|e| is_note(e)).cloned().collect();
    assert_eq!(notes, whole);
    // The tempo changes of the bars are those of the map as a whole.
    let tempi: Vec<(Tick, Tempo)> = events
        .iter()
        .filter_map(|e| {
            if let Body::Tempo(t) = e.body {
                Some((e.tick, t))
            } else {
                None
            }
        })
        .collect();
    assert_eq!(tempi, lazy.journey().tempo_pairs().collect::<Vec<_>>());
    assert!(tempi.len() > 30);
}

#[test]
fn notes_do_cross_bar_lines_here() {
    // Otherwise the test above proves nothing.
    let mut lazy = arranged(&piece(CROSSING));
    let bars: Vec<u64> = lazy.journey().bars().map(|b| b.start.get()).collect();
    let events = pulled(&mut lazy);
    let (mut held, mut swung) = (0, 0);
    let mut open: Vec<(Channel, KeyNumber, u64)> = Vec::new();
    for event in &events {
        let Body::Channel(PartMessage {
            channel, message, ..
        }) = event.body
        else {
            continue;
        };
        match message {
            Message::NoteOn { key, .. } => {
                open.push((channel, key, event.tick.get()));
                let bar = bars[bars.partition_point(|b| *b <= event.tick.get()) - 1];
                swung += u32::from((event.tick.get() - bar) % 960 == 640);
            }
            Message::NoteOff { key } => {
                let at = open
                    .iter()
                    .position(|o| (o.0, o.1) == (channel, key))
                    .unwrap();
                let (_, _, start) = open.remove(at);
                let bar = bars.partition_point(|b| *b <= start);
                held += u32::from(bars.get(bar).is_some_and(|line| *line < event.tick.get()));
            }
            _ => {}
        }
    }
    assert!(open.is_empty());
    assert!(held > 20, "{held}");
    assert!(swung > 100, "{swung}");
}

#[test]
fn every_bar_holds_its_own_events() {
    let mut lazy = arranged(&piece(CROSSING));
    let end = lazy.end().unwrap();
    let mut events = Vec::new();
    while let Some(bar) = lazy.next_bar(&mut events) {
        for event in events.drain(..) {
            assert!(event.tick >= bar.start);
            assert!(event.tick < bar.end() || event.tick == end);
        }
    }
}

#[test]
fn note_offs_come_before_note_ons_and_no_key_sounds_twice() {
    let mut lazy = arranged(&piece(CROSSING));
    let mut sounding = std::collections::HashMap::new();
    let mut last = Tick::ZERO;
    for event in pulled(&mut lazy) {
        assert!(event.tick >= last);
        last = event.tick;
        let Body::Channel(PartMessage {
            channel, message, ..
        }) = event.body
        else {
            continue;
        };
        match message {
            Message::NoteOn { key, .. } => {
                assert_eq!(
                    sounding.insert((channel, key), event.tick),
                    None,
                    "{event:?}"
                );
            }
            Message::NoteOff { key } => {
                let start = sounding.remove(&(channel, key)).unwrap();
                assert!(start < event.tick);
            }
            _ => {}
        }
    }
    assert!(sounding.is_empty());
}

#[test]
fn a_part_left_out_changes_no_other() {
    let full = piece(CROSSING);
    let mut without = full.clone();
    without.parts.kit.common.on = false;
    let of = |a: &mut Arrangement, name: &str| -> Vec<Event> {
        let id = a
            .header()
            .parts
            .iter()
            .position(|p| p.name == name)
            .unwrap();
        let id = PartId(u8::try_from(id).unwrap());
        pulled(a)
            .into_iter()
            .filter_map(|e| match e.body {
                Body::Channel(PartMessage {
                    part,
                    channel,
                    message,
                }) if part == id => Some(Event::of_part(e.tick, PartId(0), channel, message)),
                _ => None,
            })
            .collect()
    };
    for name in ["click", "pads", "bass", "drone"] {
        let all = of(&mut arranged(&full), name);
        assert_eq!(all, of(&mut arranged(&without), name), "{name}");
    }
}

#[test]
fn a_bar_is_the_same_however_it_is_reached() {
    let piece = piece(CROSSING);
    let on_notes = |events: &[Event], start: Tick| -> Vec<(u64, Body)> {
        let on = |e: &&Event| {
            matches!(
                e.body,
                Body::Channel(PartMessage {
                    message: Message::NoteOn { .. },
                    ..
                })
            )
        };
        events
            .iter()
            .filter(on)
            .map(|e| (e.tick - start, e.body.clone()))
            .collect()
    };
    let mut straight = arranged(&piece);
    let mut bars = Vec::new();
    let mut events = Vec::new();
    while let Some(bar) = straight.next_bar(&mut events) {
        bars.push((bar, on_notes(&events, bar.start)));
        events.clear();
    }
    for (bar, notes) in bars.iter().filter(|(bar, _)| bar.number > 1) {
        let mut jumped = arranged(&piece);
        jumped.next_bar(&mut events);
        jumped.next_bar(&mut events);
        events.clear();
        assert!(jumped.seek(bar.number));
        let reached = jumped.next_bar(&mut events).unwrap();
        assert_eq!(reached, *bar);
        // All notes of the bar begin here, and notes held from before are struck again.
        let found = on_notes(&events, reached.start);
        for note in notes {
            assert!(found.contains(note), "bar {}: {note:?}", bar.number);
        }
        assert!(
            found
                .iter()
                .filter(|n| !notes.contains(n))
                .all(|n| n.0 == 0),
            "bar {}",
            bar.number
        );
        events.clear();
    }
    let mut a = arranged(&piece);
    assert!(!a.seek(0) && !a.seek(10_000));
}

#[test]
fn a_jump_ends_what_sounds() {
    let piece = piece(CROSSING);
    let mut a = arranged(&piece);
    let mut events = Vec::new();
    for _ in 0..5 {
        a.next_bar(&mut events);
    }
    assert!(a.seek(20));
    while a.next_bar(&mut events).is_some() {}
    let mut down = std::collections::HashMap::new();
    for event in &events {
        let Body::Channel(PartMessage {
            channel, message, ..
        }) = event.body
        else {
            continue;
        };
        match message {
            Message::NoteOn { key, .. } => *down.entry((channel, key)).or_insert(0) += 1,
            Message::NoteOff { key } => *down.entry((channel, key)).or_insert(0) -= 1,
            _ => {}
        }
        assert!(down.values().all(|n| (0..=1).contains(n)), "{event:?}");
    }
    assert!(down.values().all(|n| *n == 0));
}

#[test]
fn an_excerpt_has_its_own_count_in_and_the_tempo_of_its_place() {
    let piece = piece(
        "tempo = \"60 for 4 bars, 120\"\ntimes = 3\n[sections]\nA = \"| (3/4) Am | (4/4) Dm | G | C |\"",
    );
    let form = piece.unfold().unwrap();
    let excerpt = Excerpt {
        from: Some(5),
        to: Some(6),
        ..Excerpt::default()
    };
    let mut a = Arrangement::new(&piece, form, excerpt).unwrap();
    let bars: Vec<(i64, u64, String)> = a
        .journey()
        .bars()
        .map(|b| (b.number, b.start.get(), b.meter.to_string()))
        .collect();
    let flat: Vec<(i64, u64, &str)> = bars.iter().map(|(n, t, m)| (*n, *t, m.as_str())).collect();
    assert_eq!(flat, [(0, 0, "3/4"), (5, 2880, "3/4"), (6, 5760, "4/4")]);
    assert_eq!(a.end(), Some(Tick::new(9600)));
    let events = pulled(&mut a);
    let tempi: Vec<_> = events
        .iter()
        .filter(|e| matches!(e.body, Body::Tempo(_)))
        .collect();
    assert_eq!(tempi.len(), 1);
    assert_eq!(tempi[0].body, Body::Tempo(Tempo::new(500_000).unwrap()));
}

#[test]
fn a_length_in_time_ends_at_the_next_bar_line() {
    // Bars of two seconds.
    let mut piece = piece("tempo = 120\n[sections]\nA = \"| Am | Dm |\"");
    piece.times = Times::Endless;
    for (ms, bars) in [(1, 1), (2_000, 1), (2_001, 2), (60_000, 30), (60_001, 31)] {
        let form = piece.unfold().unwrap();
        let length = Some(crate::time::Length::millis(ms));
        let a = Arrangement::new(
            &piece,
            form,
            Excerpt {
                length,
                ..Excerpt::default()
            },
        )
        .unwrap();
        assert_eq!(a.journey().last_bar(), Some(bars), "{ms}");
    }
}

#[test]
fn bars_that_are_not_there_are_refused() {
    let piece = piece("[sections]\nA = \"| Am | Dm |\"");
    let wrong = |from, to| {
        let excerpt = Excerpt {
            from,
            to,
            ..Excerpt::default()
        };
        let result = Arrangement::new(&piece, piece.unfold().unwrap(), excerpt);
        result.err().map(|e| e.to_string()).unwrap_or_default()
    };
    assert_eq!(
        wrong(Some(9), None),
        "the piece has bars 1 to 2 and an ending, bar 3, found 9"
    );
    assert_eq!(
        wrong(None, Some(4)),
        "the piece has bars 1 to 2 and an ending, bar 3, found 4"
    );
    assert_eq!(
        wrong(Some(0), None),
        "the piece has bars 1 to 2 and an ending, bar 3, found 0"
    );
    let ending = "[sections]\nA = \"| Am |\"\nending = \"| Dm | Am |\"";
    let (piece, _) = crate::chart::Piece::read(ending).unwrap();
    let bars = BarRange::of(&piece.grid(&piece.unfold().unwrap(), Some(4)));
    assert_eq!(bars.to_string(), "bars 1 to 4 and an ending, bars 5 to 6");
    let bars = BarRange::of(&piece.grid(&piece.unfold().unwrap(), Some(1)));
    assert_eq!(bars.to_string(), "bar 1 and an ending, bars 2 to 3");
    assert_eq!(
        wrong(Some(2), Some(1)),
        "the last bar 1 lies before the first 2"
    );
    assert_eq!(wrong(Some(2), Some(2)), "");
}

#[test]
fn the_pads_come_back_to_their_first_voicing_around_a_loop() {
    let piece =
        piece("times = 4\nending = \"none\"\n[sections]\nA = \"| Am7 | Dm9 | G13 | Cmaj7 |\"");
    let mut a = arranged(&piece);
    let pads = PartId(1);
    let chords: Vec<(u64, u8)> = pulled(&mut a)
        .iter()
        .filter_map(|e| match e.body {
            Body::Channel(PartMessage {
                part,
                message: Message::NoteOn { key, .. },
                ..
            }) if part == pads => Some((e.tick.get() / 3840, key.get())),
            _ => None,
        })
        .collect();
    let bar = |n: u64| -> Vec<u8> { chords.iter().filter(|c| c.0 == n).map(|c| c.1).collect() };
    for n in 1..=4 {
        assert_eq!(bar(n), bar(n + 4));
        assert_eq!(bar(n), bar(n + 12));
        assert_eq!(bar(n).len(), 4);
    }
}

#[test]
fn time_read_off_the_events_is_the_time_of_the_map() {
    let piece = piece(CROSSING);
    let mut a = arranged(&piece);
    let mut cursor = crate::time::TempoCursor::new(a.journey().map());
    let mut clock = Clockwork::new(Tempo::DEFAULT);
    for event in pulled(&mut a) {
        let at = clock.at(event.tick);
        assert_eq!(at, cursor.at(event.tick));
        if let Body::Tempo(tempo) = event.body {
            clock.change(event.tick, tempo);
        }
    }
}

#[test]
fn levels_of_percussion_work_on_the_strokes() {
    let text = |level: u32| format!("[sections]\nA = \"| Am |\"\n[parts.click]\nlevel = {level}");
    // At level 0 the first note is the bass.
    let first = |level| {
        pulled(&mut arranged(&piece(&text(level))))
            .into_iter()
            .find_map(|e| match e.body {
                Body::Channel(PartMessage {
                    message: Message::NoteOn { velocity, .. },
                    ..
                }) => Some(velocity.get()),
                _ => None,
            })
    };
    assert_eq!(
        (first(100), first(50), first(0), first(127)),
        (Some(100), Some(50), Some(91), Some(127))
    );
}

proptest::proptest! {
    #![proptest_config(proptest::prelude::ProptestConfig::with_cases(64))]

    /// The tempo changes sum up to the time that was asked for, and nothing comes behind it.
    #[test]
    fn an_exact_length_is_exact_at_every_tempo(
        plan in 0usize..5,
        millis in 20_000u64..200_000,
        count_in in 0u32..3,
        from in 1u64..5,
    ) {
        let plans = ["97.3", "60 to 171 over 9 bars", "80 to 120 by 7 every 3 s", "6.1, 3.6", "200 to 40 over 50 s, 960"];
        let plan = plans[plan].replace("6.1, 3.6", "6.1 for 1 beats, 3.6");
        let text = format!(
            "tempo = \"{plan}\"\n[sections]\nA = \"| Am | (7/8) Dm |\"\n[parts.drone]\n[parts.kit]\n"
        );
        let mut piece = piece(&text);
        piece.key = Some(crate::theory::Key::read("A minor").unwrap());
        piece.times = Times::Endless;
        piece.parts.click.count_in = count_in;
        let excerpt = Excerpt {
            from: Some(from),
            length: Some(crate::time::Length::millis(millis)),
            exact: true,
            ..Excerpt::default()
        };
        let arranged = Arrangement::new(&piece, piece.unfold().unwrap(), excerpt);
        let mut a = match arranged {
            Ok(a) => a,
            Err(e) => {
                // So slow a count-in may be longer.
                proptest::prop_assert_eq!(e.code(), "excerpt-count-in");
                return Ok(());
            }
        };
        let end = a.end().unwrap();
        let mut clock = Clockwork::new(Tempo::DEFAULT);
        let mut sounding = 0i64;
        for event in pulled(&mut a) {
            proptest::prop_assert!(event.tick <= end);
            match event.body {
                Body::Tempo(tempo) => clock.change(event.tick, tempo),
                Body::Channel(PartMessage { message: Message::NoteOn { .. }, .. }) => {
                    proptest::prop_assert!(event.tick < end);
                    sounding += 1;
                }
                Body::Channel(PartMessage { message: Message::NoteOff { .. }, .. }) => sounding -= 1,
                _ => proptest::prop_assert!(event.tick < end),
            }
        }
        let (tick, left) = clock.split_at(crate::time::Nanos::new(millis * 1_000_000));
        proptest::prop_assert_eq!((tick, left, sounding), (end, 0, 0));
    }
}
