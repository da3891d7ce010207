"""The printable report: whole in itself, every citation leads both ways, hostile text stays
text, the same answer the same bytes.
"""

import re
from dataclasses import replace
from html.parser import HTMLParser

import pytest

from service.checks.plan.values import PlanAnswer
from service.containment import IslandSection
from service.output.html.client_views import askings, headline, plant_groups
from service.output.html.report import plan_report, report_of, report_policy, report_style
from service.output.html.report_views import law_rows, permit_rows, shared_cautions, tally
from service.output.html.templating import Citing, Isolator, turns
from service.output.maps import map_box
from service.store.geography import states_in_box
from tests.service.demo_stores import demo_library
from tests.service.output.plans import POINT, answer_of, demo_answer, demo_report

HOSTILE = "<script>alert(1)</script> \"&' </style><img src=x onerror=alert(2)>"
VOID = {"meta", "link", "br", "img", "input", "hr"}


class Document(HTMLParser):
    """Ids, links and tags of an HTML text; notes a tag that is closed out of turn."""

    def __init__(self, text: str) -> None:
        super().__init__()
        self.ids: list[str] = []
        self.links: list[str] = []
        self.tags: list[str] = []
        self.attributes: list[tuple[str, str]] = []
        self.crossed: list[str] = []
        self._open: list[str] = []
        self.words: list[str] = []
        self.feed(text)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append(tag)
        given = {name: value or "" for name, value in attrs}
        self.attributes += given.items()
        self.ids += [given["id"]] if "id" in given else []
        self.links += [given["href"]] if tag == "a" and "href" in given else []
        if tag not in VOID:
            self._open.append(tag)

    def handle_startendtag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.handle_starttag(tag, attrs)
        if tag not in VOID:
            self._open.pop()

    def handle_endtag(self, tag: str) -> None:
        if self._open and self._open[-1] == tag:
            self._open.pop()
        else:
            self.crossed.append(tag)

    def handle_data(self, data: str) -> None:
        if self._open and self._open[-1] != "style":
            self.words.append(data)

    @property
    def text(self) -> str:
        return " ".join(" ".join(self.words).split())


@pytest.fixture(scope="module")
def demo() -> PlanAnswer:
    return demo_answer()


@pytest.fixture(scope="module")
def document() -> Document:
    return Document(demo_report())


def test_the_report_is_well_formed_with_each_id_once(document: Document) -> None:
    assert document.crossed == []
    assert len(document.ids) == len(set(document.ids))


def test_the_report_needs_no_network_and_no_script(document: Document) -> None:
    assert "script" not in document.tags
    assert not {"link", "iframe", "img", "object"} & set(document.tags)
    assert [name for name, _ in document.attributes if name.startswith("on")] == []
    assert [value for name, value in document.attributes if name in ("src", "srcset", "data")] == []
    assert not re.search(r"url\((?!#)", demo_report())


def test_every_link_within_the_report_leads_somewhere(document: Document) -> None:
    inner = [link.removeprefix("#") for link in document.links if link.startswith("#")]
    assert inner
    assert set(inner) <= set(document.ids)


def test_every_source_is_cited_and_leads_back_to_every_place_that_cites_it(
    demo: PlanAnswer, document: Document
) -> None:
    marks = {place for place in document.ids if place.startswith("cite-")}
    assert {f"#{mark}" for mark in marks} == {
        link for link in document.links if link.startswith("#cite-")
    }
    for source in demo.sources:
        assert f"cite-{source.number}-1" in marks, source.title
        assert document.links.count(f"#source-{source.number}") == sum(
            mark.startswith(f"cite-{source.number}-") for mark in marks
        )


def test_citing_hands_out_marks_in_order_and_knows_their_places() -> None:
    citing = Citing()
    assert citing.mark(()) == ""
    assert 'id="cite-7-1"' in citing.mark((7, 2, 7))
    assert 'id="cite-7-2"' in citing.mark(7)
    assert citing.places(7) == ("cite-7-1", "cite-7-2")
    assert citing.places(3) == ()


def test_the_same_answer_gives_the_same_bytes(demo: PlanAnswer) -> None:
    assert report_of(demo_library(), demo) == demo_report()


def test_hostile_text_stays_text() -> None:
    answer = answer_of(
        {
            "title": HOSTILE,
            "prepared_for": HOSTILE,
            "prepared_by": HOSTILE,
            "note": HOSTILE,
            "site": {"geometry": POINT},
            "places": [{"name": HOSTILE, "kind": "pond", "geometry": POINT, "outlet": True}],
            "plantings": [
                {"label": HOSTILE, "place": HOSTILE},
                {"label": f"Iris pseudacorus {HOSTILE}", "place": HOSTILE},
            ],
            HOSTILE: 1,
        }
    )
    text = report_of(demo_library(), answer)
    document = Document(text)
    assert "<script>" not in text
    assert "img" not in document.tags
    assert document.crossed == []
    assert [name for name, _ in document.attributes if name.startswith("on")] == []
    assert "<script>alert(1)</script>" in document.text


def test_an_address_that_is_no_web_address_is_not_linked(demo: PlanAnswer) -> None:
    first = replace(demo.sources[0], url="javascript:alert(1)")
    text = plan_report(replace(demo, sources=(first, *demo.sources[1:])))
    assert "javascript:" not in "".join(Document(text).links)


def test_the_policy_names_the_hash_of_the_style_that_stands_in_the_report() -> None:
    assert f"<style>{report_style()}</style>" in demo_report()
    assert re.fullmatch(
        r"default-src 'none'; style-src 'sha256-[A-Za-z0-9+/]{43}='; base-uri 'none'; form-action 'none'",
        report_policy(),
    )
    assert report_policy().replace("'", "&#39;") in demo_report()


def test_the_style_has_no_hue_that_carries_meaning_alone() -> None:
    for colour in set(re.findall(r"#[0-9a-f]{6}|#[0-9a-f]{3}\b", report_style())):
        digits = colour[1:] if len(colour) == 7 else "".join(2 * digit for digit in colour[1:])
        red, green, blue = (int(digits[at : at + 2], 16) for at in (0, 2, 4))
        assert red <= green <= blue, f"{colour} is not one of the blue greys"


def test_every_outcome_and_doubt_is_said_in_words(demo: PlanAnswer, document: Document) -> None:
    assert tally(demo) in document.text
    for words in (
        "Prohibited",
        "unverified",
        "not confirmed",
        "Hold back",
        "With care",
        "No legal advice",
        "What this report is not",
        "Can spread from here",
    ):
        assert words in document.text, words
    for decision in demo.decisions:
        assert decision.title in document.text
    for problem in demo.problems:
        assert problem.detail in document.text


def test_harms_stand_beside_the_chance_with_their_source(
    demo: PlanAnswer, document: Document
) -> None:
    told = [harm for planting in demo.plantings for harm in planting.harms]
    assert told
    for harm in told:
        assert harm.text in document.text
        assert harm.known.source in document.text
        assert harm.verified or f"(unverified, {harm.known.source})" in document.text


def test_a_native_is_not_said_to_spread_from_here(demo: PlanAnswer, document: Document) -> None:
    loose = [
        planting
        for planting in demo.plantings
        if planting.worst_containment is not None
        and planting.worst_containment.verdict == "nothing-holds"
    ]
    foreign = [planting for planting in loose if not planting.native]
    assert document.text.count("Can spread from here") == 2 * len(foreign)  # table and own part
    assert document.text.count("Native here: not kept in") == 2 * (len(loose) - len(foreign))


def test_no_sentence_of_the_report_gives_leave(document: Document) -> None:
    assert not re.search(r"\b(is|are) (legal|safe|allowed|permitted)\b", document.text)


def test_every_planting_has_its_part_with_its_waters_and_chances(
    demo: PlanAnswer, document: Document
) -> None:
    for planting in demo.plantings:
        assert f"planting-{planting.number}" in document.ids
    lake = next(water for water in demo.plantings[0].escape.waters if water.name)  # type: ignore[union-attr]
    assert lake.name in document.text


def test_findings_that_agree_stand_in_one_row(demo: PlanAnswer) -> None:
    for planting in demo.plantings:
        rows = law_rows(planting)
        assert sum(len(row.acts) for row in rows) == len(planting.findings)
        assert len(
            {
                (
                    row.role,
                    row.finding.jurisdiction,
                    row.finding.outcome,
                    row.finding.verified,
                    row.sources,
                )
                for row in rows
            }
        ) == len(rows)


def test_a_caution_of_the_work_is_said_once(demo: PlanAnswer) -> None:
    texts = [caution.text for caution in shared_cautions(demo)]
    assert len(texts) == len(set(texts))
    assert not set(texts) & set(demo.cautions)


def test_a_plan_without_a_place_is_a_report_all_the_same() -> None:
    answer = answer_of(
        {"site": {"state": "US-OH"}, "plantings": ["Yellow flag iris", "a plant nobody knows"]}
    )
    document = Document(plan_report(answer))
    assert "No map: the plan gives no position." in document.text
    assert "Not worked out" in document.text
    assert document.crossed == []


def test_a_plan_without_a_state_says_that_no_law_was_looked_up() -> None:
    document = Document(
        plan_report(
            answer_of({"site": {"hardiness_zone": "6b"}, "plantings": ["Yellow flag iris"]})
        )
    )
    assert "No law was looked up: the state is not known." in document.text


def test_the_map_shows_the_state_line_where_it_is_near(demo: PlanAnswer) -> None:
    box = map_box(demo)
    assert box is not None
    with_line = plan_report(demo, states=states_in_box(demo_library().build.connection, box))
    assert "MICHIGAN" in with_line
    assert "Dashes and dots: the state line." in with_line
    assert "MICHIGAN" not in plan_report(demo)


def test_a_section_that_two_plantings_share_is_drawn_once() -> None:
    pot = {
        "label": "Iris versicolor",
        "place": "Pond",
        "holding": "foam-island",
        "soil": "gravel",
        "container_volume_l": 3,
    }
    island = {
        "island_length_m": 2,
        "island_width_m": 1,
        "foam": "xps-iv",
        "pot_diameter_cm": 18,
        "pot_base_diameter_cm": 15,
        "pot_height_cm": 16,
        "plant_mass_kg": 1,
    }
    place = {
        "name": "Pond",
        "kind": "pond",
        "area_m2": 200,
        "depth_cm": 90,
        "flow": "still",
        "outlet": True,
        "bank_contact": True,
    }
    pot = {**pot, "count": 8, "containment": ["foam-island"], "design": island}
    answer = answer_of({"site": {"geometry": POINT}, "places": [place], "plantings": [pot, pot]})
    assert any(
        isinstance(measure.section, IslandSection)
        for measure in answer.plantings[0].containment[0].measures
    )
    text = plan_report(answer)
    assert text.count("Section across the island") == 1
    assert "Drawn above" in text


def test_the_client_s_part_says_each_planting_once_under_its_verdict(demo: PlanAnswer) -> None:
    groups = plant_groups(demo, {})
    shown = [row.planting.number for group in groups for row in group.rows]
    assert sorted(shown) == [planting.number for planting in demo.plantings]
    assert [group.verdict for group in groups] == sorted(
        {planting.verdict for planting in demo.plantings},
        key=("hold-back", "with-care", "nothing-against").index,
    )
    for group in groups:
        assert f"{len(group.rows)} " in headline(demo)
        assert {row.planting.verdict for row in group.rows} == {group.verdict}


def test_the_brief_report_is_the_client_s_part_alone_and_leads_nowhere() -> None:
    text = report_of(demo_library(), demo_answer(), brief=True)
    brief = Document(text)
    assert brief.crossed == []
    assert {"decide", "groups", "map", "shopping", "ask"} <= set(brief.ids)
    assert not {"table", "plants", "sources", "workings"} & set(brief.ids)
    assert [link for link in brief.links if link not in ("#decide",)] == []
    assert 'class="cite"' not in text
    assert "No legal advice" in brief.text


def test_every_planting_has_its_nativity_on_the_first_pages(demo: PlanAnswer) -> None:
    text = Document(report_of(demo_library(), demo, brief=True)).text
    natives = sum(planting.native for planting in demo.plantings)
    assert text.count("part of the flora") == natives
    assert "Plant catalogue" in text


def test_the_appendix_has_what_a_reviewer_fills_in(demo: PlanAnswer, document: Document) -> None:
    assert {"duties", "permits", "sources", "workings", "cautions"} <= set(document.ids)
    for words in ("Number or reference", "Name and signature", "marked on the map", "Spillway"):
        assert words in document.text, words
    for row in permit_rows(demo):
        assert row.about in document.text
    assert re.search(r"[\d.]+/m2 \([\d.]+/100 ft2\)", document.text)


@pytest.mark.parametrize(
    "phrase",
    [
        "Held: by nothing",
        "no way out stated",
        "by the upper end",
        "no entry was found in the lists loaded",
        "in the lists loaded in part",
    ],
)
def test_phrases_that_nobody_would_say_do_not_come_back(document: Document, phrase: str) -> None:
    assert phrase.casefold() not in document.text.casefold()


def test_nobody_is_asked_about_a_plant_that_is_barred(demo: PlanAnswer) -> None:
    barred = {planting.number for planting in demo.plantings if planting.outcome == "prohibited"}
    assert barred
    for asking in askings(demo):
        assert not barred & set(asking.plantings)
        assert asking.question.endswith(("?", "."))


def test_a_label_from_right_to_left_is_kept_apart_wherever_it_stands() -> None:
    label = "\u05e0\u05d9\u05de\u05e4\u05d0\u05d4 (2) \u202e"
    answer = answer_of(
        {"title": label, "site": {"geometry": POINT}, "plantings": [label, "Iris versicolor"]}
    )
    text = report_of(demo_library(), answer)
    assert text.count(label) == text.count(f"<bdi>{label}</bdi>") + text.count(f"<title>{label}")
    assert "<bdi>Iris versicolor" not in text


def test_isolating_marks_the_text_and_nothing_else() -> None:
    assert turns("\u202eabc")
    assert not turns("Sagittaria, caf\u00e9")
    isolate = Isolator(["\u05d0\u05d1"])
    assert isolate("plain & simple") == "plain & simple"
    assert isolate("ask <\u05d0\u05d1> now") == "ask &lt;<bdi>\u05d0\u05d1</bdi>&gt; now"
    assert isolate("\u05d2 alone") == "<bdi>\u05d2 alone</bdi>"
