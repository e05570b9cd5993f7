"""The line to follow alone, as a drawing in millimetres for other machines."""

from xml.sax.saxutils import escape

import numpy as np

from fitsim.arrays import Array
from fitsim.pattern.layout import FollowLine

__all__ = ["line_svg"]


def line_svg(line: FollowLine, name: str) -> str:
    """The line alone for other machines: SVG, one unit one millimetre.

    Parameters
    ----------
    line : FollowLine
        The line.
    name : str
        The bowl's, as the drawing's title.

    Returns
    -------
    str
        SVG 1.1: the cut from its lead-in to the stop as one path, the board's outline and its centre. y
        points down on the page, as SVG has it, so the drawing looks as the board does from above on the
        saw.
    """
    path = np.concatenate([line.lead_in_mm[:1], line.position_mm])
    points = np.concatenate([path, line.corners_mm])
    low, high = points.min(axis=0) - 5, points.max(axis=0) + 5
    wide, tall = (float(v) for v in high - low)

    def places(curve: Array) -> str:
        return " ".join(f"{x - low[0]:.3f},{high[1] - y:.3f}" for x, y in curve)

    x, y = float(-low[0]), float(high[1])
    return (
        '<?xml version="1.0" encoding="UTF-8"?>\n'
        f'<svg xmlns="http://www.w3.org/2000/svg" version="1.1" width="{wide:.3f}mm" height="{tall:.3f}mm" '
        f'viewBox="0 0 {wide:.3f} {tall:.3f}">\n'
        f"<title>{escape(name)}</title>\n"
        '<polyline id="board" fill="none" stroke="#999" stroke-width="0.1" '
        f'points="{places(line.corners_mm)}"/>\n'
        f'<path id="centre" fill="none" stroke="#999" stroke-width="0.1" '
        f'd="M{x - 3:.3f},{y:.3f}h6M{x:.3f},{y - 3:.3f}v6"/>\n'
        f'<polyline id="cut" fill="none" stroke="black" stroke-width="0.1" points="{places(path)}"/>\n'
        "</svg>\n"
    )
