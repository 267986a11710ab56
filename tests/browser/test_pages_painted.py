"""The pages beside *Tonight* have two painters too. From the same view they say the same words."""

from __future__ import annotations

from datetime import timedelta

import pytest
from pages_painted import assert_page_same
from people import Cast
from test_screens import lived_in  # noqa: F401
from test_tonight_painted import LANGUAGES, speak, until
from windows import Open, Site

HELP = ("will_not_go_in", "stings", "off_centre", "stuck", "dropped", "broken", "swapped")


@pytest.mark.parametrize("language", LANGUAGES)
def test_every_page_says_the_same_from_both_painters(
    site: Site,
    lived_in: Cast,  # noqa: F811
    window: Open,
    language: str,
) -> None:
    speak(site, language=language)
    family = window(language=language, script=True)
    family.sign_in("Gwen")
    here = f"/w/{lived_in.wearers['Nola']}"
    at = site.clock().isoformat()
    help_ = HELP if language in LANGUAGES[:3] else ()  # safety text names its language: invented ones have no name
    for page in ("sight", "note", "diary", "care", *(f"care/help/{topic}" for topic in help_)):
        assert_page_same(family, f"{here}/{page}", at)
    reply = assert_page_same(family, f"{here}/diary", at)
    nights = [one["night"] for one in reply["wearers"][0]["pages"]["diary"]["nights"]]
    assert len(nights) == 28
    for night in nights[:16]:
        assert_page_same(family, f"{here}/diary/{night}", at)
    until(site, 6, 45)
    assert_page_same(family, f"{here}/care", site.clock().isoformat())
    site.clock.now += timedelta(days=40)
    assert_page_same(family, f"{here}/diary", site.clock().isoformat())
