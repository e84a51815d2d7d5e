"""Imports point down only: the house has one way through."""

from __future__ import annotations

import ast
from collections import Counter
from functools import cache
from pathlib import Path

import listener

ROOT = Path(listener.__file__).parent
#: From the top of the house to its ground floor; a part may import from itself and from parts below it.
LAYERS = (
    "__main__",
    "cli",
    "commands",
    "face",
    "request",
    "options",
    "screen",
    "session",
    "history",
    "sheets",
    "judging",
    "following",
    "simulation",
    "hearing",
    "planning",
    "drill",
    "tunes",
    "guitar",
    "sounding",
    "music",
    "smf",
    "settings",
    "places",
    "records",
    "toml_lines",
    "schemas",
    "data",
    "streams",
    "errors",
    "formats",
    "plain_words",
    "safe_text",
    "__init__",
)
#: What each part may import from outside the standard library, besides the parts below it.
THIRD_PARTY = {
    "music": set(),
    "smf": set(),
    "guitar": {"numpy"},
    "tunes": set(),
    "drill": {"numpy"},
    "planning": {"numpy"},
    "simulation": set(),
    "sounding": {"numpy"},
    "hearing": {"rtmidi", "supriya_midi"},
    "following": {"numpy"},
    "judging": set(),
    # verovio and typst are loaded by name in sheets/extras.py, so the test below cannot see them.
    "sheets": {"mido", "verovio", "typst"},
    "history": {"fsrs", "psycopg", "sqlalchemy"},
    "session": set(),
    "screen": {"rich"},
    "commands": {"rich", "shtab"},
    "face": set(),
    "request": set(),
    "options": set(),
    "cli": set(),
    "settings": set(),
    "places": {"platformdirs"},
    "records": set(),
    "toml_lines": set(),
    "schemas": set(),
    "data": set(),
    "streams": set(),
    "errors": set(),
    "formats": set(),
    "plain_words": set(),
    "safe_text": set(),
    "__main__": set(),
    "__init__": set(),
}
#: Modules that a pure part must not use: they read a clock, wait, or talk to the world.
WORLDLY = {"time", "socket", "subprocess", "threading", "asyncio", "sqlite3", "signal", "select"}
PURE = (
    *("music", "smf", "records", "toml_lines", "plain_words", "safe_text", "sounding", "guitar", "tunes"),
    *("drill", "planning", "following", "judging", "sheets"),
)
FILES = sorted(path for path in ROOT.rglob("*.py") if "_data" not in path.parts)
#: The ground floor, since all parts may ask it for the version, and the front door, which loads nothing but tells
#: type checkers what is behind it: it has a test of its own.
DOOR = ROOT / "__init__.py"


def part_of(path: Path) -> str:
    first = path.relative_to(ROOT).parts[0]
    return first.removesuffix(".py")


@cache
def parsed(path: Path) -> ast.Module:
    return ast.parse(path.read_text(encoding="utf-8"))


@cache
def imports(path: Path) -> frozenset[str]:
    found: set[str] = set()
    for node in ast.walk(parsed(path)):
        if isinstance(node, ast.Import):
            found.update(alias.name for alias in node.names)
        elif isinstance(node, ast.ImportFrom):
            assert node.level == 0, f"{path}: relative import"
            assert node.module is not None
            if node.module == "listener":
                found.update(f"listener.{alias.name}" for alias in node.names)
            else:
                found.add(node.module)
    return frozenset(found)


def part_of_module(name: str) -> str:
    parts = name.split(".")
    inside = parts[1] if len(parts) > 1 else "__init__"
    return inside if inside in LAYERS else "__init__"


def test_there_are_files_to_look_at() -> None:
    """The check below is not empty, and every file belongs to a known part."""
    assert len(FILES) > 20
    assert {part_of(path) for path in FILES} <= set(LAYERS)


def test_imports_point_down() -> None:
    """A file imports from its own part or from parts below it, never from above."""
    assert len(FILES) > 400
    for path in (path for path in FILES if path != DOOR):
        here = LAYERS.index(part_of(path))
        for name in imports(path):
            if name.split(".")[0] == "listener":
                assert LAYERS.index(part_of_module(name)) >= here, f"{path} imports {name}, which lies above it"


def test_the_front_door_loads_nothing() -> None:
    """``import listener`` is free; what it names for type checkers is what it gives when asked, and all of it."""
    import subprocess
    import sys
    from importlib import import_module

    code = "import sys; before = set(sys.modules); import listener; print(*sorted(set(sys.modules) - before))"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.split() == ["listener"]
    told = {
        alias.name: node.module
        for node in ast.walk(ast.parse(DOOR.read_text(encoding="utf-8")))
        if isinstance(node, ast.ImportFrom) and node.module != "importlib"
        for alias in node.names
    }
    assert {*told, "__version__"} == set(listener.__all__) <= set(dir(listener))
    for name, module in told.items():
        assert module is not None
        assert getattr(listener, name) is getattr(import_module(module), name)


def test_only_the_listed_libraries() -> None:
    """Each part uses only the libraries that it is known to need."""
    import sys

    for path in FILES:
        part = part_of(path)
        for name in imports(path):
            top = name.split(".")[0]
            if top != "listener" and top not in sys.stdlib_module_names:
                assert top in THIRD_PARTY[part], f"{path} imports {top}"


def test_the_core_is_pure() -> None:
    """Nothing from music to judging reads a clock, waits, or talks to the world; of hearing only the sources do."""
    for path in FILES:
        part = part_of(path)
        pure = part in PURE or (part == "hearing" and "sources" not in path.parts)
        if pure:
            assert not {name.split(".")[0] for name in imports(path)} & WORLDLY, path


#: What reads files and places: the two readers of drills, and what names the fonts of printed sheets.
READERS = {"drill/drill_file.py", "drill/own_drills.py", "sheets/printed/pdf.py"}
OUTER = {"os", "pathlib", "tempfile", "shutil", "glob", "datetime", "listener.places", "listener.settings"}


def test_the_core_reads_no_files() -> None:
    """Nothing from music to sheets asks for a file, the environment or the date, but the readers of drills."""
    for path in FILES:
        part, place = part_of(path), path.relative_to(ROOT).as_posix()
        pure = part in PURE or part == "simulation" or (part == "hearing" and "sources" not in path.parts)
        if pure and place not in READERS:
            calls = [node.func for node in ast.walk(parsed(path)) if isinstance(node, ast.Call)]
            assert not any(isinstance(call, ast.Name) and call.id == "open" for call in calls), path
            assert not imports(path) & OUTER, path


def test_no_room_is_too_full() -> None:
    """A folder of more than twenty files has more than one idea."""
    folders = {path.parent for path in FILES}
    assert not [folder for folder in folders if len(list(folder.glob("*.py"))) > 20]


def test_no_cycles() -> None:
    """No module imports itself, however long the way round."""
    from graphlib import TopologicalSorter

    names = {
        ".".join(("listener", *path.relative_to(ROOT).with_suffix("").parts)).removesuffix(".__init__"): path
        for path in FILES
    }
    graph = {
        name: {found for found in imports(path) if found in names and found != name} for name, path in names.items()
    }
    graph["listener.data"] -= {"listener"}
    assert tuple(TopologicalSorter(graph).static_order())


def test_a_name_is_one_thing() -> None:
    """No two public classes have the same name, so that a reader who meets it knows which is meant."""
    names = Counter(
        node.name
        for path in FILES
        for node in parsed(path).body
        if isinstance(node, ast.ClassDef) and not node.name.startswith("_")
    )
    assert not {name for name, number in names.items() if number > 1}


def test_no_folder_is_crowded() -> None:
    """At most twenty Python files in a folder, of the program and of its tests, to be seen at a glance."""
    here = Path(__file__).parent
    files = Counter(path.parent for path in (*FILES, *here.rglob("*.py")))
    assert not {str(folder): number for folder, number in files.items() if number > 20}
