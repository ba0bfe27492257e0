"""For each code of a finding a program that raises it, and one that only just does not.

Each case is what the fixture ``proved`` takes; a callable ``on`` gets the machine. Lines count from
1; the start in ``conftest`` has three.
"""

from dataclasses import dataclass, field, replace
from types import MappingProxyType

from kerfwright.basics import Known
from kerfwright.fixture import Bed, Clamp, Hose, Metal, SpoilBoard
from kerfwright.setup.hold import FRICTION, USUAL, Grip, Hold, patches
from kerfwright.setup.wanted import Climate, Wanted

OUT = "\nG0 Z5"
SLOT = "G0 Z5\nG0 X20 Y30\nG1 Z-2 F300\nG1 X80 F1500" + OUT  # lines 4 to 8
DEEP = "G0 Z5\nG0 X20 Y30\nG1 Z-{z} F300\nG1 X80 F{f}" + OUT
DOVETAILED = "G0 Z5\nG0 X-10 Y30\nG0 Z-7"
STOUT = "1: flat 6 mm, 2 flutes, flute length 20 mm, stick-out 30 mm"
SLENDER = "1: flat 2 mm, 2 flutes, flute length 20 mm, stick-out 30 mm, shank 3 mm"
SQUARE = "G0 X10 Y10 Z2\nG1 Z-1 F300\nG1 X60 F3600\nY50\nX10\nY10\nG0 Z5"
THIN = "100 x 60 x 6 mm birch ply"


@dataclass(frozen=True, kw_only=True)
class Case:
    """One code: how it comes up, where, and how it is just avoided."""

    raises: dict
    near: dict
    severity: str
    line: int
    patch: dict = field(default_factory=dict)  #: attribute of a module -> value, for both
    patch_raises: dict = field(default_factory=dict)


def case(body, near_body, severity, line, raises=None, near=None, both=None, **patches_):
    both = both or {}
    return Case(
        raises={"body": body, **both, **(raises or {})},
        near={"body": near_body, **both, **(near or {})},
        severity=severity, line=line, **patches_,
    )  # fmt: skip


def with_machine(**parts):
    """A machine with parts replaced, which its draws have too."""

    def make(machine):
        on = replace(machine, **{name: part(machine) for name, part in parts.items()})
        return replace(on, drawn=lambda rng, many: (on,) * many)

    return make


def starved(share):
    def axis(machine):
        return replace(machine.x, curve_torque_nmm=machine.x.curve_torque_nmm * share)

    return with_machine(x=axis)


def spindle(**changes):
    return with_machine(spindle=lambda machine: replace(machine.spindle, **changes))


def controller(**changes):
    return with_machine(controller=lambda machine: replace(machine.controller, **changes))


def softer(factor):
    return with_machine(compliance_mm_per_n=lambda machine: machine.compliance_mm_per_n * factor)


def exactly(setup):
    return replace(setup, zero_u_mm=(0.0, 0.0, 0.0))


def clamped(x):
    height = Known(value=12.0, kind="measured", ref="rule")
    clamp = Clamp(name="left", at_mm=(x, 20.0), size_mm=(20.0, 20.0), height_mm=height, place="c")
    return lambda setup: replace(exactly(setup), clamps=(clamp,))


def held(*grips):
    return lambda setup: replace(setup, hold=Hold(grips=grips, friction=FRICTION, weight_n=1.0))


def screws(*at, holds=None):
    force = USUAL["screw"] if holds is None else Known(value=holds, kind="measured", ref="scale")
    return Grip(kind="screw", at_mm=at, force_n=force)


def cutter_of(**changes):
    """The cutter of slot 1 with some of it replaced."""

    def change(setup):
        cutter = replace(setup.slots[1], **changes)
        return replace(setup, slots=MappingProxyType({**setup.slots, 1: cutter}))

    return change


def kept(setup):
    return replace(setup, z_after_change="kept")


def pocket(depths, x0, x1, y0, y1, across=5.0):
    """Rows along X, one depth after the other; the last depth stays."""
    out = []
    for z in depths:
        out += [f"G0 X{x0} Y{y0}", f"G1 Z{-z} F300", "F1500"]
        x, y = x0, y0
        while True:
            x = x1 if x == x0 else x0
            out.append(f"G1 X{x}")
            if y >= y1:
                break
            y = min(y + across, y1)
            out.append(f"G1 Y{y}")
        out.append("G0 Z5")
    return "\n".join(["G0 Z5", *out])


def bed_with(**parts):
    """A bed, seen from the board's corner: places and anchors are moved to where the table has it.

    The demo's table begins 40 mm left and 35 mm in front of where its travel does.
    """

    def change(setup):
        x, y = setup.board_at_mm[0] + 40.0, setup.board_at_mm[1] + 35.0
        moved = {}
        for key, value in parts.items():
            if key == "metal":
                value = tuple(
                    replace(
                        one, from_mm=(one.from_mm[0] + x, one.from_mm[1] + y),
                        to_mm=(one.to_mm[0] + x, one.to_mm[1] + y),
                    )
                    for one in value
                )  # fmt: skip
            elif key == "hoses":
                value = tuple(
                    replace(h, anchor_mm=(h.anchor_mm[0] + x, h.anchor_mm[1] + y, h.anchor_mm[2]))
                    for h in value
                )
            moved[key] = value
        return replace(setup, bed=Bed(**moved), below_board_mm=1.0)

    return change


def track(y, below=0.0, kind="track"):
    known = Known(value=below, kind="measured", ref="depth gauge")
    return Metal(kind=kind, name="front", from_mm=(-300.0, y), to_mm=(300.0, y), half_width_mm=15.0,
                 below_mm=known)  # fmt: skip


def spoil(thick):
    known = Known(value=thick, kind="measured", ref="caliper")
    return SpoilBoard(thickness_mm=known, least_mm=6.0, skim_mm=0.5)


def hose(length, x=50.0):
    known = Known(value=length, kind="measured", ref="tape")
    return Hose(name="dust hose", anchor_mm=(x, 30.0, 900.0), above_nose_mm=200.0, length_mm=known)


def also(*changes):
    """One change of the set-up after the other."""

    def change(setup):
        for one in changes:
            setup = one(setup)
        return setup

    return change


#: Half a millimetre into what the board lies on.
UNDER = DEEP.format(z=18.5, f=900)
LONG_FLUTES = ("1: flat 6 mm, 2 flutes, flute length 22 mm, stick-out 30 mm",)
NARROW = pocket(range(4, 29, 4), 40.0, 60.0, 25.0, 35.0)
#: As wide as the nut needs around the narrow one, to above where the nut is in the end.
RIM = pocket((4, 8), 31.0, 69.0, 16.0, 44.0)
NUT = {
    "stock": "100 x 60 x 40 mm hard maple",
    "cutters": ("1: flat 6 mm, 2 flutes, flute length 20 mm, shank 6 mm, stick-out 22 mm",),
    "change": exactly,
}
_LINES = ("\n\n\n" + NARROW).splitlines()
NUT_LINE = _LINES.index("G1 Z-24 F300") + 1

TWO = ("1: flat 6 mm, 2 flutes, flute length 20 mm, stick-out 30 mm",
       "2: flat 3 mm, 2 flutes, flute length 12 mm, stick-out 24 mm")  # fmt: skip
CHANGE = SLOT + "\nT2 M6\nS18000 M3\nG0 X20 Y15\nG1 Z-1 F300\nG1 X60 F900" + OUT


def free_square(left_mm):
    """A square cut round in six passes; the last one leaves some of the thickness."""
    turns = [
        f"G1 Z{-z:g} F300\nG1 X60 F1500\nY40\nX20\nY10" for z in (3, 6, 9, 12, 15, 18.2 - left_mm)
    ]
    return "\n".join(["G0 Z5\nG0 X20 Y10", *turns]) + OUT


ALLOWED = {"change": lambda setup: replace(setup, below_board_mm=1.0)}


def wanting(size, off, within, later=7.0):
    """The square measures 34 by 24 mm; wood cut at 7 % lives at another moisture later."""
    moist = [Known(value=one, kind="measured", ref="meter", u=0.2) for one in (7.0, later)]

    def change(setup):
        one = Wanted(name="plug", meant_mm=size + off, low_mm=size + off - within,
                     high_mm=size + off + within)  # fmt: skip
        climate = Climate(now_percent=moist[0], later_percent=moist[1])
        return replace(ALLOWED["change"](setup), wanted=(one,), climate=climate)

    return change


def stairs(step):
    """A long way in steps of one length, each from the end of the last."""
    return "G0 Z5\nG0 X5 Y30\nG1 Z-1 F300\nG91\nF1500\n" + f"G1 X{step}\n" * 240 + "G90" + OUT


LONG = "\n".join(f"G1 X{80 if k % 2 else 20} Y{20 + k % 2 * 0.1:g}" for k in range(12))

CASES = {
    "travel": case("G0 Z5\nG1 X400 F3000", "G0 Z5\nG1 X90 F3000", "stop", 5),
    "table": case(DEEP.format(z=18.3, f=300), DEEP.format(z=18.0, f=300), "stop", 6),
    "rapid through wood": case(
        SLOT.replace("G1 X80 F1500", "G0 X40\nG1 X80 F1500"),
        SLOT.replace("\nG0 Z5", "\nG0 X20\nG0 Z5"),
        "stop", 7,
    ),
    "missing cutter": case(
        "G0 Z5\nT3 M6\nG1 X20 Y20 Z-1 F600" + OUT, "G0 Z5\nT3 M6\nG1 X20 Y20 Z1 F600" + OUT,
        "stop", 6,
    ),
    "change ignored": case(
        CHANGE, SLOT, "stop", 12,
        both={"cutters": TWO, "on": controller(cutter_change="ignores it")},
    ),
    "spindle off": case(
        SLOT, SLOT, "stop", 6, raises={"start": "G21 G90 G17\nT1 M6\n\n"},
    ),
    "spindle backwards": case(
        SLOT, SLOT, "caution", 6, raises={"start": "G21 G90 G17\nT1 M6\nS18000 M4\n"},
    ),
    "flutes too short": case(
        DEEP.format(z=8, f=600), DEEP.format(z=8, f=600), "stop", 7,
        raises={"cutters": (STOUT.replace("length 20", "length 7"),)},
        near={"cutters": (STOUT.replace("length 20", "length 8.5"),)},
    ),
    "clamp in the way": case(
        SLOT.replace("Z5", "Z40"), SLOT.replace("Z5", "Z40"), "stop", 7,
        both={"cutters": (STOUT + ", shank 6 mm",)},
        raises={"change": clamped(82.9)}, near={"change": clamped(83.1)},
    ),
    "wood in the way": case(NARROW, RIM + "\n" + NARROW, "stop", NUT_LINE, both=NUT),
    "pull left": case(SLOT, SLOT, "caution", 5, raises={"on": starved(0.05)}),
    "power": case(
        DEEP.format(z=12, f=2400), DEEP.format(z=12, f=2400), "caution", 7,
        raises={"on": spindle(shaft_power_w=60.0)},
    ),
    "cutter pushed aside": case(
        DEEP.format(z=12, f=1500), DEEP.format(z=2, f=1500), "caution", 7,
        both={
            "cutters": ("1: flat 3 mm, 2 flutes, flute length 14 mm, stick-out 40 mm, shank 3 mm",)
        },
    ),
    "wall off size": case(
        DEEP.format(z=12, f=1500), DEEP.format(z=1, f=1500), "caution", 7,
        both={
            "cutters": ("1: flat 3 mm, 2 flutes, flute length 14 mm, stick-out 40 mm, shank 3 mm",),
            "cell": 0.25,
        },
    ),
    "chip too thin": case(
        SLOT.replace("F1500", "F150"), SLOT.replace("F1500", "F1100"), "caution", 7
    ),
    "chip too thick": case(
        SLOT.replace("F1500", "F3900"), SLOT.replace("F1500", "F1200"), "caution", 7,
        both={"start": "G21 G90 G17\nT1 M6\nS6000 M3\n"},
    ),
    "no wood": case("G0 Z5\nG1 X50 Y20 F900", "G0 Z5\nG0 X50 Y20", "caution", 5),
    "jump of speed": case(
        SQUARE, SQUARE, "caution", 6,
        raises={"on": controller(corner_rule="axis speed step",
                                 corner_speed_step_mm_per_s=(60.0, 60.0, 1.0))},
        near={"on": controller(corner_rule="axis speed step",
                               corner_speed_step_mm_per_s=(2.0, 2.0, 1.0))},
    ),
    "swings": case(SQUARE, SQUARE, "note", 5, raises={"on": softer(200.0)}),
    "cutter may break": case(
        DEEP.format(z=17, f=3000), DEEP.format(z=2, f=900), "caution", 7,
        both={"cutters": (SLENDER,)},
    ),
    "cutter may creep out": case(
        DEEP.format(z=12, f=2400), DEEP.format(z=12, f=2400), "caution", 7,
        near={"cutters": (STOUT + ", helix 0 deg",)},
        patch={"kerfwright.prove.strength.GRIP_N_PER_MM": (0.5, 2.0)},
    ),
    "spindle slows": case(
        DEEP.format(z=10, f=1800), DEEP.format(z=1, f=900), "note", 7,
        both={"on": spindle(kind="hand router", shaft_power_w=250.0)},
    ),
    "units": case(
        "G0 X10 Y10 Z2\nG1 Z-1 F300\nX60 F1800\nY40" + OUT,
        "G0 X10 Y10 Z2\nG1 Z-1 F300\nX60 F1800\nY40" + OUT,
        "caution", 1, raises={"start": "G20 G90 G17\nT1 M6\nS18000 M3\n"},
    ),
    "spindle speed": case(
        SLOT, SLOT, "caution", 3,
        raises={"start": "G21 G90 G17\nT1 M6\nS30000 M3\n"},
        near={"start": "G21 G90 G17\nT1 M6\nS24000 M3\n"},
    ),
    "switch on by hand": case(SLOT, SLOT, "note", 6, raises={"on": spindle(kind="hand router")}),
    "plunge": case(
        DEEP.format(z=3, f=1500),
        "G0 Z5\nG0 X20 Y30\nG1 Z0 F300\nG1 X80 Z-3 F1500\nG1 X20" + OUT,
        "stop", 6, both={"change": cutter_of(centre_cutting=False)},
    ),
    "drill sideways": case(
        SLOT, "G0 Z5\nG0 X20 Y30\nG1 Z-2 F300" + OUT, "stop", 7,
        both={"cutters": ("1: drill 6 mm, 2 flutes, flute length 20 mm, stick-out 30 mm",)},
    ),
    "lift through wood": case(
        f"{DOVETAILED}\nG1 X50 F1500\nG1 Z5 F600", f"{DOVETAILED}\nG1 X115 F1500\nG1 Z5 F600",
        "stop", 8, both={"cutters": ("1: dovetail 14 deg 12 mm, 2 flutes, flute length 8 mm",)},
    ),
    "Z not set again": case(
        CHANGE, CHANGE, "stop", 9, both={"cutters": TWO}, raises={"change": kept},
    ),
    "stands in the wood": case(
        SLOT.replace("G1 X80", "G4 P2\nG1 X80"), SLOT.replace("\nG0 Z5", "\nG0 Z5\nG4 P2"),
        "caution", 7,
    ),
    "rounding adds up": case(stairs(0.333), stairs(0.3), "note", 248),
    "motor in its swinging speeds": case(
        "G0 Z5\nG0 X20 Y30\nG1 Z-2 F300\nF3900\n" + LONG + OUT,
        "G0 Z5\nG0 X20 Y30\nG1 Z-2 F300\nF3000\n" + LONG + OUT,
        "caution", 0, both={"on": starved(0.25)},
    ),
    "cutter gets dull": case(
        SLOT, SLOT, "caution", 7, patch={"kerfwright.prove.wear.DULL_MM": (2e-5, 6e-5)},
        raises={"stock": "100 x 60 x 18 mm MDF"},
        near={"stock": "100 x 60 x 18 mm pine"},
    ),
    "board may slide": case(
        DEEP.format(z=6, f=1500), DEEP.format(z=6, f=1500), "caution", 7,
        raises={"change": held(screws((30.0, 5.0), (70.0, 55.0), holds=15.0))},
        near={"change": held(screws((10.0, 5.0), (90.0, 5.0), (50.0, 55.0)))},
    ),
    "board may lift": case(
        DEEP.format(z=6, f=1500), DEEP.format(z=6, f=1500), "caution", 7,
        raises={"change": held(screws((50.0, 5.0), holds=5.0))},
        near={"change": held(screws((10.0, 5.0), (90.0, 5.0), (50.0, 55.0)))},
    ),
    "sheet rises": case(
        "G0 Z5\nG0 X300 Y200\nG1 Z-3 F300\nG1 X340 F1500" + OUT,
        "G0 Z5\nG0 X300 Y200\nG1 Z-3 F300\nG1 X340 F1500" + OUT,
        "caution", 7,
        both={"stock": "600 x 400 x 4 mm birch ply", "cell": 1.0,
              "cutters": (STOUT + ", helix 35 deg",)},
        raises={"change": held(screws((5.0, 5.0), (595.0, 5.0), (5.0, 395.0), (595.0, 395.0)))},
        near={"change": held(screws((270.0, 160.0), (370.0, 160.0), (320.0, 240.0)))},
    ),
    "part off size": case(
        free_square(0.0), free_square(0.0), "caution", 0,
        both={"cutters": ("1: flat 3 mm, 2 flutes, flute length 20 mm, stick-out 40 mm",)},
        raises={"change": lambda setup: replace(setup, below_board_mm=1.0, tolerance_mm=0.02)},
        near={"change": lambda setup: replace(setup, below_board_mm=1.0, tolerance_mm=2.0)},
    ),
    "metal under the board": case(
        UNDER, UNDER, "stop", 6, both={"cutters": LONG_FLUTES},
        raises={"change": bed_with(metal=(track(40.0),))},
        near={"change": bed_with(metal=(track(48.5), track(40.0, below=0.6)))},
    ),
    "spoil board too thin": case(
        UNDER, UNDER, "caution", 6, both={"cutters": LONG_FLUTES},
        raises={"change": bed_with(spoil_board=spoil(6.4))},
        near={"change": bed_with(spoil_board=spoil(6.6))},
    ),
    "spoil board nearly used up": case(
        UNDER, UNDER, "note", 6, both={"cutters": LONG_FLUTES},
        raises={"change": bed_with(spoil_board=spoil(6.9))},
        near={"change": bed_with(spoil_board=spoil(7.1))},
    ),
    "clamp without a track": case(
        SLOT, SLOT, "caution", 0,
        raises={"change": also(clamped(-18.0), bed_with(metal=(track(102.0),)))},
        near={"change": also(clamped(-18.0), bed_with(metal=(track(98.0),)))},
    ),
    "screw in the wrong place": case(
        SLOT, SLOT, "caution", 0,
        raises={"change": also(held(screws((8.0, 5.0))), bed_with(metal=(track(-10.0),)))},
        near={"change": also(held(screws((8.0, 5.0))), bed_with(metal=(track(-13.0),)))},
    ),
    "hose pulled taut": case(
        SLOT, SLOT, "caution", 6,
        raises={"change": bed_with(hoses=(hose(640.0),))},
        near={"change": bed_with(hoses=(hose(646.0),))},
    ),
    "hose drags": case(
        SLOT, SLOT, "caution", 4,
        raises={"change": bed_with(hoses=(hose(2200.0),))},
        near={"change": bed_with(hoses=(hose(900.0),))},
    ),
    "wanted size off": case(
        free_square(0.0), free_square(0.0), "caution", 0,
        raises={"change": wanting(34.0, 0.3, 0.2)}, near={"change": wanting(34.0, 0.0, 0.6)},
    ),
    "wanted size not found": case(
        free_square(0.0), free_square(0.0), "caution", 0,
        raises={"change": wanting(60.0, 0.0, 0.2)}, near={"change": wanting(36.0, 0.0, 3.0)},
    ),
    "wood will move": case(
        free_square(0.0), free_square(0.0), "caution", 0,
        # 24 mm of maple across the grain, 8 % more water: 24 x 8 x 0.0017 to 0.0035 mm.
        raises={"change": wanting(24.0, 0.0, 0.3, later=15.0)},
        near={"change": wanting(24.0, 0.0, 0.3, later=8.5)},
    ),
    "loose piece": case(free_square(0.0), free_square(0.5), "caution", 35, both=ALLOWED),
}  # fmt: skip

#: Held all over, nothing bends or comes loose.
TAPED = Grip(kind="tape", at_mm=patches(0.0, 0.0, 100.0, 60.0), force_n=USUAL["tape"], whole=True)
