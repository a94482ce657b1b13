"""The formulas of optics for a dual-focus rig: pure functions of numbers and arrays.

Symbols (mm; z runs from the sensor toward the subject): D subject from the sensor; f, v, i focal
length, image distance and hiatus of the taking lens; S squeeze; front group -A, rear group F = S·A
(horizontal meridian only), d their separation; s subject to front group, L = s + d subject to rear
group; N f-number; c circle of confusion on the finished, desqueezed frame. Infinity is an ordinary
distance everywhere.
"""
