"""Which code made a number: one hash over the package's own sources."""

from functools import cache
from hashlib import sha256
from pathlib import Path

_PACKAGE = Path(__file__).parents[1]


@cache
def code_sha256() -> str:
    """SHA-256 over every Python file of the package, by name and content.

    Line ends are taken as line feeds, so that a checkout on another system gives the same.
    """
    return sources_sha256(_PACKAGE)


def sources_sha256(folder: Path) -> str:
    """``code_sha256`` of any folder of Python files."""
    whole = sha256()
    files = {file.relative_to(folder).as_posix(): file for file in folder.rglob("*.py")}
    for name in sorted(files):
        content = files[name].read_bytes().replace(b"\r\n", b"\n")
        # Lengths stand in front, so that text cannot move from one file to the next unseen.
        whole.update(f"{name}\0{len(content)}\0".encode())
        whole.update(content)
    return whole.hexdigest()
