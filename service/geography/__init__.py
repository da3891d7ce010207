"""Where a site is and where its water goes: counties, distances, hardiness zones, the downstream
trace. Pure values.

table.find(state, "St. Louis County")             a county by name or FIPS code (``counties``)
interval_of("6b")                                 the temperatures of a zone (``hardiness``)
trace(network, starts)                            what lies down the water (``trace``)

Distances are in ``service.geography.geodesy``, imported from there: it loads the coordinate
libraries, which an answer about a county alone does without.
"""
