"""What the cut asks of the cutter itself, the collet and the spindle's speed.

All of it rests on the force law, so it is a caution at most.
"""

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, replace
from math import ceil

import numpy as np
from numpy.typing import NDArray

from kerfwright.basics import Change, Estimate, Finding, Remedy
from kerfwright.basics.shares import of_what
from kerfwright.cutter import Cutter
from kerfwright.kernels import cutting
from kerfwright.loads import EdgeLaw, edge_law_for, rod_of
from kerfwright.loads.teeth import SideCuts, bin_arcs, scaled, share_of_power, side_arcs
from kerfwright.loads.turning import DROOP, middle_droop
from kerfwright.physics.teeth import Arcs, peak_n, thicker_chip
from kerfwright.prove.another_cutter import another, shorter
from kerfwright.prove.facts import Facts, at_group
from kerfwright.prove.largest import largest
from kerfwright.prove.likely import CARE
from kerfwright.prove.margins import COVERAGE, LAW, SEED, Machines, Moment, estimate, exact
from kerfwright.prove.remedies import DEPTHS, Lines, Told, cleared_first, shallower, tried
from kerfwright.prove.sweep import Worst

FloatArray = NDArray[np.float64]

#: Bending stress at which a cutter breaks, or a steel one stays bent. [MPa] Carbide: transverse
#: rupture of small bars is 3000 to 4000, from memory; the tensile strength is about half of that
#: (a trade page, read), and a turning, ground, notched shank has no more. High-speed steel M2:
#: yields at 3250 in compression at 62 HRC (makers' sheets, read in transcriptions); less where it
#: is drawn softer and turns in bending, from memory.
STRENGTH_MPA = {"carbide": (1500.0, 3500.0), "hss": (1200.0, 3200.0)}
#: Axial force that a collet holds by friction, for each mm of shank: 300 to 3000 N at 6 mm, clean
#: and well done up or neither; common practice, no source. [N/mm]
GRIP_N_PER_MM = (50.0, 500.0)
#: A chip thicker by less is not told.
TOLD_CHIP = 0.05
#: Places of each cutter that are looked at tooth by tooth: those that the sweep has bending most.
LOOKED = 4
_STEPS = 120  #: angles in a turn
_TRIED_FEED, _TRIED_DEPTH = (0.8, 0.6, 0.4), DEPTHS


@dataclass(frozen=True, slots=True, kw_only=True)
class _Place:
    """One group of steps, whose peak can be asked for at other feeds and depths."""

    group: int
    cutter: Cutter
    law: EdgeLaw
    column: FloatArray
    heading_rad: float
    rev_per_s: float
    worst: Worst | None  #: with its whole engagement, if the proof kept it
    other: tuple[Cutter, EdgeLaw] | None = None  #: tried in its place

    def with_cutter(self, cutter: Cutter, law: EdgeLaw) -> "_Place":
        """The same cut by another cutter of the same shape and width."""
        return replace(self, other=(cutter, law))

    def peak_mpa(self, feed_share: float = 1.0, depth_share: float = 1.0) -> float:
        """Largest bending stress within a turn, where the flutes end or at the collet. [MPa]"""
        depth = np.array([max(self.column[cutting.DEPTH], 1e-3)])
        arcs = self._arcs(1.0, 1.0, self.cutter, self.law)
        asked, turning = np.array([self.column[cutting.POWER]]), np.array([self.rev_per_s])
        share = share_of_power(arcs, self.cutter, depth, turning, asked)
        cutter, law = self.other or (self.cutter, self.law)
        if (feed_share, depth_share) != (1.0, 1.0) or self.other is not None:
            tooth = feed_share * self.cutter.flutes / cutter.flutes
            arcs = self._arcs(tooth, depth_share, cutter, law)
        peak = float(peak_n(scaled(arcs, share), _STEPS)[0])
        rod = rod_of(cutter)
        middle = min(0.5 * float(depth[0]) * depth_share, rod.whole_mm)
        return float(max(end.max() for end in rod.stress_mpa(peak, middle)))

    def _arcs(self, feed_share: float, depth_share: float, cutter: Cutter, law: EdgeLaw) -> Arcs:
        feed = float(self.column[cutting.FEED_PER_TOOTH]) * feed_share
        if self.worst is not None:
            low, high, covered = engaged(self.worst, cutter)
            return bin_arcs(
                law, cutter, low, low + (high - low) * depth_share, covered, self.heading_rad, feed
            )
        return side_arcs(law, cutter, self._side_cut(feed, depth_share))

    def _side_cut(self, feed: float, depth_share: float) -> SideCuts:
        deep = max(float(self.column[cutting.DEPTH]), 1e-3)
        left = self.column[cutting.LEFT] >= self.column[cutting.RIGHT]
        return SideCuts(
            heading_rad=np.array([self.heading_rad]),
            side=np.array([1.0 if left else -1.0]),
            width_mm=np.array([self.column[cutting.WIDTH]]),
            depth_mm=np.array([deep * depth_share]),
            feed_per_tooth_mm=np.array([feed]),
        )


def engaged(worst: Worst, cutter: Cutter) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Lowest and highest wood above the tip in each bin [mm], and the share of it covered.

    The one place that knows how a kept engagement is stored.
    """
    volume, low, high = (row.astype(np.float64) for row in worst.engagement[:3])
    wood = volume > 0.0
    low, high = np.where(wood, np.maximum(low, 0.0), 0.0), np.where(wood, high, 0.0)
    bins = len(volume)
    edge = -np.pi + np.arange(bins + 1) * (2.0 * np.pi / bins) - worst.heading_rad
    begin = np.mod(edge[:-1] + np.pi, 2.0 * np.pi) - np.pi
    ends = np.clip(np.stack([begin, begin + 2.0 * np.pi / bins]), -0.5 * np.pi, 0.5 * np.pi)
    facing = np.diff(np.sin(ends), axis=0)[0]
    full = worst.way_mm[0] * facing * (high - low) * cutter.radius_mm
    share = np.where(full > 0.0, volume / np.where(full > 0.0, full, 1.0), 0.0)
    return low, high, np.clip(share, 0.0, 1.0)


def strength(facts: Facts, kept: Mapping[str, Moment], machines: Machines) -> list[Finding]:
    """Cutters that may break, cutters that may creep out of the collet, a spindle that slows."""
    out: list[Finding] = []
    for slot, cutter in sorted(facts.setup.slots.items()):
        rng = np.random.default_rng([SEED, slot])  # the same whatever else is in the rack
        law = edge_law_for(facts.setup.board, cutter)
        force = np.exp(law.log_spread * machines.normal)
        breaks_at = _between(STRENGTH_MPA[cutter.material], rng, len(force))
        holds = _between(GRIP_N_PER_MM, rng, len(force)) * cutter.shank_diameter_mm
        groups = facts.groups_of(slot)
        if len(groups):
            out += _bends(facts, slot, law, groups, kept, force, breaks_at)
            out += _creeps(facts, slot, groups, force, holds)
    return out + _droops(facts, kept, machines)


def _between(ends: tuple[float, float], rng: np.random.Generator, many: int) -> FloatArray:
    """Draws even in the logarithm."""
    return np.asarray(ends[0] * (ends[1] / ends[0]) ** rng.uniform(size=many))


def _bends(
    facts: Facts,
    slot: int,
    law: EdgeLaw,
    groups: NDArray[np.int64],
    kept: Mapping[str, Moment],
    force: FloatArray,
    breaks_at: FloatArray,
) -> list[Finding]:
    """A cutter bent by more than it may stand, ``force`` and strength drawn, (draws,) each."""
    cutter = facts.setup.slots[slot]
    places = _places(facts, cutter, law, groups, kept)
    peaks = [place.peak_mpa() for place in places]
    place = places[int(np.argmax(peaks))]

    def told(mpa: float) -> tuple[Estimate, float]:
        middle = float(np.sqrt(np.prod(STRENGTH_MPA[cutter.material])))
        return _ends(mpa / middle, mpa * force, breaks_at, "the strength of the cutter")

    share, likelihood = told(max(peaks))
    if likelihood < CARE:
        return []
    words = (
        f"Cutter {slot} ({cutter.name}) is bent to {of_what(share)} what breaks it each time a"
        " flute passes"
    )
    measure = (share.value, 1.0, "share")
    finding = at_group(facts, place.group, "cutter may break", "caution", words, measure, (),
                       likelihood)  # fmt: skip
    finding = replace(finding, value=share)

    def with_it(one: Cutter) -> Told:
        other = edge_law_for(facts.setup.board, one)
        return told(max(place.with_cutter(one, other).peak_mpa() for place in places))

    def enough(after: Told) -> bool:
        return after[1] < CARE

    remedies = [
        *shorter(facts, slot, finding, with_it, enough),
        *another(facts, slot, finding, with_it, enough),
        *_lighter(facts, slot, groups, finding, place, told),
    ]
    if not remedies:
        remedies.append(
            Remedy(
                words="Take a thicker cutter, on a path made for it",
                not_tried="neither less feed nor less depth nor a cutter of the rack is enough, and"
                " another width needs another path",
            )
        )
    return [replace(finding, remedies=tuple(remedies))]


def _lighter(
    facts: Facts, slot: int, groups: NDArray[np.int64], finding: Finding, place: _Place,
    told: Callable[[float], Told],
) -> Iterator[Remedy]:  # fmt: skip
    """The largest feed, or depth in one pass, with which it is likely to hold."""
    cutter = facts.setup.slots[slot]
    rod = rod_of(cutter)
    depth, force = _depth_and_force(facts, groups)
    at = np.minimum(0.5 * depth, rod.whole_mm)
    stress = np.maximum(*rod.stress_mpa(force, at))
    for what, shares in (("feed", _TRIED_FEED), ("depth", _TRIED_DEPTH)):
        if what == "depth" and cutter.undercuts:
            yield cleared_first(facts, slot)
            break
        for share in shares:
            mpa = place.peak_mpa(**{f"{what}_share": share})
            after = told(mpa)
            if after[1] >= CARE:
                continue
            worse = groups[(stress > mpa) | (groups == place.group)]
            lines, says = Lines.of(facts, worse), f"With {share * 100:.0f} % of the {what}"
            passes = ceil(1.0 / share - 1e-9)
            words = f"Take {share * 100:.0f} % of the depth in one pass on {lines.words}:"
            words += f" {passes} passes"
            longer = lines.passed_s(facts, passes, float(place.column[cutting.DEPTH]))
            if what == "feed":
                words = f"Turn the feed down to {share * 100:.0f} % on {lines.words}"
                longer = lines.fed_s(facts, share)
            change = Change(path=f"{what} on {lines.words}", old="× 1", new=f"× {share:.2g}")
            yield Remedy(
                words=words, changes=(change,), tried=tried(finding, says, *after), more_s=longer
            )
            break


def _depth_and_force(facts: Facts, groups: NDArray[np.int64]) -> tuple[FloatArray, FloatArray]:
    """Depth [mm] and largest force within a turn [N] of some groups."""
    one, two = (
        facts.swept.column[groups, name].astype(np.float64)
        for name in (cutting.DEPTH, cutting.LARGEST)
    )
    return one, two


def _places(
    facts: Facts,
    cutter: Cutter,
    law: EdgeLaw,
    groups: NDArray[np.int64],
    kept: Mapping[str, Moment],
) -> list[_Place]:
    """Where the largest force within a turn bends the cutter most, and where the proof kept the
    whole engagement.
    """
    depth, force = _depth_and_force(facts, groups)
    rod = rod_of(cutter)
    at = np.minimum(0.5 * depth, rod.whole_mm)
    most = largest(np.maximum(*rod.stress_mpa(force, at)), LOOKED)
    whole = {moment.worst.group: moment.worst for moment in kept.values()}
    chosen = {*groups[most].tolist(), *(group for group in whole if (groups == group).any())}
    out = []
    for group in sorted(chosen):
        motion = facts.swept.motion_mm[group].astype(np.float64)
        out.append(
            _Place(
                group=group,
                cutter=cutter,
                law=law,
                column=facts.swept.column[group].astype(np.float64),
                heading_rad=float(np.arctan2(motion[1], motion[0])),
                rev_per_s=float(facts.swept.column[group, cutting.SPEED]),
                worst=whole.get(group),
            )
        )
    return out


def _creeps(
    facts: Facts, slot: int, groups: NDArray[np.int64], force: FloatArray, holds_n: FloatArray
) -> list[Finding]:
    """A helix that may draw its cutter out of the collet."""
    down = -facts.swept.column[groups, cutting.FORCE_Z].astype(np.float64)
    worst = int(np.argmax(down))
    asked = float(down[worst])
    if asked <= 0.0:
        return []
    cutter = facts.setup.slots[slot]
    middle = float(np.sqrt(np.prod(GRIP_N_PER_MM))) * cutter.shank_diameter_mm
    share, likelihood = _ends(asked / middle, asked * force, holds_n, "how well the collet holds")
    if likelihood < CARE:
        return []
    words = (
        f"The spiral of its flutes draws cutter {slot} ({cutter.name}) out of the collet with"
        f" {asked:.0f} N, and a"
        f" collet on a {cutter.shank_diameter_mm:g} mm shank holds some"
        f" {GRIP_N_PER_MM[0] * cutter.shank_diameter_mm:.0f} to"
        f" {GRIP_N_PER_MM[1] * cutter.shank_diameter_mm:.0f} N: it may creep down and cut deeper"
    )
    measure = (share.value, 1.0, "share")
    finding = at_group(facts, int(groups[worst]), "cutter may creep out", "caution", words, measure,
                       (), likelihood)  # fmt: skip
    finding = replace(finding, value=share)
    remedies = [
        Remedy(
            words="Clean the collet and the shank, and do the nut up as its maker says",
            not_tried="how well a collet holds is only felt at the machine",
        )
    ]
    for part in () if cutter.undercuts else _TRIED_DEPTH:
        after = _ends(part * asked / middle, part * asked * force, holds_n, share.mostly_from)
        if after[1] >= CARE:
            continue
        lines = Lines.of(facts, groups[(down > part * asked) | (groups == groups[worst])])
        deep = float(facts.swept.column[groups[worst], cutting.DEPTH])
        remedies.append(shallower(facts, finding, part, lines, after, deep, "Or take"))
        break
    return [replace(finding, remedies=tuple(remedies))]


def _droops(facts: Facts, kept: Mapping[str, Moment], machines: Machines) -> list[Finding]:
    """A spindle that slows under the cut, so that each flute takes more."""
    moment = kept.get("power")
    if moment is None:
        return []
    spindle, turning = facts.machine.spindle, moment.spindle_rev_per_s
    law = edge_law_for(facts.setup.board, facts.setup.slots[moment.slot])
    asked = moment.force(law)[1]
    rng = np.random.default_rng([SEED, 0])
    droop = _between(DROOP[spindle.kind], rng, len(machines.normal))
    middle = middle_droop(spindle)
    rises = float(thicker_chip(asked / max(float(spindle.power_w(turning)), 1e-9), middle))
    has = np.array([float(one.spindle.power_w(turning)) for one in machines.model])
    factor = np.exp(law.log_spread * machines.normal)
    many = thicker_chip(asked * factor / np.maximum(has, 1e-9), droop)
    if rises < TOLD_CHIP:
        return []
    told = estimate(rises, many, machines.rulers)
    words = (
        f"Under this cut the spindle slows from {turning * 60:.0f} to about"
        f" {turning * 60 / (1.0 + rises):.0f} rev/min, so each chip gets"
        f" {rises * 100:.0f} % thicker ({told.low * 100:.0f} to {told.high * 100:.0f} %, nineteen"
        " times in twenty)"
    )
    measure = (rises, TOLD_CHIP, "share")
    finding = at_group(facts, moment.worst.group, "spindle slows", "note", words, measure, (),
                       float((many > TOLD_CHIP).mean()))  # fmt: skip
    told = replace(told, mostly_from="how the spindle keeps its speed")
    finding = replace(finding, value=told)
    remedies = [
        Remedy(
            words="Listen to it: where the pitch falls, feed slower",
            not_tried="how a spindle keeps its speed is only heard at the machine",
        )
    ]
    has_w = max(float(spindle.power_w(turning)), 1e-9)
    for part in () if facts.setup.slots[moment.slot].undercuts else _TRIED_DEPTH:
        after = float(thicker_chip(part * asked / has_w, middle))
        if after >= TOLD_CHIP:
            continue
        column = facts.swept.column[:, cutting.POWER].astype(np.float64)
        worse = np.flatnonzero(facts.cuts & (column > part * asked))
        told_then, deep = (exact(after), None), float(moment.worst.column[cutting.DEPTH])
        lines = Lines.of(facts, worse)
        remedies.append(shallower(facts, finding, part, lines, told_then, deep, "Or take"))
        break
    return [replace(finding, remedies=tuple(remedies))]


def _ends(
    value: float, asked: FloatArray, stands: FloatArray, other: str
) -> tuple[Estimate, float]:
    """A share asked / stands with its ends, and the probability that it passes 1."""
    many = asked / stands
    low, high = np.quantile(many, [0.5 - COVERAGE / 2, 0.5 + COVERAGE / 2])
    law_rules = np.log(np.maximum(asked, 1e-9)).std() > np.log(stands).std()
    told = Estimate(
        value=value,
        low=float(min(low, value)),
        high=float(max(high, value)),
        coverage=COVERAGE,
        mostly_from=LAW if law_rules else other,
    )
    return told, float((many > 1.0).mean())
