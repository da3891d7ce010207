"""One rate over several servers, in PostgreSQL; and each by itself while the database is away."""

import logging
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from importlib.util import find_spec
from pathlib import Path

import pytest
from fastapi.testclient import TestClient

from service.api import limits
from service.api.app import create_app
from service.settings import Settings
from service.shared.database import Database
from service.shared.database import database as of_process
from service.shared.tables_postgres import BucketTable
from tests.outside import missing, postgresql_database

HOUR_S = 3_600.0
ASK = "/v1/names?label=cattail"


@pytest.fixture
def url() -> Iterator[str]:
    with postgresql_database() as url:
        made = Database(url)
        made.migrate()
        made.close()
        yield url
        of_process(url).close()


@pytest.fixture
def database(url: str) -> Iterator[Database]:
    made = Database(url)
    yield made
    made.close()


def test_servers_that_ask_at_once_give_no_token_twice(database: Database) -> None:
    tables = [BucketTable(database, 1 / HOUR_S, 20.0) for _ in range(3)]
    with ThreadPoolExecutor(6) as pool:
        taken = list(pool.map(lambda number: tables[number % 3].take("a")[1], range(90)))
    assert sum(taken) == 20
    assert tables[0].take("b") == (19.0, True)


def test_tokens_come_back_at_the_rate_and_never_beyond_the_burst(database: Database) -> None:
    table = BucketTable(database, 1.0, 5.0)
    for _ in range(5):
        table.take("a")
    left, taken = table.take("a")
    assert not taken
    assert 0 <= left < 1
    _seen(database, "- interval '3 seconds'")
    left, taken = table.take("a")
    assert taken
    assert 2 <= left < 3.5
    _seen(database, "- interval '1 hour'")
    assert table.take("a") == (4.0, True)


def test_a_clock_set_back_shuts_nobody_out(database: Database) -> None:
    table = BucketTable(database, 1.0, 1.0)
    table.take("a")
    _seen(database, "+ interval '1 hour'")
    assert not table.take("a")[1]
    _seen(database, "- interval '2 seconds'")
    assert table.take("a")[1]


def test_buckets_that_are_whole_again_are_forgotten(database: Database) -> None:
    table = BucketTable(database, 1.0, 5.0)
    table.take("a")
    _seen(database, "- interval '1 minute'")
    table.take("b")
    table.forget_whole()
    with database.connection() as connection:
        assert connection.execute("SELECT client FROM reedgate_bucket").fetchall() == [("b",)]


def test_one_rate_holds_over_two_servers(url: str, reference_path: Path) -> None:
    one, other = (_server(url, reference_path) for _ in range(2))
    answers = [client.get(ASK) for client in (one, other, one, other, one)]
    assert [answer.status_code for answer in answers] == [200, 200, 200, 429, 429]
    assert answers[2].headers["ratelimit"].startswith('"client";r=0;')
    assert 1 <= int(answers[3].headers["retry-after"]) <= 60


def test_while_the_database_is_away_each_server_counts_by_itself_and_says_so(
    reference_path: Path, caplog: pytest.LogCaptureFixture, monkeypatch: pytest.MonkeyPatch
) -> None:
    if find_spec("psycopg") is None:
        missing("needs PostgreSQL's library: pip install 'reedgate[postgres]'")
    monkeypatch.setattr(limits, "_AWAY_S", 3_600.0)
    client = _server("postgresql://127.0.0.1:9/nobody", reference_path)
    with caplog.at_level(logging.WARNING, logger=limits.__name__):
        answers = [client.get(ASK).status_code for _ in range(4)]
    assert answers == [200, 200, 200, 429]
    warnings = [record for record in caplog.records if record.name == limits.__name__]
    assert len(warnings) == 1  # and not for every request
    assert "each worker counts requests by itself" in warnings[0].getMessage()


def _server(url: str, store: Path) -> TestClient:
    config = Settings.model_validate(
        {"rate_per_minute": 1, "rate_burst": 3, "database_url": url, "tokens_file": None}
    )
    return TestClient(create_app(store, config), raise_server_exceptions=False)


def _seen(database: Database, shift: str) -> None:
    with database.connection() as connection:
        connection.execute(
            f"UPDATE reedgate_bucket SET seen = statement_timestamp() {shift} WHERE client = 'a'"
        )
