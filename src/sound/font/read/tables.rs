//! The tables of a SoundFont: presets and instruments, their zones, the generators of each, the samples.
//!
//! A preset or an instrument (an owner) names its first zone, a zone its first generator; each ends where the next
//! begins, and the last record of a table only marks the end. The first zone of an owner may be global: what it sets
//! holds for the others unless they set it themselves.

use std::io;
use std::ops::Range;

use super::{FontFault, chunk, damaged};

/// Bytes of a record.
const PRESET: usize = 38;
const INSTRUMENT: usize = 22;
const SAMPLE: usize = 46;
const ZONE: usize = 4;
const GENERATOR: usize = 4;

/// Most records that 16 bits can refer to, with the one that marks the end.
const MOST_RECORDS: usize = 65_537;

/// Most pairs of a zone of a preset and a zone of its instrument that are gone through when a key goes down.
const MOST_PAIRS: usize = 16_384;

/// Most such pairs in a file: each is looked at once.
const MOST_PAIRS_IN_ALL: usize = 1 << 22;

/// Kinds of generators there are.
const KINDS: usize = 61;

// The kinds that are looked at here, by their numbers in the format.
const START: usize = 0;
const END: usize = 1;
const LOOP_START: usize = 2;
const LOOP_END: usize = 3;
const START_COARSE: usize = 4;
const LFO_TO_PITCH: usize = 5;
const VIBRATO_TO_PITCH: usize = 6;
const ENVELOPE_TO_PITCH: usize = 7;
const RESONANCE: usize = 9;
const END_COARSE: usize = 12;
const LFO_TO_VOLUME: usize = 13;
const INSTRUMENT_ID: usize = 41;
const KEYS: usize = 43;
const VELOCITIES: usize = 44;
const LOOP_START_COARSE: usize = 45;
const LOOP_END_COARSE: usize = 50;
const COARSE_TUNE: usize = 51;
const FINE_TUNE: usize = 52;
const SAMPLE_ID: usize = 53;
const LOOPING: usize = 54;
const SCALE: usize = 56;
const ROOT: usize = 58;

/// Samples a voice may step over from one frame to the next; no instrument comes near it.
const LONGEST_STEP: f64 = 1_048_576.0;

/// The lowest rate a font is played at: steps are longest there.
const LOWEST_RATE: f64 = 22_050.0;

/// The seven tables as bytes.
pub(super) struct Tables {
    presets: Vec<u8>,
    preset_zones: Vec<u8>,
    preset_generators: Vec<u8>,
    instruments: Vec<u8>,
    instrument_zones: Vec<u8>,
    instrument_generators: Vec<u8>,
    samples: Vec<u8>,
}

/// What a zone sets, and where in the table of generators.
struct Region {
    values: [i16; KINDS],
    /// Generators of the zone itself.
    own: Range<usize>,
    /// Generators of the global zone.
    global: Range<usize>,
}

impl Region {
    fn value(&self, kind: usize) -> i32 {
        i32::from(self.values[kind])
    }

    /// Lowest and highest of a range of keys or velocities.
    fn range(&self, kind: usize) -> (i32, i32) {
        let [low, high] = self.values[kind].to_le_bytes();
        (i32::from(low), i32::from(high))
    }

    /// A position of 15 bits and another times 32768.
    fn offset(&self, fine: usize, coarse: usize) -> i64 {
        i64::from(self.values[fine]) + 32_768 * i64::from(self.values[coarse])
    }

    /// Where the value of `kind` is set: in the zone itself, or else in the global one.
    fn places(&self, generators: &[u8], kind: usize) -> Vec<usize> {
        let of = |range: &Range<usize>| {
            range
                .clone()
                .filter(|at| usize::from(short(generators, at * GENERATOR)) == kind)
                .collect::<Vec<_>>()
        };
        let own = of(&self.own);
        if own.is_empty() {
            of(&self.global)
        } else {
            own
        }
    }
}

/// A sample as its record tells.
struct Sample {
    start: i64,
    end: i64,
    loop_start: i64,
    loop_end: i64,
    rate: f64,
    pitch: i32,
    correction: i32,
}

impl Tables {
    /// Reads the tables by `table`, which is given the name of a chunk and the most bytes it may have.
    pub(super) fn read(
        mut table: impl FnMut([u8; 4], u64) -> Result<Vec<u8>, FontFault>,
    ) -> Result<Self, FontFault> {
        let mut whole = |id: [u8; 4], record: usize, least: usize| {
            let most = u64::try_from(record * MOST_RECORDS).unwrap_or(u64::MAX);
            let bytes = table(id, most)?;
            if bytes.len() % record != 0 || bytes.len() < least * record {
                return Err(damaged(format!(
                    "its table `{}` has {} bytes, not {least} or more records of {record}",
                    id.escape_ascii(),
                    bytes.len()
                )));
            }
            Ok(bytes)
        };
        Ok(Tables {
            presets: whole(*b"phdr", PRESET, 2)?,
            preset_zones: whole(*b"pbag", ZONE, 2)?,
            preset_generators: whole(*b"pgen", GENERATOR, 1)?,
            instruments: whole(*b"inst", INSTRUMENT, 2)?,
            instrument_zones: whole(*b"ibag", ZONE, 2)?,
            instrument_generators: whole(*b"igen", GENERATOR, 1)?,
            samples: whole(*b"shdr", SAMPLE, 2)?,
        })
    }

    /// The tables as chunks.
    pub(super) fn chunks(&self) -> io::Result<Vec<u8>> {
        let mut all = Vec::new();
        for (id, body) in [
            (*b"phdr", &self.presets),
            (*b"pbag", &self.preset_zones),
            (*b"pgen", &self.preset_generators),
            (*b"inst", &self.instruments),
            (*b"ibag", &self.instrument_zones),
            (*b"igen", &self.instrument_generators),
            (*b"shdr", &self.samples),
        ] {
            all.extend(chunk(id, body)?);
        }
        Ok(all)
    }

    /// Checks that every reference leads somewhere and that no voice can leave its sample; mends what can be mended.
    /// `count` is the number of samples in the file.
    pub(super) fn check(&mut self, count: i64) -> Result<(), FontFault> {
        self.mend_values();
        self.drop_empty_presets();
        let instruments = owners(
            "instrument",
            (&self.instruments, INSTRUMENT, 20),
            &self.instrument_zones,
            &self.instrument_generators,
            SAMPLE_ID,
            &instrument_defaults(),
        )?;
        let presets = owners(
            "preset",
            (&self.presets, PRESET, 24),
            &self.preset_zones,
            &self.preset_generators,
            INSTRUMENT_ID,
            &preset_defaults(),
        )?;
        for (number, instrument) in instruments.iter().enumerate() {
            for region in instrument {
                self.check_sample(number, region, count)?;
            }
        }
        let mut pairs_in_all = 0usize;
        for (number, preset) in presets.iter().enumerate() {
            let mut pairs = 0;
            for zone in preset {
                let id = zone.value(INSTRUMENT_ID);
                let regions = usize::try_from(id)
                    .ok()
                    .and_then(|id| instruments.get(id))
                    .ok_or_else(|| {
                        damaged(format!(
                            "preset {number} plays instrument {id} of {}",
                            instruments.len()
                        ))
                    })?;
                pairs += regions.len();
                pairs_in_all += regions.len();
                if pairs > MOST_PAIRS || pairs_in_all > MOST_PAIRS_IN_ALL {
                    return Err(damaged(format!(
                        "preset {number} has too many zones to be played"
                    )));
                }
                for region in regions {
                    self.check_pair(number, zone, region)?;
                }
            }
        }
        Ok(())
    }

    /// Brings numbers that would make a filter or a volume run away within the bounds of the format.
    fn mend_values(&mut self) {
        for (generators, lowest) in [
            (&mut self.instrument_generators, 0),
            (&mut self.preset_generators, -960),
        ] {
            for record in generators.chunks_exact_mut(GENERATOR) {
                let (least, most) = match usize::from(short(record, 0)) {
                    RESONANCE => (lowest, 960),
                    // A tremolo of 24 dB; the format would have 96, and the library raises by that.
                    LFO_TO_VOLUME => (-240, 240),
                    _ => continue,
                };
                let value = signed(record, 2).clamp(least, most);
                record[2..4].copy_from_slice(&value.to_le_bytes());
            }
        }
        for record in self.samples.chunks_exact_mut(SAMPLE) {
            // A pitch beyond the keys is that of a sample without pitch, played as recorded at middle C.
            if record[40] > 127 {
                record[40] = 60;
            }
        }
    }

    /// Leaves out presets that have no zones; nothing refers to them.
    fn drop_empty_presets(&mut self) {
        let count = self.presets.len() / PRESET;
        let first = |at: usize| short(&self.presets, at * PRESET + 24);
        let kept = (0..count)
            .filter(|at| at + 1 == count || first(*at) != first(at + 1))
            .flat_map(|at| self.presets[at * PRESET..(at + 1) * PRESET].to_vec())
            .collect();
        self.presets = kept;
    }

    fn sample(&self, id: i32) -> Option<Sample> {
        let at = usize::try_from(id).ok()?.checked_mul(SAMPLE)?;
        // The last record only marks the end.
        let record = self.samples.get(at..at + SAMPLE)?;
        if at + SAMPLE == self.samples.len() {
            return None;
        }
        let long = |at: usize| {
            u32::from_le_bytes([record[at], record[at + 1], record[at + 2], record[at + 3]])
        };
        Some(Sample {
            start: long(20).into(),
            end: long(24).into(),
            loop_start: long(28).into(),
            loop_end: long(32).into(),
            rate: long(36).into(),
            pitch: record[40].into(),
            correction: i8::from_le_bytes([record[41]]).into(),
        })
    }

    /// Checks that the region of an instrument lies within the samples.
    fn check_sample(&self, number: usize, region: &Region, count: i64) -> Result<(), FontFault> {
        let id = region.value(SAMPLE_ID);
        let sample = self.sample(id).ok_or_else(|| {
            damaged(format!(
                "instrument {number} plays sample {id} of {}",
                self.samples.len() / SAMPLE - 1
            ))
        })?;
        let record = usize::try_from(id).unwrap_or(0) * SAMPLE;
        if short(&self.samples, record + 44) & 0x10 != 0 {
            return Err(FontFault::Compressed);
        }
        let start = sample.start + region.offset(START, START_COARSE);
        let end = sample.end + region.offset(END, END_COARSE);
        let loop_start = sample.loop_start + region.offset(LOOP_START, LOOP_START_COARSE);
        let loop_end = sample.loop_end + region.offset(LOOP_END, LOOP_END_COARSE);
        let within = |at: i64| (0..=count).contains(&at);
        if !(within(sample.start)
            && within(sample.end)
            && within(sample.loop_start)
            && within(sample.loop_end)
            && within(start)
            && within(end)
            && within(loop_start)
            && within(loop_end)
            && start < end)
        {
            return Err(damaged(format!(
                "instrument {number} plays sample {id} from {start} to {end}, looped {loop_start} to {loop_end}, of \
                 {count} in the file"
            )));
        }
        if !(1.0..=1_000_000.0).contains(&sample.rate) {
            return Err(damaged(format!(
                "sample {id} was recorded at {} frames a second",
                sample.rate
            )));
        }
        Ok(())
    }

    /// Checks what a zone of a preset and one of its instrument make together.
    fn check_pair(
        &mut self,
        preset: usize,
        zone: &Region,
        region: &Region,
    ) -> Result<(), FontFault> {
        let sum = |kind| zone.value(kind) + region.value(kind);
        let shared = |kind| {
            let (a, b) = (zone.range(kind), region.range(kind));
            (a.0.max(b.0), a.1.min(b.1).min(127))
        };
        let (lowest, highest) = shared(KEYS);
        let (softest, loudest) = shared(VELOCITIES);
        if lowest > highest || softest > loudest {
            return Ok(());
        }
        if sum(RESONANCE) < 0 {
            // Together no less than none. A later pair may raise it further.
            let least = -region.values[RESONANCE];
            for at in zone.places(&self.preset_generators, RESONANCE) {
                raise(&mut self.preset_generators, at, least);
            }
        }
        let Some(sample) = self.sample(region.value(SAMPLE_ID)) else {
            return Ok(());
        };
        let step = longest_step(&sample, (zone, region), (lowest, highest));
        if step.frames > LONGEST_STEP {
            return Err(damaged(format!(
                "preset {preset} plays sample {} {:.0} semitones above its pitch",
                region.value(SAMPLE_ID),
                step.semitones
            )));
        }
        let loops = matches!(region.value(LOOPING), 1 | 3);
        let length = sample.loop_end + region.offset(LOOP_END, LOOP_END_COARSE)
            - sample.loop_start
            - region.offset(LOOP_START, LOOP_START_COARSE);
        #[allow(clippy::cast_precision_loss)] // below 2^32
        let leapt = step.frames * 1.001 >= length as f64;
        if loops && leapt {
            for at in region.places(&self.instrument_generators, LOOPING) {
                set(&mut self.instrument_generators, at, 0);
            }
        }
        Ok(())
    }
}

/// How fast a sample is read where it is read fastest.
struct LongestStep {
    /// Semitones above the pitch of the sample.
    semitones: f64,
    /// Frames of the sample to a frame of sound, at the lowest rate.
    frames: f64,
}

/// The longest step with which a zone of a preset and one of its instrument have a sample read, on keys from `lowest` to
/// `highest`.
fn longest_step(
    sample: &Sample,
    (zone, region): (&Region, &Region),
    (lowest, highest): (i32, i32),
) -> LongestStep {
    let sum = |kind| zone.value(kind) + region.value(kind);
    let root = match region.value(ROOT) {
        -1 => sample.pitch,
        root => root,
    };
    // Half a semitone for the modulation wheel.
    let sway = 0.5
        + 0.01
            * [LFO_TO_PITCH, VIBRATO_TO_PITCH, ENVELOPE_TO_PITCH]
                .map(|kind| f64::from(sum(kind)).abs())
                .iter()
                .sum::<f64>();
    let scale = 0.01 * f64::from(sum(SCALE));
    let bent = |pitch: f64| scale * (pitch - f64::from(root));
    let semitones = bent(f64::from(highest) + sway).max(bent(f64::from(lowest) - sway))
        + f64::from(sum(COARSE_TUNE))
        + 0.01 * f64::from(sum(FINE_TUNE) + sample.correction);
    LongestStep {
        semitones,
        frames: sample.rate / LOWEST_RATE * libm::exp2(semitones / 12.0),
    }
}

/// The regions of each owner in the table `owners` (bytes, size of a record, place of the first zone in it).
fn owners(
    what: &str,
    (table, record, place): (&[u8], usize, usize),
    zones: &[u8],
    generators: &[u8],
    last: usize,
    defaults: &[i16; KINDS],
) -> Result<Vec<Vec<Region>>, FontFault> {
    let count = table.len() / record;
    let zone_count = zones.len() / ZONE - 1;
    let generator_count = generators.len() / GENERATOR - 1;
    let generator = |zone: usize| usize::from(short(zones, zone * ZONE));
    for zone in 0..zone_count {
        if generator(zone) > generator(zone + 1) || generator(zone + 1) > generator_count {
            return Err(damaged(format!(
                "zone {zone} of its {what}s has generators {} to {} of {generator_count}",
                generator(zone),
                generator(zone + 1)
            )));
        }
    }
    let first = |owner: usize| usize::from(short(table, owner * record + place));
    let mut all = Vec::new();
    for owner in 0..count - 1 {
        let own = first(owner)..first(owner + 1);
        if own.start >= own.end || own.end > zone_count {
            return Err(damaged(format!(
                "{what} {owner} has zones {} to {} of {zone_count}",
                own.start, own.end
            )));
        }
        let ranges = own.map(|zone| generator(zone)..generator(zone + 1));
        all.push(regions(ranges, generators, last, defaults));
    }
    Ok(all)
}

/// The regions of one owner; `last` is the generator that ends a zone which is not global.
fn regions(
    zones: impl Iterator<Item = Range<usize>>,
    generators: &[u8],
    last: usize,
    defaults: &[i16; KINDS],
) -> Vec<Region> {
    let mut zones = zones.peekable();
    let is_global = |zone: &Range<usize>| {
        zone.is_empty() || usize::from(short(generators, (zone.end - 1) * GENERATOR)) != last
    };
    let global = zones.next_if(is_global).unwrap_or(0..0);
    zones
        .map(|own| {
            let mut values = *defaults;
            for at in global.clone().chain(own.clone()) {
                let kind = usize::from(short(generators, at * GENERATOR));
                if let Some(value) = values.get_mut(kind) {
                    *value = signed(generators, at * GENERATOR + 2);
                }
            }
            Region {
                values,
                own,
                global: global.clone(),
            }
        })
        .collect()
}

/// What a zone of a preset adds where it says nothing.
fn preset_defaults() -> [i16; KINDS] {
    let mut values = [0; KINDS];
    values[KEYS] = 0x7F00;
    values[VELOCITIES] = 0x7F00;
    values
}

/// What holds in a zone of an instrument where it says nothing, of the kinds that are looked at here.
fn instrument_defaults() -> [i16; KINDS] {
    let mut values = preset_defaults();
    values[SCALE] = 100;
    values[ROOT] = -1;
    values
}

fn short(bytes: &[u8], at: usize) -> u16 {
    u16::from_le_bytes([bytes[at], bytes[at + 1]])
}

fn signed(bytes: &[u8], at: usize) -> i16 {
    i16::from_le_bytes([bytes[at], bytes[at + 1]])
}

/// Sets the value of a generator.
fn set(generators: &mut [u8], generator: usize, value: i16) {
    let at = generator * GENERATOR + 2;
    generators[at..at + 2].copy_from_slice(&value.to_le_bytes());
}

/// Raises the value of a generator to at least `least`.
fn raise(generators: &mut [u8], generator: usize, least: i16) {
    let now = signed(generators, generator * GENERATOR + 2);
    set(generators, generator, now.max(least));
}
