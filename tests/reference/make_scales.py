"""Makes scales.tsv: spelled notes of scales on which music21 and tonal agree.

    python3 tests/reference/make_scales.py [--node-modules DIR | --tonal-json FILE]

tonal is asked by the scale's name. Where music21 has a class for the scale, that class is asked. Where it has none, the
degrees written in this script are given to music21's interval machinery (interval.Interval.transposePitch), one interval
from the root for each degree; then tonal's own intervals and ours are two independent statements of the same scale.
"""

from music21 import interval, pitch, scale

from refcommon import TONAL, ask_tonal, from_music21, spell, to_music21, tonal_arguments, versions, write_table

ROOTS = "C C# Db D D# Eb E F F# Gb G G# Ab A A# Bb B Cb".split()

# name, tonal's name, music21's class (or None), degrees counted from the major scale
SCALES = [
    ("major", "major", "MajorScale", "1 2 3 4 5 6 7"),
    ("ionian", "ionian", "MajorScale", "1 2 3 4 5 6 7"),
    ("dorian", "dorian", "DorianScale", "1 2 b3 4 5 6 b7"),
    ("phrygian", "phrygian", "PhrygianScale", "1 b2 b3 4 5 b6 b7"),
    ("lydian", "lydian", "LydianScale", "1 2 3 #4 5 6 7"),
    ("mixolydian", "mixolydian", "MixolydianScale", "1 2 3 4 5 6 b7"),
    ("aeolian", "aeolian", "MinorScale", "1 2 b3 4 5 b6 b7"),
    ("minor", "minor", "MinorScale", "1 2 b3 4 5 b6 b7"),
    ("locrian", "locrian", "LocrianScale", "1 b2 b3 4 b5 b6 b7"),
    ("harmonic minor", "harmonic minor", "HarmonicMinorScale", "1 2 b3 4 5 b6 7"),
    ("melodic minor", "melodic minor", "MelodicMinorScale", "1 2 b3 4 5 6 7"),
    ("whole tone", "whole tone", "WholeToneScale", "1 2 3 #4 #5 #6"),
    ("whole-half diminished", "whole-half diminished", "OctatonicScale", "1 2 b3 4 b5 b6 6 7"),
    ("half-whole diminished", "half-whole diminished", None, "1 b2 b3 3 #4 5 6 b7"),
    ("major pentatonic", "major pentatonic", None, "1 2 3 5 6"),
    ("egyptian", "egyptian", None, "1 2 4 5 b7"),
    ("malkos raga", "malkos raga", None, "1 b3 4 b6 b7"),
    ("ritusen", "ritusen", None, "1 2 4 5 6"),
    ("minor pentatonic", "minor pentatonic", None, "1 b3 4 5 b7"),
    ("minor blues", "minor blues", None, "1 b3 4 b5 5 b7"),
    ("major blues", "major blues", None, "1 2 b3 3 5 6"),
    ("hirajoshi", "hirajoshi", None, "1 2 b3 5 b6"),
    ("in (kumoijoshi)", "kumoijoshi", None, "1 b2 4 5 b6"),
    ("in-sen", "in-sen", None, "1 b2 4 5 b7"),
    ("iwato", "iwato", None, "1 b2 4 b5 b7"),
    ("kumoi", "kumoi", None, "1 2 b3 5 6"),
    ("minor six pentatonic", "minor six pentatonic", None, "1 b3 4 5 6"),
    ("dominant pentatonic", "dominant pentatonic", None, "1 2 3 5 b7"),
    ("mixolydian pentatonic", "mixolydian pentatonic", None, "1 3 4 5 b7"),
    ("locrian pentatonic", "locrian pentatonic", None, "1 b3 4 b5 b7"),
    ("pelog", "pelog", None, "1 b2 b3 5 b6"),
    ("minor hexatonic", "minor hexatonic", None, "1 2 b3 4 5 7"),
    ("harmonic major", "harmonic major", None, "1 2 3 4 5 b6 7"),
    ("phrygian dominant", "phrygian dominant", None, "1 b2 3 4 5 b6 b7"),
    ("lydian dominant", "lydian dominant", None, "1 2 3 #4 5 6 b7"),
    ("mixolydian b6", "mixolydian b6", None, "1 2 3 4 5 b6 b7"),
    ("locrian #2", "locrian #2", None, "1 2 b3 4 b5 b6 b7"),
    ("lydian augmented", "lydian augmented", None, "1 2 3 #4 #5 6 7"),
    ("dorian b2", "dorian b2", None, "1 b2 b3 4 5 6 b7"),
    ("dorian #4", "dorian #4", None, "1 2 b3 #4 5 6 b7"),
    ("hungarian minor", "hungarian minor", None, "1 2 b3 #4 5 b6 7"),
    ("double harmonic major", "double harmonic major", None, "1 b2 3 4 5 b6 7"),
    ("altered", "altered", None, "1 b2 b3 b4 b5 b6 b7"),
]

QUALITIES = {False: {-2: "d", -1: "m", 0: "M", 1: "A"}, True: {-1: "d", 0: "P", 1: "A"}}


def by_class(name, root, count):
    s = getattr(scale, name)(to_music21(root))
    # the octave is left to the class: it starts from the tonic it was given
    low = s.pitchFromDegree(1)
    found = [low] + [s.pitchFromDegree(i) for i in range(2, count + 1)]
    return [from_music21(p.name) for p in found]


def by_intervals(degrees, root):
    out = []
    for d in degrees:
        number = int(d.lstrip("b#"))
        alter = d.count("#") - d.count("b")
        name = QUALITIES[number in (1, 4, 5)][alter] + str(number)
        out.append(from_music21(interval.Interval(name).transposePitch(pitch.Pitch(to_music21(root) + "4")).name))
    return out


def main():
    options = tonal_arguments()
    answers = ask_tonal("scale", [f"{r} {t}" for _, t, _, _ in SCALES for r in ROOTS], options)
    rows, left, without = [], {}, []

    def leave(name, reason):
        # one line for each name and sort of reason, with the first example
        same = [k for k in left if k[0] == name and k[1].split(":")[0].split(", first")[0] == reason.split(", first")[0]]
        left[same[0] if same else (name, reason)] = left.get(same[0] if same else (name, reason), 0) + 1

    for name, tonal_name, class_name, text in SCALES:
        degrees = text.split()
        for root in ROOTS:
            a = answers[f"{root} {tonal_name}"]
            if a is None:
                leave(name, "tonal does not know it")
                continue
            if class_name:
                music21_notes, how = by_class(class_name, root, len(degrees)), f"music21 {class_name}"
            else:
                music21_notes, how = by_intervals(degrees, root), "music21 intervals"
            if a["notes"] != music21_notes:
                leave(name, f"the two spell it differently, first {root}: tonal {' '.join(a['notes'])}, {how} {' '.join(music21_notes)}")
                continue
            written = [spell(root, int(d.lstrip("b#")), d.count("#") - d.count("b")) for d in degrees]
            if written != music21_notes:
                leave(name, "the degrees in the script say otherwise")
                continue
            if any(n.count("#") > 2 or n[1:].count("b") > 2 for n in music21_notes):
                leave("(any)", "needs a triple accidental")
                continue
            rows.append([name, root, text, " ".join(music21_notes), f"{how},tonal"])
        if not class_name:
            without.append(name)
    write_table(
        "scales.tsv",
        [
            f"Spelled notes of scales on {len(ROOTS)} roots, where music21 and tonal agree on every letter and accidental.",
            "Made by make_scales.py with " + versions("music21") + " and the npm packages "
            + ", ".join(f"{n} {v}" for n, v in TONAL.items() if n.startswith("@tonaljs/scale")) + " (called tonal).",
            "name: a common name (tonal's, but for 'in (kumoijoshi)', its kumoijoshi). root: spelled. degrees: from the major",
            "  scale. notes: ascending from the root. Melodic minor is the ascending form.",
            "agree: which two agree. 'music21 intervals': music21 has no class for the scale, so the degrees in the script were",
            "  put on the root by music21's interval machinery, and tonal's own list of intervals is the second opinion.",
            f"Asked {len(SCALES)} names on {len(ROOTS)} roots = {len(SCALES) * len(ROOTS)}; left out {sum(left.values())}:",
            *[f"  {n} x {name}: {reason}" for (name, reason), n in left.items()],
        ],
        ["name", "root", "degrees", "notes", "agree"],
        rows,
    )


if __name__ == "__main__":
    main()
