#!/usr/bin/env python3
"""Holds a piece rendered through a SoundFont to the same piece rendered by fluidsynth with the same font.

    check_font.py [--onsets N] [--pitches N] FILE.mid OURS.wav THEIRS.wav
    check_font.py --selftest

The MIDI file says when notes begin and on which keys. At each instant at which notes begin:

  onset     in both renders, the first frame at which the sound reaches a fifth of the peak of the next 30 ms; looked at
            only where it is quiet before in both. Both must lie within 3 ms of each other, and ours from 1 ms before to
            12 ms after the file's time.
  pitch     in both renders, the frequency of the strongest partial of ours, by the peak of a windowed spectrum with
            interpolation; looked at only where one note sounds alone, 150 ms or longer, off the percussion channel.
            They must lie within 5 cents.

Also fails where fewer than N onsets (8 by default) or pitches (0) could be looked at, and where either render is silent
at a note. Prints one summary line, and each failure on a line of its own, at most 20. Exit status: 0 good, 1 failures,
2 wrong use or numpy missing. Needs Python 3.9 or newer and numpy.

Files to check are made so, for PARTS and CHART of the list below:

    fivefold play PARTS CHART --count-in 0 --soundfont FONT.sf2 -o in.mid -o ours.wav --gain 0 --no-limiter
    fluidsynth -ni -g 0.5 -r 44100 -R 0 -C 0 -F theirs.wav -T wav FONT.sf2 in.mid

    --parts kit                 '| C | F | G | C |'                                         check with --onsets 16
    --parts bass --tempo 30     '| C | F | G | C |'                                         --onsets 8 --pitches 8
    --parts guide --tempo 30    '| C | F | G | C |' --set 'C major pentatonic'              --onsets 24 --pitches 32

The slow tempo leaves the gaps between notes in which onsets can be told. Pads and strums are no use here: their notes
overlap. `-R 0 -C 0` switch reverb and chorus off there; ours are too faint to move an onset or a partial. fluidsynth
rounds times to milliseconds and begins notes in blocks of 64 frames, so its onsets lie 0 to 3 ms behind ours.
"""

import argparse
import os
import struct
import sys
import tempfile
import wave

try:
    import numpy as np
except ImportError:
    np = None

from check_midi import Broken, Walk

SHOWN = 20
ONSETS_WITHIN = 0.003
FROM_FILE = (-0.001, 0.012)
PITCHES_WITHIN = 5.0
PERCUSSION = 9

SEARCH_BEFORE, SEARCH_AFTER = 0.010, 0.060  # around a note's time, in seconds
PEAK_OVER = 0.030
REACHED = 0.2
QUIET = 0.05  # share of the peak
SETTLED = 0.06  # from a note's time to where its pitch is read
LONG_ENOUGH = 0.150
LONGEST = 0.8


class Notes:
    """The notes of a MIDI file: (start, end, key, channel), in seconds."""

    def __init__(self, data):
        walk = Walk(data)
        tempos = sorted(
            (tick, int.from_bytes(body, "big"))
            for track in walk.tracks
            for tick, kind, body in track.metas
            if kind == 0x51
        )
        self.division, self.tempos = walk.division, tempos
        self.notes = []
        for track in walk.tracks:
            open_ = {}
            for tick, message in track.messages:
                status, channel = message[0] & 0xF0, message[0] & 0x0F
                if status not in (0x80, 0x90):
                    continue
                key = (channel, message[1])
                if status == 0x90 and message[2]:
                    open_[key] = self.seconds(tick)
                elif key in open_:
                    self.notes.append((open_.pop(key), self.seconds(tick), message[1], channel))
        self.notes.sort()

    def seconds(self, tick):
        now, last, tempo = 0, 0, 500_000
        for at, new in self.tempos:
            if at >= tick:
                break
            now, last, tempo = now + (at - last) * tempo, at, new
        return (now + (tick - last) * tempo) / self.division / 1e6


def read_wav(path):
    """(rate, mono samples)."""
    with wave.open(path, "rb") as file:
        rate, channels, width = file.getframerate(), file.getnchannels(), file.getsampwidth()
        data = file.readframes(file.getnframes())
    if width == 2:
        samples = np.frombuffer(data, "<i2") / 2**15
    elif width == 3:
        raw = np.frombuffer(data, np.uint8).reshape(-1, 3).astype(np.int32)
        samples = ((raw[:, 0] << 8 | raw[:, 1] << 16 | raw[:, 2] << 24) >> 8) / 2**23
    else:
        raise ValueError(f"{path}: {8 * width} bits a sample, not 16 or 24")
    return rate, samples.reshape(-1, channels).mean(axis=1)


def part(samples, rate, start, end):
    first = max(0, round(start * rate))
    return first, samples[first : max(first, round(end * rate))]


def onset(samples, rate, time):
    """(seconds, level before as a share of the peak); None where it is silent. The peak is that after `time`."""
    _, after = part(samples, rate, time, time + SEARCH_AFTER)
    if not len(after) or np.abs(after).max() < 1e-3:
        return None
    first, window = part(samples, rate, time - SEARCH_BEFORE, time + SEARCH_AFTER)
    window = np.abs(window)
    # The peak of the attack: counted from where the sound begins, so that a slow crescendo does not count.
    begins = int(np.argmax(window > REACHED * np.abs(after).max()))
    peak = window[begins : begins + round(PEAK_OVER * rate)].max()
    at = int(np.argmax(window >= REACHED * peak))
    _, before = part(samples, rate, time - 2 * SEARCH_BEFORE, time - SEARCH_BEFORE)
    return (first + at) / rate, (np.abs(before).max() if len(before) else 0.0) / peak


def spectrum(samples, rate, start, end):
    _, x = part(samples, rate, start, end)
    size = 8 * (1 << max(12, (len(x) - 1).bit_length()))
    bins = np.abs(np.fft.rfft(x * np.hanning(len(x)), size))
    return np.log(bins + 1e-12), size


def interpolated(logs, at):
    left, middle, right = logs[at - 1 : at + 2]
    bend = left - 2 * middle + right
    return at + (0.5 * (left - right) / bend if bend < 0 else 0.0)


def partials(ours, theirs, rate, start, end, lowest):
    """The strongest partial of ours in both, in Hz."""
    logs, size = spectrum(ours, rate, start, end)
    low, high = int(0.8 * lowest * size / rate), int(4000 * size / rate)
    at = low + int(np.argmax(logs[low:high]))
    mine = interpolated(logs, at)
    logs, _ = spectrum(theirs, rate, start, end)
    # The nearest peak within half a semitone.
    near = int(at * 2 ** (-0.5 / 12)), int(at * 2 ** (0.5 / 12)) + 1
    other = near[0] + int(np.argmax(logs[near[0] : near[1]]))
    return mine * rate / size, interpolated(logs, other) * rate / size


def check(notes, rate, ours, theirs, least_onsets, least_pitches):
    """(failures, summary)."""
    failures, onsets, late, pitches = [], [], [], []
    for time in sorted({note[0] for note in notes}):
        mine, other = onset(ours, rate, time), onset(theirs, rate, time)
        if mine is None or other is None:
            failures.append(f"{time:.3f} s: nothing sounds in {'ours' if mine is None else 'theirs'}")
            continue
        if max(mine[1], other[1]) < QUIET:
            onsets.append(mine[0] - other[0])
            late.append(mine[0] - time)
            if abs(onsets[-1]) > ONSETS_WITHIN:
                failures.append(f"{time:.3f} s: ours begins {1e3 * onsets[-1]:+.2f} ms from theirs")
            if not FROM_FILE[0] <= late[-1] <= FROM_FILE[1]:
                failures.append(f"{time:.3f} s: ours begins {1e3 * late[-1]:+.2f} ms from the file's time")
    for start, end, key, channel in notes:
        others = [n for n in notes if n[0] < end and n[1] > start and (n[0], n[2], n[3]) != (start, key, channel)]
        if channel == PERCUSSION or others or end - start < LONG_ENOUGH:
            continue
        until = min(end, start + LONGEST)
        lowest = 440 * 2 ** ((key - 69) / 12)
        mine, other = partials(ours, theirs, rate, start + SETTLED, until, lowest)
        pitches.append(1200 * np.log2(mine / other))
        if abs(pitches[-1]) > PITCHES_WITHIN:
            failures.append(f"{start:.3f} s: key {key} is {pitches[-1]:+.2f} cents from theirs, {mine:.2f} Hz")
    for name, found, least in ("onsets", onsets, least_onsets), ("pitches", pitches, least_pitches):
        if len(found) < least:
            failures.append(f"only {len(found)} {name} could be looked at, {least} wanted")

    def spread(values, factor, unit):
        if not values:
            return "none"
        values = factor * np.array(values)
        return f"{len(values)}, {values.min():+.2f} to {values.max():+.2f} {unit}"

    return failures, (
        f"{len(notes)} notes; onsets against theirs: {spread(onsets, 1e3, 'ms')}; against the file: "
        f"{spread(late, 1e3, 'ms')}; pitches: {spread(pitches, 1, 'cents')}"
    )


def check_files(midi, ours, theirs, least_onsets, least_pitches):
    with open(midi, "rb") as file:
        notes = Notes(file.read()).notes
    (rate, mine), (other_rate, other) = read_wav(ours), read_wav(theirs)
    if rate != other_rate:
        return [f"ours has {rate} frames a second, theirs {other_rate}"], ""
    return check(notes, rate, mine, other, least_onsets, least_pitches)


# ---- the selftest ----------------------------------------------------------------------------------------------------


def midi_file(notes):
    """Format 0, 120 to the minute, 960 ticks a quarter."""
    events = sorted(
        event
        for start, end, key, channel in notes
        for event in (
            (round(start * 1920), 1, 0x90 | channel, key, 90),
            (round(end * 1920), 0, 0x80 | channel, key, 64),
        )
    )

    def number(value):
        out = [value & 127]
        while value := value >> 7:
            out.insert(0, value & 127 | 128)
        return bytes(out)

    body, now = b"\x00\xff\x51\x03\x07\xa1\x20", 0
    for tick, _, *message in events:
        body += number(tick - now) + bytes(message)
        now = tick
    body += b"\x00\xff\x2f\x00"
    return b"MThd" + struct.pack(">IHHH", 6, 0, 1, 960) + b"MTrk" + struct.pack(">I", len(body)) + body


def tones(notes, rate, brightness, shift=lambda n: 0.0, cents=lambda n: 0.0, left_out=()):
    """Plucked tones, one a note; `shift` in seconds."""
    out = np.zeros(round((max(n[1] for n in notes) + 1) * rate))
    for number, (start, end, key, _) in enumerate(notes):
        if number in left_out:
            continue
        hz = 440 * 2 ** ((key - 69 + cents(number) / 100) / 12)
        first = round((start + 0.002 + shift(number)) * rate)
        t = np.arange(round((end - start - 0.03) * rate)) / rate
        tone = sum(brightness**k * np.sin(2 * np.pi * hz * k * t + 1) for k in range(1, 6))
        out[first : first + len(t)] += 0.2 * tone * np.exp(-3 * t) * np.minimum(1, np.arange(len(t), 0, -1) / 200)
    return out


def write_wav(path, rate, samples):
    with wave.open(path, "wb") as file:
        file.setnchannels(2)
        file.setsampwidth(2)
        file.setframerate(rate)
        file.writeframes(np.repeat((samples * 32767).round().astype("<i2"), 2).tobytes())


def selftest():
    rate = 44_100
    notes = [(0.5 * n, 0.5 * n + 0.45, 30 + 5 * n, 1) for n in range(10)]
    only = lambda wanted, value: lambda n: value if n == wanted else 0.0
    cases = {
        "the same": ({}, None),
        "an onset 2 ms late": ({"shift": only(3, 0.002)}, None),
        "an onset 5 ms late": ({"shift": only(3, 0.005)}, "ms from theirs"),
        "an onset 5 ms early": ({"shift": only(7, -0.005)}, "ms from theirs"),
        "a note 3 cents sharp": ({"cents": only(4, 3)}, None),
        "a note 10 cents sharp": ({"cents": only(4, 10)}, "cents from theirs"),
        "a note 10 cents flat": ({"cents": only(0, -10)}, "cents from theirs"),
        "a note a semitone off": ({"cents": only(9, 100)}, "cents from theirs"),
        "a note left out": ({"left_out": (5,)}, "nothing sounds"),
    }
    good = True
    with tempfile.TemporaryDirectory() as folder:
        midi, ours, theirs = (os.path.join(folder, name) for name in ("in.mid", "ours.wav", "theirs.wav"))
        with open(midi, "wb") as file:
            file.write(midi_file(notes))

        def run(name, mine, other, wanted, least=(8, 8)):
            nonlocal good
            write_wav(ours, rate, mine)
            write_wav(theirs, rate, other)
            failures, _ = check_files(midi, ours, theirs, *least)
            right = not failures if wanted is None else any(wanted in text for text in failures)
            if not right:
                print(f"selftest: {name}: {failures or 'not caught'}")
                good = False

        plain = tones(notes, rate, 0.5)
        for name, (changes, wanted) in cases.items():
            # The other render has another timbre, and lies on the other side in turn.
            changed = tones(notes, rate, 0.35, **changes)
            run(name, changed, plain, wanted)
            run(name + ", in theirs", plain, changed, wanted)
        run("both late", *[tones(notes, rate, 0.5, shift=lambda n: 0.02)] * 2, "from the file's time")
        run("both silent", 0 * plain, 0 * plain, "nothing sounds")
        run("too few onsets", plain, plain, "could be looked at", (11, 8))
        run("too few pitches", plain, plain, "could be looked at", (8, 11))
    print("selftest: good" if good else "selftest: FAILED")
    return good


def main():
    parser = argparse.ArgumentParser(description=__doc__.split("\n")[0])
    parser.add_argument("--selftest", action="store_true")
    parser.add_argument("--onsets", type=int, default=8, metavar="N")
    parser.add_argument("--pitches", type=int, default=0, metavar="N")
    parser.add_argument("files", nargs="*", metavar="FILE.mid OURS.wav THEIRS.wav")
    options = parser.parse_args()
    if np is None:
        print("numpy is missing", file=sys.stderr)
        return 2
    if options.selftest:
        return 0 if selftest() else 1
    if len(options.files) != 3:
        parser.error("three files are wanted")
    try:
        failures, summary = check_files(*options.files, options.onsets, options.pitches)
    except (Broken, OSError, EOFError, ValueError, wave.Error) as error:
        failures, summary = [str(error)], ""
    print(f"{options.files[0]}: {summary}")
    for text in failures[:SHOWN]:
        print(f"  {text}")
    if len(failures) > SHOWN:
        print(f"  and {len(failures) - SHOWN} more")
    return 1 if failures else 0


if __name__ == "__main__":
    sys.exit(main())
