#!/usr/bin/env python3
"""Plays a routine through as a player would: answers what is asked, says how takes went, and reads the log back.

PulseAudio's null sink stands for the device, as in live_audio.py. The program is asked for JSON, so that each ask, answer and
choice is a line on its error output; answers go to its standard input. Python's own sqlite3 module reads the log.

    live_practice.py [--program PROGRAM]

The checks: right, late, wrong and missing answers are judged as such; a rest ends by a line; a scale and chord changes are
judged by a word and get a pace; a piece is written down; the exit status is 1 where a drill ended below its goal; the next
day what was missed is due, what was known at once is not; a program that is killed in a take loses that take alone; from a
folder and a file that nobody may write the drill still starts, says so, and leaves both as they are.
"""

import argparse
import json
import os
import shutil
import signal
import sqlite3
import subprocess
import sys
import tempfile
import time

from live_audio import Server, Wrong

ROUTINE = """
title = "Every kind"
[[items]]
drill = "roots --strings 6 --notes marked --asks 5 --tempo 60 --count-in 1 --seed 3"
minutes = 1
goal = 90
[[items]]
rest = "stretch"
minutes = 2
[[items]]
drill = "scale 'A minor pentatonic' --over click --tempo 240 --times 1"
minutes = 1
[[items]]
drill = "changes 'Em Am' --step changes --tempo 240"
minutes = 1
[[items]]
piece = "'| Am | G |' --tempo 240"
minutes = 1
"""

# Frets of the sixth string in standard tuning, from the open one up (common practice).
NOTES = ["E", "F", "F#", "G", "G#", "A", "A#", "B", "C", "C#", "D", "D#"]
FLATS = {"Db": "C#", "Eb": "D#", "Gb": "F#", "Ab": "G#", "Bb": "A#"}


def held(condition, what):
    if not condition:
        raise Wrong(what)


class Player:
    """The program at its routine, and whoever sits before it."""

    def __init__(self, server, program, arguments):
        self.process = subprocess.Popen([program, *arguments, "--json"], env=server.env, stdin=subprocess.PIPE,
                                        stdout=subprocess.DEVNULL, stderr=subprocess.PIPE, text=True, bufsize=1)

    def type(self, line):
        self.process.stdin.write(line + "\n")
        self.process.stdin.flush()

    def lines(self):
        """What it says, line by line; lines that are not JSON are a fault."""
        for line in self.process.stderr:
            if line.strip():
                yield json.loads(line)


def play(server, program, routine, log):
    """One session; gives the exit status and what was meant to become of each root."""
    player = Player(server, program, ["practice", routine, "--log", log, "--who", "Ada"])
    plan, meant, takes = ["right", "late", "wrong", "missed", "right"], [], 0
    stopped = False
    for said in player.lines():
        kind = said.get("kind")
        if kind == "ask":
            how = plan[len(meant) % len(plan)]
            name = said["text"].split()[0]
            fret = NOTES.index(FLATS.get(name, name))
            meant.append((said["text"], how))
            if how == "right":
                player.type(str(fret))
            elif how == "late":
                # Four beats of a second: the last begins after three.
                time.sleep(3.4)
                player.type(str(fret))
            elif how == "wrong":
                player.type(str(fret + 1))
        elif kind == "choice":
            if "next" in said["choices"]:
                player.type("next")
            else:
                takes += 1
                player.type("clean" if takes % 2 else "nearly")
        elif "code" in said:
            raise Wrong(str(said))
        # The piece need not be heard for a minute.
        if kind == "item" and said["what"] == "piece" and not stopped:
            stopped = True
            time.sleep(8)
            player.type("stop")
    return player.process.wait(), meant


def read_back(log, meant):
    db = sqlite3.connect(log)
    held(db.execute("PRAGMA integrity_check").fetchone() == ("ok",), "the log is damaged")
    takes = db.execute("SELECT exercise, word, can_after, asked, right, seconds FROM takes ORDER BY id").fetchall()
    kinds = {exercise.split()[0] for exercise, *_ in takes}
    held(kinds == {"roots", "scale", "changes", "piece"}, f"kinds of takes: {kinds}")
    for exercise, word, can, *_ in takes:
        whole = exercise.split()[0] in ("scale", "changes")
        held((word is not None and can is not None) == whole, f"{exercise}: {word}, {can}")
    words = {"right": ("at once", "right"), "late": ("late",), "wrong": ("wrong",), "missed": ("missed",)}
    # Pairs of chords are facts as well, and are asked by nobody.
    asks = db.execute("SELECT asks.asked, outcome FROM asks JOIN takes ON takes.id = take WHERE exercise LIKE 'roots %'"
                      " ORDER BY take, number").fetchall()
    held(len(asks) >= 5 and len(asks) <= len(meant), f"{len(asks)} asks of {len(meant)}")
    for (asked, outcome), (text, how) in zip(asks, meant):
        held(asked == text and outcome in words[how], f"{asked}: {outcome}, not {how}")
    return takes


def due(server, program, log, days):
    """What would be asked after so many days, by a clock that is set forward."""
    done = subprocess.run(["faketime", f"+{days} day", program, "log", "--log", log, "--who", "Ada", "--json"],
                          env=server.env, capture_output=True, text=True, check=True)
    return json.loads(done.stdout)


def killed(server, program, log):
    """Killed while a take is played: the takes before it are there, that one is not."""
    count = "SELECT count(*) FROM takes"
    before = sqlite3.connect(log).execute(count).fetchone()
    player = Player(server, program, ["drill", "roots", "--log", log, "--who", "Ada", "--tempo", "240"])
    for said in player.lines():
        if said.get("kind") == "answer":
            player.process.send_signal(signal.SIGKILL)
            break
    player.process.wait()
    db = sqlite3.connect(log)
    held(db.execute("PRAGMA integrity_check").fetchone() == ("ok",), "the log is damaged")
    held(db.execute(count).fetchone() == before, "takes were lost or made up")


def read_only(server, program, log):
    """A log that may not be written, for a user who is not root: root may write everywhere."""
    with tempfile.TemporaryDirectory() as folder:
        os.chmod(folder, 0o755)
        ours, place = os.path.join(folder, "program"), os.path.join(folder, "logs")
        shutil.copy(program, ours)
        os.mkdir(place)
        kept = os.path.join(place, "log.sqlite")
        shutil.copy(log, kept)
        with open(kept, "rb") as file:
            before = file.read()
        os.chmod(kept, 0o444)
        os.chmod(place, 0o555)
        nobody = ["setpriv", "--reuid=65534", "--regid=65534", "--clear-groups"] if os.geteuid() == 0 else []
        for path, words in ((kept, "it is read-only"), (os.path.join(place, "new.sqlite"), "cannot be made")):
            done = subprocess.run([*nobody, ours, "drill", "roots", "--show", "--log", path], env=server.env,
                                  capture_output=True, text=True, check=True)
            held("on string" in done.stdout, "the drill did not start")
            told = " ".join(done.stderr.split())
            held(words in told and "nothing is written down" in told, f"told: {told}")
        held(os.listdir(place) == ["log.sqlite"], f"files beside the log: {os.listdir(place)}")
        with open(kept, "rb") as file:
            held(file.read() == before, "the log was changed")
        os.chmod(place, 0o755)


def main():
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--program", default="target/release/fivefold")
    program = os.path.abspath(parser.parse_args().program)
    try:
        with Server() as server, tempfile.TemporaryDirectory() as folder:
            routine, log = os.path.join(folder, "routine.toml"), os.path.join(folder, "log.sqlite")
            with open(routine, "w", encoding="utf-8") as file:
                file.write(ROUTINE)
            status, meant = play(server, program, routine, log)
            held(status == 1, f"status {status}, though the roots were below their goal")
            takes = read_back(log, meant)
            print(f"a routine of five items: {len(takes)} takes, {len(meant)} asks, judged as they were meant")
            if subprocess.run(["which", "faketime"], stdout=subprocess.DEVNULL, check=False).returncode == 0:
                facts = [fact for fact in due(server, program, log, 1)["due"] if "on string" in fact["fact"]]
                held(len(facts) == 5, f"{facts}")
                print("the next day: " + ", ".join(f"{fact['fact']} on {fact['day']}" for fact in facts))
            killed(server, program, log)
            print("killed in a take: the log is whole, and that take alone is missing")
            read_only(server, program, log)
            print("a folder that is read-only: told, and the drill starts")
    except Wrong as wrong:
        print(f"live_practice.py: {wrong}", file=sys.stderr)
        return 1
    return 0


if __name__ == "__main__":
    sys.exit(main())
