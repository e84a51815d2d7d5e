"""The case suite: hundreds of small takes with the verdict that a teacher would give, each a file in ``cases/``.

``cases/README.md`` describes the files.
"""

from __future__ import annotations

import tomllib
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

from listener.drill.drill import EXACT, Drill, NoteWish, Step, Wish
from listener.following.pace import Anchor
from listener.guitar.fingering import Fingering
from listener.hearing.events import Message, on_grid
from listener.hearing.pickup import Pickup, make_pickup
from listener.hearing.take_file import Mark, Take
from listener.judging.take import END, judge_take
from listener.judging.verdict import HIT, Verdict
from listener.music.chord import parse_chord
from listener.music.movement import movement
from listener.music.pitch import Tone, parse_pitch, parse_tone
from listener.music.voicing import voicing_of
from listener.planning.plan import Plan, PlannedStep

CASES = Path(__file__).parent / "cases"
FILES = sorted(CASES.glob("*/*.toml"))

KEYS = {
    "about", "strictness", "pickup", "click_s", "tempo", "beats", "timing_ms", "ends_s", "added_top", "exact",
    "spelling", "without", "plan", "take", "verdict", "remarks",
}  # fmt: skip


def _notes(text: str) -> tuple[int, ...]:
    return tuple(parse_pitch(word).midi for word in text.split())


def _tones(case: dict[str, Any]) -> tuple[Tone, ...]:
    tones = tuple(map(parse_tone, case.get("spelling", "").split()))
    return tones or ((parse_pitch(case["added_top"]).tone,) if "added_top" in case else ())


def _wish(case: dict[str, Any], symbol: str, notes: tuple[int, ...]) -> Wish:
    return Wish(
        parse_chord(symbol),
        ("any",),
        top=NoteWish(pitch=parse_pitch(case["added_top"])) if "added_top" in case else NoteWish(),
        without=tuple(case.get("without", "").split()),
        added_top="added_top" in case,
        exact=notes if case.get("exact") else None,
        spelling=_tones(case) if case.get("exact") else (),
    )


def _plan(case: dict[str, Any]) -> Plan:
    """The planned voicings as a plan; strings from the lowest note's string up where the case does not say."""
    steps, beats = [], float(case.get("beats", 2.0))
    for index, row in enumerate(case["plan"]):
        notes = _notes(row["notes"])
        strings = tuple(row.get("strings", range(len(notes), 0, -1)))
        size = len(notes)
        fingering = Fingering(notes, strings, (1,) * size, (1,) * size, None, 0.0, 0.0, 20.0)
        wish = _wish(case, row["chord"], notes)
        start = index * beats
        step = Step(index, "case", 1, start + 1, start, beats, wish, case.get("strictness", EXACT))
        change = movement(_notes(case["plan"][index - 1]["notes"]), notes) if index else None
        steps.append(PlannedStep(step, voicing_of(wish.chord, notes, added=_tones(case)), fingering, change))
    drill = Drill(
        "case", "Case", "C major", float(case.get("tempo", 60.0)), (4, 4), tuple(one.step for one in steps),
        timing_ms=float(case.get("timing_ms", 80.0)), remarks=case.get("remarks", False),
    )  # fmt: skip
    options = tuple(
        tuple(sorted({one.voicing.midi, *map(_notes, row.get("also", ()))}))
        for one, row in zip(steps, case["plan"], strict=True)
    )
    return Plan(drill, tuple(steps), ("E2", "A2", "D3", "G3", "B3", "E4"), 6, 0, "medium", 0.0, options)


def _take(case: dict[str, Any], pickup: Pickup) -> Take:
    messages: list[Message] = []
    for index, row in enumerate(case.get("take", ())):
        start_s, gap_s = row.get("at_s", 1.0 + 2.0 * index), row.get("gap_ms", 4.0) / 1000
        strings = row.get("strings", ())
        for number, note in enumerate(_notes(row["notes"])):
            channel = pickup.channel_of(strings[number]) if strings else pickup.channels[0]
            onset_s = start_s + number * gap_s
            messages.append(Message(on_grid(onset_s), (0x90 | channel - 1, note, 80)))
            messages.append(Message(on_grid(onset_s + row.get("lasts_s", 0.8)), (0x80 | channel - 1, note, 0)))
    messages.sort(key=lambda message: (message.time_s, message.data[0]))
    marks = (Mark(case["ends_s"], END),) if "ends_s" in case else ()
    return Take(tuple(messages), marks, None)


def judge_case(case: dict[str, Any]) -> list[Verdict]:
    """Through the real chain: messages, notes, strokes, verdicts. No delay: times are those of the plucks."""
    pickup = replace(make_pickup(case.get("pickup", "single")), delay_periods=0.0)
    anchor = Anchor(0, case["click_s"], float(case.get("tempo", 60.0))) if "click_s" in case else None
    return judge_take(_plan(case), pickup, _take(case, pickup), anchor)


def test_there_are_cases() -> None:
    """The suite is not empty: at least 300 files, each with a plan and its verdicts, none of them only where the case
    says why, and no two alike but for the name."""
    assert len(FILES) >= 300
    cases = [tomllib.loads(file.read_text(encoding="utf-8")) for file in FILES]
    for file, case in zip(FILES, cases, strict=True):
        assert case["plan"], file
        assert case["verdict"] or case["about"], file
        assert set(case) <= KEYS, file
    told = [str({key: value for key, value in case.items() if key != "about"}) for case in cases]
    assert len(set(told)) == len(told), sorted(
        str(file) for file, one in zip(FILES, told, strict=True) if told.count(one) > 1
    )


def test_every_fault_has_cases() -> None:
    """Every kind of fault comes alone and beside another one in the suite, but for silence and left-out chords."""
    alone: set[str] = set()
    paired: set[str] = set()
    for file in FILES:
        for verdict in tomllib.loads(file.read_text(encoding="utf-8"))["verdict"]:
            codes = [fault.partition(":")[0] for fault in verdict.get("faults", ())]
            (alone if len(codes) == 1 else paired).update(codes)
    every = {
        "octave", "spacing", "inversion", "wrong_octave", "top_note", "wrong_tone", "missing", "extra", "late",
        "early", "string",
    }  # fmt: skip
    assert every | {"nothing", "left_out"} <= alone
    assert every | {"other_chord"} <= paired


@pytest.mark.parametrize("file", FILES, ids=lambda file: f"{file.parent.name}/{file.stem}")
def test_case(file: Path) -> None:
    """The program says what the teacher says: steps, attempts, grades, faults in order, word for word."""
    case = tomllib.loads(file.read_text(encoding="utf-8"))
    said = [
        (v.step + 1, v.attempt, v.grade, [f"{fault.code}: {fault.text}" for fault in v.faults])
        for v in judge_case(case)
    ]
    meant = [(row["step"], row.get("attempt", 1), row["grade"], row.get("faults", [])) for row in case["verdict"]]
    assert said == meant
    assert all((row["grade"] == HIT) == (not row.get("faults")) for row in case["verdict"])
