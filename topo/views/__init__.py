"""Views: the same circuit as direct current sees it, and as the signal of each band sees it.

Takes a normalised `Graph` and its `OperatingPoint`, gives `Views`: quotients of the node set, with what was taken for
a wire, what for nothing, by which numbers, and why. Decides by the impedance that the linearised circuit shows across
a part, by position only where a value or the voltages are not known. Must not know patterns, claims, or the signal's
path.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from topo.views.view import Branch, DerivedRail, Joint, Lead, Tank, Verdict, View, Views

if TYPE_CHECKING:
    from topo.views.assembling import views
    from topo.views.leads import at_zero, held

__all__ = [
    "Branch",
    "DerivedRail",
    "Joint",
    "Lead",
    "Tank",
    "Verdict",
    "View",
    "Views",
    "at_zero",
    "held",
    "views",
]


def __getattr__(name: str) -> Any:
    if name == "views":
        from topo.views.assembling import views

        return views
    if name in ("at_zero", "held"):
        from topo.views import leads as walking

        return getattr(walking, name)
    raise AttributeError(name)
