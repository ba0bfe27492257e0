"""Five hundred machines inside the stated spread: what is told of one machine comes true on them.

Each simulated machine has every value drawn from what its description allows, and wood whose force
is off by what the law has been off. The program is really run on each: its own sweep, its own
motors. The described machine is proved once, as a person would.
"""

import numpy as np
import pytest

from kerfwright.basics.progress import silent
from kerfwright.jobs.belongings import clamps_of, rack_of, read
from kerfwright.loads import axis_numbers, edge_law_for
from kerfwright.machine import load_machine
from kerfwright.prove.chain import Origin, prove
from kerfwright.prove.margins import moments
from kerfwright.setup import load_job
from kerfwright.workshop import demo_folder, open_demo, planted_in

MACHINES = 500
DESCRIBED = 20  #: machines on which the demo's whole job with planted faults is proved
ORIGIN = Origin(version="0", code_sha256="c", tables_sha256="t")
LIGHT = "G0 Z5\nG0 X20 Y30\nG1 Z-4 F300\nG1 X80 F2000\nG1 Y35\nG0 Z5"
DEEP = "G0 Z5\nG0 X20 Y30\nG1 Z-12 F300\nG1 X80 F3000\nG1 Y35\nG0 Z5"
DEEPEST = "G0 Z5\nG0 X20 Y30\nG1 Z-16 F300\nG1 X80 F4000\nG0 Z5"
LIMITS = ("pull left x", "pull left y", "pull left z", "power")


@pytest.fixture
def with_current(tmp_path):
    """The demo's router with drivers set to another current, as its owner would describe it."""

    def load(amps):
        text = (demo_folder() / "machine.toml").read_text()
        path = tmp_path / f"{amps}.toml"
        path.write_text(text.replace('"2.7 A peak"', f'"{amps} A peak"'))
        return load_machine(path)

    return load


def passed(swept, body, machine, times):
    """Which limits one simulated machine really passes when the wood pushes so many times as hard.

    An array of (4,), true where a motor loses step or the spindle has not the power.
    """
    _, tools, setup, first = swept(body, on=machine, cell=0.5)
    kept = moments(first.worst, setup, tools, first.segment)
    law = edge_law_for(setup.board, setup.slots[1])
    alone = [numbers[None] for numbers in axis_numbers(machine)]
    out = []
    for number, axis in enumerate("xyz"):
        moment = kept[f"pull left {axis}"]
        force = times * float(moment.force(law)[0][number])
        out.append(moment.pull_left(number, *alone, np.array([force]))[0] < 0.0)
    moment = kept["power"]
    has = float(machine.spindle.power_w(moment.spindle_rev_per_s))
    return np.array([*out, times * moment.force(law)[1] > has])


@pytest.mark.long
def test_told_limits_come_true_as_often_as_was_said(with_current, swept, proved):
    # From drivers that suffice by far down to ones set much too low; cuts from light to too deep.
    wrong = found = good = stopped = 0
    said, came = [], []
    for amps, body in ((2.7, LIGHT), (2.7, DEEPEST), (1.0, DEEP), (0.8, DEEP), (0.6, DEEP),
                       (0.5, LIGHT), (0.5, DEEP)):  # fmt: skip
        described = with_current(amps)
        verdict = proved(body, on=described).verdict
        told = {
            f"pull left {f.id.split('-')[2]}" if f.code == "pull left" else f.code: f
            for f in verdict.findings
            if f.code in ("pull left", "power")
        }
        assert all(finding.severity != "stop" for finding in told.values())
        rng = np.random.default_rng(99)
        spread = edge_law_for(*_board_and_cutter(swept, body, described)).log_spread
        times = np.exp(spread * rng.normal(size=MACHINES))
        truth = np.array([passed(swept, body, described.drawn(rng, 1)[0], one) for one in times])
        good += int((~truth.any(axis=1)).sum())
        stopped += int((~truth.any(axis=1)).sum()) if verdict.outcome == "stop" else 0
        cautioned = [name in told and told[name].severity == "caution" for name in LIMITS]
        wrong += int(truth.any(axis=1).sum())
        found += int((truth & cautioned).any(axis=1).sum())
        for number, limit in enumerate(LIMITS):
            share = float(truth[:, number].mean())
            if limit in told:
                said.append(told[limit].likelihood)
                came.append(share)
            else:  # said by saying nothing: less than one in five
                assert share < 0.2 + 0.05
    assert good > MACHINES
    assert stopped <= good / 20
    # Of the jobs that go wrong, those of which one thing that does was told.
    assert wrong > MACHINES
    assert found >= 19 / 20 * wrong
    # Said from 120 drawn machines: each share is unsure by 0.045 (standard deviation) at most.
    assert len(said) >= 10
    assert np.abs(np.array(said) - came).max() < 0.15
    assert abs(float(np.mean(np.array(said) - came))) < 0.04


@pytest.mark.long
def test_planted_faults_are_found_on_every_such_machine(machine):
    job = next(job for job in open_demo().jobs() if planted_in(job))
    rng = np.random.default_rng(3)
    planted = {(fault.code, fault.line) for fault in planted_in(job)}
    found = 0
    for _ in range(DESCRIBED):
        described = machine.drawn(rng, 1)[0]
        setup = load_job(
            job.job_file,
            rack_of(job.program_file(), job.job_file),
            described,
            clamps_of(job.program_file(), job.job_file),
        )
        program = read(job.program_file(), described, setup, silent)
        verdict = prove(program, setup, described, ORIGIN, cell_mm=0.5, threads=1).verdict
        found += len(planted & {(finding.code, finding.line) for finding in verdict.findings})
    assert len(planted) >= 7
    assert found >= 19 / 20 * DESCRIBED * len(planted)


def _board_and_cutter(swept, body, machine):
    setup = swept(body, on=machine, cell=0.5)[2]
    return setup.board, setup.slots[1]
