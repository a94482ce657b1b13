"""How well one's hands and one's printer do: the errors beyond those of the optics.

All are one standard deviation. The defaults are judgement, no source.
"""

from __future__ import annotations

from typing import Annotated, Literal

from focuschart.kit.fields import Key, Length, Table, number, share


class Bench(Table):
    """What a person's readings, tapings and settings are worth, and a printer's lengths."""

    ruler_error: Annotated[
        float,
        Length(0.01, 5.0),
        Key("How well a figure is read off a ruler; else 0.3 mm", '"0.4 mm"'),
    ] = 0.3
    eye_error: Annotated[
        float,
        number(0.01, 1.0),
        Key("How well best focus is found, in tolerances; else 0.15", "0.2"),
    ] = 0.15
    taping_error: Annotated[
        float,
        Length(0.0, 5.0),
        Key("How far off a strip or an index is taped; else 0.2 mm", '"0.3 mm"'),
    ] = 0.2
    setting_error: Annotated[
        float,
        Length(0.0, 5.0),
        Key("How well a mark is set on its index; else 0.15 mm", '"0.2 mm"'),
    ] = 0.15
    print_scale: Annotated[
        float,
        share(0.0, 0.05),
        Key("How far off a print run's lengths are; else 0.07 %", '"0.1 %"'),
    ] = 0.0007
    side: Annotated[
        Literal["nearer", "farther"] | None,
        Key("From where rings are turned to a mark on set", '"nearer"'),
    ] = None
