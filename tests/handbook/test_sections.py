"""Sections against a general-purpose finite-element library (sectionproperties, warping method)."""

import numpy as np
import pytest

from kerfwright.physics import beams, sections

pytest.importorskip("sectionproperties", reason="its mesher has no wheels from Python 3.12 on")
from sectionproperties.analysis import Section
from sectionproperties.pre.library import rectangular_hollow_section, rectangular_section

#: The library is compiled when it is first used.
pytestmark = pytest.mark.slow


def solved(geometry, mesh_mm2):
    """Area, second moments about x and y, torsion constant, shares of shear along x and y."""
    geometry.create_mesh(mesh_sizes=[mesh_mm2])
    section = Section(geometry)
    section.calculate_geometric_properties()
    section.calculate_warping_properties()
    area = section.get_area()
    return area, *section.get_ic()[:2], section.get_j(), *(np.array(section.get_as()) / area)


@pytest.mark.parametrize(("width", "depth", "wall"), [(40, 80, 3), (60, 60, 2), (80, 160, 4)])
def test_tubes(width, depth, wall):
    hollow = rectangular_hollow_section(d=depth, b=width, t=wall, r_out=0, n_r=1)
    area, deep, flat, twist, across, along = solved(hollow, wall**2)
    size = (width, depth, wall)
    turned = (depth, width, wall)
    assert sections.rectangle_tube_area_mm2(*size) == pytest.approx(area)
    assert sections.rectangle_tube_second_moment_mm4(*size) == pytest.approx(deep, rel=1e-5)
    assert sections.rectangle_tube_second_moment_mm4(*turned) == pytest.approx(flat, rel=1e-5)
    # Bredt's thin walls are a few per cent low, never high.
    assert 0.96 < sections.rectangle_tube_torsion_mm4(*size) / twist < 1.0
    # The library's shares are those of no contraction across (v = 0).
    assert sections.rectangle_tube_shear_share(*size, 0.0) == pytest.approx(along, rel=0.02)
    assert sections.rectangle_tube_shear_share(*turned, 0.0) == pytest.approx(across, rel=0.05)


@pytest.mark.parametrize("ratio", [1.0, 3.0, 10.0])
def test_plates(ratio):
    wide, thin = 60.0, 60.0 / ratio
    area, _, _, twist, across, along = solved(
        rectangular_section(d=wide, b=thin), wide * thin / 300
    )
    assert sections.rectangle_bar_torsion_mm4(wide, thin) == pytest.approx(twist, rel=6e-3)
    share = beams.rectangle_shear_share(0.0)
    assert [across, along] == pytest.approx([share, share], rel=2e-3)
    assert area == pytest.approx(wide * thin)
