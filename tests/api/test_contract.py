"""Every address against its own OpenAPI description, with made-up requests."""

from __future__ import annotations

from typing import Any

import pytest
import schemathesis
from hypothesis import HealthCheck, given, settings
from schemathesis import BaseSchema, Case, GenerationMode

from tests.api.house import House
from tests.api.kiln_record import KilnRecord

pytestmark = pytest.mark.slow

OPERATIONS = [("/status", "GET"), ("/plan", "GET"), ("/curve", "GET"), ("/events", "GET"), ("/asks", "POST")]
WITHOUT_INPUT = OPERATIONS[:2]


@pytest.fixture
def described(house: House, record: KilnRecord) -> BaseSchema:
    """The server's description of itself, with a firing to talk about."""
    record.climb(3, range(100))
    record.event(3, "state", "Climbing.")
    house.hear(record=str(record.path))
    return schemathesis.openapi.from_url(f"{house.url}/openapi.json")


@pytest.mark.parametrize("mode", list(GenerationMode))
@pytest.mark.parametrize("operation", OPERATIONS)
def test_the_server_keeps_to_what_it_says_of_itself(
    described: BaseSchema, operation: tuple[str, str], mode: GenerationMode
) -> None:
    path, method = operation
    if mode is GenerationMode.NEGATIVE and operation in WITHOUT_INPUT:
        pytest.skip("takes no input that could be wrong")

    @given(case=described[path][method].as_strategy(generation_mode=mode))
    @settings(max_examples=25, deadline=None, derandomize=True, database=None, suppress_health_check=list(HealthCheck))
    def keeps(case: Case[Any]) -> None:
        case.call_and_validate()

    keeps()


def test_every_address_is_checked(described: BaseSchema) -> None:
    paths: dict[str, dict[str, Any]] = described.raw_schema["paths"]
    assert {(path, method.upper()) for path, methods in paths.items() for method in methods} == set(OPERATIONS)
