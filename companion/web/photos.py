"""A photo after a report: a page to add one, and the photo itself for whoever may see the report."""

from __future__ import annotations

from flask import Blueprint, Flask, Response, redirect, render_template, request, url_for
from flask.typing import ResponseReturnValue

from companion.common.errors import InvalidInput
from companion.exchange.picture import LARGEST, read_picture
from companion.usecases import photos
from companion.web.context import actor, now, reading, typed, writing
from companion.web.forms import Form

pages = Blueprint("photos", __name__)
ROOM = 100_000
"""For what a form sends around its file [bytes]."""


@pages.route("/w/<wearer_id>/reports/<report_id>/photo", methods=["GET", "POST"])
def add(wearer_id: str, report_id: str) -> ResponseReturnValue:
    form = Form()
    with reading() as store:
        view = photos.asked(store, actor(), wearer_id, report_id, now())
    if request.method == "POST":
        try:
            photos.check_room(view, request.form)
            sent = request.files.get("photo")
            # Before the store is asked: decoding takes its time.
            picture = read_picture(sent.read() if sent else b"")
            with writing() as store:
                photos.add(store, actor(), wearer_id, report_id, typed(), picture, now())
            address = url_for("wrong.report", wearer_id=wearer_id, report_id=report_id, _anchor="photos")
            return redirect(address, 303)
        except InvalidInput as error:
            form = Form.refused(typed(), error)
    page = render_template("wrong/photo.html", view=view, wearer=view["wearer"], form=form)
    return page, 422 if form.problems else 200


@pages.get("/w/<wearer_id>/photos/<photo_id>.jpg")
def photo(wearer_id: str, photo_id: str) -> Response:
    with reading() as store:
        jpeg = photos.photo(store, actor(), wearer_id, photo_id)
    response = Response(jpeg, mimetype="image/jpeg")
    response.headers["Cache-Control"] = "private, no-store"
    response.headers["Content-Disposition"] = "inline"
    return response


def install(app: Flask) -> None:
    """Let a photo be as large as it may, before anybody reads the form. Set before the forms' guard reads it."""

    @app.before_request
    def make_room() -> None:
        if request.endpoint == "photos.add":
            request.max_content_length = LARGEST + ROOM
