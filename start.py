"""Sets Kerfwright up in this folder and proves the demo job: ``python3 start.py``.

Needs Python 3.11 to 3.14 and nothing else. The first run fetches packages into ``.venv``; later
runs need no network. What it wrote stands in ``out/demo``.
"""

import os
import subprocess
import sys

ROOT = os.path.dirname(os.path.abspath(__file__))
sys.path.insert(0, os.path.join(ROOT, "tools"))

import python_version


def main():
    if len(sys.argv) > 1:
        sys.stderr.write("start.py takes no arguments; python3 start.py is the whole command\n")
        return 2
    python_version.hand_over_if_unfit(os.path.abspath(__file__))
    from pathlib import Path

    import environment

    try:
        python = environment.prepare(Path(ROOT), "run")
    except environment.SetUpError as error:
        sys.stderr.write("%s\n" % error)
        return 2
    demo = [str(python), "-m", "kerfwright", "demo", "--out", os.path.join("out", "demo")]
    return subprocess.call(demo, cwd=ROOT, env=environment.clean_environment(os.environ))


if __name__ == "__main__":
    try:
        sys.exit(main())
    except KeyboardInterrupt:
        sys.stderr.write("stopped\n")
        sys.exit(130)
