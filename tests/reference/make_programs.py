"""Makes programs.tsv: the programs and families of the General MIDI sound set, by pretty_midi.

    python3 tests/reference/make_programs.py
"""

import pretty_midi

from refcommon import versions, write_table


def main():
    write_table(
        "programs.tsv",
        [
            "The General MIDI sound set.",
            f"Made by make_programs.py with {versions('pretty_midi')} (program_to_instrument_name, program_to_instrument_class).",
            "number: as documents print it, from 1.",
        ],
        ["number", "name", "family"],
        [
            [str(n + 1), pretty_midi.program_to_instrument_name(n), pretty_midi.program_to_instrument_class(n)]
            for n in range(128)
        ],
    )


if __name__ == "__main__":
    main()
