"""Marks on a schematic figure: tinted and captioned blocks, call-outs of voltages and currents.

Takes a laid-out `Drawing` and what is to be said of it, gives texts and SVG elements that lie on nothing: each place is
looked up in the same geometry as those of the labels, and the drawing is parted where a value has none. What finds no
place even so is told beneath the figure, never drawn over something. The folder must not know a pattern by name.
"""
