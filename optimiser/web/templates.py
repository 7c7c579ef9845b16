"""The pages' templates, in which whatever came from a file is escaped."""

from __future__ import annotations

from functools import cache

from jinja2 import Environment, PackageLoader, StrictUndefined
from markupsafe import Markup

from optimiser.errors import InputError
from optimiser.presenting.html import text
from optimiser.web.told import plainly

__all__ = ["rendered", "wrong_html"]


@cache
def _templates() -> Environment:
    made = Environment(
        loader=PackageLoader("optimiser.web", "pages"),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    made.filters["told"] = lambda each: Markup(text(each))
    return made


def rendered(template: str, /, **values: object) -> str:
    """Return a template with values in it; ``told`` shows one as a page does."""
    return _templates().get_template(template).render(**values)


def wrong_html(error: InputError, place: str, *, large: bool) -> str:
    """Return the page on what cannot be read."""
    problems = [plainly(each) for each in error.problems]
    return rendered("wrong.html", problems=problems, place=place, large=large)
