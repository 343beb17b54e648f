"""Versioned migrations; each file in `versions` is one step and is never changed later."""

from alembic import command
from alembic.config import Config
from sqlalchemy import Engine, text

_MIGRATING = 1_936_613_744  # any number, as long as every version of snapcurve uses it


def config() -> Config:
    """What alembic needs to find the steps, without an .ini file."""
    settings = Config()
    settings.set_main_option("script_location", "snapcurve.notebook:migrations")
    return settings


def migrate(engine: Engine) -> None:
    """Bring the database to the latest version in one transaction: all of it or nothing.

    Of two programs that start at once, one migrates and the other then finds it done.
    """
    settings = config()
    with engine.execution_options(writes=True).begin() as connection:
        if connection.dialect.name == "postgresql":
            # SQLite's write lock, taken at the beginning, does the same there
            connection.execute(text("SELECT pg_advisory_xact_lock(:key)"), {"key": _MIGRATING})
        settings.attributes["connection"] = connection
        command.upgrade(settings, "head")
