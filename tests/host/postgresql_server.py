"""A PostgreSQL server of the tests' own: started from Debian's package, thrown away after.

Where the package is missing, tests that need it are skipped with a reason; with CI=true
they fail instead, because there it has to be.
"""

import os
import shutil
import socket
import subprocess
import tempfile
from functools import cached_property
from pathlib import Path

import psycopg
import pytest

from snapcurve.notebook import open_notebook
from tests.patience import LONGEST_S

PASSWORD = "s3cret-Pass"
ABSENT = (
    "PostgreSQL is not installed, so the notebook was tested on SQLite only; Debian's package"
    " postgresql brings it (.ci/run installs it)"
)


def programs() -> Path | None:
    """The folder of PostgreSQL's own programs, the newest version first."""
    named = os.environ.get("SNAPCURVE_TEST_POSTGRESQL")
    folders = [Path(named)] if named else []
    debian = Path("/usr/lib/postgresql")
    if debian.is_dir():
        numbers = (one for one in debian.iterdir() if one.name.isdigit())
        folders += [one / "bin" for one in sorted(numbers, key=lambda one: -int(one.name))]
    if found := shutil.which("initdb"):
        folders.append(Path(found).resolve().parent)
    return next((one for one in folders if (one / "initdb").exists()), None)


def require() -> Path:
    """As `programs`; a skip or, in CI, a failure where there are none."""
    found = programs()
    if found is not None:
        return found
    if os.environ.get("CI") == "true":
        pytest.fail(ABSENT, pytrace=False)
    pytest.skip(ABSENT)


class Server:
    """A running cluster with a password, reached on a loopback port."""

    def __init__(self, bin_folder: Path, certified: tuple[Path, Path] | None = None) -> None:
        """``certified``: files of a certificate and its key; without them it offers no TLS."""
        self._bin = bin_folder
        # not pytest's folder: another user has to reach it
        self._folder = Path(tempfile.mkdtemp(prefix="pg-"))
        # PostgreSQL refuses to run as the superuser, as which tests run in containers
        self._as = ["setpriv", "--reuid=postgres", "--regid=postgres", "--clear-groups"]
        if os.geteuid() == 0:
            shutil.chown(self._folder, "postgres", "postgres")
        else:
            self._as = []
        with socket.socket() as free:
            free.bind(("127.0.0.1", 0))
            self.port = free.getsockname()[1]
        self._count = 0
        word = self._folder / "password"
        word.write_text(PASSWORD)
        word.chmod(0o644)
        self._run(
            "initdb", "-D", str(self._folder / "data"), "-U", "owner", "--no-sync",
            "--auth=scram-sha-256", f"--pwfile={word}", "--encoding=UTF8", "--locale=C.UTF-8",
        )  # fmt: skip
        options = f"-p {self.port} -k {self._folder} -h 127.0.0.1 -c fsync=off"
        if certified is not None:
            options += " -c ssl=on"
            for name, file in zip(("server.crt", "server.key"), certified, strict=True):
                there = self._folder / "data" / name
                shutil.copy(file, there)
                there.chmod(0o600)
                if self._as:
                    shutil.chown(there, "postgres", "postgres")
        self._run(
            "pg_ctl", "-D", str(self._folder / "data"), "-w", "-t", "60",
            "-l", str(self._folder / "log"), "-o", options, "start",
        )  # fmt: skip

    def _run(self, program: str, *words: str) -> None:
        done = subprocess.run(
            [*self._as, str(self._bin / program), *words],
            stdin=subprocess.DEVNULL, stdout=subprocess.DEVNULL, stderr=subprocess.STDOUT,
            cwd="/", timeout=LONGEST_S, check=False,
        )  # fmt: skip
        log = self._folder / "log"
        assert done.returncode == 0, (program, log.read_text() if log.exists() else "")

    def url(
        self, database: str, user: str = "owner", password: str = PASSWORD, host: str = "127.0.0.1"
    ) -> str:
        """An address as a person writes it."""
        return f"postgresql://{user}:{password}@{host}:{self.port}/{database}"

    def new_database(self, like: str = "template1") -> str:
        """The address of a new database: an empty one, or a copy of the one called ``like``."""
        self._count += 1
        name = f"notebook_{self._count}"
        self.execute("postgres", f"CREATE DATABASE {name} TEMPLATE {like}")
        return self.url(name)

    @cached_property
    def opened(self) -> str:
        """The name of a database with an empty notebook in it, to make copies of."""
        address = self.new_database()
        open_notebook(address).close()
        return address.rpartition("/")[2]

    def execute(self, database: str, *statements: str) -> None:
        """Statements of the server's owner."""
        with psycopg.connect(self.url(database), autocommit=True) as connection:
            for statement in statements:
                connection.execute(statement)

    def stop(self) -> None:
        """Stop it and remove all it had."""
        data = str(self._folder / "data")
        self._run("pg_ctl", "-D", data, "-w", "-m", "immediate", "stop")
        shutil.rmtree(self._folder, ignore_errors=True)
