"""A family's phone below the browser: a queue, cursors and what was seen, which syncs through Flask's test client.

It keeps to the rules of the phone's own queue: only what the server names leaves, a cursor never goes back,
merging is a union by id. A test may send any body again, late or never, and settle replies in any order.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import datetime
from typing import Any
from uuid import uuid4

from flask.testing import FlaskClient
from visitors import HERE
from werkzeug.test import TestResponse

FROM_SCRIPT = HERE | {"X-Companion": "sync"}
Raw = dict[str, Any]


def sync_body(now: datetime, wearers: Mapping[str, Any] | None = None, **more: Any) -> dict[str, Any]:
    """A request of a phone that knows nothing yet."""
    usual = {"version": 1, "device": str(uuid4()), "sent_at": now.isoformat(), "zone": "Europe/London"}
    return {**usual, "wearers": wearers or {}, **more}


def post(client: FlaskClient, body: Any, key: str | None = None, **headers: str) -> TestResponse:
    """Post as the phone's script does; with a device key, as a phone that is signed out."""
    said = FROM_SCRIPT | headers | ({"Authorization": f"Device {key}"} if key else {})
    return client.post("/sync", json=body, headers=said)


@dataclass
class Phone:
    client: FlaskClient
    device: str = field(default_factory=lambda: str(uuid4()))
    waiting: dict[str, tuple[str, Raw]] = field(default_factory=dict)
    """Entries that the server has not named yet: the wearer and the entry by id, in the order of the taps."""
    rejected: dict[str, dict[str, Any]] = field(default_factory=dict)
    cursors: dict[str, int] = field(default_factory=dict)
    seen: dict[str, dict[str, dict[str, Any]]] = field(default_factory=dict)
    """What the server has shown of each wearer, by id."""
    key: str | None = None

    def log(self, wearer_id: str, *entries: Raw) -> None:
        for raw in entries:
            self.waiting.setdefault(raw["id"], (wearer_id, raw))

    def body(self, now: datetime, most: int = 200) -> dict[str, Any]:
        """What this phone would send now."""
        wearers: dict[str, Any] = {one: {"cursor": cursor, "entries": []} for one, cursor in self.cursors.items()}
        for wearer_id, raw in list(self.waiting.values())[:most]:
            wearers.setdefault(wearer_id, {"cursor": 0, "entries": []})["entries"].append(raw)
        return sync_body(now, wearers, device=self.device)

    def settle(self, reply: Mapping[str, Any]) -> None:
        self.key = reply.get("device_key", self.key)
        for one in reply["wearers"]:
            for entry_id in one["accepted"]:
                self.waiting.pop(entry_id, None)
            for refused in one["rejected"]:
                if refused["id"] in self.waiting and refused["code"] not in ("sign_in_first", "consent_first"):
                    self.rejected[refused["id"]] = refused
                    del self.waiting[refused["id"]]
            known = self.seen.setdefault(one["id"], {})
            known.update({entry["id"]: entry for entry in one.get("entries", ())})
            self.cursors[one["id"]] = max(self.cursors.get(one["id"], 0), one.get("cursor", 0))
        for wearer_id in reply["gone"]:
            self.seen.pop(wearer_id, None)
            self.cursors.pop(wearer_id, None)

    def sync(self, now: datetime, **more: Any) -> dict[str, Any]:
        """One round trip without trouble."""
        answer = post(self.client, self.body(now) | more)
        assert answer.status_code == 200, answer.get_data(as_text=True)
        reply: dict[str, Any] = answer.get_json()
        self.settle(reply)
        return reply
