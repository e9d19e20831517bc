"""The lesson around a rehearsal: the places of the plan before it, three questions after it."""

import argparse
import sys
import time
from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from coach.cli.asking import (
    asked,
    next_line,
    on_a_screen,
    rounds,
    speaker,
    speaking_on_screen,
    stamp,
    tell,
)

if TYPE_CHECKING:
    from coach.bedside.lesson_quiz import Teaching
    from coach.plan.model import Plan
    from coach.plan.spots import Spot
    from coach.voice.tended import Tended


@dataclass(slots=True, kw_only=True)
class Lesson:
    """One lesson with the dog of a plan."""

    teaching: "Teaching"
    spots: "Sequence[Spot]"
    look: str
    plain: bool
    silent: bool

    def meet(self, voice: "Tended") -> None:
        """Every place of the plan, with its words, its picture and a try."""
        dog = self.teaching.dog
        if on_a_screen(plain=self.plain):
            from coach.screens.lesson import LessonScreen

            say = speaker(voice)
            rounds(
                [lambda: LessonScreen(dog, self.spots, mono_ns=time.monotonic_ns, say=say)],
                look=self.look,
                voice=voice,
            )
            return
        from coach.bedside.lesson_pages import meetings
        from coach.language import _
        from coach.screens.lesson import first_lines, lesson_lines

        met = meetings(self.spots)
        for lines in (first_lines(dog, len(met)), *map(lesson_lines, met)):
            for line in lines:
                tell(line)
            tell(_("Press Enter to go on. q: leave the lesson."))
            line_typed = next_line()
            if line_typed is None or line_typed.strip().casefold() == "q":
                return

    def teach_back(self) -> None:
        """The questions, and the lesson in the diary."""
        # The voice of the rehearsal was closed with it.
        with speaking_on_screen(silent=self.silent, plain=self.plain) as voice:
            asked(
                self.teaching.asking(),
                self.teaching,
                title=self.teaching.dog,
                plain=self.plain,
                look=self.look,
                voice=voice,
            )
        refusal = self.teaching.finish()
        if refusal:
            print(f"coach: {refusal}", file=sys.stderr)


def lesson_for(
    args: argparse.Namespace, plan: "Plan", spots: "Sequence[Spot]", *, plain: bool
) -> Lesson | None:
    """The lesson of a rehearsal, or None.

    Unless it is said on the command line there is one at the first rehearsal with a dog, where
    there is a screen and time runs as it does in a session.
    """
    from coach.bedside.household import read_household
    from coach.bedside.lesson_quiz import Teaching
    from coach.paths import dog_folder, household_file

    if not args.rehearsal or args.lesson is False:
        return None
    helpers = read_household(household_file()).helpers
    teaching = Teaching(
        folder=dog_folder(plan.dog.name),
        dog=plan.dog.name,
        stamp=stamp(),
        by=helpers[0] if len(helpers) == 1 else "",
    )
    if args.lesson is None and (plain or args.speed != 1 or teaching.had()):
        return None
    return Lesson(teaching=teaching, spots=spots, look=args.look, plain=plain, silent=args.silent)
