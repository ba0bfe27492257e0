"""A user's file is never overwritten without the old one being kept."""

from pathlib import Path

from kerfwright.formats import write_bytes, write_text


def replace_keeping_old(path: Path, text: str) -> Path | None:
    """Write ``text`` at ``path``; what stood there is kept as ``NAME.1.bak``, ``NAME.2.bak`` ...

    Parameters
    ----------
    path : Path
        The file to write. The highest number holds the newest of the old ones.
    text : str
        Its new content, written as UTF-8 with line feeds.

    Returns
    -------
    Path or None
        Where the old one is now; None if there was none, or it held the same text.
    """
    try:
        old = path.read_bytes()
    except FileNotFoundError:
        write_text(path, text)
        return None
    if old == text.encode("utf-8"):
        return None
    kept = next_backup(path)
    write_bytes(kept, old)
    write_text(path, text)
    return kept


def next_backup(path: Path) -> Path:
    """The next free ``NAME.n.bak`` beside a file."""
    numbers = [0]
    for other in path.parent.glob(f"{_literal(path.name)}.*.bak"):
        number = other.name[len(path.name) + 1 : -len(".bak")]
        if number.isascii() and number.isdigit():
            numbers.append(int(number))
    return path.with_name(f"{path.name}.{max(numbers) + 1}.bak")


def _literal(name: str) -> str:
    """A name as a pattern that matches only itself."""
    return "".join(f"[{c}]" if c in "*?[" else c for c in name)
