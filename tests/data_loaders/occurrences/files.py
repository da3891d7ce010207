"""Invented occurrence records, written in every form that the loader reads."""

import csv
import gzip
import io
import zipfile
from collections.abc import Callable, Sequence
from pathlib import Path

import duckdb

Cells = dict[str, str]
"""Darwin Core term to value."""


def record(number: int, **cells: str) -> Cells:
    """A good record, with the given cells changed."""
    good = {
        "gbifID": str(9_000_000 + number),
        "datasetKey": "11111111-aaaa-4000-8000-000000000001",
        "occurrenceID": f"https://records.example.org/{number}",
        "scientificName": "Nymphaea odorata Aiton",
        "species": "Nymphaea odorata",
        "verbatimScientificName": "Nymphaea odorata",
        "countryCode": "US",
        "geodeticDatum": "",
        "occurrenceStatus": "PRESENT",
        "individualCount": "",
        "decimalLatitude": f"{41 + number % 100 / 1000}",
        "decimalLongitude": f"{-83 - number % 77 / 1000}",
        "coordinateUncertaintyInMeters": "25.5",
        "eventDate": "2021-07-04",
        "year": "2021",
        "basisOfRecord": "HUMAN_OBSERVATION",
        "license": "CC_BY_4_0",
        "establishmentMeans": "",
        "degreeOfEstablishment": "",
        "issue": "COORDINATE_ROUNDED",
    }
    return good | cells


def tsv_text(records: Sequence[Cells], *, end: str = "\n") -> str:
    """As a download is: tabs, nothing quoted."""
    header = list(records[0])
    lines = ["\t".join(header), *("\t".join(cells[term] for term in header) for cells in records)]
    return "".join(line + end for line in lines)


def csv_text(records: Sequence[Cells], *, delimiter: str = ",") -> str:
    """Every cell quoted."""
    out = io.StringIO(newline="")
    writer = csv.DictWriter(
        out, list(records[0]), delimiter=delimiter, quoting=csv.QUOTE_ALL, lineterminator="\r\n"
    )
    writer.writeheader()
    writer.writerows(records)
    return out.getvalue()


def write_tsv(path: Path, records: Sequence[Cells]) -> Path:
    path.write_text(tsv_text(records), encoding="utf-8", newline="")
    return path


def write_crlf_tsv(path: Path, records: Sequence[Cells]) -> Path:
    path.write_text(tsv_text(records, end="\r\n"), encoding="utf-8", newline="")
    return path


def write_csv(path: Path, records: Sequence[Cells]) -> Path:
    path.write_text(csv_text(records), encoding="utf-8-sig", newline="")
    return path


def write_semicolons(path: Path, records: Sequence[Cells]) -> Path:
    path.write_text(csv_text(records, delimiter=";"), encoding="utf-8", newline="")
    return path


def write_lower_case_tsv(path: Path, records: Sequence[Cells]) -> Path:
    return write_tsv(
        path, [{term.lower(): value for term, value in cells.items()} for cells in records]
    )


def write_utf16(path: Path, records: Sequence[Cells]) -> Path:
    path.write_text(tsv_text(records), encoding="utf-16", newline="")
    return path


def write_gzip(path: Path, records: Sequence[Cells]) -> Path:
    path.write_bytes(gzip.compress(tsv_text(records).encode(), mtime=0))
    return path


def write_zip(path: Path, records: Sequence[Cells]) -> Path:
    with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as out:
        out.writestr("0012345-250101000000000.csv", tsv_text(records))
    return path


def write_parquet(path: Path, records: Sequence[Cells]) -> Path:
    """With the types that a Parquet download has: numbers as numbers, issues as a list."""
    table = write_tsv(path.with_suffix(".tmp"), records)
    numbers = {"decimalLatitude", "decimalLongitude", "coordinateUncertaintyInMeters"}
    plain = all(_is_number(cells.get(term, "")) for cells in records for term in numbers)
    columns = []
    for term in records[0]:
        if term == "issue":
            columns.append("string_split(coalesce(issue, ''), ';') AS issue")
        elif term == "gbifID" or (term in numbers and plain):
            columns.append(
                f'CAST("{term}" AS {"BIGINT" if term == "gbifID" else "DOUBLE"}) AS "{term}"'
            )
        else:
            columns.append(f'"{term}"')
    with duckdb.connect() as database:
        database.execute(
            f"COPY (SELECT {', '.join(columns)} FROM read_csv('{table}', delim = '\t', quote = '', all_varchar = true))"
            f" TO '{path}' (FORMAT parquet)"
        )
    table.unlink()
    return path


def _is_number(cell: str) -> bool:
    try:
        float(cell or "0")
    except ValueError:
        return False
    return "_" not in cell and cell.strip() == cell


META = """<archive xmlns="http://rs.tdwg.org/dwc/text/" metadata="metadata.xml">
  <core encoding="{encoding}" fieldsTerminatedBy="{delimiter}" linesTerminatedBy="\\n" fieldsEnclosedBy="{quote}"
        ignoreHeaderLines="{header}" rowType="http://rs.tdwg.org/dwc/terms/Occurrence">
    <files>{locations}</files>
    <id index="0"/>
    {fields}
  </core>
  <extension encoding="UTF-8" fieldsTerminatedBy="\\t" rowType="http://rs.gbif.org/terms/1.0/Multimedia">
    <files><location>multimedia.txt</location></files>
    <coreid index="0"/>
    <field index="1" term="http://purl.org/dc/terms/title"/>
  </extension>
</archive>"""

EML = """<eml:eml xmlns:eml="https://eml.ecoinformatics.org/eml-2.2.0" packageId="invented-archive/v1">
  <dataset>
    <title>Water plants of an invented county</title>
    <intellectualRights><para>Under <ulink url="http://creativecommons.org/licenses/by/4.0/legalcode">
      <citetitle>CC BY 4.0</citetitle></ulink>.</para></intellectualRights>
  </dataset>
  <additionalMetadata><metadata><gbif><citation>Invented Recorders (2021). Water plants of an invented county.</citation>
  </gbif></metadata></additionalMetadata>
</eml:eml>"""


def write_archive(
    path: Path,
    records: Sequence[Cells],
    *,
    delimiter: str = "\\t",
    quote: str = "",
    encoding: str = "UTF-8",
    header_lines: int = 1,
    parts: int = 1,
    constants: Cells | None = None,
    defaults: Cells | None = None,
    folder: str = "",
    datasets: dict[str, str] | None = None,
) -> Path:
    """A Darwin Core archive: the core in ``parts`` files, an extension to be ignored, metadata."""
    constants, defaults = constants or {}, defaults or {}
    terms = [term for term in records[0] if term not in constants]
    fields = [
        f'<field index="{place}" term="http://rs.tdwg.org/dwc/terms/{term}"'
        + (f' default="{defaults[term]}"' if term in defaults else "")
        + "/>"
        for place, term in enumerate(terms)
    ]
    fields += [
        f'<field term="http://rs.tdwg.org/dwc/terms/{term}" default="{value}"/>'
        for term, value in constants.items()
    ]
    joint = delimiter.replace("\\t", "\t")
    names = [f"occurrence-{place}.txt" for place in range(parts)]
    with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as out:
        out.writestr(
            f"{folder}meta.xml",
            META.format(
                encoding=encoding,
                delimiter=delimiter,
                quote=quote.replace('"', "&quot;"),
                header=header_lines,
                locations="".join(f"<location>{name}</location>" for name in names),
                fields="\n    ".join(fields),
            ),
        )
        out.writestr(f"{folder}metadata.xml", EML)
        out.writestr(f"{folder}multimedia.txt", "1\ta picture\n")
        for key, text in (datasets or {}).items():
            out.writestr(f"{folder}dataset/{key}.xml", text)
        for place, name in enumerate(names):
            lines = [joint.join(terms)] * header_lines
            for cells in records[place::parts]:
                lines.append(joint.join(_quoted(cells[term], quote) for term in terms))
            out.writestr(f"{folder}{name}", "".join(line + "\n" for line in lines).encode(encoding))
    return path


def _quoted(cell: str, quote: str) -> str:
    return f"{quote}{cell.replace(quote, quote * 2)}{quote}" if quote else cell


EVENT_META = """<archive xmlns="http://rs.tdwg.org/dwc/text/">
  <core rowType="http://rs.tdwg.org/dwc/terms/Event" fieldsTerminatedBy="\\t" fieldsEnclosedBy=""
        linesTerminatedBy="\\n" ignoreHeaderLines="1" encoding="UTF-8">
    <files><location>event.txt</location></files>
    <id index="0"/>
    <field index="1" term="http://rs.tdwg.org/dwc/terms/parentEventID"/>
    <field index="2" term="http://rs.tdwg.org/dwc/terms/eventDate"/>
    <field index="3" term="http://rs.tdwg.org/dwc/terms/decimalLatitude"/>
    <field index="4" term="http://rs.tdwg.org/dwc/terms/decimalLongitude"/>
    <field term="http://rs.tdwg.org/dwc/terms/countryCode" default="US"/>
  </core>
  <extension rowType="http://rs.tdwg.org/dwc/terms/Occurrence" fieldsTerminatedBy="\\t"
        fieldsEnclosedBy="" linesTerminatedBy="\\n" ignoreHeaderLines="1" encoding="UTF-8">
    <files><location>occurrence.txt</location></files>
    <coreid index="0"/>
    <field index="1" term="http://rs.tdwg.org/dwc/terms/occurrenceID"/>
    <field index="2" term="http://rs.tdwg.org/dwc/terms/scientificName"/>
    <field index="3" term="http://rs.tdwg.org/dwc/terms/eventDate"/>
  </extension>
</archive>"""


def write_events(path: Path) -> Path:
    """An archive of events, three deep, with an extension of four records."""
    with zipfile.ZipFile(path, "w") as out:
        out.writestr("meta.xml", EVENT_META)
        out.writestr(
            "event.txt",
            "id\tparent\tdate\tlat\tlon\n"
            "survey\t\t2019\t\t\n"
            "site-1\tsurvey\t\t41.25\t-83.5\n"
            "plot-1\tsite-1\t2020-07-01\t\t\n"
            "plot-2\tsite-1\t\t\t\n",
        )
        out.writestr(
            "occurrence.txt",
            "core\tid\tname\tdate\n"
            "plot-1\to1\tNymphaea odorata\t\n"
            "plot-2\to2\tTypha latifolia\t\n"
            "plot-2\to3\tTypha latifolia\t2021-08-02\n"
            "nowhere\to4\tTypha latifolia\t2021\n",
        )
    return path


FORMS: dict[str, Callable[[Path, Sequence[Cells]], Path]] = {
    "download.tsv": write_tsv,
    "download-crlf.tsv": write_crlf_tsv,
    "download.csv": write_csv,
    "download-semicolons.csv": write_semicolons,
    "download-lower-case.tsv": write_lower_case_tsv,
    "download-utf16.tsv": write_utf16,
    "download.tsv.gz": write_gzip,
    "download.zip": write_zip,
    "download.parquet": write_parquet,
    "archive.zip": write_archive,
    "archive-quoted.zip": lambda path, records: write_archive(
        path, records, delimiter=",", quote='"'
    ),
    "archive-of-parts.zip": lambda path, records: write_archive(
        path, records, parts=3, header_lines=0
    ),
    "archive-in-folder.zip": lambda path, records: write_archive(path, records, folder="dwca/"),
    "archive-latin1.zip": lambda path, records: write_archive(path, records, encoding="ISO-8859-1"),
    "archive-long-delimiter.zip": lambda path, records: write_archive(
        path, records, delimiter="|-|", quote='"'
    ),
}
"""File name to what writes it."""
