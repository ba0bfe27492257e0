"""The board seen from above its front edge, against where geometry puts things."""

from dataclasses import replace
from math import cos, sin

import numpy as np
import pytest
from scipy.ndimage import uniform_filter

from kerfwright.report.solid_picture import DOWN, TURNED, WIDE_PX, _mean_over, look_at

LONG, WIDE, THICK = 100.0, 60.0, 12.0


def seen(make, change=None, cell=0.5):
    """The picture of a board that is whole but for what ``change`` does to its heights."""
    setup = make.setup(LONG, WIDE, THICK)
    height = np.zeros((round(WIDE / cell), round(LONG / cell)), np.float32)
    if change is not None:
        change(height)
    error = np.full(height.shape, np.nan, np.float32)
    return look_at(make.proof(setup=setup, cell_mm=cell, height_mm=height, error_mm=error))


def pixel_of(picture, x, y, z):
    """Row and column of a place on the board: x from its left, y from its front, z above its foot.

    By the plain rotation of the board about its upright, and a parallel projection.
    """
    wide = LONG * cos(TURNED) + WIDE * sin(TURNED)
    deep = LONG * sin(TURNED) + WIDE * cos(TURNED)
    across, back = x - LONG / 2, y - WIDE / 2
    right = across * cos(TURNED) - back * sin(TURNED) + wide / 2
    behind = across * sin(TURNED) + back * cos(TURNED) + deep / 2
    scale = picture.shape[1] / wide
    up = (behind * sin(DOWN) + z * cos(DOWN)) * scale
    return round(picture.shape[0] - up), round(right * scale)


def test_the_corners_of_the_board_are_where_they_belong(make):
    picture = seen(make)
    assert picture.shape[1] == pytest.approx(WIDE_PX, abs=10)
    there = picture[..., 3] > 127
    left, _ = pixel_of(picture, 0, WIDE, THICK)[::-1]
    right = pixel_of(picture, LONG, 0, 0)[1]
    high, low = pixel_of(picture, LONG, WIDE, THICK)[0], pixel_of(picture, 0, 0, 0)[0]
    rows, columns = np.flatnonzero(there.any(axis=1)), np.flatnonzero(there.any(axis=0))
    assert (columns[0], columns[-1]) == pytest.approx((left, right), abs=8)
    assert (rows[0], rows[-1]) == pytest.approx((high, low), abs=8)
    # What is seen of it: its top, and its front and left faces.
    scale = picture.shape[1] / (LONG * cos(TURNED) + WIDE * sin(TURNED))
    area = LONG * WIDE * sin(DOWN)
    area += THICK * cos(DOWN) * (LONG * cos(TURNED) + WIDE * sin(TURNED))
    assert there.sum() / scale**2 == pytest.approx(area, rel=0.01)


def test_one_looks_through_a_hole_but_not_through_a_pocket(make):
    def window(height):
        height[30:90, 60:140] = -THICK

    def pocket(height):
        height[30:90, 60:140] = -THICK / 2

    whole, open_, sunk = seen(make), seen(make, window), seen(make, pocket)
    gone = (whole[..., 3] > 127) & (open_[..., 3] < 128)
    scale = whole.shape[1] / (LONG * cos(TURNED) + WIDE * sin(TURNED))
    assert 0 < gone.sum() / scale**2 < 30 * 40 * sin(DOWN)
    # The back wall hides what it must: no light where the line of sight meets it.
    row, column = pixel_of(whole, 50.0, 44.0, THICK)
    assert open_[row, column, 3] == 255
    assert ((sunk[..., 3] > 127) == (whole[..., 3] > 127)).all()
    # The pocket's wall at its back is darker than its floor.
    row, column = pixel_of(sunk, 50.0, 45.0, THICK * 0.75)
    floor = pixel_of(sunk, 50.0, 35.0, THICK / 2)
    assert sunk[row, column, 0] < 0.8 * sunk[floor][0]


def test_a_huge_board_is_looked_at_in_blocks(make):
    setup = make.setup(2400.0, 1200.0, 18.0)
    height = np.full((100, 100), -5.0, np.float32)
    proof = replace(
        make.proof(), setup=setup, cell_mm=0.1, height_mm=height,
        error_mm=np.zeros_like(height), corner_mm=(1200.0, 600.0),
    )  # fmt: skip
    assert look_at(proof).shape[1] <= WIDE_PX


def test_means_over_cells_against_a_library():
    heights = np.random.default_rng(3).uniform(-12.0, 0.0, (31, 46))
    assert np.allclose(_mean_over(heights, 9), uniform_filter(heights, 9), atol=1e-12)
