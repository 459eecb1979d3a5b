"""The store's connection: rows in, rows out, transactions. What they mean is said by the other modules of this folder.

`opening` is the file, `schema.sql` and `migrations` the tables; then a module for each subject, functions of a Storage:
`editions`, `submissions`, `pictures`, `annotations`, `queue` who places what, `rundowns`, `erasures` what is to go.
All SQL of the product is here.

Write-ahead log and a busy time-out, so that the desk reads while the placing writes; a submission is committed with
full synchronisation, because its sender is told that it is there. One Storage is one connection: one for a request.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from pathlib import Path
from typing import Any

from moondesk.service.store.opening import DATABASE_NAME, copy_to, failures, open_store, open_to_read

__all__ = ["DATABASE_NAME", "Storage"]


class Storage:
    """One connection to the store of a data folder. Use as a context manager, or close it."""

    def __init__(self, data_dir: Path, read_only: bool = False) -> None:
        """read_only: nothing is written, not even brought up to date: a backup, perhaps of an older release."""
        self.data_dir = data_dir
        self._db = open_to_read(data_dir) if read_only else open_store(data_dir)

    def __enter__(self) -> Storage:
        return self

    def __exit__(self, *_: object) -> None:
        self.close()

    def close(self) -> None:
        self._db.close()

    def copy_to(self, path: Path) -> None:
        """See `opening.copy_to`."""
        copy_to(self._db, path)

    def read(self, sql: str, values: Sequence[Any] | Mapping[str, Any] = ()) -> list[dict[str, Any]]:
        """All rows of a query, by column; inside `writing` it is part of the transaction."""
        return list(self.each(sql, values))

    def each(self, sql: str, values: Sequence[Any] | Mapping[str, Any] = ()) -> Iterator[dict[str, Any]]:
        """`read`, one row at a time."""
        with failures():
            cursor = self._db.execute(sql, values)
            names = [column[0] for column in cursor.description or ()]
            for row in cursor:
                yield dict(zip(names, row, strict=True))

    def execute(self, sql: str, values: Sequence[Any] | Mapping[str, Any] = ()) -> int:
        """Run a statement inside `writing`; how many rows it touched."""
        with failures():
            return int(self._db.execute(sql, values).rowcount)

    def insert(self, table: str, row: Mapping[str, Any]) -> int:
        """Insert a row inside `writing`; its id."""
        sql = f"insert into {table} ({', '.join(row)}) values ({', '.join('?' * len(row))})"
        with failures():
            return int(self._db.execute(sql, [*row.values()]).lastrowid or 0)

    def insert_all(self, table: str, rows: Iterable[Mapping[str, Any]]) -> None:
        for row in rows:
            self.insert(table, row)

    @contextmanager
    def writing(self) -> Iterator[Callable[..., int]]:
        """One transaction that has the write lock from its start, so that it never fails half way for lack of it."""
        with failures():
            self._db.execute("begin immediate")
            try:
                yield self.execute
            except BaseException:
                self._db.rollback()
                raise
            self._db.commit()
