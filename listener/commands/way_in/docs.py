"""``widehand docs``: the pages and schemas that came with the program, in the terminal."""

from __future__ import annotations

import json
import os
import re
import sys
from argparse import Namespace
from collections.abc import Collection, Container
from pathlib import Path
from typing import Final

from listener.data import data_folder
from listener.errors import UsageError
from listener.options.mistyped import did_you_mean
from listener.safe_text import echo
from listener.schemas import schema_names, whole_schema
from listener.screen.sparkline import output_wants_plain
from listener.screen.theme import to_ascii

#: Pages that lie beside the folder ``docs`` or in others, by their names here.
_OTHERS: Final = {"readme": "README.md", "drills": "drills/README.md", "changelog": "CHANGELOG.md"}
_IMAGE: Final = re.compile(r"!\[[^\]]*\]\([^)]*\)\n*")
_LINK: Final = re.compile(r"\[([^\]]+)\]\(([^)#\s]*)(?:#[^)]*)?\)")
_CODE: Final = re.compile(r"^```\w+", re.MULTILINE)
_COLUMNS: Final = 100
#: Black boxes, yellow and cyan are for dark terminals only; shape and weight can be read on all.
_STYLES: Final = {
    **dict.fromkeys(("code", "item.bullet", "item.number", "table.header"), "bold"),
    **dict.fromkeys(("h2", "h3"), "bold underline"),
    **dict.fromkeys(("code_block", "hr", "block_quote", "table.border"), "none"),
}


def main(arguments: Namespace) -> int:
    """List the pages, or show one, or print a schema."""
    if arguments.schema is not None:
        if arguments.page:
            raise UsageError("a page or a schema: ask for one of them")
        print(json.dumps(whole_schema(_known(arguments.schema, "schema", schema_names())), indent=2))
        return 0
    found = pages()
    if not arguments.page:
        _list(found)
        return 0
    text = found[_known(arguments.page, "page", found)].read_text(encoding="utf-8")
    if arguments.plain or not sys.stdout.isatty():
        print(_shown(text), end="")
    else:
        _show(for_terminal(text, found))
    return 0


def pages() -> dict[str, Path]:
    """Where each page lies, by its name: the README first, then by the alphabet."""
    folder = data_folder("docs")
    found = {name: folder.parent / place for name, place in _OTHERS.items()}
    found |= {path.stem: path for path in folder.glob("*.md")}
    return {name: found[name] for name in sorted(found, key=lambda name: (name != "readme", name))}


def for_terminal(text: str, names: Container[str]) -> str:
    """A page without its pictures and the colours of its code, and with links that say which page to ask for.

    >>> for_terminal("![neck](neck.svg)\\nSee [the hand](docs/hand.md) and [LICENSE](LICENSE).", ["hand"])
    'See the hand (`widehand docs hand`) and LICENSE.'
    """

    def said(match: re.Match[str]) -> str:
        words, target = match.groups()
        if target.startswith("https://"):
            return f"{words} ({target})"
        place = Path(target)
        name = "drills" if place.parent.name == "drills" else place.stem.lower()
        return f"{words} (`widehand docs {name}`)" if place.suffix == ".md" and name in names else words

    return _CODE.sub("```", _LINK.sub(said, _IMAGE.sub("", text)))


def _known(word: str, what: str, known: Collection[str]) -> str:
    """One of the names; :class:`UsageError` says which was probably meant."""
    plain = word.casefold().removeprefix("docs/").removesuffix(".md")
    plain = re.sub(r"^widehand (\S+) \d+$", r"\1", plain)
    if plain in known:
        return plain
    there = "all of them: widehand docs" if what == "page" else f"there are {', '.join(known)}"
    raise UsageError(f"there is no {what} {echo(word)}; {did_you_mean(plain, known) or there}")


def _list(found: dict[str, Path]) -> None:
    widest = max(map(len, found))
    for name, path in found.items():
        title = path.read_text(encoding="utf-8").split("\n", 1)[0].lstrip("# ")
        print(f"  {name:<{widest}}  {_shown(title)}")
    print("To read one: widehand docs PAGE. For programs: widehand docs --schema NAME")


def _shown(text: str) -> str:
    """As the terminal, or whoever reads, can show it."""
    return to_ascii(text) if output_wants_plain() else text


def _show(text: str) -> None:
    """Laid out, a screenful at a time."""
    from rich.console import Console
    from rich.markdown import Markdown
    from rich.theme import Theme

    console = Console(theme=Theme({f"markdown.{name}": style for name, style in _STYLES.items()}))
    os.environ.setdefault("LESS", "-FRX")  # or it shows the signs that make letters bold
    page = Markdown(_shown(text), code_theme="ansi_dark", hyperlinks=False)
    with console.pager(styles=True):
        console.print(page, width=min(console.width, _COLUMNS))
