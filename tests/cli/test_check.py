"""`companion check`: silence and exit 0 when nothing is wrong; one line a finding and exit 1 otherwise."""

from __future__ import annotations

import sqlite3
import stat
from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from pathlib import Path

import people
import pytest
from fakes import Postbox
from sqlalchemy import select, update

from companion.cli import main
from companion.config import PUSH_KEY, from_environment
from companion.delivery.push import keep_key
from companion.phrasebook.languages import CHINESE
from companion.store.engine import Store
from companion.store.models import (
    JobRun,
    Membership,
    Outbox,
    Person,
    Practice,
    PushSubscription,
    SignIn,
    Webhook,
)
from companion.usecases.heartbeats import JOBS
from companion.usecases.signing import open_sign_in

Cast = people.Cast


@pytest.fixture
def house(
    tmp_path: Path, store: Store, store_url: str, postbox: Postbox, monkeypatch: pytest.MonkeyPatch
) -> Iterator[Cast]:
    """A house in which nothing is wrong."""
    key = tmp_path / "secret_key"
    key.write_text("a key\n")
    key.chmod(0o600)
    keep_key(tmp_path / PUSH_KEY)
    for name, value in {
        "COMPANION_INSTANCE": str(tmp_path),
        "COMPANION_DATABASE_URL": store_url,
        "COMPANION_SMTP_HOST": postbox.host,
        "COMPANION_SMTP_PORT": str(postbox.port),
        "COMPANION_SMTP_SENDER": "companion@example.org",
        "COMPANION_SMTP_ENCRYPTION": "none",
    }.items():
        monkeypatch.setenv(name, value)
    now = datetime.now(UTC)  # the command has the real clock
    with store.writing() as session:
        cast = people.settle(session, now)
        session.add_all(JobRun(name=name, started_at=now, finished_at=now) for name in JOBS)
        session.commit()
    return cast


def check(capsys: pytest.CaptureFixture[str]) -> tuple[int, list[str]]:
    status = main(["check"])
    said = capsys.readouterr()
    assert said.err == ""
    return status, said.out.splitlines()


def finding(capsys: pytest.CaptureFixture[str]) -> str:
    status, lines = check(capsys)
    assert status == 1
    (line,) = lines
    area, _, rest = line.partition(": ")
    assert area and rest.count(". ") >= 1, f"not `area: what is wrong. what to do`: {line}"
    return line


def test_nothing_wrong_is_silence(house: Cast, capsys: pytest.CaptureFixture[str]) -> None:
    assert check(capsys) == (0, [])


def test_a_language_that_set_up_has_not_built(
    house: Cast, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    monkeypatch.setenv("COMPANION_LANGUAGES", "en,zh-Hans")
    assert check(capsys) == (0, [])
    monkeypatch.setattr(type(CHINESE), "folder", tmp_path)
    line = finding(capsys)
    assert line.startswith("languages: the sentences of zh-Hans")


def test_a_key_that_others_may_read(house: Cast, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (tmp_path / "secret_key").chmod(0o644)
    assert finding(capsys).startswith("secret key: others may read")


def test_an_https_address_without_a_trusted_proxy(
    house: Cast, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setenv("COMPANION_BASE_URL", "https://companion.example")
    assert finding(capsys).startswith("proxies: ")
    monkeypatch.setenv("COMPANION_TRUSTED_PROXIES", "1")
    assert check(capsys) == (0, [])


def test_the_instance_folder_is_made_for_its_owner_alone(tmp_path: Path) -> None:
    folder = tmp_path / "made" / "instance"
    from_environment({"COMPANION_INSTANCE": str(folder)})
    assert stat.S_IMODE(folder.stat().st_mode) == 0o700


def test_a_mail_server_that_is_down(house: Cast, postbox: Postbox, capsys: pytest.CaptureFixture[str]) -> None:
    postbox.close()
    assert finding(capsys).startswith("mail: ")


def test_no_mail_server(house: Cast, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> None:
    monkeypatch.delenv("COMPANION_SMTP_HOST")
    assert finding(capsys).startswith("mail: no mail server is set up")


def test_no_database(
    house: Cast, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setenv("COMPANION_DATABASE_URL", f"sqlite:///{tmp_path / 'nowhere.sqlite'}")
    assert finding(capsys).startswith("database: cannot be opened")
    assert not (tmp_path / "nowhere.sqlite").exists()


def test_a_file_that_is_no_database(
    house: Cast, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    (tmp_path / "noise.sqlite").write_bytes(b"noise" * 1000)
    monkeypatch.setenv("COMPANION_DATABASE_URL", f"sqlite:///{tmp_path / 'noise.sqlite'}")
    assert finding(capsys).startswith("database: cannot be opened")


def test_a_database_behind_its_program(house: Cast, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    with sqlite3.connect(tmp_path / "store.sqlite") as connection:
        connection.execute("UPDATE alembic_version SET version_num = '0000'")
    assert finding(capsys).startswith("database: stands at migration 0000")


def test_H2_a_late_heartbeat(house: Cast, store: Store, capsys: pytest.CaptureFixture[str]) -> None:
    with store.writing() as session:
        session.get_one(JobRun, "send").finished_at = datetime.now(UTC) - timedelta(minutes=10)
        session.commit()
    assert finding(capsys).startswith("jobs: send last ran at ")


def test_H2_a_job_that_never_ran(house: Cast, store: Store, capsys: pytest.CaptureFixture[str]) -> None:
    with store.writing() as session:
        session.delete(session.get_one(JobRun, "climb"))
        session.commit()
    assert finding(capsys).startswith("jobs: climb has never run")


def test_H2_a_stuck_outbox(house: Cast, store: Store, capsys: pytest.CaptureFixture[str]) -> None:
    long_ago = datetime.now(UTC) - timedelta(hours=1)
    with store.writing() as session:
        session.add(
            Outbox(
                practice_id=house.practices["mill"],
                channel="mail",
                address="asta@example.org",
                message={},
                created_at=long_ago,
                due_at=long_ago,
            )
        )
        session.commit()
    assert finding(capsys).startswith("outbox: 1 messages wait")


def test_H2_a_practice_with_nobody_to_tell(house: Cast, store: Store, capsys: pytest.CaptureFixture[str]) -> None:
    staff = select(Membership.person_id).where(Membership.practice_id == house.practices["mill"])
    with store.writing() as session:
        session.execute(update(Person).where(Person.id.in_(staff)).values(email=None))
        session.commit()
    assert finding(capsys).startswith("practices: Practice by the mill: nobody can be told")


def test_H2_a_plan_that_names_somebody_who_left(
    house: Cast, store: Store, capsys: pytest.CaptureFixture[str]
) -> None:
    with store.writing() as session:
        mill = session.get_one(Practice, house.practices["mill"])
        mill.alert_plan = [{"person_id": house.people[name], "channel": "mail"} for name in ("Asta", "Pavel")]
        session.get_one(Membership, (mill.id, house.people["Asta"], "assistant")).ended_at = mill.created_at
        session.commit()
    assert "the alert plan names Asta" in finding(capsys)


def test_H2_a_plan_that_reaches_nobody_it_names_is_told_to_the_others(
    house: Cast, store: Store, capsys: pytest.CaptureFixture[str]
) -> None:
    with store.writing() as session:
        mill = session.get_one(Practice, house.practices["mill"])
        mill.alert_plan = [{"person_id": house.people["Asta"], "channel": "mail"}]
        session.get_one(Person, house.people["Asta"]).email = None
        session.commit()
    assert main(["check"]) == 1
    assert "nobody whom the alert plan names can be reached" in capsys.readouterr().out


def test_a_house_without_a_key_for_devices(
    house: Cast, capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    (tmp_path / PUSH_KEY).unlink()
    assert finding(capsys).startswith("push key: there is no key for alerts on devices at ")
    assert check(capsys) == (0, []), "reading the settings has made one"
    (tmp_path / PUSH_KEY).chmod(0o644)
    assert finding(capsys).startswith("push key: others may read ")


def test_devices_and_gateways_that_take_nothing(
    house: Cast, store: Store, capsys: pytest.CaptureFixture[str]
) -> None:
    since = datetime.now(UTC) - timedelta(hours=2)
    with store.writing() as session:
        open_sign_in(session, house.people["Asta"], since, "tests")
        session.flush()
        sign_in = session.scalars(select(SignIn)).one()
        device = PushSubscription(person_id=house.people["Asta"], sign_in_id=sign_in.id, created_at=since)
        device.endpoint = device.endpoint_hash = device.p256dh = device.auth = "x"
        device.failing_since = since
        session.add(device)
        session.commit()
    assert finding(capsys).startswith("channels: 1 devices take no alerts, the first since ")
    with store.writing() as session:
        session.scalars(select(SignIn)).one().ended_at = since
        row = Webhook(practice_id=house.practices["mill"], url="https://x.example", secret="x", created_at=since)
        row.failing_since = since
        session.add(row)
        session.commit()
    assert finding(capsys).startswith("channels: Practice by the mill: its gateway takes no messages since ")
