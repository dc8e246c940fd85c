//! From a set of degrees to its one canonical symbol.
//!
//! Each template is a suffix and the degrees the reader takes it to mean. The printer tries them all, states what is
//! left over as alterations, additions and omissions, and takes the cheapest; a set that none can reach is written out
//! as a list of degrees after a colon (the syntax of Harte et al. 2005), which reads back as well.

use std::fmt;

use super::kind::ChordKind;
use super::mask::Mask;
use crate::theory::degree::Degree;
use crate::theory::pitch::PitchName;

struct Template {
    suffix: &'static str,
    kind: ChordKind,
    tones: Mask,
}

const fn t(suffix: &'static str, kind: ChordKind, tones: Mask) -> Template {
    Template {
        suffix,
        kind,
        tones,
    }
}

const MAJOR: Mask = Mask::ROOT.with(Mask::THIRD).with(Mask::FIFTH);
const MINOR: Mask = Mask::ROOT.with(Mask::FLAT_THIRD).with(Mask::FIFTH);
const DIMINISHED: Mask = Mask::ROOT.with(Mask::FLAT_THIRD).with(Mask::FLAT_FIFTH);
const AUGMENTED: Mask = Mask::ROOT.with(Mask::THIRD).with(Mask::SHARP_FIFTH);
const OPEN: Mask = Mask::ROOT.with(Mask::FIFTH);
const SUS2: Mask = OPEN.with(Mask::SECOND);
const SUS4: Mask = OPEN.with(Mask::FOURTH);
const B7: Mask = Mask::FLAT_SEVENTH;
const M7: Mask = Mask::SEVENTH;
const NINTH: Mask = Mask::NINTH;
const ELEVENTH: Mask = Mask::NINTH.with(Mask::ELEVENTH);
const THIRTEENTH: Mask = Mask::NINTH.with(Mask::THIRTEENTH);

/// Suffixes and their degrees by common practice; among equally cheap ones the first is taken.
const TEMPLATES: [Template; 43] = {
    use ChordKind as K;
    [
        t("", K::Major, MAJOR),
        t("m", K::Minor, MINOR),
        t("dim", K::Diminished, DIMINISHED),
        t("aug", K::Augmented, AUGMENTED),
        t("sus4", K::SuspendedFourth, SUS4),
        t("sus2", K::SuspendedSecond, SUS2),
        t("sus2sus4", K::SuspendedFourth, SUS2.with(SUS4)),
        t("5", K::Power, OPEN),
        t("6", K::MajorSixth, MAJOR.with(Mask::SIXTH)),
        t("m6", K::MinorSixth, MINOR.with(Mask::SIXTH)),
        t("6/9", K::MajorSixth, MAJOR.with(Mask::SIXTH).with(NINTH)),
        t("m6/9", K::MinorSixth, MINOR.with(Mask::SIXTH).with(NINTH)),
        t("6sus4", K::SuspendedFourth, SUS4.with(Mask::SIXTH)),
        t("6sus2", K::SuspendedSecond, SUS2.with(Mask::SIXTH)),
        t("7", K::Dominant, MAJOR.with(B7)),
        t("maj7", K::MajorSeventh, MAJOR.with(M7)),
        t("m7", K::MinorSeventh, MINOR.with(B7)),
        t("mMaj7", K::MajorMinor, MINOR.with(M7)),
        t(
            "dim7",
            K::DiminishedSeventh,
            DIMINISHED.with(Mask::DIM_SEVENTH),
        ),
        t("m7b5", K::HalfDiminished, DIMINISHED.with(B7)),
        t("dimMaj7", K::Diminished, DIMINISHED.with(M7)),
        t("7#5", K::AugmentedSeventh, AUGMENTED.with(B7)),
        t("7alt", K::Dominant, Mask::ALTERED),
        t("7sus4", K::SuspendedFourth, SUS4.with(B7)),
        t("7sus2", K::SuspendedSecond, SUS2.with(B7)),
        t("maj7sus4", K::SuspendedFourth, SUS4.with(M7)),
        t("maj7sus2", K::SuspendedSecond, SUS2.with(M7)),
        t("9", K::DominantNinth, MAJOR.with(B7).with(NINTH)),
        t("maj9", K::MajorNinth, MAJOR.with(M7).with(NINTH)),
        t("m9", K::MinorNinth, MINOR.with(B7).with(NINTH)),
        t("mMaj9", K::MajorMinor, MINOR.with(M7).with(NINTH)),
        t("9sus4", K::SuspendedFourth, SUS4.with(B7).with(NINTH)),
        t("maj9sus4", K::SuspendedFourth, SUS4.with(M7).with(NINTH)),
        t("13", K::DominantThirteenth, MAJOR.with(B7).with(THIRTEENTH)),
        t("maj13", K::MajorThirteenth, MAJOR.with(M7).with(THIRTEENTH)),
        t("m13", K::MinorThirteenth, MINOR.with(B7).with(THIRTEENTH)),
        t("mMaj13", K::MajorMinor, MINOR.with(M7).with(THIRTEENTH)),
        t("13sus4", K::SuspendedFourth, SUS4.with(B7).with(THIRTEENTH)),
        t(
            "maj13sus4",
            K::SuspendedFourth,
            SUS4.with(M7).with(THIRTEENTH),
        ),
        t("11", K::DominantEleventh, OPEN.with(B7).with(ELEVENTH)),
        t("maj11", K::MajorEleventh, OPEN.with(M7).with(ELEVENTH)),
        t("m11", K::MinorEleventh, MINOR.with(B7).with(ELEVENTH)),
        t("mMaj11", K::MajorMinor, MINOR.with(M7).with(ELEVENTH)),
    ]
};

/// Root, thirds, fifths and sevenths.
const CORE: Mask = Mask::ROOT
    .with(Mask::THIRDS)
    .with(Mask::FIFTHS)
    .with(Mask::SEVENTHS);

/// What a symbol can hold beside these, and what may follow `add`.
const COLORS: Mask = Mask::around(2)
    .with(Mask::around(4))
    .with(Mask::around(6))
    .with(Mask::around(9))
    .with(Mask::around(11))
    .with(Mask::around(13));

/// What must be added to a template to reach the wanted degrees.
#[derive(Clone, Copy, Default)]
struct Rest {
    altered: Option<Mask>,
    added: Option<Mask>,
    no_third: bool,
    no_fifth: bool,
}

impl Rest {
    fn altered(&self) -> Mask {
        self.altered.unwrap_or(Mask::EMPTY)
    }

    fn added(&self) -> Mask {
        self.added.unwrap_or(Mask::EMPTY)
    }

    /// Alterations are the easiest to read, then omissions, then additions.
    fn cost(&self) -> u32 {
        self.altered().count() * 10
            + self.added().count() * 15
            + u32::from(self.no_third) * 12
            + u32::from(self.no_fifth) * 12
    }
}

/// The alterations that may stand without `add`, each with the natural degree that must then be absent.
const PLAIN: [(Mask, Mask); 5] = [
    (Mask::FLAT_SIXTH, Mask::SIXTH),
    (Mask::FLAT_NINTH, Mask::NINTH),
    (Mask::SHARP_NINTH, Mask::NINTH),
    (Mask::SHARP_ELEVENTH, Mask::ELEVENTH),
    (Mask::FLAT_THIRTEENTH, Mask::THIRTEENTH),
];

/// The degrees that the reader takes an octave higher beside these tones, so that they cannot be added by name.
fn unsayable(tones: Mask) -> Mask {
    let second = if tones.meets(Mask::THIRDS) {
        Mask::around(2)
    } else {
        Mask::EMPTY
    };
    let inner = if tones.meets(Mask::SEVENTHS) {
        Mask::FOURTH.with(Mask::SIXTH)
    } else {
        Mask::EMPTY
    };
    second.with(inner).with(Mask::SHARP_FOURTH)
}

/// What must be added to a template, or nothing if the template cannot reach the wanted degrees.
fn rest(template: &Template, want: Mask) -> Option<Rest> {
    let have = template.tones;
    if have == want {
        return Some(Rest::default());
    }
    if have == Mask::ALTERED {
        return None;
    }
    let mut rest = Rest::default();
    let (third, wanted_third) = (have.and(Mask::THIRDS), want.and(Mask::THIRDS));
    if third != wanted_third {
        if third.is_empty() || !wanted_third.is_empty() {
            return None;
        }
        rest.no_third = true;
    }
    let mut altered = Mask::EMPTY;
    let (fifth, wanted_fifth) = (have.and(Mask::FIFTHS), want.and(Mask::FIFTHS));
    if fifth != wanted_fifth {
        if template.kind == ChordKind::Power {
            return None;
        } else if wanted_fifth.is_empty() {
            rest.no_fifth = true;
        } else if fifth == Mask::FIFTH && !wanted_fifth.meets(Mask::FIFTH) {
            altered = wanted_fifth;
        } else {
            return None;
        }
    }
    if have.and(Mask::SEVENTHS) != want.and(Mask::SEVENTHS) {
        return None;
    }
    let (upper, wanted_upper) = (have.without(CORE), want.without(CORE));
    let dropped = upper.without(wanted_upper);
    // Only a ninth below the figure's own number gives way to its alterations: C13b9, but not C9b9.
    let ninth_gives_way = upper.meets(Mask::ELEVENTH.with(Mask::THIRTEENTH))
        && want.meets(Mask::FLAT_NINTH.with(Mask::SHARP_NINTH));
    let given_way = if ninth_gives_way {
        Mask::NINTH
    } else {
        Mask::EMPTY
    };
    if !given_way.holds(dropped) {
        return None;
    }
    let extra = wanted_upper.without(upper);
    if extra.meets(unsayable(have)) {
        return None;
    }
    for (alteration, natural) in PLAIN {
        if extra.meets(alteration) && !want.meets(natural) {
            altered = altered.with(alteration);
        }
    }
    rest.added = Some(extra.without(altered));
    rest.altered = Some(altered);
    Some(rest)
}

/// The cheapest template for a set of degrees.
fn best(want: Mask) -> Option<(&'static Template, Rest)> {
    if !want.without(CORE.with(COLORS)).is_empty() {
        return None;
    }
    TEMPLATES
        .iter()
        .filter_map(|template| rest(template, want).map(|rest| (template, rest)))
        .min_by_key(|(_, rest)| rest.cost())
}

/// The kind of the template the symbol is printed from.
pub(super) fn kind(want: Mask) -> Option<ChordKind> {
    best(want).map(|(template, _)| template.kind)
}

/// Writes the symbol after the root.
pub(super) fn write_suffix(
    f: &mut fmt::Formatter<'_>,
    root: PitchName,
    degrees: &[Degree],
) -> fmt::Result {
    let found = Mask::from_degrees(degrees)
        .and_then(best)
        // `Bbb5` would be read as Bb with a flat fifth as easily, so the reader refuses it.
        .filter(|(template, _)| template.kind != ChordKind::Power || root.alter().abs() < 2);
    let Some((template, rest)) = found else {
        return write_list(f, degrees);
    };
    f.write_str(template.suffix)?;
    let figured = template.tones.meets(Mask::SEVENTHS.with(Mask::SIXTH));
    let (altered, added) = (rest.altered(), rest.added());
    if figured {
        for degree in altered.degrees() {
            write!(f, "{degree}")?;
        }
    }
    let bracketed = if figured { Mask::EMPTY } else { altered };
    let items =
        bracketed.count() + added.count() + u32::from(rest.no_third) + u32::from(rest.no_fifth);
    if items == 0 {
        return Ok(());
    }
    if items == 1 && added.count() == 1 && template.suffix.is_empty() {
        return write_items(f, bracketed, added, &rest);
    }
    f.write_str("(")?;
    write_items(f, bracketed, added, &rest)?;
    f.write_str(")")
}

/// Writes alterations, additions and omissions with commas between them.
fn write_items(f: &mut fmt::Formatter<'_>, altered: Mask, added: Mask, rest: &Rest) -> fmt::Result {
    let mut comma = "";
    for degree in altered.degrees() {
        write!(f, "{comma}{degree}")?;
        comma = ",";
    }
    for degree in added.degrees() {
        write!(f, "{comma}add{degree}")?;
        comma = ",";
    }
    for (omitted, text) in [(rest.no_third, "no3"), (rest.no_fifth, "no5")] {
        if omitted {
            write!(f, "{comma}{text}")?;
            comma = ",";
        }
    }
    Ok(())
}

/// Writes all degrees after a colon: `:(1,b3,3,5)`.
fn write_list(f: &mut fmt::Formatter<'_>, degrees: &[Degree]) -> fmt::Result {
    for (index, degree) in degrees.iter().enumerate() {
        write!(f, "{}{degree}", if index == 0 { ":(" } else { "," })?;
    }
    f.write_str(")")
}
