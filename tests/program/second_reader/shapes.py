"""What moves: straight moves, arcs, probing, the way beside an outline, canned cycles."""

import math

from .lines import Fault, whole

INCH = 25.4
PAIRS = {170: (0, 1, 2), 180: (2, 0, 1), 190: (1, 2, 0)}  # 4.3.6.1: in-plane pair and normal
PLANE_NAMES = {170: "XY", 180: "XZ", 190: "YZ"}
ABOVE_BOTTOM = 0.254  # 3.5.16.4 leaves it open; docs/models/program.md states it
SAME_DIRECTION = 0.01  # rad; App. B leaves it open; the same page states it
STRAIGHT_BACK = 1e-6  # rad; that is taken round the outside
ONE_POINT = 1e-6  # mm; likewise
FARTHEST = 1e7  # mm, and the largest F, S and P; ours, docs/models/program.md
MOST_HOLES = 10_000  # or pecks, on one line; ours
NOWHERE = 1e-7  # mm; a shorter straight move is not listed, as in the comparison
_ROUNDING = 1e-9  # mm; of sums


class Shapes:
    """The words of a line and the motions that they ask for; 3.8, step 20."""

    def __init__(self, machine, line, listed, setup):
        self.m, self.line, self.listed, self.setup = machine, line, listed, setup
        self.words, self.codes, self.actions = line.words, line.codes, line.actions
        self.used = {"f", "s", "t"}
        self.axes = [self.words.get(letter) for letter in "xyz"]
        self.any_axis = any(value is not None for value in self.axes)

    def _add(self, kind, /, **values):
        self.listed.append({"type": kind, **values})

    def _word(self, letter):
        if letter not in self.words:
            raise Fault("word_missing")
        self.used.add(letter)
        return self.words[letter]

    def _not_negative(self, letter):
        if not 0.0 <= self._word(letter) <= FARTHEST:
            raise Fault("range")
        return self.words[letter]

    def _slot(self, letter):
        slot = whole(self._word(letter))
        if not 0 <= slot <= self.m.slots:
            raise Fault("range")
        return slot

    def _turn(self, state=None):
        """The spindle's state; ``orient`` is a stop that shows every time."""
        self.m.turning = state or self.m.turning
        state = self.m.turning if self.m.speed else "stop"
        shown = (state, 0.0 if state == "stop" else self.m.speed)
        if shown != self.m.shown:
            self._add("spindle", state=state, **({} if state == "stop" else {"rpm": self.m.speed}))
        self.m.shown = shown

    def _not_compensated(self):
        if self.m.side:
            raise Fault("crc_forbidden")

    def _named_axes(self):
        self.used |= set("xyz")
        return [(axis, value) for axis, value in enumerate(self.axes) if value is not None]

    # -- step 20: straight moves and arcs

    def _target(self):
        """Absolute mm; 3.5.17 and, with G53, 3.5.12."""
        self.used |= set("xyz")
        m, origin = self.m, self.m.origin
        target = list(m.place)
        if m.side and m.outline:
            target[:2] = m.outline
        for axis, value in enumerate(self.axes):
            if value is None:
                continue
            if self.codes.get(0) == 530:
                target[axis] = value * m.unit
            elif m.absolute:
                target[axis] = value * m.unit + origin[axis] + m.g92[axis]
            else:
                target[axis] += value * m.unit
            if abs(target[axis]) > FARTHEST:
                raise Fault("range")
        return target

    def _straight(self, kind, to, **values):
        if max(map(abs, to)) > FARTHEST:
            raise Fault("range")
        if math.dist(self.m.place, to) > NOWHERE:
            self._add(kind, to=list(to), **values)
        self.m.place = list(to)

    def _cutting(self):
        """How fast, as the entries say it."""
        if self.m.inverse and "f" not in self.words:
            raise Fault("feed_inverse_missing")
        if self.m.feed == 0.0:
            raise Fault("feed_zero")
        return {"time_s": 60.0 / self.m.feed} if self.m.inverse else self._per_minute()

    def _per_minute(self):
        return {"f": self.m.feed * self.m.unit}

    def _motion(self):
        mode = self.mode
        if mode != self.m.motion:
            self.m.cycle = {}
        self.m.motion = mode
        if self.codes.get(0) == 530:
            self._not_compensated()
        if mode >= 810:
            self._canned(mode)
        elif mode == 382:
            self._probe()
        elif mode in (20, 30):
            self._arc(1 if mode == 30 else -1)
        else:
            if not self.any_axis:
                raise Fault("axis_missing")
            kind, fast = ("rapid", {}) if mode == 0 else ("feed", self._cutting())
            target = self._target()
            if self.m.side:
                self._outline_line(kind, target, fast)
            else:
                self._straight(kind, target, **fast)

    def _probe(self):
        self._not_compensated()
        if self.m.inverse:
            raise Fault("probe_inverse_time")
        if not self.any_axis:
            raise Fault("axis_missing")
        fast, target = self._cutting(), self._target()
        if math.dist(target, self.m.place) < 0.254:
            raise Fault("probe_too_close")
        contact = self.setup.get("probe_trip", target)
        if contact is None:
            raise Fault("probe_no_contact")
        self._add("probe", to=target, **fast)
        self.m.place = [float(value) for value in contact]
        for axis in range(3):
            number = self.m.place[axis] - self.m.origin[axis] - self.m.g92[axis]
            self.m.parameters[5061 + axis] = number / self.m.unit

    def _arc(self, turn):
        m = self.m
        a, b, _ = PAIRS[m.plane]
        if self.axes[a] is None and self.axes[b] is None:
            raise Fault("axis_missing")
        fast = self._cutting()
        target = self._target()
        start = list(m.place)
        if m.side and m.outline:
            start[:2] = m.outline
        offsets = {axis: self.words.get("ijk"[axis]) for axis in (a, b)}
        given = any(value is not None for value in offsets.values())
        if "r" in self.words:
            entry = m.side and m.outline is None  # App. B has I and J there
            if entry or any(letter in self.words for letter in "ijk"):
                raise Fault("arc_format")
            centre = self._centre_by_radius(start, target, turn)
        elif not given:
            raise Fault("arc_centre_missing")
        else:
            self.used |= {"ijk"[a], "ijk"[b]}
            centre = [start[axis] + (offsets[axis] or 0.0) * m.unit for axis in (a, b)]
            before = math.hypot(start[a] - centre[0], start[b] - centre[1])
            if before <= ONE_POINT:
                raise Fault("arc_centre_missing")
            behind = math.hypot(target[a] - centre[0], target[b] - centre[1])
            entry = m.side and m.outline is None  # there the end alone gives the radius
            if (
                not entry
                and abs(before - behind) > (0.002 if m.unit == 1.0 else 0.0002 * INCH) + 1e-9
            ):
                raise Fault("arc_radius_mismatch")
        if m.side:
            self._outline_arc(start, target, centre, turn, fast)
        else:
            self._round(target, centre, turn, fast)

    def _centre_by_radius(self, start, target, turn):
        a, b, _ = PAIRS[self.m.plane]
        radius = self._word("r") * self.m.unit
        if not 0.0 < abs(radius) <= FARTHEST:
            raise Fault("range")
        dx, dy = target[a] - start[a], target[b] - start[b]
        chord = math.hypot(dx, dy)
        if chord <= ONE_POINT:
            raise Fault("arc_endpoint")
        if chord / 2.0 > abs(radius) + _ROUNDING:
            raise Fault("arc_radius_small")
        high = math.sqrt(max(0.0, radius * radius - chord * chord / 4.0))
        high *= turn if radius > 0.0 else -turn
        return [
            (start[a] + target[a]) / 2.0 - high * dy / chord,
            (start[b] + target[b]) / 2.0 + high * dx / chord,
        ]

    def _sweep(self, start, target, centre, turn):
        """In (0, 360], as an angle in rad."""
        a, b, _ = PAIRS[self.m.plane]
        radius = math.hypot(start[a] - centre[0], start[b] - centre[1])
        begin = math.atan2(start[b] - centre[1], start[a] - centre[0])
        end = math.atan2(target[b] - centre[1], target[a] - centre[0])
        sweep = (turn * (end - begin)) % math.tau
        one_point = min(sweep, math.tau - sweep) * radius < ONE_POINT
        return math.tau if one_point else sweep

    def _round(self, target, centre, turn, fast, sweep=None):
        """List one arc from the place."""
        m = self.m
        a, b, normal = PAIRS[m.plane]
        start = m.place
        if max(map(abs, target)) > FARTHEST:
            raise Fault("range")
        radius = math.hypot(start[a] - centre[0], start[b] - centre[1])
        begin = math.atan2(start[b] - centre[1], start[a] - centre[0])
        sweep = self._sweep(start, target, centre, turn) if sweep is None else sweep
        mid = list(start)
        mid[a] = centre[0] + radius * math.cos(begin + turn * sweep / 2.0)
        mid[b] = centre[1] + radius * math.sin(begin + turn * sweep / 2.0)
        mid[normal] = (start[normal] + target[normal]) / 2.0
        shown = [None, None, None]
        shown[a], shown[b] = centre
        self._add(
            "arc",
            to=list(target),
            plane=PLANE_NAMES[m.plane],
            center=shown,
            dir="ccw" if turn * sweep > 0.0 else "cw",
            radius=radius,
            sweep_deg=math.degrees(abs(sweep)),
            mid=mid,
            length=math.hypot(radius * sweep, target[normal] - start[normal]),
            **fast,
        )
        m.place = list(target)

    # -- 3.5.10 and App. B: beside the outline

    def _outline_line(self, kind, target, fast):
        m = self.m
        start = m.outline or m.place[:2]
        dx, dy = target[0] - start[0], target[1] - start[1]
        distance = math.hypot(dx, dy)
        to = list(target)
        if m.outline is None:
            if distance <= ONE_POINT:  # up or down only: the entry is still to come
                self._straight(kind, to, **fast)
                return
            if distance <= m.radius:
                raise Fault("crc_gouge")
            heading = math.atan2(dy, dx) + m.side * math.asin(m.radius / distance)
            along = math.sqrt(distance * distance - m.radius * m.radius)
            to[0] = start[0] + along * math.cos(heading)
            to[1] = start[1] + along * math.sin(heading)
        elif distance <= ONE_POINT:
            to[:2] = m.place[:2]
            heading = m.heading
        else:
            heading = math.atan2(dy, dx)
            self._corner(heading)
            to[0] = target[0] - m.side * m.radius * math.sin(heading)
            to[1] = target[1] + m.side * m.radius * math.cos(heading)
        self._straight(kind, to, **fast)
        self._share_time()
        m.outline, m.heading = target[:2], heading

    def _outline_arc(self, start, target, centre, turn, fast):
        m = self.m
        radius = math.hypot(target[0] - centre[0], target[1] - centre[1])
        beside = -turn * m.side  # +1: the cutter goes outside the arc
        wanted = radius + beside * m.radius
        quarter = turn * math.pi / 2.0
        if beside < 0 and radius <= m.radius:
            raise Fault("crc_tool_radius")
        if m.outline is None:
            now = math.hypot(m.place[0] - centre[0], m.place[1] - centre[1])
            if abs(now - wanted) > 0.002:
                raise Fault("crc_gouge")
            sweep = None
        else:
            begin = math.atan2(start[1] - centre[1], start[0] - centre[0])
            self._corner(begin + quarter)
            # Where no corner was gone round the cutter may stand a little before or behind.
            now = math.atan2(m.place[1] - centre[1], m.place[0] - centre[0])
            sweep = self._sweep(start, target, centre, turn)
            sweep -= turn * math.remainder(now - begin, math.tau)
        out = math.atan2(target[1] - centre[1], target[0] - centre[0])
        to = list(target)
        to[0] = centre[0] + wanted * math.cos(out)
        to[1] = centre[1] + wanted * math.sin(out)
        self._round(to, centre, turn, fast, sweep)
        self._share_time()
        m.outline, m.heading = target[:2], out + quarter

    def _corner(self, heading):
        """Go round the corner of the outline on which the cutter stands."""
        m = self.m
        bend = math.remainder(heading - m.heading, math.tau) * m.side
        if not m.radius or abs(bend) < SAME_DIRECTION:
            return
        if SAME_DIRECTION <= bend < math.pi - STRAIGHT_BACK:
            raise Fault("crc_concave_corner")
        to = list(m.place)
        to[0] = m.outline[0] - m.side * m.radius * math.sin(heading)
        to[1] = m.outline[1] + m.side * m.radius * math.cos(heading)
        self._round(to, m.outline, -m.side, self._cutting())

    def _share_time(self):
        """3.5.19: the time of a line is that of its corner arc and its move together."""
        if self.m.inverse and len(self.listed) > 1 and "time_s" in self.listed[-1]:
            arc, last = self.listed[-2:]
            length = last.get("length", math.dist(arc["to"], last["to"]))
            share = arc["length"] / (arc["length"] + length)
            arc["time_s"], last["time_s"] = arc["time_s"] * share, last["time_s"] * (1.0 - share)

    # -- 3.5.16: canned cycles

    def _canned(self, code):
        m = self.m
        if m.inverse:
            raise Fault("cycle_inverse_time")
        if m.side:
            raise Fault("cycle_crc")
        if not self.any_axis:
            raise Fault("axis_missing")
        a, b, deep = PAIRS[m.plane]
        self.used |= set("xyz")
        keep, depth = m.cycle, "xyz"[deep]
        if self.axes[deep] is not None:
            keep[depth] = self.axes[deep]
        for letter in "r" + {830: "q", 820: "p", 860: "p", 880: "p", 890: "p"}.get(code, ""):
            if letter in self.words:
                keep[letter] = self._word(letter)
            elif letter not in keep:
                raise Fault("word_missing")
        if depth not in keep:
            raise Fault("word_missing")
        if not 0.0 <= keep.get("p", 0.0) <= FARTHEST or keep.get("q", 1.0) <= 0.0:
            raise Fault("range")
        times = whole(self._word("l")) if "l" in self.words else 1
        if not 1 <= times <= MOST_HOLES:
            raise Fault("range")
        if m.feed == 0.0:
            raise Fault("feed_zero")
        turning = m.turning if m.speed else "stop"
        if (code == 840 and turning != "cw") or (code == 860 and turning == "stop"):
            raise Fault("cycle_spindle")
        shift = [m.g92[axis] + self.m.origin[axis] for axis in range(3)]
        old = m.place[deep]
        if m.absolute:
            level = keep["r"] * m.unit + shift[deep]
            bottom = keep[depth] * m.unit + shift[deep]
        else:
            level = old + keep["r"] * m.unit
            bottom = level + keep[depth] * m.unit
        if level < bottom:
            raise Fault("cycle_r_below_z")
        if code == 830 and times * (level - bottom) > MOST_HOLES * keep["q"] * m.unit:
            raise Fault("range")
        clear = max(old, level) if m.old_level else level
        if old < level:
            self._go("rapid", {deep: level})
        for _ in range(times):
            there = self._target()
            self._go("rapid", {a: there[a], b: there[b]})
            self._go("rapid", {deep: level})
            self._hole(code, deep, level, bottom, clear)

    def _go(self, kind, axes):
        to = list(self.m.place)
        for axis, value in axes.items():
            to[axis] = value
        self._straight(kind, to, **(self._per_minute() if kind == "feed" else {}))

    def _hole(self, code, deep, level, bottom, clear):
        m, direction = self.m, self.m.turning
        if code == 870:
            self._back_bore(deep, bottom, clear)
            return
        if code == 830:
            done, peck = level, m.cycle["q"] * m.unit
            while done - peck > bottom + 1e-9:
                done -= peck
                self._go("feed", {deep: done})
                self._go("rapid", {deep: clear})
                self._go("rapid", {deep: min(done + ABOVE_BOTTOM, clear)})
        if code == 840:
            self._add("sync", state="on")
        self._go("feed", {deep: bottom})
        if code in (820, 860, 880, 890):
            self._add("dwell", seconds=m.cycle["p"])
        if code in (840, 860, 880):
            self._turn("stop")
        if code == 880:
            self._add("stop", kind="program")
        elif code == 840:
            self._turn("ccw")
            self._go("feed", {deep: clear})
            self._add("sync", state="off")
            self._turn("stop")
        else:
            self._go("feed" if code in (850, 890) else "rapid", {deep: clear})
        if code in (840, 860, 880):
            self._turn(direction)

    def _back_bore(self, deep, bottom, clear):
        m, direction = self.m, self.m.turning
        a, b, _ = PAIRS[m.plane]
        aside = [self._word("ijk"[axis]) * m.unit for axis in (a, b)]
        up = self._word("ijk"[deep]) * m.unit
        up += m.g92[deep] + self.m.origin[deep] if m.absolute else bottom
        x, y = m.place[a], m.place[b]
        beside, back = {a: x + aside[0], b: y + aside[1]}, {a: x, b: y}
        self._go("rapid", beside)
        self._orient()
        self._go("rapid", {deep: bottom})
        self._go("rapid", back)
        self._turn(direction)
        self._go("feed", {deep: up})
        self._go("feed", {deep: bottom})
        self._orient()
        self._go("rapid", beside)
        self._go("rapid", {deep: clear})
        self._go("rapid", back)
        self._turn(direction)

    def _orient(self):
        self._add("spindle", state="orient")
        self.m.turning, self.m.shown = "stop", ("stop", 0.0)
