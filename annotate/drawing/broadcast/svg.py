"""A frame as one SVG document: a group for each layer, its name as id. Letters are outlines, so no typeface is wanted.

The photograph is a JPEG of the frame's own pixels within the document (nothing of the file that came in); no script, no
style sheet, nothing loaded from elsewhere.
"""

from __future__ import annotations

import base64
from html import escape

import cv2
import numpy as np

from moondesk.drawing.broadcast.records import Frame
from moondesk.drawing.broadcast.shapes import AirShape, Fill, Raster
from moondesk.drawing.svg import markup
from moondesk.records import ByteArray, FloatArray

#: Of the photograph within: no step of it is seen on a screen, at a tenth of the size without loss.
QUALITY = 93


def frame_svg(frame: Frame) -> str:
    """The document; width and height are the frame's pixels."""
    w, h = frame.format.width, frame.format.height
    parts = [f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {w} {h}" width="{w}" height="{h}">']
    for layer in frame.layers:
        title = f"<title>{escape(layer.title, quote=False)}</title>" if layer.title else ""
        parts.append(f'<g id="{escape(layer.name)}">{title}')
        parts += [_element(shape) for shape in layer.shapes]
        parts.append("</g>")
    parts.append("</svg>")
    return "\n".join(parts) + "\n"


def _element(shape: AirShape) -> str:
    if isinstance(shape, Fill):
        d = "".join(f"M{_points(o)}Z" for o in shape.outlines)
        opacity = "" if shape.opacity >= 1.0 else f' fill-opacity="{shape.opacity:g}"'
        said = f' role="img" aria-label="{escape(shape.says)}"' if shape.says else ""
        return f'<path d="{d}" fill="{shape.colour}"{opacity}{said}/>'
    if isinstance(shape, Raster):
        height, width = shape.pixels.shape[:2]
        kind, data = _packed(shape.pixels)
        return (
            f'<image x="{shape.x}" y="{shape.y}" width="{width}" height="{height}" '
            f'href="data:image/{kind};base64,{base64.b64encode(data).decode()}"/>'
        )
    # lines come through the pose, whose pixels are counted from their centres
    return f'<g transform="translate(0.5 0.5)">{markup([shape])}</g>'


def _packed(pixels: ByteArray) -> tuple[str, bytes]:
    if pixels.shape[2] == 3:
        kind, array = "jpeg", cv2.cvtColor(pixels, cv2.COLOR_RGB2BGR)
        done, data = cv2.imencode(".jpg", array, [cv2.IMWRITE_JPEG_QUALITY, QUALITY])
    else:
        kind, array = "png", cv2.cvtColor(pixels, cv2.COLOR_RGBA2BGRA)
        done, data = cv2.imencode(".png", array)
    if not done:
        raise OSError(f"the {kind} encoder failed")
    return kind, np.asarray(data).tobytes()


def _points(outline: FloatArray) -> str:
    return "L".join(f"{x:.2f} {y:.2f}" for x, y in outline.tolist())
