"""The templates of the page and the report.

Everything put into one is escaped unless it is markup made here.
"""

from functools import cache

from jinja2 import Environment, PackageLoader, StrictUndefined
from markupsafe import escape

from service.output import words
from service.output.html.isolating import isolated
from service.values.quantities import Quantity
from service.values.words import distance, joined

_FILTERS = {
    "as_text": escape,
    "begin": words.begun,
    "first_office": words.first_office,
    "in_unit": words.in_unit,
    "place_letters": words.place_letters,
    "percent_or_none": words.percent_or_none,
    "yes_no": words.yes_no,
    "acts": words.acts_in_words,
    "distance": distance,
    "joined": joined,
    "likely": words.likely,
    "percent": words.percent,
    "place_name": words.place_name,
    "relation": words.relation,
    "safe_address": words.safe_address,
    "sureness": words.sureness,
    "water_name": words.water_name,
}
_VOCABULARIES = {
    "OUTCOMES": words.OUTCOMES,
    "OUTCOME_MEANINGS": words.OUTCOME_MEANINGS,
    "KNOWN": words.KNOWN,
    "KNOWN_SHORT": words.KNOWN_SHORT,
    "SITE_GROUPS": words.SITE_GROUPS,
    "VERDICTS": words.VERDICTS,
    "FITS": words.FITS,
    "CONTAINED": words.CONTAINED,
    "ROUTES": words.ROUTES,
    "HOLDINGS": words.HOLDINGS,
    "ROLES": words.ROLES,
    "COVERAGES": words.COVERAGES,
    "KINDS": words.KINDS,
}


@cache
def templates() -> Environment:
    """The environment, made once. A name that a template asks for and is not given is an error."""
    environment = Environment(
        loader=PackageLoader("service.output.html", "templates"),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
        keep_trailing_newline=True,
        finalize=isolated,
    )
    environment.filters |= _FILTERS
    environment.globals |= _VOCABULARIES
    environment.filters["quantity"] = _quantity
    return environment


def _quantity(value: Quantity) -> str:
    return value.text()
