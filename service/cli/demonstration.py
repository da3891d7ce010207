"""The demonstration: a store from the reference data, an invented nursery's list, three states
with real law.
"""

from collections.abc import Sequence
from importlib.resources import as_file, files
from pathlib import Path

from data_loaders.reference_store import load_demo
from service.checks.plan.check import check_plan
from service.checks.stock import StockChecker, StockLine, StockQuestion
from service.cli.common import console
from service.cli.plan import write_answer
from service.cli.plan_terminal import print_plan
from service.cli.stock import print_hold_back, print_matrix, print_summary
from service.input.json_document import parse_json
from service.input.person import today
from service.input.plan import read_plan
from service.input.stock_table import read_stock
from service.settings import settings
from service.store.database import Build
from service.store.library import Library
from service.values.vocabulary import Jurisdiction
from service.values.words import STANDING_CAUTIONS

SHIP_TO = (Jurisdiction("US-WI"), Jurisdiction("US-MN"), Jurisdiction("US-FL"))


def show(store: Path) -> None:
    """Build the demonstration store at a path and print its answers; the report of the plan goes
    beside it.
    """
    load_demo(store)
    library = Library(Build(store))
    console.print(
        f"Built {store.name} (build {library.build_id}): {len(library.plants)} taxa,"
        f" {len(library.names)} names, {len(library.law.versions)} lists."
    )
    console.print(
        "People, places, waters and records of the demonstration are invented; the law is real."
    )
    _show_stock(library)
    _show_plan(library, store.with_name("reedgate-demo-plan.html"))


def _show_stock(library: Library) -> None:
    console.rule("A nursery's stock list")
    question = StockQuestion(SHIP_TO, ("sell",), today())
    with as_file(files("demo_data").joinpath("stock", "marl_hollow_stock.csv")) as path:
        table = read_stock(path.read_bytes())
    lines = list(StockChecker(library, question).check(table.names))
    print_matrix(table, lines, question)
    print_summary(library, lines, question)
    print_hold_back(lines)
    console.print("\nWhat to do", style="bold")
    for sentence in advice(lines):
        console.print(f"  {sentence}", markup=False, highlight=False)
    console.print(
        f"\nAs of {question.on.isoformat()}, store build {library.build_id}."
        f" {' '.join(STANDING_CAUTIONS)}",
        style="dim",
    )


def _show_plan(library: Library, report: Path) -> None:
    console.rule("A designer's plan")
    content = files("demo_data").joinpath("plans", "heron_bend_plan.json").read_bytes()
    answer = check_plan(
        library,
        read_plan(parse_json(content)),
        on=today(),
        border_tolerance_m=settings().border_tolerance_m,
    )
    print_plan(answer)
    write_answer(report, library, answer, explain=False)
    console.print(f"Open the report in a browser: {report}", markup=False, highlight=False)


def advice(lines: Sequence[StockLine]) -> tuple[str, ...]:
    """Five sentences drawn from the answers."""
    answered = [line for line in lines if line.answered]

    def count(*outcomes: str) -> int:
        return sum(
            any(finding.outcome in outcomes for finding in line.verdicts.findings)
            for line in answered
        )

    unconfirmed = sum(not line.resolution.confirmed for line in answered)
    unverified = sum(
        any(
            not finding.verified
            and finding.outcome in ("prohibited", "permit-required", "conditional")
            for finding in line.verdicts.findings
        )
        for line in answered
    )
    return (
        f"1. Hold back the {count('prohibited')} lines marked PROHIBITED from the states that bar"
        " them, and take them off the web list for those states.",
        f"2. For the {count('permit-required')} lines marked PERMIT, ask the authority named"
        " whether any permit fits trade; until then treat them as barred.",
        f"3. Clear up the {count('conditional')} lines marked 'depends': the county, the date, or"
        " the exact form decides, and the answer says which.",
        f"4. Put a botanical name on the {unconfirmed} lines whose name is not confirmed; a"
        " look-alike or a shared name may be the one that is barred.",
        f"5. Have the {unverified} lines with an asterisk checked with the authority first, since"
        " part of that law was not seen in the text; none of these lines is cleared by silence.",
    )
