"""A teacher's view: who played what, how it went, what to say next; pages that need nothing and run nothing."""

from __future__ import annotations

import dataclasses
import json
import re
from datetime import UTC, datetime, timedelta
from html.parser import HTMLParser
from pathlib import Path

import pytest

from listener.cli import main
from listener.hearing.events import Message
from listener.hearing.take_file import Take, take_bytes
from listener.history.exchange.advice import advice, fault_words
from listener.history.exchange.bundle import Bundle
from listener.history.exchange.packing import pack
from listener.history.exchange.students import Student, judged_again, students_of
from listener.history.exchange.unpacking import unpack
from listener.history.progress.summary import ChangeProgress, DrillProgress, Progress, TakeSummary
from listener.history.store.store import Store
from listener.judging.account import Account
from listener.judging.remarks.take_remarks import NAMES
from listener.screen.students.page import html_page, text_page
from listener.screen.students.student_page import overview, page_file, row, student_page

NOW = datetime(2031, 5, 20, 12, 0, tzinfo=UTC)
EVIL = "<script>alert(1)</script>\x1b[31m\u202e"


@pytest.fixture
def bundle(mara: bytes) -> Bundle:
    """Mara's."""
    return unpack(mara, "mara.zip")


@pytest.fixture
def student(bundle: Bundle) -> Student:
    """Mara."""
    (found,) = students_of([("mara.zip", bundle)])
    return found


@pytest.fixture
def folder(tmp_path: Path, mara: bytes, bundle: Bundle) -> Path:
    """Lessons: Mara's bundle, Ilse's with one take, one that is no bundle, and one cut off."""
    place = tmp_path / "lessons"
    place.mkdir()
    (place / "mara.zip").write_bytes(mara)
    (place / "ilse.ZIP").write_bytes(pack(dataclasses.replace(bundle, student="Ilse Brook", takes=bundle.takes[:1])))
    (place / "words.zip").write_text("words")
    (place / "cut.zip").write_bytes(mara[:500])
    (place / "for-mara.zip").write_bytes(pack(dataclasses.replace(bundle, student="", takes=())))
    (place / "notes.txt").write_text("not looked at")
    return place


def test_the_numbers_are_those_of_the_students_own_progress(student: Student, mara_store: Path) -> None:
    """Teacher and student see the same: the whole progress document."""
    with Store.open(mara_store, read_only=True) as store:
        own = store.progress().as_json()
    assert student.progress.as_json() == own
    assert student.account.judged == 32
    assert 0 < student.minutes < 5


def test_the_demos_takes_are_not_the_students(bundle: Bundle) -> None:
    """They are counted and in no number; a student with nothing else is told of."""
    mine, demo = bundle.takes[0], bundle.takes[1]
    demo = dataclasses.replace(demo, info=dataclasses.replace(demo.info, source="from a friend: simulated guitar"))
    (both,) = students_of([("a.zip", dataclasses.replace(bundle, takes=(mine, demo)))])
    (alone,) = students_of([("a.zip", dataclasses.replace(bundle, takes=(mine,)))])
    assert (both.takes, both.simulated) == ((mine,), 1)
    assert (both.progress, both.account, both.minutes) == (alone.progress, alone.account, alone.minutes)
    (nothing,) = students_of([("a.zip", dataclasses.replace(bundle, takes=(demo,)))])
    assert (nothing.progress.takes, nothing.minutes, nothing.last) == (0, 0.0, None)
    assert row(nothing)[1] == "0 (1 of the demo left out)"
    assert row(both)[1] == "1"


def test_takes_count_once_however_often_they_come(bundle: Bundle) -> None:
    """A bundle of May and one of May and June: every take once; names in upper or lower case are one person."""
    first = dataclasses.replace(bundle, takes=bundle.takes[:1], student="MARA LIND")
    (found,) = students_of([("may.zip", first), ("june.zip", bundle)])
    assert (found.name, found.files, len(found.takes)) == ("Mara Lind", ("may.zip", "june.zip"), 2)


def test_a_bundle_without_a_name_is_its_files(bundle: Bundle) -> None:
    """Better than nobody."""
    (found,) = students_of([("tuesday 5 pm.zip", dataclasses.replace(bundle, student=""))])
    assert found.name == "tuesday 5 pm"


def test_judging_again_gives_the_same(student: Student) -> None:
    """The raw MIDI says what the verdicts say: no differences, no trouble."""
    again = judged_again(student)
    assert len(again) == 2
    assert not [one for one in again if one.changes or one.trouble]


def test_verdicts_that_were_made_up_are_found(bundle: Bundle) -> None:
    """Misses and nears turned into hits in the bundle: judged again, exactly those strokes differ."""
    take = bundle.takes[0]
    painted = tuple(dataclasses.replace(verdict, grade="hit", faults=()) for verdict in take.verdicts)
    changed = [verdict.step for verdict in take.verdicts if verdict.grade != "hit" or verdict.faults]
    assert changed
    (student,) = students_of(
        [("m.zip", dataclasses.replace(bundle, takes=(dataclasses.replace(take, verdicts=painted),)))]
    )
    (again,) = judged_again(student)
    assert [change.step for change in again.changes] == changed
    page = text_page(student_page(student, NOW, (again,)))
    assert "Judged again by this program" in page
    assert "near" in page


def test_a_take_that_cannot_be_judged_again_is_told(bundle: Bundle) -> None:
    """A plan that is not the drill's: one line, the rest of the page stands."""
    info = bundle.takes[0].info
    steps = [{**info.plan["steps"][0], "chord": "Q"}, *info.plan["steps"][1:]]
    take = dataclasses.replace(bundle.takes[0], info=dataclasses.replace(info, plan={**info.plan, "steps": steps}))
    (student,) = students_of([("m.zip", dataclasses.replace(bundle, takes=(take,)))])
    (again,) = judged_again(student)
    assert "other chords" in again.trouble
    assert "cannot be judged again" in text_page(student_page(student, NOW, (again,)))


def test_takes_in_which_nothing_was_played_are_not_counted(student: Student) -> None:
    """A take begun anew at once is no take to a teacher, and early is said in words."""
    silent = dataclasses.replace(student.takes[0], verdicts=())
    more = dataclasses.replace(student, takes=(*student.takes, silent))
    count = len(student.takes)
    assert row(more)[1] == str(count)
    page = student_page(more, NOW)
    assert ("Takes", str(count)) in page.facts
    assert re.fullmatch(r"-|on the click.*|\d+ ms (early|late).*", dict(page.facts)["Timing"])


@pytest.mark.parametrize(
    ("seconds", "words"), [(12, "less than a minute"), (72, "1 minute"), (108, "2 minutes"), (3600, "60 minutes")]
)
def test_playing_time_is_told_in_whole_minutes(student: Student, seconds: int, words: str) -> None:
    """From the first note to the last; one minute is one minute."""
    notes = (Message(1.0, (0x90, 60, 80)), Message(1.0 + seconds, (0x80, 60, 0)))
    take = dataclasses.replace(student.takes[0], midi=take_bytes(Take(notes)))
    page = student_page(dataclasses.replace(student, takes=(take,)), NOW)
    assert dict(page.facts)["Playing time"] == words


class Reader(HTMLParser):
    """Collects tags, what they refer to, and text; notices tags that are not closed."""

    EMPTY = frozenset({"meta", "rect", "line"})

    def __init__(self) -> None:
        super().__init__()
        self.tags: list[str] = []
        self.open: list[str] = []
        self.references: list[str] = []
        self.handlers: list[str] = []
        self.text = ""

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append(tag)
        if tag not in self.EMPTY:
            self.open.append(tag)
        self.references += [value or "" for name, value in attrs if name in ("src", "href", "action", "xlink:href")]
        self.handlers += [name for name, _ in attrs if name.startswith("on")]

    def handle_startendtag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append(tag)

    def handle_endtag(self, tag: str) -> None:
        assert self.open.pop() == tag

    def handle_data(self, data: str) -> None:
        self.text += data


def read(html: str) -> Reader:
    reader = Reader()
    reader.feed(html)
    reader.close()
    assert reader.open == []
    return reader


def test_pages_need_nothing_and_run_nothing(student: Student) -> None:
    """No scripts, no handlers, nothing fetched; the picture says in words what it shows; every number is there."""
    again = judged_again(student)
    pages = [read(html_page(student_page(student, NOW, again))), read(html_page(overview([student], NOW, ["x: y"])))]
    for page in pages:
        assert not {"script", "iframe", "img", "link", "object", "form"} & set(page.tags)
        assert page.handlers == []
        assert all(reference.endswith(".html") and "/" not in reference for reference in page.references)
    assert "Mara Lind" in pages[0].text
    assert "mill-verse" in pages[0].text
    assert pages[1].references == [page_file(student)]
    assert 'role="img" aria-label="Hits in each take' in html_page(student_page(student, NOW))


def test_nothing_from_a_bundle_becomes_markup(bundle: Bundle) -> None:
    """Names, drills and faults that are HTML or steer a terminal are shown as text, or not at all."""
    take = bundle.takes[0]
    fault = dataclasses.replace(
        next(fault for verdict in take.verdicts for fault in verdict.faults), code="<b>x</b>", text=EVIL
    )
    verdicts = tuple(dataclasses.replace(verdict, faults=(fault,), grade="near") for verdict in take.verdicts)
    evil = dataclasses.replace(
        take, info=dataclasses.replace(take.info, drill="<img src=x onerror=y>"), verdicts=verdicts, judged_by="<i>"
    )
    packed = pack(dataclasses.replace(bundle, student=EVIL, takes=(evil,)))
    (student,) = students_of([("<u>.zip", unpack(packed, "b.zip"))])
    assert student.name == "<script>alert(1)</script>[31m"
    for page in (student_page(student, NOW, judged_again(student)), overview([student], NOW, ["<p>: refused"])):
        reader = read(html_page(page))
        assert not {"script", "img", "b", "i", "u"} & set(reader.tags)
        assert "<script>alert(1)</script>" in reader.text
        assert "\x1b" not in html_page(page) + text_page(page)
        assert "\u202e" not in html_page(page) + text_page(page)


def progress_like(
    accuracy: float,
    *,
    weak: float = 1.0,
    tempo: float | None = 60.0,
    spread: float = 10.0,
    steps: int = 10,
    fault: str = "top_note",
) -> Progress:
    """Ten chords in one take of one drill."""
    hits = round(10 * accuracy)
    account = Account(
        steps=steps, reached=10, hits=hits, nears=10 - hits, onsets=20, offset_squares=20 * round(10 * spread) ** 2,
        faults=((fault, 3),) if hits < 8 else (),
    )  # fmt: skip
    drill = DrillProgress("quay-steps", (TakeSummary(1, 1, "quay-steps", tempo, NOW, account),), account)
    change = ChangeProgress("C", "spread", "F", "spread", 10, round(10 * weak))
    return Progress(1, 1, 10, (drill,), (change,) if weak < 1 else ())


@pytest.mark.parametrize(
    ("progress", "days", "parts"),
    [
        (progress_like(1.0), 1, ["went well at 60 (100 % hits): say so"]),
        (progress_like(1.0, tempo=None), 1, ["bring in the click"]),
        (progress_like(1.0), 20, ["No take for 20 days", "went well"]),
        (progress_like(0.5, weak=0.3), 1, ["C spread to F spread came off 3 of 10 times", "the note on top"]),
        (progress_like(0.8, weak=0.8), 1, ["Going well as it is"]),
        (progress_like(0.8, spread=80.0), 1, ["spreads by 80 ms"]),
        (progress_like(1.0, steps=16), 1, ["not played to its end yet (10 of 16 steps): ask where it stops"]),
        (Progress(0, 0, 0, (), ()), 1, ["only free playing"]),
    ],
)
def test_what_to_say_next(progress: Progress, days: int, parts: list[str]) -> None:
    """Whether somebody plays at all, then what went well, then what to work on; always something."""
    said = advice(progress, NOW - timedelta(days=days), NOW)
    assert len(said) == len(parts)
    for sentence, part in zip(said, parts, strict=True):
        assert part in sentence


@pytest.mark.parametrize("code", sorted(NAMES))
def test_remarks_that_count_as_faults_have_advice_too(code: str) -> None:
    """For each of them what it is, in a musician's words and not a program's, and what helps."""
    (sentence,) = advice(progress_like(0.5, fault=code), NOW, NOW)
    assert re.fullmatch(r"In quay-steps, [a-z ]+: [a-z ,]+\.", sentence)
    assert sentence.startswith(f"In quay-steps, {fault_words(code)}: ")
    assert fault_words(code) != code.replace("_", " ")


def test_nobody_is_shamed() -> None:
    """Without a take the first sentence asks; no sentence grades a person."""
    assert advice(Progress(0, 0, 0, (), ()), None, NOW) == ("No takes in here yet: ask what got in the way.",)


def test_the_table_and_what_was_left_out(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Every student with a row and a sentence; files that are no bundles with a line each, and the rest is shown."""
    assert main(["students", str(folder)]) == 0
    out, err = capsys.readouterr()
    assert out.index("Ilse Brook") < out.index("Mara Lind")
    assert "What to say next" in out
    left_out = err.splitlines()
    assert [line.split()[2] for line in left_out] == ["cut.zip", "for-mara.zip", "words.zip"]
    assert all(line.startswith("left out: ") for line in left_out)


def test_the_document(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """--json: students with their numbers and what to say, what was left out, and differences when asked for."""
    assert main(["students", str(folder), "--json", "--rejudge"]) == 0
    document = json.loads(capsys.readouterr().out)
    assert [row["student"] for row in document["students"]] == ["Ilse Brook", "Mara Lind"]
    assert len(document["refused"]) == 3
    wanted = {
        *("takes", "minutes", "last", "hits", "accuracy", "movement_score", "weakest_change", "say_next"),
        *("progress", "judged_again", "files"),
    }
    assert all(wanted <= set(row) for row in document["students"])
    assert document["students"][1]["judged_again"] == []


def test_one_student_as_text(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """The whole page in the terminal; plain is ASCII."""
    assert main(["students", str(folder), "--student", "mara lind", "--plain"]) == 0
    out = capsys.readouterr().out
    assert out.startswith("Mara Lind\n=========\n")
    assert out.isascii()
    assert "Pain means stop" in out
    assert main(["students", str(folder), "--student", "Nobody"]) == 2
    assert "Ilse Brook, Mara Lind" in capsys.readouterr().err


def test_pages_are_written_and_nothing_else_is(
    folder: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """One that leads to the others; written again in their place; a page of somebody else's is not written over."""
    pages = tmp_path / "pages"
    for _ in range(2):
        assert main(["students", str(folder), "--html", str(pages)]) == 0
    names = sorted(file.name for file in pages.iterdir())
    assert len(names) == 3
    assert "index.html" in names
    references = read((pages / "index.html").read_text(encoding="utf-8")).references
    assert sorted(references) == [name for name in names if name != "index.html"]
    (pages / "index.html").write_text("<p>my own page</p>")
    before = {file: file.read_bytes() for file in pages.iterdir()}
    assert main(["students", str(folder), "--html", str(pages)]) == 1
    assert "is not a page of this program" in capsys.readouterr().err
    assert {file: file.read_bytes() for file in pages.iterdir()} == before


@pytest.mark.parametrize("words", [(), ("--json",), ("--plain",), ("--rejudge",)])
def test_an_empty_folder(words: tuple[str, ...], tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Says what to do, or is an empty document."""
    assert main(["students", str(tmp_path), *words]) == 0
    out, err = capsys.readouterr()
    assert err == ""
    if words == ("--json",):
        assert json.loads(out) == {"format": "widehand students 1", "students": [], "refused": []}


def test_folders_that_are_none(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """One line; and when there is nothing but broken bundles the exit code says so."""
    assert main(["students", str(tmp_path / "none")]) == 1
    assert "cannot be read as a folder" in capsys.readouterr().err
    (tmp_path / "words.zip").write_text("words")
    assert main(["students", str(tmp_path)]) == 1


def test_free_playing_only(bundle: Bundle) -> None:
    """Takes without a drill count as playing time; nothing was judged, and nothing breaks."""
    info = dataclasses.replace(bundle.takes[0].info, plan={"drill": "", "steps": []}, drill_text="", drill="")
    take = dataclasses.replace(bundle.takes[0], info=info, verdicts=())
    bundle = unpack(pack(dataclasses.replace(bundle, drills=(), takes=(take,))), "b.zip")
    (student,) = students_of([("m.zip", bundle)])
    assert student.minutes > 0
    assert judged_again(student) == ()
    assert "only free playing" in student.advice(take.finished_at)[0]
    read(html_page(student_page(student, NOW, ())))
