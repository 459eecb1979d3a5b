"""The overlay's layers as the page needs them."""

from __future__ import annotations

from importlib.resources import files

import pytest
from fakes import SVG

from moondesk.drawing import LAYERS
from moondesk.service.web.desk.picture.layers import overlay_markup


def test_layers_are_named_ordered_and_switchable():
    overlay = overlay_markup(SVG.format(w=80, h=60))
    assert overlay.view_box == (-0.5, -0.5, 80.0, 60.0)
    assert [(layer.slug, layer.title) for layer in overlay.layers] == [
        ("seas", "Seas"),
        ("zero-meridian", "Zero meridian"),
        ("limb", "Limb"),
    ]  # the empty one has no switch
    assert 'id="layer-zero-meridian"' in overlay.markup
    assert "Mare &lt;Imbrium&gt;" in overlay.markup  # text stays text
    assert overlay.markup.startswith("<g ")


def test_every_layer_has_a_switch_of_its_own_that_the_style_sheet_knows():
    style = files("moondesk.service.web").joinpath("static", "desk.css").read_text(encoding="utf-8")
    assert len({row.switch for row in LAYERS.values()}) == len(LAYERS)
    for row in LAYERS.values():
        assert f".show-{row.switch}:not(:checked)) .layer-{row.switch}" in style


def test_the_fonts_of_the_document_go_with_its_layers():
    svg = '<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 9 9" font-family="\'A\', B"><g id="seas"><a/></g></svg>'
    assert "font-family=\"'A', B\"" in overlay_markup(svg).markup


@pytest.mark.parametrize("text", ["", "<svg", "<svg xmlns='http://www.w3.org/2000/svg'/>", "<svg viewBox='1 2 3'/>"])
def test_what_is_no_overlay(text):
    assert overlay_markup(text) is None
