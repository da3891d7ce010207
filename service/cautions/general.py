"""What every answer says, whatever it found."""

STANDING_CAUTIONS: tuple[str, ...] = (
    "This is no legal advice. It says what was found in the lists loaded here and how each was "
    "read; before you sell, ship, keep or plant, "
    "confirm with the authority named beside the finding, and with county and city rules.",
    "Lists change through the year. A finding is as of the day and the store build named with it.",
    "A finding marked unverified rests on something not yet seen in the text, and no outcome "
    "means that a plant may be sold or planted.",
)
