"""The committed OpenAPI file is the one that the service serves."""

from pathlib import Path

from service.api.contract import document


def test_the_committed_contract_is_current() -> None:
    committed = Path("openapi/reedgate.json").read_text(encoding="utf-8")
    assert committed == document(), "run: python -m service.api.contract openapi/reedgate.json"
