"""Codecs only: bytes to plain values with places, and back. No meaning is given to them here."""

from kerfwright.formats.atomic import write_bytes, write_text
from kerfwright.formats.known_value import read_known
from kerfwright.formats.own_file import Problems, require_kind
from kerfwright.formats.quantity import Quantity, QuantityError, read_quantity, read_size
from kerfwright.formats.toml_file import TomlFile, read_toml

__all__ = [
    "Problems",
    "Quantity",
    "QuantityError",
    "TomlFile",
    "read_known",
    "read_quantity",
    "read_size",
    "read_toml",
    "require_kind",
    "write_bytes",
    "write_text",
]
