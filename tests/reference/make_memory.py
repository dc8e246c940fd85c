"""Makes memory.tsv: memory after rows of reviews, by the Python package fsrs.

    python3 tests/reference/make_memory.py

The rows of grades and elapsed days are drawn with a fixed seed. fsrs counts elapsed time in whole days, and has a rule of
its own for less than one, so the rows have whole days, or parts of a day for reviews on the same day.
"""

from datetime import datetime, timedelta, timezone
from random import Random

from fsrs import Card, Rating, Scheduler
from fsrs.scheduler import DEFAULT_PARAMETERS

from refcommon import versions, write_table

START = datetime(2026, 1, 5, 12, tzinfo=timezone.utc)
GAPS = {
    "daily": [1, 1, 2, 3],
    "same day": [0.01, 0.1, 0.25, 0.5, 0.9, 1],
    "growing": [1, 2, 4, 8, 16, 32, 64, 128],
    "long": [30, 90, 365, 1000, 3650],
    "mixed": [0.05, 0.5, 1, 2, 5, 11, 40, 200],
}
WEIGHTS = {"any": [1, 1, 1, 1], "well": [1, 2, 8, 3], "badly": [6, 3, 2, 0], "easily": [0, 0, 2, 5]}
ASKED_AFTER = [0, 1, 7, 30, 365]


def row(kind, manner, chance):
    # The two switches: no learning steps, no random intervals.
    scheduler = Scheduler(learning_steps=[], relearning_steps=[], enable_fuzzing=False)
    card, now = Card(), START
    reviews = []
    for turn in range(chance.randint(1, 14)):
        gap = 0 if turn == 0 else chance.choice(GAPS[kind])
        grade = chance.choices([1, 2, 3, 4], WEIGHTS[manner])[0]
        now += timedelta(days=gap)
        card, _ = scheduler.review_card(card, Rating(grade), review_datetime=now)
        reviews.append(f"{gap}:{grade}")
    left = [
        repr(scheduler.get_card_retrievability(card, current_datetime=now + timedelta(days=d))) for d in ASKED_AFTER
    ]
    return [" ".join(reviews), repr(card.stability), repr(card.difficulty), (card.due - now).days, " ".join(left)]


def main():
    chance = Random(6)
    rows = [row(kind, manner, chance) for kind in GAPS for manner in WEIGHTS for _ in range(25)]
    write_table(
        "memory.tsv",
        [
            "Memory after rows of reviews (FSRS-6).",
            "Made by make_memory.py with " + versions("fsrs") + ", its default parameters, no learning steps, no fuzzing:",
            " ".join(map(str, DEFAULT_PARAMETERS)),
            "reviews: days since the last one, and the grade (1 again, 2 hard, 3 good, 4 easy).",
            "interval: whole days until retrievability is 0.9, rounded by the package, at least 1, at most 36500.",
            f"retrievability: after {', '.join(map(str, ASKED_AFTER))} days.",
        ],
        ["reviews", "stability", "difficulty", "interval", "retrievability"],
        rows,
    )


if __name__ == "__main__":
    main()
