"""The offer of ``widehand today``: one voicing that is missing from the player's vocabulary and one step away.

It is quiet: one a day, none while more is due than the day has room for, while something in the day is at the limit of
the hand, or while the hand ought to rest (now, or because its load has jumped); and only what the planner finds with
room for the hand.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, time, timedelta
from itertools import islice
from typing import Final

from listener.guitar.hand import Hand
from listener.guitar.instrument import Instrument
from listener.history.skills.reviews import whose
from listener.history.store.rows import utc_moment, utc_text
from listener.history.store.store import Store
from listener.history.vocabulary import rows as vocabulary_rows
from listener.history.vocabulary.vocabulary import Vocabulary, root_name
from listener.music.naming_words import inversion_words
from listener.planning.cell_drill import cell_drill, fits
from listener.planning.shapes.cells import INVERSION, cells_there_are
from listener.screen.progress.vocabulary_maps import cell_words, column_label
from listener.session.day.day import Day
from listener.session.day.one_step import (
    ROOT,
    OneStep,
    chords_for,
    in_order,
    is_done,
    load_has_jumped,
    of_day,
    rest_is_due,
    steps_from,
)
from listener.session.rest import AT_THE_LIMIT

#: The name of the drill that is written for it, and its title.
NAME: Final = "today-one-step"
TITLE: Final = "One step further"
#: So many chords are in it.
_CHORDS: Final = 4
#: What was played longer ago than this has nothing to do with a rest now.
_LATELY: Final = timedelta(weeks=7)
_PLAYED: Final = """
    SELECT started_at, finished_at FROM take WHERE {0} AND started_at >= :since AND finished_at IS NOT NULL
"""


@dataclass(frozen=True)
class Offer:
    """The step with its reason, the drill's text, and the line that plays it; empty where no file could be written."""

    step: OneStep
    why: str
    text: str
    command: str = ""

    def as_json(self) -> dict[str, object]:
        """``one_step`` of the document that ``widehand today --json`` prints."""
        step = self.step
        return {
            **step.cell.as_json(),
            "root": None if step.root is None else root_name(step.root),
            "differs": step.differs,
            "from": {**step.source.as_json(), "chords": step.chords},
            "why": self.why,
            "drill": NAME,
            "command": self.command or None,
            "text": self.text,
        }


def offer_of(
    store: Store, player: str, day: Day, now: datetime, rest_after_s: float, instrument: Instrument, hand: Hand
) -> Offer | None:
    """The offer of the day of ``now``, in its time zone; the same one all day long, and none once it was played."""
    if day.waiting or any(slot.piece is not None and slot.piece.strain >= AT_THE_LIMIT for slot in day.slots):
        return None
    midnight = utc_text(datetime.combine(now.date(), time.min, now.tzinfo))
    by = whose(player)
    with store.backend.reading() as db:
        rows = db.rows(_PLAYED.format(by[0]), whose=by[1], since=utc_text(now - _LATELY))
        played = [(utc_moment(start), utc_moment(end)) for start, end in rows]
        if rest_is_due(played, now, rest_after_s) or load_has_jumped(played, now):
            return None
        vocabulary = vocabulary_rows.read(db, by, before=midnight)
        today = vocabulary_rows.read(db, by, since=midnight)
    if not vocabulary.often:
        return None
    for step in of_day(steps_from(vocabulary, cells_there_are(instrument, hand)), now.date()):
        found = _made(step, vocabulary, instrument, hand)
        if found is not None:  # the first that can be played is today's, even when it was played already
            return None if is_done(step, today) else found
    return None


def why(step: OneStep) -> str:
    """The reason in a sentence.

    >>> from listener.planning.shapes.cells import Cell
    >>> here, there = Cell("spread", 0, (6, 4, 3)), Cell("spread", 1, (6, 4, 3))
    >>> why(OneStep(INVERSION, here, 58, there))
    'spread, first inversion, on 6-4-3: there you play root position a lot (58 chords), this inversion never'
    """
    what, often = cell_words(step.cell), f"a lot ({step.chords} chords)"
    if step.root is not None:
        return f"{what}: you play this shape on other roots {often}, never on {root_name(step.root)}"
    if step.differs == INVERSION:
        return f"{what}: there you play {inversion_words(step.source.inversion)} {often}, this inversion never"
    return f"{what}: you play it on {column_label(step.source.strings)} {often}, never on these strings"


def _made(step: OneStep, vocabulary: Vocabulary, instrument: Instrument, hand: Hand) -> Offer | None:
    """With a drill of those chords that lie well; None where there are not two, or not the new root."""

    def lies_well(chords: Sequence[str]) -> bool:
        return fits(_text(step, chords), step.cell, instrument, hand)

    for chords in chords_for(step, vocabulary):
        good = tuple(islice((one for one in chords if lies_well((one,))), _CHORDS))
        if step.differs != ROOT:
            good = in_order(good)
        if len(good) > 1 and lies_well(good):
            return Offer(step, why(step), _text(step, good))
    return None


def _text(step: OneStep, chords: Sequence[str]) -> str:
    return cell_drill(step.cell, chords, title=TITLE, about=f"Written for today: {why(step)}.")
