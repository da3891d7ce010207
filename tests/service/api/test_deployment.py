"""What is shipped for running the service: settings table, fault table, container, system
service, lock.
"""

import re
import shutil
import subprocess
import sys
import tomllib
from pathlib import Path

import pytest
from packaging.requirements import Requirement
from packaging.utils import canonicalize_name

from service.settings import Settings, table, with_table

README = Path("README.md")


def test_the_readme_has_the_settings_as_they_are() -> None:
    text = README.read_text(encoding="utf-8")
    assert with_table(text) == text, "run: python -m service.settings README.md"


def test_every_setting_says_what_it_sets() -> None:
    assert all(field.description for field in Settings.model_fields.values())
    assert table().count("\n") == len(Settings.model_fields) + 1


def test_every_fault_names_a_test_that_exists() -> None:
    named = re.findall(
        r"`(tests/[\w/]+\.py)(?:::(\w+))?`", Path("deploy/FAULTS.md").read_text(encoding="utf-8")
    )
    assert len(named) > 20
    for file, test in named:
        text = Path(file).read_text(encoding="utf-8")
        assert not test or f"def {test}(" in text, (file, test)


def _pinned(lock: str) -> dict[str, str]:
    text = Path(lock).read_text(encoding="utf-8")
    assert "://" not in re.sub(r"(?m)^#.*$", "", text)
    pins = dict(re.findall(r"(?m)^([A-Za-z0-9._-]+)==([^\s;\\]+)", text))
    assert text.count("==") <= text.count("--hash=sha256:") + text.count(" ; ") * 3
    return {canonicalize_name(name): version for name, version in pins.items()}


@pytest.mark.parametrize(
    ("lock", "extras"),
    [("requirements.lock", ("test",)), ("deploy/requirements.lock", ("s3", "postgres"))],
)
def test_the_lock_pins_every_direct_dependency_within_its_range(
    lock: str, extras: tuple[str, ...]
) -> None:
    project = tomllib.loads(Path("pyproject.toml").read_text(encoding="utf-8"))["project"]
    wanted = [
        *project["dependencies"],
        *(
            wanted_there
            for extra in extras
            for wanted_there in project["optional-dependencies"][extra]
        ),
    ]
    pins = _pinned(lock)
    for requirement in map(Requirement, wanted):
        assert canonicalize_name(requirement.name) in pins, f"{requirement.name}: run .ci/lock"
        assert requirement.specifier.contains(pins[canonicalize_name(requirement.name)]), (
            f"{requirement.name}: run .ci/lock"
        )


def test_every_direct_dependency_says_why() -> None:
    block = (
        Path("pyproject.toml")
        .read_text(encoding="utf-8")
        .split("dependencies = [", 1)[1]
        .split("]", 1)[0]
    )
    for line in filter(None, map(str.strip, block.splitlines())):
        assert re.search(r'",\s+# \w', line), line


def test_the_container_file_passes_its_linter() -> None:
    hadolint = Path(sys.executable).with_name("hadolint")
    if not hadolint.exists():
        pytest.skip("hadolint is not installed")
    checked = subprocess.run(
        [hadolint, "deploy/Containerfile"], capture_output=True, text=True, check=False
    )
    assert checked.returncode == 0, checked.stdout


def test_the_container_runs_as_an_account_without_rights_and_copies_what_is_there() -> None:
    lines = Path("deploy/Containerfile").read_text(encoding="utf-8").splitlines()
    assert [line for line in lines if line.startswith("USER ")][-1] != "USER root"
    for line in lines:
        if line.startswith("COPY ") and "--from" not in line:
            for source in line.split()[1:-1]:
                assert Path(source).exists(), source


def test_the_system_service_is_sound_and_shut_in(tmp_path: Path) -> None:
    if not shutil.which("systemd-analyze"):
        pytest.skip("systemd is not installed")
    # The program is not installed where the unit has it; a shell stands in.
    unit = tmp_path / "reedgate.service"
    unit.write_text(
        Path("deploy/reedgate.service")
        .read_text(encoding="utf-8")
        .replace("/opt/reedgate/bin/reedgate", "/bin/sh")
    )
    verified = subprocess.run(
        ["systemd-analyze", "verify", unit], capture_output=True, text=True, check=False
    )
    assert "reedgate.service" not in verified.stderr, verified.stderr
    rated = subprocess.run(
        ["systemd-analyze", "security", "--offline=true", "--threshold=20", unit],
        capture_output=True,
        text=True,
        check=False,
    )
    if "offline" not in rated.stderr:
        assert rated.returncode == 0, rated.stdout[-400:]


def test_options_of_the_system_service_are_options_of_the_command() -> None:
    from service.cli.run import serve

    start = next(
        line
        for line in Path("deploy/reedgate.service").read_text(encoding="utf-8").splitlines()
        if line.startswith("ExecStart=")
    )
    known = {option for parameter in serve.params for option in parameter.opts}
    assert set(re.findall(r"--[a-z-]+", start)) <= known
