"""Files that cost more than they say end early, with their place."""

import io
import random
import tomllib
import zipfile

import pytest

from service.errors import TooLarge
from service.input.json_document import parse_toml
from service.input.table import read_table


def test_lists_nested_without_end_are_not_toml() -> None:
    with pytest.raises(tomllib.TOMLDecodeError, match="too deep"):
        parse_toml("a = " + "[" * 100_000)


@pytest.mark.parametrize("form", ["{key} = 1", "[{key}]", "x = {{ {key} = 1 }}"])
def test_a_key_of_twenty_thousand_parts_is_refused_with_its_line(form: str) -> None:
    text = "list_id = 'a'\n" + form.format(key=".".join(["a"] * 20_000))
    with pytest.raises(tomllib.TOMLDecodeError, match="line 2"):
        parse_toml(text)


def test_a_long_paragraph_is_no_key() -> None:
    words = "It is unlawful to sell. See sec. 3. " * 400
    assert parse_toml(f'note = "{words}"') == {"note": words}


def bomb(rows: int) -> bytes:
    """A small workbook with a great many rows."""
    row = "".join(f'<c r="{column}1" t="n"><v>1</v></c>' for column in "ABC")
    packed = io.BytesIO()
    with zipfile.ZipFile(packed, "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr("[Content_Types].xml", "<Types/>")
        with archive.open("xl/worksheets/sheet1.xml", "w") as sheet:
            sheet.write(b"<worksheet><sheetData>")
            for number in range(rows):
                sheet.write(f'<row r="{number}">{row}</row><!-- {number * 7919} -->'.encode())
            sheet.write(b"</sheetData></worksheet>")
    return packed.getvalue()


def test_a_workbook_of_more_rows_than_are_read_is_refused_before_it_is_read() -> None:
    content = bomb(300_000)
    with pytest.raises(TooLarge) as raised:
        read_table(content)
    assert "sheet1.xml" in raised.value.detail


@pytest.mark.parametrize(
    ("name", "element", "what"),
    [
        ("xl/worksheets/sheet1.xml", "<c/>", "cells"),
        ("xl/worksheets/sheet1.xml", "<x:c/>", "cells"),
        ("xl/worksheets/sheet1.xml", "<x:row/>", "rows"),
        ("xl/hidden/sheet1.xml", "<c/>", "styles"),
        ("xl/styles.xml", "<xf/>", "styles"),
        ("xl/sharedStrings.xml", "<si/>", "styles"),
    ],
)
def test_a_workbook_of_empty_elements_is_refused_before_it_is_read(
    name: str, element: str, what: str
) -> None:
    packed = io.BytesIO()
    with zipfile.ZipFile(packed, "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr("[Content_Types].xml", "<Types/>")
        archive.writestr("xl/media/picture.bin", random.Random(1).randbytes(200_000))
        archive.writestr(name, element * 2_500_000)
    with pytest.raises(TooLarge, match=what):
        read_table(packed.getvalue())
