"""What other plans would end in: one page for the practice. It shows, and signs nothing."""

from __future__ import annotations

from flask import Blueprint, render_template
from flask.typing import ResponseReturnValue

from companion.usecases.plans_page import plans_page
from companion.web.context import actor, now, reading
from companion.web.desk_painting import desk_words

pages = Blueprint("plans", __name__)
pages.context_processor(desk_words)


@pages.get("/desk/wearers/<wearer_id>/plans")
def plans_of(wearer_id: str) -> ResponseReturnValue:
    with reading() as store:
        view = plans_page(store, actor(), wearer_id, now())
    return render_template("practice/plans.html", view=view, here="wearers")
