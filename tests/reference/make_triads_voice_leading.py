"""Makes triads_voice_leading.tsv: the least total movement between every two of 40 triads.

    python3 tests/reference/make_triads_voice_leading.py

The measure: pair the notes of one chord with those of the other one to one; each pair costs its distance in semitones on
the circle of twelve pitch classes; the total of the cheapest pairing counts (voice-leading size as in D. Tymoczko,
"The Geometry of Musical Chords", Science 313, 2006, with the taxicab norm). scipy solves the assignment.
"""

import numpy
from scipy.optimize import linear_sum_assignment

from refcommon import versions, write_table

NAMES = "C Db D Eb E F F# G Ab A Bb B".split()


def triads():
    for suffix, shape, count in (("", (0, 4, 7), 12), ("m", (0, 3, 7), 12), ("dim", (0, 3, 6), 12), ("aug", (0, 4, 8), 4)):
        for root in range(count):
            yield NAMES[root] + suffix, [(root + step) % 12 for step in shape]


def distance(a, b):
    up = (a - b) % 12
    return min(up, 12 - up)


def main():
    chords = list(triads())
    rows = []
    for name_a, a in chords:
        for name_b, b in chords:
            cost = numpy.array([[distance(x, y) for y in b] for x in a])
            i, j = linear_sum_assignment(cost)
            rows.append([name_a, name_b, int(cost[i, j].sum())])
    totals = {(a, b): t for a, b, t in rows}
    assert all(totals[a, b] == totals[b, a] and (t == 0) == (a == b) for (a, b), t in totals.items())
    tally = {t: sum(1 for r in rows if r[2] == t) for t in sorted({r[2] for r in rows})}
    write_table(
        "triads_voice_leading.tsv",
        [
            "Least total movement between every ordered pair of 40 triads: 12 major, 12 minor, 12 diminished, 4 augmented.",
            "Made by make_triads_voice_leading.py with " + versions("scipy", "numpy") + " (optimize.linear_sum_assignment).",
            "The measure: one-to-one pairing of the pitch classes, each pair costs its distance on the circle of twelve",
            "  (0 to 6 semitones), the cheapest total counts; after D. Tymoczko, Science 313 (2006), taxicab norm.",
            "from, to: chord symbols. total: semitones. A chord paired with itself is included (total 0).",
            "How often each total comes: " + ", ".join(f"{t}: {n}" for t, n in tally.items()) + ".",
        ],
        ["from", "to", "total"],
        rows,
    )


if __name__ == "__main__":
    main()
