"""The demonstration: a store from the reference data, an invented nursery's list, three states with real law."""

from collections.abc import Sequence
from importlib.resources import as_file, files
from pathlib import Path

from data_loaders.reference_store import load_reference
from service.api.parameters import today
from service.commands.common import console
from service.commands.stock import print_confirm, print_matrix
from service.screening.standing import STANDING_CAUTIONS
from service.screening.stock import StockChecker, StockLine, StockQuestion
from service.screening.stock_table import read_stock
from service.store.database import Build
from service.store.library import Library
from service.vocabulary import Jurisdiction

SHIP_TO = (Jurisdiction("US-WI"), Jurisdiction("US-MN"), Jurisdiction("US-FL"))


def show(store: Path) -> None:
    """Build the demonstration store at a path and print its answers."""
    load_reference(store)
    library = Library(Build(store))
    console.print(
        f"Built {store.name} (build {library.build_id}): {len(library.plants)} taxa, {len(library.names)} names, {len(library.law.versions)} lists."
    )
    console.print("Marl Hollow Water Plants is invented; the law is real.\n")
    question = StockQuestion(SHIP_TO, ("sell",), today())
    with as_file(files("demo_data").joinpath("stock", "marl_hollow_stock.csv")) as path:
        table = read_stock(path.read_bytes())
    lines = list(StockChecker(library, question).check(table.labels))
    print_matrix(library, table, lines, question)
    print_confirm(lines, question)
    console.print("\nWhat to do", style="bold")
    for sentence in advice(lines):
        console.print(f"  {sentence}", markup=False, highlight=False)
    console.print(f"\nAs of {question.on.isoformat()}, store build {library.build_id}. {' '.join(STANDING_CAUTIONS)}", style="dim")


def advice(lines: Sequence[StockLine]) -> tuple[str, ...]:
    """Five sentences drawn from the answers."""
    asked = [line for line in lines if line.label]

    def count(*outcomes: str) -> int:
        return sum(any(each.outcome in outcomes for each in line.verdicts.findings) for line in asked)

    unconfirmed = sum(not line.resolution.confirmed for line in asked)
    unverified = sum(
        any(not each.verified and each.outcome in ("prohibited", "permit-required", "conditional") for each in line.verdicts.findings)
        for line in asked
    )
    return (
        f"1. Hold back the {count('prohibited')} lines marked PROHIBITED from the states that bar them, and take them off the web list for those states.",
        f"2. For the {count('permit-required')} lines marked PERMIT, ask the authority named whether any permit fits trade; until then treat them as barred.",
        f"3. Settle the {count('conditional')} lines marked 'depends': the county, the date, or the exact form decides, and the answer says which.",
        f"4. Put a botanical name on the {unconfirmed} lines whose name is not confirmed; a look-alike or a shared name may be the one that is barred.",
        f"5. Have the {unverified} lines with an asterisk checked with the authority first, since part of that law was not seen in the text; none of these lines is cleared by silence.",
    )
