"""A tile map of how much law is loaded: one tile a jurisdiction, laid out as rough geography, drawn
as SVG.

Told apart without colour: loaded in full is a dark tile, in part a hatched frame, none a broken
    outline; each also says so in words.
"""

from collections.abc import Iterable
from xml.sax.saxutils import escape

from service.regulation.coverage import JurisdictionCoverage
from service.values.vocabulary import FEDERAL, Coverage, Jurisdiction

_LAYOUT = """
WA .  MT ND MN .  .  .  .  VT ME
OR ID WY SD WI .  MI .  NY NH MA
CA NV UT NE IA IL IN OH PA CT RI
.  AZ CO KS MO KY WV VA MD DE NJ
.  .  NM OK AR TN .  NC DC .  .
AK .  .  TX LA MS AL GA SC .  .
HI .  .  .  .  .  .  FL .  .  .
"""

TILES: dict[Jurisdiction, tuple[int, int]] = {
    Jurisdiction(f"US-{letters}"): (row, column)
    for row, line in enumerate(_LAYOUT.split("\n")[1:-1])
    for column, letters in enumerate(line.split())
    if letters != "."
}
"""Row from the north and column from the west of each state's tile."""

_TILE, _GAP, _MARGIN, _FRAME = 80, 6, 18, 7
_STEP = _TILE + _GAP
_COLUMNS = 1 + max(column for _, column in TILES.values())
_ROWS = 1 + max(row for row, _ in TILES.values())
_LEGEND_HEIGHT = 118
_WIDTH = 2 * _MARGIN + _COLUMNS * _STEP - _GAP
_MAP_HEIGHT = _MARGIN + _ROWS * _STEP
_HEIGHT = _MAP_HEIGHT + _LEGEND_HEIGHT

_INK, _PAPER, _FAINT = "#1d3b45", "#fffdf7", "#5c6b70"

_WORD: dict[Coverage, str] = {"complete": "full", "partial": "part", "none": "none"}
_PHRASE: dict[Coverage, str] = {
    "complete": "loaded in full",
    "partial": "loaded in part",
    "none": "no list loaded with its plants",
}
_LEGEND: tuple[tuple[Coverage, str], ...] = (
    ("complete", "each known list loaded whole"),
    ("partial", "some entries may be missing"),
    ("none", "answers are undetermined"),
)


def coverage_svg(coverages: Iterable[JurisdictionCoverage], *, as_of: str = "") -> str:
    """The map as an SVG document.

    Args:
        as_of: shown in the caption, an ISO date.
    """
    by_place = {coverage.jurisdiction: coverage for coverage in coverages}
    tiles = [
        _tile(by_place[code], *_corner(row, column))
        for code, (row, column) in sorted(TILES.items())
        if code in by_place
    ]
    federal = (
        [_tile(by_place[FEDERAL], _MARGIN + 9 * _STEP, _MARGIN + 5 * _STEP, wide=True)]
        if FEDERAL in by_place
        else []
    )
    caption = f"Law loaded, as of {as_of}" if as_of else "Law loaded"
    return "\n".join(
        [
            f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {_WIDTH} {_HEIGHT}" role="img" '
            'aria-labelledby="coverage-title coverage-desc" font-family="Georgia, \'Times New Roman\', serif">',
            f'<title id="coverage-title">{escape(caption)}, state by state</title>',
            f'<desc id="coverage-desc">{escape(_description(by_place.values()))}</desc>',
            _HATCH,
            f'<rect width="{_WIDTH}" height="{_HEIGHT}" fill="{_PAPER}"/>',
            *tiles,
            *federal,
            *_legend(caption),
            "</svg>",
            "",
        ]
    )


_HATCH = (
    '<defs><pattern id="coverage-hatch" width="6" height="6" patternUnits="userSpaceOnUse" patternTransform="rotate(45)">'
    f'<rect width="6" height="6" fill="{_PAPER}"/><rect width="2.4" height="6" fill="{_INK}"/></pattern></defs>'
)


def _corner(row: int, column: int) -> tuple[int, int]:
    return _MARGIN + column * _STEP, _MARGIN + row * _STEP


def _tile(coverage: JurisdictionCoverage, x: int, y: int, *, wide: bool = False) -> str:
    width = 2 * _TILE + _GAP if wide else _TILE
    letters = "US federal" if wide else coverage.jurisdiction.removeprefix("US-")
    ink = _PAPER if coverage.coverage == "complete" else _INK
    middle = x + width / 2
    return (
        f"<g><title>{escape(_summary(coverage))}</title>"
        + _ground(coverage.coverage, x, y, width)
        + _text(letters, middle, y + 33, 23, ink, bold=True)
        + _text(_WORD[coverage.coverage], middle, y + 51, 13, ink)
        + _text(_share(coverage), middle, y + 65, 11, ink)
        + "</g>"
    )


def _ground(
    coverage: Coverage,
    x: float,
    y: float,
    width: float,
    height: float = _TILE,
    frame: float = _FRAME,
) -> str:
    place = f'x="{x:g}" y="{y:g}" width="{width:g}" height="{height:g}"'
    if coverage == "complete":
        return f'<rect {place} rx="4" fill="{_INK}" stroke="{_INK}" stroke-width="1.5"/>'
    if coverage == "none":
        return f'<rect {place} rx="4" fill="{_PAPER}" stroke="{_FAINT}" stroke-width="1.5" stroke-dasharray="5 4"/>'
    inner = f'x="{x + frame:g}" y="{y + frame:g}" width="{width - 2 * frame:g}" height="{height - 2 * frame:g}"'
    return (
        f'<rect {place} rx="4" fill="url(#coverage-hatch)" stroke="{_INK}" stroke-width="1.5"/>'
        f'<rect {inner} rx="2" fill="{_PAPER}" stroke="{_INK}" stroke-width="0.75"/>'
    )


def _text(
    text: str,
    x: float,
    y: float,
    size: int,
    fill: str,
    *,
    bold: bool = False,
    anchor: str = "middle",
) -> str:
    weight = ' font-weight="bold"' if bold else ""
    return f'<text x="{x:g}" y="{y:g}" font-size="{size}" fill="{fill}" text-anchor="{anchor}"{weight}>{escape(text)}</text>'


def _share(coverage: JurisdictionCoverage) -> str:
    return (
        "no entries"
        if coverage.share_read is None
        else f"{_percent(coverage.entries_read, coverage.entries)} read"
    )


def _percent(part: int, whole: int) -> str:
    """Whole percents; all and nothing are said only where they are so."""
    percent = round(100 * part / whole)
    if part < whole:
        percent = min(percent, 99)
    return f"{max(percent, 1) if part else percent}%"


def _summary(coverage: JurisdictionCoverage) -> str:
    count = len(coverage.lists)
    words = f"{coverage.name}: {_PHRASE[coverage.coverage]}; {count} list{'' if count == 1 else 's'}, {coverage.entries} entries"
    if coverage.entries:
        words += f", {_percent(coverage.entries_read, coverage.entries)} of them read in the text"
    if coverage.oldest_reading:
        words += f"; oldest dated copy {coverage.oldest_reading}"
    if coverage.undated_copies:
        words += f"; {coverage.undated_copies} read in undated copies"
    return f"{words}."


def _description(coverages: Iterable[JurisdictionCoverage]) -> str:
    states = sorted(
        (state for state in coverages if state.jurisdiction != FEDERAL),
        key=lambda state: state.name,
    )
    parts = []
    for coverage, _ in _LEGEND:
        names = [state.name for state in states if state.coverage == coverage]
        parts.append(
            f"{_PHRASE[coverage].capitalize()}: {', '.join(names) if names else 'no state'}."
        )
    return " ".join(parts)


def _legend(caption: str) -> Iterable[str]:
    top = _MAP_HEIGHT + 12
    yield _text(caption, _MARGIN, top + 12, 17, _INK, bold=True, anchor="start")
    x = _MARGIN
    for coverage, meaning in _LEGEND:
        yield _ground(coverage, x, top + 28, 34, 26, 5)
        yield _text(f"{_WORD[coverage]}: {meaning}", x + 42, top + 46, 14, _INK, anchor="start")
        x += (_WIDTH - 2 * _MARGIN) // 3
    note = "Read: share of the entries seen in the text itself. A list loaded whole may still be amended; confirm with the authority."
    yield _text(note, _MARGIN, top + 82, 13, _FAINT, anchor="start")
