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
    _build_page(Path(ROOT), python)
    demo = [str(python), "-m", "kerfwright", "demo", "--out", os.path.join("out", "demo")]
    return subprocess.call(demo, cwd=ROOT, env=environment.clean_environment(os.environ))


def _build_page(root, python):
    """The commands need no page; what kept it from being built is told, and they go on."""
    import environment
    import front_end

    try:
        front_end.build(root, python)
    except environment.SetUpError as error:
        sys.stderr.write(
            "%s\nAll commands work without the page. To build it later: %s tools/front_end.py\n"
            % (error, python)
        )


if __name__ == "__main__":
    try:
        sys.exit(main())
    except KeyboardInterrupt:
        sys.stderr.write("stopped\n")
        sys.exit(130)
