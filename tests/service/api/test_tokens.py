"""Tokens: who may ask, who may load, and that only hashes are kept."""

import json
import stat
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from click.testing import CliRunner
from fastapi.testclient import TestClient

from service.api.app import create_app
from service.cli.main import main
from service.settings import Settings
from service.store.tokens import TokenFile
from tests.stores import copied, reference_store

ASK = "/v1/names?label=cattail"
LOAD = "/v1/loads/regulations?file=list.toml"
LIST = Path("openapi/us-oh-invented.toml").read_bytes()


def fresh(store: Path, tokens: Path, **config: object) -> tuple[TestClient, TokenFile]:
    app = create_app(store, Settings.model_validate({"tokens_file": tokens, **config}))
    return TestClient(app, raise_server_exceptions=False), app.state.tokens


def bearer(token: str) -> dict[str, str]:
    return {"Authorization": f"Bearer {token}"}


def test_only_a_hash_is_kept_and_only_its_owner_may_read_the_file(tmp_path: Path) -> None:
    tokens = TokenFile(tmp_path / "tokens.json")
    _, shown = tokens.add("ordering", ("read",))
    secret = shown.split("_", 2)[2]
    assert secret not in tokens.path.read_text()
    assert len(secret) >= 43  # 256 bits in base 64
    assert stat.S_IMODE(tokens.path.stat().st_mode) == 0o600


def test_a_token_holds_until_it_runs_out_is_taken_back_or_renewed(tmp_path: Path) -> None:
    tokens = TokenFile(tmp_path / "tokens.json")
    token, shown = tokens.add("a", ("read",), days=1)
    assert tokens.find(shown) is not None
    assert tokens.find(shown, datetime.now(UTC) + timedelta(days=2)) is None
    renewed = tokens.rotate(token.token_id, overlap_hours=1)
    assert tokens.find(renewed) is not None
    assert tokens.find(shown) is not None
    assert tokens.find(shown, datetime.now(UTC) + timedelta(hours=2)) is None
    again = tokens.rotate(token.token_id)
    assert tokens.find(renewed) is None
    tokens.revoke(token.token_id)
    assert tokens.find(again) is None


@pytest.mark.parametrize(
    "presented",
    ["", "rgt", "rgt__", "rgt_00000000_", "rgt_{id}_wrong", "xxx_{id}_{secret}", "{secret}"],
)
def test_what_is_no_token_is_none(tmp_path: Path, presented: str) -> None:
    tokens = TokenFile(tmp_path / "tokens.json")
    token, shown = tokens.add("a", ("read",))
    assert tokens.find(presented.format(id=token.token_id, secret=shown.split("_", 2)[2])) is None


def test_reading_is_open_until_the_operator_asks_for_tokens(
    reference_path: Path, tmp_path: Path
) -> None:
    client, _ = fresh(reference_path, tmp_path / "t.json")
    assert client.get(ASK).status_code == 200
    closed, tokens = fresh(reference_path, tmp_path / "t.json", require_token=True)
    refused = closed.get(ASK)
    assert refused.status_code == 401
    assert refused.headers["www-authenticate"].startswith("Bearer")
    assert closed.get("/health/ready").status_code == 200
    assert closed.get("/metrics").status_code == 401
    _, shown = tokens.add("reader", ("read",))
    answered = closed.get(ASK, headers=bearer(shown))
    assert answered.status_code == 200
    assert answered.headers["cache-control"].startswith("private")


@pytest.mark.parametrize(
    "header", ["Bearer nonsense", "Basic dXNlcjpwYXNz", "Bearer", "Bearer rgt_00000000_x"]
)
def test_a_token_that_does_not_hold_is_refused_even_where_none_is_needed(
    reference_path: Path, tmp_path: Path, header: str
) -> None:
    client, _ = fresh(reference_path, tmp_path / "t.json")
    response = client.get(ASK, headers={"Authorization": header})
    assert response.status_code == 401
    assert 'error="invalid_token"' in response.headers["www-authenticate"]


def test_a_kept_answer_is_not_given_to_one_without_a_token(
    reference_path: Path, tmp_path: Path
) -> None:
    client, tokens = fresh(reference_path, tmp_path / "t.json", require_token=True)
    _, shown = tokens.add("reader", ("read",))
    first = client.get(ASK, headers=bearer(shown))
    assert client.get(ASK).status_code == 401
    assert client.get(ASK, headers={"If-None-Match": first.headers["etag"]}).status_code == 401


def test_loading_is_off_until_a_token_for_it_exists(reference_path: Path, tmp_path: Path) -> None:
    client, tokens = fresh(reference_path, tmp_path / "t.json")
    assert client.post(LOAD, content=LIST).status_code == 401
    _, reader = tokens.add("reader", ("read",))
    off = client.post(LOAD, content=LIST, headers=bearer(reader))
    assert (off.status_code, off.json()["type"]) == (403, "/problems/loads-off")
    tokens.add("loader", ("load",))
    short = client.post(LOAD, content=LIST, headers=bearer(reader))
    assert (short.status_code, short.json()["type"]) == (403, "/problems/wrong-scope")
    assert 'scope="load"' in short.headers["www-authenticate"]


def test_a_load_adds_to_the_store_and_a_bad_one_leaves_it_as_it_was(tmp_path: Path) -> None:
    store = tmp_path / "reedgate.db"
    copied(reference_store(), store)
    client, tokens = fresh(store, tmp_path / "t.json")
    _, shown = tokens.add("loader", ("load",))
    before = store.read_bytes()
    bad = client.post(LOAD, content=b"list_id = 3", headers=bearer(shown))
    assert bad.status_code == 422
    assert str(tmp_path) not in bad.text
    assert "Traceback" not in bad.text
    assert store.read_bytes() == before
    good = client.post(LOAD, content=LIST, headers=bearer(shown))
    assert good.status_code == 200, good.text
    finding = client.get("/v1/findings?label=Typha%20latifolia&jurisdiction=US-OH&act=sell").json()
    assert finding["store_build"] == good.json()["store_build"]
    assert finding["findings"][0]["own_rules"][0]["list_id"] == "us-oh-invented"


def test_a_token_for_loading_alone_does_not_read_where_reading_takes_a_token(
    reference_path: Path, tmp_path: Path
) -> None:
    closed, tokens = fresh(reference_path, tmp_path / "t.json", require_token=True)
    _, loader = tokens.add("loader", ("load",))
    refused = closed.get(ASK, headers=bearer(loader))
    assert (refused.status_code, refused.json()["type"]) == (403, "/problems/wrong-scope")
    assert 'scope="read"' in refused.headers["www-authenticate"]
    opened, _ = fresh(reference_path, tmp_path / "t.json")
    assert opened.get(ASK, headers=bearer(loader)).status_code == 200


def test_a_table_of_ones_own_rules_is_loaded_with_its_place_and_title(tmp_path: Path) -> None:
    store = copied(reference_store(), tmp_path / "reedgate.db")
    client, tokens = fresh(store, tmp_path / "t.json")
    _, shown = tokens.add("loader", ("load",))
    table = b"Plant,Why\nTypha latifolia,fills the pond\n"
    address = "/v1/loads/regulations?file=ours.csv"
    untitled = client.post(address, content=table, headers=bearer(shown))
    assert untitled.status_code == 422, untitled.text
    whole = f"{address}&in=US-OH&title=Our%20list&act=plant"
    good = client.post(whole, content=table, headers=bearer(shown))
    assert good.status_code == 200, good.text
    assert good.json()["report"]["rows_kept"] == 1
    finding = client.get("/v1/findings?label=Typha%20latifolia&jurisdiction=US-OH&act=plant").json()
    assert [rule["title"] for rule in finding["findings"][0]["own_rules"]] == ["Our list"]
    misplaced = client.post(
        "/v1/loads/waters?file=w.geojson&title=x", content=b"{}", headers=bearer(shown)
    )
    assert (misplaced.status_code, misplaced.json()["pointer"]) == (422, "title")


def test_the_status_of_a_load_is_that_of_its_error_whatever_words_it_has(tmp_path: Path) -> None:
    """A mistake in a file that speaks of a disk is a mistake in the file; a disk that takes nothing
    is the service's own trouble.
    """
    store = copied(reference_store(), tmp_path / "reedgate.db")
    client, tokens = fresh(store, tmp_path / "t.json")
    _, shown = tokens.add("loader", ("load",))
    wordy = LIST.replace(b"list_id =", b"no_space_on_disk = 1\nlist_id =", 1)
    refused = client.post(LOAD, content=wordy, headers=bearer(shown))
    assert (refused.status_code, refused.json()["type"]) == (422, "/problems/bad-request")
    assert "no_space_on_disk" in refused.json()["detail"]
    store.write_bytes(b"no store")
    damaged = client.post(LOAD, content=LIST, headers=bearer(shown))
    assert damaged.status_code == 503
    assert damaged.json()["type"].startswith("/problems/store-")


@pytest.mark.parametrize("file", ["../x.toml", "/etc/passwd", ".hidden", "a b.toml", "", "x" * 101])
def test_a_file_name_that_could_leave_its_folder_is_refused(
    reference_path: Path, tmp_path: Path, file: str
) -> None:
    client, tokens = fresh(reference_path, tmp_path / "t.json")
    _, shown = tokens.add("loader", ("load",))
    response = client.post(
        "/v1/loads/regulations", params={"file": file}, content=LIST, headers=bearer(shown)
    )
    assert response.status_code == 422


@pytest.mark.parametrize("content", [b"", b"{", b'{"tokens": 3}', b"\xff\xfe"])
def test_a_damaged_token_file_lets_nobody_in(
    reference_path: Path, tmp_path: Path, content: bytes
) -> None:
    client, tokens = fresh(reference_path, tmp_path / "t.json", require_token=True)
    _, shown = tokens.add("reader", ("read",))
    assert client.get(ASK, headers=bearer(shown)).status_code == 200
    (tmp_path / "t.json").write_bytes(content)
    refused = client.get(ASK, headers=bearer(shown))
    assert (refused.status_code, refused.json()["title"]) == (503, "The tokens cannot be read")
    assert client.get("/health/ready").status_code == 503
    assert str(tmp_path) not in refused.text


def test_the_log_names_the_token_by_its_id_alone(
    reference_path: Path, tmp_path: Path, caplog: pytest.LogCaptureFixture
) -> None:
    client, tokens = fresh(reference_path, tmp_path / "t.json")
    token, shown = tokens.add("reader", ("read",))
    with caplog.at_level("INFO", logger="reedgate.access"):
        client.get(ASK, headers=bearer(shown))
    assert caplog.records[-1].__dict__["token"] == token.token_id
    assert shown not in json.dumps([str(vars(record)) for record in caplog.records])


def test_the_command_line_makes_lists_renews_and_takes_back(tmp_path: Path) -> None:
    store = ["--store", str(tmp_path / "reedgate.db")]
    run = CliRunner()
    made = run.invoke(
        main, ["tokens", "add", "ordering system", "--scope", "read", "--days", "30", *store]
    )
    shown = made.stdout.strip()
    tokens = TokenFile(tmp_path / "reedgate.db.tokens.json")
    assert tokens.find(shown) is not None
    token_id = shown.split("_")[1]
    listed = run.invoke(main, ["tokens", "list", *store]).stdout
    assert {token_id, "ordering"} <= set(listed.split())
    assert shown not in listed
    renewed = run.invoke(main, ["tokens", "rotate", token_id, *store]).stdout.strip()
    assert tokens.find(renewed) is not None
    assert tokens.find(shown) is None
    assert run.invoke(main, ["tokens", "revoke", token_id, *store]).exit_code == 0
    assert tokens.find(renewed) is None
    assert run.invoke(main, ["tokens", "revoke", token_id, *store]).exit_code == 1
