//! A groove: the rhythm that kit, bass, strum and pads share.

use std::collections::BTreeMap;
use std::fmt;
use std::sync::Arc;

use super::error::GrooveError;
use super::figure::{BassFigure, BassStep, Figure, Hit};
use super::plain;
use super::row::{BassMark, BassRow, Force, KitMark, KitRow};
use super::{KitVoice, Pattern};
use crate::time::{Feel, Meter};

/// The meters a groove is for.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Meters {
    /// These.
    Of(Vec<Meter>),
    /// All with written groups: its rows are those of a group, and are cut to the group's length.
    Grouped,
    /// All.
    All,
}

impl fmt::Display for Meters {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Meters::Of(meters) => {
                let names: Vec<String> = meters.iter().map(Meter::to_string).collect();
                f.write_str(&names.join(", "))
            }
            Meters::Grouped => f.write_str("grouped"),
            Meters::All => f.write_str("all"),
        }
    }
}

/// How kick and bass relate.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum KickAndBass {
    /// With every kick that always comes, a note of the bass begins.
    Together,
    /// No note of the bass begins with a kick, but at the beginning of a bar.
    Answering,
    /// Each goes its own way.
    Free,
}

impl KickAndBass {
    /// All, by the words people type.
    pub const NAMES: [(&'static str, KickAndBass); 3] = [
        ("together", KickAndBass::Together),
        ("answering", KickAndBass::Answering),
        ("free", KickAndBass::Free),
    ];

    /// The word people type.
    pub fn name(self) -> &'static str {
        let mut names = Self::NAMES.iter();
        names.find(|(_, one)| *one == self).map_or("", |n| n.0)
    }
}

/// What the bass plays in a groove.
#[derive(Clone, Debug, PartialEq, Eq, Default)]
pub enum GrooveBass {
    /// The root on the strong beats of the meter.
    #[default]
    StrongBeats,
    /// A note a beat that walks from root to root.
    Walk,
    /// Its own row.
    Row(BassRow),
}

/// The rows of the kit, and of the bass.
#[derive(Clone, Debug, PartialEq, Eq, Default)]
pub struct Rows {
    /// A row for each voice that is struck.
    pub kit: BTreeMap<KitVoice, KitRow>,
    /// What the bass plays.
    pub bass: GrooveBass,
}

/// What a groove says.
#[derive(Clone, Debug, PartialEq)]
pub struct GrooveParts {
    /// The name people type, such as `rock eighths`; empty for one of a document's own.
    pub name: String,
    /// What it is, in a line.
    pub about: String,
    /// The meters it is for.
    pub meters: Meters,
    /// The feel it has unless a piece says otherwise.
    pub feel: Feel,
    /// The tempi it is usual at, in beats a minute.
    pub tempo: Option<(u32, u32)>,
    /// How kick and bass relate.
    pub kick_and_bass: KickAndBass,
    /// The strokes of the strum; by the meter unless said.
    pub strum: Option<Pattern>,
    /// The same in a lifted section; unless said, muted strokes are opened.
    pub lifted_strum: Option<Pattern>,
    /// The rhythm of the pads; held unless said.
    pub pads: Option<Pattern>,
    /// The rows; in a grouped meter those of the first group.
    pub rows: Rows,
    /// Rows of the kit that are other in a lifted section; unless said, the ride plays what the closed hat has.
    pub lift: BTreeMap<KitVoice, KitRow>,
    /// In a grouped meter, the rows of the groups between the first and the last.
    pub middle: Rows,
    /// In a grouped meter, the rows of the last group.
    pub last: Rows,
    /// Velocities of accent, stroke and ghost, where they are not the voice's usual ones.
    pub touch: BTreeMap<KitVoice, [u8; 3]>,
}

impl GrooveParts {
    /// Parts that say nothing but a meter.
    pub(super) fn empty(meter: Meter) -> GrooveParts {
        GrooveParts {
            name: String::new(),
            about: String::new(),
            meters: Meters::Of(vec![meter]),
            feel: Feel::Straight,
            tempo: None,
            kick_and_bass: KickAndBass::Free,
            strum: None,
            lifted_strum: None,
            pads: None,
            rows: Rows::default(),
            lift: BTreeMap::new(),
            middle: Rows::default(),
            last: Rows::default(),
            touch: BTreeMap::new(),
        }
    }
}

/// A groove that holds what it says. Copies share it.
#[derive(Clone, Debug, PartialEq)]
pub struct Groove(Arc<GrooveParts>);

impl Groove {
    /// The groove of these parts.
    ///
    /// # Errors
    /// When kick and bass do not relate as is stated.
    pub fn new(parts: GrooveParts) -> Result<Groove, GrooveError> {
        let groove = Groove::unchecked(parts);
        for meter in groove.examples() {
            groove.check_bass(&meter)?;
        }
        Ok(groove)
    }

    /// The groove of parts that state nothing about kick and bass.
    pub(super) fn unchecked(parts: GrooveParts) -> Groove {
        Groove(Arc::new(parts))
    }

    /// What it says.
    pub fn parts(&self) -> &GrooveParts {
        &self.0
    }

    /// Whether it is for `meter`.
    pub fn suits(&self, meter: &Meter) -> bool {
        match &self.0.meters {
            Meters::All => true,
            Meters::Grouped => !meter.groups().is_empty(),
            Meters::Of(meters) => meters.contains(meter),
        }
    }

    /// The meters in which what it states is checked.
    fn examples(&self) -> Vec<Meter> {
        match &self.0.meters {
            Meters::Of(meters) => meters.clone(),
            Meters::Grouped => [[2u8, 2, 3].as_slice(), &[3, 2], &[3, 3, 2]]
                .iter()
                .filter_map(|groups| Meter::grouped(groups.iter().sum(), 8, groups).ok())
                .collect(),
            Meters::All => Vec::new(),
        }
    }

    /// How many bars its rows have before all begin again.
    pub fn bars(&self) -> usize {
        let of_bass = match &self.0.rows.bass {
            GrooveBass::Row(row) => row.bars(),
            GrooveBass::StrongBeats | GrooveBass::Walk => 1,
        };
        let kit = self.0.rows.kit.values().chain(self.0.lift.values());
        kit.map(KitRow::bars).chain([of_bass]).max().unwrap_or(1)
    }

    /// Whether the steps of its rows part a beat of `meter` in three.
    pub fn is_in_threes(&self, meter: &Meter) -> bool {
        let Meters::Of(_) = &self.0.meters else {
            return false;
        };
        let beats = meter.beat_count() as usize;
        self.0.rows.kit.values().any(|row| {
            let steps = row.bar(0).len();
            !meter.is_compound() && steps % (3 * beats) == 0
        })
    }

    /// Whether something of it lies between the eighths, so that swung sixteenths are heard.
    pub fn has_sixteenths(&self, meter: &Meter) -> bool {
        let half = crate::time::TICKS_PER_QUARTER / 2;
        (0..self.bars() as u64).any(|bar| {
            let figure = self.figure(meter, bar, false);
            let strummed = figure.strum.spans(meter.bar_ticks());
            let kit = figure.hits.iter().filter(|hit| hit.always);
            kit.map(|hit| hit.offset_ticks)
                .chain(strummed.iter().map(|s| s.0))
                .any(|offset| offset % half != 0)
        })
    }

    /// One bar of it in a meter it suits; `bar` is counted from 0, and in a lifted section the ride keeps time and the strum
    /// is opened.
    pub fn figure(&self, meter: &Meter, bar: u64, lifted: bool) -> Figure {
        let parts = &*self.0;
        let strum = match (&parts.strum, &parts.lifted_strum) {
            (_, Some(strum)) if lifted => strum.clone(),
            (Some(strum), _) if lifted => strum.opened(),
            (Some(strum), _) => strum.clone(),
            (None, _) => Pattern::usual(meter),
        };
        let (mut hits, bass) = match &parts.meters {
            Meters::All => (plain::kit(meter), BassFigure::StrongBeats),
            Meters::Of(_) => {
                let bar_ticks = meter.bar_ticks();
                let mut hits = Vec::new();
                for voice in KitVoice::ALL {
                    let other = parts.lift.get(&voice).filter(|_| lifted);
                    let Some(row) = other.or_else(|| parts.rows.kit.get(&voice)) else {
                        continue;
                    };
                    let marks = row.bar(bar);
                    let steps = marks.len() as u64;
                    self.put(voice, marks, |i| bar_ticks * i / steps, &mut hits);
                }
                (hits, bass_of(&parts.rows.bass, bar, bar_ticks))
            }
            Meters::Grouped => self.by_groups(meter),
        };
        if lifted && parts.lift.is_empty() {
            for hit in hits.iter_mut().filter(|hit| hit.voice == KitVoice::Hat) {
                hit.voice = KitVoice::Ride;
            }
        }
        // The plain groove keeps its order, by which its seeded touch goes.
        if parts.meters != Meters::All {
            hits.sort_by_key(|hit| (hit.offset_ticks, hit.voice));
        }
        Figure {
            hits,
            bass,
            strum,
            pads: parts.pads.clone(),
        }
    }

    fn put(
        &self,
        voice: KitVoice,
        marks: &[Option<KitMark>],
        offset: impl Fn(u64) -> u64,
        hits: &mut Vec<Hit>,
    ) {
        let [accent, stroke, ghost] = self.0.touch.get(&voice).copied().unwrap_or(voice.touch());
        for (i, mark) in (0u64..).zip(marks) {
            let Some(mark) = mark else { continue };
            let velocity = match mark.force {
                Force::Accent => accent,
                Force::Stroke => stroke,
                Force::Ghost => ghost,
            };
            hits.push(Hit {
                offset_ticks: offset(i),
                voice,
                velocity,
                ghost: mark.force == Force::Ghost,
                always: mark.always,
            });
        }
    }

    /// The rows of each group, one after the other, two steps to the denominator note.
    fn by_groups(&self, meter: &Meter) -> (Vec<Hit>, BassFigure) {
        let parts = &*self.0;
        let half = meter.unit_ticks() / 2;
        let count = meter.groups().len();
        let (mut hits, mut steps) = (Vec::new(), Vec::new());
        for (i, beat) in meter.beats().enumerate() {
            let rows = match i {
                0 => &parts.rows,
                _ if i + 1 == count => &parts.last,
                _ => &parts.middle,
            };
            let length = usize::try_from(beat.length_ticks / half.max(1)).unwrap_or(usize::MAX);
            for (voice, row) in &rows.kit {
                let marks = row.bar(0);
                let marks = &marks[..length.min(marks.len())];
                self.put(*voice, marks, |i| beat.offset_ticks + half * i, &mut hits);
            }
            if let GrooveBass::Row(row) = &rows.bass {
                let marks = row.bar(0);
                let marks = &marks[..length.min(marks.len())];
                steps.extend(
                    (0u64..)
                        .zip(marks)
                        .map(|(i, m)| (beat.offset_ticks + half * i, *m)),
                );
            }
        }
        if steps.is_empty() {
            return (hits, BassFigure::StrongBeats);
        }
        (
            hits,
            BassFigure::Steps(bass_steps(&steps, meter.bar_ticks())),
        )
    }

    /// Whether kick and bass relate as is stated, in `meter`.
    fn check_bass(&self, meter: &Meter) -> Result<(), GrooveError> {
        let stated = self.0.kick_and_bass;
        let wrong = |bar: u64, at: u64, what: &str| {
            let beat = meter.beats().take_while(|b| b.offset_ticks <= at).count();
            Err(GrooveError::KickAndBass {
                stated: stated.name(),
                found: format!("in bar {} beat {beat} {what}", bar + 1),
            })
        };
        let bars = (0..self.bars() as u64).flat_map(|bar| [(bar, false), (bar, true)]);
        for (bar, lifted) in bars {
            let figure = self.figure(meter, bar, lifted);
            let (begins, at_times) = figure.bass.begins(meter);
            let kicks = figure.hits.iter().filter(|hit| hit.voice == KitVoice::Kick);
            for kick in kicks {
                let at = kick.offset_ticks;
                let with = begins.contains(&at) || (!kick.always && at_times.contains(&at));
                match stated {
                    KickAndBass::Together if kick.always && !with => {
                        return wrong(bar, at, "a kick has no note of the bass");
                    }
                    KickAndBass::Answering if with && at > 0 => {
                        return wrong(bar, at, "a note of the bass begins with a kick");
                    }
                    _ => {}
                }
            }
        }
        Ok(())
    }

    /// Whether its bass walks.
    pub fn walks(&self) -> bool {
        match &self.0.rows.bass {
            GrooveBass::StrongBeats => false,
            GrooveBass::Walk => true,
            GrooveBass::Row(row) => row.bar(0).contains(&BassMark::Walk),
        }
    }
}

fn bass_of(bass: &GrooveBass, bar: u64, bar_ticks: u64) -> BassFigure {
    match bass {
        GrooveBass::StrongBeats => BassFigure::StrongBeats,
        GrooveBass::Walk => BassFigure::Walk,
        GrooveBass::Row(row) => {
            let marks = row.bar(bar);
            let count = marks.len() as u64;
            let steps: Vec<(u64, BassMark)> = (0u64..)
                .zip(marks)
                .map(|(i, mark)| (bar_ticks * i / count, *mark))
                .collect();
            BassFigure::Steps(bass_steps(&steps, bar_ticks))
        }
    }
}

/// The notes of a row of marks, each until the next mark that begins or ends one.
fn bass_steps(marks: &[(u64, BassMark)], bar_ticks: u64) -> Vec<BassStep> {
    let mut found: Vec<BassStep> = Vec::new();
    for (i, (offset, mark)) in marks.iter().enumerate() {
        if matches!(mark, BassMark::Hold | BassMark::Rest) {
            continue;
        }
        // One that comes at times ends nothing: the arrangement cuts what it covers.
        let end = marks[i + 1..]
            .iter()
            .find(|(_, next)| next.always_begins() || *next == BassMark::Rest)
            .map_or(bar_ticks, |next| next.0);
        found.push(BassStep {
            offset_ticks: *offset,
            length_ticks: end - offset,
            mark: *mark,
        });
    }
    found
}
