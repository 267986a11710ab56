"""A real PostgreSQL of the tests' own: a throw-away cluster on a free port of this machine.

The server refuses to run as root, so root hands it to the user that its package made. Tests share a database that
is emptied before each, or ask for a copy of their own of a migrated template, some ten megabytes of files.
"""

from __future__ import annotations

import os
import shutil
import socket
import subprocess
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

import psycopg
from psycopg import sql

BINARIES = sorted(Path("/usr/lib/postgresql").glob("*/bin"))
FAST = "-c fsync=off -c synchronous_commit=off -c full_page_writes=off -c max_connections=60"
"""Nothing here outlives the tests, so nothing is flushed for their sake."""
FREE = """SELECT pg_terminate_backend(pid) FROM pg_stat_activity
    WHERE datname = current_database() AND pid <> pg_backend_pid()"""
TABLES = """SELECT table_name FROM information_schema.tables
    WHERE table_schema = 'public' AND table_type = 'BASE TABLE' AND table_name <> 'alembic_version'"""


@dataclass
class Cluster:
    port: int
    made: int = 0
    shared: str = ""
    """The address of the database that is emptied for each test, once there is one."""

    def url(self, name: str) -> str:
        return f"postgresql://postgres@127.0.0.1:{self.port}/{name}"

    def run(self, statement: str) -> None:
        with psycopg.connect(self.url("postgres"), autocommit=True) as connection:
            connection.execute(statement)  # type: ignore[call-overload]

    def copy(self, template: str) -> str:
        """Return the address of a fresh copy of a database that nobody is connected to."""
        self.made += 1
        name = f"copy_{self.made}"
        self.run(f"CREATE DATABASE {name} TEMPLATE {template} STRATEGY FILE_COPY")
        return self.url(name)

    def emptied(self, template: str) -> str:
        """Return the address of the shared database, in which nothing is kept and to which nobody is connected."""
        if not self.shared:
            self.shared = self.copy(template)
            return self.shared
        with psycopg.connect(self.shared, autocommit=True) as connection:
            connection.execute(FREE)
            filled = sql.SQL("SELECT {} WHERE EXISTS (SELECT FROM {})")
            asked = [filled.format(name, sql.Identifier(name)) for (name,) in connection.execute(TABLES)]
            full = connection.execute(sql.SQL(" UNION ALL ").join(asked)).fetchall()
            connection.execute("SET session_replication_role = replica")  # in any order: nothing is left to refer
            for (name,) in full:  # TRUNCATE makes files anew and takes ten times as long
                connection.execute(sql.SQL("DELETE FROM {}").format(sql.Identifier(name)))
        return self.shared


@contextmanager
def cluster() -> Iterator[Cluster]:
    """Start a cluster, and stop and remove it at the end."""
    if not BINARIES:
        raise RuntimeError("PostgreSQL is not installed; tests/run installs it")
    home = Path(tempfile.mkdtemp(prefix="companion-postgres-"))
    as_root = os.geteuid() == 0
    if as_root:
        shutil.chown(home, "postgres")
    port = _free_port()

    def run(program: str, *words: str) -> None:
        prefix = ["runuser", "-u", "postgres", "--"] if as_root else []
        command = [*prefix, str(BINARIES[-1] / program), *words]
        done = subprocess.run(command, cwd="/", capture_output=True, text=True, check=False)
        if done.returncode:
            raise RuntimeError(f"{program}: {done.stdout}{done.stderr}")

    data, log = str(home / "data"), str(home / "log")
    try:
        run("initdb", "-D", data, "-U", "postgres", "-A", "trust", "--no-sync", "--locale=C.UTF-8")
        options = f"{FAST} -c port={port} -c listen_addresses=127.0.0.1 -c unix_socket_directories={home}"
        run("pg_ctl", "-D", data, "-l", log, "-w", "-o", options, "start")
        try:
            yield Cluster(port)
        finally:
            run("pg_ctl", "-D", data, "-m", "immediate", "-w", "stop")
    finally:
        shutil.rmtree(home, ignore_errors=True)


def _free_port() -> int:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return int(probe.getsockname()[1])
