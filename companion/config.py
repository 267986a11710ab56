"""Every setting, read once from the environment. Nothing else in the house looks at it.

``COMPANION_BASE_URL`` decides more than links: cookies are marked Secure when it is https.
"""

from __future__ import annotations

import os
import secrets
from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path

from cryptography.hazmat.primitives.asymmetric.ec import EllipticCurvePrivateKey

from companion.common.errors import InvalidInput, Problem
from companion.delivery.mail import Encryption, MailServer, is_address
from companion.delivery.outgoing import Outgoing
from companion.delivery.push import PushSender, keep_key
from companion.phrasebook.languages import ENGLISH, LANGUAGES

INSTANCE = Path(__file__).resolve().parents[1] / "instance"
PUSH_KEY = "push_key"
"""The file in the instance folder: with another key, no browser that subscribed to this one takes a push."""


@dataclass(frozen=True)
class Settings:
    """How this house is set up.

    languages: the tags offered to families, the first one where nothing fits better.
    demo: nobody here is real, so that a language may be tried before its safety text has been reviewed.
    sign_in_tries: what one address may try at the sign-in and invitation doors, and everybody together at one
    log-in, in Flask-Limiter's words.
    """

    database_url: str
    secret_key: str
    base_url: str = "http://127.0.0.1:8000"
    languages: tuple[str, ...] = (ENGLISH.tag,)
    demo: bool = False
    mail: MailServer | None = None
    push: PushSender | None = None
    outgoing: Outgoing = field(default_factory=Outgoing)
    trusted_proxies: int = 0
    sign_in_tries: str = "10 per minute; 60 per hour"

    @property
    def cookie_secure(self) -> bool:
        return self.base_url.startswith("https://")


def from_environment(environ: Mapping[str, str] = os.environ) -> Settings:
    """Return the settings. Raises InvalidInput naming the variable that is wrong."""
    instance = Path(environ.get("COMPANION_INSTANCE", INSTANCE))
    instance.mkdir(mode=0o700, parents=True, exist_ok=True)
    plain = Settings(database_url="", secret_key="")
    base_url = _base_url(environ.get("COMPANION_BASE_URL") or plain.base_url)
    mail = _mail(environ)
    return Settings(
        database_url=environ.get("COMPANION_DATABASE_URL") or f"sqlite:///{instance / 'companion.db'}",
        secret_key=secret_key(instance / "secret_key"),
        base_url=base_url,
        languages=_languages(environ.get("COMPANION_LANGUAGES") or ENGLISH.tag),
        mail=mail,
        push=PushSender(_push_key(instance / PUSH_KEY), f"mailto:{mail.sender}" if mail else base_url),
        outgoing=Outgoing(loopback=_yes(environ, "COMPANION_OUTGOING_LOOPBACK")),
        trusted_proxies=_whole(environ, "COMPANION_TRUSTED_PROXIES", 0),
        sign_in_tries=environ.get("COMPANION_SIGN_IN_TRIES") or plain.sign_in_tries,
    )


def secret_key(path: Path) -> str:
    """Return the key that signs cookies, made on the first start and readable by its owner alone."""
    try:
        handle = os.open(path, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600)
    except FileExistsError:
        return path.read_text().strip()
    key = secrets.token_urlsafe(48)
    with os.fdopen(handle, "w") as file:
        file.write(key + "\n")
    return key


def _push_key(path: Path) -> EllipticCurvePrivateKey:
    try:
        return keep_key(path)
    except (ValueError, OSError) as error:
        raise InvalidInput(Problem("setting_key_unreadable", "COMPANION_INSTANCE", {"path": str(path)})) from error


def _base_url(text: str) -> str:
    if not text.startswith(("http://", "https://")):
        raise InvalidInput(Problem("setting_not_an_address", "COMPANION_BASE_URL"))
    return text.rstrip("/")


def _languages(text: str) -> tuple[str, ...]:
    tags = tuple(tag.strip() for tag in text.split(",") if tag.strip())
    unknown = [tag for tag in tags if tag not in LANGUAGES]
    if unknown or not tags:
        values = {"known": ", ".join(LANGUAGES)}
        raise InvalidInput(Problem("setting_unknown_language", "COMPANION_LANGUAGES", values))
    return tags


def _mail(environ: Mapping[str, str]) -> MailServer | None:
    """No host, no mail: alerts then go by devices and gateways alone, and ``companion check`` says so."""
    host = environ.get("COMPANION_SMTP_HOST")
    if not host:
        return None
    sender = environ.get("COMPANION_SMTP_SENDER", "")
    if not is_address(sender):
        raise InvalidInput(Problem("setting_not_a_mail_address", "COMPANION_SMTP_SENDER"))
    word = environ.get("COMPANION_SMTP_ENCRYPTION") or Encryption.STARTTLS.value
    if word not in list(Encryption):
        values = {"allowed": ", ".join(Encryption)}
        raise InvalidInput(Problem("setting_not_one_of", "COMPANION_SMTP_ENCRYPTION", values))
    return MailServer(
        host=host,
        port=_whole(environ, "COMPANION_SMTP_PORT", 587),
        sender=sender,
        encryption=Encryption(word),
        login=environ.get("COMPANION_SMTP_LOGIN"),
        password=environ.get("COMPANION_SMTP_PASSWORD"),
    )


def _yes(environ: Mapping[str, str], name: str) -> bool:
    text = environ.get(name, "").strip().lower()
    if text not in ("", "no", "yes"):
        raise InvalidInput(Problem("setting_not_one_of", name, {"allowed": "yes, no"}))
    return text == "yes"


def _whole(environ: Mapping[str, str], name: str, otherwise: int) -> int:
    text = environ.get(name) or str(otherwise)
    if not text.isascii() or not text.isdigit():
        raise InvalidInput(Problem("setting_not_a_number", name))
    return int(text)
