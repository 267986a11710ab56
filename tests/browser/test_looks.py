"""The test of the tests: each look sees what it is there to see, on a page made for it, with script off."""

from __future__ import annotations

import looks
import pytest
from windows import Open

PAGE = """<!doctype html><html lang="{language}"><head><title>[Tïtlé~]</title></head>
<body><main><h1>[Nïght~]</h1>{body}</main></body></html>"""


@pytest.mark.parametrize(
    ("look", "body", "complaint"),
    [
        (looks.assert_readable_by_all, '<img src="/icon.svg">', "image-alt"),
        (looks.assert_readable_by_all, '<p style="color:#aaa;background:#fff">[Pâlé~]</p>', "color-contrast"),
        (looks.assert_fits, '<p style="width:340px">[Wïdé~]</p>', "at 320 px"),
        (looks.assert_fit_for_thumbs, "<button>[Ôk~]</button>", "less than 48 px"),
        (looks.assert_translated, "<p>Plain words</p>", "Plain words"),
        (looks.assert_translated, '<p aria-label="Plain words">[Wôrds~]</p>', "Plain words"),
        (looks.assert_translated, "<p>[Tâkén bý~] Nola</p>", "Nola"),
        (looks.assert_no_english, "<p>Nola 10 mm</p><p>Plain</p>", "Plain"),
        (looks.assert_no_english, '<p lang="en">Beside</p><p title="Plain">10</p>', "Plain"),
        (looks.assert_nothing_clipped, '<p style="width:2em;overflow-wrap:normal">[Wïdéwörd~]</p>', "at 100 %"),
        (looks.assert_nothing_clipped, '<p style="width:12rem;font-size:3rem">Wïdéw</p>', "212"),
        (
            looks.assert_nothing_clipped,
            "<figure><svg width=90><text y=20>Ôné</text><text x=9 y=20>Twô</text></svg></figure>",
            "over Twô",
        ),
        (
            looks.assert_nothing_clipped,
            "<figure><svg width=90><text x=80 y=20>Ôné</text></svg></figure>",
            "beyond",
        ),
        (looks.assert_no_inline_code, '<p onclick="go()">[Gô~]</p>', "onclick="),
        (looks.assert_no_inline_code, '<p style="color:red">[Réd~]</p>', "style="),
        (looks.assert_no_inline_code, "<script>go()</script>", "<script"),
    ],
)
def test_a_look_sees(window: Open, look, body: str, complaint: str) -> None:
    page = window().page
    page.set_content(PAGE.format(language="en-x-mirror", body=body))
    with pytest.raises(AssertionError, match=complaint):
        look(page)


def test_what_may_stand_outside_a_catalogue(window: Open) -> None:
    page = window().page
    body = "<p>[Tâkén bý Nola ât [Mônday] 21:30~] 1,5 · Tue 3 Nov at 07:00</p><p>Nola</p><p translate=no>Own</p>"
    page.set_content(PAGE.format(language="en-x-mirror", body=body))
    looks.assert_translated(page, ("Nola",))


def test_script_is_off(window: Open) -> None:
    page = window().page
    page.set_content(PAGE.format(language="en", body="<script>document.title = 'on'</script>"))
    assert page.title() != "on"
