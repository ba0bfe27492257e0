"""The demo workshop in a copy of one's own, in the user's data folder."""

import os
import sys
from collections.abc import Mapping
from pathlib import Path

from kerfwright.basics import InputError, Place
from kerfwright.workshop import copy_demo, open_workshop
from kerfwright.workshop.folder import Workshop

_NAME = "alder-lane"


def own_demo() -> Workshop:
    """Open the copy of the demo, made when there is none yet.

    Raises
    ------
    InputError
        If there is no folder to keep it in.
    """
    root = user_data_root(sys.platform, os.environ)
    if root is None:
        raise InputError(
            Place(file="kerfwright open"),
            "there is no folder of yours to keep the demo's copy in",
            "name a workshop: kerfwright open FOLDER",
        )
    folder = root / "kerfwright" / _NAME
    if (folder / "machine.toml").is_file():
        return open_workshop(folder)
    try:
        return copy_demo(folder)
    except OSError as error:
        raise InputError(
            Place(file=str(folder)),
            f"the demo's copy cannot be written: {error.strerror}",
            "name a workshop: kerfwright open FOLDER",
        ) from error


def user_data_root(platform: str, environment: Mapping[str, str]) -> Path | None:
    """The folder in which a program of this platform keeps what belongs to the person.

    Parameters
    ----------
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
    .. [1] XDG Base Directory Specification, version 0.7, "Environment variables" (default of
       ``XDG_DATA_HOME``) and "Basics" (a relative path is ignored); from memory.
    .. [2] The folders of the other two platforms: common practice, no source.
    """
    if platform == "win32":
        local = environment.get("LOCALAPPDATA", "")
        return Path(local) if local else None
    home = environment.get("HOME", "")
    if platform == "darwin":
        return Path(home) / "Library" / "Application Support" if home else None
    named = environment.get("XDG_DATA_HOME", "")
    if named.startswith("/"):
        return Path(named)
    return Path(home) / ".local" / "share" if home else None
