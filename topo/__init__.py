"""Makes sense of an amplifier schematic: from a plain-text netlist to a reading, a reduced circuit and an explanation."""
