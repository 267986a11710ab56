"""The tests' own ground holds: the standing people can be added, each practice to itself."""

from people import Cast
from sqlalchemy import select

from companion.store.engine import Store
from companion.store.models import Guardianship, Membership, Wearer


def test_the_standing_people_are_there(store: Store, cast: Cast) -> None:
    with store.reading() as session:
        assert len(session.scalars(select(Wearer)).all()) == 4
        assert len(session.scalars(select(Membership)).all()) == 6
        nola = select(Guardianship.person_id).where(Guardianship.wearer_id == cast.wearers["Nola"])
        assert set(session.scalars(nola)) == {cast.people["Gwen"], cast.people["Gus"]}


def test_a_store_is_fresh_for_each_test(store: Store) -> None:
    with store.reading() as session:
        assert session.scalars(select(Wearer)).all() == []
