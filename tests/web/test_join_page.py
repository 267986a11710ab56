"""The page behind an invitation's link: it says plainly when nobody, or not this account, can join by it."""

from __future__ import annotations

from fakes import Clock
from flask import Flask
from people import Cast
from visitors import acting, enter, text

from companion.store.engine import Store
from companion.store.models import Wearer
from companion.usecases import invitations

FORM = {"name": "Timo", "login": "timo", "password": "a long enough one", "password_again": "a long enough one"}


def invited(store: Store, cast: Cast, clock: Clock) -> str:
    """Return the path of a link for Timo's own account."""
    pavel = acting(store, cast, "Pavel")
    with store.writing() as session:
        return f"/join/{invitations.invite(session, pavel, cast.wearers['Timo'], 'wearer', 'Timo', clock())}"


def test_a_guardian_is_told_that_the_wearers_account_is_another(
    app: Flask, store: Store, cast: Cast, clock: Clock
) -> None:
    app.config["WTF_CSRF_ENABLED"] = False
    path, hedda = invited(store, cast, clock), enter(app, cast, "Hedda")
    page = hedda.get(path)
    assert "the wearer's own or a guardian's, not both" in text(page)
    assert "Join as" not in text(page) and "Make my account" in text(page)
    refused = hedda.post(path, data={"as_me": "1"})
    assert refused.status_code == 422
    assert "Join as Gus" in text(enter(app, cast, "Gus").get(path))


def test_a_second_link_says_that_the_wearer_has_an_account(
    app: Flask, store: Store, cast: Cast, clock: Clock
) -> None:
    app.config["WTF_CSRF_ENABLED"] = False
    first, second = invited(store, cast, clock), invited(store, cast, clock)
    assert app.test_client().post(first, data=FORM).status_code == 303
    late = app.test_client()
    page = late.get(second)
    assert page.status_code == 200
    assert "has an account of their own already" in text(page)
    assert "Make my account" not in text(page)
    assert late.post(second, data={**FORM, "login": "other"}).status_code == 422
    with store.reading() as session:
        kept = session.get_one(Wearer, cast.wearers["Timo"]).person_id
        assert kept is not None
