"""Whether what holds the board down holds it: sliding, lifting, and a sheet that rises between.

Forces come from the force law and holds from usual ranges, so all of it is a caution at most.
"""

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from kerfwright.basics import Change, Estimate, Finding, Known, Remedy
from kerfwright.basics.shares import of_what
from kerfwright.kernels import cutting
from kerfwright.loads import edge_law_for
from kerfwright.physics.holding import (
    even_share,
    lifting_share,
    rise_between_mm,
    rise_beyond_mm,
    sliding_share,
)
from kerfwright.prove.facts import Facts, at_group
from kerfwright.prove.largest import largest
from kerfwright.prove.lifts import lifted
from kerfwright.prove.likely import CARE
from kerfwright.prove.margins import COVERAGE, LAW, SEED, Machines
from kerfwright.prove.remedies import Lines, cleared_first, tried
from kerfwright.setup.hold import Hold

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]

SLIDES, LIFTS, RISES = "board may slide", "board may lift", "sheet rises"
#: Largest force within a turn over its mean: from 1, cut all round, to pi / 2, one flute of a half
#: sine at a time.
PEAK = (1.0, 0.5 * np.pi)
#: Bending modulus of boards as they are laid down. [MPa] Panels: tables/panels.csv; birch plywood
#: 6800 across to 10700 along the face grain (from memory). Solid wood along the grain: Wood
#: Handbook, table 5-3a, soft pines to hard maple and beyond.
MODULUS_MPA = {
    "plywood": (5000.0, 10000.0),
    "mdf": (2500.0, 4000.0),
    "particleboard": (2000.0, 4100.0),
    "solid": (6000.0, 15000.0),
}
#: Width of the sheet that bends with a span, as a share of it: common practice, no source.
STRIP_SHARE = 1.0 / 3.0
_MOST = 20.0  #: what holds nothing at all is told as that much
_LOOKED = 6  #: moments that each closer look is taken at
_TRIED = (1.5, 2.0, 3.0, 5.0, 8.0, 12.0)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Moments:
    """Every group that takes wood: where, with what force on the board."""

    group: IntArray  #: (n,)
    at_mm: FloatArray  #: (n, 2)
    side_n: FloatArray  #: (n, 2) of the cutter on the board
    lift_n: FloatArray  #: (n,) upwards; 0 where it presses down

    @classmethod
    def of(cls, facts: Facts) -> "_Moments":
        group = np.flatnonzero(facts.cuts)
        column = facts.swept.column
        force = column[group, cutting.FORCE_X : cutting.FORCE_Z + 1].astype(np.float64)
        return cls(
            group=group,
            at_mm=column[group, cutting.X : cutting.Y + 1].astype(np.float64),
            side_n=-force[:, :2],
            lift_n=np.maximum(-force[:, 2], 0.0),
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class _Draws:
    """What the true force and hold may be, as factors on their middles. (draws,) each."""

    force: FloatArray
    friction: FloatArray
    grip: tuple[FloatArray, ...]  #: of each grip of the hold
    modulus: FloatArray


def hold_down(facts: Facts, machines: Machines) -> list[Finding]:
    """Sliding, lifting and rising; nothing where the job does not say what holds the board."""
    hold = facts.setup.hold
    moments = _Moments.of(facts)
    if hold is None or not len(moments.group):
        return []
    draws = _drawn(facts, hold, machines)
    return [
        *_slides(facts, hold, moments, draws),
        *_lifts(facts, hold, moments, draws),
        *_rises(facts, hold, moments, draws),
    ]


def _drawn(facts: Facts, hold: Hold, machines: Machines) -> _Draws:
    rng = np.random.default_rng([SEED, 77])
    many = len(machines.normal)
    spread = max(
        edge_law_for(facts.setup.board, cutter).log_spread for cutter in facts.setup.slots.values()
    )
    low, high = MODULUS_MPA[facts.setup.board.wood.kind]
    return _Draws(
        force=np.exp(spread * machines.normal) * rng.uniform(*PEAK, size=many),
        friction=_factors(hold.friction, rng, many),
        grip=tuple(_factors(grip.force_n, rng, many) for grip in hold.grips),
        modulus=low * (high / low) ** rng.uniform(size=many),
    )


def _factors(known: Known, rng: np.random.Generator, many: int) -> FloatArray:
    """Draws of a known value over its middle, never below a hundredth."""
    drawn = np.array([known.draw(rng) for _ in range(many)])
    return np.asarray(np.maximum(drawn / known.value, 0.01))


def _slides(facts: Facts, hold: Hold, moments: _Moments, draws: _Draws) -> list[Finding]:
    even, worst = _even_shares(facts, hold, moments)
    at, holds = _sideways(facts, hold)
    share, best = 0.0, 0
    for k in worst:
        closer = sliding_share(at, holds, moments.side_n[k], moments.at_mm[k])
        both = max(float(even[k]), closer)
        if both > share:
            share, best = min(both, _MOST), k
    if share == 0.0:
        return []
    hold_factor = _weighed(hold, draws)
    told, likelihood = _told(_middle(share), share * draws.force / hold_factor)
    if likelihood < CARE:
        return []
    force = float(np.hypot(*moments.side_n[best]))
    words = (
        f"The cutter pushes the board sideways with {force:.0f} N here on average: that is"
        f" {of_what(told)} what the hold-down can take, so it may slide or turn"
    )
    finding = at_group(facts, int(moments.group[best]), SLIDES, "caution", words,
                       (told.value, 1.0, "share"), (), likelihood)  # fmt: skip
    finding = replace(finding, value=told)
    group = int(moments.group[best])
    remedies = _harder(facts, finding, hold, group, share, draws.force / hold_factor)
    return [replace(finding, remedies=remedies)]


def _even_shares(facts: Facts, hold: Hold, moments: _Moments) -> tuple[FloatArray, list[int]]:
    """Each moment's share by even pressure, and the moments worth a closer look."""
    board = facts.setup.board
    middle = np.array([0.5 * board.length_mm, 0.5 * board.width_mm])
    arm = moments.at_mm - middle
    turning = arm[:, 0] * moments.side_n[:, 1] - arm[:, 1] * moments.side_n[:, 0]
    friction = _friction_n(hold)
    pins = [grip for grip in hold.grips if not grip.presses]
    pins_n = sum(grip.force_n.value * len(grip.at_mm) for grip in pins)
    pins_turning = sum(
        grip.force_n.value * float(np.hypot(*(np.array(grip.at_mm) - middle).T).sum())
        for grip in pins
    )
    force = np.hypot(moments.side_n[:, 0], moments.side_n[:, 1])
    radius = float(np.sqrt(board.length_mm * board.width_mm / np.pi))
    # What lifts takes from what presses.
    left = np.maximum(friction - hold.friction.value * moments.lift_n, 0.0)
    share = even_share(force, turning, left, radius, pins_n, pins_turning)
    most = (largest(by, _LOOKED) for by in (share, force))
    return share, np.unique(np.concatenate(list(most))).tolist()


def _friction_n(hold: Hold) -> float:
    press = sum(grip.force_n.value * len(grip.at_mm) for grip in hold.grips if grip.presses)
    return hold.friction.value * (press + hold.weight_n)


def _sideways(facts: Facts, hold: Hold) -> tuple[FloatArray, FloatArray]:
    """Where it is held sideways, and with how much at most; the weight rubs in four places."""
    board = facts.setup.board
    size = np.array([board.length_mm, board.width_mm])
    at = [np.array([(x, y) for x in (0.25, 0.75) for y in (0.25, 0.75)]) * size]
    holds = [np.full(4, 0.25 * hold.friction.value * hold.weight_n)]
    for grip in hold.grips:
        at.append(np.array(grip.at_mm))
        each = grip.force_n.value * (hold.friction.value if grip.presses else 1.0)
        holds.append(np.full(len(grip.at_mm), each))
    return np.vstack(at), np.concatenate(holds)


def _weighed(hold: Hold, draws: _Draws) -> FloatArray:
    """What the whole sideways hold may be over its middle. (draws,)"""
    whole, drawn = _friction_n(replace(hold, grips=())), 0.0 * draws.friction
    drawn = drawn + whole * draws.friction
    for grip, factor in zip(hold.grips, draws.grip, strict=True):
        rub = hold.friction.value if grip.presses else 1.0
        each = grip.force_n.value * len(grip.at_mm) * rub
        whole += each
        drawn = drawn + each * factor * (draws.friction if grip.presses else 1.0)
    return np.asarray(np.maximum(drawn / max(whole, 1e-9), 0.01))


def _lifts(facts: Facts, hold: Hold, moments: _Moments, draws: _Draws) -> list[Finding]:
    board = facts.setup.board
    corners = np.array([(x, y) for x in (0.0, board.length_mm) for y in (0.0, board.width_mm)])
    at = np.vstack([np.empty((0, 2)), *(np.array(grip.at_mm) for grip in hold.grips)])
    goes = np.concatenate(
        [np.empty(0), *(np.full(len(grip.at_mm), grip.force_n.value) for grip in hold.grips)]
    )
    beside = np.abs(moments.at_mm - 0.5 * np.array([board.length_mm, board.width_mm]))
    far = moments.lift_n * beside.sum(axis=1)
    share, best = 0.0, 0
    for k in {
        *largest(moments.lift_n, _LOOKED).tolist(),
        *largest(far, _LOOKED).tolist(),
    }:
        one = lifting_share(
            at, goes, corners, hold.weight_n, float(moments.lift_n[k]), moments.at_mm[k]
        )
        if one > share:
            share, best = min(one, _MOST), k
    if share == 0.0:
        return []
    whole = hold.weight_n + float(goes.sum())
    drawn = hold.weight_n + sum(
        grip.force_n.value * len(grip.at_mm) * factor
        for grip, factor in zip(hold.grips, draws.grip, strict=True)
    )
    factor = draws.force * whole / np.maximum(drawn, 1e-9)
    told, likelihood = _told(_middle(share), share * factor)
    if likelihood < CARE:
        return []
    group = int(moments.group[best])
    torn = len(lifted(facts, moments.group[best : best + 1])) > 0
    what = "The cutter, pulled up through wood," if torn else "The spiral of the cutter"
    words = (
        f"{what} lifts the board with {moments.lift_n[best]:.0f} N here: that is"
        f" {of_what(told)} what holds it down"
    )
    measure = (told.value, 1.0, "share")
    finding = at_group(facts, group, LIFTS, "caution", words, measure, (), likelihood)
    finding = replace(finding, value=told)
    return [replace(finding, remedies=_harder(facts, finding, hold, group, share, factor))]


def _harder(
    facts: Facts, finding: Finding, hold: Hold, group: int, share: float, factor: FloatArray
) -> tuple[Remedy, ...]:
    """How much more hold is enough, tried in the model; and what else helps."""
    otherwise = _half_depth(facts, finding, group, share, factor)
    for times in _TRIED:
        after, chance = _told(_middle(share / times), share / times * factor)
        if chance < CARE:
            break
    else:
        another_way = Remedy(
            words="Hold it in another way: screws beside the path, or a frame round it",
            not_tried=f"{_TRIED[-1]:g} times the hold was, and is not enough",
        )
        return another_way, otherwise
    says = f"With {times:g} times the hold"
    kinds = {grip.kind for grip in hold.grips}
    what = "screws" if "screw" in kinds else "clamps" if "clamp" in kinds else "clamps or screws"
    change = Change(path="hold", old="as told", new=f"× {times:g}")
    words = f"Hold it down {times:g} times as hard: more {what}, near to this place"
    held = tried(finding, says, after, chance)
    return Remedy(words=words, changes=(change,), tried=held, more_s=0.0), otherwise


def _half_depth(
    facts: Facts, finding: Finding, group: int, share: float, factor: FloatArray
) -> Remedy:
    """Half of the depth is half of the force; offered as tried only where that is enough."""
    slot = int(facts.tools.slot[facts.swept.segment[group]])
    if facts.setup.slots[slot].undercuts:
        return cleared_first(facts, slot)
    after, chance = _told(_middle(0.5 * share), 0.5 * share * factor)
    words = f"Or take half of the depth in one pass on line {finding.line}: half the force"
    if chance >= CARE:
        words = f"{words}; alone that is not enough"
    change = Change(path=f"depth on line {finding.line}", old="× 1", new="× 0.5")
    says = "With half of the depth"
    held = tried(finding, says, after, chance)
    longer = Lines(first=finding.line, last=finding.line).passed_s(facts, 2)
    return Remedy(words=words, changes=(change,), tried=held, more_s=longer)


def _rises(facts: Facts, hold: Hold, moments: _Moments, draws: _Draws) -> list[Finding]:
    """A sheet that bends up between the places that hold it."""
    held = [np.array(grip.at_mm) for grip in hold.grips]
    if hold.whole or not held or not moments.lift_n.max() > 0.0:
        return []
    at = np.vstack(held)
    board = facts.setup.board
    across = min(board.length_mm, board.width_mm)
    low, high = MODULUS_MPA[board.wood.kind]
    modulus = float(np.sqrt(low * high))
    away, inside = _nearest_mm(at, moments.at_mm), _between(at, moments.at_mm)
    rise = np.empty(len(away))
    for out, reach, form in ((~inside, 1.0, rise_beyond_mm), (inside, 2.0, rise_between_mm)):
        span = np.maximum(reach * away[out], 1.0)
        strip = np.minimum(np.maximum(STRIP_SHARE * 2.0 * away[out], 1.0), across)
        rise[out] = form(moments.lift_n[out], span, strip, board.thickness_mm, modulus)
    best = int(np.argmax(rise))
    limit = facts.setup.tolerance_mm
    many = rise[best] * draws.force * modulus / draws.modulus
    told, likelihood = _told(_middle(float(rise[best])), many, limit)
    if likelihood < CARE:
        return []
    near = float(away[best])
    words = (
        f"The spiral of the cutter lifts the sheet {told.value:.2f} mm ({told.low:.2f} to"
        f" {told.high:.2f} mm, nineteen times in twenty) off the table here, {near:.0f} mm from"
        " the nearest place that holds it: the cut comes out deeper by that"
    )
    finding = at_group(facts, int(moments.group[best]), RISES, "caution", words,
                       (told.value, limit, "mm"), (), likelihood)  # fmt: skip
    finding = replace(finding, value=told)
    closer = near
    while closer > 5.0 and float((many * (closer / near) ** 2 > limit).mean()) >= CARE:
        closer *= 0.9
    after, chance = _told(told.value * (closer / near) ** 2, many * (closer / near) ** 2, limit)
    says = f"With a screw {closer:.0f} mm away"
    change = Change(path="hold.screws", old=f"nearest {near:.0f} mm", new=f"within {closer:.0f} mm")
    remedy = Remedy(
        words=f"Put a screw, clamp or tape within {closer:.0f} mm of this place, clear of the path",
        changes=(change,),
        tried=tried(finding, says, after, chance),
        more_s=0.0,
    )
    return [replace(finding, remedies=(remedy,))]


def _nearest_mm(at: FloatArray, point: FloatArray) -> FloatArray:
    """Distance of each point to the nearest place. (n,)"""
    from scipy.spatial import cKDTree

    return np.asarray(cKDTree(at).query(point)[0])


def _between(at: FloatArray, point: FloatArray) -> NDArray[np.bool_]:
    """Which points lie between the places: inside the line that goes round them all. (n,)"""
    from scipy.spatial import ConvexHull, QhullError

    try:
        side = ConvexHull(at).equations if len(at) > 2 else None
    except QhullError:  # all on one line
        side = None
    if side is not None:
        return np.asarray((point @ side[:, :2].T + side[:, 2] <= 1e-9).all(axis=1))
    low, high = at.min(axis=0), at.max(axis=0)
    along = int(np.argmax(high - low))
    return np.asarray((point[:, along] > low[along]) & (point[:, along] < high[along]))


def _middle(value: float) -> float:
    """A mean force's share, at the middle of how far the largest in a turn is above it."""
    return value * 0.5 * (PEAK[0] + PEAK[1])


def _told(value: float, many: FloatArray, limit: float = 1.0) -> tuple[Estimate, float]:
    low, high = np.quantile(many, [0.5 - COVERAGE / 2, 0.5 + COVERAGE / 2])
    told = Estimate(
        value=value, low=float(min(low, value)), high=float(max(high, value)), coverage=COVERAGE,
        mostly_from=LAW,
    )  # fmt: skip
    return told, float((many > limit).mean())
