"""The machine moved by its first modes, in a picture and in words."""

from pathlib import Path

import matplotlib.image
import numpy as np
import pytest

import kerfwright.workshop
from kerfwright.machine import frame_modes, load_machine, set_off, swept_give
from kerfwright.report.machine_outline import machine_outline
from kerfwright.report.swing_picture import (
    ROW_PX,
    SWEEP_PX,
    TOP_PX,
    Sweep,
    _seen,
    _swung,
    draw_swings,
)
from kerfwright.report.swing_shape import sways
from kerfwright.report.swing_words import swing_means

DEMO = Path(kerfwright.workshop.__file__).parent / "demo" / "machine.toml"


@pytest.fixture(scope="module")
def machine():
    return load_machine(DEMO)


def test_parts_go_with_what_carries_them(machine):
    mode = frame_modes(machine)[0]
    gantry = mode.moves["gantry"]
    front = {part.name: (part, points) for part, points in _seen(machine, 2)}

    def gone(name):
        part, points = front[name]
        return np.array(_swung(machine, mode, part, points, 2, 50.0)) - np.array(points)

    assert gone("beam") == pytest.approx(np.tile(50.0 * gantry[[0, 2]], (4, 1)))
    assert gone("upright")[:2] == pytest.approx(0.0)  # its foot
    assert gone("upright")[2:] == pytest.approx(np.tile(50.0 * gantry[[0, 2]], (2, 1)))
    assert gone("table") == pytest.approx(0.0)
    # the spindle leans from where its lower mass goes to where its upper one goes
    low, high = mode.moves["spindle"][0], mode.moves["spindle's top"][0]
    body = gone("spindle")[:, 0] / 50.0
    height = np.array(front["spindle"][1])[:, 1] - (machine.nose_height_mm - machine.z.travel_mm)
    assert body == pytest.approx(low + (high - low) * (height - 20.0) / 140.0)


def test_the_page_sways_its_parts_as_the_picture_does(machine):
    for mode in frame_modes(machine):
        told = sways(machine, mode)
        parts = machine_outline(machine)
        assert len(told) == len(parts)
        front = {part.name: (part, points) for part, points in _seen(machine, 2)}
        for part, sway in zip(parts, told, strict=True):
            if part.name not in front or not part.front:
                continue
            points = np.array(front[part.name][1])
            gone = np.array(_swung(machine, mode, *front[part.name], 2, 50.0)) - points
            if sway is None:
                assert gone == pytest.approx(0.0)
                continue
            span = np.ptp(points[:, 1])
            up = ((points[:, 1] - points[:, 1].min()) / span)[:, None]
            way = np.array(sway["low"]) * (1.0 - up) + np.array(sway["high"]) * up
            assert gone == pytest.approx(50.0 * way, abs=0.3)


def test_words_say_what_a_start_does(machine):
    mode = frame_modes(machine)[0]
    swing, settled = set_off(machine, mode)
    words = swing_means(machine, mode)
    assert f"{swing:.3f} mm" in words
    assert f"after {settled:.2g} s" in words
    assert "400 mm/s²" in words


def test_the_picture_has_a_row_for_each_mode(machine, tmp_path):
    modes = frame_modes(machine)
    hertz = np.linspace(0.0, 90.0, 100)
    sweep = Sweep(hertz=hertz, mm_per_n=swept_give(machine, hertz))
    draw_swings(machine, modes, sweep, tmp_path / "swings.png")
    picture = matplotlib.image.imread(tmp_path / "swings.png")
    assert picture.shape[:2] == (TOP_PX + ROW_PX * len(modes) + 50 + SWEEP_PX, 1200)
    ink = picture[..., :3].min(axis=2) < 0.5
    for row in range(len(modes)):  # both views, and words above them
        top = int(TOP_PX + row * ROW_PX)
        assert ink[top : top + 60].any()
        assert ink[top + 80 : top + 400, :600].any()
        assert ink[top + 80 : top + 400, 600:].any()
