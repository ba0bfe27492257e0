"""Makes and keeps ``.venv``, the environment that start.py and check.py run in.

Standard library only. A stamp inside ``.venv`` says what it was made from: the locks, the Python
and the folder. While the stamp agrees nothing is done, and no network is needed. Where it does
not, or is missing because an earlier run was cut off, the environment is made anew: one that was
half made, or moved, is never trusted.
"""

import hashlib
import os
import platform
import re
import shutil
import subprocess
import sys
from collections.abc import Callable, Mapping, Sequence
from pathlib import Path

VENV = ".venv"
STAMP = "kerfwright-stamp"
#: What an environment can be for, and the lock that fills it. The second lock holds the first.
LOCKS = {"run": "requirements.lock", "check": "requirements-check.lock"}

# How to reach the packages is the machine's business and is kept; where and how to install
# is ours, so that no setting of the user can send the packages somewhere else.
_PIP_KEPT = frozenset(
    {
        *("PIP_INDEX_URL", "PIP_EXTRA_INDEX_URL", "PIP_FIND_LINKS", "PIP_NO_INDEX"),
        *("PIP_TRUSTED_HOST", "PIP_CERT", "PIP_CLIENT_CERT", "PIP_KEYRING_PROVIDER", "PIP_PROXY"),
        *("PIP_TIMEOUT", "PIP_DEFAULT_TIMEOUT", "PIP_RETRIES"),
        *("PIP_CACHE_DIR", "PIP_NO_CACHE_DIR", "PIP_CONFIG_FILE"),
    }
)
# These win over a settings file of pip's, which may hold the same words.
_PIP_FORCED = {
    "PIP_USER": "0",
    "PIP_REQUIRE_VIRTUALENV": "0",
    "PIP_REQUIRE_HASHES": "0",
    "PIP_CONSTRAINT": os.devnull,
    "PIP_DISABLE_PIP_VERSION_CHECK": "1",
    "PIP_NO_INPUT": "1",
}
_LINES_OF_A_FAILURE = 15


class SetUpError(Exception):
    """The environment could not be made; the text says why and what to do."""


def prepare(root: Path, purpose: str, python: str | None = None) -> Path:
    """Return the environment's Python, after making the environment if it is not there yet.

    Parameters
    ----------
    root : Path
        The project's folder.
    purpose : str
        ``run`` or ``check``.
    python : str, optional
        The Python that makes the environment; else the one that is running.

    Raises
    ------
    SetUpError
        If Python, the system or the package installer does not do its part.
    """
    root = root.resolve()
    inside = venv_python(root)
    stamp = root / VENV / STAMP
    contents, project = _contents_hash(root), _file_hash(root / "pyproject.toml")
    held = stamp.read_text(encoding="utf-8").split() if stamp.is_file() else []
    sound = inside.exists() and len(held) == 3 and held[1] == contents
    filled = sound and held[0] in (purpose, "check")
    if filled and held[2] == project:
        return inside
    python = python or _base_python()
    if sound:
        stamp.unlink()
    else:
        _make_venv(root, python)
    pip = _pip_command(inside, python)
    if not filled:
        _install_packages(pip, root, LOCKS[purpose])
    _install_project(pip, root)
    held_purpose = held[0] if filled else purpose
    stamp.write_text(f"{held_purpose}\n{contents}\n{project}\n", encoding="utf-8")
    return inside


def venv_python(root: Path) -> Path:
    """The Python inside the environment of the project in ``root``."""
    inside = root / VENV
    return inside / "Scripts" / "python.exe" if os.name == "nt" else inside / "bin" / "python"


def clean_environment(environment: Mapping[str, str]) -> dict[str, str]:
    """The environment variables for a process of ours, without what belongs to other Pythons."""
    kept = {
        name: value
        for name, value in environment.items()
        if not name.startswith(("PYTHON", "PIP_", "VIRTUAL_ENV", "__PYVENV"))
        or name in _PIP_KEPT
        or name == "PYTHONUNBUFFERED"
    }
    return kept | _PIP_FORCED | {"PYTHONUTF8": "1"}


def say(text: str) -> None:
    """Print a line of progress at once, also into a file or a pipe."""
    print(text, flush=True)


def _contents_hash(root: Path) -> str:
    digest = hashlib.sha256()
    for name in LOCKS.values():
        digest.update(_file_hash(root / name).encode())
    made_with = (sys.version_info[:2], _base_python(), platform.machine(), str(root))
    digest.update(repr(made_with).encode())
    return digest.hexdigest()


def _file_hash(path: Path) -> str:
    try:
        # A checkout may have changed the line ends; the contents are the same.
        return hashlib.sha256(path.read_bytes().replace(b"\r\n", b"\n")).hexdigest()
    except OSError as error:
        raise SetUpError(
            f"{path.name} cannot be read ({error.strerror}): unpack it again"
        ) from None


def _base_python() -> str:
    base = getattr(sys, "_base_executable", None) or sys.executable
    return os.path.realpath(base)


def _make_venv(root: Path, python: str) -> None:
    say(f"Making the environment {VENV} (once only) ...")
    venv = str(root / VENV)
    first = _quiet([python, "-m", "venv", "--clear", venv])
    if first.returncode == 0:
        return
    # Debian hands out Python without its installer, and leaves a half-made environment behind.
    if _quiet([python, "-m", "pip", "--version"]).returncode == 0:
        without = _quiet([python, "-m", "venv", "--clear", "--without-pip", venv])
        if without.returncode == 0:
            return
    package = f"python{sys.version_info[0]}.{sys.version_info[1]}-venv"
    if "ensurepip" not in first.stdout or shutil.which("apt-get") is None:
        raise SetUpError(f"{_last_lines(first.stdout)}\nThe environment {venv} could not be made.")
    if os.geteuid() == 0:
        say(f"Installing the Debian package {package} ...")
        apt_install = ["apt-get", "install", "-y", "-q", package]
        if _quiet(apt_install).returncode != 0 and _quiet(["apt-get", "update"]).returncode == 0:
            _quiet(apt_install)
        if _quiet([python, "-m", "venv", "--clear", venv]).returncode == 0:
            return
    raise SetUpError(
        "This Python lacks the part that makes environments. Install it, then run this again:\n"
        f"    sudo apt install {package}"
    )


def _pip_command(inside: Path, python: str) -> list[str]:
    own = [str(inside), "-m", "pip"]
    if _quiet([*own, "--version"]).returncode == 0:
        return own
    return [python, "-m", "pip", "--python", str(inside)]


def _install_packages(pip: Sequence[str], root: Path, lock: str) -> None:
    say(f"Installing the packages of {lock} (once only) ...")
    found: list[str] = []

    def tell(line: str) -> None:
        # From an index, then from a file on this machine.
        one = re.match(r"Collecting ([\w.-]+)==(\S+)", line) or re.match(
            r"Processing .*[/\\](\w+)-([^-/\\]+)-[\w.-]+\.whl", line
        )
        if one:
            found.append(one[1])
            say(f"  {one[1]} {one[2]}")
        elif line.startswith("Installing collected packages"):
            say(f"  unpacking {len(found)} packages ...")

    # Byte code is written when a module is first used: most of what is installed never is.
    options = ["--no-compile", "--require-hashes", "--only-binary", ":all:"]
    arguments = ["install", "--progress-bar", "off", *options, "-r", str(root / lock)]
    code, output = _told([*pip, *arguments], tell)
    if code != 0:
        raise SetUpError(f"{_last_lines(output)}\n{_why_not_installed(output)}")


def _why_not_installed(output: str) -> str:
    if "DO NOT MATCH THE HASHES" in output:
        return (
            "A package that arrived is not the one that was locked: nothing was installed. Try "
            "again on another network; if it stays so, tell the project."
        )
    unreachable = "PIP_NO_INDEX" in os.environ or re.search(r"Retrying|connection", output)
    if "No matching distribution" in output and not unreachable:
        return (
            f"A package does not exist for this system ({platform.platform()}). Kerfwright runs on "
            "Linux with glibc (x64, arm64), Windows (x64) and macOS (Apple silicon)."
        )
    return (
        "The packages could not be fetched. The first start needs the network (or a package "
        "mirror that pip is set up for); run the same command again when it is there."
    )


def _install_project(pip: Sequence[str], root: Path) -> None:
    options = ["--no-compile", "--no-deps", "--no-build-isolation"]
    done = _quiet([*pip, "install", *options, "-e", str(root)])
    if done.returncode != 0:
        raise SetUpError(f"{_last_lines(done.stdout)}\nThe project itself could not be installed.")


def _quiet(command: Sequence[str]) -> subprocess.CompletedProcess[str]:
    try:
        return subprocess.run(
            command,
            stdout=subprocess.PIPE,
            stderr=subprocess.STDOUT,
            env=clean_environment(os.environ) | {"DEBIAN_FRONTEND": "noninteractive"},
            encoding="utf-8",
            errors="replace",
            check=False,
        )
    except OSError as error:
        raise SetUpError(f"{command[0]} cannot be run: {error.strerror}") from None


def _told(command: Sequence[str], tell: Callable[[str], None]) -> tuple[int, str]:
    """Run a command and hand each line of its output to ``tell`` as it comes."""
    lines = []
    with subprocess.Popen(
        command,
        stdout=subprocess.PIPE,
        stderr=subprocess.STDOUT,
        env=clean_environment(os.environ),
        encoding="utf-8",
        errors="replace",
    ) as process:
        assert process.stdout is not None
        for line in process.stdout:
            lines.append(line)
            tell(line)
    return process.returncode, "".join(lines)


def _last_lines(output: str) -> str:
    return "\n".join(output.rstrip().splitlines()[-_LINES_OF_A_FAILURE:])
