"""How low a cutter comes over a block of cells along a run, part by part of it.

For the closed forms see ``removal``.
"""

import numpy as np

from kerfwright.kernels.blocks import FAR, lower_of_both, only_inside, under_ball, under_flat
from kerfwright.kernels.borrowing import BORROWING, INLINED
from kerfwright.kernels.compiling import inner_kernel
from kerfwright.kernels.outline import cone, kappa_of, under_polyline, under_round
from kerfwright.kernels.profile import BALL, FLAT, OUTLINE, ROUND, UNDERCUT, VEE, rise

_f = np.float32
_ZERO, _HALF, _ONE = _f(0.0), _f(0.5), _f(1.0)

# Numbers of one part of a run, float32: where it begins along the run's line and left of it; height
# of the tip there, slope, length; from where along it cells count, and from where they may; its
# lowest tip; what of the slope the outline asks for.
START, ASIDE, TIP, SLOPE, LENGTH, LEAST, BEHIND, DEEPEST, LEAN = range(9)


@inner_kernel(**INLINED)
def number_part(part, follows, x0, y0, ux, uy, goes, shape, radius, far, flank_, out):  # type: ignore[no-untyped-def]
    """Write the numbers of one part, for a run that begins at (x0, y0) towards (ux, uy)."""
    dx, dy = part[3] - part[0], part[4] - part[1]
    x, y = part[0] - x0, part[1] - y0
    out[START], out[ASIDE] = _f(x * ux + y * uy), _f(y * ux - x * uy)
    z, dz = _f(part[2]), _f(part[5] - part[2])
    if goes:
        length = _f(np.sqrt(dx * dx + dy * dy))
        m = dz / length
    else:  # straight down or up: a stamp at the lower end
        length, m = _ZERO, _ZERO
        z = min(z, z + dz)
    lean, least, behind = _ZERO, -FAR, -far
    if shape == BALL:
        lean = m / np.sqrt(_ONE + m * m)
        if follows and goes:
            least = _ZERO
            behind = min(_ZERO, lean * radius)
    else:
        # Seen from below it was lowest there already; what undercuts takes wood above it too.
        if follows and goes and (m == _ZERO or (m > _ZERO and shape != UNDERCUT)):
            least = _ZERO
            behind = _ZERO
        if shape == VEE:
            lean = kappa_of(m, flank_)
    out[TIP], out[SLOPE], out[LENGTH], out[LEAST], out[BEHIND] = z, m, length, least, behind
    out[DEEPEST], out[LEAN] = z + min(_ZERO, m * length), lean


@inner_kernel(inline="always", **BORROWING)
def least_z_of(shape, near_axis, deepest, radius, radius2, flank_, tip, rim, form):  # type: ignore[no-untyped-def]
    """No lower than this is the cutter anywhere so far from its axis."""
    if not near_axis > _ZERO or shape == FLAT:
        return deepest
    if shape == BALL:
        q = radius2 - near_axis * near_axis
        return deepest + radius - np.sqrt(q if q > _ZERO else _ZERO)
    if shape == VEE:
        return deepest + min(max(_ZERO, flank_ * (near_axis - tip)), rim)
    return deepest + _f(rise(min(near_axis, radius), form))


@inner_kernel(**INLINED)
def _under(  # type: ignore[no-untyped-def]
    n, out, taken, scratch, along, across, a0, b0, numbers, near_axis, shape, radius, radius2,
    bottom, outer, flank_, tip, form,
):  # fmt: skip
    """How low the cutter comes over the cells of a block along one part; FAR where it does not."""
    z, m, length = numbers[TIP], numbers[SLOPE], numbers[LENGTH]
    least, lean = numbers[LEAST], numbers[LEAN]
    side = _ONE if m < _ZERO else -_ONE
    if shape == BALL:
        under_ball(n, out, along, across, a0, b0, lean, radius2, z + radius, m, length, least,
                   bottom, outer)  # fmt: skip
    elif shape == FLAT:
        under_flat(n, out, along, across, a0, b0, side, radius2, z, m, length, least, bottom,
                   outer)  # fmt: skip
    elif shape == VEE:
        cone(n, out, along, across, a0, b0, lean, side, radius2, z, m, length, least, bottom,
             outer, flank_, tip)  # fmt: skip
    elif shape == ROUND:
        under_round(n, out, taken, scratch, along, across, a0, b0, radius2, z, m, length, least,
                    bottom, outer, form)  # fmt: skip
    elif shape == OUTLINE:
        under_polyline(n, out, scratch, along, across, a0, b0, near_axis, side, z, m, length,
                       least, bottom, outer, form)  # fmt: skip


@inner_kernel(**INLINED)
def under_parts(  # type: ignore[no-untyped-def]
    n, under, other, taken, scratch, along, across, a0, b0, am, bm, near_axis, numbers_of, parts,
    part_number, first_step, plain, highest, length, shape, radius, radius2, bottom, outer, flank_,
    tip, rim, form, reach, cell, beyond_block2, made,
):  # fmt: skip
    """How low the cutter comes over the cells of a block along a run, and which step made it.

    ``a0``, ``b0``: the block's first cell, from the run's begin along it and left of it; ``am``,
    ``bm``: its middle. Returns how many parts may have met its wood; with none ``under`` is not
    written.
    """
    met = 0
    for p in range(parts):
        numbers = numbers_of[p]
        if parts > 1:
            at = am - numbers[START]
            if at < numbers[BEHIND] - reach:
                continue
            if shape == BALL and p + 1 < parts:
                # What lies so far ahead is cut lower by the next part.
                lean = max(abs(numbers[LEAN]), abs(numbers_of[p + 1, LEAN]))
                ahead = numbers[LENGTH] + lean * radius + _HALF * cell
                if at - reach > ahead:
                    continue
            es = at - min(max(at, _ZERO), numbers[LENGTH])
            distance2 = es * es + bm * bm
            if distance2 > beyond_block2:
                continue
            near_axis = np.sqrt(distance2) - reach
            if plain and near_axis > radius:
                continue
            least_z = least_z_of(shape, near_axis, numbers[DEEPEST], radius,
                               radius2, flank_, tip, rim, form)  # fmt: skip
            if highest <= max(least_z, bottom):
                continue
        _under(n, other if met > 0 else under, taken, scratch, along, across,
               a0 - numbers[START], b0 - numbers[ASIDE], numbers, near_axis,
               shape, radius, radius2, bottom, outer, flank_, tip,
               form)  # fmt: skip
        if parts > 1 and not plain:
            only_inside(n, other if met > 0 else under, along, across, a0, b0,
                        numbers[START], numbers[ASIDE], numbers[LENGTH],
                        length, radius2)  # fmt: skip
        if met > 0:
            lower_of_both(n, under, other, np.int32(first_step + part_number[p]),
                          made)  # fmt: skip
        else:
            for j in range(n):
                made[j] = first_step + part_number[p]
        met += 1
    return met
