"""Writes the lock files anew from pyproject.toml: ``.venv/bin/python tools/renew_lock.py``.

Needs ``uv`` and the network; nothing else in the project does. The second lock is held to the
versions of the first, so that what is checked is what is run. Afterwards run check.py.
"""

import subprocess
import sys
import tomllib
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
# `fewest` asks for one version of each package that serves every Python and system; the default
# would lock two numpy and two scipy. No address of a registry goes into the lock.
COMPILE = [
    *("uv", "pip", "compile", "--universal", "--python-version", "3.11"),
    *("--fork-strategy", "fewest", "--generate-hashes", "--no-header", "--no-emit-index-url"),
    "--upgrade",
]
RUN_LOCK = ["pyproject.toml", "--extra", "install", "--output-file", "requirements.lock"]
CHECK_LOCK = [
    "pyproject.toml",
    "--extra",
    "install",
    "--extra",
    "check",
    "--constraints",
    "requirements.lock",
]


def main() -> int:
    """Return 0 if all locks were written."""
    project = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]
    node_alone = "\n".join(project["optional-dependencies"]["page"])
    for lock, said in (
        (RUN_LOCK, ""),
        ([*CHECK_LOCK, "--output-file", "requirements-check.lock"], ""),
        (["-", "--output-file", "requirements-page.lock"], node_alone),
    ):
        command = [*COMPILE, "--quiet", *lock]
        try:
            code = subprocess.run(command, cwd=ROOT, input=said, text=True, check=False).returncode
        except FileNotFoundError:
            print("uv is not installed: python3 -m pip install uv", file=sys.stderr)
            return 2
        if code != 0:
            return code
    return 0


if __name__ == "__main__":
    sys.exit(main())
