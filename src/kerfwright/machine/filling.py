"""A description made whole: every value given, or taken and said."""

from math import cos, pi

from kerfwright.basics import Known
from kerfwright.machine.defaults import (
    PRACTICE,
    exact,
)
from kerfwright.machine.entries import (
    AXES,
    SECTIONS,
    SWINGS,
    Choice,
    Number,
)
from kerfwright.machine.filling_frame import fill_frame, fill_wheels
from kerfwright.machine.geometry import read_diagonals
from kerfwright.machine.read import Written
from kerfwright.machine.taken import Filling
from kerfwright.machine.threads import FLANK_RAD, screw_by_size

#: Pitch times starts may differ from a lead that was measured by this share.
_LEAD_MISFIT = 0.02
#: As much screw stands beyond the travel at least and at most. [mm]
_BEYOND_TRAVEL_MM = (100.0, 300.0)


def fill(written: Written) -> Filling:
    """Every value and choice that the model needs, given or taken."""
    filling = Filling(written)
    gantry, moving = filling.choice("frame.moves_along"), filling.choice("frame.moves")
    for axis in AXES:
        role = "z" if axis == "z" else moving if axis == gantry else "carriage"
        _fill_axis(filling, axis, role)
    fill_frame(filling, "y" if gantry == "x" else "x")
    _fill_table(filling)
    _fill_spindle(filling)
    _fill_controller(filling)
    _fill_geometry(filling)
    return filling


def _fill_axis(filling: Filling, axis: str, role: str) -> None:
    at = f"axes.{axis}"
    _refuse_other_drives(filling, axis)
    filling.value(f"{at}.travel", axis)
    for key in ("motors", "ratio", "bearing_drag", "other_inertia", "bearing_stiffness"):
        filling.value(f"{at}.{key}")
    for key in ("moving_mass", "guide_friction"):
        filling.value(f"{at}.{key}", role)
    flange = filling.value(f"{at}.motor.flange").value
    size = min(("42", "57", "86"), key=lambda name: abs(float(name) - flange))
    for key in ("holding_torque", "rated_current", "resistance", "inductance", "rotor_inertia"):
        filling.value(f"{at}.motor.{key}", size)
    filling.value(f"{at}.motor.full_steps")
    filling.value(f"{at}.motor.pull_share")
    _fill_swings(filling, f"{at}.motor")
    for key in ("supply", "microsteps", "idle"):
        filling.value(f"{at}.driver.{key}")
    rated = filling.values[f"{at}.motor.rated_current"].value
    why = f"0.7 to 1.0 of the motor's rated current, peak: {PRACTICE}"
    filling.derived(f"{at}.driver.current", 0.7 * rated, rated, why)
    {"screw": _fill_screw, "belt": _fill_belt, "rack": _fill_rack}[filling.choice(f"{at}.drive")](
        filling, axis
    )
    fill_wheels(filling, axis, role)
    for key in ("rapid", "acceleration", "speed_step"):
        filling.value(f"controller.{axis}.{key}", role)
    if f"controller.{axis}.jerk" in filling.written.values:
        filling.value(f"controller.{axis}.jerk")


def _fill_swings(filling: Filling, at: str) -> None:
    """The band of speeds in which the motor swings, where tests have found one or bounded it."""
    *band, tried = (f"{at}.{key}" for key in SWINGS)
    given = filling.written.values
    missing = [path for path in band if path not in given]
    if len(missing) == len(band):
        if tried in given:
            filling.value(tried)
        return
    if missing:
        keys = " and ".join(path.rpartition(".")[2] for path in missing)
        filling.written.error(
            next(path for path in band if path in given),
            f"says how the motor swings, but not {keys}",
            f"write {keys} too, or take this out: the three belong together",
        )
        return
    begins, ends, _ = (filling.value(path) for path in band)
    if begins.value >= ends.value:
        filling.written.error(
            band[1], "the motor would stop swinging before it begins", "exchange the two"
        )
    if tried in given:
        filling.value(tried)


def _refuse_other_drives(filling: Filling, axis: str) -> None:
    drive = filling.choice(f"axes.{axis}.drive")
    for other in ("screw", "belt", "rack"):
        head = f"axes.{axis}.{other}"
        if other != drive and filling.written.describes(head):
            filling.written.error(
                head,
                f"describes a {other}, but {axis.upper()} is driven by a {drive}",
                f'write drive = "{other}" under [axes.{axis}], or take this section out',
            )


def _fill_screw(filling: Filling, axis: str) -> None:
    at = f"axes.{axis}.screw"
    form = filling.choice(f"{at}.form")
    if form == "ball":
        filling.written.choices.setdefault(f"{at}.nut", "ball")
    nut = filling.choice(f"{at}.nut")
    if (form == "ball") != (nut == "ball"):
        filling.written.error(
            f"{at}.nut",
            f'a nut of kind "{nut}" does not run on a thread of form "{form}"',
            'write form = "ball" and nut = "ball" together, or neither',
        )
        nut = "ball" if form == "ball" else "plain"
    _fill_thread(filling, at, form)
    if form == "ball":
        filling.value(f"{at}.efficiency")
    else:
        filling.value(f"{at}.friction", nut)
        _refuse_locking(filling, at, form)
    for key in ("preload", "play", "nut_stiffness"):
        filling.value(f"{at}.{key}", nut)
    filling.choice(f"{at}.material")
    filling.choice(f"{at}.ends")
    travel = filling.values[f"axes.{axis}.travel"].value
    low, high = (travel + beyond for beyond in _BEYOND_TRAVEL_MM)
    filling.derived(f"{at}.free_length", low, high, f"travel and 100 to 300 mm: {PRACTICE}")
    if filling.values[f"{at}.free_length"].value < travel:
        filling.written.error(
            f"{at}.free_length",
            "the screw is shorter between its bearings than the travel",
            "measure from bearing to bearing, or correct the travel",
        )


def _fill_thread(filling: Filling, at: str, form: str) -> None:
    diameter, pitch, root = _of_size(filling, at, form)
    for key, known in (("diameter", diameter), ("pitch", pitch), ("root_diameter", root)):
        if known is not None:
            filling.written.values.setdefault(f"{at}.{key}", known)
    d = filling.derived(f"{at}.diameter", 8.0, 16.0, PRACTICE).value
    p = filling.derived(f"{at}.pitch", 2.0, 3.0, PRACTICE).value
    if p >= d:
        filling.written.error(
            f"{at}.pitch",
            f"a pitch of {p:g} mm does not fit on a screw of {d:g} mm",
            "pitch is from thread to thread; the travel in one turn is the lead",
        )
    shape = {"acme": (d - p - 0.5, d - p), "square": (d - p, d - p), "ball": (0.85 * d, 0.9 * d)}
    low, high = shape.get(form, (d - p - 0.5, d - p - 0.3))
    why = "from diameter and pitch" if form != "ball" else PRACTICE
    filling.derived(f"{at}.root_diameter", max(low, 0.3 * d), max(high, 0.3 * d), why)
    _fill_lead(filling, at, p)


def _refuse_locking(filling: Filling, at: str, form: str) -> None:
    """A thread that no torque turns, at the worst that its ranges allow."""
    high = {key: _high_end(filling.values[f"{at}.{key}"]) for key in ("lead", "friction", "pitch")}
    diameter = filling.values[f"{at}.diameter"]
    low = diameter.value if diameter.low is None else diameter.low
    mean = max(low - high["pitch"] / 2.0, 0.3 * low)
    # Locks where wedge friction times slope reaches 1; a tenth is kept for what draws may do.
    if high["friction"] / cos(FLANK_RAD[form]) * high["lead"] / (pi * mean) >= 0.9:
        filling.written.error(
            f"{at}.friction" if f"{at}.friction" in filling.written.values else f"{at}.lead",
            f"with a friction of up to {high['friction']:.3g} and a lead of up to "
            f"{high['lead']:.4g} mm no torque turns this screw",
            "turn the screw once and measure the lead; friction is seldom above 0.25",
        )


def _high_end(known: Known) -> float:
    if known.high is not None:
        return known.high
    return known.value + 4.0 * (known.u or 0.0)


def _fill_lead(filling: Filling, at: str, pitch_mm: float) -> None:
    lead, starts = (filling.written.values.get(f"{at}.{key}") for key in ("lead", "starts"))
    if lead is None and starts is not None:
        filling.values[f"{at}.lead"] = Known(
            value=pitch_mm * round(starts.value), kind=starts.kind, ref="pitch times starts"
        )
    elif lead is None:
        filling.derived(
            f"{at}.lead",
            pitch_mm,
            5.0 * pitch_mm,
            "one to five starts; turn the screw once and measure how far it moved",
        )
    else:
        filling.values[f"{at}.lead"] = lead
        if starts is not None:
            by_count = pitch_mm * round(starts.value)
            if abs(lead.value / by_count - 1.0) > _LEAD_MISFIT:
                filling.written.error(
                    f"{at}.lead",
                    f"a lead of {lead.value:g} mm does not go with {round(starts.value)} starts of "
                    f"{pitch_mm:g} mm pitch, which make {by_count:g} mm",
                    "turn the screw once and measure how far the nut moved: that is the lead",
                )
    if starts is not None:
        filling.values[f"{at}.starts"] = starts


def _of_size(
    filling: Filling, at: str, form: str
) -> tuple[Known | None, Known | None, Known | None]:
    """Diameter, pitch and core of a screw named by its size."""
    size = filling.written.texts.get(f"{at}.size")
    if size is None:
        return None, None, None
    known = screw_by_size(size, form)
    if known is None:
        filling.written.error(
            f"{at}.size",
            f'"{size[:40]}" is no size of form "{form}" that this Kerfwright knows',
            'write it like "1/2-10" (Acme) or "Tr12x3" (trapezoidal), or give diameter and pitch',
        )
        return None, None, None
    return known


def _fill_belt(filling: Filling, axis: str) -> None:
    at = f"axes.{axis}.belt"
    filling.choice(f"{at}.arrangement")
    for key in ("pitch", "teeth", "width", "specific_stiffness", "efficiency", "play"):
        filling.value(f"{at}.{key}")
    travel = filling.values[f"axes.{axis}.travel"].value
    low, high = (travel + beyond for beyond in _BEYOND_TRAVEL_MM)
    filling.derived(f"{at}.length", low, high, f"travel and 100 to 300 mm: {PRACTICE}")


def _fill_rack(filling: Filling, axis: str) -> None:
    for key in ("module", "teeth", "mesh_stiffness", "efficiency", "play"):
        filling.value(f"axes.{axis}.rack.{key}")


def _fill_table(filling: Filling) -> None:
    for key, axis, edge in (("width", "x", "left"), ("depth", "y", "front")):
        travel = filling.values[f"axes.{axis}.travel"].value
        filling.derived(f"table.{key}", travel, travel, f"as long as the travel of {axis.upper()}")
        filling.derived(f"table.{edge}", 0.0, 0.0, f"where the travel of {axis.upper()} begins")
    filling.value("table.spoil_board")
    z = filling.values["axes.z.travel"].value
    filling.derived("table.nose_height", z, z + 40.0, f"travel of Z and up to 40 mm: {PRACTICE}")
    _fill_supports(filling)
    if "table.stiffness" in filling.written.values:
        filling.values["table.stiffness"] = filling.written.values["table.stiffness"]
        return
    filling.choice("table.material")
    for key in ("skin", "core", "ribs_apart", "rib"):
        filling.value(f"table.{key}")


def _fill_supports(filling: Filling) -> None:
    """What the table stands on: joints, or wheels where it moves."""
    if filling.choice("frame.moves") == "table":
        across = filling.values[f"rails.{filling.choice('frame.moves_along')}.across"]
        low, high = (across.value if end is None else end for end in (across.low, across.high))
        why = "as far apart as its rails"
    else:
        for key in ("joints", "joint_stiffness"):
            filling.value(f"table.{key}")
        width = filling.values["table.width"].value
        low, high, why = 0.6 * width, width, f"0.6 to 1.0 of the table's width: {PRACTICE}"
    filling.derived("table.between_supports", low, high, why)


def _fill_spindle(filling: Filling) -> None:
    kind = filling.choice("spindle.kind")
    given = filling.written.values
    if kind == "hand router" and "spindle.power" not in given:
        if "spindle.input_current" in given and "spindle.input_voltage" in given:
            for key in ("input_current", "input_voltage", "efficiency"):
                filling.value(f"spindle.{key}")
        else:
            filling.value("spindle.power")
    else:
        filling.value("spindle.power")
    for key in ("nut_diameter", "nut_height", "nose_diameter"):
        filling.value(f"spindle.{key}")
    if "spindle.boot_diameter" in given:  # else there is none
        filling.value("spindle.boot_diameter")
        filling.value("spindle.boot_below_nut")
    dial = filling.written.lists.get("spindle.dial")
    if dial is not None:
        given.setdefault("spindle.lowest", exact(dial[0], "lowest of the dial"))
        given.setdefault("spindle.highest", exact(dial[-1], "highest of the dial"))
    low, high = (filling.value(f"spindle.{key}", kind) for key in ("lowest", "highest"))
    if low.value > high.value:
        filling.written.error(
            "spindle.lowest", "the lowest speed is above the highest", "exchange the two"
        )


_NO_LIMIT = ("default_units", "longest_line", "lines_ahead", "lines_per_second", "usual_feed")


def _fill_controller(filling: Filling) -> None:
    for key, entry in SECTIONS["controller"].items():
        path = f"controller.{key}"
        if key in _NO_LIMIT:  # not said: none, and nothing stands for it
            written = filling.written
            if path in written.choices:
                filling.choice(path)
            elif path in written.values:
                filling.value(path)
        elif isinstance(entry, Choice):
            filling.choice(path)
        elif (
            key != "path_tolerance"
            or path in filling.written.values
            or filling.choice("controller.corners") == "path tolerance"
        ):
            filling.value(path)


def _fill_geometry(filling: Filling) -> None:
    filling.value("frame.damping")
    written = filling.written
    text = written.texts.get("geometry.diagonals")
    if text is not None:
        path = ["geometry", "diagonals"]
        by_diagonals = written.problems.reading(path, lambda: read_diagonals(text))
        if "geometry.square_xy" in written.values:
            written.error(
                "geometry.diagonals",
                "squareness of Y to X stands there twice: as square_xy and as diagonals",
                "leave one of the two out",
            )
        elif by_diagonals is not None:
            written.values["geometry.square_xy"] = by_diagonals
    for key, entry in SECTIONS["geometry"].items():
        if isinstance(entry, Number):
            axis = key.removeprefix("scale_")
            kind = filling.choice(f"axes.{axis}.drive") if axis in AXES else ""
            filling.value(f"geometry.{key}", kind)
