"""Makes chord_symbols.tsv and chord_symbols_disputed.tsv: what general-purpose libraries say of chord symbols.

    python3 tests/reference/make_chord_symbols.py [--node-modules DIR | --tonal-json FILE]

Each library is given the symbol as it stands. One thing is translated: music21 writes flats of root and bass as '-'.
A suffix that begins with '-' is therefore not given to music21 at all (there it would be a flat). Where a library
refuses a symbol it has no say. mir_eval and harte-library read Harte syntax (C:maj7), the other three lead-sheet symbols.
"""

import logging
import warnings

warnings.simplefilter("ignore")
logging.disable(logging.CRITICAL)

import mir_eval.chord
import pychord
from harte.harte import Harte
from music21 import harmony

from refcommon import TONAL, ask_tonal, from_music21, pc, spell, to_music21, tonal_arguments, versions, write_table

ROOTS = "C C# Db D D# Eb E F F# Gb G G# Ab A Bb B Cb".split()

SUFFIXES = """
_ M maj ma major m min mi minor - aug + dim o ° 5
(b5) sus sus2 sus4 sus24 sus4add9 sus4add2 add4 add9 Madd9 majadd9 add2 madd4 madd9 m(add9) add11 Maddb9
6 M6 maj6 add6 m6 min6 mi6 -6 69 6/9 6add9 m69 m6/9 -69 min69 6b5 6#11 M6#11 69#11
7 dom7 dom M7 maj7 ma7 Maj7 MA7 Δ Δ7 ^7 m7 min7 mi7 -7 dim7 o7 °7 m7b5 m7-5 min7b5 mi7b5 -7b5 ø ø7 h7 h hdim7
mM7 mMaj7 mmaj7 m(maj7) m(M7) minmaj7 mima7 -Δ7 -maj7 m#7 m/maj7 oM7
7b5 7-5 7(b5) dom7dim5 7#5 7+5 7+ +7 aug7 7aug 7(#5) maj7#5 maj7+5 M7#5 M7+5 +M7 augmaj7 +maj7 maj7b5 M7b5 m7#5 m7+5
7sus4 7sus maj7sus4 M7sus4 9sus4 9sus 13sus4 13sus 7b9sus4 b9sus sus7
7b9 7-9 7(b9) 7#9 7+9 7(#9) 7#11 7+11 7(#11) 7b13 7-13 7b6 7add6 7add13 67 7no5
7b9#9 7b9b5 7b5b9 7#9b5 7b5#9 7#9#5 7#5#9 7b9#5 7#5b9 7b9#11 7#9#11 7b9b13 7#9b13 7b9#11b13
maj7#11 M7#11 ma7#11 maj7+11 M7+11 maj7b9 M7b9 m7add11 m7add4 maj7add11 M7add13 maj7add13
9 dom9 M9 maj9 Maj9 ma9 Δ9 ^9 m9 min9 mi9 mM9 mMaj9 minmaj9 m9b5 ø9 øb9 o9 dim9
9b5 9-5 9#5 9+5 9+ aug9 9#11 9+11 9+4 9#4 maj9#11 M9#11 maj9#5 +M9 augmaj9 M9b5 9b13 9no5
m11 min11 mi11 mM11 minmaj11 m7b9b5
""".split()

# Suffixes whose meaning is in dispute in the trade; they go to the second table and never to the first.
DISPUTED = """
11 dom11 maj11 M11 Maj11 13 dom13 maj13 M13 Maj13 m13 min13 -13 -11 2 4 7alt alt alt7 -9 +9 +11 +13 -5 +5 11b9
13b9 13#9 13#11 13+11 13-9 maj13#11 M13#11 7b5b13 9#11b13 13b5 13no5 aug13 aug11
""".split()

# What follows the root and a colon in Harte syntax.
HARTE = """
maj min dim aug maj7 min7 7 dim7 hdim7 minmaj7 maj6 min6 9 maj9 min9 sus2 sus4
maj(9) min(9) 7(b9) 7(#9) 7(#11) maj7(#11) sus4(b7) sus4(b7,9) maj(6,9) maj(4) min(4) min7(11) maj(#11)
7(*5) 7(*3) maj(*5) min(*5) maj(*3)
(1,5) (1,3,5) (1,b3,5) (1,4,5) (1,2,5) (1,3,5,b7) (1,3,#5,b7) (1,3,b5,b7) (1,b3,b5,bb7) (1,3,5,7,9)
""".split()
HARTE_DISPUTED = "11 min11 maj11 13 min13 maj13".split()
HARTE_BASSES = [("maj", "3"), ("maj", "5"), ("maj", "2"), ("maj", "b7"), ("min", "b3"), ("min", "5"), ("min", "b7"),
                ("7", "3"), ("7", "5"), ("7", "b7"), ("maj7", "3"), ("maj7", "7"), ("min7", "b3"), ("min7", "5"),
                ("min7", "b7"), ("hdim7", "b5"), ("dim7", "b3"), ("minmaj7", "7")]

# (suffix, bass degree, its alteration): the bass is spelled from the root.
SLASHES = [("", 3, 0), ("", 5, 0), ("", 2, 0), ("", 7, -1), ("", 7, 0), ("", 4, 0), ("m", 3, -1), ("m", 5, 0),
           ("m", 7, -1), ("m", 7, 0), ("m", 4, 0), ("m", 2, 0), ("7", 3, 0), ("7", 5, 0), ("7", 7, -1), ("7", 4, 0),
           ("maj7", 3, 0), ("maj7", 5, 0), ("maj7", 7, 0), ("m7", 3, -1), ("m7", 5, 0), ("m7", 7, -1), ("m7", 4, 0),
           ("6", 3, 0), ("6", 5, 0), ("m6", 3, -1), ("m6", 5, 0), ("dim", 3, -1), ("dim", 5, -1), ("aug", 3, 0),
           ("dim7", 3, -1), ("dim7", 5, -1), ("m7b5", 3, -1), ("m7b5", 5, -1), ("m7b5", 7, -1), ("sus4", 5, 0),
           ("sus4", 4, 0), ("sus2", 5, 0), ("7sus4", 5, 0), ("9", 3, 0), ("m9", 3, -1), ("add9", 3, 0),
           ("mM7", 3, -1)]

SPELLERS = ("tonal", "music21", "pychord", "harte-library")


class Reading:
    """What one library says: root, bass, spelled tones without a foreign bass, pitch classes."""

    def __init__(self, root, bass, tones, pitch_classes=None):
        self.root, self.bass, self.tones = root, bass, tones
        self.pitch_classes = tuple(sorted(set(pitch_classes if tones is None else map(pc, tones))))
        self.root_pc = root if isinstance(root, int) else pc(root)
        self.bass_pc = bass if isinstance(bass, int) else pc(bass)

    def key(self):
        return (self.root_pc, self.bass_pc, self.pitch_classes)


def by_tonal(root, suffix, bass, answers):
    a = answers[root + suffix + (f"/{bass}" if bass else "")]
    if a is None or not a["notes"]:
        return None
    tones = list(a["notes"])
    said = a["bass"] or a["tonic"]
    if a["bass"] and not a["root"]:
        tones.remove(a["bass"])  # a foreign bass is listed among the notes, and then `root` is empty
    start = tones.index(a["tonic"])
    return Reading(a["tonic"], said, tones[start:] + tones[:start])


def by_music21(root, suffix, bass):
    if suffix.startswith("-"):
        return None
    figure = to_music21(root) + suffix
    try:
        plain = harmony.ChordSymbol(figure)
        tones = [from_music21(p.name) for p in plain.pitches]
        whole = plain if not bass else harmony.ChordSymbol(f"{figure}/{to_music21(bass)}")
        named = {from_music21(p.name) for p in whole.pitches}
        got_root, got_bass = from_music21(whole.root().name), from_music21(whole.bass().name)
    except Exception:  # the library raises many kinds for a symbol it cannot read
        return None
    if not tones or named | {got_bass} != set(tones) | {got_bass}:
        return None
    if len(set(tones)) != len(tones):
        tones = list(dict.fromkeys(tones))
    if got_root in tones:
        start = tones.index(got_root)
        tones = tones[start:] + tones[:start]
    return Reading(got_root, got_bass, tones)


def by_pychord(root, suffix, bass):
    try:
        c = pychord.Chord(root + suffix + (f"/{bass}" if bass else ""))
        return Reading(c.root, c.on or c.root, c.quality.get_components(c.root, visible=True))
    except ValueError:
        return None


def by_harte(symbol):
    try:
        h = Harte(symbol)
        plain = Harte(symbol.split("/")[0])
        tones = [from_music21(p.name) for p in plain.pitches]
        return Reading(from_music21(h.root().name), from_music21(h.bass().name), list(dict.fromkeys(tones)))
    except Exception:
        return None


def by_mir_eval(symbol):
    try:
        root, bits, bass = mir_eval.chord.encode(symbol.split("/")[0], reduce_extended_chords=True)
        if "/" in symbol:
            root, _, bass = mir_eval.chord.encode(symbol, reduce_extended_chords=True)
    except Exception:
        return None
    return Reading(int(root), int((root + bass) % 12), None, [(int(root) + i) % 12 for i, on in enumerate(bits) if on])


def degrees(tones):
    return [("CDEFGAB".index(t[0]) - "CDEFGAB".index(tones[0][0])) % 7 + 1 for t in tones]


def judge(symbol, readings, out, left, disputed):
    """Adds the row, or counts why not."""
    groups = {}
    for lib, r in readings.items():
        groups.setdefault(r.key(), []).append(lib)
    agreed = sorted((g for g in groups.values() if len(g) > 1), key=len, reverse=True)
    reason = None
    if not readings:
        reason = "no library reads it"
    elif not agreed:
        reason = "one library only reads it" if len(readings) == 1 else "no two libraries agree"
    elif len(agreed) > 1:
        reason = "two against two"
    if reason is None:
        libs = agreed[0]
        spelled = [l for l in SPELLERS if l in libs]
        first = readings[spelled[0]]
        spellings = {l: frozenset(readings[l].tones) for l in spelled}
        if any(s != spellings[spelled[0]] for s in spellings.values()):
            reason = "same pitch classes, different spelling"
        elif "tonal" in spelled and "pychord" in spelled and first.tones != readings["pychord"].tones:
            reason = "same notes, different order of degrees"
        elif "9" in symbol and "/" not in symbol and degrees(first.tones)[1:3] == [2, 3]:
            reason = "ninth listed as a second"
        elif any(note.count("#") > 2 or note[1:].count("b") > 2 for note in first.tones):
            reason = "needs a triple accidental"
    if reason:
        left[reason] = left.get(reason, 0) + 1
        if reason not in ("no library reads it", "needs a triple accidental"):
            disputed(symbol, readings, reason)
        return
    bass = first.bass
    out.append([symbol, first.root, bass, " ".join(first.tones), " ".join(map(str, first.pitch_classes)),
                ",".join(libs), ",".join(spelled), ",".join(l for l in readings if l not in libs)])


def main():
    options = tonal_arguments()
    suffixes = ["" if s == "_" else s for s in SUFFIXES]
    assert not set(suffixes) & set(DISPUTED)
    assert len(set(suffixes)) == len(suffixes)
    plain = [(r, s, "") for s in suffixes for r in ROOTS]
    slash = [(r, s, spell(r, d, a)) for s, d, a in SLASHES for r in ROOTS]
    slash = [(r, s, b) for r, s, b in slash if len(b) < 3]
    fought = [(r, s, "") for s in DISPUTED for r in ("C", "Eb", "F#")]
    text = lambda r, s, b: r + s + (f"/{b}" if b else "")
    answers = ask_tonal("chord", [text(*x) for x in plain + slash + fought], options)

    def ask(root, suffix, bass):
        found = {
            "tonal": by_tonal(root, suffix, bass, answers),
            "music21": by_music21(root, suffix, bass),
            "pychord": by_pychord(root, suffix, bass),
        }
        return {lib: r for lib, r in found.items() if r is not None}

    def ask_harte(symbol):
        found = {"harte-library": by_harte(symbol), "mir_eval": by_mir_eval(symbol)}
        return {lib: r for lib, r in found.items() if r is not None}

    rows, left, others = [], {}, []

    def remember(symbol, readings, reason):
        for lib, r in readings.items():
            tones = " ".join(r.tones) if r.tones else "pitch classes " + " ".join(map(str, r.pitch_classes))
            others.append([symbol, lib, tones, reason])

    def remember_some(symbol, readings, reason):
        if symbol.split(":")[0].split("/")[0].startswith("C") and symbol[1:2] not in ("#", "b"):
            remember(symbol, readings, reason)

    for x in fought:
        remember(text(*x), ask(*x), "convention in dispute")
    for shorthand in HARTE_DISPUTED:
        for root in ("C", "Eb", "F#"):
            symbol = f"{root}:{shorthand}"
            remember(symbol, ask_harte(symbol), "convention in dispute")
    for x in plain + slash:
        judge(text(*x), ask(*x), rows, left, remember_some)
    harte = [f"{r}:{s}" for s in HARTE for r in ROOTS] + [f"{r}:{s}/{b}" for s, b in HARTE_BASSES for r in ROOTS]
    for symbol in harte:
        judge(symbol, ask_harte(symbol), rows, left, remember_some)

    made_with = [
        "Made by make_chord_symbols.py with " + versions("music21", "pychord", "mir_eval", "harte-library") + ",",
        "  and the npm packages " + ", ".join(f"{n} {v}" for n, v in TONAL.items() if n.startswith("@tonaljs/chord"))
        + " (called tonal below).",
    ]
    asked = len(plain) + len(slash) + len(harte)
    write_table(
        "chord_symbols.tsv",
        [
            "Chord symbols on which two or more general-purpose libraries agree, in lead-sheet and in Harte syntax.",
            *made_with,
            "A symbol is given to each library as it stands; only the flats of root and bass are rewritten for music21,",
            "  and a suffix beginning with '-' is not shown to music21, where that is a flat. harte-library and mir_eval",
            "  read the rows with a colon, the others the rest. harte-library spells through music21. A library that",
            "  refuses a symbol has no say. A row stands where at least two agree on root, bass and pitch classes, no",
            "  other two agree on something else, and all that agree and spell notes (pychord too) spell them alike.",
            "symbol: what is read. root, bass: spelled; the bass is the root unless the symbol names another.",
            "tones: spelled, root first, ascending degrees (1 3 5 7 9 11, or 1 4 5), # ## b bb; a foreign bass is not added.",
            "pitch_classes: of the tones, ascending from 0 = C. agree: libraries that agree on root, bass, pitch classes.",
            "spelled_by: those of them that spell. dissent: libraries that accept the symbol and read something else.",
            f"Asked {asked}, left out {asked - len(rows)}: "
            + "; ".join(f"{n} {reason}" for reason, n in sorted(left.items(), key=lambda x: (-x[1], x[0]))) + ".",
            "Conventions in dispute (11, maj11, 13, maj13, m13, 2, 4, 7alt, -9, +9 ...) are in chord_symbols_disputed.tsv.",
        ],
        ["symbol", "root", "bass", "tones", "pitch_classes", "agree", "spelled_by", "dissent"],
        rows,
    )
    write_table(
        "chord_symbols_disputed.tsv",
        [
            "Chord symbols without an agreed reading: who says what. No row here is right by itself.",
            *made_with,
            "Two sorts of symbols: those whose convention is in dispute, on C, Eb and F#; and, on C only, those that the",
            "  first table left out because the libraries disagree or only one of them reads the symbol.",
            "symbol: what is read. lib: the library (one that refuses the symbol has no row). tones: as that library spells",
            "  them, in its order (mir_eval: pitch classes). reason: why the symbol is here.",
        ],
        ["symbol", "lib", "tones", "reason"],
        others,
    )


if __name__ == "__main__":
    main()
