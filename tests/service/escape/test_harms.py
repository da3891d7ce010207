"""Harms stand beside the chance with their source, for plants that the catalogue knows."""

from service.escape.harms import harms, harms_of
from tests.service.escape.catalogue import plants


def test_every_harm_is_of_a_plant_of_the_catalogue_and_says_where_it_was_read() -> None:
    assert set(harms()) <= set(plants())
    for several in harms().values():
        assert all(harm.known.source and harm.text for harm in several)


def test_a_report_of_a_source_is_not_verified() -> None:
    milfoil, iris = plants()["Myriophyllum spicatum"], plants()["Iris pseudacorus"]
    assert [harm.verified for harm in harms_of([milfoil, iris])] == [True, False, False]


def test_a_plant_that_nobody_looked_at_has_none() -> None:
    assert harms_of([plants()["Pontederia cordata"]]) == ()
