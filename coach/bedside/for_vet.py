"""The page for the vet: onto a stick, a new plan from one, a code for a phone.

Everything goes by the one big key, and nothing is written, taken or shown unless it was chosen.
"""

import shutil
import tempfile
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

from coach import __version__, paths
from coach.appliance.drives import Drive, DriveTrouble, borrowed, drives
from coach.bedside.dog_facts import Home
from coach.bedside.evening import Evening
from coach.bedside.flow import Ask, Flow, Key, Progress, choose, show, tell, work
from coach.bedside.pages import LEAVE, CodePage
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
from coach.session.questions import Answer, Asking, Question, numbered
from coach.shown import plain

MOST_CHOICES = 8


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


def for_vet(evening: Evening, dog: Home | None) -> Flow[None]:
    """Until the owner chooses nothing any more; without a dog only a plan can be taken."""
    if dog is None:
        yield from _page(ForVet(evening=evening, folder=None, title=_("For the vet")))
    else:
        title = _("{dog}: for the vet").format(dog=dog.facts.dog)
        yield from _page(ForVet(evening=evening, folder=dog.folder, title=title))


def take_from_stick(evening: Evening, *, title: str) -> Flow[PlanFile | None]:
    """A new plan from a stick: checked, compared, asked; the one that was taken."""
    return (yield from ForVet(evening=evening, folder=None, title=title).take())


def _page(page: "ForVet") -> Flow[None]:
    take: tuple[Answer, str] = ("take", _("take a new plan from a stick"))
    put: tuple[Answer, str] = ("put", _("put the record for the vet on a stick"))
    show_: tuple[Answer, str] = ("show", _("show the last session to a phone"))
    offered = (take,) if page.folder is None else (put, take, show_)
    while True:
        what = yield from page.ask(_("What would you like to do for the vet?"), *offered)
        if what is None:
            return
        if what == "put":
            yield from page.put()
        elif what == "take":
            yield from page.take()
        else:
            yield from page.show()


@dataclass(slots=True, kw_only=True)
class ForVet:
    """What is done for the dog with ``folder``; None where no dog has one yet."""

    evening: Evening
    folder: Path | None
    title: str

    # The three things

    def put(self) -> Flow[None]:
        """The record onto a stick."""
        odd = self._doubts()
        if odd:
            yield from self.tell([_("Before this device signs the record:"), *odd])
        drive = yield from self._stick(_("The record goes on this stick?"))
        if drive is None:
            return
        text = _("Writing on {name} and reading it back. Leave the stick where it is.")
        told = yield from work(
            lambda progress: self._written(drive, progress),
            text.format(name=drive.name),
            title=self.title,
        )
        yield from self.tell(told or [])

    def _doubts(self) -> list[str]:
        """What is not as this device wrote it."""
        assert self.folder is not None
        try:
            key = device_key(paths.device_key_file())
        except (KeyUnusable, OSError):
            # Told where the record is to be signed.
            return []
        told = _("Not as this device wrote it: {what}")
        return [told.format(what=one) for one in doubts(self.folder / JOURNALS, key=key.public_key)]

    def _written(self, drive: Drive, progress: Progress) -> list[str]:
        assert self.folder is not None
        if drive.read_only:
            return [
                _("Nothing can be written on {name}.").format(name=drive.name),
                _("Slide its lock open, or use another stick."),
            ]
        now = self.evening.wall().isoformat(timespec="seconds")
        try:
            with tempfile.TemporaryDirectory(prefix="handover-") as name:
                done = write_handover(
                    self.folder,
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

    def take(self) -> Flow[PlanFile | None]:
        """A new plan from a stick; the one that was taken."""
        drive = yield from self._stick(_("The new plan is on this stick?"))
        if drive is None:
            return None
        with tempfile.TemporaryDirectory(prefix="plans-") as name:
            text = _("Reading from {name}. Leave the stick where it is.")
            read = yield from work(
                lambda _progress: self._read(drive, Path(name)),
                text.format(name=drive.name),
                title=self.title,
            )
            found, told = read or ([], [])
            yield from self.tell(told)
            if not found:
                return None
            return (yield from self._offer(found))

    def _read(self, drive: Drive, copies: Path) -> tuple[list[PlanFile], list[str]]:
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
            return [], [
                _("The stick cannot be read: {why}").format(why=error),
                _("Pull it out, plug it in again, and try once more."),
            ]
        plans, problems = plans_in(copies, today=self.evening.today())
        told = [problem.replace(f"{copies}/", "") for problem in problems]
        if problems:
            told.append(_("Ask your prescriber for a plan without these mistakes."))
        elif not plans:
            told.append(_("There is no plan on {name}.").format(name=drive.name))
        told.append(_("It is safe to pull the stick out now."))
        return plans[:MOST_CHOICES], told

    def _offer(self, found: Sequence[PlanFile]) -> Flow[PlanFile | None]:
        new = found[0]
        if len(found) > 1:
            named = [
                (n, f"{one.plan.dog.name}, {one.plan.about.id} r{one.plan.about.revision}")
                for n, one in enumerate(found)
            ]
            number = yield from self.ask(_("Which plan?"), *named)
            if number is None:
                return None
            new = found[int(number)]
        folder = paths.dog_folder(new.plan.dog.name)
        aside: list[str] = []
        before = None
        try:
            if (folder / PLAN).exists():
                before = load_kept(folder / PLAN, today=self.evening.today())
        except PlanProblems as problems:
            aside = [_("The plan in use cannot be read and is set aside:"), str(problems)]
        try:
            check_follows(new, before)
            known = known_keys(paths.prescriber_keys_file())
            signed = signed_by(new, known)
        except ValueError as error:
            yield from self.tell(_refused(error))
            return None
        others = [] if before else sorted(p.parent.name for p in paths.own_plans())
        head = head_lines(new.plan, signed)
        if signed.state == "bad":
            yield from self.tell([*head, *_refused(_("the signature does not hold"))])
            return None
        if second_check_missing(new.plan, signatures=signed.count):
            yield from self.tell(_refused(_(NO_SECOND_CHECK)))
            return None
        plan_before = None if before is None else before.plan
        yield from self.tell([*head, *aside, *change_lines(plan_before, new.plan, others)])
        sure = yield from self.ask(
            _("Take this plan for {dog}?").format(dog=new.plan.dog.name),
            ("no", _("no, leave all as it is")),
            ("yes", _("yes, take it")),
        )
        if sure != "yes":
            yield from self.tell([_("Nothing was changed.")])
            return None
        if not (yield from self._checked(new, plan_before, signed, known)):
            return None
        return (yield from self._put_in_place(new, folder))

    def _checked(
        self, new: PlanFile, before: Plan | None, signed: SignedBy, known: Mapping[str, str]
    ) -> Flow[bool]:
        """Whether the plan needs no check number, or the right one was typed."""
        reasons = grave(new.plan, before, today=self.evening.today())
        why = needs_number(new.plan, signed, keys_known=bool(known), reasons=reasons)
        if not why:
            return True
        yield from self.tell(why)
        question = Question(id="number", text=_(ASK_NUMBER), typed=str.strip)
        number = str((yield from choose(question, title=self.title)) or "")
        if same_number(number, new.digest):
            return True
        yield from self.tell([_(WRONG_NUMBER) if number else _("Nothing was changed.")])
        return False

    def _put_in_place(self, new: PlanFile, folder: Path) -> Flow[PlanFile | None]:
        now = self.evening.wall()
        try:
            kept = put_in_place(new, folder, at=now)
        except (NotTaken, PlanProblems, OSError) as error:
            yield from self.tell(_refused(error))
            return None
        told = [_("Taken on {day}.").format(day=now.date())]
        if kept is not None:
            told.append(_("The old plan is kept: {path}").format(path=kept.name))
        yield from self.tell(told)
        return new

    def show(self) -> Flow[None]:
        """The last session as a code for a phone."""
        assert self.folder is not None
        case = read_case(self.folder, today=self.evening.today())
        if not case.sessions:
            yield from self.tell([_("No session has been logged yet.")])
            return
        newest = max(case.sessions, key=lambda one: int(one.stem.split("-")[0]))
        texts = session_texts(newest, Names(signer=None))
        keys = (Key(LEAVE, _("SPACE"), _("done"), vital=True),)
        yield from show(CodePage(texts=tuple(texts), keys=keys))

    # What they have in common

    def _stick(self, text: str) -> Flow[Drive | None]:
        try:
            found = drives()[:MOST_CHOICES]
        except DriveTrouble as error:
            yield from self.tell([_("No stick can be found: {why}").format(why=error)])
            return None
        if not found:
            yield from self.tell([_("No stick is plugged in. Plug one in and try again.")])
            return None
        named = [(n, f"{one.name}, {one.size_text}") for n, one in enumerate(found)]
        number = yield from self.ask(text, *named)
        return None if number is None else found[int(number)]

    def ask(self, text: str, *choices: tuple[Answer, str]) -> Flow[Answer | None]:
        """One question; None when it is left, also backwards."""
        question = Question(id="it", text=text, choices=numbered(*choices))
        answered: Asking = yield Ask(
            asking=Asking(questions=(question,)), title=self.title, leaves=True
        )
        return answered.answers.get("it")

    def tell(self, lines: Sequence[str]) -> Flow[None]:
        """Sentences, until the owner goes on."""
        yield from tell(*(plain(line) for line in lines), title=self.title)


def _refused(why: object) -> list[str]:
    return [
        _("The plan is not taken: {why}").format(why=why),
        _("Nothing was changed. Ask your prescriber."),
    ]
