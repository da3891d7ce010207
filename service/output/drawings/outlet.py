"""Sections through an outlet screen and through the rim of a pond."""

import math

from service.containment import FreeboardSection, ScreenSection
from service.output.drawings.sheet import (
    LEFT_MM,
    MIDDLE_MM,
    RIGHT_MM,
    Drawing,
    Frame,
    Sheet,
    both_units,
    metres,
    scale_for,
)


def screen(section: ScreenSection, key: str, title: str) -> tuple[Drawing, ...]:
    """A section along the flow, and the openings drawn larger."""
    return _screen_section(section, key, title), _openings(section, f"{key}o", title)


def _screen_section(section: ScreenSection, key: str, title: str) -> Drawing:
    depth, angle = section.water_depth_m, math.radians(section.angle_deg)
    run = depth / math.tan(angle) if section.angle_deg < 90 else 0.0
    ratio = scale_for(run + 1.2 * depth, depth * 1.35, RIGHT_MM - LEFT_MM, 38.0)
    frame = Frame(ratio, MIDDLE_MM - run * 500 / ratio, 6.0 + depth * 1250 / ratio)
    sheet = Sheet(key)
    foot, top = frame.at(0, 0), frame.at(run * 1.2, depth * 1.2)
    surface, after = frame.y(depth), frame.y(max(depth - section.half_blocked_loss_m, 0.0))
    crossing = frame.x(run)
    sheet.polygon(
        [(LEFT_MM, surface), (crossing, surface), foot, (LEFT_MM, frame.base_mm)], "water", 0
    )
    lower = frame.x(
        max(depth - section.half_blocked_loss_m, 0.0) / math.tan(angle)
        if section.angle_deg < 90
        else 0.0
    )
    sheet.polygon([(lower, after), (RIGHT_MM, after), (RIGHT_MM, frame.base_mm), foot], "water", 0)
    sheet.rect((LEFT_MM, frame.base_mm), RIGHT_MM - LEFT_MM, 2.2, "earth", 0)
    sheet.line((LEFT_MM, frame.base_mm), (RIGHT_MM, frame.base_mm), 0.35)
    sheet.line((LEFT_MM, surface), (crossing, surface), 0.3)
    sheet.level(LEFT_MM + 3, surface)
    sheet.line((lower, after), (RIGHT_MM, after), 0.3)
    sheet.line(foot, top, 1.0, "1.2 0.7")
    sheet.upright(
        (LEFT_MM + 7, frame.base_mm),
        (LEFT_MM + 7, surface),
        LEFT_MM + 7,
        "left",
        "water depth",
        metres(depth),
    )
    sheet.note(
        (RIGHT_MM - 2, (surface + after) / 2),
        "right",
        "fall, half blocked",
        metres(section.half_blocked_loss_m),
    )
    sheet.note(
        ((foot[0] + top[0]) / 2, (foot[1] + top[1]) / 2),
        "right",
        "fall, clean",
        metres(section.clean_loss_m),
    )
    sheet.note(
        (foot[0] + 1, frame.base_mm - 1),
        "right",
        f"{section.angle_deg:g}° from level",
        "width of screen",
        metres(section.width_m),
    )
    sheet.text((LEFT_MM, 3.5), "the water runs this way →")
    words = (
        f"The screen is {metres(section.width_m)} wide and stands in {metres(depth)} of water at {section.angle_deg:g} degrees from the "
        f"horizontal, with {metres(section.wetted_height_m)} of it under water. The water falls {metres(section.clean_loss_m)} through it "
        f"when clean and {metres(section.half_blocked_loss_m)} when half blocked."
    )
    return Drawing(
        sheet.svg(frame, f"{title}: section", words),
        f"Section along the flow, {frame.words} where printed at full size.",
        words,
    )


def _openings(section: ScreenSection, key: str, title: str) -> Drawing:
    opening, bar = section.opening_mm / 1000, section.bar_mm / 1000
    pitch = opening + bar
    ratio = scale_for(pitch * 4 + bar, pitch * 3, RIGHT_MM - LEFT_MM, 30.0)
    frame = Frame(ratio, LEFT_MM, 9.0 + pitch * 3000 / ratio)
    sheet = Sheet(key)
    top = frame.y(pitch * 3)
    for number in range(5):
        sheet.rect(
            (frame.x(number * pitch), top),
            max(frame.length(bar), 0.25),
            frame.base_mm - top,
            "solid",
            0,
        )
    sheet.across(
        frame.at(bar + pitch, pitch * 3),
        frame.at(2 * pitch, pitch * 3),
        top - 3,
        f"opening {both_units(section.opening_mm, 'mm')}",
    )
    sheet.note(
        (frame.x(4 * pitch + bar / 2), frame.y(pitch * 1.5)),
        "right",
        "wire or bar",
        both_units(section.bar_mm, "mm"),
    )
    words = f"Clear openings of {both_units(section.opening_mm, 'mm')} between wires or bars of {both_units(section.bar_mm, 'mm')}."
    return Drawing(
        sheet.svg(frame, f"{title}: openings", words),
        f"Openings, {frame.words} where printed at full size.",
        words,
    )


def rim(section: FreeboardSection, key: str, title: str) -> Drawing:
    """A section through the rim of the pond, heights over ordinary water."""
    crest, slope = section.freeboard_cm / 100, section.bank_slope
    bank = crest + (section.bank_above_crest_cm or 0.0) / 100
    storm = None if section.rise_cm is None else section.rise_cm / 100
    over = None if section.head_over_crest_cm is None else crest + section.head_over_crest_cm / 100
    highest = max(bank, storm or 0.0, over or 0.0, 0.01)
    below = 0.25 * highest
    ratio = scale_for(crest * slope, highest + below, 14.0, 46.0)
    edge = MIDDLE_MM if slope == 0 else 38.0
    frame = Frame(ratio, edge, 4.0 + highest * 1000 / ratio)
    sheet = Sheet(key)
    _ground(sheet, frame, bank, slope, below)
    _storm(sheet, frame, section, storm, over, slope)
    out = frame.x(crest * slope)
    sheet.upright(
        (edge, frame.y(0)),
        (out, frame.y(crest)),
        RIGHT_MM - 4,
        "right",
        "freeboard",
        both_units(section.freeboard_cm, "cm"),
    )
    if section.bank_above_crest_cm:
        words = both_units(section.bank_above_crest_cm, "cm")
        if frame.x(bank * slope) <= RIGHT_MM:
            sheet.upright(
                (out, frame.y(crest)),
                (RIGHT_MM - 1, frame.y(bank)),
                RIGHT_MM - 1,
                "right",
                "bank over crest",
                words,
            )
        else:
            sheet.note(
                (RIGHT_MM, _cut_height(frame, slope)),
                "right",
                "bank over crest",
                words,
                "(cut off here)",
            )
    words = rim_words(section)
    return Drawing(
        sheet.svg(frame, title, words),
        f"Section through the rim, {frame.words} where printed at full size.",
        words,
    )


def _ground(sheet: Sheet, frame: Frame, bank: float, slope: float, below: float) -> None:
    """Water and bank; the bank is cut off where it leaves the sheet."""
    edge, level, floor = frame.left_mm, frame.y(0), frame.y(-below)
    foot = max(frame.x(-below * slope), LEFT_MM)
    top = frame.at(bank * slope, bank)
    if top[0] > RIGHT_MM:
        top = (RIGHT_MM, _cut_height(frame, slope))
    sheet.polygon([(LEFT_MM, level), (edge, level), (foot, floor), (LEFT_MM, floor)], "water", 0)
    sheet.polygon(
        [(foot, floor), (edge, level), top, (RIGHT_MM, top[1]), (RIGHT_MM, floor)], "earth", 0
    )
    sheet.polyline([(foot, floor), (edge, level), top, (RIGHT_MM, top[1])], 0.5)
    sheet.line((LEFT_MM, level), (edge, level), 0.3)
    sheet.level(LEFT_MM + 2.5, level)
    sheet.note((LEFT_MM + 1, level + 1.5), "left", "ordinary water")


def _cut_height(frame: Frame, slope: float) -> float:
    """Where on the sheet a bank that is too wide leaves it."""
    return frame.y((RIGHT_MM - frame.left_mm) * frame.ratio / 1000 / slope)


def _storm(
    sheet: Sheet,
    frame: Frame,
    section: FreeboardSection,
    storm: float | None,
    over: float | None,
    slope: float,
) -> None:
    if storm is not None:
        y = frame.y(storm)
        sheet.line((LEFT_MM, y), (min(frame.x(storm * slope), RIGHT_MM), y), 0.35, "2 1")
        x = LEFT_MM + 7
        sheet.upright(
            (x, frame.y(0)),
            (x, y),
            x,
            "left",
            "storm rise",
            both_units(section.rise_cm or 0.0, "cm"),
        )
    if over is not None:
        y = frame.y(over)
        sheet.line((LEFT_MM + 10, y), (min(frame.x(over * slope) + 8, RIGHT_MM), y), 0.3, "0.8 0.8")
        sheet.note(
            (LEFT_MM + 11, y),
            "left",
            "over the crest",
            both_units(section.head_over_crest_cm or 0.0, "cm"),
        )


def rim_words(section: FreeboardSection) -> str:
    """The heights as sentences."""
    words = f"Water first leaves {both_units(section.freeboard_cm, 'cm')} above ordinary water."
    if section.rise_cm is not None:
        over = section.rise_cm - section.freeboard_cm
        outcome = (
            f"which is {both_units(over, 'cm')} over the rim"
            if over > 0
            else f"{both_units(-over, 'cm')} below the rim"
        )
        words += f" The design storm raises it {both_units(section.rise_cm, 'cm')}, {outcome}."
    if section.head_over_crest_cm is not None:
        words += f" Over the crest of the spillway it stands {both_units(section.head_over_crest_cm, 'cm')} deep."
    if section.bank_above_crest_cm is not None:
        words += f" The bank rises {both_units(section.bank_above_crest_cm, 'cm')} over the crest."
    return words
