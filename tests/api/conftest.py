"""What the tests of the page share."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest
from playwright.sync_api import Browser

from tests.api.browser import chromium, launched
from tests.api.house import House, open_house
from tests.api.kiln_record import KilnRecord


@pytest.fixture(scope="session")
def street(tmp_path_factory: pytest.TempPathFactory) -> Iterator[House]:
    """One running server for all tests: starting it takes longer than most of them."""
    with open_house(tmp_path_factory.mktemp("channel")) as opened:
        yield opened


@pytest.fixture
def house(street: House) -> Iterator[House]:
    """A house whose daemon hasn't said anything yet."""
    fresh = street.newcomer()
    yield fresh
    fresh.daemon.die()


@pytest.fixture
def record(tmp_path: Path) -> Iterator[KilnRecord]:
    """An empty record, open for writing."""
    made = KilnRecord(tmp_path / "record.sqlite")
    yield made
    made.db.close()


@pytest.fixture(scope="session")
def browser() -> Iterator[Browser]:
    """A browser for all tests."""
    with launched(chromium()) as started:
        yield started
