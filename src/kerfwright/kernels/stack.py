"""Shares a lane out between the bins where the cutter comes in again further up: disc by disc.

What lies below a cutter hides nothing of a dovetail's side: at each height it is a disc as wide as
its outline there. tests/kernels/test_parts_and_ramps.py holds it against integrals over the discs.
"""

from kerfwright.kernels.borrowing import BORROWING
from kerfwright.kernels.compiling import inner_kernel
from kerfwright.kernels.engagement import BINS, COS_EDGES, EDGES, FAR, SIN_EDGES, put
from kerfwright.kernels.profile import CORNERS, FORM_NUMBERS, UNDERSIDE, WHOLE

_PARTS = 4  #: of a lane


@inner_kernel(**BORROWING)
def comes_in(form):  # type: ignore[no-untyped-def]
    """Whether an outline comes in again further up, as that of a dovetail does."""
    if form.shape[0] <= FORM_NUMBERS:
        return False
    corners = form[CORNERS + 2 * int(form[UNDERSIDE]) :]
    narrows = False
    for i in range(1, int(form[WHOLE])):
        narrows = narrows or corners[2 * i] < corners[2 * i - 2]
    return narrows


@inner_kernel(**BORROWING)
def spread_stack(  # type: ignore[no-untyped-def]
    b, wide, lo, hi, taken, side, first, ca_left, sa_left, ca_right, sa_right, form, out
):
    """Share a lane out on a level way where the cutter is a stack of discs, each as wide as it is.

    At the height z the rim stands over a place b beside the axis at the angle asin(b / r(z)), if
    the cutter is that wide there; all such heights from the lowest wood to the highest are taken to
    be wood. Returns whether there are any.
    """
    corners = form[CORNERS + 2 * int(form[UNDERSIDE]) :]
    last = int(form[WHOLE])
    height = 0.0
    for told in range(2):
        if told == 1 and not height > 0.0:
            return False
        for part in range(_PARTS):
            at = b + ((part + 0.5) / _PARTS - 0.5) * wide
            to = side if at >= 0.0 else -side
            at = abs(at)
            for i in range(last):
                r0, z0 = corners[2 * i], corners[2 * i + 1]
                r1, z1 = r0, FAR  # above the last corner straight up
                if i < last - 1:
                    r1, z1 = corners[2 * i + 2], corners[2 * i + 3]
                p, q = max(z0, lo), min(z1, hi)
                if not q > p:
                    continue
                lean = (r1 - r0) / (z1 - z0)
                rp, rq = r0 + lean * (p - z0), r0 + lean * (q - z0)
                if rp <= at and rq <= at:
                    continue
                if rp <= at:
                    p, rp = p + (at - rp) / lean, at
                elif rq <= at:
                    q, rq = p + (at - rp) / lean, at
                if told == 0:
                    height += q - p
                else:
                    ca, sa = (ca_left, sa_left) if to > 0 else (ca_right, sa_right)
                    _spread_cone(at, p, q, rp, rq, taken / height, to, first, ca, sa, out)
    return True


@inner_kernel(**BORROWING)
def _spread_cone(b, p, q, rp, rq, density, side, first, ca, sa, out):  # type: ignore[no-untyped-def]
    """Wood between the heights p and q, where a rim widens or narrows from rp to rq."""
    narrow, outer = min(rp, rq), max(rp, rq)
    upright = outer - narrow < 1e-9
    for i in range(1, EDGES):
        sine, cosine = SIN_EDGES[i] * ca - COS_EDGES[i] * sa, COS_EDGES[i] * ca + SIN_EDGES[i] * sa
        last = i == EDGES - 1 or cosine <= 1e-9
        inner = narrow if last else max(narrow, b / sine if sine > 1e-12 else FAR)
        if inner >= outer and not (upright and inner <= narrow):
            continue
        low, high = p, q
        if not upright:
            per = (q - p) / (rq - rp)
            low, high = p + per * (inner - rp), p + per * (outer - rp)
            low, high = min(low, high), max(low, high)
        put(out, (first + side * (i - 1)) % BINS, density * (high - low), low, high)
        outer = inner
        if upright or outer <= narrow:
            return
