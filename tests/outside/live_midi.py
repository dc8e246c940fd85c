#!/usr/bin/env python3
"""Checks that the program plays to a MIDI port what it should, does what it is asked meanwhile, and leaves no note sounding
however it ends.

The port is one of JACK's, on a server without hardware, since ALSA's sequencer needs a kernel module. This script builds
the program for JACK, starts a server of its own, and is the instrument: a client that keeps every message in the order in
which they came, and plays the pedal, the player or the leading device where one is wanted. Needed on Debian: the packages
jackd2, pkg-config and gcc; nothing but Python's standard library is used. JACK hands messages on once a period, so the
times say little about lateness, and nothing here goes by them.

    live_midi.py --selftest                     the judging of messages, on runs with known faults
    live_midi.py [--seed N] [--only CHECK]      the checks, on a program built first
    live_midi.py ... --program PATH             the same with a program that is there

The checks; `--only` may be given more than once:

    piece      every message of a piece arrives, in order, and no other
    signals    SIGINT, SIGTERM and SIGHUP at random times end it well
    panic      a fault in the thread that arranges the bars ends it badly and silently
    clock      a follower of the MIDI clock it sends is in the right bar and on the right beat, through a count-in, a jump,
               a loop, a pause, a new tempo and a stop
    ports      the port goes away and comes back: the piece waits, ends what may sound, sets the channels up again, counts
               in and begins the bar again; a port that is not there is refused
    suspend    a stop of the terminal (SIGTSTP) silences it and stops the process; then it goes on with what it held
    stopped    stopped in the middle of a bar, it passes over what it missed and goes on with the next bar
    wall       the clock on the wall is set back by an hour, and nothing is heard of that
    loaded     twice as many busy processes as cores: every message arrives all the same
    input      standard input is closed, or full of nonsense: it plays on, says what is wrong, and takes a stop
    follow     it begins, stands, jumps and keeps the beat with a device whose clock it follows, and waits while that is lost
    pedals     a pedal that it has learned lets it pause and go on
    strokes    strokes of a player are counted and timed
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

# Every bar has another root, by which it is known. A bar takes 1.2 s.
ROOTS = ["play", "| C | D | E | F | G | A | B | Db |", "--tempo", "200", "--parts", "click,pads,bass"]
BAR_TICKS = 4 * 960

# The click's keys, on the percussion channel: first beat, other beats.
ACCENT, BEAT = 76, 77
PERCUSSION = 10
PADS, BASS = 1, 2

# Messages of the system, and how many pulses are in a beat and in a step of the song position.
POSITION, PULSE, START, CONTINUE, STOP = 0xF2, 0xF8, 0xFA, 0xFB, 0xFC
PULSES_PER_BEAT, PULSES_PER_POSITION = 24, 6
BEATS = 4

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


def of_channels(messages):
    """The messages without those of the system."""
    return [message for message in messages if message[0] < 0xF0]


def struck(message):
    """Channel and key of a note-on; None for all else."""
    if message[0] & 0xF0 == 0x90 and message[2] > 0:
        return (message[0] & 0x0F) + 1, message[1]
    return None


def clicks(message):
    """The key of a click; None for all else."""
    found = struck(message)
    return found[1] if found and found[0] == PERCUSSION and found[1] in (ACCENT, BEAT) else None


def pitched(messages):
    """The notes struck that are no clicks."""
    return [found for found in map(struck, messages) if found and found[0] != PERCUSSION]


def silencing(messages):
    """What ends the sound on every channel that `messages` use."""
    used = sorted({message[0] & 0x0F for message in of_channels(messages)})
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
    """A client that keeps all that is sent to it, as (pulses it has sent until then, bytes), and sends what it is told to."""

    def __init__(self):
        self.kept = []
        self.outgoing = collections.deque()
        self.pulses = 0
        # What is answered to a message, at once.
        self.answer = None
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
            ("jack_midi_clear_buffer", None, [pointer]),
            ("jack_midi_event_write", ctypes.c_int, [pointer, frames, ctypes.c_char_p, ctypes.c_size_t]),
            ("jack_port_unregister", ctypes.c_int, [pointer, pointer]),
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
        self.event = MidiEvent()
        self.open()

    def open(self):
        no_start_server = 1
        self.port = self.out = None
        self.client = self.lib.jack_client_open(CLIENT.encode(), no_start_server, None)
        if not self.client:
            raise ConnectionError("no JACK server")
        self.lib.jack_set_process_callback(self.client, self.callbacks[1], None)
        is_output = 2
        out = self.lib.jack_port_register(self.client, b"out", b"8 bit raw midi", is_output, 0)
        self.appear()
        if not out or self.lib.jack_activate(self.client) != 0:
            raise Wrong("no port on the JACK server")
        self.out = out

    def appear(self):
        """The port is there."""
        is_input = 1
        self.port = self.lib.jack_port_register(self.client, b"in", b"8 bit raw midi", is_input, 0)
        if not self.port:
            raise Wrong("no port on the JACK server")

    def disappear(self):
        """The port goes away, the client stays."""
        port, self.port = self.port, None
        # Nobody reads it any more.
        time.sleep(0.1)
        self.lib.jack_port_unregister(self.client, port)

    def process(self, frames, _):
        if self.port:
            buffer = self.lib.jack_port_get_buffer(self.port, frames)
            for index in range(self.lib.jack_midi_get_event_count(buffer)):
                if self.lib.jack_midi_event_get(ctypes.byref(self.event), buffer, index) == 0:
                    self.keep(ctypes.string_at(self.event.buffer, self.event.size))
            self.lost += self.lib.jack_midi_get_lost_event_count(buffer)
        if self.out:
            buffer = self.lib.jack_port_get_buffer(self.out, frames)
            self.lib.jack_midi_clear_buffer(buffer)
            while self.outgoing:
                message = self.outgoing.popleft()
                if self.lib.jack_midi_event_write(buffer, 0, message, len(message)) == 0:
                    self.pulses += message[0] == PULSE
        return 0

    def keep(self, message):
        self.kept.append((self.pulses, message))
        if self.answer:
            self.outgoing.extend(self.answer(message))

    def send(self, *messages):
        self.outgoing.extend(messages)

    def so_far(self):
        """The messages so far."""
        return [message for _, message in list(self.kept)]

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
    """The program, playing to the instrument. It answers in JSON unless told not to; left by an error, it is ended."""

    def __init__(self, program, arguments, scratch, json=True, stdin=subprocess.DEVNULL, before=(), port=PORT,
                 **environment):
        self.errors, self.answers = scratch / "errors", scratch / "answer"
        with open(self.errors, "wb") as errors, open(self.answers, "wb") as out:
            command = [*before, program, *arguments, "--port", port, *(["--json"] if json else [])]
            # A process group of its own, whose leader's parent is in the same session: so a stop of the terminal's is obeyed.
            self.process = subprocess.Popen(command, cwd=ROOT, stdin=stdin, stdout=out, stderr=errors,
                                            env={**os.environ, **environment}, process_group=0)

    def __enter__(self):
        return self

    def __exit__(self, *_):
        if self.process.poll() is None:
            self.process.kill()
            self.process.wait()
        if self.process.stdin:
            try:
                self.process.stdin.close()
            except BrokenPipeError:
                pass

    def said(self):
        return self.errors.read_text(errors="replace")

    def answer(self):
        return json.loads(self.answers.read_text())

    def type(self, line):
        """Enters a line on standard input."""
        self.process.stdin.write(line if isinstance(line, bytes) else line.encode() + b"\n")
        self.process.stdin.flush()

    def until(self, condition, what, longest=PATIENCE):
        """Waits until `condition` gives something, and gives that."""
        end = time.monotonic() + longest
        while True:
            found = condition()
            if found:
                return found
            if self.process.poll() is not None:
                raise Wrong(f"it ended before {what}; it said: {self.said()}")
            if time.monotonic() > end:
                raise Wrong(f"{what}: not within {longest:.0f} s; it said: {self.said()}")
            time.sleep(0.003)

    def is_stopped(self):
        """Whether the process is stopped, as the system has it (proc(5): `T`, after the name in brackets)."""
        stat = pathlib.Path(f"/proc/{self.process.pid}/stat").read_text()
        return stat.rpartition(")")[2].split()[0] == "T"

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
            raise Wrong(f"exit status {status}, not {wanted}; it said: {self.said()}")


def started(instrument, player):
    """Waits until a note has come."""
    end = time.monotonic() + PATIENCE
    while not any(message[0] & 0xF0 == 0x90 for _, message in list(instrument.kept)):
        if player.process.poll() is not None or time.monotonic() > end:
            player.process.kill()
            player.process.wait()
            raise Wrong(f"no note came; the program said: {player.said()}")
        time.sleep(0.005)


# The checks


def event_lines(program, arguments, scratch):
    """The event lines of a piece."""
    path = scratch / "piece.jsonl"
    subprocess.run([program, *arguments, "-o", path, "--force"], cwd=ROOT, check=True, stdout=subprocess.DEVNULL,
                   stderr=subprocess.DEVNULL)
    return [json.loads(line) for line in path.read_text().splitlines()][1:]


def whole(program, arguments, instrument, scratch, **more):
    """Plays a piece to its end, of which every message must come; gives the player and a line on it."""
    lines = event_lines(program, arguments, scratch)
    expected = [message for message in map(wire, lines) if message]
    length = lines[-1]["time_ns"] / 1e9
    instrument.forget()
    with Player(program, arguments, scratch, **more) as player:
        player.check_status(0, length + PATIENCE)
    found = instrument.messages()
    check_same(expected + silencing(expected), found)
    check_silent(found)
    return player, f"{len(expected)} messages in {length:.1f} s, and {len(found) - len(expected)} of silencing"


def check_piece(program, instrument, scratch, _):
    for arguments in PIECES:
        print(f"   {whole(program, arguments, instrument, scratch)[1]}")


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
        said = player.said()
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
