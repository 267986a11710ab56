"""The house's pieces on one page, with made-up values: for whoever changes a style, and for the tests of looks."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from typing import Any

from flask import Blueprint, Response, render_template
from flask.typing import ResponseReturnValue

from companion.common.errors import Problem
from companion.phrasebook import tonight_words
from companion.usecases import checking
from companion.web import band, context
from companion.web.doors import open_to_all
from companion.web.forms import Form

pages = Blueprint("stylebook", __name__)


@pages.get("/style")
@open_to_all
def style() -> ResponseReturnValue:
    form = Form({"login": "nola@example"}, [Problem("login_form", "login")])
    curve = _curve()
    drawing = band.draw(curve, "right", context.language().right_to_left)
    rows = [{"at": row["at"], "eyes": {"right": _sight(row["eyes"]["right"])}} for row in band.table(curve)]
    return render_template("style.html", form=form, drawing=drawing, rows=rows, now=curve["now"])


@pages.get("/health")
@open_to_all
def health() -> ResponseReturnValue:
    """Say whether the periodic jobs are beating: for whatever watches the house."""
    with context.reading() as store:
        late = {str(one.values["job"]) for one in checking.jobs(store, context.now())}
    text = f"late: {', '.join(sorted(late))}\n" if late else "beating\n"
    return Response(text, 503 if late else 200, mimetype="text/plain")


def _sight(spread: dict[str, float]) -> str:
    return tonight_words.sight_range_text(context.phrases(), spread["p05"], spread["p95"])


def _curve() -> dict[str, Any]:
    """A settled eye that wears its lens one night and rests the next."""
    start = datetime(2026, 9, 24, 20, tzinfo=UTC)
    times = [start + timedelta(hours=one) for one in range(73)]
    middle = [0.02 + 0.011 * max(0, hour - 10) for hour in range(73)]
    return {
        "from": times[0].isoformat(),
        "to": times[-1].isoformat(),
        "now": times[24].isoformat(),
        "times": [one.isoformat() for one in times],
        "eyes": {
            "right": {
                "p05": [one * 0.7 - 0.05 for one in middle],
                "p50": middle,
                "p95": [one * 1.3 + 0.05 for one in middle],
            }
        },
        "target": 0.2,
        "nights": [{"from": times[2].isoformat(), "to": times[11].isoformat(), "eyes": ["right"]}],
        "checks": [{"at": times[12].isoformat(), "eye": "right", "logmar": 0.05}],
    }
