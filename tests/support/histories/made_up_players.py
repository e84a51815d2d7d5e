"""Three guitarists who do not exist, twelve weeks each, and everything that the program says to them.

    PYTHONPATH=tests python tests/support/histories/made_up_players.py              all three, after weeks 1, 3 and 12
    PYTHONPATH=tests python tests/support/histories/made_up_players.py beginner 12  one of them, after these weeks

*steady* plays three evenings a week and gets slowly better; *busy* has two gaps of weeks and loses something in each;
*beginner* slips a lot, often breaks off, and stands still for weeks. Every take is real but for the hands: a drill of
the course as it is planned, performed by the simulated guitarist, judged by the ears and the judge that a live take
has. The numbers of the players are assumed. The last sitting ends when the program is asked, so that "now" is now.
"""

from __future__ import annotations

import sys
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import UTC, datetime, timedelta
from functools import cache
from pathlib import Path
from random import Random
from tempfile import TemporaryDirectory

from lab.people.take import drill

from listener.hearing.pickup import make_pickup
from listener.hearing.take_file import Take
from listener.history.store.rows import TakeInfo
from listener.history.store.store import Store
from listener.judging.take import judge_take
from listener.judging.verdict import Verdict
from listener.planning.plan import Plan
from listener.screen.practice.summary import summary_lines
from listener.session.companion import Companion
from listener.session.loop import Loop
from listener.session.since import WholeTake
from listener.session.take.practice import Practice, TakeSettings
from listener.session.take.so_far import SoFar
from listener.session.take.state import FINISHED, Snapshot
from listener.simulation.habits import Player
from listener.simulation.simulated import simulate

WEEKS = 12
_PICKUP = "per-string"
#: Shares of the slips of somebody who slips at all (the simulated guitarist's own, with fewer octaves).
_SHARES = {"wrong top note": 3, "tone dropped": 4, "closed up": 1, "octave off": 1, "late": 4, "extra note": 3}


@dataclass(frozen=True)
class Week:
    """One week: on which days (0 is Monday), how many takes in each, how likely each chord slips, the spread about the
    click in ms, the tempo as a share of the drill's (None at own pace), and how many takes in ten break off."""

    days: tuple[int, ...]
    takes: int
    slips: float
    spread_ms: float
    tempo: float | None
    broken: float = 0.0


@dataclass(frozen=True)
class Life:
    """Somebody: the drills in the order in which they are taken up, one every so many weeks, and their weeks."""

    name: str
    drills: tuple[str, ...]
    each: int
    weeks: tuple[Week, ...]


_NONE = Week((), 0, 0.0, 0.0, None)
STEADY = Life(
    "steady",
    ("paddock-gate", "ferry-landing", "low-tide", "four-oars", "mill-verse"),
    3,
    tuple(Week((0, 2, 4), 4, 0.22 - 0.014 * week, 34 - 1.5 * week, 0.85 + 0.02 * week, 0.05) for week in range(WEEKS)),
)
BUSY = Life(
    "busy",
    ("paddock-gate", "low-tide", "ferry-landing", "half-tide"),
    4,
    (
        *(Week((1, 5), 3, slips, 28, 0.9, 0.2) for slips in (0.2, 0.17, 0.15)),
        *(_NONE,) * 3,
        Week((6,), 5, 0.22, 32, 0.85, 0.3), Week((1,), 3, 0.16, 28, 0.9, 0.3), _NONE, _NONE,
        Week((5,), 4, 0.2, 30, 0.9, 0.2), Week((0, 6), 4, 0.15, 28, 0.95, 0.2),
    ),
)  # fmt: skip
BEGINNER = Life(
    "beginner",
    ("paddock-gate", "ferry-landing"),
    5,
    (
        *(Week((0, 1, 3, 5), 3, slips, 60, None, 0.4) for slips in (0.55, 0.45, 0.38)),
        *(Week((0, 2, 5), 3, 0.36, 45, 0.75, 0.3),) * 5,
        *(Week((0, 2, 5), 3, 0.27, 40, 0.8, 0.2),) * 4,
    ),
)
LIVES = {life.name: life for life in (STEADY, BUSY, BEGINNER)}


@dataclass(frozen=True)
class Played:
    """A take: when it began, counted from the Monday of the first week, and what was judged."""

    at: timedelta
    drill: str
    tempo: float | None
    verdicts: tuple[Verdict, ...]


@cache
def takes_of(name: str, weeks: int, seed: int = 1) -> tuple[Played, ...]:
    """All takes of somebody's first weeks, oldest first; the same seed plays the same."""
    life, random = LIVES[name], Random(f"{name} {seed}")
    return tuple(played for week in range(weeks) for played in _week(life, week, random))


def _week(life: Life, number: int, random: Random) -> Iterator[Played]:
    week = life.weeks[number]
    for day in week.days:
        at = timedelta(weeks=number, days=day, hours=18)
        known = life.drills[: 1 + number // life.each]
        for take in range(week.takes):
            name = known[-1] if take < 2 else random.choice(known)
            plan = drill(name).plan
            tempo = None if week.tempo is None else float(round(plan.drill.tempo * week.tempo))
            whole = random.random() >= week.broken
            verdicts = performed(plan, week, tempo, random.randrange(10**9))
            if not whole:
                verdicts = verdicts[: random.randrange(3, len(verdicts) - 2)]
            yield Played(at + timedelta(minutes=4 * take), name, tempo, verdicts)


def performed(plan: Plan, week: Week, tempo: float | None, seed: int) -> tuple[Verdict, ...]:
    """One take through the whole drill, as it is judged."""
    every = sum(_SHARES.values())
    shares = {slip: week.slips * share / every for slip, share in _SHARES.items()}
    player = replace(Player(), slip_shares=shares, early_late_sd_ms=week.spread_ms, pace_sd=0.1)
    pickup = make_pickup(_PICKUP)
    empty = Practice(plan, pickup, TakeSettings(tempo=tempo, count_in_bars=0)).take()
    first_s = (empty.header.first_beat_s if empty.header is not None else None) or 1.0
    messages = simulate(plan, seed=seed, pickup=pickup, tempo=tempo, first_beat_s=first_s, player=player).messages
    return tuple(judge_take(plan, pickup, Take(messages, empty.marks, empty.header)))


def keep(store: Store, played: Iterable[Played], monday: datetime) -> None:
    """Put takes into a history; a sitting for each day."""
    session, day = 0, None
    for take in played:
        start = monday + take.at
        if start.date() != day:
            session, day = store.begin_session(start), start.date()
        pace = "own pace" if take.tempo is None else "click"
        info = TakeInfo.of(
            drill(take.drill).plan,
            session=session, pickup=_PICKUP, pace=pace, source="a port", started_at=start, tempo=take.tempo,
        )  # fmt: skip
        number = store.begin_take(info)
        for verdict in take.verdicts:
            store.keep(number, verdict, [])
        store.finish_take(number, b"", start + timedelta(seconds=take.verdicts[-1].onset_s))


def monday_of(played: Sequence[Played], now: datetime) -> datetime:
    """When the first week began for whom the last take is just over."""
    return now - played[-1].at - timedelta(minutes=3)


def endings(played: Sequence[Played]) -> Iterator[tuple[Played, list[str]]]:
    """What is said at the end of each take."""
    before: dict[str, WholeTake] = {}
    for take in played:
        plan = drill(take.drill).plan
        so_far = SoFar.of(plan, take.verdicts)
        companion = Companion(before=before.get(take.drill))
        companion.begins(Loop(plan, TakeSettings(take.tempo)))
        snapshot = Snapshot(plan, FINISHED, 0, None, so_far, (), 0.0, take.tempo, 0, 0, "a port")
        yield take, summary_lines(companion.dressed(snapshot, 0.0))
        standing = WholeTake.of(so_far.account, take.tempo)
        if standing is not None:
            before[take.drill] = standing


def _show(name: str, weeks: int) -> None:
    import os

    from listener.cli import main

    now = datetime.now(UTC)
    played = takes_of(name, weeks)
    print(f"\n======== {name}, after week {weeks}: {len(played)} takes")
    for take, lines in list(endings(played))[-6:]:
        week, day = 1 + take.at.days // 7, take.at.days % 7
        print(f"-- week {week} day {day}: {take.drill} at {take.tempo}")
        print(*(f"   {line}" for line in lines), sep="\n")
    with TemporaryDirectory() as place:
        path = Path(place) / "history.sqlite3"
        with Store.open(path) as store:
            keep(store, played, monday_of(played, now))
        os.environ |= {"WIDEHAND_SETTINGS": os.devnull, "WIDEHAND_DRILLS": os.devnull}
        for words in (["progress"], ["today"], ["drills"]):
            print(f"---- widehand {' '.join(words)}")
            main([*words, "--store", str(path)])


if __name__ == "__main__":
    for one in [sys.argv[1]] if len(sys.argv) > 1 else LIVES:
        for count in map(int, sys.argv[2:] or ("1", "3", "12")):
            _show(one, count)
