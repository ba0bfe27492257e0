"""Whatever stands in machine.toml, it is read or refused with words, never with a traceback."""

import numpy as np
import pytest

from kerfwright.basics import KerfwrightError
from kerfwright.machine.entries import SECTIONS, Number

WILD = [
    "0", "-1", "0.99", "1.0", "1e300", "nan", "true", "[]", "{}", "[[1]]", "1979-05-27",
    "{ is = [] }", '""', '"x"', '"1e300 m"', '"1/0 mm"', '"5 to 3 mm"', '"1 ± 1e9 mm"',
    '"10000 mm"', '"0.001 mm"', '"0.01 to 4000 mm"', '"1e-300 N"', '"1 N/mm"', '"100 N"',
    '"\\u0007"',
]  # fmt: skip
UNITS = {
    "length": "mm", "number": "", "mass": "kg", "force": "N", "torque": "N mm", "inertia": "kg mm2",
    "stiffness": "N/mm", "current": "A", "resistance": "ohm", "inductance": "H henry", "time": "s",
    "voltage": "V", "power": "W", "turning": "rev/s", "speed": "mm/s", "acceleration": "mm/s2",
    "slope": "mm over 1 mm", "jerk": "mm/s3", "area": "mm2", "second moment": "mm4",
}  # fmt: skip
NUMBERS = [
    (section, key, entry)
    for section, entries in SECTIONS.items()
    for key, entry in entries.items()
    if isinstance(entry, Number)
]


def made(machine_of, text, rng):
    """The machine and one draw of it, or None if it was refused with words."""
    try:
        machine = machine_of(text)
    except KerfwrightError as refused:
        words = str(refused)
    else:
        return machine, machine.drawn(rng, 1)[0]
    assert "remedy" in words
    return None


@pytest.mark.parametrize("seed", range(60))
def test_wild_values(machine_of, seed):
    rng = np.random.default_rng(seed)
    lines = []
    for section, entries in SECTIONS.items():
        if section and rng.random() < 0.5:
            chosen = [key for key in entries if rng.random() < 0.2]
            values = rng.choice(WILD, len(chosen))
            lines += [f"[{section}]", *(f"{k} = {v}" for k, v in zip(chosen, values, strict=True))]
    machines = made(machine_of, "\n".join(lines), rng)
    for machine in machines or ():
        assert np.all(np.isfinite(machine.compliance_mm_per_n))


@pytest.mark.parametrize("seed", range(40))
def test_one_value_at_an_end_of_what_is_allowed(machine_of, seed):
    rng = np.random.default_rng(seed)
    section, key, entry = NUMBERS[rng.integers(len(NUMBERS))]
    least = max(entry.least, 1e-3) if not entry.count else round(entry.least) + 1
    end = rng.choice([least, entry.most])
    machines = made(machine_of, at_end(section, key, entry, end), rng)
    for machine in machines or ():
        assert np.all(np.isfinite(machine.compliance_mm_per_n))
        assert np.all(np.isfinite(machine.x.curve_torque_nmm))


def at_end(section, key, entry, end):
    """A file with one value, and the drive that it needs."""
    unit = "%" if entry.dimension == "share" else UNITS[entry.dimension]
    end = 100 * end if unit == "%" else end
    drive = section.split(".")[-1]
    axis = section.rpartition(".")[0]
    head = f'[{axis}]\ndrive = "{drive}"\n' if drive in ("belt", "rack") else ""
    peak = " peak" if entry.peak_or_rms else ""
    return f'{head}[{section}]\n{key} = "{end:.6f} {unit}{peak}"\n'
