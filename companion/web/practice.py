"""The practice's screens: who needs us now, a call sheet, the wearers, and the forms that sign for them."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from datetime import datetime
from typing import Any

from flask import Blueprint, make_response, redirect, render_template, request, url_for
from flask.typing import ResponseReturnValue
from sqlalchemy.orm import Session

from companion.access import Action
from companion.common.errors import Conflict, InvalidInput, NotAllowed, Problem
from companion.usecases import alerts, call_sheet, desk, desk_watch, invitations, prescribing, wearer_page, yields
from companion.usecases.actor import Actor
from companion.usecases.forms import Reading
from companion.web.context import PRACTICE_COOKIE, actor, keep, now, reading, typed, writing
from companion.web.desk_painting import answer_rows, curve_painted, desk_words, kinds_of, news_painted, now_as
from companion.web.forms import Form
from companion.web.painting import clock as clock_words
from companion.web.people import invitation_card
from companion.web.static_files import build

pages = Blueprint("practice", __name__)
pages.context_processor(desk_words)

CONFLICTS = frozenset({"alert_taken", "alert_closed"})


# -- what needs a person ------------------------------------------------------------------------------------------
@pages.get("/desk", endpoint="desk")
def show_desk() -> ResponseReturnValue:
    with reading() as session:
        view = desk.desk(session, actor(), now())
        waiting = news_painted(desk_watch.needing(session, actor(), now()))["waiting"]
    page = make_response(render_template("practice/desk.html", desk=view, waiting=waiting, here="desk"))
    if request.args.get("practice") == actor().practice_id:
        keep(page, PRACTICE_COOKIE, actor().practice_id or "")
    return page


@pages.get("/desk/news")
def news() -> ResponseReturnValue:
    """What an open page of the practice asks for by itself: all but nothing while its cursor still stands."""
    whole = "brief" not in request.args
    with reading() as session:
        cursor = f"{desk_watch.cursor(session, actor(), now())}-{build().version[:6]}"
        if cursor == request.args.get("cursor"):
            return {"cursor": cursor}
        view = desk.desk(session, actor(), now()) if whole else None
        needing = desk_watch.needing(session, actor(), now())
        clock = desk_watch.clock(session, actor(), now())
    return {
        "cursor": cursor,
        "account": actor().person_id,
        "build": build().version,
        "clock": clock_words(clock),
        **news_painted(needing),
        **({"html": render_template("practice/desk_list.html", desk=view)} if view else {}),
    }


@pages.get("/desk/reports", endpoint="yields")
def show_yields() -> ResponseReturnValue:
    with reading() as session:
        view = yields.yields(session, actor(), now())
    return render_template("practice/yields.html", yields=view, here="desk")


@pages.get("/desk/alerts/<alert_id>")
def alert(alert_id: str) -> ResponseReturnValue:
    return _call_sheet(alert_id, Form())


@pages.route("/desk/alerts/<alert_id>/take", methods=["GET", "POST"])
def take(alert_id: str) -> ResponseReturnValue:
    """The page that a message links to. Looking takes nothing."""
    if request.method != "POST":  # HEAD too: mail scanners knock with it
        with reading() as session:
            view = call_sheet.alert(session, actor(), alert_id, now())
        return render_template("practice/take.html", alert=view, now=now_as(view["raised_at"]), here="desk")
    return _deed(alert_id, lambda session: alerts.take(session, actor(), alert_id, now()))


@pages.post("/desk/alerts/<alert_id>/contact")
def contact(alert_id: str) -> ResponseReturnValue:
    reached, note = request.form.get("reached") == "yes", request.form.get("contact_note", "")
    return _deed(alert_id, lambda session: alerts.record_contact(session, actor(), alert_id, reached, note, now()))


@pages.post("/desk/alerts/<alert_id>/close")
def close(alert_id: str) -> ResponseReturnValue:
    form = request.form

    def do(session: Session) -> None:
        read = Reading(form)
        until = read.day("lenses_out_until", optional=True)
        read.finish()
        alerts.close(
            session, actor(), alert_id, form.get("outcome", ""), form.get("note", ""), now(),
            lenses_out_until=until, confirmed=form.get("confirmed") == "yes",
        )  # fmt: skip

    return _deed(alert_id, do)


def _deed(alert_id: str, do: Callable[[Session], None]) -> ResponseReturnValue:
    """Do one deed with an alert and show its call sheet; say so where a colleague was faster."""
    late = None
    try:
        with writing() as session:
            do(session)
    except InvalidInput as error:
        return _call_sheet(alert_id, Form.refused(typed(), error)), 422
    except Conflict as conflict:
        late = conflict.code
    return redirect(url_for("practice.alert", alert_id=alert_id, late=late), 303)


def _call_sheet(alert_id: str, form: Form) -> str:
    with reading() as session:
        view = call_sheet.alert(session, actor(), alert_id, now())
    late = request.args.get("late")
    return render_template(
        "practice/alert.html",
        alert=view,
        now=now_as(view["raised_at"]),
        answers=answer_rows(view["report"]["answers"], view["report"]["deciding"]),
        drawings=curve_painted(view["curve"])["drawings"],
        late=Problem(late, "alert") if late in CONFLICTS else None,
        form=form,
        here="desk",
    )


# -- wearers ------------------------------------------------------------------------------------------------------
@pages.get("/desk/wearers")
def wearers() -> ResponseReturnValue:
    with reading() as session:
        view = desk.wearers(session, actor(), now())
    written = next((one["last_entry_at"] for one in view["wearers"] if one["last_entry_at"]), None)
    return render_template("practice/wearers.html", wearers=view["wearers"], now=now_as(written), here="wearers")


@pages.route("/desk/wearers/new", methods=["GET", "POST"])
def new_wearer() -> ResponseReturnValue:
    form = Form()
    if request.method == "POST":
        try:
            with writing() as session:
                wearer_id = prescribing.new_wearer(session, actor(), request.form, now())
            return redirect(url_for("practice.wearer", wearer_id=wearer_id), 303)
        except InvalidInput as error:
            form = Form.refused(typed(), error)
    else:
        with reading() as session:
            desk.wearers(session, actor(), now())  # asks who may see it
    return render_template("practice/new_wearer.html", form=form, here="wearers"), 422 if form.problems else 200


@pages.get("/desk/wearers/<wearer_id>")
def wearer(wearer_id: str) -> ResponseReturnValue:
    return _wearer_page(wearer_id, Form())


@pages.post("/desk/holds/<hold_id>/lift")
def lift(hold_id: str) -> ResponseReturnValue:
    """Lift a hold, from the wearer's page or from a call sheet: back to where the form stood."""
    form = request.form
    wearer_id, alert_id = form.get("wearer_id", ""), form.get("alert_id", "")
    try:
        with writing() as session:
            read = Reading(form)
            look_on = read.day("look_on", optional=True)
            read.finish()
            step, reason = form.get("next_step", ""), form.get("reason", "")
            alerts.lift_hold(session, actor(), hold_id, reason, now(), step, look_on)
    except InvalidInput as error:
        refused = Form.refused(typed(), error)
        return _call_sheet(alert_id, refused) if alert_id else _wearer_page(wearer_id, refused), 422
    if alert_id:
        return redirect(url_for("practice.alert", alert_id=alert_id), 303)
    return redirect(url_for("practice.wearer", wearer_id=wearer_id), 303)


def _wearer_page(wearer_id: str, form: Form) -> str:
    with reading() as session:
        view = wearer_page.wearer(session, actor(), wearer_id, now())
    may_sign = {name for name, action in ACTIONS.items() if action in view["may"]}
    return render_template(
        "practice/wearer.html",
        one=view,
        now=view["now"],
        may=may_sign,
        alert_of={one["report_id"]: one["id"] for one in view["alerts"]},
        form=form,
        here="wearers",
        **curve_painted(view["curve"]),
    )


# -- the forms that sign something for a wearer -------------------------------------------------------------------
SIGNINGS: Mapping[str, Callable[[Session, Actor, str, Mapping[str, str], datetime], None]] = {
    "plan": prescribing.set_plan,
    "clearance": prescribing.set_clearance,
    "refraction": prescribing.add_refraction,
    "lens": prescribing.add_lens,
    "visit": prescribing.set_visit,
}

FIELDS: Mapping[str, tuple[str, ...]] = {
    "plan": ("weekdays", "every", "target_acuity_logmar", "target_until", "target_eyes", "target_distance_m"),
    "clearance": ("may_skip", "longest_gap_nights", "until"),
    "refraction": ("eye", "kind", "sphere_d", "cylinder_d", "axis_deg", "best_acuity_logmar"),
    "lens": ("eye", "marked_as", "base_curve_mm", "diameter_mm", "aim_d"),
    "visit": ("due_on", "kind"),
    "invite": ("kind", "name"),
}


ACTIONS: Mapping[str, Action] = {
    **dict.fromkeys(("plan", "clearance", "refraction", "lens"), Action.PRESCRIBE),
    **dict.fromkeys(("visit", "invite"), Action.ENROL),
    "lift": Action.LIFT_HOLD,
}
"""What each form takes. The use case asks again; this only keeps a page from offering what it would refuse."""


@pages.route(
    "/desk/wearers/<wearer_id>/<any(plan, clearance, refraction, lens, visit, invite):sheet>",
    methods=["GET", "POST"],
)
def sheet(wearer_id: str, sheet: str) -> ResponseReturnValue:
    if request.method != "POST":
        return _sheet(wearer_id, sheet, Form())
    said = typed() | {"weekdays": ",".join(request.form.getlist("weekdays"))}
    try:
        with writing() as session:
            if sheet == "invite":
                token = invitations.invite(
                    session, actor(), wearer_id, said.get("kind", ""), said.get("name", ""), now(),
                    said.get("language", "en"),
                )  # fmt: skip
            else:
                SIGNINGS[sheet](session, actor(), wearer_id, said, now())
    except InvalidInput as error:
        return _sheet(wearer_id, sheet, Form.refused(said, error)), 422
    return _invited(wearer_id, token) if sheet == "invite" else _back(wearer_id)


def _sheet(wearer_id: str, sheet: str, form: Form) -> str:
    with reading() as session:
        view = wearer_page.wearer(session, actor(), wearer_id, now())
    if ACTIONS[sheet] not in view["may"]:
        raise NotAllowed(ACTIONS[sheet])
    return render_template(
        "practice/sheet.html",
        sheet=sheet,
        wearer_id=wearer_id,
        name=view["wearer"]["name"],
        form=form,
        fields=FIELDS[sheet],
        kinds=kinds_of(sheet),
        defaults=_defaults(view),
        here="wearers",
    )


def _defaults(view: Mapping[str, Any]) -> dict[str, str]:
    """What the forms for a plan and a clearance begin with: what is signed now."""
    plan, clearance = view["plan"] or {}, view["clearance"] or {}
    return {
        "weekdays": ",".join(plan.get("weekdays") or ()),
        "every": str(plan.get("every") or "") if plan else "1",
        "target_acuity_logmar": str(plan.get("target_logmar", "0.2")),
        "target_until": str(plan.get("target_until", "18:00"))[:5],
        "target_eyes": plan.get("target_eyes", "each"),
        "target_distance_m": str(plan.get("target_distance_m") or ""),
        "may_skip": "yes" if clearance.get("may_skip") else "no",
        "longest_gap_nights": str(clearance.get("longest_gap_nights", 1)),
        "until": clearance.get("until") or "",
    }


def _invited(wearer_id: str, token: str) -> str:
    back = url_for("practice.wearer", wearer_id=wearer_id)
    return render_template("practice/card.html", card=invitation_card(token), back=back, here="wearers")


def _back(wearer_id: str) -> ResponseReturnValue:
    return redirect(url_for("practice.wearer", wearer_id=wearer_id), 303)
