"""What all TOML files of ours share: the first key, unknown keys, and gathering every error."""

from collections.abc import Callable, Collection, Mapping, Sequence
from difflib import get_close_matches
from typing import Any, TypeVar

from kerfwright.basics.errors import InputError, InputErrors, Place
from kerfwright.formats.quantity import QuantityError
from kerfwright.formats.toml_file import TomlFile

T = TypeVar("T")
TomlPath = Sequence[str | int]

#: Finding a place means reading the file again: beyond this many, errors are only counted.
MOST_ERRORS = 20


class Problems:
    """Gathers what is wrong in one file, to tell all of it at once."""

    def __init__(self, toml: TomlFile) -> None:
        self._toml = toml
        self._errors: list[InputError] = []
        self._more = 0

    def add(self, path: TomlPath, problem: str, remedy: str) -> None:
        """Note one error at the value at ``path``."""
        if len(self._errors) < MOST_ERRORS:
            self._errors.append(self._toml.error(path, problem, remedy))
        else:
            self._more += 1

    def place(self, path: TomlPath) -> Place:
        """Where the value at ``path`` stands in the file."""
        return self._toml.place(path)

    def reading(self, path: TomlPath, read: Callable[[], T]) -> T | None:
        """What ``read`` returns, or None after noting its ``QuantityError`` at ``path``."""
        try:
            return read()
        except QuantityError as error:
            self.add(path, error.problem, error.remedy)
            return None

    def unknown_keys(
        self, table: Mapping[str, Any], path: TomlPath, allowed: Collection[str]
    ) -> None:
        """Note every key of a table that means nothing here."""
        for key in table:
            if key in allowed:
                continue
            near = get_close_matches(key[:60], allowed, n=1, cutoff=0.6)
            remedy = f'did you mean "{near[0]}"?' if near else f"known are {', '.join(allowed)}"
            self.add((*path, key), f'"{key[:60]}" means nothing here', remedy)

    def section(self, table: Mapping[str, Any], key: str, path: TomlPath = ()) -> dict[str, Any]:
        """A table inside a table; empty when it is not there, noted when it is no table."""
        value = table.get(key, {})
        if isinstance(value, dict):
            return value
        self.add((*path, key), f"{key} is no section", f"write a line [{key}] above its values")
        return {}

    @property
    def any(self) -> bool:
        """Whether anything was noted."""
        return bool(self._errors)

    def tell(self) -> None:
        """Raise ``InputErrors``, in the order of the file, if anything was noted."""
        if self._errors:
            ordered = sorted(self._errors, key=lambda error: error.place.line)
            raise InputErrors(ordered, self._more)


def require_kind(toml: TomlFile, kind: str, version: int) -> None:
    """Refuse a file whose first key does not say that it is of this kind and version.

    Raises
    ------
    InputError
        If the key is missing, not the first, of another kind, or newer.
    """
    first = f'write  kerfwright = "{kind} {version}"  as the first line'
    said = toml.data.get("kerfwright")
    if not isinstance(said, str) or next(iter(toml.data)) != "kerfwright":
        raise toml.error(("kerfwright",), "does not say first what kind of file it is", first)
    name, _, number = said.partition(" ")
    if name != kind:
        raise toml.error(
            ("kerfwright",), f'is "{said[:60]}", but a {kind} file is wanted here', first
        )
    if not (number.isascii() and number.isdigit()) or len(number) > 6 or int(number) < 1:
        raise toml.error(("kerfwright",), f'"{said[:60]}" has no version', first)
    if int(number) > version:
        raise toml.error(
            ("kerfwright",),
            f"is of version {int(number)}; this Kerfwright reads up to version {version}",
            "use a newer Kerfwright, or write the file in the older form",
        )
