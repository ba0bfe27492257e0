"""The demo workshop in a copy of one's own, in the user's data folder."""

import os
import sys

from kerfwright.basics import InputError, Place
from kerfwright.basics.user_folders import user_root
from kerfwright.workshop import copy_demo, open_workshop
from kerfwright.workshop.folder import Workshop

EXAMPLE = "gear-pair"  #: the job that the page opens on: an answer with one place to look at
_NAME = "alder-lane"


def own_demo() -> Workshop:
    """Open the copy of the demo, made when there is none yet.

    Raises
    ------
    InputError
        If there is no folder to keep it in.
    """
    root = user_root("data", sys.platform, os.environ)
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
