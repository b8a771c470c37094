"""Stores to test on: SQLite always, PostgreSQL from WHATSTAYS_TEST_POSTGRES or a throwaway cluster."""

from __future__ import annotations

import os
import pwd
import shutil
import socket
import subprocess
import tempfile
import uuid
from collections.abc import Iterator
from pathlib import Path

import pytest
from sqlalchemy import create_engine, make_url, text

from evidence.findings import findings
from evidence.findings.edition import import_shipped
from evidence.findings.finding import Finding
from evidence.model.rules import Rules, load_rules
from evidence.store import Store, open_store


def _program(name: str) -> str | None:
    found = shutil.which(name)
    if found:
        return str(Path(found).resolve())
    there = sorted(
        Path("/usr/lib/postgresql").glob(f"*/bin/{name}"), key=lambda path: int(path.parts[-3].split(".")[0])
    )
    return str(there[-1]) if there else None


def _unprivileged() -> tuple[list[str], str | None]:
    """Return how to run a server that refuses to be root, and as whom."""
    if os.geteuid() != 0:
        return [], None
    for name in ("postgres", "nobody"):
        try:
            user = pwd.getpwnam(name)
        except KeyError:
            continue
        if shutil.which("setpriv"):
            return ["setpriv", f"--reuid={user.pw_uid}", f"--regid={user.pw_gid}", "--clear-groups"], name
        if shutil.which("runuser"):
            return ["runuser", "-u", name, "--"], name
    return [], None


def _free_port() -> int:
    with socket.socket() as one:
        one.bind(("127.0.0.1", 0))
        return int(one.getsockname()[1])


@pytest.fixture(scope="session")
def postgres_server() -> Iterator[str]:
    """The URL of a database of a PostgreSQL server on which tests may make databases of their own."""
    given = os.environ.get("WHATSTAYS_TEST_POSTGRES")
    if given:
        yield given
        return
    initdb, pg_ctl = _program("initdb"), _program("pg_ctl")
    if initdb is None or pg_ctl is None:
        missing = "PostgreSQL is not installed (no initdb, no WHATSTAYS_TEST_POSTGRES)"
        if os.environ.get("CI") == "true":
            pytest.fail(missing)
        pytest.skip(missing)
    as_user, name = _unprivileged()
    folder = Path(tempfile.mkdtemp(prefix="whatstays-pg-"))
    folder.chmod(0o755)
    if name is not None:
        shutil.chown(folder, name)

    def run(*command: str) -> None:
        # a pipe would be held open by the server; a file is not
        with (folder.parent / f"{folder.name}.out").open("w+") as out:
            done = subprocess.run([*as_user, *command], cwd=folder, stdout=out, stderr=out, check=False, timeout=120)
            out.seek(0)
            assert done.returncode == 0, out.read()

    port = _free_port()
    options = f"-p {port} -c listen_addresses=127.0.0.1 -c unix_socket_directories={folder} -c fsync=off"
    try:
        run(initdb, "-D", str(folder / "data"), "-U", "tester", "-A", "trust", "-E", "UTF8", "--locale=C")
        run(pg_ctl, "-D", str(folder / "data"), "-w", "-l", str(folder / "log"), "-o", options, "start")
        try:
            yield f"postgresql://tester@127.0.0.1:{port}/postgres"
        finally:
            run(pg_ctl, "-D", str(folder / "data"), "-w", "-m", "immediate", "stop")
    finally:
        shutil.rmtree(folder, ignore_errors=True)
        (folder.parent / f"{folder.name}.out").unlink(missing_ok=True)


@pytest.fixture
def postgres_url(postgres_server: str) -> Iterator[str]:
    """The URL of an empty PostgreSQL database, dropped after the test."""
    url = make_url(postgres_server).set(drivername="postgresql+psycopg")
    name = f"whatstays_{uuid.uuid4().hex[:12]}"
    server = create_engine(url, isolation_level="AUTOCOMMIT")
    try:
        with server.connect() as connection:
            connection.execute(text(f"CREATE DATABASE {name}"))
        yield url.set(drivername="postgresql", database=name).render_as_string(hide_password=False)
        with server.connect() as connection:
            connection.execute(text(f"DROP DATABASE {name} WITH (FORCE)"))
    finally:
        server.dispose()


@pytest.fixture(params=["sqlite", "postgres"])
def store(request: pytest.FixtureRequest, tmp_path: Path) -> Iterator[Store]:
    """An empty store, on SQLite and on PostgreSQL."""
    target = str(tmp_path / "store.sqlite") if request.param == "sqlite" else request.getfixturevalue("postgres_url")
    opened = open_store(target)
    yield opened
    opened.close()


@pytest.fixture(scope="session")
def shipped_path(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The file of a SQLite store that holds the shipped evidence and its findings; read it, change nothing."""
    path = tmp_path_factory.mktemp("shipped") / "evidence.sqlite"
    opened = open_store(str(path))
    import_shipped(opened)
    findings(opened)
    opened.close()
    return path


@pytest.fixture(scope="session")
def shipped_store(shipped_path: Path) -> Iterator[Store]:
    """A SQLite store with the shipped evidence and its findings; read it, change nothing."""
    opened = open_store(str(shipped_path))
    yield opened
    opened.close()


@pytest.fixture(scope="session")
def shipped_findings(shipped_store: Store) -> list[Finding]:
    """All findings of the shipped evidence."""
    return findings(shipped_store)


@pytest.fixture(scope="session")
def rules() -> Rules:
    """The shipped thresholds."""
    return load_rules()
