"""Published data as text files, each with its source beside it.

A table NAME is two files: ``NAME.csv``, and ``NAME.source.toml`` with author, title, year, the
table or page, the unit of every column, how it was read, and whether the source itself was seen.
"""

from kerfwright.tables.read import read_table, table_names, tables_sha256

__all__ = ["read_table", "table_names", "tables_sha256"]
