"""What every card, and the page to read first, says against harm."""

CAUTIONS = (
    "Never point the rig at the sun.",
    "Support and tether a front-heavy rig; above people, local rules and qualified riggers decide.",
    "Check every mark by a camera test before a job.",
)

FIRST_CAUTIONS = (
    "Never point the rig at the sun: it burns eyes, sensor and tape.",
    "Support and tether a front-heavy rig; hold the attachment before its clamp is loosened. Above "
    "people, local rules and qualified riggers decide.",
    "No adhesive on coatings or rubber.",
)
