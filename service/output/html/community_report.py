"""The printable summary of a community screening: one HTML document that needs nothing else, in
the style of the plan's report.
"""

from collections.abc import Iterable

from markupsafe import Markup

from service.checks.community.values import CommunityAnswer
from service.output.html.report import report_policy, report_style
from service.output.html.templating import Isolator, templates

MOST_SENDERS = 5
"""Senders told of each water."""


def community_report(answer: CommunityAnswer) -> str:
    """The summary as an HTML document. The same answer gives the same bytes."""
    context = {
        "answer": answer,
        "isolate": Isolator(_own_texts(answer)),
        "most_senders": MOST_SENDERS,
        "policy": report_policy(),
        "style": Markup(report_style()),
        "title": answer.title or "Community screening",
    }
    return templates().get_template("community/summary.html.j2").render(context)


def _own_texts(answer: CommunityAnswer) -> Iterable[str]:
    """What people wrote and may stand inside a sentence."""
    yield answer.title
    for site in answer.sites:
        yield site.name
        yield from (planting.label for planting in site.plantings)
    yield from (water.water.name for water in answer.waters)
