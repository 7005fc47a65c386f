"""From a photo and its four corners to a matrix of layer × position.

The layer lines are the ruler: their height is known, they run along the wall, and there are a
hundred of them. Under perspective the layer at pixel (u, v) is a ratio of two linear functions,

    layer(u, v) = (a·u + b·v) ÷ (1 + p·u + q·v) + constant,

whose four numbers are fitted to the local frequency of the lines, tile by tile. (p, q) give the
tilt of the wall, and with a usual focal length the direction and the scale along it: at a tilt of
5° a focal length that is a third off changes lengths by 0.2 %.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from beadworth.cause._kernel import REACH, bin_photo
from beadworth.cause.photo import TONE, Photo
from beadworth.cause.wall import Matrix, level
from beadworth.core import InputError

FEWEST_PX = 6.0
"""Pixels a layer under which a photo says little; seen on simulated walls."""
STEP_MM = 0.1
FOCAL_WIDTHS = 0.95
"""Focal length in widths of the picture where nothing is said of it; phones have 0.7 to 1.4
(common practice, no source)."""
EDGE_MM = (1.0, 0.8)
"""Left out at the ends and at bottom and top: rounded corners, and corners dragged not quite."""
_TILES = (12, 8)
_SHARES = np.array(
    [0.5 * (1 + math.erf(t / math.sqrt(2))) for t in np.linspace(-REACH, REACH, 721)]
)


@dataclass(frozen=True)
class Rectified:
    """The matrix of one photo, and how it was come by."""

    brightness: np.ndarray
    """Light, layer × position."""
    matrix: Matrix
    """The same, levelled."""
    to_wall: np.ndarray
    """3 × 3: pixel (column, row, 1) of the decoded photo to wall (mm along, mm up, 1)."""
    layer_px: float
    """Pixels a layer in the middle of the wall."""
    length_mm: float
    """From the left to the right corners by the ruler of the layers."""
    height_layers: float


def homography(corners_px: np.ndarray, width: float, height: float) -> np.ndarray:
    """3 × 3 that takes pixels to (0 … width, 0 … height) from four corners.

    Parameters
    ----------
    corners_px : array (4, 2)
        Bottom left, bottom right, top right, top left.
    width, height : float
        Of what they enclose.
    """
    target = np.array([[0, 0], [width, 0], [width, height], [0, height]], float)
    rows = []
    for (u, v), (x, z) in zip(corners_px, target, strict=True):
        rows += [[u, v, 1, 0, 0, 0, -x * u, -x * v, -x], [0, 0, 0, u, v, 1, -z * u, -z * v, -z]]
    return np.asarray(np.linalg.svd(np.array(rows))[2][-1].reshape(3, 3))


def through(matrix: np.ndarray, points: np.ndarray) -> np.ndarray:
    """Points (n, 2) through a 3 × 3 projective map."""
    mapped = np.column_stack([points, np.ones(len(points))]) @ matrix.T
    return np.asarray(mapped[:, :2] / mapped[:, 2:])


def check_corners(corners_px: np.ndarray, shape: tuple[int, ...]) -> None:
    """Refuse corners that enclose no wall.

    Raises
    ------
    InputError
        Not a convex quadrilateral in order, or too small.
    """
    edges = np.roll(corners_px, -1, axis=0) - corners_px
    following = np.roll(edges, -1, axis=0)
    turn = edges[:, 0] * following[:, 1] - edges[:, 1] * following[:, 0]
    area = 0.5 * abs(float(np.sum(corners_px[:, 0] * np.roll(corners_px[:, 1], -1)
                                  - corners_px[:, 1] * np.roll(corners_px[:, 0], -1))))  # fmt: skip
    if not (np.all(turn < 0) and area > 0.01 * shape[0] * shape[1]):
        raise InputError(
            "these four corners do not go round a wall.", "corners", None,
            "Give bottom left, bottom right, top right, top left as they lie in the photo.",
        )  # fmt: skip


def rectify(photo: Photo, corners_px: np.ndarray, length_mm: float, layer_mm: float) -> Rectified:
    """Matrix of a wall from its photo.

    Parameters
    ----------
    photo : Photo
    corners_px : array (4, 2)
        Columns and rows in the whole photo: bottom left (where the path begins), bottom right, top
        right, top left. Off by a few pixels is good enough.
    length_mm : float
        From left to right corner by the program; 15 % off is good enough.
    layer_mm : float
        Layer height.

    Raises
    ------
    InputError
        Corners round no wall, no layer lines to be seen, or fewer than 3 pixels a layer.
    """
    grey = photo.grey
    corners = np.asarray(corners_px, float) / photo.reduced
    check_corners(corners, grey.shape)
    aspect = _height_over_length(corners)
    guess = homography(corners, length_mm, aspect * length_mm)
    scale = float(grey.shape[1])
    field = fit_layer_field(grey, corners, guess, layer_mm, scale)
    to_wall = wall_map(field, scale, layer_mm, grey.shape, corners)
    ends = through(to_wall, corners)
    left, right = float(ends[[0, 3], 0].max()), float(ends[[1, 2], 0].min())
    bottom, top = float(ends[:2, 1].max()), float(ends[2:, 1].min())
    layers = int((top - bottom - 2 * EDGE_MM[1]) / layer_mm)
    columns = int((right - left - 2 * EDGE_MM[0]) / STEP_MM)
    if layers < 12 or columns < 100:
        raise InputError(
            f"{max(layers, 0)} layers and {max(columns * STEP_MM, 0.0):.0f} mm are too little "
            "of a wall.", "corners", None, "Give 12 layers and 10 mm at least.",
        )  # fmt: skip
    sums, weights = np.zeros((layers, columns)), np.zeros((layers, columns))
    box = np.array([
        max(int(corners[:, 1].min()), 0), min(int(corners[:, 1].max()) + 1, grey.shape[0]),
        max(int(corners[:, 0].min()), 0), min(int(corners[:, 0].max()) + 1, grey.shape[1]),
    ])  # fmt: skip
    start = np.array([left + EDGE_MM[0], bottom + EDGE_MM[1]])
    bin_photo(grey, TONE, _SHARES, to_wall, box, start, STEP_MM, layer_mm, sums, weights)
    brightness = _filled(sums, weights)
    origin = float(ends[[0, 3], 0].mean())
    middle = through(to_wall, np.array([corners.mean(0), corners.mean(0) + np.array([0.0, 1.0])]))
    across = through(to_wall, np.array([corners.mean(0) + np.array([1.0, 0.0])]))
    per_px = np.hypot(middle[1, 1] - middle[0, 1], across[0, 1] - middle[0, 1]) / layer_mm
    return Rectified(
        brightness,
        Matrix(level(brightness), STEP_MM, float(start[0]) - origin,
               grid_spots(to_wall, corners, layer_mm)), to_wall,
        float(1 / per_px), float(ends[[1, 2], 0].mean() - origin), (top - bottom) / layer_mm,
    )  # fmt: skip


def grid_spots(to_wall: np.ndarray, corners: np.ndarray, layer_mm: float) -> np.ndarray:
    """Where rows and columns of pixels would make a wave of the layer lines, all over the wall.

    Returns
    -------
    array (n, 2)
        Cycles/mm and cycles/layer of the pixel grid; perspective smears them.
    """
    inside = np.linspace(0.02, 0.98, 60)
    square = homography(corners, 1.0, 1.0)
    at = through(np.linalg.inv(square), np.array([[s, t] for t in inside for s in inside]))
    wall = through(to_wall, at)
    back = np.linalg.inv(to_wall)
    right, above = np.array([0.01, 0.0]), np.array([0.0, 0.01])
    along = (through(back, wall + right) - through(back, wall - right)) / 0.02
    up = (through(back, wall + above) - through(back, wall - above)) / 0.02 * layer_mm
    return np.concatenate([np.stack([along[:, i], up[:, i]], 1) for i in (0, 1)])


def _height_over_length(corners: np.ndarray) -> float:
    sides = np.hypot(*(np.roll(corners, -1, axis=0) - corners).T)
    return float((sides[1] + sides[3]) / (sides[0] + sides[2]))


def _filled(sums: np.ndarray, weights: np.ndarray) -> np.ndarray:
    """Means, holes (columns that no pixel fell into) taken from their left neighbour."""
    ok = weights > 0.3
    if not ok.any():
        raise InputError("nothing of the wall lies inside the photo.", "corners", None,
                         "Drag the corners onto the wall.")  # fmt: skip
    means = np.divide(sums, weights, out=np.zeros_like(sums), where=ok)
    last = np.maximum.accumulate(np.where(ok, np.arange(ok.shape[1]), -1), axis=1)
    rows = np.arange(ok.shape[0])[:, None]
    filled = np.where(last >= 0, means[rows, np.maximum(last, 0)], means[ok].mean())
    return np.asarray(np.maximum(filled, 1e-4))


@dataclass(frozen=True)
class LayerField:
    """layer = (a·u + b·v)/(1 + p·u + q·v), u and v in widths of the picture from its middle."""

    a: float
    b: float
    p: float
    q: float
    tiles: int
    """Tiles in which the lines were found."""


def fit_layer_field(
    grey: np.ndarray, corners: np.ndarray, guess: np.ndarray, layer_mm: float, scale: float
) -> LayerField:
    """Fit the layer lines of a photo, tile by tile.

    Parameters
    ----------
    grey : array (rows, columns)
    corners : array (4, 2)
    guess : 3 × 3
        Pixels to mm from the corners; lines are looked for within 20 % of what it says.
    layer_mm : float
    scale : float
        Pixels of one unit of u and v.

    Raises
    ------
    InputError
        No layer lines to be seen, or fewer than 3 pixels a layer.
    """
    whole = np.array([[s, t] for t in np.linspace(0.12, 0.88, _TILES[1])
                      for s in np.linspace(0.07, 0.93, _TILES[0])])  # fmt: skip
    square = homography(corners, 1.0, 1.0)
    centres = through(np.linalg.inv(square), whole)
    expected = _gradients(guess, centres) / layer_mm
    longest = float(np.median(1 / np.hypot(*expected.T)))
    if longest < 3:
        raise InputError(
            f"{longest:.1f} pixels a layer are too few; 3 are the least, {FEWEST_PX:g} are wanted.",
            "photo", longest, "Go nearer, or take a part of the wall.",
        )  # fmt: skip
    size = int(2 ** np.clip(np.ceil(np.log2(9 * longest)), 6, 9))
    found = [
        _tile(grey, centre, want, size) for centre, want in zip(centres, expected, strict=True)
    ]
    good = np.array([f is not None for f in found])
    if good.sum() < 8:
        raise InputError(
            "no layer lines can be seen between these corners.", "photo", int(good.sum()),
            "Check the corners and the layer height; light the wall from one side, sharp focus.",
        )  # fmt: skip
    seen = np.array([f for f in found if f is not None])
    middle = np.array([grey.shape[1], grey.shape[0]]) / 2
    return _fit((centres[good] - middle) / scale, seen[:, :2] * scale, np.sqrt(seen[:, 2]))


def _gradients(matrix: np.ndarray, points: np.ndarray) -> np.ndarray:
    """Gradient of the second coordinate (height) by pixel at points."""
    h = np.column_stack([points, np.ones(len(points))]) @ matrix.T
    return np.asarray((matrix[1, :2] * h[:, 2:] - matrix[2, :2] * h[:, 1:2]) / h[:, 2:] ** 2)


def _tile(
    grey: np.ndarray, centre: np.ndarray, want: np.ndarray, size: int
) -> tuple[float, float, float] | None:
    """Frequency (cycles/pixel along u and v) and strength of the lines in one tile."""
    i, j = int(centre[0] - size / 2), int(centre[1] - size / 2)
    if i < 0 or j < 0 or i + size > grey.shape[1] or j + size > grey.shape[0]:
        return None
    tile = TONE[grey[j : j + size, i : i + size]].astype(float)
    mean = float(tile.mean())
    if mean < 0.004 or float(np.mean(tile > 0.99)) > 0.3:
        return None
    window = np.hanning(size + 2)[1:-1]
    power = np.abs(np.fft.fft2((tile / mean - 1) * window[:, None] * window)) ** 2
    f = np.fft.fftfreq(size)
    near = (f[None, :] - want[0]) ** 2 + (f[:, None] - want[1]) ** 2
    reach = max(0.2 * float(np.hypot(*want)), 1.5 / size)
    masked = np.where(near < reach**2, power, 0.0)
    r, c = np.unravel_index(int(np.argmax(masked)), masked.shape)
    strength = float(power[r, c] / max(float(np.median(power)), 1e-12))
    if strength < 20:
        return None

    def between(low: float, here: float, high: float) -> float:
        curve = low - 2 * here + high
        return 0.0 if curve >= 0 else float(np.clip(0.5 * (low - high) / curve, -1, 1))

    logs = np.log(power + 1e-12)
    n = size
    fu = f[c] + between(logs[r, (c - 1) % n], logs[r, c], logs[r, (c + 1) % n]) / n
    fv = f[r] + between(logs[(r - 1) % n, c], logs[r, c], logs[(r + 1) % n, c]) / n
    return fu, fv, min(strength, 2000.0)


def _fit(points: np.ndarray, seen: np.ndarray, weights: np.ndarray) -> LayerField:
    """Gauss and Newton's least squares, outliers weighed down (Huber)."""
    u, v = points.T
    theta = np.array([*np.median(seen, axis=0), 0.0, 0.0])
    usual = float(np.hypot(*theta[:2]))

    def model(theta: np.ndarray) -> np.ndarray:
        a, b, p, q = theta
        d, n = 1 + p * u + q * v, a * u + b * v
        return np.concatenate([(a * d - p * n) / d**2, (b * d - q * n) / d**2])

    target, w0 = np.concatenate(seen.T), np.concatenate([weights, weights])
    steps = np.array([1e-4 * usual, 1e-4 * usual, 1e-5, 1e-5])
    for _ in range(12):
        rest = target - model(theta)
        spread = 1.4826 * float(np.median(np.abs(rest * w0))) + 1e-9
        w = w0 * np.sqrt(np.minimum(1.0, 1.5 * spread / (np.abs(rest * w0) + 1e-12)))
        jacobian = np.stack(
            [(model(theta + s * e) - model(theta - s * e)) / (2 * s)
             for s, e in zip(steps, np.eye(4), strict=True)], 1,
        )  # fmt: skip
        theta = theta + np.linalg.lstsq(jacobian * w[:, None], rest * w, rcond=None)[0]
    a, b, p, q = (float(t) for t in theta)
    return LayerField(a, b, p, q, len(points))


def wall_map(
    field: LayerField, scale: float, layer_mm: float, shape: tuple[int, ...], corners: np.ndarray
) -> np.ndarray:
    """3 × 3 from pixels to the wall in mm, from its layer lines.

    With rays r = (u/f, v/f, 1) and the wall n·X = 1, X = r/(n·r), the layer is m·X and p = n₁/f,
    q = n₂/f, a = m₁/f − m₃·p, b = m₂/f − m₃·q; m lies in the wall, which gives m₃.
    """
    f = FOCAL_WIDTHS
    a, b, p, q = field.a, field.b, field.p, field.q
    c = -f * f * (a * p + b * q) / (1 + f * f * (p * p + q * q))
    n = np.array([f * p, f * q, 1.0])
    m = np.array([f * (a + c * p), f * (b + c * q), c])
    per_unit = float(np.linalg.norm(m))
    along = np.cross(m, n)
    along *= layer_mm * per_unit / float(np.linalg.norm(along))
    to_ray = np.array([[1 / (f * scale), 0, -shape[1] / (2 * f * scale)],
                       [0, 1 / (f * scale), -shape[0] / (2 * f * scale)], [0, 0, 1]])  # fmt: skip
    out = np.array([along, layer_mm * m, n]) @ to_ray
    ends = through(out, corners)
    if ends[1, 0] < ends[0, 0]:
        out[0] *= -1
    if ends[3, 1] < ends[0, 1]:
        out[1] *= -1
    shift = np.eye(3)
    shift[:2, 2] = -through(out, corners).min(0)
    return np.asarray(shift @ out)
