"""What widgets tell the app."""

from textual.message import Message


class Asked(Message):
    """The owner tapped something that stands for the action ``id``."""

    def __init__(self, id: str) -> None:  # noqa: A002  (the registry calls it id)
        super().__init__()
        self.id = id
