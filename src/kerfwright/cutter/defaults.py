"""What a description of a cutter leaves out, filled with ranges that are said.

None of these ranges is from a publication: they are common practice, no source, and each is
listed so that the person can see which one to measure.
"""

from collections.abc import Mapping
from dataclasses import replace
from math import degrees, pi, radians, tan
from typing import Literal

from kerfwright.basics import Known
from kerfwright.cutter.cutter import Cutter, Shape

PRACTICE = "common practice, no source"
#: Spread of a diameter that was stated without one.
DIAMETER_U_MM = 0.02


def complete(
    *,
    name: str,
    shape: Shape,
    given: Mapping[str, Known],
    material: Literal["carbide", "hss"] | None,
) -> Cutter:
    """A whole cutter from what was said of it.

    Parameters
    ----------
    name : str
        As it stands in the rack.
    shape : str
        ``flat``, ``ball`` or ``v``.
    given : mapping
        Field name of ``Cutter`` to what is known of it; ``diameter_mm`` must be there, and for a
        V ``included_angle_rad``.
    material : str or None
        None when it was not said: carbide is taken.

    Raises
    ------
    CutterError
        If there can be no such cutter.
    """
    known = dict(given)
    known["diameter_mm"] = _with_spread(known["diameter_mm"])
    if shape != "v":
        known.pop("included_angle_rad", None)
    filled = {**_defaults(shape, known), **known}
    known = {field: filled[field] for field in _NAMES if field in filled}
    values = {field: value.value for field, value in known.items() if field != "flutes"}
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
        **values,
    )


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
    if shape == "v":
        return _default(6.0, (3.175, 8.0), "6 mm")
    if diameter_mm <= 3.175:
        return _default(3.175, (3.175, 6.0), "1/8 in or 6 mm")
    if diameter_mm <= 6.0:
        return _default(6.0, (diameter_mm, 8.0), "6 mm")
    return _default(diameter_mm, (6.0, diameter_mm), "as thick as the cutter")


def _flute_length(shape: Shape, known: Mapping[str, Known], out: Mapping[str, Known]) -> Known:
    diameter = known["diameter_mm"].value
    if shape == "v":
        tip = known.get("tip_diameter_mm", out["tip_diameter_mm"]).value
        slope = tan(known["included_angle_rad"].value / 2.0)
        length, low, high = (((diameter - tip) / 2.0) / slope,) * 3
    else:
        length, low, high = 4.0 * diameter, 2.0 * diameter, 5.0 * diameter
    if "stick_out_mm" in known:  # the flutes end at the collet at the latest
        reach = known["stick_out_mm"].value
        length, low, high = min(length, reach), min(low, reach), min(high, reach)
    about = "height of the V" if shape == "v" else "four diameters"
    return _default(length, None if low == high else (low, high), about)


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
}

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
}
