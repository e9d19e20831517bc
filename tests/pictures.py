"""Makes the pictures of the README from the running app: ``python -m tests.pictures``."""

import asyncio
import datetime
import tempfile
from pathlib import Path

from coach.units import NS_PER_S
from tests.e2e.virtual import FakeTime, runner_for
from tests.screens.one_app import session_app

ROOT = Path(__file__).parents[1]
FOLDER = ROOT / ".pictures"

NOW = datetime.datetime(2026, 11, 25, 19, 30, tzinfo=datetime.UTC)

# Name: plan, look, columns, rows, then keys and seconds that pass.
PICTURES: dict[str, tuple[str, str, int, int, tuple[str | int, ...]]] = {
    "ready": ("demo-long-back", "dark", 80, 24, ()),
    "move": ("demo-long-back", "dark", 80, 24, ("space", 2)),
    "hold": ("demo-long-back", "dark", 80, 24, ("space", 9, 13)),
    "paused": ("demo-long-back", "dark", 60, 20, ("space", 9, 8, "d")),
    "daylight": ("demo-big-hips", "daylight", 80, 24, ("space", "space", 12)),
    "ended": ("demo-long-back", "dark", 80, 24, ("space", 9, 20, "x")),
}


async def picture(name: str, home: Path) -> str:
    """One picture as SVG."""
    plan, look, width, height, story = PICTURES[name]
    time = FakeTime()
    runner = runner_for(ROOT / "plans" / f"{plan}.toml", home / name, time, rehearsal=False)
    app = session_app(runner, look=look, wall=lambda: NOW, mono_ns=time)
    async with app.run_test(size=(width, height)) as pilot:
        await pilot.pause()
        # No key was down before.
        time.now_ns += NS_PER_S
        for act in story:
            if isinstance(act, int):
                time.now_ns += act * NS_PER_S
                runner.tick()
            else:
                await pilot.press(act)
            await pilot.pause()
        app.screen.refresh()
        await pilot.pause(0.3)
        return app.export_screenshot(title="coach")


def main() -> None:
    """Write every picture."""
    FOLDER.mkdir(exist_ok=True)
    with tempfile.TemporaryDirectory() as home:
        for name in PICTURES:
            svg = asyncio.run(picture(name, Path(home)))
            # Some viewers drop the spaces before a block letter unless they are told not to.
            svg = svg.replace("<svg ", '<svg xml:space="preserve" ', 1)
            (FOLDER / f"{name}.svg").write_text(svg, encoding="utf-8")


if __name__ == "__main__":
    main()
