"""Functions that conditions, figures and texts of patterns may call.

Takes what an expression's arguments are bound to and the circuit's numbers (by a `Scope`); gives numbers in SI units,
truths (None where not known), or words. It must not know any pattern. Each module has one subject; `registry.TABLE`
holds them all once they are imported.
"""

from topo.matching.functions import arithmetic, electrical, parts, relations, resonance, small_signal, states
from topo.matching.functions.registry import TABLE, Function

__all__ = ["TABLE", "Function", "arithmetic", "electrical", "parts", "relations", "resonance", "small_signal", "states"]
