"""Spoilt files, made from the sound ones in tests/corpus: bytes flipped, pieces cut out,
doubled, swapped, and odd ones put in.
"""

from pathlib import Path

from hypothesis import strategies as st

CORPUS = Path("tests/corpus")

ODD = (
    *(
        b"\x00",
        b"\xff",
        b"\xfe\xff",
        b"\xef\xbb\xbf",
        b"\r",
        b"\n",
        b"\r\n",
        b"\t",
        b'"',
        b"'",
        b"''",
        b'""',
        b"\\",
        b"\\u0000",
        b"\\ud800",
        b"\xed\xa0\x80",
    ),
    *(
        b",",
        b";",
        b"|",
        b"=",
        b"#",
        b"{",
        b"}",
        b"[",
        b"]",
        b"[[",
        b"]]",
        b"<",
        b"&x;",
        b"<!DOCTYPE a>",
        b"-",
        b"+",
        b"@",
    ),
    *(
        b"null",
        b"true",
        b"NaN",
        b"Infinity",
        b"1e999",
        b"-0",
        b"5e-324",
        b"99999999999999999999",
        b"0x1",
        b"1_0",
        b"2026-02-30",
        b"9999-12-31",
    ),
    *(
        "\u202e".encode(),
        "\u00d7".encode(),
        "\U0001f33f".encode(),
        "e\u0301".encode(),
        "\u0661".encode(),
        "\u200b".encode(),
        b"%s%n",
        b"../..",
        b"a" * 5_000,
    ),
)


def seeds(kind: str) -> list[bytes]:
    """The files of a kind, in the order of their names."""
    return [path.read_bytes() for path in sorted((CORPUS / kind).iterdir())]


@st.composite
def spoilt(draw: st.DrawFn, kind: str) -> bytes:
    """A file of the kind with one to six things done to it."""
    content = bytearray(draw(st.sampled_from(seeds(kind))))
    for _ in range(draw(st.integers(1, 6))):
        at = draw(st.integers(0, len(content)))
        to = min(len(content), at + draw(st.integers(0, 60)))
        match draw(st.sampled_from(("flip", "cut", "double", "put", "bytes", "other", "end"))):
            case "flip" if at < len(content):
                content[at] ^= 1 << draw(st.integers(0, 7))
            case "cut":
                del content[at:to]
            case "double":
                content[at:at] = content[at:to] * draw(st.integers(1, 30))
            case "put":
                content[at:at] = draw(st.sampled_from(ODD))
            case "bytes":
                content[at:at] = draw(st.binary(max_size=20))
            case "other":
                other = draw(st.sampled_from(seeds(kind)))
                start = draw(st.integers(0, len(other)))
                content[at:to] = other[start : start + 200]
            case "end":
                del content[at:]
    return bytes(content)
