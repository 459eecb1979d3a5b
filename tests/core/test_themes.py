"""Themes: only what shows, in a good order; ray craters and landing places against what everybody knows."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime

import numpy as np
import pytest
from notes_truth import height, table
from test_notes_trade import picture

from moondesk.ephemeris.aspect import aspect_at
from moondesk.moon.catalogue import named
from moondesk.moon.geometry import surface_to_pixel
from moondesk.notes.landing_sites import SITES
from moondesk.notes.messages import in_english
from moondesk.notes.namesakes import namesakes
from moondesk.notes.picture_notes import notes_of
from moondesk.notes.records import Notes, Theme
from moondesk.notes.themes import ray_names

QUARTER, GIBBOUS = datetime(2026, 10, 18, 19, 30, tzinfo=UTC), datetime(2026, 10, 23, 20, tzinfo=UTC)


def themes(a, when: datetime) -> dict[str, Theme]:
    notes = notes_of(a, when)
    assert isinstance(notes, Notes)
    assert len({t.key for t in notes.themes}) == len(notes.themes)
    return {t.key: t for t in notes.themes}


@pytest.fixture(scope="module")
def at_quarter() -> dict[str, Theme]:
    return themes(picture(QUARTER), QUARTER)


@pytest.fixture(scope="module")
def gibbous() -> dict[str, Theme]:
    return themes(picture(GIBBOUS), GIBBOUS)


def test_a_theme_has_a_sentence_for_each_member_and_one_on_the_whole(at_quarter, gibbous) -> None:
    for theme in (*at_quarter.values(), *gibbous.values()):
        assert 2 <= len(theme.features) <= 12 or theme.key == "places:landings"
        assert len(theme.sentences) == len(theme.features) + 1
        assert len(set(theme.features)) == len(theme.features)
        for name, said in zip(theme.features, theme.sentences[1:], strict=True):
            assert name in in_english(said)
        assert in_english(theme.title)


def test_all_members_are_in_the_light_and_in_the_frame(gibbous) -> None:
    for when, a in ((QUARTER, picture(QUARTER)), (GIBBOUS, replace(picture(GIBBOUS), width=600))):
        sky = aspect_at(when, None)
        for theme in themes(a, when).values():
            for name, lat, lon in theme.places:
                at = surface_to_pixel(a.pose, lat, lon)
                reach = named(name).size_km / 2 / 1737.4 if named(name) else 0.0
                assert at.mu > -reach
                assert -0.5 - reach * 450 <= at.x < a.width + reach * 450
                # an area may have its middle in the dark and a part in the light
                assert height(lat, lon, sky.sub_solar_lat_deg, sky.sub_solar_lon_deg) > -0.3 - np.degrees(reach)


def test_ray_craters_found_on_the_albedo_grid_are_those_that_are_known_for_rays() -> None:
    """From memory: Tycho, Copernicus, Kepler, Aristarchus and Proclus lead every list; nothing on it is none."""
    known = {"Tycho", "Copernicus", "Kepler", "Aristarchus", "Proclus", "Langrenus", "Stevinus", "Byrgius",
             "Anaxagoras", "Thales", "Menelaus", "Autolycus", "Aristillus", "Glushko", "Lalande", "Euclides",
             "Olbers"}  # fmt: skip
    found = ray_names()
    assert {"Tycho", "Copernicus", "Kepler", "Aristarchus", "Proclus"} <= found
    assert {n for n in found if abs(float(table()[n]["lon"])) < 90} <= known
    assert not {"Plato", "Clavius", "Ptolemaeus", "Grimaldi", "Archimedes"} & found


def test_rays_want_a_high_sun(at_quarter, gibbous) -> None:
    assert {"Tycho", "Copernicus", "Proclus"} <= set(gibbous["kind:rays"].features)
    assert "kind:rays" not in at_quarter  # of the five only Proclus has day
    day_two = datetime(2026, 10, 21, 20, tzinfo=UTC)  # the Sun rises on Aristarchus, 47 degrees west, on the 22nd
    assert "Aristarchus" not in themes(picture(day_two), day_two)["kind:rays"].features
    assert "Aristarchus" in gibbous["kind:rays"].features


def test_landing_places_lie_where_the_iau_has_named_them() -> None:
    """The catalogue's names at the sites themselves, all within 0.3 degree: an independent list of places."""
    sites = {s.mission: s for s in SITES}
    for mission, name in (("Apollo 11", "Statio Tranquillitatis"), ("Apollo 12", "Surveyor"), ("Apollo 14", "Triplet"),
                          ("Apollo 15", "Elbow"), ("Apollo 16", "Spook"), ("Apollo 17", "Camelot"),
                          ("Surveyor 3", "Surveyor"), ("Chang'e 3", "Guang Han Gong")):  # fmt: skip
        row, site = table()[name], sites[mission]
        assert abs(float(row["lat"]) - site.lat_deg) < 0.3, mission
        assert abs(float(row["lon"]) - site.lon_deg) < 0.3, mission
    # in which sea or by which crater each of the others stands (from memory)
    for mission, name, within in (("Luna 16", "Mare Fecunditatis", 15), ("Luna 20", "Mare Fecunditatis", 14),
                                  ("Luna 17", "Sinus Iridum", 9), ("Luna 21", "Le Monnier", 1),
                                  ("Luna 24", "Mare Crisium", 6), ("Surveyor 7", "Tycho", 3),
                                  ("Surveyor 6", "Sinus Medii", 4), ("Surveyor 1", "Flamsteed", 3),
                                  ("Chang'e 5", "Mons Rümker", 8), ("Luna 9", "Planitia Descensus", 1),
                                  ("SLIM", "Cyrillus", 2.5)):  # fmt: skip
        row, site = table()[name], sites[mission]
        assert height(site.lat_deg, site.lon_deg, float(row["lat"]), float(row["lon"])) > 90 - within, mission


def test_landing_places_are_told_by_year_and_light(at_quarter, gibbous) -> None:
    first, later = at_quarter["places:landings"].features, gibbous["places:landings"].features
    assert "Apollo 11" in first
    assert "Apollo 12" not in first  # 23 degrees west: the Sun rises there two days later
    assert {"Apollo 11", "Apollo 12", "Apollo 14", "Surveyor 3"} <= set(later)
    days = [next(s.day for s in SITES if s.mission == name) for name in later]
    assert days == sorted(days)


def test_along_the_edge_from_north_to_south_and_low_sun_alone(at_quarter) -> None:
    theme, sky = at_quarter["light:edge"], aspect_at(QUARTER, None)
    latitudes = [lat for _, lat, _ in theme.places]
    assert latitudes == sorted(latitudes, reverse=True)
    assert all(abs(height(lat, lon, sky.sub_solar_lat_deg, sky.sub_solar_lon_deg)) < 8.01
               for _, lat, lon in theme.places)  # fmt: skip


def test_explorers_in_this_light(at_quarter, gibbous) -> None:
    for theme in (at_quarter["people:explorer"], gibbous["people:explorer"]):
        for name in theme.features:
            assert any("explorer" in p.occupations for p in namesakes(name))
    assert "Colombo" in at_quarter["people:explorer"].features
    born = [min(p.born or p.flourished for p in namesakes(n)) for n in at_quarter["people:explorer"].features]
    assert born == sorted(born)


def test_the_largest_first_and_only_what_binoculars_show(at_quarter) -> None:
    sizes = [float(table()[n]["size_km"]) for n in at_quarter["kind:craters"].features]
    assert sizes == sorted(sizes, reverse=True)
    for name in at_quarter["size:binoculars"].features:
        assert float(table()[name]["size_km"]) >= (60 if not table()[name]["kind"] else 150)


def test_counts_in_a_theme_are_of_all_that_can_be_made_out() -> None:
    a = picture(GIBBOUS)
    notes = notes_of(a, GIBBOUS)
    assert isinstance(notes, Notes)
    theme = next(t for t in notes.themes if t.key == "people:astronomer")
    every = [s for s in notes.showing if s.mark.seen >= 0.5
             and any("astronomer" in p.occupations for p in namesakes(s.mark.feature.name))]  # fmt: skip
    assert theme.sentences[0].value("count") == len(every) > len(theme.features) == 12


def test_an_unsure_placement_has_no_small_things_and_no_landing_places() -> None:
    found = themes(replace(picture(GIBBOUS), sure=False), GIBBOUS)
    assert "places:landings" not in found
    assert "kind:craters" not in found
    assert "kind:seas" in found
