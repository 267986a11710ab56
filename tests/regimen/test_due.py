"""When things of lens care are due again: the first limit counts, silence has no date."""

from datetime import date, timedelta

import pytest

from companion.common.eyes import Eye
from companion.regimen.care import regimen
from companion.regimen.due import Due, Renewed, State, due_items

TODAY = date(2026, 11, 2)
BOTH = (Eye.RIGHT, Eye.LEFT)


def days(number: int) -> timedelta:
    return timedelta(days=number)


def one(item, said, system="multipurpose", part=None, fitted=None, **numbers) -> Due:
    found = due_items(regimen(system, numbers), said, BOTH, fitted or {}, TODAY)
    return next(due for due in found if (due.item, due.part) == (item, part))


def test_what_nobody_wrote_down_has_no_date():
    for due in due_items(regimen("multipurpose", {}), [], BOTH, {}, TODAY):
        assert (due.since, due.on, due.state) == (None, None, State.UNKNOWN)


@pytest.mark.parametrize(
    ("opened_ago", "state"),
    [(0, State.LATER), (82, State.LATER), (83, State.SOON), (89, State.SOON), (90, State.DUE)],
)
def test_a_case_lasts_as_the_practice_set(opened_ago, state):
    due = one("case", [Renewed("case", TODAY - days(opened_ago))])
    assert due.on == TODAY - days(opened_ago) + days(90)
    assert (due.by, due.state) == ("practice", state)


@pytest.mark.parametrize(
    ("label_days", "use_by", "on", "by"),
    [
        (None, None, TODAY + days(60), "practice"),
        (90, None, TODAY + days(60), "practice"),
        (30, None, TODAY + days(30), "label"),
        (1, None, TODAY + days(1), "label"),  # saline without preservative: 24 hours
        (90, TODAY + days(20), TODAY + days(20), "use_by"),
        (10, TODAY + days(20), TODAY + days(10), "label"),
    ],
)
def test_H18_the_shorter_of_practice_and_label(label_days, use_by, on, by):
    said = [Renewed("bottle", TODAY, "solution", label_days, use_by)]
    due = one("bottle", said, part="solution")
    assert (due.on, due.by) == (on, by)


def test_H18_a_longer_label_does_not_stretch_a_case():
    assert one("case", [Renewed("case", TODAY, label_days=365)], case_days=30).on == TODAY + days(30)


def test_with_peroxide_a_new_bottle_brings_a_new_case():
    """US FDA, Hydrogen Peroxide Solution: the case's neutraliser wears out; use the new case of each box."""
    said = [Renewed("case", TODAY - days(20)), Renewed("bottle", TODAY - days(2), "solution")]
    due = one("case", said, system="peroxide")
    assert (due.on, due.by, due.state) == (TODAY - days(2), "new_box", State.DUE)
    assert one("case", [*said, Renewed("case", TODAY - days(2))], system="peroxide").by == "practice"
    assert one("case", said).by == "practice", "not so without peroxide"


def test_one_bottle_says_nothing_about_another():
    said = [Renewed("bottle", TODAY - days(61), "solution"), Renewed("bottle", TODAY, "saline")]
    assert one("bottle", said, part="solution").state is State.DUE
    assert one("bottle", said, part="saline").state is State.LATER


def test_a_lens_counts_from_the_fitting_or_a_later_new_one():
    fitted = {Eye.RIGHT: TODAY - days(100)}
    assert one("lens", [], part="right", fitted=fitted).on == TODAY + days(265)
    said = [Renewed("lens", TODAY - days(10), "right")]
    assert one("lens", said, part="right", fitted=fitted).since == TODAY - days(10)
    said = [Renewed("lens", TODAY - days(200), "right")]
    assert one("lens", said, part="right", fitted=fitted).since == TODAY - days(100)
    assert one("lens", [], part="left", fitted=fitted).state is State.UNKNOWN


def test_the_order_of_telling_does_not_matter_and_the_future_does_not_count():
    said = [Renewed("case", TODAY - days(n)) for n in (5, 40, 1, 90)]
    assert one("case", said).since == one("case", said[::-1]).since == TODAY - days(1)
    assert one("case", [*said, Renewed("case", TODAY + days(3))]).since == TODAY - days(1)


def test_what_the_practice_does_without_is_not_asked_for():
    found = due_items(
        regimen("multipurpose", {"protein_days": None, "suction_cup_days": None}), [], BOTH, {}, TODAY
    )
    assert {due.item for due in found} == {"bottle", "case", "lens"}
