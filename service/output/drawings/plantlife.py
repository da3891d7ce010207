"""Plants as a few strokes, as tall as they grow, or cut off with a break where they would leave
the sheet.
"""

from collections.abc import Iterable

from service.output.drawings.sheet import Frame, Sheet

_LEAN = (-0.32, -0.14, 0.03, 0.17, 0.34)


def stems(
    sheet: Sheet,
    frame: Frame,
    places_m: Iterable[float],
    foot_m: float,
    shown_m: float,
    full_m: float,
    spread_m: float,
) -> bool:
    """Draw a plant at each place. Returns whether it was cut off.

    Args:
        foot_m: height of the crown.
        shown_m: how much of ``full_m`` is drawn.
        spread_m: width of the tuft at its top.
    """
    if shown_m <= 0:
        return False
    cut = full_m > shown_m + 1e-9
    for place in places_m:
        for number, lean in enumerate(_LEAN):
            rise = shown_m * (1.0 if cut else (0.78, 0.94, 1.0, 0.9, 0.7)[number])
            foot, top = (
                frame.at(place + lean * spread_m * 0.15, foot_m),
                frame.at(place + lean * spread_m, foot_m + rise),
            )
            bend = (foot[0] + (top[0] - foot[0]) * 0.25, foot[1] + (top[1] - foot[1]) * 0.6)
            sheet.polyline([foot, bend, top], 0.3)
        if cut:
            x, y = frame.at(place, foot_m + shown_m)
            half = frame.length(spread_m) * 0.45
            sheet.polyline(
                [
                    (x - half, y + 0.5),
                    (x - 0.8, y + 0.5),
                    (x - 0.3, y - 1.0),
                    (x + 0.3, y + 1.4),
                    (x + 0.8, y + 0.5),
                    (x + half, y + 0.5),
                ],
                0.2,
            )
    return cut
