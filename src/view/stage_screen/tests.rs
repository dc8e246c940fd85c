//! The screen, pinned in four sizes and in every state.

use super::*;
use crate::view::stage::{StagePlace, StagePlan};

fn chord(name: &str, beats: u64, bars: u64) -> StageChord {
    StageChord {
        name: name.to_owned(),
        ticks: beats * 960,
        beats,
        bars,
    }
}

/// The third beat of bar 12 of a piece whose plan climbs from 90 to 150.
fn playing() -> Stage {
    Stage {
        title: "Low tide".to_owned(),
        place: StagePlace {
            bar: 12,
            of: Some(64),
            section: Some("verse".to_owned()),
            pass: Some(2),
            key: Some("A minor".to_owned()),
        },
        beat: 3,
        beats: 4,
        chord: Some(chord("F#m7", 6, 2)),
        next: vec![chord("Bm7", 6, 2), chord("E7", 10, 3)],
        tempo_milli: 102_000,
        plan: Some(StagePlan {
            points_milli: (0..48).map(|point| 90_000 + point / 8 * 12_000).collect(),
            passed: 180,
        }),
        looped: None,
        parts: vec![("click", true), ("pads", true), ("bass", true)],
        paused: false,
    }
}

fn buffer(stage: &Stage, said: Option<&str>, look: Look, columns: u16, rows: u16) -> Buffer {
    let area = Rect::new(0, 0, columns, rows);
    let mut buffer = Buffer::empty(area);
    draw_stage(stage, said, look, area, &mut buffer);
    buffer
}

/// The characters of a screen, each row with its bar at the left edge.
fn text(buffer: &Buffer) -> String {
    let area = buffer.area;
    let rows = (0..area.height).map(|y| {
        let cells = (0..area.width).map(|x| buffer[(x, y)].symbol());
        format!("|{}", cells.collect::<String>())
            .trim_end()
            .to_owned()
    });
    rows.collect::<Vec<_>>().join("\n")
}

fn screen(stage: &Stage, columns: u16, rows: u16) -> String {
    text(&buffer(
        stage,
        Some("bass muted"),
        Look::Plain,
        columns,
        rows,
    ))
}

/// The smallest screen.
fn small(stage: &Stage) -> String {
    text(&buffer(stage, None, Look::Plain, 40, 12))
}

#[test]
fn playing_in_four_sizes() {
    insta::assert_snapshot!(screen(&playing(), 160, 50), @"
    | Low tide                                                                                                                  bar 12 of 64, verse, pass 2, A minor
    | now
    |
    | ██████████████████████████████            ██████      ██████                                                ██████████████████████████████
    | ██████████████████████████████            ██████      ██████                                                ██████████████████████████████
    | ██████████████████████████████            ██████      ██████                                                ██████████████████████████████
    | ██████                                    ██████      ██████                                                                        ██████
    | ██████                                    ██████      ██████                                                                        ██████
    | ██████                                    ██████      ██████                                                                        ██████
    | ██████                              ██████████████████████████████      ████████████      ██████                              ██████
    | ██████                              ██████████████████████████████      ████████████      ██████                              ██████
    | ██████                              ██████████████████████████████      ████████████      ██████                              ██████
    | ████████████████████████                  ██████      ██████            ██████      ██████      ██████                  ██████
    | ████████████████████████                  ██████      ██████            ██████      ██████      ██████                  ██████
    | ████████████████████████                  ██████      ██████            ██████      ██████      ██████                  ██████
    | ██████                              ██████████████████████████████      ██████      ██████      ██████                  ██████
    | ██████                              ██████████████████████████████      ██████      ██████      ██████                  ██████
    | ██████                              ██████████████████████████████      ██████      ██████      ██████                  ██████
    | ██████                                    ██████      ██████            ██████      ██████      ██████            ██████
    | ██████                                    ██████      ██████            ██████      ██████      ██████            ██████
    | ██████                                    ██████      ██████            ██████      ██████      ██████            ██████
    | ██████                                    ██████      ██████            ██████      ██████      ██████            ██████
    | ██████                                    ██████      ██████            ██████      ██████      ██████            ██████
    | ██████                                    ██████      ██████            ██████      ██████      ██████            ██████
    |
    |
    | next  then E7
    | ████████████                        ███████████████                                             █▌                ████▌        ▐█
    | ███▀▀▀▀▀▀▀▀▀▄▄▄                     ▀▀▀▀▀▀▀▀▀▀▀▀███                                             ▀▘              ▗▄▀▀▀▀▚▄       ▐█
    | ███         ███                                 ███                                                             ▐█    ▐█       ▐█
    | ███         ███   ██████   ███               ███                                                █▌ ████▌              ▐█       ▐█       ▐████   █▌ █▌  ▐████
    | ███▄▄▄▄▄▄▄▄▄▀▀▀   ███▀▀▀▄▄▄▀▀▀▄▄▄         ▄▄▄▀▀▀                                                █▌ █▛▀▀▚▄            ▄▞▀       ▐█▄▄▄    ▝▀▀▀▀▄▖ █▙▄▀▘ ▄▞▀▀▀▀
    | ████████████      ███   ███   ███         ███                                                   █▌ █▌  ▐█            █▌        ▐████         █▌ ███   █▌
    | ███         ███   ███   ███   ███         ███                                                   █▌ █▌  ▐█          ▐█          ▐█   █▌  ▐█████▌ █▌     ▐██▌
    | ███         ███   ███   ███   ███      ▄▄▄▀▀▀                                                   █▌ █▌  ▐█         ▄▞▀          ▐█   █▌ ▄▞▀▀▀▀█▌ █▌     ▝▀▀▚▄
    | ███         ███   ███   ███   ███      ███                                                      █▌ █▌  ▐█         █▌           ▐█   █▌ █▌    █▌ █▌        ▐█
    | ████████████      ███   ███   ███      ███                                                      █▌ █▌  ▐█       ▐███████       ▐████    ▐█████▌ █▌    ████▌
    | ▀▀▀▀▀▀▀▀▀▀▀▀      ▀▀▀   ▀▀▀   ▀▀▀      ▀▀▀                                                      ▀▘ ▀▘  ▝▀       ▝▀▀▀▀▀▀▀       ▝▀▀▀▀    ▝▀▀▀▀▀▘ ▀▘    ▀▀▀▀▘
    | beat 3 of 4
    |                                                                               ██████████████████████████████████████
    |                                                                               ██████████████████████████████████████
    |                                                                               ██████████████████████████████████████
    | ▁▁▁▁▁▁▁▁▁▁▁▁▁▁▁▁▁▁▁▁▁▁▁▁▁▁▁▁▁▁▁▁▁▁▁▁▁▁ ▁▁▁▁▁▁▁▁▁▁▁▁▁▁▁▁▁▁▁▁▁▁▁▁▁▁▁▁▁▁▁▁▁▁▁▁▁▁ ██████████████████████████████████████ ▁▁▁▁▁▁▁▁▁▁▁▁▁▁▁▁▁▁▁▁▁▁▁▁▁▁▁▁▁▁▁▁▁▁▁▁▁▁
    | tempo                                                 plan 90 to 150
    | ▄█  ▄▀▀▀▄ ▄▀▀▀▄                                                         █                                                   ▁▁▁▁▁▁▁▁▁▁▁▁▁▁▁▁▁█████████████████
    |  █  █ ▄▀█    ▄▀                                                         █                                 ▃▃▃▃▃▃▃▃▃▃▃▃▃▃▃▃▃▃
    |  █  █▀  █  ▄▀                                                           █                ▅▅▅▅▅▅▅▅▅▅▅▅▅▅▅▅▅
    | ▀▀▀  ▀▀▀  ▀▀▀▀▀                                       ▁▁▁▁▁▁▁▁▁▁▁▁▁▁▁▁▁▁█▇▇▇▇▇▇▇▇▇▇▇▇▇▇▇▇
    | heard: click, pads, bass
    | bass muted
    ");
    insta::assert_snapshot!(screen(&playing(), 100, 30), @"
    | Low tide                                                      bar 12 of 64, verse, pass 2, A minor
    | ████████████████████        ████    ████                                ████████████████████
    | ████████████████████        ████    ████                                ████████████████████
    | ████                        ████    ████                                                ████
    | ████                        ████    ████                                                ████
    | ████                    ████████████████████    ████████    ████                    ████
    | ████                    ████████████████████    ████████    ████                    ████
    | ████████████████            ████    ████        ████    ████    ████            ████
    | ████████████████            ████    ████        ████    ████    ████            ████
    | ████                    ████████████████████    ████    ████    ████            ████
    | ████                    ████████████████████    ████    ████    ████            ████
    | ████                        ████    ████        ████    ████    ████        ████
    | ████                        ████    ████        ████    ████    ████        ████
    | ████                        ████    ████        ████    ████    ████        ████
    | ████                        ████    ████        ████    ████    ████        ████
    | next  then E7
    | █▀▀▀▄       ▀▀▀▀█                                           ▘    ▗▀▚  ▐
    | █▄▄▄▀ █▀▄▀▄   ▄▀                                            ▌▛▚    ▞  ▐▄ ▝▀▖▙▘▞▀
    | █   █ █ █ █  ▄▀                                             ▌▌▐   ▞   ▐ ▌▞▀▌▌ ▝▚
    | ▀▀▀▀  ▀ ▀ ▀  ▀                                              ▘▘▝  ▝▀▀  ▝▀ ▝▀▘▘ ▀▘
    | beat 3 of 4
    |                                                 ███████████████████████
    | ▁▁▁▁▁▁▁▁▁▁▁▁▁▁▁▁▁▁▁▁▁▁▁ ▁▁▁▁▁▁▁▁▁▁▁▁▁▁▁▁▁▁▁▁▁▁▁ ███████████████████████ ▁▁▁▁▁▁▁▁▁▁▁▁▁▁▁▁▁▁▁▁▁▁▁
    | tempo                             plan 90 to 150
    | ▄█  ▄▀▀▀▄ ▄▀▀▀▄                              █                               ▁▁▁▁▁▁▁▁▁▁▁██████████
    |  █  █ ▄▀█    ▄▀                              █                    ▃▃▃▃▃▃▃▃▃▃▃
    |  █  █▀  █  ▄▀                                █          ▅▅▅▅▅▅▅▅▅▅
    | ▀▀▀  ▀▀▀  ▀▀▀▀▀                   ▁▁▁▁▁▁▁▁▁▁▁█▇▇▇▇▇▇▇▇▇▇
    | heard: click, pads, bass
    | bass muted
    ");
    insta::assert_snapshot!(screen(&playing(), 80, 24), @"
    | Low tide                                  bar 12 of 64, verse, pass 2, A minor
    | ██████████    ██  ██                ██████████
    | ██            ██  ██                        ██
    | ██          ██████████  ████  ██          ██
    | ████████      ██  ██    ██  ██  ██      ██
    | ██          ██████████  ██  ██  ██      ██
    | ██            ██  ██    ██  ██  ██    ██
    | ██            ██  ██    ██  ██  ██    ██
    |
    | next  then E7
    | █▀▀▀▄       ▀▀▀▀█                               ▘    ▗▀▚  ▐
    | █▄▄▄▀ █▀▄▀▄   ▄▀                                ▌▛▚    ▞  ▐▄ ▝▀▖▙▘▞▀
    | █   █ █ █ █  ▄▀                                 ▌▌▐   ▞   ▐ ▌▞▀▌▌ ▝▚
    | ▀▀▀▀  ▀ ▀ ▀  ▀                                  ▘▘▝  ▝▀▀  ▝▀ ▝▀▘▘ ▀▘
    | beat 3 of 4
    |                                       ██████████████████
    | ▁▁▁▁▁▁▁▁▁▁▁▁▁▁▁▁▁▁ ▁▁▁▁▁▁▁▁▁▁▁▁▁▁▁▁▁▁ ██████████████████ ▁▁▁▁▁▁▁▁▁▁▁▁▁▁▁▁▁▁
    | tempo                      plan 90 to 150
    | ▄█  ▄▀▀▀▄ ▄▀▀▀▄                     █                        ▁▁▁▁▁▁▁▁▁████████
    |  █  █ ▄▀█    ▄▀                     █                ▃▃▃▃▃▃▃▃
    |  █  █▀  █  ▄▀                       █       ▅▅▅▅▅▅▅▅▅
    | ▀▀▀  ▀▀▀  ▀▀▀▀▀            ▁▁▁▁▁▁▁▁▁█▇▇▇▇▇▇▇
    | heard: click, pads, bass
    | bass muted
    ");
    insta::assert_snapshot!(screen(&playing(), 40, 12), @"
    | Low tide
    | bar 12 of 64, verse, pass 2, A minor
    | █▀▀▀▀  █ █        ▀▀▀▀█
    | █▄▄▄  ▀█▀█▀ █▀▄▀▄   ▄▀
    | █     ▀█▀█▀ █ █ █  ▄▀
    | ▀      ▀ ▀  ▀ ▀ ▀  ▀
    |
    | next Bm7 in 2 bars  then E7
    | ▁▁▁▁▁▁▁▁ ▁▁▁▁▁▁▁▁ ████████ ▁▁▁▁▁▁▁▁
    | tempo 102     plan 90 to 150 ▁|▂▃▃▅▆▆█
    | heard: click, pads, bass
    | bass muted
    ");
}

#[test]
fn colors_are_few() {
    let mut stage = playing();
    stage.parts[2].1 = false;
    let colored = buffer(&stage, None, Look::Colored, 80, 24);
    let plain = buffer(&stage, None, Look::Plain, 80, 24);
    assert_eq!(text(&colored), text(&plain));
    assert!(plain.content().iter().all(|cell| cell.fg == Color::Reset));
    // The first and the last column of each color of a row, where there is one.
    let mut listed = Vec::new();
    for y in 0..24 {
        for color in [Color::Cyan, Color::Green, Color::Red] {
            let columns = (0..80).filter(|x| colored[(*x, y)].fg == color);
            let columns: Vec<u16> = columns.collect();
            if let (Some(first), Some(last)) = (columns.first(), columns.last()) {
                listed.push(format!("row {y}: {color} {first} to {last}"));
            }
        }
    }
    insta::assert_snapshot!(listed.join("\n"), @"
    row 10: Cyan 1 to 68
    row 11: Cyan 1 to 68
    row 12: Cyan 1 to 68
    row 13: Cyan 1 to 68
    row 15: Green 39 to 56
    row 16: Green 39 to 56
    row 22: Red 1 to 31
    ");
}

#[test]
fn a_count_in_shows_the_first_chord() {
    let mut stage = playing();
    stage.place.bar = 0;
    stage.place.pass = None;
    stage.place.section = None;
    stage.chord = None;
    stage.plan = None;
    stage.next = vec![chord("Am7", 2, 1), chord("Dm7", 6, 2)];
    insta::assert_snapshot!(small(&stage), @"
    | Low tide             count-in, A minor
    |
    | ▄▀▀▀▄       ▀▀▀▀█
    | █▄▄▄█ █▀▄▀▄   ▄▀
    | █   █ █ █ █  ▄▀
    | ▀   ▀ ▀ ▀ ▀  ▀
    |
    | in 2 beats, then Dm7
    | ▁▁▁▁▁▁▁▁ ▁▁▁▁▁▁▁▁ ████████ ▁▁▁▁▁▁▁▁
    | tempo 102
    | heard: click, pads, bass
    |
    ");
    insta::assert_snapshot!(screen(&stage, 80, 24), @"
    | Low tide                                                     count-in, A minor
    |   ██████                ██████████
    | ██      ██                      ██
    | ██      ██  ████  ██          ██
    | ██████████  ██  ██  ██      ██
    | ██      ██  ██  ██  ██      ██
    | ██      ██  ██  ██  ██    ██
    | ██      ██  ██  ██  ██    ██
    |
    | then                                            Am7 begins
    | █▀▀▀▄       ▀▀▀▀█                               ▘    ▗▀▚  ▐        ▌
    | █   █ █▀▄▀▄   ▄▀                                ▌▛▚    ▞  ▐▄ ▞▚ ▀▚▝▛▗▀▘
    | █   █ █ █ █  ▄▀                                 ▌▌▐   ▞   ▐ ▌▛▀▗▀▜ ▌ ▀▖
    | ▀▀▀▀  ▀ ▀ ▀  ▀                                  ▘▘▝  ▝▀▀  ▝▀ ▝▀ ▀▀ ▝▝▀
    | beat 3 of 4
    |                                       ██████████████████
    | ▁▁▁▁▁▁▁▁▁▁▁▁▁▁▁▁▁▁ ▁▁▁▁▁▁▁▁▁▁▁▁▁▁▁▁▁▁ ██████████████████ ▁▁▁▁▁▁▁▁▁▁▁▁▁▁▁▁▁▁
    | tempo
    | ▄█  ▄▀▀▀▄ ▄▀▀▀▄
    |  █  █ ▄▀█    ▄▀
    |  █  █▀  █  ▄▀
    | ▀▀▀  ▀▀▀  ▀▀▀▀▀
    | heard: click, pads, bass
    | bass muted
    ");
    stage.next.pop();
    insta::assert_snapshot!(small(&stage), @"
    | Low tide             count-in, A minor
    |
    | ▄▀▀▀▄       ▀▀▀▀█
    | █▄▄▄█ █▀▄▀▄   ▄▀
    | █   █ █ █ █  ▄▀
    | ▀   ▀ ▀ ▀ ▀  ▀
    |
    | in 2 beats
    | ▁▁▁▁▁▁▁▁ ▁▁▁▁▁▁▁▁ ████████ ▁▁▁▁▁▁▁▁
    | tempo 102
    | heard: click, pads, bass
    |
    ");
}

#[test]
fn paused_is_a_word() {
    let stage = Stage {
        paused: true,
        ..playing()
    };
    insta::assert_snapshot!(small(&stage), @"
    | Low tide
    | bar 12 of 64, verse, pass 2, A minor
    | █▀▀▀▀  █ █        ▀▀▀▀█
    | █▄▄▄  ▀█▀█▀ █▀▄▀▄   ▄▀
    | █     ▀█▀█▀ █ █ █  ▄▀
    | ▀      ▀ ▀  ▀ ▀ ▀  ▀
    |
    | next Bm7 in 2 bars  then E7
    | paused
    | tempo 102     plan 90 to 150 ▁|▂▃▃▅▆▆█
    | heard: click, pads, bass
    |
    ");
    insta::assert_snapshot!(screen(&stage, 80, 24), @"
    | Low tide                                  bar 12 of 64, verse, pass 2, A minor
    | ██████████    ██  ██                ██████████
    | ██            ██  ██                        ██
    | ██          ██████████  ████  ██          ██
    | ████████      ██  ██    ██  ██  ██      ██
    | ██          ██████████  ██  ██  ██      ██
    | ██            ██  ██    ██  ██  ██    ██
    | ██            ██  ██    ██  ██  ██    ██
    |
    | next  then E7
    | █▀▀▀▄       ▀▀▀▀█                               ▘    ▗▀▚  ▐
    | █▄▄▄▀ █▀▄▀▄   ▄▀                                ▌▛▚    ▞  ▐▄ ▝▀▖▙▘▞▀
    | █   █ █ █ █  ▄▀                                 ▌▌▐   ▞   ▐ ▌▞▀▌▌ ▝▚
    | ▀▀▀▀  ▀ ▀ ▀  ▀                                  ▘▘▝  ▝▀▀  ▝▀ ▝▀▘▘ ▀▘
    | beat 3 of 4
    | paused
    |
    | tempo                      plan 90 to 150
    | ▄█  ▄▀▀▀▄ ▄▀▀▀▄                     █                        ▁▁▁▁▁▁▁▁▁████████
    |  █  █ ▄▀█    ▄▀                     █                ▃▃▃▃▃▃▃▃
    |  █  █▀  █  ▄▀                       █       ▅▅▅▅▅▅▅▅▅
    | ▀▀▀  ▀▀▀  ▀▀▀▀▀            ▁▁▁▁▁▁▁▁▁█▇▇▇▇▇▇▇
    | heard: click, pads, bass
    | bass muted
    ");
}

#[test]
fn a_loop_and_parts_that_are_muted() {
    let mut stage = playing();
    stage.looped = Some((9, 16));
    stage.parts[0].1 = false;
    stage.parts[2].1 = false;
    insta::assert_snapshot!(small(&stage), @"
    | Low tide
    | bar 12 of 64, loop 9 to 16, verse,
    | pass 2, A minor
    | █▀▀▀▀  █ █        ▀▀▀▀█
    | █▄▄▄  ▀█▀█▀ █▀▄▀▄   ▄▀
    | █     ▀█▀█▀ █ █ █  ▄▀
    | ▀      ▀ ▀  ▀ ▀ ▀  ▀
    | next Bm7 in 2 bars  then E7
    | ▁▁▁▁▁▁▁▁ ▁▁▁▁▁▁▁▁ ████████ ▁▁▁▁▁▁▁▁
    | tempo 102     plan 90 to 150 ▁|▂▃▃▅▆▆█
    | muted: click, bass; heard: pads
    |
    ");
    stage.parts = vec![("strummed guitar", false); 6];
    insta::assert_snapshot!(small(&stage), @"
    | Low tide
    | bar 12 of 64, loop 9 to 16, verse,
    | pass 2, A minor
    | █▀▀▀▀  █ █        ▀▀▀▀█
    | █▄▄▄  ▀█▀█▀ █▀▄▀▄   ▄▀
    | █     ▀█▀█▀ █ █ █  ▄▀
    | ▀      ▀ ▀  ▀ ▀ ▀  ▀
    | next Bm7 in 2 bars  then E7
    | ▁▁▁▁▁▁▁▁ ▁▁▁▁▁▁▁▁ ████████ ▁▁▁▁▁▁▁▁
    | tempo 102     plan 90 to 150 ▁|▂▃▃▅▆▆█
    | muted: strummed guitar, strummed gu...
    |
    ");
}

#[test]
fn no_chord_and_no_plan_and_no_end() {
    let mut stage = playing();
    stage.place.of = None;
    stage.plan = None;
    stage.chord = Some(chord("N.C.", 1, 1));
    insta::assert_snapshot!(small(&stage), @"
    | Low tide
    | bar 12, verse, pass 2, A minor
    | █▄  █   ▄▀▀▀▄
    | █▀▄ █   █
    | █  ██   █   ▄
    | ▀   ▀ ▀  ▀▀▀  ▀
    |
    | next Bm7 in 2 bars  then E7
    | ▁▁▁▁▁▁▁▁ ▁▁▁▁▁▁▁▁ ████████ ▁▁▁▁▁▁▁▁
    | tempo 102
    | heard: click, pads, bass
    |
    ");
    stage.next.clear();
    stage.chord = None;
    stage.parts.clear();
    insta::assert_snapshot!(small(&stage), @"
    | Low tide
    | bar 12, verse, pass 2, A minor
    |
    |
    | ▄▄▄
    |
    |
    |
    | no other chord
    | ▁▁▁▁▁▁▁▁ ▁▁▁▁▁▁▁▁ ████████ ▁▁▁▁▁▁▁▁
    | tempo 102
    |
    ");
}

#[test]
fn a_long_symbol_takes_narrow_letters_then_plain_text() {
    let mut stage = playing();
    stage.chord = Some(chord("F#m7b5/E", 0, 0));
    stage.next = vec![chord("C#maj7sus4/G#", 0, 0)];
    insta::assert_snapshot!(screen(&stage, 80, 24), @"
    | Low tide                                  bar 12 of 64, verse, pass 2, A minor
    | ███████▌  ▐█ ▐█            ███████▌ █▌     ▐███████      █▌ ███████▌
    | █▌        ▐█ ▐█                  █▌ █▌     ▐█            █▌ █▌
    | █▌       ███████▌ ███ ▐█       ▐█   █▌     ▐█████▌     ▐█   █▌
    | ██████    ▐█ ▐█   █▌ █▌ █▌    █▌    ████▌        ▐█    ▐█   ██████
    | █▌       ███████▌ █▌ █▌ █▌    █▌    █▌  ▐█       ▐█   █▌    █▌
    | █▌        ▐█ ▐█   █▌ █▌ █▌  ▐█      █▌  ▐█ ▐█    ▐█   █▌    █▌
    | █▌        ▐█ ▐█   █▌ █▌ █▌  ▐█      ████▌    ████▌  ▐█      ███████▌
    |
    | next
    | ▞▀▖▐▐        ▘▀▀▌        ▗▌  ▌▞▀▖▐▐             ▘     ▌▐  ▘    ▐        ▌
    | ▌  ▜▜▘▛▞▖▝▀▖ ▌ ▞ ▞▀▐ ▌▞▀▗▘▌ ▐ ▌▄▖▜▜▘            ▌▛▚  ▝▛▐▄ ▌▞▀  ▐▄ ▞▚ ▀▚▝▛
    | ▌ ▖▜▜▘▌▌▌▞▀▌▖▌▗▘ ▝▚▐ ▌▝▚▝▀▛ ▌ ▌ ▌▜▜▘            ▌▌▐   ▌▐ ▌▌▝▚  ▐ ▌▛▀▗▀▜ ▌
    | ▝▀ ▝▝ ▘▘▘▝▀▘▝ ▝  ▀▘ ▀▘▀▘  ▘▝  ▝▀ ▝▝             ▘▘▝   ▝▝ ▘▘▀▘  ▝▀ ▝▀ ▀▀ ▝
    | beat 3 of 4
    |                                       ██████████████████
    | ▁▁▁▁▁▁▁▁▁▁▁▁▁▁▁▁▁▁ ▁▁▁▁▁▁▁▁▁▁▁▁▁▁▁▁▁▁ ██████████████████ ▁▁▁▁▁▁▁▁▁▁▁▁▁▁▁▁▁▁
    | tempo                      plan 90 to 150
    | ▄█  ▄▀▀▀▄ ▄▀▀▀▄                     █                        ▁▁▁▁▁▁▁▁▁████████
    |  █  █ ▄▀█    ▄▀                     █                ▃▃▃▃▃▃▃▃
    |  █  █▀  █  ▄▀                       █       ▅▅▅▅▅▅▅▅▅
    | ▀▀▀  ▀▀▀  ▀▀▀▀▀            ▁▁▁▁▁▁▁▁▁█▇▇▇▇▇▇▇
    | heard: click, pads, bass
    | bass muted
    ");
    stage.chord = Some(chord("C##:(1,b2,b3,3,b5,5,b6,6,b7,7,#9)/F#", 0, 0));
    insta::assert_snapshot!(small(&stage), @"
    | Low tide
    | bar 12 of 64, verse, pass 2, A minor
    | C##:(1,b2,b3,3,b5,5,b6,6,b7,7,#9)/F#
    |
    |
    |
    |
    | next C#maj7sus4/G# in this beat
    | ▁▁▁▁▁▁▁▁ ▁▁▁▁▁▁▁▁ ████████ ▁▁▁▁▁▁▁▁
    | tempo 102     plan 90 to 150 ▁|▂▃▃▅▆▆█
    | heard: click, pads, bass
    |
    ");
}

#[test]
fn at_the_large_size_letters_are_high_enough() {
    let stage = playing();
    let rows_of = |text: &str, columns, rows| {
        let letters = Letters::largest(text, columns, rows);
        letters.map(|letters| letters.height())
    };
    let sizes = Sizes::of(50);
    for name in ["A", "F#m7", "F#m7b5/E", "Bbmaj7sus4"] {
        // The rows that all else takes, of the same screen with a long head and a long line of parts.
        let rest = 3 + 4 + sizes.next + sizes.beats + sizes.foot + 2 + 1;
        assert!(rows_of(name, 158, 50 - rest) >= Some(10), "{name}");
        assert!(rows_of(name, 93, sizes.next) >= Some(4), "{name}");
    }
    assert!(sizes.beats >= 4);
    assert!(rows_of("123.45", 50, sizes.foot) >= Some(4));
    for text in [
        "paused",
        "in this beat",
        "in 12 beats",
        "in 23 bars",
        "no other chord",
    ] {
        assert!(rows_of(text, 62, 4) >= Some(4), "{text}");
    }
    assert_eq!(when(&stage.next[0]), "in 2 bars");
    assert_eq!(when(&chord("A", 0, 0)), "in this beat");
    assert_eq!(when(&chord("A", 1, 0)), "in 1 beat");
    assert_eq!(when(&chord("A", 4, 1)), "in 4 beats");
}

#[test]
fn a_beat_changes_its_marks_alone() {
    let mut stage = playing();
    let before = buffer(&stage, None, Look::Plain, 160, 50);
    stage.beat = 4;
    let after = buffer(&stage, None, Look::Plain, 160, 50);
    let changed = before.diff(&after);
    let rows = changed.iter().map(|(_, y, _)| *y);
    assert_eq!((rows.clone().min(), rows.max()), (Some(38), Some(42)));
    let columns = changed.iter().map(|(x, _, _)| *x);
    assert!(columns.filter(|x| (12..79).contains(x)).count() == 0);
}

#[test]
fn every_size_is_drawn_or_refused() {
    let mut stage = playing();
    stage.beats = 32;
    stage.title = "A title that is longer than any screen ".repeat(9);
    stage.place.section = Some("\u{6f22}".repeat(90));
    for columns in [0, 39, 40, 41, 63, 80, 121, 160] {
        for rows in [0, 1, 11, 12, 13, 23, 24, 25, 39, 40, 41, 60] {
            let area = Rect::new(0, 0, columns, rows);
            let drawn = buffer(&stage, Some("said"), Look::Colored, columns, rows);
            let is_empty = drawn.content().iter().all(|cell| cell.symbol() == " ");
            assert_eq!(is_empty, columns < 40 || rows < 12, "{area}");
            assert_eq!(fits(area), !is_empty, "{area}");
            if fits(area) {
                let text = text(&drawn);
                assert!(text.contains("..."), "{area}");
                assert!(text.contains("said"), "{area}");
            }
        }
    }
    // An area that reaches beyond the buffer.
    let mut buffer = Buffer::empty(Rect::new(0, 0, 45, 13));
    draw_stage(
        &stage,
        None,
        Look::Plain,
        Rect::new(3, 1, 200, 90),
        &mut buffer,
    );
    assert!(text(&buffer).contains("A title"));
}
