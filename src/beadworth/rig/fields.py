"""Kinds of number that records are made of; a unit typed wrongly is often out of range here."""

from __future__ import annotations

from typing import Annotated

from pydantic import Field

Positive = Annotated[float, Field(gt=0)]
NotNegative = Annotated[float, Field(ge=0)]
Count = Annotated[int, Field(ge=1, le=10_000)]
Currency = Annotated[str, Field(pattern=r"^[A-Z]{3}$")]
Ratio = Annotated[float, Field(gt=0, le=200)]
Share = Annotated[float, Field(gt=0, le=1)]
Friction = Annotated[float, Field(gt=0, lt=1)]
