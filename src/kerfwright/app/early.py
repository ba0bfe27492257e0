"""The worker of a proof, begun before the command line is understood: both take a while to load."""

from collections.abc import Sequence

from kerfwright.app.loads import load_proof, load_reading
from kerfwright.jobs.worker import Spare

_SPARE = Spare(load_reading, load_proof)


def begin(asked: Sequence[str]) -> None:
    """Begin it, if a proof is asked for, or that all be made ready for one."""
    if asked and asked[0] in ("prove", "prepare") and "--help" not in asked:
        _SPARE.start()


def spare() -> Spare:
    """The worker that was begun, or one that will be when it is taken."""
    return _SPARE


def end() -> None:
    """End it, if nothing took it."""
    _SPARE.close()
