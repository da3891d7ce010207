"""The addresses of lists looked at: what moved, what could not be had, what is not the law."""

from collections.abc import Iterator
from datetime import date
from pathlib import Path

import httpx
import pytest
import respx

from data_loaders.regulations.listfile import ListFile, read_list_file
from data_loaders.regulations.load import FOLDER
from data_loaders.regulations.reading.addresses import public_client
from data_loaders.regulations.reading.copies import Copies
from data_loaders.regulations.reading.fetch import Fetcher
from data_loaders.regulations.reading.refresh import Refreshed, due_lists, refresh
from service.store.library import Library
from tests.data_loaders.regulations.reading.plan import Plan, draw_plan
from tests.data_loaders.regulations.reading.shapes import SHAPES

DAY = date(2026, 6, 1)
URL = "https://rules.example.gov/law"
VERMONT = read_list_file(FOLDER / "us-vt-noxious-weeds.toml").model_copy(update={"url": URL})


@pytest.fixture
def web() -> Iterator[respx.MockRouter]:
    with respx.mock(assert_all_called=False) as router:
        router.get("https://rules.example.gov/robots.txt").respond(404)
        yield router


@pytest.fixture
def copies(tmp_path: Path) -> Copies:
    return Copies(tmp_path / "documents")


@pytest.fixture
def plan(library: Library) -> Plan:
    return draw_plan(VERMONT, library, "refresh")


def look(library: Library, copies: Copies, *models: ListFile) -> list[Refreshed]:
    def public(host: str, port: int) -> list[str]:
        return ["8.8.8.8"]

    fetcher = Fetcher(public_client(public), resolve=public, sleep=lambda seconds: None)
    return list(refresh(models or (VERMONT,), library, fetcher, copies, DAY))


@pytest.mark.parametrize(
    "shape",
    ["html_table_with_headings", "pdf_list", "docx_list", "rtf_list", "xml_uslm", "text_numbered"],
)
def test_a_page_of_any_shape_is_read_and_what_moved_is_said(
    library: Library, copies: Copies, web: respx.MockRouter, plan: Plan, shape: str
) -> None:
    web.get(URL).respond(200, content=SHAPES[shape](plan)[1])
    (found,) = look(library, copies)
    assert found.status == "changed"
    assert found.reading is not None
    assert {entry.entry for entry in found.reading.not_in_text} == plan.gone | set(
        plan.misspelt.values()
    )
    for name in plan.added:
        assert name in found.say or "more" in found.say


def test_a_304_leaves_the_list_unchanged_and_needs_no_second_copy(
    library: Library, copies: Copies, web: respx.MockRouter, plan: Plan
) -> None:
    content = SHAPES["html_numbered_list"](plan)[1]
    web.get(URL).mock(
        side_effect=[
            httpx.Response(200, content=content, headers={"ETag": '"1"'}),
            httpx.Response(304),
        ]
    )
    look(library, copies)
    (again,) = look(library, copies)
    assert again.status == "unchanged"
    assert "still differs" in again.say
    assert again.reading is not None


def test_the_same_bytes_again_are_unchanged(
    library: Library, copies: Copies, web: respx.MockRouter, plan: Plan
) -> None:
    web.get(URL).respond(200, content=SHAPES["html_numbered_list"](plan)[1])
    assert [look(library, copies)[0].status for _ in range(2)] == ["changed", "unchanged"]


def test_a_damaged_copy_is_not_asked_for_with_conditions(
    library: Library, copies: Copies, web: respx.MockRouter, plan: Plan
) -> None:
    route = web.get(URL).respond(
        200, content=SHAPES["html_numbered_list"](plan)[1], headers={"ETag": '"1"'}
    )
    look(library, copies)
    kept = copies.latest(URL)
    assert kept is not None
    (copies.folder / kept.file).write_bytes(b"damaged")
    look(library, copies)
    assert "If-None-Match" not in route.calls.last.request.headers


@pytest.mark.parametrize(
    ("answer", "status", "words"),
    [
        (httpx.Response(500), "unreachable", "500"),
        (httpx.Response(404), "unreachable", "not there"),
        (httpx.ReadTimeout("slow"), "unreachable", "in time"),
        (httpx.Response(302, headers={"Location": "http://127.0.0.1/"}), "unreachable", "from https to http"),
        (
            httpx.Response(200, html="<html><body><h1>Sign in</h1><form><input type=password></form></body></html>"),
            "not-understood",
            "sign in",
        ),
        (
            httpx.Response(200, html="<html><body><h1>Welcome</h1><p>Find a park.</p></body></html>"),
            "not-understood",
            "No plant name",
        ),
        (
            httpx.Response(200, html="<html><body><ul><li>Butomus umbellatus<li>Trapa na"),
            "not-understood",
            "breaks off",
        ),
        (
            httpx.Response(200, html="<html><body><p>Typha latifolia is native.</p></body></html>"),
            "not-understood",
            "layout",
        ),
        (httpx.Response(200, json={"rules": []}), "not-understood", "application/json"),
        (httpx.Response(200, content=b"%PDF-1.4 half"), "not-understood", "PDF"),
    ],
)  # fmt: skip
def test_what_is_not_the_law_is_said_and_nothing_else_happens(
    library: Library,
    copies: Copies,
    web: respx.MockRouter,
    answer: httpx.Response | Exception,
    status: str,
    words: str,
) -> None:
    route = web.get(URL)
    if isinstance(answer, Exception):
        route.mock(side_effect=answer)
    else:
        route.mock(return_value=answer)
    (found,) = look(library, copies)
    assert found.status == status
    assert words in found.say


def test_a_page_that_moved_is_named(
    library: Library, copies: Copies, web: respx.MockRouter, plan: Plan
) -> None:
    web.get(URL).respond(301, headers={"Location": f"{URL}/2026"})
    web.get(f"{URL}/2026").respond(200, content=SHAPES["html_numbered_list"](plan)[1])
    (found,) = look(library, copies)
    assert found.moved_to == f"{URL}/2026"


def test_an_address_of_two_lists_is_asked_once(
    library: Library, copies: Copies, web: respx.MockRouter, plan: Plan
) -> None:
    route = web.get(URL).respond(200, content=SHAPES["html_numbered_list"](plan)[1])
    other = VERMONT.model_copy(update={"list_id": "us-vt-other"})
    assert [refreshed.status for refreshed in look(library, copies, VERMONT, other)] == [
        "changed",
        "changed",
    ]
    assert route.call_count == 1


def test_a_list_without_an_address_says_so(library: Library, copies: Copies) -> None:
    model = VERMONT.model_copy(update={"url": "", "read_url": ""})
    assert look(library, copies, model)[0].status == "no-address"


def test_lists_are_due_that_were_not_read_or_long_ago() -> None:
    def model(how_known: str, copied: str) -> ListFile:
        return VERMONT.model_copy(update={"how_known": how_known, "read_copy_date": copied})

    read_lately = model("read", "2026-01-15")
    due = [
        model("memory", ""),
        model("read", "2019"),
        model("read", ""),
        model("partly-read", "2026-05-01"),
    ]
    assert due_lists([read_lately, *due], 24, DAY) == due
