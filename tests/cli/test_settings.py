"""What the environment says of alerts beside mail: the key of the house, whom to ask, whom it may speak to."""

from __future__ import annotations

import stat
from pathlib import Path

import pytest

from companion.common.errors import InvalidInput
from companion.config import PUSH_KEY, Settings, from_environment

MAIL = {"COMPANION_SMTP_HOST": "mail.example", "COMPANION_SMTP_SENDER": "companion@example.org"}


def settings(folder: Path, **more: str) -> Settings:
    return from_environment({"COMPANION_INSTANCE": str(folder), **more})


def test_the_first_start_makes_a_key_that_every_start_after_it_has(tmp_path: Path) -> None:
    first, second = settings(tmp_path), settings(tmp_path)
    assert first.push is not None and second.push is not None
    assert first.push.public_key == second.push.public_key
    assert stat.S_IMODE((tmp_path / PUSH_KEY).stat().st_mode) == 0o600


@pytest.mark.parametrize(
    ("more", "contact"),
    [
        (MAIL, "mailto:companion@example.org"),
        ({"COMPANION_BASE_URL": "https://companion.example/"}, "https://companion.example"),
    ],
)
def test_push_services_are_told_whom_to_ask(tmp_path: Path, more: dict[str, str], contact: str) -> None:
    push = settings(tmp_path, **more).push
    assert push is not None
    assert push.contact == contact


@pytest.mark.parametrize(("said", "open_"), [("", False), ("no", False), ("yes", True), (" YES ", True)])
def test_this_machine_is_shut_unless_somebody_says_yes(tmp_path: Path, said: str, open_: bool) -> None:
    assert settings(tmp_path).outgoing.loopback is False
    assert settings(tmp_path, COMPANION_OUTGOING_LOOPBACK=said).outgoing.loopback is open_


def test_anything_else_is_named(tmp_path: Path) -> None:
    with pytest.raises(InvalidInput) as told:
        settings(tmp_path, COMPANION_OUTGOING_LOOPBACK="1")
    assert told.value.problems[0].field == "COMPANION_OUTGOING_LOOPBACK"


def test_a_key_that_is_none_is_named_and_not_replaced(tmp_path: Path) -> None:
    (tmp_path / PUSH_KEY).write_text("no key")
    with pytest.raises(InvalidInput) as told:
        settings(tmp_path)
    assert told.value.problems[0].code == "setting_key_unreadable"
    assert (tmp_path / PUSH_KEY).read_text() == "no key"
