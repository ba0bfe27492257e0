"""The frame and what runs on its rails, made whole."""

import numpy as np

from kerfwright.basics import Known
from kerfwright.machine.beam_section import fill_section
from kerfwright.machine.defaults import PRACTICE
from kerfwright.machine.guides import BEARINGS
from kerfwright.machine.points import as_word, read_points
from kerfwright.machine.taken import Filling

_MOST_WHEELS = 32
#: Wheels nearer to one line than that do not keep their carriage from rolling. [mm]
_IN_ONE_LINE_MM = 1.0


def fill_frame(filling: Filling, beam_axis: str) -> None:
    for key in ("nose_below_beam", "nose_before_beam", "joint_stiffness", "mount_stiffness"):
        filling.value(f"frame.{key}")
    for key in ("pushed_x", "pushed_y", "pushed_z"):
        if f"frame.{key}" in filling.written.values:  # else it is computed
            filling.value(f"frame.{key}")
    one = filling.values[f"axes.{'y' if beam_axis == 'x' else 'x'}.motors"].value < 1.5
    stands = filling.choice("frame.moves") == "table"
    if stands and filling.written.describes("frame.cross_bar"):
        filling.written.error(
            "frame.cross_bar",
            "joins the feet of a gantry that moves, but here the table moves",
            'take this section out, or write moves = "gantry" under [frame]',
        )
    middle = one and not stands and filling.choice("frame.drive_at") == "middle"
    # One screw in the middle has to pull on something; otherwise only what is described is there.
    if middle or filling.written.describes("frame.cross_bar"):
        filling.choice("frame.cross_bar.material")
        for key in ("width", "thickness"):
            filling.value(f"frame.cross_bar.{key}")
    filling.choice("frame.beam.material")
    fill_section(filling)
    for section, keys in (
        ("upright", ("thickness", "width", "height")),
        ("z_plate", ("thickness", "width", "clamped")),
    ):
        filling.choice(f"frame.{section}.material")
        for key in keys:
            filling.value(f"frame.{section}.{key}")
    travel = filling.values[f"axes.{beam_axis}.travel"].value
    why = f"travel of {beam_axis.upper()} and 150 to 300 mm: {PRACTICE}"
    length = filling.derived("frame.beam.length", travel + 150.0, travel + 300.0, why)
    if length.value < travel:
        filling.written.error(
            "frame.beam.length",
            f"the beam is shorter than the travel of {beam_axis.upper()} along it",
            "measure from upright to upright, or correct moves_along in [frame]",
        )
    _fill_rails(filling)


def _fill_rails(filling: Filling) -> None:
    wheel = filling.choice("rails.wheel")
    filling.value("rails.stud_stiffness", wheel)
    if wheel in BEARINGS:
        filling.value("rails.bearing_length")
    else:
        filling.value("rails.preload")
    if wheel == "ball carriage":
        filling.value("rails.bearing_width")
    if wheel == "steel V":
        filling.value("rails.contact_length")
    if wheel == "plastic V":
        filling.value("rails.wheel_radius")


def fill_wheels(filling: Filling, axis: str, role: str) -> None:
    """How many wheels an axis has and where they stand: at four corners, or where it is said."""
    at = f"rails.{axis}"
    text = filling.written.texts.get(f"{at}.places")
    if text is not None:
        _fill_places(filling, axis, role, text)
    for key in ("wheels", "along", "across"):
        filling.value(f"{at}.{key}", role)
    _fill_bars(filling, axis)


def _fill_bars(filling: Filling, axis: str) -> None:
    """Bars that hang between their ends; rails are held along their length otherwise."""
    at, written = f"rails.{axis}", filling.written
    if f"{at}.bar_diameter" not in written.values:
        if f"{at}.bar_length" in written.values:
            written.error(f"{at}.bar_length", "says how long bars are, not how thick",
                          "write bar_diameter as well")  # fmt: skip
        return
    filling.value(f"{at}.bar_diameter")
    least = filling.values[f"axes.{axis}.travel"].value + filling.values[f"{at}.along"].value
    why = f"travel, wheels' spacing and 20 to 150 mm: {PRACTICE}"
    length = filling.derived(f"{at}.bar_length", least + 20.0, least + 150.0, why)
    if length.value < least:
        written.error(
            f"{at}.bar_length",
            "the bars are shorter than the travel and the wheels' spacing along them",
            "measure between the blocks that hold their ends",
        )


def _fill_places(filling: Filling, axis: str, role: str, text: str) -> None:
    at, written = f"rails.{axis}", filling.written
    path = [*at.split("."), "places"]
    places = written.problems.reading(
        path, lambda: read_points(text, "wheels' places", 2, _MOST_WHEELS)
    )
    if places is None:
        return
    for key in ("wheels", "along", "across"):
        if f"{at}.{key}" in written.values:
            written.error(f"{at}.{key}", "says again what places says", "leave one of the two out")
            return
    spread = np.ptp(places, axis=0)
    if spread[0] < _IN_ONE_LINE_MM:
        written.error(
            f"{at}.places", "stand in one line across the rail: the carriage could turn",
            "write them as along,across: the first of each pair along the rail",
        )  # fmt: skip
        return
    if spread[1] < _IN_ONE_LINE_MM and filling.choice("rails.wheel") != "ball carriage":
        written.error(
            f"{at}.places", "stand in one line along the rail: the carriage could roll",
            "give those on the other rail too",
        )  # fmt: skip
        return
    both = 2 if role == "gantry" else 1
    for key, value in (("wheels", both * len(places)), ("along", spread[0]), ("across", spread[1])):
        written.values[f"{at}.{key}"] = Known(
            value=max(float(value), _IN_ONE_LINE_MM), kind="estimated", ref="from places"
        )
    filling.choices[f"{at}.places"] = as_word(places)
