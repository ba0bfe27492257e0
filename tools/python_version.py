"""Finds a Python that can run Kerfwright; written so that any Python since 2.7 can read it."""

from __future__ import print_function

import os
import subprocess
import sys

OLDEST = (3, 11)
NEWEST = (3, 14)
_ASK = (
    "import sys; "
    "print('%d.%d %s' % (sys.version_info[0], sys.version_info[1], sys.implementation.name))"
)


def hand_over_if_unfit(script):
    """Return if this Python will do; otherwise run the script with one that does, and exit."""
    version = tuple(sys.version_info[:2])
    name = sys.implementation.name if hasattr(sys, "implementation") else "cpython"
    if fits(version, name):
        return
    environment = dict(os.environ)
    # Meant for the Python that is running now; another one would not even start with it.
    environment.pop("PYTHONHOME", None)
    for command in _candidates():
        if _answers_as_fit(command, environment):
            sys.exit(subprocess.call(command + [script] + sys.argv[1:], env=environment))
    sys.stderr.write(
        "Kerfwright needs Python 3.11, 3.12, 3.13 or 3.14, and this is %d.%d (%s): "
        "install one of those, then run the same command again.\n" % (version + (name,))
    )
    sys.exit(2)


def fits(version, name):
    """Whether the compiled packages exist for a Python of this (major, minor) and make."""
    return OLDEST <= version <= NEWEST and name == "cpython"


def _candidates():
    for minor in range(NEWEST[1], OLDEST[1] - 1, -1):
        yield ["python3.%d" % minor]
        if os.name == "nt":
            yield ["py", "-3.%d" % minor]


def _answers_as_fit(command, environment):
    # A name on PATH proves nothing: it may be a stub that only tells what is not installed.
    try:
        process = subprocess.Popen(
            command + ["-c", _ASK],
            stdout=subprocess.PIPE,
            stderr=subprocess.PIPE,
            env=environment,
        )
        answer = process.communicate()[0].decode("ascii", "replace").split()
    except OSError:
        return False
    if process.returncode != 0 or len(answer) != 2:
        return False
    return fits(tuple(int(part) for part in answer[0].split(".")), answer[1])
