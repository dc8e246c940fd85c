//! The hand: which frets it can hold at once, with which fingers, and how hard that is.
//!
//! The model and its weights are explained with the [room](super#the-model-of-the-hand).

use super::error::NeckError;
use super::limits::MAX_STRINGS;
use super::units::Finger;
use super::weight;

/// The frets of a shape from the lowest string up; [`MUTED`] where a string is left out, 0 where it rings open.
pub(super) type Frets = [i8; MAX_STRINGS];

/// A string that does not sound.
pub(super) const MUTED: i8 = -1;

/// The most frets a hand may span.
const MAX_SPAN: u8 = 6;

/// What a hand can hold; see [`chord_shapes`](super::chord_shapes) for what is done with it.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub struct HandModel {
    span: u8,
    fingers: u8,
    barre: bool,
    inner_mutes: u8,
    open: bool,
}

impl Default for HandModel {
    /// Four frets, four fingers, barres, one muted string between sounding ones, open strings.
    fn default() -> HandModel {
        HandModel {
            span: 4,
            fingers: 4,
            barre: true,
            inner_mutes: 1,
            open: true,
        }
    }
}

impl HandModel {
    /// The same hand with a span of so many frets, the lowest and the highest held counted: 1 to 6.
    ///
    /// # Errors
    /// [`NeckError::HandSpan`] when `frets` lies outside 1 to 6.
    pub const fn with_span(mut self, frets: u8) -> Result<HandModel, NeckError> {
        if frets == 0 || frets > MAX_SPAN {
            return Err(NeckError::HandSpan {
                value: frets as u32,
            });
        }
        self.span = frets;
        Ok(self)
    }

    /// The same hand with so many fingers, 1 to 4.
    ///
    /// # Errors
    /// [`NeckError::HandFingers`] when `fingers` lies outside 1 to 4.
    pub const fn with_fingers(mut self, fingers: u8) -> Result<HandModel, NeckError> {
        if fingers == 0 || fingers > 4 {
            return Err(NeckError::HandFingers {
                value: fingers as u32,
            });
        }
        self.fingers = fingers;
        Ok(self)
    }

    /// The same hand with or without fingers laid flat over several strings.
    #[must_use]
    pub const fn with_barre(mut self, barre: bool) -> HandModel {
        self.barre = barre;
        self
    }

    /// The same hand with so many muted strings between sounding ones at most.
    #[must_use]
    pub const fn with_inner_mutes(mut self, strings: u8) -> HandModel {
        self.inner_mutes = strings;
        self
    }

    /// The same hand with or without open strings; shapes without them move to every key.
    #[must_use]
    pub const fn with_open(mut self, open: bool) -> HandModel {
        self.open = open;
        self
    }

    /// Frets from the lowest to the highest held, both counted.
    #[must_use]
    pub const fn span(&self) -> u8 {
        self.span
    }

    /// How many fingers there are.
    #[must_use]
    pub const fn fingers(&self) -> u8 {
        self.fingers
    }

    /// Whether a finger may lie flat over several strings.
    #[must_use]
    pub const fn barre(&self) -> bool {
        self.barre
    }

    /// How many muted strings there may be between sounding ones.
    #[must_use]
    pub const fn inner_mutes(&self) -> u8 {
        self.inner_mutes
    }

    /// Whether open strings may ring.
    #[must_use]
    pub const fn open(&self) -> bool {
        self.open
    }
}

/// How the fingers hold a set of frets.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Grip {
    /// The finger of each string from the lowest up, 1 to 4; 0 for a string that is open or muted.
    pub(super) fingers: [u8; MAX_STRINGS],
    /// Barres: finger, and first and last string counted from the lowest, zero-based.
    pub(super) barres: [Option<(Finger, usize, usize)>; 2],
    /// Effort of holding it, in hundredths of a finger; the notes that sound are not counted.
    pub(super) effort: u16,
}

/// A finger put down: its fret, the lowest and the highest string it presses.
#[derive(Clone, Copy)]
struct Press {
    fret: i8,
    from: usize,
    to: usize,
}

/// The frets held, before fingers are chosen.
struct Held {
    count: usize,
    low: i8,
    high: i8,
    top: usize,
    rings_open: bool,
    /// Whether the lowest string that sounds is held at the lowest fret.
    bass_low: bool,
}

/// The easiest way of holding these frets; none when the hand cannot.
pub(super) fn grip(frets: &Frets, count: usize, hand: &HandModel) -> Option<Grip> {
    let strings = &frets[..count];
    let top = strings.iter().rposition(|fret| *fret != MUTED)?;
    let rings_open = strings.contains(&0);
    let Some(low) = strings.iter().copied().filter(|fret| *fret > 0).min() else {
        return Some(Grip {
            fingers: [0; MAX_STRINGS],
            barres: [None; 2],
            effort: 0,
        });
    };
    let high = strings.iter().copied().max().unwrap_or(low);
    if high - low >= i8::try_from(hand.span).unwrap_or(i8::MAX) {
        return None;
    }
    let held = Held {
        count,
        low,
        high,
        top,
        rings_open,
        bass_low: strings.iter().find(|fret| **fret != MUTED) == Some(&low),
    };
    let index = index_barre(frets, &held, hand);
    let upper = upper_barre(frets, &held, hand);
    let mut best: Option<Grip> = None;
    for (index, upper) in [(None, None), (index, None), (None, upper), (index, upper)] {
        if let Some(grip) = fingered(frets, &held, hand, index, upper)
            && best.is_none_or(|best| grip.effort < best.effort)
        {
            best = Some(grip);
        }
    }
    best
}

/// The index laid over the lowest fret, where that presses two strings or more.
fn index_barre(frets: &Frets, held: &Held, hand: &HandModel) -> Option<Press> {
    let from = frets[..held.count].iter().position(|f| *f == held.low)?;
    let under = &frets[from..=held.top];
    let pressed = under.iter().filter(|fret| **fret == held.low).count();
    (hand.barre && pressed > 1 && !under.contains(&0)).then_some(Press {
        fret: held.low,
        from,
        to: held.top,
    })
}

/// Another finger laid over two to four neighboring strings, down from the highest that sounds.
fn upper_barre(frets: &Frets, held: &Held, hand: &HandModel) -> Option<Press> {
    let fret = frets[held.top];
    let run = frets[..=held.top].iter().rev();
    let length = run.take_while(|other| **other == fret).take(4).count();
    (hand.barre && fret > held.low && length > 1).then_some(Press {
        fret,
        from: held.top + 1 - length,
        to: held.top,
    })
}

/// The fingers and the effort when these barres are used.
fn fingered(
    frets: &Frets,
    held: &Held,
    hand: &HandModel,
    index: Option<Press>,
    upper: Option<Press>,
) -> Option<Grip> {
    let most = usize::from(hand.fingers);
    let (presses, used) = pressed(frets, held, most, index, upper)?;
    let presses = &presses[..used];
    let numbers = numbered(presses, held, index.is_some(), most);
    let mut grip = Grip {
        fingers: [0; MAX_STRINGS],
        barres: [None; 2],
        effort: effort_of(presses, held, index, upper),
    };
    let base = base(presses, held, index.is_some());
    let together = index.is_some() && on_one_fret(presses, held);
    for (press, number) in presses.iter().zip(numbers) {
        // Frets from the finger's own to where it is put.
        match i16::from(press.fret - base) - (i16::from(number) - 1) {
            ..=0 => {}
            1 if together => {}
            1 => grip.effort += weight::STRETCHED_FINGER,
            _ => return None,
        }
        let strings = press.from..=press.to;
        for (finger, fret) in grip.fingers[strings.clone()]
            .iter_mut()
            .zip(&frets[strings])
        {
            if *fret == press.fret {
                *finger = number;
            }
        }
    }
    for (slot, press) in grip.barres.iter_mut().zip([index, upper]) {
        *slot = press.map(|press| {
            let finger = Finger::clamped(grip.fingers[press.from]);
            (finger, press.from, press.to)
        });
    }
    Some(grip)
}

/// What each finger presses, in order of fret, then string, and how many fingers it takes; none when there are not
/// enough.
fn pressed(
    frets: &Frets,
    held: &Held,
    most: usize,
    index: Option<Press>,
    upper: Option<Press>,
) -> Option<([Press; 4], usize)> {
    let mut presses = [Press {
        fret: 0,
        from: 0,
        to: 0,
    }; 4];
    let mut used = 0;
    for fret in held.low..=held.high {
        let flat = index.filter(|press| press.fret == fret);
        let covered =
            |string: usize| upper.filter(|p| p.fret == fret && (p.from..=p.to).contains(&string));
        for (string, at) in frets[..held.count].iter().enumerate() {
            let press = match flat.or(covered(string)) {
                Some(press) if press.from == string => press,
                None if *at == fret => Press {
                    fret,
                    from: string,
                    to: string,
                },
                _ => continue,
            };
            if used == most {
                return None;
            }
            presses[used] = press;
            used += 1;
        }
    }
    Some((presses, used))
}

/// The effort of putting these fingers down.
fn effort_of(presses: &[Press], held: &Held, index: Option<Press>, upper: Option<Press>) -> u16 {
    let small = |count: usize| u16::try_from(count).unwrap_or(0);
    let strings = |press: Press| small(press.to + 1 - press.from);
    let mut effort = weight::FINGER * small(presses.len());
    effort += match index.map(strings) {
        None => 0,
        Some(..=2) => weight::BARRE_OF_TWO,
        Some(strings) => weight::BARRE_OF_THREE + weight::BARRE_STRING * (strings - 3),
    };
    if let Some(press) = upper {
        effort += weight::UPPER_BARRE.0 + weight::UPPER_BARRE.1 * strings(press);
    }
    for pair in presses.windows(2) {
        let apart = pair[1].from.saturating_sub(pair[0].to);
        if pair[0].fret == pair[1].fret {
            effort += weight::SPREAD_STRING * small(apart.saturating_sub(2));
        }
    }
    effort + place_effort(held.low, held.high, held.rings_open, held.bass_low)
}

/// The effort of where the hand lies: its place, its stretch and the open strings beside it. It grows with the highest
/// fret.
pub(super) fn place_effort(low: i8, high: i8, rings_open: bool, bass_low: bool) -> u16 {
    let mut effort = weight::PLACE_FRET * u16::from(low.unsigned_abs());
    effort += match high - low {
        ..=2 => 0,
        3 => weight::STRETCH[0],
        4 => weight::STRETCH[1],
        _ => weight::STRETCH[2],
    };
    let beyond = u16::from(high.unsigned_abs()).saturating_sub(weight::OPEN_REACH);
    if rings_open && beyond > 0 {
        effort += weight::OPEN_BESIDE_HIGH.0 + weight::OPEN_BESIDE_HIGH.1 * beyond;
    }
    if rings_open && bass_low {
        effort += weight::OPEN_OVER_INDEX;
    }
    effort
}

/// The fret of the index: the lowest held, or the first where it stays free beside open strings.
fn base(presses: &[Press], held: &Held, barre: bool) -> i8 {
    if !barre && held.rings_open && presses.len() <= 2 && held.high <= 3 {
        1
    } else {
        held.low
    }
}

/// Whether several fingers beside the lowest lie on one fret, no more than two above it.
fn on_one_fret(presses: &[Press], held: &Held) -> bool {
    let above = &presses[presses.len().min(1)..];
    above.len() > 1 && held.high - held.low <= 2 && above.iter().all(|p| p.fret == held.high)
}

/// A finger for each press, which come in order of fret, then string.
fn numbered(presses: &[Press], held: &Held, barre: bool, most: usize) -> [u8; 4] {
    let base = base(presses, held, barre);
    let most = u8::try_from(most).unwrap_or(4);
    let mut numbers = [0_u8; 4];
    let mut last = 0;
    for (number, press) in numbers.iter_mut().zip(presses) {
        let own = (press.fret - base).unsigned_abs() + 1;
        *number = own.min(most).max(last + 1);
        last = *number;
    }
    let parted = presses
        .windows(2)
        .skip(1)
        .any(|pair| pair[1].from.saturating_sub(pair[0].to) > 1);
    let mut limit = if barre && parted && on_one_fret(presses, held) {
        u8::try_from(presses.len()).unwrap_or(most)
    } else {
        most
    };
    for number in numbers[..presses.len()].iter_mut().rev() {
        *number = (*number).min(limit);
        limit = limit.saturating_sub(1);
    }
    numbers
}
