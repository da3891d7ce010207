"""The compose file and the Kubernetes manifests: valid by their schemas, and true of the service."""

from pathlib import Path
from typing import Any

import jsonschema
import kubernetes_validate
import pytest
import yaml
from check_jsonschema.builtin_schemas import get_builtin_schema

from service.settings import PREFIX, Settings

COMPOSE = Path("deploy/compose/compose.yaml")
MANIFESTS = Path("deploy/kubernetes/reedgate.yaml")


def manifests() -> dict[str, dict[str, Any]]:
    documents = yaml.safe_load_all(MANIFESTS.read_text(encoding="utf-8"))
    return {document["kind"]: document for document in documents}


def test_the_compose_file_is_valid() -> None:
    jsonschema.validate(
        yaml.safe_load(COMPOSE.read_text(encoding="utf-8")),
        get_builtin_schema("vendor.compose-spec"),
    )


@pytest.mark.parametrize("kind", sorted(manifests()))
def test_a_manifest_is_valid(kind: str) -> None:
    kubernetes_validate.validate(manifests()[kind], "1.31", strict=True)


def test_an_invalid_manifest_is_found() -> None:
    wrong = manifests()["Deployment"]
    wrong["spec"]["replica"] = 2
    with pytest.raises(kubernetes_validate.ValidationError):
        kubernetes_validate.validate(wrong, "1.31", strict=True)


def test_every_setting_that_is_set_exists() -> None:
    known = {f"{PREFIX}{name.upper()}" for name in Settings.model_fields}
    compose = yaml.safe_load(COMPOSE.read_text(encoding="utf-8"))
    found = {*compose["x-server"]["environment"], *manifests()["ConfigMap"]["data"]}
    container = manifests()["Deployment"]["spec"]["template"]["spec"]["containers"][0]
    found |= {variable["name"] for variable in container["env"]}
    assert {name for name in found if name.startswith(PREFIX)} <= known


def test_secrets_are_named_and_never_written() -> None:
    container = manifests()["Deployment"]["spec"]["template"]["spec"]["containers"][0]
    for variable in container["env"]:
        assert "secretKeyRef" in variable["valueFrom"]
    assert "Secret" not in manifests()
    text = COMPOSE.read_text(encoding="utf-8")
    for line in text.splitlines():
        if "PASSWORD:" in line or "SECRET" in line:
            assert "${" in line, line


def test_a_pod_has_longer_to_end_than_its_requests() -> None:
    spec = manifests()["Deployment"]["spec"]["template"]["spec"]
    assert spec["terminationGracePeriodSeconds"] > Settings.model_fields["shutdown_seconds"].default
