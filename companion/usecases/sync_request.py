"""What a phone sends when it syncs: read into checked values. Entries stay raw; the diary judges each for itself.

Keys that we do not know are passed over: a newer phone may meet an older house, and its entries must get in.
"""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from companion.common.errors import InvalidInput, Problem
from companion.common.ids import is_id
from companion.diary.shape import Shape, an_id, an_instant, whole_number, wrong

VERSION = 1
MOST_WEARERS, MOST_ENTRIES = 50, 200
LAST_SEQ = 2**31 - 1


@dataclass(frozen=True)
class Part:
    """What is about one wearer."""

    cursor: int = 0
    """The phone has everything up to this number."""
    entries: Sequence[object] = ()


@dataclass(frozen=True)
class SyncRequest:
    device: str
    sent_at: datetime
    """By the phone's own clock."""
    account: str | None
    """Whose entries these are, where the phone says; it may have changed hands since."""
    key_held: str | None
    """The id of the device key that the phone has, where it says."""
    wearers: Mapping[str, Part]


def read_request(body: bytes) -> SyncRequest:
    """Raises InvalidInput naming the field that is out of shape."""
    try:
        document = json.loads(body, parse_constant=_no_number)
    except (ValueError, RecursionError):
        raise InvalidInput(Problem("entry_not_an_object", "body")) from None
    read = _REQUEST(_known(document, _REQUEST), "")
    return SyncRequest(
        read["device"], read["sent_at"], read.get("account"), read.get("device_key_id"), read["wearers"]
    )


def _no_number(word: str) -> Any:
    raise ValueError(f"{word} is no JSON")


def _entries(value: object, path: str) -> list[object]:
    if not isinstance(value, list):
        raise wrong("entry_not_a_list", path)
    if len(value) > MOST_ENTRIES:
        raise wrong("entry_list_too_long", path, most=MOST_ENTRIES)
    return value


def _parts(value: object, path: str) -> dict[str, Part]:
    if not isinstance(value, Mapping):
        raise wrong("entry_not_an_object", path)
    if len(value) > MOST_WEARERS:
        raise wrong("entry_list_too_long", path, most=MOST_WEARERS)
    parts = {}
    for wearer_id, part in value.items():
        if not is_id(wearer_id):
            raise wrong("entry_not_an_id", path)
        where = f"{path}.{wearer_id}"
        parts[wearer_id] = Part(**_PART(_known(part, _PART), where))
    return parts


def _known(value: object, shape: Shape) -> object:
    if not isinstance(value, Mapping):
        return value
    return {key: one for key, one in value.items() if key in shape.needs or key in shape.may}


_PART = Shape({}, {"cursor": whole_number(0, LAST_SEQ), "entries": _entries})
_REQUEST = Shape(
    {"version": whole_number(VERSION, VERSION), "device": an_id, "sent_at": an_instant, "wearers": _parts},
    {"account": an_id, "device_key_id": an_id},
)
