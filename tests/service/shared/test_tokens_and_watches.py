"""Tokens and watches in PostgreSQL: what one server makes, every other knows."""

from collections.abc import Iterator
from dataclasses import replace
from datetime import date

import pytest

from service.errors import NotFound
from service.shared import tables_postgres
from service.shared.database import Database
from service.shared.tables_postgres import TokenTable, WatchTable
from service.store.tokens import TokensUnreadable
from service.values.vocabulary import Jurisdiction
from service.values.watches import LineState, PlaceState, Snapshot, Watch
from tests.outside import postgresql_database


@pytest.fixture
def database() -> Iterator[Database]:
    with postgresql_database() as url:
        made = Database(url)
        made.migrate()
        yield made
        made.close()


def test_a_token_made_or_taken_back_on_one_server_is_so_on_every_other(
    database: Database,
) -> None:
    one = TokenTable(database)
    token, shown = one.add("ordering", ("read", "load"))
    other = TokenTable(database)
    assert other.find(shown) == token
    assert other.has_scope("load")
    assert other.find(shown + "x") is None
    renewed = one.rotate(token.token_id, overlap_hours=1)
    for table in (one, TokenTable(database)):
        assert table.find(shown) is not None
        assert table.find(renewed) is not None
    one.revoke(token.token_id)
    assert TokenTable(database).find(renewed) is None
    with pytest.raises(NotFound):
        other.revoke(token.token_id)


def test_a_server_reads_the_tokens_again_by_itself(
    database: Database, monkeypatch: pytest.MonkeyPatch
) -> None:
    other = TokenTable(database)
    assert other.tokens() == {}
    _, shown = TokenTable(database).add("ordering", ("read",))
    other._read_now()
    assert other.find(shown) is not None
    # While the database is away, those read last are believed, but not for ever.
    database.close()
    other._read_now()
    assert other.find(shown) is not None
    monkeypatch.setattr(tables_postgres, "BELIEVED_S", -1.0)
    with pytest.raises(TokensUnreadable):
        other.find(shown)


def test_the_hash_alone_is_kept(database: Database) -> None:
    _, shown = TokenTable(database).add("ordering", ("read",))
    with database.connection() as connection:
        rows = connection.execute("SELECT token::text FROM reedgate_token").fetchall()
    assert shown.rpartition("_")[2] not in str(rows)


def test_watches_are_kept_by_name_and_come_back_as_they_were(database: Database) -> None:
    one, other = WatchTable(database), WatchTable(database)
    line = LineState("Water hyacinth 4in", "", ("Pontederia crassipes",), True, 0)
    place = PlaceState(Jurisdiction("US-WI"), "sell", "prohibited")
    watch = Watch(
        name="spring",
        file="/stock/spring.csv",
        jurisdictions=(Jurisdiction("US-WI"),),
        acts=("sell",),
        last=Snapshot(date(2026, 6, 1), "0123456789abcdef", (line,), ((place,),)),
    )
    one.put(watch)
    one.put(replace(watch, name="autumn"))
    one.put(replace(watch, sheet="Sheet 2"))
    assert other.get("spring") == replace(watch, sheet="Sheet 2")
    assert [kept.name for kept in other.all()] == ["autumn", "spring"]
    other.remove("spring")
    with pytest.raises(NotFound):
        one.get("spring")
    with pytest.raises(NotFound):
        one.remove("spring")
