"""The page over HTTP, as a browser without script sees it, and what the script is told."""

import base64
import csv
import hashlib
import io
import json
import re
from collections.abc import Iterator
from typing import Any

import pytest
from fastapi.testclient import TestClient
from httpx import Response
from openpyxl import load_workbook

from service.api.app import create_app
from tests.service.demo_stores import COMMUNITY, PLAN, demo_path
from tests.service.output.test_report import Document

LIST = "Eichhornia crassipes (Water Hyacinth)\n\nYellow flag iris\nIris versicolor\n"
HOSTILE = "<script>alert(1)</script> iris"


@pytest.fixture(scope="module")
def client() -> Iterator[TestClient]:
    with TestClient(create_app(demo_path())) as client:
        yield client


def post(client: TestClient, path: str, **fields: object) -> Response:
    answered: Response = client.post(
        path, data={"plants": LIST, "to": ["US-OH"], "act": ["sell"], **fields}
    )
    return answered


def events(answered: Response) -> list[dict[str, Any]]:
    return [json.loads(line) for line in answered.text.splitlines()]


@pytest.mark.parametrize("room", ["/", "/plant", "/list", "/place", "/sites", "/law"])
def test_a_room_is_well_formed_labelled_and_without_inline_script_or_style(
    client: TestClient, room: str
) -> None:
    answered = client.get(room, headers={"Accept": "text/html"})
    assert answered.status_code == 200
    assert answered.headers["content-type"].startswith("text/html")
    document = Document(answered.text)
    assert document.crossed == []
    assert len(document.ids) == len(set(document.ids))
    assert "style" not in document.tags
    assert [
        name for name, _ in document.attributes if name == "style" or name.startswith("on")
    ] == []
    # The one script without an address is the block of words, which is data and never run.
    assert re.findall(r"<script(?![^>]* src=)([^>]*)>", answered.text) == [
        ' type="application/json" id="words"'
    ]
    policy = answered.headers["content-security-policy"]
    assert "script-src 'self'" in policy
    assert "unsafe-inline" not in policy


def test_every_file_that_the_page_asks_for_is_there_and_kept_for_good(client: TestClient) -> None:
    asked = re.findall(r'(?:href|src)="(/static/[^"]+)"', client.get("/").text)
    assert len(asked) == 3
    folder = asked[0].rsplit("/", 1)[0]
    imported = [
        f"{folder}/{name}"
        for module in (
            "app.js",
            "list.js",
            "place.js",
            "sites.js",
            "map.js",
            "start.js",
            "plant.js",
        )
        for name in re.findall(r'from "\./([\w.]+)"', client.get(f"{folder}/{module}").text)
    ]
    for address in {*asked, *imported, f"{folder}/vendor/leaflet/LICENSE"}:
        answered = client.get(address)
        assert answered.status_code == 200, address
        assert "immutable" in answered.headers["cache-control"]
    stale = client.get("/static/000000000000/app.js")
    assert stale.status_code == 200
    assert "immutable" not in stale.headers["cache-control"]
    assert client.get(f"{folder}/report.css").status_code == 404
    assert client.get(f"{folder}/..%2fpage.py").status_code == 404


def test_one_plant_is_looked_up_by_a_plain_link_in_several_states(client: TestClient) -> None:
    document = Document(
        client.get("/plant?label=Water+hyacinth+4in&in=US-WI&also=Ohio&act=sell").text
    )
    for words in ("Pontederia crassipes", "Permit required", "Confirm with", "Wis. Admin. Code"):
        assert words in document.text
    assert "not native to Ohio" in document.text
    assert "barred or limited in" in document.text


def test_a_look_up_counts_the_county(client: TestClient) -> None:
    found = Document(
        client.get("/plant?label=Glyceria+maxima&in=US-WI&county=Dane&act=sell").text
    ).text
    assert "Dane County, Wisconsin" in found
    wrong = client.get("/plant?label=Glyceria+maxima&in=US-WI&county=Nowhere&act=sell")
    assert wrong.status_code == 422
    assert "Back to the page" in wrong.text


def test_an_old_address_of_a_look_up_goes_on(client: TestClient) -> None:
    answered = client.get("/?label=iris&in=US-OH", follow_redirects=False)
    assert answered.status_code == 308
    assert answered.headers["location"] == "/plant?label=iris&in=US-OH"
    assert client.get("/coverage", follow_redirects=False).headers["location"] == "/law"


def test_hostile_labels_stay_text(client: TestClient) -> None:
    reasons = client.post(
        "/list/why", json={"labels": [HOSTILE], "to": ["US-OH"], "acts": ["sell"], "from": ""}
    )
    for text in (
        client.get("/plant", params={"label": HOSTILE, "in": "US-OH", "act": "sell"}).text,
        client.get("/plant", params={"label": "iris", "in": HOSTILE}).text,
        client.get("/list", params={"to": HOSTILE}).text,
        post(client, "/list", plants=HOSTILE).text,
        *reasons.json()["parts"],
    ):
        assert "<script>alert" not in text


def test_a_list_is_answered_line_by_line_as_a_page(client: TestClient) -> None:
    document = Document(post(client, "/list", to=["US-OH", "US-WI"]).text)
    assert document.crossed == []
    assert document.tags.count("tr") == 1 + 3
    for words in ("Pontederia crassipes", "Wisconsin", "Ohio", "Prohibited", "Permit required"):
        assert words in document.text


def test_the_script_gets_a_head_and_short_rows(client: TestClient) -> None:
    answered = post(client, "/list/rows", to=["US-OH", "US-WI"], **{"from": "US-KY"})
    assert answered.headers["content-type"].startswith("application/x-ndjson")
    head, rows = events(answered)
    assert (head["kind"], head["total"]) == ("head", 3)
    assert [column["code"] for column in head["columns"]] == ["US-OH", "US-WI"]
    assert len(head["standing"]) == len(head["lanes"]) == 2
    flag = rows["rows"][1]
    assert flag["meant"] == "Iris pseudacorus"
    assert flag["group"] == "hold"
    assert [outcome for outcome, _ in flag["cells"]] == ["prohibited", "permit-required"]
    assert [row["n"] for row in rows["rows"]] == [1, 2, 3]


def test_ten_thousand_lines_come_in_pieces(client: TestClient) -> None:
    labels = "\n".join(f"Iris versicolor lot {number}" for number in range(10_000))
    answered = events(post(client, "/list/rows", plants=labels))
    assert sum(len(event["rows"]) for event in answered[1:]) == 10_000
    assert max(len(event["rows"]) for event in answered[1:]) == 50


def test_a_list_comes_as_a_file_that_can_be_read_again(client: TestClient) -> None:
    answered = post(client, "/list/file", to=["US-OH", "US-WI"], **{"as": "csv"})
    assert "attachment" in answered.headers["content-disposition"]
    assert answered.content.startswith(b"\xef\xbb\xbf")
    rows = list(csv.DictReader(io.StringIO(answered.text.removeprefix("\ufeff"))))
    assert [row["label"] for row in rows] == [line for line in LIST.splitlines() if line]
    again = client.post(
        "/list/file",
        data={"to": ["US-OH", "US-WI"], "act": ["sell"], "as": "csv"},
        files={"file": ("again.csv", answered.content)},
    )
    found = csv.DictReader(io.StringIO(again.text.removeprefix("\ufeff")))
    assert [row["US-WI:sell"] for row in found] == [row["US-WI:sell"] for row in rows]
    book = post(client, "/list/file", **{"as": "xlsx"})
    sheet = load_workbook(io.BytesIO(book.content)).worksheets[0]
    assert sheet.max_row == 4


def test_chosen_names_are_answered_and_the_label_is_kept(client: TestClient) -> None:
    chosen = json.dumps({"1": "Vallisneria americana"})
    answered = post(client, "/list/file", plants="Water celery", chosen=chosen, **{"as": "csv"})
    row = next(csv.DictReader(io.StringIO(answered.text.removeprefix("\ufeff"))))
    assert row["label"] == "Water celery"
    assert (row["accepted_name"], row["confirmed"]) == ("Vallisneria americana", "yes")


@pytest.mark.parametrize(
    "fields",
    [
        {"plants": ""},
        {"to": []},
        {"act": ["burn"]},
        {"to": ["Nowhere"]},
        {"chosen": "[1]"},
        {"chosen": "{"},
        {"column": "no such heading"},
    ],
)
def test_what_cannot_be_answered_says_what_to_do(
    client: TestClient, fields: dict[str, object]
) -> None:
    shown = post(client, "/list", **fields)
    assert shown.status_code == 422
    assert "Back to the page" in shown.text
    problem = post(client, "/list/rows", **fields)
    assert problem.headers["content-type"].startswith("application/problem+json")


def test_names_are_offered_by_their_beginning(client: TestClient) -> None:
    names = client.get("/offer?q=yellow flag").json()["names"]
    assert names[0]["meant"] == "Iris pseudacorus"
    assert client.get("/offer?q=ye").json()["names"] == []
    assert len(client.get("/offer?q=water").json()["names"]) == 8


def test_the_map_gets_lines_and_waters_of_its_box(client: TestClient) -> None:
    near = client.get("/map/shapes?box=-84.35,41.63,-84.2,41.73").json()["features"]
    what = {(one["properties"]["what"], one["properties"]["name"]) for one in near}
    assert ("water", "Querrin Creek") in what
    assert ("line", "Ohio") in what
    far = client.get("/map/shapes?box=-126,24,-66,50").json()["features"]
    assert {one["properties"]["what"] for one in far} == {"line"}
    for wrong in ("", "1,2,3", "a,b,c,d", "2,1,1,2"):
        assert client.get(f"/map/shapes?box={wrong}").status_code == 422


def test_a_plan_in_a_file_is_read_as_the_document_that_it_is(client: TestClient) -> None:
    document = client.post("/place/read", files={"file": ("plan.json", PLAN.read_bytes())}).json()
    assert document == json.loads(PLAN.read_text(encoding="utf-8"))
    table = (PLAN.parent / "heron_bend_plantings.csv").read_bytes()
    plantings = client.post("/place/read", files={"file": ("p.csv", table)}).json()["plantings"]
    assert len(plantings) == len(document["plantings"])
    assert client.post("/place/read", files={"file": ("p", b"")}).status_code == 422


def test_a_file_that_is_not_a_geopackage_is_refused(client: TestClient) -> None:
    for content in (b"", b"PK\x03\x04", b"SQLite format 3\x00" + b"\0" * 200):
        assert client.post("/sites/read", files={"file": ("s.gpkg", content)}).status_code == 422


def test_the_law_has_a_row_for_every_jurisdiction_and_a_page_for_every_list(
    client: TestClient,
) -> None:
    document = Document(client.get("/law").text)
    assert document.crossed == []
    assert document.tags.count("tr") == 1 + 52
    lists = {value for name, value in document.attributes if name == "href" and value}
    pages = sorted(address for address in lists if address.startswith("/law/"))
    assert len(pages) > 80
    for address in pages:
        assert Document(client.get(address).text).crossed == []
    assert client.get("/law/no-such-list").status_code == 404


def test_without_a_store_the_page_says_what_to_do(tmp_path_factory: pytest.TempPathFactory) -> None:
    with TestClient(create_app(tmp_path_factory.mktemp("none") / "none.db")) as empty:
        answered = empty.get("/")
        assert answered.status_code == 503
        assert answered.headers["content-type"].startswith("text/html")
        assert "reedgate" in answered.text


@pytest.mark.parametrize("path", ["/v1/plan-checks", "/v1/community-screenings"])
def test_a_report_of_the_interface_for_programs_may_use_its_own_style(
    client: TestClient, path: str
) -> None:
    body = PLAN.read_bytes() if "plan" in path else COMMUNITY.read_bytes()
    answered = client.post(
        path, content=body, headers={"Content-Type": "application/json", "Accept": "text/html"}
    )
    assert answered.status_code == 200
    style = re.search(r"<style>(.*?)</style>", answered.text, re.DOTALL)
    assert style
    digest = base64.b64encode(hashlib.sha256(style[1].encode()).digest()).decode()
    assert f"'sha256-{digest}'" in answered.headers["content-security-policy"]


@pytest.mark.parametrize(
    ("asked", "pointer"),
    [
        ({"labels": ["a"], "to": [1], "acts": ["sell"], "from": ""}, "/to/0"),
        ({"labels": "abc", "to": ["US-OH"]}, "/labels"),
        ({"labels": ["a"], "to": ["US-OH"], "from": 3}, "/from"),
    ],
)
def test_a_question_of_the_wrong_form_is_told_where(
    client: TestClient, asked: dict[str, object], pointer: str
) -> None:
    answer = client.post("/list/why", json=asked)
    assert (answer.status_code, answer.json()["pointer"]) == (422, pointer)


def test_a_form_of_file_that_is_not_known_is_refused(client: TestClient) -> None:
    answer = client.post("/list/file", data={"plants": "Typha", "to": "US-OH", "as": "pdf"})
    assert answer.status_code == 422
