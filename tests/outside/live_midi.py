#!/usr/bin/env python3
"""Checks that the program plays to a MIDI port what it should, and leaves no note sounding however it ends.

The port is one of JACK's, on a server without hardware, since ALSA's sequencer needs a kernel module. This script builds
the program for JACK, starts a server of its own, and is the instrument: a client that keeps every message with the time
it came. Needed on Debian: the packages jackd2 and pkg-config; nothing but Python's standard library is used. JACK hands
messages on once a period, so the times say little about lateness, and nothing here goes by them.

    live_midi.py --selftest                     the judging of messages, on runs with known faults
    live_midi.py [--seed N] [--only CHECK]      the checks, on a program built first
    live_midi.py ... --program PATH             the same with a program that is there

The checks: `piece` (every message of a piece arrives, in order, and no other), `signals` (SIGINT, SIGTERM and SIGHUP at
random times end it well), `panic` (a fault in the thread that arranges the bars ends it badly and silently). `--only`
may be given more than once.
"""

import argparse
import collections
import ctypes
import json
import os
import pathlib
import random
import re
import shutil
import signal
import subprocess
import sys
import tempfile
import time

ROOT = pathlib.Path(__file__).resolve().parents[2]
CLIENT = "instrument"
PORT = f"{CLIENT}:in"

# Controllers that end sound: sustain pedal up, all notes off, all sound off.
SILENCE = (64, 123, 120)

# Four parts, so that many messages fall on the same instant; about ten seconds.
PIECES = [
    ["play", "progressions/minor/low-tide.toml", "--tempo", "250", "--bars", "8"],
    ["play", "| Am7 | D9 / G7 / | Cmaj7 | E7 |", "--tempo", "220", "--times", "2",
     "--parts", "click,pads,bass,kit"],
]
# Pads hold through every bar, so that a note sounds at any time.
ENDLESS = ["play", "| Am7 | Fmaj7 | Dm7 | C |", "--tempo", "230", "--times", "endless", "--parts", "click,pads,bass,kit"]

# How long the program may take to end. It is given far more than it needs: the machine may be busy.
PATIENCE = 20.0


class Wrong(Exception):
    """A check that failed."""


# Messages


def wire(line):
    """The bytes of a line of the event lines; None for what is not sent."""
    kind = line["kind"]
    if "channel" not in line:
        return None
    nibble = line["channel"] - 1
    if kind == "note_on":
        return bytes([0x90 | nibble, line["key"], line["velocity"]])
    if kind == "note_off":
        return bytes([0x80 | nibble, line["key"], line["velocity"]])
    if kind == "program":
        return bytes([0xC0 | nibble, line["program"] - 1])
    if kind == "control":
        return bytes([0xB0 | nibble, line["controller"], line["value"]])
    raise Wrong(f"a line of an unknown kind: {line}")


def silencing(messages):
    """What ends the sound on every channel that `messages` use."""
    used = sorted({message[0] & 0x0F for message in messages})
    return [bytes([0xB0 | nibble, controller, 0]) for nibble in used for controller in SILENCE]


def sounding(messages):
    """The keys that are down after `messages`: (channel, key) and how often."""
    down = collections.Counter()
    for message in messages:
        kind, nibble = message[0] & 0xF0, message[0] & 0x0F
        if kind == 0x90 and message[2] > 0:
            down[nibble + 1, message[1]] += 1
        elif kind in (0x80, 0x90):
            # A note-off too many does no harm, and pays for nothing that comes after it.
            down[nibble + 1, message[1]] = max(0, down[nibble + 1, message[1]] - 1)
    return +down


def check_same(expected, found):
    """Every expected message, in order, and no other."""
    for at, (want, got) in enumerate(zip(expected, found)):
        if want != got:
            raise Wrong(f"message {at + 1} of {len(expected)} is {got.hex(' ')} where {want.hex(' ')} was due")
    if len(expected) != len(found):
        more = found[len(expected):] or expected[len(found):]
        raise Wrong(f"{len(found)} messages came where {len(expected)} were due; the first astray is {more[0].hex(' ')}")


def check_silent(messages):
    """No key is down at the end, and every channel was told to be silent after its last note-on.

    Gives how many keys were down when the silencing began: the note-offs and controllers at the end ended them.
    """
    hanging = sounding(messages)
    if hanging:
        raise Wrong(f"left sounding (channel, key): {dict(hanging)}")
    last_on = max((i for i, m in enumerate(messages) if m[0] & 0xF0 == 0x90), default=-1)
    if last_on < 0:
        raise Wrong("no note came at all")
    tail = messages[last_on + 1:]
    missing = [m.hex(" ") for m in silencing(messages) if m not in tail]
    if missing:
        raise Wrong(f"not silenced with {missing}")
    return sum(sounding(messages[:last_on + 1]).values())


# JACK


class MidiEvent(ctypes.Structure):
    _fields_ = [("time", ctypes.c_uint32), ("size", ctypes.c_size_t), ("buffer", ctypes.POINTER(ctypes.c_ubyte))]


class Instrument:
    """A client that keeps all that is sent to it, as (nanoseconds of the monotonic clock, bytes)."""

    def __init__(self):
        self.kept = []
        self.lost = 0
        lib = self.lib = ctypes.CDLL("libjack.so.0")
        pointer, frames = ctypes.c_void_p, ctypes.c_uint32
        for name, result, arguments in [
            ("jack_client_open", pointer, [ctypes.c_char_p, ctypes.c_int, pointer]),
            ("jack_port_register", pointer,
             [pointer, ctypes.c_char_p, ctypes.c_char_p, ctypes.c_ulong, ctypes.c_ulong]),
            ("jack_port_get_buffer", pointer, [pointer, frames]),
            ("jack_midi_get_event_count", frames, [pointer]),
            ("jack_midi_event_get", ctypes.c_int, [ctypes.POINTER(MidiEvent), pointer, frames]),
            ("jack_midi_get_lost_event_count", frames, [pointer]),
            ("jack_set_process_callback", ctypes.c_int, [pointer, pointer, pointer]),
            ("jack_set_error_function", None, [pointer]),
            ("jack_set_info_function", None, [pointer]),
            ("jack_activate", ctypes.c_int, [pointer]),
            ("jack_client_close", ctypes.c_int, [pointer]),
        ]:
            function = getattr(lib, name)
            function.restype, function.argtypes = result, arguments
        quiet = ctypes.CFUNCTYPE(None, ctypes.c_char_p)(lambda text: None)
        process = ctypes.CFUNCTYPE(ctypes.c_int, frames, pointer)(self.process)
        # The library keeps their addresses; we must keep them alive.
        self.callbacks = [quiet, process]
        lib.jack_set_error_function(quiet)
        lib.jack_set_info_function(quiet)
        no_start_server = 1
        self.client = lib.jack_client_open(CLIENT.encode(), no_start_server, None)
        if not self.client:
            raise ConnectionError("no JACK server")
        is_input = 1
        self.port = lib.jack_port_register(self.client, b"in", b"8 bit raw midi", is_input, 0)
        self.event = MidiEvent()
        lib.jack_set_process_callback(self.client, process, None)
        if not self.port or lib.jack_activate(self.client) != 0:
            raise Wrong("no port on the JACK server")

    def process(self, frames, _):
        now = time.monotonic_ns()
        buffer = self.lib.jack_port_get_buffer(self.port, frames)
        for index in range(self.lib.jack_midi_get_event_count(buffer)):
            if self.lib.jack_midi_event_get(ctypes.byref(self.event), buffer, index) == 0:
                self.kept.append((now, ctypes.string_at(self.event.buffer, self.event.size)))
        self.lost += self.lib.jack_midi_get_lost_event_count(buffer)
        return 0

    def forget(self):
        self.kept.clear()

    def messages(self):
        """All messages so far, once no more come."""
        count = -1
        while count != len(self.kept):
            count = len(self.kept)
            time.sleep(0.1)
        if self.lost:
            raise Wrong(f"the server lost {self.lost} messages")
        return [message for _, message in self.kept]

    def close(self):
        self.lib.jack_client_close(self.client)


class Server:
    """A JACK server without hardware, under a name of its own, and an instrument on it."""

    def __init__(self, scratch):
        name = f"fivefold-{os.getpid()}"
        os.environ.update(JACK_DEFAULT_SERVER=name, JACK_NO_START_SERVER="1", JACK_NO_AUDIO_RESERVATION="1")
        self.log = scratch / "jackd.log"
        with open(self.log, "wb") as log:
            # Synchronous, without which the server now and then loses a message.
            command = ["jackd", "-n", name, "-S", "-d", "dummy", "-r", "48000", "-p", "128"]
            self.process = subprocess.Popen(command, stdin=subprocess.DEVNULL, stdout=log, stderr=log)
        end = time.monotonic() + PATIENCE
        while True:
            try:
                self.instrument = Instrument()
                return
            except ConnectionError as error:
                if self.process.poll() is not None or time.monotonic() > end:
                    self.close()
                    raise Wrong(f"jackd does not start:\n{self.log.read_text(errors='replace')}") from error
                time.sleep(0.2)

    def close(self):
        if hasattr(self, "instrument"):
            self.instrument.close()
        self.process.terminate()
        try:
            self.process.wait(PATIENCE)
        except subprocess.TimeoutExpired:
            self.process.kill()
            self.process.wait()


# The program


def build():
    """Builds the program for JACK and gives its path. Stand-ins take the place of the development package."""
    target = ROOT / "target" / "jack"
    standin = target / "stand-in"
    standin.mkdir(parents=True, exist_ok=True)
    listed = subprocess.run(["ldconfig", "-p"], capture_output=True, text=True, check=True).stdout
    library = re.search(r"libjack\.so\.0 .*=> (\S+)", listed)
    if not library or not shutil.which("pkg-config") or not shutil.which("jackd"):
        raise Wrong("install the packages jackd2 and pkg-config first")
    link = standin / "libjack.so"
    link.unlink(missing_ok=True)
    link.symlink_to(library[1])
    text = f"Name: jack\nDescription: stand-in\nVersion: 1.9.21\nLibs: -L{standin} -ljack\nCflags:\n"
    described = standin / "jack.pc"
    if not described.exists() or described.read_text() != text:
        described.write_text(text)
    command = ["cargo", "build", "--locked", "--release", "--features", "jack", "--target-dir", str(target)]
    subprocess.run(command, cwd=ROOT, check=True, env={**os.environ, "PKG_CONFIG_PATH": str(standin)})
    return target / "release" / "fivefold"


class Player:
    """The program, playing to the instrument."""

    def __init__(self, program, arguments, scratch, **environment):
        self.errors = scratch / "errors"
        with open(self.errors, "wb") as errors, open(scratch / "answer", "wb") as out:
            command = [program, *arguments, "--port", PORT, "--json"]
            self.process = subprocess.Popen(command, cwd=ROOT, stdin=subprocess.DEVNULL, stdout=out, stderr=errors,
                                            env={**os.environ, **environment})

    def status(self, longest=PATIENCE):
        """How it ended; it is killed if it does not."""
        try:
            return self.process.wait(longest)
        except subprocess.TimeoutExpired as error:
            self.process.kill()
            self.process.wait()
            raise Wrong(f"still running after {longest:.0f} s") from error

    def check_status(self, wanted, longest=PATIENCE):
        status = self.status(longest)
        if status != wanted:
            raise Wrong(f"exit status {status}, not {wanted}; it said: {self.errors.read_text(errors='replace')}")


def started(instrument, player):
    """Waits until a note has come."""
    end = time.monotonic() + PATIENCE
    while not any(message[0] & 0xF0 == 0x90 for _, message in list(instrument.kept)):
        if player.process.poll() is not None or time.monotonic() > end:
            player.process.kill()
            player.process.wait()
            raise Wrong(f"no note came; the program said: {player.errors.read_text(errors='replace')}")
        time.sleep(0.005)


# The checks


def check_piece(program, instrument, scratch, _):
    for arguments in PIECES:
        lines = scratch / "piece.jsonl"
        subprocess.run([program, *arguments, "-o", lines, "--force"], cwd=ROOT, check=True, stdout=subprocess.DEVNULL,
                       stderr=subprocess.DEVNULL)
        lines = [json.loads(line) for line in lines.read_text().splitlines()][1:]
        expected = [message for message in map(wire, lines) if message]
        length = lines[-1]["time_ns"] / 1e9
        instrument.forget()
        Player(program, arguments, scratch).check_status(0, length + PATIENCE)
        found = instrument.messages()
        check_same(expected + silencing(expected), found)
        check_silent(found)
        print(f"   {len(expected)} messages in {length:.1f} s, and {len(found) - len(expected)} of silencing")


def check_signals(program, instrument, scratch, chance):
    ended = 0
    for number in (signal.SIGINT, signal.SIGTERM, signal.SIGHUP):
        for _ in range(4):
            wait = chance.uniform(0, 2.5)
            instrument.forget()
            player = Player(program, ENDLESS, scratch)
            started(instrument, player)
            time.sleep(wait)
            player.process.send_signal(number)
            try:
                player.check_status(0)
                down = check_silent(instrument.messages())
            except Wrong as wrong:
                raise Wrong(f"{number.name} {wait:.3f} s after the first note: {wrong}") from wrong
            ended += down
            print(f"   {number.name} after {wait:.3f} s: {down} keys were down, none is")
    if ended == 0:
        raise Wrong("no key was down at any of the signals, so this has shown nothing")


def check_panic(program, instrument, scratch, _):
    # The arranging runs ahead of what is heard: look for the number of bars that fails while something is heard.
    bars = 8
    while True:
        instrument.forget()
        player = Player(program, ENDLESS, scratch, FIVEFOLD_PANIC_AFTER_BARS=str(bars))
        player.check_status(101, 60 + PATIENCE)
        messages = instrument.messages()
        said = player.errors.read_text(errors="replace")
        if "FIVEFOLD_PANIC_AFTER_BARS" not in said:
            raise Wrong(f"not the fault that was ordered: {said}")
        if any(message[0] & 0xF0 == 0x90 for message in messages):
            break
        if bars > 2000:
            raise Wrong("the fault always came before the first note")
        bars = bars * 5 // 4
    down = check_silent(messages)
    if down == 0:
        raise Wrong("no key was down at the fault, so this has shown nothing")
    print(f"   after {bars} bars were arranged: {down} keys were down, none is")


CHECKS = {"piece": check_piece, "signals": check_signals, "panic": check_panic}


def selftest():
    on, off = bytes([0x91, 60, 90]), bytes([0x81, 60, 64])
    other, other_off = bytes([0x91, 64, 90]), bytes([0x81, 64, 64])
    zero = bytes([0x91, 60, 0])
    silence = silencing([on])
    assert silence == [bytes([0xB1, 64, 0]), bytes([0xB1, 123, 0]), bytes([0xB1, 120, 0])]
    assert sounding([on, off]) == {} == sounding([on, zero])
    assert sounding([off, on]) == {(2, 60): 1}
    assert sounding([on, on, off]) == {(2, 60): 1}
    assert check_silent([on, off, *silence]) == 1
    check_same([on, off], [on, off])
    line = {"kind": "program", "channel": 2, "program": 90}
    assert wire(line) == bytes([0xC1, 89]) and wire({"kind": "tempo"}) is None
    for fault in [
        lambda: check_same([on, off], [off, on]),
        lambda: check_same([on, off], [on]),
        lambda: check_same([on], [on, off]),
        lambda: check_silent([on, *silence]),
        lambda: check_silent([on, other, off, *silence]),
        lambda: check_silent([on, off, *silence[:2]]),
        lambda: check_silent([*silence, on, other, off, other_off]),
        lambda: check_silent(silence),
        lambda: wire({"kind": "song", "channel": 1}),
    ]:
        try:
            fault()
        except Wrong:
            continue
        raise AssertionError("a fault was not found")
    print("selftest: all faults found")


def main():
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--selftest", action="store_true")
    parser.add_argument("--seed", type=int, default=random.randrange(1_000_000))
    parser.add_argument("--only", action="append", choices=CHECKS)
    parser.add_argument("--program", type=pathlib.Path)
    options = parser.parse_args()
    selftest()
    if options.selftest:
        return 0
    # Ended by somebody, it still ends what it started.
    for number in (signal.SIGTERM, signal.SIGHUP):
        signal.signal(number, lambda *_: sys.exit(1))
    print(f"seed {options.seed}")
    program = options.program.resolve() if options.program else build()
    failed = 0
    names = options.only or list(CHECKS)
    with tempfile.TemporaryDirectory() as scratch:
        scratch = pathlib.Path(scratch)
        server = Server(scratch)
        try:
            for name in names:
                try:
                    CHECKS[name](program, server.instrument, scratch, random.Random(options.seed))
                    print(f"ok {name}", flush=True)
                except Wrong as wrong:
                    failed += 1
                    print(f"FAILED {name}: {wrong}", flush=True)
        finally:
            server.close()
    print(f"{len(names) - failed} passed, {failed} failed")
    return 1 if failed else 0


if __name__ == "__main__":
    sys.exit(main())
