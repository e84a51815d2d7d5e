"""The dashboard as text: it fits, it is complete, and it says everything without colour."""

from __future__ import annotations

import itertools
from collections.abc import Callable
from dataclasses import replace

import pytest
from rich.cells import cell_len

from listener.guitar.instrument import make_instrument
from listener.judging.verdict import GRADES, HIT, MISS, NEAR, Fault
from listener.judging.words import ChordWords
from listener.music.chord import parse_chord
from listener.planning.plan import Plan
from listener.screen.practice.dashboard import MORE, dashboard
from listener.screen.practice.summary import short_lines, summary_lines
from listener.screen.theme import Theme
from listener.session.rest import PAIN, Load, reminder
from listener.session.take.state import COUNT_IN, FINISHED, PAUSED, PLAYING, READY, Snapshot

SIZES = ((80, 24), (100, 30), (140, 40), (118, 36), (81, 25), (250, 70))
#: What the row of keys says for each.
KEYS = {
    "pause": " space  pause ", "again": " ←  again ", "back": " b  back ", "next": " →  next ",
    "slower": " ↓ ↑  tempo ", "faster": " ↓ ↑  tempo ", "target": " t  hear ", "quit": " q  quit",
}  # fmt: skip


@pytest.fixture
def moments(verse: Plan, moment, verdict_on, miss, eights: Plan, fours: Plan) -> dict[str, Snapshot]:  # type: ignore[no-untyped-def]
    """Snapshots from every part of a take, and from unusual instruments."""
    silent = verdict_on(verse, 1, MISS, (Fault("nothing", "nothing was heard"),), heard=())
    none = {"verdict": None, "verdicts": (), "step": 0}
    hit = verdict_on(verse, 0)
    long_fault = Fault("missing", "the flat 9th (C4) on top is missing " * 6)
    named = replace(verse.drill, title="A very long title about a window " * 5)
    everything = tuple(verdict_on(verse, index, GRADES[index % 3]) for index in range(8)) * 30
    return {
        "ready": moment(verse, phase=READY, tempo=None, bar=0, beat=0, **none),
        "count-in": moment(verse, phase=COUNT_IN, bar=0, beat=3, **none),
        "hit": moment(verse, step=1, verdict=hit, verdicts=(hit,)),
        "unsettled": moment(verse, step=1, verdict=replace(hit, settled=False), verdicts=()),
        "near": moment(verse),
        "miss": moment(verse, step=3, verdict=miss(verse, 2)),
        "silence": moment(verse, verdict=silent),
        "paused": moment(verse, phase=PAUSED, note="paused since a minute"),
        "the target can be heard": moment(verse, can_sound=True),
        "own pace": moment(verse, tempo=None, bar=0, beat=0),
        "finished": moment(verse, phase=FINISHED, step=8, note="the take is kept"),
        "finished empty": moment(verse, phase=FINISHED, **{**none, "step": 8}),
        "last": moment(verse, step=7),
        "full shape": moment(verse, step=6, sounding=(40, 47, 52, 55, 59, 64)),
        "wrong notes ring": moment(verse, sounding=(41, 61, 66, 71)),
        "eight strings": moment(eights, note="eight strings, six voices"),
        "four strings": moment(fours, step=1, verdict=None, verdicts=()),
        "long words": moment(replace(verse, drill=named), verdict=verdict_on(verse, 1, NEAR, (long_fault, long_fault)),
                             source="a port with a very long name " * 4, note="a long line of talk " * 20),
        "long take": moment(verse, verdicts=everything),
    }  # fmt: skip


@pytest.mark.parametrize("ascii_only", [False, True])
@pytest.mark.parametrize("left_handed", [False, True])
@pytest.mark.parametrize(("width", "height"), SIZES)
def test_every_moment_fills_exactly_its_cells(
    moments: dict[str, Snapshot],
    printed: Callable[..., list[str]],
    width: int,
    height: int,
    left_handed: bool,
    ascii_only: bool,
) -> None:
    """No row is wider or narrower than asked, there are exactly as many rows as asked, and ASCII means ASCII."""
    for name, snapshot in moments.items():
        theme = Theme(ascii_only=ascii_only, left_handed=left_handed)
        lines = printed(dashboard(snapshot, width=width, height=height, theme=theme), width)
        assert len(lines) == height, name
        assert {cell_len(line) for line in lines} == {width}, name
        assert not ascii_only or "".join(lines).isascii(), name
        assert "?" not in "".join(lines[:-1]), name


@pytest.mark.parametrize(("width", "height"), SIZES)
def test_keys_step_and_source_are_always_there(
    moments: dict[str, Snapshot], printed: Callable[..., list[str]], width: int, height: int
) -> None:
    """Whatever happens, the player sees the keys, the place in the drill, what is listened to and the counts."""
    for name, snapshot in moments.items():
        text = "\n".join(printed(dashboard(snapshot, width=width, height=height, theme=Theme()), width))
        words = {**KEYS, "pause": " space  go on "} if snapshot.phase == PAUSED else KEYS
        assert {key for key, word in words.items() if word in text} == set(snapshot.keys), name
        assert " ?  help " in text, name
        assert f"of {len(snapshot.plan.steps)}" in text, name
        assert snapshot.source[:20] in text, name
        assert "●" in text, name
        assert snapshot.note[:30] in text, name


@pytest.mark.parametrize(("width", "height"), SIZES)
def test_near_answers_the_three_questions(
    verse: Plan, moment: Callable[..., Snapshot], printed: Callable[..., list[str]], width: int, height: int
) -> None:
    """What do I play (voicing, top note, degree, fingers), what did I play (grade, notes, fault), what comes next."""
    lines = printed(dashboard(moment(verse), width=width, height=height, theme=Theme()), width)
    text = "\n".join(lines)
    for fact in ("drop 2, root position", "top B4, the 3", "[4]", "(3)", "(2)", "(1)", "F♯4 ", "D4 ", "G3 "):
        assert fact in text, fact
    words = " ".join(text.split())
    for fact in ("◐ near D7", "heard F♯3 C4 D4 G4", "right chord, but close: lift the E an", "7 ms late"):
        assert fact in words, fact
    for fact in ("C 3fr", "F♯m7♭5 9fr", "─ played ─", "A4 ≠ G4", "1 hit", "1 near", "0 misses", "mean 83"):
        assert fact in text, fact
    assert "84 beats a minute" in text
    assert "[3]" in text


def test_four_voices_leave_room_for_both_faults(
    verse: Plan,
    plan_from: Callable[..., Plan],
    moment: Callable[..., Snapshot],
    printed: Callable[..., list[str]],
) -> None:
    """At 80 x 24 and with four voices, two faults are shown whole, one of them over two lines."""
    shapes = [("Am7", (None, None, 5, 5, 5, 5), (1, 1, 1, 1)), ("D7", (None, None, 4, 5, 3, 5), (2, 3, 1, 4))] * 3
    lines = printed(dashboard(moment(plan_from(shapes)), width=80, height=24, theme=Theme()), 80)
    words = " ".join(" ".join(line[39:] for line in lines).split())
    assert "right chord, but close: lift the E an octave top note is D4, the plan says E4" in words


@pytest.mark.parametrize("grade", GRADES)
def test_grade_is_said_by_word_sign_and_length(
    verse: Plan,
    moment: Callable[..., Snapshot],
    verdict_on,
    printed: Callable[..., list[str]],
    grade: str,  # type: ignore[no-untyped-def]
) -> None:
    """Colour carries nothing alone: word and sign differ, and the reversed bar is whole, half or absent."""
    verdict = verdict_on(verse, 1, grade)
    picture = dashboard(moment(verse, verdict=verdict), width=80, height=24, theme=Theme())
    region = picture.verdict
    assert region is not None
    line = printed(picture, 80)[region.top]
    sign = {HIT: "●", NEAR: "◐", MISS: "○"}[grade]
    assert f"{sign} {grade}" in line
    bar = sum(part.cell_length for part in picture.rows[region.top] if part.style and part.style.reverse)
    assert bar == {HIT: region.width, NEAR: region.width // 2, MISS: 0}[grade]


@pytest.mark.parametrize(("width", "height"), SIZES)
def test_a_word_of_care_is_never_cut(
    verse: Plan,
    eights: Plan,
    moment: Callable[..., Snapshot],
    printed: Callable[..., list[str]],
    width: int,
    height: int,
) -> None:
    """The reminder to rest, what pain means and whom to ask stand on every size of screen, in a take, between two with
    the loop's words before it, in free listening, and on a crowded one."""
    load = Load(playing_s=1700.0, stretch_s=1700.0, last_s=0.0)
    care = reminder(load, 1.0)
    assert PAIN in care
    both = f"next: steps 3 to 4 (Gmaj7 to Ebmaj7#11), clean 1 of 3; {care}"
    for snapshot in (
        moment(verse, note=care), moment(verse, phase=FINISHED, note=both), moment(eights, note=care),
        moment(verse, phase=FINISHED, step=8, note=both), moment(verse, chords=(), note=care),
    ):  # fmt: skip
        lines = printed(dashboard(snapshot, width=width, height=height, theme=Theme()), width)
        assert snapshot.note in " ".join(" ".join(lines).split())
        assert " q  quit" in lines[-1]


def test_every_shape_has_a_name(
    plan_from: Callable[..., Plan], moment: Callable[..., Snapshot], printed: Callable[..., list[str]]
) -> None:
    """A slash bass is named by its note, a spacing without a name is called free: no word only the program knows."""
    plan = plan_from([("D/G", (3, None, 0, None, None, 2), (2, 0, 1)), ("C", (None, 3, 5, None, 5, None), (1, 3, 4))])
    for size in ((80, 24), (140, 40)):
        over = moment(plan, step=0, verdict=None, verdicts=())
        text = "\n".join(printed(dashboard(over, width=size[0], height=size[1], theme=Theme()), size[0]))
        assert "free spacing, G in the bass" in text
        assert "other" not in text


def test_count_in_shows_the_beat_large(
    verse: Plan, moment: Callable[..., Snapshot], printed: Callable[..., list[str]]
) -> None:
    """During the count-in the beat stands where the verdict will be."""
    snapshot = moment(verse, phase=COUNT_IN, step=0, verdict=None, verdicts=(), bar=0, beat=2)
    text = "\n".join(printed(dashboard(snapshot, width=80, height=24, theme=Theme()), 80))
    assert "count-in, beat 2 of 4" in text
    assert "█" in text
    assert "[2]" in text


def test_ringing_notes_are_marked(
    verse: Plan, moment: Callable[..., Snapshot], printed: Callable[..., list[str]]
) -> None:
    """A planned note that rings has a sign behind its name; one that is not planned is named beside the frets."""
    silent = "\n".join(printed(dashboard(moment(verse), width=80, height=24, theme=Theme()), 80))
    ringing = moment(verse, sounding=(71, 61))
    text = "\n".join(printed(dashboard(ringing, width=80, height=24, theme=Theme()), 80))
    assert "B4  ◂" in text
    assert "B4  ◂" not in silent
    assert "+C♯4" in text


def test_same_moment_same_picture(verse: Plan, moment: Callable[..., Snapshot]) -> None:
    """The dashboard is a pure function, and the time alone changes nothing."""
    first = dashboard(moment(verse), width=100, height=30, theme=Theme())
    assert first == dashboard(moment(verse, now_s=99.0), width=100, height=30, theme=Theme())


def test_larger_terminals_reflow(
    verse: Plan, moment: Callable[..., Snapshot], printed: Callable[..., list[str]]
) -> None:
    """140 x 40 shows what 80 x 24 has no room for: planned against heard, notes on coming shapes, timing."""
    small = "\n".join(printed(dashboard(moment(verse), width=80, height=24, theme=Theme()), 80))
    large = "\n".join(printed(dashboard(moment(verse), width=140, height=40, theme=Theme()), 140))
    for fact in ("planned", "early ", "E♭maj7♯11", "spread, root position"):
        assert fact in large
        assert fact not in small


def test_a_neck_for_the_far_end_of_the_room(
    verse: Plan, moment: Callable[..., Snapshot], printed: Callable[..., list[str]]
) -> None:
    """With height to spare the strings stand a row apart, with the inlays of a real neck in the middle; mirrored for
    the left hand, and the names keep their strings."""
    for left_handed in (False, True):
        theme = Theme(left_handed=left_handed)
        lines = printed(dashboard(moment(verse), width=140, height=50, theme=theme), 140)
        labels = [f"{string} {name} " for string, name in enumerate("EBGDAE", start=1)]
        strings = [number for number, line in enumerate(lines) if line[:4] in labels]
        assert [after - before for before, after in itertools.pairwise(strings)] == [2] * 5
        inlays, numbers = lines[strings[2] + 1][:63], lines[strings[0] - 1]
        for fret in range(5, 9):
            assert (inlays[numbers.index(str(fret))] == "·") is (fret in (5, 7))


def test_the_line_goes_on_below(
    plan_from: Callable[..., Plan], moment: Callable[..., Snapshot], printed: Callable[..., list[str]]
) -> None:
    """A long drill on a tall screen: more than one block of voices, every chord once and in order."""
    roots = ("C", "C#", "D", "Eb", "E", "F", "F#", "G", "Ab", "A", "Bb", "B")
    shapes = [(root, (None, fret, fret + 2, None, fret + 2, None), (1, 3, 4)) for fret, root in enumerate(roots, 3)]
    lines = printed(dashboard(moment(plan_from(shapes)), width=140, height=50, theme=Theme()), 140)
    heads = [line for line in lines if line.startswith("──── ")]
    assert len(heads) == 2
    shown = [word for head in heads for word in head.replace("─", " ").split() if word not in "●◐○▸"]
    assert shown == [Theme().chord(parse_chord(root)) for root in roots]
    assert "before" in "\n".join(lines)


def test_voices_of_another_passage_take_no_room(
    plan_from: Callable[..., Plan], moment: Callable[..., Snapshot], printed: Callable[..., list[str]]
) -> None:
    """Full shapes in another passage: as many lines as this passage has voices; of the others top and bass are kept."""
    full, spread = ("Em", (0, 2, 2, 0, 0, 0), (0, 2, 3, 0, 0, 0)), ("C", (None, 3, 5, None, 5, None), (1, 3, 4))
    plan = plan_from([full, spread, spread, spread])
    other = [replace(planned, step=replace(planned.step, passage="other")) for planned in plan.steps[1:]]
    snapshot = moment(replace(plan, steps=(plan.steps[0], *other)), step=1)
    lines = printed(dashboard(snapshot, width=80, height=24, theme=Theme()), 80)
    first = next(number for number, line in enumerate(lines) if line.startswith("──── "))
    assert [line.split()[:2] for line in lines[first + 1 : first + 4]] == [["top", "E4"], ["2", "B3"], ["3", "E2"]]
    assert lines[first + 4].startswith("●")


def test_the_end_has_the_whole_width(
    verse: Plan, moment: Callable[..., Snapshot], printed: Callable[..., list[str]]
) -> None:
    """The summary of a finished take is not cut at 80 x 24, and the last verdict stands under it."""
    over = moment(verse, phase=FINISHED, step=8, since="Since last time: 2 more hits (5 of 8).")
    words = " ".join(" ".join(printed(dashboard(over, width=80, height=24, theme=Theme()), 80)).split())
    for line in short_lines(over):
        assert Theme().words(line) in words
    said = printed(dashboard(over, width=80, height=24, theme=Theme(), page=MORE), 80)
    assert " m  more " in said[-1]
    for line in summary_lines(over):
        assert Theme().words(line) in " ".join(" ".join(said).split())
    assert "◐ near D7" in words


@pytest.mark.parametrize(("width", "height"), [(60, 16), (80, 24), (140, 40)])
def test_no_summary_before_all_is_settled(
    verse: Plan, moment: Callable[..., Snapshot], printed: Callable[..., list[str]], width: int, height: int
) -> None:
    """After the last chord a take may go on for a moment: nobody is told that it was broken off."""
    for phase in (PLAYING, PAUSED):
        last = moment(verse, phase=phase, step=8)
        words = " ".join(" ".join(printed(dashboard(last, width=width, height=height, theme=Theme()), width)).split())
        assert "That was the last chord." in words
        assert "broken off" not in words
        assert short_lines(last)[0] not in words


def test_heard_notes_are_named_as_in_the_fault(
    verse: Plan,
    moment: Callable[..., Snapshot],
    verdict_on,  # type: ignore[no-untyped-def]
    printed: Callable[..., list[str]],
) -> None:
    """E flat over C is E flat everywhere: in the fault, beside the neck, among the heard notes, beside the planned ones
    and on the line."""
    fault = ChordWords(parse_chord("C")).wrong_tone(64, 63)
    verdict = verdict_on(verse, 3, NEAR, (fault,), heard=(48, 55, 63))
    snapshot = moment(verse, step=3, verdict=verdict, sounding=(63,))
    text = "\n".join(printed(dashboard(snapshot, width=140, height=40, theme=Theme()), 140))
    assert "Eb4" in fault.text
    assert text.count("E♭4") == 5
    assert "D♯4" not in text


def test_too_many_voices_keep_top_and_bass(
    eights: Plan, moment: Callable[..., Snapshot], printed: Callable[..., list[str]]
) -> None:
    """Six voices on eight strings at 80 x 24: inner voices give way, the outer ones stay."""
    lines = printed(dashboard(moment(eights), width=80, height=24, theme=Theme()), 80)
    labels = [line.split()[0] for line in lines[-7:-2]]
    assert labels[-1] == "6"
    assert "top" in labels


def test_steering_characters_never_reach_the_terminal(
    verse: Plan, moment: Callable[..., Snapshot], printed: Callable[..., list[str]]
) -> None:
    """A title, port name or note with escape sequences is shown without them."""
    drill = replace(verse.drill, title="\x1b[2J\x07Verse\nsecond line", key="G\r")
    snapshot = moment(replace(verse, drill=drill), source="port\x1b]0;x\x07", note="a\tb\u202e")
    for theme in (Theme(), Theme(ascii_only=True)):
        lines = printed(dashboard(snapshot, width=80, height=24, theme=theme), 80)
        assert len(lines) == 24
        assert all(line.isprintable() for line in lines)


def test_keys_are_shown_only_where_they_do_something(verse: Plan, moment: Callable[..., Snapshot]) -> None:
    """No tempo to change at own pace, nothing to pause after the end, no target to hear without an output for it."""
    assert moment(verse).keys == ("pause", "again", "back", "next", "slower", "faster", "quit")
    assert moment(verse, tempo=None).keys == ("pause", "again", "back", "next", "quit")
    assert moment(verse, can_sound=True, tempo=None).keys == ("pause", "again", "back", "next", "target", "quit")
    assert moment(verse, phase=FINISHED, step=8).keys == ("again", "slower", "faster", "quit")
    assert moment(verse, phase=FINISHED, step=8, coming="now the whole").keys[:2] == ("again", "next")
    assert "target" not in moment(verse, phase=FINISHED, step=8, can_sound=True).keys
    assert "pause" not in moment(verse, phase=FINISHED, step=8).keys
    assert moment(verse, chords=()).keys == ("pause", "keep", "quit")


@pytest.mark.parametrize(("width", "height"), SIZES)
def test_a_shape_near_the_limit_is_marked(
    verse: Plan, moment: Callable[..., Snapshot], printed: Callable[..., list[str]], width: int, height: int
) -> None:
    """On every size of screen: that it is wide for the hand, with an easier shape of the same wish beside it."""
    instrument = make_instrument()
    planned = verse.steps[3]
    wide = replace(planned, fingering=replace(planned.fingering, strain=0.9))
    steps = (*verse.steps[:3], wide, *verse.steps[4:])
    at_limit = moment(replace(verse, steps=steps, instrument=instrument), step=3)
    text = "\n".join(printed(dashboard(at_limit, width=width, height=height, theme=Theme()), width))
    assert "wide; easier: " in text
    alone = moment(replace(verse, steps=steps), step=3)
    assert "wide: 90 % of the reach" in "\n".join(
        printed(dashboard(alone, width=width, height=height, theme=Theme()), width)
    )
    easy = moment(replace(verse, instrument=instrument), step=3)
    assert "wide" not in "\n".join(printed(dashboard(easy, width=width, height=height, theme=Theme()), width))
