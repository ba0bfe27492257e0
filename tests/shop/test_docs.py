"""The commands that the README and the pages of docs/ show do run.

A block marked ``console`` shows what is typed after ``$``. Each ``kerfwright`` line is run as from
the project's folder: in a temporary one that holds a copy of docs/examples and what the lines
before it on the same page have written. It must end with exit code 0, or with the code that the
line itself states: ``$ kerfwright prove shelf.nc  # exit code 1``.
"""

import io
import re
import shlex
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]
BLOCK = re.compile(r"^( *)```console *\n(.*?)^\1```", re.MULTILINE | re.DOTALL)
STATED = re.compile(r"\s+# exit code (\d+)$")
SHELL_WORDS = {"|", ">", ">>", "<", "&", "&&", ";", "||"}


def commands(text):
    """The ``kerfwright`` lines of a page: line number, arguments, exit code."""
    for block in BLOCK.finditer(text):
        number = text.count("\n", 0, block.start(2)) + 1
        lines = iter(enumerate(block[2].splitlines(), number))
        for line_number, raw in lines:
            line = raw.strip()
            while line.endswith("\\"):
                line = line[:-1] + next(lines)[1].strip()
            if not line.startswith("$ kerfwright"):
                continue
            stated = STATED.search(line)
            words = shlex.split(STATED.sub("", line))[1:]
            assert not SHELL_WORDS & set(words), f"line {line_number}: shown with a shell's signs"
            yield line_number, words[1:], int(stated[1]) if stated else 0


def pages():
    """README.md and the pages of docs/ that show a command."""
    for page in [ROOT / "README.md", *sorted((ROOT / "docs").rglob("*.md"))]:
        if page.is_file() and list(commands(page.read_text(encoding="utf-8"))):
            name = page.relative_to(ROOT).as_posix()
            yield pytest.param(page, id=name, marks=pytest.mark.slow)


def in_a_process(arguments, folder):
    return subprocess.run(
        [sys.executable, "-m", "kerfwright", *arguments],
        cwd=folder,
        stdin=subprocess.DEVNULL,
        capture_output=True,
        encoding="utf-8",
        timeout=120,
        check=False,
    )


@pytest.mark.parametrize("page", list(pages()))
def test_the_commands_of_a_page_run(page, tmp_path, here, monkeypatch):
    if (ROOT / "docs" / "examples").is_dir():
        shutil.copytree(ROOT / "docs" / "examples", tmp_path / "docs" / "examples")
    for number, arguments, exit_code in commands(page.read_text(encoding="utf-8")):
        if page.name == "README.md":  # what is read first is typed as it stands
            done = in_a_process(arguments, tmp_path)
        else:
            monkeypatch.chdir(tmp_path)
            monkeypatch.setattr(sys, "stdin", io.StringIO())
            done = here(*arguments)
        told = f"{page.name}:{number}: ended with {done.returncode}\n{done.stdout}{done.stderr}"
        assert done.returncode == exit_code, told
        assert "Traceback" not in done.stderr, told


def test_the_readme_shows_commands():
    assert list(commands((ROOT / "README.md").read_text(encoding="utf-8")))


def test_what_counts_as_a_command():
    page = """
```console
$ python3 start.py
$ kerfwright prove "my shelf.nc" \\
    --json out.json
it would be proved
$ kerfwright prove bad.nc  # exit code 2
```

```toml
$ kerfwright never
```

- in a list:
  ```console
  $ kerfwright demo
  ```
"""
    assert list(commands(page)) == [
        (4, ["prove", "my shelf.nc", "--json", "out.json"], 0),
        (7, ["prove", "bad.nc"], 2),
        (16, ["demo"], 0),
    ]


def test_a_shell_sign_in_a_command_is_refused():
    with pytest.raises(AssertionError, match="line 2: shown with a shell's signs"):
        list(commands("```console\n$ kerfwright demo | more\n```\n"))


def test_links_between_pages_lead_somewhere():
    pages = [ROOT / "README.md", *sorted((ROOT / "docs").rglob("*.md"))]
    lost = []
    for page in pages:
        for target in re.findall(r"\]\(([^)#\s]+)[^)]*\)", page.read_text(encoding="utf-8")):
            if not re.match(r"[a-z]+:", target) and not (page.parent / target).exists():
                lost.append(f"{page.relative_to(ROOT).as_posix()}: {target}")
    assert lost == []
