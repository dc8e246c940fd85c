#!/usr/bin/env python3
"""Checks a Standard MIDI File from outside, and an event stream against it.

    check_midi.py [--program-base N] FILE.mid [FILE.jsonl]
    check_midi.py --selftest

The file is read twice, by the byte walk below, strictly, and by mido; both must find the same channel messages and the
same start and end of every note, within a microsecond. Then the rules that make a file safe to hand out:

  bytes     chunk lengths, at most 4 bytes in a variable-length number, running status only after a channel message of
            the same track (sysex and meta events cancel it), exactly one end of track, last
  tracks    format 0 with one track, or format 1; in format 1 no channel message in track 0; all tracks end at one tick
  tempo     in track 0, one event a tick, one at tick 0, none of zero
  meter     in track 0, one event a tick, changes on bar lines only, counted from the meters themselves; a click of at
            least one clock, eight 32nds in 24 clocks
  notes     every note-on has its note-off and the reverse; offs before ons at one tick; no zero length; no overlap of one
            key on one channel
  text      printable ASCII

The event stream is one JSON object a line: first `kind: header`, last `kind: end`, between them events with tick and
time_ns. Its channel messages must be the file's, as a multiset of (tick, channel, kind, data), its tempo events likewise,
and each time_ns the file's time of that tick exactly: microseconds x ticks x 25 summed in 1/24 ns at 960 ticks a
quarter, rounded once, halves up. Channels count from 1 there, programs from --program-base (default 1).

Prints one summary line for a file, and each failure on a line of its own, at most 20. Exit status: 0 good, 1 failures,
2 wrong use or mido missing. Needs Python 3.9 or newer and mido.
"""

import argparse
import bisect
import io
import json
import struct
import sys
from collections import Counter, defaultdict, deque
from fractions import Fraction

try:
    import mido
except ImportError:
    mido = None

SHOWN = 20
DATA_BYTES = {0x80: 2, 0x90: 2, 0xA0: 2, 0xB0: 2, 0xC0: 1, 0xD0: 1, 0xE0: 2}
META_LENGTHS = {0x00: 2, 0x20: 1, 0x2F: 0, 0x51: 3, 0x54: 5, 0x58: 4, 0x59: 2}
TEMPO, METER, KEY, END = 0x51, 0x58, 0x59, 0x2F


class Broken(Exception):
    """The bytes make no sense from here on."""


class Report:
    def __init__(self):
        self.failures = []

    def fail(self, text):
        self.failures.append(text)


# ---- the bytes -------------------------------------------------------------------------------------------------------


class Track:
    def __init__(self):
        self.messages = []  # (tick, bytes), channel messages with their status written out
        self.metas = []  # (tick, kind, data)
        self.end = None


class Walk:
    """A MIDI file as its bytes say."""

    def __init__(self, data):
        if len(data) < 14 or data[:4] != b"MThd":
            raise Broken("does not begin with a header chunk")
        (length,) = struct.unpack(">I", data[4:8])
        if length != 6:
            raise Broken(f"header length is {length}, not 6")
        self.format, self.declared, division = struct.unpack(">HHH", data[8:14])
        if self.format not in (0, 1):
            raise Broken(f"format {self.format}; only 0 and 1 are checked")
        if division & 0x8000 or division == 0:
            raise Broken(f"division {division:04X} is no number of ticks a quarter")
        self.division = division
        self.tracks = []
        at = 14
        while at < len(data):
            if len(data) - at < 8:
                raise Broken(f"{len(data) - at} bytes too many after the last chunk")
            kind, (length,) = data[at : at + 4], struct.unpack(">I", data[at + 4 : at + 8])
            at += 8
            if not all(0x20 <= b <= 0x7E for b in kind):
                raise Broken(f"no chunk begins at byte {at - 8}")
            if length > len(data) - at:
                raise Broken(f"chunk {kind.decode()} at byte {at - 8} is longer than the file")
            if kind == b"MTrk":
                self.tracks.append(self.walk(data, at, at + length, len(self.tracks)))
            at += length
        if len(self.tracks) != self.declared:
            raise Broken(f"header names {self.declared} tracks, the file has {len(self.tracks)}")
        if self.format == 0 and len(self.tracks) != 1:
            raise Broken(f"format 0 with {len(self.tracks)} tracks")
        if not self.tracks:
            raise Broken("no track")

    @staticmethod
    def number(data, at, end, what):
        """A variable-length number: (value, next byte)."""
        value = 0
        for n in range(4):
            if at + n >= end:
                raise Broken(f"{what} at byte {at} runs past the end of its chunk")
            byte = data[at + n]
            value = value << 7 | byte & 0x7F
            if byte < 0x80:
                return value, at + n + 1
        raise Broken(f"{what} at byte {at} has more than 4 bytes")

    def walk(self, data, at, end, number):
        track = Track()
        tick = 0
        running = None
        open_sysex = False
        while at < end:
            if track.end is not None:
                again = data[at:end].endswith(b"\xff\x2f\x00")
                raise Broken(f"track {number}: " + ("a second end of track" if again else "bytes after the end of track"))
            where = f"track {number}, byte {at}"
            delta, at = self.number(data, at, end, f"track {number}: the delta time")
            tick += delta
            if at >= end:
                raise Broken(f"{where}: a delta time without an event")
            status = data[at]
            if status < 0x80:
                if running is None:
                    raise Broken(f"{where}: running status with no status to run on")
                status = running
            else:
                at += 1
            if status < 0xF0:
                count = DATA_BYTES[status & 0xF0]
                body = data[at : min(at + count, end)]
                if len(body) < count:
                    raise Broken(f"{where}: message cut short")
                if any(b > 0x7F for b in body):
                    raise Broken(f"{where}: data byte above 127")
                track.messages.append((tick, bytes([status]) + body))
                running = status
                at += count
                continue
            running = None
            if status == 0xFF:
                if at >= end:
                    raise Broken(f"{where}: meta event cut short")
                kind = data[at]
                if kind > 0x7F:
                    raise Broken(f"{where}: meta type {kind:02X}")
                length, at = self.number(data, at + 1, end, f"track {number}: the meta length")
                if length > end - at:
                    raise Broken(f"{where}: meta event runs past the end of its chunk")
                if kind in META_LENGTHS and length != META_LENGTHS[kind]:
                    raise Broken(f"{where}: meta {kind:02X} of length {length}, not {META_LENGTHS[kind]}")
                body = data[at : at + length]
                at += length
                if kind == END:
                    track.end = tick
                else:
                    track.metas.append((tick, kind, body))
            elif status in (0xF0, 0xF7):
                length, at = self.number(data, at, end, f"track {number}: the sysex length")
                if length > end - at:
                    raise Broken(f"{where}: sysex runs past the end of its chunk")
                body = data[at : at + length]
                at += length
                closed = body[-1:] == b"\xf7"
                if status == 0xF0 or open_sysex:
                    if any(b > 0x7F for b in (body[:-1] if closed else body)):
                        raise Broken(f"{where}: sysex data above 127")
                    open_sysex = not closed
            else:
                raise Broken(f"{where}: status {status:02X} does not belong in a file")
        if track.end is None:
            raise Broken(f"track {number}: no end of track")
        if open_sysex:
            raise Broken(f"track {number}: sysex never ends")
        return track

    def merged(self):
        """All channel messages as a reader merges them: by tick, then track, then place in the track."""
        everything = [(tick, t, i, m) for t, track in enumerate(self.tracks) for i, (tick, m) in enumerate(track.messages)]
        everything.sort(key=lambda x: x[:3])
        return [(tick, m) for tick, _, _, m in everything]


class TempoMap:
    """Exact time of a tick, in microseconds x ticks (divide by the division for microseconds)."""

    def __init__(self, walk):
        self.division = walk.division
        changes = {}
        for tick, kind, body in walk.tracks[0].metas:
            if kind == TEMPO:
                changes[tick] = int.from_bytes(body, "big")
        changes.setdefault(0, 500_000)
        self.ticks = sorted(changes)
        self.tempi = [changes[t] for t in self.ticks]
        self.sums = [0]
        for i in range(1, len(self.ticks)):
            self.sums.append(self.sums[-1] + self.tempi[i - 1] * (self.ticks[i] - self.ticks[i - 1]))

    def raw(self, tick):
        i = bisect.bisect_right(self.ticks, tick) - 1
        return self.sums[i] + self.tempi[i] * (tick - self.ticks[i])

    def microseconds(self, tick):
        return self.raw(tick) / self.division

    def nanoseconds(self, tick):
        """Rounded once, halves up; at 960 ticks a quarter this is raw x 25 in 1/24 ns."""
        return (2 * self.raw(tick) * 1000 + self.division) // (2 * self.division)


# ---- the rules -------------------------------------------------------------------------------------------------------


def on_or_off(message):
    """'on', 'off' or None, with a note-on of velocity 0 taken for what it is."""
    kind = message[0] & 0xF0
    if kind == 0x90:
        return "on" if message[2] else "off"
    return "off" if kind == 0x80 else None


def key_name(channel_key):
    return f"channel {channel_key[0] + 1} key {channel_key[1]}"


def check_notes(walk, report):
    """Pairs the notes strictly. Returns how many there are."""
    by_key = defaultdict(lambda: defaultdict(list))
    notes = 0
    for tick, message in walk.merged():
        what = on_or_off(message)
        if what:
            by_key[message[0] & 0x0F, message[1]][tick].append(what)
            notes += what == "on"
    for who, ticks in sorted(by_key.items()):
        started = None
        for tick in sorted(ticks):
            row = ticks[tick]
            if started is not None and row[0] == "on" and "off" in row:
                report.fail(f"tick {tick}: {key_name(who)}: note-on before the note-off at one tick")
                row = ["off"] * row.count("off") + ["on"] * row.count("on")
            for what in row:
                if what == "on":
                    if started is not None:
                        report.fail(f"tick {tick}: {key_name(who)} overlaps itself (sounding since tick {started})")
                    started = tick
                elif started is None:
                    report.fail(f"tick {tick}: {key_name(who)}: note-off without a note-on")
                else:
                    if started == tick:
                        report.fail(f"tick {tick}: {key_name(who)}: note of zero length")
                    started = None
        if started is not None:
            report.fail(f"tick {started}: {key_name(who)}: note-on without a note-off")
    return notes


def check_metas(walk, report):
    for number, track in enumerate(walk.tracks):
        for tick, kind, body in track.metas:
            where = f"track {number}, tick {tick}"
            if 0x01 <= kind <= 0x0F and any(not 0x20 <= b <= 0x7E for b in body):
                report.fail(f"{where}: text is not printable ASCII: {body!r}")
            elif kind == TEMPO and int.from_bytes(body, "big") == 0:
                report.fail(f"{where}: tempo of zero")
            elif kind == KEY and not (-7 <= struct.unpack("b", body[:1])[0] <= 7 and body[1] in (0, 1)):
                report.fail(f"{where}: key signature {body.hex(' ')} is none")
            elif kind == METER and (body[2] == 0 or body[3] != 8):
                report.fail(f"{where}: meter with {body[2]} clocks a click and {body[3]} 32nds in 24 clocks")
            elif kind in (0x00, 0x03) and tick != 0:
                report.fail(f"{where}: a track name or sequence number after tick 0")
            if number and kind == TEMPO:
                report.fail(f"{where}: tempo outside track 0")
            if number and kind == METER:
                report.fail(f"{where}: meter outside track 0")
    first = walk.tracks[0].metas
    for name, wanted in (("tempo", TEMPO), ("meter", METER)):
        for tick, count in sorted(Counter(t for t, kind, _ in first if kind == wanted).items()):
            if count > 1:
                report.fail(f"tick {tick}: {count} {name} events at one tick")
    if not any(t == 0 and kind == TEMPO for t, kind, _ in first):
        report.fail("no tempo at tick 0")
    if walk.format == 1 and walk.tracks[0].messages:
        report.fail(f"{len(walk.tracks[0].messages)} channel messages in track 0 of format 1")
    ends = sorted({t.end for t in walk.tracks})
    if len(ends) > 1:
        report.fail("tracks end at different ticks: " + ", ".join(map(str, ends)))


def check_bar_lines(walk, report):
    line, bar = 0, Fraction(4 * walk.division)
    for tick, kind, body in walk.tracks[0].metas:
        if kind != METER:
            continue
        over, under = body[0], body[1]
        if (tick - line) % bar:
            report.fail(f"tick {tick}: meter {over}/{2 ** under} begins inside a bar ({bar} ticks, counted from tick {line})")
        line, bar = tick, Fraction(4 * walk.division * over, 2**under)
        if over == 0 or bar.denominator != 1:
            report.fail(f"tick {tick}: meter {over}/{2 ** under} has no whole number of ticks")
            return


# ---- the second reader -----------------------------------------------------------------------------------------------


def first_in_first_out(messages):
    """{(channel, key): [(start, end)]} from (time, bytes), without judging."""
    sounding, notes = defaultdict(deque), defaultdict(list)
    for time, message in messages:
        what = on_or_off(message)
        who = (message[0] & 0x0F, message[1])
        if what == "on":
            sounding[who].append(time)
        elif what == "off" and sounding[who]:
            notes[who].append((sounding[who].popleft(), time))
    return notes


def check_with_mido(data, walk, report):
    try:
        midi = mido.MidiFile(file=io.BytesIO(data))
        theirs = [[(tick, m) for tick, m in absolute(track)] for track in midi.tracks]
        timed = []
        now = correction = 0.0
        for message in midi:
            # the sum of many small floats, with what rounding loses carried along
            step = message.time - correction
            moved = now + step
            correction = (moved - now) - step
            now = moved
            if not message.is_meta and message.type not in ("sysex",):
                timed.append((now * 1e6, bytes(message.bytes())))
    except Exception as problem:  # whatever the library raises, it could not read the file
        report.fail(f"mido cannot read the file: {type(problem).__name__}: {problem}")
        return
    if (midi.type, midi.ticks_per_beat, len(theirs)) != (walk.format, walk.division, len(walk.tracks)):
        report.fail(f"mido reads format {midi.type}, {midi.ticks_per_beat} ticks, {len(theirs)} tracks")
        return
    for number, (track, messages) in enumerate(zip(walk.tracks, theirs)):
        if track.messages != messages:
            odd = next((i for i, (a, b) in enumerate(zip(track.messages, messages)) if a != b), None)
            what = f"the first at message {odd}" if odd is not None else f"{len(track.messages)} and {len(messages)}"
            report.fail(f"track {number}: mido reads other channel messages ({what})")
    tempo = TempoMap(walk)
    ours = first_in_first_out((tempo.microseconds(tick), m) for tick, m in walk.merged())
    found = first_in_first_out(timed)
    for who in sorted(set(ours) | set(found)):
        a, b = ours.get(who, []), found.get(who, [])
        if len(a) != len(b):
            report.fail(f"{key_name(who)}: {len(a)} notes, mido reads {len(b)}")
            continue
        for mine, other in zip(a, b):
            if any(abs(x - y) > 1.0 for x, y in zip(mine, other)):
                report.fail(f"{key_name(who)}: note at {mine[0]:.3f} to {mine[1]:.3f} us, mido reads {other[0]:.3f} to {other[1]:.3f}")


def absolute(track):
    tick = 0
    for message in track:
        tick += message.time
        if not message.is_meta and message.type != "sysex":
            yield tick, bytes(message.bytes())


# ---- the event stream ------------------------------------------------------------------------------------------------


def whole(event, name, low, high):
    value = event.get(name)
    if type(value) is not int or not low <= value <= high:
        raise ValueError(f"{name} is {value!r}, not a whole number from {low} to {high}")
    return value


def as_message(event, program_base):
    """The bytes of a channel message in the stream, or None for another kind."""
    kind = event["kind"]
    if kind not in ("note_on", "note_off", "program", "control"):
        return None
    channel = whole(event, "channel", 1, 16) - 1
    if kind in ("note_on", "note_off"):
        key, velocity = whole(event, "key", 0, 127), whole(event, "velocity", 0, 127)
        return bytes([(0x90 if kind == "note_on" else 0x80) | channel, key, velocity])
    if kind == "program":
        return bytes([0xC0 | channel, whole(event, "program", program_base, 127 + program_base) - program_base])
    return bytes([0xB0 | channel, whole(event, "controller", 0, 127), whole(event, "value", 0, 127)])


def plain(message):
    """One form for a note-off, whichever way it is written."""
    if message[0] & 0xF0 == 0x90 and message[2] == 0:
        return bytes([0x80 | message[0] & 0x0F, message[1], 0])
    return message


def describe(tick, message):
    names = {0x80: "note_off", 0x90: "note_on", 0xA0: "key pressure", 0xB0: "control", 0xC0: "program", 0xD0: "pressure", 0xE0: "bend"}
    data = " ".join(map(str, message[1:]))
    return f"tick {tick}: {names[message[0] & 0xF0]} {data} on channel {(message[0] & 0x0F) + 1}"


def check_stream(text, walk, program_base, report):
    rows = text.split("\n")
    if rows.pop():
        report.fail("stream: the last line has no line end")
        return
    events = []
    for number, line in enumerate(rows, 1):
        try:
            event = json.loads(line)
        except ValueError as problem:
            report.fail(f"stream line {number}: no JSON: {problem}")
            return
        if not isinstance(event, dict) or not isinstance(event.get("kind"), str):
            report.fail(f"stream line {number}: no object with a kind")
            return
        events.append((number, event))
    if not events or events[0][1]["kind"] != "header":
        report.fail("stream: the first line is no header")
        return
    if len(events) < 2 or events[-1][1]["kind"] != "end":
        report.fail("stream: the last line is no end")
        return
    said = events[0][1].get("ticks_per_quarter")
    if said != walk.division:
        report.fail(f"stream: header says {said} ticks a quarter, the file {walk.division}")
        return
    tempo = TempoMap(walk)
    messages, tempi = Counter(), Counter()
    last = 0
    for number, event in events[1:]:
        kind = event["kind"]
        where = f"stream line {number}"
        if kind == "header" or (kind == "end" and number != len(events)):
            report.fail(f"{where}: a second {kind}")
            continue
        if kind == "end" and "tick" not in event and "time_ns" not in event:
            continue
        try:
            tick = whole(event, "tick", 0, 2**63)
            time = whole(event, "time_ns", 0, 2**63)
            message = as_message(event, program_base)
            if kind == "tempo":
                tempi[tick, whole(event, "us_per_quarter", 1, 0xFFFFFF)] += 1
        except ValueError as problem:
            report.fail(f"{where}: {kind}: {problem}")
            continue
        if tick < last:
            report.fail(f"{where}: tick {tick} after tick {last}")
        last = max(last, tick)
        exact = tempo.nanoseconds(tick)
        if time != exact:
            report.fail(f"{where}: tick {tick} at {time} ns, in the file at {exact} ns")
        if message is not None:
            messages[tick, plain(message)] += 1
        if kind == "end" and tick != walk.tracks[0].end:
            report.fail(f"{where}: ends at tick {tick}, the file at {walk.tracks[0].end}")
    in_file = Counter((tick, plain(m)) for tick, m in walk.merged())
    for (tick, message), count in sorted((in_file - messages).items()):
        report.fail(f"{describe(tick, message)} is in the file, not in the stream" + (f" ({count} times)" if count > 1 else ""))
    for (tick, message), count in sorted((messages - in_file).items()):
        report.fail(f"{describe(tick, message)} is in the stream, not in the file" + (f" ({count} times)" if count > 1 else ""))
    file_tempi = Counter((t, int.from_bytes(b, "big")) for t, kind, b in walk.tracks[0].metas if kind == TEMPO)
    for tick, us in sorted((file_tempi - tempi).keys()):
        report.fail(f"tick {tick}: tempo {us} is in the file, not in the stream")
    for tick, us in sorted((tempi - file_tempi).keys()):
        report.fail(f"tick {tick}: tempo {us} is in the stream, not in the file")


# ---- all together ----------------------------------------------------------------------------------------------------


def check(data, stream=None, program_base=1, for_mido=None):
    """(summary, failures). `for_mido` gives the second reader other bytes; the self-test uses it."""
    report = Report()
    try:
        walk = Walk(data)
    except Broken as problem:
        report.fail(str(problem))
        return f"{len(data)} bytes", report.failures
    check_metas(walk, report)
    check_bar_lines(walk, report)
    notes = check_notes(walk, report)
    check_with_mido(data if for_mido is None else for_mido, walk, report)
    if stream is not None:
        check_stream(stream, walk, program_base, report)
    tempo = TempoMap(walk)
    end = max(t.end for t in walk.tracks)
    summary = (
        f"format {walk.format}, {len(walk.tracks)} tracks, {walk.division} ticks a quarter, {notes} notes, "
        f"{len(tempo.ticks)} tempi, {tempo.microseconds(end) / 1e6:.6f} s"
    )
    if stream is not None:
        summary += f", stream of {stream.count(chr(10))} lines"
    return summary, report.failures


def show(name, summary, failures):
    print(f"{name}: {'FAILED, ' + str(len(failures)) + ' failures' if failures else 'ok'}: {summary}")
    for line in failures[:SHOWN]:
        print(f"  {line}")
    if len(failures) > SHOWN:
        print(f"  and {len(failures) - SHOWN} more")


# ---- the self-test ---------------------------------------------------------------------------------------------------


def vlq(value):
    out = [value & 0x7F]
    while value > 0x7F:
        value >>= 7
        out.append(value & 0x7F | 0x80)
    return bytes(reversed(out))


def chunk(*events):
    """A track chunk from (delta, bytes) pairs."""
    body = b"".join(vlq(delta) + event for delta, event in events)
    return b"MTrk" + struct.pack(">I", len(body)) + body


def file_of(*chunks, form=1, tracks=None, division=960):
    return b"MThd" + struct.pack(">IHHH", 6, form, len(chunks) if tracks is None else tracks, division) + b"".join(chunks)


def meta(kind, data):
    return bytes([0xFF, kind]) + vlq(len(data)) + data


def us(value):
    return meta(TEMPO, value.to_bytes(3, "big"))


def meter(over, power):
    return meta(METER, bytes([over, power, 24, 8]))


EOT = meta(END, b"")
ON, OFF = bytes([0x90, 60, 80]), bytes([0x80, 60, 64])
HEAD = [(0, meta(3, b"head")), (0, us(500_004)), (0, meter(4, 2)), (0, meta(KEY, b"\xfd\x01")), (0, meta(6, b"A"))]
HEAD_TRACK = chunk(*HEAD, (3840, us(461_538)), (3840, EOT))
PART = [(0, bytes([0xC0, 89])), (0, bytes([0xB0, 7, 100])), (1, ON), (959, OFF), (0, ON), (1920, OFF)]
PART_TRACK = chunk(*PART, (4800, EOT))


def good_stream():
    # times by hand: 500 004 us a quarter, then 461 538 from tick 3840; tick 1 is 520 837.5 ns, and halves go up
    rows = [
        {"kind": "header", "version": 1, "ticks_per_quarter": 960},
        {"tick": 0, "time_ns": 0, "kind": "tempo", "us_per_quarter": 500_004},
        {"tick": 0, "time_ns": 0, "kind": "meter", "over": 4, "under": 4},
        {"tick": 0, "time_ns": 0, "kind": "marker", "text": "A"},
        {"tick": 0, "time_ns": 0, "part": "pads", "channel": 1, "kind": "control", "controller": 7, "value": 100},
        {"tick": 0, "time_ns": 0, "part": "pads", "channel": 1, "kind": "program", "program": 90},
        {"tick": 1, "time_ns": 520_838, "part": "pads", "channel": 1, "kind": "note_on", "key": 60, "velocity": 80},
        {"tick": 960, "time_ns": 500_004_000, "part": "pads", "channel": 1, "kind": "note_off", "key": 60, "velocity": 64},
        {"tick": 960, "time_ns": 500_004_000, "part": "pads", "channel": 1, "kind": "note_on", "key": 60, "velocity": 80},
        {"tick": 2880, "time_ns": 1_500_012_000, "part": "pads", "channel": 1, "kind": "note_off", "key": 60, "velocity": 64},
        {"tick": 3840, "time_ns": 2_000_016_000, "kind": "tempo", "us_per_quarter": 461_538},
        {"tick": 7680, "time_ns": 3_846_168_000, "kind": "end"},
    ]
    return rows


def lines(rows):
    return "".join(json.dumps(r) + "\n" for r in rows)


def edited(index, **changes):
    rows = good_stream()
    rows[index].update(changes)
    return lines(rows)


def without(*indexes):
    return lines(r for i, r in enumerate(good_stream()) if i not in indexes)


def selftest():
    good = file_of(HEAD_TRACK, PART_TRACK)
    one = chunk(*HEAD, (0, ON), (960, OFF), (2880, EOT))
    quiet = chunk(*HEAD, (3840, EOT))
    part = lambda *events, end=3840: file_of(quiet, chunk(*events, (end - sum(d for d, _ in events), EOT)))
    head = lambda *events: file_of(chunk(*events, (7680 - sum(d for d, _ in events), EOT)), PART_TRACK)
    raw = lambda body: file_of(quiet, b"MTrk" + struct.pack(">I", len(body)) + body)
    length_at = 14 + len(HEAD_TRACK) + 4  # of the second track's chunk length
    grown = lambda by: good[:length_at] + struct.pack(">I", len(PART_TRACK) - 8 + by) + good[length_at + 4 :]
    sysex = b"\xf0\x03\x7d\x01\xf7"
    bar_change = [*HEAD, (3840, meter(3, 2)), (2880, meter(7, 3)), (3360, meter(4, 2))]

    fine = [
        ("format 1", good, None),
        ("format 1 and its stream", good, lines(good_stream())),
        ("format 0", file_of(one, form=0), None),
        ("running status and note-on of velocity 0", raw(b"\x00\x90\x3c\x50\x87\x40\x3c\x00\x00\x3e\x50\x87\x40\x3e\x00\x8f\x00\xff\x2f\x00"), None),
        ("sysex between notes", part((0, ON), (10, sysex), (0, OFF)), None),
        ("an unknown chunk to skip", file_of(quiet, chunk((0, ON), (1, OFF), (3839, EOT)), tracks=2) + b"XFiv\0\0\0\2ab", None),
        ("meters on bar lines", file_of(chunk(*bar_change, (3840, EOT)), chunk((13920, EOT))), None),
        ("same key on two channels, other keys overlapping", part((0, ON), (0, b"\x91\x3c\x50"), (0, b"\x90\x40\x50"), (9, OFF), (0, b"\x81\x3c\x00"), (1, b"\x80\x40\x00")), None),
        ("480 ticks a quarter", file_of(chunk(*HEAD, (1920, EOT)), chunk((0, ON), (480, OFF), (1440, EOT)), division=480), None),
    ]
    broken = [
        # name, file, stream, words that a failure must contain
        ("no header", b"RIFF" + good[4:], None, "header chunk"),
        ("header length 7", good[:4] + struct.pack(">I", 7) + good[8:], None, "header length"),
        ("format 2", file_of(quiet, form=2), None, "format 2"),
        ("format 0 with two tracks", file_of(quiet, PART_TRACK, form=0), None, "format 0 with 2"),
        ("frames a second", file_of(quiet, division=0xE728), None, "division"),
        ("track count too high", file_of(HEAD_TRACK, PART_TRACK, tracks=3), None, "names 3 tracks"),
        ("chunk length one too long", grown(1), None, "longer than the file"),
        ("chunk length one too short", grown(-1), None, "runs past"),
        ("bytes after the last chunk", good + b"\0\0\0", None, "bytes too many"),
        ("five-byte delta", raw(b"\x80\x80\x80\x80\x00\xff\x2f\x00"), None, "more than 4 bytes"),
        ("running status first", raw(b"\x00\x3c\x50\x00\xff\x2f\x00"), None, "no status to run on"),
        ("running status across a meta event", raw(b"\x00\x90\x3c\x50\x00\xff\x01\x01a\x10\x3c\x00\x00\xff\x2f\x00"), None, "no status to run on"),
        ("running status across sysex", raw(b"\x00\x90\x3c\x50\x00" + sysex + b"\x10\x3c\x00\x00\xff\x2f\x00"), None, "no status to run on"),
        ("clock byte in a track", raw(b"\x00\xf8\x00\xff\x2f\x00"), None, "status F8"),
        ("data byte above 127", raw(b"\x00\x90\x3c\x90\x00\xff\x2f\x00"), None, "above 127"),
        ("message cut short", raw(b"\x00\x90\x3c"), None, "cut short"),
        ("sysex that never ends", part((0, b"\xf0\x02\x7d\x01")), None, "sysex never ends"),
        ("no end of track", file_of(chunk(*HEAD), PART_TRACK), None, "no end of track"),
        ("two ends of track", file_of(HEAD_TRACK, chunk(*PART, (4800, EOT), (0, EOT))), None, "second end of track"),
        ("event after the end of track", file_of(HEAD_TRACK, chunk(*PART, (4800, EOT), (0, ON))), None, "after the end of track"),
        ("tracks end apart", file_of(HEAD_TRACK, chunk(*PART, (4799, EOT))), None, "end at different ticks"),
        ("channel message in track 0", file_of(chunk(*HEAD, (0, ON), (1, OFF), (7679, EOT)), PART_TRACK), None, "in track 0 of format 1"),
        ("no tempo at tick 0", head(HEAD[0], HEAD[2], (960, us(400_000))), None, "no tempo at tick 0"),
        ("two tempi at one tick", head(*HEAD, (960, us(400_000)), (0, us(400_001))), None, "2 tempo events"),
        ("tempo in track 1", file_of(HEAD_TRACK, chunk((0, us(500_000)), *PART, (4800, EOT))), None, "tempo outside track 0"),
        ("tempo of zero", head(*HEAD, (960, us(0))), None, "tempo of zero"),
        ("tempo of two bytes", head(*HEAD, (960, meta(TEMPO, b"\x07\xa1"))), None, "of length 2"),
        ("meter in track 1", file_of(HEAD_TRACK, chunk((0, meter(4, 2)), *PART, (4800, EOT))), None, "meter outside track 0"),
        ("two meters at one tick", head(*HEAD, (0, meter(3, 2))), None, "2 meter events"),
        ("meter inside a bar", head(*HEAD, (2880, meter(3, 2))), None, "inside a bar"),
        ("meter inside a bar of an odd meter", head(HEAD[1], (0, meter(7, 3)), (3840, meter(4, 2))), None, "inside a bar"),
        ("meter with zeroes", head(HEAD[1], (0, meta(METER, b"\x04\x02\0\0"))), None, "clocks a click"),
        ("eight sharps", head(*HEAD, (0, meta(KEY, b"\x08\x00"))), None, "key signature"),
        ("text in UTF-8", head(*HEAD, (0, meta(6, "B\u266d".encode()))), None, "printable ASCII"),
        ("line feed in text", file_of(HEAD_TRACK, chunk((0, meta(1, b"a\n")), *PART, (4800, EOT))), None, "printable ASCII"),
        ("track name late", file_of(HEAD_TRACK, chunk(*PART, (0, meta(3, b"late")), (4800, EOT))), None, "after tick 0"),
        ("note never ended", part((0, ON)), None, "note-on without a note-off"),
        ("note-off alone", part((0, OFF)), None, "note-off without a note-on"),
        ("two note-offs", part((0, ON), (9, OFF), (9, OFF)), None, "note-off without a note-on"),
        ("zero length", part((9, ON), (0, OFF)), None, "zero length"),
        ("zero length by velocity 0", part((9, ON), (0, b"\x90\x3c\x00")), None, "zero length"),
        ("overlap of one key", part((0, ON), (9, ON), (9, OFF), (9, OFF)), None, "overlaps itself"),
        ("note-on before the note-off at one tick", part((0, ON), (9, ON), (0, OFF), (9, OFF)), None, "before the note-off"),
        ("the same across two tracks", file_of(quiet, chunk((9, ON), (9, OFF), (3822, EOT)), chunk((0, ON), (9, OFF), (3831, EOT))), None, "before the note-off"),
        ("stream: no header", good, without(0), "first line is no header"),
        ("stream: no end", good, without(11), "last line is no end"),
        ("stream: empty", good, "", "first line is no header"),
        ("stream: no JSON", good, lines(good_stream()).replace('"kind": "meter"', '"kind": meter'), "no JSON"),
        ("stream: other resolution", good, edited(0, ticks_per_quarter=480), "ticks a quarter"),
        ("stream: note missing", good, without(6), "not in the stream"),
        ("stream: note twice", good, lines(sorted(good_stream() + [good_stream()[6]], key=lambda r: (r["kind"] == "end", r.get("tick", -1)))), "not in the file"),
        ("stream: other velocity", good, edited(6, velocity=81), "not in the stream"),
        ("stream: other key", good, edited(7, key=61), "not in the stream"),
        ("stream: other channel", good, edited(9, channel=2), "not in the stream"),
        ("stream: channel 0", good, edited(9, channel=0), "channel is 0"),
        ("stream: other program", good, edited(5, program=89), "not in the stream"),
        ("stream: other controller value", good, edited(4, value=101), "not in the stream"),
        ("stream: other tick", good, edited(9, tick=2881, time_ns=1_500_532_838), "not in the file"),
        ("stream: 1 ns late", good, edited(8, time_ns=500_004_001), "in the file at 500004000"),
        ("stream: half rounded down", good, edited(6, time_ns=520_837), "in the file at 520838"),
        ("stream: time as a float", good, edited(8, time_ns=500_004_000.0), "not a whole number"),
        ("stream: out of order", good, lines(good_stream()[:9] + good_stream()[10:11] + good_stream()[9:10] + good_stream()[11:]), "after tick"),
        ("stream: other tempo", good, edited(10, us_per_quarter=461_539), "tempo 461539"),
        ("stream: ends elsewhere", good, edited(11, tick=7681, time_ns=3_846_648_769), "ends at tick 7681"),
        ("stream: last line cut", good, lines(good_stream())[:-1], "no line end"),
    ]
    bad = 0
    for name, data, stream in fine:
        _, failures = check(data, stream)
        if failures:
            bad += 1
            print(f"self-test: the good file '{name}' failed: {failures[0]}")
    for name, data, stream, words in broken:
        _, failures = check(data, stream)
        if not any(words in f for f in failures):
            bad += 1
            print(f"self-test: '{name}' was not caught by '{words}': {failures[:3]}")
    others = [
        ("mido reads another tempo", file_of(chunk(*HEAD, (3840, us(461_545)), (3840, EOT)), chunk(*PART, (1920, ON), (960, OFF), (1920, EOT))), "mido reads"),
        ("mido reads another note", file_of(HEAD_TRACK, chunk(*PART[:4], (1, ON), (1919, OFF), (4800, EOT))), "mido reads other channel messages"),
        ("mido refuses the file", b"MThd", "mido cannot read"),
    ]
    long_part = file_of(HEAD_TRACK, chunk(*PART, (1920, ON), (960, OFF), (1920, EOT)))
    for name, other, words in others:
        _, failures = check(long_part if "tempo" in name else good, for_mido=other)
        if not any(words in f for f in failures):
            bad += 1
            print(f"self-test: '{name}' was not caught by '{words}': {failures[:3]}")
    # the general rounding and the one in 1/24 ns are the same numbers at 960 ticks a quarter
    tempo = TempoMap(Walk(good))
    for tick in range(0, 7680):
        if tempo.nanoseconds(tick) != (2 * tempo.raw(tick) * 25 + 24) // 48:
            bad += 1
            print(f"self-test: rounding differs at tick {tick}")
            break
    print(f"self-test: {len(fine)} good files, {len(broken) + len(others)} broken ones, {bad} not as they should be")
    return 1 if bad else 0


def main():
    parser = argparse.ArgumentParser(description="checks a MIDI file, and an event stream against it")
    parser.add_argument("midi", nargs="?", metavar="FILE.mid")
    parser.add_argument("stream", nargs="?", metavar="FILE.jsonl")
    parser.add_argument("--program-base", type=int, choices=(0, 1), default=1, help="first program number in the stream")
    parser.add_argument("--selftest", action="store_true")
    options = parser.parse_args()
    if mido is None:
        print("check_midi: needs mido (see tests/reference/requirements.txt)", file=sys.stderr)
        return 2
    if options.selftest:
        return selftest()
    if not options.midi:
        parser.error("a file to check, or --selftest")
    try:
        with open(options.midi, "rb") as f:
            data = f.read()
        stream = None
        if options.stream:
            with open(options.stream, encoding="utf-8", newline="") as f:
                stream = f.read()
    except (OSError, UnicodeDecodeError) as problem:
        print(f"check_midi: {problem}", file=sys.stderr)
        return 2
    summary, failures = check(data, stream, options.program_base)
    show(options.midi, summary, failures)
    return 1 if failures else 0


if __name__ == "__main__":
    sys.exit(main())
