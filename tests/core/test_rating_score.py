"""From figures to the score and its reasons, and what an aperture can give."""

from __future__ import annotations

from dataclasses import fields, replace

import numpy as np
import pytest
from scipy.optimize import brentq
from scipy.special import j1

from moondesk.quality.aperture import PHONE_MM, equipment_limit, limit_arcsec
from moondesk.quality.measurement import Quality, TerminatorMeasure
from moondesk.quality.resolution import Resolution
from moondesk.quality.score import Facts, Score, Weights, score
from moondesk.records import NotFound

GOOD = Quality(
    km_per_px=3.0,
    resolution=Resolution(km=12.0, ln_sigma=0.1, px=4.0, source="limb", focus_km=12.0, blur_km=12.0, halo=0.02),
    burnt_share=0.0,
    level=0.7,
    noise=0.01,
    signal_to_noise=300.0,
    framed_share=1.0,
    disc_share=1.0,
    terminator=TerminatorMeasure(0.6, ("Copernicus", "Tycho"), 40),
    distance_km=384_400.0,
    sharpened=0.02,
)


def of(quality: Quality, facts: Facts | None = None, weights: Weights | None = None) -> Score:
    found = score(quality, facts or Facts(), weights)
    assert isinstance(found, Score)
    return found


def at(km: float, halo: float = 0.0) -> Quality:
    return replace(
        GOOD,
        resolution=Resolution(km=km, ln_sigma=0.1, px=km / 3, source="limb", focus_km=km, blur_km=km, halo=halo),
        sharpened=halo,
    )


def test_every_part_stands_in_the_score_with_its_reason() -> None:
    found = of(GOOD, Facts(first_time=True, equipment="phone", featured_lately=0, place_lately=2, days_old=1.0))
    assert [p.name for p in found.parts] == [f.name for f in fields(Weights)]
    for part in found.parts:
        assert part.value is not None
        assert 0 <= part.value <= 1
        assert part.reason.endswith(".")
    known = [(p.value or 0.0, p.weight) for p in found.parts]
    assert found.value == pytest.approx(sum(v * w for v, w in known) / sum(w for _, w in known))
    with pytest.raises(KeyError):
        found.part("beauty")


def test_what_is_not_known_neither_helps_nor_harms() -> None:
    blank = of(GOOD)
    assert {p.name for p in blank.parts if p.value is None} == {
        "fresh",
        "newcomer",
        "simple_equipment",
        "fairness",
        "variety",
    }
    same = of(GOOD, weights=Weights(newcomer=9.0, fairness=9.0))
    assert same.value == pytest.approx(blank.value)
    full_moon = of(replace(GOOD, terminator=None))
    assert full_moon.part("terminator").value is None
    assert "full Moon" in full_moon.part("terminator").reason
    blind = of(replace(GOOD, resolution=NotFound("resolution", "It cannot be told.", "")))
    assert blind.part("detail").value is None
    assert blind.part("focus").reason == "It cannot be told."
    white = of(replace(GOOD, resolution=NotFound("resolution", "It cannot be told.", ""), burnt_share=0.4))
    assert (white.part("detail").value, white.part("focus").value) == (0.0, 0.0)


def test_weights_are_settings() -> None:
    only = Weights(**{f.name: 0.0 for f in fields(Weights)})
    assert np.isnan(of(GOOD, weights=only).value)
    found = of(GOOD, weights=replace(only, exposure=2.0))
    assert found.value == pytest.approx(found.part("exposure").value)
    for wrong in (-1.0, float("nan"), float("inf")):
        with pytest.raises(ValueError, match="noise"):
            Weights(noise=wrong)


def test_a_picture_that_is_not_placed_has_no_score() -> None:
    why = NotFound("quality", "Not placed.", "Place it by hand.")
    assert score(why, Facts()) is why


@pytest.mark.parametrize("worse", [
    {"burnt_share": 0.02}, {"burnt_share": 0.3}, {"level": 0.25}, {"signal_to_noise": 100.0}, {"framed_share": 0.7},
    {"terminator": TerminatorMeasure(0.4, (), 40)},
], ids=str)  # fmt: skip
def test_worse_figures_give_lower_scores(worse: dict[str, object]) -> None:
    assert of(replace(GOOD, **worse)).value < of(GOOD).value


def test_detail_never_levels_off() -> None:
    values = [of(at(km)).value for km in (1.5, 3, 6, 12, 25, 50, 100, 300, 800)]
    assert values == sorted(values, reverse=True)
    assert min(np.diff(values[::-1])) > 1e-4


def test_simple_equipment_is_not_punished_twice() -> None:
    """Detail pays for the small lens; focus is set beside what such a lens gives."""
    phone, scope = Facts(equipment="phone"), Facts(equipment="larger telescope")
    assert of(at(50), phone).part("detail").value == of(at(50), scope).part("detail").value
    good_phone, poor_scope = of(at(50), phone).part("focus"), of(at(50), scope).part("focus")
    assert (good_phone.value or 0) > 0.5 > (poor_scope.value or 1)
    assert "just as" in of(at(60), phone).part("focus").reason
    assert "coarser" in poor_scope.reason
    assert (of(GOOD, phone).part("simple_equipment").value or 0) > (of(GOOD, scope).part("simple_equipment").value or 1)


def test_newcomers_fairness_and_variety() -> None:
    """The same picture: from somebody new, from somebody shown often."""
    new = of(GOOD, Facts(first_time=True, equipment="compact", featured_lately=0, place_lately=0))
    known = [
        of(GOOD, Facts(first_time=False, equipment="compact", featured_lately=n, place_lately=n)).value
        for n in (0, 1, 2, 5)
    ]
    assert new.value > known[0]
    assert known == sorted(known, reverse=True)
    assert "once" in of(GOOD, Facts(featured_lately=1)).part("fairness").reason
    assert "3 times" in of(GOOD, Facts(place_lately=3, editions=7)).part("variety").reason
    assert "7 editions" in of(GOOD, Facts(place_lately=3, editions=7)).part("variety").reason


def test_reasons_say_the_figures() -> None:
    assert "12 km" in of(GOOD).part("detail").reason
    assert "4.2 km" in of(at(4.2)).part("detail").reason
    assert "halo" in of(at(12, 0.2)).part("focus").reason
    assert "2.0 %" in of(replace(GOOD, burnt_share=0.02)).part("exposure").reason
    assert "45 %" in of(replace(GOOD, burnt_share=0.45)).part("exposure").reason
    assert "dark" in of(replace(GOOD, level=0.2)).part("exposure").reason
    assert "80 %" in of(replace(GOOD, framed_share=0.8)).part("completeness").reason
    dark_cut = of(replace(GOOD, disc_share=0.7)).part("completeness")
    assert dark_cut.reason == "The whole lit disc is in the picture; its dark part is cut."
    assert 0.9 < (dark_cut.value or 0) < 1
    assert "Copernicus and Tycho" in of(GOOD).part("terminator").reason
    assert "cannot be told" in of(replace(GOOD, signal_to_noise=float("nan"))).part("noise").reason


def test_dawes_limit_is_the_width_of_the_airy_pattern() -> None:
    """(2 J1(x) / x)^2 = 1/2 at x = 1.616, x = pi D sin(t) / lambda (Born & Wolf, Principles of Optics, 8.5.2), in the
    middle of the visible (550 nm): the limit that Dawes found by eye lies within 2 % of it."""
    half = brentq(lambda x: (2 * j1(x) / x) ** 2 - 0.5, 0.5, 3.0)
    assert half == pytest.approx(1.616, abs=0.001)
    for mm in (60.0, 200.0):
        width = np.degrees(2 * half * 550e-9 / (np.pi * mm / 1000)) * 3600
        assert limit_arcsec(mm) == pytest.approx(width, rel=0.02)
    for wrong in (0.0, -5.0, float("nan")):
        with pytest.raises(ValueError, match="none"):
            limit_arcsec(wrong)


def test_finer_than_the_aperture_is_said_with_a_margin() -> None:
    """60 mm give 1.93 arcsec, 3.6 km at the Moon's mean distance."""
    limit_km = float(np.tan(np.radians(limit_arcsec(60.0) / 3600)) * 384_400)
    assert limit_km == pytest.approx(3.6, abs=0.02)
    assert equipment_limit(at(limit_km), 60.0) == ""
    assert equipment_limit(at(0.6 * limit_km), 60.0) == ""
    said = equipment_limit(at(0.3 * limit_km), 60.0)
    assert said.startswith("Finer detail than a 60 mm aperture can give")
    assert "0.6 arcseconds" in said
    assert equipment_limit(at(0.3 * limit_km), 200.0) == ""
    unsure = replace(
        GOOD,
        resolution=Resolution(
            km=0.3 * limit_km, ln_sigma=0.5, px=1.0, source="detail", focus_km=0.3 * limit_km, blur_km=0.3 * limit_km
        ),
    )
    assert equipment_limit(unsure, 60.0) == ""
    assert equipment_limit(replace(GOOD, resolution=NotFound("resolution", "no", "")), 60.0) == ""


def test_a_phone_alone_cannot_show_small_craters() -> None:
    said = equipment_limit(at(3.0), PHONE_MM, "a phone's own lens")
    assert "a phone's own lens" in said
    assert equipment_limit(at(30.0), PHONE_MM, "a phone's own lens") == ""
