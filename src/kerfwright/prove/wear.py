"""How far each cutter's edges run through the wood, against what they last."""

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from kerfwright.basics import Change, Finding, Remedy
from kerfwright.basics.units import INCH_MM
from kerfwright.cutter import Cutter
from kerfwright.kernels import cutting
from kerfwright.prove.facts import Facts, at_group
from kerfwright.prove.likely import CARE
from kerfwright.prove.margins import COVERAGE, SEED, Machines, exact
from kerfwright.prove.remedies import tried
from kerfwright.stock import Wood

FloatArray = NDArray[np.float64]

CODE = "cutter gets dull"
#: How far the edge is worn back at which a cutter is dull: common practice, no source. [mm]
DULL_MM = (0.02, 0.06)
#: Wear of a carbide edge [mm for each km of edge in wood]. A trade figure (read in a
#: transcription) has 0.040 mm after 4 km in MDF and 0.007 mm in radiata pine, and leaves open
#: whether of feed or of edge; in a slot a metre of feed is some 50 m of edge, so the range reaches
#: from one to the other. The rest is set beside these two, common practice, no source.
WEAR_MM_PER_KM = {
    "mdf": (0.0002, 0.010),
    "particleboard": (0.0004, 0.020),
    "plywood": (0.0001, 0.006),
    "hardwood": (0.00005, 0.003),
    "softwood": (0.00004, 0.0018),
}
#: High-speed steel wears so many times faster: 0.054 mm after 270 m of feed planing oak (Koleda and
#: others 2019, read), against the above.
HSS_TIMES = (5.0, 30.0)


def wear(facts: Facts, machines: Machines) -> list[Finding]:
    """Cutters that may be dull before the program ends."""
    out = []
    for slot, cutter in sorted(facts.setup.slots.items()):
        groups = facts.groups_of(slot)
        if not len(groups):
            continue
        run_km = np.cumsum(edge_way_mm(facts, cutter, groups)) / 1e6
        last = _lasts_km(cutter, facts.setup.board.wood, len(machines.normal), slot)
        # Dull from here on in one of five such cutters.
        enough = float(np.quantile(last, CARE))
        if run_km[-1] <= enough:
            continue
        out.append(_finding(facts, slot, groups, run_km, last))
    return out


def edge_way_mm(facts: Facts, cutter: Cutter, groups: NDArray[np.int64]) -> FloatArray:
    """Way of each edge in the wood, for each group. [mm]

    Once in a turn an edge passes the wood over radius times the angle that is covered, which
    follows from the width of the cut.
    """
    depth, way, taken, lasts = (
        facts.swept.column[groups, name].astype(np.float64)
        for name in (cutting.DEPTH, cutting.WAY, cutting.TAKEN, cutting.DURATION)
    )
    width = np.clip(taken / np.maximum(depth * way, 1e-9), 0.0, cutter.diameter_mm)
    covered = np.arccos(np.clip(1.0 - width / cutter.radius_mm, -1.0, 1.0))
    turns = lasts * facts.tools.spindle_rev_per_s[facts.swept.segment[groups]]
    return np.asarray(cutter.radius_mm * covered * turns)


def _lasts_km(cutter: Cutter, wood: Wood, many: int, slot: int) -> FloatArray:
    """Way after which such an edge is dull, drawn. (draws,)"""
    rng = np.random.default_rng([SEED, 31, slot])
    kind = wood.family if wood.kind == "solid" else wood.kind
    rate = _between(WEAR_MM_PER_KM[kind], rng, many)
    if cutter.material == "hss":
        rate = rate * _between(HSS_TIMES, rng, many)
    return np.asarray(_between(DULL_MM, rng, many) / rate)


def _between(ends: tuple[float, float], rng: np.random.Generator, many: int) -> FloatArray:
    return np.asarray(ends[0] * (ends[1] / ends[0]) ** rng.uniform(size=many))


def _finding(
    facts: Facts,
    slot: int,
    groups: NDArray[np.int64],
    run_km: FloatArray,
    last: FloatArray,
) -> Finding:
    cutter = facts.setup.slots[slot]
    enough = float(np.quantile(last, CARE))
    at = int(np.searchsorted(run_km, enough))
    group = int(groups[min(at, len(groups) - 1)])
    whole = float(run_km[-1])
    low, high = np.quantile(last, [0.5 - COVERAGE / 2, 0.5 + COVERAGE / 2])
    chance = float((last < whole).mean())
    cutters = int(np.ceil(whole / enough))
    words = (
        f"Each edge of cutter {slot} ({cutter.name}) runs {_long_words(whole)} through the wood in"
        f" this job, and such an edge is dull after {_long_words(low)} to {_long_words(high)},"
        " nineteen times in twenty: from about this line on it may push harder, burn and tear"
    )
    change = Change(
        path=f"cutters of slot {slot}", old="1 cutter", new=f"{cutters} sharp ones, in turn"
    )
    measure = (1000.0 * whole, 1000.0 * enough, "m")
    finding = at_group(facts, group, CODE, "caution", words, measure, (), chance)
    told = replace(exact(1000.0 * whole), mostly_from="how long an edge lasts in this wood")
    finding = replace(finding, id=f"cutter-gets-dull-{slot}", value=told)
    known = facts.machine.known
    each_s = known["controller.cutter_change_time"].value
    if facts.setup.z_after_change == "set again":
        each_s += known["controller.set_z_time"].value
    share = whole / cutters
    remedy = Remedy(
        words=f"Have {cutters} sharp cutters ready and change at this line, or sooner when the"
        " cut looks fuzzy or smells",
        changes=(change,),
        tried=tried(
            finding, "Then no edge has to run so far", exact(1000.0 * share),
            float((last < share).mean()),
        ),
        more_s=(cutters - 1) * each_s,
    )  # fmt: skip
    return replace(finding, remedies=(remedy,))


def _long_words(km: float) -> str:
    """A way as one says it: ``8.1 m (27 ft)``, ``2300 m (7500 ft)``."""
    metres = 1000.0 * km
    both = (metres, 1000.0 * metres / INCH_MM / 12.0)
    one, other = (f"{float(f'{value:.2g}'):g}" for value in both)
    return f"{one} m ({other} ft)"
