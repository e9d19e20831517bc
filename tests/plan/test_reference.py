"""The reference page names every field that the reader knows, and nothing else."""

from pathlib import Path

import pytest

from coach.plan.reference import field_pages, models, reference_lines, reference_markdown, words

PAGE = Path(__file__).parents[2] / "plans" / "FIELDS.md"


def test_every_field_has_its_words_and_every_word_its_field() -> None:
    named = {table: {name for name in fields if name} for table, fields in words().items()}
    assert named == {table: set(model.model_fields) for table, model in models().items()}
    assert all(fields[""] for fields in words().values())


def test_every_field_says_what_is_allowed() -> None:
    assert [page.name for page in field_pages() if not page.allowed] == []


def test_the_committed_page_is_the_one_that_the_program_makes() -> None:
    made = reference_markdown()
    assert PAGE.read_text(encoding="utf-8") == made, "run: coach check --fields --markdown"


def test_bounds_on_the_page_are_those_of_the_reader() -> None:
    (weight,) = [p for p in field_pages() if (p.table, p.name) == ("dog", "weight_kg")]
    assert (weight.allowed, weight.default, weight.since) == ("0.5 to 120 kg", None, 1)
    (first,) = [p for p in field_pages() if p.name == "first"]
    assert (first.allowed, first.default, first.since) == ("true | false", "false", 2)
    (settle,) = [p for p in field_pages() if p.name == "seconds_each_side"]
    assert settle.until == 1


def test_one_table_for_the_terminal() -> None:
    lines = list(reference_lines("care"))
    assert lines[0] == "[care]"
    assert max(map(len, lines)) <= 80
    with pytest.raises(KeyError):
        list(reference_lines("cares"))
