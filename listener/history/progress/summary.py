"""What progress consists of: the accounts of takes and drills, the changes between chords, and their JSON.

What the numbers of an account mean is said in :mod:`listener.judging.account`. Accuracies and rates run from 0 to 1;
times of day are ISO 8601 in UTC in JSON.
"""

from __future__ import annotations

from dataclasses import asdict, dataclass
from datetime import datetime
from typing import Final

from listener.judging.account import Account
from listener.judging.touch.account import TouchAccount

#: Share of hits that a take needs for its tempo to count as reached. Our own choice.
REACHED: Final = 0.9


@dataclass(frozen=True, slots=True)
class TakeSummary:
    """What one take came to; ``tempo`` in beats per minute, None at the player's own pace. ``touch`` is None where
    nobody knows."""

    take: int
    session: int
    drill: str
    tempo: float | None
    started_at: datetime
    account: Account
    touch: TouchAccount | None = None

    @property
    def went_well(self) -> bool:
        """The whole drill, with enough hits."""
        return self.account.complete and self.account.share >= REACHED

    def as_json(self) -> dict[str, object]:
        """One entry of a drill's ``takes``."""
        account = self.account
        return {
            "take": self.take,
            "started_at": self.started_at.isoformat(),
            "tempo": self.tempo,
            "steps": account.steps,
            "reached": account.reached,
            "judged": account.judged,
            "complete": account.complete,
            **figures(account),
            "touch": None if self.touch is None else self.touch.as_json(),
        }


@dataclass(frozen=True, slots=True)
class DrillProgress:
    """One drill over all its takes, oldest take first, and what they come to together."""

    drill: str
    takes: tuple[TakeSummary, ...]
    account: Account

    @property
    def last(self) -> TakeSummary:
        """The newest take."""
        return self.takes[-1]

    @property
    def whole_takes(self) -> tuple[TakeSummary, ...]:
        """Those of the whole drill: their shares of hits can be set beside each other."""
        return tuple(take for take in self.takes if take.account.complete)

    @property
    def touch(self) -> TouchAccount | None:
        """What the touch of all takes comes to, as far as it is known."""
        found = [take.touch for take in self.takes if take.touch is not None]
        return TouchAccount.total(found) if found else None

    @property
    def tempos_reached(self) -> tuple[float, ...]:
        """The tempos of the takes with the click that went well, oldest first."""
        return tuple(take.tempo for take in self.takes if take.tempo is not None and take.went_well)

    @property
    def tempo_reached(self) -> float | None:
        """The highest of them."""
        return max(self.tempos_reached, default=None)

    def as_json(self) -> dict[str, object]:
        """One entry of ``drills``."""
        faults = self.account.faults
        return {
            "drill": self.drill,
            "last_played": self.last.started_at.isoformat(),
            **figures(self.account),
            "touch": None if self.touch is None else self.touch.as_json(),
            "tempo_reached": self.tempo_reached,
            "commonest_fault": dict(zip(("code", "strokes"), faults[0], strict=True)) if faults else None,
            "takes": [take.as_json() for take in self.takes],
        }


@dataclass(frozen=True, slots=True)
class ChangeProgress:
    """From one chord and kind to another: how often it was tried, how often the second chord was a hit."""

    from_chord: str
    from_kind: str
    to_chord: str
    to_kind: str
    attempts: int
    hits: int

    @property
    def hit_rate(self) -> float:
        """Share of hits."""
        return self.hits / self.attempts

    def as_json(self) -> dict[str, object]:
        """One entry of ``weak_changes``."""
        return {**asdict(self), "hit_rate": rounded(self.hit_rate, 4)}


@dataclass(frozen=True, slots=True)
class Progress:
    """Everything. Drills by when they were played last, newest first; ``weak_changes`` weakest first."""

    sessions: int
    takes: int
    strokes: int
    drills: tuple[DrillProgress, ...]
    weak_changes: tuple[ChangeProgress, ...]

    def as_json(self) -> dict[str, object]:
        """The document that ``widehand progress --json`` prints."""
        return {
            "sessions": self.sessions,
            "takes": self.takes,
            "strokes": self.strokes,
            "drills": [drill.as_json() for drill in self.drills],
            "weak_changes": [change.as_json() for change in self.weak_changes],
        }


def grades_json(account: Account) -> dict[str, object]:
    """How the judged steps went."""
    hits, nears, misses = account.grades
    return {"hits": hits, "nears": nears, "misses": misses, "accuracy": rounded(account.share, 4)}


def figures(account: Account) -> dict[str, object]:
    """What takes, drills and weeks tell alike."""
    return {
        **grades_json(account),
        "movement_score": rounded(account.movement_score, 1),
        "top_accuracy": rounded(account.top_accuracy, 4),
        "timing": _timing(account),
    }


def _timing(account: Account) -> dict[str, object] | None:
    """In ms, to hundredths."""
    if account.mean_ms is None:
        return None
    return {
        "mean_ms": rounded(account.mean_ms, 2),
        "spread_ms": rounded(account.spread_ms, 2),
        "strokes": account.onsets,
    }


def rounded(value: float | None, places: int) -> float | None:
    """None stays None."""
    return None if value is None else round(value, places)
