"""Photos of simulated walls: what a cause does to a wall, and what a lamp and a camera make of it.

A wall is a stack of beads seen from outside. A bead's offset from the plane is a sum of

* one cause: a wave that is the same in every layer (belt, pulley, guide wheel), goes with the
  filament (drive tooth, mesh), with the clock (heater), with the height (screw), or decays after
  the corner in the time the planned speed makes of the way (ringing);
* what every wall has: layers that lie a few µm off (white and red up the height), roughness
  along the bead (red, partly handed on to the next layer), waviness common to all layers (red),
  blobs.

Its section is an ellipse whose neighbours meet in a groove. The surface is lit by one lamp
(Lambert's cosine law, a broad gloss), by light from all sides, and unevenly along the wall. The
camera tilts up to 5°, its focal length is drawn, its lens is soft (eight samples up each pixel);
noise lies 20 dB under the contrast of the picture; a tone curve and JPEG follow.

All sizes are invented; their ranges stand where they are drawn.
"""

from __future__ import annotations

import io
import math
from dataclasses import dataclass

import numpy as np

from beadworth.core import kernel

CAUSES = ("belt tooth", "pulley turn", "guide wheel turn", "screw turn", "drive tooth",
          "gear mesh", "heater cycle", "ringing")  # fmt: skip
LAYER_MM, STEP_MM = 0.3, 0.1
PHOTO_PX = (2400, 1250)


@dataclass(frozen=True)
class Machine:
    """An invented printer, as it is (the rig that is told knows it with errors)."""

    pulley_teeth: int
    belt_pitch_mm: float
    wheel_mm: float
    lead_mm: float
    drive_diameter_mm: float
    drive_teeth: int
    mesh_teeth: int
    heater_s: float
    resonance_hz: float
    damping: float


@dataclass(frozen=True)
class Side:
    """One side of the printed wall."""

    length_mm: float
    layers: int
    speed_mm_s: float
    acceleration_mm_s2: float
    corner_mm_s: float
    loop_mm: float
    filament_per_mm: float
    layer_s: float


@dataclass(frozen=True)
class Truth:
    """What was done to a wall; amplitude in mm, of the offset of the bead."""

    cause: str
    amplitude_mm: float
    ringing_mm: float
    second: str = ""
    """Another cause beside it, ringing apart."""
    second_mm: float = 0.0


def random_machine(rng: np.random.Generator) -> Machine:
    """Draw a printer."""
    teeth = int(rng.choice([16, 20]))
    drive = int(rng.integers(26, 52))
    mesh = int(rng.choice([t for t in range(36, 66) if abs(t / drive - 1) > 0.12]))
    return Machine(
        teeth, 2.0, rng.uniform(34, 41) if teeth == 16 else rng.uniform(30, 37),
        float(rng.choice([2.0, 4.0, 8.0])), rng.uniform(7.0, 11.5), drive, mesh,
        rng.uniform(3.0, 14.0), math.exp(rng.uniform(math.log(28), math.log(95))),
        math.exp(rng.uniform(math.log(0.03), math.log(0.12))),
    )  # fmt: skip


def random_sides(rng: np.random.Generator) -> tuple[Side, Side]:
    """Draw one wall at two speeds: the same loop and bead, two layer times."""
    loop, width = rng.uniform(420, 640), rng.uniform(0.44, 0.55)
    section = (width - LAYER_MM) * LAYER_MM + math.pi * LAYER_MM**2 / 4
    slow = rng.uniform(45, 80)
    acceleration = float(rng.choice([1500.0, 3000.0, 5000.0]))
    sides = []
    for speed in (slow, slow * rng.uniform(1.5, 2.0)):
        layer_s = loop / speed * rng.uniform(1.05, 1.1) + rng.uniform(0.1, 0.6)
        sides.append(Side(110.0, 176, speed, acceleration, rng.uniform(5, 15), loop,
                          section / (math.pi * 1.75**2 / 4), layer_s))  # fmt: skip
    return sides[0], sides[1]


def random_amplitude_mm(rng: np.random.Generator, cause: str) -> float:
    """Half the height of a wave: 20 to 60 µm for a part out of round, 8 to 35 µm for all else."""
    low, high = (0.020, 0.060) if cause in ("pulley turn", "guide wheel turn") else (0.008, 0.035)
    return math.exp(rng.uniform(math.log(low), math.log(high)))


def time_at_s(side: Side, x_mm: np.ndarray) -> np.ndarray:
    """Time since the corner, by stepping the speed: up from the corner's, flat, down again."""
    fine = np.linspace(0, side.length_mm, 20001)
    a, v0 = side.acceleration_mm_s2, side.corner_mm_s
    speed = np.minimum(np.sqrt(v0**2 + 2 * a * fine), np.sqrt(v0**2 + 2 * a * fine[::-1]))
    speed = np.minimum(speed, side.speed_mm_s)
    middle = (speed[1:] + speed[:-1]) / 2
    return np.interp(x_mm, fine, np.concatenate([[0.0], np.cumsum(np.diff(fine) / middle)]))


def offsets_mm(
    side: Side, machine: Machine, truth: Truth, phases: np.ndarray, rng: np.random.Generator
) -> np.ndarray:
    """Offset of each bead from the wall's plane, layer × position."""
    nx = round(side.length_mm / STEP_MM)
    x = (np.arange(nx) + 0.5) * STEP_MM
    k = np.arange(side.layers)[:, None]
    out = _rest_mm(side.layers, nx, rng)
    out += _cause_mm(side, machine, truth, phases, x, k, rng)
    if truth.second:
        other = Truth(truth.second, truth.second_mm, 0.0)
        out += _cause_mm(side, machine, other, phases[[1, 2, 0]], x, k, rng)
    if truth.ringing_mm or truth.cause == "ringing":
        size = truth.amplitude_mm if truth.cause == "ringing" else truth.ringing_mm
        w = 2 * math.pi * machine.resonance_hz
        t = time_at_s(side, x)
        phase = rng.uniform(0, 2 * math.pi)
        wd = w * math.sqrt(1 - machine.damping**2)
        out += size * np.exp(-machine.damping * w * t) * np.cos(wd * t + phase)
    return out


def perfect_light(
    side: Side, machine: Machine, truth: Truth, phases: np.ndarray, gains: np.ndarray,
    rng: np.random.Generator,
) -> np.ndarray:  # fmt: skip
    """Light of a wall by its slopes alone, layer × position: a photo without lamp and camera."""
    d = offsets_mm(side, machine, truth, phases, rng)
    along, up = np.gradient(d, STEP_MM, axis=1), np.gradient(d, LAYER_MM, axis=0)
    return np.exp(-gains[0] * along - gains[1] * up + 0.004 * rng.standard_normal(d.shape))


def _cause_mm(side, machine, truth, phases, x, k, rng):  # noqa: PLR0911 - one for each cause
    size, second = truth.amplitude_mm, phases[1] * 0.4 / (2 * math.pi)
    pitch_mm = math.pi * machine.drive_diameter_mm

    def wave(cycles):
        angle = 2 * math.pi * cycles + phases[0]
        return size * (np.cos(angle) + second * np.cos(2 * angle + phases[2]))

    filament = (side.loop_mm * k + x) * side.filament_per_mm
    match truth.cause:
        case "unlisted":
            return wave(x / unlisted_mm(machine))
        case "belt tooth":
            return wave(x / machine.belt_pitch_mm)
        case "pulley turn":
            return wave(x / (machine.pulley_teeth * machine.belt_pitch_mm))
        case "guide wheel turn":
            return wave(x / machine.wheel_mm)
        case "screw turn":
            return wave(k * LAYER_MM / machine.lead_mm)
        case "drive tooth":
            return wave(filament / (pitch_mm / machine.drive_teeth))
        case "gear mesh":
            return wave(filament / (pitch_mm / machine.mesh_teeth))
        case "heater cycle":  # its phase wanders: 0.04 rad from cycle to cycle
            t = side.layer_s * k + time_at_s(side, x)
            period = machine.heater_s * (1 + 0.001 * rng.standard_normal())
            knots = np.arange(int(t.max() / period) + 2)
            wander = np.cumsum(rng.normal(0, 0.04, knots.size)) / (2 * math.pi)
            return wave(t / period + np.interp(t / period, knots, wander))
    return 0.0


def unlisted_mm(machine: Machine) -> float:
    """Period of something that no rig names, mm of travel: far from every source that one does."""
    listed = [machine.belt_pitch_mm, machine.wheel_mm, 0.4,
              machine.belt_pitch_mm * machine.pulley_teeth, machine.belt_pitch_mm * 18]  # fmt: skip
    return max(np.linspace(5, 16, 111), key=lambda mm: min(
        abs(math.log(mm * times / one)) for one in listed for times in (0.5, 1, 2)
    ))  # fmt: skip


def _rest_mm(nk: int, nx: int, rng: np.random.Generator) -> np.ndarray:
    layers = 1e-3 * rng.uniform(3, 8) * (0.7 * rng.standard_normal(nk) + 0.7 * _red(rng, nk, 4.0))
    rough = 1e-3 * rng.uniform(2, 5) * _red(rng, (nk, nx), rng.uniform(0.8, 4) / STEP_MM)
    for i in range(1, nk):
        rough[i] = 0.35 * rough[i - 1] + math.sqrt(1 - 0.35**2) * rough[i]
    wavy = 1e-3 * rng.uniform(1, 4) * _red(rng, nx, rng.uniform(5, 20) / STEP_MM)
    out = layers[:, None] + rough + wavy
    for _ in range(rng.poisson(0.15 * nk)):
        at = np.arange(nx) - rng.uniform(0, nx)
        out[rng.integers(nk)] += 0.04 * np.exp(-0.5 * (at / (rng.uniform(0.2, 0.6) / STEP_MM)) ** 2)
    return out


def _red(rng, shape, length):
    """Red noise of unit variance along the last axis: exponential correlation, then smoothed."""
    from scipy.signal import lfilter

    a = math.exp(-1 / length)
    noise = rng.standard_normal(shape)
    noise[..., 0] /= math.sqrt(1 - a * a)
    return lfilter([math.sqrt(1 - a * a)], [1, -a], noise, axis=-1)


@kernel(fastmath=True)
def _render(offsets, inverse, shape, size_mm, layer_mm, step_mm, light, look, weights):
    """Brightness of each pixel: eight samples up its height, weighted as a soft lens and a
    square pixel do; ``inverse``
    takes (u, v, 1) to wall (x, z).
    """
    ny, nx = shape
    nk, nj = offsets.shape
    ambient, gloss, power = look[0], look[1], look[2]
    hx, hy, hz = light[0], light[1] + 1.0, light[2]
    norm = math.sqrt(hx * hx + hy * hy + hz * hz)
    hx, hy, hz = hx / norm, hy / norm, hz / norm
    out = np.empty((ny, nx), np.float32)
    flat = 0.93
    drawn = 1
    for j in range(ny):
        for i in range(nx):
            total = 0.0
            for s in range(8):  # where in its third of a pixel is drawn: else grooves alias
                drawn = (drawn * 1103515245 + 12345) & 0x7FFFFFFF
                u = i + (drawn >> 8 & 0xFFFF) / 65536.0
                drawn = (drawn * 1103515245 + 12345) & 0x7FFFFFFF
                v = j + 0.5 + (s - 4 + (drawn >> 8 & 0xFFFF) / 65536.0) / 3
                d = 1.0 / (inverse[2, 0] * u + inverse[2, 1] * v + inverse[2, 2])
                x = (inverse[0, 0] * u + inverse[0, 1] * v + inverse[0, 2]) * d
                z = (inverse[1, 0] * u + inverse[1, 1] * v + inverse[1, 2]) * d
                if x < 0.0 or z < 0.0 or x >= size_mm[0] or z >= size_mm[1]:
                    total += 0.12 * weights[s]  # a dark cloth behind it
                    continue
                t = z / layer_mm
                k = min(int(t), nk - 1)
                f = t - k
                r = x / step_mm - 0.5
                c = min(max(int(r), 0), nj - 2)
                g = min(max(r - c, 0.0), 1.0)
                along = (offsets[k, c + 1] - offsets[k, c]) / step_mm
                here = offsets[k, c] * (1 - g) + offsets[k, c + 1] * g
                q = k + 1 if f > 0.5 else k - 1
                if q < 0 or q >= nk:
                    q = k
                there = offsets[q, c] * (1 - g) + offsets[q, c + 1] * g
                up = (there - here) / layer_mm * (1.0 if f > 0.5 else -1.0)
                e = (2 * f - 1) * flat
                up -= flat * e / math.sqrt(1 - e * e)
                n = 1.0 / math.sqrt(1 + along * along + up * up)
                lit = (-along * light[0] + light[1] - up * light[2]) * n
                half = (-along * hx + hy - up * hz) * n
                value = ambient * (0.6 + 0.4 * n)
                if lit > 0:
                    value += (1 - ambient) * lit
                if half > 0:
                    value += gloss * half**power
                total += value * weights[s]
            out[j, i] = total
    return out


def photo(
    side: Side, offsets: np.ndarray, rng: np.random.Generator, photo_px: tuple[int, int] = PHOTO_PX
) -> tuple[bytes, np.ndarray]:
    """A JPEG of the wall, and where its corners (bottom left, right, top right, left) lie in it.

    A path runs from left to right and layers go up.
    """
    from PIL import Image
    from scipy.ndimage import gaussian_filter1d
    from scipy.special import ndtr

    size = np.array([side.length_mm, side.layers * LAYER_MM])
    forward = _camera(size, rng, photo_px)
    inverse = np.linalg.inv(forward)
    incidence, azimuth = np.radians(rng.uniform(52, 76)), np.radians(rng.uniform(22, 68))
    signs = rng.choice([-1.0, 1.0], 2)
    light = np.array([signs[0] * math.sin(incidence) * math.cos(azimuth), math.cos(incidence),
                      signs[1] * math.sin(incidence) * math.sin(azimuth)])  # fmt: skip
    look = np.array([rng.uniform(0.15, 0.4), rng.uniform(0.05, 0.35), rng.uniform(8, 25)])
    soft = rng.uniform(0.4, 0.7)
    at = (np.arange(8) - 3.5) / 3
    weights = np.diff(ndtr((at[:, None] + [-0.5, 0.5]) / soft))[:, 0]
    picture = _render(offsets, inverse, photo_px[::-1], size, LAYER_MM, STEP_MM, light, look,
                      weights / weights.sum())  # fmt: skip
    picture = gaussian_filter1d(picture, soft, axis=1)
    v, u = np.mgrid[-1 : 1 : photo_px[1] * 1j, -1 : 1 : photo_px[0] * 1j].astype(np.float32)
    slopes = rng.uniform(-0.2, 0.2, 4).astype(np.float32)
    picture *= 1 + slopes[0] * u + slopes[1] * v + slopes[2] * u * v + slopes[3] * u * u
    centre = picture[photo_px[1] // 4 : -photo_px[1] // 4, photo_px[0] // 4 : -photo_px[0] // 4]
    contrast = float(np.std(centre))
    exposure = np.float32(rng.uniform(0.25, 0.4) / float(np.mean(centre)))
    noise = rng.standard_normal(picture.shape, np.float32) * np.float32(0.1 * contrast)
    picture = (picture + noise) * exposure
    gamma, curve = rng.uniform(2.0, 2.4), rng.uniform(0, 0.15)
    tone = np.clip(picture, 0, 1) ** np.float32(1 / gamma)
    tone += np.float32(curve) * tone * (1 - tone) * (2 * tone - 1)
    out = io.BytesIO()
    Image.fromarray(np.uint8(np.clip(tone, 0, 1) * 255)).save(
        out, "JPEG", quality=int(rng.integers(84, 95))
    )
    corners = np.array([[0, 0, 1], [size[0], 0, 1], [*size, 1], [0, size[1], 1]]) @ forward.T
    return out.getvalue(), corners[:, :2] / corners[:, 2:]


def _camera(size, rng, photo_px):
    """Wall mm (x, z, 1) to pixels: a pinhole, tilted up to 5°, rolled up to 2°."""
    focal = rng.uniform(0.7, 1.4)  # in widths of the picture
    tilt, side = rng.uniform(0, math.radians(5)), rng.uniform(0, 2 * math.pi)
    roll = rng.uniform(-1, 1) * math.radians(2)
    a, b = tilt * math.cos(side), tilt * math.sin(side)
    turn_x = np.array([[1, 0, 0], [0, math.cos(a), -math.sin(a)], [0, math.sin(a), math.cos(a)]])
    turn_y = np.array([[math.cos(b), 0, math.sin(b)], [0, 1, 0], [-math.sin(b), 0, math.cos(b)]])
    turn_z = np.array(
        [[math.cos(roll), -math.sin(roll), 0], [math.sin(roll), math.cos(roll), 0], [0, 0, 1]]
    )
    turn = turn_z @ turn_x @ turn_y
    fill = rng.uniform(0.90, 0.95)
    away = focal * size[0] / fill
    place = turn @ np.array([[1, 0, -size[0] / 2], [0, -1, size[1] / 2], [0, 0, 0]])
    place[:, 2] += [rng.uniform(-0.01, 0.01) * size[0], rng.uniform(-0.01, 0.01) * size[0], away]
    w, h = photo_px
    return np.array([[focal * w, 0, w / 2], [0, focal * w, h / 2], [0, 0, 1]]) @ place


def random_case(
    seed: int, cause: str | None = None, photo_px: tuple[int, int] = PHOTO_PX, photographed: int = 2
):
    """A machine, its two sides, the truth, and a photo of each (or the first): from a seed."""
    rng = np.random.default_rng([20261130, seed])
    machine, sides = random_machine(rng), random_sides(rng)
    cause = cause or ("nothing periodic", *CAUSES)[seed % 9]
    amplitude = random_amplitude_mm(rng, cause)
    beside = cause not in ("ringing",) and rng.random() < 0.5 and cause in CAUSES
    ringing = random_amplitude_mm(rng, "ringing") if beside else 0.0
    truth = Truth(cause, amplitude if cause in CAUSES else 0.0, ringing)
    phases = rng.uniform(0, 2 * math.pi, 3)
    photos = []
    for side in sides[:photographed]:
        offsets = offsets_mm(side, machine, truth, phases, rng)
        photos.append(photo(side, offsets, rng, photo_px))
    return machine, sides[:photographed], truth, photos
