"""Which jobs there are, and how often each asks what is due."""

from __future__ import annotations

import os
import socket
from collections.abc import Callable, Mapping
from datetime import datetime, timedelta
from functools import partial

from companion.clockwork.lanes import Lanes
from companion.clockwork.ticks import Job, Ticker
from companion.common.ids import new_id
from companion.config import Settings
from companion.delivery.mail import send_mail
from companion.store.engine import Store
from companion.store.queries.channels import PUSH, WEBHOOK
from companion.usecases.carrying import carry_to_browser, carry_to_gateway
from companion.usecases.climbing import climb_alerts
from companion.usecases.forecasting import refresh_forecast, stale_forecasts
from companion.usecases.heartbeats import BEAT
from companion.usecases.rechecking import recheck_reports
from companion.usecases.sending import Carrier, any_due
from companion.usecases.test_alerts import send_daily_tests


def carriers(settings: Settings, store: Store) -> Mapping[str, Carrier]:
    """Return the channels that are set up, by the name that an outbox row calls them."""
    ways: dict[str, Carrier] = {WEBHOOK: partial(carry_to_gateway, store, settings.outgoing)}
    if settings.mail is not None:
        ways["mail"] = partial(send_mail, settings.mail)
    if settings.push is not None:
        ways[PUSH] = partial(carry_to_browser, store, settings.push, settings.outgoing)
    return ways


def refresh_forecasts(store: Store, now: datetime) -> None:
    """Forecast anew for whoever's diary has moved on, each on its own."""
    with store.reading() as session:
        stale = stale_forecasts(session, now)
    for wearer_id in stale:
        refresh_forecast(store, wearer_id, now)


def ticker(settings: Settings, store: Store, clock: Callable[[], datetime]) -> Ticker:
    """Return the ticker of one worker of this house."""
    name = f"{socket.gethostname()}-{os.getpid()}-{new_id()[:8]}"
    lanes = Lanes(store, carriers(settings, store), settings.base_url, name, clock)
    jobs = (
        Job(
            "send",
            timedelta(seconds=1),
            lanes.start_due,
            is_due=lambda: any_due(store, clock()),
            stop=lanes.stop,
        ),
        Job("climb", timedelta(seconds=15), lambda: climb_alerts(store, clock())),
        Job("recheck", timedelta(seconds=30), lambda: recheck_reports(store, clock())),
        Job("test_alerts", timedelta(seconds=60), lambda: send_daily_tests(store, clock())),
        Job("forecasts", timedelta(seconds=60), lambda: refresh_forecasts(store, clock())),
    )
    return Ticker(store, jobs, clock, BEAT)
