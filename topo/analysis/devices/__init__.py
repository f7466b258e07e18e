"""The laws of the devices, each for many devices of a kind at once.

A group takes the control voltages of its devices and gives branch currents and their derivatives; it knows where the
currents enter and how far a step of Newton's method may be trusted. It knows no circuit and no matrix.
"""
