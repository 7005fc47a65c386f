"""The run sheet: blocks of one rig and temperature, references spread, the rest shuffled."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace

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


def reference_flow(spec: TrialSpec) -> float:
    """Flow of the reference coupons: as asked, else the lowest of the ladder."""
    return spec.reference_flow_mm3_s or min(spec.flows_mm3_s)


def run_sheet(
    spec: TrialSpec, *, filament_mm: float, replicates: int, references: int
) -> list[Coupon]:
    """Every coupon in the order to make it, plates left at 1.

    Blocks go rig by rig (changing a rig is a rebuild) and up in temperature. Inside a
    block the settings are shuffled with the plan's seed, and the references stand at
    the start, the end and evenly between, so that drift shows.
    """
    rng = np.random.default_rng(spec.seed)
    rigs = [spec.baseline] + ([spec.candidate] if spec.candidate else [])
    low = reference_flow(spec)
    sheet: list[Coupon] = []
    block = 0
    for rig in rigs:
        for temperature in sorted(spec.temperatures_c):
            block += 1
            tested = [
                (flow, number) for flow in spec.flows_mm3_s for number in range(1, replicates + 1)
            ]
            tested = [tested[i] for i in rng.permutation(len(tested))]
            sheet += _block(block, rig, temperature, tested, low, references, filament_mm,
                            len(sheet))  # fmt: skip
    return sheet


def _block(
    block: int,
    rig: str,
    temperature_c: float,
    tested: Sequence[tuple[float, int]],
    reference_flow_mm3_s: float,
    references: int,
    filament_mm: float,
    before: int,
) -> list[Coupon]:
    """One block with its references spread through it."""
    total = len(tested) + references
    places = set(np.linspace(0, total - 1, references).round().astype(int).tolist())
    waiting = iter(tested)
    made = []
    number = 0
    for place in range(total):
        if place in places:
            number += 1
            flow, replicate, is_reference = reference_flow_mm3_s, number, True
        else:
            flow, replicate = next(waiting)
            is_reference = False
        made.append(
            Coupon(
                coupon=f"{block_letter(block)}{place + 1:02d}",
                rig=rig,
                temperature_c=temperature_c,
                flow_mm3_s=flow,
                filament_mm=filament_mm,
                replicate=replicate,
                reference=is_reference,
                order=before + place + 1,
                block=block,
                plate=1,
            )
        )
    return made


def on_plates(
    sheet: Sequence[Coupon], per_plate: Mapping[str, int], first: int = 1
) -> list[Coupon]:
    """The coupons with their plate numbers; a plate holds coupons of one rig only."""
    placed = []
    plate, rig, used = first - 1, None, 0
    for coupon in sheet:
        if coupon.rig != rig or used == per_plate[coupon.rig]:
            plate, rig, used = plate + 1, coupon.rig, 0
        used += 1
        placed.append(replace(coupon, plate=plate))
    return placed


def by_block(sheet: Sequence[Coupon], first: int = 1) -> list[Coupon]:
    """The coupons with one plate number per block: a catch session each."""
    start = min((coupon.block for coupon in sheet), default=1)
    return [replace(coupon, plate=coupon.block - start + first) for coupon in sheet]


def added_coupons(
    spec: TrialSpec,
    sheet: Sequence[Coupon],
    settings: Sequence[Setting],
    *,
    references: int = 2,
) -> list[Coupon]:
    """Coupons to add to a locked plan: new blocks, each with references of its own.

    A setting listed twice is made twice. The blocks' references (at least one at the
    start and one at the end) tie the new coupons to the same spool and drive.
    """
    rng = np.random.default_rng([spec.seed, len(sheet)])
    filament = sheet[-1].filament_mm if sheet else (spec.filament_mm or 600.0)
    block = max((coupon.block for coupon in sheet), default=0)
    made: list[Coupon] = []
    for rig, temperature in sorted({(rig, temperature) for rig, temperature, _ in settings}):
        block += 1
        flows = [flow for r, t, flow in settings if (r, t) == (rig, temperature)]
        counts: dict[float, int] = {}
        tested = []
        for flow in flows:
            known = sum(
                1
                for c in sheet
                if (c.rig, c.temperature_c, c.flow_mm3_s, c.reference)
                == (rig, temperature, flow, False)
            )
            counts[flow] = counts.get(flow, known) + 1
            tested.append((flow, counts[flow]))
        tested = [tested[i] for i in rng.permutation(len(tested))]
        made += _block(block, rig, temperature, tested, reference_flow(spec), references,
                       filament, len(sheet) + len(made))  # fmt: skip
    return made
