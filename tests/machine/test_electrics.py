"""What motors ask of their supply, and how the card tells the low-voltage side."""

import re

import numpy as np
import pytest

from kerfwright.formats.toml_file import parse_toml
from kerfwright.machine import load_machine, machine_results, parse
from kerfwright.report.electrics_words import electrics_pairs
from kerfwright.workshop import demo_folder

DEMO = (demo_folder() / "machine.toml").read_text(encoding="utf-8")


@pytest.fixture(scope="module")
def demo():
    machine = load_machine(demo_folder() / "machine.toml")
    return machine, machine_results(machine, 1, 20)


def told(text):
    machine = parse(parse_toml(text, "machine.toml"))
    return list(electrics_pairs(machine, machine_results(machine, 1, 5)))


def test_one_supply_carries_what_its_motors_take_at_most(demo):
    machine, results = demo
    (one,) = results.supplies
    assert one.axes == ("X", "Y", "Z")
    # By hand, axis by axis: (I² R + T w) / 0.9 over the speeds that it runs at.
    watts = 0.0
    for axis in machine.axes:
        turns = np.linspace(0.0, axis.top_speed_mm_per_s / axis.lead_mm, 2000)
        work = axis.pull_nmm(turns * axis.lead_mm) / 1e3 * 2.0 * np.pi * turns
        heat = machine.values[f"axes.{axis.name}.motor.resistance"] * 2.7**2
        watts += axis.motors * float((heat + work).max()) / 0.9
    assert one.hardest.value == pytest.approx(watts, rel=0.02)
    assert one.load.value == pytest.approx(one.hardest.value / 36.0)
    assert one.fuse.value == pytest.approx(one.load.value / 0.75)
    # Of the input of the drivers a tenth, and of that of the supply 13 in 100.
    assert one.heat.value == pytest.approx(one.hardest.value * (0.1 + 0.13 / 0.87))
    assert one.standing.value < 0.2 * one.hardest.value
    assert one.hardest.low < one.hardest.value < one.hardest.high


def test_the_card_tells_settings_load_wires_fuse_heat_and_leaves_mains_alone(demo):
    pairs = dict(electrics_pairs(*demo))
    assert "2.70 A peak, which is 1.91 A RMS" in pairs["drivers of X, Y"]
    assert "10 microsteps, 2000 steps a turn" in pairs["drivers of X, Y"]
    # 17.24 mΩ a metre of 1 mm² there, and as much back: IEC 60028, from memory.
    amperes = demo[1].supplies[0].load.value
    drop = 2.0 * 0.01724 / 0.75 * amperes
    assert f"{drop:.2f} V in 0.75 mm²" in pairs["its wires"]
    assert re.search(r"\d+\.\d A or more", pairs["its fuse"])
    assert "warmer than the room" in pairs["heat in its box"]
    assert "licensed electrician" in pairs["mains"]


def test_a_supply_that_nobody_read_is_a_guess_and_a_high_one_is_left_alone():
    high = told(DEMO.replace('is = "36 V"', 'is = "75 V"'))
    assert [words for name, words in high if "75 V" in name] == [
        "is more than 60 V of direct current: wires, fuses and touch are for a licensed electrician"
    ]
    assert not any(name == "its fuse" for name, _ in high)
    two = told(DEMO.replace('supply = { is = "36 V"', 'supply = { is = "24 V"', 1))
    assert [name for name, _ in two if " V for " in name] == ["24 V for X", "36 V for Y, Z"]
    guess = told('kerfwright = "machine 1"\n')
    assert any(name.endswith("(a guess)") for name, _ in guess)
