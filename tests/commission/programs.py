"""Programs as a shop runs them, drawn from a seed: outlines, reliefs, pockets with arcs, holes."""

import numpy as np

HEAD = "G21 G90 G17\nG0 Z5"


def outline(rng):
    """Parts cut out with sharp corners, in passes."""
    lines = []
    for _ in range(rng.integers(4, 9)):
        x, y = rng.uniform(0, 300), rng.uniform(0, 200)
        many = rng.integers(4, 12)
        angle = np.sort(rng.uniform(0, 2 * np.pi, many))
        radius = rng.uniform(20, 60, many)
        points = np.stack([x + radius * np.cos(angle), y + radius * np.sin(angle)], axis=1)
        feed = rng.integers(900, 2400)
        lines += ["G0 Z5", f"G0 X{points[0, 0]:.3f} Y{points[0, 1]:.3f}"]
        for depth in np.arange(2.0, rng.uniform(5, 13), 2.0):
            lines.append(f"G1 Z-{depth:.2f} F300")
            lines += [f"G1 X{px:.3f} Y{py:.3f} F{feed}" for px, py in np.roll(points, -1, axis=0)]
    return lines


def relief(rng):
    """Strips to and fro over a wavy surface, in short pieces."""
    size, pitch = rng.uniform(40, 60), rng.uniform(0.8, 1.2)
    wave, high = rng.uniform(8, 30), rng.uniform(0.5, 3.0)
    x = np.arange(0.0, size, rng.uniform(0.7, 1.5))
    feed = rng.integers(1200, 2400)
    lines = ["G0 X0 Y0", "G1 Z-1 F300"]
    for row, y in enumerate(np.arange(0.0, size / 2, pitch)):
        z = -high - 0.1 + high * np.sin(2 * np.pi * x / wave) * np.cos(2 * np.pi * y / wave)
        order = slice(None) if row % 2 == 0 else slice(None, None, -1)
        lines += [
            f"G1 X{px:.3f} Y{y:.3f} Z{pz:.3f} F{feed}"
            for px, pz in zip(x[order], z[order], strict=True)
        ]
    return lines


def pockets(rng):
    """Pockets with round ends, cleared by rings."""
    lines = []
    for _ in range(rng.integers(2, 5)):
        x, y = rng.uniform(0, 300), rng.uniform(0, 200)
        wide, feed = rng.uniform(8, 25), rng.integers(900, 2000)
        long = rng.uniform(10, 60)
        for depth in np.arange(1.5, rng.uniform(4, 10), 1.5):
            lines += ["G0 Z5", f"G0 X{x:.3f} Y{y:.3f}", f"G1 Z-{depth:.2f} F300"]
            for r in np.arange(2.0, wide, 2.4):
                lines += [
                    f"G1 X{x:.3f} Y{y - r:.3f} F{feed}",
                    f"G1 X{x + long:.3f}",
                    f"G3 X{x + long:.3f} Y{y + r:.3f} I0 J{r:.3f}",
                    f"G1 X{x:.3f}",
                    f"G3 X{x:.3f} Y{y - r:.3f} I0 J{-r:.3f}",
                ]
    return lines


def holes(rng):
    """Holes pecked all over a plate: mostly rapids and Z."""
    lines = []
    for _ in range(rng.integers(20, 60)):
        lines += [f"G0 X{rng.uniform(0, 300):.3f} Y{rng.uniform(0, 200):.3f}"]
        for depth in (2.0, 4.0, 6.0):
            lines += [f"G1 Z-{depth} F300", "G0 Z2"]
    return lines


KINDS = (outline, relief, pockets, holes)


def program_text(seed, kinds):
    """One program of these kinds, one after the other."""
    rng = np.random.default_rng(seed)
    body = [line for kind in kinds for line in kind(rng)]
    return "\n".join([HEAD, *body, "G0 Z5", "M2", ""])


def timed_texts(seed):
    """Three programs as unlike each other as docs/time.md asks for."""
    kinds = ((outline, holes), (relief,), (pockets, holes))
    return [program_text([seed, k], three) for k, three in enumerate(kinds)]


def held_out_texts(seed):
    """Three others, of one or two kinds each."""
    rng = np.random.default_rng([seed, 99])
    chosen = [rng.choice(len(KINDS), int(rng.integers(1, 3)), replace=False) for _ in range(3)]
    return [program_text([seed, 100 + k], [KINDS[i] for i in c]) for k, c in enumerate(chosen)]
