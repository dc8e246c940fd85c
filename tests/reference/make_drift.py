"""Makes drift.tsv: latenesses of messages and their slope over time, by scipy.

    python3 tests/reference/make_drift.py

The rows are made up with a fixed seed: late by microseconds, some much later, as on a busy machine.
"""

import numpy as np
from scipy import stats

from refcommon import versions, write_table

# name, messages, drift in parts per million, share of messages that are milliseconds late
SETS = [
    ("even", 120, 0, 0),
    ("drifting", 200, 4, 0),
    ("busy", 256, 0, 0.1),
    ("busy, drifting", 150, -20, 0.2),
    ("few", 7, 1, 0),
    ("ties", 60, 0, 0),
]


def main():
    chance = np.random.default_rng(21)
    rows = []
    for name, count, ppm, share in SETS:
        at = np.cumsum(chance.integers(20_000_000, 600_000_000, count))
        late = 2_000 + chance.integers(0, 4 if name == "ties" else 60_000, count)
        late = late + np.where(chance.random(count) < share, chance.integers(1_000_000, 9_000_000, count), 0)
        late = late + np.rint(at * ppm / 1e6).astype(np.int64)
        line = stats.theilslopes(late, at, alpha=0.95)
        rows.append([
            name, " ".join(map(str, at)), " ".join(map(str, late)),
            *(f"{slope * 1e9:.3f}" for slope in (line.slope, line.low_slope, line.high_slope)),
        ])
    write_table(
        "drift.tsv",
        [
            "Slope of lateness over time.",
            "Made by make_drift.py with " + versions("numpy", "scipy") + " (stats.theilslopes, alpha 0.95).",
            "at, late: when each message was due and how late it went, in ns.",
            "slope, low, high: the slope and the ends of its interval, in billionths.",
        ],
        ["set", "at", "late", "slope", "low", "high"],
        rows,
    )


if __name__ == "__main__":
    main()
