"""Each scope and each kind of exception, on a real entry of the reference, with its citation."""

from datetime import date

import pytest

from service.regulation.finding import Finding, Question
from service.regulation.for_name import find_for_name
from service.regulation.law import SCOPES, TERM_KINDS
from service.store.library import Library
from service.values.vocabulary import FEDERAL, Act, CountyFips, Jurisdiction, Outcome

ON = date(2026, 6, 1)


def asked(
    library: Library, label: str, place: str, act: Act, county: str | None = None, on: date = ON
) -> Finding:
    naming = library.naming(library.resolver.resolve(label))
    movement = "interstate" if place == FEDERAL else "within"
    question = Question(
        Jurisdiction(place),
        act,
        on,
        CountyFips(county) if county else None,
        movement=movement,  # type: ignore[arg-type]
    )
    return find_for_name(library.law, naming, question)


def of_list(finding: Finding, list_id: str) -> Outcome:
    """The strictest that one list says."""
    return next(
        (citation.outcome for citation in finding.citations if citation.list_id == list_id),
        "no-entry-found",
    )


TERMS: list[tuple[str, str, str, str, Act, Outcome]] = [
    # kind, list, label, jurisdiction, act, what the list says
    # Fla. Admin. Code R. 5B-64.011: Salvinia spp. except Salvinia minima
    (
        "except-taxa",
        "us-fl-prohibited-aquatic",
        "Salvinia minima",
        "US-FL",
        "sell",
        "no-entry-found",
    ),
    (
        "except-taxa",
        "us-fl-prohibited-aquatic",
        "Salvinia molesta",
        "US-FL",
        "sell",
        "permit-required",
    ),
    # Ariz. Admin. Code § R3-4-245: Ipomoea spp. except three species
    (
        "except-taxa",
        "us-az-prohibited-noxious-weeds",
        "Ipomoea carnea",
        "US-AZ",
        "import",
        "no-entry-found",
    ),
    (
        "except-taxa",
        "us-az-prohibited-noxious-weeds",
        "Ipomoea aquatica",
        "US-AZ",
        "import",
        "permit-required",
    ),
    # 38 M.R.S. § 410-N: Myriophyllum species not native to Maine
    (
        "except-native",
        "us-me-invasive-aquatic",
        "Myriophyllum sibiricum",
        "US-ME",
        "sell",
        "conditional",
    ),
    (
        "except-native",
        "us-me-invasive-aquatic",
        "Myriophyllum aquaticum",
        "US-ME",
        "sell",
        "prohibited",
    ),
    # Wis. Admin. Code § NR 40.04: the native ecotype of Phragmites australis is not meant
    (
        "except-native",
        "us-wi-nr40",
        "Phragmites australis subsp. americanus",
        "US-WI",
        "sell",
        "no-entry-found",
    ),
    # Mich. Comp. Laws § 286.216a: cultivars of Lythrum virgatum that the section names
    (
        "except-cultivars",
        "us-mi-purple-loosestrife",
        "Lythrum virgatum 'Morden Pink'",
        "US-MI",
        "sell",
        "no-entry-found",
    ),
    (
        "except-cultivars",
        "us-mi-purple-loosestrife",
        "Lythrum virgatum",
        "US-MI",
        "sell",
        "prohibited",
    ),
    # Wis. Admin. Code § NR 40.05: Lysimachia nummularia, 'Aurea' and yellow or gold leaf forms left
    # out
    (
        "except-cultivars",
        "us-wi-nr40",
        "Lysimachia nummularia 'Aurea'",
        "US-WI",
        "sell",
        "no-entry-found",
    ),
    (
        "except-forms",
        "us-wi-nr40",
        "Lysimachia nummularia 'Goldilocks'",
        "US-WI",
        "sell",
        "conditional",
    ),
    ("except-forms", "us-wi-nr40", "Lysimachia nummularia", "US-WI", "sell", "permit-required"),
    # 3 Del. C. § 2903; 3 DE Admin. Code 806: sterile cultivars may be exempted
    (
        "except-approved-cultivars",
        "us-de-invasive-plants",
        "Lythrum salicaria 'Robert'",
        "US-DE",
        "sell",
        "conditional",
    ),
    (
        "except-approved-cultivars",
        "us-de-invasive-plants",
        "Lythrum salicaria",
        "US-DE",
        "sell",
        "prohibited",
    ),
    # Wash. Admin. Code § 16-752-610: Arundo donax, variegated cultivars excepted
    (
        "except-variegated",
        "us-wa-quarantine",
        "Arundo donax 'Variegata'",
        "US-WA",
        "sell",
        "no-entry-found",
    ),
    ("except-variegated", "us-wa-quarantine", "Arundo donax", "US-WA", "sell", "permit-required"),
    # Wis. Admin. Code § NR 40.05: Alnus glutinosa, all cultivars and hybrids excepted
    (
        "except-all-cultivars",
        "us-wi-nr40",
        "Alnus glutinosa 'Imperialis'",
        "US-WI",
        "sell",
        "no-entry-found",
    ),
    ("except-all-cultivars", "us-wi-nr40", "Alnus glutinosa", "US-WI", "sell", "permit-required"),
    # Wis. Admin. Code § NR 40.05: Phalaris arundinacea var. picta, ornamental variegated forms only
    ("only-cultivars", "us-wi-nr40", "Phalaris arundinacea", "US-WI", "sell", "conditional"),
    (
        "only-cultivars",
        "us-wi-nr40",
        "Phalaris arundinacea 'Picta'",
        "US-WI",
        "sell",
        "permit-required",
    ),
    # Wash. Admin. Code § 16-752-610: hybrids only where both parents are regulated
    (
        "hybrids-of-listed-parents",
        "us-wa-quarantine",
        "Reynoutria × bohemica",
        "US-WA",
        "sell",
        "permit-required",
    ),
    (
        "hybrids-of-listed-parents",
        "us-wa-quarantine",
        "Myriophyllum spicatum × Myriophyllum sibiricum",
        "US-WA",
        "sell",
        "no-entry-found",
    ),
    # 7 C.F.R. § 360.200(a): Caulerpa taxifolia, Mediterranean strain
    ("strain", "us-federal-noxious-weeds", "Caulerpa taxifolia", "US", "transport", "conditional"),
    # W. Va. Code R. § 61-9-13: Lythrum salicaria, seeds or bulblets only
    ("seeds-only", "us-wv-seed", "Lythrum salicaria", "US-WV", "sell", "listed-other-acts"),
    # Ala. Admin. Code r. 220-2-.124: public waters only
    (
        "only-where",
        "us-al-nonindigenous-aquatic",
        "Pontederia crassipes",
        "US-AL",
        "release",
        "conditional",
    ),
    # Minn. R. 6216.0260: introduction to the wild only
    (
        "only-where",
        "us-mn-regulated-invasive",
        "Nymphaea mexicana",
        "US-MN",
        "release",
        "conditional",
    ),
    # M.G.L. c. 128; Mass. Prohibited Plant List: Alnus glutinosa may be sold to 2028-12-31
    (
        "sold-off-until",
        "us-ma-prohibited-plants",
        "Alnus glutinosa",
        "US-MA",
        "sell",
        "conditional",
    ),
    ("from-date", "us-ma-prohibited-plants", "Alnus glutinosa", "US-MA", "import", "prohibited"),
    # Conn. Gen. Stat. § 22a-381d: watercress sold as food
    (
        "spares-use",
        "us-ct-invasive-plants",
        "Nasturtium officinale",
        "US-CT",
        "sell",
        "conditional",
    ),
    # 31 Tex. Admin. Code § 57.118: water spinach bought to eat
    ("spares-use", "us-tx-exotic-aquatic", "Ipomoea aquatica", "US-TX", "possess", "conditional"),
    (
        "spares-use",
        "us-tx-exotic-aquatic",
        "Ipomoea aquatica",
        "US-TX",
        "import",
        "permit-required",
    ),
    # 01-001 C.M.R. ch. 273: propagation barred only for sale or distribution
    ("purpose", "us-me-do-not-sell", "Amorpha fruticosa", "US-ME", "propagate", "conditional"),
    ("purpose", "us-me-do-not-sell", "Amorpha fruticosa", "US-ME", "sell", "prohibited"),
    # Minn. R. 6216.0250: dead specimens with seeds removed exempt, which leaves living plants where
    # they are
    ("spares-dead", "us-mn-prohibited-invasive", "Azolla pinnata", "US-MN", "sell", "prohibited"),
    # Fla. Stat. § 369.251: natural spread, disposal and mulching exempt
    (
        "spares-circumstance",
        "us-fl-369-251",
        "Melaleuca quinquenervia",
        "US-FL",
        "sell",
        "permit-required",
    ),
    # 7 C.F.R. § 360.300: by permit only
    ("permit", "us-federal-noxious-weeds", "Azolla pinnata", "US", "transport", "permit-required"),
    # Massachusetts list: existing plantings are not affected, and keeping is not barred at all
    (
        "spares-existing",
        "us-ma-prohibited-plants",
        "Hydrilla verticillata",
        "US-MA",
        "possess",
        "listed-other-acts",
    ),
    # Minn. R. 6216.0250 listed from 2024-02-20
    ("from-date", "us-mn-prohibited-invasive", "Nymphoides peltata", "US-MN", "sell", "prohibited"),
    # Wis. Admin. Code § NR 40.04: not in Lake Superior
    ("except-waters", "us-wi-nr40", "Didymosphenia geminata", "US-WI", "release", "conditional"),
    # Wis. Admin. Code §§ NR 40.04, NR 40.05
    ("except-counties", "us-wi-nr40", "Glyceria maxima", "US-WI", "sell", "conditional"),
    ("only-counties", "us-wi-nr40", "Epilobium hirsutum", "US-WI", "sell", "conditional"),
    # Wash. Admin. Code § 16-750-011; the list sets control duties, so no act was found barred
    ("only-regions", "us-wa-noxious-list", "Egeria densa", "US-WA", "plant", "listed-other-acts"),
]


@pytest.mark.parametrize(("kind", "list_id", "label", "place", "act", "outcome"), TERMS)
def test_a_term_does_what_its_words_say(
    library: Library, kind: str, list_id: str, label: str, place: str, act: Act, outcome: Outcome
) -> None:
    version = next(listed for listed in library.law.versions if listed.list_id == list_id)
    assert any(term.kind == kind for entry in version.entries for term in entry.terms)
    assert of_list(asked(library, label, place, act), list_id) == outcome


def test_every_kind_of_term_with_an_effect_is_shown_on_a_real_entry() -> None:
    without_effect = {"doubt", "note"}
    not_in_the_reference = {"unstructured"}
    assert {kind for kind, *_ in TERMS} == set(TERM_KINDS) - without_effect - not_in_the_reference


def test_the_words_of_every_term_are_the_words_of_its_entry(library: Library) -> None:
    for version in library.law.versions:
        for entry in version.entries:
            words = f"{entry.exceptions};{entry.area};{entry.condition}"
            for term in entry.terms:
                assert term.words in words, (version.list_id, entry.name_as_listed)


def test_a_doubt_in_the_words_leaves_a_finding_unverified(library: Library) -> None:
    """Ariz. Admin. Code § R3-4-245, read in its form before 2020."""
    finding = asked(library, "Alternanthera philoxeroides", "US-AZ", "import")
    assert not finding.verified
    assert any("pre-2020 form of the rule" in reason for reason in finding.reasons)


SCOPE_CASES: list[tuple[str, str, str, str, Act, Outcome]] = [
    # Iowa Admin. Code r. 571-90.2: with hybrids
    (
        "hybrids",
        "us-ia-aquatic-invasive",
        "Myriophyllum spicatum × Myriophyllum sibiricum",
        "US-IA",
        "sell",
        "prohibited",
    ),
    # Iowa Admin. Code r. 571-90.2: with cultivars
    (
        "cultivars",
        "us-ia-aquatic-invasive",
        "Lythrum salicaria 'Robert'",
        "US-IA",
        "sell",
        "prohibited",
    ),
    # Mass. Prohibited Plant List: with subordinate taxa
    (
        "subordinate-taxa",
        "us-ma-prohibited-plants",
        "Phalaris arundinacea var. picta",
        "US-MA",
        "sell",
        "prohibited",
    ),
    # Alaska aquatic quarantine: with seeds and parts
    (
        "seeds-and-parts",
        "us-ak-aquatic-quarantine",
        "Elodea canadensis",
        "US-AK",
        "import",
        "permit-required",
    ),
]


@pytest.mark.parametrize(("scope", "list_id", "label", "place", "act", "outcome"), SCOPE_CASES)
def test_a_scope_takes_in_what_it_says(
    library: Library, scope: str, list_id: str, label: str, place: str, act: Act, outcome: Outcome
) -> None:
    version = next(listed for listed in library.law.versions if listed.list_id == list_id)
    assert any(scope in entry.scope for entry in version.entries)
    assert of_list(asked(library, label, place, act), list_id) == outcome


def test_every_scope_is_shown_on_a_real_entry() -> None:
    assert {scope for scope, *_ in SCOPE_CASES} == set(SCOPES)


@pytest.mark.parametrize(("place", "silent"), [("US-WI", True), ("US-DE", False)])
def test_a_list_that_is_silent_of_cultivars_says_how_a_cultivar_was_taken(
    library: Library, place: str, silent: bool
) -> None:
    """Wis.

    Admin. Code § NR 40.05 says nothing of cultivars of Lythrum salicaria; 3 Del. C. § 2903 takes
    them in.
    """
    finding = asked(library, "Lythrum salicaria 'Robert'", place, "sell")
    assert (
        any("does not say whether cultivars are covered" in reason for reason in finding.reasons)
        == silent
    )


def test_a_hybrid_of_a_listed_plant_is_taken_strictly_where_the_list_is_silent_of_hybrids(
    library: Library,
) -> None:
    """Wis.

    Admin. Code § NR 40.05 names Myriophyllum spicatum and, in the copy read, says nothing of its
    hybrids.
    """
    finding = asked(library, "Myriophyllum spicatum × Myriophyllum sibiricum", "US-WI", "sell")
    assert of_list(finding, "us-wi-nr40") == "permit-required"
    assert "does not say whether hybrids are covered" in " ".join(finding.reasons)
    assert not finding.verified
