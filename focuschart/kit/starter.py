"""A commented example kit, to be edited in place of an interview."""

STARTER = """\
# A kit for focuschart: what is in the bag, and what was read on the bench.
#
# Every part below is invented: put in your own, delete what you do not have, copy what you have
# twice. Lengths are quoted text with a unit: "72 mm", "7.2 cm", "0.6 m", "6 ft 3 in", "2 1/2 in",
# or "inf" for infinity. Squeeze, stops and ruler figures are plain numbers, without quotes.
# Masses are "640 g", "1.4 kg" or "3 lb 2 oz"; threads are "72 mm x 0.75", diameter and pitch, or
# "72 mm" where you do not know the pitch.
# A line that begins with # and a key is an optional key, switched off: take away the # to use it.

format = 1                            # the version of this file's format, always 1
#include = []                         # files with more of the kit: ["lenses.toml", "rings.toml"]
name = "My bag"                       # printed on every sheet and card
units = "metric"                      # what is printed: "metric", "imperial" or "both"

# Subject distances to mark, from the sensor mark. A rig leaves out those that it cannot reach.
distances = ["1.2 m", "1.5 m", "2 m", "3 m", "5 m", "10 m", "inf"]

# F-numbers for depth of field. The first is the working stop: the bars on the strips are for it.
stops = [2.8, 4, 5.6]

# Blur allowed on the finished frame; without it, the sensor's diagonal divided by 1500.
#circle_of_confusion = "0.029 mm"

# Ratios of the finished picture, width over height; "scope" and "flat" are digital cinema's.
#deliveries = ["2.39", "16:9"]
# How far a fast pan may make upright edges lean.
#lean_limit = "1 deg"

# Names in brackets, such as main-camera, are ids of your own: small letters, digits and hyphens.

[cameras.main-camera]
name = "Main camera"
sensor_width = "36 mm"                # of the sensor mode in use
sensor_height = "24 mm"
flange_focal_distance = "18 mm"       # lens mount to sensor
# What weighs, holds and fits moves no mark. Fill in what you know: what is missing is named when
# the rig is checked, never guessed.
#mount = "bayonet"                    # any name, written alike here and for the lens
#pixels = [6000, 4000]                # columns and rows of the same mode
#readout_time = "18 ms"               # from the first row read to the last
#circle_of_confusion = "0.028 mm"     # of this mode; wins over the one above
# More sensor modes, each with keys of its own. A rig names its mode: mode = "crop".
#modes = { crop = { sensor_width = "24 mm", sensor_height = "16 mm", readout_time = "12 ms" } }
#mass = "740 g"                       # with battery and card
#centre_of_gravity = "-4 mm"          # from the sensor plane; toward the subject is positive
#tripod_thread = "10 mm"              # likewise
#mount_moment_limit = "3 N m"         # largest bending moment stated for the lens mount

[taking_lenses.eighty-five]
name = "85 mm f/1.8"
focal_length = "85 mm"                # as engraved
#largest_magnification = "1:8.2"      # at its nearest, as its maker prints it
widest_stop = 1.8
nearest = "0.9 m"                     # nearest subject, from the sensor mark
focusing = "extends"                  # or "internal": glass moves inside, the front stands still
                                      # or "cam": neither, or not known; needs six distances read
front_moves = true                    # false if the front stands still while you focus
length = "74 mm"                      # mount to front rim, at infinity
#mount = "bayonet"
#front_thread = "67 mm x 0.75"        # filter thread at the front rim
#front_rotates = false                # true if focusing turns the front, and so the squeeze
#front_clear_aperture = "54 mm"       # diameter of front glass that light passes
#barrel_diameter = "72 mm"            # across the barrel behind the front rim
#entrance_pupil = "62 mm"             # from the sensor plane to the pupil, at infinity
#mass = "390 g"
#centre_of_gravity = "40 mm"          # from its mount, at infinity
#helicoid = "30 mm"                   # from its mount to the middle of the helicoid
#helicoid_moment_limit = "1 N m"      # largest bending moment stated for it

[taking_lenses.eighty-five.ring]      # its focus ring
diameter = "64 mm"                    # across the bare ring; or, in its place, a tape round it:
#circumference = "201 mm"
# Of a ring that tapers, in place of one size, those of both edges, and its width between them:
# { front_diameter = "62 mm", rear_diameter = "66 mm", width = "18 mm" }; or, in their place,
# { front_circumference = "195 mm", rear_circumference = "207 mm", width = "18 mm" }
nearer_turns = "anticlockwise"        # or "clockwise": to focus nearer, seen from behind the camera
#lead = "32 mm"                       # travel in one whole turn, if known; it saves a reading
#strip_width = "12 mm"                # of the printed strip
#strip_thickness = "0.2 mm"           # paper with laminate and tape
#read_from = "behind"                 # or "left", "right": where the reader of the strip stands
#index_side = "camera"                # or "subject": the side of the ring where the index lies
#turns = 2                            # where the ring turns past one revolution; a row for each
#stock = "yellow"                     # the paper its strips go on; each sheet holds one stock
#mirrored = true                      # for the inside of clear tape
# The maker's figures, each with its place on the ruler strip in mm: then chart and card also say
# what the engraved scale reads. Take them once the ruler is on the ring.
#engraved = [{ distance = "1 m", ruler = 80 }, { distance = "2 m", ruler = 42.5 }]

[attachments.double]
name = "Twofold"
squeeze = 2                           # nominal, at infinity
moving_group = "front"                # or "rear": the group that the ring moves
ruler_separation = "88 mm"            # middle of front glass to middle of rear glass, at infinity
front_glass = "12 mm"                 # thickness of the group's glass on the axis
rear_glass = "14 mm"
nearest = "1.1 m"                     # nearest subject, from the sensor mark
length = "95 mm"                      # rear rim to the front glass's foremost point, at infinity
#rear_thread = "72 mm x 0.75"         # if it has one; what a clamp holds is the barrel:
#barrel_diameter = "64 mm"            # across the rear barrel
#front_thread = "77 mm x 0.75"        # for filters
#rear_clear_aperture = "48 mm"        # diameter of rear glass that light passes
#front_clear_aperture = "66 mm"       # and of front glass
#mass = "820 g"
#centre_of_gravity = "55 mm"          # from its rear rim, at infinity; it balances there

[attachments.double.ring]             # takes the same keys as the ring above
circumference = "258 mm"
nearer_turns = "anticlockwise"

# What stands between taking lens and attachment. Delete both if nothing does.

[step_rings.step-up]
name = "Step-up ring"
thickness = "3 mm"                    # what it adds to the length
#thread_to_lens = "67 mm x 0.75"      # male, into what is behind it
#thread_to_front = "72 mm x 0.75"     # female, for what is before it
#clear_aperture = "64 mm"             # diameter that light passes
#mass = "25 g"

[clamps.rear-clamp]
name = "Rear clamp"
thickness = "12 mm"
#thread = "72 mm x 0.75"              # male, into what is behind it
#bore = "64.5 mm"                     # the largest barrel it takes
#clear_aperture = "62 mm"
#mass = "110 g"

# What stands before the attachment, what holds the rig up, and what carries it. Delete these too
# if you have none.

[filters.clear]
name = "Clear filter"
#thread = "77 mm x 0.75"              # male behind, female before
#thickness = "5 mm"                   # rim to rim, screwed home
#clear_aperture = "72 mm"
#mass = "35 g"

[close_up_lenses.plus-one]            # takes the same keys
name = "Close-up +1"
power = 1                             # dioptres; marks hold without it

[supports.rod-support]
name = "Rod support"
position = "150 mm"                   # from the sensor plane along the axis
#mass = "160 g"

[carriers.tripod]
name = "Tripod head"
#payload = "6 kg"                     # the largest mass stated for it
#plate_range = ["-45 mm", "45 mm"]    # reach of its axis behind and before the tripod thread

# A rig is one camera, one taking lens and one attachment, by their ids.

[rigs.portrait]
name = "Portrait"
camera = "main-camera"
#mode = "crop"
taking_lens = "eighty-five"
attachment = "double"
chain = ["step-up", "rear-clamp"]     # from lens to front; [] if nothing stands between
# Sensor mark to the foremost point of glass, both rings at infinity. If you measure it, the
# lengths of lens and attachment above are not needed.
#front_vertex = "202 mm"
# This rig's own marks, in place of the distances above.
#distances = ["1.2 m", "2 m", "4 m", "inf"]
#front = ["clear"]                    # filters, close-up lenses and step rings, outward
#support = "rod-support"
#desqueeze = 2                        # post widens all by this, not each shot by its own squeeze
#front_unit = "600 g"                 # tell the load with so much more on the front, too
#carrier = "tripod"

# Bench readings: both rings focused on one target, and what the two ruler strips then showed.
# Five or more distances for each rig, the nearest mark and a target beyond 30 m among them.
# The figures below are invented; take away the # of every line and put in your own.
#
#[[readings]]
#rig = "portrait"
#distance = "1.2 m"                   # from the sensor mark
#stop = 2.8                           # the stop focused at
#taking = 85.1                        # figure on the taking lens's ruler, mm
#attachment = 160.3                   # figure on the attachment's; one of the two may be missing
#
#[[readings]]
#rig = "portrait"
#distance = "60 m"
#distance_error = "3 m"               # one standard deviation; else 2 mm or 0.1 %, if greater
#stop = 2.8
#taking = 20.4
#attachment = 24.7
#ignore = false                       # true leaves this reading out of the fit
"""
