"""The machine's card in a real browser: what swings, what hangs, what lets go."""

import re

import pytest
from playwright.sync_api import expect, sync_playwright

from browser import ARGUMENTS, SCREENS, Watched, chromium, server, workshop_for_the_page

pytestmark = pytest.mark.slow
expect.set_options(timeout=90_000)  # a busy machine is not a wrong page


@pytest.fixture(scope="module")
def address(tmp_path_factory):
    folder = workshop_for_the_page(tmp_path_factory.mktemp("card") / "shop")
    with server(folder, tmp_path_factory.mktemp("data")) as at:
        yield at


@pytest.fixture(scope="module")
def browser():
    with sync_playwright() as play:
        opened = play.chromium.launch(executable_path=chromium(), args=list(ARGUMENTS))
        yield opened
        opened.close()


def drawn(swing):
    """What the first picture of a swing shows."""
    return swing.locator("svg").first.inner_html()


def test_swings_move_by_button_and_by_hand_and_the_bed_shows_how_it_hangs(browser, address):
    context = browser.new_context(viewport={"width": 1280, "height": 700})
    one = Watched(context, address)
    page = one.open("machine")
    swing = page.get_by_role("article", name="Swing at").first
    expect(page.get_by_role("article", name="Swing at")).to_have_count(3)
    expect(swing.get_by_role("img", name="from above, swinging")).to_be_visible()
    rest = drawn(swing)
    button = swing.get_by_role("button", name="Let it swing")
    button.focus()
    page.keyboard.press("Enter")
    expect(button).to_have_attribute("aria-pressed", "true")
    page.wait_for_function(
        "was => document.querySelector('.swings svg').innerHTML !== was", arg=rest
    )
    by_hand = swing.get_by_role("slider", name="Swing it by hand")
    by_hand.focus()
    page.keyboard.press("Home")  # takes hold of it
    expect(button).to_have_attribute("aria-pressed", "false")
    expect(by_hand).to_have_value("-100")
    assert drawn(swing) != rest
    page.keyboard.press("End")
    page.wait_for_function(
        "was => document.querySelector('.swings svg').innerHTML === was", arg=rest
    )
    expect(page.get_by_role("heading", name="When it lets go")).to_be_visible()
    expect(page.locator(".opens li").first).to_contain_text("N,")
    page.get_by_role("radio", name="or let it hang").check()
    expect(page.locator(".told b")).to_contain_text("by its own weight")
    beam = page.get_by_role("slider", name="height of the beam")
    beam.focus()
    for _ in range(3):  # faster than it answers: the last counts
        page.keyboard.press("ArrowRight")
    expect(page.locator(".would")).not_to_have_class(re.compile("busy"))
    expect(page.locator(".would tbody tr").first).to_contain_text("% less, better")
    page.get_by_role("button", name="Leave it").click()
    expect(page.get_by_text("Nothing is turned yet.")).to_be_visible()
    SCREENS.mkdir(parents=True, exist_ok=True)
    page.locator("section:has(.swings)").screenshot(path=SCREENS / "10-swings.png")
    assert one.wrong == []
    context.close()


def test_less_motion_and_a_narrow_page(browser, address):
    context = browser.new_context(
        viewport={"width": 400, "height": 900}, reduced_motion="reduce", color_scheme="dark"
    )
    one = Watched(context, address)
    page = one.open("machine")
    swing = page.get_by_role("article", name="Swing at").first
    expect(swing.get_by_role("slider", name="Swing it by hand")).to_be_visible()
    expect(page.get_by_role("button", name="Let it swing")).to_have_count(0)
    assert page.evaluate("document.documentElement.scrollWidth") <= 400
    one.open("job/through")
    assert page.evaluate("document.documentElement.scrollWidth") <= 400
    assert one.wrong == []
    context.close()
