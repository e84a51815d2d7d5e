"""Where the simulated converter's numbers come from."""

from __future__ import annotations

from random import Random
from typing import Final

#: What chance decides about: the note of a pluck, its neighbours' answer, its string when it is let go; and the bends
#: of a note on the wire.
PLUCKED: Final = "plucked"
ANSWERED: Final = "answered"
LET_GO: Final = "let go"
BENT: Final = "bent"


class Chance:
    """One stream of numbers for everything. Others may answer differently for each thing
    (:mod:`lab.proving.twins`)."""

    def __init__(self, random: Random) -> None:
        self._random = random

    def about(self, what: str, number: int) -> Random:
        """For one of the above, and the number of the pluck or of the note on the wire, both from 0."""
        return self._random
