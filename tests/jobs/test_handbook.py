"""Asking the handbook: names, units, lists, and everything that can be written wrongly."""

import json

import numpy as np
import pytest

from kerfwright.basics import InputError, InputErrors
from kerfwright.jobs.handbook import answer_json, ask, evaluate, look_up, pages_json
from kerfwright.jobs.handbook_pages import pages
from kerfwright.jobs.handbook_words import answer_words, list_words, page_words

SHIGLEY = ('thrust=6.4 kN', "mean_diameter=30 mm", "lead=8 mm", "friction=0.08")  # fmt: skip


def test_an_answer_with_its_source():
    told = json.loads(answer_json(ask("screw-raising-torque", SHIGLEY)))
    assert list(told) == ["name", "value", "unit", "inputs", "source"]
    assert told["name"] == "screw-raising-torque"
    assert told["value"] == pytest.approx(15_937, abs=0.5)  # Shigley 8-1, thread alone: computed
    assert told["unit"] == "N mm"
    assert told["inputs"]["thrust"] == {"value": 6400.0, "unit": "N", "written": "6.4 kN"}
    assert told["inputs"]["flank_half_angle"] == {"value": 0.0, "unit": "rad", "written": None}
    assert "Mott" in told["source"]


@pytest.mark.parametrize(
    ("written", "newtons"),
    [("6.4 kN", 6400), ("1 lbf", 4.4482216152605), ("1 kgf", 9.80665), ("2 1/2 N", 2.5)],
)
def test_any_unit_of_force(written, newtons):
    answer = ask("screw-raising-torque", (f"thrust={written}", *SHIGLEY[1:]))
    assert answer.inputs[0].value == pytest.approx(newtons, rel=1e-14)


@pytest.mark.parametrize(
    ("name", "texts", "value"),
    [
        # one foot-sized screw in inches, degrees: the same as in mm and rad
        ("screw-lead-angle", ("mean_diameter=0.45 in", "lead=0.5 in"),
            np.arctan(0.5 / 0.45 / np.pi)),
        ("screw-locking-friction", ("mean_diameter=0.45 in", "lead=0.1 in",
            "flank_half_angle=14.5 deg"), 0.1 / 0.45 / np.pi * np.cos(np.radians(14.5))),
        ("inertia-torque", ("inertia=1 kg m2", "acceleration=1 rad/s2"), 1000.0),
        ("beam-supported-mid", ("force=48 lbf", "length=1 ft", "modulus=1 psi",
            "second_moment=1728 in4"), 25.4),
    ],
)  # fmt: skip
def test_shop_units(name, texts, value):
    assert ask(name, texts).value == pytest.approx(value, rel=1e-12)


def test_speeds_of_turning_convert():
    one = ask("stepper-quick-limit", ("supply=48 V", "inductance=3 mH", "current=2.8 A",
        "full_steps_per_rev=200"))  # fmt: skip
    assert one.unit == "rev/s"
    assert one.value * 60 == pytest.approx(857, abs=0.5)  # computed


def test_lists_make_a_table_row_by_row():
    answer = ask("screw-raising-torque", (*SHIGLEY[:2], "lead=8, 10 mm", "friction=0.08, 0.1"))
    one = ask("screw-raising-torque", (*SHIGLEY[:2], "lead=10 mm", "friction=0.1"))
    assert len(answer.value) == 2
    assert answer.value[1] == one.value
    words = answer_words(answer)
    heads = next(line for line in words.splitlines() if "result" in line)
    assert heads.split("  ") == ["lead [mm]", "friction", "result [N mm]"]


def test_several_results_have_names_and_units():
    told = json.loads(
        answer_json(
            ask("contact-line-contact", ("load=100 N/mm", "radius=10 mm", "modulus=113147 MPa"))
        )
    )
    assert told["unit"] == {"half_width": "mm", "greatest_pressure": "MPa"}
    assert told["value"]["half_width"] == pytest.approx(0.10608, abs=1e-5)  # computed


@pytest.mark.parametrize(
    ("texts", "problem", "remedy"),
    [
        (("thrust=6.4 mm",), '"mm" cannot be turned into N', 'write it like thrust="25 N"'),
        (("thrust=6400",), "6400 has no unit", 'write it like thrust="25 N"'),
        (("thrust=6 stone",), '"stone" is no unit that is known here', "write it like"),
        (("thrust=much",), '"much" is not a number', 'write it like thrust="25 N"'),
        (("thrust=[1, x] N",), '"[1, x] N" is no table of numbers',
            'write it like "[0, 0, -150] mm"'),
        (("friction=0.1 mm",), '"mm" is a unit, but this is a pure number',
            "write it like friction=0.15"),
        (("mean_diamter=30 mm",), 'it takes no "mean_diamter"', "did you mean mean_diameter?"),
        ((), "thrust is missing", 'add thrust="25 N"'),
        (("thrust=1, 2 N", "lead=1, 2, 3 mm"), "lists of different lengths: thrust 2, lead 3",
            "row by row"),
    ],
)  # fmt: skip
def test_wrong_arguments(texts, problem, remedy):
    names = [text.partition("=")[0] for text in texts]
    rest = [text for text in SHIGLEY if text.partition("=")[0] not in names]
    if not texts:
        rest = rest[1:]
    with pytest.raises((InputError, InputErrors)) as error:
        ask("screw-raising-torque", (*texts, *rest))
    first = getattr(error.value, "errors", (error.value,))[0]
    assert first.problem == problem
    assert remedy in first.remedy


def test_all_that_is_wrong_is_told_at_once():
    with pytest.raises(InputErrors) as error:
        ask("screw-raising-torque", ("thrust=6 mm", "colour=red", "friction=1 N"))
    assert [one.problem for one in error.value.errors] == [
        'it takes no "colour"',
        '"mm" cannot be turned into N',
        "mean_diameter is missing",
        "lead is missing",
        '"N" is a unit, but this is a pure number',
    ]


@pytest.mark.parametrize("texts", [("friction",), ("friction=0.1", "friction=0.2")])
def test_no_argument_and_twice(texts):
    with pytest.raises(InputError, match=r"no argument|given twice"):
        ask("screw-raising-torque", texts)


def test_what_a_formula_refuses_is_said_in_the_names_written():
    with pytest.raises(InputError) as error:
        ask("screw-raising-torque", (*SHIGLEY[:2], "lead=8, 0 mm", "friction=0.08"))
    assert error.value.problem == "lead must be above 0 (first at index 1)"
    with pytest.raises(InputError, match="the screw locks"):
        ask("screw-raising-torque", (*SHIGLEY[:2], "lead=80 mm", "friction=5"))


def test_unknown_names_get_near_ones():
    with pytest.raises(InputError) as error:
        look_up("screw-raising-torqe")
    assert error.value.remedy.startswith("did you mean screw-raising-torque or")
    with pytest.raises(InputError, match="is a group of"):
        ask("screw", SHIGLEY)


def test_too_much_is_refused():
    with pytest.raises(InputError, match="characters are too many"):
        ask("screw-raising-torque", ("thrust=" + "1," * 60_000 + "1 N", *SHIGLEY[1:]))
    with pytest.raises(InputError, match="values are too many"):
        ask("screw-raising-torque", ("thrust=" + "1," * 20_000 + "1 N", *SHIGLEY[1:]))
    with pytest.raises(InputError, match="no table of numbers"):
        ask("screw-raising-torque", ("thrust=" + "[" * 50_000, *SHIGLEY[1:]))
    with pytest.raises(InputError, match="these values give no number"):
        ask("screw-raising-torque", ("thrust=1e300 N", "mean_diameter=1e300 mm", *SHIGLEY[2:]))


WILD = ("0", "-1", "1e-300", "1e300", "1e308", "3, 4", "[1,2,3]", "[[1,2],[3,4]]", "[]", "[[[1]]]")


@pytest.mark.parametrize("page", list(pages().values()), ids=lambda p: p.name)
def test_wild_values_are_answered_or_refused(page):
    # One argument of an example is replaced by each wild value: an answer, or errors with remedies.
    given = page.examples[0].given if page.examples else {}
    refusals = []
    for one in page.arguments:
        for wild in WILD:
            texts = {**given, one.name: f"{wild} {one.unit}".strip()}
            try:
                answer = evaluate(page, texts)
            except (InputError, InputErrors) as error:
                refused = getattr(error, "errors", (error,))
                refusals += [part.remedy for part in refused]
            else:
                assert json.loads(answer_json(answer))["name"] == page.name
                assert answer_words(answer)
    assert all(refusals)


def test_a_description_may_be_given_by_its_parts():
    page = look_up("geometry-error-deviation")[0]
    assert {"errors.along", "errors.turn", "errors.c0y"} <= {one.name for one in page.arguments}
    with pytest.raises(InputError, match="wrong shape"):
        evaluate(page, {**page.examples[0].given, "errors.turn": "1 rad"})
    with pytest.raises(InputErrors, match=r"arcs\.chip is missing"):
        ask("tooth-peak", ("steps=3",))
    # Two arcs one behind the other are the one that they make up.
    whole = look_up("tooth-power")[0].examples[0].given
    halves = whole | {
        "arcs.begin": "[-90, 20] deg", "arcs.end": "[20, 90] deg", "arcs.low": "[0, 0] mm",
        "arcs.high": "[6, 6] mm", "arcs.chip": "[-12.9+43i, -12.9+43i]",
        "arcs.rub": "[-2.59+3.7i, -2.59+3.7i]", "arcs.times": "[[1, 1], [1, 1]]",
        "arcs.plus": "[[0, 0], [0, 0]] mm",
    }  # fmt: skip
    page = look_up("tooth-power")[0]
    assert evaluate(page, halves).value == pytest.approx(evaluate(page, whole).value)


def test_groups_lists_and_pages_read_well():
    group = look_up("screw")
    assert {"screw-raising-torque", "screw-lowering-torque"} <= {page.name for page in group}
    words = list_words(group)
    assert words.startswith("screw:\n")
    assert f"{len(group)} formulas" in words
    page = page_words(look_up("screw-raising-torque")[0])
    for heading in ("Gives", "Takes", "Fails", "How far it holds", "Source"):
        assert f"\n{heading}\n" in page
    assert "flank_half_angle [rad] = 0" in page
    assert max(map(len, page.splitlines())) <= 100
    heads = [line for line in list_words(tuple(pages().values())).splitlines() if line[-1:] == ":"]
    assert len(heads) == len(set(heads))
    told = json.loads(pages_json(tuple(pages().values())))["formulas"]
    assert len(told) == len(pages())
