"""The folders of each platform."""

from pathlib import Path

import pytest

from kerfwright.basics.user_folders import user_root

XDG = {"HOME": "/home/a", "XDG_CACHE_HOME": "/var/a", "XDG_DATA_HOME": "/data"}
RELATIVE = {"HOME": "/home/a", "XDG_CACHE_HOME": "cache", "XDG_DATA_HOME": "data"}


@pytest.mark.parametrize(
    ("platform", "environment", "cache", "data"),
    [
        ("linux", {"HOME": "/home/a"}, "/home/a/.cache", "/home/a/.local/share"),
        ("linux", XDG, "/var/a", "/data"),
        # XDG Base Directory Specification, "Basics": a relative path is to be ignored.
        ("linux", RELATIVE, "/home/a/.cache", "/home/a/.local/share"),
        ("linux", {}, None, None),
        # Common practice, no source.
        (
            "darwin",
            XDG,
            "/home/a/Library/Caches",
            "/home/a/Library/Application Support",
        ),
        ("win32", {"LOCALAPPDATA": "/C/a", "HOME": "/home/a"}, "/C/a", "/C/a"),
        ("win32", {"HOME": "/home/a"}, None, None),
    ],
)
def test_where_each_platform_keeps_things(platform, environment, cache, data):
    assert user_root("cache", platform, environment) == (Path(cache) if cache else None)
    assert user_root("data", platform, environment) == (Path(data) if data else None)
