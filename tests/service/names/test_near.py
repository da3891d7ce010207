"""Spelling candidates against a scan of all words, and the confusions of Latin."""

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from rapidfuzz.distance import OSA

from service.names.near import (
    DeleteIndex,
    edit_bound,
    edits_within,
    epithets_near,
    genus_keys,
    latin_key,
    word_bound,
)

_WORDS = st.text("abcde", min_size=1, max_size=12)


@given(st.lists(_WORDS, min_size=1, max_size=25), _WORDS, st.integers(1, 2))
@settings(max_examples=200, deadline=None)
def test_the_index_finds_just_what_a_scan_finds(words: list[str], wanted: str, bound: int) -> None:
    """Second opinion: rapidfuzz over every word."""
    scanned = {
        (word, OSA.distance(word, wanted)) for word in words if OSA.distance(word, wanted) <= bound
    }
    assert set(DeleteIndex(words).near(wanted, bound)) == scanned


def test_nearest_come_first() -> None:
    assert [word for word, _ in DeleteIndex(["lurida", "lurido", "luridos"]).near("lurida", 2)] == [
        "lurida",
        "lurido",
        "luridos",
    ]


@pytest.mark.parametrize(("letters", "bound"), [(3, 0), (4, 1), (7, 1), (8, 2), (30, 2)])
def test_short_names_have_tighter_bounds(letters: int, bound: int) -> None:
    assert edit_bound(letters) == bound
    assert word_bound(letters) <= 2


def test_swapped_neighbours_are_one_edit() -> None:
    assert edits_within("typha", "tpyha", 2) == 1
    assert edits_within("typha", "latifolia", 2) == 3


@pytest.mark.parametrize(
    ("one", "other"),
    [
        ("sylvatica", "silvatica"),  # i and y: ICN Art. 60.1 Ex. 1
        ("cespitosus", "caespitosus"),  # e and ae: ICN Art. 60.1 Ex. 1
        ("amphibium", "amfibium"),  # ph and f
        ("monnierii", "monnieri"),  # -ii and -i: ICN Art. 60.8
        ("nuttallii", "nutalli"),  # doubled letters
        ("aethiopica", "ethiopica"),
        ("rhomboidea", "romboidea"),
        ("japonica", "iaponica"),  # i and j: ICN Art. 60.5, 60.6
    ],
)
def test_confusions_of_latin_share_a_key(one: str, other: str) -> None:
    assert latin_key(one) == latin_key(other)


@pytest.mark.parametrize(
    ("one", "other"),
    [
        ("peltata", "peltatum"),
        ("distachyos", "distachyum"),
        ("americanus", "americana"),
        ("palustris", "palustre"),
    ],
)
def test_gender_endings_count_as_one_edit(one: str, other: str) -> None:
    """ICN Art. 23.5: an adjective agrees with the genus, and moves with it from list to list."""
    assert epithets_near((one,), (other,)) in (1, 2)


def test_each_epithet_has_its_own_bound() -> None:
    assert epithets_near(("australis", "americanus"), ("australs", "americanus")) == 1
    assert epithets_near(("australis", "americanus"), ("aust", "americanus")) is None
    assert epithets_near(("australis",), ("australis", "americanus")) is None


@given(st.text("abcdefghi", min_size=4, max_size=12), st.data())
@settings(max_examples=150, deadline=None)
def test_genera_one_edit_apart_share_a_key(genus: str, data: st.DataObject) -> None:
    place = data.draw(st.integers(0, len(genus) - 1))
    edited = data.draw(
        st.sampled_from(
            [
                genus[:place] + genus[place + 1 :],
                genus[:place] + "z" + genus[place + 1 :],
                genus[:place] + "z" + genus[place:],
            ]
        )
    )
    assert genus_keys(genus) & genus_keys(edited)
