"""The service against its own OpenAPI document, with requests that a property-based tester thinks of."""

from __future__ import annotations

import pytest

from tests.http.conftest import Served

schemathesis = pytest.importorskip("schemathesis")
from hypothesis import HealthCheck, Phase, given, settings  # noqa: E402
from schemathesis.specs.openapi.checks import positive_data_acceptance  # noqa: E402 - what a file or a job's text holds

FEW = settings(
    max_examples=12, deadline=None, derandomize=True, database=None, phases=[Phase.explicit, Phase.generate],
    suppress_health_check=list(HealthCheck),
)  # fmt: skip


def test_every_route_answers_as_it_says(service: Served) -> None:
    api = schemathesis.openapi.from_url(f"{service.client.base_url}/api/openapi.json")
    operations = [found.ok() for found in api.get_all_operations()]
    assert len(operations) > 10
    for operation in operations:

        @FEW
        @given(case=operation.as_strategy())
        def answers(case) -> None:  # type: ignore[no-untyped-def]
            case.call_and_validate(timeout=30, excluded_checks=[positive_data_acceptance])

        answers()


def test_every_route_has_a_text_and_says_its_problems(service: Served) -> None:
    document = service.client.get("/api/openapi.json").json()
    for path, routes in document["paths"].items():
        for method, route in routes.items():
            assert route["description"], f"{method} {path}"
            assert "application/problem+json" in route["responses"]["503"]["content"]
    assert "examples" in document["components"]["schemas"]["JobState"]
