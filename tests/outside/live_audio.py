#!/usr/bin/env python3
"""Checks that the program plays to an audio device what it should, frame by frame, on a machine without sound hardware.

PulseAudio's null sink stands for the device: it asks for sound at its own pace. Above it an ALSA device of the type
`file` writes every frame it is given to a WAV file, from the first on. Needed on Debian: the packages
libasound2-plugins, pulseaudio and pulseaudio-utils. Nothing but Python's standard library is used.

    live_audio.py --selftest                    the reading of WAV files, on files with known faults
    live_audio.py [--seconds N] [--only CHECK]  the checks
    live_audio.py ... -- PROGRAM ARGUMENT...    the same with another command; {bpm} and {seconds} are filled in

The checks: `click` (every click at its frame, none missing, an end by itself), `stop` (an interrupt ends it well),
`gone` (a sound server that is killed), `hung` (one that no longer answers), `none` (no sound server, no device). `--only` may
be given more than once.
"""

import argparse
import array
import fractions
import os
import re
import signal
import struct
import subprocess
import sys
import tempfile
import time

COMMAND = ["target/release/fivefold", "click", "{bpm}", "--sound", "--for", "{seconds}s"]

# A sample beyond this part of full scale is sound.
AUDIBLE = 1e-4
# A click begins after at least this much silence, in seconds.
GAP = 0.01
# Lines that ALSA, its plugins or PulseAudio's library write.
CHATTER = re.compile(r"ALSA lib|^\s*(PulseAudio|ALSA|[EWID]):|snd_|pcm_\w+\.c|pulse/|pa_\w+\(|Assertion", re.M)


class Wrong(Exception):
    """A check that failed."""


class RanDry(Wrong):
    """A check that failed since the device was not served in time: a whole buffer is missing."""


# WAV files


def wav_format(file):
    """Reads the head; gives (kind of sample, bytes a sample, channels, rate) and leaves the file at the first frame.

    The length in the head is not looked at: a writer that was cut off leaves it wrong.
    """
    if file.read(4) != b"RIFF" or not file.read(4) or file.read(4) != b"WAVE":
        raise Wrong("not a WAV file")
    form = None
    while True:
        head = file.read(8)
        if len(head) < 8:
            raise Wrong("a WAV file without sound")
        name, size = struct.unpack("<4sI", head)
        if name == b"data":
            break
        body = file.read(size + size % 2)
        if name == b"fmt ":
            kind, channels, rate, _, _, bits = struct.unpack("<HHIIHH", body[:16])
            if kind == 0xFFFE:
                kind = struct.unpack("<H", body[24:26])[0]
            form = {1: "int", 3: "float"}.get(kind), bits // 8, channels, rate
    if form is None or form[:2] not in (("int", 2), ("int", 4), ("float", 4)):
        raise Wrong(f"samples of an unknown kind: {form}")
    return form


def read_blocks(path, block=4800):
    """Gives the rate, then the first channel in blocks of floats."""
    with open(path, "rb") as file:
        kind, width, channels, rate = wav_format(file)
        yield rate
        code = "f" if kind == "float" else {2: "h", 4: "i"}[width]
        scale = 1.0 if kind == "float" else 1.0 / (1 << (8 * width - 1))
        while True:
            data = file.read(block * width * channels)
            data = data[: len(data) - len(data) % (width * channels)]
            if not data:
                return
            samples = array.array(code, data)
            if sys.byteorder == "big":
                samples.byteswap()
            yield samples[::channels], scale


def find_clicks(path):
    """The rate, the frames at which sound begins after silence, the number of frames, and the last 100 ms."""
    blocks = read_blocks(path)
    rate = next(blocks)
    gap = int(GAP * rate)
    onsets, total, quiet, tail = [], 0, gap, []
    for samples, scale in blocks:
        limit = AUDIBLE / scale
        if max(samples) <= limit and min(samples) >= -limit:
            quiet += len(samples)
        else:
            for at, x in enumerate(samples):
                if -limit <= x <= limit:
                    quiet += 1
                    continue
                if quiet >= gap:
                    onsets.append(total + at)
                quiet = 0
        total += len(samples)
        tail = (tail + [x * scale for x in samples])[-rate // 10 :]
    return rate, onsets, total, tail


def check_clicks(path, bpm, least, most=None, lead=0.3):
    """Every click is at the frame nearest to its time, counted from the first one, and none is missing.

    Before the first there are at most `lead` seconds of silence, which a device that swallows its first frames needs.
    """
    rate, onsets, total, _ = find_clicks(path)
    if not onsets:
        raise Wrong("no click at all")
    first = onsets[0]
    if first > lead * rate:
        raise Wrong(f"the first click is only at frame {first}")
    # A tempo is a whole number of microseconds a quarter, here as in MIDI files.
    step = fractions.Fraction(round(60_000_000 / bpm) * rate, 1_000_000)
    jumps, jumped = 0, fractions.Fraction(0)
    told = ""
    for k, onset in enumerate(onsets):
        off = onset - first - k * step - jumped
        if abs(off) <= fractions.Fraction(1, 2) + (jumps > 0):
            continue
        told = told or f"click {k} is at frame {onset - first}, its time is {float(k * step):.2f}"
        # Where a buffer is lost, everything after it is earlier by the same amount, and no click is missing.
        if not (16 <= -off <= step / 4):
            raise Wrong(told)
        jumps, jumped = jumps + 1, jumped + off
    if 0 < jumps <= 3 and len(onsets) >= least:
        raise RanDry(told)
    if jumps:
        raise Wrong(told)
    if len(onsets) < least:
        raise Wrong(f"{len(onsets)} clicks, at least {least} should be there")
    if most is not None and len(onsets) > most:
        raise Wrong(f"{len(onsets)} clicks, at most {most} should be there")
    return f"{len(onsets)} clicks at {rate} Hz exact to the frame, {total} frames"


def check_tail(path):
    """The sound ends in silence, not in the middle of a wave."""
    rate, onsets, total, tail = find_clicks(path)
    end = tail[-max(1, rate // 1000) :]
    loudest = max((abs(x) for x in end), default=0.0)
    if not onsets:
        raise Wrong("nothing was played before the stop")
    if loudest > 1e-3:
        raise Wrong(f"the sound breaks off at {loudest:.4f} of full scale")
    return f"{total} frames, the last millisecond below {max(loudest, AUDIBLE):.4f}"


# The stand-in for a sound card


class Server:
    """A sound server with one device that nobody hears."""

    def __init__(self, running=True):
        self.folder = tempfile.TemporaryDirectory()
        d = self.folder.name
        self.wav = os.path.join(d, "played.wav")
        socket = os.path.join(d, "socket")
        config = os.path.join(d, "alsa.conf")
        with open(config, "w", encoding="utf-8") as file:
            file.write(f'pcm.!default {{ type file slave.pcm {{ type pulse }} file "{self.wav}" format wav }}\n')
        self.env = dict(os.environ, XDG_RUNTIME_DIR=d, PULSE_SERVER=f"unix:{socket}", ALSA_CONFIG_PATH=config)
        self.env.pop("PULSE_LOG", None)
        self.process = None
        if not running:
            return
        with open(os.path.join(d, "log"), "wb") as log:
            self.process = subprocess.Popen(
                ["pulseaudio", "-n", "--daemonize=no", "--exit-idle-time=-1", "--use-pid-file=no",
                 "-L", f"module-native-protocol-unix socket={socket} auth-anonymous=1",
                 "-L", "module-null-sink sink_name=out rate=48000 channels=2"],
                env=self.env, stdout=log, stderr=log)
        for _ in range(100):
            done = subprocess.run(["pactl", "info"], env=self.env, stdout=subprocess.DEVNULL,
                                  stderr=subprocess.DEVNULL, check=False)
            if done.returncode == 0:
                return
            time.sleep(0.1)
        raise Wrong("the sound server does not start")

    def __enter__(self):
        return self

    def __exit__(self, *_):
        self.kill()
        self.folder.cleanup()

    def kill(self):
        """Ends the server at once."""
        if self.process is not None:
            self.process.kill()
            self.process.wait()
            self.process = None

    def frames_on_disk(self):
        """About how many frames were played so far."""
        try:
            with open(self.wav, "rb") as file:
                _, width, channels, _ = wav_format(file)
                return (os.path.getsize(self.wav) - file.tell()) // (width * channels)
        except (OSError, Wrong):
            return 0


class Program:
    """The program under test, playing."""

    def __init__(self, server, command):
        self.errors = tempfile.TemporaryFile()
        self.process = subprocess.Popen(command, env=server.env, stdin=subprocess.DEVNULL,
                                        stdout=subprocess.DEVNULL, stderr=self.errors)

    def wait_for(self, server, frames, limit=30.0):
        """Waits until so many frames were played. The server may stall for two seconds at first."""
        end = time.monotonic() + limit
        while server.frames_on_disk() < frames:
            if self.process.poll() is not None:
                raise Wrong(f"ended too early with {self.process.returncode}: {self.said()}")
            if time.monotonic() > end:
                raise Wrong(f"{server.frames_on_disk()} frames played in {limit} s, not {frames}")
            time.sleep(0.02)

    def end(self, limit):
        """Waits for its end; gives the exit status and the seconds it took."""
        began = time.monotonic()
        try:
            status = self.process.wait(limit)
        except subprocess.TimeoutExpired:
            self.process.kill()
            self.process.wait()
            raise Wrong(f"still running after {limit} s") from None
        said = self.said()
        if CHATTER.search(said):
            raise Wrong(f"a library speaks on the terminal: {said}")
        if "(de)allocate" in said:
            raise Wrong(f"memory is allocated while the device waits: {said}")
        if "panicked" in said or status < 0 or status == 101:
            raise Wrong(f"broke down with {status}: {said}")
        return status, time.monotonic() - began

    def said(self):
        """What it wrote to the error output."""
        self.errors.seek(0)
        return self.errors.read().decode("utf-8", "replace")


# The checks


def fill(command, bpm, seconds):
    """The command with its numbers."""
    return [word.replace("{bpm}", str(bpm)).replace("{seconds}", str(seconds)) for word in command]


def click(arguments):
    """Plays for a while and ends by itself.

    On a busy machine the device may not be served in time and lose a buffer; then it is tried again, three times in all.
    """
    for attempt in (1, 2, 3):
        try:
            return click_once(arguments)
        except RanDry as dry:
            if attempt == 3:
                raise
            print(f"click: {dry}; a buffer was lost, once more", flush=True)
    return None


def click_once(arguments):
    """The check `click`, once."""
    seconds, bpm = arguments.seconds, arguments.bpm
    with Server() as server:
        program = Program(server, fill(arguments.command, bpm, seconds))
        status, took = program.end(seconds + 30)
        if status != 0:
            raise Wrong(f"exit status {status}: {program.said()}")
        if took < seconds - 1:
            raise Wrong(f"played {seconds} s within {took:.1f} s")
        # It ends at a bar line, so up to a bar of four may follow, and a bar of count-in come before.
        least = int(seconds * bpm / 60)
        told = check_clicks(server.wav, bpm, least, least + 8)
        return told + "; " + check_tail(server.wav)


def stop(arguments):
    """Interrupts it between clicks, and near the beginning of one."""
    told = []
    for after in (30_000, 45_000, 68_000):
        with Server() as server:
            program = Program(server, fill(arguments.command, arguments.bpm, 120))
            program.wait_for(server, after)
            program.process.send_signal(signal.SIGINT)
            status, took = program.end(6)
            if status != arguments.interrupted:
                raise Wrong(f"exit status {status} after an interrupt: {program.said()}")
            told.append(f"{took:.2f} s, {check_tail(server.wav)}")
    return "ended after " + "; ".join(told)


def gone(arguments):
    """Kills the sound server while it plays."""
    with Server() as server:
        program = Program(server, fill(arguments.command, arguments.bpm, 120))
        program.wait_for(server, 60_000)
        server.kill()
        status, took = program.end(12)
        return f"ended {took:.1f} s later with {status}: {failed(program, status)}"


def hung(arguments):
    """The sound server stops in the middle, and answers nothing and nobody."""
    with Server() as server:
        program = Program(server, fill(arguments.command, arguments.bpm, 120))
        program.wait_for(server, 60_000)
        server.process.send_signal(signal.SIGSTOP)
        status, took = program.end(20)
        return f"ended {took:.1f} s later with {status}: {failed(program, status)}"


def none(arguments):
    """There is no sound server, and there is no device at all."""
    told = []
    for config in (None, ""):
        with Server(running=False) as server:
            if config is not None:
                with open(server.env["ALSA_CONFIG_PATH"], "w", encoding="utf-8") as file:
                    file.write(config)
            program = Program(server, fill(arguments.command, arguments.bpm, 10))
            status, took = program.end(10)
            told.append(f"ended within {took:.1f} s with {status}: {failed(program, status)}")
    return "; ".join(told)


def failed(program, status):
    """The first line of the message of a failure that says what to do."""
    said = program.said()
    if status == 0:
        raise Wrong("an exit status of 0")
    if "piece.wav" not in said:
        raise Wrong(f"no word of writing a file: {said}")
    return said.splitlines()[0]


CHECKS = {"none": none, "click": click, "stop": stop, "gone": gone, "hung": hung}


# The test of the test


def write_wav(path, rate, clicks, frames, kind, cut=None):
    """A WAV file with decaying clicks at the given frames."""
    values = [0.0] * frames
    for at in clicks:
        for i in range(min(2000, frames - at)):
            values[at + i] = 0.6 * (1 - i / 2000) * (1 if i % 20 < 10 else -1)
    if cut is not None:
        values = values[:cut]
    if kind == "f32":
        data = array.array("f", [x for v in values for x in (v, -v)])
        head = struct.pack("<HHIIHH", 3, 2, rate, rate * 8, 8, 32)
    else:
        data = array.array("h", [round(32767 * v) for v in values])
        head = struct.pack("<HHIIHH", 1, 1, rate, rate * 2, 2, 16)
    if sys.byteorder == "big":
        data.byteswap()
    body = data.tobytes()
    with open(path, "wb") as file:
        # The length is as a writer leaves it that was cut off.
        file.write(b"RIFF\xff\xff\xff\xffWAVEfmt " + struct.pack("<I", len(head)) + head)
        file.write(b"LIST" + struct.pack("<I", 3) + b"abc\0" + b"data" + struct.pack("<I", 0) + body)


def selftest():
    """The analysis accepts a good file and finds each fault in a bad one."""
    count = 0
    with tempfile.TemporaryDirectory() as folder:
        path = os.path.join(folder, "x.wav")

        def accepts(check, **wav):
            nonlocal count
            count += 1
            write_wav(path, **wav)
            check()

        def refuses(reason, check, sort=Wrong, **wav):
            try:
                accepts(check, **wav)
            except Wrong as wrong:
                if type(wrong) is not sort or reason not in str(wrong):
                    raise SystemExit(f"selftest: {wrong} is not {sort.__name__} about {reason!r}") from wrong
            else:
                raise SystemExit(f"selftest: not found: {reason}")

        for rate, bpm, kind in ((48000, 120, "f32"), (44100, 127, "i16")):
            step = round(60_000_000 / bpm) * rate / 1_000_000
            good = [round(k * step) for k in range(12)]
            base = {"rate": rate, "frames": good[-1] + 3000, "kind": kind}

            def clicks(b=bpm):
                check_clicks(path, b, 12, 12)

            accepts(clicks, clicks=good, **base)
            # A sound that rises from zero is heard a frame late, each time.
            accepts(clicks, clicks=[x + 1 for x in good], **base)
            for by in (1, -1):
                moved = good[:7] + [good[7] + by] + good[8:]
                refuses("click 7 is at", clicks, clicks=moved, **base)
            refuses("click 5 is at", clicks, clicks=good[:5] + good[6:], **base)
            refuses("at least 12", clicks, clicks=good[:-1], **base)
            refuses("at most 12", clicks, clicks=good + [round(12 * step)], **dict(base, frames=round(13 * step)))
            refuses("click 4 is at", clicks, clicks=good[:4] + [good[4] - 6000] + good[4:], **base)
            refuses("the first click", clicks, clicks=[x + 20_000 for x in good], **base)
            # Two frames lost is a fault, a buffer lost is a busy machine, a buffer too much is neither.
            for by, sort in ((2, Wrong), (512, RanDry), (-512, Wrong)):
                late = good[:6] + [x - by for x in good[6:]]
                refuses("click 6 is at", clicks, sort=sort, clicks=late, **base)
            slow = [round(k * (step + 0.2)) for k in range(12)]
            refuses("its time is", clicks, clicks=slow, **base)
            refuses("no click", clicks, clicks=[], **base)
            accepts(lambda: check_tail(path), clicks=good, **base)
            refuses("breaks off", lambda: check_tail(path), clicks=good, cut=good[-1] + 500, **base)
    for line in ("ALSA lib pcm.c:2721:(snd_pcm_open_noupdate) Unknown PCM", "W: [x] socket.c: refused"):
        count += 1
        if not CHATTER.search("playing\n" + line):
            raise SystemExit(f"selftest: not seen as chatter: {line}")
    count += 1
    if CHATTER.search("Error: there is no audio device.\n  Write a file: `-o piece.wav`.\n"):
        raise SystemExit("selftest: our own words are seen as chatter")
    print(f"selftest: {count} files and lines judged rightly")


def main():
    """The command line."""
    words = sys.argv[1:]
    command = COMMAND
    if "--" in words:
        at = words.index("--")
        words, command = words[:at], words[at + 1 :]
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--selftest", action="store_true")
    parser.add_argument("--seconds", type=int, default=20, help="how long the check `click` plays")
    parser.add_argument("--bpm", type=int, default=127, help="clicks a minute")
    parser.add_argument("--interrupted", type=int, default=0, help="the exit status after an interrupt")
    parser.add_argument("--only", action="append", choices=CHECKS, help="a check to run instead of all")
    arguments = parser.parse_args(words)
    arguments.command = command
    if arguments.selftest:
        return selftest()
    for name in arguments.only or CHECKS:
        try:
            print(f"{name}: {CHECKS[name](arguments)}", flush=True)
        except Wrong as wrong:
            raise SystemExit(f"{name}: {wrong}") from wrong
    return None


if __name__ == "__main__":
    main()
