"""Something went wrong with the laser in use: what it can be, and what to do now. Pure.

Each step says where it comes from; where no source is named it is common practice, no source. It
is first aid until somebody who knows more is reached, and never instead of that.
"""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass

from coach.language import N_, _

KIND = "went_wrong"
NOT_SAID = "not_said"


@dataclass(frozen=True, slots=True, kw_only=True)
class Mishap:
    """One thing that can go wrong.

    Attributes:
        id: stable name, for the journal.
        key: chooses it.
        text: how it is called.
        sign: what to do first, in large letters.
        steps: what to do now, a sentence each.
    """

    id: str
    key: str
    text: str
    sign: str
    steps: tuple[str, ...]


MISHAPS: tuple[Mishap, ...] = (
    # An eye examination soon after, pain or not: laser safety programmes ask for one within 24 to
    # 48 hours (from memory). Damage to the retina does not hurt.
    Mishap(
        id="eye",
        key="1",
        text=N_("light in an eye"),
        sign=N_("look away"),
        steps=(
            N_("Look away. Do not rub the eye."),
            N_("See an eye doctor today, even without pain."),
            N_("The dog's eye: phone your vet now."),
        ),
    ),
    # Cool running water for 20 minutes: European Resuscitation Council, first aid, 2021 (from
    # memory).
    Mishap(
        id="burn",
        key="2",
        text=N_("a burn"),
        sign=N_("cool it"),
        steps=(
            N_("Cool it with cool running water."),
            N_("For 20 minutes. No ice, no cream."),
            N_("Then phone your vet; for yourself, a doctor."),
        ),
    ),
    # Soap and water for about 15 minutes: WHO on bites, position paper of 2018 (from memory).
    Mishap(
        id="bite",
        key="3",
        text=N_("a bite"),
        sign=N_("wash it"),
        steps=(
            N_("Leave the dog alone. Shut the door."),
            N_("Wash the bite: soap and water, 15 minutes."),
            N_("See a doctor today."),
        ),
    ),
    Mishap(
        id="wrong_spot",
        key="4",
        text=N_("the wrong spot"),
        sign=N_("no more"),
        steps=(
            N_("No more laser today."),
            N_("Feel the skin there now and tonight."),
            N_("Tell your vet which spot it was."),
        ),
    ),
    Mishap(
        id="stays_on",
        key="5",
        text=N_("the laser stays on"),
        sign=N_("pull plug"),
        steps=(
            N_("Pull the plug, or take out the battery."),
            N_("Point it down, at nobody. Eyewear stays on."),
            N_("If it stays on: all out, door shut."),
            N_("Do not use it again."),
        ),
    ),
    Mishap(
        id="other",
        key="6",
        text=N_("something else"),
        sign=N_("stopped"),
        steps=(
            N_("Make sure that everyone is safe."),
            N_("When in doubt, phone your vet now."),
        ),
    ),
)
BY_ID: Mapping[str, Mishap] = {mishap.id: mishap for mishap in MISHAPS}


def name_text(what: str) -> str:
    """How it is called: ``light in an eye``; what a newer program names stands as it is."""
    if what in ("", NOT_SAID):
        return _("not said what")
    return _(BY_ID[what].text) if what in BY_ID else what.replace("_", " ")


def phone_text(*, name: str, phone: str) -> str:
    """Whom to phone, with the number of the plan where it has one."""
    if not phone:
        return _("Phone your vet.")
    return _("Phone {name}: {phone}.").format(name=name, phone=phone)


def what_to_do(what: str, *, name: str, phone: str) -> tuple[str, ...]:
    """What to do now, and whom to phone. KeyError for a mishap that is not known."""
    return (*(_(step) for step in BY_ID[what].steps), phone_text(name=name, phone=phone))


def question() -> tuple[str, ...]:
    """What is asked, and the keys that answer, to be said."""
    choices = (
        _("{key}: {answer}.").format(key=mishap.key, answer=_(mishap.text)) for mishap in MISHAPS
    )
    return (_("What happened?"), *choices)


def every_sentence(*, name: str, phone: str) -> list[str]:
    """All that is said about it, for rendering ahead."""

    def lines() -> Iterator[str]:
        yield from question()
        for mishap in MISHAPS:
            yield from what_to_do(mishap.id, name=name, phone=phone)

    return list(dict.fromkeys(lines()))
