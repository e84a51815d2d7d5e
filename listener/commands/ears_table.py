"""Writes ``docs/ears.md``: how far the ears can be believed, measured on simulated pickups.

``python -m listener.commands.ears_table [--strokes 10000] [--seed 1001] [--pickup NAME ...] [--to FILE]``
"""

from __future__ import annotations

from argparse import ArgumentParser
from collections.abc import Sequence
from pathlib import Path

from listener.guitar.hand import make_hand
from listener.guitar.instrument import make_instrument
from listener.hearing.pickup import make_pickup, pickup_names
from listener.hearing.sources.converter import make_converter
from listener.judging.evaluate import Tally
from listener.judging.proving import (
    ARPEGGIOS,
    CHORDS,
    OWN_PACE_ARPEGGIOS,
    OWN_PACE_RIFFS,
    REPORT_SEED,
    TUNING_SEEDS,
    performances,
    prove,
)
from listener.planning.drill_file import bundled_drills, load_drill
from listener.planning.plan import Plan
from listener.planning.planner import plan_drill

_GRADES = ("hit", "near", "miss")
_ERRORS = ("typical", "hard")

_ABOUT = """# How far the ears can be believed

Written by `python -m listener.commands.ears_table --strokes {strokes} --seed {seed}`. Everything here is simulated: a
guitarist who plays the bundled drills with slips, and a pickup that makes every error of
`listener/hearing/sources/converter.py`, at its typical rates and at three times those ("hard"). The rules were tuned on
seeds {tuning_first} to {tuning_last}, before this table was made; the performances below have the seeds from {seed} on.
Rates of real pickups were not found in print, so these figures say how the ears do on pickups *like this*, not on
yours.

- **Strokes** were found when they were heard within 50 ms of the first pluck with exactly the notes that were sent.
- **Verdicts** agree when the first verdict of a step has the grade of what was really played, and no other follows.
- **Told** are the steps of which the messages say what the player did: each pluck was sent at its pitch, each tone held
  into the step sounded on the wire when it began, and no damped tone of its chord did. That is read from the simulated
  converter's own log of what it did to each note, before any verdict is looked at. In the other steps a note was never
  sent, was sent an octave high, or ended too early or too late.
- **Agree** counts all steps, **agree, told** the told ones only. In a told step nothing is excused: neither that the
  step before was not told, nor that the ears lost the player's place. **As sent** says how many of the other steps were
  judged as what was sent for them; the rest were mostly set right, and judged as played.
- **False hits**: "hit" where the player slipped; in brackets those of them in told steps, which alone an ear could have
  known about.

So "agree" says how often a player with such a pickup will find the verdict right, and "agree, told" how much of the
rest is the ears' fault.
"""

_KNOWN = """
| pickup | errors | strokes | F1 | agree | told | agree, told | as sent | false hits (told) | F1 without drill |
| --- | --- | --- | --- | --- | --- | --- | --- | --- | --- |
"""

_LIMITS = """
## What remains

- A note that the converter never sent (0.5 % of notes at the typical rates) cannot be told from a string that was not
  reached. In 100 chords {lost:.1f} such notes were lost before any ear had listened. To forgive that would mean to
  forgive every string that really was missed. For the same reason an extra string that was never sent, or a damped tone
  whose end was sent late, makes a false hit that nobody could avoid.
- A note sent an octave high is taken as meant only where strings are told apart, everything else is right, and no hand
  could have reached the fret that it would take.
- Arpeggios at the player's own pace: a tone left out that the next chord begins with, or a tone too many that the next
  chord has, may be put down to the wrong side of the border; in doubt the verdict is "near". All the same about
  one hit in 1,500 (on the seeds that the rules were tuned on) is given for a chord that borrowed its last tone from the
  next one. With the click the time decides.
- Riffs: where a drill has the same chord again and again, a player without a click who strikes it once more is told
  from one who has gone on by the pace alone: that of the last changes of chord, and until there were some the drill's
  own tempo. A stroke of which nothing was sent shifts the count until the chord changes.
- No published rates of such errors were found. Those of the simulated pickup are assumed, and marked so.
"""


def main(arguments: Sequence[str] | None = None) -> int:
    """Simulate, count, write."""
    parser = ArgumentParser(prog="python -m listener.commands.ears_table", description="Write docs/ears.md.")
    parser.add_argument("--strokes", type=int, default=10_000, help="at least so many for each profile and error rate")
    parser.add_argument("--seed", type=int, default=REPORT_SEED, help="of the first performance")
    parser.add_argument("--pickup", action="append", help="a profile; may be given again; all when left out")
    parser.add_argument("--to", type=Path, default=Path("docs/ears.md"), help="the file to write")
    chosen = parser.parse_args(arguments)
    if chosen.strokes < 1:
        parser.error("--strokes takes a number above 0")
    names = chosen.pickup or list(pickup_names())
    chosen.to.write_text(table(names, strokes=chosen.strokes, seed=chosen.seed), encoding="utf-8")
    print(f"{chosen.to} written: {len(names)} profiles")
    return 0


def bundled_plans() -> list[Plan]:
    """The course on a guitar in standard tuning, under a medium hand."""
    instrument, hand = make_instrument(), make_hand("medium")
    return [plan_drill(load_drill(name), instrument, hand) for name in bundled_drills()]


def table(names: Sequence[str], *, strokes: int, seed: int) -> str:
    """The whole page."""
    plans = bundled_plans()
    rows, confusions = list[str](), list[str]()
    rolled, riffs = list[str](), list[str]()
    lost = 0.0
    for name in names:
        pickup = make_pickup(name)
        for errors in _ERRORS:
            converter = make_converter(errors)
            known, free = prove(performances(plans, pickup, converter, CHORDS + ARPEGGIOS, seed=seed, strokes=strokes))
            rows.append(_row(name, errors, known, free))
            confusions.append(_confusion(name, errors, known))
            for apart, playings in ((rolled, OWN_PACE_ARPEGGIOS), (riffs, OWN_PACE_RIFFS)):
                runs = performances(plans, pickup, converter, playings, seed=seed, strokes=max(1, strokes // 10))
                apart.append(_row(name, errors, *prove(runs)))
            if errors == "typical":
                lost = max(lost, 100 * known.made["never sent"] / max(1, known.verdicts))
    about = _ABOUT.format(strokes=strokes, seed=seed, tuning_first=TUNING_SEEDS[0], tuning_last=TUNING_SEEDS[-1])
    return "".join(
        (
            about, "\n## Chords and strums, and arpeggios with the click\n", _KNOWN, *rows,
            "\n## Kept apart: arpeggios at the player's own pace\n", _KNOWN, *rolled,
            "\n## Kept apart: riffs of one chord, and chords struck again, at the player's own pace\n", _KNOWN, *riffs,
            _LIMITS.format(lost=lost),
            "\n## Really played, and judged\n", *confusions,
        )
    )  # fmt: skip


def _row(name: str, errors: str, known: Tally, free: Tally) -> str:
    without = f"{free.f1:.4f}" if free.played else "none"
    cells = (
        name, errors, known.played, f"{known.f1:.4f}", f"{100 * known.agreement:.2f} %",
        f"{known.told} of {known.verdicts}", f"{100 * known.agreement_told:.2f} %",
        f"{known.agreed_sent} of {known.untold}", f"{known.false_hits} ({known.told_hits})", without,
    )  # fmt: skip
    return "| " + " | ".join(map(str, cells)) + " |\n"


def _confusion(name: str, errors: str, known: Tally) -> str:
    """Rows are what was really played, columns what was said; below, what the ears set right."""
    columns = (*_GRADES, "none")
    lines = [f"\n### {name}, {errors}\n", "| | " + " | ".join(columns) + " |", "| --- " * (len(columns) + 1) + "|"]
    for really in _GRADES:
        counts = (str(known.confusion[really, said]) for said in columns)
        lines.append(f"| {really} | " + " | ".join(counts) + " |")
    made = ", ".join(f"{count} {kind}" for kind, count in sorted(known.made.items()))
    right = ", ".join(f"{count} {kind}" for kind, count in sorted(known.cleaned.items()) if count)
    return "\n".join((*lines, "", f"Errors of plucked notes: {made}.", f"Set right: {right}.", ""))


if __name__ == "__main__":
    raise SystemExit(main())
