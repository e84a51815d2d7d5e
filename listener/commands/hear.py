"""``widehand hear``: the same ears on a file, with a drill or without."""

from __future__ import annotations

import json
from argparse import Namespace
from dataclasses import replace
from pathlib import Path

from listener.commands.setup import plan_of
from listener.errors import SourceError
from listener.hearing.pickup import make_pickup
from listener.hearing.take_file import Take, read_take
from listener.judging.free import HeardChord, hear_freely
from listener.judging.pace import Anchor
from listener.judging.score import Summary, summarise
from listener.judging.take import first_onset_s, judge_take
from listener.judging.verdict import Verdict
from listener.judging.words import inversion_word
from listener.planning.plan import Plan


def main(arguments: Namespace) -> int:
    """Judge or name what a file holds."""
    take = load_take(Path(arguments.file))
    pickup = make_pickup(arguments.pickup or (take.header.pickup if take.header else "single"))
    if take.header is None:
        # Written, not converted from a sounding string: its notes begin when the file says.
        pickup = replace(pickup, delay_periods=0.0, lag_ms=0.0)
    if arguments.drill is None:
        heard = hear_freely(take, pickup)
        _print_strokes(heard, as_json=arguments.json)
        return 0
    plan = plan_of(arguments, arguments.drill, take.header)
    anchor = None
    if arguments.tempo is not None:
        if take.header is not None:
            raise SourceError(f"{arguments.file} is a take that carries its own timing; leave --tempo out")
        anchor = Anchor(0, first_onset_s(take), arguments.tempo)
    verdicts = judge_take(plan, pickup, take, anchor)
    if arguments.json:
        print(json.dumps(report(plan.drill.name, verdicts, summarise(verdicts, len(plan.steps)))))
    else:
        _print_verdicts(plan, verdicts, arguments.file)
    return 0


def load_take(path: Path) -> Take:
    """Read a file, with one clear line when it cannot be."""
    try:
        data = path.read_bytes()
    except OSError as error:
        reason = {FileNotFoundError: "there is no such file", IsADirectoryError: "that is a folder"}.get(
            type(error), error.strerror or "it cannot be read"
        )
        raise SourceError(f"{path}: {reason}; give a Standard MIDI File (.mid)") from None
    take = read_take(data, str(path))
    # The markers of a foreign file are rehearsal letters or chord names; only our own takes speak to the judge.
    return take if take.header is not None else replace(take, marks=())


def report(drill: str, verdicts: list[Verdict], summary: Summary) -> dict[str, object]:
    """The ``hear`` contract with a drill; ``play`` and ``demo`` report the same."""
    return {"drill": drill, "attempts": [verdict.as_json() for verdict in verdicts], "summary": summary.as_json()}


def _print_verdicts(plan: Plan, verdicts: list[Verdict], file: str) -> None:
    """One line for each verdict, then what the take comes to: the words of the plain screen."""
    from listener.screen.plain import verdict_line
    from listener.screen.summary import summary_lines
    from listener.session.state import FINISHED, Snapshot

    snapshot = Snapshot(
        plan=plan,
        phase=FINISHED,
        step=len(plan.steps),
        verdict=None,
        verdicts=tuple(verdicts),
        sounding=(),
        now_s=0.0,
        tempo=None,
        bar=0,
        beat=0,
        source=file,
    )
    for line in (*(verdict_line(snapshot, verdict) for verdict in verdicts), *summary_lines(snapshot)):
        print(line)


def _print_strokes(heard: list[HeardChord], *, as_json: bool) -> None:
    if as_json:
        print(json.dumps({"strokes": [chord.as_json() for chord in heard]}))
        return
    for chord in heard:
        moved = "" if chord.movement is None else f"  moved {chord.movement.semitones}"
        kind = "" if chord.kind is None else f" {chord.kind}, {inversion_word(chord.inversion)}"
        name = chord.chord or "no chord name"
        print(f"{chord.onset_s:8.2f} s  {name:<8}{kind}: {' '.join(chord.names)}{moved}")
    print(f"{len(heard)} chords and notes heard")
