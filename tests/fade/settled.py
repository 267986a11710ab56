"""A settled eye to start from, for tests of what comes after."""

from companion.fade.filter import State, started
from companion.fade.population import Draws
from companion.fade.stores import rest, wear


def settled_state(draws: Draws, hours_worn: float) -> State:
    """Return the eye of a settled wearer as the lens comes out."""
    day = rest(draws.rates, 24.0 - hours_worn).then(wear(draws.rates, hours_worn))
    return started(draws, 0.0, day.fixed_point(), settled=True)
