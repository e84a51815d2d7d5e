"""Free listening in words and on the screen."""

from __future__ import annotations

import io
from collections.abc import Callable
from dataclasses import replace

import pytest
from rich.cells import cell_len

from listener.guitar.instrument import make_instrument
from listener.judging.free.free import HeardChord
from listener.judging.free.harmony import HarmonyChord
from listener.judging.free.smoother import Smoother
from listener.music.chord import parse_chord
from listener.music.movement import movement
from listener.music.voicing import voicing_of
from listener.planning.plan import Plan
from listener.screen.free.words import chord_line, free_summary
from listener.screen.practice.dashboard import dashboard
from listener.screen.practice.plain import PlainScreen
from listener.screen.theme import Theme
from listener.session.take.state import FINISHED, Snapshot

FIRST = HeardChord(1.0, 8.0, (48, 55, 64), (), ("C3", "G3", "E4"), "C", "spread", 0, None)
SMOOTHER = Smoother(
    voicing_of(parse_chord("F"), (48, 57, 65)), (5, 3, 1), (3, 2, 1), movement((48, 55, 64), (48, 57, 65))
)
SECOND = HeardChord(
    3.0, 9.0, (53, 60, 69), (), ("F3", "C4", "A4"), "F", "spread", 0, movement((48, 55, 64), (53, 60, 69)), SMOOTHER
)
NAMELESS = HeardChord(4.0, 9.0, (50, 66), (), ("D3", "F#4"), None, None, None, movement((53, 60, 69), (50, 66)))
NOTE = HeardChord(5.0, 0.0, (70,), (), ("Bb4",), None, None, None, movement((53, 60, 69), (70,)))


def test_a_chord_in_one_line() -> None:
    """Name, kind and inversion, notes, top note, movement and the smoother voicing, worked out by hand."""
    assert chord_line(FIRST) == "C: spread, root position; C3 G3 E4, top E4."
    assert chord_line(SECOND) == (
        "F: spread, root position; F3 C4 A4, top A4; moved 15 semitones, 0 held, largest 5; "
        "smoother: spread, second inversion, C3 A3 F4 (strings 5 3 1, frets 3 2 1), moves 3 semitones."
    )
    assert chord_line(NOTE).startswith("Bb4: Bb4, top Bb4; moved")
    assert chord_line(NOTE).endswith("moved 1 semitone, 0 held, 2 left.")


@pytest.mark.parametrize("ascii_only", [False, True])
@pytest.mark.parametrize(("width", "height"), [(80, 24), (100, 30), (200, 60)])
def test_it_fills_exactly_its_cells(
    verse: Plan,
    moment: Callable[..., Snapshot],
    printed: Callable[..., list[str]],
    width: int,
    height: int,
    ascii_only: bool,
) -> None:
    """Before the first chord, with a few, with a single note, with hundreds: the frame is full and nothing is lost."""
    for chords in ((), (FIRST,), (FIRST, SECOND), (FIRST, SECOND, NOTE), (FIRST, SECOND) * 200):
        snapshot = moment(verse, chords=chords, tempo=None, verdict=None, verdicts=())
        lines = printed(dashboard(snapshot, width=width, height=height, theme=Theme(ascii_only=ascii_only)), width)
        assert len(lines) == height
        assert {cell_len(line) for line in lines} == {width}
        assert not ascii_only or "".join(lines).isascii()
        text = " ".join(" ".join(lines).split())
        assert "q quit" in text
        if chords and chords[-1] is SECOND:
            assert "F3 C4 A4" in text
            assert "moved 15 semitones" in text
            assert "smoother: spread, second inversion, C3 A3 F4" in text
            assert "C3 G3 E4" in text


def _drawn(
    verse: Plan,
    moment: Callable[..., Snapshot],
    printed: Callable[..., list[str]],
    chords: tuple[HeardChord, ...],
    size: tuple[int, int] = (140, 40),
    theme: Theme = Theme(),  # noqa: B008 - frozen
) -> list[str]:
    plan = replace(verse, instrument=make_instrument())
    snapshot = moment(plan, chords=chords, tempo=None, verdict=None, verdicts=())
    return printed(dashboard(snapshot, width=size[0], height=size[1], theme=theme), size[0])


def test_a_large_screen_shows_the_chord_on_the_neck_and_the_smoother_one_beside_it(
    verse: Plan, moment: Callable[..., Snapshot], printed: Callable[..., list[str]]
) -> None:
    """F, A and C of the spread F lie on frets 3, 5 and 5 of strings 4, 3 and 1, the suggestion on frets 3, 2 and 1 of
    strings 5, 3 and 1, as in a chord book; the notes stand behind their strings."""
    lines = _drawn(verse, moment, printed, (FIRST, SECOND))
    head = lines[2]
    assert head.index("one place for it") < head.index("smoother")
    at = head.index("smoother") - 2
    drawn = {
        line[44:at].split()[0]: (line[44:at], line[at:]) for line in lines[4:15] if line[44:at].strip()[:1].isdigit()
    }
    assert list(drawn) == ["1", "2", "3", "4", "5", "6"]
    notes = {string: tuple(side.split("┤")[-1].strip() for side in sides) for string, sides in drawn.items()}
    assert notes == {
        "1": ("A4 top", "F4 top"), "2": ("", ""), "3": ("C4", "A3"), "4": ("F3", ""), "5": ("", "C3"), "6": ("", "")
    }  # fmt: skip
    assert drawn["4"][0].index("(1)") < drawn["3"][0].index("(") == drawn["1"][0].index("[")


def test_no_place_and_nothing_smoother_are_said(
    verse: Plan, moment: Callable[..., Snapshot], printed: Callable[..., list[str]]
) -> None:
    """What one hand cannot reach has no drawing, and neither has a suggestion that there is not."""
    wide = HeardChord(9.0, 8.0, (41, 70, 80), (), ("F2", "Bb4", "Ab5"), None, None, None, None)
    assert any("no place where one hand reaches all of it" in line for line in _drawn(verse, moment, printed, (wide,)))
    steady = replace(SECOND, smoother=None)
    assert any("nothing found that moves less" in line for line in _drawn(verse, moment, printed, (FIRST, steady)))


def test_voices_are_lines_from_the_oldest_to_the_newest(
    verse: Plan, moment: Callable[..., Snapshot], printed: Callable[..., list[str]]
) -> None:
    """Five up in each voice from the spread C to the spread F, counted on the piano; to a chord of another size only
    the top is drawn; after a pause nothing leads on."""
    after_pause = replace(SECOND, movement=None)
    lines = _drawn(verse, moment, printed, (FIRST, SECOND, NAMELESS, after_pause))
    first = next(number for number, line in enumerate(lines) if line.startswith("──── C "))
    heads, voices = lines[first], [line.rstrip() for line in lines[first + 1 : first + 4]]
    assert heads.replace("─", "").split() == ["C", "F", "-", "F"]
    assert voices[0].split() == ["top", "E4", "───╱5────", "A4", "───╲3────", "F♯4", "A4"]
    assert voices[1].split() == ["2", "G3", "───╱5────", "C4", "·········", "D3", "C4"]
    assert voices[2].split() == ["3", "C3", "───╱5────", "F3", "·········", "F3"]
    moved = next(line for line in lines if line.startswith("movement"))
    assert "mean 10.5 semitones, 0 of 5 voices held, last 2 changes" in moved  # 15, and twice 3 with one voice gone


def test_nothing_moves_while_one_plays(
    verse: Plan, moment: Callable[..., Snapshot], printed: Callable[..., list[str]]
) -> None:
    """Where the panels stand follows from the size of the screen and not from what is heard."""
    six = HeardChord(
        6.0, 9.0, (40, 47, 52, 56, 59, 64), (), ("E2", "B2", "E3", "G#3", "B3", "E4"), "E", "full", 0, None
    )
    for size in ((80, 24), (80, 40), (100, 30), (118, 36), (140, 40), (200, 60)):
        found = set()
        for chords in ((FIRST, SECOND), (FIRST, NAMELESS), (SECOND, NOTE), (NOTE, NOTE), (FIRST, six)):
            lines = _drawn(verse, moment, printed, chords, size)
            found.add(next(number for number, line in enumerate(lines) if line.startswith("─ before")))
        assert len(found) == 1, size


def test_a_frame_never_walks_through_all_that_was_heard(
    verse: Plan, moment: Callable[..., Snapshot], printed: Callable[..., list[str]]
) -> None:
    """After hours of playing a frame looks at the last chords only: at most some hundred of them."""
    taken: list[int] = []

    class Watched(tuple[HeardChord, ...]):
        def __iter__(self):  # type: ignore[no-untyped-def]
            raise AssertionError("all of it was walked through")

        def __getitem__(self, key):  # type: ignore[no-untyped-def]
            found = super().__getitem__(key)
            taken.append(len(found) if isinstance(key, slice) else 1)
            return found

    lines = _drawn(verse, moment, printed, Watched((FIRST, SECOND) * 5000), (200, 60))
    assert "10000 chords heard" in lines[1]
    assert 0 < sum(taken) < 300


LINE = tuple(
    HarmonyChord(float(n), parse_chord(name) if name else None, n < 4)
    for n, name in enumerate(("C", "Am7", "", "Dm7", "G7"))
)


@pytest.mark.parametrize("size", [(80, 24), (60, 16), (100, 30), (140, 40)])
def test_the_chord_that_governs_stands_over_the_voicing(
    verse: Plan, moment: Callable[..., Snapshot], printed: Callable[..., list[str]], size: tuple[int, int]
) -> None:
    """The chords so far in a line, the newest at its end, a dash where none governed; the stroke below has its own name
    where that is another one."""
    plan = replace(verse, instrument=make_instrument())
    snapshot = moment(plan, chords=(FIRST,), harmony=LINE, tempo=None, verdict=None, verdicts=())
    lines = printed(dashboard(snapshot, width=size[0], height=size[1], theme=Theme()), size[0])
    at = next(number for number, line in enumerate(lines) if line.startswith("harmony"))
    assert lines[at].split()[:6] == ["harmony", "C", "Am7", "-", "Dm7", "G7"]
    assert lines[at + 1].startswith("C: spread, root position; ")
    same = replace(snapshot, harmony=LINE[:1])
    lines = printed(dashboard(same, width=size[0], height=size[1], theme=Theme()), size[0])
    assert lines[at].split()[:2] == ["harmony", "C"]
    assert lines[at + 1].startswith("spread, root position; ")


def test_with_a_click_the_chords_stand_in_their_bars(
    verse: Plan, moment: Callable[..., Snapshot], printed: Callable[..., list[str]]
) -> None:
    """Bar lines between bars, none within one, and a bar in which nothing changes is empty; above, bar and beat."""
    bars = (1, 2, 4, 4, 30)
    line = tuple(replace(chord, bar=bar) for chord, bar in zip(LINE, bars, strict=True))
    snapshot = moment(verse, chords=(FIRST,), harmony=line, tempo=92.0, verdict=None, verdicts=(), bar=30, beat=2)
    for theme, bar in ((Theme(), "│"), (Theme(ascii_only=True), "|")):
        lines = printed(dashboard(snapshot, width=80, height=24, theme=theme), 80)
        shown = next(line for line in lines if line.startswith("harmony")).split()
        assert shown == ["harmony", "C", bar, "Am7", bar, bar, "-", "Dm7", bar, bar, bar, bar, "G7"]
        assert "bar 30" in lines[1]
        assert "[2]" in lines[1]


def test_the_newest_chords_stay_where_the_line_is_long(
    verse: Plan, moment: Callable[..., Snapshot], printed: Callable[..., list[str]]
) -> None:
    """As many as there is room for, counted from the end."""
    many = tuple(HarmonyChord(float(n), parse_chord(f"{'CDEFGAB'[n % 7]}m7")) for n in range(500))
    snapshot = moment(verse, chords=(FIRST,), harmony=many, tempo=None, verdict=None, verdicts=())
    lines = printed(dashboard(snapshot, width=80, height=24, theme=Theme()), 80)
    shown = next(line for line in lines if line.startswith("harmony")).split()[1:]
    assert len(shown) == 14
    assert shown == [f"{'CDEFGAB'[n % 7]}m7" for n in range(500 - 14, 500)]


def test_chords_before_are_whole_at_80(
    verse: Plan, moment: Callable[..., Snapshot], printed: Callable[..., list[str]]
) -> None:
    """Each earlier chord on one line that is not cut; one without a name stands apart from its notes."""
    snapshot = moment(verse, chords=(FIRST, SECOND, NAMELESS, NOTE), tempo=None, verdict=None, verdicts=())
    lines = printed(dashboard(snapshot, width=80, height=24, theme=Theme()), 80)
    before = lines[next(number for number, line in enumerate(lines) if "before" in line) + 1 :]
    assert before[0].split()[:5] == ["no", "chord", "name", "D3", "F♯4"]
    assert before[1].rstrip().endswith("moved 15, 0 held")
    assert "…" not in "".join(before)


def test_plain_lines(verse: Plan, moment: Callable[..., Snapshot]) -> None:
    """One line for each chord as it comes, and a summary at the end."""
    stream = io.StringIO()
    screen = PlainScreen(stream)
    start = moment(verse, chords=(), tempo=None, verdict=None, verdicts=())
    for chords in ((), (FIRST,), (FIRST,), (FIRST, SECOND)):
        screen.show(replace(start, chords=chords))
    screen.show(replace(start, chords=(FIRST, SECOND), phase=FINISHED))
    assert stream.getvalue().splitlines() == [
        "Free listening: every chord is named as you play it.",
        "k keeps the passage you just played as a drill.",
        "Listening to MIDI port: pickup 1.",
        chord_line(FIRST),
        chord_line(SECOND),
        "End of the take.",
        "2 chords heard.",
        "Each change moved 15.0 semitones on average; 0 voices held.",
        "1 change could move less, the first of them to F.",
    ]
    assert free_summary(()) == ["Nothing was played."]


def test_the_harmony_in_plain_lines(verse: Plan, moment: Callable[..., Snapshot]) -> None:
    """Chords that are settled, each once; at the end the last of them, those that are not settled too."""
    stream = io.StringIO()
    screen = PlainScreen(stream)
    start = moment(verse, chords=(), tempo=None, verdict=None, verdicts=())
    for count in (0, 1, 3, 3, 5):
        screen.show(replace(start, chords=(FIRST,), harmony=LINE[:count]))
    screen.show(replace(start, chords=(FIRST,), harmony=LINE, phase=FINISHED))
    told = [line for line in stream.getvalue().splitlines() if "armony" in line]
    assert told == ["Harmony: C.", "Harmony: Am7 -.", "Harmony: Dm7.", "The harmony: C Am7 - Dm7 G7."]
    assert "The harmony at the end: " in free_summary((FIRST,), LINE * 9)[1]
    assert len(free_summary((FIRST,), LINE * 9)[1].split()) == 5 + 16
