"""The demo's gear pair in birch plywood: outlines of two spur gears, and their program.

Involute teeth by the usual proportions (addendum one module, dedendum 1.25 modules, 20 degrees).
The large gear keeps four bridges; on the small one they were forgotten.
"""

import numpy as np

from program_writer import Writer

MODULE, PRESSURE = 4.0, np.deg2rad(20.0)
TEETH = (16, 10)
MIDDLES = ((44.0, 50.0), (113.0, 50.0))
BACKLASH = 0.2  # taken off the thickness of each tooth
BORE = 8.0
SHEET = 9.0
LEVELS = (-1.6, -3.2, -4.8, -6.4, -8.0, -9.3)
BRIDGE, BRIDGE_LONG = -7.2, 6.0  # height of the tip over a bridge, and how long it is
CUTTER_RADIUS = 1.5
FEED, PLUNGE_FEED, SPEED = 1500, 300, 16000
CLEAR, HIGH = 5.0, 15.0
CHORD = 0.4


def radii(teeth):
    """Root, base, pitch and tip circle of a gear. [mm]"""
    pitch = 0.5 * MODULE * teeth
    return pitch - 1.25 * MODULE, pitch * np.cos(PRESSURE), pitch, pitch + MODULE


def tooth_half_angle(teeth, radius):
    """Half of the angle that a tooth fills at a radius. [rad]"""
    _, base, pitch, _ = radii(teeth)
    turned = np.arccos(np.clip(base / np.maximum(radius, base), -1.0, 1.0))
    half = np.pi / (2.0 * teeth) - 0.5 * BACKLASH / pitch
    return half + (np.tan(PRESSURE) - PRESSURE) - (np.tan(turned) - turned)


def outline(teeth):
    """Places along the outline of one tooth, from the root on its left over the tip. (n, 2)"""
    root, _, _, tip = radii(teeth)
    up = np.linspace(root, tip, 200)
    half = tooth_half_angle(teeth, up)
    flank = np.stack([up * np.sin(half), up * np.cos(half)], axis=1)  # the right one
    over = np.linspace(-half[-1], half[-1], 40)[1:-1]
    top = np.stack([tip * np.sin(over), tip * np.cos(over)], axis=1)
    left = flank * (-1.0, 1.0)
    return np.vstack([left, top, flank[::-1]])


def cutter_path(teeth):
    """Where the middle of the cutter goes round one tooth, seen from the gear's middle. (n, 2)

    The outline moved outwards by the cutter's radius, rounded at the tip's corners, and held at the
    root and at the middle of the space beside the tooth.
    """
    edge = outline(teeth)
    along = np.gradient(edge, axis=0)
    along /= np.hypot(along[:, 0], along[:, 1])[:, None]
    outward = np.stack([-along[:, 1], along[:, 0]], axis=1)
    # At a corner the cutter turns about it.
    turn = np.arctan2(outward[:, 1], outward[:, 0])
    path = []
    for k in range(len(edge) - 1):
        steps = max(2, int(abs(np.angle(np.exp(1j * (turn[k + 1] - turn[k])))) / 0.1) + 2)
        between = turn[k] + np.linspace(0.0, 1.0, steps) * np.angle(
            np.exp(1j * (turn[k + 1] - turn[k]))
        )
        where = edge[k] + np.linspace(0.0, 1.0, steps)[:, None] * (edge[k + 1] - edge[k])
        path.append(where + CUTTER_RADIUS * np.stack([np.cos(between), np.sin(between)], axis=1))
    path = np.vstack(path)
    root = radii(teeth)[0]
    away = np.hypot(path[:, 0], path[:, 1])
    aside = np.abs(np.arctan2(path[:, 0], path[:, 1]))
    path = path[(away >= root + CUTTER_RADIUS) & (aside <= np.pi / teeth)]
    foot = (root + CUTTER_RADIUS) * np.array([np.sin(np.pi / teeth), np.cos(np.pi / teeth)])
    return _thinned(np.vstack([foot * (-1.0, 1.0), path, foot]))


def _thinned(path):
    """Fewer places: at least a chord apart, or where the way bends."""
    kept = [path[0]]
    for place in path[1:-1]:
        if np.hypot(*(place - kept[-1])) >= CHORD:
            kept.append(place)
    return np.array([*kept, path[-1]])


def gear_path(teeth, middle):
    """The whole closed way round a gear, from the foot beside one tooth. (n, 2)"""
    one = cutter_path(teeth)
    parts = []
    for tooth in range(teeth):
        turn = 2.0 * np.pi * tooth / teeth
        spin = np.array([[np.cos(turn), np.sin(turn)], [-np.sin(turn), np.cos(turn)]])
        parts.append(one[:-1] @ spin.T)
    return np.vstack([*parts, parts[0][:1]]) + np.array(middle)


def gear_program() -> bytes:
    """The program, as bytes."""
    out = Writer()
    out.say("(GEAR PAIR, ALDER LANE WORKSHOP - INVENTED)")
    out.say("(ZERO: LEFT FRONT TOP CORNER OF THE SHEET, 150 X 100 X 9 MM BIRCH PLY)")
    out.say("G21 G90 G17 G94 G40 G49 G54")
    out.take_cutter(3, "FLAT 3 MM", SPEED, HIGH)
    for teeth, middle in zip(TEETH, MIDDLES, strict=True):
        out.say(f"(BORE OF THE {teeth})")
        _bore(out, middle)
        out.say(f"(OUTLINE OF THE {teeth})")
        path = gear_path(teeth, middle)
        _round(out, path, bridges_at(path, middle) if teeth == TEETH[0] else ())
    out.say(f"G0 Z{HIGH:g}")
    out.say("M5")
    out.say("G0 X0 Y0")
    out.say("M2")
    return out.text


def _bore(out, middle):
    """Round and round downwards, so that nothing is left in the middle."""
    x, y = middle
    rings = [0.5 * BORE - CUTTER_RADIUS, 0.5 * (0.5 * BORE - CUTTER_RADIUS)]
    out.move("G0", x=x + rings[0], y=y)
    out.move("G0", z=1.0)
    out.move("G1", z=0.1, feed=PLUNGE_FEED)
    for level in LEVELS:
        out.say(f"G3 X{x + rings[0]:.3f} Y{y:.3f} Z{level:g} I{-rings[0]:.3f} J0 F{FEED // 3}")
    for ring in rings:
        out.say(f"G1 X{x + ring:.3f} F{FEED // 2}")
        out.say(f"G3 X{x + ring:.3f} Y{y:.3f} I{-ring:.3f} J0 F{FEED // 2}")
    out.move("G0", z=CLEAR)


def bridges_at(path, middle):
    """The way along the path to the middles of four teeth's tips. [mm]"""
    away = path - np.array(middle)
    tips = [int(np.argmax(away @ way)) for way in np.array([(1, 0), (0, -1), (-1, 0), (0, 1)])]
    return _way(path)[tips]


def _way(path):
    return np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(path, axis=0).T))])


def _round(out, path, bridges):
    """Passes round a closed path; the last ones climb over the bridges at these ways along it."""
    way = _way(path)
    out.move("G0", x=path[0][0], y=path[0][1])
    out.move("G0", z=1.0)
    out.move("G1", z=0.1, feed=PLUNGE_FEED)
    for level in LEVELS:
        for place, since in zip(path, way, strict=True):
            over = any(abs(since - at) < 0.5 * BRIDGE_LONG for at in bridges)
            out.move("G1", x=place[0], y=place[1], z=max(level, BRIDGE) if over else level,
                     feed=FEED if since else PLUNGE_FEED)  # fmt: skip
    out.move("G0", z=CLEAR)
