"""machine.toml: what is read, and what is refused with which words."""

from math import sqrt

import numpy as np
import pytest

from kerfwright.basics import InputError, InputErrors
from kerfwright.formats.toml_file import parse_toml
from kerfwright.machine import Habits, parse
from kerfwright.machine.entries import SECTIONS, Number, words_at
from kerfwright.machine.threads import _by_profile
from kerfwright.tables import read_table


def told(machine_of, text):
    with pytest.raises(InputErrors) as caught:
        machine_of(text)
    return str(caught.value)


def test_an_empty_description_is_a_machine_of_ranges(machine_of):
    machine = machine_of("")
    assert machine.name == "unnamed machine"
    assert all(known.kind in ("default", "datasheet") for known in machine.known.values())
    assert any("X: travel" in words and "300 to 700 mm" in words for words in machine.assumed)
    assert any("which way the gantry moves" in words for words in machine.assumed)
    assert np.all(np.linalg.eigvalsh(machine.compliance_mm_per_n) > 0.0)


def test_dont_know_is_the_same_as_nothing(machine_of):
    lines = []
    for section, entries in SECTIONS.items():
        if section:
            lines.append(f"[{section}]")
        lines += [f'{key} = "don\'t know"' for key in entries]
    assert machine_of("\n".join(lines)).assumed == machine_of("").assumed


def test_one_error_in_full(machine_of):
    assert told(machine_of, '[axes.x]\ntravel = "24 lb"\n') == (
        'machine.toml:3:10: "lb" is no unit of length\n'
        '    travel = "24 lb"\n'
        "             ^\n"
        '  remedy: write it like "25 mm", or "don\'t know"'
    )


@pytest.mark.parametrize(
    ("text", "problem", "remedy"),
    [
        ("[axes.x]\ntravel = 610", "610 has no unit", "write it in quotes with its unit: a length"),
        ('[axes.x]\ntravel = "0 mm"', "the travel must be above 0 mm", "measure it again"),
        ('[axes.x]\ntravel = "-5 to 10 mm"', "the travel must be above 0 mm", "measure"),
        ("[axes.x]\nmotors = 3", "cannot be above 2", "check the number and its unit"),
        ("[axes.x.screw]\nstarts = 0", "must be above 0", "measure it again"),
        ("[axes.x.screw]\nstarts = 2.5", "must be a whole number", "count again"),
        ("[axes.x.screw]\nstarts = 1e400", "is not a number", "write it like"),
        ('[axes.x.driver]\ncurrent = "2.8 A"', "peak or RMS; they are 41 % apart", '"2.8 A peak"'),
        ("[axes.x]\ndrive = 'rope'", '"rope" is not one of the choices', '"screw", "belt", "rack"'),
        ("[axes.x]\ndrive = 3", "3 is not one of the choices", '"screw", "belt", "rack"'),
        ("[axes.x]\ntravell = '1 m'", '"travell" means nothing here', 'did you mean "travel"?'),
        ("[axis.x]\ntravel = '1 m'", '"axis" means nothing here', 'did you mean "axes"?'),
        ("[axes.a]\ntravel = '1 m'", '"a" means nothing here', "known are x, y, z"),
        ("axes = 3", "axes is no section", "write a line [axes]"),
        ("name = 7", "7 is not a text", "put it in quotes"),
        ("[spindle]\ndial = 3", "must be a list", 'write it like ["10000 rev/min"'),
        ("[spindle]\ndial = ['9000 rev/min', '8000 rev/min']", "must rise", "write it like"),
        ("[axes.x]\ntravel = { from = 'measured' }", 'there is no "is"', "write { is ="),
        ("[axes.x]\ntravel = { is = '1 m', from = 'hearsay' }", "does not say where", "measured"),
        ("[axes.x.screw]\nsize = '1/3-7'", '"1/3-7" is no size of form "acme"', "give diameter"),
        (
            "[axes.x.screw]\nsize='1/2-10'\nstarts = 1\nlead = '12.7 mm'",
            "a lead of 12.7 mm does not go with 1 starts of 2.54 mm pitch",
            "turn the screw once",
        ),
        ("[axes.x.screw]\ndiameter='8 mm'\npitch = '8 mm'", "does not fit on a screw", "the lead"),
        ("[axes.x.screw]\nform='ball'\nnut='plain'", "does not run on a thread", "together"),
        (
            "[axes.x]\ntravel='600 mm'\n[axes.x.screw]\nfree_length='500 mm'",
            "the screw is shorter between its bearings than the travel",
            "measure from bearing to bearing",
        ),
        (
            "[axes.x]\ndrive='belt'\n[axes.x.screw]\nstarts = 5",
            "describes a screw, but X is driven by a belt",
            'write drive = "screw" under [axes.x]',
        ),
        (
            "[axes.y]\ntravel='600 mm'\n[frame.beam]\nlength='500 mm'",
            "the beam is shorter than the travel of Y along it",
            "measure from upright to upright",
        ),
        (
            "[axes.x.screw]\nlead = '100 mm'\nfriction = 0.4\ndiameter = '8 mm'",
            "no torque turns this screw",
            "turn the screw once and measure the lead",
        ),
        (
            "[spindle]\nlowest='9000 rev/min'\nhighest='8000 rev/min'",
            "the lowest speed is above the highest",
            "exchange the two",
        ),
        (
            "[axes.x.motor]\nswings_from='7 rev/s'\nswings_to='9 rev/s'",
            "says how the motor swings, but not swings_lose",
            "the three belong together",
        ),
        (
            "[axes.x.motor]\nswings_from='9 rev/s'\nswings_to='7 rev/s'\nswings_lose='40 %'",
            "would stop swinging before it begins",
            "exchange the two",
        ),
    ],
)  # fmt: skip
def test_refused(machine_of, text, problem, remedy):
    words = told(machine_of, text)
    assert problem in words
    assert remedy in words
    assert words.startswith("machine.toml:")


def test_every_error_is_told(machine_of):
    text = '[axes.x]\ntravel = "24 lb"\nratio = 0\n[rails]\nwheel = "wood"\n'
    with pytest.raises(InputErrors) as caught:
        machine_of(text)
    assert [error.place.line for error in caught.value.errors] == [3, 4, 6]


@pytest.mark.parametrize(
    ("first", "problem"),
    [
        ('kerfwright = "machine 2"', "is of version 2; this Kerfwright reads up to version 1"),
        ('kerfwright = "job 1"', 'is "job 1", but a machine file is wanted here'),
        ('name = "x"', "does not say first what kind of file it is"),
    ],
)
def test_other_files(first, problem):
    with pytest.raises(InputError, match=r"machine\.toml") as caught:
        parse(parse_toml(first, "machine.toml"))
    assert problem in str(caught.value)


def test_values_keep_their_origin(machine_of):
    machine = machine_of(
        '[axes.x]\ntravel = { is = "24 in", from = "measured", ref = "steel rule, March" }\n'
        'moving_mass = "15 to 20 kg"\n'
    )
    travel, mass = machine.known["axes.x.travel"], machine.known["axes.x.moving_mass"]
    assert travel.value == pytest.approx(609.6, rel=1e-12)
    assert (travel.kind, travel.ref) == ("measured", "steel rule, March")
    assert (mass.low, mass.high, mass.kind) == (15.0, 20.0, "estimated")
    assert mass.ref == "as written in machine.toml"
    assert machine.x.travel_mm == travel.value


def test_currents(machine_of):
    # The driver's sine: RMS is made peak. The label's standing current: the figure itself.
    machine = machine_of(
        '[axes.x.motor]\nrated_current = "2.8 A RMS"\n[axes.x.driver]\ncurrent = "2.8 A RMS"\n'
        '[axes.y.motor]\nrated_current = "2.8 A peak"\n[axes.y.driver]\ncurrent = "2.8 A peak"\n'
    )
    assert machine.values["axes.x.motor.rated_current"] == pytest.approx(2.8)
    assert machine.values["axes.y.motor.rated_current"] == pytest.approx(2.8)
    assert machine.values["axes.x.driver.current"] == pytest.approx(2.8 * sqrt(2))
    assert machine.values["axes.y.driver.current"] == pytest.approx(2.8)


def test_hand_router_power_is_not_its_input(machine_of):
    machine = machine_of(
        '[spindle]\nkind = "hand router"\ninput_current = "5 A"\ninput_voltage = "230 V"\n'
        'efficiency = 0.55\ndial = ["10000 rev/min", "16000 rev/min", "27000 rev/min"]\n'
    )
    assert machine.spindle.shaft_power_w == pytest.approx(632.5)
    assert machine.spindle.lowest_rev_per_s == pytest.approx(10_000 / 60)
    assert machine.spindle.highest_rev_per_s == pytest.approx(450)
    assert len(machine.spindle.dial_rev_per_s) == 3
    assert not machine.spindle.follows_program


def test_controller(machine_of):
    machine = machine_of(
        '[controller]\ncorners = "path tolerance"\npath_tolerance = "0.02 mm"\n'
        'default_units = "inch"\narc_centres = "absolute"\nunknown_words = "skips"\n'
        'cutter_change = "ignores it"\n[controller.z]\nspeed_step = "1.5 mm/s"\n'
    )
    controller = machine.controller
    assert controller.corner_rule == "path tolerance"
    assert controller.corner_tolerance_mm == 0.02
    assert controller.corner_speed_step_mm_per_s[2] == 1.5
    assert (controller.default_units, controller.arc_centres) == ("inch", "absolute")
    assert (controller.unknown_words, controller.cutter_change) == ("skips", "ignores it")


def test_how_it_reads_when_nothing_is_said(machine_of):
    controller = machine_of("").controller
    assert controller.default_units is None
    assert controller.reads == Habits()
    assert machine_of('[controller]\ndefault_units = "don\'t know"\n').controller == controller


def test_how_it_reads_is_taken_as_written(machine_of):
    written = {
        "bare_coordinates": "rapid",
        "lower_case": "stops",
        "blanks_in_numbers": "stops",
        "semicolons": "stops",
        "late_numbers": "stops",
        "missing_end": "stops",
        "byte_order_mark": "stops",
        "line_ends": "CR LF",
        "slash_lines": "left out",
        "knows_g70": "no",
        "knows_g90_1": "no",
        "knows_g64_p": "no",
    }
    lines = "".join(f'{key} = "{word}"\n' for key, word in written.items())
    reads = machine_of(f"[controller]\nlongest_line = 70\n{lines}").controller.reads
    assert reads.longest_line == 70
    for key, word in written.items():
        assert getattr(reads, key) == (False if word in ("stops", "no") else word), key


def test_what_is_taken_in_reading_is_not_told_until_it_counts(machine_of):
    assumed = machine_of("").assumed
    quiet = [e.words for e in SECTIONS["controller"].values() if getattr(e, "quiet", False)]
    assert len(quiet) == 15
    assert not [words for words in assumed if any(part in words for part in quiet)]


def test_a_corner_rule_may_say_where_it_is_from(machine_of):
    said = '[controller]\ncorners = { is = "exact stop", from = "measured", ref = "watched" }'
    assert machine_of(said).controller.corner_rule == "exact stop"
    assert machine_of(said).controller.corner_rule_kind == "measured"
    assert machine_of('[controller]\ncorners = "exact stop"').controller.corner_rule_kind == (
        "estimated"
    )
    unsaid = machine_of("").controller
    assert (unsaid.corner_rule, unsaid.corner_rule_kind) == ("axis speed step", "default")


@pytest.mark.parametrize(
    "value", ['{ from = "measured" }', '{ is = "round", from = "measured" }', "3",
              '{ is = "exact stop", from = "hearsay" }', '{ is = "exact stop", size = 3 }'],
)  # fmt: skip
def test_a_corner_rule_that_cannot_be_read(machine_of, value):
    with pytest.raises(InputErrors, match=r"machine\.toml:3:"):
        machine_of(f"[controller]\ncorners = {value}\n")


@pytest.mark.parametrize(
    ("says", "kind", "seconds"),
    [
        ("stops and Z is set again", "variable frequency", 100.0 + 40.0),
        ("stops, length table", "variable frequency", 100.0),
        ("stops, length table", "hand router", 100.0 + 7.0),
        ("stops and Z is set again", "hand router", 100.0 + 40.0 + 7.0),
        ("ignores it", "hand router", 0.0),
    ],
)
def test_a_cutter_change_takes_what_the_person_does_at_it(machine_of, says, kind, seconds):
    machine = machine_of(
        f'[spindle]\nkind = "{kind}"\n[controller]\ncutter_change = "{says}"\n'
        'cutter_change_time = "100 s"\nset_z_time = "40 s"\nrouter_switch_time = "7 s"\n'
        'stop_time = "1 min 5 s"\n'
    )
    assert machine.controller.cutter_change_s == pytest.approx(seconds)
    assert machine.known["controller.stop_time"].value == pytest.approx(65.0)


@pytest.mark.parametrize(
    "line", ['longest_line = "70 mm"', "longest_line = 3", "lower_case = true"]
)
def test_ways_of_reading_that_cannot_be(machine_of, line):
    with pytest.raises(InputErrors, match=line.split()[0] + "|longest line"):
        machine_of(f"[controller]\n{line}\n")


def test_every_key_has_words_and_a_default_that_fits():
    for section, entries in SECTIONS.items():
        for key, entry in entries.items():
            path = f"{section}.{key}" if section else key
            assert words_at(path)
            if isinstance(entry, Number):
                assert entry.least < entry.most


def test_demo(demo):
    assert demo.name == "Alder Lane router"
    assert demo.x.lead_mm == pytest.approx(12.7)
    assert demo.z.lead_mm == pytest.approx(5.08)
    kinds = {known.kind for known in demo.known.values()}
    assert kinds == {"measured", "datasheet", "estimated", "default"}
    assert min(axis.acceleration_mm_per_s2 for axis in demo.axes) >= 250.0
    assert max(axis.acceleration_mm_per_s2 for axis in demo.axes) <= 400.0
    assert len(demo.assumed) == len(set(demo.assumed))


def test_draws(demo):
    one, two = (demo.drawn(np.random.default_rng(7), 1)[0] for _ in range(2))
    assert one.values == two.values
    other = demo.drawn(np.random.default_rng(8), 1)[0]
    assert other.values != one.values
    assert other.sha256 == demo.sha256
    exact = [p for p, k in demo.known.items() if k.u is None and k.low is None]
    assert all(other.values[path] == demo.values[path] for path in exact)
    again = other.drawn(np.random.default_rng(7), 1)[0]
    assert again.values == one.values  # a draw of a draw is a draw of the description


@pytest.mark.parametrize("seed", range(20))
def test_no_draw_of_an_unknown_machine_is_impossible(machine_of, seed):
    machine = machine_of('[axes.x]\ndrive = "belt"\n[axes.y]\ndrive = "rack"\nmotors = 2\n')
    drawn = machine.drawn(np.random.default_rng(seed), 1)[0]
    for axis in drawn.axes:
        assert axis.top_speed_mm_per_s > 0.0
        assert axis.stiffness_n_per_mm > 0.0
        assert axis.curve_torque_nmm[0] > 0.0
        assert np.all(np.diff(axis.curve_torque_nmm) <= 1e-9)
    assert np.all(np.linalg.eigvalsh(drawn.compliance_mm_per_n) > 0.0)
    assert np.allclose(sum(drawn.compliance_shares.values()), 1.0)


def test_a_trapezoidal_size_outside_the_series_goes_by_the_profile(machine_of):
    """The rule gives every row of the table (DIN 103 series, read) its core diameter."""
    for row in read_table("trapezoidal_threads"):
        d, pitch, core = _by_profile(float(row["d_mm"]), float(row["P_mm"]))
        assert (d.value, pitch.value) == (float(row["d_mm"]), float(row["P_mm"]))
        assert core.value == pytest.approx(float(row["d3_mm"]))
    machine = machine_of(
        "[axes.z.screw]\nform = 'trapezoidal'\nsize = 'Tr8x2'\nlead = '8 mm'\nstarts = 4"
    )
    assert machine.values["axes.z.screw.root_diameter"] == 5.5
    for size in ("Tr8x5", "Tr8x0.2", "Tr900x9"):
        with pytest.raises(InputErrors, match="is no size of form"):
            machine_of(f"[axes.z.screw]\nform = 'trapezoidal'\nsize = '{size}'")
