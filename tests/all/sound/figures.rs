//! Figures of rendered sound: what each part and each voice may be held to.

use std::sync::OnceLock;

use fivefold::event::{
    Channel, Header, KeyNumber, Message, PartId, PartInfo, PartMessage, Velocity,
};
use fivefold::sound::Engine;

use super::measure::{Band, Frame, decibels, direct_current, level, mean, side};
use super::{document, held_to_guide, loudness, rendered};

const RATE_HZ: u32 = 44_100;
const RATE: f64 = 44_100.0;

/// Every part at its default.
const BAND: &str = "tempo = \"96\"\nset = \"A minor pentatonic\"\ntimes = 2\n[sections]\n\
    A = \"| Am7 | Fmaj7 | Dm7 | C / E7 / |\"\n[parts.kit]\n[parts.strum]\n[parts.drone]\n[parts.guide]\n";

const PARTS: [&str; 7] = ["click", "pads", "bass", "kit", "drone", "strum", "guide"];

/// Each part of the band alone, and all together, before any gain.
fn alone() -> &'static Vec<(&'static str, Vec<Frame>)> {
    static ALONE: OnceLock<Vec<(&'static str, Vec<Frame>)>> = OnceLock::new();
    ALONE.get_or_init(|| {
        let piece = document(BAND);
        let parts = PARTS.map(|name| (name, rendered(&piece, 8, RATE_HZ, &|part| part == name)));
        let mut all = parts.to_vec();
        all.push(("all", rendered(&piece, 8, RATE_HZ, &|_| true)));
        all
    })
}

fn part(name: &str) -> &'static [Frame] {
    &alone().iter().find(|(n, _)| *n == name).unwrap().1
}

#[test]
fn no_part_has_a_direct_current() {
    for (name, frames) in alone() {
        let found = direct_current(frames);
        assert!(found < 1e-4, "{name}: {found:e}");
    }
}

#[test]
fn the_bass_is_dark_and_the_pads_lie_in_the_middle() {
    let bass = part("bass");
    let of = |low, high| Band::between(low, high, RATE).level(bass);
    let above = of(500.0, 1000.0) - of(60.0, 120.0);
    assert!(above < -10.0, "bass: {above} dB");
    for name in ["pads", "drone"] {
        let frames = part(name);
        let apart = level(&side(frames, 0)) - level(&side(frames, 1));
        assert!(apart.abs() < 0.5, "{name}: {apart} dB to the left");
    }
}

#[test]
fn the_balance_of_the_parts_is_as_written() {
    let (whole, _) = loudness(part("all"), RATE_HZ);
    let rows = PARTS.map(|name| {
        let (lufs, _) = loudness(part(name), RATE_HZ);
        format!("| {name} | {:.1} |", lufs - whole)
    });
    held_to_guide("| part | LU above the whole |", &rows);
}

/// An engine for one part that plays `program`; percussion, and the pulse or not, where there is none.
struct Alone {
    engine: Engine,
    channel: Channel,
}

impl Alone {
    fn new(program: Option<u8>) -> Self {
        Alone::of(program, "part")
    }

    fn of(program: Option<u8>, name: &'static str) -> Self {
        let channel = program.map_or(Channel::PERCUSSION, |_| Channel::new(1).unwrap());
        let header = Header {
            title: String::new(),
            seed: 1,
            parts: vec![PartInfo {
                name,
                channel,
                program,
                rank: 0,
                pulse: name == "click",
                level: 100,
                pan: 0,
            }],
        };
        let engine = Engine::new(&header, RATE_HZ);
        let mut alone = Alone { engine, channel };
        if let Some(program) = program {
            alone.say(Message::Program(program));
        }
        alone
    }

    fn say(&mut self, message: Message) {
        self.engine.message(PartMessage {
            part: PartId(0),
            channel: self.channel,
            message,
        });
    }

    /// What the next `seconds` after a stroke sound like.
    fn strike(&mut self, key: i32, velocity: i32, seconds: f64) -> Vec<Frame> {
        self.say(Message::NoteOn {
            key: KeyNumber::new(key).unwrap(),
            velocity: Velocity::new(velocity).unwrap(),
        });
        let mut frames = vec![[0.0f32; 2]; (seconds * RATE) as usize];
        self.engine.render(&mut frames);
        frames
    }

    /// The same, the next stroke beginning in silence.
    fn strike_alone(&mut self, key: i32, velocity: i32, seconds: f64) -> Vec<Frame> {
        let frames = self.strike(key, velocity, seconds);
        self.say(Message::NoteOff {
            key: KeyNumber::new(key).unwrap(),
        });
        self.engine.silence();
        frames
    }
}

#[test]
fn a_held_note_keeps_its_level() {
    // Strings, warm and bright pads, reeds, leads, over the range of the pads.
    for program in [48, 89, 90, 61, 81] {
        for key in [52, 57, 60, 64, 69, 72, 76] {
            let frames = Alone::new(Some(program)).strike(key, 90, 3.3);
            let both: Vec<f64> = frames.iter().map(|f| f64::from(f[0] + f[1])).collect();
            for (what, samples) in [
                ("both sides", both),
                ("left", side(&frames, 0)),
                ("right", side(&frames, 1)),
            ] {
                let levels = (0..30).map(|i| {
                    let from = ((0.3 + 0.1 * f64::from(i)) * RATE) as usize;
                    level(&samples[from..from + 4410])
                });
                let (low, high) =
                    levels.fold((f64::MAX, f64::MIN), |(l, h), x| (l.min(x), h.max(x)));
                assert!(
                    high - low < 6.0,
                    "program {program}, key {key}, {what}: {} dB",
                    high - low
                );
            }
        }
    }
}

#[test]
fn a_plucked_string_begins_within_a_thousandth_of_a_second() {
    for program in [24, 25, 26, 27, 28, 33, 34, 46, 105] {
        let frames = side(&Alone::new(Some(program)).strike(45, 100, 0.05), 0);
        let top = |from: f64, to: f64| {
            let samples = &frames[(from * RATE) as usize..(to * RATE) as usize];
            samples.iter().fold(0.0f64, |m, s| m.max(s.abs()))
        };
        let full = top(0.0, 0.05);
        let found = [frames[0].abs(), top(0.0, 0.000_15), top(0.0, 0.002)].map(|v| v / full);
        assert!(found[0] < 0.01, "program {program}: {found:?}");
        assert!(found[1] < 0.35, "program {program}: {found:?}");
        assert!(found[2] > 0.2, "program {program}: {found:?}");
    }
}

/// How far the two strokes most alike are apart, in decibels of their difference below the stroke.
fn most_alike(strokes: &[Vec<f64>]) -> f64 {
    let mut found = f64::MAX;
    for (i, a) in strokes.iter().enumerate() {
        for b in &strokes[..i] {
            let apart: Vec<f64> = a.iter().zip(b).map(|(a, b)| (a - b).powi(2)).collect();
            found = found.min(decibels(mean(&apart)) - level(a));
        }
    }
    found
}

#[test]
fn no_two_strokes_are_copies() {
    let pitched = [0, 4, 11, 24, 25, 26, 28, 33, 34, 48, 61, 81, 89, 90].map(Some);
    let drums = [36, 37, 38, 39, 42, 43, 46, 49, 50, 51, 56, 60, 70];
    let voices = pitched.map(|program| (program, 57));
    let voices = voices.into_iter().chain(drums.map(|key| (None, key)));
    for (program, key) in voices {
        let mut alone = Alone::new(program);
        let strokes: Vec<_> = (0..6)
            .map(|_| side(&alone.strike_alone(key, 90, 0.3), 0))
            .collect();
        let found = most_alike(&strokes);
        assert!(found > -36.0, "program {program:?}, key {key}: {found} dB");
    }
    // The click is what all is measured by: each stroke of a kind is the same.
    let mut click = Alone::of(None, "click");
    for key in [76, 77, 37] {
        let strokes = [0; 3].map(|_| side(&click.strike_alone(key, 90, 0.2), 0));
        assert!(
            strokes[0] == strokes[1] && strokes[1] == strokes[2],
            "{key}"
        );
    }
}

#[test]
fn a_stroke_sounds_the_same_wherever_playing_began() {
    for program in [Some(25), Some(33), Some(89), Some(0), None] {
        let keys = if program.is_some() {
            [52, 57, 64]
        } else {
            [36, 38, 42]
        };
        let mut engines = [Alone::new(program), Alone::new(program)];
        // One of them has played before.
        for i in 0..11 {
            engines[0].strike_alone(keys[0], 40 + i, 0.01);
        }
        let play = |engines: &mut [Alone; 2], i: usize| {
            let velocity = 60 + (i * 7 % 40) as i32;
            let key = keys[i * i % 3];
            let [a, b] = engines
                .each_mut()
                .map(|e| e.strike_alone(key, velocity, 0.05));
            a == b
        };
        let first: Vec<bool> = (0..31).map(|i| play(&mut engines, i)).collect();
        assert!(first.contains(&false), "{program:?}");
        for i in 31..50 {
            assert!(play(&mut engines, i), "{program:?}, stroke {i}");
        }
    }
}
