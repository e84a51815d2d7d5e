"""A day of practice as values: what there is to choose from, and the plan that is made of it
(:func:`listener.session.day.plan.plan_day`)."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

from listener.session.rest import AT_THE_LIMIT

WARM_UP: Final = "warm-up"
DUE: Final = "due"
CHANGES: Final = "changes"
NEW: Final = "new"
AGAIN: Final = "again"
FREE: Final = "free"
REST: Final = "rest"

#: Minutes that a plan can be made for.
LEAST_MINUTES, MOST_MINUTES = 5, 240


@dataclass(frozen=True, slots=True)
class Piece:
    """Something that can be played. ``minutes`` once through, with count-in and a breath; ``tempo`` in beats a minute;
    ``strain`` is its mean, 0 to 1; ``group`` its kinds of voicing, for mixing; ``covers`` the skills it shows;
    ``told`` what the player should know of how it went so far, ``ago`` when it was played last in words (``5 days
    ago``), empty for today and for never."""

    drill: str
    title: str
    minutes: float
    tempo: float
    group: str = ""
    strain: float = 0.0
    covers: frozenset[str] = frozenset()
    told: str = ""
    ago: str = ""


@dataclass(frozen=True, slots=True)
class DueSkill:
    """A skill that is due, how pressing (0 to 1), and its kind of voicing."""

    key: str
    urgency: float
    group: str = ""


@dataclass(frozen=True, slots=True)
class Choice:
    """What there is to choose from. ``played`` comes longest ago first, ``fresh`` (of the course, not played yet) in
    the order of the course, ``due`` and ``weak`` most pressing first."""

    due: tuple[DueSkill, ...] = ()
    weak: tuple[DueSkill, ...] = ()
    played: tuple[Piece, ...] = ()
    fresh: tuple[Piece, ...] = ()


@dataclass(frozen=True, slots=True)
class Slot:
    """One item of the day. Without a ``piece`` and with ``skills`` the drill is written for them; a rest, and what
    players choose themselves, have neither. ``times`` through in ``minutes``, ``tempo`` in beats a minute."""

    what: str
    minutes: float
    piece: Piece | None = None
    skills: tuple[str, ...] = ()
    times: int = 1
    tempo: float | None = None
    group: str = ""
    why: str = ""

    @property
    def load(self) -> float:
        """Minutes that the hand has worked, weighted by strain as in :mod:`listener.session.rest`; written drills count
        as half-way to the hand's limit."""
        strain = self.piece.strain if self.piece is not None else 0.5 if self.skills else 0.0
        return 0.0 if self.what == REST else max(1.0, strain / AT_THE_LIMIT) * self.minutes


@dataclass(frozen=True, slots=True)
class Day:
    """The plan: its items in order. ``waiting`` counts what is due and found no room."""

    slots: tuple[Slot, ...]
    waiting: int = 0

    @property
    def minutes(self) -> float:
        """All together, rests too."""
        return sum(slot.minutes for slot in self.slots)
