"""Counts and lists in words, said in the same way wherever something is said."""

from __future__ import annotations

from collections.abc import Sequence


def counted(count: int, one: str, many: str | None = None) -> str:
    """``1 hit``, ``2 hits``; ``many`` for words whose plural has more than an s."""
    return f"{count} {one if count == 1 else many or one + 's'}"


def capital(text: str) -> str:
    """The text as the beginning of a sentence."""
    return text[:1].upper() + text[1:]


def listed(words: Sequence[str]) -> str:
    """``C``, ``C and F``, ``C, F and G``; nothing for none."""
    return " and ".join([", ".join(words[:-1]), words[-1]] if len(words) > 1 else words)
