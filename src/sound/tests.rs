//! What the voices sound like, measured.

#![allow(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "numbers of a test are small"
)]

use super::*;
use crate::event::{Channel, Header, KeyNumber, Message, PartId, PartInfo, PartMessage, Velocity};

/// A header of one part that plays `program` (none for percussion).
fn header(program: Option<u8>) -> Header {
    Header {
        title: "test".to_owned(),
        seed: 1,
        parts: vec![PartInfo {
            name: "part",
            channel: channel(program),
            program,
            rank: 0,
            pulse: false,
            level: 100,
            pan: 0,
        }],
    }
}

fn channel(program: Option<u8>) -> Channel {
    program.map_or(Channel::PERCUSSION, |_| Channel::new(1).unwrap())
}

fn note_on(key: i32, velocity: i32) -> Message {
    Message::NoteOn {
        key: KeyNumber::new(key).unwrap(),
        velocity: Velocity::new(velocity).unwrap(),
    }
}

fn note_off(key: i32) -> Message {
    Message::NoteOff {
        key: KeyNumber::new(key).unwrap(),
    }
}

/// `seconds` of one note, both sides added.
fn note(program: Option<u8>, key: i32, velocity: i32, seconds: f64, rate_hz: u32) -> Vec<f64> {
    note_of(&header(program), program, key, velocity, seconds, rate_hz)
}

/// The same of a part that is described by `header`.
fn note_of(
    header: &Header,
    program: Option<u8>,
    key: i32,
    velocity: i32,
    seconds: f64,
    rate_hz: u32,
) -> Vec<f64> {
    let mut engine = Engine::new(header, rate_hz).without_room();
    let channel = channel(program);
    if let Some(program) = program {
        engine.message(of_part(channel, Message::Program(program)));
    }
    engine.message(of_part(channel, note_on(key, velocity)));
    let mut out = vec![[0.0f32; 2]; (seconds * f64::from(rate_hz)) as usize];
    engine.render(&mut out);
    out.iter()
        .map(|f| f64::from(f[0]) + f64::from(f[1]))
        .collect()
}

/// Strength of `hertz` in `frames` under a Hann window.
fn strength(frames: &[f64], hertz: f64, rate_hz: f64) -> f64 {
    let turn = std::f64::consts::TAU * hertz / rate_hz;
    let (mut re, mut im) = (0.0, 0.0);
    let len = frames.len() as f64;
    // A turning pointer instead of a sine a frame.
    let (step_re, step_im) = (turn.cos(), turn.sin());
    let (mut x, mut y) = (1.0f64, 0.0f64);
    for (i, frame) in frames.iter().enumerate() {
        let window = 0.5 - 0.5 * (std::f64::consts::TAU * i as f64 / len).cos();
        re += frame * window * x;
        im += frame * window * y;
        (x, y) = (x * step_re - y * step_im, x * step_im + y * step_re);
    }
    re.hypot(im)
}

/// Cents from `expected` to the strongest frequency within half a semitone of it.
fn cents_off(frames: &[f64], expected: f64, rate_hz: f64) -> f64 {
    let at = |cents: f64| strength(frames, expected * (cents / 1200.0).exp2(), rate_hz);
    // Within the main lobe of the window, which is several hertz wide, there is one maximum.
    let reach = 1200.0 * (1.0 + 6.0 / expected).log2();
    let (mut low, mut high) = (-reach.min(45.0), reach.min(45.0));
    for _ in 0..24 {
        let (a, b) = (low + (high - low) / 3.0, high - (high - low) / 3.0);
        if at(a) < at(b) { low = a } else { high = b }
    }
    (low + high) / 2.0
}

#[test]
fn strings_are_in_tune_over_the_guitars_range() {
    let mut worst = (0.0f64, String::new());
    for rate_hz in [44_100u32, 48_000, 96_000] {
        let rate = f64::from(rate_hz);
        let programs: &[u8] = if rate_hz == 44_100 {
            &[24, 25, 26, 28, 33, 105]
        } else {
            &[25]
        };
        for program in programs.iter().copied() {
            for key in (40..=88).step_by(3) {
                let hertz = tables::hertz(f64::from(key));
                let frames = note(Some(program), key, 90, 0.34, rate_hz);
                // After the stroke.
                let off = cents_off(&frames[(0.04 * rate) as usize..], hertz, rate);
                if off.abs() > worst.0 {
                    worst = (
                        off.abs(),
                        format!("program {program}, key {key}, {rate_hz}: {off}"),
                    );
                }
            }
        }
    }
    assert!(worst.0 < 2.0, "{}", worst.1);
}

#[test]
fn held_and_struck_instruments_are_in_tune() {
    let rate = 44_100.0;
    for program in [0, 4, 11, 16, 20, 38, 48, 61, 80, 89, 88] {
        for key in [36, 45, 52, 60, 67, 76, 84] {
            let hertz = tables::hertz(f64::from(key));
            // Neighbors of the middle oscillator beat with it; a long look tells them apart.
            let frames = note(Some(program), key, 90, 1.5, 44_100);
            let off = cents_off(&frames[2000..], hertz, rate);
            assert!(off.abs() < 2.0, "program {program}, key {key}: {off} cents");
        }
    }
}

#[test]
fn every_key_of_every_program_sounds_and_ends() {
    let quiet = |frame: &[f32; 2]| frame[0].abs() < 1e-4 && frame[1].abs() < 1e-4;
    let mut engine = Engine::new(&header(None), 44_100).without_room();
    for program in (0..128).map(Some).chain([None]) {
        for key in (0..128).step_by(if program.is_none() { 1 } else { 9 }) {
            let channel = channel(program);
            engine.message(of_part(channel, Message::Program(program.unwrap_or(0))));
            engine.message(of_part(channel, note_on(key, 127)));
            let mut out = vec![[0.0f32; 2]; 8_820];
            engine.render(&mut out);
            let peak = out
                .as_flattened()
                .iter()
                .fold(0.0f32, |m, s| m.max(s.abs()));
            assert!(peak.is_finite() && peak < 2.0, "{program:?} {key}: {peak}");
            assert!(peak > 0.01, "{program:?} {key}: {peak}");
            engine.message(of_part(channel, note_off(key)));
            let mut seconds = 0;
            while !engine.is_silent() {
                let mut out = vec![[0.0f32; 2]; 22_050];
                engine.render(&mut out);
                seconds += 1;
                assert!(seconds < 12, "{program:?} {key} does not end");
                if engine.is_silent() {
                    assert!(quiet(&out[22_049]));
                }
            }
        }
    }
}

fn of_part(channel: Channel, message: Message) -> PartMessage {
    PartMessage {
        part: PartId(0),
        channel,
        message,
    }
}

/// A busy second of many kinds of message, the same each time for the same seed.
fn busy(seed: u32, frames: u64) -> Vec<(u64, PartMessage)> {
    let mut state = seed;
    let mut next = |below: u32| {
        state = state.wrapping_mul(747_796_405).wrapping_add(2_891_336_453);
        (state >> 16) % below
    };
    let mut cues = Vec::new();
    for _ in 0..400 {
        let frame = u64::from(next(u32::try_from(frames).unwrap()));
        let part = next(3);
        let channel = [
            Channel::PERCUSSION,
            Channel::new(1).unwrap(),
            Channel::new(2).unwrap(),
        ][part as usize];
        let key = 30 + next(60) as i32;
        let message = match next(12) {
            0..=5 => note_on(key, 1 + next(127) as i32),
            6..=8 => note_off(key),
            9 => Message::Program(next(128) as u8),
            10 => Message::Control {
                controller: [7, 10, 64][next(3) as usize],
                value: next(128) as u8,
            },
            _ => Message::Control {
                controller: [120, 123, 1][next(3) as usize],
                value: 0,
            },
        };
        let message = PartMessage {
            part: PartId(part as u8),
            channel,
            message,
        };
        cues.push((frame, message));
    }
    cues.sort_by_key(|(frame, _)| *frame);
    cues
}

fn three_parts() -> Header {
    let mut header = header(None);
    for program in [25, 89] {
        let mut part = header.parts[0].clone();
        part.program = Some(program);
        header.parts.push(part);
    }
    header
}

/// Renders cues, those of `left_out` not, in pieces of the lengths that come in turn.
fn played(
    cues: &[(u64, PartMessage)],
    left_out: Option<u8>,
    pieces: &[usize],
    frames: usize,
) -> Vec<[f32; 2]> {
    let mut desk = Desk::new(&three_parts(), 48_000, 1.0, Peaks::Untouched);
    let mut out = vec![[0.0f32; 2]; frames];
    let mut at = 0;
    let mut turn = 0;
    let mut cues = cues
        .iter()
        .filter(|(_, message)| Some(message.part.0) != left_out)
        .peekable();
    while at < frames {
        while let Some((_, message)) = cues.next_if(|(frame, _)| *frame <= at as u64) {
            desk.message(*message);
        }
        let mut n = pieces[turn % pieces.len()].min(frames - at);
        turn += 1;
        if let Some((frame, _)) = cues.peek() {
            n = n.min(*frame as usize - at);
        }
        desk.render(&mut out[at..at + n]);
        at += n;
    }
    out
}

#[test]
fn the_pieces_in_which_frames_are_asked_for_change_nothing() {
    for seed in 0..6 {
        let cues = busy(seed, 48_000);
        let whole = played(&cues, None, &[1 << 20], 60_000);
        assert!(whole.iter().any(|f| f[0] != 0.0));
        for pieces in [&[1][..], &[64], &[127, 3, 500], &[4096, 17]] {
            assert!(
                played(&cues, None, pieces, 60_000) == whole,
                "seed {seed}, {pieces:?}"
            );
        }
    }
}

#[test]
fn a_part_left_out_takes_away_just_itself() {
    for seed in 10..16 {
        let cues = busy(seed, 48_000);
        let whole = played(&cues, None, &[512], 60_000);
        // The click and the drums have no room in this: percussion without it.
        for part in 0..3 {
            let rest = played(&cues, Some(part), &[512], 60_000);
            let alone = cues.iter().filter(|(_, message)| message.part.0 == part);
            let alone: Vec<_> = alone.copied().collect();
            let alone = played(&alone, None, &[512], 60_000);
            // The room rounds its answer by itself, so only its last place may differ.
            let place = 2.0f32.powi(-20);
            for (i, ((w, r), a)) in whole.iter().zip(&rest).zip(&alone).enumerate() {
                for side in 0..2 {
                    let left = (w[side] - r[side] - a[side]).abs();
                    assert!(left <= place, "seed {seed}, part {part}, frame {i}: {left}");
                }
            }
        }
    }
}

#[test]
fn nothing_is_allocated_once_it_plays() {
    let before = assert_no_alloc::violation_count();
    for seed in 20..26 {
        let cues = busy(seed, 48_000);
        let mut desk = Desk::new(&three_parts(), 48_000, 3.0, Peaks::Limited);
        let mut out = vec![[0.0f32; 2]; 64];
        let mut cues = cues.iter().peekable();
        assert_no_alloc::assert_no_alloc(|| {
            for block in 0..1000u64 {
                while let Some((_, message)) = cues.next_if(|(frame, _)| *frame <= block * 64) {
                    desk.message(*message);
                }
                desk.render(&mut out);
            }
        });
        assert!(desk.lowest_gain() < 1.0);
    }
    assert_eq!(assert_no_alloc::violation_count(), before);
    // The guard is at work.
    let taken = assert_no_alloc::assert_no_alloc(|| vec![1u8; 100]);
    assert_eq!(taken.len(), 100);
    assert!(assert_no_alloc::violation_count() > before);
}

#[test]
fn the_limiter_holds_the_true_peak_and_leaves_the_rest() {
    use super::limiter::Limiter;
    let rate = 44_100.0f32;
    let mut limiter = Limiter::new(rate);
    let delay = limiter.delay();
    // Soft, then far too loud (a quarter of the rate, whose peaks lie between the samples), then soft again.
    let wave = |i: usize| {
        let level = if (20_000..40_000).contains(&i) {
            1.8
        } else {
            0.2
        };
        let tone = (i as f32 * std::f32::consts::FRAC_PI_2 + 0.785).sin();
        let bass = (i as f32 * 0.01).sin();
        [level * tone, level * (0.7 * tone + 0.3 * bass)]
    };
    let input: Vec<[f32; 2]> = (0..120_000).map(wave).collect();
    let mut out = input.clone();
    limiter.process(&mut out);
    let mut meter = ebur128::EbuR128::new(2, 44_100, ebur128::Mode::TRUE_PEAK).unwrap();
    meter.add_frames_f32(out.as_flattened()).unwrap();
    for side in 0..2 {
        let peak = 20.0 * meter.true_peak(side).unwrap().log10();
        assert!(peak <= -1.0, "{peak}");
        assert!(peak > -2.0, "{peak}");
    }
    // Unchanged before the loud stretch comes into sight, and again when it has recovered.
    for i in (0..19_000).chain(100_000..119_000) {
        assert_eq!(out[i + delay], input[i], "frame {i}");
    }
}

#[test]
fn the_three_clicks_are_told_apart_and_cut_through() {
    let rate = 44_100.0;
    let mut tops = Vec::new();
    let mut pulse = header(None);
    pulse.parts[0].pulse = true;
    for (key, velocity) in [(76, 100), (77, 80), (37, 56)] {
        let frames = note_of(&pulse, None, key, velocity, 0.12, 44_100);
        assert!(frames[0] != 0.0, "key {key} starts late");
        let share = |low: f64, high: f64| {
            let mut sum = 0.0;
            let mut hertz = low;
            while hertz < high {
                sum += strength(&frames, hertz, rate).powi(2);
                hertz += 10.0;
            }
            sum
        };
        // A guitar's strings lie between 80 Hz and 1.2 kHz, its strength below 900 Hz.
        let above = share(900.0, 9_000.0) / share(20.0, 20_000.0);
        assert!(above > 0.8, "key {key}: {above}");
        let strongest = (0..900).map(|i| 100.0 + 10.0 * f64::from(i));
        let top = strongest
            .max_by(|a, b| strength(&frames, *a, rate).total_cmp(&strength(&frames, *b, rate)))
            .unwrap();
        let peak = frames.iter().fold(0.0f64, |m, s| m.max(s.abs()));
        tops.push((top, peak));
    }
    // By pitch: at least a third apart. By level: the accent is the loudest, the subdivision the softest.
    for pair in tops.windows(2) {
        let semitones = 12.0 * (pair[0].0 / pair[1].0).log2().abs();
        assert!(semitones > 3.0, "{tops:?}");
        assert!(pair[0].1 > pair[1].1 * 1.1, "{tops:?}");
    }
}

#[test]
fn volume_and_pan_follow_the_standard() {
    let levels = |controller: u8, value: u8| {
        let mut engine = Engine::new(&header(Some(16)), 44_100).without_room();
        let channel = channel(Some(16));
        engine.message(of_part(channel, Message::Program(16)));
        engine.message(of_part(channel, Message::Control { controller, value }));
        engine.message(of_part(channel, note_on(60, 100)));
        let mut out = vec![[0.0f32; 2]; 44_100];
        engine.render(&mut out);
        let side =
            |s: usize| (out.iter().map(|f| f64::from(f[s]).powi(2)).sum::<f64>() / 44_100.0).sqrt();
        (side(0), side(1))
    };
    let decibels = |a: f64, b: f64| 20.0 * (a / b).log10();
    // General MIDI's curve of volume: 40 log10(value / 127).
    let (full, _) = levels(7, 127);
    for value in [100, 64, 32] {
        let (found, _) = levels(7, value);
        let wanted = 40.0 * (f64::from(value) / 127.0).log10();
        assert!((decibels(found, full) - wanted).abs() < 0.02, "{value}");
    }
    assert_eq!(levels(7, 0), (0.0, 0.0));
    // MMA RP-036: sine and cosine of (value - 1) / 126 of a right angle; both 3 dB down in the middle.
    let (middle, _) = levels(10, 64);
    for value in [1u8, 20, 64, 100, 127] {
        let (left, right) = levels(10, value);
        let angle = f64::from(value - 1) / 126.0 * std::f64::consts::FRAC_PI_2;
        let root = std::f64::consts::SQRT_2;
        assert!((left / middle - root * angle.cos()).abs() < 1e-3, "{value}");
        assert!(
            (right / middle - root * angle.sin()).abs() < 1e-3,
            "{value}"
        );
    }
}
