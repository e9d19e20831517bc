"""The call list as one HTML file: nothing is loaded from anywhere, and it prints. Pure.

The script and the style are named by their SHA-256 in the page's own policy (CSP, level 3), so that
nothing that a handover says can run. Without the script the list stands in its order all the same.
"""

import base64
import hashlib
import os
from collections.abc import Mapping
from html import escape
from importlib.resources import files
from pathlib import Path
from urllib.parse import quote

from coach.practice.call_list import CallList, Dog
from coach.practice.call_text import course_line, reason_line, shown
from coach.practice.details import Detail
from coach.practice.drawings import DEFINITIONS, LEGEND, pictures
from coach.practice.sealed import SEALED

# A page with a drawing of each of a thousand dogs has some 3 MB.
MOST_PICTURES = 1000
COLUMNS = (
    ("rank", "Order"),
    ("dog", "Dog"),
    ("why", "Why"),
    ("since", "Since"),
    ("next", "Next due"),
    ("owner", "Owner"),
    ("called", "Last call"),
)


def call_page(found: CallList, details: Mapping[str, Detail], *, folder: Path, at: Path) -> str:
    """The page; ``folder`` is where the handovers lie and ``at`` where the page will."""
    style, script = _part("page.css"), _part("page.js")
    policy = (
        f"default-src 'none'; style-src 'sha256-{_digest(style)}'; "
        f"script-src 'sha256-{_digest(script)}'; base-uri 'none'; form-action 'none'"
    )
    calls = sum(bool(dog.reasons) for dog in found.dogs)
    many = len(found.dogs) > MOST_PICTURES
    rows = [
        _row(
            number,
            dog,
            None if many and not dog.reasons else details.get(dog.key),
            _link(folder, at, dog),
        )
        for number, dog in enumerate(found.dogs, start=1)
    ]
    about = f"{found.today:%A, %d %B %Y}: {calls} of {_count(len(found.dogs), 'dog')}"
    remarks = "".join(f"<li>{_text(remark)}</li>" for remark in found.remarks)
    told = f"<h2>Could not be read, or is odd</h2><ul>{remarks}</ul>" if remarks else ""
    return "\n".join(
        [
            "<!doctype html>",
            '<html lang="en"><head><meta charset="utf-8">',
            f'<meta http-equiv="Content-Security-Policy" content="{policy}">',
            '<meta name="viewport" content="width=device-width, initial-scale=1">',
            '<meta name="referrer" content="no-referrer"><meta name="robots" content="noindex">',
            f"<title>Call today, {found.today}</title><style>{style}</style></head><body>",
            f"<header><h1>Call today</h1><p>{about}; "
            f"{_count(found.handovers, 'handover')} read</p></header><main>",
            DEFINITIONS,
            _TOOLS,
            '<table role="table"><caption>The dog to call first stands on top.</caption>',
            f'<thead role="rowgroup"><tr role="row">{_HEADS}</tr></thead>',
            '<tbody role="rowgroup">',
            *rows,
            "</tbody></table>",
            LEGEND,
            told,
            "</main><footer><p>Made from what the handovers say; seconds in them are coached, not "
            "measured. The order follows the practice's rules (coach caseload --rules). It is no "
            "advice: the vet decides.</p></footer>",
            f"<script>{script}</script></body></html>",
            "",
        ]
    )


_TOOLS = (
    '<div class="tools" role="search" hidden><label>Search'
    '<input type="search" id="search" autocomplete="off"></label>'
    '<label class="narrow">Sort by<select id="order">'
    + "".join(f'<option value="{by}">{words}</option>' for by, words in COLUMNS)
    + '</select></label><p id="shown" role="status"></p></div>'
)


def _head(by: str, words: str) -> str:
    order = ' aria-sort="ascending"' if by == "rank" else ""
    button = f'<button type="button">{words}</button>'
    return f'<th role="columnheader" scope="col" data-by="{by}"{order}>{button}</th>'


_HEADS = "".join(_head(by, words) for by, words in COLUMNS) + (
    '<th role="columnheader" scope="col">Spots, tolerance, score, weeks</th>'
)


def _row(number: int, dog: Dog, detail: Detail | None, link: str) -> str:
    first = dog.why
    since = first.since.isoformat() if first else ""
    following = dog.next_due.isoformat() if dog.next_due else ""
    called = dog.called.isoformat() if dog.called else ""
    data = {
        "rank": str(number),
        "dog": shown(dog.dog).casefold(),
        "why": first.words if first else "",
        "since": since,
        "next": following,
        "owner": shown(dog.owner).casefold(),
        "called": called,
    }
    attributes = " ".join(f'data-{name}="{escape(value)}"' for name, value in data.items())
    plan = f"{shown(dog.plan)} r{dog.plan_revision}" if dog.plan else ""
    name = f'<a href="{escape(link)}">{_text(dog.dog)}</a>' if link else _text(dog.dog)
    cells = [
        _cell("Order", str(number), "rank"),
        f'<th role="rowheader" scope="row">{name}<small>{_text(plan)}</small>'
        f"<small>{_text(dog.prescriber)}</small></th>",
        _cell("Why", _why(dog), "why"),
        _cell("Since", since, "date"),
        _cell("Next due", following, "date"),
        _cell("Owner", _owner(dog), "owner"),
        _cell("Last call", _called(dog), "date"),
        _cell("Pictures", "" if detail is None else pictures(dog.dog, detail), "pictures"),
    ]
    return f'<tr role="row" {attributes}>{"".join(cells)}</tr>'


def _cell(label: str, content: str, kind: str = "") -> str:
    of_kind = f' class="{kind}"' if kind else ""
    return f'<td role="cell" data-label="{label}"{of_kind}>{content}</td>'


def _why(dog: Dog) -> str:
    told = []
    for number, reason in enumerate(dog.reasons):
        words = f"<span{' class=new' if reason.new else ''}>{_text(reason_line(reason))}</span>"
        told.append(f"<strong>{words}</strong>" if number == 0 else f"<li>{words}</li>")
    first, rest = (told[0], told[1:]) if told else ("No reason to call.", [])
    more = "".join(rest)
    changed = [*dog.changed, course_line(dog)]
    lines = "".join(f"<small>{_text(text)}</small>" for text in changed)
    return f"{first}{f'<ul>{more}</ul>' if more else ''}{lines}"


def _owner(dog: Dog) -> str:
    number = "".join(c for c in dog.phone if c.isascii() and (c.isdigit() or c == "+"))
    phone = f'<a href="tel:{number}">{_text(dog.phone)}</a>' if number else _text(dog.phone)
    return " ".join(filter(None, (_text(dog.owner), phone)))


def _called(dog: Dog) -> str:
    if dog.called is None:
        return ""
    again = f"again {dog.call_again}" if dog.call_again else ""
    about = [f"by {shown(dog.called_by)}", shown(dog.call_note), again]
    return f"{dog.called}" + "".join(f"<small>{_text(text)}</small>" for text in about if text)


def _link(folder: Path, at: Path, dog: Dog) -> str:
    """Where the report lies, as seen from the page; "" where there is none."""
    place = folder / dog.handover
    if not place.exists():
        # The folder itself is the handover.
        place = folder
    report = place / dog.report if place.is_dir() else place
    if not report.is_file() or report.suffix == SEALED:
        return ""
    relative = os.path.relpath(report.resolve(), at.resolve().parent)
    return quote(Path(relative).as_posix())


def _text(text: str) -> str:
    return escape(shown(text))


def _count(count: int, noun: str) -> str:
    return f"{count} {noun}" if count == 1 else f"{count} {noun}s"


def _part(name: str) -> str:
    return (files("coach.practice") / name).read_text(encoding="utf-8").strip()


def _digest(text: str) -> str:
    return base64.b64encode(hashlib.sha256(text.encode()).digest()).decode()
