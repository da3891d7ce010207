"""One module a measure.

Each takes a ``Case`` and returns a ``Measure`` worked out as far as the facts go.
"""

from collections.abc import Callable, Mapping

from service.containment.case import Case
from service.containment.measures.barrier import root_barrier
from service.containment.measures.freeboard import freeboard
from service.containment.measures.harvest import autumn_removal, harvest
from service.containment.measures.island import foam_island
from service.containment.measures.pots import no_drain_tub, solid_pot
from service.containment.measures.ring import floating_ring
from service.containment.measures.screen import outlet_screen
from service.containment.values import Measure
from service.values.vocabulary import MeasureKind

DESIGNERS: Mapping[MeasureKind, Callable[[Case], Measure]] = {
    "no-drain-tub": no_drain_tub,
    "solid-pot": solid_pot,
    "root-barrier": root_barrier,
    "foam-island": foam_island,
    "floating-ring": floating_ring,
    "outlet-screen": outlet_screen,
    "freeboard": freeboard,
    "harvest": harvest,
    "autumn-removal": autumn_removal,
}

__all__ = ["DESIGNERS"]
