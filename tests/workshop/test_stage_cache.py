"""The stage cache: the same arrays come back, damage is noticed, room is made."""

import os

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from kerfwright.workshop import StageCache, stage_key

KEYS = [f"{n:064x}" for n in range(10)]


@pytest.fixture
def cache(tmp_path):
    return StageCache(tmp_path / ".cache")


def test_same_comes_back(cache):
    arrays = {
        "height": np.linspace(-3.0, 0.0, 12, dtype=np.float32).reshape(3, 4),
        "odd": np.array([np.nan, -0.0, np.inf]),
        "slot": np.zeros(0, dtype=np.int16),
        "meta": np.array(True),
        "column": np.asfortranarray(np.arange(6).reshape(2, 3)),
    }
    cache.put(KEYS[0], arrays, {"cell_mm": 0.25, "words": ["äö"]})
    back, meta = cache.get(KEYS[0])
    assert meta == {"cell_mm": 0.25, "words": ["äö"]}
    assert list(back) == list(arrays)
    for name, array in arrays.items():
        assert back[name].dtype == array.dtype
        assert back[name].shape == array.shape
        assert back[name].tobytes() == array.tobytes()
    assert cache.get(KEYS[1]) is None


def test_a_file_is_a_plain_npz(cache, tmp_path):
    cache.put(KEYS[0], {"a": np.arange(3)}, {})
    with np.load(tmp_path / ".cache" / f"{KEYS[0]}.npz") as file:
        assert file["a"].tolist() == [0, 1, 2]


def test_objects_and_strange_keys_are_refused(cache, tmp_path):
    with pytest.raises(ValueError, match="Object arrays"):
        cache.put(KEYS[0], {"a": np.array([{}], dtype=object)}, {})
    with pytest.raises(ValueError, match="not JSON compliant"):
        cache.put(KEYS[0], {}, {"a": float("nan")})
    for key in ("../../etc/passwd", "A" * 64, "0" * 63, ""):
        with pytest.raises(ValueError, match="is no key"):
            cache.get(key)
    assert not (tmp_path / ".cache").exists()


@settings(
    max_examples=150, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture]
)
@given(st.data())
def test_damage_is_noticed_and_removed(cache, tmp_path, data):
    array = np.arange(40, dtype=np.float64)
    cache.put(KEYS[0], {"a": array}, {"b": 1})
    path = tmp_path / ".cache" / f"{KEYS[0]}.npz"
    whole = bytearray(path.read_bytes())
    how = data.draw(st.sampled_from(["bit", "cut", "empty"]))
    if how == "bit":
        at = data.draw(st.integers(0, len(whole) - 1))
        whole[at] ^= 1 << data.draw(st.integers(0, 7))
    elif how == "cut":
        del whole[data.draw(st.integers(0, len(whole) - 1)) :]
    else:
        whole = bytearray()
    path.write_bytes(whole)
    entry = cache.get(KEYS[0])
    if entry is None:
        assert not path.exists()
    else:  # a bit that nobody reads, such as a date in the archive
        assert entry[0].keys() <= {"a"} or entry[0]["a"].tolist() == array.tolist()
        for read in entry[0].values():
            assert read.tolist() == array.tolist()


def test_the_longest_unused_are_removed(tmp_path):
    array = np.zeros(1000)
    cache = StageCache(tmp_path, largest_bytes=4 * 8700)
    for index, key in enumerate(KEYS[:4]):
        cache.put(key, {"a": array}, {})
        os.utime(tmp_path / f"{key}.npz", ns=(index, index))
    assert cache.get(KEYS[0]) is not None  # used: no longer the oldest
    cache.put(KEYS[4], {"a": array}, {})
    assert [cache.get(key) is not None for key in KEYS[:5]] == [True, False, True, True, True]
    assert sum(file.stat().st_size for file in tmp_path.iterdir()) <= 4 * 8700


def test_what_is_larger_than_the_cache_is_not_kept(tmp_path):
    cache = StageCache(tmp_path, largest_bytes=1000)
    cache.put(KEYS[0], {"a": np.zeros(1000)}, {})
    assert not list(tmp_path.iterdir())


def test_a_folder_that_cannot_be_written_to_is_no_error(tmp_path):
    (tmp_path / "file").write_text("")
    cache = StageCache(tmp_path / "file" / ".cache")
    cache.put(KEYS[0], {"a": np.zeros(3)}, {})
    assert cache.get(KEYS[0]) is None


def test_keys_depend_on_all_that_goes_in(monkeypatch):
    one = stage_key("sweep", {"program": "a", "cell_mm": 0.25})
    assert one == stage_key("sweep", {"cell_mm": 0.25, "program": "a"})
    others = {
        stage_key("motion", {"program": "a", "cell_mm": 0.25}),
        stage_key("sweep", {"program": "b", "cell_mm": 0.25}),
        stage_key("sweep", {"program": "a", "cell_mm": 0.1}),
    }
    monkeypatch.setattr("kerfwright.workshop.stage_cache.code_sha256", lambda: "other code")
    others.add(stage_key("sweep", {"program": "a", "cell_mm": 0.25}))
    assert len(others | {one}) == 5
    with pytest.raises(ValueError, match="not JSON compliant"):
        stage_key("sweep", {"cell_mm": float("nan")})
