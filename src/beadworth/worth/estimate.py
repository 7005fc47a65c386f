"""A number as a person knows it: exact, with a standard uncertainty, between limits, or both.

The distributions are those JCGM 101:2008 (6.4, table 1) gives to what is known: a best
estimate with a standard uncertainty is normal (6.4.7), a lower and an upper limit alone are
rectangular (6.4.2). A best estimate between limits is triangular with its peak there: for
limits at equal distances that is the triangle of JCGM 100:2008 (GUM) 4.3.9; for others it is
the three-point estimate of project planning (common practice, no source).
"""

from __future__ import annotations

import math
from typing import Annotated, Any, Self, TypeVar

import numpy as np
from numpy.typing import NDArray
from pydantic import Field, GetJsonSchemaHandler, PrivateAttr, model_validator
from pydantic.json_schema import JsonSchemaValue
from pydantic_core import CoreSchema, PydanticCustomError

from beadworth.core import Record
from beadworth.rig import Currency
from beadworth.worth.monte_carlo import TAIL, Result, Shape

Array = NDArray[np.float64]
MOST = 1e12
"""No amount, count or effect of a workshop is larger; what is, was typed wrongly."""
Bounded = Annotated[float, Field(ge=-MOST, le=MOST)]
SHAPE = (
    "Write a number, or {value = 40, u = 5}, {low = 30, high = 60}, "
    "or {value = 40, low = 30, high = 60}."
)


def refusal(what: str, remedy: str) -> PydanticCustomError:
    """A complaint in our own words, for use inside a record's checks."""
    return PydanticCustomError("beadworth", "{what}", {"what": what, "remedy": remedy})


class Estimate(Record):
    """A number, with what is known of its uncertainty; a bare number is exact."""

    value: Bounded | None = Field(None, description="best estimate")
    u: Annotated[float, Field(gt=0, le=MOST)] | None = Field(
        None, description="standard uncertainty: normal"
    )
    low: Bounded | None = Field(None, description="limit it is not below")
    high: Bounded | None = Field(None, description="limit it is not above")
    _drawn: Shape | None = PrivateAttr(None)
    """Where it was reckoned, not typed."""

    @model_validator(mode="before")
    @classmethod
    def _bare_number(cls, data: Any) -> Any:
        if isinstance(data, bool):
            raise refusal(f"{data} is no number.", SHAPE)
        if isinstance(data, (int, float)):
            return {"value": float(data)}
        if isinstance(data, str):
            raise refusal(f"{data!r} is words, and a number is needed here.", SHAPE)
        return data

    @model_validator(mode="after")
    def _is_a_known_shape(self) -> Self:
        given = [name for name in ("value", "u", "low", "high") if getattr(self, name) is not None]
        if given not in (["value"], ["value", "u"], ["low", "high"], ["value", "low", "high"]):
            said = " and ".join(given) or "nothing"
            raise refusal(f"{said} alone does not say how well this is known.", SHAPE)
        if self.low is not None and self.high is not None:
            ends = [self.low, self.middle, self.high]
            if ends != sorted(ends) or self.low == self.high:
                inside = "" if self.value is None else f", with {self.value:g} between them"
                raise refusal(
                    f"{self.low:g} to {self.high:g} is no interval{inside}.",
                    "Give the lower limit first and the best estimate between the two.",
                )
        return self

    @classmethod
    def __get_pydantic_json_schema__(
        cls, schema: CoreSchema, handler: GetJsonSchemaHandler
    ) -> JsonSchemaValue:
        """In a schema a bare number stands beside the table."""
        made = handler(schema)
        made = handler.resolve_ref_schema(made)
        return {
            "anyOf": [{"type": "number"}, made],
            "title": made.get("title", cls.__name__),
        }

    @property
    def exact(self) -> bool:
        """Whether nothing is uncertain about it."""
        return self.u is None and self.low is None

    @property
    def middle(self) -> float:
        """The best estimate, or the middle between limits."""
        if self.value is not None:
            return self.value
        assert self.low is not None
        assert self.high is not None
        return (self.low + self.high) / 2.0

    @property
    def least(self) -> float:
        """The lowest it may be; without limits, three standard uncertainties below."""
        if self.low is not None:
            return self.low
        return self.middle - 3.0 * (self.u or 0.0)

    @property
    def most(self) -> float:
        """The highest it may be; without limits, three standard uncertainties above."""
        if self.high is not None:
            return self.high
        return self.middle + 3.0 * (self.u or 0.0)

    def quantile(self, share: Array | float) -> Array:
        """The value below which it lies with a probability; arrays broadcast.

        Parameters
        ----------
        share : float or array, 0 < share < 1
        """
        p = np.asarray(share, dtype=np.float64)
        if self._drawn is not None:
            return np.asarray(np.interp(p, *self._drawn))
        if self.u is not None:
            from scipy.special import ndtri

            # a generator may hand out an exact 0, whose normal quantile is infinite
            return np.asarray(self.middle + self.u * ndtri(np.clip(p, 1e-12, 1 - 1e-12)))
        if self.low is None or self.high is None:
            return np.full(p.shape, self.middle)
        if self.value is None:
            return np.asarray(self.low + (self.high - self.low) * p)
        width, left = self.high - self.low, self.value - self.low
        with np.errstate(invalid="ignore"):
            rising = self.low + np.sqrt(np.maximum(p * width * left, 0.0))
            falling = self.high - np.sqrt(np.maximum((1 - p) * width * (self.high - self.value), 0))
        return np.where(p * width <= left, rising, falling)

    @property
    def standard(self) -> tuple[float, float]:
        """Expectation and standard uncertainty of the distribution, in closed form."""
        if self.u is not None:
            return self.middle, self.u
        if self.low is None or self.high is None:
            return self.middle, 0.0
        a, b = self.low, self.high
        if self.value is None:
            return self.middle, (b - a) / math.sqrt(12.0)
        c = self.value
        variance = (a * a + b * b + c * c - a * b - a * c - b * c) / 18.0
        return (a + b + c) / 3.0, math.sqrt(variance)

    def scaled(self, factor: float) -> Estimate:
        """The same in another unit; ``factor`` above 0."""

        def times(value: float | None) -> float | None:
            return None if value is None else value * factor

        return Estimate.model_construct(
            value=times(self.value), u=times(self.u), low=times(self.low), high=times(self.high)
        )


E = TypeVar("E", bound=Estimate)


class Money(Estimate):
    """An amount in the currency of its case."""

    currency: Currency | None = Field(
        None, description="ISO 4217 code, where you want it checked; one currency per case"
    )

    @model_validator(mode="before")
    @classmethod
    def _a_price_is_a_number(cls, data: Any) -> Any:
        if isinstance(data, str):
            raise refusal(
                f"a price in words cannot be added up (seen: {data!r}).",
                "Write the amount as a bare number, 54.0, and the currency once at the top: "
                'currency = "EUR".',
            )
        return data


def reckoned(kind: type[E], drawn: Shape, **also: Any) -> E:
    """What was reckoned as an estimate that keeps the shape of its draws.

    Parameters
    ----------
    kind : type of Estimate
    drawn : Shape
        Its shares have 0.5 among them.
    also : fields
        Of ``kind``, beside the number.

    Returns
    -------
    Estimate
        Its best estimate is the median, ``u`` the standard deviation; quantiles are read between
        the values given. What may be typed has bounds that do not hold for it.
    """
    shares, values = (np.array(one) for one in drawn)
    middle = float(np.interp(0.5, shares, values))
    steps, between = np.diff(shares), 0.5 * (values[1:] + values[:-1])
    u = math.sqrt(float(np.sum(steps * (between - np.sum(steps * between)) ** 2)))
    known = u if u > 1e-12 * abs(middle) else None
    made = kind.model_construct(value=middle, u=known, **also)
    made._drawn = drawn if made.u is not None else None
    return made


def interval_of(known: Estimate) -> Result:
    """Median and symmetric interval of an estimate."""
    return Result(*(float(known.quantile(share)) for share in (0.5, TAIL, 1.0 - TAIL)))


def limited(
    kind: type[Estimate], low: float, high: float, what: str, *, open_low: bool = False
) -> Any:
    """A check that an estimate's whole range keeps between two bounds."""
    from pydantic import AfterValidator

    def check(found: Estimate) -> Estimate:
        least, most = found.least, found.most
        normal = found.u is not None
        if normal:  # the tail of a normal is cut off at the bound, its middle may not be beyond
            least = most = found.middle
        if open_low and low == 0 and least <= low:
            raise refusal(f"{least:g} is not above 0.", what)
        if least < low or most > high:
            span = f"from {low:g}" if math.isinf(high) else f"from {low:g} to {high:g}"
            value = least if least < low else most
            raise refusal(f"{value:g} is not {span}.", what)
        return found

    return AfterValidator(check)
