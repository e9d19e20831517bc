"""The readiness round and the signs of the dog in lines of text, and what was typed. Pure."""

from collections.abc import Mapping

from coach.language import N_, _
from coach.session.readiness import Answer, Round
from coach.session.signals import SIGNALS

UNHAPPY = N_("unhappy")
EMERGENCY = N_("emergency")
ENDED_WORDS: Mapping[str, str] = {
    "complete": N_("complete"),
    "paused": N_("paused"),
    "skipped": N_("skipped"),
    "again": N_("again"),
    "back": N_("back"),
    "stopped": N_("stopped"),
    "asked": N_("asked"),
    "dog_unhappy": N_("the dog was unhappy"),
    "hot_skin": N_("the skin felt hot"),
    "no_time": N_("no time left"),
    "closed": N_("closed"),
    "not_ready": N_("not ready today"),
    "went_wrong": N_("something went wrong"),
}
OPTION_WORDS: Mapping[str, tuple[str, ...]] = {
    "y": (N_("yes"),),
    "n": (N_("no"), N_("not yet")),
}


def round_lines(asked: Round) -> tuple[str, ...]:
    """A question of the readiness round with what can be typed."""
    prompt = asked.prompt
    if prompt is None:
        return ()
    big, others = prompt.options[: prompt.preset], prompt.options[prompt.preset :]
    told = (*((asked.told,) if asked.told else ()), *((prompt.heading,) if prompt.heading else ()))
    number = _("Question {number} of {of}:").format(number=asked.index + 1, of=len(asked.points))
    return (
        *told,
        f"{number} {prompt.lines[0]}",
        *prompt.lines[1:],
        *(_("  Enter: {answer}").format(answer=option.text) for option in big),
        *(f"  {option.key}: {option.text}" for option in others),
    )


def answer_typed(asked: Round, words: str) -> Answer | None:
    """What typed ``words`` answer in the readiness round; None if they are no answer."""
    for option in () if asked.prompt is None else asked.prompt.options:
        known = OPTION_WORDS[option.key]
        if words in {option.key, *known, *map(_, known)}:
            return option.answer
    return None


def signs_lines() -> tuple[str, ...]:
    """The signs of a dog that is not happy, with what can be typed."""
    signs = (f"  {signal.key}  {_(signal.text)}" for signal in SIGNALS)
    return (_("What do you see? Type the keys, such as: 1 3"), *signs)


def signs_typed(words: str) -> tuple[str, ...]:
    """The signs for the keys in ``words``; () if something else stands there."""
    by_key = {signal.key: signal.id for signal in SIGNALS}
    keys = words.split()
    if not all(key in by_key for key in keys):
        return ()
    return tuple(dict.fromkeys(by_key[key] for key in keys))
