"""The tile map of coverage: every state once, told apart without colour, readable by those who
do not see it.
"""

import re
from datetime import date
from xml.etree import ElementTree

import pytest

from service.output.maps.coverage import TILES, coverage_svg
from service.regulation.coverage import JurisdictionCoverage, coverage_table
from service.store.library import Library
from service.values.vocabulary import FEDERAL, JURISDICTION_NAMES, STATES, Coverage, Jurisdiction

SVG = "{http://www.w3.org/2000/svg}"


def held(
    code: str = "US-OH",
    coverage: Coverage = "partial",
    entries: int = 4,
    read: int = 1,
    **changes: object,
) -> JurisdictionCoverage:
    jurisdiction = Jurisdiction(code)
    plain: dict[str, object] = {
        "jurisdiction": jurisdiction, "name": JURISDICTION_NAMES[jurisdiction], "coverage": coverage, "lists": (), "ordinances": (),
        "entries": entries, "entries_read": read, "oldest_reading": "", "undated_copies": 0, **changes,
    }  # fmt: skip
    return JurisdictionCoverage(**plain)  # type: ignore[arg-type]


def drawn(*coverages: JurisdictionCoverage) -> ElementTree.Element:
    return ElementTree.fromstring(coverage_svg(coverages))


def tile(root: ElementTree.Element) -> ElementTree.Element:
    (only,) = root.findall(f"{SVG}g")
    return only


def texts(element: ElementTree.Element) -> list[str]:
    return [text.text or "" for text in element.findall(f"{SVG}text")]


def test_every_state_and_the_district_has_one_tile_of_its_own() -> None:
    assert set(TILES) == set(STATES)
    assert len(set(TILES.values())) == len(STATES) == 51


@pytest.mark.parametrize(
    ("west", "east"),
    [
        ("US-WA", "US-ME"),
        ("US-CA", "US-NJ"),
        ("US-OR", "US-MI"),
        ("US-TX", "US-FL"),
        ("US-AZ", "US-SC"),
        ("US-IN", "US-OH"),
    ],
)
def test_the_tiles_lie_roughly_as_the_states_do_from_west_to_east(west: str, east: str) -> None:
    assert TILES[Jurisdiction(west)][1] < TILES[Jurisdiction(east)][1]


@pytest.mark.parametrize(
    ("north", "south"),
    [
        ("US-ND", "US-TX"),
        ("US-ME", "US-FL"),
        ("US-WA", "US-CA"),
        ("US-MN", "US-LA"),
        ("US-NY", "US-SC"),
        ("US-MI", "US-GA"),
    ],
)
def test_the_tiles_lie_roughly_as_the_states_do_from_north_to_south(north: str, south: str) -> None:
    assert TILES[Jurisdiction(north)][0] < TILES[Jurisdiction(south)][0]


@pytest.mark.parametrize(
    ("coverage", "word"), [("complete", "full"), ("partial", "part"), ("none", "none")]
)
def test_a_tile_says_in_words_how_much_is_held(coverage: Coverage, word: str) -> None:
    assert texts(tile(drawn(held(coverage=coverage)))) == ["OH", word, "25% read"]


def test_the_three_grounds_differ_in_more_than_colour() -> None:
    grounds = {}
    for coverage in ("complete", "partial", "none"):
        (first, *_) = tile(drawn(held(coverage=coverage))).findall(f"{SVG}rect")
        grounds[coverage] = (first.get("fill"), first.get("stroke-dasharray"))
    assert grounds["partial"][0] == "url(#coverage-hatch)"
    assert grounds["none"][1] is not None
    assert grounds["complete"][1] is None
    assert grounds["complete"][0] != grounds["none"][0]


def lightness(colour: str) -> float:
    """Relative luminance of an sRGB colour (WCAG 2.1, definition of relative luminance)."""
    parts = [int(colour[place : place + 2], 16) / 255 for place in (1, 3, 5)]
    linear = [
        part / 12.92 if part <= 0.04045 else ((part + 0.055) / 1.055) ** 2.4 for part in parts
    ]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


@pytest.mark.parametrize("coverage", ["complete", "partial", "none"])
def test_text_stands_out_from_its_ground_in_black_and_white(coverage: Coverage) -> None:
    """Contrast of at least 7 to 1 (WCAG 2.1, success criterion 1.4.6)."""
    only = tile(drawn(held(coverage=coverage)))
    ground = only.findall(f"{SVG}rect")[-1].get("fill") or ""
    for text in only.findall(f"{SVG}text"):
        darker, lighter = sorted((lightness(ground), lightness(text.get("fill") or "")))
        assert (lighter + 0.05) / (darker + 0.05) >= 7


@pytest.mark.parametrize(
    ("entries", "read", "shown"),
    [
        (0, 0, "no entries"),
        (3, 3, "100% read"),
        (1000, 999, "99% read"),
        (1000, 1, "1% read"),
        (5, 0, "0% read"),
    ],
)
def test_the_share_read_is_all_or_nothing_only_where_it_is_so(
    entries: int, read: int, shown: str
) -> None:
    assert texts(tile(drawn(held(entries=entries, read=read))))[-1] == shown


def test_a_tile_tells_its_whole_story_as_a_title() -> None:
    title = tile(drawn(held(oldest_reading="2015-04", undated_copies=2))).find(f"{SVG}title")
    assert title is not None
    assert title.text == (
        "Ohio: loaded in part; 0 lists, 4 entries, 25% of them read in the text; oldest dated copy 2015-04; 2 read in undated copies."
    )


def test_the_map_of_the_reference_is_described_for_those_who_do_not_see_it(
    library: Library,
) -> None:
    root = ElementTree.fromstring(
        coverage_svg(coverage_table(library.law, date(2026, 6, 1)), as_of="2026-06-01")
    )
    assert root.get("role") == "img"
    labels = (root.get("aria-labelledby") or "").split()
    found = {
        element.get("id"): element.text or ""
        for element in root
        if element.tag in (f"{SVG}title", f"{SVG}desc")
    }
    assert set(labels) == set(found)
    description = found["coverage-desc"]
    assert "No list loaded with its plants: " in description
    assert all(JURISDICTION_NAMES[state] in description for state in STATES)
    assert len(root.findall(f"{SVG}g")) == len(STATES) + 1


def test_federal_law_has_a_tile_beside_the_states() -> None:
    assert texts(tile(drawn(held(FEDERAL))))[0] == "US federal"


def test_every_tile_lies_inside_the_picture_and_none_on_another(library: Library) -> None:
    root = ElementTree.fromstring(coverage_svg(coverage_table(library.law, date(2026, 6, 1))))
    _, _, width, height = (float(number) for number in (root.get("viewBox") or "").split())
    boxes = []
    for group in root.findall(f"{SVG}g"):
        rect = group.findall(f"{SVG}rect")[0]
        x, y, w, h = (
            float(rect.get(attribute) or "nan") for attribute in ("x", "y", "width", "height")
        )
        assert x >= 0
        assert y >= 0
        assert x + w <= width
        assert y + h <= height
        boxes.append((x, y, x + w, y + h))
    overlaps = [
        (a, b)
        for place, a in enumerate(boxes)
        for b in boxes[:place]
        if a[0] < b[2] and b[0] < a[2] and a[1] < b[3] and b[1] < a[3]
    ]
    assert overlaps == []


def test_names_are_escaped() -> None:
    root = drawn(held(name="A & B <Ohio>"))
    assert "A & B <Ohio>" in (root.find(f"{SVG}desc").text or "")  # type: ignore[union-attr]


def test_no_traffic_light_is_used() -> None:
    """No red, yellow or green: hue stays in blue and grey, whatever is loaded."""
    for colour in re.findall(
        r"#[0-9a-f]{6}",
        coverage_svg([held(coverage=coverage) for coverage in ("complete", "partial", "none")]),
    ):
        red, green, blue = (int(colour[place : place + 2], 16) for place in (1, 3, 5))
        saturated = max(red, green, blue) - min(red, green, blue) > 24
        assert not saturated or blue == max(red, green, blue)


def test_the_same_coverage_gives_the_same_bytes(library: Library) -> None:
    table = coverage_table(library.law, date(2026, 6, 1))
    assert coverage_svg(table) == coverage_svg(reversed(table))
