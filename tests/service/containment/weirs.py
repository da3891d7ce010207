"""Flow over weirs in the published form, against which the heads of a plan are checked."""

from service.containment.hydraulics import IDEAL_BROAD_CREST


def sharp_crested_m3_s(
    length_m: float, head_m: float, coefficient: float, contractions: int = 0
) -> float:
    """Francis: Q = C (L - 0.1 n H) H^1.5, C 1.84 in SI (3.33 in feet); n end contractions, 0 when
    suppressed.

    Bureau of Reclamation, Water Measurement Manual. The head is measured well upstream of the
    drawdown.
    """
    return float(coefficient * (length_m - 0.1 * contractions * head_m) * head_m**1.5)


def broad_crested_m3_s(length_m: float, head_m: float, discharge_coefficient: float) -> float:
    """Q = Cd 1.705 L H^1.5 (critical flow over a broad crest; Cd about 0.85 to 1.0)."""
    return float(discharge_coefficient * IDEAL_BROAD_CREST * length_m * head_m**1.5)
