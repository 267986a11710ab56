"""`companion serve`: the web process, with the ticks in its threads."""

from __future__ import annotations

import argparse
from collections.abc import Callable
from threading import Thread
from typing import TYPE_CHECKING, Any

from companion.common.errors import InvalidInput, Problem

if TYPE_CHECKING:
    from companion.config import Settings
    from companion.store.engine import Store

THREADS = 8


def add(subparsers: Any) -> None:
    parser = subparsers.add_parser("serve", help="serve the pages, send messages and climb alerts")
    add_address(parser)
    parser.add_argument("--no-ticks", action="store_true", help="leave messages and alerts to `companion worker`")
    parser.set_defaults(run=run)


def run(args: argparse.Namespace) -> int:
    from companion.cli._house import log_to_standard_error, open_house

    log_to_standard_error()
    settings, store = open_house()
    port = port_of(args)
    return serve(settings, store, args.host, port, not args.no_ticks, lambda: _tell(args.host, port))


def add_address(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("--host", default="127.0.0.1", help="where to listen (default: this machine only)")
    parser.add_argument("--port", default="8000", help="the port to listen at (default: 8000)")


def port_of(args: argparse.Namespace) -> int:
    text = str(args.port)
    if not (text.isascii() and text.isdigit() and 0 < int(text) < 65536):
        raise InvalidInput(Problem("port_wrong", "--port"))
    return int(text)


def serve(
    settings: Settings,
    store: Store,
    host: str,
    port: int,
    ticks: bool = True,
    announce: Callable[[], None] = lambda: None,
) -> int:
    """Serve until told to stop; ``announce`` once pages are answered. Pages stop first, then ticks, then store."""
    from waitress import create_server  # type: ignore[import-untyped]

    from companion.cli._house import clock, make_app, until_told_to_stop
    from companion.clockwork.worker import ticker

    app = make_app(settings, store)
    try:
        # The app itself counts the proxies that the settings name, so their headers have to reach it.
        server = create_server(
            app, host=host, port=port, threads=THREADS, ident=None, clear_untrusted_proxy_headers=False
        )
    except OSError:
        raise InvalidInput(Problem("address_taken", "--port", {"host": host, "port": port})) from None
    ticking = ticker(settings, store, clock)
    stop = until_told_to_stop()
    if ticks:
        ticking.start()
    pages = Thread(target=server.run, daemon=True)
    pages.start()
    announce()
    stop.wait()
    server.task_dispatcher.shutdown()
    server.close()
    ticking.stop()
    store.close()
    return 0


def _tell(host: str, port: int) -> None:
    from companion.phrasebook.phrases import Phrases

    said = Phrases().gettext("The companion is at %(address)s.", address=f"http://{host}:{port}")
    print(said, flush=True)
