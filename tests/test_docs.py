"""What the pages say is what the program does: figures, links, tables."""

from __future__ import annotations

import re
from pathlib import Path
from pkgutil import resolve_name

import pytest

from listener.drill.drill import Drill
from listener.guitar.hand import hand_names, make_hand
from listener.guitar.instrument import make_instrument, press_mm, wire_mm
from listener.hearing.pickup import make_pickup
from listener.history.vocabulary.vocabulary import OFTEN_CHORDS, OFTEN_SHARE
from listener.judging.account import STEADY_MS, VERY_STEADY_MS
from listener.judging.attempts import GRACE_S
from listener.judging.free.stood import FEWEST
from listener.music.pitch import frequency_hz
from listener.planning.shapes.cells import ROOMY
from listener.session import ladder, rest
from listener.session.day.one_step import DAYS

ROOT = Path(__file__).parents[1]
HOUSE = ROOT / "listener"
PAGES = sorted([*ROOT.glob("*.md"), *(ROOT / "docs").glob("*.md"), *(ROOT / "drills").glob("*.md")])
_LINK = re.compile(r"\]\(([^)#]+)(?:#[^)]*)?\)")


def page(name: str) -> str:
    return " ".join((ROOT / "docs" / name).read_text(encoding="utf-8").split())


@pytest.mark.parametrize("path", PAGES, ids=lambda path: str(path.relative_to(ROOT)))
def test_links_lead_somewhere(path: Path) -> None:
    """Every link to a file of the project finds it."""
    for target in _LINK.findall(path.read_text(encoding="utf-8")):
        assert target.startswith("https://") or (path.parent / target).exists(), target


def test_paths_for_developers_lead_somewhere() -> None:
    """Every file and folder that DEVELOPERS.md names is there, and every room of the house is named."""
    text = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
    named = {path for path in re.findall(r"(?<![\w./:])((?!\.venv)[\w.-]+/[\w./-]*|\w+\.py)(?=[` ),])", text)}
    assert len(named) > 100
    assert not {path for path in named if not any((place / path).exists() for place in (ROOT, HOUSE))}
    assert {f"{path.parent.relative_to(HOUSE)}/" for path in HOUSE.rglob("*/__init__.py")} - {"./"} <= named


def test_references_between_modules_lead_somewhere() -> None:
    """Whatever a docstring or a comment refers to by its whole name is there."""
    named = {
        reference
        for path in HOUSE.rglob("*.py")
        for reference in re.findall(r":[a-z]+:`~?(listener[.\w]+)`", path.read_text(encoding="utf-8"))
    }
    assert len(named) > 50
    for reference in named:
        owner, _, name = reference.rpartition(".")
        if name not in getattr(resolve_name(owner), "__annotations__", ()):  # fields that have no default
            resolve_name(reference)


@pytest.mark.parametrize(
    "claim",
    [
        f"put right within {1000 * GRACE_S:.0f} ms counts",
        f"up to {Drill.timing_ms:.0f} ms early or late is in time",
        f"very steady up to {VERY_STEADY_MS:.0f} ms, steady up to {STEADY_MS:.0f} ms",
        f"with at least {100 * ladder.CLEAN:.0f} % hits and no miss",
        f"goes up by {100 * ladder.RUNG:.0f} %",
        f"below {100 * ladder.ROUGH:.0f} % hits it comes down by two",
        f"**A lot** is one chord in { {20: 'twenty'}[round(1 / OFTEN_SHARE)] } or more, "
        f"and { {8: 'eight'}[OFTEN_CHORDS] } at least",
        f"with { {20: 'a fifth'}[round(100 - 100 * ROOMY)] } of the hand's reach to spare",
        f"has **{ {3: 'three'}[FEWEST] } different notes** or more",
        f"comes back after { {14: 'two weeks'}[DAYS] } at the earliest",
        f"({ {2: 'two'}[make_pickup('single').delay_periods] } periods of the note where nothing was measured)",
    ],
)
def test_figures_of_the_judge(claim: str) -> None:
    """docs/verdicts.md has the figures that the code has."""
    assert claim in page("verdicts.md")


@pytest.mark.parametrize(
    "claim",
    [
        f"After {rest.USUAL_S / 60:.0f} minutes of playing",
        f"`--rest-after`, {rest.EARLIEST_S / 60:.0f} to {rest.LATEST_S / 60:.0f} minutes",
        f"for { {5: 'five'}[round(rest.RESTED_S / 60)] }; sooner",
        f"{wire_mm(648, 4):.0f} mm wide at the nut and {wire_mm(648, 11) - wire_mm(648, 7):.0f} mm from the seventh",
        *(
            f"| {name} | " + " | ".join(f"{reach:g}" for reach in make_hand(name).reach_mm) + " |"
            for name in hand_names()
        ),
    ],
)
def test_figures_of_the_hand(claim: str) -> None:
    """docs/hand.md has the figures that the code has."""
    assert claim in page("hand.md")


def test_where_a_finger_presses() -> None:
    """At 70 % of the fret space, as docs/hand.md says."""
    share = (press_mm(648, 5) - wire_mm(648, 4)) / (wire_mm(648, 5) - wire_mm(648, 4))
    assert f"presses at {100 * share:.0f} % of its fret space" in page("hand.md")


def test_figures_of_the_pickup() -> None:
    """docs/troubleshooting.md: two periods of the low E, the open low string, a bend range by name."""
    low = make_instrument().pitch(6, 0)
    assert f"two periods of a low E are {2000 / frequency_hz(low):.0f} ms" in page("troubleshooting.md")
    assert make_pickup("per-string bend 12").bend_range_semitones == 12
    assert '"per-string bend 12"' in page("troubleshooting.md")
