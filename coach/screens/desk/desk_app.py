"""The desk as a program of its own."""

from coach.screens.base_app import LastingApp
from coach.screens.desk.desk_screen import DeskScreen


class DeskApp(LastingApp[bool], inherit_bindings=False):
    """Shows one desk; its result is whether everything was saved."""

    def __init__(self, screen: DeskScreen, *, look: str = "dark") -> None:
        super().__init__(look=look)
        self._desk = screen

    def on_mount(self) -> None:
        """Open the desk."""
        super().on_mount()
        self.push_screen(self._desk, self.exit)
