"""Shared by the make_*.py scripts: note spelling, table writing, and questions to the tonal packages through node.

tonal is asked in one of three ways, the same for every script that needs it:

    (nothing)              npm installs the exact versions of TONAL below into a temporary folder
    --node-modules DIR     use the packages already installed in DIR (a node_modules folder)
    --tonal-json FILE      read answers saved earlier; where FILE does not exist yet, ask and save them there
"""

import argparse
import json
import os
import subprocess
import sys
import tempfile
from importlib import metadata
from pathlib import Path

HERE = Path(__file__).resolve().parent

TONAL = {
    "@tonaljs/chord": "6.2.0",
    "@tonaljs/chord-detect": "4.9.2",
    "@tonaljs/chord-type": "5.2.0",
    "@tonaljs/collection": "4.9.0",
    "@tonaljs/interval": "5.1.0",
    "@tonaljs/midi": "4.10.3",
    "@tonaljs/note": "4.12.2",
    "@tonaljs/pcset": "4.10.2",
    "@tonaljs/pitch": "5.0.2",
    "@tonaljs/pitch-distance": "5.0.6",
    "@tonaljs/pitch-interval": "6.1.1",
    "@tonaljs/pitch-note": "6.1.1",
    "@tonaljs/scale": "4.13.5",
    "@tonaljs/scale-type": "4.9.3",
}

# Some of these releases name a main file that they do not contain, so the file is found by hand here.
BRIDGE = r"""
const Module = require('module'), fs = require('fs'), path = require('path');
const dir = process.env.TONAL_MODULES;
const plain = Module._resolveFilename;
Module._resolveFilename = function (name, ...rest) {
  if (name.startsWith('@tonaljs/'))
    for (const f of ['dist/index.js', 'dist/index.cjs']) {
      const p = path.join(dir, name, f);
      if (fs.existsSync(p)) return p;
    }
  return plain.call(this, name, ...rest);
};
const ask = JSON.parse(fs.readFileSync(0, 'utf8'));
const lib = require('@tonaljs/' + ask.kind);
const out = {};
for (const q of ask.questions) {
  const a = lib.get(q);
  out[q] = a.empty ? null
    : { tonic: a.tonic || '', bass: a.bass || '', root: a.root || '', notes: a.notes, intervals: a.intervals };
}
const versions = {};
for (const p of ask.packages)
  versions[p] = JSON.parse(fs.readFileSync(path.join(dir, p, 'package.json'), 'utf8')).version;
process.stdout.write(JSON.stringify({ versions, answers: out }));
"""

LETTERS = "CDEFGAB"
NATURAL = {"C": 0, "D": 2, "E": 4, "F": 5, "G": 7, "A": 9, "B": 11}


def pc(note):
    """Pitch class of a spelled note (C, F#, Bbb)."""
    return (NATURAL[note[0]] + note.count("#") - note[1:].count("b")) % 12


def from_music21(name):
    """music21 writes flats as '-'."""
    return name.replace("-", "b")


def to_music21(note):
    return note[0] + note[1:].replace("b", "-")


def spell(root, degree, alter):
    """The note `degree` (1, 2, 3 ...) of the major scale on `root`, moved by `alter` semitones, letter kept."""
    steps = (degree - 1) % 7
    letter = LETTERS[(LETTERS.index(root[0]) + steps) % 7]
    want = (pc(root) + (0, 2, 4, 5, 7, 9, 11)[steps] + alter) % 12
    move = (want - NATURAL[letter] + 6) % 12 - 6
    return letter + ("#" * move if move > 0 else "b" * -move)


def versions(*names):
    return ", ".join(f"{n} {metadata.version(n)}" for n in names)


def tonal_arguments():
    p = argparse.ArgumentParser()
    p.add_argument("--node-modules", metavar="DIR")
    p.add_argument("--tonal-json", metavar="FILE")
    return p.parse_args()


def ask_tonal(kind, questions, options):
    """{question: answer or None} from @tonaljs/chord or @tonaljs/scale; stops if the versions are not those above."""
    saved = Path(options.tonal_json) if options.tonal_json else None
    if saved and saved.exists():
        reply = json.loads(saved.read_text(encoding="utf-8"))
        missing = [q for q in questions if q not in reply["answers"]]
        if missing:
            sys.exit(f"{saved}: lacks {len(missing)} answers, the first {missing[0]!r}; delete it to ask again")
    else:
        with tempfile.TemporaryDirectory() as temporary:
            if options.node_modules:
                modules = Path(options.node_modules).resolve()
            else:
                want = [f"{n}@{v}" for n, v in TONAL.items()]
                subprocess.run(
                    ["npm", "install", "--silent", "--no-audit", "--no-fund", "--prefix", temporary, *want],
                    check=True,
                    stdout=subprocess.DEVNULL,
                )
                modules = Path(temporary) / "node_modules"
            text = json.dumps({"kind": kind, "questions": questions, "packages": sorted(TONAL)})
            done = subprocess.run(
                ["node", "-e", BRIDGE],
                input=text,
                capture_output=True,
                check=True,
                encoding="utf-8",
                env={**os.environ, "TONAL_MODULES": str(modules)},
            )
        reply = json.loads(done.stdout)
        if saved:
            saved.write_text(done.stdout, encoding="utf-8")
    wrong = {n: v for n, v in reply["versions"].items() if v != TONAL[n]}
    if wrong:
        sys.exit(f"other versions of tonal than the tables were made with: {wrong}")
    return reply["answers"]


def write_table(name, header, columns, rows):
    """One TSV: comment lines, a comment line with the columns, the rows."""
    lines = [f"# {line}".rstrip() for line in header]
    lines.append(f"# Rows: {len(rows)}")
    lines.append("# Columns: " + " | ".join(columns))
    for row in rows:
        assert len(row) == len(columns), row
        assert not any("\t" in str(cell) or "\n" in str(cell) for cell in row), row
        lines.append("\t".join(str(cell) for cell in row))
    (HERE / name).write_text("\n".join(lines) + "\n", encoding="utf-8", newline="\n")
    print(f"{name}: {len(rows)} rows")
