//! Sound files, and how things sound.

use std::path::{Path, PathBuf};
use std::time::{Duration, Instant};

use clap::{Args, ValueEnum};

use super::Context;
use super::failure::Failure;
use super::options::Prepared;
use crate::event::{Channel, Header, Source};
use crate::midi::replace_file;
use crate::sound::{
    Container, Cut, Desk, Font, Frames, Looped, Peaks, ProgramKind, Rendering, SampleFormat,
    SoundFormat, TARGET_LUFS, amplitude, measure, write_sound,
};
use crate::view::clock_time;

/// How it sounds.
#[derive(Args, Clone, Debug, Default)]
#[command(next_help_heading = "How it sounds")]
pub(super) struct SoundArguments {
    /// Play to this audio device, or the usual one
    #[arg(long, value_name = "NAME", num_args = 0..=1, require_equals = true, default_missing_value = "", conflicts_with = "output")]
    sound: Option<String>,
    /// Audio buffer in frames, 64 to 8192; 2048 unless said. Raise it where the sound stutters, lower it to hear keys sooner
    #[arg(long, value_name = "FRAMES")]
    device_buffer: Option<String>,
    /// Milliseconds by which a port comes later than the sound, where both play; earlier where negative
    #[arg(
        long,
        value_name = "MS",
        allow_hyphen_values = true,
        requires = "sound"
    )]
    port_offset: Option<String>,
    /// Play every part but the click through a SoundFont (.sf2)
    #[arg(long, value_name = "FILE")]
    soundfont: Option<PathBuf>,
    /// Frames a second of a sound file: 44100 (the default), 48000 or 96000
    #[arg(long, value_name = "HZ")]
    sample_rate: Option<String>,
    /// Samples of a sound file: 16 bits (the default), 24, or float for a DAW
    #[arg(long, value_name = "KIND", value_enum, default_value_t = Samples::default(), hide_default_value = true, hide_possible_values = true)]
    samples: Samples,
    /// Decibels to add to the voices, -60 to 24, instead of bringing the piece to the loudness of all others
    #[arg(long, value_name = "DB", allow_hyphen_values = true)]
    gain: Option<String>,
    /// Leave peaks as they are, even where they are cut off
    #[arg(long)]
    no_limiter: bool,
}

/// The number format of samples.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, ValueEnum)]
enum Samples {
    /// 16 bits
    #[default]
    #[value(name = "16")]
    Int16,
    /// 24 bits
    #[value(name = "24")]
    Int24,
    /// Floating point, for a DAW
    Float,
}

/// Rates a sound file may have.
const RATES: [(&str, u32); 3] = [("44100", 44_100), ("48000", 48_000), ("96000", 96_000)];

impl SoundArguments {
    /// What a sound file is to be like.
    pub(super) fn format(&self, container: Container) -> Result<SoundFormat, Failure> {
        let rate_hz = match &self.sample_rate {
            Some(text) => super::options::choice("sample-rate", text, &RATES)?,
            None => 44_100,
        };
        let samples = match self.samples {
            Samples::Int16 => SampleFormat::Int16,
            Samples::Int24 => SampleFormat::Int24,
            Samples::Float => SampleFormat::Float,
        };
        if container == Container::Flac && samples == SampleFormat::Float {
            return Err(Failure::new(
                "output-samples",
                "a .flac file holds whole numbers, not floating point",
                "write `--samples 24`, or a .wav file",
            ));
        }
        Ok(SoundFormat {
            container,
            samples,
            rate_hz,
        })
    }

    /// The audio device, where one was asked for; the inner `None` is the default one.
    pub(super) fn device(&self) -> Option<Option<&str>> {
        let name = self.sound.as_deref()?;
        Some((!name.is_empty()).then_some(name))
    }

    /// Frames the device is to ask for at once.
    pub(super) fn buffer(&self) -> Result<Option<u32>, Failure> {
        let text = self.device_buffer.as_deref();
        text.map(|text| {
            let frames = super::options::number("device-buffer", text, 64, 8192)?;
            Ok(u32::try_from(frames).unwrap_or(1024))
        })
        .transpose()
    }

    /// How peaks are handled.
    pub(super) fn peaks(&self) -> Peaks {
        if self.no_limiter {
            Peaks::Untouched
        } else {
            Peaks::Limited
        }
    }

    /// Milliseconds by which a port comes later than the sound.
    pub(super) fn port_offset(&self) -> Result<f64, Failure> {
        let Some(text) = &self.port_offset else {
            return Ok(0.0);
        };
        decimal("port-offset", text, "milliseconds", (-500.0, 500.0), "12")
    }

    /// The SoundFont, read and tried out for the parts of `header`; reports missing programs.
    pub(super) fn font(
        &self,
        header: &Header,
        context: &mut Context<'_, '_>,
    ) -> Result<Option<Font>, Failure> {
        let Some(path) = &self.soundfont else {
            return Ok(None);
        };
        let font = Font::load(path)?;
        let mut programs = Vec::new();
        let mut kit = false;
        for part in header.parts.iter().filter(|part| !part.pulse) {
            kit |= part.channel == Channel::PERCUSSION;
            programs.extend(part.program);
        }
        font.prove(ProgramKind::Pitched, &programs)?;
        if kit {
            font.prove(ProgramKind::Kit, &[0])?;
        }
        let lacks = font.missing(ProgramKind::Pitched, &programs);
        if !lacks.is_empty() && !context.json {
            let lacks: Vec<String> = lacks.iter().map(|p| (p + 1).to_string()).collect();
            writeln!(
                context.streams.err,
                "{} has no program {}; its first one plays instead",
                path.display(),
                lacks.join(", ")
            )?;
        }
        if kit && !font.missing(ProgramKind::Kit, &[0]).is_empty() && !context.json {
            writeln!(
                context.streams.err,
                "{} has no standard kit; another program plays instead",
                path.display()
            )?;
        }
        Ok(Some(font))
    }

    /// The factor applied to all amplitudes.
    pub(super) fn gain(
        &self,
        source: &mut dyn Source,
        font: Option<&Font>,
    ) -> Result<f32, Failure> {
        let Some(text) = &self.gain else {
            return Ok(measure(source, font)?.gain);
        };
        decimal("gain", text, "decibels", (-60.0, 24.0), "-6").map(amplitude)
    }
}

/// A number of an option, within its range.
pub(super) fn decimal(
    option: &str,
    text: &str,
    unit: &str,
    (least, most): (f64, f64),
    example: &str,
) -> Result<f64, Failure> {
    let found = text.trim().parse::<f64>().ok();
    found.filter(|n| (least..=most).contains(n)).ok_or_else(|| {
        Failure::new(
            "option-range",
            format!("`--{option}` is in {unit}, {least} to {most}, found `{text}`"),
            format!("write `--{option} {example}`"),
        )
    })
}

/// Writes the piece as a sound file and returns a summary.
pub(super) fn write(
    prepared: &Prepared,
    path: &Path,
    container: Container,
    arguments: &SoundArguments,
    context: &mut Context<'_, '_>,
) -> Result<String, Failure> {
    let format = arguments.format(container)?;
    let length = prepared.duration().unwrap_or_default();
    let expected = crate::sound::nearest_frame(length, format.rate_hz);
    if expected > format.most_frames() {
        let minutes = format.most_frames() / u64::from(format.rate_hz) / 60;
        return Err(Failure::new(
            "output-size",
            format!(
                "such a file holds at most {minutes} minutes, and the piece lasts {}",
                clock_time(length)
            ),
            "write a .flac file, fewer bits, or a part of the piece: `--for 60min`",
        ));
    }
    let mut arrangement = prepared.arrangement();
    let header = arrangement.header().clone();
    let font = arguments.font(&header, context)?;
    let gain = arguments.gain(&mut prepared.arrangement(), font.as_ref())?;
    let peaks = arguments.peaks();
    // The peaks of a loop are limited once it is closed.
    let on_desk = if prepared.looped {
        Peaks::Untouched
    } else {
        peaks
    };
    let desk =
        Desk::new(&header, format.rate_hz, gain, on_desk).with_font(&header, font.as_ref())?;
    let mut bar = Progress::new(expected, context);
    let mut rendering = Rendering::new(&mut arrangement, desk, format.rate_hz);
    let mut frames = 0;
    replace_file(path, |file| {
        let (mut looped, mut cut);
        let source: &mut dyn Frames = if prepared.looped {
            looped = Looped::new(rendering, peaks, format.rate_hz, &mut |n| bar.show(n))?;
            &mut looped
        } else if prepared.exact {
            cut = Cut::new(&mut rendering, expected, format.rate_hz);
            &mut cut
        } else {
            &mut rendering
        };
        frames = write_sound(file, format, source, &mut |n| bar.show(n))?;
        Ok(())
    })?;
    bar.finish();
    let loudness = arguments.gain.is_none() && header.parts.iter().any(|p| !p.pulse);
    Ok(summary(format, frames, loudness, prepared.piece.seed))
}

/// What a file of so many frames is like.
fn summary(format: SoundFormat, frames: u64, loudness: bool, seed: u64) -> String {
    #[allow(clippy::cast_precision_loss)]
    let seconds = frames as f64 / f64::from(format.rate_hz);
    #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)]
    let time = clock_time(crate::time::Nanos::new((seconds * 1e9) as u64));
    let kilohertz = f64::from(format.rate_hz) / 1000.0;
    let samples = match format.samples {
        SampleFormat::Int16 => "16 bits",
        SampleFormat::Int24 => "24 bits",
        SampleFormat::Float => "floating point",
    };
    let loudness = if loudness {
        format!(", {TARGET_LUFS} LUFS")
    } else {
        String::new()
    };
    format!("{time}, {kilohertz} kHz, {samples}{loudness}, seed {seed}")
}

/// A bar that shows how far a long job is.
struct Progress {
    began: Instant,
    bar: Option<indicatif::ProgressBar>,
    expected: u64,
    shown: bool,
}

/// A job that is done sooner shows nothing.
const PATIENCE: Duration = Duration::from_secs(1);

impl Progress {
    fn new(expected: u64, context: &Context<'_, '_>) -> Self {
        Progress {
            began: Instant::now(),
            bar: None,
            expected,
            shown: context.streams.err_is_terminal && !context.json,
        }
    }

    fn show(&mut self, frames: u64) {
        if !self.shown {
            return;
        }
        if self.bar.is_none() && self.began.elapsed() > PATIENCE {
            let bar = indicatif::ProgressBar::new(self.expected);
            if let Ok(style) =
                indicatif::ProgressStyle::with_template("[{bar:40}] {percent} %, {eta} to go")
            {
                bar.set_style(style.progress_chars("=> "));
            }
            self.bar = Some(bar);
        }
        if let Some(bar) = &self.bar {
            bar.set_position(frames.min(self.expected));
        }
    }

    fn finish(self) {
        if let Some(bar) = self.bar {
            bar.finish_and_clear();
        }
    }
}
