"""What a thermocouple's millivolts mean: the ITS-90 reference functions for types K, N, S, R and B.

Source: NIST Monograph 175 (1993), whose reference functions IEC 60584-1 reprints; coefficients as NIST Standard
Reference Database 60 lists them. Cold end at 0 °C, emf in millivolts, temperature in °C.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Mapping
from dataclasses import dataclass
from math import exp


@dataclass(frozen=True, slots=True)
class Piece:
    """One polynomial of a reference function: its upper end in °C and its coefficients, lowest power first."""

    up_to_c: float
    coefficients: tuple[float, ...]

    def mv(self, hot_c: float) -> float:
        """Return the polynomial's millivolts, by Horner's rule."""
        total = 0.0
        for coefficient in reversed(self.coefficients):
            total = total * hot_c + coefficient
        return total


class Curve:
    """One thermocouple type: from temperature to millivolts and back.

    `lowest_c` to `highest_c` is where the type can be used to measure (for B only from 250 °C: below that it gives
    next to nothing); `from_c` is where its reference function starts here.
    """

    __slots__ = ("_last", "_pieces", "_rising_from", "_table_mv", "from_c", "highest_c", "letter", "lowest_c")

    def __init__(self, letter: str, lowest_c: float, highest_c: float) -> None:
        self.letter = letter
        self.lowest_c = lowest_c
        self.highest_c = highest_c
        self.from_c = min(lowest_c, 0.0)
        self._pieces = _PIECES[letter]
        self._last = int(highest_c - self.from_c)
        self._table_mv = [self.emf_mv(self.from_c + index) for index in range(self._last + 1)]
        # B falls until about 21 °C before it rises, so its inverse starts above that; the others rise throughout
        self._rising_from = 50 if letter == "B" else 0

    def emf_mv(self, hot_c: float) -> float:
        """Return the reference function itself, mV. Raises ValueError outside `from_c` to `highest_c`."""
        if not self.from_c <= hot_c <= self.highest_c:
            raise ValueError(f"type {self.letter} is defined from {self.from_c} to {self.highest_c} °C, not {hot_c}")
        piece = next(piece for piece in self._pieces if hot_c <= piece.up_to_c)
        bump = K_BUMP_MV * exp(K_BUMP_WIDTH * (hot_c - K_BUMP_AT_C) ** 2) if self.letter == "K" and hot_c > 0.0 else 0.0
        return piece.mv(hot_c) + bump

    def quick_emf_mv(self, hot_c: float) -> float:
        """Return `emf_mv` from a table (within 0.00003 mV); beyond the ends the last slope holds."""
        table = self._table_mv
        place = hot_c - self.from_c  # the tables have one point per degree
        index = int(place)
        if not 0 <= index < self._last:
            index = 0 if index < 0 else self._last - 1
        low = table[index]
        return low + (table[index + 1] - low) * (place - index)

    def quick_temperature_c(self, emf_mv: float) -> float:
        """Return the temperature for `emf_mv`, from a table (within 0.002 K); beyond the ends the last slope holds."""
        table = self._table_mv
        # the search never ends on a table's first or last point, so the straight line is there to follow beyond them
        index = bisect_right(table, emf_mv, self._rising_from + 1, self._last) - 1
        low = table[index]
        return self.from_c + index + (emf_mv - low) / (table[index + 1] - low)


K_BUMP_MV = 0.1185976  # type K has a small hump near 127 °C that the polynomial leaves to an exponential
K_BUMP_WIDTH = -0.0001183432
K_BUMP_AT_C = 126.9686

# fmt: off
_PIECES: Mapping[str, tuple[Piece, ...]] = {
    "K": (
        Piece(0.0, (
            0.0, 0.039450128025, 2.3622373598e-05, -3.2858906784e-07, -4.9904828777e-09,
            -6.7509059173e-11, -5.7410327428e-13, -3.1088872894e-15, -1.0451609365e-17, -1.9889266878e-20,
            -1.6322697486e-23,
        )),
        Piece(1372.0, (
            -0.017600413686, 0.038921204975, 1.8558770032e-05, -9.9457592874e-08, 3.1840945719e-10,
            -5.6072844889e-13, 5.6075059059e-16, -3.2020720003e-19, 9.7151147152e-23, -1.2104721275e-26,
        )),
    ),
    "N": (
        Piece(0.0, (
            0.0, 0.026159105962, 1.0957484228e-05, -9.3841111554e-08, -4.6412039759e-11,
            -2.6303357716e-12, -2.2653438003e-14, -7.6089300791e-17, -9.3419667835e-20,
        )),
        Piece(1300.0, (
            0.0, 0.025929394601, 1.571014188e-05, 4.3825627237e-08, -2.5261169794e-10,
            6.4311819339e-13, -1.0063471519e-15, 9.9745338992e-19, -6.0863245607e-22, 2.0849229339e-25,
            -3.0682196151e-29,
        )),
    ),
    "S": (
        Piece(1064.18, (
            0.0, 0.00540313308631, 1.2593428974e-05, -2.32477968689e-08, 3.22028823036e-11,
            -3.31465196389e-14, 2.55744251786e-17, -1.25068871393e-20, 2.71443176145e-24,
        )),
        Piece(1664.5, (
            1.32900444085, 0.00334509311344, 6.54805192818e-06, -1.64856259209e-09, 1.29989605174e-14,
        )),
        Piece(1768.1, (
            146.628232636, -0.258430516752, 0.000163693574641, -3.30439046987e-08, -9.43223690612e-15,
        )),
    ),
    "R": (
        Piece(1064.18, (
            0.0, 0.00528961729765, 1.39166589782e-05, -2.38855693017e-08, 3.56916001063e-11,
            -4.62347666298e-14, 5.00777441034e-17, -3.73105886191e-20, 1.57716482367e-23, -2.81038625251e-27,
        )),
        Piece(1664.5, (
            2.95157925316, -0.00252061251332, 1.59564501865e-05, -7.64085947576e-09, 2.05305291024e-12,
            -2.93359668173e-16,
        )),
        Piece(1768.1, (
            152.232118209, -0.268819888545, 0.000171280280471, -3.45895706453e-08, -9.34633971046e-15,
        )),
    ),
    "B": (
        Piece(630.615, (
            0.0, -0.00024650818346, 5.9040421171e-06, -1.3257931636e-09, 1.5668291901e-12,
            -1.694452924e-15, 6.2990347094e-19,
        )),
        Piece(1820.0, (
            -3.8938168621, 0.02857174747, -8.4885104785e-05, 1.5785280164e-07, -1.6835344864e-10,
            1.1109794013e-13, -4.4515431033e-17, 9.8975640821e-21, -9.3791330289e-25,
        )),
    ),
}
# fmt: on

CURVES: Mapping[str, Curve] = {
    "K": Curve("K", -200.0, 1372.0),
    "N": Curve("N", -200.0, 1300.0),
    "S": Curve("S", -50.0, 1768.0),
    "R": Curve("R", -50.0, 1768.0),
    "B": Curve("B", 250.0, 1820.0),
}
"""The types a kiln meets, with the range in which each can be used (NIST Monograph 175, inverse functions)."""
