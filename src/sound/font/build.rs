//! A SoundFont made by hand, for tests: one sample, one instrument, a preset for each entry of a list.

use std::f64::consts::TAU;

/// A SoundFont to be written. What it starts as is valid.
pub(super) struct Draft {
    pub(super) version: u16,
    pub(super) samples: Vec<i16>,
    /// Bank and program.
    pub(super) presets: Vec<(u16, u16)>,
    /// Generators of each preset before the instrument.
    pub(super) preset_zone: Vec<(u16, i16)>,
    /// Generators of the instrument before the sample.
    pub(super) zone: Vec<(u16, i16)>,
    /// Start, end, start and end of the loop, rate.
    pub(super) sample: [u32; 5],
    pub(super) pitch: u8,
    pub(super) kind: u16,
    pub(super) name: &'static [u8],
}

/// Samples in one turn of the wave: 441 Hz at 44 100, 3.9 cents above A4.
const TURN: i32 = 100;

/// Length of the sample.
const LENGTH: i32 = 1000;

impl Draft {
    /// A cosine, so that it starts at its peak, without an attack.
    pub(super) fn new() -> Self {
        #[allow(clippy::cast_possible_truncation)] // within 16 bits by the factor
        let wave = |n: i32| (16_000.0 * (TAU * f64::from(n) / f64::from(TURN)).cos()) as i16;
        Draft {
            version: 2,
            samples: (0..LENGTH).map(wave).collect(),
            presets: vec![(0, 0), (0, 33), (128, 0)],
            preset_zone: vec![],
            // No delay (the default is a millisecond), no attack, a release of an eighth of a second, looped.
            zone: vec![(33, -32_768), (34, -32_000), (38, -3600), (54, 1)],
            sample: [0, 1000, 100, 900, 44_100],
            pitch: 69,
            kind: 1,
            name: b"Made by hand\0\0",
        }
    }

    /// The bytes of the whole file.
    pub(super) fn bytes(&self) -> Vec<u8> {
        let info = [
            chunk(
                b"ifil",
                &[self.version.to_le_bytes(), 1u16.to_le_bytes()].concat(),
            ),
            chunk(b"INAM", self.name),
        ];
        let smpl: Vec<u8> = self.samples.iter().flat_map(|s| s.to_le_bytes()).collect();
        let lists = [
            list(b"INFO", &info.concat()),
            list(b"sdta", &chunk(b"smpl", &smpl)),
            list(b"pdta", &self.tables()),
        ];
        chunk(b"RIFF", &[b"sfbk".as_slice(), &lists.concat()].concat())
    }

    /// The nine tables.
    fn tables(&self) -> Vec<u8> {
        let presets = self.presets.len();
        let each = self.preset_zone.len() + 1;
        let mut pgen = Vec::new();
        for _ in 0..presets {
            let mut own = generators(&self.preset_zone, (41, 0));
            own.truncate(each * 4);
            pgen.extend(own);
        }
        pgen.extend([0; 4]);
        let mut inst = Vec::new();
        for first in [0u16, 1] {
            inst.extend(name("instrument"));
            inst.extend(first.to_le_bytes());
        }
        let firsts: Vec<usize> = (0..=presets).map(|at| at * each).collect();
        [
            chunk(b"phdr", &self.preset_heads()),
            chunk(b"pbag", &zones(&firsts)),
            chunk(b"pmod", &[0; 10]),
            chunk(b"pgen", &pgen),
            chunk(b"inst", &inst),
            chunk(b"ibag", &zones(&[0, self.zone.len() + 1])),
            chunk(b"imod", &[0; 10]),
            chunk(b"igen", &generators(&self.zone, (53, 0))),
            chunk(b"shdr", &self.sample_head()),
        ]
        .concat()
    }

    fn preset_heads(&self) -> Vec<u8> {
        let mut phdr = Vec::new();
        for at in 0..=self.presets.len() {
            let (bank, program) = self.presets.get(at).copied().unwrap_or((0, 0));
            phdr.extend(name("preset"));
            for field in [program, bank, count(at)] {
                phdr.extend(field.to_le_bytes());
            }
            phdr.extend([0; 12]);
        }
        phdr
    }

    fn sample_head(&self) -> Vec<u8> {
        let mut shdr = name("sample");
        for field in self.sample {
            shdr.extend(field.to_le_bytes());
        }
        shdr.extend([self.pitch, 0, 0, 0]);
        shdr.extend(self.kind.to_le_bytes());
        shdr.extend([0; 46]);
        shdr
    }
}

fn name(text: &str) -> Vec<u8> {
    let mut bytes = text.as_bytes().to_vec();
    bytes.resize(20, 0);
    bytes
}

/// The generators of a list, the last one, and the one that marks the end of the table.
fn generators(list: &[(u16, i16)], last: (u16, i16)) -> Vec<u8> {
    list.iter()
        .chain([&last, &(0, 0)])
        .flat_map(|(kind, value)| [kind.to_le_bytes(), value.to_le_bytes()].concat())
        .collect()
}

/// Zones by their first generators.
fn zones(firsts: &[usize]) -> Vec<u8> {
    firsts
        .iter()
        .flat_map(|first| [count(*first).to_le_bytes(), [0, 0]].concat())
        .collect()
}

fn count(n: usize) -> u16 {
    u16::try_from(n).unwrap()
}

fn chunk(id: &[u8; 4], body: &[u8]) -> Vec<u8> {
    let size = u32::try_from(body.len()).unwrap();
    let pad: &[u8] = if body.len() % 2 == 1 { &[0] } else { &[] };
    [id.as_slice(), &size.to_le_bytes(), body, pad].concat()
}

fn list(kind: &[u8; 4], body: &[u8]) -> Vec<u8> {
    chunk(b"LIST", &[kind.as_slice(), body].concat())
}
