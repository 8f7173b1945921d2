"""A share of a cohort with its exact interval: 108 of 616 recordings had drifted."""

from dataclasses import dataclass

from scipy.special import betaincinv

from arteriole.errors import OptionError

TAIL = 0.025  # either side of a 95 % interval


@dataclass(frozen=True, slots=True, kw_only=True)
class Share:
    """``hits`` of ``of``; ``interval95`` is the exact binomial one [Clopper1934], 0 to 1."""

    hits: int
    of: int

    def __post_init__(self) -> None:
        """Refuse counts that make no share.

        Raises
        ------
        OptionError
            No case at all, or more hits than cases.
        """
        if not 0 <= self.hits <= self.of or self.of == 0:
            raise OptionError(
                f"A share was given {self.hits} of {self.of}; 0 to all of at least one case is "
                "allowed; check both counts."
            )

    @property
    def fraction(self) -> float:
        """Return hits over cases, 0 to 1."""
        return self.hits / self.of

    @property
    def interval95(self) -> tuple[float, float]:
        """Return the exact 95 % interval, 0 to 1."""
        k, n = self.hits, self.of
        low = 0.0 if k == 0 else float(betaincinv(k, n - k + 1, TAIL))
        high = 1.0 if k == n else float(betaincinv(k + 1, n - k, 1.0 - TAIL))
        return low, high

    def __str__(self) -> str:
        """As it is printed: "108 of 616, 17.5 % (14.6 to 20.8)"."""
        low, high = self.interval95
        return (
            f"{self.hits} of {self.of}, {100 * self.fraction:.1f} % "
            f"({100 * low:.1f} to {100 * high:.1f})"
        )
