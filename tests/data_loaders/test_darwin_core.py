"""The descriptor of Darwin Core archives. Rules: Darwin Core text guide, TDWG."""

import zipfile
from pathlib import Path

import pytest

from data_loaders.archives import open_archive
from data_loaders.darwin_core import (
    Descriptor,
    cell_value,
    find_descriptor,
    read_descriptor,
    term_name,
)
from data_loaders.delimited import Dialect
from service.errors import BadFile

GUIDE_EXAMPLE = """<archive xmlns="http://rs.tdwg.org/dwc/text/">
  <core ignoreHeaderLines="1" rowType="http://rs.tdwg.org/dwc/xsd/simpledarwincore/SimpleDarwinRecord">
    <files><location>specimens.csv</location></files>
    <field index="0" term="http://rs.tdwg.org/dwc/terms/occurrenceID"/>
    <field index="1" term="http://rs.tdwg.org/dwc/terms/scientificName"/>
    <field index="2" term="http://rs.tdwg.org/dwc/terms/individualCount"/>
    <field term="http://rs.tdwg.org/dwc/terms/datasetID" default="urn:lsid:tim.lsid.tdwg.org:collections:1"/>
  </core>
</archive>"""
"""The simple example of the text guide (facts; written anew)."""


def descriptor(
    folder: Path, meta: str | bytes, names: tuple[str, ...] = ("specimens.csv",), at: str = ""
) -> Descriptor:
    path = folder / "archive.zip"
    with zipfile.ZipFile(path, "w") as out:
        out.writestr(f"{at}meta.xml", meta)
        for name in names:
            out.writestr(f"{at}{name}", "x\n")
    with open_archive(path) as archive:
        found = find_descriptor(archive)
        assert found is not None
        return read_descriptor(archive, found)


def test_the_guide_example_has_the_guide_defaults(tmp_path: Path) -> None:
    core = descriptor(tmp_path, GUIDE_EXAMPLE).core
    assert core.dialect == Dialect(",", '"', "\n", "UTF-8", header_lines=1)
    assert core.columns == {"occurrenceID": 0, "scientificName": 1, "individualCount": 2}
    assert core.defaults == {"datasetID": "urn:lsid:tim.lsid.tdwg.org:collections:1"}
    assert (core.locations, core.id_index) == (("specimens.csv",), None)


def test_every_attribute_is_honoured_and_extensions_are_kept_apart(tmp_path: Path) -> None:
    meta = """<archive xmlns="http://rs.tdwg.org/dwc/text/" metadata="eml.xml">
      <core encoding="ISO-8859-1" fieldsTerminatedBy="\\t" linesTerminatedBy="\\r\\n" fieldsEnclosedBy=""
            ignoreHeaderLines="2" rowType="http://rs.tdwg.org/dwc/terms/Occurrence">
        <files><location>a.txt</location><location>b.txt</location></files>
        <id index="3"/>
        <field index="0" term="http://rs.tdwg.org/dwc/terms/country" default="US"/>
        <field index="1" term="http://purl.org/dc/terms/license" vocabulary="http://example.org/licences"/>
      </core>
      <extension rowType="http://rs.gbif.org/terms/1.0/Multimedia" fieldsTerminatedBy=";">
        <files><location>c.txt</location></files><coreid index="0"/>
        <field index="1" term="http://purl.org/dc/terms/title"/>
      </extension>
    </archive>"""
    found = descriptor(tmp_path, meta, ("a.txt", "b.txt", "c.txt", "eml.xml"))
    assert found.metadata == "eml.xml"
    assert found.core.row_type == "Occurrence"
    assert found.core.locations == ("a.txt", "b.txt")
    assert found.core.dialect == Dialect("\t", "", "\n", "ISO-8859-1", header_lines=2)
    assert found.core.id_index == 3
    assert (found.core.columns, found.core.defaults) == (
        {"country": 0, "license": 1},
        {"country": "US"},
    )
    (extension,) = found.extensions
    assert (extension.row_type, extension.id_index, extension.dialect.delimiter) == (
        "Multimedia",
        0,
        ";",
    )


def test_an_archive_in_one_folder_is_found_and_its_locations_are_relative(tmp_path: Path) -> None:
    core = descriptor(tmp_path, GUIDE_EXAMPLE, at="dwca-1.2/").core
    assert core.locations == ("dwca-1.2/specimens.csv",)


@pytest.mark.parametrize(
    ("change", "message"),
    [
        (("<archive", "<package"), "not well-formed"),
        (("rowType", "kind"), "states no rowType"),
        (('index="0"', 'index="-1"'), "not a column number"),
        (('index="0"', 'index="99999999999"'), "not a column number"),
        (("specimens.csv", "missing.csv"), "does not hold"),
        (("specimens.csv", "../specimens.csv"), "does not hold"),
        (("specimens.csv", "http://example.org/specimens.csv"), "outside the archive"),
        (('ignoreHeaderLines="1"', 'ignoreHeaderLines="one"'), "ignoreHeaderLines"),
        (("<core ", '<core fieldsEnclosedBy="quote" '), "one letter is expected"),
        (("<core ", '<core fieldsTerminatedBy="" '), "is empty"),
        (('term="http://rs.tdwg.org/dwc/terms/occurrenceID"', ""), "field without a term"),
    ],
)
def test_a_broken_descriptor_is_refused_with_the_reason(
    tmp_path: Path, change: tuple[str, str], message: str
) -> None:
    with pytest.raises(BadFile, match=message):
        descriptor(tmp_path, GUIDE_EXAMPLE.replace(*change))


LAUGHS = """<?xml version="1.0"?><!DOCTYPE archive [<!ENTITY a "ha"><!ENTITY b "&a;&a;&a;&a;&a;&a;&a;&a;&a;&a;">
<!ENTITY c "&b;&b;&b;&b;&b;&b;&b;&b;&b;&b;">]><archive>&c;</archive>"""
OUTSIDE = """<?xml version="1.0"?><!DOCTYPE archive [<!ENTITY a SYSTEM "file:///etc/passwd">]><archive>&a;</archive>"""
DECLARED = (
    """<?xml version="1.0"?><!DOCTYPE archive SYSTEM "http://example.org/archive.dtd"><archive/>"""
)


@pytest.mark.parametrize(
    "meta", [LAUGHS, OUTSIDE, DECLARED], ids=["entities", "outside entity", "outside type"]
)
def test_entity_attacks_are_refused(tmp_path: Path, meta: str) -> None:
    with pytest.raises(BadFile, match="declares entities or a document type"):
        descriptor(tmp_path, meta)


def test_a_descriptor_in_another_encoding_is_read(tmp_path: Path) -> None:
    meta = '<?xml version="1.0" encoding="UTF-16"?>' + GUIDE_EXAMPLE
    assert descriptor(tmp_path, meta.encode("utf-16")).core.locations == ("specimens.csv",)


def test_terms_are_known_by_the_last_part_of_their_name() -> None:
    for written in (
        "year",
        "dwc:year",
        "http://rs.tdwg.org/dwc/terms/year",
        "http://example.org/terms#year",
    ):
        assert term_name(written) == "year"


def test_the_null_mark_of_database_dumps_is_empty() -> None:
    assert [cell_value(cell) for cell in ("\\N", " x ", "", "N")] == ["", "x", "", "N"]
