"""What is left open where a cutter undercuts the wood."""

from kerfwright.kernels.undercut import SPANS
from kerfwright.prove.facts import Facts


def undercuts(facts: Facts) -> list[str]:
    """What is not judged of cutters that undercut, in words."""
    out = []
    for slot, cutter in sorted(facts.setup.slots.items()):
        if not cutter.undercuts or not len(facts.groups_of(slot)):
            continue
        out.append(
            f"the flanks and undersides that cutter {slot} ({cutter.name}) leaves: of what it cuts"
            " only the top of the wood is compared with the program"
        )
        if cutter.shank_diameter_mm > 2.0 * cutter.corners_mm[-1][0]:
            out.append(
                f"whether the shank of cutter {slot} ({cutter.name}) clears the wood above its"
                " neck: how long that is is not known"
            )
    lost = int(facts.swept.field.lost.sum())
    if lost:
        out.append(
            f"{lost} times there was more than {SPANS} layers of wood above one another in a cell;"
            " the thinnest gap between two of them was taken as not cut"
        )
    return out
