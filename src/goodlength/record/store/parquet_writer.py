"""A table of plain rows as Parquet, for other programs."""

from __future__ import annotations

import csv
import tempfile
from collections.abc import Iterable, Mapping, Sequence
from pathlib import Path

from goodlength.errors import NoSpace

_NONE = "\\N"


def write_parquet(path: Path, columns: Mapping[str, str], rows: Iterable[Sequence[object]]) -> None:
    """Write rows to a Parquet file.

    Parameters
    ----------
    path : Path
    columns : mapping
        Name and SQL type of each column.
    rows : iterable
        Each with a value for each column, or None.

    Raises
    ------
    NoSpace
        The file cannot be written.
    """
    import duckdb

    types = ", ".join(f"'{name}': '{kind}'" for name, kind in columns.items())
    with tempfile.TemporaryDirectory() as folder:
        table = Path(folder) / "rows.csv"
        with table.open("w", encoding="utf-8", newline="") as file:
            writer = csv.writer(file, lineterminator="\n")
            for row in rows:
                writer.writerow([_NONE if value is None else value for value in row])
        source, target = (str(each).replace("'", "''") for each in (table, path))
        with duckdb.connect(":memory:", config={"autoinstall_known_extensions": "false"}) as connection:
            try:
                connection.execute(
                    f"COPY (SELECT * FROM read_csv('{source}', header=false, nullstr='{_NONE}', "
                    f"columns={{{types}}}, auto_detect=false, quote='\"', escape='\"')) "
                    f"TO '{target}' (FORMAT parquet, COMPRESSION zstd)"
                )
            except duckdb.IOException as error:
                raise NoSpace(
                    f"{path} cannot be written ({str(error).splitlines()[0]}). Free some space, or choose "
                    "another folder."
                ) from error
