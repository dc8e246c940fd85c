#!/usr/bin/env python3
"""Sheets as PDF, read by other programs.

    check_sheet.py PROGRAM      every ready chart, and one of 96 bars with everything a chart can have
    check_sheet.py --selftest   that each check can fail

qpdf finds no error in the file, pdfinfo calls it tagged and of the size of its paper, and pdftotext reads the chart as the same
program writes it into its SVG picture, word by word and in the same order. (poppler-utils and qpdf of Debian 12.)
"""

import pathlib
import re
import subprocess
import sys
import tempfile
import xml.etree.ElementTree as ET

LONG = '''
title = "Six rooms"
key = "Bb major"
groove = "bossa"
set = "Bb major pentatonic"
form = "A B C"
[sections]
A = "|: Bbmaj7 | Gm7 | Cm7 | F7 | Dm7 | G7(b9) | Cm7 F7 | Bb6 :|x3 Cm7 | F7 | Bb6 | % | Ebmaj7 | Edim7 | Bb/F | G7 |"
B = "|: Ebmaj7 | Edim7 | Bb/F | G7 |[1. Cm7 | F7sus4 | Dm7b5 | G7(b9,#11) :|[2. Cm7 | F7 | Bb6 | % | Gm7 | C7 | Cm7 | F7 |"
C = "| (3/4) Gm | Gm/F | Em7b5 | Ebmaj7 | (4/4) Cm7 Cm7/Bb Am7b5 D7 | Gm / D7 / | / Gm / / | Gm N.C. / / | Gm | % | Cm | % |"
'''
SVG = "{http://www.w3.org/2000/svg}"


def run(*words):
    return subprocess.run(words, capture_output=True, text=True)


def in_picture(path):
    """The words of the chart in an SVG picture: names of sections, and lines that begin with a bar line."""
    found = []

    def said(element, out):
        if element.get("role") == "img":
            out.append(element.get("aria-label"))
            return
        if element.tag == SVG + "text":
            out.append("".join(element.itertext()))
            return
        for child in element:
            said(child, out)

    for group in ET.parse(path).getroot().findall(SVG + "g"):
        words = []
        said(group, words)
        if words == ["Chords"]:
            break
        first = next(iter(group), None)
        is_line = first is not None and (first.get("aria-label") or "").startswith(("|", ":"))
        if group.get("aria-level") == "2" or (group.get("role") is None and is_line):
            found += words
    return once(" ".join(found).split())


def in_pages(path):
    """The words of a PDF file without numbers of pages."""
    text = run("pdftotext", "-raw", path, "-").stdout
    text = re.sub(r"(?m)^.*\b\d+ of \d+$", "", text.replace("\f", "\n"))
    return once(text.split())


def once(words):
    """Where lines meet there are two bar lines: one is left."""
    return [word for at, word in enumerate(words) if not (word == "|" and at > 0 and words[at - 1] == "|")]


def check(pdf, svg, size):
    wrong = []
    qpdf = run("qpdf", "--check", pdf)
    if qpdf.returncode != 0:
        wrong.append(qpdf.stdout + qpdf.stderr)
    about = run("pdfinfo", pdf).stdout
    if not re.search(r"^Tagged: +yes$", about, re.M):
        wrong.append("not tagged")
    if size not in about:
        wrong.append(f"not of {size}")
    drawn, read = in_picture(svg), in_pages(pdf)
    starts = [at for at in range(len(read)) if read[at:at + len(drawn)] == drawn]
    if not drawn or not starts:
        wrong.append(f"the text differs:\n  {' '.join(drawn)}\n  {' '.join(read)}")
    return wrong


def sheets(program, folder):
    (folder / "long.toml").write_text(LONG)
    charts = [folder / "long.toml", *sorted(pathlib.Path("progressions").glob("*/*.toml"))]
    for index, chart in enumerate(charts):
        paper, size = [("A4", "595.28 x 841.89 pts"), ("Letter", "612 x 792 pts")][index % 2]
        pdf, svg = folder / f"{chart.stem}.pdf", folder / f"{chart.stem}.svg"
        ran = run(program, "play", chart, "--paper", paper, "-o", pdf, "-o", svg, "--force")
        if ran.returncode != 0:
            sys.exit(f"{chart}: {ran.stderr}")
        yield chart, pdf, svg, size


def main():
    if sys.argv[1:] == ["--selftest"]:
        with tempfile.TemporaryDirectory() as folder:
            folder = pathlib.Path(folder)
            svg, pdf = folder / "a.svg", folder / "a.pdf"
            bars = ''.join(f'<g role="img" aria-label="|"/><text>{chord}</text>' for chord in ("C", "G"))
            svg.write_text(f'<svg xmlns="http://www.w3.org/2000/svg"><g>{bars}</g></svg>')
            assert in_picture(svg) == ["|", "C", "|", "G"], in_picture(svg)
            pdf.write_bytes(b"%PDF-1.7\nnothing")
            assert run("qpdf", "--check", pdf).returncode != 0
            assert "Tagged" not in run("pdfinfo", pdf).stdout
        print("check_sheet.py: its checks can fail")
        return
    seen = pages = 0
    with tempfile.TemporaryDirectory() as folder:
        for chart, pdf, svg, size in sheets(sys.argv[1], pathlib.Path(folder)):
            wrong = check(pdf, svg, size)
            if wrong:
                sys.exit(f"{chart}: " + "\n".join(wrong))
            seen += 1
            pages += int(re.search(r"^Pages: +(\d+)", run("pdfinfo", pdf).stdout, re.M)[1])
    assert seen > 40
    print(f"{seen} sheets of {pages} pages: no error, tagged, their text the chart")


main()
