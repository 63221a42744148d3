"""The slow cooker's vessel: its heat capacity, its heat transfer coefficients and its losses to the room.

Every default is judgement; no source.
"""

import math
from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Vessel:
    """The heated vessel without its contents; the usual range of each parameter stands beside it.

    The defaults describe a 3-litre slow cooker that loses about 2.2 W/K in all with its lid on (judgement).
    """

    power_w: float = 165.0  # 70 to 210
    wall_j_k: float = 2100.0  # 1200 to 4500
    wall_to_paste_w_k: float = 9.0  # 4 to 20, when stirred
    wall_to_room_w_k: float = 1.5  # 0.8 to 3
    paste_to_room_w_k: float = 0.55  # 0.2 to 1.2
    steam_lid_on_w_kpa: float = 0.04  # 0 to 0.15
    steam_lid_off_w_kpa: float = 0.75  # 0.3 to 1.5
    boiling_c: float = 101.5  # 99 to 104
    boiling_w_k: float = 150.0  # 50 to 400
    room_c: float = 20.0  # 10 to 32


def saturation_kpa(temperature_c: float) -> float:
    """The vapour pressure of water, kPa.

    p = 0.61094 exp(17.625 t / (t + 243.04)), the Magnus form of Alduchov and Eskridge, J. Appl. Meteorol. 35:601
    (1996): coefficients as public code quotes them from there, the equation's number (21) from memory. Fitted from -40
    to 50 degC; extrapolated to 100 degC it is 3 % high.

    Parameters
    ----------
    temperature_c : temperature of the water surface, degC.

    >>> round(saturation_kpa(25.0), 3)
    3.162
    """
    return 0.61094 * math.exp(17.625 * temperature_c / (temperature_c + 243.04))


def loss_w(vessel: Vessel, wall_c: float, paste_c: float, lid_on: bool) -> tuple[float, float]:
    """The heat that the wall and the paste lose to the room, each in W.

    Parameters
    ----------
    wall_c, paste_c : temperatures, degC.
    lid_on : whether the lid is on, which sets the mass transfer of steam.
    """
    steam_w_kpa = vessel.steam_lid_on_w_kpa if lid_on else vessel.steam_lid_off_w_kpa
    steam_w = steam_w_kpa * max(0.0, saturation_kpa(paste_c) - 0.5 * saturation_kpa(vessel.room_c))
    boiling_w = max(0.0, paste_c - vessel.boiling_c) * vessel.boiling_w_k
    wall_w = vessel.wall_to_room_w_k * (wall_c - vessel.room_c)
    return wall_w, vessel.paste_to_room_w_k * (paste_c - vessel.room_c) + steam_w + boiling_w
