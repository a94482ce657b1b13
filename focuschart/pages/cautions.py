"""What every card says against harm."""

CAUTIONS = (
    "Never point the rig at the sun.",
    "Support and tether a front-heavy rig; above people, local rules and qualified riggers decide.",
    "Check every mark by a camera test before a job.",
)
