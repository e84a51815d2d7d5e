"""A take's description and verdicts as JSON rows, and back with every field checked.

The layout is in ``docs/bundle.md``.
"""

from __future__ import annotations

import json
from dataclasses import replace
from typing import Any, Final

from listener.errors import SourceError
from listener.guitar.hand import Hand
from listener.guitar.instrument import Instrument
from listener.hearing.pickup import Pickup
from listener.hearing.take_file import CLICK, OWN_PACE, TakeHeader
from listener.history.exchange.bundle import LONGEST_NAME, MOST_VERDICTS, BundledTake
from listener.history.exchange.strict import Fields
from listener.history.safekeeping.plan_check import (
    FASTEST,
    NAMES,
    NOTES,
    PITCH,
    SEMITONES,
    SLOWEST,
    STRINGS,
    movement_from,
)
from listener.history.store.kept_settings import hand_text, instrument_text, pickup_text
from listener.history.store.rows import TakeInfo, utc_text
from listener.history.store.touches import touch_of, touch_row
from listener.judging.touch.account import TouchAccount
from listener.judging.verdict import GRADES, Fault, Verdict
from listener.music.pitch import parse_pitch
from listener.records import choice, flag, listed, number, or_null, whole
from listener.safe_text import has_hidden

#: What is measured: milliseconds, and seconds from the start of a take.
_MS: Final = number(-1e7, 1e7)
_SECONDS: Final = number(-1e6, 1e6)
_MAYBE_MS: Final = or_null(_MS)
_MAYBE_SECONDS: Final = or_null(_SECONDS)
_SPREAD: Final = number(0, 1e7)
_PITCHES: Final = listed(PITCH, NOTES)
_MAYBE_PITCH: Final = or_null(PITCH)
_ATTEMPT: Final = whole(0, 100_000)
_GRADE: Final = choice(GRADES)
_LEAST: Final = or_null(whole(0, SEMITONES))
_SCORE: Final = or_null(number(0, 100))
_PACE: Final = choice((CLICK, OWN_PACE))
_CAPO: Final = whole(0, 36)
_FRETS: Final = whole(1, 36)
_SCALE_MM: Final = number(100, 2000)
#: Faults of one verdict.
_FAULTS: Final = 64


def take_row(take: BundledTake) -> dict[str, object]:
    """What the bundle says about a take besides its MIDI, drill and plan."""
    info = take.info
    return {
        "drill": info.drill,
        "sitting": utc_text(take.sitting),
        "started_at": utc_text(info.started_at),
        "finished_at": utc_text(take.finished_at),
        "recovered": take.recovered,
        "program_version": info.program_version,
        "judged_by": take.judged_by,
        "tuning": list(info.tuning),
        "capo": info.capo,
        "instrument": _row(instrument_text(info.instrument)),
        "hand": info.hand,
        "hand_model": _row(hand_text(info.hand_model)),
        "pickup": info.pickup,
        "pickup_profile": _row(pickup_text(info.pickup_profile)),
        "pace": info.pace,
        "tempo": info.tempo,
        "first_beat_s": info.first_beat_s,
        "source": info.source,
        "seed": info.seed,
        **({} if take.touch is None else {"touch": touch_row(take.touch)}),
        "verdicts": [verdict.as_json() for verdict in take.verdicts],
    }


def _row(text: str | None) -> Any:
    return None if text is None else json.loads(text)


def take_from(
    row: Fields, midi: bytes, header: TakeHeader | None, drill_text: str, plan: dict[str, Any]
) -> BundledTake:
    """What :func:`take_row` described; SourceError for anything else."""
    steps = max(1, len(plan.get("steps", ())))
    return BundledTake(
        info=info_from(row, header, drill_text, plan),
        sitting=row.moment("sitting"),
        finished_at=row.moment("finished_at"),
        recovered=row.read("recovered", flag, False),
        judged_by=row.text("judged_by", 40),
        midi=midi,
        verdicts=tuple(verdict_of(one, steps) for one in row.rows("verdicts", MOST_VERDICTS)),
        touch=row.part("touch", _touch),
    )


def _touch(row: Fields) -> TouchAccount:
    try:
        return touch_of(row.values)
    except (TypeError, ValueError) as error:
        raise SourceError(f"{row.where}: {error}; is the file damaged?") from None


def info_from(row: Fields, header: TakeHeader | None, drill_text: str, plan: dict[str, Any]) -> TakeInfo:
    """What a take was played on, its sitting left out."""
    return TakeInfo(
        session=0,
        drill=row.text("drill", LONGEST_NAME),
        drill_text=drill_text,
        plan=plan,
        tuning=row.read("tuning", NAMES, ()),
        capo=row.need("capo", _CAPO),
        hand=row.text("hand", 120),
        pickup=row.text("pickup", 120),
        pace=row.need("pace", _PACE),
        source=row.text("source", 200),
        started_at=row.moment("started_at"),
        tempo=row.need("tempo", or_null(number(SLOWEST, FASTEST))),
        first_beat_s=row.need("first_beat_s", _MAYBE_SECONDS),
        seed=row.need("seed", or_null(whole(-(2**62), 2**62))),
        header=header,
        program_version=row.text("program_version", 40),
        instrument=row.part("instrument", _instrument),
        hand_model=row.part("hand_model", _hand),
        pickup_profile=row.part("pickup_profile", _pickup),
    )


def check_header(header: TakeHeader, where: str) -> TakeHeader:
    """The header of a raw take, its numbers and texts within bounds."""
    row = Fields({name: getattr(header, name) for name in header.__dataclass_fields__}, f"{where}, header")
    longest = {"drill": LONGEST_NAME, "pickup": 120, "tuning": 200, "hand": 120, "made_by": 120, "started": 60}
    for name, most in longest.items():
        if has_hidden(row.text(name, most)):
            row.misfit(name, "a text without control characters")
    row.need("pace", _PACE)
    row.need("capo", _CAPO)
    row.need("frets", _FRETS)
    row.need("scale_mm", _SCALE_MM)
    row.read("left_handed", flag, False)
    return replace(
        header,
        tempo=row.need("tempo", number(0, FASTEST)),
        first_beat_s=row.need("first_beat_s", _MAYBE_SECONDS),
    )


def verdict_of(row: Fields, steps: int) -> Verdict:
    """A verdict on one of so many steps."""
    return Verdict(
        step=row.need("step", whole(0, steps - 1)),
        attempt=row.need("attempt", _ATTEMPT),
        grade=row.need("grade", _GRADE),
        faults=tuple(map(_fault, row.rows("faults", _FAULTS))),
        heard=row.read("heard", _PITCHES, ()),
        held=row.read("held", _PITCHES, ()),
        onset_s=row.need("onset_s", _SECONDS),
        spread_ms=row.need("spread_ms", _SPREAD),
        offset_ms=row.need("offset_ms", _MAYBE_MS),
        movement=row.part("movement", movement_from),
        least=row.need("least", _LEAST),
        movement_score=row.need("movement_score", _SCORE),
        own_offset_ms=row.need("own_offset_ms", _MAYBE_MS),
    )


def _fault(row: Fields) -> Fault:
    return Fault(
        code=row.text("code", 60, needed=True),
        text=row.text("text", 300),
        pitch=row.need("pitch", _MAYBE_PITCH),
        wanted=row.need("wanted", _MAYBE_PITCH),
        ms=row.need("ms", _MAYBE_MS),
    )


def _instrument(row: Fields) -> Instrument:
    return Instrument(
        name=row.text("name", 200),
        open_pitches=tuple(map(parse_pitch, row.read("open_pitches", NAMES, ()))),
        fret_count=row.need("fret_count", _FRETS),
        capo=row.need("capo", whole(0, 35)),
        scale_mm=row.need("scale_mm", _SCALE_MM),
        left_handed=row.read("left_handed", flag, False),
    )


def _hand(row: Fields) -> Hand:
    return Hand(
        name=row.text("name", 120),
        reach_mm=row.read("reach_mm", listed(number(0, 1000), 6), ()),
        barre_strings=row.read("barre_strings", listed(whole(1, STRINGS), 4), ()),
    )


def _pickup(row: Fields) -> Pickup:
    return Pickup(
        name=row.text("name", 120),
        about=row.text("about"),
        channels=row.read("channels", listed(whole(1, 16), 16), ()),
        tells_strings=row.read("tells_strings", flag, False),
        manager=row.need("manager", or_null(whole(1, 16))),
        bend_range_semitones=row.need("bend_range_semitones", number(0, 96)),
        velocity_floor=row.need("velocity_floor", whole(0, 127)),
        delay_periods=row.need("delay_periods", number(0, 100)),
        lag_ms=row.need("lag_ms", number(-1000, 1000)),
        cleaning=tuple(_cleaning(row)),
    )


def _cleaning(row: Fields) -> list[tuple[str, Any]]:
    """Rows of a name and a number, a word, or a list of whole numbers."""
    found: list[tuple[str, Any]] = []
    for pair in row.entries("cleaning", 64):
        if not isinstance(pair, list) or len(pair) != 2 or not isinstance(pair[0], str):
            row.misfit("cleaning", "a list of names with their values")
        one = Fields({"value": pair[1]}, row.where)
        if isinstance(pair[1], list):
            found.append((pair[0], one.read("value", listed(whole(-128, 128), 64), ())))
        elif isinstance(pair[1], bool | str):
            found.append((pair[0], one.text("value", 60) if isinstance(pair[1], str) else pair[1]))
        else:
            found.append((pair[0], one.need("value", _MS)))
    return found
