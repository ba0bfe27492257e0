"""``[hold]`` and ``[[accept]]`` of job.toml."""

import pytest

from kerfwright.basics import InputError, InputErrors
from kerfwright.cutter import read_cutter
from kerfwright.setup import load_job

JOB = """kerfwright = "job 1"
[board]
size = "300 x 200 x 12 mm"
wood = "birch ply"
[slots]
1 = "flat"
{more}
"""


@pytest.fixture
def load(tmp_path, machine):
    def run(more):
        path = tmp_path / "job.toml"
        path.write_text(JOB.format(more=more), encoding="utf-8")
        return load_job(path, {"flat": read_cutter("flat 6 mm, 2 flutes")}, machine)

    return run


def test_nothing_said_is_nothing_known(load):
    setup = load("")
    assert (setup.hold, setup.accepted, setup.z_after_change) == (None, (), "set again")


def test_all_that_holds(load):
    hold = load(
        '[hold]\nscrews = [["12 mm", "1 in"]]\nscrew_holds = "400 N"\n'
        'nails = [["20 mm", "20 mm"]]\n'
        'tape = [{ at = ["10 mm", "20 mm"], size = "80 x 40 mm" }]\ntape_holds = "50 kPa"\n'
        'vacuum = "40 kPa"\nfriction = "0.3"\n'
        '[[clamps]]\nname = "left"\nat = ["-20 mm", "90 mm"]\nsize = "40 x 20 mm"\n'
        'height = "20 mm"\nforce = "500 N"\n'
    ).hold
    kinds = {grip.kind: grip for grip in hold.grips}
    assert set(kinds) == {"screw", "nail", "tape", "vacuum", "clamp"}
    assert kinds["screw"].at_mm == ((12.0, 25.4),)
    assert kinds["screw"].force_n.value == 400.0
    assert kinds["nail"].force_n.kind == "default"
    # 80 x 40 mm at 0.05 MPa, and the whole sheet at 0.04.
    tape, vacuum = kinds["tape"], kinds["vacuum"]
    assert tape.force_n.value * len(tape.at_mm) == pytest.approx(160.0)
    assert vacuum.force_n.value * len(vacuum.at_mm) == pytest.approx(2400.0)
    assert hold.whole
    # The clamp presses in the middle of what it covers: 20 of its 40 mm.
    assert kinds["clamp"].at_mm == ((10.0, 100.0),)
    assert hold.friction.value == 0.3
    assert 4.0 < hold.weight_n < 6.0
    assert any("each nail holds" in words for words in hold.assumed)


def test_a_clamp_beside_the_board_presses_nothing(load):
    hold = load(
        '[[clamps]]\nname = "l"\nat = ["-50 mm", "90 mm"]\nsize = "40 x 20 mm"\nheight = "20 mm"\n'
    ).hold
    assert hold.grips == ()


@pytest.mark.parametrize(
    ("more", "told"),
    [
        ('[hold]\nscrews = [["12 mm", "900 mm"]]', "a place is not on the board"),
        ('[hold]\nscrews = "all over"', "is no list of places"),
        ("[hold]\ntape = 3", "is no place of tape"),
        ('[hold]\nfriction = "7"', "no wood rubs as hard as that"),
        ('[hold]\nvacuum = "-3 kPa"', "vacuum is not above 0"),
        ('[hold]\nglue = "much"', '"glue" means nothing here'),
        ('[zero]\nafter_change = "maybe"', "does not say what is done with Z zero"),
        ('[[accept]]\nid = "a-1"', "an accepted finding has no reason"),
        ('[[accept]]\nid="a"\nreason="b"\n[[accept]]\nid="a"\nreason="c"', "is accepted twice"),
    ],
)
def test_what_cannot_be_read_is_told_with_its_line(load, more, told):
    with pytest.raises((InputError, InputErrors), match="remedy") as raised:
        load(more)
    assert told in str(raised.value)
    assert "job.toml:" in str(raised.value)


def test_accepted_findings_keep_their_place(load):
    (one,) = load('[[accept]]\nid = "loose-piece-4"\nreason = "scrap"').accepted
    assert (one.id, one.reason, one.place.line) == ("loose-piece-4", "scrap", 8)
