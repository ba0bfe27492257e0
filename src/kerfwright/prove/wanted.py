"""The sizes that the job asks for: as they come from the machine, and later in the house."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from kerfwright.basics import Change, Estimate, Finding, Known, Remedy, Spot
from kerfwright.basics.known import TWO_SIDED_95
from kerfwright.prove.facts import Facts
from kerfwright.prove.likely import CARE
from kerfwright.prove.margins import SEED
from kerfwright.prove.verdict import AsCut, CutOut, Dimension, WantedSize
from kerfwright.setup import Setup
from kerfwright.setup.wanted import DEPTH, Climate, Wanted
from kerfwright.stock import movement_of

FloatArray = NDArray[np.float64]

MISSING = "wanted size not found"
MOST_TOLD = 12
DRAWS = 2000
#: What the same house makes of a board differs by about so much: common practice, no source. [%]
_HOME_U_PERCENT = 0.7
#: A size of the program this near to the wanted one may be the one that is meant.
_LIKE_SHARE, _LIKE_MM = 0.25, 2.0
_BESIDE_MM = 1.0  #: sizes whose distances from the place differ by less are as near
_ALIKE_MM = 1e-3


@dataclass(frozen=True, slots=True, kw_only=True)
class _Judged:
    """A wanted size with the one that was taken for it; ``dimension`` None where there is none."""

    wanted: Wanted
    part: CutOut | None
    dimension: Dimension | None
    told: WantedSize | None


def judge_wanted(
    facts: Facts, ascut: AsCut | None, deep: Mapping[str, Dimension]
) -> tuple[AsCut | None, list[Finding]]:
    """The as-cut part with the wanted sizes judged, and what was found of them.

    ``deep``: depths at the places that are named, by the wanted size's key.
    """
    setup = facts.setup
    if not setup.wanted:
        return ascut, []
    parts = ascut.parts if ascut is not None else ()
    judged = [
        _judge_depth(one, deep.get(one.key), setup)
        if one.measure == DEPTH
        else _judge(one, parts, facts, setup)
        for one in setup.wanted
    ]
    found = [finding for one in judged for finding in _findings(one, parts, setup)][:MOST_TOLD]
    if ascut is not None:
        ascut = replace(ascut, wanted=tuple(one.told for one in judged if one.told is not None))
    return ascut, found


def _judge(wanted: Wanted, parts: tuple[CutOut, ...], facts: Facts, setup: Setup) -> _Judged:
    best: _Judged | None = None
    for part, dimension in _alike(wanted, parts, facts):
        told = _told(wanted, part, dimension, setup)
        if best is None or best.told is None or told.likelihood > best.told.likelihood:
            best = _Judged(wanted=wanted, part=part, dimension=dimension, told=told)
    return best or _Judged(wanted=wanted, part=None, dimension=None, told=None)


def _judge_depth(wanted: Wanted, depth: Dimension | None, setup: Setup) -> _Judged:
    """A depth at its place; it is left open how the thickness of the wood moves."""
    if depth is None:
        return _Judged(wanted=wanted, part=None, dimension=None, told=None)
    whole = CutOut(number=0, inside=0, area_mm2=0.0, middle=depth.spot, dimensions=(depth,))
    told = _told(wanted, whole, depth, replace(setup, climate=None))
    return _Judged(wanted=wanted, part=whole, dimension=depth, told=told)


def _alike(
    wanted: Wanted, parts: tuple[CutOut, ...], facts: Facts
) -> Iterator[tuple[CutOut, Dimension]]:
    """The size that is meant: as near as any to the place, and of these the likest; its twins."""
    pairs = [
        (part, one)
        for part in parts
        for one in part.dimensions
        if wanted.measure in one.name  # "hole 1 across X" is across X as well
    ]
    place = _places(wanted, facts)
    if pairs and place is not None:
        away = np.array([_away_mm(part, one, place) for part, one in pairs])
        pairs = [pairs[k] for k in np.flatnonzero(away <= away.min() + _BESIDE_MM)]
    if not pairs:
        return
    off = np.array([abs(one.programmed_mm - wanted.meant_mm) for _, one in pairs])
    if off.min() > max(_LIKE_SHARE * wanted.meant_mm, _LIKE_MM):
        return
    for k in np.flatnonzero(off <= off.min() + _ALIKE_MM):
        yield pairs[k]


def _places(wanted: Wanted, facts: Facts) -> FloatArray | None:
    """Where the size is to be looked for. (k, 2); None: anywhere."""
    if wanted.near_mm is not None:
        return np.array([wanted.near_mm])
    if not wanted.line:
        return None
    ends = np.flatnonzero(facts.line == wanted.line) + 1
    if not len(ends):
        return None
    point = facts.on_board(facts.trajectory.point_mm)
    return np.asarray(0.5 * (point[ends - 1] + point[ends])[:, :2])


def _away_mm(part: CutOut, one: Dimension, place_mm: FloatArray) -> float:
    """How far the places lie from what a size spans: an outline's box, or round its middle."""
    half = np.full(2, 0.5 * one.programmed_mm)
    ring, across, _ = one.name.partition("across")
    if across:
        sides = {
            other.name: other.programmed_mm for other in part.dimensions if "across" in other.name
        }
        half = np.array(
            [0.5 * sides.get(f"{ring}across {axis}", one.programmed_mm) for axis in "XY"]
        )
    beside = np.abs(place_mm - np.array([one.spot.x_mm, one.spot.y_mm])) - half
    return float(np.hypot(*np.maximum(beside, 0.0).T).min())


def _told(wanted: Wanted, part: CutOut, one: Dimension, setup: Setup) -> WantedSize:
    rng = np.random.default_rng(SEED)
    now = _drawn(one.size, rng)
    later: Estimate | None = None
    chance: float | None = None
    if setup.climate is not None:
        moved = _moved_mm(one, setup, setup.climate, rng)
        middle = one.size.value + float(np.median(moved))
        later = _ends(middle, now + moved)
        if float(moved.std()) > float(now.std()):
            later = replace(later, mostly_from="the moisture of the wood")
        chance = _out(now + moved, wanted)
    return WantedSize(
        name=wanted.name,
        meant_mm=wanted.meant_mm,
        low_mm=wanted.low_mm,
        high_mm=wanted.high_mm,
        part=part.number,
        dimension=one.name,
        programmed_mm=one.programmed_mm,
        size=one.size,
        likelihood=_out(now, wanted),
        later=later,
        later_likelihood=chance,
        spot=one.spot,
    )


def _drawn(size: Estimate, rng: np.random.Generator) -> FloatArray:
    """Sizes as likely as the estimate says: half a normal curve to each side. (DRAWS,)"""
    normal = rng.normal(size=DRAWS)
    below, above = (size.value - size.low, size.high - size.value)
    return np.asarray(size.value + normal * np.where(normal < 0.0, below, above) / TWO_SIDED_95)


def _moved_mm(
    one: Dimension, setup: Setup, climate: Climate, rng: np.random.Generator
) -> FloatArray:
    """How much larger the size is later. (DRAWS,) [mm]"""
    movement = movement_of(setup.board.wood, climate.sawn)

    def draw(known: Known) -> FloatArray:
        if known.low is not None and known.high is not None:
            return rng.uniform(known.low, known.high, DRAWS)
        return rng.normal(known.value, known.u or 0.0, DRAWS)

    gained = draw(climate.later_percent) - draw(climate.now_percent)
    along, across = one.grows_mm
    return np.asarray(gained * (along * draw(movement.along) + across * draw(movement.across)))


def _ends(value: float, many: FloatArray) -> Estimate:
    low, high = np.quantile(many, [0.025, 0.975]).tolist()
    return Estimate(value=value, low=min(low, value), high=max(high, value))


def _out(many: FloatArray, wanted: Wanted) -> float:
    return float(((many < wanted.low_mm) | (many > wanted.high_mm)).mean())


def _findings(one: _Judged, parts: tuple[CutOut, ...], setup: Setup) -> Iterator[Finding]:
    if one.told is None or one.dimension is None:
        yield _missing(one.wanted, parts)
        return
    if one.told.likelihood >= CARE:
        yield _off(one.wanted, one.told)
    elif (one.told.later_likelihood or 0.0) >= CARE and one.told.later is not None:
        yield _moves(one.wanted, one.told, one.dimension, one.told.later, setup)


def _missing(wanted: Wanted, parts: tuple[CutOut, ...]) -> Finding:
    known = [
        f"{size.programmed_mm:.2f}"
        for part in parts
        for size in part.dimensions
        if size.programmed_mm
    ][:6]
    there = f"; what it cuts out measures {', '.join(known)} mm" if known else ""
    at = wanted.near_mm or (0.0, 0.0)
    words = (
        f"There is no floor at {at[0]:.0f}, {at[1]:.0f} mm whose depth could be told for"
        f' "{wanted.name}"'
        if wanted.measure == DEPTH
        else f"The program cuts out nothing of about {wanted.meant_mm:.2f} mm for"
        f' "{wanted.name}"{there}'
    )
    return Finding(
        id=f"wanted-size-not-found-{wanted.key}",
        code=MISSING,
        severity="caution",
        words=words,
        value=Estimate(value=0.0, low=0.0, high=0.0, coverage=1.0),
        limit=0.0,
        unit="",
        spot=Spot(x_mm=at[0], y_mm=at[1], z_mm=0.0),
        remedies=(
            Remedy(
                words=f"Look whether the drawing has {wanted.meant_mm:.2f} mm there, and whether"
                " [[parts]] names the right place; only what is cut right through is measured",
                not_tried="there is nothing of that size to try it on",
            ),
        ),
    )


def _off(wanted: Wanted, told: WantedSize) -> Finding:
    size = told.size
    middle = 0.5 * (wanted.low_mm + wanted.high_mm)
    kind = _kind(size.value, wanted)
    where = f"part {told.part}" if told.part else "what is left of the board"
    if told.dimension == DEPTH:
        where = f"at {told.spot.x_mm:.0f}, {told.spot.y_mm:.0f} mm on the board"
    words = (
        f'The size "{wanted.name}" comes out {size.value:.2f} mm'
        f" ({size.low:.2f} to {size.high:.2f} mm, nineteen times in twenty){kind},"
        f" where {wanted.low_mm:.2f} to {wanted.high_mm:.2f} mm is wanted"
        f" ({where}, {told.dimension})"
    )
    found = _finding(wanted, told, size, words, later=False)
    mm = middle - size.value
    now = _drawn(size, np.random.default_rng(SEED)) + mm
    after = _out(now, wanted)
    remedies = []
    if after < min(CARE, 0.5 * told.likelihood):
        told_after = _ends(middle, now)
        tried = replace(
            found, id=f"{found.id}-tried", severity="note", value=told_after, likelihood=after,
            words="Like that it comes out",
        )  # fmt: skip
        new, way = told.programmed_mm + mm, "larger" if mm > 0.0 else "smaller"
        do = f"Draw it {new:.2f} mm"
        if told.dimension == DEPTH:
            do, way = f"Cut it {new:.2f} mm deep", "deeper" if mm > 0.0 else "shallower"
        change = Change(
            path=f"size of {wanted.name} in the drawing", old=f"{told.programmed_mm:.2f} mm",
            new=f"{new:.2f} mm",
        )  # fmt: skip
        remedies.append(
            Remedy(
                words=f"{do}, {abs(mm):.2f} mm {way}", changes=(change,), tried=tried, more_s=0.0,
            )
        )  # fmt: skip
    else:
        half = 0.5 * (size.high - size.low)
        rules = size.mostly_from or "all of it together"
        remedies.append(
            Remedy(
                words=f"It may be off by {half:.2f} mm either way, which is wider than what is"
                f" wanted; measure first what widens it most: {rules}",
                not_tried="drawn larger or smaller it was, and that alone is not enough",
            )
        )
    return replace(found, remedies=tuple(remedies))


def _moves(
    wanted: Wanted, told: WantedSize, one: Dimension, later: Estimate, setup: Setup
) -> Finding:
    words = (
        f'The size "{wanted.name}" is right when it is cut, but the wood moves: later it measures'
        f" {later.value:.2f} mm ({later.low:.2f} to {later.high:.2f} mm, nineteen times in twenty)"
        f"{_kind(later.value, wanted)}, where {wanted.low_mm:.2f} to {wanted.high_mm:.2f} mm is"
        " wanted"
    )
    found = _finding(wanted, told, later, words, later=True)
    climate = setup.climate
    remedies = []
    if climate is not None:
        # Wood that lay in the house is as moist as the house makes it, give or take a little.
        home = replace(climate.later_percent, low=None, high=None, u=_HOME_U_PERCENT)
        rng = np.random.default_rng(SEED)
        moved = _moved_mm(one, setup, replace(climate, now_percent=home), rng)
        many = _drawn(told.size, rng) + moved
        after = _out(many, wanted)
        if after < 0.8 * (told.later_likelihood or 0.0):
            value = _ends(told.size.value + float(np.median(moved)), many)
            tried = replace(
                found, id=f"{found.id}-tried", severity="note", value=value, likelihood=after,
                words=f"Cut at {home.value:.1f} % it later measures",
            )  # fmt: skip
            change = Change(
                path="climate.wood_now", old=f"{climate.now_percent.value:.1f} %",
                new=f"{home.value:.1f} %",
            )  # fmt: skip
            remedies.append(
                Remedy(
                    words="Let the board lie two weeks or more where the part will live, until a"
                    f" moisture meter reads about {home.value:.1f} %, and cut it then",
                    changes=(change,), tried=tried,
                )
            )  # fmt: skip
    share = abs(one.grows_mm[1]) / max(abs(one.grows_mm[0]) + abs(one.grows_mm[1]), 1e-9)
    turn = " or turn the part so that this size runs along the grain" if share > 0.5 else ""
    wide = later.high - later.low
    remedies.append(
        Remedy(
            words=f"Leave room for {wide:.2f} mm of movement where it joins{turn}",
            not_tried="it is a matter of the drawing",
        )
    )
    return replace(found, remedies=tuple(remedies))


def _kind(value_mm: float, wanted: Wanted) -> str:
    """Proud or shy, and by how much beyond what is right."""
    if value_mm > wanted.high_mm:
        return f", {value_mm - wanted.high_mm:.2f} mm proud"
    if value_mm < wanted.low_mm:
        return f", {wanted.low_mm - value_mm:.2f} mm shy"
    return ""


def _finding(
    wanted: Wanted, told: WantedSize, size: Estimate, words: str, *, later: bool
) -> Finding:
    code = "wood will move" if later else "wanted size off"
    proud = size.value > 0.5 * (wanted.low_mm + wanted.high_mm)
    return Finding(
        id=f"{code.replace(' ', '-')}-{wanted.key}",
        code=code,
        severity="caution",
        words=words,
        value=size,
        limit=wanted.high_mm if proud else wanted.low_mm,
        unit="mm",
        likelihood=told.later_likelihood if later else told.likelihood,
        spot=told.spot,
    )
