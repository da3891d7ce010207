"""Documents in each format: what is kept, what is struck out, what is refused."""

import contextlib
from io import BytesIO

import pytest
from docx import Document as new_docx
from fpdf import FPDF
from hypothesis import given
from hypothesis import strategies as st

from data_loaders.regulations.reading import kind_of, read_document
from data_loaders.regulations.reading.document import Document
from service.errors import BadFile, ReedgateError


def texts(document: Document) -> list[str]:
    return [" | ".join(block.cells) for block in document.blocks if any(block.cells)]


def struck(document: Document) -> list[str]:
    return [text for block in document.blocks for text in block.struck]


def html(body: str, head: str = "") -> Document:
    page = f"<html><head>{head}</head><body>{body}</body></html>"
    return read_document(page.encode(), "page.html")


@pytest.mark.parametrize(
    "mark",
    [
        "<del>{}</del>",
        "<s>{}</s>",
        "<strike>{}</strike>",
        "<span style='text-decoration:line-through'>{}</span>",
        "<span style='text-decoration: underline LINE-THROUGH red'>{}</span>",
        "<span class='stricken'>{}</span>",
        "<span class=gone>{}</span>",
    ],
)
def test_struck_html_is_out(mark: str) -> None:
    style = "<style>span.gone, .other { color: red; text-decoration: line-through }</style>"
    found = html(f"<p>Kept {mark.format('Trapa natans')} too</p>", style)
    assert texts(found) == ["Kept too"]
    assert struck(found) == ["Trapa natans"]


def test_hidden_text_menus_and_scripts_are_not_the_law() -> None:
    found = html(
        "<nav>Menu</nav><div hidden>no</div><p style='display: none'>no</p><script>x='Trapa'</script>"
        "<p>Yes</p><footer>foot</footer>"
    )
    assert texts(found) == ["Yes"]


def test_a_page_of_latin_1_and_one_of_utf_8_read_alike() -> None:
    page = "<html><head><meta charset='{}'></head><body><p>Typha × glauca</p></body></html>"
    latin = read_document(page.format("iso-8859-1").encode("cp1252"), "a.html")
    utf = read_document(page.format("utf-8").encode(), "b.html")
    assert texts(latin) == texts(utf) == ["Typha × glauca"]


def test_a_table_laid_out_for_looks_is_read_as_text() -> None:
    found = html("<table><tr><td><h2>Class A</h2><ul><li>Trapa natans</li></ul></td></tr></table>")
    assert [(block.kind, block.text) for block in found.blocks] == [
        ("heading", "Class A"),
        ("item", "Trapa natans"),
    ]


def test_a_page_that_stops_half_way_says_so() -> None:
    assert not read_document(b"<html><body><ul><li>Trapa natans<li>Butom", "page.html").whole


def test_a_form_to_sign_in_says_so() -> None:
    assert html("<form><input name=u><input type=password></form><p>Sign in</p>").asks_for_login


def test_struck_text_of_a_pdf_is_out_by_the_line_through_it() -> None:
    pdf = FPDF()
    pdf.add_page()
    pdf.set_font("Helvetica", "", 12)
    pdf.text(20, 30, "Trapa natans")
    pdf.text(20, 40, "Butomus umbellatus")
    pdf.set_line_width(0.2)
    pdf.line(20, 38.6, 20 + pdf.get_string_width("Butomus umbellatus"), 38.6)
    found = read_document(bytes(pdf.output()), "law.pdf")
    assert texts(found) == ["Trapa natans"]
    assert struck(found) == ["Butomus umbellatus"]


def test_two_columns_of_text_in_a_pdf_are_read_one_after_the_other() -> None:
    pdf = FPDF()
    pdf.add_page()
    pdf.set_font("Helvetica", "", 9)
    left = "Nobody may sell a plant of this list in the state"
    right = "The department may give a permit for research on"
    for row in range(8):
        pdf.text(15, 20 + 5 * row, f"{left} {row}")
        pdf.text(110, 20 + 5 * row, f"{right} {row}")
    whole = " ".join(texts(read_document(bytes(pdf.output()), "law.pdf")))
    assert whole.index(f"{left} 7") < whole.index(f"{right} 0")


def test_a_pdf_without_text_says_what_to_do() -> None:
    pdf = FPDF()
    pdf.add_page()
    pdf.line(1, 1, 50, 50)
    with pytest.raises(BadFile, match="no text layer"):
        read_document(bytes(pdf.output()), "scan.pdf")


def test_deleted_text_of_a_docx_is_out() -> None:
    document = new_docx()
    paragraph = document.add_paragraph("Kept ")
    paragraph.add_run("Trapa natans").font.strike = True
    paragraph.add_run("Butomus umbellatus").font.double_strike = True
    stream = BytesIO()
    document.save(stream)
    found = read_document(stream.getvalue(), "law.docx")
    assert texts(found) == ["Kept"]
    assert struck(found) == ["Trapa natans", "Butomus umbellatus"]


@pytest.mark.parametrize("word", ["strike", "striked1", "deleted"])
def test_struck_rtf_is_out(word: str) -> None:
    source = (
        rf"{{\rtf1\ansi Kept {{\{word} Trapa natans}} too\par \{word} Gone\plain  and back\par}}"
    )
    found = read_document(source.encode(), "law.rtf")
    assert " ".join(" ".join(texts(found)).split()) == "Kept too and back"


def test_strike_in_rtf_that_is_turned_off_ends() -> None:
    found = read_document(
        rb"{\rtf1 \strike Trapa natans\strike0  Butomus umbellatus\par}", "law.rtf"
    )
    assert texts(found) == ["Butomus umbellatus"]


@pytest.mark.parametrize(
    "mark",
    ["<del>{}</del>", "<DeletedText>{}</DeletedText>", "<p status='repealed'>{}</p>", "<s>{}</s>"],
)
def test_deleted_xml_is_out(mark: str) -> None:
    source = f"<law><text>Kept {mark.format('Trapa natans')} too</text></law>"
    found = read_document(source.encode(), "law.xml")
    assert texts(found) == ["Kept too"]


@pytest.mark.parametrize(
    "source",
    [
        b'<!DOCTYPE a [<!ENTITY b "x">]><a>&b;</a>',
        b'<!DOCTYPE a [<!ENTITY b SYSTEM "file:///etc/passwd">]><a>&b;</a>',
        b"<a><b></a>",
    ],
)
def test_xml_with_entities_or_faults_is_refused(source: bytes) -> None:
    with pytest.raises(BadFile):
        read_document(b"<?xml version='1.0'?>" + source, "law.xml")


@pytest.mark.parametrize(
    ("content", "file", "kind"),
    [
        (b"%PDF-1.7 ...", "x", "pdf"),
        (b"{\\rtf1 x}", "x", "rtf"),
        (b"\xef\xbb\xbf<?xml version='1.0'?><law/>", "x", "xml"),
        (b"<?xml version='1.0'?><!DOCTYPE html><html/>", "x.xml", "html"),
        (b"<div><p>Trapa</p></div>", "x", "html"),
        (b"Trapa natans", "x", "text"),
        ("Trapa natans".encode("utf-16"), "x", "text"),
    ],
)
def test_the_format_is_told_by_what_stands_in_it(content: bytes, file: str, kind: str) -> None:
    assert kind_of(content, file) == kind


@pytest.mark.parametrize(
    "content", [b"", b"  \n", b"\xd0\xcf\x11\xe0old word", b"PK\x03\x04zip", b"\x00\x01\x02\x03bin"]
)
def test_what_is_no_document_is_refused_with_a_reason(content: bytes) -> None:
    with pytest.raises(BadFile):
        read_document(content, "law.doc")


@given(
    st.sampled_from(
        [b"%PDF-1.4\n", b"{\\rtf1 ", b"<html><body>", b"<?xml version='1.0'?><a>", b""]
    ),
    st.binary(max_size=400),
)
def test_nonsense_is_read_or_refused_and_never_fails_otherwise(head: bytes, rest: bytes) -> None:
    with contextlib.suppress(ReedgateError):
        read_document(head + rest, "law")
