"""Who may talk to the page. Each case is a way in that a stranger's page or device would try."""

import pytest
from small_shop import TOKEN, client_of
from starlette.testclient import TestClient

from kerfwright.app.page.application import application
from kerfwright.app.page.guard import HOSTS, TOKEN_HEADER, LanCode


@pytest.mark.parametrize(
    "headers",
    [
        {"host": "shop.example"},
        {"host": "127.0.0.1.example"},
        {"origin": "http://shop.example"},
        {"origin": "null"},
        {"origin": "http://127.0.0.1:1"},
        {"sec-fetch-site": "cross-site"},
        {"sec-fetch-site": "same-site"},
        # One link to the page itself is allowed below, not to what it reads.
        {
            "sec-fetch-site": "cross-site",
            "sec-fetch-mode": "navigate",
            "sec-fetch-dest": "document",
        },
    ],
)
def test_a_stranger_reads_nothing(page, headers):
    assert page.get("/api/state", headers=headers).status_code == 403


def test_our_own_page_reads(page):
    own = {"sec-fetch-site": "same-origin", "origin": "http://127.0.0.1:8417"}
    assert page.get("/api/state", headers=own).status_code == 200
    assert page.get("/api/state", headers={"host": "localhost:8417"}).status_code == 200


@pytest.mark.parametrize("said", ["", "wrong", TOKEN + ", " + TOKEN, "ö"])
def test_nothing_changes_without_the_token(shop, said):
    bare = TestClient(application(shop, TOKEN), base_url="http://127.0.0.1:8417")
    headers = {TOKEN_HEADER.encode(): said.encode("latin-1")} if said else {}
    for method, path in (
        ("POST", "/api/undo"),
        ("POST", "/api/jobs/slot/change"),
        ("PUT", "/api/programs/a.nc"),
        ("DELETE", "/api/state"),
    ):
        assert bare.request(method, path, headers=headers).status_code == 403


def test_every_answer_carries_the_content_policy(page):
    for path, headers in (("/", {}), ("/api/state", {}), ("/api/state", {"host": "x.example"})):
        policy = page.get(path, headers=headers).headers["content-security-policy"]
        assert "default-src 'self'" in policy
        assert "unsafe-eval" not in policy
        assert "script-src 'self';" in policy
        assert "frame-ancestors 'none'" in policy


def test_another_device_is_let_in_once_by_the_code(shop):
    code = LanCode()
    app = application(shop, TOKEN, (*HOSTS, "192.168.0.7"), code)
    base = "http://192.168.0.7:8417"
    first = TestClient(app, base_url=base, client=("192.168.0.9", 5000), follow_redirects=False)
    assert first.get("/api/state").status_code == 403
    assert 'name="code"' in first.get("/").text
    assert first.get("/?code=nonsense").status_code == 403
    assert first.get(f"/?code={code.code}").status_code == 303
    assert first.get("/api/state").status_code == 200
    other = TestClient(app, base_url=base, client=("192.168.0.10", 5000), follow_redirects=False)
    assert other.get(f"/?code={code.code}").status_code == 403
    assert other.get("/api/state", headers={"cookie": "kerfwright-lan=x"}).status_code == 403


def test_ten_wrong_codes_make_it_void():
    code = LanCode()
    for _ in range(10):
        assert code.let_in("no") is None
    assert code.let_in(code.code) is None


@pytest.mark.parametrize(
    "name",
    ["..%2f..%2fx", "%2e%2e", "a%00b", "..", "slot%2f..%2fslot", "link", ".cache"],
)
def test_no_name_leads_out_of_the_workshop(page, shop, tmp_path, name):
    (tmp_path / "outside").mkdir()
    (tmp_path / "outside" / "secret.nc").write_text("G0 X1\n", encoding="utf-8")
    link = shop.workshop.folder / "jobs" / "link"
    link.symlink_to(tmp_path / "outside", target_is_directory=True)
    for tail in ("", "/lines", "/maps/height"):
        assert page.get(f"/api/jobs/{name}{tail}").status_code == 404
    assert [job["name"] for job in page.get("/api/state").json()["jobs"]] == ["slot"]


def test_a_program_that_is_a_link_to_elsewhere_is_not_shown(page, shop, tmp_path):
    (tmp_path / "secret.nc").write_text("G0 X1\n", encoding="utf-8")
    program = shop.workshop.folder / "jobs" / "slot" / "slot.nc"
    program.unlink()
    program.symlink_to(tmp_path / "secret.nc")
    assert page.get("/api/jobs/slot/lines").status_code == 404
    assert page.post("/api/jobs/slot/prove").status_code == 409


def test_a_question_has_a_largest_size_and_a_form(page):
    long = {"changes": [{"path": "note", "typed": "x" * 300_000}]}
    assert page.post("/api/jobs/slot/change", json=long).status_code == 413
    deep = b"[" * 100_000
    for body in (b"{", b"[1]", b"\xff", deep, b'{"changes": 3}', b'{"changes": [[]]}'):
        assert page.post("/api/jobs/slot/change", content=body).status_code in (400, 422)


def test_the_page_says_how_to_build_it_or_carries_the_token(shop, monkeypatch, tmp_path):
    from kerfwright.app.page import application as module

    monkeypatch.setattr(module, "STATIC", tmp_path / "static")
    answer = client_of(shop).get("/")
    assert answer.status_code == 503
    assert "has not been built" in answer.text
    (tmp_path / "static").mkdir()
    (tmp_path / "static" / "index.html").write_text("<head></head>", encoding="utf-8")
    answer = client_of(shop).get("/")
    assert answer.text == f'<head><meta name="kw-token" content="{TOKEN}"></head>'
    assert answer.headers["cache-control"] == "no-store"
