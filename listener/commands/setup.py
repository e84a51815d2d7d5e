"""What several commands do first: the drill, the guitar, the hand, the MIDI ports and the plan.

Options on the command line go first, then what a take says about itself, then the player's settings, then the defaults.
"""

from __future__ import annotations

from argparse import Namespace
from dataclasses import dataclass
from pathlib import Path
from typing import Final

from listener.commands.files import is_there
from listener.errors import StoreError
from listener.guitar.hand import Hand
from listener.guitar.instrument import Instrument
from listener.hearing.take_file import TakeHeader
from listener.planning.plan import Plan
from listener.request import Request, guitar_for, hand_for, plan_for
from listener.safe_text import echo
from listener.settings import Settings

#: What the command line says of guitar and hand when it says nothing.
NOTHING_ASKED: Final = Namespace(tuning=None, capo=None, hand=None, left_handed=False)


@dataclass(frozen=True)
class MidiChoice:
    """What to listen to, how it sends, and where the click goes; names as the player wrote them."""

    port: str | None
    pickup: str
    click_port: str | None


def plan_of(arguments: Namespace, drill: str, header: TakeHeader | None = None) -> Plan:
    """The plan of a drill (by name or path) for the guitar and hand of the options."""
    return plan_for(_request(arguments), drill, header)


def guitar_of(arguments: Namespace, settings: Settings, header: TakeHeader | None = None) -> Instrument:
    """The instrument of the options."""
    return guitar_for(_request(arguments), settings, header)


def hand_of(arguments: Namespace, settings: Settings, header: TakeHeader | None = None) -> Hand:
    """The hand of the options."""
    return hand_for(_request(arguments), settings, header)


def _request(arguments: Namespace) -> Request:
    """What the options ask for; those that a command does not have ask for nothing."""
    return Request(
        tuning=arguments.tuning,
        capo=arguments.capo,
        hand=arguments.hand,
        left_handed=arguments.left_handed,
        easier=getattr(arguments, "easier", False),
        remarks=getattr(arguments, "remarks", False),
    )


def midi_of(arguments: Namespace, settings: Settings) -> MidiChoice:
    """Ports and pickup; an option of the command line may be None, or missing where a command has none."""

    def chosen(option: str, usual: str | None) -> str | None:
        return getattr(arguments, option, None) or usual

    return MidiChoice(
        port=chosen("port", settings.port),
        pickup=chosen("pickup", settings.pickup) or Settings.pickup,
        click_port=chosen("click", settings.click_port),
    )


def store_path(arguments: Namespace) -> Path | str | None:
    """``--store``, a file or a server's address, or None for the usual place; with ``--student`` that student's history
    beside it. :class:`StoreError` when nothing of that student was taken in."""
    place = arguments.store or None
    student = getattr(arguments, "student", None)
    if student is None:
        return place
    from listener.history.exchange.filing import student_place

    beside = student_place(place, student)
    if not is_there(beside):
        raise StoreError(f"there are no takes of {echo(student)} here; take some in with: widehand import FILE")
    return beside
