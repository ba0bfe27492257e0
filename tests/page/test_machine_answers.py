"""The machine at the page: asked, changed, tried; over the whole application, without a socket."""

import pytest
from starlette.testclient import TestClient

from kerfwright.app.page.application import application
from kerfwright.app.page.shop import Shop
from kerfwright.workshop import copy_demo, open_demo

TOKEN = "a-token-for-tests"


@pytest.fixture
def shop(tmp_path):
    shop = Shop(copy_demo(tmp_path / "shop"), demo=True, threads=1)
    yield shop
    shop.close()


@pytest.fixture
def ask(shop):
    return client_of(shop)


def client_of(shop):
    client = TestClient(application(shop, TOKEN), base_url="http://127.0.0.1")
    client.headers["Kerfwright-Token"] = TOKEN
    return client


def changes(**typed):
    return {"changes": [{"path": path, "typed": words} for path, words in typed.items()]}


def blank(card, path):
    return next(b for q in card["questions"] for b in q["blanks"] if b["path"] == path)


def test_a_change_is_kept_and_can_be_undone(shop, ask):
    before = shop.workshop.machine_file.read_bytes()
    card = ask.get("/api/machine").json()
    assert blank(card, "axes.x.travel")["typed"] == "610 ± 0.5 mm"
    answer = ask.post("/api/machine/change", json=changes(**{"axes.x.travel": "24 3/8 in"}))
    assert answer.status_code == 200
    after = blank(answer.json(), "axes.x.travel")
    assert after["words"] == "619.1 mm (24.375 in)"
    assert shop.state()["undo"] == "the answer to: How far can the spindle go?"
    shop.history.undo()
    assert shop.workshop.machine_file.read_bytes() == before


def test_a_wrong_answer_says_which_and_what_to_do_and_changes_nothing(shop, ask):
    before = shop.workshop.machine_file.read_bytes()
    typed = changes(**{"axes.y.travel": "400 mm", "axes.x.travel": "far"})
    answer = ask.post("/api/machine/change", json=typed)
    assert answer.status_code == 422
    (told,) = answer.json()
    assert told["file"] == "axes.x.travel"
    assert told["problem"] == '"far" is not a number with a unit'
    assert "25 mm" in told["remedy"]
    assert shop.workshop.machine_file.read_bytes() == before


def test_a_try_keeps_nothing(shop, ask):
    before = shop.workshop.machine_file.read_bytes()
    answer = ask.post("/api/machine/what_if", json=changes(**{"rails.preload": "150 N"}))
    assert answer.status_code == 200
    assert answer.json()["against"]
    assert shop.workshop.machine_file.read_bytes() == before
    assert shop.state()["undo"] is None


def test_the_pointer_is_told_in_words(ask):
    words = ask.get("/api/machine/at?x=300&y=200&z=0&along=0").json()["words"]
    assert words[0] == "X 300.0 mm (11.81 in), Y 200.0 mm (7.87 in), Z down"


@pytest.mark.parametrize(
    "body",
    [{}, {"changes": []}, {"changes": ["x"]}, {"changes": [{"path": 1, "typed": "2"}]},
     {"changes": [{"path": "axes.x.travel", "typed": "1 mm"}] * 61}],
)  # fmt: skip
def test_what_is_no_question_is_refused(ask, body):
    for way in ("change", "what_if"):
        assert ask.post(f"/api/machine/{way}", json=body).status_code == 400


def test_a_path_that_is_no_entry_is_refused(ask):
    for path in ("kerfwright", "axes.q.travel", "../machine", ""):
        answer = ask.post("/api/machine/change", json=changes(**{path: "1 mm"}))
        assert answer.status_code == 422, path


def test_nothing_is_written_into_the_packaged_demo():
    shop = Shop(open_demo(), demo=True, threads=1)
    answer = client_of(shop).post("/api/machine/change", json=changes(name="x"))
    assert answer.status_code == 409
    shop.close()
