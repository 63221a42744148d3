"""A straight line by weighted least squares, and where it reaches a value, as a range."""

import math
from collections.abc import Sequence
from dataclasses import dataclass

# Half of the central 80 % of a normal distribution, in standard deviations.
EIGHT_IN_TEN = 1.2816


@dataclass(frozen=True, slots=True)
class LineFit:
    """y = mean_y + slope (x - mean_x), fitted to points whose scatter is in y alone.

    mean_sd, slope_sd: standard deviations of mean_y and of slope, which are independent.
    """

    mean_x: float
    mean_y: float
    slope: float
    mean_sd: float
    slope_sd: float

    def reaches(self, y: float) -> tuple[float, float, float] | None:
        """The x at which the line reaches y: the central 80 % and the middle. None where the slope is too uncertain.

        After Fieller: d = x - mean_x solves (slope d - (y - mean_y))^2 = z^2 (mean_sd^2 + d^2 slope_sd^2).

        >>> line = fit_line([(0.0, 10.0, 0.05), (1.0, 9.5, 0.05), (2.0, 9.0, 0.05)])
        >>> [round(x, 2) for x in line.reaches(9.5)]
        [0.93, 1.0, 1.07]
        """
        z, step = EIGHT_IN_TEN, y - self.mean_y
        a = self.slope**2 - (z * self.slope_sd) ** 2
        if a <= 0.0:
            return None
        root = math.sqrt((self.slope * step) ** 2 - a * (step**2 - (z * self.mean_sd) ** 2))
        ends = sorted((self.slope * step + sign * root) / a for sign in (-1.0, 1.0))
        return self.mean_x + ends[0], self.mean_x + step / self.slope, self.mean_x + ends[1]

    def likely(self, x: float) -> tuple[float, float, float]:
        """The line at x: the low end of the central 80 %, the middle and the high end.

        >>> line = fit_line([(0.0, 10.0, 0.05), (1.0, 9.5, 0.05), (2.0, 9.0, 0.05)])
        >>> [round(y, 2) for y in line.likely(1.0)]
        [9.46, 9.5, 9.54]
        """
        step = x - self.mean_x
        middle = self.mean_y + self.slope * step
        half = EIGHT_IN_TEN * math.hypot(self.mean_sd, step * self.slope_sd)
        return middle - half, middle, middle + half


def fit_line(points: Sequence[tuple[float, float, float]]) -> LineFit:
    """The line through points (x, y, standard deviation of y), each weighted by the inverse of its variance.

    Where the points scatter about the line by more than their standard deviations, both results are widened by the
    root of chi-square over its degrees of freedom.

    Raises ValueError for fewer than two different x.
    """
    if len({x for x, _, _ in points}) < 2:
        raise ValueError("points have one x; there must be at least two different ones")
    weights = [sd**-2 for _, _, sd in points]
    whole = sum(weights)
    mean_x = sum(w * x for w, (x, _, _) in zip(weights, points, strict=True)) / whole
    mean_y = sum(w * y for w, (_, y, _) in zip(weights, points, strict=True)) / whole
    spread = sum(w * (x - mean_x) ** 2 for w, (x, _, _) in zip(weights, points, strict=True))
    slope = sum(w * (x - mean_x) * (y - mean_y) for w, (x, y, _) in zip(weights, points, strict=True)) / spread
    misfit = sum(w * (y - mean_y - slope * (x - mean_x)) ** 2 for w, (x, y, _) in zip(weights, points, strict=True))
    freedom = len(points) - 2
    wider = math.sqrt(max(misfit / freedom, 1.0)) if freedom > 0 else 1.0
    return LineFit(mean_x, mean_y, slope, wider / math.sqrt(whole), wider / math.sqrt(spread))
