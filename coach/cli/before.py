"""Before a session: which dog, is it this one, who treats, and how is the dog doing."""

import argparse
import sys
import time
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING, Any

from coach.cli.asking import (
    NotStarted,
    Said,
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
    from coach.bedside.scoring import ScoreRound, Scoring
    from coach.plan.model import Plan
    from coach.plan.spots import SessionSpots
    from coach.session.questions import Answer, Asking
    from coach.voice.tended import Tended


def dogs_plan(args: argparse.Namespace) -> Path | None:
    """The plan meant: the one given, else that of the dog that was named or is picked.

    None leaves the choice to :func:`coach.cli.plans.choose`. Raises NotStarted when none is
    picked.
    """
    from coach import paths

    if args.plan is not None:
        return Path(args.plan)
    own = paths.own_plans()
    named = getattr(args, "dog", None)
    if named is not None:
        folder = paths.dog_folder(named)
        return next((path for path in own if path.parent == folder), None)
    if len(own) < 2 or not sys.stdin.isatty():
        return None
    from coach.session.household_questions import DOG, which_dog

    said = Said()
    asking = which_dog([_dog_in(path) for path in own])
    with speaking_on_screen(silent=args.silent, plain=args.plain) as voice:
        asked(asking, said, title="", plain=args.plain, look=args.look, voice=voice)
    if DOG not in said.answers:
        raise NotStarted
    return own[int(said.answers[DOG])]


def _dog_in(path: Path) -> str:
    """The dog's name as its plan has it, else as its folder is called."""
    import tomllib

    try:
        return str(tomllib.loads(path.read_text(encoding="utf-8"))["dog"]["name"])[:40]
    except (OSError, ValueError, KeyError, TypeError):
        # What is wrong with the plan is told when it is taken.
        return path.parent.name


def ready(
    args: argparse.Namespace,
    plan: "Plan",
    session: "SessionSpots",
    *,
    voice: "Tended | None" = None,
) -> str:
    """Ask what is to be asked before this session; who treats, or "".

    Without a terminal nothing is asked. Raises NotStarted.
    """
    if _cut_off(plan.dog.name):
        # A dog lies there with half a session: nothing is worth a delay.
        return str(args.by)
    steps = steps_for(args, plan, session, mono_ns=time.monotonic_ns, say=speaker(voice))
    if not (sys.stdin.isatty() and sys.stdout.isatty()):
        if steps.scores_due():
            from coach.language import _

            ask = _("The plan asks how {dog} is doing: coach score").format(dog=plan.dog.name)
            print(ask, flush=True)
        return steps.by
    if on_a_screen(plain=args.plain):
        if not rounds(steps.screens(), look=args.look, voice=voice):
            raise NotStarted
    else:
        steps.plainly()
    steps.finish()
    return steps.by


def steps_for(
    args: argparse.Namespace,
    plan: "Plan",
    session: "SessionSpots",
    *,
    mono_ns: Callable[[], int],
    say: Callable[[str], None] | None = None,
) -> "Steps":
    """What is asked before this session."""
    from coach.bedside.household import read_household
    from coach.bedside.scoring import Scoring
    from coach.paths import dog_folder, household_file

    household = read_household(household_file())
    if household.problem:
        print(household.problem, file=sys.stderr)
    return Steps(
        plan=plan,
        session=session,
        helpers=household.helpers,
        asked_once=household.asked,
        scoring=Scoring(
            folder=dog_folder(plan.dog.name), dog=plan.dog.name, stamp=stamp(), wishes=plan.scores
        ),
        confirms=args.dog is None and _several_dogs(),
        by=args.by or (household.helpers[0] if len(household.helpers) == 1 else ""),
        mono_ns=mono_ns,
        say=say,
    )


@dataclass(slots=True, kw_only=True)
class Steps:
    """What is asked, in order, full screen or line by line. ``by`` is who treats, or ""."""

    plan: "Plan"
    session: "SessionSpots"
    helpers: tuple[str, ...]
    asked_once: bool
    scoring: "Scoring"
    confirms: bool
    by: str
    mono_ns: Callable[[], int]
    say: Callable[[str], None] | None
    _rounds: "list[ScoreRound]" = field(default_factory=list)
    _said: Said = field(default_factory=Said)

    def scores_due(self) -> bool:
        """Whether the plan asks for scores today."""
        return self.scoring.due(_today())

    def screens(self) -> Iterator[Callable[[], Any]]:
        """What makes each screen; the next is asked for when the one before is done."""
        from coach.screens.ask import AskScreen
        from coach.screens.confirm_dog import DogScreen

        if self.confirms:
            yield lambda: DogScreen(
                self.plan, self.session.spots, mono_ns=self.mono_ns, say=self.say
            )
        for asking, keeper in self._questions():
            yield lambda asking=asking, keeper=keeper: AskScreen(  # type: ignore[misc]
                asking,
                keeper=keeper,
                title=self.plan.dog.name,
                mono_ns=self.mono_ns,
                say=self.say,
            )

    def plainly(self) -> None:
        """The same line by line. Raises NotStarted."""
        from coach.language import _
        from coach.lines.line_mode import ask_plainly
        from coach.screens.confirm_dog import places_of

        if self.confirms:
            dog = self.plan.dog.name
            tell(_("This plan is for {dog}:").format(dog=dog))
            for line in places_of(self.session.spots):
                tell(f"  {line}")
            tell(_("Is {dog} in front of you? Enter: yes. n: no.").format(dog=dog))
            answer = next_line()
            if answer is None or answer.strip().casefold() in {"n", "no", _("no").casefold()}:
                raise NotStarted
        for asking, keeper in self._questions():
            if not ask_plainly(asking, keeper.keep, next_line, tell):
                self.finish()
                raise NotStarted

    def _questions(self) -> "Iterator[tuple[Asking, Any]]":
        from coach.bedside.household import helper_name
        from coach.session.household_questions import (
            HELPER,
            SOMEBODY_ELSE,
            name_of_helper,
            who_treats,
        )

        said = self._said.answers
        if not self.by and len(self.helpers) > 1:
            yield who_treats(self.helpers), self._said
            self.by = str(said.get(HELPER, ""))
        elsewhere = said.get(HELPER) == SOMEBODY_ELSE
        if not self.by and (elsewhere or not (self.asked_once or self.helpers)):
            yield name_of_helper(helper_name), self._said
            self._remember(said)
        self.scoring.by = self.by
        if self.scores_due():
            yield from self._scores()

    def _remember(self, said: "Mapping[str, Answer]") -> None:
        from coach.bedside.household import write_household
        from coach.paths import household_file
        from coach.session.household_questions import NEW

        self.by = str(said.get(NEW, ""))
        new = [self.by] if self.by else []
        try:
            write_household(household_file(), [*self.helpers, *new])
        except (OSError, ValueError) as error:
            print(f"coach: the name is not kept: {error}", file=sys.stderr)

    def _scores(self) -> "Iterator[tuple[Asking, ScoreRound | Any]]":
        if not self.scoring.activities:
            naming = self.scoring.naming()
            yield naming.asking(), naming
            self._report(naming.finish())
        scores = self.scoring.round()
        self._rounds.append(scores)
        yield scores.asking(), scores

    def finish(self) -> None:
        """Write the scores."""
        for scores in self._rounds:
            self._report(scores.finish())

    def _report(self, refusal: str) -> None:
        if refusal:
            print(f"coach: {refusal}", file=sys.stderr)


def _cut_off(dog: str) -> bool:
    """Whether a session of ``dog`` waits to be carried on."""
    from coach.bedside.interrupted_session import find_unfinished
    from coach.paths import journal_folder

    before = find_unfinished(journal_folder(dog, rehearsal=False))
    return before is not None and before.can_carry_on


def _several_dogs() -> bool:
    from coach import paths

    return sum(path.is_dir() for path in (paths.state_folder() / "dogs").glob("*")) > 1


def _today() -> Any:
    from coach.bedside.runner import today

    return today()
