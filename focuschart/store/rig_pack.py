"""The pack of one rig: its files are made here, by several processes if there are many rigs."""

from __future__ import annotations

import re
from collections import deque
from collections.abc import Callable, Iterable, Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass, field
from functools import partial
from typing import TYPE_CHECKING, Any

from focuschart.errors import FocusChartError, GlyphError, LeftOut, OutputError

if TYPE_CHECKING:
    from concurrent.futures import Executor, Future

    from focuschart.chart.model import Chart
    from focuschart.kit.schema import Kit
    from focuschart.layout.page import Page
    from focuschart.prints.printed import Printed
    from focuschart.renderers.glyphs import TypeFace
    from focuschart.store.printing import Printing
    from focuschart.store.record import Record

    Job = tuple[Chart, Mapping[str, str]]
    """A chart, and the documents already in its folder, each with its key (see `_key`)."""

MOST_FORMER = 20
"""The most former prints in a record, so that an old strip can still be identified."""
RIGS_A_WORKER = 3
"""The least rigs a process: with fewer, starting it costs more time than it saves."""
_MOST_WORKERS = 61
"""The most that Windows can wait for (concurrent.futures, ProcessPoolExecutor)."""
_CURE = "choose larger paper or a larger card, or mark fewer distances"
_SPELL = "write it in letters of the font"
_FRACTION = re.compile(r"\d+\.\d+(?:e[+-]\d+)?")
_AHEAD = 4
"""Rigs sent to the pool in advance, for each worker."""


@dataclass(frozen=True, slots=True)
class Press:
    """What the packs of all rigs are made with: kit, settings of printing and typeface."""

    kit: Kit
    printing: Printing
    face: TypeFace


@dataclass(frozen=True, slots=True)
class RigPack:
    """The pack of one rig.

    `summary` has lines for the terminal, `files` the new files by name, `keys` each document's key
    (see `_key`), `kept` the documents left as they are, `left_out` what could not be made, `phone`
    its data for the kit's page, `tagged` the tags of each print that has some.
    """

    rig_id: str
    summary: tuple[str, ...]
    files: Mapping[str, bytes]
    keys: Mapping[str, str]
    prints: tuple[Printed, ...]
    kept: tuple[str, ...]
    left_out: tuple[LeftOut, ...] = ()
    phone: str = ""
    tagged: Mapping[str, Mapping[str, Any]] = field(default_factory=dict)

    @property
    def unfit(self) -> tuple[LeftOut, ...]:
        """The documents that could not be made at all."""
        return tuple(left for left in self.left_out if left.kind == "document")


def make(press: Press, chart: Chart, known: Mapping[str, str]) -> RigPack:
    """Return the pack of a rig; documents with the same key in `known` are not drawn again.

    What does not fit, or has a text that the typeface cannot print, is left out.
    """
    from focuschart.chart.sureness import sureness
    from focuschart.prints.code import chart_code
    from focuschart.prints.printed import printed
    from focuschart.store.phone import noted
    from focuschart.store.printing import printed_files

    kit, printing, face = press.kit, press.printing, press.face
    documents, sheets, left_out = _documents(press, chart)
    keys = {name: _key(pages, printing) for name, pages in documents.items()}
    kept = tuple(name for name, key in keys.items() if known.get(name) == key)
    drawn = {name: pages for name, pages in documents.items() if name not in kept}
    return RigPack(
        rig_id=chart.rig.rig_id,
        summary=(
            f"{chart.rig.rig_id}  {chart_code(chart)}",
            *sureness(chart, units=kit.units),
            f"Paper: {'; '.join(sheets)}",
        ),
        files=printed_files(drawn, printing, face=face, title=kit.name) | _data(chart),
        keys=keys,
        prints=tuple(printed(chart)),
        kept=kept,
        left_out=(*chart.left_out, *left_out),
        phone=noted(kit, chart, face=face),
        tagged=_tagged(chart, face),
    )


def _tagged(chart: Chart, face: TypeFace) -> dict[str, dict[str, Any]]:
    """Return the tags of each marker strip and index; none where a strip cannot be drawn."""
    from focuschart.errors import PageError
    from focuschart.pages.strips import tagged_prints
    from focuschart.photo.known import tag_data

    try:
        return {
            name: tag_data(
                tags, origin, chart.ring("taking" if "taking" in name else "attachment")[0]
            )
            for name, (tags, origin) in tagged_prints(chart, face=face)
        }
    except (PageError, GlyphError):
        return {}


def cure(error: FocusChartError) -> str:
    """Return the cure to advise for a print that cannot be made."""
    return _SPELL if isinstance(error, GlyphError) else _CURE


def _documents(
    press: Press, chart: Chart
) -> tuple[dict[str, list[Page]], list[str], list[LeftOut]]:
    """Return the pages of a rig's documents, summaries of their sheets, and what is left out.

    A document without any print that can be made is left out as a whole.
    """
    from focuschart.errors import PageError
    from focuschart.layout.sheet.papers import whole_sheet
    from focuschart.pages.barrels import barrel_pages
    from focuschart.pages.first import FIRST, first_pages
    from focuschart.pages.pack import DOCUMENTS, pack_document
    from focuschart.pages.rigs import rig_pages

    kit, printing, face = press.kit, press.printing, press.face
    whole, rig_id = whole_sheet(printing.paper), chart.rig.rig_id
    made: dict[str, list[Page]] = {}
    sheets: list[str] = []
    left_out, refused = list[LeftOut](), list[LeftOut]()

    def refuse(rig: str, what: str, error: FocusChartError) -> None:
        refused.append(LeftOut(rig, what, str(error), cure(error)))

    first = partial(first_pages, chart, face=face, finish=printing.finish)
    whole_pages: dict[str, Callable[[], Mapping[str, list[Page]]]] = {
        FIRST: lambda: _with_room(first, whole),
        "barrels": lambda: _with_room(partial(barrel_pages, kit, [chart], face=face), whole),
        "rigs": lambda: rig_pages(kit, [chart], face=face, paper=whole),
    }
    for name in (FIRST, "barrels", *DOCUMENTS, "rigs"):
        try:
            if name in whole_pages:
                made |= whole_pages[name]()
                continue
            packed = pack_document(name, kit, [chart], face=face, on=printing.on, refuse=refuse)
            made |= {key: list(sheet.pages) for key, sheet in packed.items()}
            sheets += (f"{key} {sheet.summary()}" for key, sheet in packed.items())
        except (PageError, GlyphError) as error:
            refuse(rig_id, name, error)
        if refused and name not in made:
            refused[:] = [refused[0]._replace(what=f"{name}.pdf", kind="document")]
        left_out += refused
        refused.clear()
    return made, sheets, left_out


def _with_room(
    draw: Callable[..., Mapping[str, list[Page]]], paper: str
) -> Mapping[str, list[Page]]:
    """Return pages that are read, not cut: on A4 where the paper has no room for them."""
    from focuschart.errors import PageError
    from focuschart.store.printing import PAPER

    try:
        return draw(paper=paper)
    except PageError:
        return draw(paper=PAPER)


def _key(pages: list[Page], printing: Printing) -> str:
    """Return a digest of a document's pages and settings, to see whether it must be drawn again.

    Lengths are rounded to a nanometre, so that the digest is the same on every machine.
    """
    from focuschart.store.record import digest

    drawn = _FRACTION.sub(lambda match: f"{float(match[0]):.6f}", repr(pages))
    return digest(f"{printing.key} {drawn}".encode())


def _data(chart: Chart) -> dict[str, bytes]:
    from focuschart.report.charts import as_text
    from focuschart.report.data import as_csv, as_json

    texts = {
        "chart.txt": as_text([chart], units=chart.kit.units),
        "chart.json": as_json([chart], chart.left_out),
        "chart.csv": as_csv([chart]),
    }
    return {name: text.encode() for name, text in texts.items()}


def notes(pack: RigPack, facts: str, former: Record) -> dict[str, Any]:
    """Return the notes for a pack's record; former prints come from the record before."""
    from focuschart.prints.printed import print_data
    from focuschart.store.record import tables

    prints = [
        {
            **print_data(each),
            **({"tagged": pack.tagged[each.name]} if each.name in pack.tagged else {}),
        }
        for each in pack.prints
    ]
    codes = [each.code for each in pack.prints]
    old = [each for key in ("former", "prints") for each in tables(former, key)]
    return {
        "rig": pack.rig_id,
        "facts": facts,
        "documents": dict(pack.keys),
        "prints": prints,
        "phone": pack.phone,
        "left_out": [left.data for left in pack.left_out],
        "former": [each for each in old if each.get("code") not in codes][-MOST_FORMER:],
    }


def files_of(names: Iterable[str], documents: Iterable[str]) -> Iterator[str]:
    """Yield the files of some documents: their names begin with the document's, then . or -."""
    starts = tuple(f"{document}{mark}" for document in documents for mark in ".-")
    yield from (name for name in names if name.startswith(starts))


# --- more than one process ------------------------------------------------------------------------

_press: list[Press] = []


def _start(kit: Kit, printing: Printing) -> None:
    """Prepare a worker process, which keeps kit and typeface for all its rigs.

    Ctrl-C reaches every process of a terminal, but only the main process must react to it.
    """
    import signal
    from threading import Thread

    signal.signal(signal.SIGINT, signal.SIG_IGN)
    Thread(target=_end_with_parent, daemon=True).start()
    _press[:] = [Press(kit, printing, printing.face())]


def _end_with_parent() -> None:
    """End this worker once its parent process has ended, since nobody would take its packs."""
    import os
    from multiprocessing import parent_process

    parent = parent_process()
    if parent is not None:
        parent.join()
        os._exit(1)


def _work(job: Job) -> RigPack:
    return make(_press[0], *job)


def make_all(press: Press, jobs: Iterable[Job], count: int) -> Iterator[RigPack]:
    """Yield the packs in the order of the jobs, made by several processes if that is faster.

    `count` is the number of jobs. Raises OutputError if a process is ended from outside.
    """
    workers = workers_for(count, processors())
    if workers < 2:
        yield from (make(press, *job) for job in jobs)
        return
    from concurrent.futures.process import BrokenProcessPool, ProcessPoolExecutor

    start = (press.kit, press.printing)
    try:
        with ProcessPoolExecutor(workers, initializer=_start, initargs=start) as pool:
            yield from _in_turn(pool, jobs, ahead=_AHEAD * workers)
    except BrokenProcessPool:
        raise OutputError(
            "a process that draws pages was ended from outside, perhaps for want of memory: "
            "build again, or fewer rigs at a time with --rig; what was written is kept"
        ) from None


def processors() -> int:
    """Return how many processors this process may use, or if unknown, how many there are."""
    import os

    if hasattr(os, "sched_getaffinity"):
        return len(os.sched_getaffinity(0))
    return os.cpu_count() or 1


def workers_for(rigs: int, available: int) -> int:
    """Return the number of processes that make the packs of `rigs` rigs."""
    return max(1, min(available, rigs // RIGS_A_WORKER, _MOST_WORKERS))


def _in_turn(pool: Executor, jobs: Iterable[Job], *, ahead: int) -> Iterator[RigPack]:
    """Yield the packs in the order of the jobs; `ahead` jobs are with the pool at a time."""
    waiting: deque[Future[RigPack]] = deque()
    try:
        for job in jobs:
            with _interrupt_blocked():
                waiting.append(pool.submit(_work, job))
            if len(waiting) == ahead:
                yield waiting.popleft().result()
        while waiting:
            yield waiting.popleft().result()
    finally:
        pool.shutdown(cancel_futures=True)


@contextmanager
def _interrupt_blocked() -> Iterator[None]:
    """Block Ctrl-C during the block: it must not interrupt a worker that is just starting."""
    import signal

    if not hasattr(signal, "pthread_sigmask"):
        yield
        return
    former = signal.pthread_sigmask(signal.SIG_BLOCK, {signal.SIGINT})
    try:
        yield
    finally:
        signal.pthread_sigmask(signal.SIG_SETMASK, former)
