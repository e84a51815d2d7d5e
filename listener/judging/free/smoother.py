"""The same chord, reached with less movement: what a listener may suggest after a change."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import TYPE_CHECKING

from listener.errors import WidehandError
from listener.music.movement import Movement, movement
from listener.music.voicing import ANY, FULL, Voicing, voicing_of

if TYPE_CHECKING:
    from listener.guitar.hand import Hand
    from listener.guitar.instrument import Instrument


@dataclass(frozen=True, slots=True)
class Smoother:
    """A voicing of the chord that was heard, and the movement from the chord before to it; where it lies on the neck,
    low to high (strings 1 = highest)."""

    voicing: Voicing
    strings: tuple[int, ...]
    frets: tuple[int, ...]
    movement: Movement

    def as_json(self) -> dict[str, object]:
        """The ``smoother`` field of a stroke."""
        return {
            "pitches": list(self.voicing.midi),
            "names": list(self.voicing.names),
            "kind": self.voicing.kind,
            "inversion": self.voicing.inversion,
            "strings": list(self.strings),
            "frets": list(self.frets),
            "movement": self.movement.as_json(),
        }


#: What was sounding before (MIDI, low to high) and what was heard; the suggestion, if there is one.
Suggest = Callable[[tuple[int, ...], Voicing], Smoother | None]


def suggester(instrument: Instrument, hand: Hand) -> Suggest:
    """Suggestions for this guitar and hand."""

    def suggest(before: tuple[int, ...], heard: Voicing) -> Smoother | None:
        return smoother(before, heard, instrument, hand)

    return suggest


def smoother(before: tuple[int, ...], heard: Voicing, instrument: Instrument, hand: Hand) -> Smoother | None:
    """The playable voicing of the chord that was heard, of any kind, that moves least from ``before``.

    Movement is counted with the price of voices that come and go, so leaving notes out is no way to move less; but what
    is shown are the semitones alone, so those have to be fewer as well. Of equal ones the one that is easiest on the
    hand. None when nothing moves less than what was played.
    """
    # Loaded when first asked for: most of what is heard without a drill is only named, which needs no planner.
    from listener.drill.drill import Wish
    from listener.planning.routes.alignment import movement_costs
    from listener.planning.shapes.candidates import candidates

    played = movement(before, heard.midi)
    if not played.semitones:
        return None
    try:
        found = candidates(Wish(heard.chord, (ANY, FULL)), instrument, hand)
    except WidehandError:  # a name whose tones no wish can ask for
        return None
    sets = sorted({candidate.fingering.pitches for candidate in found})
    if not sets:
        return None
    nearest: set[tuple[int, ...]] = set()
    least = played.cost
    costs = movement_costs([before], sets)[0].tolist()
    for cost, pitches in sorted(zip(costs, sets, strict=True)):
        if cost > least or cost >= played.cost:
            break
        if movement(before, pitches).semitones < played.semitones:
            nearest.add(pitches)
            least = cost
    if not nearest:
        return None
    easiest = min(
        (candidate.fingering for candidate in found if candidate.fingering.pitches in nearest),
        key=lambda fingering: (fingering.strain, fingering.frets, fingering.strings),
    )
    return Smoother(
        voicing_of(heard.chord, easiest.pitches), easiest.strings, easiest.frets, movement(before, easiest.pitches)
    )
