//! The ready grooves beside what drummers play (`tests/reference/grooves.tsv`), and how far bars and passes differ.

use std::collections::{BTreeMap, BTreeSet};
use std::fmt::Write;

use fivefold::chart::Piece;
use fivefold::event::{Body, Event, Message, PartMessage, Source};
use fivefold::groove::{Hit, KitVoice, ready_groove, ready_grooves};
use fivefold::time::{Meter, Region};
use fivefold::{Arrangement, Excerpt};

/// A row of the table: kind, name, figure or count, instrument, values.
struct Line {
    kind: &'static str,
    name: &'static str,
    figure: &'static str,
    instrument: &'static str,
    values: Vec<f64>,
}

fn table() -> Vec<Line> {
    let text = include_str!("../reference/grooves.tsv");
    let lines = text.lines().filter(|line| !line.starts_with('#'));
    lines
        .map(|line| {
            let columns: Vec<&'static str> = line.split('\t').collect();
            Line {
                kind: columns[0],
                name: columns[1],
                figure: columns[2],
                instrument: columns[3],
                values: columns[4].split(' ').map(|v| v.parse().unwrap()).collect(),
            }
        })
        .collect()
}

/// The row of a kind, a name and an instrument.
fn values(kind: &str, name: &str, instrument: &str) -> Vec<f64> {
    let table = table();
    let found = table
        .iter()
        .find(|l| (l.kind, l.name, l.instrument) == (kind, name, instrument));
    found.map(|line| line.values.clone()).unwrap_or_default()
}

/// Grooves with at least eight performances of their style in the table.
const MEASURED: [(&str, &str); 3] = [
    ("rock eighths", "rock"),
    ("funk sixteenths", "funk"),
    ("swing", "swing"),
];

/// What the table calls a stroke.
fn instrument(voice: KitVoice, ghost: bool) -> &'static str {
    match voice {
        KitVoice::Kick => "kick",
        KitVoice::Snare if ghost => "ghost",
        KitVoice::Snare => "snare",
        KitVoice::SideStick => "sidestick",
        KitVoice::Hat => "hat_closed",
        KitVoice::FootHat => "hat_pedal",
        KitVoice::OpenHat => "hat_open",
        KitVoice::Ride => "ride",
        KitVoice::Bell => "bell",
        KitVoice::Crash => "crash",
        KitVoice::HighTom | KitVoice::MidTom | KitVoice::FloorTom => "tom",
    }
}

/// The step of the style's grid for a written offset in a bar of 4/4: sixteenths, or the thirds of swung eighths.
fn step(style: &str, offset_ticks: u64) -> usize {
    if style == "swing" {
        let (beat, within) = (offset_ticks / 960, offset_ticks % 960);
        (beat * 3 + if within >= 480 { 2 } else { 0 }) as usize
    } else {
        (offset_ticks / 240) as usize
    }
}

#[test]
fn strokes_that_always_come_fall_where_drummers_have_them() {
    for (name, style) in MEASURED {
        let figure = ready_groove(name).unwrap().figure(&Meter::COMMON, 0, false);
        let always: Vec<&Hit> = figure.hits.iter().filter(|hit| hit.always).collect();
        for hit in &always {
            let at = step(style, hit.offset_ticks);
            // Drummers keep time on one of several cymbals: a stroke on any of them is where it is.
            let instruments: &[&str] = if hit.voice.keeps_time() {
                &["hat_closed", "hat_pedal", "hat_open", "ride", "bell"]
            } else {
                &[instrument(hit.voice, hit.ghost)]
            };
            let chance: f64 = instruments
                .iter()
                .filter_map(|i| values("chance", style, i).get(at).copied())
                .sum();
            assert!(
                chance >= 25.0,
                "{name}: {hit:?} comes in {chance} of 100 bars"
            );
        }
        let table = table();
        let rows = table
            .iter()
            .filter(|l| l.kind == "chance" && l.name == style);
        for row in rows {
            for (at, chance) in row.values.iter().enumerate().filter(|(_, c)| **c > 60.0) {
                let covered = always.iter().any(|hit| {
                    step(style, hit.offset_ticks) == at
                        && instrument(hit.voice, hit.ghost) == row.instrument
                });
                assert!(
                    covered,
                    "{name}: {} on step {at} comes in {chance}",
                    row.instrument
                );
            }
        }
    }
}

#[test]
fn strokes_are_as_loud_as_drummers_play_them() {
    for (name, style) in MEASURED {
        let figure = ready_groove(name).unwrap().figure(&Meter::COMMON, 0, false);
        for hit in figure.hits.iter().filter(|hit| hit.always) {
            let table = table();
            let played = instrument(hit.voice, hit.ghost);
            let Some(row) = table
                .iter()
                .find(|l| (l.kind, l.name, l.instrument) == ("loudness", style, played))
            else {
                panic!("{name}: nothing is known of {played}");
            };
            let spread: f64 = row.figure.parse().unwrap();
            let mean = row.values[step(style, hit.offset_ticks)];
            let off = (f64::from(hit.velocity) - mean).abs();
            // Too few strokes to have a mean: the style has it on other cymbals there.
            assert!(
                mean == 0.0 || off <= spread,
                "{name}: {hit:?} beside {mean} +- {spread}"
            );
        }
    }
}

/// A bar as it sounds: strokes of the kit, and where notes of the bass begin, by ticks from the bar line.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
struct Played {
    kit: BTreeSet<(u64, u8)>,
    loud: BTreeSet<(u64, u8)>,
    bass: BTreeSet<u64>,
}

const KICK: u8 = 36;
const SNARE: u8 = 38;
const SIDE: u8 = 37;

impl Played {
    /// Kick, loud snare and side stick.
    fn core(&self) -> BTreeSet<(u64, u8)> {
        let core = self
            .loud
            .iter()
            .filter(|(_, key)| [KICK, SNARE, SIDE].contains(key));
        core.copied().collect()
    }

    fn toms(&self) -> usize {
        self.kit
            .iter()
            .filter(|(_, key)| [43, 47, 50].contains(key))
            .count()
    }
}

/// The bars of the passes of a piece, with their pass.
fn played(piece: &Piece) -> Vec<(u64, Played)> {
    let mut source = Arrangement::new(piece, piece.unfold().unwrap(), Excerpt::default()).unwrap();
    let names: Vec<&str> = source.header().parts.iter().map(|p| p.name).collect();
    let mut found = Vec::new();
    let mut events: Vec<Event> = Vec::new();
    while let Some(bar) = source.next_bar(&mut events) {
        let mut now = Played::default();
        for event in events.drain(..) {
            let Body::Channel(PartMessage {
                part,
                message: Message::NoteOn { key, velocity },
                ..
            }) = event.body
            else {
                continue;
            };
            let offset = event.tick.saturating_since(bar.start);
            match names[usize::from(part.0)] {
                "kit" => {
                    now.kit.insert((offset, key.get()));
                    // Of the part's level, 100 of 127.
                    if key.get() != SNARE || velocity.get() >= 60 {
                        now.loud.insert((offset, key.get()));
                    }
                }
                "bass" => {
                    now.bass.insert(offset);
                }
                _ => {}
            }
        }
        if let Region::Pass { pass, .. } = bar.region {
            found.push((pass, now));
        }
    }
    found
}

fn piece(groove: &str, meter: &str, bars: usize, times: usize, seed: u64, more: &str) -> Piece {
    let text = format!(
        "meter = \"{meter}\"\ngroove = \"{groove}\"\ntimes = {times}\nseed = {seed}\nending = \"none\"\n{more}\n[sections]\nA = \"\"\"{}|\"\"\"\n[parts.kit]\nlevel = 100\n",
        "| C | F | G | C ".repeat(bars / 4)
    );
    Piece::read(&text).unwrap().0
}

/// The meter a ready groove is tried in.
fn meter_of(groove: &str) -> &'static str {
    let groove = ready_groove(groove).unwrap();
    let tried = ["4/4", "3/4", "6/8", "2/4", "7/8 = 2+2+3"];
    tried
        .into_iter()
        .find(|m| groove.suits(&Meter::read(m).unwrap()))
        .unwrap()
}

/// The most frequent core of bars: what the groove has in each.
fn usual(bars: &[(u64, Played)]) -> BTreeSet<(u64, u8)> {
    let mut counts: BTreeMap<BTreeSet<(u64, u8)>, usize> = BTreeMap::new();
    for (_, bar) in bars {
        *counts.entry(bar.core()).or_default() += 1;
    }
    let most = counts.into_iter().max_by_key(|(_, count)| *count);
    most.map(|(core, _)| core).unwrap_or_default()
}

#[test]
fn bars_vary_as_often_as_drummers_vary_them() {
    for (name, _) in MEASURED {
        let mut core = [0.0; 8];
        let mut toms = [0.0; 8];
        let mut phrases = 0.0;
        for seed in 1..=40 {
            let bars = played(&piece(name, "4/4", 64, 1, seed, ""));
            let usual = usual(&bars);
            for (i, (_, bar)) in bars.iter().enumerate() {
                core[i % 8] += f64::from(u8::from(bar.core() != usual));
                toms[i % 8] += f64::from(u8::from(bar.toms() >= 2));
            }
            phrases += 8.0;
        }
        let (least, most) = (values("least", "core", "-"), values("most", "core", "-"));
        for (i, count) in core.iter().enumerate() {
            let share = count / phrases;
            assert!(
                (least[i]..=most[i]).contains(&share),
                "{name}: bar {} of eight differs in {share}, in the data {} to {}",
                i + 1,
                least[i],
                most[i]
            );
        }
        let all = core.iter().sum::<f64>() / phrases / 8.0;
        assert!(
            (values("least", "core_of_all", "-")[0]..=values("most", "core_of_all", "-")[0])
                .contains(&all)
        );
        // Ours lead on where a phrase ends, and nowhere else.
        let (least, most) = (values("least", "toms", "-"), values("most", "toms", "-"));
        for (i, count) in toms.iter().enumerate() {
            let share = count / phrases;
            let floor = if i % 4 == 3 { least[i] } else { 0.0 };
            assert!(
                (floor..=most[i]).contains(&share),
                "{name}: toms in bar {} of eight in {share}, in the data {} to {}",
                i + 1,
                least[i],
                most[i]
            );
        }
    }
}

#[test]
fn a_learner_can_lean_on_the_groove_and_it_is_never_bare_for_long() {
    let mut shown = String::new();
    for groove in ready_grooves() {
        let name = groove.parts().name.as_str();
        let meter_text = meter_of(name);
        let meter = Meter::read(meter_text).unwrap();
        let swung = groove.parts().feel != fivefold::time::Feel::Straight;
        let feel = if swung { "feel = \"swing 2:1\"" } else { "" };
        let (mut whole, mut bare, mut fills, mut all) = (0, 0, 0, 0);
        let (mut kicks, mut with_bass, mut notes) = (0, 0, 0);
        for seed in 1..=10 {
            let bars = played(&piece(name, meter_text, 32, 4, seed, feel));
            for (i, (_, bar)) in bars.iter().enumerate() {
                // Of a chart of one section every fourth pass is lifted.
                let figure = groove.figure(&meter, i as u64 % 32, i / 32 == 3);
                let lead = |hit: &&Hit| {
                    hit.always
                        && !hit.ghost
                        && [KICK, SNARE, SIDE].contains(&(hit.voice.key() as u8))
                };
                let feel = fivefold::time::Feel::read(if swung { "swing 2:1" } else { "straight" })
                    .unwrap();
                let wanted: BTreeSet<(u64, u8)> = figure
                    .hits
                    .iter()
                    .filter(lead)
                    .map(|hit| (feel.played(hit.offset_ticks), hit.voice.key() as u8))
                    .collect();
                all += 1;
                whole += u32::from(wanted.is_subset(&bar.kit));
                bare += u32::from(bar.core() == wanted);
                fills += u32::from(!wanted.is_subset(&bar.kit) || bar.toms() > 0);
                for (at, _) in bar.kit.iter().filter(|(_, key)| *key == KICK) {
                    kicks += 1;
                    with_bass += u32::from(bar.bass.contains(at));
                }
                notes += bar.bass.len();
            }
        }
        let percent = |part: u32, of: u32| (f64::from(part) * 100.0 / f64::from(of.max(1))).round();
        let _ = writeln!(
            shown,
            "{name:18} {:3}% hold it, {:2}% nothing else, {:2}% fills; {:9}: {:3}% of kicks with the bass, {:.1} notes a bar",
            percent(whole, all),
            percent(bare, all),
            percent(fills, all),
            groove.parts().kick_and_bass.name(),
            percent(with_bass, kicks),
            notes as f64 / f64::from(all),
        );
        assert!(whole * 100 >= all * 70, "{shown}");
        assert!(bare * 100 <= all * 90, "{shown}");
        match groove.parts().kick_and_bass.name() {
            "together" => assert!(with_bass * 100 >= kicks * 75, "{shown}"),
            "answering" => assert!(with_bass * 100 <= kicks * 25, "{shown}"),
            _ => {}
        }
    }
    insta::assert_snapshot!(shown, @"
    rock eighths        87% hold it, 38% nothing else, 14% fills; together :  96% of kicks with the bass, 4.5 notes a bar
    half-time           88% hold it, 38% nothing else, 14% fills; together :  92% of kicks with the bass, 2.7 notes a bar
    four on the floor   85% hold it, 38% nothing else, 16% fills; together :  96% of kicks with the bass, 8.4 notes a bar
    stomp               86% hold it, 38% nothing else, 15% fills; together :  97% of kicks with the bass, 4.5 notes a bar
    funk sixteenths     87% hold it, 38% nothing else, 15% fills; together :  87% of kicks with the bass, 5.6 notes a bar
    shuffle             88% hold it, 38% nothing else, 14% fills; together :  86% of kicks with the bass, 4.4 notes a bar
    swing               91% hold it, 38% nothing else, 13% fills; free     :  91% of kicks with the bass, 4.8 notes a bar
    slow blues          88% hold it, 38% nothing else, 13% fills; together :  98% of kicks with the bass, 5.3 notes a bar
    ballad              85% hold it, 38% nothing else, 15% fills; together :  87% of kicks with the bass, 3.2 notes a bar
    bossa               84% hold it, 38% nothing else, 16% fills; together :  87% of kicks with the bass, 4.0 notes a bar
    one-drop            87% hold it, 12% nothing else, 15% fills; answering:   9% of kicks with the bass, 4.0 notes a bar
    train               84% hold it, 48% nothing else, 16% fills; together :  88% of kicks with the bass, 4.2 notes a bar
    two-beat            88% hold it, 39% nothing else, 13% fills; together :  78% of kicks with the bass, 2.4 notes a bar
    folk waltz          86% hold it, 38% nothing else, 15% fills; together :  87% of kicks with the bass, 1.5 notes a bar
    jazz waltz          93% hold it, 38% nothing else, 12% fills; together :  78% of kicks with the bass, 2.7 notes a bar
    six-eight ballad    89% hold it, 39% nothing else, 13% fills; together :  79% of kicks with the bass, 2.4 notes a bar
    grouped             86% hold it, 49% nothing else, 14% fills; together :  80% of kicks with the bass, 3.2 notes a bar
    plain               87% hold it, 84% nothing else, 15% fills; free     :  90% of kicks with the bass, 2.0 notes a bar
    ");
}

#[test]
fn eight_bars_are_not_followed_by_the_same_eight_again_and_again() {
    for groove in ready_grooves() {
        let name = groove.parts().name.as_str();
        for (bars, times) in [(4, 16), (8, 8), (12, 6), (16, 6)] {
            for seed in 1..=3 {
                let played = played(&piece(name, meter_of(name), bars, times, seed, ""));
                let same = played
                    .windows(16)
                    .filter(|w| (0..8).all(|i| w[i].1.kit == w[i + 8].1.kit))
                    .count();
                assert!(same <= 1, "{name}, {bars} bars, seed {seed}: {same}");
            }
        }
    }
}

#[test]
fn no_two_passes_have_all_fills_alike() {
    for groove in ready_grooves() {
        let name = groove.parts().name.as_str();
        for seed in 1..=3 {
            let played = played(&piece(name, meter_of(name), 16, 40, seed, ""));
            let mut passes: BTreeMap<u64, Vec<BTreeSet<(u64, u8)>>> = BTreeMap::new();
            for (pass, bar) in played {
                passes.entry(pass).or_default().push(bar.kit);
            }
            let fills: BTreeSet<Vec<BTreeSet<(u64, u8)>>> = passes
                .values()
                .map(|bars| vec![bars[7].clone(), bars[15].clone()])
                .collect();
            assert_eq!(fills.len(), passes.len(), "{name}, seed {seed}");
        }
    }
}

#[test]
fn without_variation_every_bar_is_the_groove() {
    for groove in ready_grooves() {
        let name = groove.parts().name.as_str();
        let rows = groove.bars();
        let played = played(&piece(
            name,
            meter_of(name),
            16,
            2,
            1,
            "variation = \"none\"",
        ));
        for (i, (_, bar)) in played.iter().enumerate() {
            assert_eq!(bar.kit, played[i % rows].1.kit, "{name}, bar {}", i + 1);
        }
    }
}

/// The slot of a played offset: a fifth of a beat, as the table parts it.
fn slot(offset_ticks: u64) -> usize {
    let at = offset_ticks as f64 / 960.0 + 0.125;
    let (beat, within) = (at.floor(), at - at.floor() - 0.125);
    let edges = [0.14, 0.4167, 0.5833, 0.708];
    (beat as usize % 4) * 5 + edges.iter().filter(|edge| within >= **edge).count()
}

#[test]
fn a_groove_is_no_farther_from_its_style_than_nine_in_ten_of_its_drummers() {
    for (name, style) in MEASURED {
        let feel = if style == "swing" {
            "feel = \"swing 2:1\""
        } else {
            ""
        };
        let bars = played(&piece(name, "4/4", 64, 2, 5, feel));
        let mut ours: BTreeMap<(&str, usize), f64> = BTreeMap::new();
        for (_, bar) in &bars {
            let hits: BTreeSet<(&str, usize)> = bar
                .kit
                .iter()
                .map(|(offset, key)| {
                    let voice = KitVoice::ALL
                        .into_iter()
                        .find(|v| v.key() == i32::from(*key))
                        .unwrap();
                    (
                        instrument(voice, !bar.loud.contains(&(*offset, *key))),
                        slot(*offset),
                    )
                })
                .collect();
            for (what, slot) in &hits {
                // A ghost beside a loud stroke is not heard.
                if *what == "ghost" && hits.contains(&("snare", *slot)) {
                    continue;
                }
                *ours.entry((what, *slot)).or_default() += 1.0 / bars.len() as f64;
            }
        }
        let table = table();
        let rows: Vec<&Line> = table
            .iter()
            .filter(|l| l.kind == "centroid" && l.name == style)
            .collect();
        let bound: f64 = rows[0].figure.parse().unwrap();
        let mut all: BTreeMap<(&str, usize), (f64, f64)> = BTreeMap::new();
        for (at, share) in &ours {
            all.entry(*at).or_default().0 = *share;
        }
        for row in rows {
            for (slot, percent) in row.values.iter().enumerate() {
                all.entry((row.instrument, slot)).or_default().1 = percent / 100.0;
            }
        }
        let distance = all
            .values()
            .map(|(a, b)| (a - b).powi(2))
            .sum::<f64>()
            .sqrt();
        assert!(
            distance < bound,
            "{name}: {distance:.2}, nine in ten {bound}"
        );
    }
}

#[test]
fn the_groove_of_the_readme_is_read_and_written_back() {
    let readme = std::fs::read_to_string(crate::root().join("README.md")).unwrap();
    let start = readme.find("```toml\n[groove]").unwrap() + "```toml\n".len();
    let block = readme[start..].split("```").next().unwrap();
    let (piece, reading) = Piece::read(&format!("{block}\n[sections]\nA = \"| C | F |\"")).unwrap();
    assert!(reading.warnings.is_empty());
    let groove = piece.groove.clone().unwrap();
    assert_eq!(groove.parts().touch[&KitVoice::Snare], [110, 96, 34]);
    let (again, _) = Piece::read(&piece.to_document()).unwrap();
    assert_eq!(again.groove, Some(groove));
    // So is every groove of the program, written out.
    for ready in ready_grooves() {
        let mut own = piece.clone();
        let meter = meter_of(&ready.parts().name);
        let text = format!("meter = \"{meter}\"\n[sections]\nA = \"| C |\"\n[groove]\n");
        let table: String = toml::to_string(&ready.to_table()).unwrap();
        let table = table.replace("\n[", "\n[groove.");
        own.groove = Piece::read(&format!("{text}{table}")).unwrap().0.groove;
        let (found, wanted) = (own.groove.unwrap(), ready.parts());
        assert_eq!(found.parts().rows, wanted.rows, "{}", wanted.name);
        assert_eq!(found.parts().lift, wanted.lift, "{}", wanted.name);
        assert_eq!(
            (found.parts().feel, &found.parts().last),
            (wanted.feel, &wanted.last)
        );
    }
}

#[test]
fn a_groove_that_is_wrong_says_where_and_what_to_write() {
    let wrong = |groove: &str| {
        let text = format!("{groove}\n[sections]\nA = \"| C |\"\n");
        let problems = Piece::read(&text).unwrap_err();
        let problem = &problems[0];
        format!(
            "[{}] {}\n  {}",
            &text[problem.span.clone()],
            problem.message,
            problem.help
        )
    };
    let all = [
        "groove = \"shufle\"",
        "groove = \"shuffle\"\nmeter = \"3/4\"",
        "groove = \"slow blues\"\nfeel = \"swing\"",
        "groove = \"bossa\"\nfeel = \"swing 16ths\"",
        "groove = 4",
        "variation = \"some\"",
        "[groove]\nkik = \"X\"",
        "[groove]\nkits = \"X\"",
        "[groove]\nmeters = \"4/4, 4/4, 4/4, 4/4, 4/4, 4/4, 4/4, 4/4, 4/4, 4/4, 4/4, 4/4, 4/4, 4/4, 4/4, 4/4, 4/4\"",
        "[groove.kit]\nkick = \"X . z .\"",
        "[groove.kit]\nkik = \"X\"",
        "[groove]\nbass = \"1 . 2 .\"",
        "[groove]\nstrum = \". .\"",
        "[groove]\ntempo = \"fast\"",
        "[groove.touch]\nsnare = \"loud\"",
        "[groove]\nkick_and_bass = \"near\"",
        "[groove]\nkick_and_bass = \"together\"\nbass = \"1 . . .\"\n[groove.kit]\nkick = \"X . X .\"",
        "[groove]\nkick_and_bass = \"together\"\nbass = \"walk\"\n[groove.kit]\nkick = \"X . . x X . . .\"",
        "[groove]\nkick_and_bass = \"answering\"\n[groove.kit]\nkick = \"X . X .\"",
        "[groove]\nkick_and_bass = \"together\"\nbass = \"1 . . .\"\n[groove.kit]\nkick = \"X . . .\"\n[groove.lift]\nkick = \"X . . X\"",
    ];
    let shown: Vec<String> = all.iter().map(|text| wrong(text)).collect();
    insta::assert_snapshot!(shown.join("\n"), @r#"
    [shufle] no groove is called `shufle`
      write `shuffle`
    ["shuffle"] the groove shuffle is no groove for 3/4
      write `folk waltz`, `jazz waltz` or `plain`
    ["slow blues"] the groove slow blues parts the beat in three already and does not swing
      leave the feel out
    ["bossa"] the groove bossa has no sixteenths that could swing
      write `funk sixteenths` or `train`
    [4] `groove` is a text, found a whole number
      write `"shuffle"`
    [some] the variation is `full`, `fills` or `none`, found `some`
      write `full`, `fills` or `none`
    [kik] unknown key `groove.kik`
      write `kit.kick`
    [kits] unknown key `groove.kits`
      write `kit`
    ["4/4, 4/4, 4/4, 4/4, 4/4, 4/4, 4/4, 4/4, 4/4, 4/4, 4/4, 4/4, 4/4, 4/4, 4/4, 4/4, 4/4"] a groove names at most 16 meters, found 17
      write those in which it is played: `4/4, 2/2`
    ["X . z ."] `z` is no mark, on step 3 of bar 1
      write `X` for an accent, `x` for a stroke, `g` for a ghost, `?` and `,` for both at times, `.` for nothing
    [kik] unknown key `groove.kit.kik`
      write `kick`
    ["1 . 2 ."] `2` is no mark, on step 3 of bar 1
      write `1 3 5 6 8` for notes of the chord, `n` to lead on, `w` for a note of a walk, `g` for a dead note, `.` to go on, `o` for silence, `?` and `,` for notes at times; or `walk`
    [". ."] a rhythm has 1 to 32 places D U m x s . - o with at least one stroke, found ". ."
      write `D . D U . U D U`
    ["fast"] the tempi of a groove are two numbers, found "fast"
      write `70 to 140`
    ["loud"] a touch is three velocities, 1 to 127, found "loud"
      write those of an accent, a stroke and a ghost: `92 70 50`
    ["near"] `groove.kick_and_bass` is not `near`
      write `together`, `answering` or `free`
    [[groove]] the groove says that kick and bass are together, and in bar 1 beat 3 a kick has no note of the bass
      move the notes, or state `together`, `answering` or `free`
    [[groove]] the groove says that kick and bass are together, and in bar 1 beat 2 a kick has no note of the bass
      move the notes, or state `together`, `answering` or `free`
    [[groove]] the groove says that kick and bass are answering, and in bar 1 beat 3 a note of the bass begins with a kick
      move the notes, or state `together`, `answering` or `free`
    [[groove]] the groove says that kick and bass are together, and in bar 1 beat 4 a kick has no note of the bass
      move the notes, or state `together`, `answering` or `free`
    "#);
}
