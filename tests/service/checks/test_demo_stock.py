"""The invented nursery's list: every line answered, none lost, order kept, each restriction
cited.
"""

from datetime import date
from pathlib import Path

import pytest

from service.checks.stock import StockChecker, StockQuestion
from service.input.stock_table import read_stock
from service.store.library import Library
from service.values.vocabulary import STATES

FILES = sorted(Path("demo_data/stock").glob("*.csv"))
QUESTION = StockQuestion(STATES, ("sell",), date(2026, 6, 1))


@pytest.mark.parametrize("path", FILES, ids=lambda path: path.stem)
def test_every_line_is_answered_in_order_with_a_source_for_each_restriction(
    library: Library, path: Path
) -> None:
    table = read_stock(path.read_bytes())
    lines = list(StockChecker(library, QUESTION).check(table.labels))
    assert [line.label for line in lines] == table.labels
    for line in lines:
        for finding in line.verdicts.findings:
            assert finding.reasons
            if finding.outcome not in ("no-entry-found", "undetermined"):
                assert finding.citations, (line.label, finding)
            if not line.resolution.confirmed:
                assert not finding.verified
                assert line.resolution.match not in ("spelling", "none") or finding.outcome not in (
                    "no-entry-found",
                    "listed-other-acts",
                )


@pytest.mark.parametrize(
    ("label", "plant"),
    [
        ("Eichhornia crassipes (Water Hyacinth) - bunch of 6", "Pontederia crassipes"),
        ("M. spicatum", "Myriophyllum spicatum"),
        ("Prairie cordgrass - Spartina pectinata", "Sporobolus michauxianus"),
        ("Ruellia brittoniana 'Katie' dwarf", "Ruellia simplex"),
        ("Frogbit, Amazon - Limnobium laevigatum", "Hydrocharis laevigata"),
    ],
)
def test_older_and_trade_names_reach_their_plant(library: Library, label: str, plant: str) -> None:
    """Names common in trade, no source; the current names as in the catalogue."""
    labels = ["Myriophyllum aquaticum", label]
    resolution = library.resolver.resolve_all(labels)[1]
    assert [candidate.accepted_name for candidate in resolution.candidates] == [plant]
    assert resolution.confirmed
