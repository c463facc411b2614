"""The service against its own OpenAPI document, with requests that a property-based tester thinks of."""

from __future__ import annotations

import jsonschema
import pytest

from service.run import DOCUMENTS
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


@pytest.mark.parametrize("name", DOCUMENTS)
def test_each_document_is_described_by_its_own_schema_with_an_example(service: Served, name: str) -> None:
    """The schema of what is written asks for every field: one that is new asks for `python -m tests.http.examples`."""
    described = service.client.get("/api/openapi.json").json()
    path = "/api/compare" if name == "compare" else f"/api/jobs/{{job_id}}/{name}"
    route = described["paths"][path]["post" if name == "compare" else "get"]
    content = route["responses"]["200"]["content"]["application/json"]
    kind = DOCUMENTS[name].__name__
    assert content["schema"]["$ref"].startswith(f"#/components/schemas/{kind}")
    example = content["examples"]["shortened"]["value"]
    DOCUMENTS[name].model_validate(example)
    schema = {"$ref": content["schema"]["$ref"], "components": described["components"]}
    jsonschema.validate(example, schema)


def test_what_is_answered_is_as_described(service: Served, part: bytes) -> None:
    described = service.client.get("/api/openapi.json").json()
    one, two = (service.ended(service.upload(part, "as_told.step", job=f'{{"stock": {n}}}')["id"]) for n in (2, 3))
    for path, routes in described["paths"].items():
        for method, route in routes.items():
            schema = route["responses"].get("200", {}).get("content", {}).get("application/json", {}).get("schema")
            if not schema or path.endswith("{name}"):
                continue
            sent = {"json": {"old": one["id"], "new": two["id"]}} if method == "post" else {}
            answer = service.client.request(method, path.replace("{job_id}", one["id"]), **sent)  # type: ignore[arg-type]
            assert answer.status_code == 200, f"{method} {path}: {answer.text}"
            jsonschema.validate(answer.json(), schema | {"components": described["components"]})
