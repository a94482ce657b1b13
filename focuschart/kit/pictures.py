"""Little pictures of where to measure, in signs that every terminal has; at most 76 wide."""

from __future__ import annotations

RING_SIZE = r"""
  A strip of paper tightly round the bare focus ring. Mark where it meets
  itself, lay it flat, and measure it with a ruler:

      ___________                |<-------- this length -------->|
     /  strip    \____           ._______________________________.___
     \___________/____   --->    |_______________________________|___|
       focus ring                start                        meets here
"""

TURNING = r"""
  From behind the camera, looking toward the subject. Turn the ring from
  infinity to near, and watch its top:

         ------->                       <-------
        .-------.                      .-------.
        |  ( )  |                      |  ( )  |
        '-------'                      '-------'
        clockwise                    anticlockwise
"""

WHOLE_LENGTH = r"""
  The whole rig put together, both rings at infinity. A tape measure along
  it, from the sensor mark on the camera (a ring with a line through it) to
  the foremost point of glass:

     |<----------------------- this length ----------------------->|
     |      ____________________         ___________________________
   __|____ |                    | _____ |                        |  \
  |  |    ||    taking lens     ||clamp||       attachment       |   )
  |__|____||____________________||_____||________________________|__/
   sensor mark                                       foremost glass
"""

NEAREST = r"""
  From the sensor mark on the camera, not from the front glass:

     |<------------------ to the subject ------------------->|
   __|____ ______ _________                                  O
  |__|____|______|________(                                 /|\
   sensor mark                                              / \
"""
