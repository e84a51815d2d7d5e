"""A bundle as the bytes of its file. The same bundle gives the same bytes: no clock, no folder, no chance goes in."""

from __future__ import annotations

import hashlib
import json
import re
from collections.abc import Mapping
from typing import Any, Final

from listener.formats import headed
from listener.history.exchange.archive import archive_bytes
from listener.history.exchange.bundle import FORMAT, INDEX, VERSION, Bundle, BundledTake
from listener.history.exchange.describing import take_row
from listener.places import numbered
from listener.safe_text import clean

_LONGEST: Final = 50


def pack(bundle: Bundle) -> bytes:
    """The file. Takes stand in the order in which they were played."""
    entries: dict[str, bytes] = {}
    drills = _Drills(bundle, entries)
    takes = sorted(bundle.takes, key=lambda take: (take.info.started_at, take.sha256))
    routes: dict[str, tuple[str, str | None]] = {}
    rows = []
    for number, take in enumerate(takes, start=1):
        stem = f"takes/{number:04d}-{entry_name(take.info.drill)}"
        entries[f"{stem}.mid"] = take.midi
        entries[f"{stem}.json"] = json_bytes(headed("bundle-take", take_row(take)))
        route = _route(take, routes, entries, drills)
        rows.append({"midi": f"{stem}.mid", "about": f"{stem}.json", "route": route, "sha256": take.sha256})
    entries[INDEX] = json_bytes(
        {
            "format": FORMAT,
            "version": VERSION,
            "made_by": bundle.made_by,
            "student": clean(bundle.student),
            "drills": drills.rows,
            "routes": [{"plan": file, "drill": drill} for file, drill in routes.values()],
            "takes": rows,
        }
    )
    return archive_bytes(entries)


class _Drills:
    """Every drill text once, under a name of its own."""

    def __init__(self, bundle: Bundle, entries: dict[str, bytes]) -> None:
        wanted = {(drill.name, drill.text): False for drill in bundle.drills}
        for drill in bundle.drills:
            wanted[drill.name, drill.text] |= drill.to_practise
        for take in bundle.takes:
            if take.info.drill_text:
                wanted.setdefault((take.info.drill, take.info.drill_text), False)
        self.rows: list[dict[str, object]] = []
        self._files: dict[tuple[str, str], str] = {}
        for (name, text), to_practise in sorted(wanted.items()):
            data = text.encode()
            file = _free(f"drills/{entry_name(name)}", entries)
            entries[file] = data
            self._files[name, text] = file
            digest = hashlib.sha256(data).hexdigest()
            self.rows.append({"name": name, "file": file, "to_practise": to_practise, "sha256": digest})

    def file(self, take: BundledTake) -> str | None:
        """Where the text of the take's drill lies; None when it was not kept."""
        return self._files.get((take.info.drill, take.info.drill_text))


def _free(stem: str, entries: Mapping[str, bytes]) -> str:
    files = (f"{one}.toml" for one in numbered(stem))
    return next(file for file in files if file not in entries)


def _route(
    take: BundledTake, routes: dict[str, tuple[str, str | None]], entries: dict[str, bytes], drills: _Drills
) -> str:
    """The entry with the take's plan, made now if it is a new one."""
    data = json_bytes(headed("plan", take.info.plan))
    drill = drills.file(take)
    key = hashlib.sha256(f"{drill}\0".encode() + data).hexdigest()
    if key not in routes:
        file = f"routes/{len(routes) + 1:04d}-{entry_name(take.info.drill)}.json"
        entries[file] = data
        routes[key] = file, drill
    return routes[key][0]


def entry_name(text: str) -> str:
    """A name that is safe in every file system and zip.

    >>> entry_name("Mill verse (2)/../x")
    'mill-verse-2-x'
    """
    plain = re.sub(r"[^a-z0-9]+", "-", text.lower()).strip("-")[:_LONGEST].strip("-")
    return plain or "drill"


def json_bytes(value: Mapping[str, Any]) -> bytes:
    """JSON as it stands in a bundle: UTF-8, a line for each field and for each row of a list of tables."""
    return ("{\n" + ",\n".join(f" {_json(name)}: {_field(one)}" for name, one in value.items()) + "\n}\n").encode()


def _field(value: Any) -> str:
    if isinstance(value, list | tuple) and value and isinstance(value[0], dict):
        return "[\n" + ",\n".join(f"  {_json(row)}" for row in value) + "\n ]"
    return _json(value)


def _json(value: Any) -> str:
    return json.dumps(value, ensure_ascii=False, allow_nan=False)
