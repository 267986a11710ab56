"""Hand one message to a push service, for one browser.

Owns the encryption that only the browser can undo (RFC 8291 over RFC 8188), the token by which the push service
knows us (VAPID, RFC 8292), and which refusals are final. It must not know whose browser it is.
"""

from __future__ import annotations

import base64
import binascii
import json
import os
import secrets
import time
from collections.abc import Mapping
from dataclasses import dataclass, field
from hashlib import sha256
from pathlib import Path
from typing import Any
from urllib.parse import urlsplit

from cryptography.hazmat.primitives import hashes, serialization
from cryptography.hazmat.primitives.asymmetric import ec
from cryptography.hazmat.primitives.asymmetric.utils import decode_dss_signature
from cryptography.hazmat.primitives.ciphers.aead import AESGCM
from cryptography.hazmat.primitives.kdf.hkdf import HKDF

from companion.delivery.base import DeliveryError, Message
from companion.delivery.outgoing import Outgoing, post

KEPT_S = 24 * 3600
"""How long a push service keeps a message for a browser that is away [s]: as long as we try ourselves."""
TOKEN_S = 12 * 3600
"""How long a token is good [s]; RFC 8292 allows at most 24 hours."""
RECORD = 4096
LONGEST_TEXT = 3993
"""What fits into one record with everything around it [bytes] (RFC 8291, section 4)."""
GONE = frozenset({404, 410})
"""The push service knows no such browser, and never will again (RFC 8030, section 7.3)."""


@dataclass(frozen=True)
class Browser:
    """Where a browser takes its pushes, and what it takes to write to it."""

    endpoint: str
    p256dh: str
    auth: str
    says_more: bool = False
    """Its owner wants more than neutral words."""


@dataclass(frozen=True)
class PushSender:
    """Who we are to push services: a key pair of our own, and whom they can ask."""

    key: ec.EllipticCurvePrivateKey = field(repr=False)
    contact: str
    """``mailto:...`` or an https address (RFC 8292, section 2.1)."""

    @property
    def public_key(self) -> str:
        """What a browser is told when it subscribes, so that only we can write to it."""
        return to_text(_point(self.key.public_key()))


def send_push(sender: PushSender, browser: Browser, message: Message, limits: Outgoing) -> str:
    """Hand ``message`` to the browser's push service and return a receipt. Raises DeliveryError."""
    headers = {
        "Content-Encoding": "aes128gcm",
        "Content-Type": "application/octet-stream",
        "TTL": str(KEPT_S),
        "Urgency": "high",
        "Topic": to_text(sha256((message.about or message.reference).encode()).digest()[:24]),
        "Authorization": authorization(sender, browser.endpoint, int(time.time())),
    }
    body = encrypt(payload(browser, message), browser)
    status = post(browser.endpoint, body, headers, limits)
    if not 200 <= status < 300:
        raise DeliveryError(f"the push service answered {status}", permanent=status in GONE)
    return str(status)


def payload(browser: Browser, message: Message) -> bytes:
    """What the browser's worker is told: words in the person's language, and where a tap leads."""
    told = {
        "title": message.title,
        "text": message.subject if browser.says_more else message.brief,
        "path": urlsplit(message.link).path,
        "about": message.about,
        "language": message.language,
    }
    return json.dumps(told, ensure_ascii=False, separators=(",", ":")).encode()


def check_browser(browser: Browser) -> None:
    """Raises ValueError for keys that nothing could be encrypted for."""
    _keys_of(browser)


def encrypt(
    text: bytes,
    browser: Browser,
    salt: bytes | None = None,
    once: ec.EllipticCurvePrivateKey | None = None,
) -> bytes:
    """Encrypt for one browser, in one record (RFC 8291, section 3.4).

    salt, once: 16 random bytes and a key pair for this message alone; given only to repeat a published example.
    """
    if len(text) > LONGEST_TEXT:
        raise DeliveryError("too long for one push", permanent=True)
    try:
        theirs, secret = _keys_of(browser)
    except ValueError as error:
        raise DeliveryError("the browser's keys are none", permanent=True) from error
    salt = salt or secrets.token_bytes(16)
    once = once or ec.generate_private_key(ec.SECP256R1())
    ours = _point(once.public_key())
    shared = once.exchange(ec.ECDH(), theirs)
    material = _derived(shared, secret, b"WebPush: info\0" + _point(theirs) + ours, 32)
    key = _derived(material, salt, b"Content-Encoding: aes128gcm\0", 16)
    nonce = _derived(material, salt, b"Content-Encoding: nonce\0", 12)
    head = salt + RECORD.to_bytes(4, "big") + bytes([len(ours)]) + ours
    return head + AESGCM(key).encrypt(nonce, text + b"\x02", None)


def authorization(sender: PushSender, endpoint: str, now_s: int) -> str:
    """Return the header that says who writes, to the push service at this endpoint alone (RFC 8292)."""
    parts = urlsplit(endpoint)
    claims = {"aud": f"{parts.scheme}://{parts.netloc}", "exp": now_s + TOKEN_S, "sub": sender.contact}
    signed = f"{_json({'typ': 'JWT', 'alg': 'ES256'})}.{_json(claims)}"
    r, s = decode_dss_signature(sender.key.sign(signed.encode(), ec.ECDSA(hashes.SHA256())))
    signature = to_text(r.to_bytes(32, "big") + s.to_bytes(32, "big"))
    return f"vapid t={signed}.{signature}, k={sender.public_key}"


def keep_key(path: Path) -> ec.EllipticCurvePrivateKey:
    """Return the key pair kept in this file, made on the first start and readable by its owner alone.

    It appears whole or not at all, so that of two processes that start together both have the same.
    """
    if not path.exists():
        fresh = path.with_name(f".{path.name}-{secrets.token_hex(8)}")
        with os.fdopen(os.open(fresh, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600), "wb") as file:
            file.write(_written(ec.generate_private_key(ec.SECP256R1())))
        try:
            os.link(fresh, path)
        except FileExistsError:
            pass  # another was faster
        except OSError:  # a disk that knows no second name for a file
            fresh.rename(path)
        finally:
            fresh.unlink(missing_ok=True)
    key = serialization.load_pem_private_key(path.read_bytes(), password=None)
    if not isinstance(key, ec.EllipticCurvePrivateKey) or not isinstance(key.curve, ec.SECP256R1):
        raise ValueError("not a key on the curve P-256")
    return key


def to_text(data: bytes) -> str:
    """Base64url without padding, as all of web push has it."""
    return base64.urlsafe_b64encode(data).rstrip(b"=").decode()


def from_text(text: str) -> bytes:
    """Undo ``to_text``. Raises ValueError."""
    try:
        return base64.b64decode(text + "=" * (-len(text) % 4), altchars=b"-_", validate=True)
    except (binascii.Error, UnicodeEncodeError) as error:
        raise ValueError("not base64url") from error


def _keys_of(browser: Browser) -> tuple[ec.EllipticCurvePublicKey, bytes]:
    secret = from_text(browser.auth)
    if len(secret) != 16:
        raise ValueError("the authentication secret has 16 bytes")
    point = from_text(browser.p256dh)
    if len(point) != 65:
        raise ValueError("the public key is one uncompressed point")
    return ec.EllipticCurvePublicKey.from_encoded_point(ec.SECP256R1(), point), secret


def _derived(material: bytes, salt: bytes, info: bytes, length: int) -> bytes:
    return HKDF(algorithm=hashes.SHA256(), length=length, salt=salt, info=info).derive(material)


def _point(key: ec.EllipticCurvePublicKey) -> bytes:
    return key.public_bytes(serialization.Encoding.X962, serialization.PublicFormat.UncompressedPoint)


def _json(plain: Mapping[str, Any]) -> str:
    return to_text(json.dumps(plain, separators=(",", ":")).encode())


def _written(key: ec.EllipticCurvePrivateKey) -> bytes:
    kind, secret = serialization.PrivateFormat.PKCS8, serialization.NoEncryption()
    return key.private_bytes(serialization.Encoding.PEM, kind, secret)
