"""How the screens are coloured. Dark for a dark room, daylight, and a plain one for a bare console.

Countdown and region keep at least 7:1 against what is behind them (WCAG 2.2, 1.4.6).
"""

from textual.theme import Theme

LOOKS = ("dark", "daylight", "console")


def _theme(name: str, *, dark: bool, **colours: str) -> Theme:
    variables = {key.replace("_", "-"): value for key, value in colours.items()}
    return Theme(
        name=name,
        primary=colours["region"],
        foreground=colours["ink"],
        background=colours["paper"],
        surface=colours["paper"],
        panel=colours["paper"],
        dark=dark,
        variables=variables,
    )


THEMES = (
    _theme(
        "dark",
        dark=True,
        paper="#0c0f12",
        ink="#d9d4c8",
        countdown="#ffffff",
        region="#ffcf7a",
        side="#a9dcff",
        quiet="#b8b3a6",
        tap="#2a3138",
        tap_ink="#ffffff",
    ),
    _theme(
        "daylight",
        dark=False,
        paper="#ffffff",
        ink="#16181a",
        countdown="#000000",
        region="#5a2a00",
        side="#003a66",
        quiet="#33363a",
        tap="#dfe3e6",
        tap_ink="#000000",
    ),
    # Only colours that the sixteen of a bare console have exactly.
    _theme(
        "console",
        dark=True,
        paper="#000000",
        ink="#ffffff",
        countdown="#ffffff",
        region="#ffffff",
        side="#ffffff",
        quiet="#ffffff",
        tap="#000000",
        tap_ink="#ffffff",
    ),
)
