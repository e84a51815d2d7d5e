"""What routes are measured against: everyday shapes, greedy choice, the least movement there could be."""

from __future__ import annotations

from dataclasses import replace

import pytest
from how_many import examples
from hypothesis import given, settings
from spots import Spot, layers_of_spots, moved, spot, taken_by, weights

from listener.drill.drill import Drill, NoteWish, Step, Wish
from listener.drill.manners import VOICE_LEADING, Weights, manner
from listener.guitar.hand import make_hand
from listener.guitar.instrument import make_instrument
from listener.music.chord import parse_chord
from listener.music.pitch import parse_pitch
from listener.planning.planner import plan_drill
from listener.planning.routes.route import Link, best_route, network
from listener.planning.yardsticks import changes_of, everyday_shape, greedy_route, least_possible

GUITAR, HAND, USUAL = make_instrument(), make_hand(), manner(VOICE_LEADING)


def drill(*wishes: Wish) -> Drill:
    steps = tuple(Step(i, "p", i + 1, 1.0, 4.0 * i, 4.0, wish) for i, wish in enumerate(wishes))
    return Drill("d", "D", "C major", 80.0, (4, 4), steps)


@settings(max_examples=examples(80), deadline=None)
@given(layers=layers_of_spots, prices=weights)
def test_greedy_is_never_better(layers: list[list[Spot]], prices: Weights) -> None:
    """Always the nearest next one moves at least as much as the route of least movement."""
    taken = taken_by(greedy_route(network(layers, prices, least_movement=True)), layers)
    assert len(taken) == len(layers)
    assert moved(taken) >= moved(taken_by(best_route(layers, prices, least_movement=True).choice, layers))


def test_greedy_takes_the_nearest() -> None:
    """The easiest first chord, then the cheapest change with what comes with it, worked by hand."""
    layers = [candidates_at(60, 67), candidates_at(66, 59), candidates_at(70, 52)]
    assert greedy_route(network(layers, USUAL)) == [0, 1, 1]


def candidates_at(*notes: int) -> list[Spot]:
    return [spot([note]) for note in notes]


def test_greedy_may_lose_its_way() -> None:
    """A line that has to rise ends where it began too high."""
    layers = [candidates_at(60), candidates_at(64, 61), candidates_at(62, 63)]
    rising = [Link(top="up")] * 3
    assert len(greedy_route(network(layers, USUAL, links=rising))) == 3
    layers[1] = candidates_at(64)
    assert greedy_route(network(layers, USUAL, links=rising)) == [0, 0]


@pytest.mark.parametrize("chord", ["C", "Dm", "G7", "F#m", "Bb", "C/E", "Am7", "D/F#", "Abmaj7"])
def test_everyday_shapes_have_their_bass(chord: str) -> None:
    """Root in the bass, or the slash bass; all of the chord on four strings at least; within the hand."""
    asked = parse_chord(chord)
    shape = everyday_shape(asked, GUITAR, HAND)
    assert shape is not None
    bass = asked.bass or asked.root
    assert shape.pitches[0] % 12 == bass.pitch_class
    assert {pitch % 12 for pitch in shape.pitches} >= set(asked.pitch_classes)
    assert len(shape.pitches) >= 4
    assert shape.strain <= 1.0


@pytest.mark.parametrize(
    ("chord", "frets"),
    [("C", "0003"), ("C7", "0001"), ("Cmaj7", "0002"), ("D", "2220"), ("Dm", "2210"), ("C13", "2001")],
)
def test_everyday_shapes_of_a_ukulele(chord: str, frets: str) -> None:
    """Its fourth string sounds higher than its third: that alone crosses no voices (the shapes: common practice)."""
    shape = everyday_shape(parse_chord(chord), make_instrument("ukulele"), HAND)
    assert shape is not None
    on = dict(zip(shape.strings, shape.frets, strict=True))
    assert "".join(str(on.get(string, "x")) for string in (4, 3, 2, 1)) == frets


def test_no_everyday_shape() -> None:
    """On three strings nothing is strummed."""
    assert everyday_shape(parse_chord("C"), make_instrument("G3 B3 E4"), HAND) is None


def test_least_possible_lets_the_lines_go() -> None:
    """A melody that leaps makes a route dearer than it need be; without it C F G C move 3 + 6 + 3."""
    chords = [Wish(parse_chord(chord), ("spread",)) for chord in "CFGC"]
    tops = ["C4", "A4", "G4", "G5"]
    sung = drill(*[replace(wish, top=NoteWish(pitch=parse_pitch(top))) for wish, top in zip(chords, tops, strict=True)])
    rising = replace(sung, steps=tuple(replace(step, top_motion="highest") for step in sung.steps))
    assert least_possible(sung, GUITAR, HAND) == least_possible(rising, GUITAR, HAND) == 12
    assert plan_drill(sung, GUITAR, HAND).total_movement > 12


def test_what_stays_when_the_lines_go() -> None:
    """Inversion, strings, frets, kinds and held notes are still kept to."""
    wish = Wish(parse_chord("C"), ("close",), inversion=0, strings=(3, 2, 1), frets=(0, 15))
    jump = drill(replace(wish, frets=(3, 8)), replace(wish, frets=(12, 15), inversion=1))
    assert least_possible(jump, GUITAR, HAND) == plan_drill(jump, GUITAR, HAND).total_movement > 0


def test_changes_and_the_way_back() -> None:
    """Two steps have one change, or two in a loop; one step changes into itself."""
    here, there = (spot_.fingering for spot_ in candidates_at(60, 64))
    assert changes_of([here, there], False) == [(here, there)]
    assert changes_of([here, there], True) == [(here, there), (there, here)]
    assert changes_of([here], False) == []
    assert changes_of([here], True) == [(here, here)]
