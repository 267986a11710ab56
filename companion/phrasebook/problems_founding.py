"""What can be wrong when a practice is added, in words."""

from __future__ import annotations

from collections.abc import Mapping

from companion.phrasebook.marks import N_

SENTENCES: Mapping[str, str] = {
    "country_unknown": N_("Write the country as two capital letters, like SG."),
}
