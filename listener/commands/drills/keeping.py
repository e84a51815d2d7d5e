"""The key ``k`` in free listening: the passage that was just played, among the player's own drills at once."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import date
from pathlib import Path
from typing import Final

from listener.commands.drills.naming import SUFFIX, called
from listener.commands.drills.writing import write_new
from listener.drill.drill_text import drill_text
from listener.errors import WidehandError
from listener.guitar.hand import Hand
from listener.guitar.instrument import Instrument
from listener.hearing.pickup import Pickup
from listener.judging.free.keeping import KeptDrill, TakeHints, keep
from listener.plain_words import capital, counted
from listener.session.take.practice import Practice
from listener.settings import own_drills_place

#: What drills are called that were kept with the key; a number follows.
_NAME: Final = "kept"
#: No passage is longer, in seconds: the take goes on, and nobody waits for an hour of it to be looked through.
_LONGEST_S: Final = 300.0


@dataclass
class PassageKeeper:
    """Makes a drill of the last passage of a take in progress; calling it gives a line for the player."""

    pickup: Pickup
    instrument: Instrument
    hand: Hand
    today: date = field(default_factory=date.today)
    _last: KeptDrill | None = None
    _name: str = ""

    def __call__(self, practice: Practice) -> str:
        """Keep what was played since the last silence, and say so; whatever is in the way is said, too."""
        try:
            return self._kept(practice)
        except WidehandError as error:
            return f"Not kept. {capital(str(error))}."

    def _kept(self, practice: Practice) -> str:
        title = f"Kept on {self.today.day} {self.today:%B %Y}"
        take = practice.take()
        end_s = take.messages[-1].time_s if take.messages else 0.0
        asked = TakeHints(title, from_s=max(0.0, end_s - _LONGEST_S), last_part=True)
        found = keep(take, "this passage", self.pickup, self.instrument, self.hand, asked)
        if self._last is not None and self._last.chords == found.chords:
            return f"Nothing was played since: it is kept as {self._name}."
        path = _free_place()
        write_new(path, drill_text(found.sketch, path.name), force=False)
        self._last, self._name = found, called(path)
        count = sum(len(part) for part in found.chords)
        clear = "" if not found.unclear else f" {counted(len(found.unclear), 'place')} to look at, named in the file."
        pace = found.sketch.remarks[0].partition(";")[0].rstrip(".")
        return (
            f"Kept as {self._name}: {counted(count, 'chord')}. {pace}.{clear} Practise it: widehand play {self._name}"
        )


def _free_place() -> Path:
    """The first name that is not taken."""
    folder = own_drills_place()
    number = 1
    while (folder / f"{_NAME}-{number}{SUFFIX}").exists():
        number += 1
    return folder / f"{_NAME}-{number}{SUFFIX}"
