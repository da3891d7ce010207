"""Waters, watersheds and records around a site, from services as they answer when they are well
and when they are not.
"""

import json
from collections.abc import Iterator
from contextlib import closing
from pathlib import Path
from typing import Any

import httpx
import pytest
import respx

from data_loaders.build import file_sha256
from data_loaders.fetch import Around, Services, fetch_records, fetch_waters, fetch_watersheds
from data_loaders.fetch.around import MOST_KM
from data_loaders.fetch.waters import Fetched, count_waters
from data_loaders.occurrences.live_api import LiveApi, LiveSettings
from data_loaders.polite import LiveError, Patience
from data_loaders.reference_store import load_reference
from service.errors import BadRequest
from service.store.database import Build
from tests.data_loaders.fetch.hydrography_server import (
    BELOW,
    CREEK,
    HYDRO,
    INDEX,
    SITE,
    WATERSHEDS,
    Hydrography,
)

SERVICES = Services("you@example.org", HYDRO, WATERSHEDS, INDEX, 0.0, Patience(attempts=3))


@pytest.fixture(scope="module")
def reference(tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("reference") / "reference.db"
    load_reference(path)
    return path


@pytest.fixture
def store(reference: Path, tmp_path: Path) -> Path:
    path = tmp_path / "store.db"
    path.write_bytes(reference.read_bytes())
    return path


@pytest.fixture
def server() -> Iterator[Hydrography]:
    hydrography = Hydrography()
    with respx.mock(assert_all_called=False) as mock:
        mock.get(url__startswith="https://hydro.example.gov/").mock(side_effect=hydrography)
        mock.get(url__startswith="https://index.example.gov/").mock(side_effect=hydrography)
        yield hydrography


def fetched(store: Path, around: Around = Around(*SITE)) -> Fetched:
    folder = store.parent / "fetched"
    folder.mkdir(exist_ok=True)
    return fetch_waters(store, around, SERVICES, folder, wait=lambda seconds: None)


def lines_of(store: Path) -> dict[str, str]:
    """Flowline to the one below it."""
    with closing(Build(store)) as build:
        rows = build.connection.execute(
            "SELECT flowline.flowline_id, flow_link.to_id FROM flowline LEFT JOIN flow_link "
            "ON flow_link.from_id = flowline.flowline_id"
        ).fetchall()
    return {row[0]: row[1] or "" for row in rows}


def test_a_creek_and_where_it_runs_are_in_the_store(store: Path, server: Hydrography) -> None:
    answer = fetched(store)
    assert answer.features == len(CREEK) + len(BELOW) + 1
    assert answer.report is not None
    assert answer.report.rows_kept == answer.features
    below = lines_of(store)
    assert len(below) == 5
    start = "nhdplus:55000000000001"
    walked = [start]
    while below[walked[-1]]:
        walked.append(below[walked[-1]])
    assert walked == [f"nhdplus:5500000000000{number}" for number in range(1, 6)]
    with closing(Build(store)) as build:
        names = {row[0] for row in build.connection.execute("SELECT name FROM water")}
        source = build.connection.execute(
            "SELECT title, sha256 FROM source WHERE kind = 'waters'"
        ).fetchone()
    assert {"Teal Pond", "Alder Creek 10", "Alder Creek 20"} <= names
    assert "waters_-89.40000_43.07000_5km" in source[0]


def test_fetching_again_changes_nothing(store: Path, server: Hydrography) -> None:
    fetched(store)
    before = file_sha256(store)
    again = fetched(store)
    assert again.report is not None
    assert all(report.unchanged for report in again.report.files)
    assert file_sha256(store) == before


def test_partial_pages_are_asked_on_until_the_service_has_no_more(
    store: Path, server: Hydrography
) -> None:
    server.page = 1
    assert fetched(store).features == 6
    offsets = [one["resultOffset"] for one in server.asked if one.get("where") == "1=1"]
    assert offsets[:2] == ["0", "1"]


def test_a_fetch_that_was_stopped_goes_on_where_it_was(store: Path, server: Hydrography) -> None:
    server.page = 1
    server.gone_after = 3
    before = file_sha256(store)
    with pytest.raises(LiveError, match="connection failed"):
        fetched(store)
    assert file_sha256(store) == before
    done, server.gone_after = len(server.asked), None
    assert fetched(store).features == 6
    asked = [(one["path"], one.get("resultOffset"), one.get("where")) for one in server.asked]
    assert len(asked[done:]) < len(set(asked))
    assert list((store.parent / "fetched").glob("*.pages")) == []


@pytest.mark.parametrize(
    "answer",
    [
        httpx.Response(429, headers={"Retry-After": "1"}),
        httpx.Response(503),
        httpx.Response(500, text="<html>"),
        httpx.Response(200, text="<html>maintenance</html>"),
        httpx.Response(200, json={"error": {"code": 500, "message": "Error performing query"}}),
    ],
)
def test_a_service_that_stumbles_once_is_asked_again(
    store: Path, server: Hydrography, answer: httpx.Response
) -> None:
    server.first = [answer]
    assert fetched(store).features == 6


@pytest.mark.parametrize(
    ("answers", "said"),
    [
        ([httpx.Response(503)] * 3, "answered 503"),
        ([httpx.Response(429, headers={"Retry-After": "86400"})], "wait 86400 seconds"),
        ([httpx.Response(200, json={"error": {"message": "no"}})] * 2, "with an error: no"),
        ([httpx.Response(200, json={"layers": "?"})], "not of the form"),
    ],
)
def test_a_service_that_does_not_answer_leaves_the_store_as_it_was(
    store: Path, server: Hydrography, answers: list[httpx.Response], said: str
) -> None:
    server.first = answers
    before = file_sha256(store)
    with pytest.raises(LiveError, match=said) as error:
        fetched(store)
    assert error.value.next_step
    assert file_sha256(store) == before


def test_a_layer_that_is_gone_is_named(store: Path, server: Hydrography) -> None:
    del server.layers[9]
    with pytest.raises(LiveError, match="no layer 'NHDWaterbody'"):
        fetched(store)


def test_layers_are_found_by_name_whatever_their_number(store: Path, server: Hydrography) -> None:
    server.layers = {
        13: "NetworkNHDFlowline",
        4: "NonNetworkNHDFlowline",
        8: "NHDArea",
        9: "NHDWaterbody",
    }
    server.features[13] = server.features.pop(3)
    assert fetched(store).features == 6


def test_where_nothing_is_known_nothing_is_added(store: Path, server: Hydrography) -> None:
    server.features = {3: [], 4: [], 8: [], 9: []}
    before = file_sha256(store)
    answer = fetched(store)
    assert (answer.features, answer.report) == (0, None)
    assert file_sha256(store) == before


def test_without_a_network_the_linked_data_index_tells_the_main_path(
    store: Path, server: Hydrography
) -> None:
    plain: list[dict[str, Any]] = json.loads(json.dumps(CREEK))
    for one in plain:
        for column in ("HydroSeq", "DnHydroSeq", "LevelPathI", "DnLevelPat"):
            del one["properties"][column]
    server.features[3] = plain
    server.index_path = [
        {"type": "Feature", "geometry": one["geometry"], "properties": {"nhdplus_comid": str(at)}}
        for at, one in enumerate(BELOW, start=900)
    ]
    answer = fetched(store)
    assert answer.features == 6
    assert "comid:901" in lines_of(store)
    server.index_path = None
    away = Around(SITE[0], SITE[1], 6.0)
    assert "linked-data index knows no flowline" in fetched(store, away).notes[0]


def test_over_the_antimeridian_both_sides_are_asked(store: Path, server: Hydrography) -> None:
    fetched(store, Around(179.99, 51.9, 5.0))
    windows = {one["geometry"].split(",")[0] for one in server.asked if "geometry" in one}
    assert "-180.000000" in windows
    assert len(windows) == 2


def test_how_much_there_is_is_said_beforehand(server: Hydrography) -> None:
    with httpx.Client() as client:
        counts = count_waters(Around(*SITE), SERVICES, client=client)
    assert counts == {
        "NetworkNHDFlowline": 2,
        "NonNetworkNHDFlowline": 0,
        "NHDWaterbody": 1,
        "NHDArea": 0,
    }


def test_who_asks_is_said(store: Path, server: Hydrography) -> None:
    fetched(store)
    assert server.agents == {"Reedgate data loader (contact: you@example.org)"}


@pytest.mark.parametrize(
    "around",
    [(200.0, 43.0, 5.0), (-89.0, 95.0, 5.0), (-89.0, 43.0, 0.0), (-89.0, 43.0, MOST_KM + 1)],
)
def test_surroundings_off_the_earth_or_too_wide_are_refused(
    around: tuple[float, float, float],
) -> None:
    with pytest.raises(BadRequest) as error:
        Around(*around)
    assert error.value.next_step


def test_watersheds_come_with_where_they_drain(store: Path, server: Hydrography) -> None:
    folder = store.parent / "fetched"
    folder.mkdir()
    answer = fetch_watersheds(store, Around(*SITE), SERVICES, folder, wait=lambda seconds: None)
    assert answer.features == 1
    with closing(Build(store)) as build:
        row = build.connection.execute("SELECT watershed_id, name, downstream FROM watershed")
        assert tuple(row.fetchone()) == ("070900020604", "Alder Creek", "070900020701")


def test_records_of_every_plant_are_asked_in_few_queries(store: Path) -> None:
    names: list[str] = []
    base = "https://records.example.org/v1"
    record = {
        "key": "1",
        "scientificName": "Lythrum salicaria L.",
        "species": "Lythrum salicaria",
        "decimalLatitude": 43.071,
        "decimalLongitude": -89.401,
        "coordinateUncertaintyInMeters": 20.0,
        "basisOfRecord": "HUMAN_OBSERVATION",
        "occurrenceStatus": "PRESENT",
        "eventDate": "2021-07-04",
        "year": 2021,
        "datasetKey": "d-1",
    }

    def answer(request: httpx.Request) -> httpx.Response:
        if "/dataset/" in request.url.path:
            return httpx.Response(200, json={"title": "Invented records"})
        asked = request.url.params.get_list("scientificName")
        names.extend(asked)
        found = [record] if "Lythrum salicaria" in asked else []
        return httpx.Response(
            200,
            json={
                "offset": 0,
                "limit": 300,
                "endOfRecords": True,
                "count": len(found),
                "results": found,
            },
        )

    settings = LiveSettings(contact="you@example.org", base_url=base)
    with respx.mock as mock, httpx.Client() as client:
        mock.get(url__startswith=base).mock(side_effect=answer)
        report = fetch_records(
            store,
            Around(*SITE),
            settings,
            client=client,
            api=LiveApi(settings, client, sleep=lambda seconds: None),
        )
        requests = len(mock.calls)
    assert report.rows_kept == 1
    assert len(names) == len(set(names)) > 300
    assert requests <= len(names) // 40 + 3
