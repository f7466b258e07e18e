"""The colours of drawings: one tint a sort of block, and a darker line of the same hue.

Made from the colour-blind-safe palette of M. Okabe and K. Ito, "Color Universal Design" (2008): sky blue, orange,
bluish green, reddish purple and yellow, mixed with white for areas and with black for lines. In greys the areas are
lighter than 15 % and the lines darker than 40 %, so that lettering on them stays legible and their edges visible.
"""

from __future__ import annotations

TINTS = {
    "stage": "#ddeefa",
    "output": "#fbe6c8",
    "bias": "#d3efe6",
    "feedback": "#f8dfe9",
    "supply": "#fbf7d0",
    "port": "#ffffff",
}
EDGES = {
    "stage": "#2f7fb0",
    "output": "#a36c00",
    "bias": "#007553",
    "feedback": "#995478",
    "supply": "#857c20",
}
