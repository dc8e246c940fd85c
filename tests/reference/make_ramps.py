"""Makes ramps.tsv: seconds elapsed along tempo ramps, by numerical integration and by the closed form.

    python3 tests/reference/make_ramps.py

Tempi are in beats a minute. Two kinds: `beats` rises evenly per beat over a length in beats, `seconds` evenly in time over
a length in seconds. The numerical column knows no closed form: for `beats` scipy integrates 60/tempo over the beats; for
`seconds` scipy integrates tempo/60 over time and a root finder looks for the time at which that gives the position.
The closed column is computed with 50 decimal digits, so all of its 12 decimals are right.
"""

import math
from decimal import ROUND_DOWN, Decimal, getcontext

from scipy.integrate import quad
from scipy.optimize import brentq

from refcommon import versions, write_table

getcontext().prec = 50

# kind, first tempo, last tempo, length
RAMPS = [
    ("beats", b0, b1, n)
    for b0, b1, n in [
        ("60", "120", "64"), ("120", "60", "64"), ("60", "120", "16"), ("80", "100", "32"), ("100", "80", "32"),
        ("72", "96", "32"), ("40", "208", "100"), ("208", "40", "100"), ("3.6", "960", "64"), ("960", "3.6", "64"),
        ("3.6", "3.7", "8"), ("959", "960", "4000"), ("120", "120.001", "64"), ("120", "119.999", "64"),
        ("120", "120.0000001", "64"), ("90", "90", "48"), ("60", "61", "1"), ("60", "180", "1"), ("180", "60", "1"),
        ("50", "200", "4"), ("66.6", "133.2", "7"), ("93.75", "87.5", "21"), ("100", "101", "10000"),
        ("60", "240", "20000"), ("240", "60", "20000"), ("30", "300", "3"), ("144", "152", "128"), ("132", "66", "12"),
    ]
] + [
    ("seconds", b0, b1, s)
    for b0, b1, s in [
        ("60", "120", "42.666"), ("120", "60", "60"), ("80", "100", "30"), ("100", "80", "30"), ("72", "96", "120"),
        ("40", "208", "90"), ("208", "40", "90"), ("3.6", "960", "60"), ("960", "3.6", "60"), ("3.6", "3.7", "300"),
        ("959", "960", "250"), ("120", "120.001", "45"), ("120", "119.999", "45"), ("120", "120.0000001", "45"),
        ("90", "90", "20"), ("60", "180", "1"), ("180", "60", "1"), ("50", "200", "4"), ("66.6", "133.2", "7.5"),
        ("100", "101", "7200"), ("60", "240", "3600"), ("240", "60", "3600"), ("30", "300", "2.5"), ("144", "152", "64"),
    ]
]

FRACTIONS = [Decimal(n) / Decimal(d) for n, d in
             [(0, 1), (1, 100), (1, 20), (1, 8), (1, 4), (1, 3), (1, 2), (5, 8), (2, 3), (3, 4), (9, 10), (1, 1)]]
TWELVE = Decimal("0.000000000001")


def pieces(f, end, count=64):
    """The integral of f from 0 to end, summed exactly over equal pieces, so that each is easy."""
    return math.fsum(
        quad(f, end * i / count, end * (i + 1) / count, epsabs=0.0, epsrel=1e-13, limit=200)[0] for i in range(count)
    ) if end > 0 else 0.0


def numerical(kind, b0, b1, length, position):
    if position == 0:
        return 0.0
    if kind == "beats":
        return pieces(lambda x: 60.0 / (b0 + (b1 - b0) * x / length), position)
    played = lambda t: quad(lambda s: (b0 + (b1 - b0) * s / length) / 60.0, 0.0, t, epsabs=0.0, epsrel=1e-13)[0]
    high = length * 1.001
    return brentq(lambda t: played(t) - position, 0.0, high, xtol=1e-15, rtol=8.9e-16, maxiter=500)


def closed(kind, b0, b1, length, position):
    if b0 == b1:
        return 60 * position / b0
    if kind == "beats":
        slope = (b1 - b0) / length
        return 60 / slope * ((b0 + slope * position) / b0).ln()
    slope = (b1 - b0) / length
    return (-b0 + (b0 * b0 + 120 * slope * position).sqrt()) / slope


def main():
    rows, worst, worst_of = [], Decimal(0), None
    for kind, *texts in RAMPS:
        b0, b1, length = map(Decimal, texts)
        beats = length if kind == "beats" else length * (b0 + b1) / 120
        for fraction in FRACTIONS:
            position = (beats * fraction).quantize(TWELVE, rounding=ROUND_DOWN)
            exact = closed(kind, b0, b1, length, position)
            found = numerical(kind, float(b0), float(b1), float(length), float(position))
            off = abs(Decimal(found) - exact)
            assert off <= Decimal("1e-11") * max(Decimal(1), exact), (kind, texts, position, found, exact)
            if off > worst:
                worst, worst_of = off, f"{kind} {texts[0]} {texts[1]} {texts[2]}"
            rows.append([kind, *texts, f"{position:.12f}", f"{found:.12f}", f"{exact.quantize(TWELVE):.12f}"])
    write_table(
        "ramps.tsv",
        [
            f"Seconds elapsed along {len(RAMPS)} tempo ramps at {len(FRACTIONS)} positions each, two ways.",
            "Made by make_ramps.py with " + versions("scipy", "numpy") + " (integrate.quad, optimize.brentq) and Python's decimal.",
            "kind: beats = tempo linear in beats, seconds = tempo linear in time. b0, b1: first and last tempo, beats a minute.",
            "length: of the ramp, in beats or seconds as the kind says. position: beats from the ramp's start (cut to 12 decimals;",
            "  both columns are for the position as written). seconds: numerical, of 60/tempo, in double precision.",
            "closed: the closed form with 50 digits, all decimals right. The last position of a ramp is its end.",
            f"Largest difference between the two: {worst:.1e} s, in {worst_of}.",
        ],
        ["kind", "b0", "b1", "length", "position", "seconds", "closed"],
        rows,
    )


if __name__ == "__main__":
    main()
