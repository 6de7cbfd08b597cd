"""Pyrometric cones: which temperature bends which cone, at the rate the last 100 °C were climbed.

Source: end-point temperatures of large cones as published by the Edward Orton Jr. Ceramic Foundation. The columns for
60 and 150 °C/h were compared with two reprints; the one for 15 °C/h is from memory. Between the columns the end point
is interpolated in the logarithm of the rate; outside them the nearest column holds.
"""

from __future__ import annotations

from itertools import pairwise
from math import log

RATES_C_PER_H = (15.0, 60.0, 150.0)

END_POINTS_C: dict[str, tuple[int | None, int, int]] = {
    "022": (None, 586, 590),
    "020": (None, 626, 638),
    "019": (656, 678, 695),
    "018": (686, 715, 734),
    "017": (705, 738, 763),
    "016": (742, 772, 796),
    "015": (750, 791, 818),
    "014": (757, 807, 838),
    "013": (807, 837, 861),
    "012": (843, 861, 882),
    "010": (891, 903, 915),
    "08": (922, 942, 956),
    "07": (962, 976, 987),
    "06": (981, 998, 1013),
    "05": (1021, 1031, 1044),
    "04": (1046, 1063, 1077),
    "03": (1071, 1086, 1104),
    "02": (1078, 1102, 1122),
    "01": (1093, 1119, 1138),
    "1": (1109, 1137, 1154),
    "2": (1112, 1142, 1164),
    "3": (1115, 1152, 1170),
    "4": (1141, 1162, 1183),
    "5": (1159, 1186, 1207),
    "6": (1185, 1222, 1243),
    "7": (1201, 1239, 1257),
    "8": (1211, 1249, 1271),
    "9": (1224, 1260, 1280),
    "10": (1251, 1285, 1305),
    "11": (1272, 1294, 1315),
    "12": (1285, 1306, 1326),
}
"""Cone → end points in °C at the rates above, coolest cone first. `None`: not published at that rate."""


def end_point_c(cone: str, rate_c_per_h: float) -> float:
    """The temperature in °C at which the cone is down, climbed at this rate. Raises KeyError for an unknown cone."""
    published = zip(RATES_C_PER_H, END_POINTS_C[cone], strict=True)
    known = [(rate, end_c) for rate, end_c in published if end_c is not None]
    if rate_c_per_h <= known[0][0]:
        return float(known[0][1])
    for (low, low_c), (high, high_c) in pairwise(known):
        if rate_c_per_h <= high:
            return low_c + (high_c - low_c) * log(rate_c_per_h / low) / log(high / low)
    return float(known[-1][1])


def cone_reached(top_c: float, rate_c_per_h: float) -> str | None:
    """The hottest cone that is down at this top temperature and rate, or `None` below the first one.

    A soak at the top adds heat work that this reading leaves out, so it errs towards the cooler cone.
    """
    down = [cone for cone in END_POINTS_C if end_point_c(cone, rate_c_per_h) <= top_c]
    return down[-1] if down else None
