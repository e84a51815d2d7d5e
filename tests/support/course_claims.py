"""What the texts of the course claim and a program can check: each claim a function that looks at a plan.

Most are made from a passage (the beginning of its name; nothing for all of them) and what is claimed of it. A place is
a string and a fret, a shape is places without the fret where they begin.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterable, Sequence
from itertools import pairwise
from typing import Final

from listener.music.voicing import SPREAD
from listener.planning.plan import Plan, PlannedStep

Claim = Callable[[Plan], None]
Steps = list[PlannedStep]
Place = tuple[int, int]
#: Semitones.
OCTAVE: Final = 12
STEP: Final = (1, 2)
MINOR_THIRD: Final = 3


def passages(plan: Plan, begins: str = "") -> list[Steps]:
    """The steps of each passage whose name begins so, in order; a passage that comes again is another one."""
    found: list[Steps] = []
    for one in plan.steps:
        if not found or found[-1][-1].step.passage != one.step.passage:
            found.append([])
        found[-1].append(one)
    found = [steps for steps in found if steps[0].step.passage.startswith(begins)]
    assert found, f"no passage begins with {begins!r}"
    return found


def steps_of(plan: Plan, begins: str = "") -> Steps:
    """The steps of all passages whose name begins so."""
    return [one for steps in passages(plan, begins) for one in steps]


def changes(plan: Plan, begins: str = "") -> list[tuple[PlannedStep, PlannedStep]]:
    """Neighbouring steps inside a passage whose chords or notes differ."""
    pairs = (pair for steps in passages(plan, begins) for pair in pairwise(steps))
    return [(one, two) for one, two in pairs if one.voicing != two.voicing]


def places(one: PlannedStep) -> tuple[Place, ...]:
    """String and fret of each note, the lowest note first."""
    return tuple(zip(one.fingering.strings, one.fingering.frets, strict=True))


def held(one: PlannedStep) -> dict[Place, int]:
    """The finger on each place that is pressed."""
    fingers = zip(places(one), one.fingering.fingers, strict=True)
    return {place: finger for place, finger in fingers if place[1]}


def shape(one: PlannedStep) -> tuple[Place, ...]:
    """The places, counted from the lowest fret that is pressed."""
    lowest = min(fret for _, fret in held(one))
    return tuple((string, fret - lowest) for string, fret in places(one))


def kinds(one: PlannedStep) -> str:
    return one.voicing.kind


def notes(one: PlannedStep) -> tuple[int, ...]:
    return one.voicing.midi


def top(one: PlannedStep) -> int:
    return notes(one)[-1]


def bass(one: PlannedStep) -> int:
    return notes(one)[0]


def note_of(one: PlannedStep, degree: str) -> int:
    """The pitch of the lowest note that is this degree of the chord, altered or not."""
    return next(
        pitch for name, pitch in zip(one.voicing.degrees, notes(one), strict=True) if name.lstrip("b#") == degree
    )


def plain(names: Iterable[str]) -> list[str]:
    """Degrees without their signs."""
    return [name.lstrip("b#") for name in names]


def falls(one: int, two: int) -> bool:
    """By a step."""
    return one - two in STEP


# --- shapes --------------------------------------------------------------------------------------------------------


def wide_inside_full(begins: str) -> Claim:
    """Full and spread come in turn, and each spread shape is a part of the full one before it, with its root below."""

    def claim(plan: Plan) -> None:
        steps = steps_of(plan, begins)
        assert [kinds(one) for one in steps] == ["full", SPREAD] * (len(steps) // 2)
        for full, wide in zip(steps[::2], steps[1::2], strict=True):
            assert set(places(wide)) < set(places(full))
            assert wide.voicing.inversion == 0

    return claim


def barre_and_three_strings(begins: str) -> Claim:
    """The full shapes have a finger flat over five strings or six, the wide ones press three; both span the same
    frets."""

    def claim(plan: Plan) -> None:
        steps = steps_of(plan, begins)
        for full, wide in zip(steps[::2], steps[1::2], strict=True):
            flat = [string for (string, _), finger in held(full).items() if finger == 1]
            assert max(flat) - min(flat) + 1 in (5, 6)
            assert len(held(wide)) == 3
            spans = [max(fret for _, fret in held(one)) - min(fret for _, fret in held(one)) for one in (full, wide)]
            assert spans == [2, 2]

    return claim


def one_shape(begins: str) -> Claim:
    """The same strings and fret distances in every step, moved along the neck."""

    def claim(plan: Plan) -> None:
        for steps in passages(plan, begins):
            assert len({shape(one) for one in steps}) == 1
            assert len({places(one) for one in steps}) > 1

    return claim


def only_taught_shapes(begins: str) -> Claim:
    """This passage needs no shape that the passages before it have not shown."""

    def claim(plan: Plan) -> None:
        inside = steps_of(plan, begins)
        taught = {shape(one) for one in plan.steps if one not in inside}
        assert {shape(one) for one in inside} <= taught

    return claim


def no_open_strings(begins: str = "") -> Claim:
    def claim(plan: Plan) -> None:
        assert not any(0 in one.fingering.frets for one in steps_of(plan, begins))

    return claim


def on_strings(begins: str, *strings: int) -> Claim:
    """Every chord uses exactly these strings."""

    def claim(plan: Plan) -> None:
        assert {tuple(sorted(one.fingering.strings, reverse=True)) for one in steps_of(plan, begins)} == {strings}

    return claim


def full_and_wide_on(begins: str, full: tuple[int, ...], wide: tuple[int, ...]) -> Claim:
    """The strings of the full shapes and of the wide ones that follow them."""

    def claim(plan: Plan) -> None:
        for one, two in pairs(plan, begins):
            assert (one.fingering.strings, two.fingering.strings) == (full, wide)

    return claim


def bass_on_string(begins: str, string: int) -> Claim:
    def claim(plan: Plan) -> None:
        assert {one.fingering.strings[0] for one in steps_of(plan, begins)} == {string}

    return claim


def top_on_string(begins: str, string: int) -> Claim:
    def claim(plan: Plan) -> None:
        assert {one.fingering.strings[-1] for one in steps_of(plan, begins)} == {string}

    return claim


def frets_between(begins: str, lowest: int, highest: int) -> Claim:
    def claim(plan: Plan) -> None:
        frets = [fret for one in steps_of(plan, begins) for fret in one.fingering.frets]
        assert min(frets) >= lowest
        assert max(frets) <= highest

    return claim


def a_silent_string_over_the_bass(begins: str = "") -> Claim:
    """Between the bass and the other notes, which lie side by side, one string is silent."""

    def claim(plan: Plan) -> None:
        for one in steps_of(plan, begins):
            low, *others = one.fingering.strings
            assert others == [low - 2, low - 3, low - 4]

    return claim


def every_string_it_has(begins: str) -> Claim:
    """From the bass up to the first string no string is left out."""

    def claim(plan: Plan) -> None:
        for one in steps_of(plan, begins):
            assert list(one.fingering.strings) == list(range(one.fingering.strings[0], 0, -1))

    return claim


def mostly_barres(begins: str, share: float) -> Claim:
    """So many of the chords have a finger that lies on two strings or more."""

    def claim(plan: Plan) -> None:
        steps = steps_of(plan, begins)
        assert sum(max(Counter(held(one).values()).values()) > 1 for one in steps) >= share * len(steps)

    return claim


# --- what a chord is made of ---------------------------------------------------------------------------------------


def kinds_are(begins: str, *wanted: str) -> Claim:
    """Only these kinds of voicing, and each of them."""

    def claim(plan: Plan) -> None:
        assert {kinds(one) for one in steps_of(plan, begins)} == set(wanted)

    return claim


def in_turn(*wanted: str) -> Claim:
    """The kinds alternate, and the last chord is of the first kind."""

    def claim(plan: Plan) -> None:
        found = [kinds(one) for one in plan.steps]
        assert found == [wanted[number % len(wanted)] for number in range(len(found))]
        assert found[-1] == wanted[0]

    return claim


def voices(begins: str, fewest: int, most: int | None = None) -> Claim:
    def claim(plan: Plan) -> None:
        counts = [len(notes(one)) for one in steps_of(plan, begins)]
        assert min(counts) >= fewest
        assert max(counts) <= (most or fewest)

    return claim


def inversion(begins: str, number: int) -> Claim:
    def claim(plan: Plan) -> None:
        assert {one.voicing.inversion for one in steps_of(plan, begins)} == {number}

    return claim


def all_inversions(begins: str, *numbers: int) -> Claim:
    def claim(plan: Plan) -> None:
        assert {one.voicing.inversion for one in steps_of(plan, begins)} == set(numbers)

    return claim


def top_degree(begins: str, *degrees: str) -> Claim:
    """Only these degrees lie on top."""

    def claim(plan: Plan) -> None:
        assert set(plain(one.voicing.degrees[-1] for one in steps_of(plan, begins))) == set(degrees)

    return claim


def bass_degree(begins: str, *degrees: str) -> Claim:
    def claim(plan: Plan) -> None:
        assert set(plain(one.voicing.degrees[0] for one in steps_of(plan, begins))) == set(degrees)

    return claim


def degrees_in_order(begins: str, *degrees: str) -> Claim:
    """From the bass up."""

    def claim(plan: Plan) -> None:
        assert {tuple(plain(one.voicing.degrees)) for one in steps_of(plan, begins)} == {degrees}

    return claim


def third_and_seventh_in_the_middle(begins: str) -> Claim:
    """Above the bass and below the top note; the order of the two is free."""

    def claim(plan: Plan) -> None:
        for one in steps_of(plan, begins):
            assert {"3", "7"} <= set(plain(one.voicing.degrees[1:-1]))

    return claim


def wide_over_four_strings(begins: str = "") -> Claim:
    """The wide chords reach over four strings or more, a silent one inside; the close ones lie on three neighbours."""

    def claim(plan: Plan) -> None:
        for one in steps_of(plan, begins):
            strings = one.fingering.strings
            assert len(strings) == 3
            assert (strings[0] - strings[-1] >= 3) == (kinds(one) == SPREAD)

    return claim


def at_home(begins: str = "", first: bool = False) -> Claim:
    """Every such passage ends on a chord with its root at the bottom, and begins with one where ``first`` says so."""

    def claim(plan: Plan) -> None:
        for steps in passages(plan, begins):
            for one in (steps[0], steps[-1]) if first else steps[-1:]:
                assert bass(one) % OCTAVE == one.voicing.chord.root.pitch_class

    return claim


# --- lines ---------------------------------------------------------------------------------------------------------


def same_way_back(begins: str) -> Claim:
    """The second half is the first one backwards, places and all."""

    def claim(plan: Plan) -> None:
        for steps in passages(plan, begins):
            chords = [str(one.voicing.chord) for one in steps]
            for chord in dict.fromkeys(chords):
                turned = [places(one) for one in steps if str(one.voicing.chord) == chord]
                assert turned == turned[::-1]
                assert len(set(turned)) > 1

    return claim


def bass_climbs_and_comes_back(begins: str) -> Claim:
    """Through the inversions of each chord the lowest note climbs to the middle and falls from there."""

    def claim(plan: Plan) -> None:
        for steps in passages(plan, begins):
            for chord in dict.fromkeys(str(one.voicing.chord) for one in steps):
                line = [bass(one) for one in steps if str(one.voicing.chord) == chord]
                middle = len(line) // 2
                assert line[: middle + 1] == sorted(set(line))
                assert line == line[::-1]

    return claim


def scale_on_top(begins: str, *, widest: int = 2, up: bool = True, down: bool = True) -> Claim:
    """The top notes climb a scale, fall back, or both; no step is wider than a tone (three semitones in harmonic
    minor)."""

    def claim(plan: Plan) -> None:
        for steps in passages(plan, begins):
            line = [top(one) for one in steps]
            peak = line.index(max(line))
            moves = [two - one for one, two in pairwise(line)]
            assert all(1 <= move <= widest for move in moves[:peak])
            assert all(-widest <= move <= -1 for move in moves[peak:])
            assert (peak > 0, peak < len(moves)) == (up, down)
            assert max(map(abs, moves)) == widest

    return claim


def a_tenth_over_the_bass(begins: str) -> Claim:
    def claim(plan: Plan) -> None:
        assert {top(one) - bass(one) for one in steps_of(plan, begins)} <= {15, 16}

    return claim


def top_names(begins: str, line: str) -> Claim:
    """The names of the top notes, again and again."""

    def claim(plan: Plan) -> None:
        wanted = line.split()
        for steps in passages(plan, begins):
            found = [one.voicing.names[-1].rstrip("0123456789") for one in steps]
            assert found == wanted * (len(found) // len(wanted))

    return claim


def bass_names(begins: str, line: str) -> Claim:
    def claim(plan: Plan) -> None:
        wanted = line.split()
        for steps in passages(plan, begins):
            found = [one.voicing.names[0].rstrip("0123456789") for one in steps]
            assert found == wanted * (len(found) // len(wanted))

    return claim


def all_voices_the_same_way(begins: str) -> Claim:
    """Up or down is the same for all voices, and none waits."""

    def claim(plan: Plan) -> None:
        for one, two in changes(plan, begins):
            moves = [after - before for before, after in zip(notes(one), notes(two), strict=True)]
            assert min(moves) > 0 or max(moves) < 0

    return claim


def no_move_wider_than(semitones: int, begins: str = "") -> Claim:
    """No voice moves further; some voice moves at all."""

    def claim(plan: Plan) -> None:
        widest = [two.movement.largest for _, two in changes(plan, begins) if two.movement]
        assert 0 < max(widest) <= semitones

    return claim


def top_moves_at_most(semitones: int, begins: str) -> Claim:
    def claim(plan: Plan) -> None:
        moves = [abs(top(two) - top(one)) for one, two in changes(plan, begins)]
        assert 0 < max(moves) <= semitones

    return claim


def shared_notes_stay(begins: str = "", *, last_bars: tuple[int, ...] = ()) -> Claim:
    """What the tones of two neighbours have in common sounds on in the same octave, in one voice at least; the step
    into these bars is free."""

    def claim(plan: Plan) -> None:
        for one, two in changes(plan, begins):
            if two.step.bar in last_bars:
                continue
            if {pitch % OCTAVE for pitch in notes(one)} & {pitch % OCTAVE for pitch in notes(two)}:
                assert set(notes(one)) & set(notes(two))

    return claim


def one_note_waits_and_two_step(plan: Plan) -> None:
    """Between I and IV, and between I and V, one note stays, and the two others move a step the same way."""
    for one, two in changes(plan):
        apart = (two.voicing.chord.root.pitch_class - one.voicing.chord.root.pitch_class) % OCTAVE
        if apart in (5, 7):
            moves = [after - before for before, after in zip(notes(one), notes(two), strict=True)]
            assert sorted(map(abs, moves)) in ([0, 1, 2], [0, 2, 2])
            assert len({move > 0 for move in moves if move}) == 1


def rounds_alike(times: int) -> Claim:
    """Each time round is played at the same places."""

    def claim(plan: Plan) -> None:
        for steps in passages(plan):
            size = len(steps) // times
            rounds = [[places(one) for one in steps[start : start + size]] for start in range(0, len(steps), size)]
            assert rounds == rounds[:1] * times

    return claim


def finger_stays(begins: str = "", voice: int = 0) -> Claim:
    """One finger holds the note of this voice (0 the bass, -1 the top) at one place, through all such passages."""

    def claim(plan: Plan) -> None:
        for steps in passages(plan, begins):
            assert len({(places(one)[voice], one.fingering.fingers[voice]) for one in steps}) == 1
            assert steps[0].fingering.fingers[voice] > 0

    return claim


def finger_stays_while_the_top_does(begins: str) -> Claim:
    """While the top note is the same from chord to chord, so are its place and its finger."""

    def claim(plan: Plan) -> None:
        waits = [(one, two) for one, two in changes(plan, begins) if top(one) == top(two)]
        assert waits
        for one, two in waits:
            assert places(one)[-1] == places(two)[-1]
            assert one.fingering.fingers[-1] == two.fingering.fingers[-1]

    return claim


def holds_in_place(plan: Plan) -> None:
    """What a drill with held tones holds lies at the same places in every step of a passage."""
    for steps in passages(plan):
        tones = set(steps[1].step.hold)
        assert tones
        kept = {
            tuple(place for place, pitch in zip(places(one), notes(one), strict=True) if pitch in tones)
            for one in steps
        }
        assert len(kept) == 1


def contrary_motion(begins: str) -> Claim:
    """Where bass and top both move, one goes up and the other down."""

    def claim(plan: Plan) -> None:
        for one, two in changes(plan, begins):
            assert (bass(two) - bass(one)) * (top(two) - top(one)) < 0

    return claim


def only_the_bass_moves(begins: str, bars: int) -> Claim:
    """For so many bars the upper notes stay at their places, and the bass falls by half steps."""

    def claim(plan: Plan) -> None:
        steps = steps_of(plan, begins)[:bars]
        assert len({places(one)[1:] for one in steps}) == 1
        assert [bass(two) - bass(one) for one, two in pairwise(steps)] == [-1] * (bars - 1)

    return claim


def bass_walks(begins: str, *moves: int) -> Claim:
    """Each move of the bass is one of these."""

    def claim(plan: Plan) -> None:
        assert {bass(two) - bass(one) for one, two in changes(plan, begins)} == set(moves)

    return claim


# --- pairs ---------------------------------------------------------------------------------------------------------


def pairs(plan: Plan, begins: str) -> list[tuple[PlannedStep, PlannedStep]]:
    """The steps of a passage two by two: without and with."""
    steps = steps_of(plan, begins)
    return list(zip(steps[::2], steps[1::2], strict=True))


def only_the_middle_moves(begins: str) -> Claim:
    """In each pair bass and top keep their pitch, and the fifth between them rises to the seventh."""

    def claim(plan: Plan) -> None:
        for one, two in pairs(plan, begins):
            assert (bass(one), top(one)) == (bass(two), top(two))
            assert plain(one.voicing.degrees) == ["1", "5", "3"]
            assert plain(two.voicing.degrees) == ["1", "7", "3"]
            assert notes(two)[1] > notes(one)[1]

    return claim


def the_seventh_comes_on_top(begins: str) -> Claim:
    """In each pair three notes keep place and finger, and the seventh joins them from above."""

    def claim(plan: Plan) -> None:
        for one, two in pairs(plan, begins):
            assert places(two)[:-1] == places(one)
            assert two.fingering.fingers[:-1] == one.fingering.fingers
            assert plain(two.voicing.degrees) == ["1", "5", "3", "7"]

    return claim


def one_note_joins_under_the_third(begins: str) -> Claim:
    """In each pair the notes of the first stay, and a ninth comes in a step below the third."""

    def claim(plan: Plan) -> None:
        for one, two in pairs(plan, begins):
            assert set(notes(one)) < set(notes(two))
            assert plain(two.voicing.degrees) == ["1", "5", "9", "3"]
            assert note_of(two, "3") - note_of(two, "9") in STEP

    return claim


def only_the_top_moves(begins: str) -> Claim:
    """In each pair the two lower notes keep place and finger, and the top note comes to rest on the third."""

    def claim(plan: Plan) -> None:
        for one, two in pairs(plan, begins):
            assert places(one)[:-1] == places(two)[:-1]
            assert one.fingering.fingers[:-1] == two.fingering.fingers[:-1]
            assert abs(top(one) - top(two)) in STEP
            assert plain(two.voicing.degrees)[-1] == "3"

    return claim


# --- harmony -------------------------------------------------------------------------------------------------------


def sevenths_fall_to_thirds(begins: str, *, far: Sequence[int] = STEP) -> Claim:
    """Where roots fall a fifth, the seventh of each chord sinks to the third of the next."""

    def claim(plan: Plan) -> None:
        found = 0
        for one, two in changes(plan, begins):
            down = (two.voicing.chord.root.pitch_class - one.voicing.chord.root.pitch_class) % OCTAVE == 5
            if down and "7" in plain(one.voicing.degrees):
                assert note_of(one, "7") - note_of(two, "3") in far
                found += 1
        assert found

    return claim


def the_gates_sink(plan: Plan) -> None:
    """From V7 to i the seventh sinks to the third, and the third, the leading tone, to the seventh; at every gate the
    voices wait or sink a step."""
    for one, two in changes(plan):
        if str(two.voicing.chord).endswith("m7b5"):
            continue  # the way round is over
        moves = [after - before for before, after in zip(notes(one), notes(two), strict=True)]
        assert set(moves) <= {0, -1, -2}
        if str(two.voicing.chord).endswith("m7"):
            assert falls(note_of(one, "7"), note_of(two, "3"))
            assert note_of(one, "3") - note_of(two, "7") == 1


def leading_tone_in_the_bass(plan: Plan) -> None:
    """The last two chords of each passage have the leading tone and then the root at the bottom."""
    for steps in passages(plan):
        leading, home = steps[-2:]
        assert bass(home) % OCTAVE == home.voicing.chord.root.pitch_class
        assert bass(home) - bass(leading) == 1


def one_bead_at_a_time(begins: str) -> Claim:
    """Three notes stay and one sinks by a step; each voice has its turn."""

    def claim(plan: Plan) -> None:
        for steps in passages(plan, begins):
            moved = []
            for one, two in pairwise(steps):
                moves = [after - before for before, after in zip(notes(one), notes(two), strict=True)]
                assert sorted(moves)[1:] == [0, 0, 0]
                assert -min(moves) in STEP
                moved.append(moves.index(min(moves)))
            assert moved[:4] == list(dict.fromkeys(moved))
            assert moved[4:] == moved[: len(moved) - 4]

    return claim


def one_holds_and_the_others_sink(begins: str) -> Claim:
    def claim(plan: Plan) -> None:
        for one, two in changes(plan, begins):
            moves = sorted(after - before for before, after in zip(notes(one), notes(two), strict=True))
            assert moves[-1] == 0
            assert all(-move in STEP for move in moves[:-1])

    return claim


def the_ninth_was_the_fifth(begins: str) -> Claim:
    """While roots go by fourths, the ninth on top or below is a tone that was the fifth of the chord before."""

    def claim(plan: Plan) -> None:
        for one, two in pairwise(dict.fromkeys(step.voicing.chord for step in steps_of(plan, begins))):
            fifth = (one.root.pitch_class + 7) % OCTAVE
            assert (two.root.pitch_class + 2) % OCTAVE == fifth

    return claim


def kept_on_top_from_fifth_to_ninth(begins: str) -> Claim:
    """Where a top note stays it was the fifth and becomes the ninth."""

    def claim(plan: Plan) -> None:
        waits = [(one, two) for one, two in changes(plan, begins) if top(one) == top(two)]
        assert len(waits) >= 3
        for one, two in waits:
            assert [plain(step.voicing.degrees)[-1] for step in (one, two)] == ["5", "9"]

    return claim


def flat_nines_go_home(begins: str) -> Claim:
    """A flat ninth sinks by a half step to the fifth of the next chord."""

    def claim(plan: Plan) -> None:
        thorns = [(one, two) for one, two in changes(plan, begins) if "b9" in one.voicing.degrees]
        assert thorns
        for one, two in thorns:
            assert note_of(one, "9") - 1 in notes(two)
            assert note_of(two, "5") % OCTAVE == (note_of(one, "9") - 1) % OCTAVE

    return claim


def in_shape(begins: str, symbol: str, wanted: tuple[Place, ...]) -> Claim:
    """Chords with this ending all have this one shape, at more than one place."""

    def claim(plan: Plan) -> None:
        found = [one for one in steps_of(plan, begins) if str(one.voicing.chord).endswith(symbol)]
        assert {shape(one) for one in found} == {wanted}
        assert len({places(one) for one in found}) > 1

    return claim


def one_rung_higher_each_round(chords: int, *rungs: str) -> Claim:
    """Each round has the extension of its rung in every chord, over the same bass notes."""

    def claim(plan: Plan) -> None:
        steps = plan.steps
        assert len(steps) == chords * len(rungs)
        rounds = [steps[start : start + chords] for start in range(0, len(steps), chords)]
        assert len({tuple(bass(one) for one in inside) for inside in rounds}) == 1
        for number, one in enumerate(steps):
            assert rungs[number // chords] in plain(one.voicing.degrees)

    return claim


def no_pattern_in_the_kinds(plan: Plan) -> None:
    """In each key every kind comes before one comes again, in many orders, and no row of up to a dozen goes round."""
    dealt = [step.step.wish.kinds[0] for step in plan.steps]
    keys = [tuple(dealt[start : start + 4]) for start in range(0, len(dealt), 4)]
    assert all(set(key[:3]) == set(dealt) for key in keys)
    assert len({key[:3] for key in keys}) >= 5
    assert len(set(keys)) >= 8
    for period in range(1, 13):
        assert any(one != two for one, two in zip(dealt, dealt[period:], strict=False))


def highest_note_twice(first_bar: int, last_bar: int) -> Claim:
    """The tune reaches its highest note twice, both times in these bars."""

    def claim(plan: Plan) -> None:
        peak = max(top(one) for one in plan.steps)
        bars = [one.step.bar for one in plan.steps if top(one) == peak]
        assert len(bars) == 2
        assert all(first_bar <= bar <= last_bar for bar in bars)

    return claim


def picked_and_strummed(quiet: str, loud: str) -> Claim:
    """The quiet side is picked and the loud one strummed, and both say so in their patterns."""

    def claim(plan: Plan) -> None:
        for begins, strummed in ((quiet, False), (loud, True)):
            for one in steps_of(plan, begins):
                assert one.step.pattern is not None
                assert one.step.pattern.is_strummed == strummed

    return claim


# --- and a few that only one drill makes ---------------------------------------------------------------------------


def tides(string: int) -> tuple[Claim, ...]:
    """Three passages with the root, the third and the fifth at the bottom, spread, on one bass string."""
    return tuple(
        claim
        for number, begins in enumerate(("root", "third", "fifth"))
        for claim in (inversion(begins, number), bass_on_string(begins, string), kinds_are(begins, SPREAD))
    )


def bass_on_strings(begins: str, *strings: int) -> Claim:
    """The lowest notes lie on these strings, and on each of them."""

    def claim(plan: Plan) -> None:
        assert {one.fingering.strings[0] for one in steps_of(plan, begins)} == set(strings)

    return claim


def span(begins: str, least: int, most: int) -> Claim:
    """Semitones from the lowest note to the highest."""

    def claim(plan: Plan) -> None:
        widths = [top(one) - bass(one) for one in steps_of(plan, begins)]
        assert least <= min(widths)
        assert max(widths) <= most

    return claim


def top_waits_then_falls(begins: str) -> Claim:
    """From ii to V the top note stays, from V to I it falls by a half step."""

    def claim(plan: Plan) -> None:
        for steps in passages(plan, begins):
            assert [top(two) - top(one) for one, two in pairwise(steps)] == [0, -1, 0]

    return claim


def higher_and_down_again(first: str, second: str) -> Claim:
    """The first verse ends higher than it began; the second begins above that beginning and ends below it."""

    def claim(plan: Plan) -> None:
        one, two = ([top(step) for step in steps_of(plan, begins)] for begins in (first, second))
        assert one[-1] > one[0]
        assert one[0] < two[-1] < two[0] < max(two)

    return claim


def qualities(begins: str, wanted: dict[str, int]) -> Claim:
    """How many different chords of each quality there are, by the ending of the symbol."""

    def claim(plan: Plan) -> None:
        found = (one.voicing.chord for one in steps_of(plan, begins))
        chords = {(chord.root.pitch_class, chord.quality.symbol) for chord in found}
        assert Counter(ending for _, ending in chords) == wanted

    return claim


def one_place_in_all_passages(plan: Plan) -> None:
    """The lowest note has the same place and finger in all of them."""
    assert len({(places(one)[0], one.fingering.fingers[0]) for one in plan.steps}) == 1


def steps_up_and_back(plan: Plan) -> None:
    """The top notes climb and come back the same way."""
    for steps in passages(plan):
        line = [top(one) for one in steps]
        assert line == line[::-1]
        assert line[: len(line) // 2 + 1] == sorted(set(line))


def strokes_in_a_bar(number: int) -> Claim:
    def claim(plan: Plan) -> None:
        assert set(Counter(one.step.bar for one in plan.steps).values()) == {number}

    return claim


def walks_back(begins: str) -> Claim:
    """Bass and top come back by the way that they went."""

    def claim(plan: Plan) -> None:
        line = [(bass(one), top(one)) for one in steps_of(plan, begins)][:7]
        assert line == line[::-1]
        assert len(set(line)) == 4

    return claim


def handed_on(*, most: int) -> Claim:
    """Each change keeps a note; but for a few jumps to other strings (at most ``most``) the two others move a step."""

    def claim(plan: Plan) -> None:
        jumps = 0
        for one, two in changes(plan):
            assert {pitch % OCTAVE for pitch in notes(one)} & {pitch % OCTAVE for pitch in notes(two)}
            moves = sorted(abs(after - before) for before, after in zip(notes(one), notes(two), strict=True))
            jumps += moves not in ([0, 1, 2], [0, 2, 2])
        assert jumps <= most

    return claim


def no_top_skip_wider_than(semitones: int) -> Claim:
    def claim(plan: Plan) -> None:
        moves = [abs(top(two) - top(one)) for one, two in changes(plan)]
        assert 0 < max(moves) <= semitones

    return claim


def back_after(number: int, begins: str) -> Claim:
    """The chord comes again after so many, and not before."""

    def claim(plan: Plan) -> None:
        chords = [str(one.voicing.chord) for one in steps_of(plan, begins)]
        assert chords.index(chords[0], 1) == number
        assert [two - one for one, two in pairwise(roots(plan, begins))] == [MINOR_THIRD] * number

    return claim


def roots(plan: Plan, begins: str) -> list[int]:
    """The roots, each above the one before."""
    found: list[int] = []
    for one in steps_of(plan, begins):
        pitch = one.voicing.chord.root.pitch_class
        found.append(pitch if not found else found[-1] + (pitch - found[-1]) % OCTAVE)
    return found


def home_at(*bars: int) -> Claim:
    """In these bars the last chord has its root at the bottom."""

    def claim(plan: Plan) -> None:
        for bar in bars:
            last = [one for one in plan.steps if one.step.bar == bar][-1]
            assert bass(last) % OCTAVE == last.voicing.chord.root.pitch_class

    return claim
