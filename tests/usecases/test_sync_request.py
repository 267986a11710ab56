"""What a phone sends, read: what is out of shape is named, what is new is passed over."""

from __future__ import annotations

import json
from typing import Any

import pytest
from syncers import PHONE

from companion.common.errors import InvalidInput
from companion.usecases.sync_request import MOST_ENTRIES, Part, read_request


def request_with(**changes: Any) -> bytes:
    usual = {"version": 1, "device": PHONE, "sent_at": "2026-11-02T20:30:00Z", "wearers": {}}
    return json.dumps({key: one for key, one in {**usual, **changes}.items() if one is not None}).encode()


WHOSE = "7f0c6f0e-8b0d-4c0e-9a53-4e1f5a3f2b10"


@pytest.mark.parametrize(
    ("body", "field"),
    [
        (b"", "body"),
        (b"{", "body"),
        (b"\xff\xfe", "body"),
        (b"[" * 100_000, "body"),
        (b'{"version": NaN}', "body"),
        (b"[]", ""),
        (request_with(version=2), "version"),
        (request_with(version=True), "version"),
        (request_with(device="phone"), "device"),
        (request_with(device=None), "device"),
        (request_with(sent_at="2026-11-02T20:30"), "sent_at"),
        (request_with(account="gwen"), "account"),
        (request_with(wearers=None), "wearers"),
        (request_with(wearers=[]), "wearers"),
        (request_with(wearers={"nola": {}}), "wearers"),
        (request_with(wearers={WHOSE: []}), f"wearers.{WHOSE}"),
        (request_with(wearers={WHOSE: {"cursor": -1}}), f"wearers.{WHOSE}.cursor"),
        (request_with(wearers={WHOSE: {"cursor": 2**31}}), f"wearers.{WHOSE}.cursor"),
        (request_with(wearers={WHOSE: {"cursor": "1"}}), f"wearers.{WHOSE}.cursor"),
        (request_with(wearers={WHOSE: {"entries": {}}}), f"wearers.{WHOSE}.entries"),
        (request_with(wearers={WHOSE: {"entries": [0] * (MOST_ENTRIES + 1)}}), f"wearers.{WHOSE}.entries"),
        (request_with(wearers={f"00000000-0000-4000-8000-{n:012}": {} for n in range(51)}), "wearers"),
    ],
)
def test_what_is_out_of_shape_is_named(body: bytes, field: str) -> None:
    with pytest.raises(InvalidInput) as caught:
        read_request(body)
    assert caught.value.problems[0].field == field


def test_a_newer_phone_may_say_more() -> None:
    body = request_with(
        zone="Europe/London", moon="full", wearers={WHOSE: {"cursor": 3, "entries": [1], "tide": 2}}
    )
    assert read_request(body).wearers == {WHOSE: Part(3, [1])}
