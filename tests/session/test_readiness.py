"""The readiness round: who may start, who must stop, who must ask.

The stands are transcribed from the lists that the round names: A is the North American consensus
of 2010, N Navratil & Kymplova 2002 (J Clin Laser Med Surg 20:341), T a textbook of 2019. CP is
common practice, no source.
"""

import datetime
from collections.abc import Sequence
from pathlib import Path

import pytest

from coach.dose.beam import Head
from coach.dose.hazard import HeadHazard
from coach.dose.limits import OutOfScope
from coach.plan.care import CLEARABLE, Clearance
from coach.plan.files import load_plan
from coach.plan.laser import Laser
from coach.plan.model import Plan
from coach.session import readiness_points
from coach.session.readiness import (
    Answer,
    Round,
    every_sentence,
    eyes_only,
    round_for,
)
from coach.session.readiness_points import Point

ROOT = Path(__file__).parents[2]
TODAY = datetime.date(2026, 11, 25)
BACK = load_plan(ROOT / "plans" / "demo-long-back.toml", today=TODAY).plan
HIPS = load_plan(ROOT / "plans" / "demo-big-hips.toml", today=TODAY).plan

# item: (what it means for a plan along the back, who says so)
PUBLISHED = {
    "lump": ("stop", "A N T: not over a tumour, known or suspected, or its surroundings"),
    "pregnancy": ("stop", "A N: not over the abdomen"),
    "thyroid": ("ask", "N: not over the front of the neck"),
    "epilepsy": ("ask", "N: ask; A only for visible light pulsed below 30 Hz"),
    "young": ("ask", "under 18 months: studies in rats disagree"),
    "fever": ("ask", "N: doubtful"),
    "bleeding": ("ask", "N: doubtful"),
    "blood": ("ask", "N: blood disease doubtful"),
    "medicine": ("ask", "AFP 2007, a table; CP"),
    "implant": ("ask", "T p.61 allows it, older lists advise against it"),
    "heat_sensitive": ("ask", "CP"),
    "wound": ("ask", "CP"),
    "numb": ("caution", "CP: the dog cannot tell you that it is hot"),
    "dark": ("caution", "T p.109: feel the skin, stop if hot"),
}
# Where sources disagree the owner hears of both.
DISAGREE = {
    "epilepsy": ("One says", "Another one"),
    "young": ("no harm", "saw harm"),
    "implant": ("allows", "advise against"),
}


def walk(start: Round, answers: dict[str, Sequence[Answer]]) -> tuple[Round, list[tuple[str, ...]]]:
    """Give the one-key answer everywhere but where ``answers`` say otherwise."""
    left = {name: list(given) for name, given in answers.items()}
    rows = []
    now = start
    for _ in range(200):
        prompt = now.prompt
        if prompt is None:
            break
        given = left.get(prompt.point.id)
        answer = given.pop(0) if given else prompt.options[0].answer
        now, row = now.answer(answer)
        rows.append((row.kind, *map(str, row.data.values())))
    assert now.verdict
    return now, rows


def by_id(points: Sequence[Point]) -> dict[str, Point]:
    return {point.id: point for point in points}


@pytest.mark.parametrize("item", PUBLISHED)
def test_each_published_point_is_asked_and_stands_as_published(item: str) -> None:
    stand, _ = PUBLISHED[item]
    assert by_id(round_for(BACK, first=True).points)[item].stand == stand


@pytest.mark.parametrize(
    "item", [name for name, (stand, _) in PUBLISHED.items() if stand == "stop"]
)
def test_a_hard_stop_lets_nobody_start(item: str) -> None:
    end, rows = walk(round_for(BACK, first=True), {item: ["yes"]})
    assert end.verdict == "stop"
    assert rows[-1] == ("whats_new", item, "yes", "stop")
    assert end.why_not[0] == "No session today. Phone your vet."
    assert end.back() is end


@pytest.mark.parametrize("item", [name for name, (stand, _) in PUBLISHED.items() if stand == "ask"])
def test_a_question_for_the_vet_goes_on_only_when_the_vet_was_asked(item: str) -> None:
    start = round_for(BACK, first=True)
    refused, rows = walk(start, {item: ["yes"]})
    assert refused.verdict == "stop", "the one key must not stand for the vet"
    assert rows[-1] == ("whats_new", item, "yes", "vet_not_asked")
    agreed, rows = walk(start, {item: ["yes", "vet_agreed"]})
    assert agreed.verdict == "go"
    assert ("whats_new", item, "yes", "vet_agreed") in rows


@pytest.mark.parametrize("item", DISAGREE)
def test_where_the_sources_disagree_both_are_told(item: str) -> None:
    start = round_for(BACK, first=True)
    now = start
    while now.point.id != item:
        now, _ = now.answer(now.prompt.options[0].answer)  # type: ignore[union-attr]
    now, _ = now.answer("yes")
    assert now.prompt is not None
    told = " ".join(now.prompt.lines)
    assert all(position in told for position in DISAGREE[item])


@pytest.mark.parametrize("item", ["numb", "dark"])
def test_a_caution_is_told_and_stops_nobody(item: str) -> None:
    end, rows = walk(round_for(BACK, first=True), {item: ["yes"]})
    assert end.verdict == "go"
    assert ("whats_new", item, "yes", "caution") in rows


def test_pregnancy_is_a_hard_stop_over_the_belly_and_a_question_elsewhere() -> None:
    # A N: not over the abdomen. The hips plan may touch the loin as well: only hips are left.
    limbs = HIPS.model_copy(
        update={"regions": tuple(o for o in HIPS.regions if o.region in ("hip", "stifle"))}
    )
    assert limbs.regions
    assert by_id(round_for(limbs, first=True).points)["pregnancy"].stand == "ask"


def cleared(item: Clearance) -> Plan:
    return BACK.model_copy(update={"care": BACK.care.model_copy(update={"clearances": [item]})})


@pytest.mark.parametrize("item", sorted(CLEARABLE))
def test_a_standing_fact_that_the_prescriber_cleared_is_not_asked(item: Clearance) -> None:
    every = round_for(BACK, first=True), round_for(cleared(item), first=True)
    asked = [set(by_id(start.points)) for start in every]
    assert asked[0] - asked[1] == {item}


@pytest.mark.parametrize("item", ["lump", "wound", "fever", "bleeding", "medicine", "worse"])
def test_news_cannot_be_cleared_in_advance(item: Clearance) -> None:
    """An old plan may say so; the question is asked all the same."""
    assert item not in CLEARABLE
    assert round_for(cleared(item), first=True) == round_for(BACK, first=True)
    later = by_id(round_for(cleared(item), first=False).points)["anything_new"]
    assert item in by_id(later.parts)


def test_the_first_round_is_long_and_later_ones_short_but_for_the_eyes() -> None:
    first, later = round_for(BACK, first=True), round_for(BACK, first=False)
    # Founder's rule: never more than 9 screens that wait at the first session, 5 later.
    assert first.screen[1] <= 9
    assert later.screen[1] <= 5
    again = round_for(BACK, first=False, facts_due=True)
    assert again.screen[1] == later.screen[1] + 1
    for start in (first, later, eyes_only(BACK)):
        eyes = [point for point in start.points if point.eyes]
        assert [point.id for point in eyes] == ["eyewear", "dog_eyes"]
        assert all(point.stand == "ready" for point in eyes)


def test_a_point_to_make_ready_waits_until_it_is_so() -> None:
    now = eyes_only(BACK)
    for _ in range(3):
        now, row = now.answer("not_yet")
        assert (now.point.id, now.verdict) == ("eyewear", "")
        assert row.data == {"point": "eyewear", "answer": "not_yet"}
        assert now.told
    end, _ = walk(now, {})
    assert end.verdict == "go"


def test_anything_new_is_asked_for_one_by_one_only_after_yes() -> None:
    end, rows = walk(round_for(BACK, first=False), {})
    assert (end.verdict, len(rows)) == ("go", len(end.points))
    end, rows = walk(round_for(BACK, first=False), {"anything_new": ["yes"], "worse": ["yes"]})
    assert end.verdict == "stop"
    assert [row[1] for row in rows][-3:] == ["anything_new", "worse", "worse"]
    end, rows = walk(round_for(BACK, first=False), {"anything_new": ["yes"], "lump": ["yes"]})
    assert end.verdict == "stop"
    end, rows = walk(round_for(BACK, first=False), {"anything_new": ["yes"]})
    assert end.verdict == "go"
    assert {
        "lump",
        "wound",
        "pregnancy",
        "medicine",
        "fever",
        "worse",
        "heat_sensitive",
        "numb",
    } < {row[1] for row in rows}


def test_going_back_asks_again_and_no_answer_fits_another_question() -> None:
    now, _ = eyes_only(BACK).answer("done")
    assert now.point.id == "dog_eyes"
    assert now.back().point.id == "eyewear"
    assert now.back().back().point.id == "eyewear"
    with pytest.raises(ValueError, match="no answer"):
        now.answer("vet_agreed")
    end, _ = now.answer("done")
    with pytest.raises(ValueError, match="no answer"):
        end.answer("done")


# Optical density for the whole beam in a 7 mm pupil, 10 s, by ICNIRP 2013: limit 10 C_4 W/m2 with
# C_4 = 10^(0.002 (808 - 700)) = 1.644; 100 mW / 3.848e-5 m2 = 2599 W/m2; log10(2599 / 16.44) = 2.2.
def test_the_eyewear_is_named_by_wavelength_and_density() -> None:
    (line, blinding) = by_id(round_for(BACK, first=True).points)["eyewear"].help
    assert line == "It must be marked for 808 nm, optical density 3 or more."
    assert "blind" in blinding


def with_class(plan: Plan, laser_class: str) -> Plan:
    values = {**plan.laser.model_dump(exclude_none=True), "laser_class": laser_class}
    return plan.model_copy(update={"laser": Laser.model_validate(values)})


def test_what_burns_is_asked_away_for_class_4_only() -> None:
    # IEC 60825-1: class 4 may set things on fire (from memory).
    told = {
        name: " ".join(
            sentence
            for point in round_for(with_class(BACK, name), first=True).points
            for sentence in point.help
        )
        for name in ("2", "3B", "4")
    }
    assert ["burn" in told[name] for name in ("2", "3B", "4")] == [False, False, True]
    assert ["blind" in told[name] for name in ("2", "3B", "4")] == [False, True, True]


def test_where_the_dog_lies_and_where_the_owner_sits() -> None:
    care = BACK.care.model_copy(update={"dog_lies": "On the blue mat.", "owner_sits": "right"})
    plan = BACK.model_copy(update={"care": care})
    place = by_id(round_for(plan, first=True, position="left lateral").points)["place"]
    # Left lateral recumbency is left side DOWN (trade term).
    assert place.help == (
        "On the blue mat.",
        "To begin with, Juniper lies with its right side up.",
        "You sit at the right side of Juniper.",
    )
    ready = by_id(round_for(plan, first=False, owner_sits="left").points)["ready"]
    assert ready.help[-1] == "You sit at the left side of Juniper."


@pytest.mark.parametrize("first", [True, False])
def test_whatever_is_spoken_is_rendered_ahead_and_short(first: bool) -> None:
    start = round_for(BACK, first=first)
    ahead = every_sentence(start)
    seen = [start]
    said = set()
    for state in seen:
        prompt = state.prompt
        if prompt is None:
            said |= set(state.why_not[:1])
            continue
        said |= set(prompt.said if prompt.said_first == 1 else prompt.keys)
        assert set(prompt.said_again) <= set(ahead)
        following = {
            state.answer(option.answer)[0].index: option.answer for option in prompt.options
        }
        seen += [state.answer(answer)[0] for answer in following.values()][: 60 - len(seen)]
    assert said <= set(ahead)
    # At most 8 words a spoken line: house rule after Holland & Fletcher 2000.
    assert all(len(line.split()) <= 8 for line in said)


# Who is asked what, in which order: health first, the eyes last. As the points say it, and as the
# journal keeps it.
FACTS = [
    "implant", "epilepsy", "blood", "heat_sensitive", "numb", "pregnancy", "young", "thyroid",
    "dark",
]  # fmt: skip
TODAYS = ["lump", "wound", "fever", "bleeding", "medicine", "other"]
FIRST_ROUND = [
    "dog_and_plan", *FACTS, *TODAYS, "room", "lens_and_coat", "place", "eyewear", "dog_eyes",
]  # fmt: skip
LATER_ROUND = ["dog_and_plan", "anything_new", "ready", "eyewear", "dog_eyes"]


@pytest.mark.parametrize(("first", "ids"), [(True, FIRST_ROUND), (False, LATER_ROUND)])
def test_every_point_has_a_question_and_nothing_is_left_blank(first: bool, ids: list[str]) -> None:
    points = round_for(BACK, first=first).points
    assert [point.id for point in points] == ids
    parts = [part for whole in points for part in whole.parts]
    for point in (*points, *parts):
        assert point.stand in ("ready", "new", "stop", "ask", "caution")
        assert point.question.endswith("?")
        assert all(line and "None" not in line for line in (*point.help, *point.advice))
        assert "None" not in point.question
        assert "{" not in point.question
        # Who answers yes is always told something before it goes on.
        assert bool(point.advice) is (point.stand in ("stop", "ask", "caution"))
    helped = {point.id for point in points if point.help}
    # What protects eyes and skin is spelt out, whatever else is short.
    assert {"eyewear", "dog_eyes"} < helped
    assert ({"room", "lens_and_coat", "place"} <= helped) is first
    assert ({"ready", "anything_new"} <= helped) is not first


def test_every_answer_is_written_down_as_it_was_given() -> None:
    _, rows = walk(round_for(BACK, first=True), {"dark": ["yes"]})
    expected: list[tuple[str, ...]] = []
    for point in FIRST_ROUND:
        if point == "dark":
            expected += [("whats_new", point, "yes", "caution"), ("whats_new", point, "yes", "go")]
        elif point in (*FACTS, *TODAYS):
            expected.append(("whats_new", point, "no", "go"))
        else:
            expected.append(("readiness", point, "yes"))
    assert rows == expected
    now, row = eyes_only(BACK).answer("not_yet")
    assert (row.kind, row.data) == ("readiness", {"point": "eyewear", "answer": "not_yet"})
    assert now.told == "Take your time. I wait."
    _, rows = walk(round_for(BACK, first=False), {"anything_new": ["yes"]})
    assert ("whats_new", "anything_new", "yes", "asked") in rows
    later = round_for(BACK, first=False)
    while later.point.id != "anything_new":
        later, _ = later.answer("done")
    _, row = later.answer("yes")
    assert dict(row.data) == {"point": "anything_new", "answer": "yes", "outcome": "asked"}


def at(item: str) -> Round:
    now = round_for(BACK, first=True)
    while now.point.id != item:
        assert now.prompt is not None
        now, _ = now.answer(now.prompt.options[0].answer)
    return now


@pytest.mark.parametrize(
    ("item", "step", "outcome"), [("implant", "vet", "ask_vet"), ("numb", "advice", "caution")]
)
def test_after_yes_it_is_asked_on_and_back_asks_the_same_again(
    item: str, step: str, outcome: str
) -> None:
    asked, row = at(item).answer("yes")
    assert (asked.point.id, asked.step, asked.told, asked.verdict) == (item, step, "", "")
    assert row.data == {"point": item, "answer": "yes", "outcome": outcome}
    back = asked.back()
    assert (back.point.id, back.step, back.told) == (item, "ask", "")
    assert back == at(item)


def test_who_was_not_asked_stops_it_with_the_reason() -> None:
    asked, _ = at("implant").answer("yes")
    stopped, _ = asked.answer("not_asked")
    assert stopped.told == ""
    assert stopped.why_not == (
        "No session today. Phone your vet.",
        "The books do not agree. A newer one allows it.",
        "Older lists advise against it.",
    )
    waits, _ = eyes_only(BACK).answer("not_yet")
    assert waits.back().told == ""


def test_the_end_and_the_waiting_are_rendered_ahead() -> None:
    assert {
        "Did your vet say you may go on?",
        "No session today. Phone your vet.",
        "Take your time. I wait.",
        "All is ready. Press to start.",
        "I am still here. Press to go on.",
    } <= set(every_sentence(round_for(BACK, first=False)))


def test_a_weak_laser_needs_the_eyewear_of_its_maker() -> None:
    # 1 mW at 1300 nm: 26 W/m2 in the pupil, below the 10 C_A C_C = 10 x 5 x 8 W/m2 of ICNIRP 2013
    # for 10 s (C_C from memory).
    values = {
        **BACK.laser.model_dump(exclude_none=True),
        "laser_class": "1",
        "wavelength_nm": 1300,
        "mean_power_mw": 1,
    }
    plan = BACK.model_copy(update={"laser": Laser.model_validate(values)})
    assert by_id(eyes_only(plan).points)["eyewear"].help == ("It must be made for this laser.",)


def test_where_no_limit_is_held_no_density_is_made_up(monkeypatch: pytest.MonkeyPatch) -> None:
    def nothing_held(head: Head) -> HeadHazard:
        raise OutOfScope("a pulse for which no limit is held")

    monkeypatch.setattr(readiness_points, "head_hazard", nothing_held)
    assert by_id(eyes_only(BACK).points)["eyewear"].help[0] == "It must be made for this laser."


def test_the_short_round_says_all_that_is_meant() -> None:
    # T p.169 and common practice, as the long round asks it one by one.
    later = by_id(round_for(BACK, first=False).points)
    assert later["ready"].help[:3] == (
        "Others and pets are out. The door is shut. Shiny things are covered.",
        "The lens is clean. The coat is dry and parted.",
        "Collar and harness are off.",
    )
    news = later["anything_new"]
    told = " ".join(news.help).casefold()
    words = {
        "worse": "worse", "lump": "lump", "wound": "wound", "fever": "fever",
        "bleeding": "bleeding", "medicine": "medicine", "other": "anything else",
        "epilepsy": "fit", "pregnancy": "pregnant", "heat_sensitive": "hurts",
        "numb": "feels nothing",
    }  # fmt: skip
    # Whatever yes stands for is on the list that is in sight, and nothing else is asked.
    assert {part.id for part in news.parts} == words.keys()
    assert all(word in told for word in words.values())


def test_no_health_question_has_an_answer_that_a_key_gives_by_habit() -> None:
    now = round_for(BACK, first=True)
    while (prompt := now.prompt) is not None:
        assert prompt.preset is (prompt.point.stand == "ready")
        now, _ = now.answer(prompt.options[0].answer)
    vet, _ = at("implant").answer("yes")
    assert vet.prompt is not None
    assert not vet.prompt.preset


def test_the_lines_of_a_page_are_answered_in_any_order_and_none_is_left_out() -> None:
    now = at("implant")
    assert [line.id for line in now.page] == FACTS
    assert now.heading == "About Juniper, once for this plan"
    for name in reversed(FACTS[1:]):
        now, row = now.pick(name).answer("no")
        assert row.data["point"] == name
        assert now.point.id == "implant", "the page is left while a line is open"
    # Taken back: asked again.
    again = now.pick("numb")
    assert (again.point.id, again.answers.get("numb")) == ("numb", None)
    now, _ = again.answer("no")
    assert now.point.id == "implant"
    with pytest.raises(ValueError, match="no line"):
        now.pick("eyewear")
    now, _ = now.answer("no")
    assert now.point.id == "lump"
    with pytest.raises(ValueError, match="no line"):
        now.pick("implant")


def test_a_yes_on_a_page_is_followed_at_once_and_then_the_page_goes_on() -> None:
    asked, _ = at("implant").pick("thyroid").answer("yes")
    assert (asked.point.id, asked.step) == ("thyroid", "vet")
    with pytest.raises(ValueError, match="no line"):
        asked.pick("implant")
    now, row = asked.answer("vet_agreed")
    assert row.data == {"point": "thyroid", "answer": "yes", "outcome": "vet_agreed"}
    assert (now.point.id, now.answers["thyroid"]) == ("implant", "yes")


def test_a_yes_to_anything_new_that_is_taken_back_asks_nothing_more() -> None:
    start = round_for(BACK, first=False)
    now, _ = start.answer("done")
    asked, _ = now.answer("yes")
    assert asked.point.id == "worse"
    assert asked.screen[1] == start.screen[1] + 1
    back = asked.back()
    assert back.point.id == "anything_new"
    now, _ = back.answer("no")
    assert now.point.id == "ready"
    assert now.points == start.points
