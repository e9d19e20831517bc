"""The page of the call list: whole by itself, safe, and told apart by ear and by keyboard."""

import base64
import hashlib
import html.parser
import json
import re
import shutil
import subprocess
from pathlib import Path

import pytest

from coach.cli import run
from coach.cli.exits import Exit
from tests.practice.browser import CHROMIUM, Browser, browser
from tests.practice.many import TODAY, held, write
from tests.practice.test_thirty_dogs import ORDER, practice

AT = f"{TODAY}T10:00:00+01:00"
# Pinned: another release may ask for more.
AXE = "axe-core@4.14.1"
SPOT = {"aspect": None, "number": 1, "of": 2, "prescribed_s": 60.0}
SPOTS = [
    {**SPOT, "region": "lumbar", "side": "left", "counted_s": 60.0},
    {**SPOT, "region": "lumbar", "side": "right", "counted_s": 20.0, "number": 2},
    {**SPOT, "region": "hip", "side": "left", "aspect": "lateral", "counted_s": 0.0},
    {**SPOT, "region": "a region of a newer program", "side": "left", "counted_s": 1.0},
    {**SPOT, "region": "lumbar", "side": "left", "counted_s": 1.0, "of": 10**12},
    {"region": 7},
    "no spot",
]

__all__ = ["practice"]


def page_of(folder: Path, at: Path) -> str:
    words = ["caseload", str(folder), "--html", str(at), "--today", TODAY.isoformat()]
    assert run(words) in (Exit.DONE, Exit.BAD_INPUT)
    return at.read_text(encoding="utf-8")


class Elements(html.parser.HTMLParser):
    """Every element with its attributes."""

    def __init__(self, text: str) -> None:
        super().__init__()
        self.found: list[tuple[str, dict[str, str | None]]] = []
        self.feed(text)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.found.append((tag, dict(attrs)))


def test_the_page_needs_nothing_from_elsewhere_and_runs_only_what_is_ours(
    practice: Path, tmp_path: Path
) -> None:
    (practice / "blaze" / "report.pdf").write_bytes(b"%PDF-")
    page = page_of(practice, tmp_path / "pages" / "today.html")
    elements = Elements(page).found
    assert not any(name == "src" for _, attributes in elements for name in attributes)
    assert not any(name.startswith("on") for _, attributes in elements for name in attributes)
    links = [at["href"] or "" for tag, at in elements if tag == "a" and "href" in at]
    assert links[0] == "../handovers/blaze/report.pdf"
    assert all(re.match(r"tel:\+?\d+$|\.\./handovers/", link) for link in links)
    # CSP, level 3: the hash of what stands between the tags, and of nothing else.
    policy = next(at["content"] for tag, at in elements if "http-equiv" in at) or ""
    for tag in ("script", "style"):
        (text,) = re.findall(rf"<{tag}>(.*?)</{tag}>", page, re.DOTALL)
        digest = base64.b64encode(hashlib.sha256(text.encode()).digest()).decode()
        assert f"{tag}-src 'sha256-{digest}'" in policy
    assert "default-src 'none'" in policy
    # Without its script: every dog in order.
    rows = [at for tag, at in elements if tag == "tr" and "data-dog" in at]
    assert len(rows) == 30
    assert [row["data-rank"] for row in rows] == [str(n) for n in range(1, 31)]


def test_what_handovers_say_is_text_and_nothing_else(tmp_path: Path) -> None:
    evil = "<script>alert(1)</script>\"' onload=x <img src=//elsewhere>\x1b"
    plan = f"[patient]\nowner_name = {json.dumps(evil)}\nowner_phone = 'javascript:alert(1)'\n"
    sessions = [held(1, TODAY, words=evil, skin="red")]
    folder = tmp_path / "in"
    write(
        folder / "x",
        dog=evil,
        device="a",
        made_at=AT,
        sessions=sessions,
        plan=plan,
        spots=SPOTS,
        plan_now={"id": evil, "revision": 1, "prescriber": evil},
    )
    page = page_of(folder, tmp_path / "today.html")
    tags = {tag for tag, _ in Elements(page).found}
    assert "img" not in tags
    assert page.count("<script") == 1
    assert "javascript:" not in re.findall(r'href="([^"]*)"', page)
    assert "\x1b" not in page
    # Two spots can be drawn from above, one from the side; the others are passed over.
    assert 'aria-label="Spots from above: 1 whole, 1 in part, 0 none"' in page
    assert 'aria-label="Spots left: 0 whole, 0 in part, 1 none"' in page


def test_a_page_that_cannot_be_written_is_told(
    practice: Path, capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    (tmp_path / "file").write_text("")
    at = tmp_path / "file" / "today.html"
    assert run(["caseload", str(practice), "--html", str(at)]) == Exit.NOT_WRITTEN
    assert "nothing was written" in capsys.readouterr().err


needs_chromium = pytest.mark.skipif(CHROMIUM is None, reason="chromium is not installed")


def filled(practice: Path, tmp_path: Path) -> Path:
    """The thirty dogs, some with pictures, a report and a phone number."""
    for number, place in enumerate(sorted(practice.iterdir())):
        path = place / "summary.json"
        summary = json.loads(path.read_text())
        if number % 2:
            path.write_text(json.dumps({**summary, "spots": SPOTS}))
            (place / "report.pdf").write_bytes(b"%PDF-")
        if not (place / "plan.toml").exists():
            (place / "plan.toml").write_text('[patient]\nowner_phone = "+49 30 000000"\n')
    at = tmp_path / "today.html"
    page_of(practice, at)
    return at


async def focus(page: Browser) -> str:
    """Where the keyboard is."""
    script = "(document.activeElement.id || document.activeElement.textContent)"
    return str(await page.value(script))


@pytest.mark.long
@needs_chromium
async def test_it_is_searched_and_sorted_by_keyboard_alone(practice: Path, tmp_path: Path) -> None:
    at = filled(practice, tmp_path)
    async with browser() as page:
        await page.size(1280, 900)
        await page.open(at)
        first = "document.querySelector('tbody tr:not([hidden]) th a, tbody tr:not([hidden]) th')"
        await page.press("Tab", code=9)
        assert await focus(page) == "search"
        await page.type("hind legs")
        assert await page.value("document.getElementById('shown').textContent") == (
            "1 of 30 dogs shown"
        )
        assert str(await page.value(f"{first}.textContent")).startswith("Drago")
        await page.do(
            "Runtime.evaluate",
            expression="search.value = ''; search.dispatchEvent(new Event('input'))",
        )
        for wanted in ("Order", "Dog"):
            await page.press("Tab", code=9)
            assert await focus(page) == wanted
        names = sorted(row[0] for row in ORDER)
        for expected, told in ((names[0], "ascending"), (names[-1], "descending")):
            await page.press("Enter", code=13, text="\r")
            assert str(await page.value(f"{first}.textContent")).startswith(expected)
            sort = "document.querySelector('th[data-by=dog]').getAttribute('aria-sort')"
            assert await page.value(sort) == told
        # What a screen reader is told: a table with its heads, a name for each row and picture.
        tree = (await page.do("Accessibility.getFullAXTree"))["nodes"]
        told_by_role: dict[str, list[str]] = {}
        for node in tree:
            role = node.get("role", {}).get("value", "")
            told_by_role.setdefault(role, []).append(node.get("name", {}).get("value", ""))
        assert len(told_by_role["table"]) == 1
        assert len(told_by_role["row"]) == 31
        assert told_by_role["columnheader"][:3] == ["Order", "Dog", "Why"]
        assert {name.split()[0] for name in told_by_role["rowheader"]} == {r[0] for r in ORDER}
        images = [name for role in ("image", "img") for name in told_by_role.get(role, ())]
        assert images
        assert all(images)
        assert "Runtime.exceptionThrown" not in {e["method"] for e in page.events}
        assert "Log.entryAdded" not in {e["method"] for e in page.events}
        asked = {
            e["params"]["request"]["url"]
            for e in page.events
            if e["method"] == "Network.requestWillBeSent"
        }
        assert asked == {at.as_uri()}


@pytest.mark.long
@needs_chromium
async def test_it_fits_a_phone_a_desk_and_paper_and_axe_finds_nothing(
    practice: Path, tmp_path: Path
) -> None:
    if shutil.which("npm") is None:
        pytest.skip("npm is not installed")
    packed = subprocess.run(
        ["npm", "pack", AXE], cwd=tmp_path, capture_output=True, text=True, check=False, timeout=300
    )
    if packed.returncode:
        pytest.skip("axe-core cannot be fetched")
    shutil.unpack_archive(tmp_path / packed.stdout.split()[-1], tmp_path, filter="data")
    axe = (tmp_path / "package" / "axe.min.js").read_text(encoding="utf-8")
    at = filled(practice, tmp_path)
    async with browser() as page:
        # Only for the referee: the page's own policy lets no other script in.
        await page.do("Page.enable")
        await page.do("Page.setBypassCSP", enabled=True)
        for width, height, phone in ((1280, 900, False), (390, 844, True), (320, 640, True)):
            for scheme in ("light", "dark"):
                await page.size(width, height, phone=phone)
                features = [{"name": "prefers-color-scheme", "value": scheme}]
                await page.do("Emulation.setEmulatedMedia", features=features)
                await page.open(at)
                wide = await page.value("document.documentElement.scrollWidth")
                assert wide <= width, (width, scheme)
                await page.value(f"{axe};0")
                found = await page.value("axe.run().then(r => JSON.stringify(r.violations))")
                told = [
                    (one["id"], [node["target"] for node in one["nodes"]][:3])
                    for one in json.loads(found)
                ]
                assert told == [], (width, scheme)
        await page.do("Emulation.clearDeviceMetricsOverride")
        paper = await page.do("Page.printToPDF", printBackground=False)
        pdf = tmp_path / "paper.pdf"
        pdf.write_bytes(base64.b64decode(paper["data"]))
        import pypdf

        text = " ".join(sheet.extract_text() for sheet in pypdf.PdfReader(pdf).pages)
        assert all(row[0] in text for row in ORDER)
        assert "Search" not in text
        await page.do("Emulation.setScriptExecutionDisabled", value=True)
        await page.open(at)
        tools = "getComputedStyle(document.querySelector('.tools')).display"
        assert await page.value(tools) == "none"
