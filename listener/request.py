"""What somebody asks a plan to be for: a guitar, a hand, how hard it may be.

What they say goes first, then what a take says about itself, then the player's settings, then the defaults.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

from listener.drill.drill import Drill
from listener.drill.drill_file import load_drill
from listener.drill.manners import Taste
from listener.errors import InstrumentError
from listener.guitar.hand import Hand, make_hand
from listener.guitar.instrument import Instrument, make_instrument
from listener.hearing.take_file import TakeHeader
from listener.planning.easier import plan_easier
from listener.planning.plan import Plan
from listener.planning.planner import plan_drill
from listener.settings import Settings, load_settings


@dataclass(frozen=True)
class Request:
    """Words as :func:`make_instrument` and :func:`make_hand` read them; None leaves something open. With ``easier`` a
    plan asks as little of the hand as it can, with ``remarks`` the end of a take has some whatever the drill says."""

    tuning: str | None = None
    capo: int | None = None
    hand: str | None = None
    left_handed: bool = False
    easier: bool = False
    remarks: bool = False


def plan_for(request: Request, drill: Drill | str, header: TakeHeader | None = None) -> Plan:
    """The plan of a drill (itself, its name or path) for the guitar and hand that are asked for.

    What the request leaves open comes from the header of a take, so that it is judged against what was played.
    """
    settings = load_settings()
    instrument = guitar_for(request, settings, header)
    hand = hand_for(request, settings, header)
    found = load_drill(drill) if isinstance(drill, str) else drill
    asked = found.to_taste(taste_of(settings, header))
    if request.remarks and not asked.remarks:
        asked = replace(asked, remarks=True)
    if request.easier:
        return plan_easier(asked, instrument, hand)
    return plan_drill(asked, instrument, hand)


def guitar_for(request: Request, settings: Settings, header: TakeHeader | None = None) -> Instrument:
    """The instrument; an impossible one that the settings have a part in is told with their file."""
    tuning = request.tuning or (header.tuning if header else settings.tuning)
    capo = request.capo
    if capo is None:
        capo = header.capo if header else settings.capo
    try:
        return make_instrument(
            tuning,
            fret_count=header.frets if header else settings.fret_count,
            capo=capo,
            scale_mm=header.scale_mm if header else settings.scale_mm,
            left_handed=request.left_handed or (header.left_handed if header else settings.left_handed),
        )
    except InstrumentError as error:
        raise InstrumentError(f"{error}{_said_by(settings)}") from None


def hand_for(request: Request, settings: Settings, header: TakeHeader | None = None) -> Hand:
    """The hand."""
    return make_hand(request.hand or (header.hand if header else settings.hand))


def taste_of(settings: Settings, header: TakeHeader | None = None) -> Taste:
    """How the player likes chords."""
    said = header or settings
    return Taste(said.register, said.high_open)


def _said_by(settings: Settings) -> str:
    return f" (the settings in {settings.path} have a part in this)" if settings.path is not None else ""
