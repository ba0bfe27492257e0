"""The force law against what was published, and its form."""

from math import pi, radians

import numpy as np
import pytest

from kerfwright.physics.cutting import LOG_SPREAD, edge_law, edge_shares, grain_angle, panel_law
from kerfwright.tables import read_table

#: Table 5, cutting up: chip and edge force by the grain angle, highest power first.
UP_PRINTED = (-5e-6, 1e-3, 0.026), (-1e-7, 1e-5, 0.0055)


def law_n_per_mm(angle_deg, density, way, chip_mm):
    chip, rub = edge_law(radians(angle_deg), density, way)
    return float(chip * chip_mm + rub)


@pytest.mark.parametrize("way", ["up", "down"])
def test_half_a_turn_is_no_turn(way):
    # The printed quadratics differ between 0 and 180 degrees, which are the same direction.
    at_0, at_180 = edge_law(0.0, 700.0, way), edge_law(pi, 700.0, way)
    assert at_180 == (pytest.approx(at_0[0], rel=1e-12), pytest.approx(at_0[1], rel=1e-12))


@pytest.mark.parametrize("way", ["up", "down"])
def test_fit_keeps_to_the_printed_quadratics_between_the_ends(way):
    # Curti et al. 2021, Table 5, helix 0 (read in a transcription): the same numbers again, typed
    # here from the table. Within 12 % from 30 to 150 degrees, where the quadratic is smooth.
    kn, rub = {"up": UP_PRINTED, "down": ((-3e-6, 5e-4, 0.056), (-3e-7, 4e-5, 0.0047))}[way]
    for angle in range(30, 151, 10):
        printed = 700 * (np.polyval(kn, angle) * 0.07 + np.polyval(rub, angle))
        assert law_n_per_mm(angle, 700, way, 0.07) == pytest.approx(printed, rel=0.12)


def test_mean_over_the_grain_is_the_printed_one():
    # The reference gives the GA-mean of the up law: kn 0.0618, in 0.0053 (worked out from Table 5).
    angles = np.linspace(0, pi, 181)[:-1]
    chip, rub = edge_law(angles, 1.0, "up")
    assert chip.mean() == pytest.approx(0.0618, rel=0.01)
    assert rub.mean() == pytest.approx(0.0053, rel=0.02)


@pytest.mark.parametrize(
    ("published", "chip_mm", "angle", "printed", "fitted"),
    [
        # Another author's figures against the law, with the misfit stated: this is what a factor of
        # two, nineteen times in twenty, rests on. Beech LVL of 724 kg/m³, along and across the
        # grain, read off figures. First the misfit of the printed quadratics, then ours: a law that
        # comes back after half a turn gives up some of the fit along the grain.
        pytest.param(4.29, 0.05, 0, 0.15, 0.158, id="beech LVL along 0.05"),
        pytest.param(4.76, 0.09, 0, 0.19, 0.286, id="beech LVL along 0.09"),
        pytest.param(9.27, 0.05, 90, -0.27, -0.277, id="beech LVL across 0.05"),
        pytest.param(10.57, 0.09, 90, -0.15, -0.163, id="beech LVL across 0.09"),
    ],
)
def test_against_published_points(published, chip_mm, angle, printed, fitted):
    kn, rub = UP_PRINTED
    value = 724 * (np.polyval(kn, angle) * chip_mm + np.polyval(rub, angle))
    assert value / published - 1.0 == pytest.approx(printed, abs=0.005)
    own = law_n_per_mm(angle, 724, "up", chip_mm)
    assert own / published - 1.0 == pytest.approx(fitted, abs=0.001)
    assert 1 / 1.95 < own / published < 1.95


# Goli 2023, MDF of 711 kg/m³, read off a figure: 4.3 to 4.6 and 5.7 to 6.1 N/mm.
@pytest.mark.parametrize(("published", "chip_mm", "error"), [(4.45, 0.05, 0.11), (5.90, 0.1, 0.10)])
def test_the_panel_law_against_published_points(published, chip_mm, error):
    k, rub = panel_law("mdf", 711)
    assert (k * chip_mm + rub) / published - 1.0 == pytest.approx(error, abs=0.005)


def test_rows_that_are_the_law_itself_are_reproduced():
    # Regression, not validation: these rows of the table were computed from the printed law.
    rows = [r for r in read_table("cutting_force") if r["status"].startswith("R2 law")]
    assert len(rows) >= 20
    off = []
    for row in rows:
        if row["helix_deg"] != "0" or not row["grain_angle_deg"] or not row["F_h010_N_per_mm"]:
            continue
        value = law_n_per_mm(
            float(row["grain_angle_deg"]), float(row["density_kg_m3"]), row["mode"], 0.1
        )
        off.append(value / float(row["F_h010_N_per_mm"]) - 1.0)
    assert len(off) >= 20
    # Along the grain the periodic form gives up 31 to 38 % on one side of the jump, as it must.
    assert np.median(np.abs(off)) < 0.1
    assert np.abs(off).max() < 0.6


def test_normal_force_changes_sign_between_20_and_30_degrees_of_rake():
    # Woodson 1979 (read): for 22 hardwoods the sign changes between rake 20 and 30 degrees.
    assert edge_shares(radians(20), 0.0).normal_chip > 0 > edge_shares(radians(30), 0.0).normal_chip
    assert edge_shares(0.0, 0.0).axial == 0.0


@pytest.mark.parametrize("seed", range(20))
def test_grain_angle_by_vectors(seed):
    rng = np.random.default_rng(seed)
    edge, grain = rng.uniform(-pi, pi, 2)
    velocity = np.array([np.sin(edge), -np.cos(edge)])  # clockwise, seen from above
    out = np.array([np.cos(edge), np.sin(edge)])
    fibre = np.array([np.cos(grain), np.sin(grain)])
    fibre = fibre if fibre @ velocity >= 0 else -fibre
    angle = np.arccos(np.clip(fibre @ velocity, -1, 1))
    against = fibre @ out > 0  # ahead of the edge the fibres dive into the wood that stays
    assert grain_angle(edge, grain) == pytest.approx(pi - angle if against else angle, abs=1e-9)


def outside_ratios():
    """The law over what others published, by row of the table; these rows are not the law's own."""
    rows = {row["id"]: row for row in read_table("cutting_force")}

    def printed(row, chip_mm):
        return float(rows[row]["Ks_N_mm2"]) * chip_mm + float(rows[row]["Int_N_mm"])

    def panel(kind, density, chip_mm):
        k, rub = panel_law(kind, density)
        return k * chip_mm + rub

    out = {}
    for chip in (0.05, 0.10):  # Goli et al. 2023, MDF, read off figures
        out["G05", chip] = panel("mdf", 720, chip) / printed("G05", chip)
    for row, angle in (("G03", 90), ("G04", 0)):  # Goli et al. 2018, beech LVL
        for chip in (0.05, 0.09):
            out[row, chip] = law_n_per_mm(angle, 724, "up", chip) / printed(row, chip)
    for row in ("P01", "P02"):  # Palubicki 2021, another laboratory; at the middle of its chips
        whole = panel("particleboard", 542.5, 0.18) / 0.18
        out[row, 0.18] = whole / float(rows[row]["kc_N_mm2"])
    for row, chip in (("K01", 0.1295), ("K02", 0.0216)):  # a textbook's oak, taken as 745 kg/m³
        out[row, chip] = law_n_per_mm(0, 745, "up", chip) / chip / float(rows[row]["kc_N_mm2"])
    out["D500", 0.05] = law_n_per_mm(0, 745, "up", 0.05) / 1.95  # Durkovic et al. 2017, by power
    return out


def test_spread_of_the_law_is_what_outside_figures_show():
    # 0.34 with all of them, 0.21 without the oak of Durkovic et al. (a factor of 2.6 off).
    ratios = outside_ratios()
    logs = np.log(list(ratios.values()))
    assert len(logs) == 11
    assert logs.std() == pytest.approx(LOG_SPREAD, abs=0.005)
    without = np.log([value for (row, _), value in ratios.items() if row != "D500"])
    assert without.std() == pytest.approx(0.21, abs=0.005)
    # The law says 8 % too much on the whole, and the spread about 1 is 0.35.
    assert logs.mean() == pytest.approx(0.095, abs=0.01)
    # The particleboard law is another laboratory's, its slope and density both a first guess.
    assert 0.7 < min(ratios.values()) < max(ratios.values()) < 2.7
