"""What is said about touch: of one chord where its drill asks for it, and of a take."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

from listener.drill.drill import BALANCE_TOP, Step
from listener.judging.touch.account import LARGE, TouchAccount
from listener.judging.touch.touch import LET_GO, StepTouch, VoiceTouch
from listener.judging.words import degree_word
from listener.planning.plan import Plan

#: More voices than this that were let go are told in one go (our choice).
_MOST_TOLD: Final = 2
#: So often something has to happen before a player who was not asked for it is told, in so large a part of the chances
#: (our choices).
_OFTEN: Final = 3
_PART: Final = 3
#: The top voice is told of where it stands out, or under, so many more times than the other: the square root of the
#: chords times this, as in a sign test (W. Dixon and A. Mood, Journal of the American Statistical Association 41, 1946,
#: from memory); at 2.5 chance alone does it once in a hundred takes.
_CLEARLY: Final = 2.5
#: Rolls whose waits stray by less are even, by more than twice that uneven (our choice: measured plucks stray by half).
_EVEN: Final = 0.25
#: Parts of a beat as they are said.
_PARTS: Final = {0.125: "an eighth of a beat", 0.25: "a quarter of a beat", 0.5: "half a beat", 1.0: "a beat"}
_LONG: Final = 1.25


@dataclass(frozen=True, slots=True)
class TouchVerdict:
    """Whether a chord was held to the change (``ring``), and whether the voice that is to stand out did (``balance``):
    None where that was not asked, or cannot be told. ``words`` say it to players."""

    ring: bool | None
    balance: bool | None
    words: tuple[str, ...]

    @property
    def as_asked(self) -> bool:
        """Nothing was left undone, as far as can be told."""
        return self.ring is not False and self.balance is not False

    def as_json(self) -> dict[str, object]:
        """All of it."""
        return {"ring": self.ring, "balance": self.balance, "words": list(self.words)}


def touch_verdict(step: Step, touch: StepTouch) -> TouchVerdict | None:
    """What is to be said of a chord whose drill asks for its touch; None where there is nothing to say."""
    ring, said = _ring(touch) if step.ring else (None, [])
    balance = None
    if step.balance is not None:
        out = touch.stands_out(step.balance)
        if out is not None:
            balance = out > 0
            said.append(f"the {_VOICES[step.balance]} {_OUT[out]}")
    return TouchVerdict(ring, balance, tuple(said)) if said else None


def _ring(touch: StepTouch) -> tuple[bool | None, list[str]]:
    if touch.muted:
        return False, ["muted, not held to the change"]
    judged = touch.judged
    early = [one for one in judged if one.state == LET_GO]
    if not judged:
        return None, []
    if not early:
        return True, ["held to the change"]
    if len(early) == len(judged):
        return False, [f"let go {_before(_cents(touch, early))} the change"]
    if len(early) > _MOST_TOLD:
        return False, [f"{len(early)} of {len(judged)} voices were let go, {_before(_cents(touch, early))} the change"]
    return False, [f"{_named(touch, one)} was let go {_before(_cents(touch, [one]))} the change" for one in early]


def _cents(touch: StepTouch, early: Sequence[VoiceTouch]) -> int:
    """Hundredths of a beat, on the mean."""
    total_ms = sum(one.early_ms or 0 for one in early)
    return round(100 * total_ms / (len(early) * touch.beat_ms)) if touch.beat_ms else 0


def _named(touch: StepTouch, voice: VoiceTouch) -> str:
    """By its degree; by its place where the chord has two of them, or none."""
    alike = [one for one in touch.voices if one.degree == voice.degree]
    if voice.degree and len(alike) == 1:
        return f"the {degree_word(voice.degree)}"
    rank = touch.voices.index(voice)
    if rank in (0, len(touch.voices) - 1):
        return "the top voice" if rank else "the bass"
    return f"voice {rank + 1}"


_VOICES: Final = {"top": "top voice", "bottom": "bass"}
_OUT: Final = {1: "stands out", 0: "does not stand out", -1: "is softer than what lies inside"}


def beats_words(cents: float) -> str:
    """Hundredths of a beat as they are said.

    >>> beats_words(26), beats_words(60), beats_words(110), beats_words(240), beats_words(5)
    ('a quarter of a beat', 'half a beat', 'a beat', '2.4 beats', 'an eighth of a beat')
    """
    beats = cents / 100
    if beats >= _LONG:
        return f"{round(beats, 1):g} beats"
    return _PARTS[min(_PARTS, key=lambda part: abs(part - beats))]


def _before(cents: float) -> str:
    return f"{beats_words(cents)} before"


def touch_lines(plan: Plan, account: TouchAccount) -> list[str]:
    """What the touch of a take comes to: everything that its drill asks for, else at most one line of what a player can
    use."""
    steps = [planned.step for planned in plan.steps]
    asked = [
        *(_ring_line(account) if any(step.ring for step in steps) else []),
        *(_balance_line(account, steps)),
        *_levels_line(account),
    ]
    if asked:
        return asked
    found = [*_voice_line(account), *_top_line(account), *_rolls_line(account, plan.drill.arpeggio)]
    return found[:1]


def _ring_line(account: TouchAccount) -> list[str]:
    if not account.changes:
        return [_DIED] if account.died else []
    line = f"Held to the change: every voice in {account.whole} of {account.changes} changes"
    if not account.let_go:
        return [f"{line}."]
    weakest = account.weakest
    if weakest is not None and weakest[1] > account.hands:
        degree, count = weakest
        more = f"the {degree_word(degree.degree)} was let go in {count} of {degree.of}"
    else:
        more = f"the hand left in {account.hands}" if account.hands else "single voices were let go"
    mean = "on average " if account.let_go > 1 else ""
    return [f"{line}; {more}, {mean}{_before(account.early_cents / account.let_go)} it."]


_DIED: Final = (
    "Held to the change: that cannot be told, the strings had died away before. Try it a little faster, or with "
    "shorter chords."
)


def _balance_line(account: TouchAccount, steps: Sequence[Step]) -> list[str]:
    if not account.tops or not any(step.balance == BALANCE_TOP for step in steps):
        return []
    return [f"The top voice stood out in {account.tops_out} of {account.tops} chords."]


def _levels_line(account: TouchAccount) -> list[str]:
    share = account.louder_share
    if share is None:
        return []
    if share >= LARGE:
        return ["Quiet and loud: clearly apart."]
    percent = f"of two chords the loud one was louder in {100 * share:.0f} % of all pairs"
    return [f"Quiet and loud: {'hardly apart' if share > 1 - LARGE else 'the wrong way round'}; {percent}."]


def _voice_line(account: TouchAccount) -> list[str]:
    """A voice that is let go while others are held: whoever lifts the whole hand may want it so."""
    if account.weakest is None:
        return []
    degree, count = account.weakest
    if count < _OFTEN or _PART * count < degree.of or not account.let_go:
        return []
    when = _before(account.early_cents / account.let_go)
    return [f"Touch: the {degree_word(degree.degree)} was let go early in {count} of {degree.of} changes, {when} them."]


def _top_line(account: TouchAccount) -> list[str]:
    more = account.tops_out - account.tops_under
    if more * more < _CLEARLY**2 * account.tops or not more:
        return []
    if more > 0:
        return [f"Touch: the top voice stood out in {account.tops_out} of {account.tops} chords."]
    return [f"Touch: the top voice was the softest in {account.tops_under} of {account.tops} chords."]


def _rolls_line(account: TouchAccount, arpeggio: bool) -> list[str]:
    uneven = account.mean_uneven
    if uneven is None or account.rolls < _OFTEN:
        return []
    word = "even" if uneven <= _EVEN else "uneven" if uneven > 2 * _EVEN else "fairly even"
    what = "arpeggios" if arpeggio else "rolled chords"
    return [f"Touch: {account.rolls} {what}, {word}; from string to string the time strays by {100 * uneven:.0f} %."]
