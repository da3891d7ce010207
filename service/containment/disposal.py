"""What to do with a plant that the law prohibits: no containment, but disposal and reporting."""

from service.containment.parameters import coefficients
from service.containment.values import Disposal
from service.values.plants import COMMON_PRACTICE, Plant


def disposal(plant: Plant, duty: str) -> Disposal:
    """Steps for a prohibited plant that is already in hand, beside the law's duty in the words it
    was found.

    Containment never turns a prohibited plant into one that may be kept, so none is designed.
    """
    heap = coefficients()["heap_distance"].span().text()
    steps = (
        "Do not plant, sell, give away, ship or move it; moving it may itself be an offence.",
        (
            "Leave it where it is, hold the outlet shut or screened, and ask the state authority "
            "before touching it."
        ),
        (
            "Where the authority tells you to take it out: bag every piece, roots, runners, buds "
            "and seed heads, on the spot."
        ),
        (
            f"Dispose of it as the authority says; nothing of it goes within {heap} of water, "
            "onto a compost heap or down a drain."
        ),
        "Clean, drain and dry tools, boots, nets and boats before they go to other water.",
        "Look again monthly for a season: pieces, tubers and seed grow back.",
    )
    reporting = (
        (
            "Report it to the state's agriculture or natural resources agency, with place, date, "
            "photographs and where it came from."
        ),
        "Keep the label, invoice and seller's name; plant inspectors trace the shipment with them.",
    )
    return Disposal(plant.plant_id, plant.accepted_name, duty, steps, reporting, COMMON_PRACTICE)
