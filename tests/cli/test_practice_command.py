"""`companion practice`: the first manager's way into a real house."""

from __future__ import annotations

from datetime import UTC, datetime
from pathlib import Path

import pytest
from sqlalchemy import select

from companion.cli import main
from companion.store.engine import Store
from companion.store.models import Person, Practice
from companion.usecases import invitations
from companion.usecases.actor import actor_of

GOOD = {
    "--name": "Practice at the Pier",
    "--zone": "Europe/Lisbon",
    "--country": "PT",
    "--phone": "+351 21 000 0000",
    "--manager": "Alma",
}


@pytest.fixture
def house(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.setenv("COMPANION_INSTANCE", str(tmp_path))
    return tmp_path


def words(options: dict[str, str]) -> list[str]:
    return ["practice", *(word for pair in options.items() for word in pair)]


def test_the_printed_link_makes_the_manager(house: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(words(GOOD)) == 0
    said = capsys.readouterr()
    assert said.err == ""
    token = said.out.strip().rpartition("/join/")[2]
    store = Store(f"sqlite:///{house / 'companion.db'}")
    form = {"name": "Alma", "login": "alma", "password": "ten or more", "password_again": "ten or more"}
    with store.reading() as session:
        account = invitations.read_form(session, token, form, datetime.now(UTC))
    with store.writing() as session:
        invitations.accept(session, token, account, datetime.now(UTC))
    with store.reading() as session:
        practice = session.scalars(select(Practice)).one()
        alma = actor_of(session, session.scalars(select(Person)).one(), "none")
    store.close()
    assert (practice.phone, practice.zone) == ("+351210000000", "Europe/Lisbon")
    assert (alma.practice_id, [role.value for role in alma.roles]) == (practice.id, ["manager"])


@pytest.mark.parametrize(
    ("option", "value"),
    [
        ("--zone", "Mars/Olympus"),
        ("--country", "pt"),
        ("--country", "QZ"),
        ("--phone", "call us"),
        ("--name", " "),
    ],
)
def test_a_wrong_option_is_named_in_one_line(
    house: Path, capsys: pytest.CaptureFixture[str], option: str, value: str
) -> None:
    assert main(words(GOOD | {option: value})) == 2
    said = capsys.readouterr()
    assert (said.out, said.err.count("\n")) == ("", 1)
    assert said.err.startswith(f"companion: {option}: ")
