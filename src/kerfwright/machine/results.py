"""What a machine can do, computed from its model, each figure with its spread."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from math import pi

import numpy as np

from kerfwright.basics import Estimate
from kerfwright.machine.electrics import SupplyResults, supplies_of
from kerfwright.machine.held_board import usual_give_mm_per_n
from kerfwright.machine.limits import damp_opens, screw_buckles_n
from kerfwright.machine.model import AxisModel, FloatArray, MachineModel
from kerfwright.machine.rulers import Rulers
from kerfwright.machine.structure import below
from kerfwright.physics import contact, gantry, inertia, microsteps, steppers

DRAWS = 200
_AT_ONCE = 40  #: machines that are drawn together: whoever waits can stop it between
#: Pushed with about ten pounds-force: what a spring scale and a dial can show. [N]
PUSH_N = 45.0
_ENDS = (2.5, 97.5)


@dataclass(frozen=True, slots=True, kw_only=True)
class Band:
    """A curve with the ends that hold it nineteen times in twenty. All arrays (k,)."""

    value: FloatArray
    low: FloatArray
    high: FloatArray


@dataclass(frozen=True, slots=True, kw_only=True)
class Swings:
    """Where a motor swings and loses pull, by its owner's runs. Speeds of the carriage. [mm/s]"""

    begins: Estimate
    ends: Estimate
    loses: Estimate  #: share of the pull, where it is worst


@dataclass(frozen=True, slots=True, kw_only=True)
class AxisResults:
    """One axis."""

    name: str
    drive: str
    travel: Estimate  #: [mm]
    lead: Estimate  #: one motor turn [mm]
    positions_per_mm: Estimate
    step: Estimate  #: one position [mm]
    usable_step: Estimate  #: least commanded move that surely moves the carriage [mm]
    set_rapid: Estimate  #: as set in the controller [mm/s]
    top_speed: Estimate  #: [mm/s]
    top_ruled_by: Mapping[str, float]  #: "controller", "motor", "whip": share of the draws
    motor_top: Estimate  #: [mm/s]
    whip_speed: Estimate | None  #: carriage speed at which the screw whips [mm/s]
    buckles: Estimate | None  #: thrust at which the screw buckles [N]
    standing_thrust: Estimate  #: pull-out at a crawl, friction and weight paid [N]
    thrust_at_top: Estimate  #: the same at the top speed [N]
    largest_jump: Estimate  #: sudden change of speed that the motors follow [mm/s]
    slip: Estimate  #: what one slip of the motor loses: four full steps [mm]
    skew: Estimate | None  #: of a gantry on two motors when one of them slips once [rad]
    swings: Swings | None  #: None: not tried
    resonance: Estimate  #: of rotor and load on the magnetic spring [Hz]
    stiffness: Estimate  #: drive train [N/mm]
    play: Estimate  #: [mm]
    nut_opens: Estimate | None  #: thrust at which a preloaded nut opens; None: no preload [N]
    holds_at_rest: Estimate | None  #: thrust that the idle current holds; None where the drive may
    #: lock itself and so hold any [N]
    moves: float  #: likelihood that the motor can move its axis at all
    pushed_back: float  #: likelihood that a push on the carriage turns the unpowered drive
    falls: float | None  #: Z: likelihood that it falls by its weight when the power is cut
    speed_mm_per_s: FloatArray  #: (k,) for the curves
    pull: Band  #: pull-out torque of one motor [N mm]
    thrust: Band  #: at the carriage, friction and weight paid, not accelerating [N]
    acceleration: Band  #: possible without cutting [mm/s²]


@dataclass(frozen=True, slots=True, kw_only=True)
class NoseResults:
    """The spindle nose pushed along one axis."""

    name: str
    stiffness: Estimate  #: in the middle of the travel, Z at its lowest [N/mm]
    push: Estimate  #: how far ``PUSH_N`` moves it there [mm]
    softest: Estimate  #: least stiffness anywhere in the travel [N/mm]
    softest_at_mm: tuple[float, float, float]  #: machine X, Y, nose height
    shares: Mapping[str, float]  #: part -> share of the movement in the middle, largest first
    pressed: (
        Estimate | None
    )  #: push at which the first wheel runs free there [N]; None: no V-wheels
    first_free: str  #: the set of wheels where that is
    by_hand: Estimate  #: what a dial on the table shows when a hand pushes with ``PUSH_N`` [mm]
    work: Estimate  #: how far it moves a board of ``held_board.USUAL_MM`` on four screws [mm]
    work_share: float  #: share of that in the movement between cutter and work, but for the cutter


@dataclass(frozen=True, slots=True, kw_only=True)
class MachineResults:
    """The whole machine."""

    axes: tuple[AxisResults, AxisResults, AxisResults]
    nose: tuple[NoseResults, NoseResults, NoseResults]
    spindle_power: Estimate  #: at the highest speed [W]
    damp_grows: Estimate | None  #: damp moves wheels on wooden uprights so far apart [mm]
    damp_follows: Estimate | None  #: and their preload follows so far [mm]
    damp_keeps: Estimate | None  #: share of it that is left once they are so far apart
    supplies: tuple[SupplyResults, ...]
    draws: int
    seed: int


def machine_results(
    machine: MachineModel,
    seed: int,
    draws: int = DRAWS,
    told: Callable[[float], None] = lambda _: None,
) -> MachineResults:
    """Compute everything, with spreads from draws of the machine.

    Parameters
    ----------
    machine : MachineModel
        Its middle values give every ``value``.
    seed, draws : int
        For the spreads: the middle 95 % of the draws.
    told : callable
        Called with the share done, 0 to 1, while the draws are made.
    """
    return results_of(machine, crowd_of(machine, seed, draws, told), seed)


def crowd_of(
    machine: MachineModel, seed: int, draws: int, told: Callable[[float], None] = lambda _: None
) -> tuple[MachineModel, ...]:
    """Machines drawn from what is known of one."""
    return crowd_from(machine, np.random.default_rng(seed), draws, told)


def crowd_from(
    machine: MachineModel,
    rng: np.random.Generator,
    draws: int,
    told: Callable[[float], None] = lambda _: None,
) -> tuple[MachineModel, ...]:
    """``crowd_of`` with random numbers of one's own."""
    crowd: list[MachineModel] = []
    while len(crowd) < draws:
        crowd += machine.drawn(rng, min(_AT_ONCE, draws - len(crowd)))
        told(len(crowd) / draws)
    return tuple(crowd)


def results_of(machine: MachineModel, crowd: Sequence[MachineModel], seed: int) -> MachineResults:
    """``machine_results`` of draws already made."""
    spread = _Spread(machine, crowd)
    x, y, z = (_axis(spread, index) for index in range(3))
    nose = tuple(_nose(spread, index) for index in range(3))
    return MachineResults(
        axes=(x, y, z),
        nose=(nose[0], nose[1], nose[2]),
        spindle_power=spread.of(lambda m: m.spindle.shaft_power_w),
        damp_grows=_damp(spread, 0),
        damp_follows=_damp(spread, 1),
        damp_keeps=_damp(spread, 2),
        supplies=supplies_of(machine, spread.of),
        draws=len(crowd),
        seed=seed,
    )


class _Spread:
    """The machine and its draws, and what rules a figure."""

    def __init__(self, machine: MachineModel, crowd: Sequence[MachineModel]) -> None:
        self.machine, self.crowd = machine, crowd
        self._rulers = Rulers(machine, crowd)

    def of(self, figure: Callable[[MachineModel], float]) -> Estimate:
        """A figure of the machine with the middle 95 % of its draws."""
        many = np.array([figure(m) for m in self.crowd])
        value = float(figure(self.machine))
        low, high = (float(end) for end in np.percentile(many, _ENDS))
        return Estimate(
            value=value,
            low=min(low, value),
            high=max(high, value),
            mostly_from=self._rulers.of(many),
        )

    def band(self, figure: Callable[[MachineModel], FloatArray]) -> Band:
        """The same of a curve."""
        low, high = np.percentile(np.stack([figure(m) for m in self.crowd]), _ENDS, axis=0)
        return Band(value=figure(self.machine), low=low, high=high)

    def share(self, holds: Callable[[MachineModel], bool]) -> float:
        """In what share of the draws something holds."""
        return float(np.mean([holds(m) for m in self.crowd]))


def _axis(spread: _Spread, index: int) -> AxisResults:
    def of(figure: Callable[[AxisModel], float]) -> Estimate:
        return spread.of(lambda m: figure(m.axes[index]))

    axis = spread.machine.axes[index]
    # Past what the motor reaches, so that the curve shows its end, if that is of any use.
    furthest = max(axis.top_speed_mm_per_s, axis.motor_top_mm_per_s)
    speeds = np.linspace(0.0, min(1.25 * furthest, 6.0 * axis.top_speed_mm_per_s), 61)
    ruled = ("controller", "motor", "whip")
    choices = spread.machine.choices
    gantry = choices["frame.moves"] == "gantry" and choices["frame.moves_along"] == axis.name
    pushed_back = spread.share(lambda m: not m.axes[index].locks_itself)
    return AxisResults(
        name=axis.name.upper(),
        drive=axis.drive,
        travel=of(lambda a: a.travel_mm),
        lead=of(lambda a: a.lead_mm),
        positions_per_mm=of(lambda a: a.positions_per_rev / a.lead_mm),
        step=of(lambda a: a.lead_mm / a.positions_per_rev),
        usable_step=of(usable_step_mm),
        set_rapid=of(lambda a: a.set_rapid_mm_per_s),
        top_speed=of(lambda a: a.top_speed_mm_per_s),
        top_ruled_by={
            name: spread.share(lambda m, n=name: top_ruled_by(m.axes[index]) == n)  # type: ignore[misc]
            for name in ruled
        },
        motor_top=of(lambda a: a.motor_top_mm_per_s),
        whip_speed=of(lambda a: a.whip_mm_per_s) if axis.drive == "screw" else None,
        buckles=(
            spread.of(lambda m: screw_buckles_n(m, axis.name)) if axis.drive == "screw" else None
        ),
        standing_thrust=of(lambda a: float(thrust_n(a, 0.0))),
        thrust_at_top=of(lambda a: float(thrust_n(a, a.top_speed_mm_per_s))),
        largest_jump=of(largest_jump_mm_per_s),
        slip=of(lambda a: float(microsteps.slip_mm(a.lead_mm, a.rotor_teeth))),
        skew=spread.of(lambda m: skew_rad(m, index)) if gantry and axis.motors == 2 else None,
        swings=_swings(spread, index),
        resonance=of(resonance_hz),
        stiffness=of(lambda a: a.stiffness_n_per_mm),
        play=of(lambda a: a.play_mm),
        nut_opens=_nut_opens(spread, axis),
        holds_at_rest=of(holds_at_rest_n) if pushed_back == 1.0 else None,
        moves=spread.share(lambda m: moves(m.axes[index])),
        pushed_back=pushed_back,
        falls=spread.share(lambda m: falls(m.z)) if axis.name == "z" else None,
        speed_mm_per_s=speeds,
        pull=spread.band(lambda m: m.axes[index].pull_nmm(speeds)),
        thrust=spread.band(lambda m: thrust_n(m.axes[index], speeds)),
        acceleration=spread.band(lambda m: possible_acceleration(m.axes[index], speeds)),
    )


def _swings(spread: _Spread, index: int) -> Swings | None:
    at = f"axes.{'xyz'[index]}.motor.swings"
    if f"{at}_lose" not in spread.machine.values:
        return None

    def speed(m: MachineModel, end: str) -> float:
        return m.values[f"{at}_{end}"] * m.axes[index].lead_mm

    return Swings(
        begins=spread.of(lambda m: speed(m, "from")),
        ends=spread.of(lambda m: speed(m, "to")),
        loses=spread.of(lambda m: m.values[f"{at}_lose"]),
    )


def _damp(spread: _Spread, which: int) -> Estimate | None:
    if damp_opens(spread.machine) is None:
        return None

    def of(machine: MachineModel) -> tuple[float, float, float]:
        grows, follows = damp_opens(machine) or (0.0, 1.0)
        return grows, follows, max(1.0 - grows / max(follows, 1e-9), 0.0)

    return spread.of(lambda m: of(m)[which])


def _nut_opens(spread: _Spread, axis: AxisModel) -> Estimate | None:
    """Where a preloaded nut opens: at its spring's force, or where the far balls run free."""
    nut = spread.machine.choices.get(f"axes.{axis.name}.screw.nut")
    path = f"axes.{axis.name}.screw.preload"
    if axis.drive != "screw" or nut not in ("anti-backlash", "ball"):
        return None
    if max(m.values[path] for m in (spread.machine, *spread.crowd)) <= 0.0:
        return None
    times = float(contact.unloading_force_n(1.0, 1.5)) if nut == "ball" else 1.0
    return spread.of(lambda m: times * m.values[path])


def _nose(spread: _Spread, index: int) -> NoseResults:
    def stiffness(machine: MachineModel) -> FloatArray:
        own: FloatArray = machine.compliance_mm_per_n[..., index, index]
        return 1.0 / own

    machine = spread.machine
    whole = stiffness(machine)
    middle = (whole.shape[0] // 2, whole.shape[1] // 2, 0)
    at = np.unravel_index(int(np.argmin(np.round(whole, 6))), whole.shape)  # ties: the first
    where = [float(grid[i]) for grid, i in zip(machine.compliance_at_mm, at, strict=True)]
    wheels = bool(np.isfinite(machine.wheel_unloads_n))
    shares = {name: float(s[(*middle, index)]) for name, s in machine.compliance_shares.items()}
    return NoseResults(
        name="XYZ"[index],
        stiffness=spread.of(lambda m: float(stiffness(m)[middle])),
        push=spread.of(lambda m: PUSH_N / float(stiffness(m)[middle])),
        softest=spread.of(lambda m: float(stiffness(m).min())),
        softest_at_mm=(where[0], where[1], where[2]),
        shares=dict(sorted(shares.items(), key=lambda item: -item[1])),
        pressed=spread.of(lambda m: free_push_n(m, (*middle, index))[0]) if wheels else None,
        first_free=free_push_n(machine, (*middle, index))[1] if wheels else "",
        by_hand=spread.of(lambda m: by_hand_mm(m, index)),
        work=_work(index),
        work_share=_work(index).value / (_work(index).value + PUSH_N / float(whole[middle])),
    )


def _work(index: int) -> Estimate:
    ends = (PUSH_N * float(usual_give_mm_per_n(share)[index]) for share in (0.5, 1.0, 0.0))
    value, low, high = ends
    return Estimate(value=value, low=low, high=high, mostly_from="what holds the board")


def by_hand_mm(machine: MachineModel, index: int) -> float:
    """What a dial on the table reads in the middle, Z down, while a hand pushes the nose. [mm]

    With ``PUSH_N`` along X, Y or Z. What lies on the work's side does not feel it.
    """
    own = machine.compliance_mm_per_n[..., index, index]
    middle = (own.shape[0] // 2, own.shape[1] // 2, 0)
    hidden = below(machine.choices)
    felt = sum(
        float(share[(*middle, index)])
        for name, share in machine.compliance_shares.items()
        if name not in hidden
    )
    return PUSH_N * float(own[middle]) * felt


def thrust_n(axis: AxisModel, speed_mm_per_s: FloatArray | float) -> FloatArray:
    """Thrust at the carriage before the motors lose steps, speed held, upwards on Z. [N]

    Friction, drag and weight are paid; 0 where the motors cannot even do that.
    """
    spare = axis.motors * axis.pull_nmm(speed_mm_per_s) - axis.drag_torque_nmm
    thrust = spare / axis.raising_mm - axis.friction_n - axis.weight_n
    return np.asarray(np.maximum(thrust, 0.0))


def possible_acceleration(
    axis: AxisModel, speed_mm_per_s: FloatArray | float, kept: float = 0.0
) -> FloatArray:
    """Acceleration at a speed that takes the motors' pull but a share ``kept``, without cutting.

    [mm/s²] Upwards on Z; 0 where the motors cannot even keep the speed. Braking is easier, as
    friction helps.
    """
    steady = axis.demand_nmm(0.0, 1e-9, 0.0)
    through = axis.raising_mm * inertia.inertia_force_n(axis.mass_kg, 1.0) / axis.motors
    turning = inertia.inertia_torque_nmm(axis.inertia_kg_mm2, 2.0 * pi / axis.lead_mm)
    spare = (1.0 - kept) * axis.pull_nmm(speed_mm_per_s) - steady
    return np.asarray(np.maximum(spare, 0.0) / (through + turning))


def free_push_n(machine: MachineModel, at: tuple[int, ...]) -> tuple[float, str]:
    """Push at the nose that takes the preload off a first wheel, and its set. [N]

    ``at`` is a place of the compliance grid and the direction of the push. From there on the frame
    is softer than its compliance says.
    """
    loads = {name: float(load[at]) for name, load in machine.wheel_loads.items()}
    first = max(loads, key=lambda name: loads[name])
    return machine.wheel_unloads_n / loads[first], first


def usable_step_mm(axis: AxisModel) -> float:
    """Least commanded move that surely turns a resting drive against its own friction. [mm]

    The greater of one position and the microsteps that friction, drag and weight swallow; a full
    step where the motor cannot move the axis at all.
    """
    load = max(float(axis.demand_nmm(0.0, 1e-9, 0.0)), 0.0)
    count = microsteps.microsteps_to_move(load, axis.holding_torque_nmm, axis.microsteps)
    return min(float(count), axis.microsteps) * axis.lead_mm / axis.positions_per_rev


def moves(axis: AxisModel) -> bool:
    """Whether the motor can move its axis at all, upwards on Z."""
    return float(axis.demand_nmm(0.0, 1e-9, 0.0)) < axis.holding_torque_nmm


def _load_inertia_kg_mm2(axis: AxisModel) -> float:
    """All that one motor turns and moves, at its shaft. [kg mm²]"""
    moved = inertia.reflected_inertia_kg_mm2(axis.mass_kg / axis.motors, axis.lead_mm)
    return axis.inertia_kg_mm2 + float(moved)


def largest_jump_mm_per_s(axis: AxisModel) -> float:
    """Greatest sudden change of speed that the motors follow from rest. [mm/s]"""
    load = float(axis.demand_nmm(0.0, 1e-9, 0.0))
    jump = steppers.largest_speed_jump_rad_per_s(
        load, axis.holding_torque_nmm, _load_inertia_kg_mm2(axis), axis.rotor_teeth
    )
    return float(jump) * axis.lead_mm / (2.0 * pi)


def skew_rad(machine: MachineModel, index: int) -> float:
    """How far a gantry on two motors turns when one of them slips once. [rad]"""
    axis = machine.axes[index]
    slip = microsteps.slip_mm(axis.lead_mm, axis.rotor_teeth)
    return float(gantry.two_motors_yaw_rad(slip, machine.values["frame.beam.length"]))


def resonance_hz(axis: AxisModel) -> float:
    """Rotor and load on the magnetic spring, small swings, friction left out. [Hz]"""
    return float(
        steppers.electrical_resonance_hz(
            axis.holding_torque_nmm, _load_inertia_kg_mm2(axis), axis.rotor_teeth
        )
    )


def top_ruled_by(axis: AxisModel) -> str:
    """What holds the top speed down: "controller", "motor" or "whip"."""
    if axis.top_speed_mm_per_s >= 0.999 * axis.set_rapid_mm_per_s:
        return "controller"
    return "motor" if axis.motor_top_mm_per_s <= axis.top_speed_mm_per_s * 1.001 else "whip"


def holds_at_rest_n(axis: AxisModel) -> float:
    """Thrust on the standing carriage before the idle current lets the drive slip. [N]

    Of a drive that does not lock itself; downwards on Z, whose weight is paid.
    """
    held = axis.motors * axis.idle_share * axis.holding_torque_nmm + axis.drag_torque_nmm
    return max(held / -axis.lowering_mm + axis.friction_n - axis.weight_n, 0.0)


def falls(axis: AxisModel) -> bool:
    """Whether Z's weight turns its unpowered drive.

    The detent torque of the motor, some 2 to 5 % of its holding torque (from memory), is left
    out: it may hold what this says would fall.
    """
    pull = max(axis.weight_n - axis.friction_n, 0.0)
    return -axis.lowering_mm * pull > axis.drag_torque_nmm
