"""A folder of bundles, summed up for a teacher: how each student gets on. Pure; ``now`` is passed in.

The numbers are those of :mod:`listener.history.progress.progress`, from the same accounts. *Minutes* are those between
the first and the last note of each take.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime
from functools import cached_property

from listener.errors import WidehandError
from listener.hearing.take_file import read_take
from listener.history.exchange.advice import advice
from listener.history.exchange.bundle import Bundle, BundledTake
from listener.history.progress.progress import PlayedTake, summarise
from listener.history.progress.summary import ChangeProgress, Progress, grades_json, rounded
from listener.history.rejudging import VerdictChange, changes, plan_again, rejudge
from listener.history.skills.reviews import PLAYER, player_of
from listener.judging.account import Account
from listener.planning.plan import Plan
from listener.safe_text import person


@dataclass(frozen=True)
class Student:
    """One person's takes, oldest first, each once however many bundles it came in. ``files`` are the bundles.

    ``simulated`` takes were played by the simulated guitarist of the demo, and are left out of ``takes``."""

    name: str
    files: tuple[str, ...]
    takes: tuple[BundledTake, ...]
    simulated: int = 0

    @cached_property
    def played(self) -> tuple[PlayedTake, ...]:
        """Takes with at least one verdict, numbered from 1 as they stand in ``takes``."""
        return tuple(_played(number, take) for number, take in enumerate(self.takes, start=1) if take.verdicts)

    @cached_property
    def progress(self) -> Progress:
        """As ``widehand progress`` reckons it."""
        return summarise(self.played)

    @cached_property
    def account(self) -> Account:
        """What all takes come to together."""
        return Account.total(take.summary.account for take in self.played)

    @cached_property
    def minutes(self) -> float:
        """Playing time."""
        return sum(map(_seconds, self.takes)) / 60

    @property
    def last(self) -> datetime | None:
        """When the newest take began; None without takes."""
        return self.takes[-1].info.started_at if self.takes else None

    @property
    def weakest(self) -> ChangeProgress | None:
        """The weakest change, of those tried often enough to say."""
        return self.progress.weak_changes[0] if self.progress.weak_changes else None

    def advice(self, now: datetime) -> tuple[str, ...]:
        """What a teacher might say next, the most pressing first; always at least one sentence."""
        return advice(self.progress, self.last, now)

    def as_json(self, now: datetime) -> dict[str, object]:
        """One entry of ``students``."""
        return {
            "student": self.name,
            "files": list(self.files),
            "takes": len(self.takes),
            "simulated_takes": self.simulated,
            "minutes": round(self.minutes, 1),
            "last": self.last.isoformat() if self.last else None,
            **grades_json(self.account),
            "movement_score": rounded(self.account.movement_score, 1),
            "weakest_change": self.weakest.as_json() if self.weakest else None,
            "say_next": list(self.advice(now)),
            "progress": self.progress.as_json(),
        }


def students_of(bundles: Iterable[tuple[str, Bundle]]) -> tuple[Student, ...]:
    """Bundles with their files' names, put together by student, by the alphabet.

    A bundle without a name is that of its file. Upper and lower case are the same person; the newest spelling is shown.
    """
    groups: dict[str, list[tuple[str, Bundle]]] = {}
    for file, bundle in bundles:
        name = bundle.student or file.rsplit(".", 1)[0]
        groups.setdefault(person(name), []).append((file, bundle))
    found = []
    for group in groups.values():
        takes = {take.identity: take for _, bundle in group for take in bundle.takes}
        own = [take for take in takes.values() if player_of(take.info.source) == PLAYER]
        newest = max(
            group, key=lambda pair: max((take.info.started_at.timestamp() for take in pair[1].takes), default=0)
        )
        found.append(
            Student(
                name=newest[1].student or newest[0].rsplit(".", 1)[0],
                files=tuple(file for file, _ in group),
                takes=tuple(sorted(own, key=lambda take: (take.info.started_at, take.sha256))),
                simulated=len(takes) - len(own),
            )
        )
    return tuple(sorted(found, key=lambda student: person(student.name)))


@dataclass(frozen=True)
class JudgedAgain:
    """A take judged by this program from its raw MIDI. ``trouble`` says why it could not be."""

    number: int
    take: BundledTake
    changes: tuple[VerdictChange, ...] = ()
    trouble: str = ""

    def as_json(self) -> dict[str, object]:
        """One entry of ``judged_again``."""
        return {
            "take": self.number,
            "drill": self.take.info.drill,
            "started_at": self.take.info.started_at.isoformat(),
            "judged_by": self.take.judged_by,
            "changes": [change.as_json() for change in self.changes],
            "trouble": self.trouble or None,
        }


def judged_again(student: Student) -> tuple[JudgedAgain, ...]:
    """Every take with something to judge, in order."""
    plans: dict[object, Plan] = {}
    numbered = enumerate(student.takes, start=1)
    return tuple(_again(number, take, plans) for number, take in numbered if take.info.plan.get("steps"))


def _again(number: int, take: BundledTake, plans: dict[object, Plan]) -> JudgedAgain:
    info = take.info
    key = (info.drill_text, id(info.plan), info.instrument, info.tuning, info.capo, info.hand_model, info.hand)
    try:
        if key not in plans:
            plans[key] = plan_again(info)
        verdicts = rejudge(info, plans[key], read_take(take.midi, info.drill))
    except WidehandError as error:
        return JudgedAgain(number, take, trouble=" ".join(str(error).split()))
    return JudgedAgain(number, take, changes(take.verdicts, verdicts))


def _played(number: int, take: BundledTake) -> PlayedTake:
    # A number for each sitting, in one place as in another.
    return PlayedTake.of(take.info, take.verdicts, number, round(take.sitting.timestamp() * 1000), take.touch)


def _seconds(take: BundledTake) -> float:
    moments = [message.time_s for message in read_take(take.midi, take.info.drill).messages]
    return max(moments) - min(moments) if moments else 0.0
