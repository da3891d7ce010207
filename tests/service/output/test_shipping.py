"""Item by state for a web shop, and the sentences for shelf cards."""

import csv
import io
from datetime import date

import pytest

from service.checks.shipping_table import ShippingCell, shipping_row
from service.checks.stock import StockChecker, StockLine, StockQuestion, Verdicts
from service.input.stock_table import read_stock
from service.output.shipping import card_text, card_texts, head_line, shipping_table
from service.regulation.finding import Citation, Finding, OwnRule
from service.store.library import Library
from service.values.vocabulary import Jurisdiction, ListId, Outcome

WISCONSIN, FLORIDA = Jurisdiction("US-WI"), Jurisdiction("US-FL")
ON = date(2026, 6, 1)
QUESTION = StockQuestion((WISCONSIN,), ("sell",), ON)
LIST = (
    b"SKU,Botanical Name,Common Name,Price\n"
    b"001,Pontederia crassipes,Water hyacinth,3.50\n"
    b",,,\n"
    b"002,N/A,,1.00\n"
    b"003,Pontederia cordata,Pickerelweed,9.50\n"
    b"004,Nymphaea,water lily,9.50\n"
)


def finding(outcome: Outcome, *rules: OwnRule) -> Finding:
    return Finding(
        outcome=outcome,
        act="sell",
        jurisdiction=WISCONSIN,
        coverage="partial",
        verified=True,
        reasons=("A reason.",),
        confirm_with="the state",
        own_rules=rules,
    )


def own_rule(library: Library, outcome: Outcome) -> OwnRule:
    line = next(StockChecker(library, QUESTION).check(["Trapa natans"]))
    citation: Citation = line.verdicts.findings[0].citations[0]
    return OwnRule(ListId("house"), "House rules", outcome, "We do not sell it.", citation)


def cell(library: Library, label: str, *findings: Finding) -> ShippingCell:
    resolution = library.resolver.resolve(label)
    line = StockLine(label, resolution, Verdicts(findings))
    (found,) = shipping_row(line, QUESTION)
    return found


@pytest.mark.parametrize(
    ("outcome", "decision"),
    [
        ("prohibited", "hold"),
        ("permit-required", "hold"),
        ("conditional", "ask"),
        ("undetermined", "ask"),
        ("listed-other-acts", "ask"),
        ("no-entry-found", "nothing-found"),
    ],
)
def test_what_the_law_says_decides(library: Library, outcome: Outcome, decision: str) -> None:
    assert cell(library, "Pontederia cordata", finding(outcome)).decision == decision


def test_the_strictest_act_decides(library: Library) -> None:
    acts = finding("no-entry-found"), finding("prohibited"), finding("conditional")
    assert cell(library, "Pontederia cordata", *acts).decision == "hold"


def test_a_name_that_is_open_is_never_nothing_found(library: Library) -> None:
    assert cell(library, "Nymphaea", finding("no-entry-found")).decision == "ask"


@pytest.mark.parametrize(("outcome", "decision"), [("prohibited", "hold"), ("conditional", "ask")])
def test_a_rule_of_ones_own_decides_where_it_is_stricter(
    library: Library, outcome: Outcome, decision: str
) -> None:
    rule = own_rule(library, outcome)
    found = cell(library, "Pontederia cordata", finding("no-entry-found", rule))
    assert (found.decision, found.own_rules) == (decision, ("House rules",))
    barred = cell(library, "Pontederia cordata", finding("prohibited", rule))
    assert (barred.decision, barred.own_rules) == ("hold", ())


def rows_of(text: str) -> list[list[str]]:
    assert text.startswith("\ufeff")
    return list(csv.reader(io.StringIO(text.removeprefix("\ufeff"), newline="")))


def test_the_table_has_a_head_line_the_shop_s_code_and_one_column_a_state(library: Library) -> None:
    table = read_stock(LIST)
    question = StockQuestion((WISCONSIN, FLORIDA), ("sell",), ON)
    lines = list(StockChecker(library, question).check(table.names))
    phrases = ["Wisconsin: 94% of the entries read, lists in part"]
    text = "".join(shipping_table(table, lines, question, build_id="b1", standing=phrases))
    head, heading, *rows = rows_of(text)
    assert head == [head_line(ON, "b1", phrases)]
    assert head[0].startswith("nothing-found is not a permission")
    assert "94% of the entries read" in head[0]
    assert heading == ["row", "SKU", "item", "plant", "US-WI", "US-FL", "reason"]
    assert [row[:3] for row in rows] == [
        ["2", "001", "Pontederia crassipes"],
        ["4", "002", ""],
        ["5", "003", "Pontederia cordata"],
        ["6", "004", "Nymphaea"],
    ]
    assert rows[0][4:6] == ["hold", "hold"]
    assert "NR 40" in rows[0][6]
    assert rows[1][4:6] == ["ask", "ask"]
    assert "'N/A' is not the name of a plant" in rows[1][6]
    assert "nothing-found" not in rows[3][4:6]
    assert {cell for row in rows for cell in row[4:6]} <= {"nothing-found", "ask", "hold"}


def test_a_shipment_counts_where_a_state_is_named_to_ship_from(library: Library) -> None:
    question = StockQuestion((Jurisdiction("US-KS"),), ("sell",), ON, origin=Jurisdiction("US-OH"))
    (line,) = StockChecker(library, question).check(["Trapa natans"])
    (found,) = shipping_row(line, question)
    assert line.verdicts.lanes[0].outcome == "prohibited"
    assert found.decision == "hold"


def test_a_held_line_has_one_sentence_with_its_citation(library: Library) -> None:
    table = read_stock(LIST)
    lines = list(StockChecker(library, QUESTION).check(table.names))
    heading, *rows = rows_of("".join(card_texts(table, lines, QUESTION)))
    assert heading == ["row", "SKU", "item", "text", "citations", "confirm_with"]
    assert rows[0][:3] == ["2", "001", "Pontederia crassipes"]
    assert rows[0][3].startswith("We hold Pontederia crassipes back from Wisconsin (")
    assert "NR 40" in rows[0][3]
    assert "NR 40" in rows[0][4]
    assert "Wisconsin Department of Natural Resources" in rows[0][5]
    assert [card_text(line, QUESTION) != "" for line in lines] == [
        any(row[0] == str(number) for row in rows) for number in range(2, 2 + len(lines))
    ]


def test_states_with_the_same_ground_are_named_together(library: Library) -> None:
    question = StockQuestion(
        (Jurisdiction("US-KS"), Jurisdiction("US-NJ")), ("sell",), ON, origin=Jurisdiction("US-OH")
    )
    (line,) = StockChecker(library, question).check(["Trapa natans"])
    text = card_text(line, question)
    assert "Kansas and New Jersey (prohibited, Ohio Admin. Code" in text
