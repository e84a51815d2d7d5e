"""A drill from playing: from a take, or from any MIDI file of somebody who plays guitar."""

from __future__ import annotations

from argparse import Namespace
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace
from itertools import pairwise
from math import inf
from typing import Final

from listener.commands.meters import meter_of
from listener.commands.setup import guitar_of, hand_of
from listener.drill.drill_text import Sketch
from listener.errors import SourceError, UsageError
from listener.hearing.events import Message
from listener.hearing.sources.opening import pickup_of
from listener.hearing.take_file import AnyTake, TakeStream, open_take
from listener.judging.free.keeping import KeptDrill, TakeHints, keep
from listener.music.scale import parse_key
from listener.settings import load_settings

TAKE: Final = "take"
#: Options that say what playing says itself, as attributes and as they are written.
_OF_A_TUNE: Final = {
    "chords": "--chords", "kind": "--kind", "top": "--top", "notes": "--notes", "transpose": "--transpose",
}  # fmt: skip
#: Options that only playing needs.
_OF_A_TAKE: Final = {"pickup": "--pickup", "from_s": "--from", "to_s": "--to"}
#: So many notes that begin within so many seconds of each other are a chord.
_CHORD: Final = 3
_TOGETHER_S: Final = 0.03


@dataclass(frozen=True)
class FromTake:
    """The sketch of the drill, and how it was come by."""

    sketch: Sketch
    kept: KeptDrill


def own_take(data: bytes, name: str) -> TakeStream | None:
    """The take, where these bytes are one of this program: its file says so at its beginning."""
    try:
        take = open_take(data, name)
    except SourceError:
        return None
    return take if take.header is not None else None


def chord_hint(data: bytes, name: str) -> list[str]:
    """What to try with a MIDI file that is read as a tune although most of it is chords; nothing for any other file."""
    try:
        begun = [message.time_s for message in open_take(data, name).messages if message.begins_note]
    except SourceError:
        return []
    sizes = [0]
    for before_s, now_s in pairwise((-1.0, *begun)):
        if now_s - before_s > _TOGETHER_S:
            sizes.append(0)
        sizes[-1] += 1
    if 2 * sum(size for size in sizes if size >= _CHORD) < len(begun):
        return []
    return ["Only its highest notes were taken. To keep its chords as they were played: --as take."]


def needs_take(arguments: Namespace) -> None:
    """:class:`UsageError` for options that make no sense with a tune or a chord line."""
    found = [words for name, words in _OF_A_TAKE.items() if getattr(arguments, name) is not None]
    if found:
        go = "goes" if len(found) == 1 else "go"
        raise UsageError(f"{' and '.join(found)} {go} with playing: is the file a take? Then add --as take")


def drill_from_take(take: TakeStream, name: str, arguments: Namespace, title: str) -> FromTake:
    """The drill of what was played; :class:`SourceError` where there is no chord in it. ``name`` is the file's."""
    found = [words for name, words in _OF_A_TUNE.items() if getattr(arguments, name) is not None]
    if found:
        do = "does" if len(found) == 1 else "do"
        raise UsageError(f"{' and '.join(found)} {do} not go with a take: its chords are those that were played")
    if arguments.to_s is not None and arguments.to_s <= (arguments.from_s or 0.0):
        raise UsageError("--to has to be later than --from")
    settings = load_settings()
    header = take.header
    pickup = pickup_of(take, arguments.pickup)
    remarks: list[str] = []
    if header is None:
        if take.has_drums:
            remarks.append("Channel 10 is percussion and was left out.")
        if arguments.pickup is None:
            remarks += _string_hint(take)
    asked = TakeHints(
        title=title,
        key=None if arguments.key is None else parse_key(arguments.key),
        tempo=arguments.tempo,
        meter=meter_of(arguments),
        from_s=arguments.from_s or 0.0,
        to_s=inf if arguments.to_s is None else arguments.to_s,
        part=_part(arguments),
    )
    guitar, hand = guitar_of(arguments, settings, header), hand_of(arguments, settings, header)
    kept = keep(take, name, pickup, guitar, hand, asked)
    mine = guitar_of(arguments, settings)
    if guitar.open_midi != mine.open_midi:
        capo = f" --capo {guitar.capo}" if guitar.capo else ""
        remarks.append(f"It was played on another guitar than yours: --tuning '{' '.join(guitar.tuning_names)}'{capo}.")
    sketch = kept.sketch
    return FromTake(replace(sketch, remarks=(*sketch.remarks[:1], *remarks, *sketch.remarks[1:])), kept)


def _string_hint(take: AnyTake) -> list[str]:
    """What to try where every channel sounds one note at a time, as pickups send that tell strings apart."""
    channels = {message.data[0] & 0x0F for message in take.messages if message.begins_note}
    if not 4 <= len(channels) <= 8 or any(_overlaps(take.messages, channel) for channel in channels):
        return []
    first = min(channels) + 1
    profile = "per-string" if first == 1 else f"'per-string from {first}'"
    return [
        f"{len(channels)} channels sound one note at a time each: if every string has its own, --pickup {profile} "
        "keeps the strings, too."
    ]


def _overlaps(messages: Iterable[Message], channel: int) -> bool:
    """Whether two notes of a channel sound at once for longer than a moment."""
    return any(length_s > 0.05 for length_s in _shared_s(messages, channel))


def _shared_s(messages: Iterable[Message], channel: int) -> Iterator[float]:
    sounding: dict[int, float] = {}
    for message in messages:
        if message.data[0] & 0x0F != channel or message.data[0] & 0xF0 not in (0x80, 0x90):
            continue
        if message.begins_note:
            sounding[message.data[1]] = message.time_s
            continue
        begun_s = sounding.pop(message.data[1], None)
        if begun_s is not None and sounding:
            yield message.time_s - max(begun_s, *sounding.values())


def _part(arguments: Namespace) -> int | None:
    if arguments.part is None:
        return None
    if not (arguments.part.isascii() and arguments.part.isdecimal() and len(arguments.part) < 6):
        raise UsageError(f"--part of a take is a number such as 1, not '{arguments.part}'")
    return int(arguments.part)
