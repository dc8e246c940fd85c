#!/usr/bin/env python3
"""Checks the stage on a real terminal: what it shows, every key, and that the terminal is given back however it ends.

tmux is the terminal: a server of its own, with a shell in each window. PulseAudio's null sink stands for the device, as in
live_audio.py. Needed on Debian: the packages tmux, libasound2-plugins, pulseaudio and pulseaudio-utils; for the check `panic`
what live_midi.py needs, which builds the program with the fault that is ordered. Nothing but Python's standard library is used.

    live_stage.py --selftest         the judging, on what is wrong in known ways
    live_stage.py [--only CHECK]     the checks
    live_stage.py --program PATH     the same with another program
    live_stage.py --at-once N        so many checks beside each other, each with a terminal and a device of its own

The checks; `--only` may be given more than once:

    start      a piece that is started from a shell shows the stage, whose beats move
    keys       every key that `list controls` names is answered on the stage; the last pass does not end at the key `n`
    loop       bars stay within a loop that is marked by keys, until it is off
    resize     in other sizes it is drawn as if it had always had them
    suspend    Ctrl-Z gives the terminal back, `fg` takes it again, `bg` does not; the same after SIGSTOP
    quit       q gives the terminal back, tells what was heard, and the status is 0
    signals    so do Ctrl-C, SIGTERM and SIGHUP
    rest       a rest in a routine is suspended and ended as a piece is
    closed     it ends when its terminal is closed
    panic      a fault in the program gives the terminal back, and can be read
    kill       so does a helper of it where it is killed by SIGKILL, and touches no terminal that is not its own
    blocked    a terminal that takes nothing stops neither the sound nor the keys, nor the end
    lines      with --lines, on a dumb terminal and in the background there are lines, and no sequences but those of the line
               that is typed
    cpu        the thread that draws takes little of a core

That what is played is the same with the stage and without is checked in Rust (tests/all/live/stage.rs): what comes from here
depends on when keys arrive.
"""

import argparse
import collections
import contextlib
import json
import os
import pathlib
import re
import shutil
import signal
import subprocess
import sys
import tempfile
import threading
import time
import traceback

import live_midi
from live_audio import Server, Wrong, read_blocks, write_wav

# How long anything may take. It is far more than is needed: the machine may be busy.
PATIENCE = 20.0
# How often is looked.
LOOK = 0.05

# The share of a core that drawing may take, and for how many seconds it is measured.
MOST_CPU = 0.03
CPU_SECONDS = 20

PIECE = """
title = "Two rooms"
key = "A minor"
tempo = "240"
form = "A B"
times = 3
[sections]
A = "| Am | F | C | G |"
B = "| Dm | E | Am | Am |"
[parts.click]
count_in = 1
[parts.pads]
[parts.bass]
"""

ROUTINE = """
title = "A rest first"
[[items]]
rest = "stretch"
minutes = 2
[[items]]
piece = "piece.toml"
minutes = 1
"""

# What the terminal is asked for: whether the other screen is shown, whether the cursor is, and how large it is.
State = collections.namedtuple("State", "other_screen cursor width height")

# What a shell shows when it waits.
PROMPT = "ready> "
# Escape sequences, as far as they are told apart here.
SEQUENCE = re.compile(rb"\x1b(?:\[[0-?]*[ -/]*[@-~]|[^\[])")
# Clearing to the end of the row, for a line that is typed above messages.
CLEAR_ROW = b"\x1b[K"
BLOCK = "\u2588"
LIGHT = "the sound broke off"
BAR = re.compile(r"\bbar (\d+) of \d+")
BEAT = re.compile(r"beat (\d) of 4")


def held(condition, what):
    if not condition:
        raise Wrong(what)


# Judging


def check_given_back(before, after):
    """The terminal is as it was: `before` and `after` are (State, modes, lines); lines may only have been added."""
    (_, modes, lines), (state, modes_after, lines_after) = before, after
    held(not state.other_screen, "the other screen is still shown")
    held(state.cursor, "the cursor is hidden")
    held(modes == modes_after, f"the modes were {modes} and are {modes_after}")
    held(lines_after[: len(lines)] == lines, "lines of before are gone:\n" + "\n".join(lines_after))


def check_loop(bars, first, last):
    """Bars as they were seen stay within a loop once they are in it; gives how often it began again."""
    inside = [bar for bar in bars if first <= bar <= last]
    held(inside, f"bars {first} to {last} were never shown")
    turns = 0
    entered = bars[bars.index(inside[0]):]
    for earlier, later in zip(entered, entered[1:]):
        held(first <= later <= last, f"bar {later} is not in the loop {first} to {last}")
        if later < earlier:
            held((earlier, later) == (last, first), f"bar {later} came after bar {earlier}")
            turns += 1
    return turns


def check_plain(raw, allowed):
    """No escape sequence but those that are allowed."""
    others = {found for found in SEQUENCE.findall(raw) if found not in allowed}
    held(not others, f"escape sequences where lines are wanted: {sorted(others)}")
    held(raw.count(b"\x1b") == len(SEQUENCE.findall(raw)), "an escape without a sequence")


def check_pressed(listed, pressed):
    """Every key of the list was pressed, and every line typed."""
    missing = [key for key in listed if key not in pressed]
    held(not missing, f"keys or lines that were not tried: {missing}")


def check_share(before, after, ticks, seconds):
    """The share of a core between two counts of ticks."""
    share = (after - before) / ticks / seconds
    held(share <= MOST_CPU, f"drawing takes {share:.1%} of a core, more than {MOST_CPU:.0%}")
    return share


def keys_of(listed):
    """The keys of a list such as `space, p` or `1 to 9`."""
    if found := re.fullmatch(r"(\d) to (\d)", listed):
        return [str(digit) for digit in range(int(found[1]), int(found[2]) + 1)]
    return [key for key in listed.split(", ") if key]


def picture_of(lines):
    """A picture without blanks at the ends of rows."""
    return [line.rstrip() for line in lines]


def same_picture(one, other):
    """Whether two pictures are the same, but for a light in place of the title, which goes out by itself."""
    from_row = int(any(picture and LIGHT in picture[0] for picture in (one, other)))
    return one[from_row:] == other[from_row:]


def silent(path, seconds):
    """Whether the last seconds of a WAV file are silent."""
    blocks = read_blocks(path)
    rate = next(blocks)
    quiet = 0
    for samples, scale in blocks:
        loud = max(max(samples), -min(samples)) * scale > 1e-4
        quiet = 0 if loud else quiet + len(samples)
    return quiet >= seconds * rate


# Processes


def stat_of(pid):
    """The fields of a process after its name; None where there is none."""
    try:
        text = pathlib.Path(f"/proc/{pid}/stat").read_text(encoding="utf-8", errors="replace")
    except OSError:
        return None
    return text.rpartition(")")[2].split()


def alive(pid):
    """Whether a process runs; one that only waits to be asked for its status does not."""
    fields = stat_of(pid)
    return fields is not None and fields[0] not in "ZX"


def children(pid):
    """The processes that it started and that run."""
    everyone = (int(path.name) for path in pathlib.Path("/proc").iterdir() if path.name.isdigit())
    return [child for child in everyone if (stat := stat_of(child)) and int(stat[1]) == pid and stat[0] not in "ZX"]


def command_line(pid):
    try:
        return pathlib.Path(f"/proc/{pid}/cmdline").read_bytes().decode("utf-8", "replace").split("\0")
    except OSError:
        return []


def modes_of(tty):
    """The modes of a terminal, as `stty -g` has them."""
    return subprocess.run(["stty", "-F", tty, "-g"], capture_output=True, text=True, check=True).stdout


def size_of(tty):
    """Columns and rows, as a program is told them."""
    told = subprocess.run(["stty", "-F", tty, "size"], capture_output=True, text=True, check=True).stdout
    rows, columns = told.split()
    return int(columns), int(rows)


def thread_ticks(pid, name):
    """The time that a thread has used, in ticks of the clock."""
    for task in pathlib.Path(f"/proc/{pid}/task").iterdir():
        if (task / "comm").read_text().strip() == name:
            fields = (task / "stat").read_text().rpartition(")")[2].split()
            return int(fields[11]) + int(fields[12])
    raise Wrong(f"there is no thread called {name}")


# The terminal


class Tmux:
    """A server of tmux that nobody else uses."""

    def __init__(self, scratch, sound, program):
        self.scratch, self.count = scratch, 0
        self.name = "stage"
        places = scratch / "places"
        (places / "bin").mkdir(parents=True)
        (places / "bin" / "fivefold").symlink_to(program)
        (places / "inputrc").write_text("set enable-bracketed-paste off\n")
        (places / "tmux.conf").write_text("set -g status off\nset -g history-limit 0\n"
                                          "set -g default-terminal screen-256color\nset -s escape-time 0\nset -s exit-empty off\n")
        (scratch / "piece.toml").write_text(PIECE)
        (scratch / "rest.toml").write_text(ROUTINE)
        self.sound = sound
        self.environment = {
            **sound.env, "XDG_DATA_HOME": str(places), "XDG_CONFIG_HOME": str(places), "LC_ALL": "C.UTF-8",
            "PATH": f"{places / 'bin'}:{os.environ['PATH']}", "INPUTRC": str(places / "inputrc"), "HISTFILE": "",
            "TMUX_TMPDIR": str(places), "NO_COLOR": "",
        }
        self.environment.pop("TMUX", None)

    def run(self, *words):
        config = str(self.scratch / "places" / "tmux.conf")
        command = ["tmux", "-u", "-L", self.name, "-f", config, *words]
        done = subprocess.run(command, env=self.environment, cwd=self.scratch, capture_output=True, text=True, check=False)
        held(done.returncode == 0, f"tmux {' '.join(words)}: {done.stderr.strip()}")
        return done.stdout

    def close(self):
        with contextlib.suppress(Wrong):
            self.run("kill-server")


class Terminal:
    """A window with a shell in it; closed in the end, with what was started in it."""

    def __init__(self, tmux, width=100, height=30):
        self.tmux = tmux
        tmux.count += 1
        self.name = f"w{tmux.count}"
        self.started = []
        size = ["-x", str(width), "-y", str(height)]
        tmux.run("new-session", "-d", "-s", self.name, *size, f"exec env PS1='{PROMPT}' bash --norc --noprofile")
        self.shell, self.tty = tmux.run("display-message", "-p", "-t", self.name, "#{pane_pid} #{pane_tty}").split()
        self.until(self.prompts, "the shell waits")

    def __enter__(self):
        return self

    def __exit__(self, *_):
        with contextlib.suppress(Wrong):
            self.tmux.run("kill-session", "-t", self.name)
        for pid in self.started:
            with contextlib.suppress(ProcessLookupError):
                os.kill(pid, signal.SIGKILL)

    # What it shows

    def lines(self):
        return self.tmux.run("capture-pane", "-p", "-t", self.name).splitlines()

    def text(self):
        return "\n".join(self.lines())

    def said(self):
        """The row at the bottom: what the stage says, or the keys."""
        lines = self.lines()
        return lines[-1].strip() if lines else ""

    def bar(self):
        """The bar that the stage shows; None where there is none."""
        found = BAR.search(self.text())
        return int(found[1]) if found else None

    def state(self):
        shown = "#{alternate_on} #{cursor_flag} #{pane_width} #{pane_height}"
        other, cursor, width, height = self.tmux.run("display-message", "-p", "-t", self.name, shown).split()
        return State(other == "1", cursor == "1", int(width), int(height))

    def on_stage(self):
        """Whether the stage is shown: the other screen without a cursor, something in large letters, and no shell."""
        state = self.state()
        return state.other_screen and not state.cursor and "\u2580" in self.text().replace(BLOCK, "\u2580")

    def prompts(self):
        """Whether the shell waits for a command, on its own screen."""
        written = [line for line in self.lines() if line.strip()]
        return bool(written) and written[-1].strip() == PROMPT.strip() and not self.state().other_screen

    def modes(self):
        """The modes of the terminal, as a command finds them."""
        file = self.tmux.scratch / f"modes-{self.name}"
        file.unlink(missing_ok=True)
        self.enter(f"stty -g > {file}")
        self.until(lambda: file.exists() and file.read_text().endswith("\n"), "stty tells the modes")
        self.until(self.prompts, "the shell waits")
        return file.read_text()

    def seen(self):
        """All by which one can tell that it was given back; without the prompt, behind which more will stand."""
        modes = self.modes()
        lines = [line for line in picture_of(self.lines()) if line]
        return self.state(), modes, lines[:-1]

    # What is done

    def press(self, *keys):
        """Keys by the names that tmux has for them."""
        self.tmux.run("send-keys", "-t", self.name, *keys)

    def type(self, text):
        self.tmux.run("send-keys", "-t", self.name, "-l", text)

    def enter(self, line):
        """A line for the shell."""
        self.type(line)
        self.press("Enter")

    def resize(self, width, height):
        self.tmux.run("resize-window", "-t", self.name, "-x", str(width), "-y", str(height))

    def until(self, condition, what):
        """Waits until something holds, and gives it."""
        end = time.monotonic() + PATIENCE
        while not (found := condition()):
            if time.monotonic() > end:
                with contextlib.suppress(Wrong):
                    what += f"; {self.state()}, the terminal shows:\n{self.text()}"
                raise Wrong(f"not within {PATIENCE:.0f} s: {what}")
            time.sleep(LOOK)
        return found

    def plays(self, *more, piece="piece.toml", before=""):
        """Starts a piece from the shell and waits for the stage; gives its process."""
        self.enter(" ".join([*before.split(), "fivefold", "play", piece, *more]))
        pid = self.process()
        self.until(self.on_stage, "the stage is shown")
        self.until(lambda: "now" in self.text() or "tempo" in self.text(), "the stage tells what is played")
        return pid

    def process(self):
        """The program that the shell has started."""
        def find():
            return [pid for pid in children(int(self.shell)) if command_line(pid)[:1] == ["fivefold"]]
        pid = self.until(find, "the program runs")[-1]
        self.started.append(pid)
        return pid

    def status(self):
        """The exit status of the last command."""
        self.until(self.prompts, "the shell waits")
        self.enter("echo status $?")
        found = self.until(lambda: re.findall(r"^status (\d+)$", self.text(), re.M), "the status is told")
        return int(found[-1])


def until_gone(terminal, pid):
    terminal.until(lambda: not alive(pid), f"process {pid} has ended")


# The checks


def check_start(tmux, _):
    with Terminal(tmux) as terminal:
        pid = terminal.plays()
        terminal.until(lambda: "Two rooms" in terminal.lines()[0], "the title is shown")
        terminal.until(lambda: len(re.findall(BLOCK, terminal.text())) > 40, "there are large letters")
        beats = set()

        def moves():
            text = terminal.text()
            beats.update(BEAT.findall(text))
            return beats == {"1", "2", "3", "4"}

        terminal.until(moves, "the beat moves through all four")
        terminal.until(lambda: terminal.bar() and terminal.bar() >= 3, "the third bar is shown")
        held(terminal.on_stage() and alive(pid), "the stage is gone")
        return "title, large letters, beats 1 to 4, bar 3"


def check_keys(tmux, options):
    listed = json.loads(subprocess.run([options.program, "list", "controls", "--json"], capture_output=True, text=True,
                                       check=True).stdout)["controls"]
    wanted = [key for control in listed for key in keys_of(control["key"])] + ["Enter", "Esc"]
    lines = [control["line"] for control in listed]
    pressed = set()
    with Terminal(tmux) as terminal:
        pid = terminal.plays("--times", "40")
        terminal.until(lambda: terminal.bar() == 1, "the first bar is shown")

        def says(words, what):
            terminal.until(lambda: re.search(words, terminal.said()), f"{what} is answered with `{words}`")

        def press(key, words, name=None):
            terminal.press(name or key)
            pressed.add(key)
            says(words, f"the key {key}")

        def line(text, words):
            press("Enter", "^>$")
            terminal.type(text)
            says(f"^> {re.escape(text)}$", "typing")
            terminal.press("Enter")
            pressed.add(text)
            says(words, f"the line {text}")

        def paused():
            return "space goes on" in terminal.text()

        def page():
            """The page of keys; a line that is opened and left takes it away."""
            terminal.press("?")
            pressed.add("?")
            shown = terminal.until(lambda: "count" in terminal.text() and "Esc leaves it" in terminal.text()
                                   and terminal.text(), "the key ? shows the keys")
            press("Enter", "^>$")
            press("Esc", "^[^>]", "Escape")
            terminal.until(lambda: "Esc leaves it" not in terminal.text(), "the page is put away")
            return shown

        keys_now = page()
        # The key p is told where the space bar strikes, digits with the parts that they silence.
        missing = [key for key in wanted if not re.search(rf"(?<!\w){re.escape(key)}(?!\w)", keys_now)
                   and key not in "p456789?"]
        held(not missing, f"the page of keys does not name {missing}")
        for key in ("space", "p"):
            press(key, "^paused", "Space" if key == "space" else key)
            terminal.until(paused, "it is paused")
            keys_paused = page()
            held("it is paused" in keys_paused and "it is paused" not in keys_now, "the keys in a pause are not told")
            press(key, "goes on$", "Space" if key == "space" else key)
            terminal.until(lambda: not paused(), "it goes on")
        press("c", r"^counts in, then bar \d+")
        press("up", "^tempo 245 a minute, 102.08 % of the plan", "Up")
        press("down", "^tempo 240 a minute, 100 % of the plan", "Down")
        press("right", "^tempo 241 a minute", "Right")
        press("left", "^tempo 240 a minute", "Left")
        press("t", "^one beat; the next tap gives the tempo")
        # Within 100 ms it would be a bounce, after 3.5 s another first tap.
        time.sleep(0.3)
        press("t", r"^tempo [\d.]+ a minute")
        line("tempo 96", "^tempo 96 a minute, 40 % of the plan")
        line("tempo 80%", "^tempo 192 a minute, 80 % of the plan")
        line("tempo +5", "^tempo 197 a minute")
        line("tempo -5", "^tempo 192 a minute")
        line("tempo +1", "^tempo 193 a minute")
        line("tempo -1", "^tempo 192 a minute")
        line("tap", "^one beat")
        press("h", "^1 semitone higher than written from the next chord on")
        terminal.until(lambda: "Bb minor" in terminal.text(), "another key is shown")
        press("l", "^as written from the next chord on")
        terminal.until(lambda: "A minor" in terminal.text(), "the key as written is shown")
        line("higher", "^1 semitone higher")
        line("lower", "^as written")
        line("transpose +3", "^3 semitones higher")
        line("transpose 0", "^as written")
        parts = ["click", "pads", "bass"]
        for number, part in enumerate(parts, 1):
            press(str(number), f"^{part} is silent")
            terminal.until(lambda part=part: f"muted: {part};" in terminal.text(), f"{part} is shown as muted")
            press(str(number), f"^{part} is heard")
        for number in range(len(parts) + 1, 10):
            press(str(number), f"^no part {number} plays; there are 1 click, 2 pads, 3 bass")
        line("silence or bring bass", "^bass is silent")
        line("bring bass", "^bass is heard")
        line("pause or go on", "^paused")
        line("pause or go on", "goes on$")
        line("count in", "^counts in")
        line("help", "^pause, go on, count in")
        press("x", "^`x` is no key; [?] shows them")
        press("g", "^> go$")
        terminal.type("5")
        says("^> go 5$", "typing a bar")
        terminal.press("Enter")
        says("^bar 5 comes next", "going to a bar")
        terminal.until(lambda: terminal.bar() == 5, "bar 5 is shown")
        line("go 5", "^bar 5 comes next")
        line("go +1", r"^bar \d+ comes next")
        press("b", r"^a loop will begin with bar \d+")
        press("e", r"^bars? \d+ (to \d+ )?again and again")
        press("o", "^the loop is off")
        line("loop from here", r"^a loop will begin with bar \d+")
        line("loop to here", r"again and again")
        line("loop 5 8", "^bars 5 to 8 again and again")
        line("loop off", "^the loop is off")
        press("n", r"^bar \d+ comes next")
        press("a", r"^bar \d+ comes next")
        line("next", r"^bar \d+ comes next")
        line("again", r"^bar \d+ comes next")
        # The last pass, which the key does not end: bars go on, and it begins again when it is asked to.
        line("go 313", "^bar 313 comes next")
        terminal.until(lambda: terminal.bar() == 313, "the last pass is shown")
        press("n", "^this is the last pass; `again` plays it once more, `stop` ends it")
        terminal.until(lambda: terminal.bar() in (314, 315), "the last pass goes on")
        press("a", "^bar 313 comes next")
        terminal.until(lambda: terminal.bar() == 313, "the last pass begins again")
        held(alive(pid), "it ended")
        line("stop", "")
        until_gone(terminal, pid)
        held(terminal.status() == 0, "the line stop has another status than 0")
        with Terminal(tmux) as other:
            pid = other.plays()
            other.press("q")
            pressed.add("q")
            until_gone(other, pid)
        check_pressed([*wanted, *(text for text in lines if text not in ("",))], pressed)
    return f"{len(wanted)} keys and {len(lines)} lines answered; the page in a pause is another"


def check_loop_keys(tmux, _):
    with Terminal(tmux) as terminal:
        terminal.plays("--times", "40")
        terminal.until(lambda: terminal.bar() == 3, "bar 3 is shown")
        terminal.press("b")
        first = int(terminal.until(lambda: re.match(r"a loop will begin with bar (\d+)", terminal.said()),
                                   "a loop is begun")[1])
        terminal.until(lambda: terminal.bar() == first + 1, "the next bar is shown")
        terminal.press("e")
        found = terminal.until(lambda: re.match(r"bars (\d+) to (\d+) again and again", terminal.said()), "it loops")
        held(int(found[1]) == first, f"the loop begins with bar {found[1]}, not {first}")
        first, last = int(found[1]), int(found[2])
        terminal.until(lambda: f"loop {first} to {last}" in terminal.text(), "the loop is shown")
        bars = []

        def turned():
            bar = terminal.bar()
            if bar is not None and bars[-1:] != [bar]:
                bars.append(bar)
            return check_loop(bars, first, last) >= 2 if first in bars else False

        terminal.until(turned, "the loop turns twice")
        terminal.press("o")
        terminal.until(lambda: terminal.said() == "the loop is off", "the loop is off")
        terminal.until(lambda: terminal.bar() == last + 1, "it goes on behind the loop")
        held("loop" not in terminal.lines()[0], "the loop is still shown")
        return f"bars {first} to {last}, seen as {bars}, then {last + 1}"


def check_resize(tmux, _):
    sizes = [(20, 5), (100, 30), (160, 50), (60, 16), (40, 12)]
    with Terminal(tmux) as terminal:
        pid = terminal.plays("--times", "40")
        terminal.until(lambda: terminal.bar() == 2, "bar 2 is shown")
        terminal.press("Space")
        keys = "space goes on"
        terminal.until(lambda: terminal.said().startswith(keys), "the keys in a pause are shown")
        fresh = {}
        for size in sizes:
            # On another screen that is empty, it draws all there is.
            terminal.press("C-z")
            terminal.until(terminal.prompts, "it is suspended")
            terminal.resize(*size)
            terminal.until(lambda size=size: size_of(terminal.tty) == size, "the terminal has another size")
            terminal.enter("fg")
            row = 1 if size[1] < 12 else size[1] - 1

            def drawn(row=row):
                lines = terminal.lines()
                shown = len(lines) > row and lines[row].strip().startswith(keys)
                return shown and terminal.state().other_screen

            terminal.until(drawn, f"all is drawn in {size}")
            # A picture is written at once, but may come in pieces.
            last = []

            def same(last=last):
                last.append(picture_of(terminal.lines()))
                return drawn() and len(last) > 5 and all(same_picture(lines, last[-1]) for lines in last[-6:])

            terminal.until(same, "the picture stays")
            fresh[size] = last[-1]
        held(len({tuple(lines) for lines in fresh.values()}) == len(sizes), "pictures of different sizes are the same")
        tries = 0
        order = [(100, 30), (20, 5), (100, 30), (160, 50), (60, 16), (40, 12), (160, 50), (20, 5), (40, 12), (100, 30)]
        for size in order:
            tries += 1
            terminal.resize(*size)
            terminal.until(lambda size=size: same_picture(picture_of(terminal.lines()), fresh[size]),
                           f"in {size} it looks as it should, which is:\n" + "\n".join(fresh[size]) + "\n")
        terminal.press("Space")
        terminal.until(lambda: terminal.bar() == 3, "it goes on")
        terminal.press("q")
        until_gone(terminal, pid)
        # Small for a moment, in which it cannot look: the terminal has cut off most of the picture. A script does not take the
        # terminal from a program that is stopped.
        terminal.enter("sh -c 'fivefold play piece.toml; :'")
        script = terminal.until(lambda: children(int(terminal.shell)), "the script runs")[0]
        pid = terminal.until(lambda: children(script), "the program runs")[0]
        terminal.started.append(pid)
        terminal.until(lambda: terminal.bar() == 2, "bar 2 is shown")
        terminal.press("Space")
        terminal.until(lambda: terminal.said().startswith(keys), "the keys in a pause are shown")
        whole = picture_of(terminal.lines())
        os.kill(pid, signal.SIGSTOP)
        for size in ((20, 5), order[-1]):
            terminal.resize(*size)
            # tmux tells of it a little later.
            terminal.until(lambda size=size: size_of(terminal.tty) == size, "the terminal has another size")
        held(not same_picture(picture_of(terminal.lines()), whole), "nothing was cut off, so this shows nothing")
        os.kill(pid, signal.SIGCONT)
        terminal.until(lambda: same_picture(picture_of(terminal.lines()), whole), "it looks as before")
        return f"{tries} times another size of {len(sizes)}, each time as drawn on an empty screen; small for a moment, and whole again"


def goes_on(terminal):
    """The stage is shown, and bars pass."""
    terminal.until(terminal.on_stage, "the stage is shown")
    bar = terminal.until(terminal.bar, "a bar is shown")
    terminal.until(lambda: (terminal.bar() or 0) > bar, "it goes on")


def check_suspend(tmux, _):
    with Terminal(tmux) as terminal:
        terminal.enter("echo lines of before")
        before = terminal.seen()
        pid = terminal.plays("--times", "40")
        terminal.until(lambda: terminal.bar() == 1, "the first bar is shown")

        def stopped():
            terminal.until(terminal.prompts, "the shell is back")
            held("Stopped" in terminal.text(), "the shell tells of no job that is stopped")
            check_given_back(before, terminal.seen())

        def takes_keys():
            terminal.press("Space")
            terminal.until(lambda: "space goes on" in terminal.text(), "keys are taken again")

        terminal.press("C-z")
        stopped()
        terminal.enter("fg")
        goes_on(terminal)
        takes_keys()
        terminal.press("Space")
        goes_on(terminal)
        # In the background it plays, and leaves the terminal to the shell.
        terminal.press("C-z")
        stopped()
        frames = tmux.sound.frames_on_disk()
        terminal.enter("bg")
        terminal.until(lambda: tmux.sound.frames_on_disk() > frames + 96_000, "it plays in the background")
        check_given_back(before, terminal.seen())
        terminal.enter("fg")
        goes_on(terminal)
        takes_keys()
        terminal.press("Space")
        goes_on(terminal)
        # It cannot act on this stop, so the shell is on its screen; but afterward all is as it should be.
        os.kill(pid, signal.SIGSTOP)
        terminal.until(lambda: "Stopped" in terminal.text(), "the shell is back")
        terminal.enter("fg")
        goes_on(terminal)
        takes_keys()
        terminal.press("q")
        until_gone(terminal, pid)
        terminal.until(terminal.prompts, "the shell is back")
        check_given_back(before, terminal.seen())
        terminal.enter("clear; echo lines of before")
        before = terminal.seen()
        pid = terminal.plays("--count-in-after-pause")
        terminal.until(lambda: terminal.bar() == 2, "the second bar is shown")
        terminal.press("C-z")
        stopped()
        terminal.enter("fg")
        terminal.until(terminal.on_stage, "the stage is shown")
        terminal.until(lambda: re.search("^counts in, then bar|count-in", terminal.text(), re.M), "a bar is counted in")
        goes_on(terminal)
        return "Ctrl-Z, bg, fg, SIGSTOP; a bar is counted in where it is asked for"


def ends_well(terminal, before, pid, status=0):
    """After its end: the terminal as it was, and the account."""
    until_gone(terminal, pid)
    got = terminal.status()
    held(got == status, f"the status is {got}")
    told = re.search(r"^stopped: \d+ bars? in [\d:.]+, .*$", terminal.text(), re.M)
    held(told, f"there is no account:\n{terminal.text()}")
    check_given_back(before, terminal.seen())
    return told[0]


def check_quit(tmux, _):
    with Terminal(tmux) as terminal:
        terminal.enter("echo lines of before")
        before = terminal.seen()
        pid = terminal.plays()
        terminal.until(lambda: terminal.bar() == 2, "the second bar is shown")
        helpers = children(pid)
        terminal.press("q")
        told = ends_well(terminal, before, pid)
        for helper in helpers:
            until_gone(terminal, helper)
        return told


def check_signals(tmux, _):
    with Terminal(tmux) as terminal:
        terminal.enter("echo lines of before")
        before = terminal.seen()
        for number in (signal.SIGINT, signal.SIGTERM, signal.SIGHUP):
            pid = terminal.plays()
            terminal.until(lambda: terminal.bar() == 1, "the first bar is shown")
            if number == signal.SIGINT:
                terminal.press("C-c")
            else:
                os.kill(pid, number)
            ends_well(terminal, before, pid)
            terminal.enter("clear; echo lines of before")
            before = terminal.seen()
        return "Ctrl-C, SIGTERM, SIGHUP: status 0 each"


def check_rest(tmux, _):
    """A rest in a routine, which is the first thing that is shown: no piece has been played."""
    with Terminal(tmux) as terminal:
        terminal.enter("echo lines of before")
        before = terminal.seen()
        for number in (signal.SIGINT, signal.SIGTERM):
            terminal.enter("fivefold practice rest.toml --log log.sqlite --who Ada")
            pid = terminal.process()
            terminal.until(terminal.on_stage, "the rest is shown")
            terminal.press("C-z")
            terminal.until(terminal.prompts, "the shell is back")
            held("Stopped" in terminal.text(), "the shell tells of no job that is stopped")
            check_given_back(before, terminal.seen())
            terminal.enter("fg")
            terminal.until(terminal.on_stage, "the rest is shown again")
            if number == signal.SIGINT:
                terminal.press("C-c")
            else:
                os.kill(pid, number)
            until_gone(terminal, pid)
            terminal.until(terminal.prompts, "the shell is back")
            check_given_back(before, terminal.seen())
            terminal.enter("clear; echo lines of before")
            before = terminal.seen()
        return "Ctrl-Z, fg, Ctrl-C, SIGTERM"


def check_closed(tmux, _):
    with Terminal(tmux) as terminal:
        pid = terminal.plays()
        helpers = children(pid)
        terminal.until(lambda: terminal.bar() == 1, "the first bar is shown")
        tmux.run("kill-session", "-t", terminal.name)
        began = time.monotonic()
        for each in [pid, *helpers]:
            end = time.monotonic() + PATIENCE
            while alive(each):
                held(time.monotonic() < end, f"{' '.join(command_line(each))} still runs after {PATIENCE:.0f} s")
                time.sleep(LOOK)
        return f"ended {time.monotonic() - began:.1f} s later"


def check_panic(tmux, options):
    with Terminal(tmux) as terminal:
        terminal.enter("echo lines of before")
        before = terminal.seen()
        # The arranging runs ahead of what is heard.
        terminal.enter(f"FIVEFOLD_PANIC_AFTER_BARS=12 {options.faulty} play piece.toml --times 40")
        terminal.until(terminal.on_stage, "the stage is shown")
        got = terminal.status()
        held(got == 101, f"the status is {got}")
        held("as FIVEFOLD_PANIC_AFTER_BARS asked for" in terminal.text(), f"no word of the fault:\n{terminal.text()}")
        check_given_back(before, terminal.seen())
        return "status 101, and what it says can be read"


def check_kill(tmux, _):
    with Terminal(tmux) as terminal:
        terminal.enter("echo lines of before")
        before = terminal.seen()

        def given_back(helpers):
            for helper in helpers:
                until_gone(terminal, helper)
            terminal.until(lambda: not terminal.state().other_screen, "the screen of the shell is shown")
            # The shell may have written its prompt on the other screen, a moment too early.
            terminal.press("Enter")
            terminal.until(terminal.prompts, "the shell is back")
            check_given_back(before, terminal.seen())

        for kill in (os.kill, os.killpg):
            pid = terminal.plays()
            terminal.until(lambda: terminal.bar() == 1, "the first bar is shown")
            helpers = children(pid)
            held(len(helpers) == 1, f"{len(helpers)} processes watch over the terminal")
            files = [os.readlink(f"/proc/{helpers[0]}/fd/{number}") for number in os.listdir(f"/proc/{helpers[0]}/fd")]
            held(sorted(file.split(":")[0] for file in files) == sorted([terminal.tty, terminal.tty, "pipe"]),
                 f"it holds open {files}")
            kill(pid, signal.SIGKILL)
            given_back(helpers)
        # A script does not restore modes as a shell does that edits lines.
        terminal.enter("sh -c 'fivefold play piece.toml; read line'")
        script = terminal.until(lambda: children(int(terminal.shell)), "the script runs")[0]
        pid = terminal.until(lambda: children(script), "the program runs")[0]
        terminal.started.append(pid)
        terminal.until(lambda: terminal.bar() == 1, "the first bar is shown")
        as_set = modes_of(terminal.tty)
        os.kill(pid, signal.SIGKILL)
        terminal.until(lambda: modes_of(terminal.tty) != as_set, "the modes are restored")
        held(modes_of(terminal.tty) == before[1], "the modes are not as they were")
        terminal.until(lambda: not terminal.state().other_screen, "the screen of the shell is shown")
        terminal.press("Enter")
        given_back([])
        terminal.enter("clear; echo lines of before")
        before = terminal.seen()
        # Killed while it is suspended, when another program has the terminal.
        pid = terminal.plays()
        helpers = children(pid)
        terminal.press("C-z")
        terminal.until(terminal.prompts, "it is suspended")
        terminal.enter(r"printf '\033[?1049h'")
        terminal.until(lambda: terminal.state().other_screen, "another program shows the other screen")
        os.kill(pid, signal.SIGKILL)
        for helper in helpers:
            until_gone(terminal, helper)
        held(terminal.state().other_screen, "the screen of another program was taken away")
        terminal.enter(r"printf '\033[?1049l'")
        given_back([])
        return "alone, with its job, in a script: given back; while another program has the terminal: left alone"


def check_blocked(tmux, _):
    sound = tmux.sound
    with Terminal(tmux) as terminal:
        terminal.enter("echo lines of before")
        before = terminal.seen()

        def blocked():
            terminal.until(lambda: terminal.bar() == 2, "the second bar is shown")
            terminal.press("C-s")
            frames = sound.frames_on_disk()
            terminal.until(lambda: sound.frames_on_disk() > frames + 96_000, "two seconds more are played")

        pid = terminal.plays("--times", "40")
        blocked()
        bar = terminal.bar()
        terminal.press("Space")
        terminal.until(lambda: silent(sound.wav, 0.5), "it is paused")
        held(terminal.bar() == bar, "the terminal is not blocked, so this has shown nothing")
        terminal.press("Space")
        terminal.until(lambda: not silent(sound.wav, 0.5), "it goes on")
        terminal.press("C-q")
        goes_on(terminal)
        took = []
        for way in ("q", "TERM"):
            if way == "TERM":
                terminal.enter("clear; echo lines of before")
                before = terminal.seen()
                pid = terminal.plays("--times", "40")
                blocked()
            else:
                terminal.press("C-s")
            began = time.monotonic()
            if way == "q":
                terminal.press("q")
            else:
                os.kill(pid, signal.SIGTERM)
            until_gone(terminal, pid)
            took.append(f"{way} ended it in {time.monotonic() - began:.1f} s")
            ends_well(terminal, before, pid)
        return "sound and keys go on; " + ", ".join(took)


def check_lines(tmux, _):
    told = []
    ways = [("--lines", "fivefold play piece.toml --lines", {CLEAR_ROW}),
            ("a dumb terminal", "TERM=dumb fivefold play piece.toml", set()),
            ("the background", "fivefold play piece.toml &", set())]
    for name, command, allowed in ways:
        with Terminal(tmux) as terminal:
            raw = tmux.scratch / f"raw-{terminal.name}"
            terminal.tmux.run("pipe-pane", "-t", terminal.name, f"cat > {raw}")
            terminal.enter(command)
            pid = terminal.process()
            bars = [f"bar {number} of 25" for number in (1, 2, 3)]
            terminal.until(lambda: all(bar in terminal.text() for bar in bars), "each bar is told")
            held(not terminal.state().other_screen and terminal.state().cursor, "the stage is shown")
            if name != "the background":
                if name == "--lines":
                    terminal.press("Enter")
                terminal.type("tempo 120")
                terminal.press("Enter")
                terminal.until(lambda: "tempo 120 a minute" in terminal.text(), "a line is taken")
            os.kill(pid, signal.SIGINT)
            until_gone(terminal, pid)
            terminal.until(lambda: "stopped: " in terminal.text(), "the account is told")
            lines = terminal.lines()
            for bar in bars:
                rows = [line for line in lines if bar in line]
                held(len(rows) == 1, f"{bar} has {len(rows)} lines")
            written = terminal.until(lambda: raw.read_bytes(), "what it wrote was kept")
            held(b"bar 3 of 25" in written, "nothing was read of what the terminal got")
            check_plain(written, allowed)
            told.append(f"{name}: {len(SEQUENCE.findall(written))} sequences")
    return "; ".join(told)


def check_cpu(tmux, _):
    with Terminal(tmux, 160, 50) as terminal:
        pid = terminal.plays("--times", "40")
        terminal.until(lambda: "beat 2 of 4" in terminal.text(), "it plays")
        ticks = os.sysconf("SC_CLK_TCK")
        began, before = time.monotonic(), thread_ticks(pid, "stage")
        time.sleep(CPU_SECONDS)
        after, seconds = thread_ticks(pid, "stage"), time.monotonic() - began
        held(terminal.on_stage() and alive(pid), "the stage is gone")
        return f"drawing took {check_share(before, after, ticks, seconds):.2%} of a core in {seconds:.0f} s at 160x50"


# The longest first, so that none is waited for at the end.
CHECKS = {
    "resize": check_resize,
    "cpu": check_cpu,
    "keys": check_keys,
    "suspend": check_suspend,
    "blocked": check_blocked,
    "kill": check_kill,
    "loop": check_loop_keys,
    "lines": check_lines,
    "signals": check_signals,
    "start": check_start,
    "panic": check_panic,
    "quit": check_quit,
    "closed": check_closed,
    "rest": check_rest,
}


# The test of the test


def selftest():
    """What is right passes, and each fault is found."""
    shell, stage = State(False, True, 100, 30), State(True, False, 100, 30)
    before = (shell, "modes", ["one", "two"])
    check_given_back(before, (shell, "modes", ["one", "two", "stopped: 3 bars"]))
    assert check_loop([1, 2, 3, 4, 5, 6, 4, 5, 6, 4], 4, 6) == 2 and check_loop([7, 7, 8, 7], 7, 8) == 1
    check_plain(b"bar 1\r\n\r\x1b[K> tempo\r\n", {CLEAR_ROW})
    check_pressed(["q", "go 5"], {"q", "go 5", "x"})
    assert check_share(100, 130, 100, 20) == 0.015
    assert same_picture(["Title", "Am"], [f"  {LIGHT}", "Am"]) and same_picture(["Title"], ["Title"])
    assert not same_picture(["Title", "Am"], ["Title", "C"]) and not same_picture(["Title", "Am"], ["Titles", "Am"])
    assert not same_picture([LIGHT, "Am"], ["Title", "C"])
    assert keys_of("space, p") == ["space", "p"] and keys_of("1 to 3") == ["1", "2", "3"] and keys_of("") == []
    assert BAR.search("Two rooms   bar 12 of 24, A")[1] == "12" and not BAR.search("then bar 3")
    with tempfile.TemporaryDirectory() as folder:
        path = os.path.join(folder, "x.wav")
        write_wav(path, 48_000, [0], 60_000, "i16")
        assert silent(path, 1)
        write_wav(path, 48_000, [20_000], 60_000, "i16")
        assert not silent(path, 1) and silent(path, 0.5)
    own = pathlib.Path("/proc/self/comm").read_text().strip()
    assert alive(os.getpid()) and not alive(2**22 + 1) and thread_ticks(os.getpid(), own) >= 0
    faults = [
        lambda: check_given_back(before, (stage, "modes", ["one", "two"])),
        lambda: check_given_back(before, (shell._replace(cursor=False), "modes", ["one", "two"])),
        lambda: check_given_back(before, (shell, "others", ["one", "two"])),
        lambda: check_given_back(before, (shell, "modes", ["two", "stopped: 3 bars"])),
        lambda: check_loop([1, 2, 3], 4, 6),
        lambda: check_loop([4, 5, 6, 7], 4, 6),
        lambda: check_loop([4, 5, 6, 3], 4, 6),
        lambda: check_loop([4, 5, 4, 5], 4, 6),
        lambda: check_loop([4, 5, 6, 5], 4, 6),
        lambda: check_plain(b"\r\x1b[K> tempo", set()),
        lambda: check_plain(b"\x1b[?1049h\r\x1b[K", {CLEAR_ROW}),
        lambda: check_plain(b"\x1bc", {CLEAR_ROW}),
        lambda: check_plain(b"bar 1\x1b", {CLEAR_ROW}),
        lambda: check_pressed(["q", "go 5"], {"q"}),
        lambda: check_share(100, 170, 100, 20),
        lambda: thread_ticks(os.getpid(), "stage"),
    ]
    for number, fault in enumerate(faults):
        try:
            fault()
        except Wrong:
            continue
        raise SystemExit(f"selftest: fault {number} was not found")
    print(f"selftest: {len(faults)} faults found")


class Run:
    """Checks beside each other; most of their time they wait."""

    def __init__(self, options):
        self.options = options
        self.left, self.passed = list(options.only or CHECKS), 0
        self.lock = threading.Lock()

    def work(self):
        """Does one check after the other, with a terminal and a device of its own."""
        with Server() as sound, tempfile.TemporaryDirectory() as scratch:
            tmux = Tmux(pathlib.Path(scratch), sound, self.options.program)
            try:
                while name := self.next():
                    self.check(name, tmux)
            finally:
                tmux.close()

    def next(self):
        with self.lock:
            return self.left.pop(0) if self.left else None

    def check(self, name, tmux):
        began, passed = time.monotonic(), False
        try:
            told = CHECKS[name](tmux, self.options)
            passed = True
        except (Wrong, live_midi.Wrong) as wrong:
            told = wrong
        except Exception:  # a fault of the check itself
            told = traceback.format_exc()
        with self.lock:
            self.passed += passed
            print(f"{'ok' if passed else 'FAILED'} {name}, {time.monotonic() - began:.0f} s: {told}", flush=True)


def main():
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--selftest", action="store_true")
    parser.add_argument("--only", action="append", choices=CHECKS)
    parser.add_argument("--program", default="target/release/fivefold")
    parser.add_argument("--faulty", help="a program built with the feature jack, in place of building it")
    parser.add_argument("--at-once", type=int, default=3)
    options = parser.parse_args()
    selftest()
    if options.selftest:
        return 0
    options.program = os.path.abspath(options.program)
    if shutil.which("tmux") is None:
        raise SystemExit("install the package tmux first")
    if "panic" in (options.only or CHECKS):
        options.faulty = os.path.abspath(options.faulty or live_midi.build())
    # Ended by somebody, it still ends what it started.
    for number in (signal.SIGTERM, signal.SIGHUP):
        signal.signal(number, lambda *_: sys.exit(1))
    began, run = time.monotonic(), Run(options)
    count = len(run.left)
    workers = [threading.Thread(target=run.work) for _ in range(min(options.at_once, count))]
    for worker in workers:
        worker.start()
    try:
        for worker in workers:
            worker.join()
    finally:
        run.left.clear()
    print(f"{run.passed} of {count} passed, {time.monotonic() - began:.0f} s")
    return 0 if run.passed == count else 1


if __name__ == "__main__":
    sys.exit(main())
