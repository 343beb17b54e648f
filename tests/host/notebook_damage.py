"""Alters stored rows past the notebook, one byte at a time."""

import random

from sqlalchemy import text
from sqlalchemy.exc import DBAPIError

from snapcurve.notebook import codes, tables

TABLES = [table.name for table in tables.metadata.sorted_tables]


class Damage:
    """Random alterations of the rows of one database, inside a transaction that is rolled
    back by whoever began it."""

    def __init__(self, connection, seed):
        self._connection = connection
        self._random = random.Random(seed)
        self._sqlite = connection.dialect.name == "sqlite"

    def cells(self):
        """Every (table, column), in a new order."""
        cells = [
            (table.name, column.name)
            for table in tables.metadata.sorted_tables
            for column in table.columns
        ]
        self._random.shuffle(cells)
        return cells

    def row(self, table):
        """A random row."""
        count = self._connection.scalar(text(f"SELECT count(*) FROM {table}"))
        where = f"LIMIT 1 OFFSET {self._random.randrange(count)}"
        key = ", ".join(column.name for column in tables.metadata.tables[table].primary_key)
        query = text(f"SELECT * FROM {table} ORDER BY {key} {where}")
        return self._connection.execute(query).one()._mapping

    def names(self, table, row):
        """What a sentence about this row must contain."""
        key = row.get("item_id", row.get("id"))
        if table == "calibrations" or row.get("kind") == "calibration":
            return f"Calibration {key} of"
        if table == "seal_head":
            return "the end of the chain"
        batch_id = row.get("batch_id")
        if table == "pictures":
            key = row["entry_id"]
            query = text("SELECT batch_id FROM entries WHERE id = :id")
            batch_id = self._connection.scalar(query, {"id": key})
        if table == "seals" and row["name"]:
            return row["name"]
        if table == "batches":
            return codes.code_of(row["day"], row["day_number"])
        if batch_id is None:  # an entry of the bench
            return f"Entry {key}"
        query = text("SELECT day, day_number FROM batches WHERE id = :id")
        day, number = self._connection.execute(query, {"id": batch_id}).one()
        return codes.code_of(day, number)

    def alter(self, table, column):
        """Alter one byte of one cell; what must be named, None if the database refused."""
        row = self.row(table)
        value = row[column]
        if value is None:
            new = b"\0" if column in ("calibration", "raw") else "1" if column in (
                "couverture_toml", "operator", "notes", "place", "allergens"
            ) else 1  # fmt: skip
        elif isinstance(value, bool):
            new = not value
        elif isinstance(value, int):
            new = self._other_number(value, tables.metadata.tables[table].c[column])
        elif isinstance(value, str):
            new = self._other_text(value)
        else:
            new = self._other_bytes(bytes(value))
        if new is None or new == value:
            return None
        names = self.names(table, row)
        key = [one.name for one in tables.metadata.tables[table].primary_key]
        where = " AND ".join(f'"{name}" = :k_{name}' for name in key)
        shown = "CAST(:new AS TEXT)" if isinstance(value, str) and self._sqlite else ":new"
        try:
            with self._connection.begin_nested():
                done = self._connection.execute(
                    text(f'UPDATE {table} SET "{column}" = {shown} WHERE {where}'),
                    {"new": new, **{f"k_{name}": row[name] for name in key}},
                )
        except (DBAPIError, OverflowError):
            return None
        assert done.rowcount == 1
        return names

    def _other_bytes(self, value):
        if not value:
            return b"\0"
        new = bytearray(value)
        new[self._random.randrange(len(new))] ^= self._random.randrange(1, 256)
        return bytes(new)

    def _other_text(self, value):
        """On SQLite any byte, which may leave no text; elsewhere one that leaves text."""
        new = self._other_bytes(value.encode())
        if self._sqlite:
            return new
        try:
            decoded = new.decode()
        except UnicodeDecodeError:
            return None
        return None if "\0" in decoded else decoded

    def _other_number(self, value, column):
        width = 8 if column.type.python_type is int and "BIG" in str(column.type) else 4
        new = bytearray(value.to_bytes(width, "big", signed=True))
        new[self._random.randrange(width)] ^= self._random.randrange(1, 256)
        return int.from_bytes(new, "big", signed=True)
