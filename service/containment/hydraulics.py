"""Flow over weirs and through orifices, screens and racks, in SI.

Sources stand with each function. Gravity is the standard value; the published examples use 9.81
m/s2 or 32.2 ft/s2, which agree with it to better than one part in a thousand.
"""

import math

from service.values.quantities import STANDARD_GRAVITY as G
from service.values.quantities import to_si, to_us

IDEAL_BROAD_CREST = (2 / 3) ** 1.5 * math.sqrt(G)
"""1.705 m^0.5/s: critical flow over a broad crest without loss (open-channel theory)."""


def v_notch_90_m3_s(head_m: float) -> float:
    """90 degree V-notch: Q = 2.49 H^2.48 in cfs and feet (Bureau of Reclamation, Water
    Measurement Manual, ch. 7).
    """
    return to_si(2.49 * _feet(head_m) ** 2.48, "cfs", "m3/s")


def head_over_weir_m(flow_m3_s: float, length_m: float, coefficient: float) -> float:
    """Head of a weir without end contractions: H = (Q / (C L))^(2/3)."""
    return float((flow_m3_s / (coefficient * length_m)) ** (2 / 3))


def orifice_m3_s(diameter_m: float, head_m: float, discharge_coefficient: float) -> float:
    """Q = Cd A (2 g h)^0.5, h from the water surface to the centre of the opening; Cd about 0.6
    for a sharp edge.
    """
    area_m2 = math.pi / 4 * diameter_m**2
    return discharge_coefficient * area_m2 * math.sqrt(2 * G * head_m)


def screen_area_m2(flow_m3_s: float, approach_velocity_m_s: float) -> float:
    """Gross wetted area = flow / approach velocity, less parts hidden by the frame.

    National Marine Fisheries Service, Juvenile Fish Screen Criteria for Pump Intakes, 1996
    addendum.
    """
    return flow_m3_s / approach_velocity_m_s


def bar_open_share(gap: float, bar: float) -> float:
    """Open share of a rack of parallel bars: b / (b + t), both in one unit."""
    return gap / (gap + bar)


def mesh_open_share(opening: float, wire: float) -> float:
    """Open share of a square woven mesh: (b / (b + t))^2, both in one unit."""
    return (opening / (opening + wire)) ** 2


def rack_gross_area_m2(
    flow_m3_s: float,
    velocity_m_s: float,
    gap: float,
    bar: float,
    angle_deg: float,
    cleaning_factor: float,
) -> float:
    """Gross area of an inclined bar rack: ((b + t)/b) (Q/v) / (K1 sin alpha).

    ESHA, Guide on How to Develop a Small Hydropower Plant, chapter 5 (from memory). K1 is the share
    of the rack that stays clear between cleanings.
    """
    return (
        (gap + bar)
        / gap
        * flow_m3_s
        / velocity_m_s
        / (cleaning_factor * math.sin(math.radians(angle_deg)))
    )


def kirschmer_loss_m(
    shape: float, bar: float, gap: float, velocity_m_s: float, angle_deg: float
) -> float:
    """Kirschmer's loss of a clean bar rack: h = K (t/b)^(4/3) v^2/(2g) sin(alpha), v on the gross
    area.

    K 2.42 sharp rectangular, 1.83 round nose, 1.67 round both ends, 1.79 circular (Kirschmer 1926,
    from memory).
    """
    slenderness = (bar / gap) ** (4 / 3)
    return float(
        shape * slenderness * velocity_m_s**2 / (2 * G) * math.sin(math.radians(angle_deg))
    )


def bar_rack_loss_m(
    slot_velocity_m_s: float, approach_velocity_m_s: float, coefficient: float
) -> float:
    """h = (1/C)(V^2 - v^2)/(2g); C 0.7 clean, 0.6 clogged (Metcalf and Eddy, Wastewater
    Engineering).
    """
    return (slot_velocity_m_s**2 - approach_velocity_m_s**2) / (2 * G) / coefficient


def fine_screen_loss_m(flow_m3_s: float, open_area_m2: float, coefficient: float) -> float:
    """h = (Q / (C A))^2 / (2g), A the open wetted area; C 0.60 where not measured.

    Metcalf and Eddy, Wastewater Engineering; coefficient of Sincero and Sincero, Physical-Chemical
    Treatment of Water and Wastewater, chapter 5.
    """
    return (flow_m3_s / (coefficient * open_area_m2)) ** 2 / (2 * G)


def _feet(length_m: float) -> float:
    converted = to_us(length_m, "m")
    assert converted is not None
    return converted[0]
