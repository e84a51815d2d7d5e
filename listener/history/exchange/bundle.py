"""What a bundle holds, as values, and how much of it there may be.

The bounds are our own choice, far above what people practise and far below what would hurt a computer: ten takes a day
for a year fit in one bundle.
"""

from __future__ import annotations

import hashlib
from dataclasses import dataclass
from datetime import datetime
from typing import Final

from listener.history.store.rows import TakeInfo
from listener.judging.touch.account import TouchAccount
from listener.judging.verdict import Verdict

#: The name of the format in the index, and its number. Fields may be added without a new number, not renamed.
FORMAT: Final = "widehand bundle"
VERSION: Final = 1
INDEX: Final = "index.json"

#: Bytes of the file as it travels, of all its entries unpacked, and of single entries by their ending.
MOST_FILE_BYTES: Final = 64 * 1024 * 1024
MOST_TOTAL_BYTES: Final = 128 * 1024 * 1024
MOST_ENTRIES: Final = 12_000
MOST_BYTES: Final = {"json": 8_000_000, "toml": 1_000_000, "mid": 4_000_000}
#: Bytes unpacked for each byte packed, in entries large enough to hurt.
MOST_RATIO: Final = 200
SMALL_BYTES: Final = 100_000

MOST_TAKES: Final = 5_000
MOST_DRILLS: Final = 1_000
MOST_VERDICTS: Final = 20_000
MOST_STEPS: Final = 5_000
LONGEST_NAME: Final = 255
LONGEST_TAKE_S: Final = 24 * 3600.0


@dataclass(frozen=True)
class BundledDrill:
    """A drill's text, melodies attached. ``to_practise`` when it is handed over for playing; otherwise it only says
    what a take was played on, as the course's own drills do."""

    name: str
    text: str
    to_practise: bool


@dataclass(frozen=True)
class BundledTake:
    """One finished take. ``info.session`` means nothing here: ``sitting`` is when the sitting began that it was part
    of. ``midi`` is the raw take, markers and header in it; ``touch`` what its touch came to, None where nobody
    knows."""

    info: TakeInfo
    sitting: datetime
    finished_at: datetime
    recovered: bool
    judged_by: str
    midi: bytes
    verdicts: tuple[Verdict, ...]
    touch: TouchAccount | None = None

    @property
    def sha256(self) -> str:
        """Of the raw take."""
        return hashlib.sha256(self.midi).hexdigest()

    @property
    def identity(self) -> tuple[str, str, datetime]:
        """What makes it the same take wherever it lies. The moment tells apart two takes that are note for note the
        same, as those of a simulated guitarist can be."""
        return self.sha256, self.info.drill, self.info.started_at


@dataclass(frozen=True)
class Bundle:
    """``student`` is the name of whoever hands it over, empty when none was given; ``made_by`` the program's name and
    version."""

    student: str
    made_by: str
    drills: tuple[BundledDrill, ...]
    takes: tuple[BundledTake, ...]
