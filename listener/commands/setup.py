"""What several commands do first: the drill, the guitar, the hand, the MIDI ports and the plan.

Options on the command line go first, then what a take says about itself, then the player's settings, then the defaults.
"""

from __future__ import annotations

from argparse import Namespace
from dataclasses import dataclass, replace
from pathlib import Path

from listener.commands.files import is_there
from listener.drill.drill_file import load_drill
from listener.drill.manners import Taste
from listener.errors import InstrumentError, StoreError
from listener.guitar.hand import Hand, make_hand
from listener.guitar.instrument import Instrument, make_instrument
from listener.hearing.take_file import TakeHeader
from listener.planning.easier import plan_easier
from listener.planning.plan import Plan
from listener.planning.planner import plan_drill
from listener.safe_text import echo
from listener.settings import Settings, load_settings


@dataclass(frozen=True)
class MidiChoice:
    """What to listen to, how it sends, and where the click goes; names as the player wrote them."""

    port: str | None
    pickup: str
    click_port: str | None


def plan_of(arguments: Namespace, drill: str, header: TakeHeader | None = None) -> Plan:
    """The plan of a drill (by name or path) for the guitar and hand of the options.

    What the options leave open comes from the header of a take, so that it is judged against what was played.
    """
    settings = load_settings()
    instrument = guitar_of(arguments, settings, header)
    hand = hand_of(arguments, settings, header)
    asked = load_drill(drill).to_taste(taste_of(settings, header))
    if getattr(arguments, "remarks", False) and not asked.remarks:
        asked = replace(asked, remarks=True)
    if getattr(arguments, "easier", False):
        return plan_easier(asked, instrument, hand)
    return plan_drill(asked, instrument, hand)


def guitar_of(arguments: Namespace, settings: Settings, header: TakeHeader | None = None) -> Instrument:
    """The instrument; an impossible one that the settings have a part in is told with their file."""
    tuning = arguments.tuning or (header.tuning if header else settings.tuning)
    capo = arguments.capo
    if capo is None:
        capo = header.capo if header else settings.capo
    try:
        return make_instrument(
            tuning,
            fret_count=header.frets if header else settings.fret_count,
            capo=capo,
            scale_mm=header.scale_mm if header else settings.scale_mm,
            left_handed=arguments.left_handed or (header.left_handed if header else settings.left_handed),
        )
    except InstrumentError as error:
        raise InstrumentError(f"{error}{_said_by(settings)}") from None


def hand_of(arguments: Namespace, settings: Settings, header: TakeHeader | None = None) -> Hand:
    """The hand."""
    return make_hand(arguments.hand or (header.hand if header else settings.hand))


def taste_of(settings: Settings, header: TakeHeader | None = None) -> Taste:
    """How the player likes chords."""
    said = header or settings
    return Taste(said.register, said.high_open)


def midi_of(arguments: Namespace, settings: Settings) -> MidiChoice:
    """Ports and pickup; an option of the command line may be None, or missing where a command has none."""

    def chosen(option: str, usual: str | None) -> str | None:
        return getattr(arguments, option, None) or usual

    return MidiChoice(
        port=chosen("port", settings.port),
        pickup=chosen("pickup", settings.pickup) or Settings.pickup,
        click_port=chosen("click", settings.click_port),
    )


def _said_by(settings: Settings) -> str:
    return f" (the settings in {settings.path} have a part in this)" if settings.path is not None else ""


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
