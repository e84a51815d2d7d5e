"""What the practice loop shows of itself: one frozen snapshot, from which any screen can be drawn."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Final

from listener.judging.account import Account
from listener.judging.fill import Aside
from listener.judging.free.free import HeardChord
from listener.judging.free.harmony import HarmonyChord
from listener.judging.touch.account import TouchAccount
from listener.judging.verdict import Verdict
from listener.planning.plan import Plan, PlannedStep
from listener.session.take.so_far import SoFar

READY: Final = "ready"
COUNT_IN: Final = "count-in"
PLAYING: Final = "playing"
PAUSED: Final = "paused"
FINISHED: Final = "finished"

#: Everything that a key may ask for.
PAUSE_KEY: Final = "pause"
AGAIN: Final = "again"
NEXT: Final = "next"
BACK: Final = "back"
SLOWER: Final = "slower"
FASTER: Final = "faster"
TARGET: Final = "target"
KEEP: Final = "keep"
QUIT: Final = "quit"
#: What the keys of a take with the click do, and of one at the player's own pace.
CLICK_KEYS: Final = (PAUSE_KEY, AGAIN, BACK, NEXT, SLOWER, FASTER, QUIT)
OWN_PACE_KEYS: Final = (PAUSE_KEY, AGAIN, BACK, NEXT, QUIT)


@dataclass(frozen=True, slots=True)
class Snapshot:
    """The moment as the player should see it.

    ``step`` is the index of the target in the plan. ``verdict`` is the newest one and may be unsettled (shown at once,
    confirmed a moment later); ``so_far`` are the settled ones of this take and what they come to. ``tempo`` is in beats
    per minute, None at the player's own pace; ``bar`` and ``beat`` count from 1 and are 0 without a click; in the
    count-in ``beat`` counts the beats of the count-in. ``sounding`` are the MIDI notes that ring now. ``note`` is one
    line of talk for the player, empty when there is nothing to say. ``can_sound`` when the target can be heard on
    request. At the end of a take ``since`` says what improved since the last take of the drill, and ``coming`` what
    comes by itself after it, empty when the player decides. ``chords`` are what was heard in free listening, None with
    a drill; ``harmony`` are the chords that governed meanwhile, the last as it seems now. ``cleaned`` says what of the
    pickup's errors was set right so far, each kind in a few words. ``last_step`` is the index of the last step that the
    take goes to, None for the plan's last. ``place`` is the index of the place that is due in the target's pattern,
    None without a click and where that pattern is not on. ``away`` says why the take has paused by itself and how it
    goes on, empty when it has not. ``until_right``: it stays at each chord until that is right. ``asides`` is what was
    played over each step that was left and what became of its pattern or touch, with its index, oldest first. ``jumps``
    is how often a key, or whoever woke a paused take, has made it go on somewhere. ``touch`` is what the take's touch
    comes to, once it is over.
    """

    plan: Plan
    phase: str
    step: int
    verdict: Verdict | None
    so_far: SoFar
    sounding: tuple[int, ...]
    now_s: float
    tempo: float | None
    bar: int
    beat: int
    source: str
    note: str = ""
    can_sound: bool = False
    since: str = ""
    coming: str = ""
    chords: tuple[HeardChord, ...] | None = None
    harmony: tuple[HarmonyChord, ...] = ()
    cleaned: tuple[str, ...] = ()
    last_step: int | None = None
    place: int | None = None
    away: str = ""
    until_right: bool = False
    asides: tuple[Aside, ...] = ()
    jumps: int = 0
    touch: TouchAccount | None = None

    @property
    def verdicts(self) -> tuple[Verdict, ...]:
        """The settled verdicts of this take, oldest first."""
        return self.so_far.verdicts

    @property
    def account(self) -> Account:
        """What they come to."""
        return self.so_far.account

    @property
    def newest(self) -> Mapping[int, Verdict]:
        """The last of them on each step."""
        return self.so_far.newest

    @property
    def target(self) -> PlannedStep | None:
        """The step to be played now, None when the take is over, however far it went."""
        if self.phase == FINISHED or self.step >= len(self.plan.steps):
            return None
        return self.plan.steps[self.step]

    @property
    def keys(self) -> tuple[str, ...]:
        """What keys do something now."""
        if self.chords is not None:
            return (PAUSE_KEY, KEEP, QUIT)
        keys = CLICK_KEYS if self.tempo is not None else OWN_PACE_KEYS
        if self.phase == FINISHED:
            gone = {PAUSE_KEY, BACK} if self.coming else {PAUSE_KEY, BACK, NEXT}
            return tuple(key for key in keys if key not in gone)
        if self.can_sound and self.target is not None:
            keys = (*keys[:-1], TARGET, QUIT)
        return keys
