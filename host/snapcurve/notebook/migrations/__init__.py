"""Versioned migrations; each file in `versions` is one step and is never changed later."""

from alembic import command
from alembic.config import Config
from sqlalchemy import Connection, Engine, inspect, select, text

from snapcurve.notebook import hash_chain, search_words, tables

_FIRST_SEALED = "0003"
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
        older = _is_without_seals(connection)
        command.upgrade(settings, "head")
        if older:
            hash_chain.seal_what_is_older(connection)
            for batch_id in connection.execute(select(tables.batches.c.id)).scalars().all():
                search_words.add_batch(connection, batch_id)


def _is_without_seals(connection: Connection) -> bool:
    """Whether this notebook holds records from before there were seals and search words."""
    if not inspect(connection).has_table(tables.version.name):
        return False
    found = connection.scalar(select(tables.version.c.version_num))
    return found is not None and found < _FIRST_SEALED
