"""Pages for when something does not work: what happened, what was kept, what to do. No codes for families."""

from __future__ import annotations

from flask import Flask, render_template, request
from flask.typing import ResponseReturnValue
from flask_wtf.csrf import CSRFError
from werkzeug.exceptions import HTTPException

from companion.common.errors import Conflict, InvalidInput, NotAllowed, NotFound
from companion.phrasebook.marks import N_
from companion.web.context import visitor
from companion.web.kept import kept_fields, offer_again
from companion.web.painting import say

SAID = {
    403: (N_("This page is not yours to open."), N_("Ask your practice if you think it should be.")),
    404: (N_("There is no such page."), N_("The link may be old or used. Ask your practice for a new one.")),
    409: (N_("Somebody was faster."), N_("Nothing was saved. Open the page again to see how things stand.")),
    413: (N_("That is too much at once."), N_("Nothing was saved. Write less, or send it in parts.")),
    422: (N_("Something in this form was not right."), N_("Nothing was saved. Go back and look at it once more.")),
    429: (N_("That was very often."), N_("Wait a minute. Then try again.")),
    500: (
        N_("Something broke on our side."),
        N_("It may not have been saved. Try again. If an eye is in trouble, phone your practice."),
    ),
}
PASS_OVER = (
    N_("This pass is over."),
    N_("Ask the family for a new one. Trouble with an eye? Phone the practice."),
)
OTHER = (N_("That did not work."), N_("Go back and try again."))

BROKEN = """<!doctype html><html lang="en"><meta charset="utf-8"><title>Something broke</title>
<h1>Something broke on our side.</h1><p>It may not have been saved. Try again.
If an eye is in trouble, phone your practice, or go to an eye emergency clinic or emergency department.</p>
</html>"""
"""For when not even a page can be painted: it asks nothing of the store or of the person."""


def install(app: Flask) -> None:
    app.register_error_handler(NotFound, lambda _: _page(404))
    app.register_error_handler(NotAllowed, lambda _: _page(403))
    app.register_error_handler(Conflict, lambda _: _page(409))
    app.register_error_handler(InvalidInput, lambda _: _page(422))
    app.register_error_handler(CSRFError, _stale_form)
    app.register_error_handler(HTTPException, _http)


def _http(error: HTTPException) -> ResponseReturnValue:
    status = error.code or 500
    if status < 400:
        return error.get_response()
    if status != 500:
        return _page(status)
    try:
        return _page(500)
    except Exception:
        return BROKEN, 500


def _stale_form(_: CSRFError) -> ResponseReturnValue:
    return offer_again(request.full_path.rstrip("?"), kept_fields(), status=400)


def _page(status: int) -> ResponseReturnValue:
    who = visitor()
    over = status == 404 and who is not None and who.pass_id is not None and who.carries is None
    heading, line = PASS_OVER if over else SAID.get(status, OTHER)
    return render_template("error.html", heading=say(heading), line=say(line)), status
