"""The first page: scenarios to open, to begin, or to survey recipes for."""

from __future__ import annotations

from pathlib import Path

from markupsafe import Markup
from msgspec import Struct
from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import Route

from optimiser.domain.products import NAMES
from optimiser.presenting.html import section_html
from optimiser.reading.duties import shipped_markets
from optimiser.web.beginning import BeginTold, begin_here, starters
from optimiser.web.replies import Endpoint, Reply, asked_with, html, to
from optimiser.web.rooms import Rooms, Upload, scenarios
from optimiser.web.shown import climate_words
from optimiser.web.surveying import SurveyDesk, SurveyTold
from optimiser.web.templates import rendered
from optimiser.web.told import on_a_page, plainly

__all__ = ["routes"]


class RecipesTold(Struct, frozen=True, forbid_unknown_fields=True):
    """A table of recipes that was dropped."""

    recipes: Upload


class WriteTold(Struct, frozen=True, forbid_unknown_fields=True):
    """The name of a scenario's file."""

    name: str


def routes(rooms: Rooms) -> list[Route]:
    """Return the addresses before a scenario is open."""
    own = f"{rooms.place}survey/{{survey}}/"
    return [
        Route(rooms.place, _start(rooms)),
        Route(f"{rooms.place}begin", _begin(rooms), methods=["POST"]),
        Route(f"{rooms.place}survey", _survey(rooms), methods=["POST"]),
        Route(own, _page(rooms)),
        Route(f"{own}answers", _answers(rooms), methods=["POST"]),
        Route(f"{own}write", _write(rooms), methods=["POST"]),
    ]


def _start(rooms: Rooms) -> Endpoint:
    def shown() -> str:
        here: Path = rooms.workspace.resolve()
        return rendered(
            "start.html",
            rows=scenarios(rooms.workspace),
            starts=starters(rooms.workspace),
            products=NAMES,
            markets=shipped_markets(),
            folder=here.name,
            place=rooms.place,
            large=rooms.large,
        )

    async def start(_: Request) -> Response:
        return html(await run_in_threadpool(shown))

    return start


def _begin(rooms: Rooms) -> Endpoint:
    def begin(_: Request, told: BeginTold) -> Reply:
        begun = begin_here(rooms, told)
        notes = [on_a_page(each) for each in begun.notes]
        about = {"place": rooms.place, "file": begun.file, "notes": notes}
        return 200, {"html": rendered("begun.html", **about)}

    return asked_with(BeginTold, begin)


def _survey(rooms: Rooms) -> Endpoint:
    def survey(_: Request, told: RecipesTold) -> Reply:
        return 200, {"go": f"{rooms.place}survey/{rooms.survey(told.recipes)}/"}

    return asked_with(RecipesTold, survey)


def _page(rooms: Rooms) -> Endpoint:
    async def page(request: Request) -> Response:
        name = request.path_params["survey"]
        desk = rooms.survey_desk(name)
        if desk is None:
            return to(rooms.place)
        told = {"title": desk.page().title, "place": rooms.place, "large": rooms.large}
        body = await run_in_threadpool(_surveyed, desk, _own(rooms, name))
        return html(rendered("survey.html", body=Markup(body), **told))

    return page


def _own(rooms: Rooms, name: str) -> str:
    return f"{rooms.place}survey/{name}/"


def _answers(rooms: Rooms) -> Endpoint:
    def answers(request: Request, told: SurveyTold) -> Reply:
        name = request.path_params["survey"]
        desk = rooms.survey_desk(name)
        if desk is None:
            return 410, {}
        desk.ask(told)
        return 200, {"html": _surveyed(desk, _own(rooms, name))}

    return asked_with(SurveyTold, answers)


def _write(rooms: Rooms) -> Endpoint:
    def write(request: Request, told: WriteTold) -> Reply:
        desk = rooms.survey_desk(request.path_params["survey"])
        if desk is None:
            return 410, {}
        name = rooms.open(desk.write(told.name))
        return 200, {"go": f"{rooms.place}desk/{name}/"}

    return asked_with(WriteTold, write)


def _surveyed(desk: SurveyDesk, own: str) -> str:
    """Return a survey, what it asks, and what can be made of it."""
    found, page = desk.found, desk.page()
    known = desk.catalogue
    sections = "\n".join(section_html(each, 2) for each in page.sections)
    return rendered(
        "surveyed.html",
        own=own,
        title=page.title,
        about="; ".join(page.about),
        problems=[plainly(each) for each in (*desk.problems, *found.problems)],
        asked=desk.asked,
        classes=sorted(found.classes.items(), key=lambda each: -each[1]),
        ways=[(each.name, len(each.recipes)) for each in found.structures],
        chosen=found.chosen,
        zones=[(each.name, climate_words(each)) for each in known.climates],
        markets=shipped_markets(),
        questions=desk.questions(),
        unknown=desk.unknown(),
        known=sorted(each.name for each in known.ingredients.values()),
        sections=Markup(sections),
        has_base=desk.has_base,
        name=desk.name,
    )
