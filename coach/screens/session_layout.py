"""The session screen as rows of text for any size, from a view. Pure; the widgets only show it."""

import datetime
import textwrap
from collections.abc import Sequence
from dataclasses import dataclass, replace
from fractions import Fraction

from coach.bedside.port import Opening
from coach.language import _
from coach.screens import actions, block_letters, session_text
from coach.screens.block_letters import LETTER_ROWS, Rows
from coach.screens.key_bar_layout import Placed, Tap, fitting, flow, rows_of
from coach.screens.layout_rows import (
    ROOMY_ROWS,
    STACKED_GAP,
    Columns,
    columns_for,
    gap_columns,
    rows_for,
    side_columns,
    stacked_rows,
)
from coach.session.cues import side_word
from coach.session.machine import Phase
from coach.session.view import View
from coach.units import FJ_PER_J, NS_PER_S, ceil_s, clock_text

SHAPE_GAP = 2
VITAL = ("one_key", "stop", "emergency", "dog_moved", "help")


@dataclass(frozen=True, slots=True, kw_only=True)
class Moment:
    """What every screen is drawn from.

    Attributes:
        view: the session now.
        opening: whose plan it is.
        ends: when it will be over by the clock on the wall, if nothing interferes.
        told: what must be told now, one line each.
        now: the clock on the wall, to the minute; None where nobody asks.
    """

    view: View
    opening: Opening
    ends: datetime.datetime
    told: tuple[str, ...] = ()
    now: datetime.datetime | None = None


def coarse(moment: Moment) -> Moment:
    """``moment`` as coarse as it is shown: equal ones look the same and need no drawing."""
    view = moment.view
    tenth_j = FJ_PER_J // 10
    return replace(
        moment,
        view=replace(
            view,
            left_ns=ceil_s(view.left_ns) * NS_PER_S,
            spot_left_ns=ceil_s(view.spot_left_ns) * NS_PER_S,
            to_come_ns=ceil_s(view.to_come_ns) * NS_PER_S,
            given_fj=round(Fraction(view.given_fj, tenth_j)) * tenth_j,
        ),
        ends=moment.ends.replace(second=0, microsecond=0),
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class Drawing:
    """Rows of each part from top to bottom; an empty part is not shown."""

    bar: Rows
    message: Rows
    headline: Rows
    region: Rows
    place: Rows
    guidance: Rows
    main: Rows
    side: Rows
    next_up: Rows
    progress: Rows
    dose: Rows
    keys: tuple[Placed, ...]
    keys_tall: bool
    key_rows: int
    air: int
    columns: Columns

    @property
    def picture(self) -> tuple[int, int] | None:
        """Columns and rows for the dog, beside everything from the region to the panel."""
        if not self.columns.picture:
            return None
        texts = (self.region, self.place, self.guidance, self.panel)
        return self.columns.picture, sum(len(rows) for rows in texts) + self.air

    @property
    def panel(self) -> Rows:
        """Rows of side and countdown together."""
        return (*self.side, *self.main) if self.columns.stacked else self.main


def wrapped(lines: Sequence[str], *, width: int) -> Rows:
    """``lines`` broken at ``width``."""
    return tuple(
        row
        for line in lines
        for row in (textwrap.wrap(line, max(1, width), subsequent_indent=_indent(line)) or [""])
    )


def _indent(line: str) -> str:
    return " " * (len(line) - len(line.lstrip()))


def cut(line: str, *, width: int) -> str:
    """``line`` in one row; two dots where something is missing."""
    return line if len(line) <= width else line[: max(0, width - 2)] + ".."[:width]


def taps_of(view: View) -> tuple[Tap, ...]:
    """The keys of this moment; help last."""
    return tuple(
        Tap(
            id=action.id,
            key=action.key,
            label=action.label_now(view),
            vital=action.id in VITAL,
        )
        for action in actions.offered(view)
    )


def draw(moment: Moment, *, width: int, height: int, picture: bool = False) -> Drawing:
    """The session screen at ``width`` x ``height`` cells.

    ``picture``: rather the dog than large letters, where there is no room for both.
    """
    view = moment.view
    columns = columns_for(width, height, wanted=picture)
    column = columns.text
    tall = height >= ROOMY_ROWS
    # As if every key were offered, so that the screen does not jump from phase to phase; the
    # picture's is the one that gives way.
    every = [
        Tap(id=action.id, key=action.key, label=_(action.label or "pause"))
        for action in actions.ACTIONS
        if action.phases & actions.RUNNING and action.id != "picture"
    ]
    told = wrapped(moment.told, width=width)
    key_rows = rows_of(flow(every, width=width, tall=tall))
    sentences = [wrapped([line], width=column) for line in session_text.guidance(view)]
    longest = clock_text(max(ceil_s(view.hold_ns), ceil_s(view.spot_left_ns)))
    if columns.stacked:
        rows = stacked_rows(height, message=len(told), keys=key_rows)
        side = _stacked_side(view, width=column)
        main_wide, main_high = column, rows.panel - len(side)
    else:
        rows = rows_for(
            height,
            message=len(told),
            place=len(wrapped([session_text.place_text(view)], width=column)),
            keys=key_rows,
            guidance=[len(sentence) for sentence in sentences],
        )
        gap = gap_columns(column)
        side_wide = side_columns(
            side_word(view.spot.side), longest=longest, width=column, height=rows.panel
        )
        side = tuple(row + " " * gap for row in _side(view, width=side_wide, height=rows.panel))
        main_wide, main_high = column - (side_wide + gap if side_wide else 0), rows.panel
    tall = rows.key_rows > 1
    main, drawn_large = _main(view, longest, width=main_wide, height=main_high)
    below = session_text.below_text(view, tip=not rows.guidance)
    bar = session_text.bar_text(
        view,
        width=width,
        side=not side,
        clock=not drawn_large,
        speed=moment.opening.speed,
    )
    return Drawing(
        bar=_one(bar, rows.bar, width),
        message=told[: rows.message] if told else ("",) * rows.message,
        headline=_place(view, width=width, height=rows.place) if columns.stacked else (),
        region=_region(view, width=column, height=rows.region),
        place=() if columns.stacked else _place(view, width=column, height=rows.place),
        guidance=tuple(row for sentence in sentences for row in sentence)[: rows.guidance],
        main=main,
        side=side,
        next_up=_one(below, rows.next_up, width),
        progress=_one(
            session_text.progress_text(view, ends=moment.ends, width=width), rows.progress, width
        ),
        dose=_one(session_text.dose_text(view), rows.dose, width),
        keys=fitting(taps_of(view), width=width, rows=max(1, rows.keys // rows.key_rows), tall=tall)
        if rows.keys
        else (),
        keys_tall=tall,
        key_rows=rows.keys,
        air=rows.air,
        columns=columns,
    )


def _one(text: str, rows: int, width: int) -> Rows:
    return (cut(text, width=width),) if rows else ()


def _place(view: View, *, width: int, height: int) -> Rows:
    """In both languages, or in the owner's alone where there is no room for both."""
    both = wrapped([session_text.place_text(view)], width=width)
    if height == 0 or len(both) <= height:
        return both[:height]
    return _one(session_text.place_text(view, term=False), height, width)


def _region(view: View, *, width: int, height: int) -> Rows:
    if height == 0:
        return ()
    drawn = block_letters.letters(view.place.block, width=width, height=height)
    if drawn is None:
        return block_letters.centred((view.place.block[:width],), width=width, height=height)
    return block_letters.centred(drawn, width=width, height=height)


def _side(view: View, *, width: int, height: int) -> Rows:
    """The dog's side in block letters, whose side it is above, the spot below."""
    if width == 0:
        return ()
    drawn = block_letters.letters(
        side_word(view.spot.side), width=width, height=max(LETTER_ROWS, height - 2)
    )
    if drawn is None:
        return block_letters.centred(
            (side_word(view.spot.side).upper(),), width=width, height=height
        )
    room = height - len(drawn)
    above = (_("the dog's").center(width),) if room > 1 else ()
    below = (session_text.of_text(view.spot).center(width),) if room > 0 else ()
    return block_letters.centred((*above, *drawn, *below), width=width, height=height)


def _stacked_side(view: View, *, width: int) -> Rows:
    """The dog's side in block letters above the countdown, and a blank row between."""
    drawn = block_letters.letters(side_word(view.spot.side), width=width, height=LETTER_ROWS)
    if drawn is None:
        drawn = (side_word(view.spot.side).upper(),)
    return (*block_letters.centred(drawn, width=width, height=LETTER_ROWS), *("",) * STACKED_GAP)


def _main(view: View, longest: str, *, width: int, height: int) -> tuple[Rows, bool]:
    """Countdown of a hold in digits, or the word of any other phase, and whether it is large.

    Large digits are seen in a hold and never otherwise, so that the seconds of a move cannot be
    taken for those of a hold.
    """
    if view.phase is Phase.HOLDING:
        text = clock_text(ceil_s(view.left_ns))
        drawn = block_letters.digits(text, width=width, height=height, like=longest)
        if drawn is None:
            return block_letters.centred((text,), width=width, height=height), False
        return block_letters.centred(drawn, width=width, height=height), True
    return _word(view, width=width, height=height)


def _word(view: View, *, width: int, height: int) -> tuple[Rows, bool]:
    notes = session_text.captions(view)
    room = max(LETTER_ROWS, height - 2)
    shape: Rows = ()
    word: Rows | None = None
    for size in range(room // LETTER_ROWS * LETTER_ROWS, 0, -LETTER_ROWS):
        shape = (
            block_letters.two_bars(size)
            if view.phase is Phase.PAUSED
            else block_letters.stairs(size)
        )
        word = block_letters.letters(
            _(session_text.STATE[view.phase]), width=width - len(shape[0]) - SHAPE_GAP, height=size
        )
        if word is not None and len(word) == size:
            break
        word = None
    if word is None:
        plain = (session_text.state_text(view), *wrapped(notes, width=width))
        return block_letters.centred(plain, width=width, height=height), False
    picture = block_letters.beside((shape, word), SHAPE_GAP)
    below = [cut(note, width=width) for note in notes[: height - len(picture)]]
    return block_letters.centred((*picture, *below), width=width, height=height), True
