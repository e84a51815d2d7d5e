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
from listener.history.exchange.strict import Fields, has_hidden
from listener.history.safekeeping.plan_check import FASTEST, NOTES, SEMITONES, SLOWEST, STRINGS, movement_from
from listener.history.store.kept_settings import hand_text, instrument_text, pickup_text
from listener.history.store.rows import TakeInfo, utc_text
from listener.history.store.touches import touch_of, touch_row
from listener.judging.touch.account import TouchAccount
from listener.judging.verdict import GRADES, Fault, Verdict
from listener.music.pitch import parse_pitch

#: Bounds of what is measured: milliseconds, seconds from the start of a take; faults of one verdict.
_MS: Final = 1e7
_SECONDS: Final = 1e6
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
        recovered=row.flag("recovered"),
        judged_by=row.text("judged_by", 40),
        midi=midi,
        verdicts=tuple(verdict_of(one, steps) for one in row.rows("verdicts", MOST_VERDICTS)),
        touch=row.part("touch", _touch),
    )


def _touch(row: Fields) -> TouchAccount:
    try:
        return touch_of(row.row)
    except (TypeError, ValueError) as error:
        raise SourceError(f"{row.where}: {error}; is the file damaged?") from None


def info_from(row: Fields, header: TakeHeader | None, drill_text: str, plan: dict[str, Any]) -> TakeInfo:
    """What a take was played on, its sitting left out."""
    return TakeInfo(
        session=0,
        drill=row.text("drill", LONGEST_NAME),
        drill_text=drill_text,
        plan=plan,
        tuning=row.texts("tuning", 12, STRINGS),
        capo=row.whole("capo", 0, 36),
        hand=row.text("hand", 120),
        pickup=row.text("pickup", 120),
        pace=row.choice("pace", (CLICK, OWN_PACE)),
        source=row.text("source", 200),
        started_at=row.moment("started_at"),
        tempo=row.real_or_none("tempo", SLOWEST, FASTEST),
        first_beat_s=row.real_or_none("first_beat_s", -_SECONDS, _SECONDS),
        seed=row.whole_or_none("seed", -(2**62), 2**62),
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
            row.wrong(name, "a text without control characters")
    row.choice("pace", (CLICK, OWN_PACE))
    row.whole("capo", 0, 36)
    row.whole("frets", 1, 36)
    row.real("scale_mm", 100, 2000)
    row.flag("left_handed")
    return replace(
        header,
        tempo=row.real("tempo", 0, FASTEST),
        first_beat_s=row.real_or_none("first_beat_s", -_SECONDS, _SECONDS),
    )


def verdict_of(row: Fields, steps: int) -> Verdict:
    """A verdict on one of so many steps."""
    return Verdict(
        step=row.whole("step", 0, steps - 1),
        attempt=row.whole("attempt", 0, 100_000),
        grade=row.choice("grade", GRADES),
        faults=tuple(map(_fault, row.rows("faults", _FAULTS))),
        heard=row.wholes("heard", 0, 127, NOTES),
        held=row.wholes("held", 0, 127, NOTES),
        onset_s=row.real("onset_s", -_SECONDS, _SECONDS),
        spread_ms=row.real("spread_ms", 0, _MS),
        offset_ms=row.real_or_none("offset_ms", -_MS, _MS),
        movement=row.part("movement", movement_from),
        least=row.whole_or_none("least", 0, SEMITONES),
        movement_score=row.real_or_none("movement_score", 0, 100),
        own_offset_ms=row.real_or_none("own_offset_ms", -_MS, _MS),
    )


def _fault(row: Fields) -> Fault:
    return Fault(
        code=row.text("code", 60, needed=True),
        text=row.text("text", 300),
        pitch=row.whole_or_none("pitch", 0, 127),
        wanted=row.whole_or_none("wanted", 0, 127),
        ms=row.real_or_none("ms", -_MS, _MS),
    )


def _instrument(row: Fields) -> Instrument:
    return Instrument(
        name=row.text("name", 200),
        open_pitches=tuple(map(parse_pitch, row.texts("open_pitches", 12, STRINGS))),
        fret_count=row.whole("fret_count", 1, 36),
        capo=row.whole("capo", 0, 35),
        scale_mm=row.real("scale_mm", 100, 2000),
        left_handed=row.flag("left_handed"),
    )


def _hand(row: Fields) -> Hand:
    return Hand(
        name=row.text("name", 120),
        reach_mm=row.reals("reach_mm", 0, 1000, 6),
        barre_strings=row.wholes("barre_strings", 1, STRINGS, 4),
    )


def _pickup(row: Fields) -> Pickup:
    return Pickup(
        name=row.text("name", 120),
        about=row.text("about"),
        channels=row.wholes("channels", 1, 16, 16),
        tells_strings=row.flag("tells_strings"),
        manager=row.whole_or_none("manager", 1, 16),
        bend_range_semitones=row.real("bend_range_semitones", 0, 96),
        velocity_floor=row.whole("velocity_floor", 0, 127),
        delay_periods=row.real("delay_periods", 0, 100),
        lag_ms=row.real("lag_ms", -1000, 1000),
        cleaning=tuple(_cleaning(row)),
    )


def _cleaning(row: Fields) -> list[tuple[str, Any]]:
    """Rows of a name and a number, a word, or a list of whole numbers."""
    found: list[tuple[str, Any]] = []
    for pair in row.entries("cleaning", 64):
        if not isinstance(pair, list) or len(pair) != 2 or not isinstance(pair[0], str):
            row.wrong("cleaning", "a list of names with their values")
        one = Fields({"value": pair[1]}, row.where)
        if isinstance(pair[1], list):
            found.append((pair[0], one.wholes("value", -128, 128, 64)))
        elif isinstance(pair[1], bool | str):
            found.append((pair[0], one.text("value", 60) if isinstance(pair[1], str) else pair[1]))
        else:
            found.append((pair[0], one.real("value", -_MS, _MS)))
    return found
