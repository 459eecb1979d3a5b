"""Frames for air of the pictures in a rundown: their pages, files and layers.

What the page on air builds on; E is the edition's number, I the item's id, each address takes ?format=hd|uhd|vertical
(hd), &view=upright|eye (upright) and &zoom=NAME (a feature; the whole disc without it):

    GET /rundown/E/items/I/frame/layers.json   {"item": I, "picture": id, "format": "hd", "width": 1920, "height": 1080,
                                                "mark": "<16 hex>", "notice": "", "left_out": ["sentence", ...],
                                                "layers": [{"name", "title", "kind", "base", "url"}, ...]}
    GET /rundown/E/items/I/frame/NAME.png      one layer with alpha, the size of the frame; any number on top of each other
    GET /rundown/E/items/I/frame/whole.png     all layers in one, without alpha
    GET /rundown/E/items/I/frame/whole.svg     all layers, a group with the layer's name as its id for each

Layers come in the order of revealing, which is also the order of lying over each other. base: it stands from the start (the
picture; the credit too where the placing is not certain). kind: picture, directions, terminator, lines, seas,
feature, scale, inset or credit. title: what is revealed, in the programme's language. A url names the mark, so a layer may
be kept as long as one likes. Where no frame can be made (no consent, taken back, a letter that no font has), layers is
empty and notice says why; the files answer 404 with the same sentence. In code: `service.work.airing.frame_of`.
"""
