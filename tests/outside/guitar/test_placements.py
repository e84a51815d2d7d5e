"""Where 228 voicings can lie on the neck, against counts made by brute force without this program."""

from __future__ import annotations

from outside.tables.reading import table_rows

from listener.guitar.grip import fingerings
from listener.guitar.hand import make_hand
from listener.guitar.instrument import make_instrument
from listener.guitar.search import Shape, placements

GUITAR = make_instrument()


def span(shape: Shape) -> int:
    """Frets between the lowest and the highest pressed one; open strings are free."""
    pressed = [fret for _, fret in shape if fret]
    return max(pressed) - min(pressed) if pressed else 0


def ascending(shape: Shape) -> bool:
    """Whether pitch rises from the lowest string to the highest."""
    notes = [GUITAR.pitch(*place) for place in shape]
    return notes == sorted(notes)


def test_counts_of_placements() -> None:
    """All placements, those without crossed strings, and those within three and four frets: every row agrees."""
    table = table_rows("guitar_voicing_placements.csv")
    assert len(table) == 228
    for row in table:
        shapes = placements(GUITAR, [int(note) for note in row["midi"].split()])
        spans = [span(shape) for shape in shapes]
        found = (
            len(shapes),
            sum(map(ascending, shapes)),
            str(min(spans)) if spans else "",
            sum(frets <= 3 for frets in spans),
            sum(frets <= 4 for frets in spans),
        )
        expected = (
            int(row["placements"]),
            int(row["ascending"]),
            row["least_span"],
            int(row["span_to_3"]),
            int(row["span_to_4"]),
        )
        assert found == expected, row


def test_the_examples_are_found() -> None:
    """Each row's example placement is among ours."""
    for row in table_rows("guitar_voicing_placements.csv"):
        if row["example_6to1"]:
            words = row["example_6to1"].split()
            shape = tuple((6 - index, int(word)) for index, word in enumerate(words) if word != "x")
            assert shape in placements(GUITAR, [int(note) for note in row["midi"].split()])


def test_what_lies_well_under_the_hand() -> None:
    """44 of 48 drop-2 sevenths and 18 of 18 spread triads lie within three frets, of the close ones 7 (same counts).

    The large hand can play every one of them: three frets are within its reach from the first fret on.
    """
    near = {kind: [0, 0] for kind in ("drop2", "close", "spread triad")}
    for row in table_rows("guitar_voicing_placements.csv"):
        if row["type"] in near and row["span_to_3"] != "0":
            near[row["type"]][0] += 1
            near[row["type"]][1] += bool(fingerings(GUITAR, make_hand("large"), list(map(int, row["midi"].split()))))
    assert near == {"drop2": [44, 44], "close": [7, 7], "spread triad": [18, 18]}
