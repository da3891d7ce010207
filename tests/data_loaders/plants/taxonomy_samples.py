"""Small taxon tables in the shapes of the large backbones.

Genus Foobaria and its species are invented.
"""

import zipfile
from pathlib import Path

WFO_HEADER = (
    "taxonID,scientificNameID,localID,scientificName,taxonRank,parentNameUsageID,scientificNameAuthorship,family,genus,"
    "specificEpithet,taxonomicStatus,acceptedNameUsageID,nomenclaturalStatus,source"
)
ROWS = (
    ("wfo-0000000001", "Foobaria", "genus", "", "Inv.", "Accepted", ""),
    ("wfo-0000000002", "Foobaria limosa", "species", "wfo-0000000001", "Inv.", "Accepted", ""),
    (
        "wfo-0000000003",
        "Foobaria palustris",
        "species",
        "wfo-0000000001",
        "(Inv.) Nemo",
        "Synonym",
        "wfo-0000000004",
    ),
    (
        "wfo-0000000004",
        "Foobaria lacustris",
        "species",
        "wfo-0000000001",
        "Nemo",
        "Synonym",
        "wfo-0000000002",
    ),
    (
        "wfo-0000000005",
        "Foobaria perdita",
        "species",
        "wfo-0000000001",
        "Nemo",
        "Synonym",
        "wfo-0000000099",
    ),
    ("wfo-0000000006", "Foobaria dubia", "species", "wfo-0000000001", "Nemo", "Unchecked", ""),
    ("wfo-0000000006", "Foobaria iterata", "species", "wfo-0000000001", "Nemo", "Accepted", ""),
    ("wfo-0000000007", "Foobariales", "order", "", "", "Accepted", ""),
    ("wfo-0000000008", "Foobaria homonyma", "species", "wfo-0000000001", "Nemo", "Accepted", ""),
    (
        "wfo-0000000009",
        "Foobaria homonyma",
        "species",
        "wfo-0000000001",
        "Nullus",
        "Synonym",
        "wfo-0000000002",
    ),
    ("wfo-0000000010", "Foobaria × hybrida", "species", "wfo-0000000001", "Nemo", "Accepted", ""),
    (
        "wfo-0000000011",
        "Foobaria limosa subsp. minor",
        "subspecies",
        "wfo-0000000002",
        "Nemo",
        "Accepted",
        "",
    ),
    ("wfo-0000000012", "Foobaria rotans", "species", "", "Nemo", "Synonym", "wfo-0000000013"),
    ("wfo-0000000013", "Foobaria circularis", "species", "", "Nemo", "Synonym", "wfo-0000000012"),
    # Names of the built-in catalogue, placed as some taxonomies place them.
    ("wfo-0000000020", "Eichhornia crassipes", "species", "", "(Mart.) Solms", "Accepted", ""),
    ("wfo-0000000021", "Pontederia crassipes", "species", "", "Mart.", "Synonym", "wfo-0000000020"),
    ("wfo-0000000022", "Eichhornia speciosa", "species", "", "Kunth", "Synonym", "wfo-0000000020"),
    ("wfo-0000000023", "Foobaria aquatica", "species", "", "Nemo", "Synonym", "wfo-0000000020"),
    ("wfo-0000000024", "Sagittaria natans", "species", "", "Pall.", "Accepted", ""),
    (
        "wfo-0000000025",
        "Acorus americanus",
        "species",
        "",
        "(Raf.) Raf.",
        "Synonym",
        "wfo-0000000026",
    ),
    ("wfo-0000000026", "Acorus calamus", "species", "", "L.", "Accepted", ""),
)


def wfo_csv(path: Path, *, delimiter: str = ",") -> Path:
    """``classification.csv`` of the World Flora Online backbone, comma or tab."""
    lines = [WFO_HEADER.replace(",", delimiter)]
    for taxon, name, rank, parent, authorship, status, accepted in ROWS:
        genus, _, epithet = name.partition(" ")
        cells = [
            taxon,
            "",
            "",
            name,
            rank,
            parent,
            authorship,
            "",
            genus,
            epithet,
            status,
            accepted,
            "",
            "invented",
        ]
        lines.append(delimiter.join(cells))
    path.write_text("\n".join(lines) + "\n", encoding="utf-8")
    return path


def gbif_tsv(path: Path) -> Path:
    """``Taxon.tsv`` of a backbone that gives the authorship in the name as well, and lower-case
    statuses.
    """
    lines = [
        "taxonID\tparentNameUsageID\tacceptedNameUsageID\tscientificName\tscientificNameAuthorship\ttaxonRank\ttaxonomicStatus\tkingdom"
    ]
    for taxon, name, rank, parent, authorship, status, accepted in ROWS:
        word = {"Accepted": "accepted", "Synonym": "heterotypic synonym", "Unchecked": "doubtful"}[
            status
        ]
        lines.append(
            "\t".join(
                (
                    taxon,
                    parent,
                    accepted,
                    f"{name} {authorship}".strip(),
                    authorship,
                    rank,
                    word,
                    "Plantae",
                )
            )
        )
    lines.append("x1\t\t\tFoobaria animalis Nemo\tNemo\tspecies\taccepted\tAnimalia")
    lines.append("x2\t\t\tFoobaria aliena Nemo\tNemo\tspecies\tmisapplied\tPlantae")
    path.write_text("\n".join(lines) + "\n", encoding="utf-8")
    return path


def col_tsv(path: Path) -> Path:
    """``NameUsage.tsv`` of the Catalogue of Life Data Package: prefixed headings, a synonym's
    parent is its accepted name.
    """
    lines = ["col:ID\tcol:parentID\tcol:status\tcol:scientificName\tcol:authorship\tcol:rank"]
    for taxon, name, rank, parent, authorship, status, accepted in ROWS:
        word = {"Accepted": "accepted", "Synonym": "synonym", "Unchecked": "bare name"}[status]
        lines.append(
            "\t".join(
                (taxon, accepted if status == "Synonym" else parent, word, name, authorship, rank)
            )
        )
    path.write_text("\n".join(lines) + "\n", encoding="utf-8")
    return path


META = """<?xml version="1.0" encoding="UTF-8"?>
<archive xmlns="http://rs.tdwg.org/dwc/text/" metadata="eml.xml">
  <core encoding="UTF-8" fieldsTerminatedBy="\\t" linesTerminatedBy="\\n" fieldsEnclosedBy="" ignoreHeaderLines="0"
        rowType="http://rs.tdwg.org/dwc/terms/Taxon">
    <files><location>taxa.txt</location></files>
    <id index="0"/>
    <field index="1" term="http://rs.tdwg.org/dwc/terms/scientificName"/>
    <field index="2" term="http://rs.tdwg.org/dwc/terms/taxonRank"/>
    <field index="3" term="http://rs.tdwg.org/dwc/terms/parentNameUsageID"/>
    <field index="4" term="http://rs.tdwg.org/dwc/terms/scientificNameAuthorship"/>
    <field index="5" term="http://rs.tdwg.org/dwc/terms/taxonomicStatus"/>
    <field index="6" term="http://rs.tdwg.org/dwc/terms/acceptedNameUsageID"/>
    <field default="Plantae" term="http://rs.tdwg.org/dwc/terms/kingdom"/>
  </core>
  <extension rowType="http://rs.gbif.org/terms/1.0/Distribution" fieldsTerminatedBy="\\t">
    <files><location>taxa.txt</location></files><coreid index="0"/>
  </extension>
</archive>
"""
EML = """<?xml version="1.0"?>
<eml:eml xmlns:eml="https://eml.ecoinformatics.org/eml-2.2.0"><dataset>
  <title>Invented   backbone</title><pubDate>2026-01-31</pubDate>
  <intellectualRights><para>CC0 1.0</para></intellectualRights>
</dataset></eml:eml>
"""


def archive(
    path: Path, *, meta: str = META, eml: str = EML, extra: dict[str, str] | None = None
) -> Path:
    """A Darwin Core archive without a heading row in its table."""
    table = "".join("\t".join(row) + "\n" for row in ROWS)
    with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as zipped:
        zipped.writestr("meta.xml", meta)
        zipped.writestr("eml.xml", eml)
        zipped.writestr("taxa.txt", table)
        for name, content in (extra or {}).items():
            zipped.writestr(name, content)
    return path
