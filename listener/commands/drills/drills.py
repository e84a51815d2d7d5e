"""``widehand drills``: which of its actions was asked for, and whether its options belong to that one."""

from __future__ import annotations

from argparse import Namespace
from typing import Final

from listener.drill.drill_file import bundled_drills
from listener.errors import UsageError

#: Options that belong to some actions only: what each is without a word from the player.
_LISTING: Final = ("topic", "difficulty", "store")
_MAKING: Final = ("chords", "title", "key", "kind", "top", "tempo", "meter", "name", "out", "force")
_FROM: Final = ("part", "notes", "transpose")
_GUITAR: Final = ("tuning", "capo", "hand")
_ALLOWED: Final = {
    "list": _LISTING,
    "show": (),
    "check": _GUITAR,
    "new": (*_MAKING, *_GUITAR),
    "from": (*_MAKING, *_FROM, *_GUITAR),
}


def main(arguments: Namespace) -> int:
    """Do what the action says; only what it needs is loaded."""
    action, what = arguments.action, arguments.drill
    _check_options(arguments)
    if action == "list":
        from listener.commands.drills import listing as drill_list

        if what:
            raise UsageError(f"to see one drill: widehand drills show {what}")
        return drill_list.run(arguments)
    if action in ("new", "from"):
        from listener.commands.drills import making as drill_making

        if action == "new":
            return drill_making.new(arguments)
        if not what:
            raise UsageError("from what? Such as: widehand drills from 'C | Am7 D7/F# | G', or from tune.musicxml")
        return drill_making.from_(arguments)
    from listener.commands.drills import check as drill_check

    if not what:
        raise UsageError(f"which drill? Such as: widehand drills {action} {bundled_drills()[0]}")
    return drill_check.show(arguments) if action == "show" else drill_check.check(arguments)


def _check_options(arguments: Namespace) -> None:
    """An option that the action does not know would be passed over in silence."""
    for option in (*_LISTING, *_MAKING, *_FROM, *_GUITAR):
        if getattr(arguments, option) not in (None, False) and option not in _ALLOWED[arguments.action]:
            actions = " and ".join(f"'drills {action}'" for action, known in _ALLOWED.items() if option in known)
            raise UsageError(f"--{option} goes with {actions}, not with 'drills {arguments.action}'")
