"""Sections and plans of what floats: foam islands and rings."""

from service.containment import IslandSection, RingSection
from service.output.drawings.sheet import (
    LEFT_MM,
    MIDDLE_MM,
    RIGHT_MM,
    Drawing,
    Frame,
    Sheet,
    metres,
    scale_for,
    stems,
)


def island(section: IslandSection, key: str, title: str) -> tuple[Drawing, ...]:
    """A section across the island, and its plan."""
    return _island_section(section, key, title), _island_plan(section, f"{key}p", title)


def _island_section(section: IslandSection, key: str, title: str) -> Drawing:
    shown_plant = min(section.plant_height_m, section.width_m * 0.45)
    hang = max(section.pot_height_m - section.thickness_m, 0.0)
    depth = section.water_depth_m
    shown_water = hang + section.draft_m + 0.12 * section.width_m
    shown_water = (
        shown_water if depth is None else min(depth, max(shown_water, 0.45 * section.width_m))
    )
    ratio = scale_for(
        section.width_m,
        shown_plant + section.freeboard_m + shown_water,
        RIGHT_MM - LEFT_MM - 7.0,
        42.0,
    )
    frame = Frame(ratio, MIDDLE_MM, 4.0 + (shown_plant + section.freeboard_m) * 1000 / ratio)
    sheet = Sheet(key)
    _water(sheet, frame, shown_water, bed=depth is not None and shown_water >= depth)
    _slab(sheet, frame, section)
    places = [_hole(section, row) for row in range(section.rows)]
    cut = stems(
        sheet,
        frame,
        places,
        section.freeboard_m,
        shown_plant,
        section.plant_height_m,
        section.pot_diameter_m * 0.9,
    )
    _island_dimensions(sheet, frame, section, shown_water, cut)
    words = island_words(section)
    return Drawing(
        sheet.svg(frame, f"{title}: section", words),
        f"Section across the island, {frame.words} where printed at full size.",
        words,
    )


def _hole(section: IslandSection, row: int) -> float:
    return (row - (section.rows - 1) / 2) * section.pitch_m


def _water(sheet: Sheet, frame: Frame, depth: float, *, bed: bool) -> None:
    level, floor = frame.y(0), frame.y(-depth)
    sheet.rect((LEFT_MM, level), RIGHT_MM - LEFT_MM, floor - level, "water", 0)
    sheet.line((LEFT_MM, level), (RIGHT_MM, level), 0.3)
    sheet.level(LEFT_MM + 0.4, level)
    if bed:
        sheet.rect((LEFT_MM, floor), RIGHT_MM - LEFT_MM, 2.0, "earth", 0)
        sheet.line((LEFT_MM, floor), (RIGHT_MM, floor), 0.35)
    else:
        sheet.line((LEFT_MM, floor), (RIGHT_MM, floor), 0.2, "1.5 1")


def _slab(sheet: Sheet, frame: Frame, section: IslandSection) -> None:
    deck = section.freeboard_m
    sheet.rect(
        frame.at(-section.width_m / 2, deck),
        frame.length(section.width_m),
        frame.length(section.thickness_m),
        "foam",
        0.4,
    )
    for row in range(section.rows):
        middle = _hole(section, row)
        hole, pot = section.hole_diameter_m / 2, section.pot_diameter_m / 2
        sheet.rect(
            frame.at(middle - hole, deck),
            frame.length(2 * hole),
            frame.length(section.thickness_m),
            "paper",
            0.2,
        )
        rim = deck + section.rim_above_m
        foot, base = rim - section.pot_height_m, section.pot_base_m / 2
        sheet.polygon(
            [
                frame.at(middle - pot, rim),
                frame.at(middle - base, foot),
                frame.at(middle + base, foot),
                frame.at(middle + pot, rim),
            ],
            "soil",
            0.4,
        )
        sheet.line(frame.at(middle - pot, rim), frame.at(middle + pot, rim), 0.7)


def _island_dimensions(
    sheet: Sheet, frame: Frame, section: IslandSection, shown_water: float, cut: bool
) -> None:
    half, deck, under = (
        section.width_m / 2,
        section.freeboard_m,
        section.freeboard_m - section.thickness_m,
    )
    out, into = frame.x(half) + 1.6, frame.x(-half) - 1.6
    sheet.upright(frame.at(half, 0), frame.at(half, deck), out, "right", "freeboard", metres(deck))
    sheet.upright(
        frame.at(half, under), frame.at(half, 0), out, "right", "draft", metres(section.draft_m)
    )
    sheet.upright(
        frame.at(-half, under),
        frame.at(-half, deck),
        into,
        "left",
        "foam",
        metres(section.thickness_m),
    )
    first = _hole(section, 0)
    sheet.note(
        frame.at(first, deck + section.rim_above_m - section.pot_height_m),
        "left",
        "pot height",
        metres(section.pot_height_m),
    )
    if section.plant_height_m:
        lines = ("grows to", metres(section.plant_height_m), *(("(cut off here)",) if cut else ()))
        sheet.note(
            frame.at(
                _hole(section, section.rows - 1), deck + min(section.plant_height_m, half * 0.8)
            ),
            "right",
            *lines,
        )
    if section.water_depth_m is not None:
        shown = shown_water >= section.water_depth_m
        lines = ("water depth", metres(section.water_depth_m), *(() if shown else ("(bed below)",)))
        sheet.note((RIGHT_MM - 2, frame.y(-shown_water * 0.9)), "right", *lines)
    y = frame.y(-shown_water) + 5.0
    sheet.across(
        frame.at(-half, under), frame.at(half, under), y, f"width {metres(section.width_m)}"
    )


def island_words(section: IslandSection) -> str:
    """The island's dimensions as sentences."""
    words = (
        f"A slab {metres(section.length_m)} long, {metres(section.width_m)} wide and {metres(section.thickness_m)} thick floats with "
        f"{metres(section.draft_m)} under water and {metres(section.freeboard_m)} above it at full growth. "
        f"{_holes(section)}, {metres(section.hole_diameter_m)} wide and "
        f"{metres(section.pitch_m)} from centre to centre, for pots "
        f"{metres(section.pot_diameter_m)} across at the rim, {metres(section.pot_base_m)} at the "
        f"base and {metres(section.pot_height_m)} high, with their rims "
        f"{metres(section.rim_above_m)} above the deck."
    )
    if section.metacentre_m is not None and section.gravity_centre_m is not None:
        height = section.metacentre_m - section.gravity_centre_m
        words += f" The metacentre M lies {metres(abs(height))} {'above' if height >= 0 else 'below'} the centre of mass G."
    return words


def _holes(section: IslandSection) -> str:
    """``12 holes in 3 rows of 5 places; 3 places are left uncut``."""
    places = section.rows * section.columns
    spare = places - section.count
    left = f"; {spare} places are left uncut" if spare else ""
    return f"{section.count} holes in {section.rows} rows of {section.columns} places{left}"


def _island_plan(section: IslandSection, key: str, title: str) -> Drawing:
    ratio = scale_for(section.length_m, section.width_m, 52.0, 40.0)
    wide, deep = section.length_m * 1000 / ratio, section.width_m * 1000 / ratio
    frame = Frame(ratio, RIGHT_MM - 4.0 - wide, 7.5 + deep)
    sheet = Sheet(key)
    sheet.rect(frame.at(0, section.width_m), wide, deep, "foam", 0.4)
    left = (section.length_m - (section.columns - 1) * section.pitch_m) / 2
    low = (section.width_m - (section.rows - 1) * section.pitch_m) / 2
    for row in range(section.rows):
        for column in range(section.columns):
            if row * section.columns + column >= section.count:
                continue
            sheet.circle(
                frame.at(left + column * section.pitch_m, low + row * section.pitch_m),
                frame.length(section.hole_diameter_m / 2),
                "paper",
                0.3,
            )
    sheet.across(
        frame.at(0, section.width_m),
        frame.at(section.length_m, section.width_m),
        frame.y(section.width_m) - 3.5,
        f"length {metres(section.length_m)}",
    )
    right = frame.x(section.length_m)
    sheet.upright(
        (right, frame.y(0)),
        (right, frame.y(section.width_m)),
        right + 2.0,
        "right",
        "width",
        metres(section.width_m),
    )
    sheet.note(
        frame.at(left + (section.columns - 1) * section.pitch_m, low),
        "right",
        "hole",
        metres(section.hole_diameter_m),
    )
    if section.columns > 1:
        foot = frame.y(0) + 3.5
        sheet.across(
            frame.at(left, low),
            frame.at(left + section.pitch_m, low),
            foot,
            f"pitch {metres(section.pitch_m)}",
        )
    words = f"{_holes(section)}."
    return Drawing(
        sheet.svg(frame, f"{title}: plan", words),
        f"Plan from above, {frame.words} where printed at full size.",
        words,
    )


def ring(section: RingSection, key: str, title: str) -> tuple[Drawing, ...]:
    """The ring from above, and its wall in section."""
    return _ring_plan(section, key, title), _ring_wall(section, f"{key}w", title)


def _ring_plan(section: RingSection, key: str, title: str) -> Drawing:
    ratio = scale_for(section.diameter_m, section.diameter_m, 34.0, 34.0)
    frame = Frame(ratio, MIDDLE_MM, 9.0 + section.diameter_m * 500 / ratio)
    sheet = Sheet(key)
    radius = frame.length(section.diameter_m / 2)
    sheet.rect(
        (LEFT_MM, frame.base_mm - radius - 2), RIGHT_MM - LEFT_MM, 2 * radius + 4, "water", 0
    )
    sheet.circle(frame.at(0, 0), radius, "paper", 1.0)
    sheet.across(
        frame.at(-section.diameter_m / 2, 0),
        frame.at(section.diameter_m / 2, 0),
        4.5,
        f"diameter {metres(section.diameter_m)}",
    )
    sheet.note(frame.at(0, 0), "right", "plants inside")
    words = f"The ring is {metres(section.diameter_m)} across."
    return Drawing(
        sheet.svg(frame, f"{title}: plan", words),
        f"Plan from above, {frame.words} where printed at full size.",
        words,
    )


def _ring_wall(section: RingSection, key: str, title: str) -> Drawing:
    total = section.skirt_draft_m + section.wall_above_water_m
    ratio = scale_for(total, total * 1.1, RIGHT_MM - LEFT_MM, 36.0)
    frame = Frame(ratio, MIDDLE_MM, 4.0 + section.wall_above_water_m * 1000 / ratio)
    sheet = Sheet(key)
    _water(sheet, frame, section.skirt_draft_m * 1.2, bed=False)
    sheet.rect(
        (MIDDLE_MM - 0.8, frame.y(section.wall_above_water_m)), 1.6, frame.length(total), "solid", 0
    )
    sheet.upright(
        frame.at(0, 0),
        frame.at(0, section.wall_above_water_m),
        52.0,
        "right",
        "above water",
        metres(section.wall_above_water_m),
    )
    sheet.upright(
        frame.at(0, -section.skirt_draft_m),
        frame.at(0, 0),
        52.0,
        "right",
        "skirt",
        metres(section.skirt_draft_m),
    )
    sheet.note((LEFT_MM + 6, frame.y(0) + 3), "left", "inside")
    words = f"The wall stands {metres(section.wall_above_water_m)} above the water; the skirt hangs {metres(section.skirt_draft_m)} below it."
    return Drawing(
        sheet.svg(frame, f"{title}: wall", words),
        f"Section through the wall, {frame.words} where printed at full size.",
        words,
    )
