"""Accounts, passes, ways back in, hand-over, the practice's screens about people; one phone for a whole family.

Every screen is looked at as ``looks.assert_well`` looks, without script, at both widths and in both directions.
"""

from __future__ import annotations

import re

import pytest
from looks import assert_well
from people import PASSWORD, Cast, add_guardian
from sqlalchemy import update
from test_screens import NAMES, look_at, speak
from windows import EVERY_WAY, Open, Site, Window

from companion.common.ids import new_id
from companion.store.models import Person, Practice, Wearer
from companion.usecases import handover, recovery
from companion.usecases.actor import actor_of
from companion.usecases.consents import TEXT_VERSION, give
from companion.usecases.recording import record_entries

PEOPLE = (*NAMES, "Granny", "Ann", "Noor", "Ali", "gus", "+441632960222")
NEW_PASSWORD = "some other long words"


@pytest.fixture
def home(site: Site, cast: Cast) -> Cast:
    """Gwen looks after Nola and Timo, Gus after Nola; the practice hands over early, and offers it for Nola."""
    with site.store.writing() as session:
        gwen = session.get_one(Person, cast.people["Gwen"])
        add_guardian(session, session.get_one(Wearer, cast.wearers["Timo"]), gwen, site.clock())
        session.execute(update(Practice).values(handover_age=5))
        session.get_one(Wearer, cast.wearers["Timo"]).mark = "kite"
        session.commit()
    with site.store.writing() as session:
        handover.offer(session, actor(session, cast, "Asta"), cast.wearers["Nola"], site.clock())
    for name in ("Gwen", "Gus"):
        with site.store.writing() as session:
            give(session, actor(session, cast, name), TEXT_VERSION, "en", site.clock())
    return cast


def actor(session, cast: Cast, name: str):
    return actor_of(session, session.get_one(Person, cast.people[name]), "")


def link_on(window: Window, kind: str) -> str:
    found = re.search(rf"{window.site.address}/{kind}/[\w-]+", window.page.content())
    assert found, window.page.content()[:1500] + window.says("body")
    return found[0]


def well(window: Window, *more: str) -> None:
    assert_well(window, (*PEOPLE, *more))


@pytest.mark.parametrize(("size", "language"), EVERY_WAY)
def test_the_accounts_screens(site: Site, home: Cast, window: Open, size: dict[str, int], language: str) -> None:
    speak(site, language)
    family, nola = window(size, language), home.wearers["Nola"]
    family.sign_in("Gwen")
    other = window(size, language)
    other.sign_in("Gwen")
    for path in ("/us", "/us/password", "/us/sign-ins", "/us/stored", "/us/withdraw", "/consent"):
        look_at(family, path)
    for page in ("profile", "passes", "adults", "handover"):
        look_at(family, f"/w/{nola}/{page}")
    family.go("/us/password")
    family.fill(old="not this one", password="short", password_again="short")
    family.press("main form button.act")
    assert family.page.locator("[aria-invalid=true]").count() == 2
    well(family)


@pytest.mark.parametrize(("size", "language"), EVERY_WAY)
def test_a_pass_and_what_its_carrier_sees(
    site: Site, home: Cast, window: Open, size: dict[str, int], language: str
) -> None:
    speak(site, language)
    family, carer, nola = window(size, language), window(size, language), home.wearers["Nola"]
    family.sign_in("Gwen")
    family.go(f"/w/{nola}/passes")
    family.fill(name="Granny")
    family.press("main form:has(input[name=lasts]) button.great")
    link = link_on(family, "pass")
    assert family.page.locator("svg.qr").count() == 1
    well(family, link)
    carer.page.goto(link)
    well(carer)
    carer.press("main form button.great")
    assert carer.path == f"/w/{nola}/tonight"
    assert carer.page.locator("figure.band, form[action$='/entries']").count() == 0
    well(carer)
    for path in ("care", "wrong?eyes=right"):
        look_at(carer, f"/w/{nola}/{path}")
    for path in (f"/w/{nola}/diary", "/us", "/desk"):
        carer.go(path)
        assert carer.page.locator("h1").count() == 1 and "Nola" not in carer.says("main")
    site.clock.advance(hours=20)
    carer.go(f"/w/{nola}/tonight")
    assert "Nola" not in carer.says("body")
    well(carer)


@pytest.mark.parametrize(("size", "language"), EVERY_WAY)
def test_the_practices_screens_about_people(
    site: Site, home: Cast, window: Open, size: dict[str, int], language: str
) -> None:
    speak(site, language)
    nola, gus = home.wearers["Nola"], home.people["Gus"]
    with site.store.writing() as session:
        waits = recovery.vouch(session, actor(session, home, "Gwen"), nola, gus, site.clock())
    desk, phone = window(size, language), window(size, language)
    desk.sign_in("Mina")
    for path in ("/desk/languages", "/desk/languages?language=ar"):
        look_at(desk, path)
    for path in ("/desk/staff", "/desk/practice", f"/desk/wearers/{nola}", f"/desk/wearers/{nola}/handover"):
        look_at(desk, path)
    look_at(desk, f"/desk/wearers/{nola}/guardians/{gus}/end")
    desk.go("/desk/staff")
    desk.fill(name="Ann")
    desk.choose("role", "assistant")
    desk.press("main form:has(input[name=role]) button.act")
    well(desk, link_on(desk, "join"))
    phone.go(f"/recover/{waits}")
    assert phone.page.locator("input[name=password]").count() == 0, "the practice has to speak with Gus first"
    well(phone)
    look_at(desk, "/desk")
    desk.press("form[action*='/recoveries/'] button.act")
    phone.go(f"/recover/{waits}")
    phone.fill(password=NEW_PASSWORD, password_again=NEW_PASSWORD)
    well(phone)
    phone.press("main form button.great")
    assert phone.path.endswith("/tonight")
    desk.go(f"/desk/wearers/{nola}")
    desk.press("form[action$='/recover'] button")
    well(desk, link_on(desk, "recover"))


def join(phone: Window, link: str, name: str, number: str) -> None:
    phone.page.goto(link)
    phone.fill(name=name, login=number, password=PASSWORD, password_again=PASSWORD)
    phone.press("main form:has(input[name=password]) button.act")
    phone.press("main form button.act")  # agree


def test_one_phone_two_adults_two_children_and_no_address_for_mail(site: Site, cast: Cast, window: Open) -> None:
    """Noor and Ali share a phone and have numbers only; an entry for the wrong child is mended in two taps."""
    phone, desk = window(), window()
    nola, timo = cast.wearers["Nola"], cast.wearers["Timo"]
    desk.sign_in("Asta")
    for name, number in (("Noor", "01632 960 222"), ("Ali", "01632 960 333")):
        links = []
        for child in (nola, timo):
            desk.go(f"/desk/wearers/{child}/invite")
            desk.choose("kind", "guardian")
            desk.fill(name=name)
            desk.press("main form button.act")
            links.append(link_on(desk, "join"))
        join(phone, links[0], name, number)
        phone.page.goto(links[1])
        phone.press("button[name=as_me]")
        phone.go("/tonight")
        assert [phone.page.locator("a.whose").nth(i).inner_text().strip()[-4:] for i in range(2)] == [
            "Nola",
            "Timo",
        ]
        phone.go("/us")
        phone.press("form[action='/sign-out'] button")
    phone.fill(login="+44 1632 960222", password=PASSWORD)
    phone.press("form button.act")
    phone.go(f"/w/{nola}/tonight")
    phone.press("form:has(input[name=kind][value=lenses_in]) button.great")
    phone.press("form[action$='/move'] button:has-text('Timo')")  # one tap here; two from the night's page
    assert phone.path == f"/w/{timo}/tonight"
    assert phone.page.locator("form[action$='/withdraw'], form[action$='/move']").count() == 2, "it can move back"
    well(phone)
    phone.go(f"/w/{nola}/diary/{site.clock().date()}")
    assert phone.page.locator("section.card[id^=e-]").count() == 0
    phone.go(f"/w/{timo}/diary/{site.clock().date()}")
    phone.page.locator("section.card[id^=e-] summary").first.click()
    phone.press("form[action$='/move'] button")
    assert phone.path == f"/w/{nola}/tonight"
    phone.go("/us")
    phone.press("form[action='/sign-out'] button")
    desk.go(f"/desk/wearers/{nola}")
    desk.press("form[action$='/recover'] button:has-text('Noor')")
    phone.page.goto(link_on(desk, "recover"))
    phone.fill(password=NEW_PASSWORD, password_again=NEW_PASSWORD)
    phone.press("main form button.great")
    assert phone.path == "/tonight"


def test_H17_a_guardian_hears_of_a_teenagers_report_on_the_first_page(
    site: Site, cast: Cast, window: Open
) -> None:
    with site.store.writing() as session:
        give(session, actor(session, cast, "Gus"), TEXT_VERSION, "en", site.clock())
    answers = {"general": {}, "right": {"pain": "severe"}, "left": {}}
    moment = site.clock().isoformat()
    frame = {"id": new_id(), "kind": "symptom_report", "at": moment, "zone": "Europe/London", "made_at": moment}
    with site.store.writing() as session:
        author = actor(session, cast, "Gwen")
        record_entries(
            session, author, cast.wearers["Nola"], [{**frame, "payload": {"answers": answers}}], site.clock()
        )
    site.work()
    assert [one["To"] for one in site.postbox.letters if "/tonight" in one.get_content()] == ["gus@example.org"]
    guardian = window()
    guardian.sign_in("Gus")
    assert guardian.page.locator("a[href*='/reports/']").count() == 1
