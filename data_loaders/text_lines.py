"""Lines of text from bytes that may be none."""

import codecs
from collections.abc import Iterator
from typing import BinaryIO

from data_loaders.archives import LIMITS, Limits
from service.errors import BadFile

_CHUNK_BYTES = 1 << 20


def text_lines(
    stream: BinaryIO,
    *,
    file: str,
    encoding: str = "utf-8",
    terminator: str = "\n",
    limits: Limits = LIMITS,
) -> Iterator[str]:
    """Lines of a byte stream, each without its end; a byte-order mark is dropped.

    With the terminator ``\\n`` a carriage return before it belongs to the line end.

    Raises:
        BadFile: the encoding is unknown or the bytes are not in it; a NUL; a line longer than the
            limit.
    """
    decoder = _decoder(encoding, file)
    number = 1
    rest = ""
    while True:
        chunk = stream.read(_CHUNK_BYTES)
        try:
            text = decoder.decode(chunk, final=not chunk)
        except UnicodeDecodeError as error:
            raise BadFile(
                file,
                f"bytes that are not {encoding} text ({error.reason}).",
                place=f"after line {number}",
                next_step="State the file's true encoding, or convert it to UTF-8.",
            ) from error
        if "\x00" in text:
            line = number + text[: text.index("\x00")].count(terminator)
            raise BadFile(file, "a NUL byte, so this is not a text table.", place=f"line {line}")
        joined = rest + text
        lines = joined.split(terminator)
        rest = lines.pop()
        _check_length([*lines, rest], number, file, limits)
        number += len(lines)
        if terminator == "\n" and "\r" in joined:
            lines = [line.removesuffix("\r") for line in lines]
        yield from lines
        if not chunk:
            break
    if rest:
        yield rest.removesuffix("\r") if terminator == "\n" else rest


def _decoder(encoding: str, file: str) -> codecs.IncrementalDecoder:
    try:
        codec = codecs.lookup(encoding)
        "".encode(encoding)  # refuses codecs that are no text encoding
    except LookupError as error:
        raise BadFile(file, f"its encoding {encoding!r} is not known.") from error
    if codec.name == "utf-8":
        codec = codecs.lookup("utf-8-sig")
    return codecs.getincrementaldecoder(codec.name)()


def _check_length(lines: list[str], first: int, file: str, limits: Limits) -> None:
    lengths = [len(line) for line in lines]
    if max(lengths) > limits.line_characters:
        number = first + next(
            i for i, length in enumerate(lengths) if length > limits.line_characters
        )
        raise BadFile(
            file,
            f"a line longer than {limits.line_characters:,} characters; its line ends are"
            " missing or of another kind.",
            place=f"line {number}",
        )
