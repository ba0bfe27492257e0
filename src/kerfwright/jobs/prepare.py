"""Compile every kernel once, so that the first real proof need not wait for it.

Half of it is reading and loads, half is cutting, planning and what comes after: each half in a
process of its own, and as long as the other. What wood in spans needs besides is compiled for the
first job that has such wood.
"""

import gc
import subprocess
import sys
import threading
import time
from collections.abc import Callable
from dataclasses import replace

import numpy as np

from kerfwright.basics import Known
from kerfwright.basics.progress import Progress, silent
from kerfwright.cutter import read_cutter
from kerfwright.fixture import Clamp
from kerfwright.kernels import cutting
from kerfwright.kernels.beside import nearest_beside
from kerfwright.kernels.bodies import run_into_box, stand_in_wood
from kerfwright.kernels.cache_folder import is_prepared, mark_prepared
from kerfwright.kernels.engagement import LANE_ROWS, lanes_for, row_length
from kerfwright.kernels.play import play_offsets
from kerfwright.loads import Turning, axis_numbers, compliance_at, edge_law_for, follow_give
from kerfwright.loads.soft import SoftCuts
from kerfwright.machine import MachineModel, load_machine
from kerfwright.program import parse_program
from kerfwright.prove.as_cut import error_map
from kerfwright.prove.cells import cells_for
from kerfwright.prove.chain import Origin, prove
from kerfwright.prove.removal import Remover, Taken
from kerfwright.prove.run_path import Ringing
from kerfwright.prove.sweep import Window, loads_of, tooling, windows
from kerfwright.setup import Setup, setup_from_words
from kerfwright.stock.field import Field
from kerfwright.trajectory import plan
from kerfwright.workshop import demo_folder

STAGE = "preparing for this computer, once"
UNDERCUT_STAGE = "preparing for undercuts, once"

_PROGRAM = b"""G21 G90 G17
T1 M6
S12000 M3
G0 Z2
G1 Z-1 F300
G1 X12 Y9 F900
G2 X4 Y9 I-4 J0
G0 Z2
T2 M6
G1 X6 Y6 Z-1 F600
T3 M6
G1 X9 Y3 Z-1 F600
M2
"""
#: The first sticks out so little that its nut comes into the wood.
_CUTTERS = (
    "1: flat 3 mm, 2 flutes, flute length 0.5 mm, stick-out 0.5 mm",
    "2: ball 3 mm, 2 flutes",
    "3: v 90 deg 6 mm",
)
_CELL_MM = 1.0


def prepare(*, progress: Progress = silent) -> None:
    """Compile what a proof calls, where that was not done yet; it stays in the cache."""
    if is_prepared():
        return
    progress(STAGE, 0.0)
    if not _both_halves(progress):
        prove_little()  # which compiles what is left, or tells what is in the way
    mark_prepared()


def prepare_undercuts(*, progress: Progress = silent) -> None:
    """The same for what else is called where wood stands over a hollow, by whatever cutter."""
    if is_prepared(undercuts=True):
        return
    progress(UNDERCUT_STAGE, 0.0)
    if not _meanwhile(cut_undercut, progress, UNDERCUT_STAGE):
        cut_undercut()  # which tells what is in the way
    mark_prepared(undercuts=True)


def prove_little() -> None:
    """Prove a tiny program with a flat, a ball and a V: it calls what ``prepare`` compiled."""
    machine = _machine()
    setup = _setup(machine)
    height = Known(value=2.0, kind="measured", ref="")
    clamp = Clamp(name="clamp", at_mm=(8.0, 6.0), size_mm=(2.0, 2.0), height_mm=height)
    setup = replace(setup, clamps=(clamp,))
    origin = Origin(version="", code_sha256="", tables_sha256="")
    prove(parse_program(_PROGRAM, "prepare"), setup, machine, origin, cell_mm=_CELL_MM)


def read_and_load() -> None:
    """The one half: reading, and the loads of a cut."""
    machine = _machine()
    setup = _setup(machine)
    parse_program(_PROGRAM, "prepare")
    cutter, window = setup.slots[1], _window()
    lanes = lanes_for(cutter.radius_mm, _CELL_MM)
    taken = Taken(
        group_run=np.arange(2), in_lanes=np.ones(1, np.bool_), entry=np.arange(2),
        volume=np.zeros(1, np.float32), lanes=lanes,
        engagement=np.zeros((1, LANE_ROWS, row_length(lanes)), np.float32),
    )  # fmt: skip
    turning = Turning.of(cutter, machine.spindle, machine.spindle.highest_rev_per_s)
    remover = Remover(Field.of_board(setup.board, _CELL_MM), 1)
    law = edge_law_for(setup.board, cutter)
    touched = remover.field.with_room(np.zeros(1, np.int64))
    error_map(touched, touched, 1.0)
    loads_of(remover, window, taken, cutter, law, turning, *axis_numbers(machine), _CELL_MM)


def cut_and_run() -> None:
    """The other half: a cut, a plan, and what follows on it; what reads is ready by then."""
    machine = _machine()
    setup = _setup(machine)
    cutter, window = setup.slots[1], _window()
    remover = Remover(Field.of_board(setup.board, _CELL_MM), 1)
    remover.take(window.steps, window.follows, 0, cutter, window.group_first)
    soft = SoftCuts(
        group=np.zeros(1, np.int64), side=np.ones(1), heading_rad=np.zeros(1),
        compliance_mm_per_n=np.zeros((1, 3, 3)),
    )  # fmt: skip
    column = np.zeros((1, cutting.COLUMNS))
    follow_give(soft, edge_law_for(setup.board, cutter), cutter, column, remover.in_parts)
    _meet_and_miss(machine, window)
    program = parse_program(_PROGRAM, "prepare")
    path = plan(program, machine)
    ringing = Ringing(path, setup, machine)
    tools = tooling(program, path, setup, machine)
    cells_for(path, tools, setup, None)
    for one in windows(path, tools, setup, _CELL_MM):
        swings = np.empty((one.groups, 3), np.float32)
        ringing.run(one, 0, cutter.stick_out_mm, np.zeros((one.groups, 3)), swings)


def cut_undercut() -> None:
    """A cut that leaves wood above it: outlines differ in numbers alone, and call the same."""
    window = _window()
    remover = Remover(Field.of_board(_setup(_machine()).board, _CELL_MM), 1)
    dovetail = read_cutter("dovetail 14 deg 3 mm, flute length 2 mm")
    remover.take(window.steps, window.follows, 0, dovetail, window.group_first)


def _meet_and_miss(machine: MachineModel, window: Window) -> None:
    """What meets wood and clamps, what lies beside, how far the machine gives and plays."""
    start, end = (np.ascontiguousarray(window.steps[:, part]) for part in (slice(3), slice(3, 6)))
    enters, sunk, aside = np.empty(1), np.empty(1), np.empty((1, 4))
    run_into_box(start, end, np.ones((1, 2)), np.ones(4), 1.0, enters, sunk, aside)
    wood, made = np.zeros((1, 1), np.float32), np.zeros((1, 1), np.int32)
    done, state, deepest = np.zeros(1, np.int64), np.empty(1, np.int64), np.zeros(2)
    stand_in_wood(
        window.steps, done, 1.0, 0.0, _CELL_MM, 0, 0,
        wood, wood, made, wood, wood, made, 0.0, state, deepest,
    )  # fmt: skip
    one = np.zeros(1, np.int64)
    # Two groups: a single one is laid out by rows as well as by columns.
    columns, way = np.ones((cutting.COLUMNS, 2), np.float32).T, np.ones((2, 3), np.float32)
    nearest_beside(columns[:, cutting.X : cutting.Z + 1], way, one, one, 1.0, np.zeros(4))
    compliance_at(machine, np.zeros(1), np.zeros(1), np.zeros(1))
    play_offsets(start, end, np.ones(3), np.ones(3), np.zeros(3), np.zeros((1, 3)))


def _window() -> Window:
    """One step, for which no plan is needed."""
    return Window(
        begin=0, first_step=0, steps=np.array([[4.0, 4.0, -1.0, 4.5, 4.0, -1.0]]),
        segment_of=np.zeros(1, np.int64), follows=np.zeros(1, np.bool_),
        time_s=np.array([[0.0, 0.1]]), velocity=np.ones((1, 3)), acceleration=np.zeros((1, 3)),
        group_first=np.array([0, 1]), goes_on=False,
    )  # fmt: skip


def _both_halves(progress: Progress) -> bool:
    """Whether both halves came to their end."""
    code = f"import gc; gc.disable(); from {__name__} import read_and_load; read_and_load()"
    quiet = subprocess.DEVNULL
    child = subprocess.Popen([sys.executable, "-c", code], stdout=quiet, stderr=quiet)
    try:
        done = _meanwhile(cut_and_run, progress, STAGE, child)
    finally:
        child.kill()
        child.wait()
    return done and child.returncode == 0


def _meanwhile(
    work: Callable[[], None],
    progress: Progress,
    stage: str,
    child: "subprocess.Popen[bytes] | None" = None,
) -> bool:
    """Whether some work came to its end, once it and a child are no longer at it."""
    done = threading.Event()

    def mine() -> None:
        work()
        done.set()

    # Compiling cannot be interrupted; a thread can be left behind when the person stops it.
    thread = threading.Thread(target=mine, daemon=True)
    # The compiler drops little of the many objects that it makes: looking for that takes longer.
    gc.disable()
    thread.start()
    try:
        while thread.is_alive() or (child is not None and child.poll() is None):
            progress(stage, 0.1)
            thread.join(0.1)
            time.sleep(0.02)
    finally:
        gc.freeze()  # nor is it looked for at the end
        gc.enable()
    return done.is_set()


def _machine() -> MachineModel:
    return load_machine(demo_folder() / "machine.toml")


def _setup(machine: MachineModel) -> Setup:
    return setup_from_words("20 x 15 x 6 mm hard maple", _CUTTERS, machine)
