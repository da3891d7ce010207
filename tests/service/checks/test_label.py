"""One label against the law: two ways to write a plant's label have one answer."""

from datetime import date

import pytest

from service.checks.label import LabelAnswer, check_label
from service.regulation.finding import Question
from service.store.library import Library
from service.values.vocabulary import Act, Jurisdiction

WISCONSIN = Jurisdiction("US-WI")


def answer(library: Library, label: str, act: Act) -> LabelAnswer:
    return check_label(library, label, [Question(WISCONSIN, act, date(2026, 6, 1))])


@pytest.mark.parametrize("act", ["sell", "plant", "transport"])
def test_a_lotus_cultivar_is_as_strictly_answered_by_trade_name_as_by_botanical_name(
    library: Library, act: Act
) -> None:
    # NR 40.04 (Wisconsin) prohibits Nelumbo nucifera, and 'Momo Botan' descends from it; the text
    # says nothing of cultivars and hybrids, so both labels are taken in the strict sense.
    trade, botanical = (
        answer(library, label, act) for label in ("Lotus Momo Botan", "Nelumbo 'Momo Botan'")
    )
    outcomes = [asked.findings[0].outcome for asked in (trade, botanical)]
    assert outcomes[0] == outcomes[1]
    assert outcomes[0] in ("prohibited", "permit-required")
    for found in (trade, botanical):
        listed = {citation.name_as_listed for citation in found.findings[0].citations}
        assert "Nelumbo nucifera" in listed
        assert not found.findings[0].verified
    assert trade.resolution.cultivar == botanical.resolution.cultivar == "Momo Botan"
