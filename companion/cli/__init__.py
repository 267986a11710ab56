"""The `companion` command: one module a subcommand, each with ``add(subparsers)`` and ``run(args) -> int``.

Owns the error discipline of every command: one line on standard error, ``companion: FIELD: what is wrong``; exit 2
for the caller's input, 1 for our fault. Imports only the subcommand that is asked for.
"""

from __future__ import annotations

import argparse
import os
import pkgutil
import sys
import warnings
from collections.abc import Sequence
from importlib import import_module
from typing import Any, NoReturn

from companion.common.errors import InvalidInput, Problem

LONGEST_LINE = 200


class _Parser(argparse.ArgumentParser):
    """Says what is wrong by raising it; knows no abbreviations."""

    def __init__(self, **settings: Any) -> None:
        super().__init__(**{**settings, "allow_abbrev": False})

    def error(self, message: str) -> NoReturn:
        raise InvalidInput(_problem_of(message))


def main(argv: Sequence[str] | None = None) -> int:
    """Run one command and return its exit status."""
    warnings.simplefilter("ignore")
    words = list(sys.argv[1:] if argv is None else argv)
    try:
        status = _run(words)
        sys.stdout.flush()
    except InvalidInput as error:
        _complain(error.problems[0])
        return 2
    except BrokenPipeError:
        # Nobody reads on; keep the interpreter from flushing into the closed pipe on its way out.
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return 1
    except KeyboardInterrupt:
        return 1
    except Exception as error:
        _complain(Problem("our_fault", words[0] if words else "command", {"what": type(error).__name__}))
        return 1
    return status


def _run(words: Sequence[str]) -> int:
    known = sorted(one.name for one in pkgutil.iter_modules(__path__) if not one.name.startswith("_"))
    wants_help = bool(words) and words[0] in ("-h", "--help")
    if not words:
        raise InvalidInput(Problem("command_missing", "COMMAND", {"known": ", ".join(known)}))
    if not wants_help and words[0] not in known:
        code = "option_unknown" if words[0].startswith("-") else "command_unknown"
        raise InvalidInput(Problem(code, words[0], {"known": ", ".join(known)}))
    parser = _Parser(prog="companion", description="A companion for families and practices between visits.")
    subparsers = parser.add_subparsers(metavar="COMMAND", required=True)
    for name in known if wants_help else words[:1]:
        import_module(f"{__name__}.{name}").add(subparsers)
    args = parser.parse_args(words)
    status: int = args.run(args)
    return status


def _problem_of(message: str) -> Problem:
    """Turn argparse's sentence into a field and a code of ours."""
    head, _, rest = message.partition(": ")
    if head == "unrecognized arguments":
        extra = rest.split(" ")
        options = [one for one in extra if one.startswith("-")]
        if options:
            return Problem("option_unknown", options[0].partition("=")[0])
        return Problem("argument_too_many", extra[0])
    if head == "the following arguments are required":
        return Problem("argument_missing", rest.split(", ")[0])
    if head.startswith("argument "):
        field = head.removeprefix("argument ").partition("/")[0]
        if rest.startswith("expected"):
            return Problem("option_without_value", field)
        code = "option_takes_none" if rest.startswith("ignored explicit") else "argument_wrong"
        return Problem(code, field)
    return Problem("argument_wrong", "arguments")


def _complain(problem: Problem) -> None:
    from companion.phrasebook.phrases import Phrases
    from companion.phrasebook.problems import problem_text

    said = problem_text(Phrases(), problem)
    sys.stderr.write(f"companion: {_one_line(problem.field)}: {_one_line(said)}\n")


def _one_line(text: str) -> str:
    """Return ``text`` on one line and printable anywhere, whatever a file or a caller put into it."""
    shown = "".join(c if c.isprintable() else c.encode("unicode_escape").decode("ascii") for c in text)
    if len(shown) > LONGEST_LINE:
        shown = shown[:LONGEST_LINE] + "..."
    encoding = sys.stderr.encoding or "ascii"
    return shown.encode(encoding, "backslashreplace").decode(encoding)
