//! The screen, pinned in four sizes and in every state.

mod picture;

use ratatui::style::Color;

use super::letters::Letters;
use super::*;
use crate::view::stage::{StageMove, StageNeck, StagePlace, StagePlan, StageTrouble};

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
            counts_in: false,
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
        state: StageState::Plays,
        moves: None,
        beat_moves: true,
        neck: None,
        trouble: None,
        ask: None,
        said: None,
    }
}

fn buffer(stage: &Stage, said: Option<&str>, look: Look, columns: u16, rows: u16) -> Buffer {
    let area = Rect::new(0, 0, columns, rows);
    let mut buffer = Buffer::empty(area);
    let said = said.map(str::to_owned);
    let stage = Stage {
        said,
        ..stage.clone()
    };
    draw_stage(&stage, look, area, &mut buffer);
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
    | Low tide
    | ▌        ▗▌▗▀▚     ▞▘  ▗▀  ▟                                 ▞▀▖   ▗▀▚     ▝
    | ▙▖ ▀▚▐▞   ▌  ▞  ▗▀▖▛▘  ▙▄ ▞▐    ▐ ▐▗▀▖▙▘▞▀▗▀▖   ▐▀▖▝▀▖▞▀▗▀▘   ▗▘   ▐▄▟  ▐▚▚▐▐▀▖▞▚▐▞
    | ▌▐▗▀▜▐    ▌ ▞   ▐ ▌▌   ▌ ▌▀▜▘▗   ▌▌▐▀▘▌ ▝▚▐▀▘▗  ▐▀ ▞▀▌▝▚ ▀▖  ▗▘ ▗  ▐ ▐  ▐▐▐▐▐ ▌▌▐▐
    | ▀▘ ▀▀▝   ▝▀▝▀▀   ▀ ▘   ▝▀  ▝ ▘   ▝  ▀▘▘ ▀▘ ▀▘▘  ▝  ▝▀▘▀▘▝▀   ▀▀▘▘  ▝ ▝  ▝▝▝▝▝ ▘▝▘▝
    | now
    |
    | █████████████████████████          █████     █████                                        █████████████████████████
    | █████████████████████████          █████     █████                                        █████████████████████████
    | █████▀▀▀▀▀▀▀▀▀▀▀▀▀▀▀▀▀▀▀▀          █████     █████                                        ▀▀▀▀▀▀▀▀▀▀▀▀▀▀▀▀▀▀▀▀█████
    | █████                              █████     █████                                                            █████
    | █████                              █████     █████                                                            █████
    | █████                         █████████████████████████     ██████████     █████                         █████
    | █████                         █████████████████████████     ██████████     █████                         █████
    | █████▄▄▄▄▄▄▄▄▄▄▄▄▄▄▄          ▀▀▀▀▀█████▀▀▀▀▀█████▀▀▀▀▀     █████▀▀▀▀▀▄▄▄▄▄▀▀▀▀▀▄▄▄▄▄               ▄▄▄▄▄▀▀▀▀▀
    | ████████████████████               █████     █████          █████     █████     █████               █████
    | ████████████████████               █████     █████          █████     █████     █████               █████
    | █████                         █████████████████████████     █████     █████     █████               █████
    | █████                         █████████████████████████     █████     █████     █████               █████
    | █████                         ▀▀▀▀▀█████▀▀▀▀▀█████▀▀▀▀▀     █████     █████     █████          ▄▄▄▄▄▀▀▀▀▀
    | █████                              █████     █████          █████     █████     █████          █████
    | █████                              █████     █████          █████     █████     █████          █████
    | █████                              █████     █████          █████     █████     █████          █████
    | █████                              █████     █████          █████     █████     █████          █████
    | ▀▀▀▀▀                              ▀▀▀▀▀     ▀▀▀▀▀          ▀▀▀▀▀     ▀▀▀▀▀     ▀▀▀▀▀          ▀▀▀▀▀
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
    stage.place.counts_in = true;
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
        state: StageState::Paused,
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
    | paused: space goes on
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
    | space goes on
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
    | ▄█  ▄▀▀▀▄ ▄▀▀▀▄
    |  █  █ ▄▀█    ▄▀
    |  █  █▀  █  ▄▀
    | ▀▀▀  ▀▀▀  ▀▀▀▀▀
    |
    | bar 12
    | ▁▁▁▁▁▁▁▁ ▁▁▁▁▁▁▁▁ ████████ ▁▁▁▁▁▁▁▁
    |
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
    let area = Rect::new(0, 0, 158, 50);
    let with_neck = Stage {
        neck: Some(pentatonic()),
        ..playing()
    };
    // With a long title line and two lines of parts.
    let sizes = Rows::of(&stage, area, 5);
    let beside_neck = Rows::of(&with_neck, area, 5);
    assert_eq!(beside_neck.neck, Some(layout::NeckHeight::Tall));
    for (sizes, neck) in [(sizes, 0), (beside_neck, 14)] {
        let rest = sizes.sum() + 5 + neck;
        for name in ["A", "F#m7", "F#m7b5/E", "Bbmaj7sus4"] {
            assert!(rows_of(name, 158, 50 - rest) >= Some(10), "{name}");
            assert!(rows_of(name, 93, sizes.next) >= Some(4), "{name}");
        }
        assert!(rows_of("12/64  verse  pass 2  A minor", 158, sizes.place) >= Some(4));
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

/// The notes of A minor pentatonic while Am is heard.
fn pentatonic() -> StageNeck {
    let set = crate::theory::Scale::read("A minor pentatonic").unwrap();
    let chord = crate::theory::figure::read("Am").unwrap();
    let chord = chord.resolve(None).unwrap();
    StageNeck::of(&set, Some(chord), &crate::neck::Neck::standard())
}

#[test]
fn the_set_on_the_neck() {
    let stage = Stage {
        neck: Some(pentatonic()),
        ..playing()
    };
    insta::assert_snapshot!(screen(&stage, 160, 50), @"
    | Low tide
    | ▌        ▗▌▗▀▚     ▞▘  ▗▀  ▟                                 ▞▀▖   ▗▀▚     ▝
    | ▙▖ ▀▚▐▞   ▌  ▞  ▗▀▖▛▘  ▙▄ ▞▐    ▐ ▐▗▀▖▙▘▞▀▗▀▖   ▐▀▖▝▀▖▞▀▗▀▘   ▗▘   ▐▄▟  ▐▚▚▐▐▀▖▞▚▐▞
    | ▌▐▗▀▜▐    ▌ ▞   ▐ ▌▌   ▌ ▌▀▜▘▗   ▌▌▐▀▘▌ ▝▚▐▀▘▗  ▐▀ ▞▀▌▝▚ ▀▖  ▗▘ ▗  ▐ ▐  ▐▐▐▐▐ ▌▌▐▐
    | ▀▘ ▀▀▝   ▝▀▝▀▀   ▀ ▘   ▝▀  ▝ ▘   ▝  ▀▘▘ ▀▘ ▀▘▘  ▝  ▝▀▘▀▘▝▀   ▀▀▘▘  ▝ ▝  ▝▝▝▝▝ ▘▝▘▝
    | now
    |
    | ███████████████      ███   ███                        ███████████████
    | ███▀▀▀▀▀▀▀▀▀▀▀▀      ███   ███                        ▀▀▀▀▀▀▀▀▀▀▀▀███
    | ███                  ███   ███                                    ███
    | ███               ███████████████   ██████   ███               ███
    | ███▄▄▄▄▄▄▄▄▄      ▀▀▀███▀▀▀███▀▀▀   ███▀▀▀▄▄▄▀▀▀▄▄▄         ▄▄▄▀▀▀
    | ████████████         ███   ███      ███   ███   ███         ███
    | ███               ███████████████   ███   ███   ███         ███
    | ███               ▀▀▀███▀▀▀███▀▀▀   ███   ███   ███      ▄▄▄▀▀▀
    | ███                  ███   ███      ███   ███   ███      ███
    | ███                  ███   ███      ███   ███   ███      ███
    | ▀▀▀                  ▀▀▀   ▀▀▀      ▀▀▀   ▀▀▀   ▀▀▀      ▀▀▀
    |
    | next  then E7
    | █▀▀▀▄       ▀▀▀▀█                                                                               ▀          ▄▀▀▀▄     █
    | █▄▄▄▀ █▀▄▀▄   ▄▀                                                                                █ █▀▀▄        ▄▀     █▄▄   ▀▀▀▄ █▄▀ ▄▀▀▀
    | █   █ █ █ █  ▄▀                                                                                 █ █  █      ▄▀       █  █ ▄▀▀▀█ █    ▀▀▄
    | ▀▀▀▀  ▀ ▀ ▀  ▀                                                                                  ▀ ▀  ▀     ▀▀▀▀▀     ▀▀▀   ▀▀▀▀ ▀   ▀▀▀
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
    | A minor pentatonic   gap: root, high: in the chord
    |                                     3fr                   5fr                   7fr                   9fr                              12fr
    | E    ▄▄▄▄▄  ||          |          |          |          |  ▄▄  ▄▄  |          |          |  ▄▄▄▄▄▄  |          |          |          |  ▄▄▄▄▄▄  |
    |    ▁▁█████▁▁||▁▁▁▁▁▁▁▁▁▁|▁▁▁▁▁▁▁▁▁▁|▁▁▄▄▄▄▄▄▁▁|▁▁▁▁▁▁▁▁▁▁|▁▁██  ██▁▁|▁▁▁▁▁▁▁▁▁▁|▁▁▁▁▁▁▁▁▁▁|▁▁██████▁▁|▁▁▁▁▁▁▁▁▁▁|▁▁▄▄▄▄▄▄▁▁|▁▁▁▁▁▁▁▁▁▁|▁▁██████▁▁|
    | B           ||  ▄▄▄▄▄▄  |          |          |          |  ▄▄▄▄▄▄  |          |          |          |          |  ▄▄  ▄▄  |          |          |
    |    ▁▁▁▁▁▁▁▁▁||▁▁██████▁▁|▁▁▁▁▁▁▁▁▁▁|▁▁▄▄▄▄▄▄▁▁|▁▁▁▁▁▁▁▁▁▁|▁▁██████▁▁|▁▁▁▁▁▁▁▁▁▁|▁▁▁▁▁▁▁▁▁▁|▁▁▄▄▄▄▄▄▁▁|▁▁▁▁▁▁▁▁▁▁|▁▁██  ██▁▁|▁▁▁▁▁▁▁▁▁▁|▁▁▁▁▁▁▁▁▁▁|
    | G           ||          |  ▄▄  ▄▄  |          |          |  ▄▄▄▄▄▄  |          |          |          |  ▄▄▄▄▄▄  |          |          |          |
    |    ▁▁▄▄▄▄▄▁▁||▁▁▁▁▁▁▁▁▁▁|▁▁██  ██▁▁|▁▁▁▁▁▁▁▁▁▁|▁▁▁▁▁▁▁▁▁▁|▁▁██████▁▁|▁▁▁▁▁▁▁▁▁▁|▁▁▄▄▄▄▄▄▁▁|▁▁▁▁▁▁▁▁▁▁|▁▁██████▁▁|▁▁▁▁▁▁▁▁▁▁|▁▁▁▁▁▁▁▁▁▁|▁▁▄▄▄▄▄▄▁▁|
    | D           ||          |  ▄▄▄▄▄▄  |          |          |          |          |  ▄▄  ▄▄  |          |          |  ▄▄▄▄▄▄  |          |          |
    |    ▁▁▄▄▄▄▄▁▁||▁▁▁▁▁▁▁▁▁▁|▁▁██████▁▁|▁▁▁▁▁▁▁▁▁▁|▁▁▁▁▁▁▁▁▁▁|▁▁▄▄▄▄▄▄▁▁|▁▁▁▁▁▁▁▁▁▁|▁▁██  ██▁▁|▁▁▁▁▁▁▁▁▁▁|▁▁▁▁▁▁▁▁▁▁|▁▁██████▁▁|▁▁▁▁▁▁▁▁▁▁|▁▁▄▄▄▄▄▄▁▁|
    | A    ▄▄ ▄▄  ||          |          |  ▄▄▄▄▄▄  |          |          |          |  ▄▄▄▄▄▄  |          |          |          |          |  ▄▄  ▄▄  |
    |    ▁▁██ ██▁▁||▁▁▁▁▁▁▁▁▁▁|▁▁▁▁▁▁▁▁▁▁|▁▁██████▁▁|▁▁▁▁▁▁▁▁▁▁|▁▁▄▄▄▄▄▄▁▁|▁▁▁▁▁▁▁▁▁▁|▁▁██████▁▁|▁▁▁▁▁▁▁▁▁▁|▁▁▁▁▁▁▁▁▁▁|▁▁▄▄▄▄▄▄▁▁|▁▁▁▁▁▁▁▁▁▁|▁▁██  ██▁▁|
    | E    ▄▄▄▄▄  ||          |          |          |          |  ▄▄  ▄▄  |          |          |  ▄▄▄▄▄▄  |          |          |          |  ▄▄▄▄▄▄  |
    |    ▁▁█████▁▁||▁▁▁▁▁▁▁▁▁▁|▁▁▁▁▁▁▁▁▁▁|▁▁▄▄▄▄▄▄▁▁|▁▁▁▁▁▁▁▁▁▁|▁▁██  ██▁▁|▁▁▁▁▁▁▁▁▁▁|▁▁▁▁▁▁▁▁▁▁|▁▁██████▁▁|▁▁▁▁▁▁▁▁▁▁|▁▁▄▄▄▄▄▄▁▁|▁▁▁▁▁▁▁▁▁▁|▁▁██████▁▁|
    | heard: click, pads, bass
    | bass muted
    ");
    insta::assert_snapshot!(screen(&stage, 80, 35), @"
    | Low tide                                  bar 12 of 64, verse, pass 2, A minor
    | ███████████████      ███   ███                        ███████████████
    | ███▀▀▀▀▀▀▀▀▀▀▀▀      ███   ███                        ▀▀▀▀▀▀▀▀▀▀▀▀███
    | ███                  ███   ███                                    ███
    | ███               ███████████████   ██████   ███               ███
    | ███▄▄▄▄▄▄▄▄▄      ▀▀▀███▀▀▀███▀▀▀   ███▀▀▀▄▄▄▀▀▀▄▄▄         ▄▄▄▀▀▀
    | ████████████         ███   ███      ███   ███   ███         ███
    | ███               ███████████████   ███   ███   ███         ███
    | ███               ▀▀▀███▀▀▀███▀▀▀   ███   ███   ███      ▄▄▄▀▀▀
    | ███                  ███   ███      ███   ███   ███      ███
    | ███                  ███   ███      ███   ███   ███      ███
    | ▀▀▀                  ▀▀▀   ▀▀▀      ▀▀▀   ▀▀▀   ▀▀▀      ▀▀▀
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
    | A minor pentatonic   gap: root, high: in the chord
    |                   3fr       5fr       7fr       9fr            12fr
    | E  ▆▆▆||▁▁▁▁|▁▁▁▁|▃▃▃▁|▁▁▁▁|▆ ▆▁|▁▁▁▁|▁▁▁▁|▆▆▆▁|▁▁▁▁|▃▃▃▁|▁▁▁▁|▆▆▆▁|
    | B  ▁▁▁||▆▆▆▁|▁▁▁▁|▃▃▃▁|▁▁▁▁|▆▆▆▁|▁▁▁▁|▁▁▁▁|▃▃▃▁|▁▁▁▁|▆ ▆▁|▁▁▁▁|▁▁▁▁|
    | G  ▃▃▃||▁▁▁▁|▆ ▆▁|▁▁▁▁|▁▁▁▁|▆▆▆▁|▁▁▁▁|▃▃▃▁|▁▁▁▁|▆▆▆▁|▁▁▁▁|▁▁▁▁|▃▃▃▁|
    | D  ▃▃▃||▁▁▁▁|▆▆▆▁|▁▁▁▁|▁▁▁▁|▃▃▃▁|▁▁▁▁|▆ ▆▁|▁▁▁▁|▁▁▁▁|▆▆▆▁|▁▁▁▁|▃▃▃▁|
    | A  ▆ ▆||▁▁▁▁|▁▁▁▁|▆▆▆▁|▁▁▁▁|▃▃▃▁|▁▁▁▁|▆▆▆▁|▁▁▁▁|▁▁▁▁|▃▃▃▁|▁▁▁▁|▆ ▆▁|
    | E  ▆▆▆||▁▁▁▁|▁▁▁▁|▃▃▃▁|▁▁▁▁|▆ ▆▁|▁▁▁▁|▁▁▁▁|▆▆▆▁|▁▁▁▁|▃▃▃▁|▁▁▁▁|▆▆▆▁|
    | heard: click, pads, bass
    | bass muted
    ");
    // Where something is asked, a neck would give the answer away.
    let asked = Stage {
        ask: Some(StageAsk::default()),
        ..stage
    };
    assert!(!screen(&asked, 160, 50).contains("gap: root"));
}

#[test]
fn what_is_asked_and_what_came_of_it() {
    let mut stage = playing();
    stage.ask = Some(StageAsk {
        text: "Bb on string 6?".to_owned(),
        how: Some("type the fret".to_owned()),
        answer: None,
        judged: None,
    });
    insta::assert_snapshot!(screen(&stage, 100, 30), @"
    | Low tide                                                      bar 12 of 64, verse, pass 2, A minor
    |
    |
    |
    | ████  █                            █      █                 ██   ███
    | █   █ █                            █                       █    █   █
    | █   █ █         ██  ███       ███ ███ █ █ █ ███   ███     █         █
    | ████  ███      █  █ █  █     █     █  ██  █ █  █ █  █     ████    ██
    | █   █ █  █     █  █ █  █      ██   █  █   █ █  █  ███     █   █   █
    | █   █ █  █     █  █ █  █        █  █  █   █ █  █    █     █   █
    | ████  ███       ██  █  █     ███    █ █   █ █  █  ██       ███    █
    |
    |
    |
    |
    |
    |
    |
    |
    |
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
    insta::assert_snapshot!(small(&stage), @"
    | Low tide
    | bar 12 of 64, verse, pass 2, A minor
    | ▛▀▖▌             ▐   ▘       ▗▀ ▞▀▖
    | ▙▄▘▙▖  ▗▀▖▛▚  ▗▀▘▜▘▙▘▌▛▚▗▀▌  ▙▄  ▄▘
    | ▌ ▌▌▐  ▐ ▌▌▐   ▀▖▐ ▌ ▌▌▐ ▀▌  ▌ ▌ ▘
    | ▀▀ ▀▘   ▀ ▘▝  ▝▀  ▘▘ ▘▘▝ ▀   ▝▀  ▘
    |
    | type the fret
    | ▁▁▁▁▁▁▁▁ ▁▁▁▁▁▁▁▁ ████████ ▁▁▁▁▁▁▁▁
    | tempo 102     plan 90 to 150 ▁|▂▃▃▅▆▆█
    | heard: click, pads, bass
    |
    ");
    stage.ask = Some(StageAsk {
        text: "Bb on string 6?".to_owned(),
        how: None,
        answer: Some("6".to_owned()),
        judged: Some("right, at once".to_owned()),
    });
    insta::assert_snapshot!(screen(&stage, 100, 30), @"
    | Low tide                                                      bar 12 of 64, verse, pass 2, A minor
    |
    |
    |
    | ████  █                            █      █                 ██   ███
    | █   █ █                            █                       █    █   █
    | █   █ █         ██  ███       ███ ███ █ █ █ ███   ███     █         █
    | ████  ███      █  █ █  █     █     █  ██  █ █  █ █  █     ████    ██
    | █   █ █  █     █  █ █  █      ██   █  █   █ █  █  ███     █   █   █
    | █   █ █  █     █  █ █  █        █  █  █   █ █  █    █     █   █
    | ████  ███       ██  █  █     ███    █ █   █ █  █  ██       ███    █
    |
    |
    |
    |
    | answer
    |  ▄▀▀              ▀      █     █                █
    | █▄▄▄          █▄▀ █ ▄▀▀█ █▄▄  ▀█▀         ▀▀▀▄ ▀█▀     ▄▀▀▄ █▀▀▄ ▄▀▀▀ ▄▀▀▄
    | █   █         █   █  ▀▀█ █  █  █   ▄     ▄▀▀▀█  █      █  █ █  █ █    █▀▀▀
    |  ▀▀▀          ▀   ▀  ▀▀  ▀  ▀   ▀ ▀       ▀▀▀▀   ▀      ▀▀  ▀  ▀  ▀▀▀  ▀▀▀
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
    insta::assert_snapshot!(small(&stage), @"
    | Low tide
    | bar 12 of 64, verse, pass 2, A minor
    | ▛▀▖▌             ▐   ▘       ▗▀ ▞▀▖
    | ▙▄▘▙▖  ▗▀▖▛▚  ▗▀▘▜▘▙▘▌▛▚▗▀▌  ▙▄  ▄▘
    | ▌ ▌▌▐  ▐ ▌▌▐   ▀▖▐ ▌ ▌▌▐ ▀▌  ▌ ▌ ▘
    | ▀▀ ▀▘   ▀ ▘▝  ▝▀  ▘▘ ▘▘▝ ▀   ▝▀  ▘
    |
    | 6  right, at once
    | ▁▁▁▁▁▁▁▁ ▁▁▁▁▁▁▁▁ ████████ ▁▁▁▁▁▁▁▁
    | tempo 102     plan 90 to 150 ▁|▂▃▃▅▆▆█
    | heard: click, pads, bass
    |
    ");
}

#[test]
fn waiting_says_for_what() {
    let stage = Stage {
        state: StageState::Waits("the clock of looper".to_owned()),
        ..playing()
    };
    insta::assert_snapshot!(screen(&stage, 160, 50).lines().skip(36).take(6).collect::<Vec<_>>().join("\n"), @"
    | ████████████      ███   ███   ███      ███                                                      █▌ █▌  ▐█       ▐███████       ▐████    ▐█████▌ █▌    ████▌
    | ▀▀▀▀▀▀▀▀▀▀▀▀      ▀▀▀   ▀▀▀   ▀▀▀      ▀▀▀                                                      ▀▘ ▀▘  ▝▀       ▝▀▀▀▀▀▀▀       ▝▀▀▀▀    ▝▀▀▀▀▀▘ ▀▘    ▀▀▀▀▘
    | for the clock of looper
    |             ▀  █
    | █ ▄ █  ▀▀▀▄ █ ▀█▀ ▄▀▀▀
    | █ █ █ ▄▀▀▀█ █  █   ▀▀▄
    ");
    insta::assert_snapshot!(small(&stage), @"
    | Low tide
    | bar 12 of 64, verse, pass 2, A minor
    | █▀▀▀▀  █ █        ▀▀▀▀█
    | █▄▄▄  ▀█▀█▀ █▀▄▀▄   ▄▀
    | █     ▀█▀█▀ █ █ █  ▄▀
    | ▀      ▀ ▀  ▀ ▀ ▀  ▀
    |
    | next Bm7 in 2 bars  then E7
    | waits: for the clock of looper
    | tempo 102     plan 90 to 150 ▁|▂▃▃▅▆▆█
    | heard: click, pads, bass
    |
    ");
}

#[test]
fn a_light_that_tells_of_trouble_a_transposition_to_come_and_a_beat_that_stands() {
    let stage = Stage {
        trouble: Some(StageTrouble::Broken),
        moves: Some(StageMove {
            semitones: -2,
            beats: Some(3),
        }),
        beat_moves: false,
        ..playing()
    };
    insta::assert_snapshot!(screen(&stage, 100, 30), @"
    | ██████ the sound broke off ██████                             bar 12 of 64, verse, pass 2, A minor
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
    | next  then E7  2 semitones lower in 3 beats
    | █▀▀▀▄       ▀▀▀▀█                                           ▘    ▗▀▚  ▐
    | █▄▄▄▀ █▀▄▀▄   ▄▀                                            ▌▛▚    ▞  ▐▄ ▝▀▖▙▘▞▀
    | █   █ █ █ █  ▄▀                                             ▌▌▐   ▞   ▐ ▌▞▀▌▌ ▝▚
    | ▀▀▀▀  ▀ ▀ ▀  ▀                                              ▘▘▝  ▝▀▀  ▝▀ ▝▀▘▘ ▀▘
    | 4 beats
    |
    | ▁▁▁▁▁▁▁▁▁▁▁▁▁▁▁▁▁▁▁▁▁▁▁ ▁▁▁▁▁▁▁▁▁▁▁▁▁▁▁▁▁▁▁▁▁▁▁ ▁▁▁▁▁▁▁▁▁▁▁▁▁▁▁▁▁▁▁▁▁▁▁ ▁▁▁▁▁▁▁▁▁▁▁▁▁▁▁▁▁▁▁▁▁▁▁
    | tempo                             plan 90 to 150
    | ▄█  ▄▀▀▀▄ ▄▀▀▀▄                              █                               ▁▁▁▁▁▁▁▁▁▁▁██████████
    |  █  █ ▄▀█    ▄▀                              █                    ▃▃▃▃▃▃▃▃▃▃▃
    |  █  █▀  █  ▄▀                                █          ▅▅▅▅▅▅▅▅▅▅
    | ▀▀▀  ▀▀▀  ▀▀▀▀▀                   ▁▁▁▁▁▁▁▁▁▁▁█▇▇▇▇▇▇▇▇▇▇
    | heard: click, pads, bass
    | bass muted
    ");
    insta::assert_snapshot!(small(&stage), @"
    | ██████ the sound broke off ██████
    | bar 12 of 64, verse, pass 2, A minor
    | █▀▀▀▀  █ █        ▀▀▀▀█
    | █▄▄▄  ▀█▀█▀ █▀▄▀▄   ▄▀
    | █     ▀█▀█▀ █ █ █  ▄▀
    | ▀      ▀ ▀  ▀ ▀ ▀  ▀
    |
    | next Bm7 in 2 bars  then E7
    | ▁▁▁▁▁▁▁▁ ▁▁▁▁▁▁▁▁ ▁▁▁▁▁▁▁▁ ▁▁▁▁▁▁▁▁
    | tempo 102     plan 90 to 150 ▁|▂▃▃▅▆▆█
    | heard: click, pads, bass
    |
    ");
}

#[test]
fn a_click_has_the_tempo_in_the_largest_letters() {
    let stage = Stage {
        chord: None,
        next: Vec::new(),
        ..playing()
    };
    insta::assert_snapshot!(screen(&stage, 100, 30), @"
    | Low tide                                                      bar 12 of 64, verse, pass 2, A minor
    |     ████            ████████████            ████████████
    |     ████            ████████████            ████████████
    | ████████        ████            ████    ████            ████
    | ████████        ████            ████    ████            ████
    |     ████        ████        ████████                    ████
    |     ████        ████        ████████                    ████
    |     ████        ████    ████    ████                ████
    |     ████        ████    ████    ████                ████
    |     ████        ████████        ████            ████
    |     ████        ████████        ████            ████
    |     ████        ████            ████        ████
    |     ████        ████            ████        ████
    | ████████████        ████████████        ████████████████████
    | ████████████        ████████████        ████████████████████
    | bar
    | ▄█  ▄▀▀▀▄    █  ▄▀▀    ▄█
    |  █     ▄▀   █  █▄▄▄  ▄▀ █
    |  █   ▄▀    █   █   █ ▀▀▀█▀
    | ▀▀▀ ▀▀▀▀▀ ▀     ▀▀▀     ▀
    | beat 3 of 4
    |                                                 ███████████████████████
    | ▁▁▁▁▁▁▁▁▁▁▁▁▁▁▁▁▁▁▁▁▁▁▁ ▁▁▁▁▁▁▁▁▁▁▁▁▁▁▁▁▁▁▁▁▁▁▁ ███████████████████████ ▁▁▁▁▁▁▁▁▁▁▁▁▁▁▁▁▁▁▁▁▁▁▁
    | plan 90 to 150
    |                  █                                                ▁▁▁▁▁▁▁▁▁▁▁▁▁▁▁▁████████████████
    |                  █                               ▃▃▃▃▃▃▃▃▃▃▃▃▃▃▃▃▃
    |                  █               ▅▅▅▅▅▅▅▅▅▅▅▅▅▅▅▅
    | ▁▁▁▁▁▁▁▁▁▁▁▁▁▁▁▁▁█▇▇▇▇▇▇▇▇▇▇▇▇▇▇▇
    | heard: click, pads, bass
    | bass muted
    ");
    insta::assert_snapshot!(small(&stage), @"
    | Low tide
    | bar 12 of 64, verse, pass 2, A minor
    | ▄█  ▄▀▀▀▄ ▄▀▀▀▄
    |  █  █ ▄▀█    ▄▀
    |  █  █▀  █  ▄▀
    | ▀▀▀  ▀▀▀  ▀▀▀▀▀
    |
    | bar 12/64
    | ▁▁▁▁▁▁▁▁ ▁▁▁▁▁▁▁▁ ████████ ▁▁▁▁▁▁▁▁
    | plan 90 to 150 ▁▁▁▁|▂▂▂▃▃▃▃▅▅▅▅▆▆▆▆███
    | heard: click, pads, bass
    |
    ");
}

/// A card in an area of so many columns and rows.
fn card(seconds_left: Option<u128>, columns: u16, rows: u16) -> String {
    let card = StageCard {
        question: "how was it?".to_owned(),
        keys: ["y clean", "space nearly", "m missed", "q leaves it"]
            .map(str::to_owned)
            .to_vec(),
        seconds_left,
        said: Some("y clean, space nearly".to_owned()),
    };
    let area = Rect::new(0, 0, columns, rows);
    let mut buffer = Buffer::empty(area);
    draw_card(&card, Look::Plain, area, &mut buffer);
    text(&buffer)
}

#[test]
fn a_question_while_nothing_plays() {
    insta::assert_snapshot!(card(None, 100, 34), @"
    |
    |
    | █▌                                                           ▐█   █▌    ████▌
    | █▌                                                           ▝▀   █▌  ▗▄▀▀▀▀▚▄
    | █▌                                                                █▌  ▐█    ▐█
    | █▌       ███   █▌    █▌       █▌    █▌  ▐████    ▐████       ▐█ ▐████       ▐█
    | █▙▄▄▖  ▗▄▀▀▀▄▖ █▌ ▄▖ █▌       █▌ ▄▖ █▌  ▝▀▀▀▀▄▖ ▄▞▀▀▀▀       ▐█ ▝▀█▛▀    ▗▄▄▞▀
    | ████▌  ▐█   █▌ █▌ █▌ █▌       █▌ █▌ █▌       █▌ █▌           ▐█   █▌     ▐██▌
    | █▌  ▐█ ▐█   █▌ █▌ █▌ █▌       █▌ █▌ █▌  ▐█████▌  ▐██▌        ▐█   █▌     ▐█
    | █▌  ▐█ ▐█   █▌ █▌ █▌ █▌       █▌ █▌ █▌ ▄▞▀▀▀▀█▌  ▝▀▀▚▄       ▐█   █▌     ▝▀
    | █▌  ▐█ ▐█   █▌ █▌ █▌ █▌       █▌ █▌ █▌ █▌    █▌     ▐█       ▐█   █▌
    | █▌  ▐█   ███    ▐█ ▐█          ▐█ ▐█    ▐█████▌ ████▌        ▐█    ▐█    ▐█
    | ▀▘  ▝▀   ▀▀▀    ▝▀ ▝▀          ▝▀ ▝▀    ▝▀▀▀▀▀▘ ▀▀▀▀▘        ▝▀    ▝▀    ▝▀
    |
    |
    |               █
    | █  █     ▄▀▀▀ █ ▄▀▀▄  ▀▀▀▄ █▀▀▄
    |  ▀▀█     █    █ █▀▀▀ ▄▀▀▀█ █  █
    |  ▀▀       ▀▀▀ ▀  ▀▀▀  ▀▀▀▀ ▀  ▀
    |                                                   █
    | ▄▀▀▀ █▀▀▄  ▀▀▀▄ ▄▀▀▀ ▄▀▀▄     █▀▀▄ ▄▀▀▄  ▀▀▀▄ █▄▀ █ █  █
    |  ▀▀▄ █▀▀  ▄▀▀▀█ █    █▀▀▀     █  █ █▀▀▀ ▄▀▀▀█ █   █  ▀▀█
    | ▀▀▀  ▀     ▀▀▀▀  ▀▀▀  ▀▀▀     ▀  ▀  ▀▀▀  ▀▀▀▀ ▀   ▀  ▀▀
    |                 ▀                   █
    | █▀▄▀▄     █▀▄▀▄ █ ▄▀▀▀ ▄▀▀▀ ▄▀▀▄  ▄▄█
    | █ █ █     █ █ █ █  ▀▀▄  ▀▀▄ █▀▀▀ █  █
    | ▀ ▀ ▀     ▀ ▀ ▀ ▀ ▀▀▀  ▀▀▀   ▀▀▀  ▀▀▀
    |          █                                ▀  █
    | ▄▀▀█     █ ▄▀▀▄  ▀▀▀▄ █   █ ▄▀▀▄ ▄▀▀▀     █ ▀█▀
    |  ▀▀█     █ █▀▀▀ ▄▀▀▀█  █ █  █▀▀▀  ▀▀▄     █  █
    |    ▀     ▀  ▀▀▀  ▀▀▀▀   ▀    ▀▀▀ ▀▀▀      ▀   ▀
    |
    | y clean, space nearly
    |
    ");
    insta::assert_snapshot!(card(Some(61), 60, 16), @"
    |
    |
    | █                                        ▀  █  ▄▀▀▀▄
    | █▄▄  ▄▀▀▄ █ ▄ █     █ ▄ █  ▀▀▀▄ ▄▀▀▀     █ ▀█▀   ▄▄▀
    | █  █ █  █ █ █ █     █ █ █ ▄▀▀▀█  ▀▀▄     █  █    ▀
    | ▀  ▀  ▀▀   ▀ ▀       ▀ ▀   ▀▀▀▀ ▀▀▀      ▀   ▀   ▀
    |
    | 1:01
    |
    | y clean
    | space nearly
    | m missed
    | q leaves it
    |
    | y clean, space nearly
    |
    ");
    insta::assert_snapshot!(card(Some(5), 40, 12), @"
    |
    | how was it?
    |
    | 0:05
    |
    | y clean
    | space nearly
    | m missed
    | q leaves it
    |
    | y clean, space nearly
    |
    ");
}

#[test]
fn a_page_lies_over_the_bottom_of_the_stage() {
    let lines = [
        "space pauses and goes on, c counts in, q stops",
        "",
        "Enter opens a line for any command, Esc leaves it",
    ];
    let lines: Vec<String> = lines.map(str::to_owned).to_vec();
    let mut under = buffer(&playing(), Some("bass is silent"), Look::Plain, 60, 16);
    draw_page(&lines, under.area, &mut under);
    insta::assert_snapshot!(text(&under), @"
    | Low tide              bar 12 of 64, verse, pass 2, A minor
    |
    | ██████████    ██  ██                ██████████
    | ██            ██  ██                        ██
    | ██          ██████████  ████  ██          ██
    | ████████      ██  ██    ██  ██  ██      ██
    | ██          ██████████  ██  ██  ██      ██
    | ██            ██  ██    ██  ██  ██    ██
    | ██            ██  ██    ██  ██  ██    ██
    |
    |
    | next Bm7 in 2 bars  then E7
    |▔▔▔▔▔▔▔▔▔▔▔▔▔▔▔▔▔▔▔▔▔▔▔▔▔▔▔▔▔▔▔▔▔▔▔▔▔▔▔▔▔▔▔▔▔▔▔▔▔▔▔▔▔▔▔▔▔▔▔▔
    | space pauses and goes on, c counts in, q stops
    | Enter opens a line for any command, Esc leaves it
    | bass is silent
    ");
    // A page that is too long is cut, and says so.
    let long: Vec<String> = (0..40)
        .map(|line| format!("line {line} of a long page"))
        .collect();
    let area = under.area;
    draw_page(&long, area, &mut under);
    assert!(text(&under).contains("line 12 of a long page"));
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
    let beyond = Rect::new(3, 1, 200, 90);
    draw_stage(&stage, Look::Plain, beyond, &mut buffer);
    assert!(text(&buffer).contains("A title"));
}
