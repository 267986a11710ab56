"""The screens of the promise: how alerts climb, off and on, a test answered; the family's word on a call.

Every screen is looked at as ``looks.assert_well`` looks, without script, at both widths and in both directions.
"""

from __future__ import annotations

import pytest
from looks import assert_well
from people import Cast
from sqlalchemy import select
from telling import RED_PAIN, report, tell
from test_screens import NAMES, look_at, speak
from windows import EVERY_WAY, Open, Site, Window

from companion.store.models import Alert, AlertTest, Person
from companion.usecases.actor import actor_of
from companion.usecases.alerts import take
from companion.usecases.consents import TEXT_VERSION, give

IN_EARNEST = [one for one in EVERY_WAY if "mirror" not in str(one.values[1])]
"""A report's page holds out plain English to a helper as well, which an invented language never has."""


def well(window: Window) -> None:
    assert_well(window, NAMES)


@pytest.mark.parametrize(("size", "language"), EVERY_WAY)
def test_H2_alerts_off_a_test_answered_and_alerts_on(
    site: Site, cast: Cast, window: Open, size: dict[str, int], language: str
) -> None:
    speak(site, language)
    manager, assistant = window(size, language), window(size, language)
    manager.sign_in("Mina")
    assistant.sign_in("Asta")
    look_at(manager, "/desk/practice/alerts")
    manager.press("#switch form button")
    assert manager.page.locator("#switch [aria-invalid=true]").count() == 1
    well(manager)
    manager.page.locator("#switch input[name=confirmed]").check()
    manager.press("#switch form button")
    well(manager)
    look_at(manager, "/desk")
    assert manager.page.locator("#alerts-off").count() == 1
    manager.go("/desk/practice/alerts")
    manager.press("#switch form button.act")
    assert manager.page.locator("#switch [role=alert]").count() == 1
    well(manager)
    manager.press(f"form[action$='/test/{cast.people['Asta']}'] button")
    with site.store.reading() as session:
        test_id = session.scalars(select(AlertTest.id)).one()
    look_at(assistant, f"/desk/tests/{test_id}")
    assistant.press("main form button.great")
    well(assistant)
    manager.press("#switch form button.act")
    assert manager.page.locator("#switch summary").count() == 1
    site.clock.advance(hours=1)
    look_at(manager, "/desk")
    assert manager.page.locator("#dead-ways li").count() == 1
    manager.go("/desk/practice/alerts")
    manager.fill(minutes_5_1="3", call_mon="all night")
    manager.press("form[action$='/alerts'] > button.act")
    assert manager.page.locator("#call_mon[aria-invalid=true]").input_value() == "all night"
    assert manager.page.locator("#minutes_5_1").input_value() == "3"
    well(manager)


@pytest.mark.parametrize(("size", "language"), IN_EARNEST)
def test_H2_a_family_is_asked_whether_somebody_has_called(
    site: Site, cast: Cast, window: Open, size: dict[str, int], language: str
) -> None:
    speak(site, language)
    with site.store.writing() as session:
        people = (session.get_one(Person, cast.people[name]) for name in ("Gwen", "Asta"))
        gwen, asta = (actor_of(session, person, "") for person in people)
        give(session, gwen, TEXT_VERSION, "en", site.clock())
    tell(site.store, gwen, cast.wearers["Nola"], site.clock(), report(site.clock(), right=RED_PAIN))
    with site.store.reading() as session:
        alert = session.scalars(select(Alert)).one()
    with site.store.writing() as session:
        take(session, asta, alert.id, site.clock())
    family, desk = window(size, language), window(size, language)
    family.sign_in("Gwen")
    desk.sign_in("Pavel")
    family.go(f"/w/{cast.wearers['Nola']}/reports/{alert.entry_id}")
    well(family)
    site.clock.advance(minutes=61)
    family.press("#called button[value=no]")
    assert family.page.locator("#called [role=status]").count() == 1
    well(family)
    look_at(desk, f"/desk/alerts/{alert.id}")
