"""What the touch of a take comes to: by hand, and the laws of adding up; and what players are told of it."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace

import pytest
from how_many import examples
from hypothesis import given, settings
from hypothesis import strategies as st

from listener.history.store.touches import touch_of, touch_row
from listener.judging.touch.account import Degree, TouchAccount, TouchCounting
from listener.judging.touch.touch import ALONE, HELD, LET_GO, MUTED, UNKNOWN, StepTouch, VoiceTouch
from listener.judging.touch.words import touch_lines, touch_verdict
from listener.planning.plan import Plan

NOTES = (48, 55, 64)
DEGREES = ("1", "5", "3")
#: Four chords of four beats, a beat lasting 500 ms.
CHORDS = [("C", NOTES)] * 4


def chord(
    step: int, *states: str, early_ms: int = 250, velocities: Sequence[int | None] = (70, 60, 80), loud: int | None = 70
) -> StepTouch:
    """A triad whose voices, low to high, were held or not; those that were not ended so early."""
    ended = {LET_GO, ALONE, MUTED, UNKNOWN}
    voices = tuple(
        VoiceTouch(pitch, degree, velocity, state, early_ms if state in ended else None)
        for pitch, degree, velocity, state in zip(NOTES, DEGREES, velocities, states, strict=True)
    )
    return StepTouch(step, voices, 2000, 500, loud)


@pytest.fixture
def plan(make_plan: Callable[..., Plan]) -> Plan:
    return make_plan(CHORDS, beats=4.0, tempo=120.0)


def asking(plan: Plan, **fields: object) -> Plan:
    """The plan of a drill whose steps ask for this."""
    steps = tuple(replace(one, step=replace(one.step, **fields)) for one in plan.steps)  # type: ignore[arg-type]
    return replace(plan, steps=steps, drill=replace(plan.drill, steps=tuple(one.step for one in steps)))


def test_by_hand(plan: Plan) -> None:
    """Four changes: all held; the third let go a quarter of a beat (250 of 1000 ms: two of 500) early; the hand left;
    the third ended alone. Nine voices are known, five of them held."""
    account = TouchAccount.of(
        plan,
        [
            chord(0, HELD, HELD, HELD),
            chord(1, HELD, HELD, LET_GO),
            chord(2, LET_GO, LET_GO, LET_GO, early_ms=500, velocities=(70, 60, 50)),
            chord(3, HELD, UNKNOWN, ALONE, velocities=(70, 70, 70)),
        ],
    )
    assert (account.changes, account.whole, account.hands) == (4, 2, 1)
    assert (account.voices, account.held, account.let_go) == (10, 6, 4)
    # 250 + 3 * 500 ms over four voices; half a beat, and three times a whole one.
    assert (account.early_ms, account.mean_early_ms) == (1750, 438)
    assert (account.early_cents, account.mean_early_beats) == (350, 0.88)
    assert account.early == (Degree("1", 0, 0, 4), Degree("3", 1, 1, 4), Degree("5", 0, 0, 3))
    # One has died away for one that ended alone: not believed.
    assert account.died == 1
    assert account.weakest == (Degree("3", 1, 1, 4), 1)
    assert (account.tops, account.tops_out, account.tops_under) == (3, 2, 1)
    assert account.as_json()["let_go"] == [{"degree": "3", "changes": 1, "of": 4}]


def test_chord_by_chord(plan: Plan) -> None:
    """Asked after each, it is the account of those so far."""
    played = [chord(step, HELD, HELD, state) for step, state in enumerate((HELD, LET_GO, ALONE, HELD))]
    counting = TouchCounting(plan)
    for number, one in enumerate(played, start=1):
        counting.add(one)
        assert counting.account == TouchAccount.of(plan, played[:number])
        assert counting.account is counting.account


def test_what_ended_alone_is_believed_where_little_died(plan: Plan) -> None:
    """Three ends that may be fingers, and none that was the string's own: three. With two of those: none."""
    alone = [chord(step, HELD, HELD, ALONE) for step in range(3)]
    account = TouchAccount.of(plan, alone)
    assert account.weakest == (Degree("3", 0, 3, 3), 3)
    dying = TouchAccount.of(plan, [*alone, chord(3, HELD, UNKNOWN, HELD), chord(3, HELD, UNKNOWN, HELD)])
    assert dying.weakest is not None
    assert dying.weakest[1] == 0


def test_thirds_are_one_degree(plan: Plan) -> None:
    """Minor and major."""
    minor = replace(chord(0, HELD, HELD, LET_GO), voices=chord(0, HELD, HELD, LET_GO).voices)
    flat = tuple(one._replace(degree="b3") if one.degree == "3" else one for one in minor.voices)
    account = TouchAccount.of(plan, [minor, replace(minor, voices=flat)])
    assert Degree("3", 2, 0, 2) in account.early


def test_what_stays_for_the_next_chord_is_no_hand_that_holds(plan: Plan) -> None:
    """A common tone rings on, the others were let go: the hand left, and none of them alone; it was held for all
    that."""
    touch = chord(0, HELD, LET_GO, LET_GO)
    staying = replace(touch, voices=(touch.voices[0]._replace(stays=True), *touch.voices[1:]))
    account = TouchAccount.of(plan, [staying])
    assert (account.changes, account.hands, account.voices, account.held) == (1, 1, 3, 1)
    assert account.early == (Degree("1", 0, 0, 1), Degree("3", 0, 0, 1), Degree("5", 0, 0, 1))
    assert (TouchAccount.of(plan, [touch]).hands, TouchAccount.of(plan, [touch]).early[1].early) == (0, 1)


def test_an_open_string_counts_for_nobody(plan: Plan) -> None:
    """It rings by itself: the hand left, though it did."""
    touch = chord(0, HELD, LET_GO, LET_GO)
    touch = replace(touch, voices=(touch.voices[0]._replace(open=True), *touch.voices[1:]))
    account = TouchAccount.of(plan, [touch])
    assert (account.changes, account.hands, account.voices) == (1, 1, 2)


def test_quiet_against_loud(plan: Plan) -> None:
    """Of the pairs 60-50, 60-60, 70-50 and 70-60 the loud one is louder in three and level in one: 3.5 of 4."""
    levels = ("quiet", "quiet", "loud", "loud")
    steps = tuple(
        replace(one, step=replace(one.step, level=level)) for one, level in zip(plan.steps, levels, strict=True)
    )
    asked = replace(plan, steps=steps)
    played = [chord(step, HELD, HELD, HELD, loud=loud) for step, loud in enumerate((50, 60, 60, 70))]
    account = TouchAccount.of(asked, played)
    assert (account.pairs, account.twice_louder, account.louder_share) == (4, 7, 0.875)
    assert touch_lines(asked, account) == ["Quiet and loud: clearly apart."]
    backwards = TouchAccount.of(asked, [replace(one, step=3 - one.step) for one in played])
    assert backwards.louder_share == 0.125
    assert touch_lines(asked, backwards) == [
        "Quiet and loud: the wrong way round; of two chords the loud one was louder in 12 % of all pairs."
    ]
    one = TouchAccount.of(asked, [replace(one, loudness=60) for one in played])
    assert touch_lines(asked, one) == [
        "Quiet and loud: hardly apart; of two chords the loud one was louder in 50 % of all pairs."
    ]
    assert TouchAccount.of(plan, played).louder_share is None


STATES = st.sampled_from([HELD, LET_GO, ALONE, MUTED, UNKNOWN])
VELOCITY = st.one_of(st.none(), st.integers(1, 127))
TOUCHES = st.lists(
    st.builds(
        lambda step, states, early_ms, velocities, loud: chord(
            step, *states, early_ms=early_ms, velocities=velocities, loud=loud
        ),
        st.integers(0, 3),
        st.tuples(STATES, STATES, STATES),
        st.integers(151, 4000),
        st.tuples(VELOCITY, VELOCITY, VELOCITY),
        VELOCITY,
    ),
    max_size=8,
)


def hand_made_plan(make_plan: Callable[..., Plan]) -> Plan:
    return make_plan(CHORDS, beats=4.0, tempo=120.0)


@settings(max_examples=examples(200))
@given(one=TOUCHES, two=TOUCHES, mixed=st.randoms())
def test_adding_up(make_plan: Callable[..., Plan], one: list[StepTouch], two: list[StepTouch], mixed: object) -> None:
    """Two takes together come to what all their chords come to, in whatever order; no share leaves 0 to 1; and a kept
    account comes back as it was."""
    plan = hand_made_plan(make_plan)
    first, second = TouchAccount.of(plan, one), TouchAccount.of(plan, two)
    both = [*one, *two]
    mixed.shuffle(both)  # type: ignore[attr-defined]
    assert TouchAccount.total([first, second]) == TouchAccount.of(plan, both)
    assert TouchAccount.total([]) == TouchAccount()
    assert 0 <= first.whole + first.hands <= first.changes
    assert first.held <= first.voices
    assert first.tops_out + first.tops_under <= first.tops
    assert all(0 <= first.early_in(degree) <= degree.of for degree in first.early)
    assert touch_of(touch_row(first)) == first


@pytest.mark.parametrize(
    "row",
    [
        *({"changes": value} for value in (-1, 1.5, True, "1", None, 2**60)),
        *({"early": value} for value in ("3", [["3", 1, 1]], [["", 1, 1, 1]], [[3, 1, 1, 1]], [["3", 1, -1, 1]])),
        {"early": [["3", 1, 1, 1]] * 65},
    ],
)
def test_what_never_was_an_account(row: dict[str, object]) -> None:
    """Is refused; what a later program may add is passed over."""
    with pytest.raises(ValueError, match=r"that is none|without a name"):
        touch_of(row)
    assert touch_of({"changes": 2, "tomorrow": 3}) == TouchAccount(changes=2)


@pytest.mark.parametrize(
    ("touch", "ring", "balance", "words"),
    [
        (chord(0, HELD, HELD, HELD), True, True, ("held to the change", "the top voice stands out")),
        (
            chord(0, HELD, HELD, LET_GO, early_ms=125, velocities=(70, 60, 50)),
            False,
            False,
            (
                "the 3rd was let go a quarter of a beat before the change",
                "the top voice is softer than what lies inside",
            ),
        ),
        (
            chord(0, LET_GO, LET_GO, LET_GO, early_ms=1000, velocities=(70, 60, 60)),
            False,
            None,
            ("let go 2 beats before the change",),
        ),
        (
            chord(0, LET_GO, HELD, LET_GO, velocities=(70, 60, None)),
            False,
            None,
            ("the root was let go half a beat before the change", "the 3rd was let go half a beat before the change"),
        ),
        (chord(0, MUTED, MUTED, MUTED), False, True, ("muted, not held to the change", "the top voice stands out")),
    ],
)
def test_what_is_said_of_a_chord(
    plan: Plan, touch: StepTouch, ring: bool, balance: bool | None, words: tuple[str, ...]
) -> None:
    """Where the drill asks for it; of other chords nothing is said."""
    asked = asking(plan, ring=True, balance="top").steps[0].step
    said = touch_verdict(asked, touch)
    assert said is not None
    assert (said.ring, said.balance, said.words) == (ring, balance, words)
    assert said.as_asked == (ring and balance is not False)
    assert said.as_json() == {"ring": ring, "balance": balance, "words": list(words)}
    assert touch_verdict(plan.steps[0].step, touch) is None


def test_nothing_is_said_of_what_is_not_known(plan: Plan) -> None:
    """Strings that died away, and a pickup without velocities."""
    asked = asking(plan, ring=True, balance="top").steps[0].step
    assert touch_verdict(asked, chord(0, UNKNOWN, ALONE, UNKNOWN, velocities=(80, 80, 80))) is None


def test_what_is_said_of_a_take(plan: Plan) -> None:
    """At most one line where nobody asked, and only of what one can use; what a drill asks for is always said."""
    level = (80, 80, 80)
    third = [chord(step, HELD, HELD, LET_GO, early_ms=125, velocities=level) for step in (0, 1, 2)]
    held = [chord(3, HELD, HELD, HELD, velocities=level)]
    account = TouchAccount.of(plan, [*third, *held])
    assert touch_lines(plan, account) == [
        "Touch: the 3rd was let go early in 3 of 4 changes, a quarter of a beat before them."
    ]
    assert touch_lines(asking(plan, ring=True), account) == [
        "Held to the change: every voice in 1 of 4 changes; the 3rd was let go in 3 of 4, on average a quarter of a "
        "beat before it."
    ]
    # Twice is no habit, and a hand that leaves may want it so.
    assert touch_lines(plan, TouchAccount.of(plan, [*third[:2], *held, *held])) == []
    hands = TouchAccount.of(plan, [chord(step, LET_GO, LET_GO, LET_GO, velocities=level) for step in range(4)])
    assert touch_lines(plan, hands) == []
    assert touch_lines(asking(plan, ring=True), hands) == [
        "Held to the change: every voice in 0 of 4 changes; the hand left in 4, on average half a beat before it."
    ]
    died = TouchAccount.of(plan, [chord(step, UNKNOWN, UNKNOWN, UNKNOWN) for step in range(4)])
    (line,) = touch_lines(asking(plan, ring=True), died)
    assert line.startswith("Held to the change: that cannot be told")
    assert touch_lines(asking(plan, ring=True), TouchAccount()) == []


@pytest.mark.parametrize(
    ("out", "under", "chords", "said"),
    [
        (7, 0, 7, "Touch: the top voice stood out in 7 of 7 chords."),
        (6, 0, 6, None),
        (13, 3, 16, "Touch: the top voice stood out in 13 of 16 chords."),
        (12, 4, 16, None),
        (0, 9, 12, "Touch: the top voice was the softest in 9 of 12 chords."),
        (0, 0, 8, None),
    ],
)
def test_the_top_voice_is_told_of_where_that_is_no_chance(
    plan: Plan, out: int, under: int, chords: int, said: str | None
) -> None:
    """A sign test: two and a half times the root of their number more (10 of 16, not 8)."""
    account = TouchAccount(tops=chords, tops_out=out, tops_under=under)
    assert touch_lines(plan, account) == ([said] if said else [])
    assert touch_lines(asking(plan, balance="top"), account) == [
        f"The top voice stood out in {out} of {chords} chords."
    ]


def test_rolls_are_told_of_last(plan: Plan) -> None:
    """How even they are, from three on."""
    account = TouchAccount(rolls=3, uneven=360)
    assert touch_lines(plan, account) == [
        "Touch: 3 rolled chords, even; from string to string the time strays by 12 %."
    ]
    arpeggios = replace(plan, drill=replace(plan.drill, arpeggio=True))
    assert "3 arpeggios, uneven" in touch_lines(arpeggios, replace(account, uneven=1800))[0]
    assert touch_lines(plan, replace(account, rolls=2)) == []
