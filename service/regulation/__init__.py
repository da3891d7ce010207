"""Law: what the lists loaded say of an act with a plant in a place on a day.

``find`` answers for one taxon, ``find_for_name`` for all that a label may mean, ``ship_all`` for
shipping from one state to others, ``restricted_in`` for where a taxon is barred or limited,
``standing_of`` for how far the law of a state can be relied on here. ``LawBook`` holds every
version of every list; ``Taxonomy`` makes the ``Subject`` of a plant.
"""
