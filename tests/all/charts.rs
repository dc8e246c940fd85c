//! The ready charts.

use std::collections::HashSet;
use std::sync::Arc;

use fivefold::arrange::{Arrangement, Excerpt};
use fivefold::chart::{Piece, READY_CHARTS};
use fivefold::theory::Harmony;
use fivefold::time::{PlanRepeat, TempoCursor, TempoMap};

use crate::ready_charts;

fn read(path: &std::path::Path) -> Piece {
    let text = std::fs::read_to_string(path).unwrap();
    match Piece::read(&text) {
        Ok((piece, reading)) => {
            let warnings = reading.warnings;
            assert!(warnings.is_empty(), "{}: {warnings:?}", path.display());
            piece
        }
        Err(problems) => panic!("{}: {problems:?}", path.display()),
    }
}

#[test]
fn every_ready_chart_reads_without_a_warning_and_has_a_title_of_its_own() {
    let mut titles: Vec<String> = ready_charts().iter().map(|p| read(p).title).collect();
    let count = titles.len();
    titles.sort();
    titles.dedup();
    assert_eq!(titles.len(), count);
}

#[test]
fn the_ready_charts_cover_what_they_are_for() {
    let pieces: Vec<Piece> = ready_charts().iter().map(|p| read(p)).collect();
    let meters: Vec<String> = pieces.iter().map(|p| p.meter.to_string()).collect();
    for meter in ["4/4", "3/4", "6/8", "12/8", "7/8 = 2+2+3"] {
        assert!(meters.iter().any(|m| m == meter), "{meter}");
    }
    assert!(pieces.len() >= 40);
    // Every groove is the one some chart names, and every length of a blues is there.
    let named: HashSet<String> = pieces
        .iter()
        .filter_map(|p| p.groove.as_ref())
        .map(|groove| groove.parts().name.clone())
        .collect();
    for groove in fivefold::groove::ready_grooves() {
        let name = &groove.parts().name;
        assert!(named.contains(name), "{name}");
    }
    for bars in [8, 12, 16] {
        let blues = READY_CHARTS.iter().filter(|chart| chart.group == "blues");
        let read = |text: &str| Piece::read(text).unwrap().0;
        let found = blues.filter(|chart| read(chart.text).unfold().unwrap().pass.len() == bars);
        assert!(found.count() >= 1, "{bars}");
    }
}

#[test]
fn the_last_chord_of_a_ready_chart_leads_back_or_home() {
    for path in ready_charts() {
        let piece = read(&path);
        let form = piece.unfold().unwrap();
        let last = form.bars().last().unwrap().chords.last().unwrap();
        let key = piece.sounding_key().unwrap();
        let Harmony::Chord(last) = last.harmony else {
            panic!("{}", path.display())
        };
        // In several keys the ending is in the last of them.
        if piece.ending != fivefold::chart::Ending::None && piece.keys.is_none() {
            assert_eq!(last.root(), key.tonic(), "{}", path.display());
        }
    }
}

#[test]
fn a_ready_chart_in_every_key_keeps_its_spelling_sane() {
    for path in ready_charts() {
        let mut piece = read(&path);
        for semitones in -11..=11 {
            piece.transpose = semitones;
            let form = piece.unfold().unwrap();
            for bar in form.bars() {
                for chord in &bar.chords {
                    let Harmony::Chord(chord) = chord.harmony else {
                        continue;
                    };
                    assert!(
                        chord.root().alter().abs() <= 1,
                        "{} {semitones}: {chord}",
                        path.display()
                    );
                }
            }
        }
    }
}

#[test]
fn pads_of_every_ready_chart_stay_in_their_register_without_minor_ninths() {
    use fivefold::event::{Body, Message, PartMessage, Source};
    for path in ready_charts() {
        let piece = read(&path);
        let mut a = Arrangement::new(&piece, piece.unfold().unwrap(), Excerpt::default()).unwrap();
        let Some(pads) = a.header().parts.iter().position(|p| p.name == "pads") else {
            continue;
        };
        let mut events = Vec::new();
        while a.next_bar(&mut events).is_some() {}
        let mut chords: Vec<(u64, Vec<u8>)> = Vec::new();
        for event in &events {
            if let Body::Channel(PartMessage {
                part,
                message: Message::NoteOn { key, .. },
                ..
            }) = event.body
                && usize::from(part.0) == pads
            {
                match chords.last_mut() {
                    Some((tick, keys)) if *tick == event.tick.get() => keys.push(key.get()),
                    _ => chords.push((event.tick.get(), vec![key.get()])),
                }
            }
        }
        assert!(!chords.is_empty());
        for (tick, keys) in chords {
            assert!(
                keys.iter().all(|k| (43..=76).contains(k)),
                "{} {tick}: {keys:?}",
                path.display()
            );
            for (i, low) in keys.iter().enumerate() {
                assert!(
                    keys[i + 1..].iter().all(|high| high - low != 13),
                    "{} {tick}: {keys:?}",
                    path.display()
                );
            }
        }
    }
}

#[test]
fn all_files_of_the_folder_are_there_and_no_name_twice() {
    let folder = crate::root().join("progressions");
    let mut found = Vec::new();
    for group in std::fs::read_dir(folder).unwrap() {
        let group = group.unwrap();
        for file in std::fs::read_dir(group.path()).unwrap() {
            let file = file.unwrap().path();
            let name = file.file_stem().unwrap().to_str().unwrap().to_owned();
            let text = std::fs::read_to_string(&file).unwrap();
            found.push((group.file_name().into_string().unwrap(), name, text));
        }
    }
    found.sort();
    let listed = READY_CHARTS.map(|c| (c.group.to_owned(), c.name.to_owned(), c.text.to_owned()));
    assert_eq!(found, listed);
    let names: HashSet<&str> = READY_CHARTS.iter().map(|chart| chart.name).collect();
    assert_eq!(names.len(), READY_CHARTS.len());
}

#[test]
fn a_ready_chart_that_climbs_ends_at_the_highest_tempo_of_its_plan() {
    let mut climbing = 0;
    for path in ready_charts() {
        let piece = read(&path);
        let form = piece.unfold().unwrap();
        // All of the plan, over passes without end.
        let whole = TempoMap::new(&piece.tempo, PlanRepeat::Once, &piece.grid(&form, None));
        let tempi: Vec<_> = Arc::new(whole).pairs().map(|(_, tempo)| tempo).collect();
        let fastest = tempi.iter().min().unwrap();
        if fastest == tempi.first().unwrap() {
            continue;
        }
        climbing += 1;
        let a = Arrangement::new(&piece, form, Excerpt::default()).unwrap();
        let grid = a.journey().grid();
        let last = grid.last_of_passes().unwrap();
        let last = grid.bar(i64::try_from(last).unwrap()).unwrap();
        let found = TempoCursor::new(a.journey().map()).tempo_at(last.start);
        assert_eq!(found, *fastest, "{}", path.display());
    }
    assert_eq!(climbing, 8);
}
