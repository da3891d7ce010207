"""Requests made up from the contract, every check of the tool, one answer's links followed to
the next request.
"""

import os
import tempfile
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
import schemathesis
from hypothesis import HealthCheck, settings
from schemathesis import CheckContext, Response
from schemathesis.specs.openapi.checks import negative_data_rejection, positive_data_acceptance

from service.api.app import create_app
from service.settings import Settings
from tests.service.api.demo_store import build_demo_store

# The tool wants the application when this file is read, before any fixture runs.
_FOLDER = tempfile.TemporaryDirectory(prefix="reedgate-contract-")
STORE = Path(_FOLDER.name) / "reedgate.db"
APP = create_app(STORE, Settings(rate_per_minute=0))
SCHEMA = schemathesis.openapi.from_asgi("/openapi.json", APP)
PLANS = ("/v1/plan-checks", "/v1/community-screenings")
# Every single corner of a plan's hundred fields is for the long run; drawn examples are enough for
# the usual one.
DRAWN = schemathesis.openapi.from_asgi(
    "/openapi.json",
    APP,
    config=schemathesis.Config.from_dict({"phases": {"coverage": {"enabled": False}}}),
)

EXAMPLES = int(os.environ.get("REEDGATE_CONTRACT_EXAMPLES", "12"))
_USUAL = settings(
    max_examples=EXAMPLES, deadline=None, suppress_health_check=list(HealthCheck), derandomize=True
)
_LONG = settings(max_examples=400, deadline=None, suppress_health_check=list(HealthCheck))


@pytest.fixture(scope="module", autouse=True)
def _store() -> None:
    build_demo_store(STORE)


BEYOND_A_SCHEMA = ("county", "/county", "label", "until", "/until")
"""Parts that no schema can tell right from wrong: a county of the state asked about, a label
that names a plant, a day after another.
"""


def keep(case: schemathesis.Case[Any]) -> None:
    response = case.call()
    excluded: list[Callable[[CheckContext, Response, schemathesis.Case[Any]], bool | None]] = []
    # Nor can one say what a CSV holds, and that its parameters go with no other body.
    if response.status_code == 422 and (
        case.media_type not in (None, "application/json")
        or response.json().get("pointer") in BEYOND_A_SCHEMA
        or "a JSON body has its own key" in response.text
    ):
        excluded.append(positive_data_acceptance)
    # A plan with a part that cannot be read is answered for the rest, and the part is named in the
    # answer.
    if case.path in PLANS:
        excluded += [positive_data_acceptance, negative_data_rejection]
    # The tool knows 413 as no answer to a list that is too long.
    if response.status_code == 413:
        excluded.append(negative_data_rejection)
    case.validate_response(response, excluded_checks=excluded)


@SCHEMA.exclude(path=list(PLANS)).parametrize()
@_USUAL
def test_every_operation_keeps_the_contract(case: schemathesis.Case[Any]) -> None:
    keep(case)


@DRAWN.include(path=list(PLANS)).parametrize()
@_USUAL
def test_plans_and_communities_keep_the_contract(case: schemathesis.Case[Any]) -> None:
    keep(case)


@pytest.mark.slow
@SCHEMA.parametrize()
@_LONG
def test_every_operation_keeps_the_contract_for_long(case: schemathesis.Case[Any]) -> None:
    keep(case)


def test_links_lead_from_answer_to_answer() -> None:
    # What a job answers hangs on how far it has come, which no machine of states can foresee.
    machine = SCHEMA.exclude(
        path=[*PLANS, "/v1/jobs/{job_id}", "/v1/jobs/{job_id}/result"]
    ).as_state_machine()
    machine.run(settings=settings(_USUAL, max_examples=10, stateful_step_count=6))
