#!/usr/bin/env python3
"""Measures how late the program's messages are beside cyclictest, the kernel developers' own measure of wake-ups.

Both run at the same time for the same length, on the same machine under the same load, once quiet and once with a busy
process on every core, a few times each; the table gives medians and ratios. It is a measurement and no check: it fails
only where something is lost, early or without a receipt. Needed on Debian: the package rt-tests.

    lateness.py [--seconds N] [--runs N] [--policy fifo|other] [-- PROGRAM ARGUMENT...]

Without a program it is ours, built for JACK, playing the click at 120 with the MIDI clock to an instrument on a server
without hardware (see live_midi.py); by the ordinary policy it runs without the right to real-time priority. Another
program must play messages at even times for as long as it is told, and write its receipt as JSON: to the file that
replaces {receipt}, or, where no argument has that, as the last line on standard output (a member `receipt` of it, or the
whole). {seconds} is filled in as well. The period of cyclictest is that of a MIDI clock at 120 beats a minute; take a piece
with thousands of messages, or 99.9 % says nothing. For example, with a port called synth:

    lateness.py -- target/release/fivefold click 120 --port synth --for {seconds}s --json
"""

import argparse
import contextlib
import json
import os
import pathlib
import re
import statistics
import subprocess
import sys
import tempfile

import live_midi

PERIOD_US = 20_833
QUANTILES = ("median", "99 %", "99.9 %", "worst")


def cyclictest(seconds, policy, priority):
    """The command: one thread at an even period, a histogram in microseconds."""
    loops = round(seconds * 1e6 / PERIOD_US)
    command = ["cyclictest", "-t1", f"-i{PERIOD_US}", f"-l{loops}", "-q", "-h", "60000", "-m", f"--policy={policy}"]
    return command + ([f"-p{priority}"] if policy == "fifo" else [])


def quantiles(text):
    """Median, 99 %, 99.9 % and worst, in microseconds, of what cyclictest printed."""
    counts = [(int(us), int(count)) for us, count in re.findall(r"^(\d{6}) (\d+)", text, re.M)]
    total = sum(count for _, count in counts)
    overflowed = re.search(r"^# Histogram Overflows: (\d+)", text, re.M)
    total += int(overflowed[1]) if overflowed else 0
    if not total:
        raise SystemExit(f"cyclictest gave no histogram:\n{text[-2000:]}")
    found = []
    for part in (0.5, 0.99, 0.999):
        seen = 0
        for us, count in counts:
            seen += count
            if seen >= part * total:
                found.append(us)
                break
        else:
            found.append(counts[-1][0])
    worst = re.search(r"^# Max Latencies: (\d+)", text, re.M)
    return [*found, int(worst[1]) if worst else found[-1]]


def last_receipt(out, path):
    text = path.read_text() if path.exists() else out.strip().splitlines()[-1]
    found = json.loads(text)
    return found.get("receipt", found)


def run(command, seconds, policy, priority, load):
    """One run side by side: the quantiles of both and the receipt."""
    busy = [subprocess.Popen([sys.executable, "-c", "while True: sum(range(100000))"]) for _ in range(load)]
    try:
        with tempfile.TemporaryDirectory() as scratch:
            path = pathlib.Path(scratch) / "receipt.json"
            filled = [word.replace("{receipt}", str(path)).replace("{seconds}", f"{seconds:g}") for word in command]
            other = subprocess.Popen(cyclictest(seconds, policy, priority), stdout=subprocess.PIPE, text=True)
            ours = subprocess.run(filled, stdout=subprocess.PIPE, text=True, check=False)
            text, _ = other.communicate()
            if ours.returncode != 0:
                raise SystemExit(f"exit status {ours.returncode} of {' '.join(filled)}")
            receipt = last_receipt(ours.stdout, path)
    finally:
        for process in busy:
            process.kill()
            process.wait()
    late = receipt["at_call"]
    return [late[name] / 1e3 for name in ("median_ns", "p99_ns", "p999_ns", "worst_ns")], quantiles(text), receipt


@contextlib.contextmanager
def ours(policy):
    """Our own program as a command, with what it plays to."""
    program = live_midi.build()
    with tempfile.TemporaryDirectory() as scratch:
        server = live_midi.Server(pathlib.Path(scratch))
        try:
            # Without the right to ask for priority, though the user be root.
            humble = ["setpriv", "--inh-caps=-sys_nice", "--bounding-set=-sys_nice"] if policy == "other" else []
            yield [*humble, str(program), "click", "120", "--clock", "--port", live_midi.PORT, "--for", "{seconds}s",
                   "--json"]
        finally:
            server.close()


def main():
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--seconds", type=float, default=60)
    parser.add_argument("--runs", type=int, default=3)
    parser.add_argument("--policy", choices=["fifo", "other"], default="fifo")
    parser.add_argument("--priority", type=int, default=80)
    parser.add_argument("command", nargs="*")
    options = parser.parse_args()
    with contextlib.nullcontext(options.command) if options.command else ours(options.policy) as command:
        return measure(options, command)


def measure(options, command):
    """Runs all, prints the table, and gives the exit status."""
    faults = 0
    print(f"lateness in us, medians of {options.runs} runs of {options.seconds:g} s, cyclictest by {options.policy}")
    print(f"{'':6} {'':11}" + "".join(f"{name:>10}" for name in QUANTILES))
    for name, load in [("quiet", 0), ("busy", os.cpu_count() or 1)]:
        runs = [run(command, options.seconds, options.policy, options.priority, load)
                for _ in range(options.runs)]
        ours = [statistics.median(column) for column in zip(*(run[0] for run in runs))]
        theirs = [statistics.median(column) for column in zip(*(run[1] for run in runs))]
        for label, row in [("program", ours), ("cyclictest", theirs)]:
            print(f"{name:6} {label:11}" + "".join(f"{us:10.1f}" for us in row))
        ratios = [f"{a / b:10.2f}" if b else f"{'-':>10}" for a, b in zip(ours, theirs)]
        print(f"{name:6} {'ratio':11}" + "".join(ratios))
        for _, _, receipt in runs:
            lost = {name: receipt[name] for name in ("early", "refused", "dropped") if receipt[name]}
            faults += bool(lost)
            granted = receipt["granted"] or {}
            drift, stolen = receipt["drift_ppb"], receipt["stolen_ns"]
            print(f"       {receipt['sent']} sent, {receipt['at_call']['beyond_1_ms']} beyond 1 ms, "
                  f"{receipt['at_call']['beyond_6_ms']} beyond 6 ms"
                  + (f", drift {drift / 1e3:.2f} ppm" if drift is not None else "")
                  + (f", stolen {stolen / 1e6:.0f} ms" if stolen is not None else "")
                  + (f", {granted.get('policy')} {granted.get('priority') or ''}" if granted else "")
                  + (f", FAULTS {lost}" if lost else ""), flush=True)
    return 1 if faults else 0


if __name__ == "__main__":
    sys.exit(main())
