"""Ten years of practice, made up: a seeded generator that fills a history as fast as the database takes it.

    python tests/support/histories/ten_years.py history.sqlite3            3,650 sessions, a million strokes
    python tests/support/histories/ten_years.py history.sqlite3 365 100000

Twelve drills of 16 to 44 steps, eight takes a day, slowly getting better, faster and steadier. No take has a file.
"""

from __future__ import annotations

import random
import sys
from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

from listener.history.safekeeping.seals import sealed
from listener.history.store import accounts, writing
from listener.history.store.backend import Rows
from listener.history.store.rows import STROKE_COLUMNS, TakeInfo, utc_text, verdict_row
from listener.history.store.store import Store
from listener.judging.verdict import Fault, Verdict
from listener.music.movement import movement, movement_score

SESSIONS, STROKES = 3650, 1_000_000
DRILLS, TAKES_A_DAY = 12, 8
FIRST_DAY = datetime(2021, 1, 4, 18, 0, tzinfo=UTC)
#: Chords with the pitches of a spread voicing, low to high.
CHORDS = (
    *(("C", (48, 55, 64)), ("Dm", (50, 57, 65)), ("Em7", (52, 62, 67, 71)), ("Fmaj7", (53, 60, 64, 69))),
    *(("G7", (43, 53, 59, 62)), ("Am", (45, 52, 60)), ("Bm7b5", (47, 57, 62, 65)), ("E7/G#", (44, 52, 62, 71))),
)
FAULTS = (
    Fault("missing", "the 3rd (E4) is missing", wanted=64),
    Fault("wrong_octave", "the B is in the wrong octave: lift the B an octave", pitch=59, wanted=71),
    Fault("top", "top note is G4, the plan says E4", pitch=67, wanted=64),
    Fault("late", "late by 96 ms", ms=96.2),
)

_STROKE = (
    f"INSERT INTO stroke (take, number, {', '.join(STROKE_COLUMNS)}, seal) "
    f"VALUES (:take, :number, {', '.join(f':{name}' for name in STROKE_COLUMNS)}, :seal)"
)
_TAKE_COLUMNS = (
    "route, drill, program_version, tuning, capo, hand, pickup, pace, first_beat_s, source, seed, header, owner, "
    "recovered, instrument, hand_model, pickup_profile, judged_by"
)
_TAKE = (
    "INSERT INTO take (id, session, tempo, started_at, finished_at, "
    f"{_TAKE_COLUMNS}) SELECT CAST(:id AS BIGINT), CAST(:session AS BIGINT), CAST(:tempo AS DOUBLE PRECISION), "
    f"CAST(:at AS TEXT), CAST(:at AS TEXT), {_TAKE_COLUMNS} FROM take WHERE id = :pattern"
)


def drill_name(number: int) -> str:
    """``made-up-drill-3``."""
    return f"made-up-drill-{number + 1}"


def step_count(number: int) -> int:
    """16 to 44 steps."""
    return 16 + 4 * (number % 8)


def made_up_plan(number: int, chance: random.Random) -> dict[str, Any]:
    """A plan in the form in which it is kept."""
    steps = []
    for index in range(step_count(number)):
        chord, pitches = chance.choice(CHORDS)
        steps.append(
            {
                "index": index,
                "chord": chord,
                "kind": ("close", "spread", "drop 2")[number % 3],
                "inversion": index % 3,
                "pitches": list(pitches),
                "strings": [6, 4, 3, 2][: len(pitches)],
                "frets": [3, 5, 4, 3][: len(pitches)],
                "fingers": [1, 4, 3, 2][: len(pitches)],
                "strain": 0.3 + 0.05 * (index % 8),
            }
        )
    return {"drill": drill_name(number), "title": f"Made-up drill {number + 1}", "steps": steps}


def patterns(db: Rows, chance: random.Random) -> list[tuple[int, dict[str, Any]]]:
    """One take of each drill, from which all others are copied; its number, and the plan."""
    session = writing.add_session(db, FIRST_DAY)
    found = []
    for number in range(DRILLS):
        plan = made_up_plan(number, chance)
        info = TakeInfo(
            session=session,
            drill=drill_name(number),
            drill_text=f'title = "Made-up drill {number + 1}"\n' * 20,
            plan=plan,
            tuning=("E2", "A2", "D3", "G3", "B3", "E4"),
            capo=0,
            hand="medium",
            pickup="per-string",
            pace="click",
            source="made up",
            started_at=FIRST_DAY,
        )
        found.append((writing.add_take(db, info, "nobody"), plan))
    return found


def verdicts_of(plan: dict[str, Any], count: int, skill: float, chance: random.Random) -> Iterator[Verdict]:
    """Strokes of one take: slips grow fewer and timing steadier with skill, 0 to 1; some steps get a second attempt."""
    steps, step, before, attempt = plan["steps"], 0, None, 1
    for number in range(count):
        pitches = tuple(steps[step]["pitches"])
        draw = chance.random() * (0.5 + 0.5 * skill)
        grade = "hit" if draw > 0.12 or attempt > 1 else "near" if draw > 0.05 else "miss"
        heard = pitches if grade == "hit" else tuple(sorted({*pitches[1:], pitches[0] + 12 + number % 3}))
        change = movement(before, heard) if before else None
        least = min(4, change.semitones) if change else None
        yield Verdict(
            step=step,
            attempt=attempt,
            grade=grade,
            faults=() if grade == "hit" else (FAULTS[int(draw * 1000) % len(FAULTS)],),
            heard=heard,
            held=(),
            onset_s=round(3.2 + 0.8 * number + chance.random() / 50, 5),
            spread_ms=round(chance.random() * 40, 3),
            offset_ms=round(chance.gauss(-8, 35 - 20 * skill), 1),
            movement=change,
            least=least,
            movement_score=movement_score(least, change.semitones, len(heard)) if change and grade != "miss" else None,
        )
        before = heard
        again = grade == "miss" and attempt == 1
        attempt = 2 if again else 1
        step = step if again else step + 1
        if step == len(steps):
            step, before = 0, None


def fill(store: Store, sessions: int = SESSIONS, strokes: int = STROKES, seed: int = 1) -> None:
    """Add that many sessions with that many strokes in all, always the same for the same seed."""
    chance = random.Random(seed)
    takes = sessions * TAKES_A_DAY
    with store.backend.writing() as db:
        made = patterns(db, chance)
        # Whole performances are made once for each drill and year and then shuffled: made up, but quick.
        performances = 2 if takes < 1000 else 12
        pool = {
            (number, year): [
                [
                    dict(zip(STROKE_COLUMNS, verdict_row(one), strict=True))
                    for one in verdicts_of(plan, 50, year / 10, chance)
                ]
                for _ in range(performances)
            ]
            for number, (_, plan) in enumerate(made)
            for year in range(10)
        }
        first = len(made) + 1
        batch: list[dict[str, object]] = []
        for number in range(takes):
            day = number // TAKES_A_DAY
            at = utc_text(FIRST_DAY + timedelta(days=day, minutes=5 * (number % TAKES_A_DAY)))
            if number % TAKES_A_DAY == 0:
                db.rows("INSERT INTO session (id, started_at) VALUES (:id, :at)", id=day + 2, at=at)
            drill = chance.randrange(DRILLS)
            year = day * 10 // sessions
            tempo = 60.0 + 4 * year + chance.randrange(8)
            db.rows(_TAKE, id=first + number, session=day + 2, tempo=tempo, at=at, pattern=made[drill][0])
            count = strokes * (number + 1) // takes - strokes * number // takes
            rows = chance.choice(pool[drill, year])[:count]
            batch += [
                sealed("stroke", {"take": first + number, "number": place, **row}) for place, row in enumerate(rows, 1)
            ]
            if len(batch) > 20_000:
                db.many(_STROKE, batch)
                batch = []
        if batch:
            db.many(_STROKE, batch)
        for pattern, _ in made:
            db.rows("UPDATE take SET finished_at = started_at WHERE id = :take", take=pattern)
        accounts.settle(db, range(1, first + takes))


if __name__ == "__main__":
    with Store.open(Path(sys.argv[1])) as opened:
        fill(opened, *map(int, sys.argv[2:4]))
