"""RTF: text by ``striprtf``, after what is struck through or deleted was taken out."""

import re
from collections.abc import Iterator
from dataclasses import dataclass, replace

from striprtf.striprtf import rtf_to_text

from data_loaders.regulations.reading.document import Document, tidy_text
from data_loaders.regulations.reading.lines import Line, blocks_of
from service.errors import BadFile

_TOKEN = re.compile(
    r"(?P<word>\\[a-zA-Z]+-?\d*\s?)|(?P<hex>\\'[0-9a-fA-F]{2})|(?P<symbol>\\[^a-zA-Z])"
    r"|(?P<open>\{)|(?P<close>\})|(?P<text>[^\\{}]+)"
)
_STRIKES = ("strike", "striked", "deleted")
_BOLD_ON, _BOLD_OFF = "\ue000", "\ue001"
_STRUCK_ON, _STRUCK_OFF = "\ue002", "\ue003"
_CELL = "\ue004"
"""Private letters that carry marks through the conversion to plain text."""
_TABLE = re.compile(r"\\(?:cell|nestcell)(?![a-z])\s?")


@dataclass(frozen=True, slots=True)
class _State:
    struck: bool = False
    bold: bool = False


def read_rtf(content: bytes, file: str) -> Document:
    """A document of an RTF file.

    Raises:
        BadFile: it cannot be read as RTF.
    """
    marked = "".join(_marked(content.decode("latin-1")))
    try:
        text: str = rtf_to_text(marked, errors="ignore")  # type: ignore[no-untyped-call]
    except (ValueError, IndexError, KeyError, UnicodeError) as error:
        raise BadFile(file, "the RTF is damaged.") from error
    whole = content.rstrip(b"\x00 \r\n\t").endswith(b"}")
    return Document("rtf", blocks_of(list(_lines(text))), whole=whole)


def _marked(source: str) -> Iterator[str]:
    """The source with marks of ours around what is bold and what is struck."""
    states = [_State()]
    for token in _TOKEN.finditer(source):
        kind, text = token.lastgroup, token.group()
        if kind == "open":
            states.append(states[-1])
            yield text
        elif kind == "close":
            before = states.pop() if len(states) > 1 else states[-1]
            yield text + _mark(before, states[-1])
        elif kind == "word":
            state = _after(states[-1], text)
            change = _mark(states[-1], state)
            states[-1] = state
            if _TABLE.fullmatch(text):
                yield rf"\u{ord(_CELL) - 65536}?"
            yield text
            yield change
        else:
            yield text


def _after(state: _State, word: str) -> _State:
    name, _, number = re.match(r"\\([a-zA-Z]+)()(-?\d*)", word).groups()  # type: ignore[union-attr]
    on = number not in ("0",)
    if name in _STRIKES:
        return replace(state, struck=on)
    if name == "b":
        return replace(state, bold=on)
    if name == "plain":
        return _State()
    return state


def _mark(before: _State, after: _State) -> str:
    marks = ""
    if before.struck != after.struck:
        marks += _STRUCK_ON if after.struck else _STRUCK_OFF
    if before.bold != after.bold:
        marks += _BOLD_ON if after.bold else _BOLD_OFF
    return "".join(rf"\u{ord(mark) - 65536}?" for mark in marks)


def _lines(text: str) -> Iterator[Line]:
    gap = struck = bold = False
    for number, raw in enumerate(text.split("\n"), 1):
        kept, gone, strong, struck, bold = _taken_apart(raw, struck, bold)
        cells = [tidy_text(cell) for cell in kept.split(_CELL)]
        if _CELL in kept:
            cells = [cell.strip("| ") for cell in cells]
        shown = tuple((float(200 * place), cell) for place, cell in enumerate(cells) if cell)
        if not shown and not gone.strip():
            gap = True
            continue
        yield Line(
            shown or ((0.0, ""),),
            f"line {number}",
            strong=strong,
            gap=gap or len(shown) <= 1,
            row=_CELL in kept,
            struck=(gone.strip(),) if gone.strip() else (),
        )
        gap = False


def _taken_apart(raw: str, struck: bool, bold: bool) -> tuple[str, str, bool, bool, bool]:
    """What is kept, what is struck, whether all that is kept is bold, and the state after it."""
    kept, gone = "", ""
    plain = False
    for letter in raw:
        if letter in (_STRUCK_ON, _STRUCK_OFF):
            struck = letter == _STRUCK_ON
        elif letter in (_BOLD_ON, _BOLD_OFF):
            bold = letter == _BOLD_ON
        elif struck and letter not in (_CELL, "|"):
            gone += letter
        else:
            kept += letter
            plain = plain or (letter.isalpha() and not bold)
    return kept, gone, bool(kept.strip()) and not plain, struck, bold
