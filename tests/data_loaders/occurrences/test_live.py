"""The live interface, as it answers on good days and on bad ones. Every record and data set is
invented.

Shapes of requests, pages and errors: GBIF API, occurrence search; paging limits of the same.
"""

import json
import random
from collections.abc import Callable, Iterator
from datetime import UTC, datetime, timedelta
from email.utils import format_datetime
from pathlib import Path

import httpx
import pytest
import respx

from data_loaders.build import file_sha256
from data_loaders.occurrences import (
    LiveError,
    LiveQuery,
    LiveSettings,
    load_live,
    queries_for_plants,
)
from data_loaders.occurrences.live import query_polygon
from data_loaders.occurrences.live_api import LiveApi
from data_loaders.progress import LoadProgress
from data_loaders.report import LoadReport
from service.errors import BadRequest, StoreMissing
from service.store.database import Build
from service.store.occurrences import evidence
from service.values.vocabulary import Jurisdiction, PlantId
from tests.data_loaders.occurrences.stores import make_store
from tests.records import records_within

BASE = "https://occurrences.test/v1"
SETTINGS = LiveSettings(contact="recorder@example.org", base_url=BASE, page_size=10)
OHIO = LiveQuery(name="Nymphaea odorata", state=Jurisdiction("US-OH"))
LILY = PlantId("nymphaea-odorata")

Json = dict[str, object]


def found(number: int, **changed: object) -> Json:
    """A record as the search gives it."""
    record: Json = {
        "key": 5_000_000_000 + number,
        "datasetKey": f"{number % 2:08x}-aaaa-4000-8000-000000000000",
        "publishingOrgKey": "22222222-bbbb-4000-8000-000000000000",
        "occurrenceID": f"https://records.example.org/live/{number}",
        "basisOfRecord": "HUMAN_OBSERVATION",
        "occurrenceStatus": "PRESENT",
        "taxonKey": 2882443,
        "scientificName": "Nymphaea odorata Aiton",
        "species": "Nymphaea odorata",
        "taxonRank": "SPECIES",
        "decimalLatitude": 41.0 + number / 1000,
        "decimalLongitude": -83.0,
        "coordinateUncertaintyInMeters": 12.0,
        "countryCode": "US",
        "stateProvince": "Ohio",
        "eventDate": "2021-07-04",
        "year": 2021,
        "month": 7,
        "issues": ["COORDINATE_ROUNDED", "CONTINENT_DERIVED_FROM_COORDINATES"],
        "license": "http://creativecommons.org/licenses/by/4.0/legalcode",
        "isInCluster": False,
        "gadm": {"level0": {"gid": "USA", "name": "United States"}},
        "classifications": {"d7dddbf4-2cf0-4f39-9b2a-bb099caae36c": {"usage": {"key": "2882443"}}},
    }
    return {name: value for name, value in (record | changed).items() if value is not None}


def page(records: list[Json], offset: int, limit: int, total: int | None = None) -> Json:
    count = len(records) if total is None else total
    return {
        "offset": offset,
        "limit": limit,
        "endOfRecords": offset + limit >= count,
        "count": count,
        "results": records[offset : offset + limit],
        "facets": [],
    }


class Server:
    """A search interface that answers from a list of records, after the answers that a test puts
    first.
    """

    def __init__(self, records: list[Json]) -> None:
        self.records = records
        self.first: list[Callable[[httpx.Request], httpx.Response]] = []
        self.asked: list[httpx.Request] = []

    def search(self, request: httpx.Request) -> httpx.Response:
        self.asked.append(request)
        if self.first:
            return self.first.pop(0)(request)
        query = request.url.params
        return httpx.Response(
            200, json=page(self.records, int(query["offset"]), int(query["limit"]))
        )

    def dataset(self, request: httpx.Request, key: str) -> httpx.Response:
        document = {
            "key": key,
            "title": f"Invented data set {key[:8]}",
            "doi": "10.5555/invented",
            "license": "http://creativecommons.org/licenses/by/4.0/legalcode",
            "citation": {"text": "Invented Recorders (2025)."},
        }
        return httpx.Response(200, json=document)

    @property
    def offsets(self) -> list[int]:
        return [int(request.url.params["offset"]) for request in self.asked]


@pytest.fixture
def store(tmp_path: Path) -> Path:
    return make_store(tmp_path / "store.db")


@pytest.fixture
def server() -> Iterator[Server]:
    made = Server([found(number) for number in range(25)])
    with respx.mock(assert_all_called=False) as router:
        router.get(f"{BASE}/occurrence/search").mock(side_effect=made.search)
        router.get(url__regex=rf"{BASE}/dataset/(?P<key>.+)").mock(side_effect=made.dataset)
        yield made


class Clock:
    def __init__(self) -> None:
        self.waits: list[float] = []

    def sleep(self, seconds: float) -> None:
        self.waits.append(seconds)


@pytest.fixture
def clock() -> Clock:
    return Clock()


def load(
    store: Path,
    clock: Clock,
    *queries: LiveQuery,
    settings: LiveSettings = SETTINGS,
    stages: list[LoadProgress] | None = None,
) -> LoadReport:
    with httpx.Client() as client:
        api = LiveApi(settings, client, sleep=clock.sleep, jitter=random.Random(1))
        progress = stages.append if stages is not None else None
        return load_live(
            store, queries or (OHIO,), settings, client=client, api=api, progress=progress
        )


def answer(
    status: int, body: str = "", **headers: str
) -> Callable[[httpx.Request], httpx.Response]:
    return lambda request: httpx.Response(
        status, text=body, headers={k.replace("_", "-"): v for k, v in headers.items()}
    )


def fail(error: type[httpx.TransportError]) -> Callable[[httpx.Request], httpx.Response]:
    def raise_it(request: httpx.Request) -> httpx.Response:
        raise error("invented", request=request)

    return raise_it


def journals(store: Path) -> list[Path]:
    return sorted(store.parent.glob(".store.db.live-*"))


def test_all_pages_are_fetched_stored_and_cited(store: Path, server: Server, clock: Clock) -> None:
    server.records += [
        found(30, scientificName="Quercus alba L.", species="Quercus alba"),
        found(31, decimalLatitude=None),
    ]
    stages: list[LoadProgress] = []
    report = load(store, clock, stages=stages)
    assert (report.rows_read, report.rows_kept) == (27, 25)
    assert report.set_apart == {"not-of-store": 1, "no-coordinates": 1}
    assert server.offsets == [0, 10, 20]
    assert clock.waits == []
    assert [progress.done for progress in stages] == [
        pytest.approx(10 / 27),
        pytest.approx(20 / 27),
        1.0,
    ]
    answer = evidence(Build(store).connection, LILY, -83.0, 41.0)
    assert sum(dataset.records for dataset in answer.datasets) == 25
    assert [(dataset.title, dataset.citation, dataset.licence) for dataset in answer.datasets] == [
        (
            f"Invented data set {key}",
            "Invented Recorders (2025).",
            "http://creativecommons.org/licenses/by/4.0/legalcode",
        )
        for key in ("00000000", "00000001")
    ]
    assert journals(store) == []


def test_a_record_keeps_its_terms_and_its_coordinates_as_written(
    store: Path, server: Server, clock: Clock
) -> None:
    server.records = [
        found(
            1,
            decimalLatitude=41.1234567,
            degreeOfEstablishment={"concept": "established", "lineage": ["established"]},
        )
    ]
    load(store, clock)
    (record,) = records_within(Build(store).connection, -83.0, 41.0, 50_000)
    assert (record.latitude, record.uncertainty_m, record.year) == (41.1234567, 12.0, 2021)
    assert (record.degree_of_establishment, record.basis_of_record) == (
        "established",
        "HUMAN_OBSERVATION",
    )


def test_every_request_says_who_asks_and_for_what(
    store: Path, server: Server, clock: Clock
) -> None:
    load(store, clock)
    for request in server.asked:
        assert "recorder@example.org" in request.headers["User-Agent"]
        assert dict(request.url.params) | {"offset": ""} == {
            "scientificName": "Nymphaea odorata",
            "country": "US",
            "stateProvince": "Ohio",
            "limit": "10",
            "offset": "",
        }


def test_nobody_asks_without_a_contact() -> None:
    for contact in ("", "me", "someone@", "ftp://x"):
        with pytest.raises(BadRequest, match="say who they are"):
            LiveSettings(contact=contact)
    with pytest.raises(BadRequest, match="1 to 300 records"):
        LiveSettings(contact="a@example.org", page_size=301)


@pytest.mark.parametrize("status", [429, 500, 502, 503, 504])
def test_a_busy_interface_is_asked_again_ever_more_slowly(
    store: Path, server: Server, clock: Clock, status: int
) -> None:
    server.first = [answer(status)] * 4
    assert load(store, clock).rows_kept == 25
    assert server.offsets == [0] * 5 + [10, 20]
    for wait, longest in zip(clock.waits, [1, 2, 4, 8], strict=True):
        assert longest / 2 <= wait <= longest


def test_the_wait_that_the_interface_asks_for_is_kept(
    store: Path, server: Server, clock: Clock
) -> None:
    later = format_datetime(datetime.now(UTC) + timedelta(seconds=90), usegmt=True)
    server.first = [
        answer(429, retry_after="7"),
        answer(503, retry_after=later),
        answer(429, retry_after="soon"),
    ]
    load(store, clock)
    assert clock.waits[0] == 7
    assert 80 < clock.waits[1] <= 90
    assert clock.waits[2] <= 4


def test_a_very_long_wait_is_left_to_the_asker(store: Path, server: Server, clock: Clock) -> None:
    server.first = [answer(429, retry_after="86400")]
    with pytest.raises(LiveError, match="wait 86400 seconds"):
        load(store, clock)
    assert clock.waits == []


@pytest.mark.parametrize(
    "trouble",
    [
        fail(httpx.ConnectTimeout),
        fail(httpx.ReadTimeout),
        fail(httpx.RemoteProtocolError),
        answer(200, '{"offset": 0, "limit": 10, "endOfRecords": fal'),
        answer(200, "<html>Bad gateway</html>"),
        answer(200, "[]"),
        answer(200, ""),
    ],
    ids=["connect timeout", "read timeout", "cut off", "cut JSON", "HTML", "no object", "empty"],
)
def test_a_passing_fault_is_got_over(
    store: Path, server: Server, clock: Clock, trouble: Callable[[httpx.Request], httpx.Response]
) -> None:
    server.first = [trouble, trouble]
    assert load(store, clock).rows_kept == 25
    assert len(clock.waits) == 2


def test_a_body_that_drips_without_end_is_given_up(store: Path, clock: Clock) -> None:
    class Dripping(httpx.SyncByteStream):
        def __iter__(self) -> Iterator[bytes]:
            while True:
                yield b" "

    settings = LiveSettings(
        contact="recorder@example.org", base_url=BASE, request_s=0.05, attempts=2
    )
    with respx.mock:
        respx.get(f"{BASE}/occurrence/search").mock(
            side_effect=lambda request: httpx.Response(200, stream=Dripping())
        )
        with pytest.raises(LiveError, match=r"2 attempts the connection failed \(ReadTimeout\)"):
            load(store, clock, settings=settings)


def test_a_refused_query_is_not_asked_again_and_the_store_stays(
    store: Path, server: Server, clock: Clock
) -> None:
    before = file_sha256(store)
    server.first = [answer(400, "Invalid geometry: POLYGON")]
    with pytest.raises(BadRequest, match="Invalid geometry: POLYGON"):
        load(store, clock)
    assert len(server.asked) == 1
    assert file_sha256(store) == before


def test_an_answer_that_is_no_page_is_said_to_be_none(
    store: Path, server: Server, clock: Clock
) -> None:
    server.first = [answer(200, '{"message": "moved"}')]
    with pytest.raises(LiveError, match="not a page of records"):
        load(store, clock)


def test_more_records_than_paging_reaches_are_refused_at_the_first_page(
    store: Path, server: Server, clock: Clock
) -> None:
    server.first = [
        lambda request: httpx.Response(200, json=page(server.records, 0, 10, total=100_001))
    ]
    with pytest.raises(BadRequest, match=r"100,001 records; paging reaches 100,000"):
        load(store, clock)
    assert len(server.asked) == 1


def test_a_load_that_fails_goes_on_where_it_stopped(
    store: Path, server: Server, clock: Clock
) -> None:
    before = file_sha256(store)
    server.first = [lambda request: server_page(server, request), *[answer(503)] * 6]
    with pytest.raises(LiveError, match="After 6 attempts it answered 503"):
        load(store, clock)
    assert file_sha256(store) == before
    assert len(journals(store)) == 1
    server.asked.clear()
    assert load(store, clock).rows_kept == 25
    assert server.offsets == [10, 20]
    assert journals(store) == []


def test_an_interrupt_keeps_what_was_fetched(store: Path, server: Server, clock: Clock) -> None:
    def interrupt(request: httpx.Request) -> httpx.Response:
        raise KeyboardInterrupt

    server.first = [lambda request: server_page(server, request), interrupt]
    with pytest.raises(KeyboardInterrupt):
        load(store, clock)
    server.asked.clear()
    assert load(store, clock).rows_kept == 25
    assert server.offsets == [10, 20]


def test_a_line_that_a_kill_cut_short_is_fetched_again(
    store: Path, server: Server, clock: Clock
) -> None:
    server.first = [lambda request: server_page(server, request), answer(403, "stop here")]
    with pytest.raises(LiveError, match="403: stop here"):
        load(store, clock)
    (journal,) = journals(store)
    whole = journal.read_bytes()
    for kept in (len(whole) - 5, len(whole) // 2, 0):
        journal.write_bytes(whole[:kept])
        server.asked.clear()
        server.first = [answer(403, "stop here")]
        with pytest.raises(LiveError):
            load(store, clock)
        assert server.offsets == [0]
    journal.write_bytes(whole + b'{"page": {"query": 0, "turn"')
    server.asked.clear()
    assert load(store, clock).rows_kept == 25
    assert server.offsets == [10, 20]


def server_page(server: Server, request: httpx.Request) -> httpx.Response:
    query = request.url.params
    return httpx.Response(200, json=page(server.records, int(query["offset"]), int(query["limit"])))


def test_another_question_does_not_take_up_the_journal_of_the_first(
    store: Path, server: Server, clock: Clock
) -> None:
    server.first = [lambda request: server_page(server, request), answer(403)]
    with pytest.raises(LiveError):
        load(store, clock)
    server.asked.clear()
    load(store, clock, LiveQuery(name="Nymphaea odorata", state=Jurisdiction("US-MI")))
    assert server.offsets == [0, 10, 20]
    assert len(journals(store)) == 1


def test_a_page_cut_short_is_asked_for_again(store: Path, server: Server, clock: Clock) -> None:
    short = page(server.records, 0, 10)
    short["results"] = server.records[:4]
    server.first = [lambda request: httpx.Response(200, json=short)]
    report = load(store, clock)
    assert (report.rows_kept, report.files[0].undelivered) == (25, 0)
    assert server.offsets == [0, 0, 10, 20]


def test_records_that_are_announced_and_never_given_are_reported(
    store: Path, server: Server, clock: Clock
) -> None:
    missing = 3

    def lossy(request: httpx.Request) -> httpx.Response:
        query = request.url.params
        body = page(
            server.records,
            int(query["offset"]),
            int(query["limit"]),
            total=len(server.records) + missing,
        )
        return httpx.Response(200, json=body)

    server.first = [lossy] * 60
    report = load(store, clock)
    assert (report.rows_read, report.rows_kept, report.files[0].undelivered) == (25, 25, missing)
    row = (
        Build(store)
        .connection.execute("SELECT report FROM source WHERE kind = 'occurrences'")
        .fetchone()
    )
    assert json.loads(row["report"])["undelivered"] == missing


def test_an_empty_page_before_the_end_is_an_error_not_an_endless_loop(
    store: Path, server: Server, clock: Clock
) -> None:
    empty = {"offset": 0, "limit": 10, "endOfRecords": False, "count": 25, "results": []}
    server.first = [lambda request: httpx.Response(200, json=empty)] * 20
    with pytest.raises(LiveError, match="empty page at record 0 of 25"):
        load(store, clock)


def test_a_total_that_changes_under_way_has_the_query_asked_through_again(
    store: Path, server: Server, clock: Clock
) -> None:
    def grows(request: httpx.Request) -> httpx.Response:
        server.records.insert(
            0, found(99)
        )  # everything moves on by one: the eleventh record comes twice
        return server_page(server, request)

    server.first = [lambda request: server_page(server, request), grows]
    report = load(store, clock)
    assert server.offsets == [0, 10, 0, 10, 20]
    assert (report.rows_read, report.rows_kept, report.set_apart) == (26, 26, {})


def test_a_total_that_never_settles_is_taken_as_it_is(
    store: Path, server: Server, clock: Clock
) -> None:
    changing = iter(range(1_000))

    def restless(request: httpx.Request) -> httpx.Response:
        query = request.url.params
        body = page(server.records, int(query["offset"]), int(query["limit"]))
        return httpx.Response(200, json=body | {"count": 25 + next(changing) % 2})

    server.first = [restless] * 100
    report = load(store, clock)
    assert report.rows_kept == 25
    assert len(server.asked) < 12


def test_asking_again_changes_nothing(store: Path, server: Server, clock: Clock) -> None:
    load(store, clock)
    before = file_sha256(store)
    again = load(store, clock)
    assert again.files[0].unchanged
    assert file_sha256(store) == before


def test_records_of_two_queries_are_held_once(store: Path, server: Server, clock: Clock) -> None:
    report = load(
        store,
        clock,
        OHIO,
        LiveQuery(taxon_key="2882443", polygon_wkt="POLYGON((-84 40,-82 40,-82 42,-84 40))"),
    )
    assert (report.rows_read, report.rows_kept, report.set_apart) == (50, 25, {"duplicate": 25})


def test_several_requests_at_once_give_the_same_store(
    store: Path, server: Server, clock: Clock, tmp_path: Path
) -> None:
    queries = [
        LiveQuery(name=name, state=Jurisdiction("US-OH"))
        for name in ("Nymphaea odorata", "Typha latifolia", "x")
    ]
    load(store, clock, *queries)
    other = make_store(tmp_path / "other.db")
    load(
        other,
        clock,
        *queries,
        settings=LiveSettings(contact="a@example.org", base_url=BASE, page_size=10, concurrency=3),
    )
    builds = [Build(path) for path in (store, other)]
    assert builds[0].build_id == builds[1].build_id
    records = [records_within(build.connection, -83.0, 41.0, 100_000) for build in builds]
    assert records[0] == records[1]


def test_a_data_set_that_the_registry_does_not_know_is_cited_by_its_key(
    store: Path, clock: Clock
) -> None:
    made = Server([found(0)])
    with respx.mock:
        respx.get(f"{BASE}/occurrence/search").mock(side_effect=made.search)
        respx.get(url__startswith=f"{BASE}/dataset/").mock(return_value=httpx.Response(404))
        load(store, clock)
    (dataset,) = evidence(Build(store).connection, LILY, -83.0, 41.0).datasets
    assert dataset.title == dataset.dataset_key == "00000000-aaaa-4000-8000-000000000000"


def test_nothing_is_fetched_for_a_store_that_is_not_there(
    tmp_path: Path, server: Server, clock: Clock
) -> None:
    with pytest.raises(StoreMissing):
        load(tmp_path / "none.db", clock)
    assert server.asked == []


def test_a_polygon_is_turned_anticlockwise_and_cut_to_four_decimals() -> None:
    # RFC 7946, section 3.1.6: exterior rings are anticlockwise, interior rings clockwise.
    clockwise = "POLYGON((-84.123456 40, -84.123456 42, -82 42, -82 40, -84.123456 40))"
    assert (
        query_polygon(clockwise)
        == "POLYGON ((-84.1235 40, -82 40, -82 42, -84.1235 42, -84.1235 40))"
    )


@pytest.mark.parametrize(
    ("wkt", "message"),
    [
        ("POLYGON((", "cannot be read"),
        ("POINT(1 2)", "not a valid polygon"),
        ("POLYGON((0 0, 1 1, 1 0, 0 1, 0 0))", "not a valid polygon"),
        ("POLYGON EMPTY", "not a valid polygon"),
        ("POLYGON((41 -190, 42 -190, 42 -180, 41 -190))", "range of degrees"),
        (
            "POLYGON((" + ",".join(f"{x / 1000} {x % 2}" for x in range(300)) + ",1 5,0 0))",
            "not a valid|200 vertices",
        ),
    ],
)
def test_an_area_that_cannot_be_asked_for_is_refused(wkt: str, message: str) -> None:
    with pytest.raises(BadRequest, match=message):
        LiveQuery(name="x", polygon_wkt=wkt).parameters()


@pytest.mark.parametrize(
    ("query", "message"),
    [
        (LiveQuery(state=Jurisdiction("US-OH")), "a scientific name or a taxon key"),
        (LiveQuery(name="x", taxon_key="1", state=Jurisdiction("US-OH")), "and not both"),
        (LiveQuery(name="x"), "a polygon or a state"),
        (LiveQuery(name="x", state=Jurisdiction("US")), "US is not a state"),
        (LiveQuery(name="x", state=Jurisdiction("CA-ON")), "CA-ON is not a state"),
    ],
)
def test_a_query_names_one_plant_and_one_area(query: LiveQuery, message: str) -> None:
    with pytest.raises(BadRequest, match=message):
        query.parameters()


def test_the_plants_of_a_store_are_asked_for_one_by_one_without_those_that_come_along(
    store: Path,
) -> None:
    queries = queries_for_plants(store, state=Jurisdiction("US-OH"))
    assert [query.name for query in queries] == [
        "Cabomba caroliniana",
        "Nymphaea odorata",
        "Phragmites australis",
        "Pontederia crassipes",
        "Typha latifolia",
        "Typha × glauca",
    ]
    assert [
        query.name
        for query in queries_for_plants(store, state=Jurisdiction("US-OH"), plant_ids=[LILY])
    ] == ["Nymphaea odorata"]
    assert all(query.parameters()["stateProvince"] == "Ohio" for query in queries)
