"""`companion check`: one line a finding, ``area: what is wrong. what to do``; nothing wrong: exit 0, else 1."""

from __future__ import annotations

import argparse
import stat
import sys
from collections.abc import Iterator
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from companion.config import Settings
    from companion.usecases.checking import Finding


def add(subparsers: Any) -> None:
    parser = subparsers.add_parser("check", help="say what is not as it should be")
    parser.set_defaults(run=run)


def run(args: argparse.Namespace) -> int:
    from companion.cli._house import instance_folder
    from companion.config import PUSH_KEY, from_environment
    from companion.phrasebook.phrases import Phrases

    # Looked at before the settings are read: reading them makes a key where there is none.
    keys = instance_folder()
    found = list(_key("secret key", keys / "secret_key", "key_missing"))
    found += _key("push key", keys / PUSH_KEY, "push_key_missing")
    settings = from_environment()
    found += [*_proxies(settings), *_languages(settings), *_mail(settings), *_store(settings)]
    phrases = Phrases()
    for finding in found:
        sys.stdout.write(_line(phrases, finding) + "\n")
    return 1 if found else 0


def _line(phrases: Any, finding: Finding) -> str:
    from companion.phrasebook.check_words import FINDINGS

    values = {
        name: value.isoformat(timespec="minutes") if isinstance(value, datetime) else value
        for name, value in finding.values.items()
    }
    return f"{finding.area}: {' '.join(phrases.say(FINDINGS[finding.code], **values).split())}"


def _key(area: str, path: Path, missing: str) -> Iterator[Finding]:
    from companion.usecases.checking import Finding

    if not path.exists():
        yield Finding(area, missing, {"path": path})
        return
    mode = stat.S_IMODE(path.stat().st_mode)
    if mode & (stat.S_IRWXG | stat.S_IRWXO):
        yield Finding(area, "key_open", {"path": path, "mode": f"{mode:03o}"})


def _proxies(settings: Settings) -> Iterator[Finding]:
    """The companion speaks plain HTTP, so where its address is https something stands in front."""
    from companion.usecases.checking import Finding

    if settings.cookie_secure and not settings.trusted_proxies:
        yield Finding("proxies", "proxies_unsaid")


def _languages(settings: Settings) -> Iterator[Finding]:
    from companion.phrasebook.languages import LANGUAGES, is_built
    from companion.usecases.checking import Finding

    for tag in settings.languages:
        if not is_built(LANGUAGES[tag]):
            yield Finding("languages", "catalogue_missing", {"language": tag})


def _mail(settings: Settings) -> Iterator[Finding]:
    from companion.delivery.base import DeliveryError
    from companion.delivery.mail import reach
    from companion.usecases.checking import Finding

    if settings.mail is None:
        yield Finding("mail", "mail_missing")
        return
    try:
        reach(settings.mail)
    except DeliveryError as error:
        values = {"host": settings.mail.host, "port": settings.mail.port, "error": error.reason}
        yield Finding("mail", "mail_unreachable", values)


def _store(settings: Settings) -> Iterator[Finding]:
    """The store's contents can be read only where it opens and stands at today's migration."""
    from sqlalchemy.exc import SQLAlchemyError

    from companion.store import migrations
    from companion.store.engine import Store
    from companion.usecases.checking import Finding, findings

    file = settings.database_url.removeprefix("sqlite:///")
    if settings.database_url.startswith("sqlite:///") and not Path(file).exists():
        # Opening it would make it.
        yield Finding("database", "database_unreachable", {"error": f"there is no {file}"})
        return
    try:
        store = Store(settings.database_url)
        version, head = migrations.version(store.engine), migrations.head()
        if version != head:
            yield Finding("database", "database_behind", {"version": version or "-", "head": head})
            return
        with store.reading() as session:
            yield from findings(session, datetime.now(UTC))
        store.close()
    except SQLAlchemyError as error:
        yield Finding("database", "database_unreachable", {"error": type(error).__name__})
