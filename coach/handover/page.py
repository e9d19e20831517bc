"""Paper: text that wraps, rules, boxes. The same content gives the same bytes, always.

fpdf2 writes the PDF; Noto Sans (SIL Open Font License 1.1, from fontpkg-noto-sans) prints Latin,
Greek and Cyrillic letters. What it lacks is written out in Latin letters by anyascii, and the
page says so.
"""

import datetime
from collections.abc import Sequence
from pathlib import Path

from anyascii import anyascii
from fpdf import FPDF
from fpdf.enums import TextMode

FONT = "noto"
MARGIN_MM = 11
BODY_PT = 8.0
LINE_MM = 3.7
# Bold is drawn with a thin stroke: a second cut of the font would take seconds to make.
STROKE_MM = 0.16
TRANSLITERATED = (
    "Letters that this page cannot print are written out in Latin letters; summary.json has them "
    "as they were typed."
)


class Page(FPDF):
    """Pages of one report; units are millimetres, sizes of letters points."""

    def __init__(self, paper: str, *, made_at: datetime.datetime, title: str) -> None:
        super().__init__(unit="mm", format="letter" if paper == "Letter" else "A4")
        self.transliterated = False
        self.last_line = ""
        self.set_margin(MARGIN_MM)
        self.c_margin = 0
        self.set_auto_page_break(True, margin=MARGIN_MM + 4)
        # The time of making would otherwise be that of each call.
        self.set_creation_date(made_at)
        self.set_producer("dog-bed coach")
        self.add_font(FONT, "", _font())
        self.set_title(self.printable(title))
        self.set_lang("en")
        self.set_font(FONT, size=BODY_PT)
        self.set_line_width(0.2)
        self.add_page()

    def close_fonts(self) -> None:
        """Let go of the font file of a page that is not used."""
        for font in self.fonts.values():
            font.ttfont.close()  # type: ignore[union-attr]

    def footer(self) -> None:
        """The last line of each page."""
        self.set_y(-MARGIN_MM)
        self.set_font(FONT, size=6.5)
        self.cell(self.epw - 20, 3, self.last_line)
        self.cell(20, 3, f"page {self.page_no()} of {{nb}}", align="R")
        self.set_font(FONT, size=BODY_PT)

    def printable(self, text: str) -> str:
        """``text`` in letters that the font has."""
        known = self.fonts[FONT].cmap  # type: ignore[union-attr]
        clean = "".join(
            char if char == "\n" or ord(char) in known else anyascii(char) for char in text
        )
        if clean != text:
            self.transliterated = True
        return clean

    def heading(self, text: str) -> None:
        """A heading over a thin rule, kept together with what follows."""
        if self.will_page_break(14):
            self.add_page()
        self.ln(1.2)
        self.bold(text, size=9)
        self.ln(4.2)
        self.line(self.l_margin, self.get_y(), self.l_margin + self.epw, self.get_y())
        self.ln(0.8)

    def bold(self, text: str, *, size: float = BODY_PT, width: float = 0, align: str = "L") -> None:
        """One line in bold; the place moves to its end."""
        self.set_font(FONT, size=size)
        with self.local_context(text_mode=TextMode.FILL_STROKE, line_width=STROKE_MM):
            self.cell(width or None, 4, self.printable(text), align=align)
        self.set_font(FONT, size=BODY_PT)

    def lines(
        self, text: str, *, width: float = 0, size: float = BODY_PT, most: int | None = None
    ) -> None:
        """Text that wraps from the left edge of the place; at most ``most`` lines of it."""
        left = self.get_x()
        self.set_font(FONT, size=size)
        height = LINE_MM * size / BODY_PT
        width = width or self.l_margin + self.epw - left
        clean = self.printable(text)
        if most is not None:
            wrapped = self.multi_cell(width, height, clean, dry_run=True, output="LINES", align="L")
            if isinstance(wrapped, list) and len(wrapped) > most:
                clean = "\n".join([*wrapped[: most - 1], f"{wrapped[most - 1][:-4]}…"])
        self.multi_cell(width, height, clean, align="L", new_x="LEFT", new_y="NEXT")
        self.set_font(FONT, size=BODY_PT)
        self.set_x(left)

    def named(self, name: str, text: str, *, width: float, name_mm: float = 18) -> None:
        """``name`` in bold before a text that wraps in its own column."""
        left = self.get_x()
        self.bold(name, width=name_mm)
        self.set_x(left + name_mm)
        self.lines(text, width=width - name_mm)
        self.set_x(left)

    def row(self, cells: Sequence[str], widths: Sequence[float], *, strong: bool = False) -> None:
        """A row of a table: the first cell to the left, numbers to the right."""
        for number, (text, width) in enumerate(zip(cells, widths, strict=True)):
            align = "L" if number < 2 else "R"
            if strong:
                self.bold(text, width=width, align=align)
            else:
                self.cell(width, 3.8, self._fit(self.printable(text), width), align=align)
        self.ln(3.8)

    def box(self, text: str) -> None:
        """A text that nobody may overlook, framed."""
        self.set_line_width(0.6)
        top = self.get_y() + 0.8
        self.set_xy(self.l_margin + 1.5, top + 0.8)
        self.multi_cell(
            self.epw - 3, 4, self.printable(text), align="L", new_x="LMARGIN", new_y="NEXT"
        )
        bottom = self.get_y() + 0.8
        self.rect(self.l_margin, top, self.epw, bottom - top)
        self.set_line_width(0.2)
        self.set_xy(self.l_margin, bottom + 1)

    def _fit(self, text: str, width: float) -> str:
        if self.get_string_width(text) <= width - 1:
            return text
        while text and self.get_string_width(f"{text}…") > width - 1:
            text = text[:-1]
        return f"{text}…"


def _font() -> Path:
    from fontpkg_noto_sans import ROOT

    # The regular cut: what the file draws where no other one is asked for.
    return Path(ROOT) / "files" / "NotoSans[wdth,wght].ttf"
