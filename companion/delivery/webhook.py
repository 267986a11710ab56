"""Hand one message to a practice's own gateway, which knows how to ring a phone or send a text message.

Owns the form of the request and its signature, which the README promises to whoever writes a gateway. It must not
know whose phone it is.
"""

from __future__ import annotations

import hashlib
import hmac
import json
import time
from dataclasses import dataclass, field

from companion.delivery.base import DeliveryError, Message
from companion.delivery.outgoing import Outgoing, post

VERSION = 1
ID, TIME, SIGNATURE = "Companion-Id", "Companion-Time", "Companion-Signature"
CANNOT_REACH = 422
"""The gateway's word for: this phone I can never reach, do not try again."""


@dataclass(frozen=True)
class Gateway:
    """Where a practice's gateway listens, and the secret that it shares with us."""

    url: str
    secret: str = field(repr=False)


def send_webhook(gateway: Gateway, message: Message, phone: str | None, limits: Outgoing) -> str:
    """Hand ``message`` to the gateway, for ``phone``, and return a receipt. Raises DeliveryError."""
    at = str(int(time.time()))
    body = written(message, phone)
    headers = {
        "Content-Type": "application/json",
        ID: message.reference,
        TIME: at,
        SIGNATURE: signature(gateway.secret, at, body),
    }
    status = post(gateway.url, body, headers, limits)
    if not 200 <= status < 300:
        raise DeliveryError(f"the gateway answered {status}", permanent=status == CANNOT_REACH)
    return str(status)


def written(message: Message, phone: str | None) -> bytes:
    """The request's body."""
    told = {
        "version": VERSION,
        "id": message.reference,
        "event": message.event,
        "level": message.level,
        "phone": phone,
        "language": message.language,
        "text": message.subject,
        "link": message.link,
    }
    return json.dumps(told, ensure_ascii=False, separators=(",", ":")).encode()


def signature(secret: str, at: str, body: bytes) -> str:
    """Sign a request: HMAC-SHA256 (RFC 2104) over the time, a full stop and the body."""
    digest = hmac.new(secret.encode(), at.encode() + b"." + body, hashlib.sha256).hexdigest()
    return f"v1={digest}"
