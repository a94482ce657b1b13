"""The user's printers: their measured errors, kept in one file, and pages corrected for them."""

from __future__ import annotations

import json
import math
import os
import unicodedata
from collections.abc import Collection, Iterator, Mapping
from contextlib import contextmanager
from dataclasses import asdict, dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING, Any, NamedTuple

import click

from focuschart.errors import (
    FocusChartError,
    InputError,
    OutputError,
    PageError,
    UnitError,
    shown,
)
from focuschart.typed import plain, typed_length
from focuschart.units import parse_length

if TYPE_CHECKING:
    from focuschart.layout.page import Face, Page
    from focuschart.layout.printer.correct import Correction, Offset

FILE = "printers.json"
LONGEST_NAME = 40

_BYTES = 1_000_000
_LONGEST_WAIT_S = 10.0
"""How long to wait for another run that stores a printer; judgement, no source."""
_HEAD = {"made_by": "focuschart", "holds": "printers", "format": 1}


@dataclass(frozen=True, slots=True)
class Setting:
    """The measurements of a printer on one paper, mm; None where not measured."""

    long_bar: float | None = None
    long_measured: float | None = None
    short_bar: float | None = None
    short_measured: float | None = None
    back_right: float | None = None
    back_up: float | None = None

    def correction(self, printer: str) -> Correction | None:
        """Return the correction of scale, None if no bars were measured; raises PageError."""
        from focuschart.layout.printer.correct import Correction, factor

        pairs = (self.long_bar, self.long_measured), (self.short_bar, self.short_measured)
        factors = [factor(nominal_mm=a, measured_mm=b) for a, b in pairs if a and b]
        return Correction(printer, *factors) if factors else None

    def offset(self) -> Offset | None:
        """Return how far backs are off, None if not measured; raises PageError."""
        from focuschart.layout.printer.correct import Offset

        if self.back_right is None or self.back_up is None:
            return None
        return Offset(self.back_right, self.back_up)

    def sentences(self, printer: str) -> Iterator[str]:
        """Yield correction and offset in words; raises PageError."""
        from focuschart.layout.printer.correct import SMALLEST_ERROR

        correction, offset = self.correction(printer), self.offset()
        if correction:
            error = max(abs(correction.long - 1.0), abs(correction.short - 1.0))
            true = "; the printer is true within 0.02 %, no correction is needed"
            yield f"{correction.words}{true if error <= SMALLEST_ERROR else ''}"
        if offset:
            yield f"back {offset.right_mm:+.3g} mm right, {offset.up_mm:+.3g} mm up"


Printers = dict[str, dict[str, Setting]]
"""Printer → paper → setting."""


# --- pages for a printer -------------------------------------------------------------------------


def setting_for(printer: str | None, paper: str) -> Setting | None:
    """Return the measurements of a printer on a paper, None without a printer.

    Raises InputError if its bars were not measured on that paper.
    """
    if printer is None:
        return None
    from focuschart.layout.printer.calibration import paper_key

    setting = setting_of(read_printers(), printer, paper)
    if setting.correction(checked_name(printer)) is None:
        raise InputError(
            f"printer {shown(printer)}: only its backs were measured on {paper_key(paper)}: print "
            "its calibration sheet on that paper, measure it, and enter it too"
        )
    return setting


def for_setting(
    documents: Mapping[str, list[Page]],
    setting: Setting | None,
    *,
    printer: str | None,
    face: Face,
    two_sided: Collection[str] = (),
) -> dict[str, list[Page]]:
    """Return documents with their pages corrected for a printer; unchanged without a setting.

    Every second page of the documents named in `two_sided` is a back. Raises PageError where the
    correction moves content over a sheet's edge.
    """
    correction = setting.correction(checked_name(printer)) if setting and printer else None
    if setting is None or correction is None:
        return dict(documents)
    from focuschart.layout.printer.correct import corrected, registered

    offset = setting.offset()

    def fixed(page: Page, *, back: bool) -> Page:
        shifted = registered(page, offset, face=face) if back and offset else page
        return corrected(shifted, correction, face=face)

    return {
        name: [fixed(page, back=name in two_sided and n % 2 == 1) for n, page in enumerate(pages)]
        for name, pages in documents.items()
    }


def setting_of(printers: Printers, printer: str, paper: str) -> Setting:
    """Return a printer's setting on a paper; raises InputError if there is none."""
    from focuschart.layout.printer.calibration import paper_key

    name, key = checked_name(printer), paper_key(paper)
    if name not in printers:
        known = f"; known are {', '.join(list(printers)[:8])}" if printers else ""
        raise InputError(
            f'printer {shown(printer)}: none of that name is stored{known}: print "focuschart '
            'printer sheet", measure it, and enter it with "focuschart printer set"'
        )
    if key not in printers[name]:
        raise InputError(
            f"printer {shown(printer)}: was measured on {', '.join(printers[name])}, not on {key}: "
            "print its calibration sheet on that paper, measure it, and enter it too"
        )
    return printers[name][key]


def checked_name(name: str) -> str:
    """Return a printer's name in normal form; raises InputError for an unreadable one."""
    plain = unicodedata.normalize("NFC", name).strip(" ")
    if not plain or len(plain) > LONGEST_NAME or not plain.isprintable():
        raise InputError(
            f"printer {shown(name)}: name it with 1 to {LONGEST_NAME} letters, digits, spaces or "
            "signs, without control characters"
        )
    return plain


# --- storing and forgetting ----------------------------------------------------------------------


def store_setting(name: str, paper: str, lengths: Lengths) -> tuple[str, str, Setting]:
    """Store measurements of a printer; return its name, the paper and its setting now.

    Raises InputError for impossible lengths, OutputError if the file cannot be written; then
    nothing is changed.
    """
    from focuschart.layout.printer.calibration import paper_key

    printer, key = checked_name(name), paper_key(paper)
    new = {
        **_bars(paper, lengths.long, lengths.short),
        **_back(lengths.back_right, lengths.back_up),
    }
    if not new:
        raise InputError("nothing to store: give --long and --short, or --back-right and --back-up")
    with printers_to_change() as printers:
        setting = replace(printers.get(printer, {}).get(key, Setting()), **new)
        printers.setdefault(printer, {})[key] = setting
    return printer, key, setting


def forget(name: str, paper: str | None) -> str:
    """Forget a printer, or one of its papers; return the name of what was forgotten.

    Raises InputError if it is not stored, OutputError if the file cannot be written.
    """
    from focuschart.layout.printer.calibration import paper_key

    printer = checked_name(name)
    with printers_to_change() as printers:
        if printer not in printers:
            raise InputError(f'printer {shown(name)}: is not stored, see "focuschart printer list"')
        if paper is not None:
            setting_of(printers, printer, paper)
            del printers[printer][paper_key(paper)]
        if paper is None or not printers[printer]:
            del printers[printer]
    return printer if paper is None else f"{printer}, {paper_key(paper)}"


class Lengths(NamedTuple):
    """Measurements of a printer's sheets as typed: both bars, and how far a back is off."""

    long: str | None
    short: str | None
    back_right: str | None
    back_up: str | None


def _bars(paper: str, long: str | None, short: str | None) -> dict[str, float]:
    """Return nominal and measured lengths of both bars; InputError for impossible ones."""
    if long is None and short is None:
        return {}
    if long is None or short is None:
        raise InputError("give both bars, --long and --short: a printer errs differently each way")
    from focuschart.layout.printer.calibration import nominal_bars

    nominal = nominal_bars(paper)
    return {
        "long_bar": nominal.long_mm,
        "long_measured": _measured("--long", long, nominal.long_mm),
        "short_bar": nominal.short_mm,
        "short_measured": _measured("--short", short, nominal.short_mm),
    }


def _back(right: str | None, up: str | None) -> dict[str, float]:
    """Return how far backs are off; raises InputError for impossible lengths."""
    if right is None and up is None:
        return {}
    if right is None or up is None:
        raise InputError('give both --back-right and --back-up, "0 mm" where there is nothing')
    from focuschart.layout.printer.correct import Offset

    values = _signed("--back-right", right), _signed("--back-up", up)
    try:
        Offset(*values)
    except PageError as error:
        raise InputError(f"--back-right {shown(right)}, --back-up {shown(up)}: {error}") from None
    return {"back_right": values[0], "back_up": values[1]}


def _measured(option: str, text: str, nominal_mm: float) -> float:
    """Return a bar's measured length in mm; raises InputError if it is not close to nominal."""
    from focuschart.layout.printer.correct import factor

    measured_mm = _signed(option, text)
    try:
        factor(nominal_mm=nominal_mm, measured_mm=measured_mm)
    except PageError as error:
        raise InputError(f"{option} {shown(text)}: {error}; nothing was stored") from None
    return measured_mm


def _signed(option: str, text: str) -> float:
    """Return a length in mm that may have a sign; raises InputError."""
    typed = plain(text).removeprefix("+").strip()
    sign, digits = (-1.0, typed[1:]) if typed.startswith("-") else (1.0, typed)
    try:
        return sign * parse_length(typed_length(digits)) + 0.0
    except UnitError as error:
        raise InputError(f"{option} {shown(text)}: {error}; nothing was stored") from None


# --- the file ------------------------------------------------------------------------------------


def printers_file() -> Path:
    """Return the path of the file of printers; raises InputError if there is no home folder."""
    folder = Path(click.get_app_dir("focuschart"))
    if not folder.is_absolute():
        # The XDG Base Directory Specification: a relative or empty path is ignored.
        folder = Path(os.path.expanduser("~"), ".config", "focuschart")
    if not folder.is_absolute():
        raise InputError("there is no home folder to keep printers in: set HOME")
    return Path(os.path.realpath(folder / FILE))


def read_printers() -> Printers:
    """Return all printers; empty without a file.

    Raises InputError for a file that is damaged, cannot be read or is not from this program.
    """
    from focuschart.store.files import read_text

    path = printers_file()
    if not os.path.lexists(path):
        return {}
    text = read_text(path, limit_bytes=_BYTES)
    try:
        data = json.loads(text)
    except (ValueError, RecursionError):
        raise InputError(f"{path}: is damaged: {_CURE}") from None
    if not isinstance(data, dict) or any(data.get(k) != _HEAD[k] for k in ("made_by", "holds")):
        raise InputError(f"{path}: was not written by focuschart: {_CURE}")
    if data.get("format") != _HEAD["format"]:
        raise InputError(f"{path}: was written by another version of focuschart: {_CURE}")
    try:
        return _checked(data["printers"])
    except (LookupError, TypeError, ValueError, ArithmeticError, AttributeError, FocusChartError):
        raise InputError(f"{path}: is damaged: {_CURE}") from None


_CURE = "move it away and enter the printers again, nothing was changed"


def _checked(data: Any) -> Printers:
    """Return the printers in the file's data; for invalid data one of many errors is raised."""
    from focuschart.layout.printer.calibration import paper_key

    printers = {
        checked_name(name): {paper_key(paper): Setting(**entry) for paper, entry in papers.items()}
        for name, papers in data.items()
    }
    for name, papers in printers.items():
        for setting in papers.values():
            _require_complete(setting)
            setting.correction(name)
            setting.offset()
    return printers


def _require_complete(setting: Setting) -> None:
    """Raise ValueError for a setting with missing or invalid lengths."""
    values = list(asdict(setting).values())
    for group in (values[:4], values[4:]):
        if any((v is None) != (group[0] is None) for v in group):
            raise ValueError("half a setting")
    given = [v for v in values if v is not None]
    if not given or not all(type(v) in (int, float) and math.isfinite(v) for v in given):
        raise ValueError("no lengths")
    if any(v is not None and v <= 0 for v in values[:4]):
        raise ValueError("a bar without length")


@contextmanager
def printers_to_change() -> Iterator[Printers]:
    """Yield all printers, to be changed in the block, and write them at its end.

    Other runs wait meanwhile, so that no change is lost. Raises InputError as `read_printers`
    does, OutputError, with nothing changed, if the file cannot be written.
    """
    from focuschart.store.files import exclusive

    with exclusive(printers_file(), wait_s=_LONGEST_WAIT_S):
        printers = read_printers()
        yield printers
        _write_printers(printers)


def _write_printers(printers: Printers) -> None:
    from focuschart.store.files import publish, stage, sweep, written_or_nothing

    path = printers_file()
    plain = {
        name: {paper: _plain(setting) for paper, setting in sorted(papers.items())}
        for name, papers in sorted(printers.items())
        if papers
    }
    data = (json.dumps({**_HEAD, "printers": plain}, indent=1, ensure_ascii=False) + "\n").encode()
    if len(data) > _BYTES:
        raise OutputError(f'{path}: has no room for more printers: "focuschart printer forget" one')
    with written_or_nothing(path.parent):
        sweep(path.parent, [FILE])
        publish(stage(path.parent, {path.name: data}))


def _plain(setting: Setting) -> dict[str, float]:
    return {key: value for key, value in asdict(setting).items() if value is not None}
