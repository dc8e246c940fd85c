"""Makes numerals.tsv: Roman numerals in major and minor keys, read by music21 and by a reader of one fixed convention.

    python3 tests/reference/make_numerals.py

The convention (read by `own` below, without the library): flats and sharps before the numeral count from the MAJOR scale
on the tonic, in minor keys too; upper case is a major triad, lower case a minor one; o, ø, + after it are diminished,
half-diminished, augmented; 7 is a minor seventh (diminished after o), maj7 a major one; A/B is A in the key whose tonic
is the root of B. music21 follows another convention in minor keys and for sevenths, so only agreeing rows are kept.
"""

import re

from music21 import key, roman

from refcommon import from_music21, pc, spell, to_music21, versions, write_table

MAJOR = "C G D A E B F# F Bb Eb Ab Db Gb".split()
MINOR = "A E B F# C# G# D G C F Bb Eb".split()

NUMERALS = """
I i II ii III iii IV iv V v VI vi VII vii
bII bIII biii bV bVI bvi bVII bvii #IV #iv #I #V #vi
io iio iiio ivo vo vio viio #io #ivo #vo #iio bviio
I+ III+ IV+ V+ bIII+ bVI+ VI+
I7 i7 II7 ii7 III7 iii7 IV7 iv7 V7 v7 VI7 vi7 VII7 vii7 bII7 bIII7 bVI7 bVII7 #IV7
Imaj7 imaj7 IImaj7 IIImaj7 IVmaj7 ivmaj7 Vmaj7 VImaj7 VIImaj7 bIImaj7 bIIImaj7 bVImaj7 bVIImaj7
iio7 viio7 #io7 #iio7 #ivo7 #vo7 ivo7 io7 bviio7
iø7 iiø7 iiiø7 ivø7 #ivø7 viø7 viiø7 vø7
V/ii V/iii V/III V/IV V/V V/vi V/VI V/bVII V/bIII V/bVI V/bII
V7/ii V7/iii V7/III V7/IV V7/iv V7/V V7/v V7/vi V7/VI V7/bVII V7/bIII V7/bVI V7/bII
viio/ii viio/V viio/vi viio7/ii viio7/iii viio7/IV viio7/iv viio7/V viio7/vi viio7/bVII
viiø7/V viiø7/IV ii7/V ii7/IV iiø7/ii iiø7/vi IV/IV IV/V iv/V
""".split()

DEGREES = ["I", "II", "III", "IV", "V", "VI", "VII"]
SHAPE = re.compile(r"^([b#]*)([IVX]+|[ivx]+)(o|ø|\+)?(7|maj7)?$")


def root_of(tonic, accidentals, numeral):
    alter = accidentals.count("#") - accidentals.count("b")
    return spell(tonic, DEGREES.index(numeral.upper()) + 1, alter)


def own(tonic, text):
    """(root, tones) by the convention above; None for what it does not know."""
    parts = text.split("/")
    for target in reversed(parts[1:]):
        m = SHAPE.match(target)
        tonic = root_of(tonic, m[1], m[2])
    m = SHAPE.match(parts[0])
    if m is None:
        return None
    accidentals, numeral, mark, seventh = m.groups()
    root = root_of(tonic, accidentals, numeral)
    upper = numeral.isupper()
    third = 0 if upper else -1
    fifth = {"o": -1, "ø": -1, "+": 1, None: 0}[mark]
    tones = [root, spell(root, 3, third), spell(root, 5, fifth)]
    if seventh == "maj7":
        tones.append(spell(root, 7, 0))
    elif seventh == "7" or mark == "ø":
        tones.append(spell(root, 7, -2 if mark == "o" else -1))
    return root, tones


def music21_reads(tonic, mode, figure, cautionary=False):
    k = key.Key(to_music21(tonic), mode)
    rule = roman.Minor67Default.CAUTIONARY if cautionary else roman.Minor67Default.QUALITY
    try:
        r = roman.RomanNumeral(figure, k, sixthMinor=rule, seventhMinor=rule)
        return from_music21(r.root().name), [from_music21(p.name) for p in r.pitches]
    except Exception:  # many kinds, for a figure it cannot read
        return None


def same(a, b):
    return a is not None and a[0] == b[0] and sorted(set(a[1])) == sorted(set(b[1]))


def why_not(mode, text, got, want):
    """The reason in words for a figure that music21, asked plainly, reads otherwise."""
    if got is None:
        return "music21 refuses it"
    head, _, target = text.partition("/")
    in_minor = mode == "minor"
    if in_minor and re.match(r"b+(III|VI|VII)", target or head, re.I):
        return "flats in minor: music21 lowers the already lowered degree (bIII, bVI, bVII)"
    if in_minor and re.match(r"(III|VI|VII)($|[^I])", target or head):
        return "upper-case III, VI, VII in minor: music21 means the lowered degree"
    if in_minor and re.match(r"(iii|#?vi|#?vii)($|[^i])", target or head):
        return "lower-case iii, #vi in minor: music21 counts from its own minor degrees"
    if re.search(r"maj7$", head):
        return "maj7: music21 has no such mark and gives the diatonic seventh, here a minor one"
    if re.search(r"7$", head) and got[0] == want[0] and len(got[1]) == len(want[1]) == 4:
        return "7: music21 gives the diatonic seventh (I7, IV7 ...), here a major one"
    return "other"


def main():
    rows, left, ways = [], {}, {}
    asked = 0
    for mode, tonics in (("major", MAJOR), ("minor", MINOR)):
        for tonic in tonics:
            for text in NUMERALS:
                want = own(tonic, text)
                if want is None:
                    left["not of the convention's form"] = left.get("not of the convention's form", 0) + 1
                    continue
                asked += 1
                if any(t.count("#") > 2 or t[1:].count("b") > 2 for t in want[1]):
                    left["needs a triple accidental"] = left.get("needs a triple accidental", 0) + 1
                    continue
                figure = text.replace("maj7", "7")
                tries = [("plain", music21_reads(tonic, mode, figure))]
                if mode == "minor":
                    tries.append(("cautionary", music21_reads(tonic, mode, figure, cautionary=True)))
                    tries.append(("parallel major", music21_reads(tonic, "major", figure)))
                via = next((name for name, got in tries if same(got, want)), None)
                if not same(tries[0][1], want):
                    reason = why_not(mode, text, tries[0][1], want)
                    left[reason] = left.get(reason, 0) + 1
                if via:
                    ways[via] = ways.get(via, 0) + 1
                    rows.append([f"{tonic} {mode}", text, want[0], " ".join(want[1]), via])
    plain = ways["plain"]
    write_table(
        "numerals.tsv",
        [
            "Roman numerals in 13 major and 12 minor keys where music21 agrees with the convention used here.",
            "Made by make_numerals.py with " + versions("music21") + " and a reader of the convention in the script itself.",
            "Convention: flats and sharps count from the MAJOR scale on the tonic, in minor too; upper case major, lower case",
            "  minor; o diminished, ø half-diminished, + augmented; 7 a minor seventh (diminished after o), maj7 a major one;",
            "  A/B is A in the key on the root of B.",
            "key, numeral: what is read. root, tones: spelled, in thirds from the root, both readings alike.",
            "via: how music21 was asked. plain: with its own defaults in that key. cautionary: with its setting by which an",
            "  accidental on VI or VII in minor names the degree and does not lower it again. parallel major: in the major",
            "  key on the same tonic, which is what the convention says; plain is tried first, then these two.",
            "music21 has no mark maj7; X7 was asked for Xmaj7, so those rows stand where its diatonic seventh is major.",
            f"Asked {asked}; agreed plainly {plain}, " + ", ".join(f"{k} {ways[k]}" for k in sorted(ways) if k != "plain")
            + f"; in no way {asked - len(rows)}.",
            "Not agreed plainly: " + "; ".join(f"{n} {r}" for r, n in sorted(left.items(), key=lambda x: (-x[1], x[0]))) + ".",
        ],
        ["key", "numeral", "root", "tones", "via"],
        rows,
    )


if __name__ == "__main__":
    main()
