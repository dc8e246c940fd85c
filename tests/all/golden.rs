//! Files that must not change: a MIDI file, byte for byte, beside its events as text, so that a difference can be
//! read. After a change that is meant, run `FIVEFOLD_BLESS=1 cargo test golden` and read the difference.

use fivefold::arrange::{Arrangement, Excerpt};
use fivefold::chart::Piece;
use fivefold::event::{Body, Message, PartMessage, Source};
use fivefold::midi::{SmfFormat, write_smf};
use fivefold::view::write_event_lines;

use crate::{ready_charts, root};

/// A loop with a ladder, grouped meters with a kit, and swing with a ramp.
const GOLDEN: [&str; 3] = ["low-tide", "seven-stones", "paper-lanterns"];

/// A ready chart, played once: one pass shows everything.
fn one_pass(name: &str) -> Piece {
    let mut charts = ready_charts().into_iter();
    let chart = charts.find(|p| p.file_stem().is_some_and(|s| s == name));
    let text = std::fs::read_to_string(chart.unwrap()).unwrap();
    Piece {
        times: fivefold::chart::Times::Count(1),
        ..Piece::read(&text).unwrap().0
    }
}

#[test]
fn files_are_the_same_to_the_byte() {
    for name in GOLDEN {
        let piece = one_pass(name);
        let arranged =
            || Arrangement::new(&piece, piece.unfold().unwrap(), Excerpt::default()).unwrap();
        let (mut file, mut lines) = (Vec::new(), Vec::new());
        write_smf(&mut arranged(), SmfFormat::Parallel, &mut file).unwrap();
        write_event_lines(&mut arranged(), &mut lines).unwrap();
        for (ending, found) in [("jsonl", &lines), ("mid", &file)] {
            compare(&format!("{name}.{ending}"), found);
        }
    }
}

/// The kit of the time before there were grooves: `plain` without variation plays it still. The lines are chart, tick, key and
/// velocity; the last bar, now a single stroke, is left out.
#[test]
fn the_plain_groove_plays_the_kit_of_before() {
    let kept = std::fs::read_to_string(root().join("tests/golden/plain-kit.txt")).unwrap();
    for name in ["seven-stones", "paper-lanterns"] {
        let mut piece = one_pass(name);
        piece.groove = fivefold::groove::ready_groove("plain").ok();
        piece.variation = fivefold::chart::Variation::None;
        let mut source =
            Arrangement::new(&piece, piece.unfold().unwrap(), Excerpt::default()).unwrap();
        let kit = source
            .header()
            .parts
            .iter()
            .position(|p| p.name == "kit")
            .unwrap();
        let (mut now, mut events, mut end) = (Vec::new(), Vec::new(), 0);
        while let Some(bar) = source.next_bar(&mut events) {
            if matches!(bar.region, fivefold::time::Region::Ending { .. }) {
                break;
            }
            end = bar.end().get();
            for event in events.drain(..) {
                if let Body::Channel(PartMessage {
                    part,
                    message: Message::NoteOn { key, velocity },
                    ..
                }) = event.body
                    && usize::from(part.0) == kit
                {
                    now.push(format!(
                        "{name} {} {} {}",
                        event.tick.get(),
                        key.get(),
                        velocity.get()
                    ));
                }
            }
        }
        let before: Vec<String> = kept
            .lines()
            .filter(|line| line.starts_with(name))
            .filter(|line| line.split(' ').nth(1).unwrap().parse::<u64>().unwrap() < end)
            .map(str::to_owned)
            .collect();
        assert!(before.len() > 140, "{}", before.len());
        assert_eq!(now, before);
    }
}

/// Compares with the golden file of this name, or writes that file if the test was told to.
pub(crate) fn compare(name: &str, found: &[u8]) {
    let folder = root().join("tests/golden");
    let path = folder.join(name);
    if std::env::var_os("FIVEFOLD_BLESS").is_some() {
        std::fs::create_dir_all(&folder).unwrap();
        std::fs::write(&path, found).unwrap();
    }
    let kept = std::fs::read(&path).unwrap();
    if kept == *found {
        return;
    }
    let text = |bytes: &[u8]| String::from_utf8_lossy(bytes).into_owned();
    let (kept, found) = (text(&kept), text(found));
    let first = kept.lines().zip(found.lines()).position(|(a, b)| a != b);
    panic!("{name} differs, first in line {:?}", first.map(|n| n + 1));
}
