//! Rendered sound: the click where the tempo map says, loudness, loops, sound files.

mod click;
mod figures;
mod measure;

use std::io::Cursor;
use std::path::{Path, PathBuf};

use fivefold::arrange::{Arrangement, Excerpt};
use fivefold::chart::{Ending, Part, Piece, Times};
use fivefold::event::{Body, Event, Header, Message, PartId, PartMessage, Source, Stopwatch};
use fivefold::sound::{
    Container, Desk, Frames, Looped, Peaks, Rendering, SampleFormat, SoundFormat, measure,
    nearest_frame, write_sound,
};

use fivefold::time::Length;

use self::measure::Frame;
use crate::ready_charts;

fn arranged(piece: &Piece) -> Arrangement {
    Arrangement::new(piece, piece.unfold().unwrap(), Excerpt::default()).unwrap()
}

fn document(text: &str) -> Piece {
    Piece::read(text).unwrap().0
}

fn part(header: &Header, name: &str) -> PartId {
    let at = header.parts.iter().position(|p| p.name == name).unwrap();
    PartId(at as u8)
}

/// The first bars of a piece.
fn excerpt(piece: &Piece, bars: u64) -> Arrangement {
    let excerpt = Excerpt {
        length: Some(Length::bars(bars)),
        ..Excerpt::default()
    };
    Arrangement::new(piece, piece.unfold().unwrap(), excerpt).unwrap()
}

/// What plays of a piece.
#[derive(Clone, Copy, PartialEq)]
enum Which {
    All,
    Click,
    AllButClick,
}

/// A piece of which some parts are left out as it is pulled.
struct Parts<'a> {
    source: Arrangement,
    /// Whether a part plays, by its name.
    plays: &'a dyn Fn(&str) -> bool,
}

/// The piece with some parts left out, unlimited, its voices as they are.
fn muted(piece: &Piece, which: Which) -> Parts<'static> {
    Parts {
        source: arranged(piece),
        plays: match which {
            Which::All => &|_| true,
            Which::Click => &|name| name == "click",
            Which::AllButClick => &|name| name != "click",
        },
    }
}

/// The first bars of a piece, of which some parts play, before any gain.
fn rendered(piece: &Piece, bars: u64, rate_hz: u32, plays: &dyn Fn(&str) -> bool) -> Vec<Frame> {
    let mut source = Parts {
        source: excerpt(piece, bars),
        plays,
    };
    let desk = Desk::new(source.header(), rate_hz, 1.0, Peaks::Untouched);
    all_of(Rendering::new(&mut source, desk, rate_hz))
}

/// All frames of a rendering.
fn all_of(mut rendering: Rendering<'_>) -> Vec<Frame> {
    let mut all = Vec::new();
    let mut block = vec![[0.0f32; 2]; 8192];
    loop {
        let n = rendering.read(&mut block);
        if n == 0 {
            return all;
        }
        all.extend_from_slice(&block[..n]);
    }
}

/// Compares rows with those that DEVELOPERS.md has below `head`, all of them.
fn held_to_guide(head: &str, rows: &[String]) {
    held_to_every(1, head, rows);
}

/// Compares rows with those that DEVELOPERS.md has below `head`: the first, and each that is `every` rows further.
fn held_to_every(every: usize, head: &str, rows: &[String]) {
    let guide = std::fs::read_to_string(crate::root().join("DEVELOPERS.md")).unwrap();
    let lines = guide.lines().skip_while(|line| *line != head).skip(2);
    let written = lines.take_while(|line| !line.is_empty());
    let written: Vec<&str> = written.step_by(every).collect();
    assert!(!written.is_empty(), "{head}");
    assert!(
        written == rows,
        "DEVELOPERS.md should have below {head}\n{}",
        rows.join("\n")
    );
}

/// Of so many ready charts the tests render one; `.ci/run slow` renders all.
const SOME: usize = 10;

/// What `row` makes of the first ready chart and of each that is `every` charts further; two at a time.
fn of_ready_charts<R: Send>(every: usize, row: impl Fn(&Path) -> R + Sync) -> Vec<R> {
    let charts: Vec<PathBuf> = ready_charts().into_iter().step_by(every).collect();
    let rows = |charts: &[PathBuf]| charts.iter().map(|chart| row(chart)).collect::<Vec<R>>();
    let (first, second) = charts.split_at(charts.len() / 2);
    std::thread::scope(|scope| {
        let second = scope.spawn(|| rows(second));
        let mut rows = rows(first);
        rows.extend(second.join().unwrap());
        rows
    })
}

impl Source for Parts<'_> {
    fn header(&self) -> &Header {
        self.source.header()
    }
    fn end(&self) -> Option<fivefold::time::Tick> {
        self.source.end()
    }
    fn next_bar(&mut self, events: &mut Vec<Event>) -> Option<fivefold::event::Bar> {
        let from = events.len();
        let bar = self.source.next_bar(events);
        let own = events.split_off(from);
        let names: Vec<&str> = self.source.header().parts.iter().map(|p| p.name).collect();
        events.extend(own.into_iter().filter(|event| match &event.body {
            Body::Channel(PartMessage { part, message, .. }) => {
                let note = matches!(message, Message::NoteOn { .. } | Message::NoteOff { .. });
                !note || (self.plays)(names[usize::from(part.0)])
            }
            _ => true,
        }));
        bar
    }
    fn seek(&mut self, number: i64) -> bool {
        self.source.seek(number)
    }
}

/// The frames at which the click is struck, by the tempo map.
fn clicks(piece: &Piece, rate_hz: u32) -> Vec<u64> {
    let mut source = arranged(piece);
    let click = part(source.header(), "click");
    let mut watch = Stopwatch::default();
    let mut events = Vec::new();
    let mut found = Vec::new();
    while source.next_bar(&mut events).is_some() {
        for event in events.drain(..) {
            let at = watch.read(&event);
            if let Body::Channel(PartMessage {
                part,
                message: Message::NoteOn { .. },
                ..
            }) = event.body
                && part == click
            {
                // Nearest by the definition: the distance in nanoseconds to this frame and to its neighbors.
                let frame = nearest_frame(at, rate_hz);
                let away = |frame: u64| {
                    (i128::from(frame) * 1_000_000_000 - i128::from(at.get()) * i128::from(rate_hz))
                        .abs()
                };
                assert!(
                    away(frame) <= away(frame + 1)
                        && (frame == 0 || away(frame) <= away(frame - 1))
                );
                found.push(frame);
            }
        }
    }
    found
}

/// Renders the piece three times side by side: with all, without click, the click alone. Checks that the difference of
/// the first two is the third, to the last bit, and that each click begins on its frame after silence. Answers how many
/// clicks there were.
fn the_click_is_exact(piece: &Piece, rate_hz: u32) -> usize {
    let wanted = clicks(piece, rate_hz);
    let mut sources =
        [Which::All, Which::AllButClick, Which::Click].map(|which| muted(piece, which));
    let mut renderings: Vec<Rendering<'_>> = sources
        .iter_mut()
        .map(|source| {
            let desk = Desk::new(source.header(), rate_hz, 1.0, Peaks::Untouched);
            Rendering::new(source, desk, rate_hz)
        })
        .collect();
    let mut blocks = vec![vec![[0.0f32; 2]; 8192]; 3];
    let mut at = 0u64;
    // A wave passes through zero; silence is a thousandth of a second of nothing.
    let mut silent = 48;
    let mut begun = Vec::new();
    let mut music = false;
    loop {
        let mut most = 0;
        for (rendering, block) in renderings.iter_mut().zip(&mut blocks) {
            block.fill([0.0; 2]);
            most = most.max(rendering.read(block));
        }
        if most == 0 {
            break;
        }
        let parts = blocks[0].iter().zip(&blocks[1]).zip(&blocks[2]);
        for (i, ((all, rest), click)) in parts.take(most).enumerate() {
            for side in 0..2 {
                assert!(
                    all[side] - rest[side] == click[side],
                    "frame {}",
                    at + i as u64
                );
            }
            music |= rest[0] != 0.0;
            let quiet = *click == [0.0; 2];
            if silent >= 48 && !quiet {
                begun.push(at + i as u64);
            }
            silent = if quiet { silent + 1 } else { 0 };
        }
        at += most as u64;
    }
    assert!(music);
    assert_eq!(begun.len(), wanted.len());
    assert_eq!(begun, wanted);
    begun.len()
}

#[test]
fn clicks_of_a_ramp_lie_on_their_frames() {
    let piece = document(
        "tempo = \"60 to 140 over 16 bars\"\ntimes = 5\n[sections]\nA = \"| Am7 | Fmaj7 | Dm7 | C / E7 / |\"\n\
         [parts.strum]\n[parts.kit]\n",
    );
    for rate_hz in [44_100, 96_000] {
        assert_eq!(the_click_is_exact(&piece, rate_hz), 4 * 22);
    }
}

#[test]
fn clicks_of_a_ladder_in_a_grouped_meter_lie_on_their_frames() {
    let piece = document(
        "meter = \"7/8 = 2+2+3\"\ntempo = \"eighth = 150 to 190 by 10 every 2 bars\"\nset = \"A minor pentatonic\"\ntimes = 3\n\
         [sections]\nA = \"| Am | Dm | G | Am |\"\n[parts.guide]\n[parts.drone]\n",
    );
    assert_eq!(the_click_is_exact(&piece, 44_100), 7 * 14);
}

#[test]
fn clicks_of_swung_and_compound_meters_lie_on_their_frames() {
    let swung = document(
        "feel = \"swing 2:1\"\ntempo = \"97\"\ntimes = 2\n[sections]\nA = \"| A7 | D7 | A7 | E7 |\"\n\
         [parts.click]\nsubdivide = 2\n[parts.bass]\nline = \"walking\"\n",
    );
    assert_eq!(the_click_is_exact(&swung, 44_100), 8 * 10);
    let compound = document(
        "meter = \"6/8\"\ntempo = \"61.3\"\n[sections]\nA = \"| Am | (9/8) Dm | G | (6/8) Am |\"\n[parts.click]\nsubdivide = 3\n",
    );
    // Two beats to the bar or three, three clicks to the beat, and the count-in and the held chord.
    assert_eq!(the_click_is_exact(&compound, 48_000), 3 * (2 * 4 + 3 * 2));
}

#[test]
fn after_ten_minutes_the_click_lies_on_its_frame() {
    the_click_does_not_drift(147, 600.0);
}

#[test]
#[ignore = "ten minutes of it above; the hour in `.ci/run slow`"]
fn after_an_hour_the_click_lies_on_its_frame() {
    the_click_does_not_drift(881, 3600.0);
}

/// The click of so many times two bars at 117.3 a minute, a tempo with no whole number of frames to the beat. They take more
/// than `least` seconds.
fn the_click_does_not_drift(times: u32, least: f64) {
    let mut piece = document(
        "tempo = \"117.3\"\n[sections]\nA = \"| Am | Dm |\"\n[parts.pads]\non = false\n[parts.bass]\nprogram = 39\n",
    );
    piece.times = Times::Count(times);
    piece.ending = Ending::None;
    // All frames at a low rate, and at the usual one the last.
    let beats = the_click_is_exact(&piece, 11_025);
    assert_eq!(beats, 4 * (2 * times as usize + 1));
    let last = clicks(&piece, 44_100).pop().unwrap();
    // No drift: the last click by plain arithmetic from the whole number of microseconds a quarter takes.
    let us = (60_000_000.0f64 / 117.3).round();
    let seconds = us * 1e-6 * (beats as f64 - 1.0);
    assert!(seconds > least);
    assert!((last as f64 - seconds * 44_100.0).abs() <= 0.5 + 1e-3);
}

/// The largest true peak and the integrated loudness, by ebur128.
fn loudness(frames: &[[f32; 2]], rate_hz: u32) -> (f64, f64) {
    use ebur128::{EbuR128, Mode};
    let mut meter = EbuR128::new(2, rate_hz, Mode::I | Mode::TRUE_PEAK).unwrap();
    meter.add_frames_f32(frames.as_flattened()).unwrap();
    let peak = meter.true_peak(0).unwrap().max(meter.true_peak(1).unwrap());
    (meter.loudness_global().unwrap(), 20.0 * peak.log10())
}

/// All frames of a piece as they are written to a file.
fn mixed(piece: &Piece, rate_hz: u32) -> Vec<[f32; 2]> {
    let gain = measure(&mut arranged(piece), None, &mut |_| {})
        .unwrap()
        .gain;
    let mut source = arranged(piece);
    let desk = Desk::new(source.header(), rate_hz, gain, Peaks::Limited);
    all_of(Rendering::new(&mut source, desk, rate_hz))
}

#[test]
fn ready_charts_are_as_loud_as_one_another() {
    loud_as_the_others(SOME);
}

#[test]
#[ignore = "some of them above; all in `.ci/run slow`"]
fn every_ready_chart_is_as_loud_as_the_others() {
    loud_as_the_others(1);
}

/// Holds the first ready chart, and each that is `every` charts further, to the loudness and the peak of all.
fn loud_as_the_others(every: usize) {
    let rows = of_ready_charts(every, loudness_row);
    held_to_every(every, "| chart | LUFS | true peak, dB |", &rows);
}

/// Renders a chart and holds it to the loudness and the peak of all.
fn loudness_row(path: &Path) -> String {
    let mut piece = document(&std::fs::read_to_string(path).unwrap());
    assert!(piece.parts.pads.common.on, "{}", path.display());
    piece.times = Times::Count(1);
    let frames = mixed(&piece, 44_100);
    let (lufs, peak) = loudness(&frames, 44_100);
    let name = path.file_stem().unwrap().to_string_lossy().into_owned();
    assert!((lufs + 18.0).abs() <= 1.0, "{name}: {lufs} LUFS");
    assert!(peak <= -1.0, "{name}: true peak {peak}");
    // All of it is a whole: it ends in silence, and nothing in the first second is louder than the loudest later.
    assert_eq!(frames.last(), Some(&[0.0; 2]), "{name}");
    let top = |frames: &[[f32; 2]]| {
        let samples = frames.as_flattened().iter();
        samples.fold(0.0f32, |m, s| m.max(s.abs()))
    };
    assert!(top(&frames[..44_100]) <= top(&frames[44_100..]), "{name}");
    format!("| {name} | {lufs:.1} | {peak:.1} |")
}

#[test]
fn a_click_alone_is_held_by_its_peak() {
    for tempo in ["40", "120", "300"] {
        let mut piece = document(&format!(
            "tempo = \"{tempo}\"\n[sections]\nA = \"| N.C. |\"\n"
        ));
        for part in [Part::Pads, Part::Bass] {
            piece.parts.common_mut(part).on = false;
        }
        piece.times = Times::Count(8);
        let frames = mixed(&piece, 44_100);
        let (_, peak) = loudness(&frames, 44_100);
        assert!((peak + 10.0).abs() < 1.0, "{tempo}: {peak}");
    }
}

/// A piece whose notes are the same in every pass, so that passes can be compared.
fn steady() -> Piece {
    let mut piece = document(
        "tempo = \"120\"\n[sections]\nA = \"| Am | Dm | E7 | Am |\"\n[parts.click]\ncount_in = 0\n[parts.pads]\nprogram = 17\n\
         [parts.bass]\nprogram = 39\n",
    );
    piece.ending = Ending::None;
    piece
}

/// The same bars again and again.
struct Turns {
    header: Header,
    bars: Vec<(fivefold::event::Bar, Vec<fivefold::event::Event>)>,
    length: u64,
    turns: u64,
    at: usize,
}

impl Turns {
    fn new(piece: &Piece, turns: u64) -> Self {
        let mut source = arranged(piece);
        let mut bars = Vec::new();
        let mut events = Vec::new();
        while let Some(bar) = source.next_bar(&mut events) {
            bars.push((bar, std::mem::take(&mut events)));
        }
        let length = source.end().unwrap().get();
        Turns {
            header: source.header().clone(),
            bars,
            length,
            turns,
            at: 0,
        }
    }
}

impl Source for Turns {
    fn header(&self) -> &Header {
        &self.header
    }
    fn end(&self) -> Option<fivefold::time::Tick> {
        None
    }
    fn next_bar(
        &mut self,
        events: &mut Vec<fivefold::event::Event>,
    ) -> Option<fivefold::event::Bar> {
        let turn = (self.at / self.bars.len()) as u64;
        if turn == self.turns {
            return None;
        }
        let (bar, own) = &self.bars[self.at % self.bars.len()];
        self.at += 1;
        for event in own {
            let mut event = event.clone();
            event.tick += turn * self.length;
            events.push(event);
        }
        let mut bar = *bar;
        bar.start += turn * self.length;
        Some(bar)
    }
    fn seek(&mut self, _: i64) -> bool {
        false
    }
}

#[test]
fn a_loop_repeats_without_a_seam() {
    let rate_hz = 44_100;
    let piece = steady();
    let mut source = arranged(&piece);
    let desk = Desk::new(source.header(), rate_hz, 1.0, Peaks::Untouched);
    let rendering = Rendering::new(&mut source, desk, rate_hz);
    let mut looped = Looped::new(rendering, Peaks::Untouched, rate_hz, &mut |_| {}).unwrap();
    let length = looped.length();
    let mut frames = vec![[0.0f32; 2]; length as usize + 10];
    assert_eq!(
        Frames::read(&mut looped, &mut frames).unwrap(),
        length as usize
    );
    frames.truncate(length as usize);
    // The map's length of the pass, to the nearest frame.
    assert_eq!(length, 16 * 22_050);
    // It is the middle one of three turns of the same events, in which what came before rings on.
    let mut source = Turns::new(&piece, 3);
    let desk = Desk::new(source.header(), rate_hz, 1.0, Peaks::Untouched);
    let mut rendering = Rendering::new(&mut source, desk, rate_hz);
    let mut all = vec![[0.0f32; 2]; 3 * length as usize];
    let mut n = 0;
    while n < all.len() {
        let more = rendering.read(&mut all[n..]);
        assert!(more > 0);
        n += more;
    }
    let begin = length as usize;
    let mut power = (0.0f64, 0.0f64);
    for i in 0..begin {
        for side in 0..2 {
            let (a, b) = (f64::from(frames[i][side]), f64::from(all[begin + i][side]));
            power.0 += (a - b).powi(2);
            power.1 += a.powi(2);
        }
    }
    let apart = 10.0 * (power.0 / power.1).log10();
    assert!(apart < -80.0, "{apart} dB");
    // A file that was cut there instead has a seam.
    let mut cut = 0.0f64;
    for i in 0..30_000 {
        cut += (f64::from(all[i][0]) - f64::from(all[begin + i][0])).powi(2);
    }
    assert!(10.0 * (cut / power.1).log10() > -40.0);
}

#[test]
fn a_limited_loop_has_no_seam_either() {
    let rate_hz = 48_000;
    let piece = steady();
    let render = |gain: f32, peaks: Peaks| {
        let mut source = arranged(&piece);
        let desk = Desk::new(source.header(), rate_hz, gain, Peaks::Untouched);
        let rendering = Rendering::new(&mut source, desk, rate_hz);
        let mut looped = Looped::new(rendering, peaks, rate_hz, &mut |_| {}).unwrap();
        let mut frames = vec![[0.0f32; 2]; looped.length() as usize];
        assert_eq!(
            Frames::read(&mut looped, &mut frames).unwrap(),
            frames.len()
        );
        frames
    };
    // Nothing to limit: the same frames in the same places.
    let quiet = amplitude_for(&render(1.0, Peaks::Untouched), 0.4);
    assert!(render(quiet, Peaks::Limited) == render(quiet, Peaks::Untouched));
    // Too loud: three turns of the limited loop keep the true peak, seams included.
    let loud = render(quiet * 5.0, Peaks::Limited);
    let three: Vec<[f32; 2]> = loud.iter().chain(&loud).chain(&loud).copied().collect();
    let (_, peak) = loudness(&three, rate_hz);
    assert!(peak <= -1.0 && peak > -2.5, "{peak}");
}

/// The gain that brings the largest sample to `peak`.
fn amplitude_for(frames: &[[f32; 2]], peak: f32) -> f32 {
    peak / frames
        .as_flattened()
        .iter()
        .fold(0.0f32, |m, s| m.max(s.abs()))
}

#[test]
fn files_of_every_kind_hold_the_same_sound() {
    let piece = steady();
    let rate_hz = 44_100;
    let float = mixed(&piece, rate_hz);
    for (container, samples, scale) in [
        (Container::Wav, SampleFormat::Int16, 32_768.0f32),
        (Container::Wav, SampleFormat::Int24, 8_388_608.0),
        (Container::Wav, SampleFormat::Float, 0.0),
    ] {
        let format = SoundFormat {
            container,
            samples,
            rate_hz,
        };
        let mut file = Cursor::new(Vec::new());
        struct All<'a>(&'a [[f32; 2]]);
        impl Frames for All<'_> {
            fn read(&mut self, out: &mut [[f32; 2]]) -> std::io::Result<usize> {
                let n = out.len().min(self.0.len()).min(777);
                out[..n].copy_from_slice(&self.0[..n]);
                self.0 = &self.0[n..];
                Ok(n)
            }
        }
        let written = write_sound(&mut file, format, &mut All(&float), &mut |_| {}).unwrap();
        assert_eq!(written, float.len() as u64);
        let reader = hound::WavReader::new(Cursor::new(file.into_inner())).unwrap();
        assert_eq!(reader.spec().sample_rate, rate_hz);
        assert_eq!(reader.spec().channels, 2);
        assert_eq!(reader.duration() as usize, float.len());
        if scale == 0.0 {
            let read: Vec<f32> = reader.into_samples::<f32>().map(Result::unwrap).collect();
            assert_eq!(read, float.as_flattened());
        } else {
            for (read, made) in reader.into_samples::<i32>().zip(float.as_flattened()) {
                assert!((read.unwrap() as f32 - made * scale).abs() <= 0.5);
            }
        }
    }
}
