#!/usr/bin/env python3
"""Checks that `click FILE.mid` clicks where the beats of the file lie.

    check_click_map.py PROGRAM
    check_click_map.py --selftest

Files are made with mido: divisions, tempi inside bars, ramps of hundreds of changes, meters on bar lines and inside bars,
upbeats. For each the program writes its click as a MIDI file. By mido's own reading of the first file, each beat has a time;
the notes of the second must begin there, one a beat, within TOLERANCE seconds.

Where the division divides 960 all ticks are ours, and what is left is mido's floating point. Elsewhere a change of tempo is
moved by half a tick at most, which shifts what follows by half a tick's difference of the two tempi.

Exit status: 0 good, 1 failures, 2 wrong use or mido missing.
"""

import os
import random
import subprocess
import sys
import tempfile

try:
    import mido
except ImportError:
    mido = None

TOLERANCE = 20e-6
# For divisions between our ticks.
ROUNDED = 2e-3


def made(division, meters, tempi, bars, last=None):
    """A file of format 1. `meters` are (bar, upper, lower), `tempi` (tick, us); the second track has its length."""
    file = mido.MidiFile(type=1, ticks_per_beat=division)
    events, beats, tick = [], [], 0
    meter = (4, 4)
    changes = dict((bar, (upper, lower)) for bar, upper, lower in meters)
    for bar in range(bars):
        if bar in changes:
            meter = changes[bar]
            events.append((tick, mido.MetaMessage("time_signature", numerator=meter[0], denominator=meter[1])))
        upper, lower = meter
        unit = 4 * division / lower
        dotted = lower in (8, 16) and upper in (6, 9, 12)
        count, length = (upper // 3, 3 * unit) if dotted else (upper, unit)
        beats += [round(tick + i * length) for i in range(count)]
        tick += round(upper * unit)
    events += [(at, mido.MetaMessage("set_tempo", tempo=us)) for at, us in tempi]
    for part in (sorted(events, key=lambda e: e[0]), [(last or tick, mido.Message("note_off", note=60))]):
        track, now = mido.MidiTrack(), 0
        for at, message in part:
            track.append(message.copy(time=at - now))
            now = at
        file.tracks.append(track)
    return file, beats


def seconds(file, ticks):
    """The time of ticks, by the tempi of the file in all its tracks."""
    tempi, found, now, at, tempo = [], [], 0.0, 0, 500000
    for track in file.tracks:
        tick = 0
        for message in track:
            tick += message.time
            if message.type == "set_tempo":
                tempi.append((tick, message.tempo))
    tempi.sort(key=lambda t: t[0])
    for tick in ticks:
        while tempi and tempi[0][0] <= tick:
            change, us = tempi.pop(0)
            now += mido.tick2second(change - at, file.ticks_per_beat, tempo)
            at, tempo = change, us
        found.append(now + mido.tick2second(tick - at, file.ticks_per_beat, tempo))
    return found


def onsets(file):
    """When the notes of a file begin."""
    found, now = [], 0.0
    for message in file:
        now += message.time
        if message.type == "note_on" and message.velocity > 0:
            found.append(now)
    return found


def compare(expected, found, tolerance):
    failures = []
    if len(expected) != len(found):
        failures.append(f"count: {len(expected)} beats, {len(found)} clicks")
    worst = max((abs(a - b) for a, b in zip(expected, found)), default=0.0)
    if worst > tolerance:
        failures.append(f"place: {worst * 1e3:.3f} ms off")
    return worst, failures


def cases():
    rng = random.Random(7)
    ramp = lambda division, count: [(i * division // 4, 500000 + 700 * i) for i in range(count)]
    for division in (24, 96, 120, 192, 240, 480, 960):
        yield f"steady, {division}", made(division, [(0, 4, 4)], [(0, 500000)], 16), TOLERANCE
        yield f"no tempo, no meter, {division}", made(division, [], [], 8), TOLERANCE
        yield f"upbeat, {division}", made(division, [(0, 1, 4), (1, 4, 4)], [(0, 612345)], 9), TOLERANCE
        if division % 8 == 0:
            meters = [(0, 4, 4), (4, 6, 8), (8, 3, 4), (12, 7, 8), (16, 2, 2), (18, 12, 8)]
            yield f"meters, {division}", made(division, meters, [(0, 500000), (7 * division + 1, 431234)], 24), TOLERANCE
        yield f"ramp, {division}", made(division, [(0, 4, 4)], ramp(division, 200), 32), TOLERANCE
        inside = sorted({(rng.randrange(division * 64), rng.randrange(250000, 900000)) for _ in range(40)})
        yield f"anywhere, {division}", made(division, [(0, 4, 4)], inside, 16), TOLERANCE
    for division in (384, 1000, 1024, 15360, 32767):
        yield f"between our ticks, {division}", made(division, [(0, 4, 4)], [(t + (i * 7) % 5, us) for i, (t, us) in enumerate(ramp(division, 200))], 32), ROUNDED
    yield "thousands of changes", made(480, [(0, 4, 4)], [(i * 10, 400000 + 37 * (i % 1000)) for i in range(9000)], 64), TOLERANCE
    yield "a last bar that is not full", made(480, [(0, 4, 4)], [(0, 500000)], 4, last=480 * 13), TOLERANCE


def selftest():
    file, beats = made(480, [(0, 4, 4)], [(0, 500000), (960, 250000)], 2)
    times = seconds(file, beats)
    wrong = []
    if times[:4] != [0.0, 0.5, 1.0, 1.25]:
        wrong.append(f"the time of beats: {times[:4]}")
    for what, found, expected in [
        ("right", times, None),
        ("one click less", times[:-1], "count"),
        ("one click late", [*times[:-1], times[-1] + 2 * TOLERANCE], "place"),
    ]:
        _, failures = compare(times, found, TOLERANCE)
        if (expected is None and failures) or (expected and not any(f.startswith(expected) for f in failures)):
            wrong.append(f"{what}: {failures}")
    for failure in wrong:
        print(f"selftest: {failure}")
    print(f"selftest: 4 checks, {len(wrong)} wrong")
    return 1 if wrong else 0


def main():
    if mido is None:
        print("check_click_map: needs mido", file=sys.stderr)
        return 2
    if sys.argv[1:] == ["--selftest"]:
        return selftest()
    if len(sys.argv) != 2:
        print(__doc__, file=sys.stderr)
        return 2
    wrong, count, worst_of_all = 0, 0, 0.0
    with tempfile.TemporaryDirectory() as folder:
        here, there = os.path.join(folder, "here.mid"), os.path.join(folder, "there.mid")
        for name, (file, beats), tolerance in cases():
            file.save(here)
            done = subprocess.run([sys.argv[1], "click", here, "-o", there, "--force"], capture_output=True, text=True)
            if done.returncode:
                failures = [f"program: {done.stderr.strip()}"]
            else:
                worst, failures = compare(seconds(file, beats), onsets(mido.MidiFile(there)), tolerance)
                if tolerance == TOLERANCE:
                    worst_of_all = max(worst, worst_of_all)
                else:
                    print(f"{name}: {worst * 1e3:.3f} ms off at most")
            count += 1
            wrong += bool(failures)
            for failure in failures:
                print(f"{name}: {failure}")
    print(f"{count} files, {wrong} wrong; on our ticks at most {worst_of_all * 1e6:.2f} us off")
    return 1 if wrong else 0


if __name__ == "__main__":
    sys.exit(main())
