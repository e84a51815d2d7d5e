"""``widehand drills new`` and ``widehand drills from``: a drill file made from answers, a chord line, or a tune's file.

Nothing is written before everything has been read and understood.
"""

from __future__ import annotations

import re
import shlex
import sys
from argparse import Namespace
from collections.abc import Iterable
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Final

from listener.commands.drills.from_take import TAKE, chord_hint, drill_from_take, needs_take, own_take
from listener.commands.drills.naming import ANOTHER_NAME, SUFFIX, called, how_to_list, name_for, place_for, title_from
from listener.commands.drills.questions import ask_all
from listener.commands.drills.writing import is_there, write_new
from listener.commands.files import is_folder
from listener.commands.guitar.asking import is_somebody_there
from listener.commands.json_out import print_json
from listener.commands.meters import meter_of
from listener.commands.playing.at_the_screen import broken, say
from listener.commands.setup import guitar_of, hand_of
from listener.drill.drill_file import load_drill
from listener.drill.drill_text import Sketch, drill_text
from listener.drill.making.chord_melody import EVERY, set_tune, sketch_of, thinned
from listener.drill.making.new_drill import faults, progression_sketch
from listener.errors import PlaceError, PlanError, SourceError, UsageError
from listener.guitar.hand import Hand
from listener.guitar.instrument import Instrument
from listener.hearing.sources.opening import load_take
from listener.hearing.take_file import LARGEST_BYTES, TakeStream
from listener.judging.free.keeping import KeptDrill
from listener.music.scale import Key, parse_key
from listener.places import given, read_file
from listener.plain_words import counted
from listener.planning.planner import plan_drill
from listener.planning.tune_place import fitted, moved
from listener.request import taste_of
from listener.settings import load_settings
from listener.tunes.chord_line import ChordLine, read_chord_line
from listener.tunes.melody import Melody, read_melody
from listener.tunes.parts import SAY_WHICH

#: Bytes of a melody file; scores of a whole evening are smaller.
_LARGEST: Final = 10_000_000
_FILE_NAME: Final = re.compile(r"[^|]*\.[A-Za-z][A-Za-z0-9]{1,8}")


@dataclass(frozen=True)
class Made:
    """What is to be written; ``remarks`` are for the player and stand in the file, too. ``kept`` is how it was come by
    where it was played."""

    sketch: Sketch
    name: str
    guessed_key: bool = False
    guessed_chords: bool = False
    kept: KeptDrill | None = None


def new(arguments: Namespace) -> int:
    """From the options, or where they say no chords from answers."""
    if arguments.chords is None:
        if arguments.json or not is_somebody_there():
            raise UsageError(
                "nobody is here to answer questions; say it with options, as in: "
                'widehand drills new --chords "C | Am7 D7/F# | G" --kind spread --name my-verse'
            )
        try:
            made = _asked(arguments)
        except KeyboardInterrupt:
            print("\nwidehand: stopped; nothing was written", file=sys.stderr)
            return 130
    else:
        made = _from_line(arguments.chords, arguments)
    return _finish(made, arguments)


def from_(arguments: Namespace) -> int:
    """From a chord line, from a file with a tune, or from a take."""
    what = arguments.drill
    if not _is_file_name(what):
        needs_take(arguments)
        if arguments.chords is not None:
            raise UsageError("the chords are there twice; give them once: widehand drills from 'C | Am7 D7 | G'")
        return _finish(_from_line(what, arguments), arguments)
    path = given(what)
    if path.suffix.lower() == SUFFIX:
        raise UsageError(f"{path} is a drill already; to look at it: widehand drills show {path}")
    if arguments.as_ == TAKE:
        return _finish(_from_take(load_take(path), path, arguments), arguments)
    data = _bytes(path, LARGEST_BYTES if arguments.as_ is None else _LARGEST)
    take = own_take(data, path.name) if arguments.as_ is None else None
    if take is not None:
        return _finish(_from_take(take, path, arguments), arguments)
    needs_take(arguments)
    return _finish(_from_tune(data, path, arguments), arguments)


def _is_file_name(what: str) -> bool:
    if _FILE_NAME.fullmatch(what.strip()):
        return True
    try:
        return "|" not in what and given(what).is_file()
    except (OSError, ValueError, PlaceError):
        return False


def _asked(arguments: Namespace) -> Made:
    """Nobody shall answer seven questions for a file that cannot be written."""
    is_file = arguments.out is not None and not is_folder(given(arguments.out))
    if arguments.name or arguments.drill or is_file:
        place = place_for(arguments, name_for(arguments, ""))
        if place.exists() and not arguments.force:
            raise SourceError(is_there(place))

    def taken(title: str) -> str | None:
        try:
            place = place_for(arguments, name_for(arguments, title))
        except UsageError as error:
            return str(error).replace(ANOTHER_NAME, "give it another title")
        if arguments.force or not place.exists():
            return None
        return f"{place} is there already; give it another title, or leave and replace it with --force"

    named = arguments.name or arguments.drill
    sketch = ask_all(_given(arguments), title=title_from(named) if named else None, taken=taken)
    return Made(sketch, name_for(arguments, sketch.title))


def _given(arguments: Namespace) -> dict[str, str]:
    """What the options say already, as it would be typed."""
    found = {"title": arguments.title, "key": arguments.key, "kind": arguments.kind, "top": arguments.top}
    found |= {"meter": arguments.meter, "tempo": None if arguments.tempo is None else f"{arguments.tempo:g}"}
    return {field: value for field, value in found.items() if value is not None}


def _from_line(text: str, arguments: Namespace) -> Made:
    key = _key(arguments)
    line = read_chord_line(text, key)
    title = arguments.title or title_from(arguments.drill if arguments.action == "new" else None, arguments.name)
    sketch, guessed = progression_sketch(line, key, title=title, kind=arguments.kind)
    sketch = _with_options(sketch, arguments)
    _check(sketch)
    return Made(sketch, name_for(arguments, title), guessed_key=guessed)


def _from_tune(data: bytes, path: Path, arguments: Namespace) -> Made:
    if arguments.top is not None:
        raise UsageError("--top does not go with a tune, which is the top line itself")
    _check_size(data, path, _LARGEST)
    melody = _melody(data, path, arguments.part)
    key = _key(arguments)
    line: ChordLine | None = None
    if arguments.chords is not None:
        line = read_chord_line(arguments.chords, key or melody.key)
    setting = thinned(set_tune(melody, key=key, meter=meter_of(arguments), line=line), arguments.notes or EVERY)
    kind = arguments.kind or "any"
    title = arguments.title or title_from(path.stem, arguments.name)
    _check(sketch_of(setting, title=title, kind=kind))
    if arguments.transpose is not None:
        setting = moved(setting, arguments.transpose)
    else:
        instrument, hand = _player(arguments)
        setting = fitted(setting, kind, instrument, hand)
    sketch = sketch_of(setting, title=title, kind=kind)
    if arguments.tempo is not None:
        sketch = replace(sketch, tempo=arguments.tempo)
    if arguments.part is None:
        sketch = replace(sketch, remarks=(*sketch.remarks, *chord_hint(data, path.name)))
    name = name_for(arguments, path.stem)
    return Made(sketch, name, guessed_key=setting.guessed_key, guessed_chords=setting.guessed_chords)


def _from_take(take: TakeStream, path: Path, arguments: Namespace) -> Made:
    title = arguments.title or title_from(path.stem, arguments.name)
    made = drill_from_take(take, path.name, arguments, title)
    _check(made.sketch)
    return Made(made.sketch, name_for(arguments, path.stem), guessed_key=arguments.key is None, kept=made.kept)


def _melody(data: bytes, path: Path, part: str | None) -> Melody:
    try:
        return read_melody(data, path.name, part=part)
    except SourceError as error:
        if part is None and SAY_WHICH in str(error):
            raise SourceError(f"{error}; as in --part 1") from None
        raise


def _bytes(path: Path, largest: int) -> bytes:
    try:
        data = read_file(path, largest)
    except FileNotFoundError:
        raise SourceError(f"{path}: there is no such file") from None
    except OSError as error:
        raise SourceError(f"{path} cannot be opened: {error.strerror or error}") from None
    _check_size(data, path, largest)
    return data


def _check_size(data: bytes, path: Path, largest: int) -> None:
    if len(data) > largest:
        raise SourceError(f"{path} is larger than {largest // 1_000_000} MB, more than any tune needs")


def _key(arguments: Namespace) -> Key | None:
    return None if arguments.key is None else parse_key(arguments.key)


def _with_options(sketch: Sketch, arguments: Namespace) -> Sketch:
    return replace(
        sketch,
        top=arguments.top or "",
        tempo=sketch.tempo if arguments.tempo is None else arguments.tempo,
        meter=arguments.meter or sketch.meter,
    )


def _check(sketch: Sketch) -> None:
    """What the drill file's reader says against it, before anything is written."""
    found = faults(sketch)
    if found:
        raise UsageError("; ".join(found))


def _player(arguments: Namespace) -> tuple[Instrument, Hand]:
    settings = load_settings()
    return guitar_of(arguments, settings), hand_of(arguments, settings)


def _finish(made: Made, arguments: Namespace) -> int:
    """Write the file, plan it, say how it went."""
    instrument, hand = _player(arguments)
    path = place_for(arguments, made.name)
    write_new(path, drill_text(made.sketch, path.name), force=arguments.force)
    drill = load_drill(str(path) if len(path.parts) > 1 else f"./{path}")
    said: dict[str, object] = {
        "file": str(path),
        "drill": drill.name,
        "title": drill.title,
        "key": drill.key,
        "guessed_key": made.guessed_key,
        "guessed_chords": made.guessed_chords,
        "chords": " | ".join(" ".join(bar.split()) for bar in re.split(r"[|\n]", made.sketch.chords)),
        "steps": len(drill.steps),
        "tempo": drill.tempo,
        "meter": list(drill.meter),
        "found_bars": made.kept is not None and made.kept.found,
        "unclear": [one.as_json() for one in made.kept.unclear] if made.kept is not None else [],
        "remarks": list(made.sketch.remarks),
    }
    try:
        plan = plan_drill(drill.to_taste(taste_of(load_settings())), instrument, hand)
    except PlanError as error:
        if arguments.json:
            print_json("new-drill", {**said, "playable": False, "reason": str(error), "total_movement": None})
            return 1
        _say(made.sketch.remarks)
        print(f"written: {path}", file=sys.stderr)
        raise PlanError(f"it cannot be played as it stands: {error}", step=error.step) from None
    if arguments.json:
        print_json("new-drill", {**said, "playable": True, "reason": None, "total_movement": plan.total_movement})
        return 0
    _say(made.sketch.remarks)
    print(f"written: {path}")
    bars = drill.steps[-1].bar
    guess = " (a guess; --key says otherwise)" if made.guessed_key else ""
    came = (
        f"{counted(len(drill.steps), 'chord')} in {counted(bars, 'bar')}, {drill.key}{guess}, "
        f"total movement {counted(plan.total_movement, 'semitone')}."
    )
    print(broken(came, sys.stdout))
    typed = shlex.quote(called(path))
    print(f"See the shapes: widehand plan {typed}\nPlay it: widehand play {typed}")
    listed = how_to_list(path)
    if listed:
        print(f"Find it by its name, in widehand drills too: {listed}")
    return 0


def _say(remarks: Iterable[str]) -> None:
    for remark in remarks:
        say(remark)
