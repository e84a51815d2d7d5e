"""``widehand listen``: let the chords of a drill be heard, through a MIDI port or from strings computed here."""

from __future__ import annotations

import sys
import tempfile
from argparse import Namespace
from collections.abc import Callable, Sequence
from dataclasses import asdict, dataclass
from pathlib import Path
from textwrap import wrap
from typing import Final

from listener.commands.file_names import UNNAMED, find_drill, free_name
from listener.commands.files import write_file
from listener.commands.json_out import print_json
from listener.commands.playing.at_the_screen import broken, say
from listener.commands.setup import plan_of
from listener.errors import SourceError, UsageError
from listener.plain_words import counted
from listener.planning.excerpt import in_everyday_shapes, one_change, passages_named
from listener.planning.plan import Plan
from listener.sheets.by_hand import by_hand
from listener.sheets.wav_file import sounds_wav
from listener.sounding.plucked import RATE
from listener.sounding.string_sound import StringSound
from listener.sounding.wav import BYTES

#: Between two chords in the list of them, between a chord and its number, and how wide the list may be.
_BETWEEN: Final = "   "
_NO_BREAK: Final = "\u00a0"
_WIDTH: Final = 79


@dataclass(frozen=True)
class _Where:
    """Where it was sounded: the names of the port, the computer's player and the file; None for those that were not."""

    port: str | None = None
    player: str | None = None
    file: str | None = None


def main(arguments: Namespace) -> int:
    """Plan, choose what is to be heard, say what comes, and sound it."""
    find_drill(arguments, ("wav",))
    if arguments.wav in ("", "-"):
        raise UsageError("--wav needs the name of a file")
    if arguments.port == "":
        raise UsageError("--port needs the name of a MIDI output, or a part of it; widehand ports lists them")
    plan, missing = _chosen(plan_of(arguments, arguments.drill), arguments)
    tempo = arguments.tempo or plan.drill.tempo
    sounds = by_hand(plan, tempo)

    def tell() -> None:
        if missing:
            say(f"No everyday shape of {', '.join(missing)} on this guitar: there you hear the plan's own.")
        if not arguments.json:
            print(broken(_heading(plan, tempo, _seconds(sounds), everyday=arguments.everyday), sys.stdout))
            print(_chords(plan), flush=True)

    if arguments.port is not None:
        where = _through_port(arguments.port, sounds, tell)
    elif arguments.wav is not None:
        name = free_name(plan.drill.name, ".wav") if arguments.wav is UNNAMED else arguments.wav
        where = _into_file(name, sounds, tell)
    else:
        where = _aloud(sounds, plan.drill.name, tell)
    if arguments.json:
        print_json("listen", _document(plan, tempo, missing, where, everyday=arguments.everyday), indent=2)
    return 0


def _chosen(plan: Plan, arguments: Namespace) -> tuple[Plan, Sequence[str]]:
    """What of the plan is to be heard, and the chords that have no everyday shape where those are asked for."""
    if arguments.passage is not None:
        plan = passages_named(plan, arguments.passage)
    elif arguments.change is not None:
        plan = one_change(plan, arguments.change)
    return in_everyday_shapes(plan) if arguments.everyday else (plan, ())


# Each of these calls ``tell`` when nothing can go wrong any more but the sounding itself.


def _through_port(name: str, sounds: Sequence[StringSound], tell: Callable[[], None]) -> _Where:
    from listener.hearing.sources.port import open_output
    from listener.session.sound.listening import play_sounds
    from listener.session.take.clock import RealClock
    from listener.session.take.run import interrupts

    try:
        output = open_output(name)
    except SourceError as error:
        raise SourceError(f"{error}; without --port the strings are computed here") from None
    tell()
    say(f"Sounding on '{output.name}'. Ctrl-C ends it.")
    try:
        with interrupts() as interrupt:
            play_sounds(sounds, output, RealClock(), interrupt)
    finally:
        output.close()
    if interrupt.raised:
        raise KeyboardInterrupt
    return _Where(port=output.name)


def _into_file(name: str, sounds: Sequence[StringSound], tell: Callable[[], None]) -> _Where:
    write_file(name, sounds_wav(sounds))
    tell()
    say(f"written: {name}")
    return _Where(file=name)


def _aloud(sounds: Sequence[StringSound], name: str, tell: Callable[[], None]) -> _Where:
    """By the computer's player; where none can, the sound is left in a file."""
    from listener.session.sound.loudspeaker import play_file

    data = sounds_wav(sounds)
    tell()
    with tempfile.TemporaryDirectory(prefix="widehand-", ignore_cleanup_errors=True) as folder:
        path = Path(folder) / "sound.wav"
        write_file(path, data)
        player = play_file(path, len(data) / (RATE * BYTES))
    if player is not None:
        return _Where(player=player)
    file = _left(data, name)
    say(f"Nothing here could play it aloud; the sound is in {file}, for any player.")
    return _Where(file=str(file))


def _left(data: bytes, name: str) -> Path:
    """In a new file in this folder, NAME.wav or with a number behind it; elsewhere if nobody may write here."""
    path = Path(free_name(name, ".wav"))
    try:
        write_file(path, data)
    except SourceError:
        path = Path(tempfile.mkdtemp(prefix="widehand-")) / path.name
        write_file(path, data)
    return path


def _seconds(sounds: Sequence[StringSound]) -> float:
    return max((one.end_s for one in sounds), default=0.0)


def _heading(plan: Plan, tempo: float, seconds: float, *, everyday: bool) -> str:
    minutes, rest = divmod(round(seconds), 60)
    title = plan.drill.title or plan.drill.name
    shapes = " in everyday shapes" if everyday else ""
    what = f"{title}: {counted(len(plan.steps), 'chord')}{shapes}"
    return f"{what}, {minutes}:{rest:02} at {tempo:g} beats a minute"


def _chords(plan: Plan) -> str:
    """What is heard, each with the number that ``--change`` takes."""
    names = [f"{one.step.index + 1}{_NO_BREAK}{one.voicing.chord}" for one in plan.steps]
    return "\n".join(wrap(_BETWEEN.join(names), _WIDTH)).replace(_NO_BREAK, " ")


def _document(plan: Plan, tempo: float, missing: Sequence[str], where: _Where, *, everyday: bool) -> dict[str, object]:
    first = plan.steps[0].step.start_beats if plan.steps else 0.0
    return {
        "drill": plan.drill.name,
        "title": plan.drill.title,
        "tempo": tempo,
        "everyday": everyday,
        "no_everyday_shape": list(missing),
        **asdict(where),
        "chords": [
            {
                "index": one.step.index,
                "passage": one.step.passage,
                "chord": str(one.voicing.chord),
                "names": list(one.voicing.names),
                "strings": list(one.fingering.strings),
                "frets": list(one.fingering.frets),
                "start_s": round((one.step.start_beats - first) * 60 / tempo, 3),
                "end_s": round((one.step.start_beats + one.step.length_beats - first) * 60 / tempo, 3),
            }
            for one in plan.steps
        ],
    }
