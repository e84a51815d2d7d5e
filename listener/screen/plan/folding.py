"""Which bars of a long plan need to be shown, and which are the same as others shown before."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Final

from listener.planning.plan import Plan, PlannedStep
from listener.screen.theme import Theme

#: Fewer equal bars in a row are shown again: a line that sends the eye back would cost more than it saves.
LEAST_BARS: Final = 4

Bar = tuple[PlannedStep, ...]


@dataclass(frozen=True)
class Stretch:
    """Bars in a row. ``like`` are earlier bars that they repeat once or several times, empty for new ones."""

    bars: tuple[Bar, ...]
    like: tuple[Bar, ...] = ()

    @property
    def steps(self) -> list[PlannedStep]:
        """All steps of the bars."""
        return [planned for bar in self.bars for planned in bar]

    def words(self, theme: Theme) -> str:
        """``bars 9–16 as bars 1–8``; ``bars 9–24 as bars 1–8, 2 times``."""
        times = len(self.bars) // len(self.like)
        often = f", {times} times" if times > 1 else ""
        return f"bars {_range(self.bars, theme)} as bars {_range(self.like, theme)}{often}"


def _range(bars: Sequence[Bar], theme: Theme) -> str:
    first, last = bars[0][0].step.bar, bars[-1][0].step.bar
    return f"{first}{'-' if theme.ascii_only else '–'}{last}"


def bars_of(plan: Plan) -> list[Bar]:
    """The steps of each bar that has any, in order."""
    found: list[list[PlannedStep]] = []
    for planned in plan.steps:
        if not found or found[-1][-1].step.bar != planned.step.bar:
            found.append([])
        found[-1].append(planned)
    return [tuple(steps) for steps in found]


def stretches(plan: Plan) -> list[Stretch]:
    """The whole plan, new bars and repeated ones in turn."""
    return list(_stretches(bars_of(plan)))


def _stretches(bars: Sequence[Bar]) -> Iterator[Stretch]:
    """Bars repeat others when chords, fingerings, beats and lengths are the same; looked up by their first four."""
    looks = [tuple(_look(planned) for planned in bar) for bar in bars]
    seen: dict[tuple[object, ...], int] = {}
    shown_from = at = 0
    while at < len(bars):
        before = seen.get(tuple(looks[at : at + LEAST_BARS]))
        length = _common(looks, before, at) if before is not None else 0
        if before is None or length < LEAST_BARS:
            _remember(seen, looks, at)
            at += 1
            continue
        if at > shown_from:
            yield Stretch(tuple(bars[shown_from:at]))
        yield Stretch(tuple(bars[at : at + length]), tuple(bars[before : min(at, before + length)]))
        for passed in range(at, at + length):
            _remember(seen, looks, passed)
        at += length
        shown_from = at
    if shown_from < len(bars):
        yield Stretch(tuple(bars[shown_from:]))


def _look(planned: PlannedStep) -> tuple[object, ...]:
    step = planned.step
    return step.beat, step.length_beats, str(planned.voicing.chord), planned.fingering


def _remember(seen: dict[tuple[object, ...], int], looks: Sequence[tuple[object, ...]], at: int) -> None:
    """Note where four bars in a row were met first, once all four lie behind."""
    first = at - LEAST_BARS + 1
    if first >= 0:
        seen.setdefault(tuple(looks[first : at + 1]), first)


def _common(looks: Sequence[tuple[object, ...]], before: int, at: int) -> int:
    """How many bars from both places on are the same; where they run into each other, whole rounds of what lies
    between."""
    length = 0
    while at + length < len(looks) and looks[before + length] == looks[at + length]:
        length += 1
    between = at - before
    return length if length <= between else length // between * between
