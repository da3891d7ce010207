"""A client made from the OpenAPI file alone, by a generator that knows nothing else of the
service, does a stock check and a plan check.
"""

import asyncio
import importlib
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import httpx
import pytest

from service.api.app import create_app

GENERATOR = "from openapi_python_client.cli import app; app()"


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory, reference_path: Path) -> Iterator[Any]:
    """The client's package, with a client of it over the service."""
    folder = tmp_path_factory.mktemp("client")
    (folder / "config.yml").write_text(
        "package_name_override: made_client\npost_hooks: []\n", encoding="utf-8"
    )
    command = [
        sys.executable,
        "-c",
        GENERATOR,
        "generate",
        "--path",
        "openapi/reedgate.json",
        "--config",
        str(folder / "config.yml"),
    ]
    made = subprocess.run(
        [*command, "--meta", "none", "--output-path", str(folder / "made_client")],
        capture_output=True,
        text=True,
        check=False,
    )
    assert made.returncode == 0, made.stdout + made.stderr
    sys.path.insert(0, str(folder))
    try:
        yield importlib.import_module("made_client")
    finally:
        sys.path.remove(str(folder))


def models() -> Any:
    return importlib.import_module("made_client.models")


def ask(made: Any, store: Path, operation: str, **arguments: Any) -> Any:
    """Call an operation of the made client."""

    async def asked() -> Any:
        client = made.Client(base_url="http://reedgate")
        client.set_async_httpx_client(
            httpx.AsyncClient(
                transport=httpx.ASGITransport(create_app(store)), base_url="http://reedgate"
            )
        )
        return await importlib.import_module(f"made_client.api.{operation}").asyncio_detailed(
            client=client, **arguments
        )

    return asyncio.run(asked())


def test_it_checks_a_stock_list(made: Any, reference_path: Path) -> None:
    body = models().StockRequest.from_dict(
        {
            "labels": ["Trapa natans", "Eichhornia crassipes 4in", "zzz"],
            "to": ["US-WI"],
            "act": ["sell"],
        }
    )
    answer = ask(made, reference_path, "stock.check_stock", body=body)
    assert answer.status_code == 200
    lines = answer.parsed.lines
    assert [line.name.match.value for line in lines] == ["accepted", "synonym", "none"]
    assert lines[0].findings[0].outcome.value in ("prohibited", "permit-required")
    assert lines[0].findings[0].citations[0].citation


def test_it_checks_a_plan(made: Any, reference_path: Path) -> None:
    body = models().PlanDocument.from_dict(
        {
            "date": "2026-06-01",
            "site": {"state": "US-OH", "zip": "43594"},
            "places": [
                {
                    "name": "Mill pond",
                    "kind": "pond",
                    "area_m2": 60,
                    "depth_cm": 80,
                    "lined": True,
                    "outlet": False,
                }
            ],
            "plantings": [
                {"label": "Pontederia cordata 1 gal", "count": 6, "crown_depth_cm": 10},
                {"label": "Trapa natans", "count": 4},
            ],
        }
    )
    answer = ask(made, reference_path, "plans.check_plan", body=body)
    assert answer.status_code == 200
    assert len(answer.parsed.plantings) == 2
    assert answer.parsed.cautions


def test_it_reads_a_finding_and_a_refusal(made: Any, reference_path: Path) -> None:
    found = ask(
        made,
        reference_path,
        "law.find",
        label="Trapa natans",
        jurisdiction=models().Jurisdiction("US-WI"),
    )
    assert found.parsed.findings[0].jurisdiction == "US-WI"
    refused = ask(made, reference_path, "plants.get_plant", plant_id="nobody")
    assert refused.status_code == 404
    assert refused.parsed.title == "Not found"


def test_its_classes_have_names_that_a_person_would_choose(made: Any) -> None:
    names = [name for name in dir(models()) if name[0].isupper()]
    assert {"Act", "Citation", "Finding", "Jurisdiction", "Outcome"} <= set(names)
    assert not [name for name in names if len(name) > 45]
    numbered = [name for name in names if name[-1].isdigit()]
    assert len(numbered) <= 8, " ".join(numbered)
