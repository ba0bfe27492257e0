"""stalls.toml, and the band found from it: made-up runs of machines whose band is known."""

import json
from dataclasses import replace

import numpy as np
import pytest

from kerfwright.app.stalls_command import stalls as stalls_command
from kerfwright.basics import InputError, InputErrors, Place
from kerfwright.basics.known import TWO_SIDED_95
from kerfwright.commission import StallRun, fit_band, read_stalls
from kerfwright.commission import swing_band as band_room
from kerfwright.jobs.fit_stalls import fit_stalls
from kerfwright.jobs.stall_errand import StallErrand
from kerfwright.machine import crowd_of, load_machine
from kerfwright.physics import mid_band
from kerfwright.workshop import demo_folder

HEAD = 'kerfwright = "stalls 1"\n'
SPEEDS = (3.0, 4.0, 5.0, 6.0, 7.0, 8.0, 9.0, 10.0, 11.0, 12.0, 13.0, 14.0, 16.0, 18.0)


@pytest.fixture(scope="module")
def machine():
    return load_machine(demo_folder() / "machine.toml")


@pytest.fixture(scope="module")
def crowd(machine):
    return crowd_of(machine, 1, 60)


@pytest.fixture
def stalls(tmp_path):
    def read(text, head=HEAD):
        path = tmp_path / "stalls.toml"
        path.write_text(head + text, encoding="utf-8")
        return read_stalls(path)

    return read


def entry(speed='"1200 mm/min"', ran='"smooth"', more=""):
    return f'[[run]]\naxis = "x"\nspeed = {speed}\nran = {ran}\n{more}\n'


def runs_of(machine, truth, rng, pulls=(0.0, 60.0, 120.0, 200.0), felt=0.1):
    """Runs as a machine with that band would make them; stalls scatter by a twentieth."""
    axis, out = machine.x, []
    for turns in SPEEDS:
        speed = turns * axis.lead_mm
        can = float(axis.pull_nmm(speed)) * np.exp(0.05 * rng.normal())
        lost = 1.0 - float(mid_band.share(turns, *truth))
        for pull in pulls:
            steady = axis.demand_nmm(-pull, speed, 0.0)
            hurrying = axis.demand_nmm(-pull, speed, axis.acceleration_mm_per_s2)
            goes = can * (1.0 - lost) > steady and can > hurrying
            ran = ("rough" if lost > felt else "smooth") if goes else "stalled"
            place = Place(file="made up", line=len(out) + 2)
            run = StallRun(axis="x", speed_mm_per_s=speed, turns_per_s=None, pull_n=pull,
                           u_pull_n=0.03 * pull, ran=ran,
                           place=lambda place=place: place)  # fmt: skip
            out.append(run)
    return out


def test_what_is_read(stalls):
    read = stalls(
        'acceleration = "300 mm/s2"\n'
        + entry()
        + entry('"9 rev/s"', '"stalled"', 'pull = "40 ± 4 N"')
        + entry('"50 in/min"', '"rough"', 'pull = "20 to 26 N"\nnote = "warm"')
        + entry('"20 mm/s"', '""')
        + entry('"21 mm/s"', '"smooth"', 'pull = "10 lbf"')
    )
    assert read.acceleration_mm_per_s2 == pytest.approx(300.0)
    assert [run.ran for run in read.runs] == ["smooth", "stalled", "rough", "smooth"]
    assert read.runs[0].speed_mm_per_s == pytest.approx(20.0)
    assert (read.runs[0].pull_n, read.runs[0].u_pull_n) == (0.0, 0.0)
    assert (read.runs[1].speed_mm_per_s, read.runs[1].turns_per_s) == (None, 9.0)
    assert read.runs[1].u_pull_n * TWO_SIDED_95 == pytest.approx(4.0)
    assert read.runs[2].u_pull_n == pytest.approx(6.0 / 12**0.5)
    # Nothing said of its spread: a tenth, nineteen times in twenty.
    assert read.runs[3].u_pull_n * TWO_SIDED_95 == pytest.approx(0.1 * 44.482, abs=1e-3)


@pytest.mark.parametrize(
    ("text", "line", "words"),
    [
        ("", 1, "no run that says how it went"),
        (entry(ran='""') * 5, 2, "no run that says how it went"),
        (entry() * 3, 2, "has 3 of X, and at least 4"),
        ("run = 3\n", 2, "no list of runs"),
        (entry() * 301, 1502, "at most 300"),
        (entry("1200") + entry() * 3, 4, "not a text in quotes"),
        (entry('"1200 kg"') + entry() * 3, 4, "unit"),
        (entry('"0 mm/min"') + entry() * 3, 4, "no speed to run at"),
        (entry(ran='"fine"') + entry() * 3, 5, "does not say how it went"),
        (entry(more='pull = "-3 N"') + entry() * 3, 6, "no pull against the motion"),
        (entry(more="thrust = 3") + entry() * 3, 6, "means nothing here"),
        ('[[run]]\naxis = "w"\nspeed = "9 rev/s"\nran = "rough"\n' + entry() * 3, 3, "no axis"),
        ('acceleration = "3 mm"\n' + entry() * 4, 2, "acceleration"),
    ],
)
def test_each_error_has_its_place_and_remedy(stalls, text, line, words):
    with pytest.raises((InputError, InputErrors)) as told:
        stalls(text)
    error = told.value.errors[0] if isinstance(told.value, InputErrors) else told.value
    assert words in str(error)
    assert (error.place.line, bool(error.remedy)) == (line, True)


@pytest.mark.slow
def test_a_known_band_lies_within_the_stated_ends(machine, crowd):
    """Of sixteen ends told, four for each of four machines, fifteen or more hold, seeded."""
    held = []
    for seed in range(40, 44):
        rng = np.random.default_rng(seed)
        true = machine.drawn(rng, 1)[0]
        truth = (rng.uniform(0.3, 0.9), rng.uniform(6.0, 13.0), rng.uniform(0.8, 2.5))
        found = fit_band(
            "x", runs_of(true, truth, rng, (0.0, 90.0, 180.0)), machine, crowd, None, 1
        )
        assert found.shows == "a band"
        ends = [float(end) for end in mid_band.edges(*truth[1:])]
        share = true.values["axes.x.motor.pull_share"]
        pairs = zip((found.loses, found.begins, found.ends, found.pull_share),
                    (truth[0], *ends, share), strict=True)  # fmt: skip
        held += [told.low <= is_so <= told.high for told, is_so in pairs]
        # And they say something: a turn or two of the motor, where fourteen were open.
        assert found.begins.high - found.begins.low < 3.0
        assert found.loses.high - found.loses.low < 0.5
    assert sum(held) >= 15


def test_against_plain_weighting_of_draws(machine, crowd, monkeypatch):
    """The draws are those that weights on 60 000 draws of what was open before give as well."""
    rng = np.random.default_rng(3)
    runs = runs_of(machine, (0.5, 9.0, 1.6), rng, pulls=(0.0, 130.0))[::2]
    seen = {}
    monkeypatch.setattr(band_room, "_draws", lambda b, r, t, real=band_room._draws: (
        seen.update(belief=b), real(b, r, t))[1])  # fmt: skip
    found = fit_band("x", runs, machine, crowd, None, 1)
    belief = seen["belief"]
    rows, which = belief.before(np.random.default_rng(11), 60_000)
    likely = belief.each(rows, which).sum(axis=1)
    weight = np.exp(likely - likely.max())
    weight /= weight.sum()
    assert 1.0 / (weight**2).sum() > 300.0  # so many draws count
    for column in (0, 1):
        mean = float(weight @ rows[:, column])
        spread = float(np.sqrt(weight @ (rows[:, column] - mean) ** 2))
        assert found.draws[:, column].mean() == pytest.approx(mean, abs=0.15 * spread)
        assert found.draws[:, column].std() == pytest.approx(spread, rel=0.1)


def test_a_motor_that_never_stalled_only_bounds_its_loss(machine, crowd):
    """With more against it, the bound on what may be lost is lower."""
    lead = machine.x.lead_mm
    runs = runs_of(machine, (0.0, 9.0, 1.0), np.random.default_rng(1), (0.0,))

    def fitted(pull, felt):
        tried = [
            replace(run, speed_mm_per_s=n * lead, pull_n=pull, u_pull_n=0.03 * pull,
                    ran="rough" if n in felt else "smooth")
            for run, n in zip(runs, np.arange(3.0, 17.0), strict=True)
        ]  # fmt: skip
        return fit_band("x", tried, machine, crowd, None, 1)

    smooth = fitted(60.0, ())
    assert smooth.shows == "no band"
    assert smooth.loses.low == 0.0
    assert 0.0 < smooth.loses.high < 0.4
    assert (smooth.begins.value, smooth.ends.value) == (3.0, 16.0)
    low, middle, high = (fitted(pull, (8.0, 9.0, 10.0)).loses.high for pull in (0.0, 60.0, 120.0))
    assert low - 0.05 > middle > high + 0.05


def test_slow_runs_say_nothing(machine, crowd):
    runs = runs_of(machine, (0.6, 10.0, 1.5), np.random.default_rng(2), (0.0,))[:3]
    slow = [replace(run, speed_mm_per_s=0.3 * run.speed_mm_per_s, ran="rough") for run in runs]
    found = fit_band("x", slow, machine, crowd, None, 1)
    assert found.shows == "too little"
    assert found.loses.high > 0.2


def test_runs_that_contradict_each_other_are_refused(machine, crowd):
    runs = runs_of(machine, (0.5, 9.0, 1.6), np.random.default_rng(2), (0.0, 100.0))
    at = [run for run in runs if run.speed_mm_per_s == SPEEDS[2] * machine.x.lead_mm]
    wrong = [replace(at[0], ran="stalled"), replace(at[1], ran="smooth")]
    with pytest.raises(InputErrors, match=f"line {at[1].place().line} ran smooth") as told:
        fit_band("x", [*runs, *wrong], machine, crowd, None, 1)
    assert "run both again" in told.value.errors[0].remedy
    assert told.value.errors[0].place.line == at[0].place().line
    fast = replace(runs[0], speed_mm_per_s=600.0)
    with pytest.raises(InputErrors, match="cannot have reached that"):
        fit_band("x", [*runs, fast], machine, crowd, 250.0, 1)


def test_a_slip_of_the_pen_is_named_and_hardly_counts(machine, crowd):
    runs = runs_of(machine, (0.5, 9.0, 1.6), np.random.default_rng(2), (0.0, 130.0))
    good = fit_band("x", runs, machine, crowd, None, 1)
    # Stalled with nothing against it, where its neighbours carried 130 N.
    wrong = replace(runs[4], speed_mm_per_s=4.5 * machine.x.lead_mm, ran="stalled")
    found = fit_band("x", [*runs, wrong], machine, crowd, None, 1)
    assert found.unexplained == (len(runs),)
    assert good.unexplained == ()
    assert found.begins.value == pytest.approx(good.begins.value, abs=0.5)


@pytest.mark.slow
def test_kept_in_machine_toml_and_used(tmp_path, machine):
    """From stalls.toml into machine.toml, and from there into the pull and its spread."""
    path = tmp_path / "machine.toml"
    path.write_text((demo_folder() / "machine.toml").read_text(encoding="utf-8"), encoding="utf-8")
    lines = [
        f'  {{ axis = "x", speed = "{run.speed_mm_per_s:.4f} mm/s", pull = "{run.pull_n:g} N", '
        f'ran = "{run.ran}" }},'
        for run in runs_of(machine, (0.5, 9.0, 1.6), np.random.default_rng(4), (0.0, 130.0))
    ]
    tests = tmp_path / "stalls.toml"
    tests.write_text(HEAD + "run = [\n" + "\n".join(lines) + "\n]\n", encoding="utf-8")
    told = fit_stalls(StallErrand(machine=str(path), tests=tests, keep=True))
    assert "X swings between" in told.words
    assert json.loads(told.json_text)["axes"][0]["shows"] == "a band"
    path.write_text(told.machine_text, encoding="utf-8")
    kept = load_machine(path)
    known = kept.known["axes.x.motor.swings_lose"]
    assert (known.kind, known.ref) == ("measured", "stall tests, 28 runs, stalls.toml")
    speeds = np.array([4.0, 9.0, 17.0]) * machine.x.lead_mm
    left = kept.x.pull_nmm(speeds) / machine.x.pull_nmm(speeds)
    left *= machine.values["axes.x.motor.pull_share"] / kept.values["axes.x.motor.pull_share"]
    assert left == pytest.approx([1.0, 0.5, 1.0], abs=0.15)
    many = [kept.drawn(np.random.default_rng(k), 1)[0].values["axes.x.motor.swings_lose"]
            for k in range(20)]  # fmt: skip
    assert 0.01 < np.std(many) < 0.2
    # The speeds that its motor reaches end where they ended: the band is passed.
    assert kept.x.top_speed_mm_per_s == pytest.approx(machine.x.top_speed_mm_per_s, rel=0.2)
    # Fitted again, the same runs say the same: what was kept does not count twice.
    again = fit_stalls(StallErrand(machine=str(path), tests=tests))
    assert json.loads(again.json_text)["axes"] == json.loads(told.json_text)["axes"]


def test_the_form_can_be_read_once_it_is_filled_in(tmp_path):
    told = fit_stalls(StallErrand(machine="demo"))
    assert "emergency stop within" in told.words
    path = tmp_path / "stalls.toml"
    path.write_text(told.form, encoding="utf-8")
    with pytest.raises(InputError, match="no run that says how it went"):
        read_stalls(path)
    path.write_text(told.form.replace('ran = ""', 'ran = "smooth"'), encoding="utf-8")
    runs = read_stalls(path).runs
    assert {run.axis for run in runs} == {"x", "y", "z"}
    assert max(run.pull_n for run in runs) <= 50.0


@pytest.mark.parametrize(
    ("asked", "words"),
    [
        ({"keep": True}, "has nothing to write: no runs are named"),
        ({"json": "-"}, "has nothing to write: no runs are named"),
        ({"form": "there.toml"}, "there.toml is there already"),
        ({"form": "new.toml", "tests": "there.toml"}, "is for before the runs are made"),
    ],
)
def test_what_the_command_cannot_do_is_told_before_it_begins(tmp_path, asked, words):
    (tmp_path / "there.toml").write_text(HEAD, encoding="utf-8")
    files = {key: tmp_path / str(asked[key]) for key in ("form", "tests") if key in asked}
    with pytest.raises(InputError) as told:
        stalls_command("demo", **{**asked, **files})
    assert words in told.value.problem
    assert told.value.remedy


def test_the_demo_keeps_nothing(tmp_path):
    with pytest.raises(InputError, match="the demo's machine cannot be changed"):
        fit_stalls(StallErrand(machine="demo", tests=tmp_path / "stalls.toml", keep=True))
