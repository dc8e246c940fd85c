#!/usr/bin/env python3
"""Memory of a program that reads charts: within 20 times the text and 20 MB, whatever the text is.

    check_memory.py PROGRAM

Charts are made here, as long and as dense as a text can be made, most of them beyond a limit. Each is checked and played to
a file by the program; its peak memory is what the system counted for it (`ru_maxrss`, getrusage(2)). Nothing but Python's
standard library is used.
"""
import pathlib
import subprocess
import sys
import tempfile

TIMES, MORE_KB = 20, 20_000
BYTES = 3_000_000


def filled(piece):
    """As much of `piece` as a text of three million bytes holds, in bar lines."""
    return "|" + piece * (BYTES // len(piece)) + "|"


def charts():
    """A name and a chart each."""
    for bars in (1_000, 9_999, 10_001, 100_000):
        yield f"{bars} bars of a chord", "|" + "C|" * bars
        yield f"{bars} bars of two chords", "|" + "C / D /|" * bars
        yield f"{bars} bars of similes", "|C|" + "%|" * (bars - 1)
    yield "bars of four chords", "|" + "C D E F|" * 5_000
    yield "bars of twelve chords", "|(12/4)" + "C D E F G A B C D E F G|" * 1_666
    yield "bars of thirty-two chords", "|(32/4)" + ("C D E F G A B C " * 4 + "|") * 625
    yield "a hundred bars, again and again", "|:" + "C|" * 99 + "C:|x100"
    yield "one bar, again and again", "|: Cmaj9#11/B :|x9999"
    yield "similes of two chords", "|" + "Am7b5 / D7b9#5/F# /|" * 2 + "%|" * 9_990
    yield "long symbols", "|" + "C(b9,#11,b13)/Bb / F#m7b5 / |" * 9_990
    kinds = ["", "m", "7", "m7", "maj7", "9", "m9", "13", "m7b5", "dim7", "6", "m6", "add9", "maj9", "7b9", "aug"]
    roots = [letter + sign for letter in "CDEFGAB" for sign in ("", "b", "#")]
    chords = [root + kind for kind in kinds for root in roots]
    pairs = [chords[i * step % len(chords)] for step in range(1, 60) for i in range(len(chords))][:19_980]
    row = "|" + "|".join(" ".join(pair) for pair in zip(pairs[::2], pairs[1::2])) + "|"
    yield "each pair of chords another", row
    yield "the same with pads over four octaves", f"""[sections]\nA = "{row}"\n[parts.pads]\nlow = "C2"\nhigh = "C6"\n"""
    for piece in ("|", "||", "C", "C|", "C ", "% ", "%|", "C / D /|", "|:", "C:|", "(4/4)", "[A]", "1.", "\n", "é", "#", "x9 ",
                  "NC|", "V7/ii|", "| C x ", "| C # ", "C/", "/", "C C|", "(7/8) C|"):
        yield f"{piece!r} to 3 MB", filled(piece)
    yield "sections", "".join(f"[S{i}] | C |\n" for i in range(9_999))
    yield "a long line after an error", "| H " + "| C " * 9_000


# Run by an interpreter of its own: what starts a program is counted as the program's too, and this one holds the charts.
STARTS = """
import resource, subprocess, sys
status = subprocess.run(sys.argv[1:], stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL).returncode
print(resource.getrusage(resource.RUSAGE_CHILDREN).ru_maxrss, status)
"""


def peak_kb(program, arguments):
    """The most memory that the program had, in kilobytes, and its exit status."""
    told = subprocess.run([sys.executable, "-S", "-c", STARTS, program, *arguments], capture_output=True, text=True, check=True)
    kib, status = map(int, told.stdout.split())
    return kib * 1024 // 1000, status


def main():
    program = str(pathlib.Path(sys.argv[1]).resolve())
    wrong, most, played = 0, (0.0, "", 0, 0), 0
    with tempfile.TemporaryDirectory() as folder:
        for name, chart in charts():
            path = pathlib.Path(folder, "chart")
            path.write_text(chart)
            document = pathlib.Path(folder, "chart.toml")
            document.write_text(f"[sections]\nA = '''{chart}'''\n" if "[" not in chart else chart)
            allowed = TIMES * len(chart.encode()) // 1000 + MORE_KB
            for arguments in (["check", str(path)], ["check", str(document)],
                              ["play", str(path), "-o", f"{folder}/out.mid", "--force"]):
                kb, status = peak_kb(program, arguments)
                played += status == 0
                most = max(most, (kb / allowed, f"{arguments[0]} {name}", kb, allowed))
                if kb > allowed or status not in (0, 1, 2):
                    wrong += 1
                    print(f"{arguments[0]} {name}: exit {status}, {kb} kB, allowed {allowed}")
    print(f"{played} runs read their chart; nearest to its bound: {most[1]}, {most[2]} of {most[3]} kB")
    return wrong > 0 or played == 0


if __name__ == "__main__":
    sys.exit(main())
