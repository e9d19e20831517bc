"""Weeks of sessions of an invented dog, as a folder: for tests, and for people to look at.

python -m tests.handover.weeks FOLDER [A4|Letter]     writes a handover there and its pictures
"""

import datetime
import sys
from pathlib import Path

from coach import __version__
from coach.bedside.runner import header_of
from coach.handover.build_info import Made
from coach.handover.folder import write_handover
from coach.journal.diary_entries import AfterSession, Correction, FunctionScore
from coach.journal.signing import DeviceKey
from coach.plan.files import load_plan
from coach.plan.spots import spots_of
from coach.session.machine import Options
from tests.handover.dogs import said, session

PLANS = Path(__file__).parent.parent.parent / "plans"
FIRST = datetime.date(2026, 11, 2)
# Days after the first: three a week for two weeks, then two a week.
DAYS = (0, 2, 4, 7, 9, 11, 14, 17, 21)


def weeks(folder: Path, key: DeviceKey, *, plan: str = "demo-big-hips.toml") -> None:
    """Nine sessions: two stopped, one of them soon, some skin, signals, scores, corrections."""
    plan_file = load_plan(PLANS / plan, today=FIRST)
    dog = plan_file.plan.dog.name
    folder.mkdir(parents=True, exist_ok=True)
    (folder / "plan.toml").write_bytes((PLANS / plan).read_bytes())
    spots = spots_of(plan_file.plan)
    header = header_of(plan_file, spots, Options(), version=__version__, rehearsal=False)
    for number, days in enumerate(DAYS):
        day = (FIRST + datetime.timedelta(days=days)).isoformat()
        path = session(
            folder,
            day,
            dog=dog,
            key=key,
            spots=spots,
            header=header,
            helper="Robin (invented)",
            stop_after={3: 9, 6: 2}.get(number),
            signals=[{"spot": 4, "signals": ["lip_licking"], "outcome": "went_on"}]
            if number in (2, 3)
            else (),
        )
        said(
            folder,
            AfterSession(
                session=path.stem,
                skin="red" if number == 6 else "warm" if number == 3 else "fine",
                tolerance_0_10=(6, 7, 7, 4, 7, 8, 3, 8, 9)[number],
                words="Got up by himself afterwards." if number == 7 else "",
            ),
            dog=dog,
            day=day,
        )
        if number % 3 == 0:
            score = FunctionScore(
                score_0_10=4 + number // 3, activities={"stairs": 1 + number // 3}
            )
            said(folder, score, dog=dog, day=day)
        if number == 4:
            entry = Correction(
                session=path.stem, spot=3, what="laser_was_off", text="cable", by="R"
            )
            said(folder, entry, dog=dog, day=day)


def main(folder: Path, paper: str) -> None:
    """Write the handover and the pages of its report as PNG."""
    import pypdfium2

    key = DeviceKey(bytes(32))
    weeks(folder / "dog", key)
    made = Made(at="2026-11-25T10:00:00+01:00", program=__version__, paper=paper)
    done = write_handover(
        folder / "dog", folder, made=made, signer=key, with_names=True, zipped=False
    )
    with pypdfium2.PdfDocument(done.path / "report.pdf") as pdf:
        for number, page in enumerate(pdf, start=1):
            page.render(scale=2, grayscale=True).to_pil().save(folder / f"page-{number}.png")
    print(done.path)


if __name__ == "__main__":
    main(Path(sys.argv[1]), (sys.argv[2:] or ["A4"])[0])
