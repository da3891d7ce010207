"""The page over HTTP, as a browser without script sees it, and what the script is told."""

import base64
import csv
import hashlib
import io
import json
import re
from collections.abc import Iterator

import pytest
from fastapi.testclient import TestClient
from httpx import Response

from service.api.app import create_app
from service.output.html.page import STATIC, static_file
from tests.service.demo_stores import COMMUNITY, PLAN, demo_path
from tests.service.output.test_report import Document

LIST = "Eichhornia crassipes (Water Hyacinth)\n\nYellow flag iris\nIris versicolor\n"
HOSTILE = "<script>alert(1)</script> iris"


@pytest.fixture(scope="module")
def client() -> Iterator[TestClient]:
    with TestClient(create_app(demo_path())) as client:
        yield client


def post(client: TestClient, path: str, wanted: str, **fields: object) -> Response:
    answered: Response = client.post(
        path, data={"plants": LIST, "state": "US-OH", "act": ["sell"], "as": wanted, **fields}
    )
    return answered


def test_the_page_is_well_formed_labelled_and_without_inline_script_or_style(
    client: TestClient,
) -> None:
    answered = client.get("/", headers={"Accept": "text/html"})
    assert answered.status_code == 200
    assert answered.headers["content-type"].startswith("text/html")
    document = Document(answered.text)
    assert document.crossed == []
    assert len(document.ids) == len(set(document.ids))
    assert "style" not in document.tags
    assert [
        name for name, _ in document.attributes if name == "style" or name.startswith("on")
    ] == []
    assert re.findall(r"<script(?![^>]* src=)", answered.text) == []
    policy = answered.headers["content-security-policy"]
    assert "script-src 'self'" in policy
    assert "unsafe-inline" not in policy


def test_every_file_that_the_page_asks_for_is_there(client: TestClient) -> None:
    asked = re.findall(r'(?:href|src)="(/static/[^"]+)"', client.get("/").text)
    assert len(asked) == len(STATIC)
    for address in asked:
        answered = client.get(address)
        assert answered.status_code == 200, address
        assert answered.content == static_file(address.split("/")[-1].split("?")[0])
    assert client.get("/static/report.css").status_code == 404
    assert client.get("/static/..%2fpage.py").status_code == 404


def test_one_plant_is_looked_up_by_a_plain_link(client: TestClient) -> None:
    document = Document(client.get("/?label=Water+hyacinth+4in&in=US-WI&act=sell").text)
    assert "Pontederia crassipes" in document.text
    assert "Permit required" in document.text
    assert "Confirm with" in document.text
    assert "Wis. Admin. Code" in document.text


def test_a_look_up_counts_the_county(client: TestClient) -> None:
    found = Document(
        client.get("/?label=Glyceria+maxima&in=US-WI&in_county=Dane&act=sell").text
    ).text
    assert "Dane County, Wisconsin" in found
    wrong = client.get("/?label=Glyceria+maxima&in=US-WI&in_county=Nowhere&act=sell")
    assert wrong.status_code == 422
    assert "County of Wisconsin" in wrong.text


def test_hostile_labels_stay_text(client: TestClient) -> None:
    for text in (
        client.get("/", params={"label": HOSTILE, "in": "US-OH", "act": "sell"}).text,
        client.get("/", params={"label": "iris", "in": HOSTILE}).text,
        post(client, "/check", "page", plants=HOSTILE).text,
        post(client, "/plan", "report", plants=HOSTILE).text,
        post(client, "/", "page", plants=f"</textarea>{HOSTILE}").text,
        json.loads(post(client, "/check", "stream", plants=HOSTILE).text.splitlines()[1])["html"],
    ):
        assert "<script>" not in text
        assert "&lt;script&gt;" in text


def test_a_place_is_chosen_by_links_alone(client: TestClient) -> None:
    states = client.get("/").text
    link = re.search(r'href="(/\?state=US-OH#where)"', states)
    assert link
    ohio = client.get(link[1].split("#")[0]).text
    assert '<option value="39051">Fulton County</option>' in ohio
    county = re.search(r'href="(/\?state=US-OH&amp;county=39051)#where"', ohio)
    assert county
    fulton = client.get(county[1].replace("&amp;", "&")).text
    assert '<option value="39051" selected>Fulton County</option>' in fulton
    assert "Ferrow River" in fulton


def test_counties_are_listed_without_losing_what_was_filled_in(client: TestClient) -> None:
    text = post(client, "/", "", place_kind="pond", place_outlet="yes").text
    assert "Yellow flag iris" in text
    assert '<option value="39051">' in text
    assert "<option selected>pond</option>" in text


def test_a_list_is_answered_line_by_line_as_a_page(client: TestClient) -> None:
    document = Document(post(client, "/check", "page", also="US-WI").text)
    assert document.crossed == []
    assert document.tags.count("tr") == 1 + 3
    for words in (
        "Pontederia crassipes",
        "Iris pseudacorus",
        "Wisconsin",
        "Ohio",
        "Prohibited",
        "Permit required",
    ):
        assert words in document.text


def test_the_script_is_told_line_by_line(client: TestClient) -> None:
    answered = post(client, "/check", "stream")
    assert answered.headers["content-type"].startswith("application/x-ndjson")
    events = [json.loads(line) for line in answered.text.splitlines()]
    assert [each["kind"] for each in events] == ["head", "row", "row", "row", "foot"]
    assert [each["done"] for each in events[1:4]] == [1, 2, 3]
    assert events[0]["total"] == 3


def test_a_list_comes_as_a_csv_that_can_be_read_again(client: TestClient) -> None:
    answered = post(client, "/check", "csv", also="US-WI")
    assert "attachment" in answered.headers["content-disposition"]
    rows = list(csv.DictReader(io.StringIO(answered.text.removeprefix("\ufeff"))))
    assert [row["label"] for row in rows] == [line for line in LIST.splitlines() if line]
    assert {"US-OH:sell", "US-WI:sell"} <= rows[0].keys()
    again = post(client, "/check", "csv", also="US-WI", plants=answered.text)
    assert [row["US-WI:sell"] for row in csv.DictReader(io.StringIO(again.text))] == [
        row["US-WI:sell"] for row in rows
    ]


def test_the_plan_of_a_list_is_a_report_that_the_browser_may_show(client: TestClient) -> None:
    answered = post(
        client, "/plan", "report", at="-84.2921, 41.6832", place_kind="pond", place_outlet="yes"
    )
    assert answered.status_code == 200
    assert "style-src 'sha256-" in answered.headers["content-security-policy"]
    document = Document(answered.text)
    assert "Decide these first" in document.text
    assert "Querrin Creek" in document.text


def test_a_plan_document_opened_as_a_file_is_answered(client: TestClient) -> None:
    answered = client.post(
        "/plan",
        data={"as": "report", "plants": ""},
        files={"file": ("plan.json", PLAN.read_bytes())},
    )
    assert "Heron Bend" in answered.text


@pytest.mark.parametrize(
    ("wanted", "kind"),
    [("geojson", "application/geo+json"), ("json", "application/json"), ("csv", "text/csv")],
)
def test_a_plan_comes_as_a_file(client: TestClient, wanted: str, kind: str) -> None:
    answered = post(client, "/plan", wanted, plants=PLAN.read_text(encoding="utf-8"))
    assert answered.headers["content-type"].startswith(kind)
    assert f"plan.{wanted}" in answered.headers["content-disposition"]
    if wanted != "csv":
        assert json.loads(answered.text)


def test_the_script_is_told_how_far_the_plan_is_and_then_the_answer(client: TestClient) -> None:
    events = [json.loads(line) for line in post(client, "/plan", "stream").text.splitlines()]
    assert [each["kind"] for each in events] == ["progress"] * 3 + ["foot"]
    assert [each["done"] for each in events[:3]] == [1, 2, 3]
    assert "The plan names no pond, stream or bog" in events[-1]["html"]


def test_errors_are_told_on_a_page_with_what_to_do(client: TestClient) -> None:
    for path, fields in (
        ("/check", {"plants": ""}),
        ("/check", {"state": ""}),
        ("/check", {"act": ["burn"]}),
        ("/plan", {"plants": "{broken"}),
        ("/plan", {"state": "", "county": ""}),
        ("/plan", {"at": "somewhere"}),
    ):
        answered = post(client, path, "page", **fields)
        assert answered.status_code == 422, (path, fields)
        assert answered.headers["content-type"].startswith("text/html")
        assert "Back to the page" in answered.text
        told = post(client, path, "stream", **fields)
        assert [json.loads(line)["kind"] for line in told.text.splitlines()] == ["error"]


def test_the_coverage_page_has_the_map_and_a_row_for_every_jurisdiction(client: TestClient) -> None:
    document = Document(client.get("/coverage").text)
    assert document.crossed == []
    assert document.tags.count("tr") == 1 + 52
    assert "coverage-title" in document.ids


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
