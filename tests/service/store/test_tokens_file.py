"""The token file where the disk or its rights are not as they should be."""

import errno
import os
from pathlib import Path

import pytest
from click.testing import CliRunner

from service.cli.main import main
from service.cli.run import warnings_of
from service.settings import Settings
from service.store.tokens import TokenFile, TokensUnwritable


@pytest.mark.parametrize("why", [errno.ENOSPC, errno.EROFS, errno.EACCES])
def test_a_file_that_cannot_be_written_is_told_plainly_and_stays_as_it_was(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, why: int
) -> None:
    tokens = TokenFile(tmp_path / "tokens.json")
    _, shown = tokens.add("first", ("read",))
    before = tokens.path.read_bytes()

    def full(descriptor: int) -> None:
        raise OSError(why, os.strerror(why))

    monkeypatch.setattr(os, "fsync", full)
    with pytest.raises(TokensUnwritable) as raised:
        tokens.add("second", ("read",))
    assert os.strerror(why) in str(raised.value)
    assert "No token was made" in raised.value.next_step
    assert tokens.path.read_bytes() == before
    assert [path.name for path in tmp_path.iterdir() if "draft" in path.name] == []
    assert tokens.find(shown) is not None
    ran = CliRunner().invoke(main, ["tokens", "add", "x", "--store", str(tmp_path / "a.db")])
    assert ran.exit_code == 1
    assert "cannot be written" in ran.stderr


def test_files_beside_the_tokens_are_for_the_owner_alone(tmp_path: Path) -> None:
    old = os.umask(0)
    try:
        tokens = TokenFile(tmp_path / "tokens.json")
        tokens.add("first", ("read",))
    finally:
        os.umask(old)
    assert {path.stat().st_mode & 0o777 for path in tmp_path.iterdir()} == {0o600}
    assert not tokens.open_to_others()


@pytest.mark.parametrize(
    ("host", "config", "warned"),
    [
        ("127.0.0.1", {}, False),
        ("::1", {}, False),
        ("localhost", {}, False),
        ("0.0.0.0", {}, True),
        ("::", {}, True),
        ("192.0.2.7", {}, True),
        ("0.0.0.0", {"require_token": True}, False),
        ("0.0.0.0", {"rate_per_minute": 60}, False),
    ],
)
def test_a_service_open_to_others_without_token_or_rate_is_warned_of(
    tmp_path: Path, host: str, config: dict[str, object], warned: bool
) -> None:
    found = warnings_of(host, Settings.model_validate(config), TokenFile(tmp_path / "t.json"))
    assert bool(found) is warned


@pytest.mark.parametrize("mode", [0o640, 0o604, 0o666])
def test_loose_rights_on_the_token_file_are_warned_of(tmp_path: Path, mode: int) -> None:
    tokens = TokenFile(tmp_path / "tokens.json")
    tokens.add("first", ("read",))
    tokens.path.chmod(mode)
    assert "chmod 600" in warnings_of("127.0.0.1", Settings(), tokens)[0]
