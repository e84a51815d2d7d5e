"""The fields of a take's header: texts of strangers until each is of its type and within the bounds of its meaning.

The bounds are ours and wide: what is possible on a guitar is for the instrument and the hand to say.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, Final

from listener.errors import SourceError
from listener.records import Kind, Strict, flag, or_null, real, said, text, whole

#: Characters of a text field.
_LONGEST: Final = 1_000
_TEXT: Final = said(text(_LONGEST), f"a text of up to {_LONGEST} characters")
#: Fields that must be there; the others have a usual value.
_NEEDED: Final = ("drill", "pace", "tempo", "first_beat_s", "pickup")
#: Beats a minute are 0 where a take has none, seconds count from the start of the take.
_KINDS: Final[Mapping[str, Kind[Any]]] = {
    **dict.fromkeys(("drill", "pace", "pickup", "tuning", "hand", "made_by", "started", "meter"), _TEXT),
    "capo": whole(0, 36),
    "frets": whole(1, 36),
    "register": whole(-36, 36),
    "tempo": real(0, 1e6),
    "first_beat_s": or_null(real(-1e6, 1e6)),
    "scale_mm": real(100, 2000),
    "left_handed": flag,
    "high_open": flag,
}


def checked_fields(row: Mapping[str, Any], name: str, paces: tuple[str, ...]) -> dict[str, Any]:
    """The known fields of ``row``, the header of the file ``name``; unknown ones are left out.

    :class:`SourceError` names the first field that is missing or is not what it should be; ``paces`` may stand in
    ``pace``.
    """
    header = _Header(row, name)
    missing = [field for field in _NEEDED if not header.has(field)]
    if missing:
        raise _damaged(name, f"it has no {missing[0]}")
    found = {field: header.need(field, kind) for field, kind in _KINDS.items() if header.has(field)}
    if found["pace"] not in paces:
        header.misfit("pace", " or ".join(paces))
    return found


class _Header(Strict):
    """A header; ``file`` is for errors."""

    def __init__(self, row: Mapping[str, Any], file: str) -> None:
        super().__init__(row)
        self.file = file

    def refusal(self, name: str, wanted: str) -> SourceError:
        """The header is damaged."""
        return _damaged(self.file, f"{name} must be {wanted}")


def _damaged(name: str, why: str) -> SourceError:
    return SourceError(f"{name} is a take, but its header is damaged ({why}); its notes cannot be judged again")
