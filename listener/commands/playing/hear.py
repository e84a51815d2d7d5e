"""``widehand hear``: the same ears on a file, with a drill or without; or on a simulated take."""

from __future__ import annotations

import sys
from argparse import Namespace
from typing import TYPE_CHECKING

from listener.errors import UsageError
from listener.hearing.pickup import Pickup
from listener.hearing.sources.opening import load_take, pickup_of
from listener.hearing.take_file import AnyTake
from listener.places import given

if TYPE_CHECKING:
    from listener.judging.free.smoother import Suggest

#: Options that only mean something with a simulated player, as attributes and as they are written.
_SIMULATED_ONLY = {"seed": "--seed", "pickup_errors": "--pickup-errors", "out": "--out"}


def main(arguments: Namespace) -> int:
    """Judge or name what a file holds, or what a simulated player plays."""
    check(arguments)
    if arguments.simulate:
        from listener.commands.playing.simulating import judge_simulated

        return judge_simulated(arguments)
    take = load_take(given(arguments.file))
    pickup = pickup_of(take, arguments.pickup)
    if arguments.drill is None:
        _tell_strokes(take, pickup, _suggest(arguments, take), as_json=arguments.json)
        return 0
    _tell_verdicts(arguments, take, pickup)
    return 0


def _tell_verdicts(arguments: Namespace, take: AnyTake, pickup: Pickup) -> None:
    """The take against the drill."""
    # What a drill needs, and what free listening needs, is loaded where it is needed: neither waits for the other's.
    from listener.commands.playing.telling import tell_verdicts
    from listener.commands.setup import plan_of
    from listener.judging.take import TakeJudge, click_from_first_note

    plan = plan_of(arguments, arguments.drill, take.header)
    anchor = None
    if arguments.tempo is not None:
        anchor = click_from_first_note(take, arguments.tempo, arguments.file, "--tempo")
    tell_verdicts(plan, TakeJudge(plan, pickup, anchor), take, arguments.file, as_json=arguments.json)


def check(arguments: Namespace) -> None:
    """What is to be heard must be said once; :class:`UsageError` says how."""
    if not arguments.simulate:
        found = [words for name, words in _SIMULATED_ONLY.items() if getattr(arguments, name) is not None]
        if found:
            raise UsageError(f"{' and '.join(found)} needs --simulate; a file is heard as it is")
        if arguments.file is None:
            raise UsageError("what shall be heard? Name a file, or: widehand hear --simulate --drill mill-verse")
    elif arguments.file is not None:
        raise UsageError(f"--simulate plays a drill instead of the file {arguments.file}; leave one of them out")
    elif arguments.drill is None:
        raise UsageError("--simulate needs a drill to play: add --drill mill-verse, or another of 'widehand drills'")


def _suggest(arguments: Namespace, take: AnyTake) -> Suggest | None:
    """With --remarks a smoother voicing is looked for at every change, for the guitar and hand of the options."""
    if not arguments.remarks:
        return None
    from listener.commands.setup import guitar_of, hand_of
    from listener.judging.free.smoother import suggester
    from listener.settings import load_settings

    saved = load_settings()
    return suggester(guitar_of(arguments, saved, take.header), hand_of(arguments, saved, take.header))


def _tell_strokes(take: AnyTake, pickup: Pickup, suggest: Suggest | None, *, as_json: bool) -> None:
    """Every stroke as soon as it has been heard; nothing of a long file is kept."""
    from listener.commands.playing.heard_text import json_pieces, lines
    from listener.judging.free.free import heard_in, judge_of_file

    judge = judge_of_file(take, pickup, suggest)
    told = (json_pieces if as_json else lines)(heard_in(take, judge), lambda: judge.harmony, lambda: judge.cleaned)
    sys.stdout.writelines(told)
