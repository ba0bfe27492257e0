"""One pass over the path: wood taken, engagement, loads."""

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from kerfwright.basics.memory import give_back
from kerfwright.basics.progress import Progress, silent
from kerfwright.cutter import Cutter
from kerfwright.kernels import cutting
from kerfwright.kernels.engagement import BINS, ROWS
from kerfwright.kernels.stepping import MOST_IN_GROUP, MOST_IN_SEGMENT, make_steps
from kerfwright.loads import (
    EdgeLaw,
    Turning,
    axis_numbers,
    edge_law_for,
    follow_give,
    soft_cuts,
    whole_compliance,
    work_of,
)
from kerfwright.machine import MachineModel, Spindle
from kerfwright.program import MoveKind, Program
from kerfwright.prove.aside import ahead
from kerfwright.prove.keyframes import Keyframes, Recorder
from kerfwright.prove.removal import TAKEN_AHEAD, Remover, Taken, form_of
from kerfwright.setup import Setup
from kerfwright.stock.field import Field
from kerfwright.trajectory import Trajectory

FloatArray = NDArray[np.float64]

WINDOW = 49_152  #: steps at a time: kernel calls stay short, engagement stays small
GROUP_MM = 1.0
BESIDE_MM = 5.0  #: a path this far beside the board takes nothing, even where the tip gives way
NOT_CUT = -1  #: kind of a segment whose cutter is missing


@dataclass(frozen=True, slots=True, kw_only=True)
class Worst:
    """The tightest group for one limit, with all that its loads were computed from."""

    group: int
    column: FloatArray  #: (COLUMNS,)
    engagement: FloatArray  #: (ROWS, BINS), see ``kernels.engagement``
    velocity: FloatArray  #: (steps, 3) [mm/s]
    acceleration: FloatArray  #: (steps, 3) [mm/s²]
    way_mm: tuple[float, float, float]  #: in plan, down, along the path
    heading_rad: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Swept:
    """What came out of the first pass. Groups are in the order of travel."""

    field: Field
    column: NDArray[np.float32]  #: (g, COLUMNS), see ``kernels.cutting``; positions on the board
    segment: NDArray[np.int32]  #: (g,) first segment of each group
    first_step: NDArray[np.int32]  #: (g,) number of each group's first step
    give_mm: NDArray[np.float32]  #: (g, 3) how far the steady force moves the tip
    motion_mm: NDArray[np.float32]  #: (g, 3) travel in the group
    steps: int
    worst: dict[str, Worst]
    keyframes: Keyframes


@dataclass(frozen=True, slots=True, kw_only=True)
class Tooling:
    """Which cutter turns how fast on each segment of a trajectory."""

    kind: NDArray[np.int32]  #: (n,) rises where cutter or speed change; NOT_CUT
    slot: NDArray[np.int16]  #: (n,)
    rapid: NDArray[np.bool_]  #: (n,)
    spindle_rev_per_s: FloatArray  #: (n,) as it will turn
    commanded_rev_per_s: FloatArray  #: (n,) as the program says, either way round
    backwards: NDArray[np.bool_]  #: (n,) told to turn counter-clockwise, and it will
    missing: tuple[int, ...]  #: slots that the program uses and the set-up lacks
    spindle: Spindle  #: what turns them


def tooling(
    program: Program, trajectory: Trajectory, setup: Setup, machine: MachineModel
) -> Tooling:
    """Match the moves with the cutters of the set-up."""
    slot = program.slot[trajectory.move]
    before_any = setup.in_spindle
    slot[slot == 0] = before_any or 0
    rapid = program.kind[trajectory.move] == MoveKind.RAPID
    told = program.spindle_rev_per_s[trajectory.move].astype(np.float64)
    commanded = np.abs(told)
    spindle = machine.spindle
    turning = np.full(len(slot), 0.5 * (spindle.lowest_rev_per_s + spindle.highest_rev_per_s))
    if spindle.follows_program:
        held = np.clip(commanded, spindle.lowest_rev_per_s, spindle.highest_rev_per_s)
        turning = np.where(commanded > 0.0, held, spindle.highest_rev_per_s)
    present = np.isin(slot, list(setup.slots))
    missing = np.unique(slot[~present]).tolist()
    change = (np.diff(slot) != 0) | (np.diff(turning) != 0.0)
    kind = np.zeros(len(slot), np.int32)
    np.cumsum(change, dtype=np.int32, out=kind[1:])
    kind[~present] = NOT_CUT
    return Tooling(
        kind=kind,
        slot=slot,
        rapid=rapid,
        spindle_rev_per_s=_one_for_all(turning),
        commanded_rev_per_s=_one_for_all(commanded),
        backwards=(told < 0.0) & spindle.follows_program,
        missing=tuple(missing),
        spindle=spindle,
    )


def _one_for_all(values: FloatArray) -> FloatArray:
    """The same values; where all are alike, as in most programs, they take no memory."""
    alike = len(values) > 0 and bool((values == values[0]).all())
    return np.broadcast_to(values[0].copy(), values.shape) if alike else values


@dataclass(frozen=True, slots=True, kw_only=True)
class Window:
    """Steps of one cutter, one after another."""

    begin: int  #: first segment
    first_step: int
    steps: FloatArray
    segment_of: NDArray[np.int64]
    follows: NDArray[np.bool_]
    time_s: FloatArray
    velocity: FloatArray
    acceleration: FloatArray
    group_first: NDArray[np.int64]
    goes_on: bool  #: the next window begins where this one ends, with the same cutter

    @property
    def groups(self) -> int:
        return len(self.group_first) - 1


def windows(
    trajectory: Trajectory, tools: Tooling, setup: Setup, cell_mm: float, *, motion: bool = True
) -> Iterator[Window]:
    """The path in the board's frame, cut into windows of whole groups.

    Without ``motion`` they tell neither velocity nor acceleration.
    """
    step_mm = step_length_mm(cell_mm)
    zero, n = np.array(setup.zero_on_board_mm), len(trajectory.move)
    clear = _clear(trajectory, setup)
    # A segment in the air is one step.
    longest = trajectory.length_mm.max(initial=0.0, where=~clear)
    longest = min(int(np.ceil(longest / step_mm)) + 1, MOST_IN_SEGMENT)
    room = WINDOW + MOST_IN_GROUP + longest
    segment, made_so_far = 0, 0
    ends = np.flatnonzero(np.diff(tools.kind)) + 1
    linked = np.zeros(n + 1, np.bool_)
    linked[1:-1] = (np.diff(tools.slot) == 0) & (tools.kind[1:] != NOT_CUT)
    linked[1:-1] &= tools.kind[:-1] != NOT_CUT
    while segment < n:
        if tools.kind[segment] == NOT_CUT:
            after = ends[np.searchsorted(ends, segment, side="right") :]
            segment = int(after[0]) if len(after) else n
            continue
        steps, time = np.empty((room, 6)), np.empty((room, 2))
        velocity, acceleration = np.empty((2, room if motion else 0, 3))
        segment_of, follows = np.empty(room, np.int64), np.empty(room, np.bool_)
        group_first = np.empty(room + 1, np.int64)
        begin = segment
        # No more segments than it has room for steps, and one on either side: what is made of all
        # of them at once would be large.
        first = max(begin - 1, 0)
        some = slice(first, min(begin + room + 1, n))
        bounds = slice(first, some.stop + 1)
        segment, made, groups = make_steps(
            begin - first, bool(linked[begin]), WINDOW, step_mm, GROUP_MM, clear[some],
            trajectory.point_mm[bounds] + zero, trajectory.units(some), trajectory.length_mm[some],
            trajectory.blend_mm[bounds], trajectory.node[bounds], trajectory.speed2,
            trajectory.node_s, trajectory.cap2_of(some), trajectory.limit_mm_per_s2,
            tools.kind[some], tools.rapid[some], steps, segment_of, follows, time, velocity,
            acceleration, group_first,
        )  # fmt: skip
        segment += first
        segment_of[:made] += first
        yield Window(
            begin=begin, first_step=made_so_far, steps=steps[:made], segment_of=segment_of[:made],
            follows=follows[:made], time_s=time[:made], velocity=velocity[:made],
            acceleration=acceleration[:made], group_first=group_first[: groups + 1],
            goes_on=bool(linked[segment]),
        )  # fmt: skip
        made_so_far += made


def _clear(trajectory: Trajectory, setup: Setup) -> NDArray[np.bool_]:
    """``clear_of_wood`` of a whole path, piece by piece. (n,)"""
    zero, point = np.array(setup.zero_on_board_mm), trajectory.point_mm
    begins = range(0, len(trajectory.move), WINDOW)
    return np.concatenate([clear_of_wood(point[a : a + WINDOW + 1] + zero, setup) for a in begins])


def step_length_mm(cell_mm: float) -> float:
    """How long the steps are that a path below the top of the board is cut into. [mm]"""
    return min(0.5, 2.0 * cell_mm)


def clear_of_wood(point_mm: FloatArray, setup: Setup) -> NDArray[np.bool_]:
    """Which segments stay above the highest wood or beside it. Points in the board's frame. (n,)"""
    reach = max((cutter.radius_mm for cutter in setup.slots.values()), default=0.0) + BESIDE_MM
    board, (x, y, z) = setup.board, point_mm.T
    out = np.zeros(len(point_mm) - 1, np.bool_)
    for beyond in (
        z >= board.highest_mm, x < -reach, x > board.length_mm + reach, y < -reach,
        y > board.width_mm + reach,
    ):  # fmt: skip
        out |= beyond[:-1] & beyond[1:]  # both ends
    return out


def sweep(
    trajectory: Trajectory,
    tools: Tooling,
    setup: Setup,
    machine: MachineModel,
    cell_mm: float,
    threads: int,
    progress: Progress = silent,
) -> Swept:
    """Cut the program as written, and compute every group's loads on the way."""
    recorder = Recorder()
    remover = Remover(Field.of_board(setup.board, cell_mm), threads, recorder=recorder)
    parts = windows(trajectory, tools, setup, cell_mm)
    laws = {slot: edge_law_for(setup.board, cutter) for slot, cutter in setup.slots.items()}
    axes, curves = axis_numbers(machine)
    turnings: dict[tuple[int, float], Turning] = {}
    work, kept = work_of(setup), _Kept()
    columns: list[NDArray[np.float32]] = []
    segments: list[NDArray[np.int32]] = []
    first: list[NDArray[np.int32]] = []
    gives: list[NDArray[np.float32]] = []
    motions: list[NDArray[np.float32]] = []
    steps = groups = 0

    cut = ahead(_taken(parts, remover, recorder, tools, setup), TAKEN_AHEAD)
    try:
        for window, taken in cut:
            progress("cutting in the computer", window.begin / len(trajectory.move))
            slot = int(tools.slot[window.begin])
            cutter, law = setup.slots[slot], laws[slot]
            speed = float(tools.spindle_rev_per_s[window.begin])
            if (slot, speed) not in turnings:
                turnings[slot, speed] = Turning.of(cutter, machine.spindle, speed)
            column, gathered = loads_of(
                remover, window, taken, cutter, law, turnings[slot, speed], axes, curves, cell_mm
            )
            a, b = window.group_first[:-1], window.group_first[1:] - 1
            motion = window.steps[b, 3:] - window.steps[a, :3]
            compliance = whole_compliance(machine, cutter, _in_machine(column, setup), work)
            feed = ~tools.rapid[window.segment_of[a]]
            soft = soft_cuts(law, cutter, column, motion, compliance, feed)
            if len(soft.group):
                follow_give(soft, law, cutter, column, remover.in_parts)
                cutting.pulls_again(
                    soft.group, window.group_first, window.velocity, window.acceleration, axes,
                    curves, column,
                )  # fmt: skip
            force = column[:, cutting.FORCE_X : cutting.FORCE_Z + 1]
            give = np.einsum("nij,nj->ni", compliance, force)
            kept.look_at(window, column, gathered, give, groups)
            groups += window.groups
            columns.append(column.T.astype(np.float32, order="C"))
            segments.append(window.segment_of[a].astype(np.int32))
            first.append((window.first_step + a).astype(np.int32))
            gives.append(give.astype(np.float32))
            motions.append(motion.astype(np.float32))
            steps = window.first_step + len(window.steps)
    finally:
        remover.close()  # before: then what is being cut ahead soon ends
        cut.close()
    field = remover.field
    del remover
    give_back()
    none = np.empty((0, 3), np.float32)
    return Swept(
        field=field,
        # Each figure of all groups in a row: whoever looks at one column reads nothing else.
        column=np.hstack(columns or [np.empty((cutting.COLUMNS, 0), np.float32)]).T,
        segment=np.concatenate(segments or [np.empty(0, np.int32)]),
        first_step=np.concatenate(first or [np.empty(0, np.int32)]),
        give_mm=np.vstack(gives or [none]),
        motion_mm=np.vstack(motions or [none]),
        steps=steps,
        worst=kept.worst,
        keyframes=recorder.keyframes(),
    )


def _taken(
    parts: Iterator[Window], remover: Remover, recorder: Recorder, tools: Tooling, setup: Setup
) -> Iterator[tuple[Window, Taken]]:
    """Windows as they are cut; the loads of one may be asked for while the next is."""
    before = 0
    for window in ahead(parts):
        slot = int(tools.slot[window.begin])
        if before not in (0, slot):
            recorder.change(window.first_step, slot, len(remover.field.place))
        before = slot
        cutter = setup.slots[slot]
        taken = remover.take(
            window.steps, window.follows, window.first_step, cutter, window.group_first
        )
        yield window, taken


def _in_machine(column: FloatArray, setup: Setup) -> FloatArray:
    return np.asarray(column[:, cutting.X : cutting.Z + 1] + np.array(setup.board_at_mm))


def loads_of(
    remover: Remover,
    window: Window,
    taken: Taken,
    cutter: Cutter,
    law: EdgeLaw,
    turning: Turning,
    axes: FloatArray,
    curves: FloatArray,
    cell_mm: float,
) -> tuple[FloatArray, FloatArray]:
    """Columns of a window's groups, and the engagement each was computed from.

    Both are written over for the next window.
    """
    gathered = remover.room.of("gathered", (window.groups, ROWS, BINS))
    column = remover.room.of("column", (window.groups, cutting.COLUMNS))
    form = form_of(cutter)

    def some(first: int, end: int) -> None:
        cutting.group_loads(
            first, end, window.group_first, window.steps, window.time_s, window.velocity,
            window.acceleration, turning.rev_per_s, taken.group_run, taken.in_lanes,
            taken.entry, taken.volume, taken.engagement,
            cell_mm**2, taken.lanes, form, cutter.flutes, law.chip_n_per_mm2, law.edge_n_per_mm,
            law.shares.normal_chip, law.shares.normal_edge, law.shares.axial, axes, curves,
            gathered, column, turning.runout_mm, turning.lag_rad_per_mm, turning.spindle_w,
            turning.droop,
        )  # fmt: skip

    remover.in_parts(window.groups, some)
    return column, gathered


class _Kept:
    """Keeps the tightest group for each limit while the windows go by."""

    def __init__(self) -> None:
        self.worst: dict[str, Worst] = {}
        self._score: dict[str, float] = {}

    def look_at(
        self,
        window: Window,
        column: FloatArray,
        gathered: FloatArray,
        give: FloatArray,
        groups_before: int,
    ) -> None:
        cut = column[:, cutting.TAKEN] > 0.0
        scores = {
            "pull left x": -column[:, cutting.PULL_X],
            "pull left y": -column[:, cutting.PULL_Y],
            "pull left z": -column[:, cutting.PULL_Z],
            "power": np.where(cut, column[:, cutting.POWER], -np.inf),
            "deflection": np.where(cut, np.linalg.norm(give, axis=1), -np.inf),
            "chip thickest": np.where(cut, column[:, cutting.FEED_PER_TOOTH], -np.inf),
        }
        for name, score in scores.items():
            g = int(np.argmax(score))
            if score[g] > self._score.get(name, -np.inf):
                self._score[name] = float(score[g])
                self.worst[name] = _worst(window, g, column, gathered, groups_before)


def _worst(
    window: Window, g: int, column: FloatArray, gathered: FloatArray, groups_before: int
) -> Worst:
    a, b = int(window.group_first[g]), int(window.group_first[g + 1])
    way = window.steps[a:b, 3:] - window.steps[a:b, :3]
    flat = np.hypot(way[:, 0], way[:, 1])
    across = window.steps[b - 1, 3:] - window.steps[a, :3]
    return Worst(
        group=groups_before + g,
        column=column[g].copy(),
        engagement=gathered[g].copy(),
        velocity=window.velocity[a:b].copy(),
        acceleration=window.acceleration[a:b].copy(),
        way_mm=(float(flat.sum()), float(-way[:, 2].sum()), float(np.hypot(flat, way[:, 2]).sum())),
        heading_rad=float(np.arctan2(across[1], across[0])),
    )
