"""Some weeks of practice, made up: what the pictures of progress are tried and shown with.

    python tests/support/histories/made_up_weeks.py history.sqlite3                    twenty weeks of three drills
    python tests/support/histories/made_up_weeks.py history.sqlite3 docs/progress.svg  and their picture for the pages

Slowly better, faster and steadier, with a week of pause and a last week that is too full. No take has a file.
"""

from __future__ import annotations

import random
import sys
from collections.abc import Iterator, Sequence
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any, NamedTuple

from listener.history.progress.reading import read_facts
from listener.history.progress.report import report_on
from listener.history.store import accounts, writing
from listener.history.store.rows import TakeInfo
from listener.history.store.store import Store
from listener.judging.verdict import Fault, Verdict
from listener.music.movement import movement, movement_score
from listener.screen.picture import svg_picture
from listener.screen.progress.page import progress_rows
from listener.screen.rows import page
from listener.screen.theme import Theme

#: A Monday evening.
FIRST_DAY = datetime(2031, 3, 3, 18, 0, tzinfo=UTC)
WEEKS = 20
#: Columns and rows of the picture.
_WIDTH, _ROWS = 100, 55
_OPEN = {1: 64, 2: 59, 3: 55, 4: 50, 5: 45, 6: 40}


class Shape(NamedTuple):
    """A chord on the neck, low to high; ``hard`` is the chance of a slip at the beginning."""

    chord: str
    kind: str
    strings: tuple[int, ...]
    frets: tuple[int, ...]
    strain: float
    hard: float

    @property
    def pitches(self) -> tuple[int, ...]:
        return tuple(_OPEN[string] + fret for string, fret in zip(self.strings, self.frets, strict=True))


_C = Shape("C", "spread", (5, 4, 2), (3, 5, 5), 0.55, 0.15)
_F = Shape("F", "spread", (6, 4, 3), (1, 3, 2), 0.45, 0.30)
_G = Shape("G", "spread", (6, 4, 2), (3, 5, 0), 0.60, 0.35)
_AM = Shape("Am", "spread", (5, 4, 2), (0, 2, 1), 0.30, 0.10)
_DM7 = Shape("Dm7", "drop 2", (4, 3, 2, 1), (0, 2, 1, 1), 0.35, 0.25)
_G7 = Shape("G7", "drop 2", (4, 3, 2, 1), (3, 4, 3, 3), 0.40, 0.30)
_CM7 = Shape("Cmaj7", "drop 2", (4, 3, 2, 1), (5, 5, 5, 7), 0.65, 0.45)
_A7 = Shape("A7", "drop 2", (4, 3, 2, 1), (7, 6, 8, 5), 0.80, 0.65)
_EM = Shape("Em7", "close", (4, 3, 2, 1), (9, 9, 8, 10), 0.55, 0.50)
_B = Shape("Bm7b5", "drop 3", (6, 4, 3, 2), (7, 7, 7, 6), 0.50, 0.60)
DRILLS = {
    "slow-ferry": (_C, _F, _G, _AM, _C, _AM, _F, _G) * 2,
    "mill-race": (_DM7, _G7, _CM7, _A7) * 4,
    "lantern-walk": (_B, _EM, _AM, _A7, _DM7, _G7, _C, _F) * 2,
}


def plan_of(drill: str) -> dict[str, Any]:
    """A plan with the fields that progress reads."""
    steps = [
        {**shape._asdict(), "index": index, "inversion": 0, "pitches": shape.pitches}
        for index, shape in enumerate(DRILLS[drill])
    ]
    return {"drill": drill, "title": drill, "tuning": ["E2", "A2", "D3", "G3", "B3", "E4"], "steps": steps}


def verdicts_of(shapes: Sequence[Shape], skill: float, tempo: float, chance: random.Random) -> Iterator[Verdict]:
    """One take; ``skill`` from 0 to 1."""
    before: tuple[int, ...] | None = None
    onset = 4.0
    for step, shape in enumerate(shapes):
        slip = chance.random() < shape.hard * (1.2 - skill)
        grade = "hit" if not slip else chance.choice(("near", "near", "miss"))
        heard = (
            shape.pitches if grade == "hit" else (*shape.pitches[:-1], shape.pitches[-1] + chance.choice((0, 1, 12)))
        )
        moved = movement(before, heard) if before else None
        least = max(0, moved.semitones - chance.randrange(int(9 - 6 * skill))) if moved else None
        offset = round(chance.gauss(-24 + 14 * skill, 46 - 26 * skill), 1)
        yield Verdict(
            step=step,
            attempt=1,
            grade=grade,
            faults=() if grade == "hit" else (Fault("missing", "the 3rd is missing"),),
            heard=heard,
            held=(),
            onset_s=round(onset + offset / 1000, 5),
            spread_ms=12.0,
            offset_ms=offset,
            movement=moved,
            least=least,
            movement_score=movement_score(least, moved.semitones, len(heard)) if moved and least is not None else None,
        )
        before = heard
        onset += 8 * 60 / tempo


def fill(store: Store, weeks: int = WEEKS, seed: int = 4, first_day: datetime = FIRST_DAY) -> None:
    """Add these weeks: three sittings in each, five in the last but one."""
    chance = random.Random(seed)
    with store.backend.writing() as db:
        for week in range(weeks):
            skill = 0.8 * week / max(1, weeks - 1)
            days = () if week == 9 else (0, 1, 2, 4, 5) if weeks > 4 and week == weeks - 1 else (0, 2, 5)
            for day in days:
                start = first_day + timedelta(weeks=week, days=day)
                session = writing.add_session(db, start)
                for number in range(chance.randrange(6, 10) + (9 if len(days) > 3 else 0)):
                    drill = chance.choice([name for place, name in enumerate(DRILLS) if place <= week / 4])
                    tempo = 4.0 * round((52 + 44 * skill + chance.randrange(-8, 9)) / 4)
                    at = start + timedelta(minutes=4 * number)
                    take = writing.add_take(db, _info(drill, session, tempo, at), "nobody")
                    for verdict in verdicts_of(DRILLS[drill], skill, tempo, chance):
                        writing.add_stroke(db, take, verdict)
                    db.rows("UPDATE take SET finished_at = started_at WHERE id = :take", take=take)
        accounts.settle_all(db)


def _info(drill: str, session: int, tempo: float, at: datetime) -> TakeInfo:
    return TakeInfo(
        session=session,
        drill=drill,
        drill_text="",
        plan=plan_of(drill),
        tuning=("E2", "A2", "D3", "G3", "B3", "E4"),
        capo=0,
        hand="medium",
        pickup="per-string",
        pace="click",
        source="made up",
        started_at=at,
        tempo=tempo,
    )


def picture(store: Store) -> str:
    """What ``widehand progress`` shows first, as SVG."""
    with store.backend.reading() as db:
        rows = progress_rows(report_on(read_facts(db), zone=UTC), _WIDTH, Theme())
    shown = page(rows[:_ROWS], _WIDTH, Theme())
    return svg_picture(
        shown, width=_WIDTH, height=_ROWS, title="Twenty weeks of practice as widehand progress shows them"
    )


if __name__ == "__main__":
    with Store.open(Path(sys.argv[1])) as opened:
        fill(opened)
        if len(sys.argv) > 2:
            Path(sys.argv[2]).write_text(picture(opened), encoding="utf-8")
