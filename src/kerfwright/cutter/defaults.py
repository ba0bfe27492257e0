"""What a description of a cutter leaves out, filled with ranges that are said.

None of these ranges is from a publication: they are common practice, no source, and each is
listed so that the person can see which one to measure.
"""

from collections.abc import Mapping
from dataclasses import replace
from math import cos, degrees, pi, radians, sin, tan
from typing import Literal

from kerfwright.basics import Known
from kerfwright.cutter.cutter import ANGLED, CORNERED, Cutter, CutterError, Shape
from kerfwright.cutter.outlines import Corners, dovetail, round_over, t_slot

PRACTICE = "common practice, no source"
#: Spread of a diameter that was stated without one.
DIAMETER_U_MM = 0.02


def complete(
    *,
    name: str,
    shape: Shape,
    given: Mapping[str, Known],
    material: Literal["carbide", "hss"] | None,
    corners_mm: Corners = (),
    centre_cutting: bool | None = None,
) -> Cutter:
    """A whole cutter from what was said of it.

    Parameters
    ----------
    name : str
        As it stands in the rack.
    shape : str
        One of ``Shape``.
    given : mapping
        Field name of ``Cutter``, or one of ``OF_OUTLINE``, to what is known of it. ``diameter_mm``
        must be there, save for a profile and a round-over; for a V ``included_angle_rad``.
    material : str or None
        None when it was not said: carbide is taken.
    corners_mm : of a profile's outline, from the axis up. [mm]
    centre_cutting : None when it was not said.

    Raises
    ------
    CutterError
        If there can be no such cutter.
    """
    known = dict(given)
    if shape not in ANGLED:
        known.pop("included_angle_rad", None)
    known = {**_own_sizes(shape, known), **known}
    if shape in ("profile", "round-over"):
        known.setdefault("diameter_mm", _width(name, shape, known, corners_mm))
    known["diameter_mm"] = _with_spread(known["diameter_mm"])
    if shape == "profile":
        known.setdefault("flute_length_mm", _of_outline(corners_mm[-1][1]))
    filled = {**_defaults(shape, known), **known}
    known = {field: filled[field] for field in _NAMES if field in filled}
    values = {
        field: value.value
        for field, value in known.items()
        if field != "flutes" and field not in OF_OUTLINE
    }
    words = [f"{name}: {_words(field, value)}" for field, value in known.items() if _unsaid(value)]
    if material is None:
        words.append(f"{name}: carbide ({PRACTICE})")
    return Cutter(
        name=name,
        shape=shape,
        flutes=round(known["flutes"].value),
        material=material or "carbide",
        known=known,
        assumed=tuple(words),
        corners_mm=corners_mm or _corners(name, shape, known),
        centre_cutting=centre_cutting,
        **values,
    )


def _own_sizes(shape: Shape, known: Mapping[str, Known]) -> dict[str, Known]:
    """What only this shape has, as it is usual."""
    wide = known["diameter_mm"].value if "diameter_mm" in known else 0.0
    if shape == "bull":
        ends = (wide / 12.0, wide / 3.0)
        return {"corner_radius_mm": _default(wide / 6.0, ends, "a sixth of the diameter")}
    if shape == "taper":
        ball = min(0.5, wide / 4.0)
        return {
            "tip_radius_mm": _default(ball, (ball / 2.0, 2.0 * ball), "a fine ball"),
            "included_angle_rad": _default(radians(10.0), (radians(4.0), radians(15.0)), ""),
        }
    if shape == "drill":
        about = (radians(90.0), radians(140.0))
        return {"included_angle_rad": _default(radians(118.0), about, "point of a twist drill")}
    if shape == "dovetail":
        return {"lean_rad": _default(radians(14.0), (radians(7.0), radians(14.0)), "")}
    if shape == "t-slot":
        ends = (wide / 3.0, 0.6 * wide)
        return {"neck_mm": _default(wide / 2.0, ends, "half the diameter")}
    if shape == "round-over":
        return {
            "corner_radius_mm": _default(6.35, (3.175, 12.7), "1/4 in"),
            "guide_mm": _default(9.5, (4.0, 12.7), "3/8 in"),
            "guide_length_mm": _default(4.0, (0.0, 6.0), ""),
        }
    return {}


def _width(name: str, shape: Shape, known: Mapping[str, Known], corners_mm: Corners) -> Known:
    """The diameter that follows from an outline."""
    if shape == "round-over":
        guide, corner = known["guide_mm"].value, known["corner_radius_mm"].value
        return _of_outline(guide + 2.0 * corner)
    if not corners_mm:
        raise CutterError(f"cutter {name}: a profile needs the corners of its outline")
    return _of_outline(2.0 * max(radius for radius, _ in corners_mm))


def _of_outline(value_mm: float) -> Known:
    return Known(value=value_mm, kind="estimated", ref="its outline")


def _corners(name: str, shape: Shape, known: Mapping[str, Known]) -> Corners:
    wide, high = known["diameter_mm"].value, known["flute_length_mm"].value
    if shape == "dovetail":
        return dovetail(name, wide, known["lean_rad"].value, high)
    if shape == "t-slot":
        return t_slot(name, wide, high, known["neck_mm"].value)
    if shape == "round-over":
        sizes = ("corner_radius_mm", "guide_mm", "guide_length_mm")
        return round_over(*(known[size].value for size in sizes))
    return ()


def with_stick_out(cutter: Cutter, stick_out: Known) -> Cutter:
    """The same cutter, held shorter or longer in the collet.

    Raises
    ------
    CutterError
        If its flutes, where they are stated, would not fit.
    """
    known = {**cutter.known, "stick_out_mm": stick_out}
    flutes = known.get("flute_length_mm")
    length = cutter.flute_length_mm
    if flutes is not None and flutes.kind == "default":
        length = min(length, stick_out.value)
    return replace(
        cutter,
        stick_out_mm=stick_out.value,
        flute_length_mm=length,
        known=known,
        assumed=tuple(
            words for words in cutter.assumed if not words.startswith(f"{cutter.name}: stick-out ")
        ),
    )


def _defaults(shape: Shape, known: Mapping[str, Known]) -> dict[str, Known]:
    diameter = known["diameter_mm"].value
    out = {
        "flutes": _default(2.0, None, "two flutes"),
        "tip_diameter_mm": _default(0.0, None, "no flat at the tip"),
        "helix_rad": _default(radians(30.0), (radians(20.0), radians(35.0)), "spiral flutes"),
        "rake_rad": _default(radians(10.0), (0.0, radians(20.0)), ""),
        "runout_mm": _default(0.02, (0.01, 0.05), "dial at the cutting part"),
    }
    if shape == "v":
        out["tip_diameter_mm"] = _default(0.1, (0.0, 0.3), "flat at the point, of the diameter")
    if shape == "v" or shape in CORNERED:
        out["helix_rad"] = _default(0.0, None, "straight flutes")
    out["shank_diameter_mm"] = _shank(shape, diameter)
    shank = known.get("shank_diameter_mm", out["shank_diameter_mm"]).value
    out["flute_length_mm"] = _flute_length(shape, known, out)
    flutes = known.get("flute_length_mm", out["flute_length_mm"]).value
    out["stick_out_mm"] = _default(
        flutes + 1.5 * shank, (flutes + shank, flutes + 3.0 * shank), "flutes and 1.5 shanks"
    )
    return out


def _shank(shape: Shape, diameter_mm: float) -> Known:
    if shape in ("v", "taper") or shape in CORNERED:
        return _default(6.0, (3.175, 8.0), "6 mm")
    if diameter_mm <= 3.175:
        return _default(3.175, (3.175, 6.0), "1/8 in or 6 mm")
    if diameter_mm <= 6.0:
        return _default(6.0, (diameter_mm, 8.0), "6 mm")
    return _default(diameter_mm, (6.0, diameter_mm), "as thick as the cutter")


def _flute_length(shape: Shape, known: Mapping[str, Known], out: Mapping[str, Known]) -> Known:
    diameter = known["diameter_mm"].value
    times, about = _TIMES.get(shape, ((4.0, 2.0, 5.0), "four diameters"))
    length, low, high = (many * diameter for many in times)
    if shape == "v":
        tip = known.get("tip_diameter_mm", out["tip_diameter_mm"]).value
        slope = tan(known["included_angle_rad"].value / 2.0)
        length = low = high = ((diameter - tip) / 2.0) / slope
        about = "height of the V"
    elif shape == "taper":
        lean, ball = known["included_angle_rad"].value / 2.0, known["tip_radius_mm"].value
        length = ball * (1.0 - sin(lean)) + (diameter / 2.0 - ball * cos(lean)) / tan(lean)
        length = low = high = max(length, LIMITS["flute_length_mm"][1])
        about = "to where the taper is as wide as the cutter"
    elif shape == "dovetail":
        most = 0.35 * diameter / tan(known["lean_rad"].value)
        length, low, high = min(length, most), min(low, most), min(high, most)
    elif shape == "round-over":
        length = low = high = known["corner_radius_mm"].value + known["guide_length_mm"].value
        about = "guide and corner"
    if "stick_out_mm" in known:  # the flutes end at the collet at the latest
        reach = known["stick_out_mm"].value
        length, low, high = min(length, reach), min(low, reach), min(high, reach)
    return _default(length, None if low == high else (low, high), about)


#: Flute length in diameters, its least and its most: common practice, no source.
_TIMES: dict[Shape, tuple[tuple[float, float, float], str]] = {
    "drill": ((8.0, 5.0, 12.0), "eight diameters"),
    "dovetail": ((1.0, 0.7, 1.2), "one diameter"),
    "t-slot": ((1.0 / 3.0, 0.25, 0.5), "a third of the diameter"),
}


def _default(value: float, ends: tuple[float, float] | None, about: str) -> Known:
    ref = f"{about}: {PRACTICE}" if about else PRACTICE
    if ends is None:
        return Known(value=value, kind="default", ref=ref)
    return Known(value=value, kind="default", ref=ref, low=ends[0], high=ends[1])


def _with_spread(diameter: Known) -> Known:
    if diameter.u is not None or diameter.low is not None:
        return diameter
    return Known(
        value=diameter.value,
        kind=diameter.kind,
        ref=f"{diameter.ref}; its spread is {PRACTICE}",
        u=DIAMETER_U_MM,
    )


def _unsaid(known: Known) -> bool:
    """Whether a value was filled in and matters: exact zeros are not worth a line."""
    return known.kind == "default" and not (known.value == 0.0 and known.low is None)


def _words(field: str, known: Known) -> str:
    name, unit = _NAMES[field]
    scale = degrees(1.0) if unit == " deg" else 1.0
    words = f"{name} {scale * known.value:.4g}{unit}"
    if known.low is not None and known.high is not None:
        words += f" ({scale * known.low:.4g} to {scale * known.high:.4g})"
    return f"{words}, {known.ref}"


_NAMES = {
    "diameter_mm": ("diameter", " mm"),
    "flutes": ("flutes", ""),
    "flute_length_mm": ("flute length", " mm"),
    "shank_diameter_mm": ("shank", " mm"),
    "stick_out_mm": ("stick-out", " mm"),
    "included_angle_rad": ("angle", " deg"),
    "tip_diameter_mm": ("tip", " mm"),
    "helix_rad": ("helix", " deg"),
    "rake_rad": ("rake", " deg"),
    "runout_mm": ("runout", " mm"),
    "corner_radius_mm": ("corner", " mm"),
    "tip_radius_mm": ("tip radius", " mm"),
    "lean_rad": ("lean", " deg"),
    "neck_mm": ("neck", " mm"),
    "guide_mm": ("guide", " mm"),
    "guide_length_mm": ("guide length", " mm"),
}
#: Sizes from which corners are made; no fields of ``Cutter``.
OF_OUTLINE = ("lean_rad", "neck_mm", "guide_mm", "guide_length_mm")

#: Field of ``Cutter``: dimension, and the least and greatest value that a cutter can have.
LIMITS: dict[str, tuple[str, float, float]] = {
    "diameter_mm": ("length", 0.05, 200.0),
    "flutes": ("number", 1.0, 12.0),
    "flute_length_mm": ("length", 0.05, 300.0),
    "shank_diameter_mm": ("length", 0.5, 60.0),
    "stick_out_mm": ("length", 0.1, 400.0),
    "included_angle_rad": ("angle", radians(1.0), radians(179.0)),
    "tip_diameter_mm": ("length", 0.0, 100.0),
    "helix_rad": ("angle", -0.45 * pi, 0.45 * pi),
    "rake_rad": ("angle", radians(-45.0), radians(60.0)),
    "runout_mm": ("length", 0.0, 2.0),
    "corner_radius_mm": ("length", 0.01, 100.0),
    "tip_radius_mm": ("length", 0.01, 100.0),
    "lean_rad": ("angle", radians(0.5), radians(60.0)),
    "neck_mm": ("length", 0.5, 100.0),
    "guide_mm": ("length", 0.5, 100.0),
    "guide_length_mm": ("length", 0.0, 100.0),
}

#: What each shape has beside its diameter, flutes, reach and runout.
OWN: dict[Shape, tuple[str, ...]] = {
    "flat": (),
    "ball": (),
    "v": ("included_angle_rad", "tip_diameter_mm"),
    "bull": ("corner_radius_mm",),
    "taper": ("included_angle_rad", "tip_radius_mm"),
    "drill": ("included_angle_rad",),
    "profile": (),
    "dovetail": ("lean_rad",),
    "t-slot": ("neck_mm",),
    "round-over": ("corner_radius_mm", "guide_mm", "guide_length_mm"),
}
#: Fields that only some shapes have.
ONLY_SOME = tuple(sorted({field for own in OWN.values() for field in own}))
#: Shapes of which it may be said whether their end cuts as far as the axis.
MAY_PLUNGE: tuple[Shape, ...] = ("flat", "bull", "profile")
