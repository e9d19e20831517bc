"""Corrections as they are read: the place, the words, who said it, and what the log says."""

from pathlib import Path
from typing import Any

from coach.journal.diary import Told
from coach.journal.diary_entries import AfterSession, Correction, Entry
from coach.record.corrected_session import Amended
from coach.record.tally import SessionTally, tally_of
from coach.reports.corrections_text import amended_json, correction_lines
from tests.record.test_tally import session
from tests.worlds import header_for, spots_for


def tally(**changes: Any) -> SessionTally:
    """30.25 of 40 s at 0.5 W, begun at 19:00."""
    one = session([40], header=header_for(spots_for([40])))
    lines = [{**line} for line in one.lines]
    for line in lines:
        if line["kind"] == "hold_ended":
            line["data"] = {**line["data"], "given_ns": 30_250_000_000}
    lines[0]["data"] = {**lines[0]["data"], **changes}
    return tally_of(lines)


def correction(**said: Any) -> Correction:
    return Correction(**{"session": "000001-x", "what": "note", **said})


def amended(*entries: Entry, logged: SessionTally | None = None, counts: bool = True) -> Amended:
    log = logged or tally()
    told = tuple(
        Told(path=Path("diary.jsonl"), line=n, wall=f"2026-11-30T19:0{n}", trust="rtc", entry=one)
        for n, one in enumerate(entries)
    )
    return Amended(logged=log, corrected=log if counts else None, corrections=told, remarks=())


def test_each_correction_is_told_with_its_place_and_who_said_it() -> None:
    assert correction_lines(amended()) == []
    assert correction_lines(
        amended(
            correction(what="wrong_side", spot=2, text="cable", by="Ada"),
            correction(what="wrong_region", line=7, by="Ada"),
            correction(what="laser_was_off", text="flat battery"),
            correction(what="not_this_dog"),
            correction(text="all went well"),
        )
    ) == [
        "Session of 2025-01-01 19:00, corrected afterwards:",
        "  spot 2: the other side was treated, cable (said by Ada)",
        "  line 7: another place was treated (said by Ada)",
        "  whole session: the laser was off, flat battery",
        "  whole session: it was not this dog",
        "  whole session: note, all went well",
        # 30.25 s to one place and 15.125 J to two, halves to even.
        "  Its log stays as it is and says 30.2 s, 15.12 J in all.",
    ]


def test_a_session_of_another_dog_does_not_count() -> None:
    assert correction_lines(amended(correction(what="not_this_dog"), counts=False)) == [
        "Session of 2025-01-01 19:00, corrected afterwards:",
        "  whole session: it was not this dog",
        "  Its log stays as it is and says 30.2 s, 15.12 J in all.",
        "  It does not count.",
    ]
    whole = tally_of(session([100], header=header_for(spots_for([100]))).lines)
    long = correction_lines(amended(correction(text="word " * 15), logged=whole))
    assert long[1:] == [
        "  whole session: note, word word word word word word word",
        "    word word word word word word word word",
        "  Its log stays as it is and says 100 s, 50.00 J in all.",
    ]


def test_the_json_has_corrections_and_the_logs_of_corrected_sessions() -> None:
    told = amended_json(
        [
            amended(logged=tally(program="1")),
            amended(
                correction(what="laser_was_off", spot=1, by="Ada"),
                AfterSession(session="000001-x"),
                correction(text="x", line=3),
                logged=tally(program="2"),
            ),
            amended(correction(what="not_this_dog"), logged=tally(program="3"), counts=False),
        ]
    )
    assert [one["program"] for one in told["sessions"]] == ["1", "2"]
    assert [one["program"] for one in told["logged"]] == ["2", "3"]
    base = {"session": "000001-x", "line": None, "spot": None, "text": "", "by": ""}
    assert told["corrections"] == [
        {**base, "what": "laser_was_off", "spot": 1, "by": "Ada", "at": "2026-11-30T19:00"},
        {**base, "what": "note", "text": "x", "line": 3, "at": "2026-11-30T19:02"},
        {**base, "what": "not_this_dog", "at": "2026-11-30T19:00"},
    ]
