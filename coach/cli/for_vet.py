"""The page for the vet, full screen: onto a stick, a new plan from one, a code for a phone.

Everything goes by the one big key, and nothing is written, taken or shown unless it was chosen.
"""

import datetime
import shutil
import tempfile
import textwrap
import time
from collections.abc import Callable, Generator, Iterator, Mapping, Sequence
from pathlib import Path

from coach import __version__, paths
from coach.appliance.drives import Drive, DriveTrouble, borrowed, drives
from coach.handover.anonymise import Names
from coach.handover.build_info import Made
from coach.handover.copy_verified import Calls, NotCarried, carry
from coach.handover.dog_case import JOURNALS, read_case
from coach.handover.folder import write_handover
from coach.handover.kept import load_kept
from coach.handover.log_doubts import doubts
from coach.handover.qr_code import session_texts
from coach.handover.take_guard import (
    ASK_NUMBER,
    NO_SECOND_CHECK,
    WRONG_NUMBER,
    grave,
    needs_number,
    second_check_missing,
)
from coach.handover.take_plan import (
    PLAN,
    SIGNATURE,
    NotTaken,
    SignedBy,
    check_follows,
    known_keys,
    plans_in,
    put_in_place,
    signed_by,
)
from coach.handover.take_plan_text import change_lines, head_lines
from coach.journal.signing import KeyUnusable, device_key
from coach.language import _
from coach.plan.check_number import same_number
from coach.plan.files import LARGEST_BYTES, PlanFile
from coach.plan.model import Plan
from coach.plan.problems import PlanProblems
from coach.screens.ask import AskScreen
from coach.screens.screen_sequence import Make
from coach.screens.work_screen import CodeScreen, Progress, WorkScreen
from coach.session.questions import Answer, Asking, Question, numbered
from coach.shown import plain

Steps = Generator[Make, None, None]
# What is told on one page must fit the smallest screen, 60x20.
PAGE_COLUMNS, PAGE_ROWS = 60, 11
MOST_CHOICES = 8


class Kept:
    """The answers of one round, as they come."""

    def __init__(self) -> None:
        self.given: dict[str, Answer] = {}

    def keep(self, question: str, answer: Answer) -> str:
        """Keep it; nothing speaks against it."""
        self.given[question] = answer
        return ""


class _Counted(Calls):
    """Tells how many files are written and read back."""

    def __init__(self, progress: Progress, files: int) -> None:
        # Each file is written once and read back twice.
        self._progress, self._done, self._of = progress, 0, 3 * files
        progress(0, self._of)

    def write(self, path: Path, chunks: Iterator[bytes]) -> None:
        super().write(path, chunks)
        self._step()

    def digest(self, path: Path) -> str:
        found = super().digest(path)
        self._step()
        return found

    def _step(self) -> None:
        self._done += 1
        self._progress(min(self._done, self._of), self._of)


class ForVet:
    """The screens, one after the other.

    Args:
        folder: the dog's; None where no dog has one yet, and only a plan can be taken.
        title: for the bar.
        now: the clock on the wall.
        say: speaks, if there is a voice.
        mono_ns: monotonic time.
    """

    def __init__(
        self,
        folder: Path | None,
        *,
        title: str,
        now: Callable[[], datetime.datetime],
        say: Callable[[str], None] | None = None,
        mono_ns: Callable[[], int] = time.monotonic_ns,
    ) -> None:
        self._folder = folder
        self._title = title
        self._now = now
        self._say = say
        self._mono_ns = mono_ns

    def screens(self) -> Steps:
        """Until the owner chooses nothing any more. To be closed by whoever shows them."""
        take: tuple[Answer, str] = ("take", _("take a new plan from a stick"))
        put: tuple[Answer, str] = ("put", _("put the record for the vet on a stick"))
        show: tuple[Answer, str] = ("show", _("show the last session to a phone"))
        offered = (take,) if self._folder is None else (put, take, show)
        steps = {"put": self._put, "take": self._take, "show": self._show}
        while True:
            what = yield from self._ask(_("What would you like to do for the vet?"), *offered)
            if what is None:
                return
            yield from steps[str(what)]()

    # The three things

    def _put(self) -> Steps:
        odd = self._doubts()
        if odd:
            yield from self._tell([_("Before this device signs the record:"), *odd])
        drive = yield from self._stick(_("The record goes on this stick?"))
        if drive is None:
            return
        told: list[str] = []
        text = _("Writing on {name} and reading it back. Leave the stick where it is.")
        yield lambda: WorkScreen(
            lambda progress: told.extend(self._written(drive, progress)),
            title=self._title,
            text=text.format(name=drive.name),
            say=self._say,
        )
        yield from self._tell(told)

    def _doubts(self) -> list[str]:
        """What is not as this device wrote it."""
        assert self._folder is not None
        try:
            key = device_key(paths.device_key_file())
        except (KeyUnusable, OSError):
            # Told where the record is to be signed.
            return []
        told = _("Not as this device wrote it: {what}")
        return [
            told.format(what=one) for one in doubts(self._folder / JOURNALS, key=key.public_key)
        ]

    def _written(self, drive: Drive, progress: Progress) -> list[str]:
        assert self._folder is not None
        if drive.read_only:
            return [
                _("Nothing can be written on {name}.").format(name=drive.name),
                _("Slide its lock open, or use another stick."),
            ]
        now = self._now().isoformat(timespec="seconds")
        try:
            with tempfile.TemporaryDirectory(prefix="handover-") as name:
                done = write_handover(
                    self._folder,
                    Path(name),
                    made=Made(at=now, program=__version__),
                    signer=device_key(paths.device_key_file()),
                    with_names=True,
                    zipped=False,
                )
                with borrowed(drive) as stick:
                    path = carry(done.path, stick, _Counted(progress, len(done.files)))
        except (DriveTrouble, NotCarried) as error:
            return [
                _("It is not on the stick: {why}").format(why=error),
                _("You can try again from the start of this page."),
            ]
        except (KeyUnusable, OSError) as error:
            return [_("The record cannot be made: {why}").format(why=error)]
        return [
            _("On {name}: {what}").format(name=drive.name, what=path.name),
            _("Read back and compared. It is safe to pull the stick out now."),
            *(_("To know: {remark}").format(remark=remark) for remark in done.case.remarks),
        ]

    def _take(self) -> Steps:
        drive = yield from self._stick(_("The new plan is on this stick?"))
        if drive is None:
            return
        with tempfile.TemporaryDirectory(prefix="plans-") as name:
            found: list[PlanFile] = []
            told: list[str] = []
            text = _("Reading from {name}. Leave the stick where it is.")
            yield lambda: WorkScreen(
                lambda _progress: self._read(drive, Path(name), found, told),
                title=self._title,
                text=text.format(name=drive.name),
                say=self._say,
            )
            if told:
                yield from self._tell(told)
            if found:
                yield from self._offer(found)

    def _read(self, drive: Drive, copies: Path, found: list[PlanFile], told: list[str]) -> None:
        """Copy the plans of a stick, so that it may be pulled out; read them."""
        try:
            with borrowed(drive) as stick:
                for path in sorted(stick.glob("*.toml")):
                    if path.name.startswith(".") or not path.is_file():
                        continue
                    if path.stat().st_size <= LARGEST_BYTES:
                        shutil.copyfile(path, copies / path.name)
                        signature = path.with_name(path.name + SIGNATURE)
                        if signature.is_file():
                            shutil.copyfile(signature, copies / signature.name)
        except (DriveTrouble, OSError) as error:
            told.append(_("The stick cannot be read: {why}").format(why=error))
            told.append(_("Pull it out, plug it in again, and try once more."))
            return
        plans, problems = plans_in(copies, today=self._now().date())
        found += plans[:MOST_CHOICES]
        told += [problem.replace(f"{copies}/", "") for problem in problems]
        if problems:
            told.append(_("Ask your prescriber for a plan without these mistakes."))
        elif not plans:
            told.append(_("There is no plan on {name}.").format(name=drive.name))
        told.append(_("It is safe to pull the stick out now."))

    def _offer(self, found: Sequence[PlanFile]) -> Steps:
        new = found[0]
        if len(found) > 1:
            named = [
                (n, f"{one.plan.dog.name}, {one.plan.about.id} r{one.plan.about.revision}")
                for n, one in enumerate(found)
            ]
            number = yield from self._ask(_("Which plan?"), *named)
            if number is None:
                return
            new = found[int(number)]
        folder = paths.dog_folder(new.plan.dog.name)
        aside: list[str] = []
        before = None
        try:
            if (folder / PLAN).exists():
                before = load_kept(folder / PLAN, today=self._now().date())
        except PlanProblems as problems:
            aside = [_("The plan in use cannot be read and is set aside:"), str(problems)]
        try:
            check_follows(new, before)
            known = known_keys(paths.prescriber_keys_file())
            signed = signed_by(new, known)
        except ValueError as error:
            yield from self._tell(_refused(error))
            return
        others = [] if before else sorted(p.parent.name for p in paths.own_plans())
        head = head_lines(new.plan, signed)
        if signed.state == "bad":
            yield from self._tell([*head, *_refused(_("the signature does not hold"))])
            return
        plan_before = None if before is None else before.plan
        yield from self._tell([*head, *aside, *change_lines(plan_before, new.plan, others)])
        if second_check_missing(new.plan, signatures=signed.count):
            yield from self._tell(_refused(_(NO_SECOND_CHECK)))
            return
        if not (yield from self._checked(new, plan_before, signed, known)):
            return
        sure = yield from self._ask(
            _("Take this plan for {dog}?").format(dog=new.plan.dog.name),
            ("no", _("no, leave all as it is")),
            ("yes", _("yes, take it")),
        )
        if sure != "yes":
            yield from self._tell([_("Nothing was changed.")])
            return
        now = self._now()
        try:
            kept = put_in_place(new, folder, at=now)
        except (NotTaken, PlanProblems, OSError) as error:
            yield from self._tell(_refused(error))
            return
        told = [_("Taken on {day}.").format(day=now.date())]
        if kept is not None:
            told.append(_("The old plan is kept: {path}").format(path=kept.name))
        yield from self._tell(told)

    def _checked(
        self, new: PlanFile, before: Plan | None, signed: SignedBy, known: Mapping[str, str]
    ) -> Generator[Make, None, bool]:
        """Whether the plan needs no check number, or the right one was typed."""
        reasons = grave(new.plan, before, today=self._now().date())
        why = needs_number(new.plan, signed, keys_known=bool(known), reasons=reasons)
        if not why:
            return True
        yield from self._tell(why)
        kept = Kept()
        question = Question(id="number", text=_(ASK_NUMBER), typed=str.strip)
        yield lambda: self._screen(Asking(questions=(question,)), kept)
        number = str(kept.given.get("number") or "")
        if same_number(number, new.digest):
            return True
        yield from self._tell([_(WRONG_NUMBER) if number else _("Nothing was changed.")])
        return False

    def _show(self) -> Steps:
        assert self._folder is not None
        case = read_case(self._folder, today=self._now().date())
        if not case.sessions:
            yield from self._tell([_("No session has been logged yet.")])
            return
        newest = max(case.sessions, key=lambda one: int(one.stem.split("-")[0]))
        texts = session_texts(newest, Names(signer=None))
        yield lambda: CodeScreen(texts, mono_ns=self._mono_ns)

    # What they have in common

    def _stick(self, text: str) -> Generator[Make, None, Drive | None]:
        try:
            found = drives()[:MOST_CHOICES]
        except DriveTrouble as error:
            yield from self._tell([_("No stick can be found: {why}").format(why=error)])
            return None
        if not found:
            yield from self._tell([_("No stick is plugged in. Plug one in and try again.")])
            return None
        named = [(n, f"{one.name}, {one.size_text}") for n, one in enumerate(found)]
        number = yield from self._ask(text, *named)
        return None if number is None else found[int(number)]

    def _ask(self, text: str, *choices: tuple[Answer, str]) -> Generator[Make, None, Answer | None]:
        kept = Kept()
        question = Question(id="it", text=text, choices=numbered(*choices))
        yield lambda: self._screen(Asking(questions=(question,)), kept)
        return kept.given.get("it")

    def _tell(self, lines: Sequence[str]) -> Steps:
        for page in pages([plain(line) for line in lines]):
            yield lambda page=page: self._screen(  # type: ignore[misc]
                Asking(questions=(), told=page), Kept()
            )

    def _screen(self, asking: Asking, kept: Kept) -> AskScreen:
        return AskScreen(
            asking, keeper=kept, title=self._title, mono_ns=self._mono_ns, say=self._say
        )


def _refused(why: object) -> list[str]:
    return [
        _("The plan is not taken: {why}").format(why=why),
        _("Nothing was changed. Ask your prescriber."),
    ]


def pages(lines: Sequence[str]) -> list[tuple[str, ...]]:
    """``lines`` in portions that fit the smallest screen; a line that is longer is broken."""
    found: list[list[str]] = [[]]
    used = 0
    for line in (row for text in lines for row in text.split("\n")):
        rows = textwrap.wrap(line, PAGE_COLUMNS)
        if used + len(rows) > PAGE_ROWS and found[-1]:
            found.append([])
            used = 0
        if len(rows) > PAGE_ROWS:
            parts = [rows[n : n + PAGE_ROWS] for n in range(0, len(rows), PAGE_ROWS)]
            found[-1:] = [*([found[-1]] if found[-1] else []), *([" ".join(p)] for p in parts)]
            used = len(parts[-1])
        elif rows:
            found[-1].append(line)
            used += len(rows)
    return [tuple(page) for page in found if page]
