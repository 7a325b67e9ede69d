"""The small store that the page tests share."""

import pytest

from tests.tracker.pages.academy import fill, small_fit
from tracker.posterior import Fit
from tracker.store.store import Store


@pytest.fixture
def fit() -> Fit:
    return small_fit()


@pytest.fixture
def url(tmp_path, monkeypatch):
    address = f"sqlite:///{tmp_path / 'academy.db'}"
    monkeypatch.setenv("DRIVE_PROGRESS_DB", address)
    return address


@pytest.fixture
def store(url):
    with Store.open(url) as opened:
        yield opened


@pytest.fixture
def academy(store):
    fill(store)
    return store
