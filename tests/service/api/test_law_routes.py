"""Routes of names, plants, law and stock: answers and problems."""

import io
from pathlib import Path

import pytest
from fastapi.testclient import TestClient
from openpyxl import Workbook, load_workbook

from service.api.app import create_app


def test_a_name_explains_itself(client: TestClient) -> None:
    answer = client.get("/v1/names", params={"label": "Eichhornia crassipes 4in"}).json()
    assert (answer["match"], answer["confirmed"]) == ("synonym", True)
    assert answer["candidates"][0]["plant_id"] == "pontederia-crassipes"
    assert answer["parts"]
    assert answer["steps"]
    assert answer["store_build"]
    assert answer["cautions"]


def test_a_plant_outside_the_catalogue_is_said_with_what_survey_tables_know_of_it(
    client: TestClient,
) -> None:
    answer = client.get("/v1/names", params={"label": "Carex oligosperma"}).json()
    outside = answer["outside"]
    assert (outside["name"], outside["genus"]) == ("Carex oligosperma", "Carex")
    # National Wetland Plant List (USACE): Carex oligosperma is rated OBL wherever it is rated.
    assert outside["wetland_indicator"] == ["OBL"]
    assert outside["native_states"] > 0
    made_up = client.get("/v1/names", params={"label": "Foobaria limosa"}).json()["outside"]
    assert (made_up["genus_known"], made_up["wetland_indicator"]) == (False, [])
    assert made_up["native_states"] is None


def test_goods_are_named_by_the_word_that_gives_them_away(client: TestClient) -> None:
    goods = client.get("/v1/names", params={"label": "algaecide - hydrilla & chara"}).json()
    assert (goods["goods"], goods["candidates"]) == ("algaecide", [])
    plant = client.get("/v1/names", params={"label": "Trapa natans"}).json()
    assert (plant["goods"], plant["outside"]) == ("", None)


def test_many_names_at_once(client: TestClient) -> None:
    answer = client.post("/v1/names", json={"labels": ["Trapa natans", "cattail", ""]}).json()
    assert [resolution["label"] for resolution in answer["resolutions"]] == [
        "Trapa natans",
        "cattail",
        "",
    ]


def test_a_finding_cites_its_list(client: TestClient) -> None:
    answer = client.get(
        "/v1/findings",
        params={"label": "water hyacinth", "jurisdiction": "US-WI", "act": ["sell", "possess"]},
    ).json()
    assert [finding["act"] for finding in answer["findings"]] == ["sell", "possess"]
    assert answer["findings"][0]["citations"][0]["class"] == "Prohibited"


@pytest.mark.parametrize(
    ("params", "pointer"),
    [
        ({"label": "x", "jurisdiction": "US-ZZ"}, "jurisdiction"),
        ({"label": "x", "jurisdiction": "US-WI", "act": "hawk"}, "act"),
        ({"label": "x", "jurisdiction": "US-WI", "on": "2026-02-30"}, "on"),
        ({"label": "x", "jurisdiction": "US-WI", "county": "Nowhere"}, "county"),
        ({"jurisdiction": "US-WI"}, "label"),
    ],
)
def test_a_bad_parameter_is_a_problem_with_a_pointer(
    client: TestClient, params: dict[str, str], pointer: str
) -> None:
    response = client.get("/v1/findings", params=params)
    assert response.status_code == 422
    assert response.headers["content-type"] == "application/problem+json"
    assert response.json()["pointer"] == pointer


def test_lists_their_classes_and_entries(client: TestClient) -> None:
    lists = client.get("/v1/lists", params={"jurisdiction": "US-WI"}).json()["lists"]
    assert {listed["list_id"] for listed in lists} == {"us-wi-nr40", "us-wi-nr109"}
    one = client.get("/v1/lists/us-wi-nr40").json()
    assert {list_class["name"] for list_class in one["classes"]} == {"Prohibited", "Restricted"}
    entries = client.get("/v1/lists/us-wi-nr40/entries").json()["entries"]
    assert len(entries) == next(
        listed["entry_count"] for listed in lists if listed["list_id"] == "us-wi-nr40"
    )
    assert (
        client.get("/v1/lists/us-wi-nr40/entries", params={"on": "2001-01-01"}).status_code == 404
    )
    assert client.get("/v1/lists/nowhere").json()["type"] == "/problems/not-found"


def test_a_plant_shows_how_each_trait_is_known(client: TestClient) -> None:
    plant = client.get("/v1/plants/pontederia-crassipes").json()
    assert plant["traits"]["doubling_days"]["how_known"] == "read"
    assert plant["traits"]["spread_rate"]["how_known"] == "common-practice"
    assert any(name["name"] == "Eichhornia crassipes" for name in plant["names"])
    assert client.get("/v1/plants", params={"q": "hyacinth water"}).json()["total"] >= 1
    assert client.get("/v1/plants/nobody").status_code == 404


CSV = "label,qty\r\nTrapa natans,3\r\nzzz unknown,4\r\n"


@pytest.mark.parametrize("accept", ["application/json", "text/csv", "*/*", "text/*;q=0.9"])
def test_stock_as_csv_comes_back_as_asked(client: TestClient, accept: str) -> None:
    response = client.post(
        "/v1/stock-checks?to=US-WI",
        content=CSV,
        headers={"content-type": "text/csv", "accept": accept},
    )
    assert response.status_code == 200
    if "text" in accept:
        assert response.text.splitlines()[0].startswith(
            "label,qty,match,accepted_name,confirmed,US-WI:sell"
        )
    else:
        assert [line["name"]["match"] for line in response.json()["lines"]] == ["accepted", "none"]


def test_stock_as_json_with_a_lane(client: TestClient) -> None:
    asked = {
        "labels": ["Trapa natans", "", "Hygrophila polysperma"],
        "to": ["US-OH"],
        "from": "US-KY",
        "act": ["sell"],
        "on": "2026-06-01",
    }
    lines = client.post("/v1/stock-checks", json=asked).json()["lines"]
    assert lines[1]["problem"] == "no label in this row"
    assert lines[2]["lanes"][0]["origin"] == "US-KY"
    assert lines[2]["lanes"][0]["steps"][0]["jurisdiction"] == "US"


@pytest.mark.parametrize(
    ("content", "headers", "status"),
    [
        (CSV, {"content-type": "application/xml"}, 415),
        (CSV, {"content-type": "text/csv", "accept": "image/png"}, 406),
        ("{", {"content-type": "application/json"}, 422),
        ('{"labels": [], "to": []}', {"content-type": "application/json"}, 422),
        ("sku\r\n1\r\n", {"content-type": "text/csv"}, 422),
    ],
)
def test_a_body_that_cannot_be_read_is_a_problem(
    client: TestClient, content: str, headers: dict[str, str], status: int
) -> None:
    response = client.post("/v1/stock-checks?to=US-WI", content=content, headers=headers)
    assert response.status_code == status
    assert response.headers["content-type"] == "application/problem+json"


def test_the_same_request_gives_the_same_bytes(client: TestClient) -> None:
    params = {"label": "cattail", "jurisdiction": "US-WI", "on": "2026-06-01"}
    assert (
        client.get("/v1/findings", params=params).content
        == client.get("/v1/findings", params=params).content
    )


def test_without_a_store_the_service_lives_but_is_not_ready(tmp_path: Path) -> None:
    bare = TestClient(create_app(tmp_path / "none.db"), raise_server_exceptions=False)
    assert bare.get("/health/live").status_code == 200
    ready = bare.get("/health/ready")
    assert ready.status_code == 503
    assert "reedgate load reference" in ready.json()["next_step"]
    assert str(tmp_path) not in ready.text


XLSX = "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet"


def a_workbook() -> bytes:
    book = Workbook()
    sheet = book.active
    assert sheet is not None
    sheet.append(["Fernhollow Water Gardens (invented)"])
    sheet.append(["Botanical Name", "Common Name", "Qty"])
    sheet.append(["Pontederia crassipes", "Water hyacinth", 4])
    buffer = io.BytesIO()
    book.save(buffer)
    return buffer.getvalue()


def test_a_workbook_comes_in_and_goes_out(client: TestClient) -> None:
    headers = {"content-type": XLSX, "accept": XLSX}
    response = client.post("/v1/stock-checks?to=Wisconsin", content=a_workbook(), headers=headers)
    assert (response.status_code, response.headers["content-type"]) == (200, XLSX)
    book = load_workbook(io.BytesIO(response.content))
    first, heading, line = book["Sheet"].iter_rows(values_only=True)
    assert first[0] == "Fernhollow Water Gardens (invented)"
    assert heading[3:7] == ("match", "accepted_name", "confirmed", "US-WI:sell")
    assert line[:7] == (
        "Pontederia crassipes", "Water hyacinth", 4, "accepted", "Pontederia crassipes", "yes", "permit-required"
    )  # fmt: skip
    about = [row[0] for row in book["About the answers"].iter_rows(values_only=True)]
    assert any(str(said).startswith("Wisconsin: ") for said in about)


def test_a_table_in_json_says_which_rows_are_answered_and_how_far_the_law_goes(
    client: TestClient,
) -> None:
    content = b"itemDescription,qty\nTrapa natans,1\nTOTAL,1\n"
    answer = client.post(
        "/v1/stock-checks?to=US-WI", content=content, headers={"content-type": "text/csv"}
    ).json()
    assert [(line["row"], line["answered"]) for line in answer["lines"]] == [(2, True), (3, False)]
    assert "'TOTAL' is not the name of a plant" in answer["lines"][1]["problem"]
    assert answer["lines"][0]["text"].startswith("We hold Trapa natans back from Wisconsin (")
    assert answer["standings"][0]["phrase"].startswith("Wisconsin: ")


@pytest.mark.parametrize(
    ("query", "pointer"), [("column=Weight", "column"), ("sheet=Other", "sheet")]
)
def test_a_column_or_sheet_that_is_not_there_is_a_problem(
    client: TestClient, query: str, pointer: str
) -> None:
    response = client.post(
        f"/v1/stock-checks?to=US-WI&{query}", content=a_workbook(), headers={"content-type": XLSX}
    )
    assert response.status_code == 422
    assert pointer in response.json()["pointer"]


def test_plain_text_is_one_plant_a_line(client: TestClient) -> None:
    response = client.post(
        "/v1/stock-checks?to=US-WI",
        content=b"Trapa natans\nwater lettuce, large\n",
        headers={"content-type": "text/plain"},
    )
    assert [line["name"]["label"] for line in response.json()["lines"]] == [
        "Trapa natans",
        "water lettuce, large",
    ]
