"""What lies under the work and hangs over it: metal, what is left of the spoil board, hoses."""

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from kerfwright.basics import Estimate, Finding, Known, Severity, Spot
from kerfwright.fixture import Bed, Hose, Metal, SpoilBoard
from kerfwright.physics.hanging import lowest_mm
from kerfwright.prove.facts import Facts, at_segment

FloatArray = NDArray[np.float64]

#: A clamp's bolt stands in the track within its sides, or this far beside them: common practice.
BOLT_NEAR_MM = 60.0
_SLACK_MM = 1e-6
_KIND = {"track": "the track", "insert": "the insert", "screw": "the screw head"}


def found_of_bed(facts: Facts) -> list[Finding]:
    """All that is asked of the bed, without remedies; nothing where none is described."""
    of = facts.setup.bed
    if of is None:
        return []
    return [
        *_metal(facts, of),
        *(_spoil_board(facts, of.spoil_board) if of.spoil_board is not None else ()),
        *_bolts(facts, of),
        *_screws(facts, of),
        *(finding for hose in of.hoses for finding in _hose(facts, hose)),
    ]


def _on_table(facts: Facts) -> FloatArray:
    """The path with X and Y from the table's left front corner and Z from what the work lies on."""
    setup, machine = facts.setup, facts.machine
    at = facts.on_board(facts.trajectory.point_mm)
    corner = np.array(setup.board_at_mm) - np.array([*machine.table_at_mm, 0.0])
    return np.asarray(at + np.array([corner[0], corner[1], setup.board.thickness_mm]))


def _metal(facts: Facts, of: Bed) -> list[Finding]:
    """Cutters that reach metal under the work, the first time for each piece of it."""
    path = _on_table(facts)
    low = np.minimum(path[:-1, 2], path[1:, 2])
    deep = np.flatnonzero(low < -_SLACK_MM)
    out = []
    for metal in of.metal if len(deep) else ():
        top = -metal.below_mm.value
        sure_top = -max(metal.below_mm.value, metal.below_mm.interval()[1])
        may_top = -min(metal.below_mm.value, metal.below_mm.interval()[0])
        near = deep[low[deep] < may_top]
        apart = _apart_mm(path[near], path[near + 1], metal)
        sunk = may_top - low[near]
        wide = np.zeros(len(near))
        slot = facts.tools.slot[near]
        for number, cutter in facts.setup.slots.items():
            for at in np.flatnonzero(slot == number).tolist():
                wide[at] = cutter.widest_below_mm(float(sunk[at]))
        met = near[apart < wide + metal.half_width_mm]
        if not len(met):
            continue
        # Certain: below the metal's top however high it may be, all along or straight down.
        upright = np.linalg.norm(np.diff(path[:, :2], axis=0)[met], axis=1) < _SLACK_MM
        lies = np.maximum(path[met, 2], path[met + 1, 2])
        sure = np.flatnonzero(np.where(upright, low[met], lies) < sure_top)
        certain = metal.below_mm.kind != "default" and len(sure) > 0
        first = int(met[sure[0]] if certain else met[0])
        mm = float(top - low[met].min())
        words = (
            f"The cutter goes {'' if certain else 'perhaps '}{max(mm, 0.0):.1f} mm into"
            f" {_KIND[metal.kind]} ({metal.name}) under the board: metal breaks a cutter, and its"
            " pieces fly"
        )
        measure = (max(mm, 0.0), 0.0, "mm")
        severity: Severity = "stop" if certain else "caution"
        suffix = f"-{metal.name.replace(' ', '-')}"
        code = "metal under the board"
        out.append(at_segment(facts, first, code, severity, words, measure, (), suffix))
    return out


def _apart_mm(begin: FloatArray, end: FloatArray, metal: Metal) -> FloatArray:
    """Least distance in plan of path segments (n, >= 2) from the middle line of a piece. (n,)"""
    from_, to = np.array(metal.from_mm), np.array(metal.to_mm)
    a, b = begin[:, :2], end[:, :2]
    far = np.minimum(_to_line(np.array([from_]), a, b), _to_line(np.array([to]), a, b))
    far = np.minimum(far, _to_line(a, from_[None], to[None]))
    far = np.minimum(far, _to_line(b, from_[None], to[None]))
    # They cross where each lies on both sides of the other.
    way, side = b - a, to - from_
    s0, s1 = (_cross(side[None], point - from_) for point in (a, b))
    t0, t1 = (_cross(way, point - a) for point in (from_, to))
    return np.where((s0 * s1 < 0.0) & (t0 * t1 < 0.0), 0.0, far)


def _cross(u: FloatArray, v: FloatArray) -> FloatArray:
    return np.asarray(u[:, 0] * v[:, 1] - u[:, 1] * v[:, 0])


def _to_line(point: FloatArray, begin: FloatArray, end: FloatArray) -> FloatArray:
    way = end - begin
    square = np.maximum((way * way).sum(axis=1), 1e-30)
    along = np.clip(((point - begin) * way).sum(axis=1) / square, 0.0, 1.0)
    return np.asarray(np.linalg.norm(point - begin - along[:, None] * way, axis=1))


def _spoil_board(facts: Facts, spoil: SpoilBoard) -> list[Finding]:
    """Too little left of the spoil board under the deepest cut, or the last time to skim it."""
    deep = deepest_mm(facts)
    if not deep > _SLACK_MM:
        return []
    path = _on_table(facts)
    segment = int(np.argmin(np.minimum(path[:-1, 2], path[1:, 2])))
    whole = max(deep, spoil.deepest_mm)
    low, high = spoil.thickness_mm.interval()
    left = spoil.thickness_mm.value - whole
    if left < spoil.least_mm - _SLACK_MM:
        words = (
            f"Under the deepest cut {left:.1f} mm are left of the spoil board, and it should not"
            f" get thinner than {spoil.least_mm:.1f} mm"
        )
        found = at_segment(facts, segment, "spoil board too thin", "caution", words,
                           (left, spoil.least_mm, "mm"), ())  # fmt: skip
        value = Estimate(value=left, low=low - whole, high=high - whole, coverage=0.95)
        return [replace(found, value=value)]
    skims = spoil.skims_left(whole)
    if skims > 1:
        return []
    words = (
        f"After this job the spoil board can be made level {'once more' if skims else 'no more'}:"
        f" {left:.1f} mm are left under the deepest cut, {spoil.least_mm:.1f} mm must stay"
    )
    return [
        at_segment(facts, segment, "spoil board nearly used up", "note", words,
                   (left, spoil.least_mm, "mm"), ())
    ]  # fmt: skip


def deepest_mm(facts: Facts) -> float:
    """How deep the program cuts into what the board lies on, where there is any of it. [mm]"""
    if facts.lowest_mm >= -facts.setup.board.thickness_mm:
        return 0.0
    path = _on_table(facts)
    wide, across = facts.machine.table_mm
    over = (path[:, 0] >= 0.0) & (path[:, 0] <= wide) & (path[:, 1] >= 0.0) & (path[:, 1] <= across)
    return float(max(-path[over, 2].min(), 0.0)) if over.any() else 0.0


def _bolts(facts: Facts, of: Bed) -> list[Finding]:
    """Clamps with no track or insert near enough for their bolt."""
    anchors = [metal for metal in of.metal if metal.kind != "screw"]
    if not anchors:
        return []
    corner = np.array(facts.setup.board_at_mm[:2]) - np.array(facts.machine.table_at_mm)
    out = []
    for clamp in facts.setup.clamps:
        left, front, right, back = clamp.box_mm
        box = np.array([[left, front], [right, front], [right, back], [left, back]]) + corner
        edges = np.concatenate([box, box[:1]])
        apart = min(float(_apart_mm(edges[:-1], edges[1:], one).min()) for one in anchors)
        inside = any(_within(box, one.from_mm) or _within(box, one.to_mm) for one in anchors)
        if inside or apart <= BOLT_NEAR_MM:
            continue
        words = (
            f"The nearest track or insert is {apart:.0f} mm from the clamp {clamp.name}: its bolt"
            " has nothing to hold on to there"
        )
        found = at_segment(facts, 0, "clamp without a track", "caution", words,
                           (apart, BOLT_NEAR_MM, "mm"), (),
                           f"-{clamp.name.replace(' ', '-')}")  # fmt: skip
        spot = Spot(x_mm=0.5 * (left + right), y_mm=0.5 * (front + back), z_mm=0.0)
        out.append(replace(found, line=0, time_s=None, spot=spot))
    return out


def _within(box: FloatArray, point: tuple[float, float]) -> bool:
    return bool((box.min(axis=0) <= point).all() and (box.max(axis=0) >= point).all())


def _screws(facts: Facts, of: Bed) -> list[Finding]:
    """Screws through the board that would go into metal, or where there is no wood to take them."""
    hold = facts.setup.hold
    corner = np.array(facts.setup.board_at_mm[:2]) - np.array(facts.machine.table_at_mm)
    places = [
        place
        for grip in (hold.grips if hold is not None else ())
        if grip.kind == "screw"
        for place in grip.at_mm
    ]
    out = []
    for x, y in places:
        at = np.array([[x, y]]) + corner
        hit = [one for one in of.metal if _apart_mm(at, at, one)[0] < one.half_width_mm + 2.0]
        fields = of.fields_mm
        outside = bool(fields) and not any(
            a <= at[0, 0] <= c and b <= at[0, 1] <= d for a, b, c, d in fields
        )
        if not hit and not outside:
            continue
        where = f"The screw at {x:.0f}, {y:.0f} mm on the board"
        says = f"meets {_KIND[hit[0].kind]} ({hit[0].name}) below" if hit else (
            "stands where the table takes no screws"
        )  # fmt: skip
        found = at_segment(facts, 0, "screw in the wrong place", "caution", f"{where} {says}",
                           (0.0, 0.0, ""), (), f"-{x:.0f}-{y:.0f}")  # fmt: skip
        spot = Spot(x_mm=x, y_mm=y, z_mm=0.0)
        out.append(replace(found, line=0, time_s=None, spot=spot))
    return out


def _hose(facts: Facts, hose: Hose) -> list[Finding]:
    """A hose or cable that would be pulled taut, or hang down on the work."""
    path = _on_table(facts)
    stick_out = np.zeros(int(facts.tools.slot.max(initial=0)) + 1)
    for slot, cutter in facts.setup.slots.items():
        if slot < len(stick_out):
            stick_out[slot] = cutter.stick_out_mm
    joins = path[1:] + np.array([0.0, 0.0, facts.machine.spoil_board_mm + hose.above_nose_mm])
    joins[:, 2] += stick_out[facts.tools.slot]
    way = joins - np.array(hose.anchor_mm)
    far = np.linalg.norm(way, axis=1)
    worst = int(np.argmax(far))
    shortest = min(hose.length_mm.value, hose.length_mm.interval()[0])
    longest = max(hose.length_mm.value, hose.length_mm.interval()[1])
    if far[worst] > shortest:
        first = int(np.argmax(far > shortest))
        taut = "is" if far[worst] > longest else "may be"
        words = (
            f"The {hose.name} {taut} pulled taut: it would have to reach {far[worst]:.0f} mm, and"
            f" {_length_words(hose.length_mm)} of it are free"
        )
        measure = (float(far[worst]), hose.length_mm.value, "mm")
        suffix = f"-{hose.name.replace(' ', '-')}"
        return [
            at_segment(facts, first, "hose pulled taut", "caution", words, measure, (),
                       suffix)
        ]  # fmt: skip
    return _drags(facts, hose, way, longest)


def _drags(facts: Facts, hose: Hose, way: FloatArray, longest: float) -> list[Finding]:
    """Where the hose, hanging like a chain, comes down to the board or a clamp."""
    setup = facts.setup
    apart = np.linalg.norm(way[:, :2], axis=1)
    depth, along = lowest_mm(np.full(len(way), longest), apart, way[:, 2])
    share = along / np.maximum(apart, 1e-9)
    corner = np.array(setup.board_at_mm[:2]) - np.array(facts.machine.table_at_mm)
    place = np.array(hose.anchor_mm[:2]) + share[:, None] * way[:, :2] - corner
    height = hose.anchor_mm[2] - depth - setup.board_at_mm[2]  # above the top of the board
    boxes = [((0.0, 0.0, setup.board.length_mm, setup.board.width_mm), 0.0, "the board")]
    boxes += [(c.box_mm, c.height_mm.value, f"the clamp {c.name}") for c in setup.clamps]
    low = np.full(len(way), np.inf)
    what = np.zeros(len(way), np.int64)
    for number, (box, top, _) in enumerate(boxes):
        over = (place[:, 0] >= box[0]) & (place[:, 0] <= box[2])
        over &= (place[:, 1] >= box[1]) & (place[:, 1] <= box[3])
        clear = np.where(over, height - top, np.inf)
        what = np.where(clear < low, number, what)
        low = np.minimum(low, clear)
    worst = int(np.argmin(low))
    if not low[worst] < 0.0:
        return []
    first = int(np.argmax(low < 0.0))
    words = (
        f"The {hose.name} hangs down on {boxes[int(what[first])][2]}: it may drag over it or catch"
        f" ({-low[worst]:.0f} mm too low, if it hangs like a chain; a stiff hose stands higher)"
    )
    measure = (float(-low[worst]), 0.0, "mm")
    suffix = f"-{hose.name.replace(' ', '-')}"
    return [
        at_segment(facts, first, "hose drags", "caution", words, measure, (), suffix)
    ]  # fmt: skip


def _length_words(length: Known) -> str:
    low, high = length.interval()
    return f"{low:.0f} to {high:.0f} mm" if high > low else f"{length.value:.0f} mm"
