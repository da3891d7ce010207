"""Maps as SVG, drawn from loaded and packaged data alone."""

from service.output.maps.plan import KeyedWater, Outlines, PlanMap, map_box, plan_maps

__all__ = ["KeyedWater", "Outlines", "PlanMap", "map_box", "plan_maps"]
