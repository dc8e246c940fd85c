#!/usr/bin/env python3
"""Checks the scores that the program writes, by the schema of MusicXML 4.0 and by the reader of music21.

    check_musicxml.py PROGRAM CHART...
    check_musicxml.py --selftest

Each chart is written as .musicxml and as .mxl, and its form is asked for with `check --json`. Then

  schema    the score is valid by musicxml_4_0.xsd as PyPI `musicxml` ships it; nothing is fetched
  archive   the .mxl holds a stored `mimetype` first, a container that names the score, and the same bytes
  chords    music21 reads each chord symbol with the root, the bass and the tones that the program plays
  form      with its repeats and endings expanded by music21, the score has the bars of the program: each as long, with
            the same chords at the same places
  tempo     the first tempo mark is the first tempo of the program

Prints a line for a chart, and each failure on a line of its own. Exit status: 0 good, 1 failures, 2 wrong use or a package
missing. Needs lxml, music21 and musicxml.
"""

import io
import json
import os
import subprocess
import sys
import tempfile
import zipfile
from fractions import Fraction

try:
    import importlib.util

    import music21
    from lxml import etree
except ImportError:
    music21 = None

SHOWN = 20
# The attributes that the schema takes from other namespaces: W3C XML 1.0, XLink 1.1.
XML = b"""<xs:schema xmlns:xs="http://www.w3.org/2001/XMLSchema" targetNamespace="http://www.w3.org/XML/1998/namespace">
 <xs:attribute name="lang" type="xs:language"/><xs:attribute name="space" type="xs:NCName"/>
</xs:schema>"""
XLINK = b"""<xs:schema xmlns:xs="http://www.w3.org/2001/XMLSchema" targetNamespace="http://www.w3.org/1999/xlink">
 <xs:attribute name="href" type="xs:anyURI"/><xs:attribute name="role" type="xs:token"/>
 <xs:attribute name="title" type="xs:token"/><xs:attribute name="type" fixed="simple" type="xs:token"/>
 <xs:attribute name="show" type="xs:token"/><xs:attribute name="actuate" type="xs:token"/>
</xs:schema>"""


def schema():
    # The package itself takes long to import; only its file is wanted.
    folder = importlib.util.find_spec("musicxml").submodule_search_locations[0]
    path = next(os.path.join(at, "musicxml_4_0.xsd") for at, _, names in os.walk(folder) if "musicxml_4_0.xsd" in names)

    with tempfile.TemporaryDirectory() as local:
        at = lambda name: os.path.join(local, name)
        text = open(path, encoding="utf-8").read().replace("http://www.musicxml.org/xsd/", "")
        open(at("musicxml.xsd"), "w", encoding="utf-8").write(text)
        open(at("xml.xsd"), "wb").write(XML)
        open(at("xlink.xsd"), "wb").write(XLINK)
        return etree.XMLSchema(etree.parse(at("musicxml.xsd"), etree.XMLParser(no_network=True)))


def valid(score, schema):
    parser = etree.XMLParser(no_network=True, load_dtd=False, resolve_entities=False)
    tree = etree.fromstring(score, parser)
    schema.validate(tree)
    return [f"schema: line {e.line}: {e.message}" for e in schema.error_log]


def packed(archive, score):
    failures = []
    with zipfile.ZipFile(io.BytesIO(archive)) as z:
        first = z.infolist()[0]
        if (first.filename, first.compress_type) != ("mimetype", zipfile.ZIP_STORED):
            failures.append("archive: the first file is no stored mimetype")
        elif z.read(first) != b"application/vnd.recordare.musicxml":
            failures.append("archive: the mimetype is another")
        root = etree.fromstring(z.read("META-INF/container.xml")).find("rootfiles/rootfile")
        if z.read(root.get("full-path")) != score:
            failures.append("archive: it holds another score")
    return failures


def merged(bars):
    """The length of each bar, and the changes of chord: (bar, offset, chord), a chord that goes on left out."""
    lengths, changes, now = [], [], None
    for number, (length, chords) in enumerate(bars, 1):
        lengths.append(length)
        for offset, chord in chords:
            if chord != now:
                changes.append((number, offset, chord))
                now = chord
    return lengths, changes


def of_program(report):
    bars = []
    for bar in report["bars"]:
        if bar["index"] < 1:
            continue
        chords = []
        for chord in bar["chords"]:
            none = not chord["tones"]
            tones = None if none else (chord["root"], chord["bass"], tuple(chord["pitch_classes"]))
            chords.append((Fraction(chord["tick"] - bar["start_tick"], 960), tones))
        bars.append((Fraction(bar["duration_ticks"], 960), chords))
    return bars


def name(pitch):
    return pitch.name.replace("-", "b")


def of_music21(stream):
    part = stream.parts[0].expandRepeats()
    bars = []
    for measure in part.getElementsByClass(music21.stream.Measure):
        chords = []
        for symbol in measure.getElementsByClass(music21.harmony.Harmony):
            if isinstance(symbol, music21.harmony.NoChord):
                tones = None
            else:
                bass = symbol.bass()
                # A bass that is no tone of the chord is one of its pitches there, and none here.
                own = {p.pitchClass for p in symbol.pitches}
                tones = (name(symbol.root()), name(bass), tuple(sorted(own)))
            chords.append((Fraction(symbol.offset).limit_denominator(960), tones))
        bars.append((Fraction(measure.duration.quarterLength).limit_denominator(960), chords))
    return bars


def with_bass(bars):
    """The tones with the bass among them, as music21 has them."""

    def add(chord):
        if chord is None:
            return None
        root, bass, tones = chord
        low = music21.pitch.Pitch(bass.replace("b", "-") if len(bass) > 1 else bass).pitchClass
        return root, bass, tuple(sorted({*tones, low}))

    return [(length, [(offset, add(chord)) for offset, chord in chords]) for length, chords in bars]


def compare(ours, theirs):
    failures = []
    (lengths, changes), (their_lengths, their_changes) = merged(with_bass(ours)), merged(theirs)
    if lengths != their_lengths:
        at = next((i for i, (a, b) in enumerate(zip(lengths, their_lengths)) if a != b), min(len(lengths), len(their_lengths)))
        failures.append(f"form: {len(lengths)} bars here, {len(their_lengths)} there; bar {at + 1} differs")
    for a, b in zip(changes, their_changes):
        if a != b:
            failures.append(f"chords: {a} here, {b} there")
            break
    if len(changes) != len(their_changes):
        failures.append(f"chords: {len(changes)} changes here, {len(their_changes)} there")
    return failures


def tempo(report, stream):
    marks = list(stream.recurse().getElementsByClass(music21.tempo.MetronomeMark))
    first = 60e6 / report["tempo_map"][0]["us_per_quarter"]
    if not marks:
        return ["tempo: there is no mark"]
    found = marks[0].getQuarterBPM()
    return [] if abs(found - first) < 0.01 * first else [f"tempo: {first} here, {found} there"]


def check(score, archive, report, schema):
    failures = valid(score, schema)
    failures += packed(archive, score)
    try:
        stream = music21.converter.parseData(score.decode(), format="musicxml")
        failures += compare(of_program(report), of_music21(stream))
        failures += tempo(report, stream)
    except Exception as problem:  # whatever a reader stumbles over is a failure of the score
        failures.append(f"music21: {type(problem).__name__}: {problem}")
    return failures


def written(program, chart, folder):
    """The score, the archive, and what `check` says, the chart in its own key alone and without `endless`."""
    options = []
    report = lambda: json.loads(run(program, "check", chart, *options, "--json"))
    text = open(chart).read() if os.path.exists(chart) else chart
    first = lambda key: any(line.split("=")[0].strip() == key for line in text.splitlines() if not line.startswith("["))
    if "endless" in text:
        options += ["--times", "2"]
    if first("keys"):
        options += ["--keys", report()["key"]]
    score, archive = os.path.join(folder, "s.musicxml"), os.path.join(folder, "s.mxl")
    run(program, "play", chart, *options, "-o", score, "-o", archive, "--force")
    return open(score, "rb").read(), open(archive, "rb").read(), report()


def run(*command):
    done = subprocess.run(command, capture_output=True, text=True)
    # 1 says that a chord breaks the rule of fit that the chart names.
    if done.returncode not in (0, 1) or not done.stdout:
        raise RuntimeError(f"{' '.join(command)}: {done.stderr}")
    return done.stdout


SCORE = """<?xml version="1.0" encoding="UTF-8"?>
<score-partwise version="4.0"><part-list><score-part id="P1"><part-name>Guitar</part-name></score-part></part-list><part id="P1">
<measure number="1"><attributes><divisions>960</divisions><time><beats>4</beats><beat-type>4</beat-type></time></attributes>
<direction><direction-type><metronome><beat-unit>quarter</beat-unit><per-minute>90</per-minute></metronome></direction-type><sound tempo="90"/></direction>
<harmony><root><root-step>A</root-step></root><kind>minor</kind></harmony><note><rest/><duration>1920</duration><type>half</type></note>
<harmony><root><root-step>C</root-step></root><kind>major</kind><bass><bass-step>E</bass-step></bass></harmony><note><rest/><duration>1920</duration><type>half</type></note>
<barline location="right"><repeat direction="backward" times="3"/></barline></measure></part></score-partwise>"""


def archive_of(score, mimetype="application/vnd.recordare.musicxml", how=zipfile.ZIP_STORED, other=None):
    held = io.BytesIO()
    with zipfile.ZipFile(held, "w", zipfile.ZIP_DEFLATED) as z:
        z.writestr("mimetype", mimetype, compress_type=how)
        z.writestr("META-INF/container.xml", '<container><rootfiles><rootfile full-path="s.musicxml"/></rootfiles></container>')
        z.writestr("s.musicxml", other or score)
    return held.getvalue()


def report_of(times=3, first="A", bass="E", place=1920, us=666667):
    bar = lambda i: {
        "index": i, "start_tick": 3840 * i, "duration_ticks": 3840, "chords": [
            {"tick": 3840 * i, "root": first, "bass": first, "tones": ["x"], "pitch_classes": [0, 4, 9]},
            {"tick": 3840 * i + place, "root": "C", "bass": bass, "tones": ["x"], "pitch_classes": [0, 4, 7]}]}  # fmt: skip
    return {"tempo_map": [{"us_per_quarter": us}], "bars": [bar(i) for i in range(times + 1)]}


def selftest():
    """Each check is passed by a score that is right, and failed by one that is wrong in one thing."""
    xsd = schema()
    score = SCORE.encode()
    good = archive_of(score)
    cases = [
        ("right", score, good, report_of(), None),
        ("an element that is none", score.replace(b"<type>half</type>", b"<kind>half</kind>"), None, report_of(), "schema"),
        ("elements in another order", score.replace(b"<rest/><duration>1920</duration>", b"<duration>1920</duration><rest/>"), None, report_of(), "schema"),
        ("another mimetype", score, archive_of(score, mimetype="application/zip"), report_of(), "archive"),
        ("a packed mimetype", score, archive_of(score, how=zipfile.ZIP_DEFLATED), report_of(), "archive"),
        ("another score in it", score, archive_of(score, other="<x/>"), report_of(), "archive"),
        ("another root", score, good, report_of(first="B"), "chords"),
        ("another bass", score, good, report_of(bass="G"), "chords"),
        ("another tone", score.replace(b"minor", b"major"), None, report_of(), "chords"),
        ("another place", score, good, report_of(place=960), "chords"),
        ("fewer repeats", score, good, report_of(times=2), "form"),
        ("another tempo", score, good, report_of(us=500000), "tempo"),
        ("no XML", b"<score-partwise version='4.0'>", None, report_of(), None),
    ]  # fmt: skip
    wrong = 0
    for what, text, archive, report, expected in cases:
        try:
            failures = check(text, archive or archive_of(text), report, xsd)
        except etree.XMLSyntaxError:
            failures = ["schema: no XML"]
            expected = "schema"
        found = any(f.startswith(expected) for f in failures) if expected else not failures
        if not found:
            wrong += 1
            print(f"selftest: {what}: {failures}")
    print(f"selftest: {len(cases)} scores, {wrong} judged wrongly")
    return 1 if wrong else 0


def main():
    if music21 is None or importlib.util.find_spec("musicxml") is None:
        print("check_musicxml: needs lxml, music21 and musicxml", file=sys.stderr)
        return 2
    if sys.argv[1:] == ["--selftest"]:
        return selftest()
    if len(sys.argv) < 3:
        print(__doc__, file=sys.stderr)
        return 2
    program, charts = sys.argv[1], sys.argv[2:]
    xsd, wrong = schema(), 0
    with tempfile.TemporaryDirectory() as folder:
        for chart in charts:
            score, archive, report = written(program, chart, folder)
            failures = check(score, archive, report, xsd)
            wrong += bool(failures)
            bars = sum(bar["index"] > 0 for bar in report["bars"])
            print(f"{chart}: {bars} bars, {'good' if not failures else 'wrong'}")
            for failure in failures[:SHOWN]:
                print(f"  {failure}")
    print(f"{len(charts)} charts, {wrong} wrong")
    return 1 if wrong else 0


if __name__ == "__main__":
    sys.exit(main())
