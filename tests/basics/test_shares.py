"""Shares in words: per cent while that says something, then multiples."""

from kerfwright.basics import Estimate
from kerfwright.basics.shares import of_what, share_words


def test_a_share_is_told_in_per_cent_and_from_twice_on_as_a_multiple():
    assert share_words(0.85) == ["85 %"]
    assert share_words(-0.004, -0.03, 0.2) == ["0 %", "−3", "20"]
    assert share_words(1.99, 0.4, 3.0) == ["199 %", "40", "300"]
    assert share_words(2.0, 0.9, 10.4) == ["2.0 times", "0.9", "10"]
    assert share_words(25.71, 9.26, 60.2) == ["26 times", "9.3", "60"]


def test_what_it_is_a_share_of_can_follow():
    small = Estimate(value=0.85, low=0.4, high=1.8)
    assert f"{of_what(small)} it" == "85 % (40 to 180 %, nineteen times in twenty) of it"
    large = Estimate(value=25.7, low=9.2, high=60.0)
    assert f"{of_what(large)} what it bears" == (
        "26 times (9.2 to 60, nineteen times in twenty) what it bears"
    )
