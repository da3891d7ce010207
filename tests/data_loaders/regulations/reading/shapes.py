"""Plans printed in the shapes in which law is published. Wording and layout are made up here."""

import random
import re
from collections.abc import Callable, Iterable
from html import escape
from io import BytesIO

from docx import Document
from fpdf import FPDF

from tests.data_loaders.regulations.reading.plan import Line, Plan

Printed = tuple[str, bytes]
"""File name and content."""

_LEAD = "It is unlawful to sell, transport or possess the following plants."
_EFFECTIVE = "Effective"


def _html(plan: Plan, body: str, style: str = "") -> bytes:
    prose = "".join(f"<p>{escape(mention.sentence)}</p>" for mention in plan.mentions)
    return (
        f"<!doctype html><html><head><meta charset='utf-8'><title>{escape(plan.model.title)}</title>"
        f"<style>{style}</style></head><body><nav><ul><li><a href='/'>Home</a></li><li><a href='/x'>"
        f"Fish and wildlife</a></li></ul></nav><main><h1>{escape(plan.model.title)}</h1>"
        f"<p>{_LEAD}</p>{body}<h2>Notes</h2>{prose}<p>{_EFFECTIVE} {plan.day}.</p></main>"
        "<footer><p>Contact the department</p></footer></body></html>"
    ).encode()


def _common_latin(line: Line, latin: str = "") -> str:
    latin = latin or _latin(line)
    if not line.latin:
        return line.common
    return f"{line.common} ({latin})" if line.common else latin


def _latin(line: Line, *, authors: bool = False) -> str:
    return f"{line.latin} {line.author}".strip() if authors else line.latin


def _latin_common(line: Line, *, authors: bool = False) -> str:
    latin = _latin(line, authors=authors)
    return f"{latin} ({line.common})" if line.latin and line.common else latin or line.common


def _by_class(plan: Plan) -> Iterable[tuple[str, tuple[Line, ...]]]:
    for name in plan.classes:
        yield name, plan.of_class(name)


# HTML
# --------------------------------------------------------------------------------------------------


def html_numbered_list(plan: Plan) -> Printed:
    body = ""
    for name, lines in _by_class(plan):
        items = "".join(
            f"<li>{escape(line.common)} (<em>{escape(line.latin)}</em>)</li>"
            if line.common and line.latin
            else f"<li><em>{escape(line.latin)}</em>{escape(line.common)}</li>"
            for line in lines
        )
        body += f"<h2>{escape(name)}</h2><ol>{items}</ol>"
    return "list.html", _html(plan, body)


def html_table_with_headings(plan: Plan) -> Printed:
    body = ""
    for name, lines in _by_class(plan):
        rows = "".join(
            f"<tr><td>{escape(line.common)}</td><td><i>{escape(_latin(line, authors=True))}</i></td></tr>"
            for line in lines
        )
        body += (
            f"<h3>{escape(name)}</h3><table><thead><tr><th>Common name</th><th>Scientific name</th></tr>"
            f"</thead><tbody>{rows}</tbody></table>"
        )
    return "table.html", _html(plan, body)


def html_table_without_headings(plan: Plan) -> Printed:
    rows = ""
    for name, lines in _by_class(plan):
        rows += f"<tr><td colspan=2><b>{escape(name)}</b></td></tr>"
        rows += "".join(
            f"<tr><td>{escape(line.latin)}</td><td>{escape(line.common)}</td></tr>"
            for line in lines
        )
    return "plain_table.html", _html(plan, f"<table>{rows}</table>")


def html_class_column(plan: Plan) -> Printed:
    rows = "".join(
        f"<tr><td>{escape(line.latin)}</td><td>{escape(line.common)}</td><td>{escape(line.class_name)}</td></tr>"
        for line in sorted(plan.lines, key=lambda line: line.latin)
    )
    head = "<tr><th>Species</th><th>Common</th><th>Category</th></tr>"
    return "column.html", _html(plan, f"<table>{head}{rows}</table>")


def html_struck(plan: Plan) -> Printed:
    marks = ("<del>{}</del>", "<s>{}</s>", "<strike>{}</strike>", "<span class='gone'>{}</span>")
    mark = marks[len(plan.list_id) % len(marks)]
    inline = "<span style='text-decoration: line-through'>{}</span>"
    body = ""
    for name, lines in _by_class(plan):
        items = ""
        for place, line in enumerate(lines):
            text = escape(_latin_common(line))
            items += (
                f"<li>{(mark if place % 2 else inline).format(text) if line.struck else text}</li>"
            )
        body += f"<h2>{escape(name)}</h2><ul>{items}</ul>"
    return "struck.html", _html(plan, body, ".gone { text-decoration: line-through; }")


def html_statute_prose(plan: Plan) -> Printed:
    body = ""
    for number, (name, lines) in enumerate(_by_class(plan), 1):
        names = [escape(_common_latin(line)) for line in lines]
        body += (
            f"<h3>§ {number}. {escape(name)}</h3><p>The following are designated for the purposes of this"
            f" section: {', '.join(names[:-1])}{', and ' if len(names) > 1 else ''}{names[-1]}.</p>"
        )
    return "prose.html", _html(plan, body)


def html_broken_lines(plan: Plan) -> Printed:
    body = ""
    for name, lines in _by_class(plan):
        items = "<br>\n".join(
            f"({_letter(place)}) <i>{escape(_latin(line, authors=True))}</i> {escape(line.common)}"
            for place, line in enumerate(lines)
        )
        body += f"<p><strong>{escape(name)}</strong></p><p>{items}</p>"
    return "lines.html", _html(plan, body)


def html_genus_headings(plan: Plan) -> Printed:
    body = ""
    for name, lines in _by_class(plan):
        body += f"<h2>{escape(name)}</h2>" + "".join(
            f"<h4>{escape(genus)}</h4><ul>{''.join(f'<li>{escape(item)}</li>' for item in items)}</ul>"
            for genus, items in _under_genera(lines)
        )
    return "genera.html", _html(plan, body)


# Plain text
# --------------------------------------------------------------------------------------------------


def _text(plan: Plan, body: str, *, wide: bool = False) -> bytes:
    prose = "\n\n".join(_filled(mention.sentence, 70) for mention in plan.mentions)
    title = plan.model.title.upper()
    return f"{title}\n\n{_LEAD}\n\n{body}\n\nNOTES\n\n{prose}\n\nHistory: eff. 1-7-18.\n".encode()


def text_numbered(plan: Plan) -> Printed:
    body = "\n\n".join(
        f"{name.upper()}\n\n"
        + "\n".join(f"{place}. {_common_latin(line)}" for place, line in enumerate(lines, 1))
        for name, lines in _by_class(plan)
    )
    return "numbered.txt", _text(plan, body)


def text_lettered_and_wrapped(plan: Plan) -> Printed:
    body = ""
    for number, (name, lines) in enumerate(_by_class(plan), 1):
        body += f"({number}) {name}.\n\n"
        for place, line in enumerate(lines):
            body += _filled(f"({_letter(place)}) {_common_latin(line)};", 30, hyphens=True) + "\n"
        body += "\n"
    return "wrapped.txt", _text(plan, body)


def text_capitals(plan: Plan) -> Printed:
    body = "\n\n".join(
        f"{name}\n\n" + "\n".join(_latin_common(line).upper() for line in lines)
        for name, lines in _by_class(plan)
    )
    return "capitals.txt", _text(plan, body)


def text_columns(plan: Plan) -> Printed:
    body = ""
    for name, lines in _by_class(plan):
        body += f"{name}\n\n{'Common name':<42}Scientific name\n" + "".join(
            f"{line.common[:40]:<42}{line.latin}\n" for line in lines
        )
        body += "\n"
    return "columns.txt", _text(plan, body)


def text_genus_headings(plan: Plan) -> Printed:
    body = ""
    for name, lines in _by_class(plan):
        body += f"{name.upper()}\n\n"
        for genus, items in _under_genera(lines):
            body += f"{genus}\n" + "".join(f"  - {item}\n" for item in items) + "\n"
    return "genera.txt", _text(plan, body)


def text_run_together(plan: Plan) -> Printed:
    body = "\n\n".join(
        _filled(
            f"{name}: " + "; ".join(_latin_common(line, authors=True) for line in lines) + ".",
            72,
            hyphens=True,
        )
        for name, lines in _by_class(plan)
    )
    return "prose.txt", _text(plan, body)


# PDF
# --------------------------------------------------------------------------------------------------


def _pdf(plan: Plan) -> FPDF:
    pdf = FPDF(format="letter")
    pdf.set_auto_page_break(True, 20)
    pdf.add_page()
    pdf.set_font("Times", "B", 14)
    pdf.multi_cell(0, 7, _latin1(plan.model.title), new_x="LMARGIN", new_y="NEXT")
    pdf.set_font("Times", "", 10)
    pdf.multi_cell(0, 5, _LEAD, new_x="LMARGIN", new_y="NEXT")
    return pdf


def _pdf_end(pdf: FPDF, plan: Plan) -> bytes:
    pdf.ln(6)
    pdf.set_font("Times", "B", 12)
    pdf.cell(0, 7, "Notes", new_x="LMARGIN", new_y="NEXT")
    pdf.set_font("Times", "", 10)
    for mention in plan.mentions:
        pdf.multi_cell(0, 5, _latin1(mention.sentence), new_x="LMARGIN", new_y="NEXT")
        pdf.ln(3)
    pdf.multi_cell(0, 5, f"{_EFFECTIVE} {plan.day}.", new_x="LMARGIN", new_y="NEXT")
    return bytes(pdf.output())


def _latin1(text: str) -> str:
    text = text.replace("’", "'").replace("–", "-").replace("—", "-")
    return text.encode("latin-1", "replace").decode("latin-1")


def pdf_list(plan: Plan) -> Printed:
    pdf = _pdf(plan)
    for name, lines in _by_class(plan):
        pdf.ln(4)
        pdf.set_font("Times", "B", 12)
        pdf.cell(0, 7, _latin1(name), new_x="LMARGIN", new_y="NEXT")
        for place, line in enumerate(lines, 1):
            pdf.set_font("Times", "", 10)
            pdf.cell(10, 5, f"{place}.")
            pdf.set_font("Times", "I", 10)
            pdf.write(5, _latin1(line.latin))
            pdf.set_font("Times", "", 10)
            pdf.write(5, _latin1(f" {line.common}"))
            pdf.ln(5)
    return "list.pdf", _pdf_end(pdf, plan)


def pdf_table(plan: Plan) -> Printed:
    pdf = _pdf(plan)
    for name, lines in _by_class(plan):
        pdf.ln(4)
        pdf.set_font("Times", "B", 12)
        pdf.cell(0, 7, _latin1(name), new_x="LMARGIN", new_y="NEXT")
        pdf.set_font("Times", "", 9)
        pdf.cell(80, 5, "Common name", border=1)
        pdf.cell(90, 5, "Scientific name", border=1, new_x="LMARGIN", new_y="NEXT")
        for line in lines:
            pdf.cell(80, 5, _latin1(line.common[:42]), border=1)
            pdf.cell(90, 5, _latin1(line.latin), border=1, new_x="LMARGIN", new_y="NEXT")
    return "table.pdf", _pdf_end(pdf, plan)


def pdf_wrapped(plan: Plan) -> Printed:
    pdf = _pdf(plan)
    pdf.set_font("Times", "", 10)
    for name, lines in _by_class(plan):
        pdf.ln(4)
        pdf.set_font("Times", "B", 11)
        pdf.cell(0, 6, _latin1(name), new_x="LMARGIN", new_y="NEXT")
        pdf.set_font("Times", "", 10)
        words = "; ".join(_common_latin(line) for line in lines) + "."
        for row in _filled(words, 58, hyphens=True).split("\n"):
            pdf.cell(0, 5, _latin1(row), new_x="LMARGIN", new_y="NEXT")
    return "wrapped.pdf", _pdf_end(pdf, plan)


# DOCX
# --------------------------------------------------------------------------------------------------


def _docx(plan: Plan, fill: Callable[["Document"], None]) -> bytes:  # type: ignore[valid-type]
    document = Document()
    document.add_heading(plan.model.title, 0)
    document.add_paragraph(_LEAD)
    fill(document)
    document.add_heading("Notes", 1)
    for mention in plan.mentions:
        document.add_paragraph(mention.sentence)
    document.add_paragraph(f"{_EFFECTIVE} {plan.day}.")
    stream = BytesIO()
    document.save(stream)
    return stream.getvalue()


def docx_list(plan: Plan) -> Printed:
    def fill(document) -> None:  # type: ignore[no-untyped-def]
        for name, lines in _by_class(plan):
            document.add_heading(name, 1)
            for line in lines:
                paragraph = document.add_paragraph(style="List Number")
                runs = [paragraph.add_run(line.latin), paragraph.add_run(f" {line.common}")]
                runs[0].italic = True
                runs[0].font.small_caps = True
                for run in runs if line.struck else ():
                    run.font.strike = True

    return "list.docx", _docx(plan, fill)


def docx_table(plan: Plan) -> Printed:
    def fill(document) -> None:  # type: ignore[no-untyped-def]
        for name, lines in _by_class(plan):
            paragraph = document.add_paragraph()
            paragraph.add_run(name).bold = True
            table = document.add_table(rows=1, cols=2)
            table.rows[0].cells[0].text, table.rows[0].cells[1].text = (
                "Botanical name",
                "Common name",
            )
            for line in lines:
                cells = table.add_row().cells
                cells[1].text = line.common
                run = cells[0].paragraphs[0].add_run(line.latin)
                run.font.strike = line.struck

    return "table.docx", _docx(plan, fill)


# RTF
# --------------------------------------------------------------------------------------------------


def _rtf(plan: Plan, body: str) -> bytes:
    prose = "".join(f"{_rtf_text(mention.sentence)}\\par\n" for mention in plan.mentions)
    return (
        "{\\rtf1\\ansi\\ansicpg1252\\deff0{\\fonttbl{\\f0 Times New Roman;}}\n"
        f"{{\\b\\caps {_rtf_text(plan.model.title)}}}\\par\n{_LEAD}\\par\n{body}"
        f"{{\\b NOTES}}\\par\n{prose}{_EFFECTIVE} {plan.day}.\\par\n}}"
    ).encode("ascii")


def _rtf_text(text: str) -> str:
    text = re.sub(r"([\\{}])", r"\\\1", text)
    return "".join(letter if ord(letter) < 128 else f"\\u{ord(letter)}?" for letter in text)


def rtf_list(plan: Plan) -> Printed:
    body = ""
    for name, lines in _by_class(plan):
        body += f"{{\\b {_rtf_text(name)}}}\\par\n"
        for place, line in enumerate(lines, 1):
            text = f"{{\\i\\scaps {_rtf_text(line.latin)}}} {_rtf_text(line.common)}"
            body += f"{place}. " + (f"{{\\strike {text}}}" if line.struck else text) + "\\par\n"
    return "list.rtf", _rtf(plan, body)


def rtf_table(plan: Plan) -> Printed:
    body = ""
    for name, lines in _by_class(plan):
        body += f"{{\\b {_rtf_text(name)}}}\\par\n"
        for line in lines:
            latin = _rtf_text(line.latin)
            latin = f"\\strike {latin}\\strike0 " if line.struck else latin
            body += (
                "\\trowd\\cellx4000\\cellx8000 "
                f"{_rtf_text(line.common)}\\intbl\\cell {latin}\\intbl\\cell\\row\n"
            )
        body += "\\pard\n"
    return "table.rtf", _rtf(plan, body)


# XML
# --------------------------------------------------------------------------------------------------


def xml_uslm(plan: Plan) -> Printed:
    """After the element names of United States Legislative Markup."""
    levels = ""
    for number, (name, lines) in enumerate(_by_class(plan), 1):
        items = "".join(
            f"<paragraph><num value='{place}'>({place})</num><content>"
            + (
                f"<del>{escape(_latin_common(line))}</del>"
                if line.struck
                else escape(_latin_common(line))
            )
            + ";</content></paragraph>"
            for place, line in enumerate(lines, 1)
        )
        levels += (
            f"<section><num value='{number}'>§ {number}.</num><heading>{escape(name)}</heading>"
            f"<chapeau>{_LEAD}</chapeau>{items}</section>"
        )
    notes = "".join(f"<p>{escape(mention.sentence)}</p>" for mention in plan.mentions)
    return (
        "law.xml",
        (
            "<?xml version='1.0' encoding='UTF-8'?><lawDoc xmlns='http://schemas.gpo.gov/xml/uslm'>"
            f"<main><title><heading>{escape(plan.model.title)}</heading>{levels}</title></main>"
            f"<notes><note><heading>Notes</heading>{notes}<p>{_EFFECTIVE} {plan.day}.</p></note></notes>"
            "</lawDoc>"
        ).encode(),
    )


def xml_state_code(plan: Plan) -> Printed:
    """Names of elements that nobody knows beforehand; deleted text by attribute."""
    parts = ""
    for name, lines in _by_class(plan):
        parts += f"<Subd><Catchline>{escape(name)}</Catchline>" + "".join(
            f"<Item{' status=' + chr(34) + 'deleted' + chr(34) if line.struck else ''}>"
            f"<Latin>{escape(line.latin)}</Latin> <Vernacular>{escape(line.common)}</Vernacular></Item>"
            for line in lines
        )
        parts += "</Subd>"
    notes = "".join(f"<Para>{escape(mention.sentence)}</Para>" for mention in plan.mentions)
    return (
        "code.xml",
        (
            f"<Code><Catchline>{escape(plan.model.title)}</Catchline><Para>{_LEAD}</Para>{parts}"
            f"<Subd><Catchline>Notes</Catchline>{notes}<Para>{_EFFECTIVE} {plan.day}.</Para></Subd></Code>"
        ).encode(),
    )


# Wording
# --------------------------------------------------------------------------------------------------


def _letter(place: int) -> str:
    letters = "abcdefghijklmnopqrstuvwxyz"
    return letters[place % 26] * (1 + place // 26)


def _under_genera(lines: Iterable[Line]) -> list[tuple[str, list[str]]]:
    """Lines under their genera, the genus abbreviated in each."""
    groups: dict[str, list[str]] = {}
    for line in lines:
        genus, _, rest = line.latin.partition(" ")
        common = f", {line.common}" if line.common else ""
        if not line.latin:
            groups.setdefault("Others", []).append(line.common)
        elif rest and rest not in ("spp.", "species"):
            groups.setdefault(genus, []).append(f"{genus[0]}. {rest}{common}")
        else:
            groups.setdefault(genus, []).append(f"{genus} spp.{common}")
    return list(groups.items())


def _filled(text: str, width: int, *, hyphens: bool = False) -> str:
    """Text in lines, long words broken with a hyphen where wanted, as a typesetter would."""
    rows, row = [], ""
    for word in text.split():
        room = width - len(row) - (1 if row else 0)
        if len(word) <= room:
            row = f"{row} {word}" if row else word
            continue
        cut = min(room - 1, len(word) - 3)
        if hyphens and cut >= 3 and word[: cut + 2].isalpha():
            rows.append(f"{row} {word[:cut]}-".strip())
            row = word[cut:]
        else:
            rows.append(row)
            row = word
    return "\n".join([*rows, row])


SHAPES: dict[str, Callable[[Plan], Printed]] = {
    shape.__name__: shape
    for shape in (
        html_numbered_list,
        html_table_with_headings,
        html_table_without_headings,
        html_class_column,
        html_struck,
        html_statute_prose,
        html_broken_lines,
        html_genus_headings,
        text_numbered,
        text_lettered_and_wrapped,
        text_capitals,
        text_columns,
        text_genus_headings,
        text_run_together,
        pdf_list,
        pdf_table,
        pdf_wrapped,
        docx_list,
        docx_table,
        rtf_list,
        rtf_table,
        xml_uslm,
        xml_state_code,
    )
}
STRIKING = frozenset(
    {
        "html_struck",
        "docx_list",
        "docx_table",
        "rtf_list",
        "rtf_table",
        "xml_uslm",
        "xml_state_code",
    }
)
"""Shapes that show struck-through text."""


def shuffled(seed: str, names: Iterable[str]) -> list[str]:
    found = sorted(names)
    random.Random(seed).shuffle(found)
    return found
