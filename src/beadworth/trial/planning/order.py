"""The run sheet: blocks of one rig and temperature, references spread, the rest shuffled."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import replace
from itertools import groupby

import numpy as np

from beadworth.trial.record import Coupon, TrialSpec

Setting = tuple[str, float, float]
"""Rig, temperature °C, flow mm³/s."""


def block_letter(block: int) -> str:
    """A, B … Z, AA, AB …: the first part of a coupon's name."""
    letters = ""
    while block > 0:
        block, rest = divmod(block - 1, 26)
        letters = chr(65 + rest) + letters
    return letters


def rig_names(spec: TrialSpec) -> list[str]:
    """The baseline, then the candidate where there is one."""
    return [spec.baseline] + ([spec.candidate] if spec.candidate else [])


def reference_flow(spec: TrialSpec) -> float:
    """Flow of the reference coupons: as asked, else the lowest of the ladder."""
    return spec.reference_flow_mm3_s or min(spec.flows_mm3_s)


def run_sheet(
    spec: TrialSpec, *, filament_mm: float, replicates: int, references: int
) -> list[Coupon]:
    """Every coupon in the order to make it, plates left at 1.

    Blocks go rig by rig (changing a rig is a rebuild) and up in temperature (heating is quick,
    cooling is not). Inside a block the settings are shuffled with the plan's seed, so that what
    drifts does not pass for an effect of flow; the references stand at the start, at the end
    and evenly between, so that drift shows.
    """
    rng = np.random.default_rng(spec.seed)
    tested = [(q, number) for q in spec.flows_mm3_s for number in range(1, replicates + 1)]
    sheet: list[Coupon] = []
    for rig in rig_names(spec):
        for temperature in sorted(spec.temperatures_c):
            sheet += _block(
                sheet, (rig, temperature), _shuffled(tested, rng), reference_flow(spec),
                references=references, filament_mm=filament_mm,
            )  # fmt: skip
    return sheet


def _shuffled(
    tested: Sequence[tuple[float, int]], rng: np.random.Generator
) -> list[tuple[float, int]]:
    """A random order, from the generator's plain doubles: they stay the same over releases."""
    return [tested[i] for i in np.argsort(rng.random(len(tested)))]


def _block(
    before: Sequence[Coupon],
    where: tuple[str, float],
    tested: Sequence[tuple[float, int]],
    reference_flow_mm3_s: float,
    *,
    references: int,
    filament_mm: float,
) -> list[Coupon]:
    """One block after the coupons ``before``, its references spread through it."""
    rig, temperature = where
    block = max((c.block for c in before), default=0) + 1
    order = max((c.order for c in before), default=0)
    number = sum(c.reference and (c.rig, c.temperature_c) == where for c in before)
    total = len(tested) + references
    places = set(np.linspace(0, total - 1, references).round().astype(int).tolist())
    waiting = iter(tested)
    made = []
    for place in range(total):
        is_reference = place in places
        if is_reference:
            number += 1
            flow, replicate = reference_flow_mm3_s, number
        else:
            flow, replicate = next(waiting)
        made.append(
            Coupon(
                coupon=f"{block_letter(block)}{place + 1:02d}",
                rig=rig,
                temperature_c=temperature,
                flow_mm3_s=flow,
                filament_mm=filament_mm,
                replicate=replicate,
                reference=is_reference,
                order=order + place + 1,
                block=block,
                plate=1,
            )
        )
    return made


def added_coupons(
    spec: TrialSpec,
    sheet: Sequence[Coupon],
    settings: Sequence[Setting],
    *,
    filament_mm: float,
    references: int,
) -> list[Coupon]:
    """Coupons that follow a sheet: new blocks with names, places and references of their own.

    A setting listed twice is made twice; replicate numbers go on from those of the sheet.
    """
    rng = np.random.default_rng([spec.seed, len(sheet)])
    made: list[Coupon] = []
    known = Counter(
        (c.rig, c.temperature_c, c.flow_mm3_s) for c in sheet if not c.reference
    )  # fmt: skip
    rank = {name: place for place, name in enumerate(rig_names(spec))}
    for rig, temperature in sorted({s[:2] for s in settings}, key=lambda s: (rank[s[0]], s[1])):
        tested = []
        for flow in (s[2] for s in settings if s[:2] == (rig, temperature)):
            known[rig, temperature, flow] += 1
            tested.append((flow, known[rig, temperature, flow]))
        made += _block(
            [*sheet, *made], (rig, temperature), _shuffled(tested, rng), reference_flow(spec),
            references=references, filament_mm=filament_mm,
        )  # fmt: skip
    return made


def on_plates(
    sheet: Sequence[Coupon], per_plate: Mapping[str, int], first: int = 1
) -> list[Coupon]:
    """The coupons with their plates, filled in run order; a plate holds one rig's only.

    A block, one temperature, that fits on a plate is not split over two.
    """
    placed: list[Coupon] = []
    plate, rig, used = first - 1, None, 0
    for _, group in groupby(sheet, key=lambda c: c.block):
        block = list(group)
        cells = per_plate[block[0].rig]
        whole = used + len(block) <= cells
        if block[0].rig != rig or (len(block) <= cells and not whole):
            plate, rig, used = plate + 1, block[0].rig, 0
        for coupon in block:
            if used == cells:
                plate, used = plate + 1, 0
            used += 1
            placed.append(replace(coupon, plate=plate))
    return placed


def plates_of(blocks: int, block: int, cells: int) -> int:
    """How many plates :func:`on_plates` takes for some blocks of one size, of one rig."""
    if block <= cells:
        return -(-blocks // (cells // block))
    return -(-blocks * block // cells)


def by_block(sheet: Sequence[Coupon], first: int = 1) -> list[Coupon]:
    """The coupons with one plate number per block: a catch session each."""
    start = min((coupon.block for coupon in sheet), default=1)
    return [replace(coupon, plate=coupon.block - start + first) for coupon in sheet]
