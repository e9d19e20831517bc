"""Asking a prescriber for a plan on the terminal, one question at a time.

An answer that cannot be used is told with what was found and what is allowed, and asked again.
"""

import datetime
from collections.abc import Callable, Mapping
from pathlib import Path
from typing import Any

from coach.body.regions import Region
from coach.plan.draft import (
    COUNT_ALLOWED,
    COUNT_FIELDS,
    DOSE_ALLOWED,
    DOSE_FIELDS,
    NOTHING,
    SOURCE_ALLOWED,
    Draft,
    asks_settle,
    count_text,
    course_text,
    dose_text,
    forget_one_source,
    get,
    lacks,
    order_lines,
    problem_text,
    problems_in,
    put,
    read_count,
    read_course,
    read_dose,
    read_settle,
    read_source,
    says_of_one_source,
    settle_text,
    several,
    so_far_line,
    source_text,
    to_plan,
)
from coach.plan.draft_questions import QUESTIONS, SECTIONS, Question, Refused, read_list
from coach.screens.region_page import Unknown, find

TAKE_BACK = "-"
POWER_FIELDS = ("mean_power_mw", "pulsed")

HOW = """\
Enter keeps what stands in [ ]; a single - empties a field that may be empty.
Ctrl-C gives up: then nothing is written. No number is proposed: they are yours."""


class Interview:
    """Completes ``draft``.

    Args:
        draft: what is known already; changed in place.
        today: for the dates.
        read: prompt to answer.
        tell: shows a line.
    """

    def __init__(
        self,
        draft: Draft,
        *,
        today: datetime.date,
        read: Callable[[str], str] = input,
        tell: Callable[[str], None] = print,
    ) -> None:
        self.draft = draft
        self._today = today
        self._read = read
        self._tell = tell

    def ask_everything(self) -> None:
        """Every question, in the order of a plan; regions last, when their dose can be told."""
        self._tell(HOW)
        for section in SECTIONS:
            self._tell("")
            for question in QUESTIONS:
                if question.table == section and not (
                    several(self.draft) and says_of_one_source(question)
                ):
                    self._ask(question)
                if question.field == "laser_class" and section == "laser":
                    self._ask_sources()
                if question.field == "mean_power_mw" and section == "laser":
                    self._ask_pulses()
            if section == "laser":
                self._ask_output_check()
        self._ask_course()
        if self.draft["coach_plan"] == 1:
            self._ask_settle()
        self._ask_regions()

    def ask_what_is_missing(self) -> None:
        """Only what no option has said."""
        for question in QUESTIONS:
            if lacks(self.draft, question):
                self._ask(question)
        if self._wrong("laser", *(f"laser.{field}" for field in POWER_FIELDS)):
            self._ask(_question("laser.mean_power_mw"))
            self._ask_pulses()
        if asks_settle(self.draft):
            self._ask_settle()
        if not self.draft["regions"]:
            self._ask_regions()

    def ask_where(self, path: Path, *, replace: bool, never: Path | None) -> tuple[Path, bool]:
        """The file to write, and whether it may take the place of one that is there."""
        while True:
            same = never is not None and path.exists() and path.samefile(never)
            if path.exists() and not replace and not same:
                self._tell(f"{path} is there already.")
                answer = self._read("Another file, or replace: ").strip()
                if answer.lower() == "replace":
                    return path, True
            elif same:
                self._tell(f"{path} is the plan before and stays as it is.")
                answer = self._read("Another file: ").strip()
            else:
                answer = self._read(f"Write to [{path}]: ").strip()
                if not answer:
                    return path, replace
            if answer:
                path, replace = Path(answer).expanduser(), False

    # One field

    def _ask(self, question: Question) -> None:
        kept = get(self.draft, question)
        while True:
            answer = self._prompt(
                question.ask, kept, needed=question.needed, otherwise=question.otherwise
            )
            if not answer:
                if kept is not None or not question.needed:
                    return
                self._tell(f"  {NOTHING} found; allowed: {question.ask}")
                continue
            if answer == TAKE_BACK and not question.needed:
                put(self.draft, question, None)
                return
            try:
                put(self.draft, question, question.read(answer))
            except Refused as refused:
                self._tell(f"  {refused}")
                continue
            wrong = self._wrong(question.place)
            if not wrong:
                return
            put(self.draft, question, kept)
            self._tell_all(wrong)

    def _prompt(self, ask: str, kept: Any, *, needed: bool, otherwise: str = "none") -> str:
        empty = "" if needed or kept is not None else f" (Enter: {otherwise})"
        words = {True: "yes", False: "no"}.get(kept, kept) if isinstance(kept, bool) else kept
        now = "" if kept is None else f" [{words}]"
        return self._read(f"{ask}{empty}{now}: ").strip()

    def _wrong(self, *places: str) -> list[str]:
        return [
            problem_text(problem)
            for problem in problems_in(self.draft, today=self._today)
            if problem.field in places
            or any(problem.field.startswith((f"{place}.", f"{place}[")) for place in places)
        ]

    def _tell_all(self, wrong: list[str]) -> None:
        for text in wrong:
            self._tell(f"  {text}")

    # The laser: its sources, its power, its output

    def _ask_sources(self) -> None:
        self._ask_list(
            self.draft["laser"],
            "emitter",
            f"Sources of a head with several, with commas between: {SOURCE_ALLOWED}",
            read_source,
            source_text,
            "laser.emitter",
            otherwise="one source",
        )
        if several(self.draft):
            forget_one_source(self.draft)

    def _ask_pulses(self) -> None:
        """Peak power and pulses, where no mean power is known; again until they make one."""
        mean = _question("laser.mean_power_mw")
        laser = self.draft["laser"]
        while not several(self.draft) and (get(self.draft, mean) is None or "pulsed" in laser):
            for question in QUESTIONS:
                if question.table == "laser.pulsed":
                    self._ask(question)
            wrong = self._wrong(*(f"laser.{field}" for field in POWER_FIELDS))
            if not wrong:
                return
            self._tell_all(wrong)
            self._ask(mean)

    def _ask_output_check(self) -> None:
        """What a meter showed, and when; again until both are there or neither."""
        measured, *more = (q for q in QUESTIONS if q.table == "laser.output_check")
        self._ask(measured)
        while get(self.draft, measured) is not None:
            for question in more:
                self._ask(question)
            wrong = self._wrong("laser.output_check")
            if not wrong:
                return
            self._tell_all(wrong)
            self._ask(measured)

    # Course and settle

    def _ask_course(self) -> None:
        ask = "Course, one or more NAME:TIMESxWEEKS with commas between"
        self._ask_list(self.draft, "course", ask, read_course, course_text, "course")

    def _ask_list(
        self,
        table: Draft,
        field: str,
        ask: str,
        read: Callable[[str], Draft],
        text: Callable[[Mapping[str, Any]], str],
        place: str,
        *,
        otherwise: str = "none",
    ) -> None:
        """Ask for the tables ``field`` of ``table``, all in one line with commas between."""
        before = table.get(field)
        kept = ", ".join(text(one) for one in before or [])
        while True:
            answer = self._prompt(ask, kept or None, needed=False, otherwise=otherwise)
            if not answer:
                return
            table.pop(field, None)
            if answer == TAKE_BACK:
                return
            try:
                table[field] = [read(part) for part in answer.split(",")]
                wrong = self._wrong(place)
            except Refused as refused:
                wrong = [str(refused)]
            if not wrong:
                return
            table.pop(field, None)
            if before is not None:
                table[field] = before
            self._tell_all(wrong)

    def _ask_settle(self) -> None:
        before = self.draft.get("settle")
        while True:
            ask = (
                "Calm opening at the top of the neck: seconds on each side with the unit s, or none"
            )
            answer = self._prompt(ask, before and settle_text(before), needed=True)
            if not answer and before:
                return
            try:
                self.draft["settle"] = read_settle(answer)
                wrong = self._wrong("settle")
            except Refused as refused:
                wrong = [str(refused)]
            if not wrong:
                return
            self._tell_all(wrong)

    # Regions

    def _ask_regions(self) -> None:
        kept = self.draft["regions"]
        self.draft["regions"] = []
        for order in kept:
            self._tell(f"\n{order['region']}: {_order_text(order)}")
            match self._choose("keep, change or remove", "keep"):
                case "keep":
                    self.draft["regions"].append(order)
                case "change":
                    self._ask_order(order)
                case _:
                    continue
            self._tell_dose()
        while True:
            self._tell("")
            more = " (Enter: no more)" if self.draft["regions"] else ""
            answer = self._read(f"Region: key, trade term or your words{more}: ").strip()
            if not answer and self.draft["regions"]:
                return
            place = find(answer) if answer else None
            if place is None or isinstance(place, Unknown):
                self._tell(f"  {place or f'{NOTHING} found; allowed: at least one region'}")
                continue
            self._tell(f"  {place.owner_words}, {place.term}")
            self._ask_order({"region": place.key})
            self._tell_dose()

    def _choose(self, ask: str, kept: str) -> str:
        allowed = ask.replace(" or ", ", ").split(", ")
        while True:
            answer = self._prompt(ask[0].upper() + ask[1:], kept, needed=True).lower() or kept
            chosen = [word for word in allowed if word.startswith(answer)]
            if len(chosen) == 1:
                return chosen[0]
            self._tell(f'  "{answer}" found; allowed: {ask}')

    def _ask_order(self, before: Mapping[str, Any]) -> None:
        """Ask for one region and add it; ``before`` has its key and what can be kept."""
        place = find(before["region"])
        if not isinstance(place, Region):
            raise ValueError(f"no region {before['region']!r}")
        order: Draft = dict(before)
        self.draft["regions"].append(order)
        self._ask_part(
            order,
            f"Sides: {', '.join(place.sides)}",
            lambda text: {"sides": read_list(text)},
            "sides",
        )
        if place.aspects:
            ask = f"Faces: {', '.join(place.aspects)}"
            self._ask_part(order, ask, lambda text: {"aspects": read_list(text)}, "aspects")
        each = "each side and face" if place.aspects else "each side"
        self._ask_part(order, f"Spots on {each}: {COUNT_ALLOWED}", read_count, *COUNT_FIELDS)
        self._ask_part(order, f"Dose: {DOSE_ALLOWED}", read_dose, *DOSE_FIELDS)
        self._ask_part(order, "Note", lambda text: {"note": text}, "note", needed=False)

    def _ask_part(
        self,
        order: Draft,
        ask: str,
        read: Callable[[str], Draft],
        *fields: str,
        needed: bool = True,
    ) -> None:
        """Ask for ``fields`` of ``order``, the last of the draft's regions."""
        here = f"regions[{len(self.draft['regions'])}]"
        before = {field: order[field] for field in fields if field in order}
        kept = _kept_text(order, fields)
        while True:
            answer = self._prompt(ask, kept or None, needed=needed)
            if not answer and (before or not needed):
                return
            for field in fields:
                order.pop(field, None)
            if answer == TAKE_BACK and not needed:
                return
            try:
                order |= read(answer)
                wrong = self._wrong(*(f"{here}.{field}" for field in fields))
            except Refused as refused:
                wrong = [str(refused)]
            if not wrong:
                return
            for field in fields:
                order.pop(field, None)
            order |= before
            self._tell_all(wrong)

    def _tell_dose(self) -> None:
        plan = to_plan(self.draft, today=self._today)
        for line in (*order_lines(plan, len(plan.regions) - 1), so_far_line(plan)):
            self._tell(f"  {line}")


def _question(place: str) -> Question:
    return next(question for question in QUESTIONS if question.place == place)


def _plain(value: Any) -> str:
    return ", ".join(value) if isinstance(value, list) else "" if value is None else str(value)


def _kept_text(order: Mapping[str, Any], fields: tuple[str, ...]) -> str:
    if fields == DOSE_FIELDS:
        return dose_text(order)
    return count_text(order) if fields == COUNT_FIELDS else _plain(order.get(fields[0]))


def _order_text(order: Mapping[str, Any]) -> str:
    faces = f" {_plain(order['aspects'])}," if order.get("aspects") else ""
    return f"{_plain(order['sides'])},{faces} {count_text(order)} spots, {dose_text(order)}"
