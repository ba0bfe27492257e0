"""Reading the packaged tables. Each NAME.csv has its NAME.source.toml beside it."""

import csv
import hashlib
from importlib.resources import files
from importlib.resources.abc import Traversable

_FOLDER = files("kerfwright.tables")


def read_table(name: str) -> list[dict[str, str]]:
    """The rows of a table, each a mapping from column name to the text in that column.

    Parameters
    ----------
    name : str
        Name of the table, without its ending: ``"species"``.

    Returns
    -------
    list of dict
        In the order of the file. Empty cells are empty texts. Lines that begin with ``#`` stand
        for the reader of the file and are left out.

    Raises
    ------
    FileNotFoundError
        If there is no such table.
    """
    text = (_FOLDER / f"{name}.csv").read_text(encoding="utf-8")
    return list(csv.DictReader(line for line in text.splitlines() if not line.startswith("#")))


def tables_sha256() -> str:
    """One hash over every table and every statement of source, as hexadecimal digits."""
    whole = hashlib.sha256()
    for item in _table_files():
        content = item.read_bytes().replace(b"\r\n", b"\n")  # as on any system
        whole.update(f"{item.name} {len(content)}\n".encode())
        whole.update(content)
    return whole.hexdigest()


def table_names() -> tuple[str, ...]:
    """Names of all packaged tables, in order."""
    return tuple(
        item.name.removesuffix(".csv") for item in _table_files() if item.name.endswith(".csv")
    )


def _table_files() -> list[Traversable]:
    wanted = (item for item in _FOLDER.iterdir() if item.name.endswith((".csv", ".source.toml")))
    return sorted(wanted, key=lambda item: item.name)
