"""A small plan to change and break. The dog, the people and the laser are invented."""

import datetime
from pathlib import Path

import pytest

from coach.plan.finding import Finding
from coach.plan.findings import findings
from coach.plan.model import Plan
from coach.plan.problems import PlanProblems, Problem
from coach.plan.read import read_plan
from coach.plan.spots import spots_of
from tests.plan_head import head

TODAY = datetime.date(2026, 11, 25)
PLANS = Path(__file__).parents[2] / "plans"

PLAN = (
    head("spine", revision=3, valid_until="2026-12-31")
    + """
[[course]]
name = "induction"
times_a_week = 3
weeks = 2

[settle]
seconds_each_side = 30

[session]
order = "one side at a time"
advance = "auto"
move_seconds = 8
repeats_allowed = 1

[[regions]]
region = "lumbar"
sides = ["left", "right"]
spots = 4
seconds_each_spot = 40

[[regions]]
region = "hip"
sides = ["right"]
aspects = ["lateral", "cranial"]
spots = 1
joules_each_spot = 4
"""
)


def changed(*changes: tuple[str, str], text: str = PLAN) -> str:
    """``text`` with each first word replaced by the second, once; it must be there."""
    for old, new in changes:
        assert old in text, old
        text = text.replace(old, new, 1)
    return text


def read(text: str) -> Plan:
    return read_plan(text, file="spine.toml", today=TODAY)


def plain_findings(plan: Plan) -> list[Finding]:
    """All but what published rows say: tests/plan/test_dose_findings.py has those."""
    found = findings(plan, spots_of(plan), today=TODAY)
    return [finding for finding in found if "published for" not in finding.text]


def problems_of(text: str) -> tuple[Problem, ...]:
    with pytest.raises(PlanProblems) as raised:
        read(text)
    return raised.value.problems


def line_in(text: str, words: str) -> int:
    """The line, from 1, that ``words`` stand on for the first time."""
    return text[: text.index(words)].count("\n") + 1
