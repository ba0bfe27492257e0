"""The locks: one version of each package, a hash for each file, and no address of a registry."""

import re
import tomllib

import pytest
from packaging.requirements import Requirement
from packaging.specifiers import SpecifierSet
from packaging.utils import canonicalize_name

LOCKS = ("requirements.lock", "requirements-check.lock")


def pins(root, lock):
    """Name to version, in the order of the file; a name that stands twice fails here."""
    entries = re.split(r"\n(?=\S)", re.sub(r"(?m)^\s+# .*\n", "", (root / lock).read_text()))
    found = {}
    for entry in entries:
        first, *hashes = entry.split("\\\n")
        requirement = Requirement(first.strip())
        (specifier,) = requirement.specifier
        assert specifier.operator == "=="
        assert hashes
        for line in hashes:
            assert re.fullmatch(r"    --hash=sha256:[0-9a-f]{64}\s*", line)
        name = canonicalize_name(requirement.name)
        assert name not in found, f"{name} is locked twice"
        found[name] = specifier.version
    return found


@pytest.mark.parametrize("lock", LOCKS)
def test_one_hashed_version_of_each_and_no_address(root, lock):
    text = (root / lock).read_text()
    assert len(pins(root, lock)) == len(re.findall(r"(?m)^\S", text)) > 0
    assert not re.search(r"https?:|file:|www\.|index-url|find-links|trusted-host", text)


def test_what_is_checked_is_what_is_run(root):
    run, check = (pins(root, lock) for lock in LOCKS)
    assert run.items() < check.items()


@pytest.mark.parametrize(("lock", "extras"), [(LOCKS[0], ["install"]), (LOCKS[1], ["check"])])
def test_the_locks_meet_what_the_project_asks_for(root, lock, extras):
    project = tomllib.loads((root / "pyproject.toml").read_text(encoding="utf-8"))["project"]
    asked = [*project["dependencies"]]
    for extra in extras:
        asked += project["optional-dependencies"][extra]
    locked = pins(root, lock)
    for text in asked:
        requirement = Requirement(text)
        version = locked[canonicalize_name(requirement.name)]
        assert SpecifierSet(str(requirement.specifier)).contains(version), f"{text} has {version}"
