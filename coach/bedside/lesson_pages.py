"""The lesson: which regions of a plan are met, and what is asked at its end. Pure.

The landmark of the last rib, the sides and the signs for which to stop are those of body.md
(sections 1 and 3): "straight up from the last rib" is wrong by about two vertebrae; left and right
are the dog's, and about 15 % of people confuse them; at a growl one stops at once.
"""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass

from coach.body.regions import SIDES, Side, told
from coach.journal.diary_entries import LessonDone
from coach.language import _
from coach.plan.spots import Spot
from coach.session.cues import face_word, side_word
from coach.session.questions import Answer, Asking, Question, numbered

RIGHT: Mapping[str, str] = {"side": "dog", "last_rib": "forward", "stop": "at_once"}


@dataclass(frozen=True, slots=True, kw_only=True)
class Meeting:
    """One region of a plan, as the lesson shows it, with all its sides and, at a joint, faces."""

    region: str
    sides: tuple[Side, ...]
    aspects: tuple[str, ...]
    landmark: str = ""
    care: str = ""


def meetings(spots: Sequence[Spot]) -> tuple[Meeting, ...]:
    """Every region of a session once, in the order in which it comes."""
    found: dict[str, list[Spot]] = {}
    for spot in spots:
        found.setdefault(spot.region, []).append(spot)
    return tuple(
        Meeting(
            region=key,
            sides=tuple(side for side in SIDES if any(spot.side == side for spot in here)),
            aspects=tuple(dict.fromkeys(spot.aspect for spot in here if spot.aspect)),
            landmark=here[0].landmark,
            care=here[0].care,
        )
        for key, here in found.items()
    )


def teach_back(dog: str) -> Asking:
    """Three short questions at the end of the lesson, each explained."""
    return Asking(
        questions=(
            Question(
                id="side",
                text=_("{dog} looks at you, and the plan says left. Whose left is that?").format(
                    dog=dog
                ),
                choices=numbered(("mine", _("mine")), ("dog", _("the dog's"))),
                reply=_told(
                    "dog",
                    yes=_("Yes, the dog's."),
                    why=(
                        _("Left and right are always the dog's, wherever you sit."),
                        _("When a dog looks at you, its left is on your right."),
                    ),
                ),
            ),
            Question(
                id="last_rib",
                text=_("Where does the last rib meet the back?"),
                help=(_("You feel the end of the last rib at the side."),),
                choices=numbered(
                    ("forward", _("along the rib, up and to the front")),
                    ("straight_up", _("straight up from its end")),
                ),
                reply=_told(
                    "forward",
                    yes=_("Yes, along the rib."),
                    why=(
                        _("The rib runs up and to the front."),
                        _("Go along it with a finger until you come to the back."),
                    ),
                ),
            ),
            Question(
                id="stop",
                text=_("{dog} growls, and ten seconds are left. What do you do?").format(dog=dog),
                choices=numbered(
                    ("after", _("hold on for ten seconds, then stop")),
                    ("at_once", _("take the head off and stop")),
                ),
                reply=_told(
                    "at_once",
                    yes=_("Yes, stop at once."),
                    why=(
                        _("Stop at once at a growl, a snap, a flinch, a yelp or a freeze."),
                        _("Stop as well if it shakes, if the skin is hot or red,"),
                        _("or if it has left twice. You never have to give a reason first."),
                    ),
                ),
            ),
        )
    )


def _told(right: str, *, yes: str, why: tuple[str, ...]) -> Callable[[Answer], tuple[str, ...]]:
    def reply(answer: Answer) -> tuple[str, ...]:
        # Not "wrong": many people think so at first, and this is where it costs nothing.
        return (yes if answer == right else _("Many people think so at first."), *why)

    return reply


def lesson_done(first_answers: Mapping[str, Answer], *, by: str = "") -> LessonDone | None:
    """The entry for a lesson, from the first answer to each question; None without answers."""
    if not first_answers:
        return None
    right = sum(RIGHT[question] == answer for question, answer in first_answers.items())
    return LessonDone(right=right, of=len(first_answers), by=by)


def lesson_lines(meeting: Meeting) -> tuple[str, ...]:
    """What an owner reads about a region, a sentence or two a line; the try comes last."""
    place = told(meeting.region)
    cautions = [*filter(None, [meeting.care]), *place.cautions]
    sides = ", ".join(side_word(side) for side in meeting.sides)
    faces = ", ".join(face_word(aspect) for aspect in meeting.aspects)
    return (
        _("{place}: {sides} (the dog's)").format(place=place.owner_words, sides=sides),
        *([_("Faces: {faces}").format(faces=faces)] if faces else []),
        _("Where: {feel}").format(feel=meeting.landmark or place.feel),
        _("How: {hold}").format(hold=place.hold),
        *(_("Care: {caution}").format(caution=caution) for caution in cautions),
        _("Try it with the laser off: find the place with a finger, then put the head there."),
    )


def first_lines(dog: str, regions: int) -> tuple[str, ...]:
    """What the lesson is, before its first region."""
    return (
        _("This is a lesson. The laser stays off and nothing counts."),
        _("You meet the {number} places of {dog}'s plan, one by one.").format(
            number=regions, dog=dog
        ),
        _("Take your time. Left and right are always the dog's."),
        _("Then you go through a session as it will be, and answer three short questions."),
    )
