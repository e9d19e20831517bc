"""Which screen a step of a flow becomes."""

import datetime
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from typing import Any

from textual.screen import Screen

from coach.bedside.flow import Ask, Coach, Page, Show, Step, Tell, Work
from coach.bedside.pages import (
    CodePage,
    CoursePage,
    DogPage,
    HomePage,
    LessonPage,
    RegionsPage,
    SheetsPage,
)
from coach.session.questions import Asking


@dataclass(frozen=True, slots=True, kw_only=True)
class Tools:
    """What screens need of the app: clocks, the voice if there is one, another look."""

    wall: Callable[[], datetime.datetime]
    mono_ns: Callable[[], int]
    say: Callable[[str], None] | None
    look: Callable[[], None]


def screens_for(step: Step, tools: Tools) -> Iterator[Screen[Any]]:
    """The screens of a step, each made when the one before is done; the last gives the answer."""
    match step:
        case Ask():
            from coach.screens.ask import AskScreen

            yield AskScreen(
                step.asking,
                keep=step.keep,
                title=step.title,
                mono_ns=tools.mono_ns,
                say=tools.say,
                leaves=step.leaves,
            )
        case Tell():
            from coach.screens.ask import AskScreen
            from coach.screens.text_pages import told_pages

            for page in told_pages(step.lines):
                yield AskScreen(
                    Asking(questions=(), told=page),
                    title=step.title,
                    mono_ns=tools.mono_ns,
                    say=tools.say,
                )
        case Show():
            yield page_screen(step.page, tools)
        case Work():
            from coach.screens.work_screen import WorkScreen

            yield WorkScreen(
                step.job,
                title=step.title,
                text=step.text,
                skip=step.skip,
                mono_ns=tools.mono_ns,
                say=tools.say,
            )
        case Coach():
            raise TypeError("a session has a driver of its own")


def page_screen(page: Page, tools: Tools) -> Screen[Any]:
    """The screen of a page: its own kind, or a plain one with its lines and keys."""
    make = MAKERS.get(type(page))
    return _text(page, tools) if make is None else make(page, tools)


def _home(page: Any, tools: Tools) -> Screen[Any]:
    from coach.screens.home import HomeScreen

    return HomeScreen(page, mono_ns=tools.mono_ns, say=tools.say, next_look=tools.look)


def _dog(page: Any, tools: Tools) -> Screen[Any]:
    from coach.screens.confirm_dog import DogScreen

    return DogScreen(page.plan, page.spots, mono_ns=tools.mono_ns, say=tools.say)


def _lesson(page: Any, tools: Tools) -> Screen[Any]:
    from coach.screens.lesson import LessonScreen

    return LessonScreen(page.dog, page.spots, mono_ns=tools.mono_ns, say=tools.say)


def _course(page: Any, _tools: Tools) -> Screen[Any]:
    from coach.screens.course import CourseScreen

    return CourseScreen(page.calendar, page.figures)


def _sheets(page: Any, _tools: Tools) -> Screen[Any]:
    from coach.screens.text_pages import SheetsScreen

    return SheetsScreen(page.title, page.sheet)


def _code(page: Any, tools: Tools) -> Screen[Any]:
    from coach.screens.work_screen import CodeScreen

    return CodeScreen(list(page.texts), mono_ns=tools.mono_ns)


def _regions(page: Any, _tools: Tools) -> Screen[Any]:
    from coach.screens.regions import RegionScreen

    return RegionScreen(page.region)


def _text(page: Page, tools: Tools) -> Screen[Any]:
    from coach.screens.key_page import KeyPageScreen

    return KeyPageScreen(page, mono_ns=tools.mono_ns, say=tools.say)


MAKERS: dict[type[Page], Callable[[Any, Tools], Screen[Any]]] = {
    HomePage: _home,
    DogPage: _dog,
    LessonPage: _lesson,
    CoursePage: _course,
    SheetsPage: _sheets,
    CodePage: _code,
    RegionsPage: _regions,
}
