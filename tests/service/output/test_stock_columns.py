"""An answered stock list: reasons short, each sentence once; nothing of the list lost."""

import csv
import io
import json
from datetime import date

from service.checks.stock import StockChecker, StockQuestion
from service.input.stock_table import read_stock
from service.output.csv import stock_csv
from service.output.stock_json import write_stock_json
from service.store.library import Library
from service.values.vocabulary import STATES, Act, Jurisdiction

ON = date(2026, 6, 1)


def row(library: Library, label: str, question: StockQuestion) -> dict[str, str]:
    table = read_stock(f"label\n{label}\n".encode())
    lines = StockChecker(library, question).check(table.names)
    return next(csv.DictReader(io.StringIO("".join(stock_csv(table, lines, question)))))


def test_places_left_open_by_lists_loaded_in_part_are_one_sentence(library: Library) -> None:
    answer = row(library, "Caltha palustris", StockQuestion(STATES, ("sell",), ON))
    left_open = [place for place in STATES if answer[f"{place}:sell"] == "undetermined"]
    assert len(left_open) > 20
    sentences = answer["reasons"].split(" | ")
    assert all(sentence.startswith("Not determined in ") for sentence in sentences)
    named = ", ".join(sentence.rpartition(": ")[2] for sentence in sentences).split(", ")
    assert sorted(named) == sorted(left_open)
    assert len(answer["reasons"]) < 600


def test_a_reason_of_the_law_is_given_for_a_name_that_is_not_sure(library: Library) -> None:
    texas = StockQuestion((Jurisdiction("US-TX"),), ("sell",), ON)
    reasons = row(library, "duckweed", texas)["reasons"]
    assert "US-TX sell: (unverified)" in reasons
    assert "Landoltia punctata" in reasons.partition("US-TX sell")[2]


def test_acts_are_named_where_a_place_answers_them_differently(library: Library) -> None:
    acts: tuple[Act, ...] = ("sell", "import")
    place = Jurisdiction("US-CA")
    answer = row(library, "Caltha palustris", StockQuestion((place,), acts, ON))
    assert (answer["US-CA:sell"], answer["US-CA:import"]) == ("undetermined", "conditional")
    assert "Not determined in a place whose lists are loaded in part: US-CA sell" in (
        answer["reasons"].split(" | ")
    )


def test_every_restricted_place_has_its_own_reason(library: Library) -> None:
    answer = row(library, "Trapa natans", StockQuestion(STATES, ("sell",), ON))
    barred = [
        place
        for place in STATES
        if answer[f"{place}:sell"] in ("prohibited", "permit-required", "conditional")
    ]
    assert barred
    assert all(f"{place} sell: " in answer["reasons"] for place in barred)


def test_lanes_with_one_reason_share_its_sentence(library: Library) -> None:
    ohio, indiana, kentucky = (Jurisdiction(place) for place in ("US-OH", "US-IN", "US-KY"))
    question = StockQuestion((indiana, kentucky), ("sell",), ON, origin=ohio)
    barred = row(library, "Iris pseudacorus", question)["reasons"]
    assert barred.count("US-OH sell: prohibited") == 1
    left_open = row(library, "Caltha palustris", question)["reasons"]
    assert "Shipping from US-OH not determined" in left_open
    assert left_open.endswith(": US-KY")


def test_in_json_each_line_has_its_own_cells_under_their_headings(library: Library) -> None:
    table = read_stock(b"SKU,label,Price,Price,\nA-1,Trapa natans,1.50,2.00,x\nB-2,,3,,\n")
    question = StockQuestion(STATES, ("sell",), ON)
    lines = StockChecker(library, question).check(table.names)
    answer = json.loads(b"".join(write_stock_json(table, lines, question, library.build_id)))
    assert [line["columns"] for line in answer["lines"]] == [
        {
            "SKU": "A-1",
            "label": "Trapa natans",
            "Price": "1.50",
            "Price (2)": "2.00",
            "column 5": "x",
        },
        {"SKU": "B-2", "label": "", "Price": "3", "Price (2)": "", "column 5": ""},
    ]
