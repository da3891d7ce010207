"""The Atom feed, compared with RFC 4287 by its own words and by a feed reader."""

from datetime import date
from xml.etree import ElementTree as ET

import feedparser
import pytest
from fastapi.testclient import TestClient

from service.output.atom import MEDIA_TYPE, changes_feed
from service.regulation.changes import changes_between
from service.regulation.comparison import ListChanges
from service.store.library import Library
from service.values.vocabulary import Jurisdiction, ListId

ATOM = {"a": "http://www.w3.org/2005/Atom"}
SPAN = {"since": "2000-01-01", "until": "2026-06-01"}


def test_a_feed_reader_takes_it_without_complaint(client: TestClient, library: Library) -> None:
    response = client.get("/v1/changes.atom", params={"jurisdiction": "US-WI", **SPAN})
    assert response.status_code == 200
    assert response.headers["content-type"].split(";")[0] == MEDIA_TYPE
    feed = feedparser.parse(response.content)
    assert not feed.bozo
    assert feed.version == "atom10"
    expected = changes_between(
        library.law, date(2000, 1, 1), date(2026, 6, 1), Jurisdiction("US-WI")
    )
    assert len(feed.entries) == len(expected) > 0
    assert all(
        entry.id.startswith("urn:uuid:") and entry.title and entry.updated_parsed
        for entry in feed.entries
    )
    assert {entry.tags[0].term for entry in feed.entries} == {"US-WI"}


def test_it_has_what_the_standard_asks_for(client: TestClient) -> None:
    root = ET.fromstring(client.get("/v1/changes.atom", params=SPAN).content)
    assert root.tag == "{http://www.w3.org/2005/Atom}feed"
    for tag in ("id", "title", "updated", "author/a:name"):
        assert len(root.findall(f"a:{tag}", ATOM)) == 1
    assert root.find("a:link[@rel='self']", ATOM) is not None
    entries = root.findall("a:entry", ATOM)
    ids = [entry.findtext("a:id", None, ATOM) for entry in entries]
    assert len(set(ids)) == len(ids) > 10
    days = [entry.findtext("a:updated", "", ATOM) for entry in entries]
    assert days == sorted(days, reverse=True)
    assert root.findtext("a:updated", None, ATOM) == days[0]
    for entry in entries:
        assert all(
            len(entry.findall(f"a:{tag}", ATOM)) == 1
            for tag in ("id", "title", "updated", "content")
        )


def test_the_ids_stay_the_same_from_call_to_call_and_without_a_span(client: TestClient) -> None:
    whole = client.get("/v1/changes.atom", params=SPAN).content
    assert whole == client.get("/v1/changes.atom", params=SPAN).content
    assert client.get("/v1/changes.atom").status_code == 200


def test_a_span_without_a_change_is_an_empty_feed(client: TestClient) -> None:
    response = client.get("/v1/changes.atom", params={"since": "1900-01-01", "until": "1900-02-01"})
    feed = feedparser.parse(response.content)
    assert (feed.bozo, feed.entries) == (False, [])


@pytest.mark.parametrize("params", [{"jurisdiction": "US-ZZ"}, {"since": "yesterday"}])
def test_a_bad_parameter_is_a_problem(client: TestClient, params: dict[str, str]) -> None:
    response = client.get("/v1/changes.atom", params=params)
    assert response.status_code == 422
    assert response.headers["content-type"] == "application/problem+json"


def test_words_of_a_list_cannot_break_the_feed() -> None:
    change = ListChanges(
        ListId("us-xx-x"),
        Jurisdiction("US-OH"),
        "Title <b>&\x0b \x00",
        "amended",
        date(2026, 1, 1),
        note="<script>alert(1)</script> ]]>",
    )
    feed = feedparser.parse(
        changes_feed(
            (change,), None, date(2026, 6, 1), own_url="/v1/changes.atom?a=1&b=2", site_url="/"
        )
    )
    assert not feed.bozo
    assert "<script>" not in feed.entries[0].content[0].value


@pytest.mark.parametrize("day", ["0001-01-01", "9999-12-31"])
def test_the_first_and_the_last_day_there_is_are_answered(client: TestClient, day: str) -> None:
    assert client.get("/v1/changes.atom", params={"until": day}).status_code == 200
