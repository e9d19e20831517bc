"""The one table of exit codes."""

from enum import IntEnum


class Exit(IntEnum):
    """How a command ended, for scripts."""

    DONE = 0
    FAILED = 1
    BAD_INPUT = 2
    ENDED_EARLY = 3
    BUSY = 4
    NOT_WRITTEN = 5
    NOT_WHOLE = 6
    NOT_ALLOWED = 7
    NOT_READY = 8


MEANING = {
    Exit.DONE: "done; a session went through all its spots",
    Exit.FAILED: "a fault of the program, or a step of install that failed",
    Exit.BAD_INPUT: "bad input: the message says where and what is allowed; nothing started",
    Exit.ENDED_EARLY: "the session was stopped before its last spot; what was given is logged",
    Exit.BUSY: "another session of this dog is running; the message says whose",
    Exit.NOT_WRITTEN: "the journal could not be written; the session was ended",
    Exit.NOT_WHOLE: "verify: a journal is damaged, not closed, or not signed as asked",
    Exit.NOT_ALLOWED: "no session may start now; the message says why and what to do",
    Exit.NOT_READY: "selfcheck: something has to be put right first",
}

EXIT_TABLE = "exit codes:\n" + "\n".join(f"  {code.value}  {MEANING[code]}" for code in Exit)
