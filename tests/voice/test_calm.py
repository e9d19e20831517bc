"""The calm opening is spoken slower than the rest (common practice, no source)."""

import datetime
import wave
from pathlib import Path

import pytest

from coach.plan.files import load_plan
from coach.plan.spots import spots_of
from coach.session.cues import calm_texts, place_text
from coach.voice.render import Cache

PLAN = load_plan(
    Path(__file__).parents[2] / "plans" / "demo-long-back.toml", today=datetime.date(2026, 11, 25)
).plan


def seconds(path: Path) -> float:
    with wave.open(str(path)) as file:
        return float(file.getnframes() / file.getframerate())


def test_the_settling_is_spoken_slower_and_nothing_else(tmp_path: Path) -> None:
    spots = spots_of(PLAN)
    calm = calm_texts(spots)
    assert calm == {"Top of the neck, left.", "Top of the neck, right."}
    usual, slow = Cache(tmp_path / "usual"), Cache(tmp_path / "slow")
    slow.calm = calm
    other = place_text(spots[-1])
    for cache in (usual, slow):
        assert cache.render(["Top of the neck, left.", other]) == {}
    ratio = seconds(slow.path("Top of the neck, left.")) / seconds(
        usual.path("Top of the neck, left.")
    )
    assert 1.05 < ratio < 1.4
    assert seconds(slow.path(other)) == pytest.approx(seconds(usual.path(other)), rel=0.02)
