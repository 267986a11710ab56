"""What is said around a photo of an eye. It follows the report and can only add to it."""

from __future__ import annotations

from companion.phrasebook.marks import N_

# note: The report has been stored and judged before this page; "it" is the photo.
AFTER = N_("Do first what the page before says. A photo can wait, a sore eye cannot.")
NEVER_LOWERS = N_("The photo helps the practice. It does not change what to do, however the eye looks in it.")
