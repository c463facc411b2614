"""One table for all parts, as CSV and as Parquet."""

from __future__ import annotations

import csv
import io
from pathlib import Path
from typing import Any

from service.batch.ledger import Result, write_whole
from service.batch.rows import COLUMNS


def write_tables(results: list[Result], folder: Path) -> list[Path]:
    """Writes table.csv and table.parquet, a row a part in the order of `results`. Raises OSError."""
    rows = [_row(result) for result in results]
    paths = [folder / "table.csv", folder / "table.parquet"]
    write_whole(paths[0], _csv(rows))
    write_whole(paths[1], _parquet(rows))
    return paths


def _row(result: Result) -> dict[str, Any]:
    row = {"part": result.key, "status": "error" if result.error else "done", "sha256": result.sha256 or None}
    row |= result.row
    if result.error:
        row |= {f"error_{name}": result.error[name] for name in ("code", "message", "hint")}
    return {name: row.get(name) for name in COLUMNS}


def _csv(rows: list[dict[str, Any]]) -> bytes:
    text = io.StringIO()
    writer = csv.DictWriter(text, list(COLUMNS), lineterminator="\n")
    writer.writeheader()
    writer.writerows({name: _cell(value) for name, value in row.items()} for row in rows)
    return text.getvalue().encode()


def _cell(value: Any) -> Any:
    """A text that begins like a formula is set off, so that a file's name cannot act in a spreadsheet."""
    return f"'{value}" if isinstance(value, str) and value[:1] in "=+-@\t" and value else value


def _parquet(rows: list[dict[str, Any]]) -> bytes:
    import pyarrow as pa
    import pyarrow.parquet as pq

    types = {str: pa.string(), int: pa.int64(), float: pa.float64()}
    schema = pa.schema([(name, types[kind]) for name, kind in COLUMNS.items()])
    out = io.BytesIO()
    pq.write_table(pa.Table.from_pylist(rows, schema=schema), out)
    return out.getvalue()
