"""MusicXML by hand, compressed MusicXML, and files that are broken or mean harm."""

from __future__ import annotations

import io
import time
import tracemalloc
import zipfile
from collections.abc import Callable
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from listener.errors import SourceError
from listener.tunes.melody import Melody, read_melody

HEAD = (
    '<?xml version="1.0" encoding="UTF-8"?>\n<!DOCTYPE score-partwise PUBLIC "-//Recordare//DTD MusicXML 4.0 Partwise'
    '//EN" "http://www.musicxml.org/dtds/partwise.dtd">\n'
)


def note(name: str, duration: int, inside: str = "") -> str:
    """``C4``, ``Bb3`` or ``rest``; what comes ``inside`` stands after the duration."""
    if name == "rest":
        return f"<note><rest/><duration>{duration}</duration>{inside}</note>"
    alter = name.count("#") - name[1:].count("b")
    pitch = f"<pitch><step>{name[0]}</step><alter>{alter}</alter><octave>{name[-1]}</octave></pitch>"
    return f"<note>{pitch}<duration>{duration}</duration>{inside}</note>"


def tie(kind: str) -> str:
    return f'<tie type="{kind}"/>'


def attributes(inside: str = "", divisions: int = 2, beats: str = "4", unit: str = "4") -> str:
    time_ = f"<time><beats>{beats}</beats><beat-type>{unit}</beat-type></time>"
    return f"<attributes><divisions>{divisions}</divisions>{inside}{time_}</attributes>"


def score(
    *bars: str, parts: str = "", listed: str = '<score-part id="P1"><part-name>Tune</part-name></score-part>'
) -> bytes:
    measures = "".join(f'<measure number="{n}">{bar}</measure>' for n, bar in enumerate(bars, start=1))
    return (
        f'{HEAD}<score-partwise version="4.0"><part-list>{listed}</part-list>'
        f'<part id="P1">{measures}</part>{parts}</score-partwise>'
    ).encode()


def rows(tune: Melody) -> list[tuple[str, Fraction, Fraction]]:
    return [(str(n.pitch), n.start_beats, n.length_beats) for n in tune.notes]


def read(*bars: str) -> Melody:
    return read_melody(score(*bars), "t")


def test_a_tune_by_hand() -> None:
    """Pickup, ties over the bar line, triplets, rests, key, meter and chord symbols, all where they belong."""
    triplet = "".join(note(name, 2) for name in ("C5", "B4", "Bb4"))
    tune = read(
        attributes("<key><fifths>-1</fifths><mode>minor</mode></key>", divisions=6, beats="3") + note("A4", 6),
        "<harmony><root><root-step>D</root-step></root><kind>minor</kind></harmony>"
        + note("D5", 12)
        + note("E5", 6, tie("start")),
        "<harmony><root><root-step>E</root-step></root><kind>half-diminished</kind>"
        "<bass><bass-step>B</bass-step><bass-alter>-1</bass-alter></bass></harmony>"
        + note("E5", 6, tie("stop"))
        + triplet
        + note("rest", 6),
    )
    third = Fraction(1, 3)
    assert rows(tune) == [
        ("A4", 0, 1),
        ("D5", 1, 2),
        ("E5", 3, 2),
        ("C5", 5, third),
        ("B4", 5 + third, third),
        ("Bb4", 5 + 2 * third, third),
    ]
    assert (str(tune.key), tune.meter, tune.pickup_beats, tune.length_beats) == ("D minor", (3, 4), 1, 7)
    assert [(str(chord), start, length) for start, length, chord in tune.chords] == [("Dm", 1, 3), ("Em7b5/Bb", 4, 3)]
    assert tune.part == "Tune"
    assert tune.remarks == ()


def test_voices_chords_and_ornaments() -> None:
    """The first voice is the melody, of a chord the highest note; grace notes and cues take no time."""
    tune = read(
        attributes()
        + note("C4", 2, "<voice>1</voice>")
        + note("E4", 2, "<chord/><voice>1</voice>")
        + "<note><grace/><pitch><step>F</step><octave>4</octave></pitch><voice>1</voice></note>"
        + note("G4", 6, "<voice>1</voice>")
        + "<backup><duration>8</duration></backup>"
        + note("C6", 8, "<voice>2</voice>"),
        note("rest", 8, "<voice>1</voice>")
        + "<backup><duration>8</duration></backup>"
        + note("A3", 8, "<voice>2</voice>"),
        "<forward><duration>4</duration></forward>" + note("B3", 4, "<voice>2</voice>"),
    )
    assert rows(tune) == [("E4", 0, 1), ("G4", 1, 3), ("B3", 10, 2)]
    assert tune.remarks == ("Grace notes are left out (1).", "Only the top voice is taken where there are several.")


def test_repeats_are_said_and_not_played() -> None:
    """What stands between repeat signs comes once, and the melody says so."""
    tune = read(attributes() + note("C4", 8), note("D4", 8) + '<barline><repeat direction="backward"/></barline>')
    assert rows(tune) == [("C4", 0, 4), ("D4", 4, 4)]
    assert tune.remarks == ("Repeats and endings are taken once, as they are written.",)


def test_a_tune_that_changes_its_meter_is_in_the_first() -> None:
    """Notes keep their times, and the change is said."""
    tune = read(attributes() + note("C4", 8), attributes(beats="3") + note("D4", 6), note("E4", 6))
    assert (tune.meter, tune.remarks) == ((4, 4), ("The meter changes on the way.",))
    assert rows(tune) == [("C4", 0, 4), ("D4", 4, 3), ("E4", 7, 3)]
    assert read(attributes() + note("C4", 8), attributes() + note("D4", 8)).remarks == ()


def test_a_transposing_part_sounds() -> None:
    """Notes, key and chords of a part in B flat are a whole tone lower than written, spelled as they sound."""
    shift = "<transpose><diatonic>-1</diatonic><chromatic>-2</chromatic></transpose>"
    tune = read(
        attributes("<key><fifths>1</fifths></key>" + shift)
        + "<harmony><root><root-step>G</root-step></root><kind>dominant</kind></harmony>"
        + note("F#4", 4)
        + note("C4", 4)
    )
    assert rows(tune) == [("E4", 0, 2), ("Bb3", 2, 2)]
    assert (str(tune.key), str(tune.chords[0].chord)) == ("F major", "F7")


def test_an_octave_lower_as_for_guitar() -> None:
    """A part that is written an octave higher than it sounds is read as it sounds."""
    shift = "<transpose><chromatic>0</chromatic><octave-change>-1</octave-change></transpose>"
    assert rows(read(attributes(shift) + note("E5", 8))) == [("E4", 0, 4)]


DEGREES = {
    "G7b9": ("G", "dominant", [("9", -1, "add")]),
    "G7b5": ("G", "dominant", [("5", -1, "alter")]),
    "C(add9)": ("C", "major", [("9", 0, "add")]),
    "Cmaj9#11": ("C", "major-ninth", [("11", 1, "add")]),
    "F7(no5)": ("F", "dominant", [("5", 0, "subtract")]),
    "Bb7": ("B,-1", "major", [("7", 0, "add")]),
    "Am11(no5)": ("A", "minor-11th", [("5", 0, "subtract")]),
}


@pytest.mark.parametrize("symbol", DEGREES)
def test_degrees_change_a_kind(symbol: str) -> None:
    """Degrees are added as in a dominant chord, altered from what the kind has, or taken away (MusicXML 4.0)."""
    from listener.music.chord import parse_chord

    root, kind, degrees = DEGREES[symbol]
    step, _, alter = root.partition(",")
    changes = "".join(
        f"<degree><degree-value>{value}</degree-value><degree-alter>{by}</degree-alter>"
        f"<degree-type>{how}</degree-type></degree>"
        for value, by, how in degrees
    )
    harmony = (
        f"<harmony><root><root-step>{step}</root-step><root-alter>{alter or 0}</root-alter></root>"
        f"<kind>{kind}</kind>{changes}</harmony>"
    )
    chord = read(attributes() + harmony + note("C4", 8)).chords[0].chord
    wanted = parse_chord(symbol)
    assert (chord.root, set(chord.quality.degrees)) == (wanted.root, set(wanted.quality.degrees))


def harmony(inside: str) -> str:
    return f"<harmony>{inside}</harmony>"


ROOT_C = "<root><root-step>C</root-step></root>"


def test_no_chord_ends_the_one_before() -> None:
    """N.C. leaves silence; a symbol with an offset begins where it says; the last lasts to the end."""
    tune = read(
        attributes()
        + harmony(ROOT_C + "<kind>major</kind>")
        + harmony(ROOT_C + "<kind>none</kind><offset>4</offset>")
        + note("C4", 8),
        harmony(ROOT_C + '<kind text="7sus4">other</kind>') + note("C4", 8),
    )
    assert [(str(c), s, length) for s, length, c in tune.chords] == [("C", 0, 2), ("C7sus4", 4, 4)]


@pytest.mark.parametrize(
    "inside",
    [
        "<function>IV</function><kind>major</kind>",
        ROOT_C + "<kind>no such kind</kind>",
        ROOT_C + '<kind text="wobbly">other</kind>',
        "<root><root-step>H</root-step></root><kind>major</kind>",
        ROOT_C + "<kind>major</kind><degree><degree-value>99</degree-value></degree>",
        ROOT_C + "<kind>major</kind><degree><degree-value>1</degree-value><degree-type>subtract</degree-type></degree>",
        "<root><root-step>C</root-step><root-alter>0.5</root-alter></root><kind>major</kind>",
        ROOT_C + "<kind>Neapolitan</kind>",
    ],
)
def test_chords_that_cannot_be_read_are_said(inside: str) -> None:
    """The melody is there, the chord is not, and a remark names the bar."""
    tune = read(attributes() + harmony(inside) + note("C4", 8))
    assert tune.chords == ()
    assert len(tune.remarks) == 1
    assert tune.remarks[0].startswith("Bar 1: ")
    assert tune.remarks[0].endswith("the chord is left out.")


SECOND = '<score-part id="P2"><part-name>Bass</part-name></score-part>'
BOTH = score(
    attributes() + note("C5", 8),
    parts=f'<part id="P2"><measure number="1">{attributes()}{note("C3", 8)}</measure></part>',
    listed=f'<score-part id="P1"><part-name>Tune</part-name></score-part>{SECOND}',
)


@pytest.mark.parametrize(("part", "wanted"), [("1", "C5"), ("tune", "C5"), ("Bass", "C3"), ("2", "C3")])
def test_parts_are_chosen(part: str, wanted: str) -> None:
    """By number or name."""
    assert rows(read_melody(BOTH, "t", part=part)) == [(wanted, 0, 4)]


def packed(content: bytes, path: str = "score.xml", named: str | None = None, **more: bytes) -> bytes:
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as archive:
        root = f'<container><rootfiles><rootfile full-path="{named or path}"/></rootfiles></container>'
        archive.writestr("META-INF/container.xml", root)
        archive.writestr(path, content)
        for name, data in more.items():
            archive.writestr(name, data)
    return out.getvalue()


GOOD = score(attributes() + note("C4", 8))


def test_compressed_is_the_same() -> None:
    """A packed score is read as the plain one, also as UTF-16 and with a byte order mark."""
    plain = read_melody(GOOD, "t")
    assert read_melody(packed(GOOD), "t") == plain
    assert read_melody(b"\xef\xbb\xbf" + GOOD, "t") == plain
    assert read_melody(GOOD.decode().replace("UTF-8", "UTF-16").encode("utf-16"), "t") == plain


def test_an_entity_of_the_outer_definition_is_passed_over() -> None:
    """What the unread document type may declare is left out, as XML 1.0 (4.4.3) allows; the notes are all there."""
    tune = read_melody(GOOD.replace(b"Tune", b"Caf&eacute; tune"), "t")
    assert (tune.part, len(tune.notes)) == ("Caf tune", 1)


def entities(count: int, inner: str) -> str:
    return "".join(f'<!ENTITY e{n} "{inner.format(n=n - 1) * 10}">' for n in range(1, count))


def doctype(inside: str, body: str = "&e9;") -> bytes:
    head = f'<?xml version="1.0"?><!DOCTYPE score-partwise [{inside}]>'
    return (head + f"<score-partwise><part-list>{body}</part-list></score-partwise>").encode()


def locked() -> bytes:
    data = bytearray(packed(GOOD))
    for signature, at in ((b"PK\x01\x02", 8), (b"PK\x03\x04", 6)):
        start = 0
        while (start := data.find(signature, start)) >= 0:
            data[start + at] |= 1
            start += 4
    return bytes(data)


def squeezed(method: int) -> bytes:
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", method) as archive:
        archive.writestr("META-INF/container.xml", '<container><rootfile full-path="a"/></container>')
        archive.writestr("a", GOOD)
    return out.getvalue()


def many_members() -> bytes:
    return packed(GOOD, **{f"m{n}": b"" for n in range(1100)})


#: Lazy, since some of them are large.
#: Takes seconds to read while memory is watched.
LONG = ("too many notes",)
HOSTILE: dict[str, tuple[Callable[[], bytes], str]] = {
    "billion laughs": (lambda: doctype('<!ENTITY e0 "ha">' + entities(10, "&e{n};")), "declares entities of its own"),
    "quadratic blow-up": (
        lambda: doctype(f'<!ENTITY e9 "{"a" * 100_000}">', "&e9;" * 10_000),
        "declares entities of its own",
    ),
    "external entity": (
        lambda: doctype('<!ENTITY e9 SYSTEM "file:///etc/passwd">'),
        "declares entities of its own",
    ),
    "external parameter entity": (
        lambda: doctype('<!ENTITY % p SYSTEM "file:///etc/passwd"> %p;', ""),
        "declares entities of its own",
    ),
    "deep nesting": (lambda: b"<score-partwise>" + b"<a>" * 200_000, "nested deeper than 64"),
    "a bar without end": (
        lambda: score(attributes() + "<note/>" * 100_001).replace(b"<note/>", b"<x/>"),
        "more than 100000 elements",
    ),
    "too large": (lambda: GOOD + b" " * (17 << 20), "more than 16 MB"),
    "zip bomb": (lambda: packed(HEAD.encode() + b" " * (20 << 20)), "unpacks to more than 16 MB"),
    "a path out of the container": (lambda: packed(GOOD, "../../score.xml"), "outside of itself"),
    "an absolute path": (lambda: packed(GOOD, "a", named="/etc/passwd"), "outside of itself"),
    "a Windows path": (lambda: packed(GOOD, "a", named="C:\\\\a"), "outside of itself"),
    "a score that is not there": (lambda: packed(GOOD, "a", named="b"), "has no b in it"),
    "a container that names nothing": (lambda: packed(GOOD, "a", named='"/><x y="'), "which of its files"),
    "a zip of something else": (lambda: squeezed_text(), "has no META-INF/container.xml in it"),
    "a locked zip": (locked, "packed or locked"),
    "lzma": (lambda: squeezed(zipfile.ZIP_LZMA), "packed or locked"),
    "too many members": (many_members, "too large for a score"),
    "a cut zip": (lambda: packed(GOOD)[:200], "damaged or cut off"),
    "a zip with a flipped bit": (
        lambda: (data := packed(GOOD))[:200] + bytes((data[200] ^ 0xFF,)) + data[201:],
        "damaged or cut off",
    ),
    "cut XML": (lambda: GOOD[: len(GOOD) // 2], "is cut off in line"),
    "cut inside a tag": (lambda: GOOD[:-20], "is cut off in line"),
    "not well formed": (lambda: GOOD.replace(b"</measure>", b"</meas>"), "is not valid XML"),
    "an encoding that nobody knows": (lambda: GOOD.replace(b"UTF-8", b"EBCDIC-9"), "encoding that cannot be read"),
    "a web page": (lambda: b"<html><body>hello</body></html>", "begins with <html>"),
    "score-timewise": (lambda: b"<score-timewise/>", "save it part by part"),
    "no notes": (lambda: score(attributes() + note("rest", 8)), "holds no notes"),
    "no parts": (lambda: score(), "holds no notes"),
    "percussion only": (
        lambda: score(attributes() + "<note><unpitched/><duration>8</duration></note>"),
        "holds only percussion",
    ),
    "several parts": (lambda: BOTH, "say which one is the melody: 1 'Tune', 2 'Bass'"),
    "a note without duration": (
        lambda: score(attributes() + "<note><rest/></note>"),
        "bar 1: a note has no duration",
    ),
    "no divisions": (lambda: score(attributes(divisions=0) + note("C4", 8)), "no divisions"),
    "a negative duration": (lambda: score(attributes() + note("C4", -8)), "lasts less than nothing"),
    "a duration in words": (lambda: GOOD.replace(b">8<", b">eight<"), "'eight' is not a number"),
    "a duration without end": (lambda: GOOD.replace(b">8<", b">" + b"9" * 5000 + b"<"), "is not a number"),
    "a quarter tone": (lambda: GOOD.replace(b"<alter>0<", b"<alter>0.5<"), "a quarter tone"),
    "a strange step": (lambda: GOOD.replace(b"<step>C<", b"<step>H<"), "'H4' is not a pitch"),
    "a strange octave": (lambda: GOOD.replace(b"<octave>4<", b"<octave>44<"), "'C44' is not a pitch"),
    "a note beyond hearing": (lambda: score(attributes() + note("C9", 8) + note("A9", 8)), "A9 lies outside"),
    "a strange meter": (lambda: score(attributes(beats="4", unit="5") + note("C4", 8)), "'4/5' is not a meter"),
    "lengths that fit no grid": (
        lambda: score(*(attributes(divisions=p) + note("C4", 1) for p in (9973, 9967, 9949, 9941))),
        "fit no common grid",
    ),
    "too many notes": (
        lambda: score(attributes(), *(note("C4", 1) * 2000 for _ in range(11))),
        "more than 20000 notes",
    ),
    "too many parts": (
        lambda: score(parts="".join(f'<part id="Q{n}"><measure number="1"/></part>' for n in range(500))),
        "more than 400 parts",
    ),
}


def squeezed_text() -> bytes:
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w") as archive:
        archive.writestr("letter.txt", "dear reader")
    return out.getvalue()


@pytest.mark.parametrize("story", [pytest.param(one, marks=pytest.mark.slow if one in LONG else ()) for one in HOSTILE])
def test_broken_and_hostile_files_are_refused_in_one_line(story: str) -> None:
    """One clear line, in bounded time and memory, whatever the file tries."""
    make, part = HOSTILE[story]
    data = make()
    tracemalloc.start()
    began = time.process_time()
    try:
        with pytest.raises(SourceError) as caught:
            read_melody(data, "tune.mxl")
        peak = tracemalloc.get_traced_memory()[1]
    finally:
        tracemalloc.stop()
    assert part in str(caught.value)
    assert str(caught.value).startswith("tune.mxl")
    assert str(caught.value).isprintable()
    assert len(str(caught.value)) < 200
    assert time.process_time() - began < 10  # of CPU: another program may be busy
    assert peak < 150 << 20


def test_the_outer_definition_is_never_fetched(monkeypatch: pytest.MonkeyPatch) -> None:
    """Reading the usual document type opens no file and no connection."""
    import builtins
    import socket

    def refuse(*_: object, **__: object) -> None:
        raise AssertionError("something was opened")

    monkeypatch.setattr(socket, "socket", refuse)
    monkeypatch.setattr(builtins, "open", refuse)
    assert b"partwise.dtd" in GOOD
    assert len(read_melody(GOOD, "t").notes) == 1


@given(st.integers(0, len(GOOD) - 1), st.binary(max_size=6), st.integers(0, 12))
def test_no_damage_crashes_it(at: int, junk: bytes, gone: int) -> None:
    """Whatever happens to some bytes, there is a melody or a SourceError of one line."""
    data = GOOD[:at] + junk + GOOD[at + gone :]
    for form in (data, packed(data)):
        try:
            sound = bool(read_melody(form, "t").notes)
        except SourceError as error:
            sound = "\n" not in str(error)
        assert sound
