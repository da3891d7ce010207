"""Drawings to scale: what is drawn is as long on paper as its scale says, and every dimension is
said in both unit systems.
"""

import re
import xml.etree.ElementTree as ET
from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from service.containment import (
    BarrierSection,
    FreeboardSection,
    IslandSection,
    RingSection,
    ScreenSection,
    Section,
    TubSection,
)
from service.output.drawings import Drawing, draw
from service.output.drawings.sheet import WIDTH_MM, Frame, metres, scale_for

ISLAND = IslandSection(
    2.4, 1.2, 0.125, 0.05, 0.075, 0.18, 0.14, 0.16, 0.02, 0.175, 30, 4, 8, 0.26, 0.9, 0.9, 0.1, 1.4
)
TUB = TubSection(35, 28, 24, 20, -5, 45)
SCREEN = ScreenSection(0.33, 0.4, 0.35, 60, 3, 1.6, 0.003, 0.011)
RIM = FreeboardSection(30, 35, 0, 5.5, 40)
SECTIONS: tuple[Section, ...] = (
    ISLAND,
    TUB,
    SCREEN,
    RIM,
    BarrierSection(75, 5, 1.5),
    RingSection(4.5, 0.2, 0.15),
)


def parsed(drawing: Drawing) -> ET.Element:
    return ET.fromstring(str(drawing.svg))


def elements(drawing: Drawing, tag: str) -> list[ET.Element]:
    return [element for element in parsed(drawing).iter() if element.tag.endswith(f"}}{tag}")]


def ratio(drawing: Drawing) -> float:
    over, under = re.search(r"(\d[\d.]*):(\d[\d.]*)", drawing.caption).groups()  # type: ignore[union-attr]
    return float(under) / float(over)


@pytest.mark.parametrize("section", SECTIONS, ids=lambda section: type(section).__name__)
def test_each_drawing_is_svg_with_a_title_and_words_and_its_true_size(section: Section) -> None:
    for drawing in draw(section, key="d", title="Measure <&>"):
        root = parsed(drawing)
        assert root.get("width") == f"{WIDTH_MM:g}mm"
        assert root.get("viewBox", "").split()[2:] == [
            f"{WIDTH_MM:g}",
            root.get("height", "").removesuffix("mm"),
        ]
        assert [element.text for element in elements(drawing, "title")] == [root[0].text]
        assert (root[0].text or "").startswith("Measure <&>")
        assert drawing.words == root[1].text
        assert re.search(
            r"\(\d[\d.,/ ]* (in|ft)\)",
            "".join(element.text or "" for element in elements(drawing, "text")),
        )


@pytest.mark.parametrize("section", SECTIONS, ids=lambda section: type(section).__name__)
def test_no_word_is_drawn_off_the_sheet_or_over_another(section: Section) -> None:
    for drawing in draw(section, key="d", title="Measure"):
        height = float(parsed(drawing).get("height", "").removesuffix("mm"))
        boxes = []
        for element in elements(drawing, "text"):
            size, x, y = (
                float(element.get("font-size", 0)),
                float(element.get("x", 0)),
                float(element.get("y", 0)),
            )
            width = 0.5 * size * len(element.text or "")
            left = {"start": x, "middle": x - width / 2, "end": x - width}[
                element.get("text-anchor", "start")
            ]
            boxes.append((left, y - size, left + width, y))
            assert y - size * 0.8 >= 0, element.text
            assert y <= height, element.text
            assert left >= -1.5, element.text
            assert left + width <= WIDTH_MM + 3, element.text
        for at, (left, top, right, bottom) in enumerate(boxes):
            for other in boxes[at + 1 :]:
                apart = (
                    right <= other[0] + 0.3
                    or other[2] <= left + 0.3
                    or bottom <= other[1] + 0.6
                    or other[3] <= top + 0.6
                )
                assert apart, (type(section).__name__, boxes[at], other)


def test_the_island_is_as_wide_thick_and_deep_on_paper_as_its_scale_says() -> None:
    across, plan = draw(ISLAND, key="d", title="Island")
    slab = next(
        element for element in elements(across, "rect") if element.get("fill") == "url(#d-foam)"
    )
    mm_per_m = 1000 / ratio(across)
    assert float(slab.get("width", 0)) == pytest.approx(ISLAND.width_m * mm_per_m, abs=0.01)
    assert float(slab.get("height", 0)) == pytest.approx(ISLAND.thickness_m * mm_per_m, abs=0.01)
    water = next(
        element for element in elements(across, "rect") if element.get("fill") == "#e4ecee"
    )
    freeboard = float(water.get("y", 0)) - float(slab.get("y", 0))
    assert freeboard == pytest.approx(ISLAND.freeboard_m * mm_per_m, abs=0.01)
    holes = [element for element in elements(plan, "circle") if element.get("fill") == "#ffffff"]
    assert len(holes) == ISLAND.count
    assert float(holes[0].get("r", 0)) == pytest.approx(
        ISLAND.hole_diameter_m / 2 * 1000 / ratio(plan), abs=0.01
    )
    pitch = float(holes[1].get("cx", 0)) - float(holes[0].get("cx", 0))
    assert pitch == pytest.approx(ISLAND.pitch_m * 1000 / ratio(plan), abs=0.011)


def test_the_scale_bar_is_as_long_as_it_says() -> None:
    for section in SECTIONS:
        for drawing in draw(section, key="d", title="Measure"):
            bar = elements(drawing, "rect")[-2:]
            length = sum(float(part.get("width", 0)) for part in bar) * ratio(drawing) / 1000
            words = re.search(r"\d[\d.]*:\d[\d.]*", drawing.caption)
            assert words
            assert (
                elements(drawing, "text")[-1].text
                == f"{metres(float(f'{length:.2g}'))}, {words[0]}"
            )


def test_the_screen_stands_at_its_angle() -> None:
    side, openings = draw(SCREEN, key="d", title="Screen")
    mesh = next(element for element in elements(side, "line") if element.get("stroke-width") == "1")
    rise = float(mesh.get("y1", 0)) - float(mesh.get("y2", 0))
    run = float(mesh.get("x2", 0)) - float(mesh.get("x1", 0))
    assert rise / run == pytest.approx(3**0.5, rel=0.01)  # tan 60 degrees
    bars = [element for element in elements(openings, "rect") if element.get("fill") == "#15323b"][
        :5
    ]
    clear = float(bars[1].get("x", 0)) - float(bars[0].get("x", 0)) - float(bars[0].get("width", 0))
    assert clear * ratio(openings) == pytest.approx(SCREEN.opening_mm, rel=0.02)


def test_a_bank_keeps_its_slope_and_is_cut_off_where_it_leaves_the_sheet() -> None:
    drawing = draw(replace(RIM, bank_slope=2, bank_above_crest_cm=200), key="d", title="Rim")[0]
    bank = next(
        element for element in elements(drawing, "polyline") if element.get("stroke-width") == "0.5"
    )
    places = [tuple(map(float, point.split(","))) for point in bank.get("points", "").split()]
    (x1, y1), (x2, y2) = places[1], places[2]
    assert (x2 - x1) / (y1 - y2) == pytest.approx(2, rel=0.01)
    assert "(cut off here)" in [element.text for element in elements(drawing, "text")]


def test_a_rim_over_and_under_the_water_is_said_so() -> None:
    for over, words in ((6, "under"), (-5, "above")):
        assert (
            f"stands {abs(over)} cm"
            in draw(replace(TUB, water_over_rim_cm=over), key="d", title="Tub")[0].words
        )
        assert words in draw(replace(TUB, water_over_rim_cm=over), key="d", title="Tub")[0].words


@given(st.floats(0.01, 60), st.floats(0.01, 60), st.floats(10, 80), st.floats(10, 80))
@settings(max_examples=60, deadline=None)
def test_what_is_scaled_fits_its_box(
    width_m: float, height_m: float, width_mm: float, height_mm: float
) -> None:
    frame = Frame(scale_for(width_m, height_m, width_mm, height_mm), 0, 0)
    assert frame.length(width_m) <= width_mm * (1 + 1e-6)
    assert frame.length(height_m) <= height_mm * (1 + 1e-6)


def test_lengths_are_written_in_the_unit_that_suits_them() -> None:
    # International foot and inch are exact by definition.
    assert metres(0.0005) == "under 1 mm"
    assert metres(0.005) == "5 mm (3/16 in)"
    assert metres(0.3048) == "30.5 cm (12 in)"
    assert metres(6.096) == "6.1 m (20 ft)"
