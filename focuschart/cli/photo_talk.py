"""What is said of photographs once they are read, what is asked, and what is written."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

import click

if TYPE_CHECKING:
    from focuschart.store.kit_edits import KitFile
    from focuschart.store.photos import Photos


class How(NamedTuple):
    """What the options say of all photographs together."""

    form: str
    yes: bool
    dry_run: bool
    anyway: bool
    taped_again: bool
    place: bool
    unmoved: str | None = None
    stop: float | None = None
    side: str | None = None

    @property
    def at_one_setting(self) -> bool:
        """Whether all photographs are of one setting that does not move."""
        return self.place or self.unmoved is not None

    def say(self, sentence: str) -> None:
        """Print a sentence, beside data for other programs where such are printed."""
        click.echo(sentence, err=self.form == "json")


def tell_and_enter(file: KitFile, read: Photos, how: How) -> None:
    """Tell what was read, ask and write it; ends the command with its exit status."""
    from focuschart.report.photos import as_json, as_text

    settled = _settled(file, read, how)
    units = file.kit.units
    click.echo(as_json(settled) if how.form == "json" else as_text(settled, units=units), nl=False)
    true = _told(file, settled, how)
    entered = [each for each in settled if (each.figures if how.at_one_setting else each.enters)]
    if entered and not how.place:
        _write(file, entered, how)
    if not entered:
        raise SystemExit(2)
    if (how.place and not true) or any(each.refused for each in settled):
        raise SystemExit(1)


def _settled(file: KitFile, read: Photos, how: How) -> Photos:
    """Return photographs with all turns known, asked for where they are open and it may be."""
    from focuschart.store.photo_entries import at_one_setting
    from focuschart.store.photos import in_turns

    if how.at_one_setting:
        return at_one_setting(file.kit, read, how.unmoved, anyway=how.anyway)
    return in_turns(file.kit, read, None if how.yes or how.form == "json" else _asked_turn)


def _asked_turn(photo: str, ring: str, first: int, last: int) -> int:
    question = (
        f"{photo}: which turn of {ring} is at the index, row {first} to {last} from the index's "
        "side of the strip"
    )
    return int(click.prompt(question, type=click.IntRange(first, last)))


def _told(file: KitFile, read: Photos, how: How) -> bool:
    """Say how photographs agree and how strips are taped; return whether some are, and all true."""
    from focuschart.report.photos import agreements, places, slips
    from focuschart.store.photo_entries import agreeing, held_at

    still = how.at_one_setting
    for sentence in agreements(agreeing(read, unmoved=still), file.kit.units, unmoved=still):
        how.say(sentence)
    if not still:
        return False
    taped, again = held_at(file.kit, read, how.unmoved)
    for sentence in (*places(taped), *slips(again)):
        how.say(sentence)
    return bool(taped) and all(each.is_near for each in taped)


def _write(file: KitFile, entered: Photos, how: How) -> None:
    """Write what was read, after a question unless it is not wanted."""
    from focuschart.store.photo_entries import Said, write_read

    if how.dry_run or (how.form == "json" and not how.yes):
        return
    if how.yes or click.confirm("Write these readings to the kit?", default=True):
        stop = min(file.kit.stops) if how.stop is None else how.stop
        said = Said(stop, how.side, how.taped_again)
        for sentence in write_read(file, entered, said, anyway=how.anyway, unmoved=how.unmoved):
            how.say(sentence)
