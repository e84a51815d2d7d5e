"""The fields of a take's header: texts of strangers until each is of its type and within the bounds of its meaning.

The bounds are ours and wide: what is possible on a guitar is for the instrument and the hand to say.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, Final

from listener.errors import SourceError

#: Characters of a text field.
_LONGEST: Final = 1_000
#: Fields that must be there; the others have a usual value.
_NEEDED: Final = ("drill", "pace", "tempo", "first_beat_s", "pickup")
_TEXTS: Final = ("drill", "pace", "pickup", "tuning", "hand", "made_by", "started", "meter")
#: Whole numbers, lowest and highest.
_WHOLES: Final = {"capo": (0, 36), "frets": (1, 36), "register": (-36, 36)}
#: Beats a minute (0 where a take has none), seconds from the start of the take, millimetres.
_REALS: Final = {"tempo": (0.0, 1e6), "first_beat_s": (-1e6, 1e6), "scale_mm": (100.0, 2000.0)}
_MAY_BE_NULL: Final = ("first_beat_s",)
_FLAGS: Final = ("left_handed", "high_open")


def checked_fields(row: Mapping[str, Any], name: str, paces: tuple[str, ...]) -> dict[str, Any]:
    """The known fields of ``row``, the header of the file ``name``; unknown ones are left out.

    :class:`SourceError` names the first field that is missing or is not what it should be; ``paces`` may stand in
    ``pace``.
    """
    missing = [field for field in _NEEDED if field not in row]
    if missing:
        raise _damaged(name, f"it has no {missing[0]}")
    found = {
        field: _checked(row[field], field, name) for field in (*_TEXTS, *_WHOLES, *_REALS, *_FLAGS) if field in row
    }
    if found["pace"] not in paces:
        raise _damaged(name, f"pace must be {' or '.join(paces)}")
    return found


def _checked(value: Any, field: str, name: str) -> Any:
    if field in _TEXTS:
        if isinstance(value, str) and len(value) <= _LONGEST:
            return value
        raise _damaged(name, f"{field} must be a text of up to {_LONGEST} characters")
    if field in _FLAGS:
        if isinstance(value, bool):
            return value
        raise _damaged(name, f"{field} must be true or false")
    if field in _WHOLES:
        low, high = _WHOLES[field]
        if isinstance(value, int) and not isinstance(value, bool) and low <= value <= high:
            return value
        raise _damaged(name, f"{field} must be a whole number from {low} to {high}")
    return None if value is None and field in _MAY_BE_NULL else _real(value, field, name)


def _real(value: Any, field: str, name: str) -> float:
    low, high = _REALS[field]
    # Compared before it is converted: a whole number of JSON may be too long for a float.
    if isinstance(value, int | float) and not isinstance(value, bool) and low <= value <= high:
        return float(value)
    raise _damaged(name, f"{field} must be a number from {low:g} to {high:g}")


def _damaged(name: str, why: str) -> SourceError:
    return SourceError(f"{name} is a take, but its header is damaged ({why}); its notes cannot be judged again")
