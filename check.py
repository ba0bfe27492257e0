"""Checks the whole project: ``python3 check.py [--quick | --long | --bench]``.

Sets up what it needs first, as start.py does. Ends with one line: pass, or what to mend.
"""

import os
import sys

ROOT = os.path.dirname(os.path.abspath(__file__))
sys.path.insert(0, os.path.join(ROOT, "tools"))

import python_version


def main():
    python_version.hand_over_if_unfit(os.path.abspath(__file__))
    from pathlib import Path

    import checks

    return checks.main(Path(ROOT), sys.argv[1:])


if __name__ == "__main__":
    try:
        sys.exit(main())
    except KeyboardInterrupt:
        sys.stderr.write("stopped\n")
        sys.exit(130)
