"""A small workshop and its page, for every test of the page."""

import pytest
from small_shop import client_of, small_workshop, wait_until

from kerfwright.app.page import ticket
from kerfwright.app.page.shop import Shop


@pytest.fixture
def shop(tmp_path, monkeypatch):
    """A workshop of its own. Its program is not read beside the test: that takes a process."""
    monkeypatch.setattr(ticket, "begin_reading", lambda *_: None)
    shop = Shop(small_workshop(tmp_path / "shop"), demo=False, threads=1)
    yield shop
    shop.close()


@pytest.fixture
def page(shop):
    """Its page."""
    return client_of(shop)


@pytest.fixture(scope="module")
def proved(tmp_path_factory):
    """A workshop whose job is proved; tests must not change it."""
    shop = Shop(small_workshop(tmp_path_factory.mktemp("proved") / "shop"), demo=False, threads=1)
    client = client_of(shop)
    assert client.post("/api/jobs/slot/prove").status_code == 200
    wait_until(lambda: shop.errands.of("slot") is None)
    client.shop = shop
    yield client
    shop.close()
