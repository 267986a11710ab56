"""Where somebody is, for the emergency number: the place that they picked, else the practice's.

A family on a journey may have the wrong one. A phone's script keeps the zone of its clock in a cookie; where that
is no longer the zone in which the place was picked (or of the wearer's home), the page asks. It picks nothing by
itself.
"""

from __future__ import annotations

import re

from flask import Flask, Response, g, request

from companion.escalation.places import Place, place_for
from companion.web import context

ZONE_COOKIE, PICKED_IN_COOKIE = "zone", "country_zone"
_ZONE = re.compile(r"[A-Za-z0-9_+/-]{1,60}")


def place_here(country: str | None, home: str | None) -> Place:
    """Return the place to show. ``country`` and ``home`` are the practice's, and the wearer's own zone."""
    picked = context.country(None)
    g.place_zone = _cookie(PICKED_IN_COOKIE) if picked else home
    return place_for(picked or country)


def moved() -> bool:
    """Say whether the phone's clock has another zone than where the place was right. Just picked, it is right."""
    here, then = _cookie(ZONE_COOKIE), g.get("place_zone")
    return bool(here and then and here != then and not context.picks_country())


def _cookie(name: str) -> str | None:
    zone = request.cookies.get(name, "")
    return zone if _ZONE.fullmatch(zone) else None


def install(app: Flask) -> None:
    app.jinja_env.globals["moved"] = moved

    @app.after_request
    def remember(response: Response) -> Response:
        """Keep beside a picked place (``context`` keeps that) the zone in which it was picked."""
        zone = _cookie(ZONE_COOKIE)
        if zone and context.picks_country():
            context.keep(response, PICKED_IN_COOKIE, zone)
        return response
