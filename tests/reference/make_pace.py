"""Makes pace.tsv: the tempo the hands can do, from lists of takes, by numpy and scipy.

    python3 tests/reference/make_pace.py

The model is that of src/practice/pace.rs; the sums are taken on a grid five times as fine. The lists are drawn with a
fixed seed from made-up players.
"""

import numpy as np
from scipy.ndimage import gaussian_filter1d
from scipy.special import expit, logit

from refcommon import versions, write_table

LAPSE, DAY_SD, MOST_DAYS, JUMP, JUMP_SD = 0.04, 0.015, 50, 0.02, 0.2
SCALES = np.array([0.03, 0.0392, 0.0513, 0.0671, 0.0877, 0.1147, 0.15])[:, None]
GRID = np.linspace(np.log(20), np.log(400), 3001)
STEP = GRID[1] - GRID[0]


def offset(share):
    return logit(share / (1 - LAPSE))


def posterior(guess, doubt, can, takes):
    weights = np.repeat(np.exp(-0.5 * ((GRID - np.log(guess)) / doubt) ** 2)[None, :], len(SCALES), axis=0)
    today = takes[0][0] if takes else 0
    for day, tempo, outcome in takes:
        days = min(max(day - today, 0), MOST_DAYS)
        if days:
            weights = gaussian_filter1d(weights, DAY_SD * np.sqrt(days) / STEP, axis=1, mode="mirror", truncate=8)
            weights /= weights.sum()
            mean = (weights * GRID).sum()
            wide = np.exp(-0.5 * ((GRID - mean) / JUMP_SD) ** 2)
            kept = (1 - JUMP) ** days
            weights = kept * weights + (1 - kept) * weights.sum(axis=1, keepdims=True) * wide / wide.sum()
        today = day
        midpoint = GRID[None, :] + SCALES * offset(can)
        clean = (1 - LAPSE) * expit((midpoint - np.log(tempo)) / SCALES)
        weights = weights * {"c": clean, "n": np.sqrt(clean * (1 - clean)), "m": 1 - clean}[outcome]
        weights /= weights.sum()
    return weights / weights.sum()


def estimate(weights, can, share):
    places = GRID[None, :] - SCALES * (offset(share) - offset(can))
    mean = (weights * places).sum()
    fine = np.linspace(GRID[0] - 1, GRID[-1] + 1, 40001)
    below = sum(np.interp(fine, row + STEP / 2, np.cumsum(w), left=0) for row, w in zip(places, weights))
    return [np.clip(np.exp(x), 20, 400) for x in (mean, np.interp(0.1, below, fine), np.interp(0.9, below, fine))]


def main():
    chance = np.random.default_rng(75)
    rows = []
    for number in range(60):
        guess, doubt = chance.choice([45, 60, 100, 160]), chance.choice([0.1, 0.35, 0.7])
        can, practice = [(0.75, 0.9), (0.5, 0.95), (0.8, 0.6)][number % 3]
        truth, scale = guess * np.exp(chance.normal(0, 0.2)), chance.uniform(0.03, 0.12)
        takes, day, tempo = [], 10, float(guess)
        for _ in range(chance.integers(0, 41)):
            day += int(chance.choice([0, 0, 0, 0, 0, 1, 1, 3, 90, -1]))
            sure = expit((np.log(truth) - np.log(tempo)) / scale)
            outcome = "c" if chance.random() < sure else str(chance.choice(["n", "m", "m"]))
            takes.append((day, tempo, outcome))
            tempo = round(float(np.clip(tempo * np.exp(chance.normal(0.02 if outcome == "c" else -0.05, 0.03)), 25, 380)), 1)
        weights = posterior(guess, doubt, can, takes)
        found = estimate(weights, can, can) + estimate(weights, can, practice)
        rows.append([
            guess, doubt, can, practice, " ".join(f"{d}:{t}:{o}" for d, t, o in takes), *(f"{x:.4f}" for x in found)
        ])
    write_table(
        "pace.tsv",
        [
            "The tempo the hands can do, from lists of takes.",
            "Made by make_pace.py with " + versions("numpy", "scipy") + " (special.expit, ndimage.gaussian_filter1d).",
            "guess, doubt: before the first take; can, practice: shares of clean takes.",
            "takes: day, beats a minute, and c clean, n nearly, m missed.",
            "For each share: mean in log tempo, and a tenth below and above, in beats a minute, 20 to 400.",
        ],
        ["guess", "doubt", "can", "practice", "takes", "tempo", "low", "high", "tempo", "low", "high"],
        rows,
    )


if __name__ == "__main__":
    main()
