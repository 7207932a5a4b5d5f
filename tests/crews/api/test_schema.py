"""The API's description: OpenAPI 3.1, without a warning, and true to what is answered."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import jsonschema
import pytest
from drf_spectacular.drainage import GENERATOR_STATS
from drf_spectacular.generators import SchemaGenerator
from drf_spectacular.validation import validate_schema
from rest_framework.test import APIClient

from crews.models import Crew
from tests.crews.factories import EquipmentFactory, VisitFactory
from tests.crews.office import at, clear_job

OURS = (
    "/crews",
    "/people",
    "/equipment",
    "/visits",
    "/me",
    "/today",
    "/plans",
    "/wanted-visits",
    "/crew-weeks",
    "/days-off",
    "/spare-parts",
    "/plan-weights",
)


@pytest.fixture(scope="module")
def described() -> dict[str, Any]:
    GENERATOR_STATS.reset()
    with GENERATOR_STATS.silence():
        schema = SchemaGenerator().get_schema(request=None, public=True)
    assert not GENERATOR_STATS._warn_cache, GENERATOR_STATS._warn_cache
    assert not GENERATOR_STATS._error_cache, GENERATOR_STATS._error_cache
    return schema


def operations(schema: dict[str, Any]) -> Iterator[tuple[str, str, dict[str, Any]]]:
    for path, methods in schema["paths"].items():
        if path.removeprefix("/api/v1").startswith(OURS):
            for method, operation in methods.items():
                yield path, method, operation


def test_it_is_openapi_31(described: dict[str, Any]) -> None:
    assert described["openapi"].startswith("3.1")
    validate_schema(described)


def test_every_operation_tells_of_refusals_and_writes_of_their_id(described: dict[str, Any]) -> None:
    found = list(operations(described))
    assert {path.removeprefix("/api/v1") for path, _, _ in found} >= set(OURS)
    for path, method, operation in found:
        refusal = operation["responses"]["default"]["content"]
        assert list(refusal) == ["application/problem+json"], (path, method)
        headers = [p["name"] for p in operation.get("parameters", []) if p["in"] == "header"]
        assert headers == ([] if method == "get" else ["Idempotency-Key"]), (path, method)


def test_the_password_is_in_no_answer(described: dict[str, Any]) -> None:
    assert "password" not in described["components"]["schemas"]["Person"]["properties"]


@pytest.mark.usefixtures("frozen_now")
def test_the_day_is_as_described(described: dict[str, Any], clients: dict[str, APIClient], crew: Crew) -> None:
    VisitFactory(job=clear_job(), crew=crew, starts_at=at(16, 13))
    EquipmentFactory(crew=crew)
    answer = clients["member"].get("/api/v1/today").json()
    schema = {"$ref": "#/components/schemas/CrewDayShape", "components": described["components"]}
    jsonschema.validate(answer, schema)
    answer["sites"][0]["verdict"].pop("may_dig")
    with pytest.raises(jsonschema.ValidationError, match="may_dig"):
        jsonschema.validate(answer, schema)
