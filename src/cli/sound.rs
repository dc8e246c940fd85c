//! Sound files, and how things sound.

use std::path::{Path, PathBuf};

use clap::{Args, ValueEnum};

use super::Context;
use super::failure::Failure;
use super::options::Prepared;
use super::progress::share;
use crate::event::{Channel, Header, Source};
use crate::midi::replace_file;
use crate::sound::{
    Container, Cut, Desk, Font, Frames, Looped, MEASURED_RATE_HZ, MEASURED_SECONDS,
    MEASURED_SECONDS_FONT, Peaks, ProgramKind, Rendering, SampleFormat, SoundFormat, TARGET_LUFS,
    amplitude, measure, write_sound,
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

    /// Most seconds of a piece whose loudness is measured.
    fn most_measured(&self) -> u32 {
        let font = self.soundfont.as_ref();
        font.map_or(MEASURED_SECONDS, |_| MEASURED_SECONDS_FONT)
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

    /// The factor applied to all amplitudes. `progress` is called with the frames measured for it.
    pub(super) fn gain(
        &self,
        source: &mut dyn Source,
        font: Option<&Font>,
        progress: &mut dyn FnMut(u64),
    ) -> Result<f32, Failure> {
        let Some(text) = &self.gain else {
            return Ok(measure(source, font, progress)?.gain);
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

/// A pass over a sound file.
#[derive(Clone, Copy)]
enum Pass {
    /// The loudness is measured.
    Measure,
    /// A loop is made, into its spool.
    Spool,
    /// The file is written; all but a loop is made on the way.
    Write,
}

/// The work of each pass over a sound file, in the order of [`Pass`].
///
/// The unit is a second of sound at 44 100 frames a second, made by our own voices for two parts and a click and written
/// as WAV. The other figures are of the same machine.
struct Passes([f64; 3]);

/// The work on a second of sound: of a click alone, and of each part besides, by our own voices and by a SoundFont.
const MADE: (f64, f64, f64) = (0.3, 0.35, 1.4);

/// The work on a second of sound that comes from a spool, and of what makes FLAC of it.
const FROM_SPOOL: f64 = 0.3;
const FLAC: f64 = 4.0;

impl Passes {
    fn of(prepared: &Prepared, format: SoundFormat, arguments: &SoundArguments) -> Self {
        let seconds = seconds(prepared);
        let at_rate = seconds * f64::from(format.rate_hz) / f64::from(MEASURED_RATE_HZ);
        let (click, voiced, by_font) = MADE;
        let each = arguments.soundfont.as_ref().map_or(voiced, |_| by_font);
        let header = prepared.arrangement().header().clone();
        let parts = header.parts.iter().filter(|part| !part.pulse);
        let made = parts.fold(click, |made, _| made + each);
        let measured = match arguments.gain {
            None => seconds.min(f64::from(arguments.most_measured())),
            Some(_) => 0.0,
        };
        let (spool, write) = if prepared.looped {
            (made, FROM_SPOOL)
        } else {
            (0.0, made)
        };
        let flac = match format.container {
            Container::Wav => 0.0,
            Container::Flac => FLAC,
        };
        Passes([made * measured, spool * at_rate, (write + flac) * at_rate])
    }

    fn work(&self) -> f64 {
        self.0.iter().sum()
    }

    /// The share of all work that is done, when `part` of a pass is and all before it.
    fn share(&self, pass: Pass, part: f64) -> f64 {
        let before = &self.0[..pass as usize];
        let done = before.iter().sum::<f64>() + self.0[pass as usize] * part;
        done / self.work().max(f64::MIN_POSITIVE)
    }
}

/// The work that a sound file takes, in the unit of the others.
pub(super) fn work(prepared: &Prepared, container: Container, arguments: &SoundArguments) -> f64 {
    // A wrong format is reported when the file is written.
    let format = arguments.format(container);
    format.map_or(0.0, |format| Passes::of(prepared, format, arguments).work())
}

/// How long a piece is, in seconds; 0 without end.
pub(super) fn seconds(prepared: &Prepared) -> f64 {
    #[allow(clippy::cast_precision_loss)] // to compare work
    let ns = prepared.duration().unwrap_or_default().get() as f64;
    ns / 1e9
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
    let passes = Passes::of(prepared, format, arguments);
    context.begin_file(path, passes.work());
    let measured = u64::from(arguments.most_measured()) * u64::from(MEASURED_RATE_HZ);
    let measured = measured.min(crate::sound::nearest_frame(length, MEASURED_RATE_HZ));
    let gain = arguments.gain(&mut prepared.arrangement(), font.as_ref(), &mut |n| {
        context.advance(passes.share(Pass::Measure, share(n, measured)));
    })?;
    let peaks = arguments.peaks();
    // The peaks of a loop are limited once it is closed.
    let on_desk = if prepared.looped {
        Peaks::Untouched
    } else {
        peaks
    };
    let desk =
        Desk::new(&header, format.rate_hz, gain, on_desk).with_font(&header, font.as_ref())?;
    let mut rendering = Rendering::new(&mut arrangement, desk, format.rate_hz);
    let mut frames = 0;
    replace_file(path, |file| {
        let (mut looped, mut cut);
        let source: &mut dyn Frames = if prepared.looped {
            looped = Looped::new(rendering, peaks, format.rate_hz, &mut |n| {
                context.advance(passes.share(Pass::Spool, share(n, expected)));
            })?;
            &mut looped
        } else if prepared.exact {
            cut = Cut::new(&mut rendering, expected, format.rate_hz);
            &mut cut
        } else {
            &mut rendering
        };
        frames = write_sound(file, format, source, &mut |n| {
            context.advance(passes.share(Pass::Write, share(n, expected)));
        })?;
        Ok(())
    })?;
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
