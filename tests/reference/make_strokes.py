"""Makes strokes.tsv: rows of a player's strokes and their statistics, by numpy and scipy.

    python3 tests/reference/make_strokes.py

The strokes are made up with a fixed seed: normal about a mean that may drift, some with a heavy tail, one all the same.
No stroke is farther than a third of the gap between places, so that all count.
"""

import numpy as np
from scipy import stats

from refcommon import versions, write_table

# name, strokes, mean, spread, drift a minute (all in ms), distribution
SETS = [
    ("steady", 120, -24, 11, 0, "normal"),
    ("drifting", 200, -5, 14, 9, "normal"),
    ("tailed", 150, 12, 8, 0, "t"),
    ("short", 8, 3, 20, 0, "normal"),
    ("tiny", 2, -7, 5, 0, "normal"),
    ("same", 30, -15, 0, 0, "normal"),
    ("long", 600, 0, 18, -1, "normal"),
]
GAP_NS = 250_000_000


def main():
    chance = np.random.default_rng(20)
    rows = []
    for name, count, mean, spread, drift, kind in SETS:
        at = 1_000_000_000 + GAP_NS * np.arange(count, dtype=np.int64)
        noise = chance.standard_t(3, count) if kind == "t" else chance.standard_normal(count)
        ms = mean + spread * noise + drift * at / 60e9
        offsets = np.clip(np.rint(ms * 1e6), -GAP_NS // 3, GAP_NS // 3).astype(np.int64)
        line = stats.linregress(at / 60e9, offsets) if spread else None
        low, median, high = np.quantile(offsets, [0.1, 0.5, 0.9], method="inverted_cdf")
        rows.append([
            name, GAP_NS, " ".join(map(str, at)), " ".join(map(str, offsets)),
            f"{np.mean(offsets):.3f}", f"{np.std(offsets, ddof=1):.3f}", f"{stats.sem(offsets):.3f}",
            low, median, high, int(np.sum(offsets < 0)),
            *((f"{line.slope:.3f}", f"{line.stderr:.3f}") if line and count > 2 else ("-", "-")),
        ])
    write_table(
        "strokes.tsv",
        [
            "Statistics of rows of strokes.",
            "Made by make_strokes.py with " + versions("numpy", "scipy")
            + " (mean, std with ddof 1, quantile by inverted_cdf; stats.sem, stats.linregress).",
            "at, offsets: when each stroke was heard and how late, in ns; gap: from place to place, in ns.",
            "mean, sd, error (of the mean), low, median, high (10, 50, 90 %) in ns; early: how many are below 0.",
            "slope, slope_error: of offset over time, in ns a minute; - where they are not worked out.",
        ],
        ["set", "gap", "at", "offsets", "mean", "sd", "error", "low", "median", "high", "early", "slope", "slope_error"],
        rows,
    )


if __name__ == "__main__":
    main()
