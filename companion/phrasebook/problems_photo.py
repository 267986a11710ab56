"""What can be wrong with a photo, in words."""

from __future__ import annotations

from collections.abc import Mapping

from companion.phrasebook.marks import N_

SENTENCES: Mapping[str, str] = {
    "photo_missing": N_("Take a photo, or choose one."),
    "photo_unreadable": N_(
        "We cannot read this picture. Take a new one with the camera. The report is not changed."
    ),
    "photo_too_large": N_("This picture is too large. Take a new one with the camera. The report is not changed."),
    "photos_enough": N_("There are %(most)s photos with this report. That is enough: show the eye to a person."),
}
