"""Codecs only: bytes to plain values with places, and back. No meaning is given to them here."""

from kerfwright.formats.atomic import write_bytes, write_text
from kerfwright.formats.known_value import read_known
from kerfwright.formats.quantity import Quantity, QuantityError, read_quantity, read_size
from kerfwright.formats.toml_file import TomlFile, read_toml

__all__ = [
    "Quantity",
    "QuantityError",
    "TomlFile",
    "read_known",
    "read_quantity",
    "read_size",
    "read_toml",
    "write_bytes",
    "write_text",
]
