"""What the touch of a take comes to, in whole numbers: the one place where it is counted.

Who sums up adds accounts. Loudness is only ever compared within a take, and by rank: an account holds how often one
chord was louder than another, and never how loud.

- *changes* are those in which it is known of a voice at least whether a finger held it; *whole* those in which all such
  voices were held, *hands* those in which none was but what stayed for the next chord: the hand left. ``early`` counts,
  for each degree of the chord, changes in which it was let go while a voice that had to go, too, was held, those in
  which it ended *alone* (which may be the string's doing), and those in which one of these is known at all. A voice
  that ends alone is believed to have been let go where so few others just died away (``died``) that it can hardly be
  chance (our choice: one for three).
- *tops*: chords in which the top voice can be set against the inner ones; *tops_out* where it was louder than every
  one, *tops_under* where it was softer than every one.
- *quiet and loud*: of every pair of a chord that is meant to be loud and one that is meant to be quiet, in how many the
  loud one was louder; ties count half, so they are counted twice over. This is the probability of superiority; from
  0.71 on a difference is called large (A. Vargha and H. Delaney, Journal of Educational and Behavioral Statistics 25,
  2000, from memory).
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass, fields
from typing import Final

from listener.drill.drill import LOUD, QUIET
from listener.judging.touch.touch import ALONE, HELD, LET_GO, UNKNOWN, StepTouch
from listener.planning.plan import Plan

#: Ends that may be let go for one that has died away, from which on they are believed (our choice).
_BELIEVED: Final = 3
#: From this share of pairs on quiet and loud are clearly apart.
LARGE: Final = 0.71
_VELOCITIES: Final = 128


@dataclass(frozen=True, slots=True)
class Degree:
    """One degree of the chords: changes in which it was let go ``early`` while others were held, in which it ended
    ``alone``, and ``of`` how many. Thirds are one degree, major or minor."""

    degree: str
    early: int
    alone: int
    of: int


@dataclass(frozen=True, slots=True)
class TouchAccount:
    """Sums over one take, or over several added up; what they mean is said above. ``early_ms`` and ``early_cents``
    (hundredths of a beat) are added up over all ``voices - held`` voices that were let go."""

    changes: int = 0
    whole: int = 0
    hands: int = 0
    voices: int = 0
    held: int = 0
    early_ms: int = 0
    early_cents: int = 0
    muted: int = 0
    died: int = 0
    tops: int = 0
    tops_out: int = 0
    tops_under: int = 0
    rolls: int = 0
    uneven: int = 0
    pairs: int = 0
    twice_louder: int = 0
    early: tuple[Degree, ...] = ()

    @classmethod
    def of(cls, plan: Plan, touches: Iterable[StepTouch]) -> TouchAccount:
        """The account of a take's chords on the steps of its plan."""
        counting = TouchCounting(plan)
        for touch in touches:
            counting.add(touch)
        return counting.account

    @classmethod
    def total(cls, accounts: Iterable[TouchAccount]) -> TouchAccount:
        """All of them together; nothing for none."""
        found = list(accounts)
        sums = {name: sum(getattr(account, name) for account in found) for name in TOUCH_SUMS}
        degrees: Counter[tuple[str, str]] = Counter()
        for one in (degree for account in found for degree in account.early):
            degrees.update({(one.degree, name): getattr(one, name) for name in _COUNTS})
        return cls(**sums, early=_degrees(degrees))

    @property
    def let_go(self) -> int:
        """Voices that were let go early."""
        return self.voices - self.held

    @property
    def mean_early_ms(self) -> int | None:
        """How early they were let go on the mean, in ms; None for none."""
        return round(self.early_ms / self.let_go) if self.let_go else None

    @property
    def mean_early_beats(self) -> float | None:
        """The same in beats."""
        return round(self.early_cents / (100 * self.let_go), 2) if self.let_go else None

    @property
    def held_share(self) -> float | None:
        """Share of voices that were held, 0 to 1; None where nothing is known."""
        return self.held / self.voices if self.voices else None

    @property
    def louder_share(self) -> float | None:
        """Share of pairs in which the loud chord was louder, 0 to 1; None without both."""
        return self.twice_louder / (2 * self.pairs) if self.pairs else None

    @property
    def mean_uneven(self) -> float | None:
        """The rolls' coefficient of variation on the mean; None without rolls."""
        return round(self.uneven / (1000 * self.rolls), 3) if self.rolls else None

    def early_in(self, degree: Degree) -> int:
        """Changes in which this degree was let go while another voice was held, as far as that is believed."""
        alone = sum(one.alone for one in self.early)
        return degree.early + (degree.alone if alone >= _BELIEVED * self.died else 0)

    @property
    def weakest(self) -> tuple[Degree, int] | None:
        """The degree that was let go most often while another voice was held, and how often."""
        found = [(one, self.early_in(one)) for one in self.early]
        return max(found, key=lambda pair: (pair[1], -pair[0].of), default=None)

    def as_json(self) -> dict[str, object]:
        """What it comes to: counts, shares 0 to 1, means."""
        louder = self.louder_share
        return {
            "changes": self.changes,
            "held_whole": self.whole,
            "hand_left": self.hands,
            "voices": self.voices,
            "voices_held": self.held,
            "early_ms": self.mean_early_ms,
            "early_beats": self.mean_early_beats,
            "let_go": [
                {"degree": one.degree, "changes": self.early_in(one), "of": one.of}
                for one in self.early
                if self.early_in(one)
            ],
            "muted": self.muted,
            "top": {"chords": self.tops, "loudest": self.tops_out, "softest": self.tops_under},
            "rolls": self.rolls,
            "uneven": self.mean_uneven,
            "loud_over_quiet": None if louder is None else round(louder, 3),
        }


_COUNTS: Final = ("early", "alone", "of")
#: The fields that are plain sums, in their order.
TOUCH_SUMS: Final = tuple(field.name for field in fields(TouchAccount) if field.name != "early")


class TouchCounting:
    """Chords in, in the order in which they were left; :attr:`account` is what they come to so far."""

    def __init__(self, plan: Plan) -> None:
        self._levels = [planned.step.level for planned in plan.steps]
        self._sums = dict.fromkeys(TOUCH_SUMS, 0)
        self._degrees: Counter[tuple[str, str]] = Counter()
        #: How many chords that are meant to be quiet, or loud, were as loud as each velocity.
        self._loudness = {level: [0] * _VELOCITIES for level in (QUIET, LOUD)}
        self._account: TouchAccount | None = None

    def add(self, touch: StepTouch) -> None:
        """One more chord."""
        self._account = None
        sums = self._sums
        self._add_change(touch)
        out = touch.stands_out()
        if out is not None:
            sums["tops"] += 1
            sums["tops_out"] += out > 0
            sums["tops_under"] += out < 0
        if touch.uneven is not None:
            sums["rolls"] += 1
            sums["uneven"] += touch.uneven
        level = self._levels[touch.step]
        if level is not None and touch.loudness is not None:
            self._loudness[level][touch.loudness] += 1

    def _add_change(self, touch: StepTouch) -> None:
        sums, judged = self._sums, touch.judged
        sums["muted"] += touch.muted
        sums["died"] += sum(one.state == UNKNOWN and one.early_ms is not None and not one.open for one in touch.voices)
        if not judged:
            return
        held = sum(one.state == HELD for one in judged)
        sums["changes"] += 1
        sums["whole"] += held == len(judged)
        others = any(one.state == HELD and not one.stays for one in judged)
        sums["hands"] += held < len(judged) and not others
        sums["voices"] += len(judged)
        sums["held"] += held
        let_go = [one.early_ms or 0 for one in judged if one.state == LET_GO]
        sums["early_ms"] += sum(let_go)
        if touch.beat_ms:
            sums["early_cents"] += sum(round(100 * early_ms / touch.beat_ms) for early_ms in let_go)
        known = {
            (_plain(one.degree), name)
            for one in touch.voices
            if one.degree and not one.open and one.state in (HELD, LET_GO, ALONE)
            for name in ("of", *(_COUNT_OF.get(one.state, ()) if others else ()))
        }
        self._degrees.update(known)

    @property
    def account(self) -> TouchAccount:
        """What all of them come to; the same object until the next chord."""
        if self._account is None:
            self._account = self._counted()
        return self._account

    def _counted(self) -> TouchAccount:
        quiet, loud = self._loudness[QUIET], self._loudness[LOUD]
        softer = twice = 0
        for count, other in zip(loud, quiet, strict=True):
            twice += count * (2 * softer + other)
            softer += other
        sums = {**self._sums, "pairs": sum(quiet) * sum(loud), "twice_louder": twice}
        return TouchAccount(**sums, early=_degrees(self._degrees))


_COUNT_OF: Final = {LET_GO: ("early",), ALONE: ("alone",)}


def _plain(degree: str) -> str:
    return degree.lstrip("b#")


def _degrees(counts: Counter[tuple[str, str]]) -> tuple[Degree, ...]:
    """In the order of the numbers of degrees, so that it is always the same."""
    names = sorted({degree for degree, _ in counts}, key=lambda name: (len(name), name))
    return tuple(Degree(name, *(counts[name, count] for count in _COUNTS)) for name in names)
