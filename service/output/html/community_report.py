"""The printable summary of a community screening: one HTML document that needs nothing else, in
the style of the plan's report.
"""

from markupsafe import Markup

from service.checks.community.values import CommunityAnswer
from service.output.html.report import report_policy, report_style
from service.output.html.templating import templates

MOST_SENDERS = 5
"""Senders told of each water."""


def community_report(answer: CommunityAnswer) -> str:
    """The summary as an HTML document. The same answer gives the same bytes."""
    context = {
        "answer": answer,
        "most_senders": MOST_SENDERS,
        "policy": report_policy(),
        "style": Markup(report_style()),
        "title": answer.title or "Community screening",
    }
    return templates().get_template("community/summary.html.j2").render(context)
