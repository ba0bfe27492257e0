"""Where a program of each platform keeps a person's things, and what can be made again."""

from collections.abc import Mapping
from pathlib import Path
from typing import Literal

_FOLDERS: dict[str, dict[str, tuple[str, ...]]] = {
    "linux": {"data": (".local", "share"), "cache": (".cache",)},
    "darwin": {"data": ("Library", "Application Support"), "cache": ("Library", "Caches")},
}


def user_root(
    kept: Literal["data", "cache"], platform: str, environment: Mapping[str, str]
) -> Path | None:
    """The folder in which a program of this platform keeps its own folder.

    Parameters
    ----------
    kept : "data" or "cache"
        What belongs to the person, or what can be made again.
    platform : str
        As ``sys.platform`` gives it.
    environment : Mapping
        The environment variables.

    Returns
    -------
    Path or None
        None if the environment names no home.

    References
    ----------
    .. [1] XDG Base Directory Specification: the defaults of ``XDG_CACHE_HOME`` (read in version
       0.7, section "Environment variables") and ``XDG_DATA_HOME`` (from memory); that a relative
       path is to be ignored, section "Basics".
    .. [2] The folders of the other two platforms: common practice, no source.
    """
    if platform == "win32":
        local = environment.get("LOCALAPPDATA", "")
        return Path(local) if local else None
    named = environment.get(f"XDG_{kept.upper()}_HOME", "")
    if platform != "darwin" and named.startswith("/"):
        return Path(named)
    home = environment.get("HOME", "")
    below = _FOLDERS["darwin" if platform == "darwin" else "linux"][kept]
    return Path(home, *below) if home else None
