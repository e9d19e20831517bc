"""A round of questions in lines of text: what is read aloud or printed, and what was typed. Pure.

Used where there is no full screen, and for the words that are spoken.
"""

from coach.language import _
from coach.session.questions import Asking, Question


def question_lines(asking: Asking) -> tuple[str, ...]:
    """What to print now: the reply that is told, or the question with its answers."""
    if asking.told:
        return (*asking.told, _("Press Enter to go on."))
    question = asking.question
    if question is None:
        return ()
    if question.typed is not None:
        how = _("Type it and press Enter. Only Enter: go on without. back: the one before.")
    elif _is_scale(question):
        how = _("Type a number from {low} to {high}. Only Enter: go on without.").format(
            low=question.choices[0].value, high=question.choices[-1].value
        )
    else:
        how = _("Type the number. Only Enter: go on without. back: the one before.")
    choices = () if _is_scale(question) else tuple(f"  {c.key}  {c.text}" for c in question.choices)
    return (question.text, *question.help, *choices, how)


def spoken_text(asking: Asking) -> str:
    """What to say now, in one go: the reply, or the question and the answers with their keys."""
    question = asking.question
    if question is None:
        return " ".join((*asking.told, _("Press the big key to go on.")))
    choices = [
        _("{key}: {answer}.").format(key=choice.key, answer=choice.text)
        for choice in question.choices
        if choice.text
    ]
    if question.typed is not None:
        choices = [_("Press 1 to type it, or the big key to go on.")]
    elif _is_scale(question):
        first, last = question.choices[0], question.choices[-1]
        choices = [
            _("Press a number from {low} to {high}.").format(low=first.words, high=last.words)
        ]
        if last.key != last.words:
            choices.append(_("{key}: {answer}.").format(key=last.key.upper(), answer=last.words))
    if question.choices:
        choices.append(_("Or choose with the big key, then wait."))
    return " ".join((question.text, *question.help, *choices))


def typed(asking: Asking, line: str) -> Asking:
    """What a typed ``line`` makes of the round. Raises ValueError with a sentence for the owner."""
    words = " ".join(line.split())
    question = asking.question
    if words.casefold() in {"back", _("back").casefold()}:
        return asking.back()
    if question is None or not words:
        return asking.on()
    if question.typed is not None:
        return asking.answer(question.typed(line))
    for choice in question.choices:
        names = (choice.key, choice.words, str(choice.value))
        if words.casefold() in map(str.casefold, names):
            return asking.answer(choice.value)
    allowed = ", ".join(c.words if _is_scale(question) else c.key for c in question.choices)
    raise ValueError(
        _('I found "{found}". It can be: {allowed}.').format(found=words[:40], allowed=allowed)
    )


def _is_scale(question: Question) -> bool:
    return bool(question.choices) and not any(choice.text for choice in question.choices)
