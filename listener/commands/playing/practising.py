"""What the options of ``play`` and ``demo`` ask for besides a single take: loop, sounds, care, and what makes no sense.

Options that a command does not have count as not given.
"""

from __future__ import annotations

from argparse import Namespace
from contextlib import ExitStack
from typing import Any

from listener.drill.drill import FASTEST, SLOWEST
from listener.errors import UsageError
from listener.hearing.sources.port import open_output
from listener.history.skills.reviews import player_of
from listener.history.store.store import Store
from listener.planning.plan import Plan
from listener.session.companion import Companion
from listener.session.ladder import DEPTH, Ladder
from listener.session.loop import Loop
from listener.session.rest import rest_after
from listener.session.since import WholeTake
from listener.session.sound.sounds import MidiOutput, Sounds
from listener.session.take.practice import TakeSettings

#: Where the ladder ends when nobody says: this much above where it began (our choice).
_USUAL_CLIMB = 1.25
#: Options that need a drill, as attributes and as they are written.
_NEEDS_DRILL = {
    "ladder": "--ladder", "up_to": "--up-to", "hard_spots": "--hard-spots", "times": "--times",
    "sound": "--sound", "roll": "--roll", "backing": "--backing", "easier": "--easier",
    "until_right": "--until-right",
}  # fmt: skip


def given(arguments: Namespace, name: str) -> Any:
    """An option's value; None where the command does not have it."""
    return getattr(arguments, name, None)


def check_free(arguments: Namespace) -> None:
    """Without a drill some options mean nothing; :class:`UsageError` names them."""
    found = [words for name, words in _NEEDS_DRILL.items() if given(arguments, name)]
    if found:
        raise UsageError(f"{' and '.join(found)} needs a drill; name one, as in 'widehand play mill-verse'")


def check_options(arguments: Namespace, tempo: float | None) -> None:
    """Options that contradict each other; :class:`UsageError` says what to add."""
    if given(arguments, "until_right") and tempo is not None:
        raise UsageError("--until-right goes at your own pace and not with the click: leave --tempo out")
    if given(arguments, "ladder") and tempo is None:
        raise UsageError("--ladder needs the click: say where to begin, as in --tempo 60")
    if given(arguments, "up_to") and not given(arguments, "ladder"):
        raise UsageError("--up-to is the top of the tempo ladder: add --ladder")
    if given(arguments, "up_to") and tempo is not None and arguments.up_to < tempo:
        raise UsageError(f"--up-to {arguments.up_to:g} lies below the tempo to begin with, {tempo:g}")
    if given(arguments, "backing") and tempo is None:
        raise UsageError("--backing plays with the click: say how fast, as in --tempo 60")
    if given(arguments, "on_strum") and tempo is None:
        raise UsageError("--on-strum starts the click: say how fast, as in --tempo 60")
    if given(arguments, "click") and tempo is None:
        raise UsageError("--click needs a tempo to click at: say how fast, as in --tempo 60")
    if given(arguments, "roll") and not given(arguments, "sound"):
        raise UsageError("--roll is for the chord that --sound PORT lets you hear: add --sound")


def loop_of(arguments: Namespace, plan: Plan, settings: TakeSettings) -> Loop:
    """The loop that the options ask for; without any it is one take."""
    ladder = None
    if given(arguments, "ladder") and settings.tempo is not None:
        tempo = settings.tempo
        top = given(arguments, "up_to") or min(FASTEST, max(plan.drill.tempo, round(_USUAL_CLIMB * tempo)))
        ladder = Ladder(tempo, max(SLOWEST, round(DEPTH * tempo)), top)
    return Loop(plan, settings, ladder, bool(given(arguments, "hard_spots")), given(arguments, "times"))


def companion_of(arguments: Namespace, store: Store, plan: Plan, source: str) -> Companion:
    """Care for the sitting, and the last whole take of this drill to compare with, of whoever plays this ``source``."""
    before = None
    for take in store.summaries(plan.drill.name, player_of(source)) if plan.steps else ():
        before = WholeTake.of(take.account, take.tempo) or before
    return Companion(rest_after(given(arguments, "rest_after")), before)


class Outputs:
    """The MIDI outputs of a sitting; each take gets its sounds from them."""

    def __init__(self, arguments: Namespace, click_port: str | None, stack: ExitStack) -> None:
        backing = bool(given(arguments, "backing"))
        if backing and not click_port:
            raise UsageError("--backing needs an output to play to: name it with --click PORT")
        self._backing, self._roll = backing, bool(given(arguments, "roll"))
        self._click = self._opened(click_port, stack)
        sound = given(arguments, "sound")
        # One port may serve for both; a second client on it would work too, but needs another connection.
        self._target = self._click if sound and sound == click_port else self._opened(sound, stack)

    def sounds(self) -> Sounds:
        """What one take makes heard."""
        return Sounds(self._click, self._target, backing=self._backing, roll=self._roll)

    @staticmethod
    def _opened(name: str | None, stack: ExitStack) -> MidiOutput | None:
        if not name:
            return None
        output = open_output(name)
        stack.callback(output.close)
        return output
