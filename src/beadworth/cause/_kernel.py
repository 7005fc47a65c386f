"""Compiled: every pixel of a wall's photo into its layer and column."""

import math

from beadworth.core import kernel, part

REACH = 4.5
"""Half width of a pixel's share of the height, in standard deviations."""
SPREAD_PX = 0.9
"""Standard deviation of that share, in pixels: keeps the pixel grid out (2·10⁻⁵ of the layers'
texture folds back), and costs 10 % of what differs from layer to layer."""


@part(fastmath=True)
def _share_below(t, table):
    """Normal share below t standard deviations, from a table between −REACH and REACH."""
    if t <= -REACH:
        return 0.0
    if t >= REACH:
        return 1.0
    at = (t + REACH) * (len(table) - 1) / (2 * REACH)
    i = int(at)
    if i >= len(table) - 1:
        return 1.0
    return table[i] + (at - i) * (table[i + 1] - table[i])


@kernel(fastmath=True)
def bin_photo(photo, curve, table, to_wall, box, start_mm, step_mm, layer_mm, sums, weights):
    """Add the light of each pixel to the layers it covers.

    photo: bytes (rows, columns); curve: light of each byte; table: normal shares; to_wall: 3 × 3,
    pixel (column, row, 1) to wall (mm along, mm up, 1); box: first and last row and column;
    start_mm: of the first column and of the first layer; sums, weights (layers, columns): what is
    added to.

    A pixel is spread over the height as a normal curve. The sum of a layer is then a box of one
    layer folded with that curve: its own texture cancels, though a layer is only 6 to 20 pixels
    high, and so does what the pixel grid would make of it.
    """
    layers, columns = sums.shape
    a = to_wall
    for j in range(box[0], box[1]):
        v = j + 0.5
        for i in range(box[2], box[3]):
            u = i + 0.5
            d = 1.0 / (a[2, 0] * u + a[2, 1] * v + a[2, 2])
            x = (a[0, 0] * u + a[0, 1] * v + a[0, 2]) * d
            column = (x - start_mm[0]) / step_mm
            if column < 0.0 or column >= columns:
                continue
            z = (a[1, 0] * u + a[1, 1] * v + a[1, 2]) * d
            t = (z - start_mm[1]) / layer_mm
            if t < -2.0 or t > layers + 2.0:
                continue
            high = (abs(a[1, 0] - z * a[2, 0]) + abs(a[1, 1] - z * a[2, 1])) * abs(d) / layer_mm
            high *= SPREAD_PX
            first = int(math.floor(t - REACH * high))  # noqa: RUF046 - a float, once compiled
            last = int(math.floor(t + REACH * high))  # noqa: RUF046
            light = curve[photo[j, i]]
            c = int(column)
            before = 0.0
            for q in range(first, last + 1):
                after = _share_below((q + 1 - t) / high, table)
                w = after - before
                before = after
                if 0 <= q < layers:
                    sums[q, c] += w * light
                    weights[q, c] += w
