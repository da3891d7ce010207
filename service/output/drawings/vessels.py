"""Sections of what stands in soil or water: pots, tubs, root barriers."""

from service.containment import BarrierSection, TubSection
from service.output.drawings.sheet import (
    LEFT_MM,
    MIDDLE_MM,
    RIGHT_MM,
    Drawing,
    Frame,
    Sheet,
    both_units,
    scale_for,
    stems,
)

_HEIGHT_MM = 40.0
_TOP_MM = 10.0


def tub(section: TubSection, key: str, title: str) -> Drawing:
    """An upright section through a pot or tub."""
    rim, base, height = (
        length_cm / 100
        for length_cm in (section.rim_diameter_cm, section.base_diameter_cm, section.height_cm)
    )
    soil = section.soil_depth_cm / 100
    over = None if section.water_over_rim_cm is None else section.water_over_rim_cm / 100
    grown = (section.plant_height_cm or 0.0) / 100
    shown = min(grown, 0.9 * height + 0.1)
    top = max(height + max(over or 0.0, 0.0), soil + shown)
    ratio = scale_for(max(rim, base) * 1.4, top, RIGHT_MM - LEFT_MM, _HEIGHT_MM)
    frame = Frame(ratio, MIDDLE_MM, _TOP_MM + top * 1000 / ratio)
    sheet = Sheet(key)
    _surroundings(sheet, frame, height, over)
    _vessel(sheet, frame, rim, base, height, soil)
    cut = stems(sheet, frame, [0.0], soil, shown, grown, rim * 0.7)
    _tub_dimensions(sheet, frame, section, cut)
    words = tub_words(section)
    return Drawing(
        sheet.svg(frame, title, words), f"Section, {frame.words} where printed at full size.", words
    )


def _surroundings(sheet: Sheet, frame: Frame, height: float, over: float | None) -> None:
    """The water or substrate around, where the plan says how high it stands."""
    if over is not None:
        level = frame.y(max(height + over, 0.0))
        sheet.rect((LEFT_MM, level), RIGHT_MM - LEFT_MM, frame.base_mm - level, "water", 0)
        sheet.line((LEFT_MM, level), (RIGHT_MM, level), 0.3)
        sheet.level(LEFT_MM + 2.5, level)
    sheet.rect((LEFT_MM, frame.base_mm), RIGHT_MM - LEFT_MM, 2.2, "earth", 0)
    sheet.line((LEFT_MM, frame.base_mm), (RIGHT_MM, frame.base_mm), 0.35)


def _vessel(
    sheet: Sheet, frame: Frame, rim: float, base: float, height: float, soil: float
) -> None:
    half = (base + (rim - base) * soil / height) / 2 if height else rim / 2
    wall = [
        frame.at(x, y)
        for x, y in ((-rim / 2, height), (-base / 2, 0), (base / 2, 0), (rim / 2, height))
    ]
    sheet.polygon(wall, "paper", 0)
    sheet.polygon(
        [frame.at(x, y) for x, y in ((-half, soil), (-base / 2, 0), (base / 2, 0), (half, soil))],
        "soil",
        0.15,
    )
    sheet.polyline(wall, 0.8)


def _tub_dimensions(sheet: Sheet, frame: Frame, section: TubSection, cut: bool) -> None:
    rim, base, height, soil = (
        length_cm / 100
        for length_cm in (
            section.rim_diameter_cm,
            section.base_diameter_cm,
            section.height_cm,
            section.soil_depth_cm,
        )
    )
    left, right = frame.x(-max(rim, base) / 2), frame.x(max(rim, base) / 2)
    sheet.across(
        frame.at(-rim / 2, height),
        frame.at(rim / 2, height),
        4.5,
        f"rim {both_units(section.rim_diameter_cm, 'cm')}",
    )
    foot = frame.base_mm + 4.5
    sheet.across(
        frame.at(-base / 2, 0),
        frame.at(base / 2, 0),
        foot,
        f"base {both_units(section.base_diameter_cm, 'cm')}",
    )
    sheet.upright(
        frame.at(base / 2, 0),
        frame.at(rim / 2, height),
        right + 2.5,
        "right",
        "height",
        both_units(section.height_cm, "cm"),
    )
    sheet.upright(
        frame.at(-base / 2, 0),
        frame.at(-rim / 2, soil),
        left - 2.5,
        "left",
        "soil",
        both_units(section.soil_depth_cm, "cm"),
    )
    over = section.water_over_rim_cm
    if over is not None:
        place = (RIGHT_MM - 2, frame.y(max(height + over / 100, 0.0)))
        words = "water over rim" if over > 0 else "rim above water"
        sheet.note(
            place,
            "right",
            *((words, both_units(abs(over), "cm")) if over else ("rim level with", "the water")),
        )
    if section.plant_height_cm:
        lines = (
            "plant grows to",
            both_units(section.plant_height_cm, "cm"),
            *(("(cut off here)",) if cut else ()),
        )
        sheet.note((frame.x(0), frame.y(max(soil + 0.6 * height, height))), "left", *lines)


def tub_words(section: TubSection) -> str:
    """The dimensions as sentences."""
    words = (
        f"Rim {both_units(section.rim_diameter_cm, 'cm')} across, base {both_units(section.base_diameter_cm, 'cm')}, "
        f"height {both_units(section.height_cm, 'cm')}, soil {both_units(section.soil_depth_cm, 'cm')} deep."
    )
    if section.water_over_rim_cm is not None:
        away = both_units(abs(section.water_over_rim_cm), "cm")
        words += f" The rim stands {away} {'under' if section.water_over_rim_cm > 0 else 'above'} the water or substrate around it."
    if section.plant_height_cm:
        words += f" The plant grows to {both_units(section.plant_height_cm, 'cm')}."
    return words


def barrier(section: BarrierSection, key: str, title: str) -> Drawing:
    """An upright section through a root barrier."""
    depth, above = section.depth_cm / 100, section.above_ground_cm / 100
    ratio = scale_for(depth, depth + above, RIGHT_MM - LEFT_MM, _HEIGHT_MM)
    frame = Frame(ratio, MIDDLE_MM, 4.0 + above * 1000 / ratio)
    sheet = Sheet(key)
    ground, bottom = frame.y(0), frame.y(-depth)
    sheet.rect((LEFT_MM, ground), RIGHT_MM - LEFT_MM, bottom - ground + 4, "earth", 0)
    sheet.rect((LEFT_MM, ground), MIDDLE_MM - LEFT_MM, bottom - ground, "soil", 0)
    sheet.line((LEFT_MM, ground), (RIGHT_MM, ground), 0.35)
    thickness = max(frame.length(section.thickness_mm / 1000), 0.7)
    sheet.rect(
        (MIDDLE_MM - thickness / 2, frame.y(above)), thickness, bottom - frame.y(above), "solid", 0
    )
    right = MIDDLE_MM + 8
    sheet.upright(
        frame.at(0, 0),
        frame.at(0, above),
        right,
        "right",
        "above ground",
        both_units(section.above_ground_cm, "cm"),
    )
    sheet.upright(
        frame.at(0, -depth),
        frame.at(0, 0),
        right,
        "right",
        "below ground",
        both_units(section.depth_cm, "cm"),
    )
    sheet.note(
        (MIDDLE_MM, frame.y(-depth * 0.8)),
        "left",
        "barrier thickness",
        both_units(section.thickness_mm, "mm"),
    )
    sheet.note((LEFT_MM + 5, ground + 4), "left", "planted bed")
    words = (
        f"The barrier goes {both_units(section.depth_cm, 'cm')} into the ground and stands {both_units(section.above_ground_cm, 'cm')} "
        f"above it; it is {both_units(section.thickness_mm, 'mm')} thick, drawn as a line where that is too thin to see."
    )
    return Drawing(
        sheet.svg(frame, title, words), f"Section, {frame.words} where printed at full size.", words
    )
