"""A command that runs one errand as the command line does, for the test of Ctrl-C."""

import sys
from pathlib import Path

import worker_errands

from kerfwright.basics import Stopped
from kerfwright.jobs.worker import run


def main():
    folder = Path(sys.argv[2])
    try:
        run(getattr(worker_errands, sys.argv[1]), str(folder), folders=[folder])
    except Stopped:
        print("stopped; nothing was changed", file=sys.stderr)
        raise SystemExit(130) from None


if __name__ == "__main__":
    main()
