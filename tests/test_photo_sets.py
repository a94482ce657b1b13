"""What photographs say together: their distances in turn, turns of a ring, whether they agree."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace
from datetime import datetime, timedelta
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from focuschart.photo.agree import alike, without_contradictions
from focuschart.photo.assign import Assigned, Figure, Shot
from focuschart.photo.order import in_order, with_entered
from focuschart.photo.read import RingRead
from focuschart.photo.strips import Barrel, Ring, TaggedStrip
from focuschart.photo.turns import (
    Known,
    nearest_turns,
    open_turn,
    with_turns,
    without_open_turns,
)

ONCE_MM = 250.0
FORM_MM = [1000.0, 2000.0, math.inf]


def figure(ring: Ring, arc: float, *, sigma: float = 0.01, turns: int = 1) -> Figure:
    strip = TaggedStrip(
        "22222-2", ring, "ruler", "long", "", "Lens", (), (8.0, 0.0), "camera",
        Barrel(ONCE_MM, 0.2), turns,
    )  # fmt: skip
    return Figure("portrait", ring, RingRead(strip, strip, arc, sigma, 0.0), arc)


def photo(
    *figures: Figure, second: float | None = None, far: float | None = None, name: str = "a"
) -> Assigned:
    start = datetime(2031, 5, 6, 7, 8, 9)
    taken = None if second is None else start + timedelta(seconds=second)
    shot = Shot(f"{name}.jpg", name, taken, tuple(f.read for f in figures), (), None)
    return Assigned(shot, figures, far, ())


def series(*seconds: float | None, far: Sequence[float | None] = ()) -> list[Assigned]:
    known = [*far, *[None] * len(seconds)]
    return [
        photo(figure("taking", 10.0 + n), second=second, far=known[n], name=str(n))
        for n, second in enumerate(seconds)
    ]


def distances(photos: list[Assigned] | str) -> list[float | None]:
    assert not isinstance(photos, str), photos
    return [each.distance_mm for each in photos]


# --- distances by the order of the form -----------------------------------------------------------


def test_distances_go_by_the_time_of_exposure() -> None:
    assert distances(in_order(series(30, 10, 20), FORM_MM)) == [math.inf, 1000.0, 2000.0]


def test_parts_of_a_second_tell_the_order_of_a_burst() -> None:
    assert distances(in_order(series(0.75, 0.25, 0.5), FORM_MM)) == [math.inf, 1000.0, 2000.0]


def test_repeats_are_taken_in_turn_at_each_distance() -> None:
    assert distances(in_order(series(1, 2, 3, 4), [1000.0, 2000.0])) == [
        1000.0, 1000.0, 2000.0, 2000.0,
    ]  # fmt: skip


@pytest.mark.parametrize(
    ("photos", "why"),
    [
        (series(1, 2), "2 photographs of taking and 3 distances"),
        (series(1), "is 1 photograph of taking"),
        (series(1, 2, 3, 4), "4 photographs"),
        (series(1, None, 2), "1.jpg does not say when it was taken"),
        (series(1, 2, 2), "1.jpg and 2.jpg were taken at the same moment"),
        (series(1, 2, 3, far=[2000.0]), "0.jpg has another distance"),
    ],
)
def test_what_leaves_the_order_open_is_refused(photos: list[Assigned], why: str) -> None:
    assert why in str(in_order(photos, FORM_MM))


def test_the_same_moment_does_not_matter_at_one_distance() -> None:
    assert distances(in_order(series(1, 1, 2, 2), [1000.0, 2000.0])) == [
        1000.0, 1000.0, 2000.0, 2000.0,
    ]  # fmt: skip


def test_cards_seen_in_some_count_in_the_order() -> None:
    photos = series(1, 2, 3, far=[None, 2000.0])
    assert distances(in_order(photos, FORM_MM)) == FORM_MM


def test_those_without_a_card_are_the_rows_without_one() -> None:
    photos = series(None, None, 3, 1, far=[2000.0, 2000.0])
    assert distances(in_order(photos, FORM_MM)) == [2000.0, 2000.0, math.inf, 1000.0]


def test_the_form_goes_on_where_the_kit_ends() -> None:
    photos = series(1, 2)
    assert distances(in_order(photos, FORM_MM, read_mm=[1000.0])) == [2000.0, math.inf]
    assert "3 distances in the form, 1 of them not read yet" in str(
        in_order(photos, FORM_MM, read_mm=[1000.0, 2000.0])
    )


def test_a_photograph_entered_before_has_the_distance_it_was_entered_at() -> None:
    photos = with_entered(series(1, 2, 3), {"0": 1000.0})
    assert distances(photos) == [1000.0, None, None]
    assert distances(in_order(photos, FORM_MM, read_mm=[1000.0])) == FORM_MM


def test_a_photograph_in_which_one_ring_was_refused_keeps_its_place() -> None:
    both = (figure("taking", 1.0), figure("attachment", 1.0))
    photos = [
        photo(*both, second=1, name="a"), photo(both[0], second=2, name="b"),
        photo(*both, second=3, name="c"),
    ]  # fmt: skip
    assert distances(in_order(photos, FORM_MM)) == FORM_MM


def test_rings_photographed_apart_each_have_the_whole_form() -> None:
    rings: list[tuple[Ring, int]] = [
        ("taking", 1), ("taking", 3), ("attachment", 2), ("attachment", 4),
    ]  # fmt: skip
    photos = [
        photo(figure(ring, 1.0), second=second, name=f"{ring}{second}") for ring, second in rings
    ]
    assert distances(in_order(photos, [1000.0, 2000.0])) == [1000.0, 2000.0] * 2


# --- turns ----------------------------------------------------------------------------------------

WHERE: tuple[str, Ring] = ("portrait", "taking")


def turned(
    arcs: dict[float, float], known: Sequence[tuple[float, float]] = (), *, turns: int = 3,
    said: dict[tuple[str, Ring], int] | None = None,
) -> list[Assigned]:  # fmt: skip
    photos = [
        photo(figure("taking", arc % ONCE_MM, turns=turns), far=far, name=f"{far:g}")
        for far, arc in arcs.items()
    ]
    return with_turns(photos, {WHERE: Known(known, rises_nearer=True)}, said or {})


def test_the_turn_follows_where_figures_run_one_way() -> None:
    arcs = {math.inf: 10.0, 4000.0: 200.0, 2000.0: 300.0, 1000.0: 600.0, 800.0: 700.0}
    for known in ([], [(700.0, 740.0)], [(math.inf, 10.0), (700.0, 740.0)]):
        assert open_turn(turned(arcs, known=known)) is not None, "1 m may be a turn less"
    said: dict[tuple[str, Ring], int] = {
        ("inf", "taking"): 0, ("2000", "taking"): 1, ("1000", "taking"): 2,
    }  # fmt: skip
    photos = turned(arcs, said=said)
    assert open_turn(photos) is None
    assert [p.figures[0].arc_mm for p in photos] == pytest.approx(list(arcs.values()))


def test_a_figure_between_two_that_are_known_has_their_turn() -> None:
    (one,) = turned({1500.0: 410.0}, known=[(2000.0, 380.0), (1000.0, 600.0)])
    assert one.figures[0].arc_mm == pytest.approx(410.0)
    assert one.figures[0].turns == (1,)


def test_an_open_turn_is_refused_with_the_cure_unless_it_is_said() -> None:
    photos = turned({1500.0: 410.0})
    asked = open_turn(photos)
    assert asked is not None
    assert asked[1].turns == (0, 1, 2)
    (refused,) = without_open_turns(photos)[0].refused
    assert refused.code == "unknown-strip"
    assert "answer when asked" in refused.why
    (one,) = turned({1500.0: 410.0}, said={("1500", "taking"): 1})
    assert one.figures[0].arc_mm == pytest.approx(410.0)


@given(st.lists(st.floats(0.0, 749.0), min_size=2, max_size=7, unique=True), st.booleans())
def test_the_true_turn_is_never_excluded(arcs: list[float], repeat: bool) -> None:
    true = sorted(arcs, reverse=True)
    far = {1000.0 + 100.0 * n: arc for n, arc in enumerate(true)}
    photos = [
        photo(figure("taking", arc % ONCE_MM, turns=3), far=at, name=f"{at}{again}")
        for at, arc in far.items()
        for again in range(1 + repeat)
    ]
    found = with_turns(photos, {WHERE: Known((), rises_nearer=True)}, {})
    for each, arc in zip(found, np.repeat(true, 1 + repeat).tolist(), strict=True):
        assert int(arc // ONCE_MM) in each.figures[0].turns


def test_at_one_setting_all_figures_are_in_one_turn() -> None:
    photos = [photo(figure("taking", 249.9, turns=3)), photo(figure("taking", 0.2, turns=3))]
    near = nearest_turns(photos, {})
    assert near[1].figures[0].arc_mm == pytest.approx(250.2)
    before = nearest_turns(photos, {WHERE: 500.1})
    assert [each.figures[0].arc_mm for each in before] == pytest.approx([499.9, 500.2])


# --- agreement ------------------------------------------------------------------------------------


def settings(*arcs: float, sigma: float = 0.01, **more: Any) -> list[Assigned]:
    return [
        replace(photo(figure("taking", arc, sigma=sigma), name=str(n)), **more)
        for n, arc in enumerate(arcs)
    ]


def test_the_two_most_apart_are_compared() -> None:
    (each,) = alike(settings(5.0, 5.02, 4.99), unmoved=True)
    assert each.apart_mm == pytest.approx(0.03)
    assert set(each.files) == {"1.jpg", "2.jpg"}
    # Independent errors add by their variances (GUM, JCGM 100:2008, 5.1.2).
    assert each.sigma_mm == pytest.approx(0.01 * math.sqrt(2.0))
    assert each.by_chance


def test_a_contradiction_is_refused_in_all_its_photographs() -> None:
    photos = without_contradictions(settings(5.0, 5.2))
    assert not any(each.figures for each in photos)
    assert [r.code for each in photos for r in each.refused] == ["inconsistent"] * 2
    assert "0.20 ± 0.03 mm" in photos[0].refused[0].why


def test_chance_alone_contradicts_as_seldom_as_is_said() -> None:
    """The distribution of χ² for normal errors: one in a hundred is beyond its 99 % quantile."""
    rng = np.random.default_rng(4)
    drawn = [
        next(alike(settings(*rng.normal(5.0, 0.01, 2).tolist()), unmoved=True)).by_chance
        for _ in range(3000)
    ]
    assert 1.0 - np.mean(drawn) == pytest.approx(0.01, abs=0.006)


def test_only_photographs_of_one_distance_are_compared() -> None:
    photos = [*settings(5.0, distance_mm=1000.0), *settings(9.0, distance_mm=2000.0)]
    assert not list(alike(photos, unmoved=False))
    assert len(list(alike(settings(5.0, 5.4, distance_mm=math.inf), unmoved=False))) == 1


def test_the_same_photograph_twice_is_no_second_one() -> None:
    (one,) = settings(5.0)
    assert not list(alike([one, one], unmoved=True))
