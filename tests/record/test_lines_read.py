"""Lines are read as the standard library reads them; what it reads and no line has is refused."""

import json

import pytest
from hypothesis import given
from hypothesis import strategies as st

from coach.journal import journal_lines
from tests.worlds import Clock

VALUES = st.recursive(
    st.none()
    | st.booleans()
    | st.integers()
    | st.floats(allow_nan=False, allow_infinity=False)
    | st.text(st.characters(exclude_categories=["Cs"])),
    lambda inner: st.lists(inner, max_size=4) | st.dictionaries(st.text("abc", max_size=3), inner),
    max_leaves=12,
)


@given(data=st.dictionaries(st.text(st.characters(exclude_categories=["Cs"])), VALUES))
def test_a_line_is_read_as_the_standard_library_reads_it(data: dict[str, object]) -> None:
    line, _ = journal_lines.encode(
        seq=1, stamp=Clock().stamp(), kind="notice", data=data, previous=journal_lines.GENESIS
    )
    read = journal_lines.decode(line)
    assert read == json.loads(line)
    assert read["data"] == data
    # Equal is not yet the same: True is 1, and 1 is 1.0.
    assert repr(read) == repr(json.loads(line))


@pytest.mark.parametrize(
    "text",
    [
        b'{"given_ns":NaN}',
        b'{"given_ns":-Infinity}',
        b'{"given_ns":01}',
        b'{"name":"\xff"}',
        b'{"name":"\\ud800"}',
        b"{",
        b"",
        b"[" * 100_000,
    ],
)
def test_what_no_line_says_is_refused(text: bytes) -> None:
    with pytest.raises(ValueError, match="line 1 column"):
        journal_lines.decode(text)
