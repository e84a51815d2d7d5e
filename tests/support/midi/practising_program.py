"""A program for the tests of practising: ``widehand`` with options set by hand and MIDI outputs that write to files.

``python practising_program.py OPTIONS WORDS...``: OPTIONS is a JSON object of attributes for the parsed arguments, and
``between_s``, the seconds between two takes of a loop. Each output NAME becomes the file NAME.txt in the folder of
WIDEHAND_OUTPUTS, one line of hexadecimal bytes for a message.
"""

from __future__ import annotations

import json
import os
import sys
from pathlib import Path

from listener.cli import build_parser, call
from listener.commands.playing import practising, sitting
from listener.errors import WidehandError


class FileOutput:
    """A MIDI output that writes what it gets to a file, at once."""

    def __init__(self, name: str) -> None:
        self._file = (Path(os.environ["WIDEHAND_OUTPUTS"]) / f"{name}.txt").open("a", encoding="ascii")

    def send(self, data: bytes) -> None:
        self._file.write(f"{data.hex()}\n")
        self._file.flush()

    def close(self) -> None:
        self._file.close()


def main() -> int:
    """Run the command that the words name."""
    arguments = build_parser().parse_args(sys.argv[2:])
    options = json.loads(sys.argv[1])
    sitting.BETWEEN_S = options.pop("between_s", sitting.BETWEEN_S)
    vars(arguments).update(options)
    practising.open_output = FileOutput  # type: ignore[assignment]
    try:
        return call(arguments)
    except WidehandError as error:
        print(f"widehand: {error}", file=sys.stderr)
        return error.exit_code


if __name__ == "__main__":
    sys.exit(main())
