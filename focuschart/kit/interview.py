"""An interview: one question at a time, any number of steps back, no answer ever lost.

A script is a generator that yields questions and is sent their values; what it asks may depend on
earlier answers. Going back runs it anew up to the question before.
"""

from __future__ import annotations

import textwrap
from collections.abc import Callable, Generator
from dataclasses import dataclass
from typing import Any, TypeAlias, TypeVar

from focuschart.errors import shown

BACK = "<"
EXPLAIN = "?"
INTRODUCTION = (
    f"One question at a time. Enter takes the answer in [brackets], {BACK} goes back one question\n"
    f"(any number of times), {EXPLAIN} explains. Nothing is written before the end; Ctrl-C stops."
)

_WIDTH = 78
"""Of a line on a narrow terminal."""
T = TypeVar("T")
Reader: TypeAlias = Callable[[str], Any]
"""From the text typed to its value; raises ValueError with one sentence that names the cure."""


@dataclass(frozen=True, slots=True)
class Question:
    """One question; `key` tells it from all others, so that its answer is known again.

    `intro` is shown before it when it is reached: a picture of where to measure, a list.
    """

    key: str
    prompt: str
    read: Reader
    help: str
    example: str = ""
    default: str = ""
    intro: str = ""


Script: TypeAlias = Generator[Question, Any, T]


class Interview:
    """A script under way.

    `question` is the one to answer now, None when all are answered; `default` is what an empty
    answer to it means; `notice` says where a former answer no longer fits.
    """

    def __init__(self, script: Callable[[], Script[str]]) -> None:
        self._script = script
        self._given: dict[str, str] = {}
        self._values: list[Any] = []
        self.question: Question | None = None
        self.default = self.notice = self.result = ""
        self._replay()

    def prompt(self) -> str:
        """Return the question as lines that end where the answer is typed."""
        question = self._asked()
        hint = f" [{self.default}]" if self.default else _example(question)
        asked = f"{question.prompt}{hint}:"
        before = asked[: len(asked) - len(asked.lstrip())]
        if len(asked) > _WIDTH:
            asked = before + textwrap.fill(
                asked.strip(), _WIDTH - 4, subsequent_indent=f"{before.lstrip(chr(10))}  ",
                break_long_words=False, break_on_hyphens=False,
            )  # fmt: skip
        return f"{asked} "

    def answer(self, text: str) -> None:
        """Take an answer and go on; raises ValueError, and stays, for one that cannot be read."""
        question = self._asked()
        chosen = text.strip() or self.default
        value = _read(question, chosen)
        self._remember(question, chosen)
        self._values.append(value)
        self._advance(value)
        self._arrive()

    def back(self) -> None:
        """Return to the question before; raises ValueError at the first one."""
        if not self._values:
            raise ValueError("This is the first question.")
        self._values.pop()
        self._replay()

    def _asked(self) -> Question:
        if self.question is None:
            raise ValueError("All questions are answered.")
        return self.question

    def _remember(self, question: Question, chosen: str) -> None:
        """Keep only what differs from the default, which may follow other answers."""
        if chosen == question.default:
            self._given.pop(question.key, None)
        else:
            self._given[question.key] = chosen

    def _replay(self) -> None:
        self._running = self._script()
        for value in (None, *self._values):
            self._advance(value)
        self._arrive()

    def _advance(self, value: Any) -> None:
        try:
            self.question = self._running.send(value)
        except StopIteration as end:
            self.question, self.result = None, end.value

    def _arrive(self) -> None:
        """Offer the former answer to the question reached, or say why it no longer fits."""
        self.default = self.notice = ""
        if self.question is None:
            return
        self.default = self.question.default
        former = self._given.get(self.question.key)
        if former is None:
            return
        try:
            self.question.read(former)
            self.default = former
        except ValueError as error:
            self.notice = f"Your former answer {former} no longer fits: {error}"


def _read(question: Question, chosen: str) -> Any:
    if not chosen:
        raise ValueError(f"An answer is needed{_example(question)}.")
    try:
        return question.read(chosen)
    except ValueError as error:
        raise ValueError(f"{shown(chosen)}: {error}") from None


def _example(question: Question) -> str:
    return f", for example {question.example}" if question.example else ""


def conduct(
    script: Callable[[], Script[str]],
    *,
    ask: Callable[[str], str],
    say: Callable[[str], None],
    introduction: str = INTRODUCTION,
    after: Callable[[], None] = lambda: None,
) -> str:
    """Ask a script's questions until all are answered; return its result.

    `ask` gets a prompt and returns the line typed, `say` shows one sentence or a few. `after` is
    called after each step; where it raises ValueError, that is said and the step taken back.
    """
    interview, reached = Interview(script), ""
    say(introduction)
    while interview.question is not None:
        if interview.question.intro and interview.question.key != reached:
            say(interview.question.intro)
        reached = interview.question.key
        if interview.notice:
            say(f"  {interview.notice}")
            interview.notice = ""
        typed = ask(interview.prompt()).strip()
        try:
            _step(interview, typed, say=say)
        except ValueError as sentence:
            say(f"  {sentence}")
            continue
        try:
            after()
        except ValueError as sentence:
            say(f"  {sentence}")
            interview.back()
            after()
    return interview.result


def _step(interview: Interview, typed: str, *, say: Callable[[str], None]) -> None:
    """Do what was typed; raises ValueError, with one sentence, where it cannot be done."""
    if typed == BACK:
        interview.back()
    elif typed == EXPLAIN and interview.question is not None:
        say(f"  {interview.question.help}")
    else:
        interview.answer(typed)
