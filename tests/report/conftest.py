"""A proof made by hand, so that reports can be tried without the chain behind them."""

import numpy as np
import pytest

from kerfwright.basics import Change, Estimate, Finding, Remedy, Spot
from kerfwright.cutter import ChipRange, Cutter
from kerfwright.prove import (
    AsCut,
    Cusp,
    CutOut,
    Dimension,
    Kerf,
    Margin,
    Proof,
    Provenance,
    Series,
    Share,
    Shares,
    Totals,
    Verdict,
    Wall,
)
from kerfwright.setup import Setup
from kerfwright.stock import Board, Wood


def estimate(value, half, mostly_from=""):
    return Estimate(value=value, low=value - half, high=value + half, mostly_from=mostly_from)


def findings():
    plunge = Finding(
        id="feed-plunge-3f2a",
        code="pull left z",
        severity="caution",
        words="the Z motor has little pull left where the cutter goes straight down",
        value=estimate(0.08, 0.11, "friction of the Z slide"),
        limit=0.1,
        unit="share",
        likelihood=0.6,
        line=1804,
        step=91_000,
        time_s=2415.0,
        spot=Spot(x_mm=62.0, y_mm=240.0, z_mm=-8.0, part="left cheek"),
    )
    tried = Finding(
        id="feed-plunge-3f2a",
        code="pull left z",
        severity="note",
        words="the Z motor has pull to spare",
        value=estimate(0.31, 0.10),
        limit=0.1,
        unit="share",
    )
    remedy = Remedy(
        words="go down at 240 mm/min there",
        changes=(Change(path="feed on lines 1804 to 1806", old="600", new="240"),),
        tried=tried,
    )
    return (
        Finding(
            id="rapid-wood-77b0",
            code="rapid through wood",
            severity="stop",
            words="a rapid goes 3.2 mm deep through wood that is still there",
            value=estimate(3.2, 0.2),
            limit=0.0,
            unit="mm",
            line=212,
            step=4000,
            time_s=310.0,
            spot=Spot(x_mm=120.4, y_mm=33.0, z_mm=-3.2),
            remedies=(Remedy(words="lift to Z 5 before line 212"),),
        ),
        Finding(
            id="rapid-wood-77b1",
            code="rapid through wood",
            severity="stop",
            words="a rapid goes 3.2 mm deep through wood that is still there",
            value=estimate(3.2, 0.2),
            limit=0.0,
            unit="mm",
            line=214,
            step=4010,
            time_s=312.0,
            spot=Spot(x_mm=124.0, y_mm=35.0, z_mm=-3.2),
        ),
        Finding(**{**_fields(plunge), "remedies": (remedy,)}),
        Finding(
            id="chip-thin-0001",
            code="chip thinnest",
            severity="note",
            words="the chip is thin in the last pass round the idler: the flutes rub more than cut",
            value=estimate(0.012, 0.002),
            limit=0.02,
            unit="mm",
            likelihood=0.97,
            line=4410,
            time_s=5900.0,
            spot=Spot(x_mm=236.0, y_mm=152.0, z_mm=-12.0, part="idler"),
        ),
    )


def _fields(thing):
    return {name: getattr(thing, name) for name in thing.__dataclass_fields__}


def margins():
    spot = Spot(x_mm=62.0, y_mm=240.0, z_mm=-8.0)

    def margin(name, words, value, half, limit, unit, time_s):
        return Margin(
            name=name,
            words=words,
            value=estimate(value, half),
            limit=limit,
            unit=unit,
            line=1804,
            time_s=time_s,
            spot=spot,
        )

    return (
        margin("pull left x", "pull left in the X motor", 0.42, 0.1, 0.1, "share", 1000.0),
        margin("pull left y", "pull left in the Y motors", 0.55, 0.1, 0.1, "share", 1500.0),
        margin("pull left z", "pull left in the Z motor", 0.08, 0.11, 0.1, "share", 2415.0),
        margin("power", "power at the cutter", 410.0, 160.0, 800.0, "W", 3000.0),
        margin("deflection", "the cutter bends", 0.07, 0.03, 0.1, "mm", 4000.0),
        margin("chip thickest", "thickest chip", 0.09, 0.01, 0.15, "mm", 3000.0),
        margin("chip thinnest", "thinnest chip", 0.012, 0.002, 0.02, "mm", 5900.0),
    )


def ascut():
    walls = tuple(
        Wall(
            first_line=100 * index,
            last_line=100 * index + 3 * (index % 2),
            side="left" if index % 2 else "right",
            length_mm=88.0,
            depth_mm=12.0,
            offset=estimate(0.02 * (index - 4), 0.015),
            foot_mm=0.02 * (index - 4) + 0.005,
            top_mm=0.02 * (index - 4) - 0.005,
            worst_mm=0.03 * (index - 4),
            spot=Spot(x_mm=10.0 * index, y_mm=20.0, z_mm=-6.0),
        )
        for index in range(1, 11)
    )
    return AsCut(
        cell_mm=0.25,
        tolerance_mm=0.2,
        mean_mm=0.021,
        ninety_five_mm=0.16,
        proud=estimate(0.52, 0.12, "zero of Z, set by paper"),
        proud_spot=Spot(x_mm=88.0, y_mm=200.0, z_mm=-6.0),
        shy=estimate(-0.31, 0.1),
        shy_spot=Spot(x_mm=222.0, y_mm=80.0, z_mm=-12.0),
        outside_percent=1.7,
        ruled_by="set-up",
        walls=walls,
        parts=cut_outs(),
        kerfs=(
            Kerf(
                slot=1,
                cutter="6 mm two-flute",
                meant_mm=6.0,
                per_z=0.0,
                width=estimate(6.04, 0.05, "the cutter's diameter"),
                length_mm=812.0,
                shares=SHARES,
            ),
        ),
        cusps=(
            Cusp(
                kind="scallop",
                slot=2,
                cutter="3 mm ball",
                height=estimate(0.0303, 0.002),
                typical_mm=0.0075,
                spacing_mm=0.6,
                line=912,
                spot=Spot(x_mm=180.0, y_mm=150.0, z_mm=-9.0),
            ),
        ),
    )


SHARES = Shares(
    set_up=Share(mm=-0.02, unsure_mm=0.04),
    machine=Share(mm=-0.04, unsure_mm=0.05),
    cut=Share(mm=0.001, unsure_mm=0.002),
)


def cut_outs():
    """A plate with a hole, and what falls out of it."""

    def size(name, programmed, value, likelihood):
        return Dimension(
            name=name, programmed_mm=programmed, size=estimate(value, 0.08, "play in the machine"),
            likelihood=likelihood, shares=SHARES, spot=Spot(x_mm=186.0, y_mm=155.0, z_mm=-18.0),
        )  # fmt: skip

    middle = Spot(x_mm=186.0, y_mm=155.0, z_mm=0.0)
    return (
        CutOut(
            number=1, inside=0, area_mm2=9600.0, middle=middle,
            dimensions=(
                size("across X", 120.0, 119.94, 0.1),
                size("across Y", 80.0, 79.94, 0.01),
                size("hole 1 across X", 40.0, 39.96, 0.0),
            ),
        ),
        CutOut(number=2, inside=1, area_mm2=600.0, middle=middle,
               dimensions=(size("across X", 28.0, 27.95, 0.0),)),
        CutOut(number=0, inside=0, area_mm2=80_000.0, middle=middle, dimensions=()),
    )  # fmt: skip


def make_verdict(**changes):
    sha = "0123456789abcdef" * 4
    values = {
        "outcome": "stop",
        "sentence": "Do not cut this yet: on line 212 a rapid goes 3.2 mm deep through wood that "
        "is still there.",
        "findings": findings(),
        "totals": Totals(
            lines=5120,
            moves=5033,
            time_s=6720.4,
            time_spread_s=(5700.0, 7512.0),
            cutting_time_s=5040.0,
            rapid_mm=18_300.0,
            cut_mm=96_500.0,
            removed_mm3=642_000.0,
            lowest_mm=(-3.0, -3.0, -18.2),
            highest_mm=(313.0, 313.0, 12.0),
        ),
        "margins": margins(),
        "ascut": ascut(),
        "assumed": ("zero in Z within 0.1 mm: by a method not said",),
        "machine_assumed": ("friction of the Z slide 2 to 9 N: not measured",),
        "not_checked": ("whether the dust hose reaches", "knots and shakes in the board"),
        "provenance": Provenance(
            kerfwright="0.1.0",
            code_sha256=sha,
            program_file="gear-train.nc",
            program_sha256=sha,
            machine="Alder Lane router",
            machine_sha256=sha,
            tables_sha256=sha,
            cell_mm=0.25,
            cell_why="as asked for",
            threads=2,
        ),
    }
    return Verdict(**{**values, **changes})


def make_setup(length_mm=310.0, width_mm=310.0, thickness_mm=18.0):
    wood = Wood(name="hard maple", kind="solid", density_kg_per_m3=705.0, family="hardwood")
    cutter = Cutter(
        name="6 mm two-flute",
        shape="flat",
        diameter_mm=6.0,
        flutes=2,
        flute_length_mm=22.0,
        shank_diameter_mm=6.0,
        stick_out_mm=30.0,
    )
    return Setup(
        board=Board(
            length_mm=length_mm,
            width_mm=width_mm,
            thickness_mm=thickness_mm,
            wood=wood,
            grain_rad=0.1,
        ),
        board_at_mm=(100.0, 100.0, 18.0),
        slots={1: cutter, 2: cutter},
        first_slot=1,
    )


def make_maps(setup, cell_mm, seed=7):
    """A dish, a through-cut ring round it and a long pocket, with a lean of the error."""
    board = setup.board
    rows, columns = round(board.width_mm / cell_mm), round(board.length_mm / cell_mm)
    y, x = (np.mgrid[0:rows, 0:columns] + 0.5) * cell_mm
    height = np.zeros((rows, columns), dtype=np.float32)
    error = np.full((rows, columns), np.nan, dtype=np.float32)
    reach = np.hypot(x - board.length_mm * 0.6, y - board.width_mm * 0.5)
    dish = reach < 0.3 * board.width_mm
    height[dish] = -12.0 + 8.0 * (reach[dish] / (0.3 * board.width_mm)) ** 2
    ring = np.abs(reach - 0.36 * board.width_mm) < 3.0
    height[ring] = -board.thickness_mm - 0.2
    pocket = (np.abs(x - 0.1 * board.length_mm) < 12.0) & (
        np.abs(y - 0.5 * board.width_mm) < 0.4 * board.width_mm
    )
    height[pocket] = -8.0
    touched = dish | ring | pocket
    lean = 0.55 * (x / board.length_mm - 0.6) + 0.35 * np.sin(y / 23.0) * (y / board.width_mm)
    noise = np.random.default_rng(seed).normal(0.0, 0.01, height.shape)
    error[touched] = (lean + noise)[touched].astype(np.float32)
    return height, error


def make_series(bins=4000, seed=7):
    rng = np.random.default_rng(seed)
    time = np.linspace(0.0, 6720.4, bins + 1)[1:]
    busy = (np.sin(time / 130.0) > -0.6).astype(float)
    wave = 0.5 + 0.5 * np.sin(time / 700.0)
    return Series(
        time_s=time,
        pull_left_x=1.0 - busy * (0.2 + 0.38 * wave * rng.uniform(0.6, 1.0, bins)),
        pull_left_y=1.0 - busy * (0.2 + 0.25 * wave * rng.uniform(0.6, 1.0, bins)),
        pull_left_z=1.0
        - busy * rng.uniform(0.1, 0.92, bins) * (np.abs(time - 2415) < 300)
        - 0.1 * busy,
        power_w=busy * (120.0 + 290.0 * wave * rng.uniform(0.5, 1.0, bins)),
        deflection_mm=busy * 0.07 * wave * rng.uniform(0.5, 1.0, bins),
        chip_mm=busy * 0.09 * rng.uniform(0.5, 1.0, bins),
        slot=np.where(time < 3600.0, 1, 2).astype(np.int16),
    )


def make_proof(verdict=None, setup=None, cell_mm=1.0, **changes):
    setup = setup or make_setup()
    height, error = make_maps(setup, cell_mm)
    values = {
        "verdict": verdict or make_verdict(),
        "setup": setup,
        "cell_mm": cell_mm,
        "height_mm": height,
        "error_mm": error,
        "series": make_series(),
        "usual_chips": {
            1: ChipRange(low_mm=0.02, high_mm=0.15, source="made up"),
            2: ChipRange(low_mm=0.01, high_mm=0.05, source="made up"),
        },
    }
    return Proof(**{**values, **changes})


@pytest.fixture
def verdict():
    return make_verdict()


@pytest.fixture
def proof():
    return make_proof()


@pytest.fixture
def make():
    """The builders, for a test that wants one thing different."""

    class Make:
        verdict = staticmethod(make_verdict)
        proof = staticmethod(make_proof)
        setup = staticmethod(make_setup)
        maps = staticmethod(make_maps)
        series = staticmethod(make_series)
        estimate = staticmethod(estimate)

    return Make
