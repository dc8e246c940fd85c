//! Sound files: WAV through hound, FLAC through flacenc, both written as the frames come.

use std::io::{self, Seek, SeekFrom, Write};

use flacenc::bitsink::ByteSink;
use flacenc::component::{BitRepr, Stream};
use flacenc::config::Encoder;
use flacenc::error::{Verified, Verify};
use flacenc::source::{Context, Fill, FrameBuf};

/// The number format of samples.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum SampleFormat {
    /// Whole numbers of 16 bits.
    Int16,
    /// Whole numbers of 24 bits.
    Int24,
    /// Floating point of 32 bits.
    Float,
}

impl SampleFormat {
    /// Bytes of a sample of one side.
    pub const fn bytes(self) -> u64 {
        match self {
            SampleFormat::Int16 => 2,
            SampleFormat::Int24 => 3,
            SampleFormat::Float => 4,
        }
    }
}

/// The kind of a file.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Container {
    /// RIFF WAVE; whole numbers or floating point.
    Wav,
    /// Free Lossless Audio Codec (RFC 9639); whole numbers only.
    Flac,
}

/// What a sound file is like.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct SoundFormat {
    /// The kind of file.
    pub container: Container,
    /// The number format of samples.
    pub samples: SampleFormat,
    /// Frames a second.
    pub rate_hz: u32,
}

/// Most bytes of sound in a WAV file: its sizes have 32 bits.
const MOST_WAV: u64 = u32::MAX as u64 - 1024;

impl SoundFormat {
    /// Most frames such a file can hold.
    pub const fn most_frames(self) -> u64 {
        match self.container {
            Container::Wav => MOST_WAV / (2 * self.samples.bytes()),
            // The count in its header has 36 bits.
            Container::Flac => (1 << 36) - 1,
        }
    }
}

/// Where frames come from: fills what it is given and says how many; fewer only at the end.
pub trait Frames {
    /// Writes the next frames, left and right, into `out`; returns how many.
    ///
    /// # Errors
    /// When they cannot be read.
    fn read(&mut self, out: &mut [[f32; 2]]) -> io::Result<usize>;
}

impl Frames for super::rendering::Rendering<'_> {
    fn read(&mut self, out: &mut [[f32; 2]]) -> io::Result<usize> {
        Ok(super::rendering::Rendering::read(self, out))
    }
}

/// Frames written at once; a FLAC frame.
const BLOCK: usize = 4096;

/// Writes all `frames` to `file` and says how many there were. `progress` is called now and then with that number.
///
/// Whole numbers are rounded without dither: silence stays silence, and the first frame of a sound is where it belongs.
///
/// # Errors
/// When the frames cannot be read or the file cannot be written, and when the file would be too large for its format.
pub fn write_sound<W: Write + Seek>(
    file: &mut W,
    format: SoundFormat,
    frames: &mut dyn Frames,
    progress: &mut dyn FnMut(u64),
) -> io::Result<u64> {
    match format.container {
        Container::Wav => write_wav(file, format, frames, progress),
        Container::Flac => write_flac(file, format, frames, progress),
    }
}

/// The whole number nearest to `sample`, full scale being `1 << (bits - 1)`.
fn whole(sample: f32, bits: u32) -> i32 {
    /// Adding and taking away this number rounds a double to the nearest whole number, halves to even.
    const ROUND: f64 = 6_755_399_441_055_744.0;
    let scale = f64::from(1u32 << (bits - 1));
    let value = (f64::from(sample) * scale + ROUND) - ROUND;
    #[allow(clippy::cast_possible_truncation)] // within 32 bits
    let value = value.clamp(-scale, scale - 1.0) as i32;
    value
}

fn bits(format: SampleFormat) -> u32 {
    match format {
        SampleFormat::Int16 => 16,
        SampleFormat::Int24 => 24,
        SampleFormat::Float => 32,
    }
}

fn too_large(format: SoundFormat) -> io::Error {
    let seconds = format.most_frames() / u64::from(format.rate_hz);
    io::Error::new(
        io::ErrorKind::FileTooLarge,
        format!("such a file holds at most {} minutes", seconds / 60),
    )
}

/// Fills `block` as far as there are frames, in whatever pieces they come.
fn fill(frames: &mut dyn Frames, block: &mut [[f32; 2]]) -> io::Result<usize> {
    let mut n = 0;
    while n < block.len() {
        match frames.read(&mut block[n..])? {
            0 => break,
            more => n += more,
        }
    }
    Ok(n)
}

/// Hands all frames on, a block of samples of both sides in turn at a time, and says how many frames there were.
fn each_block(
    format: SoundFormat,
    frames: &mut dyn Frames,
    progress: &mut dyn FnMut(u64),
    mut write: impl FnMut(&[f32]) -> io::Result<()>,
) -> io::Result<u64> {
    let mut block = vec![[0.0f32; 2]; BLOCK];
    let mut written = 0u64;
    loop {
        let n = fill(frames, &mut block)?;
        if n == 0 {
            return Ok(written);
        }
        written += n as u64;
        if written > format.most_frames() {
            return Err(too_large(format));
        }
        write(block[..n].as_flattened())?;
        progress(written);
    }
}

fn write_wav<W: Write + Seek>(
    file: &mut W,
    format: SoundFormat,
    frames: &mut dyn Frames,
    progress: &mut dyn FnMut(u64),
) -> io::Result<u64> {
    let wrong = |e: hound::Error| match e {
        hound::Error::IoError(e) => e,
        other => io::Error::other(other.to_string()),
    };
    let bits = bits(format.samples);
    let spec = hound::WavSpec {
        channels: 2,
        sample_rate: format.rate_hz,
        bits_per_sample: u16::try_from(bits).unwrap_or(16),
        sample_format: match format.samples {
            SampleFormat::Float => hound::SampleFormat::Float,
            _ => hound::SampleFormat::Int,
        },
    };
    let mut writer = hound::WavWriter::new(file, spec).map_err(wrong)?;
    let written = each_block(format, frames, progress, |samples| {
        for sample in samples {
            match format.samples {
                SampleFormat::Float => writer.write_sample(*sample),
                _ => writer.write_sample(whole(*sample, bits)),
            }
            .map_err(wrong)?;
        }
        Ok(())
    })?;
    writer.finalize().map_err(wrong)?;
    Ok(written)
}

fn write_flac<W: Write + Seek>(
    file: &mut W,
    format: SoundFormat,
    frames: &mut dyn Frames,
    progress: &mut dyn FnMut(u64),
) -> io::Result<u64> {
    fn wrong(e: impl std::fmt::Display) -> io::Error {
        io::Error::other(format!("FLAC: {e}"))
    }
    if format.samples == SampleFormat::Float {
        return Err(wrong("whole numbers only"));
    }
    let bits = bits(format.samples);
    let depth = bits as usize;
    let config: Verified<Encoder> = Encoder::default()
        .into_verified()
        .map_err(|(_, e)| wrong(e))?;
    let mut stream = Stream::new(format.rate_hz as usize, 2, depth).map_err(wrong)?;
    stream
        .stream_info_mut()
        .set_block_sizes(BLOCK, BLOCK)
        .map_err(wrong)?;
    let start = file.stream_position()?;
    let mut sink = ByteSink::new();
    // The head is written again at the end, when length and checksum are known.
    stream.write(&mut sink).map_err(wrong)?;
    file.write_all(sink.as_slice())?;
    let mut context = Context::new(depth, 2);
    let mut buffer = FrameBuf::with_size(2, BLOCK).map_err(wrong)?;
    let mut whole_block = Vec::with_capacity(2 * BLOCK);
    let written = each_block(format, frames, progress, |samples| {
        whole_block.clear();
        whole_block.extend(samples.iter().map(|sample| whole(*sample, bits)));
        buffer.fill_interleaved(&whole_block).map_err(wrong)?;
        context.fill_interleaved(&whole_block).map_err(wrong)?;
        let number = context.current_frame_number().unwrap_or(0);
        let frame =
            flacenc::encode_fixed_size_frame(&config, &buffer, number, stream.stream_info())
                .map_err(wrong)?;
        stream.stream_info_mut().update_frame_info(&frame);
        sink.clear();
        frame.write(&mut sink).map_err(wrong)?;
        file.write_all(sink.as_slice())
    })?;
    let info = stream.stream_info_mut();
    info.set_md5_digest(&context.md5_digest());
    info.set_total_samples(usize::try_from(written).unwrap_or(0));
    // The last frame may be shorter; the size of blocks is that of the others.
    info.set_block_sizes(BLOCK, BLOCK).map_err(wrong)?;
    sink.clear();
    stream.write(&mut sink).map_err(wrong)?;
    file.seek(SeekFrom::Start(start))?;
    file.write_all(sink.as_slice())?;
    file.seek(SeekFrom::End(0))?;
    Ok(written)
}
