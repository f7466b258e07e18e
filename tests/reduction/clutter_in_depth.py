"""Sorts of clutter that stand within stages: decoupled feeds, chokes, small capacitors, leaks, sharing resistors."""

from __future__ import annotations

import math
from dataclasses import replace


class WithinStages:
    """Additions that the generator makes inside of stages; each method says whether there was a place for it."""

    def stage_decoupling(self) -> bool:
        """A resistor and a capacitor between a rail and a stage's load; a two-thousandth of the rail lies over it."""
        view, found = self.reading.views.signal, self._fed_from_a_rail()
        if view.band is None or not found:
            return False
        part, rail, volts, amperes = self.rng.choice(found)
        joint, ohms = f"x{len(self.expected)}", float(f"{0.0005 * volts / amperes:.2g}")
        self._swap(part, self._moved(part, rail, joint))
        self._add("R", "resistor", rail, joint, ohms, "omitted", 4)
        farad = 1 / (2 * math.pi * view.band[0] * 0.02 * min(ohms, part.value))
        self._add("C", "capacitor", joint, "gnd", float(f"{farad:.2g}"), "omitted", 1)
        return True

    def feed_choke(self) -> bool:
        """A choke with a resistor behind it that is much more than its reactance, in a feed from a rail."""
        view, found = self.reading.views.signal, self._fed_from_a_rail(loads=False)
        if view.band is None or view.band[0] < 1e5 or not found:
            return False
        part, rail, _, _ = self.rng.choice(found)
        joint = f"x{len(self.expected)}"
        self._swap(part, self._moved(part, rail, joint))
        henry = 0.002 * part.value / (2 * math.pi * view.band[1])
        self._add("L", "choke", rail, joint, float(f"{henry:.2g}"), "omitted", 5)
        return True

    def output_coil(self) -> bool:
        """A few microhenries with a resistor across them, on the way to a loudspeaker."""
        view = self.reading.views.signal
        loads = [part for part in self.parts if part.kind == "speaker" and part.value and part.ref not in self.touched]
        if view.band is None or not loads:
            return False
        part = self.rng.choice(loads)
        hot = next((t for t in part.terminals if self.graph.node_of.get(t.net) not in (0, None)), None)
        if hot is None or any(hot.net in (port.net, port.reference) for port in self.reading.circuit.outputs):
            return False
        joint = f"x{len(self.expected)}"
        self._swap(part, self._moved(part, hot.net, joint))
        henry = 0.01 * part.value / (2 * math.pi * view.band[1])
        self._add("L", "inductor", hot.net, joint, float(f"{henry:.2g}"), "omitted", 15)
        self._add("R", "resistor", hot.net, joint, 10.0, "omitted", 15)
        return True

    def stop_capacitor(self) -> bool:
        """A capacitor that is next to nothing in the band, from a loud net to ground."""
        view = self.reading.views.signal
        net, ohms = self._loud_net()
        tuned = len(self.reading.views.signals) > 1
        if net is None or tuned or view.band is None or view.band[0] >= 1e5:
            return False
        held = [part for part in self.parts if part.kind in ("capacitor", "electrolytic")]
        if any(net in [t.net for t in part.terminals] and {t.net for t in part.terminals} & {"gnd"} for part in held):
            return False
        farad = 1 / (2 * math.pi * view.band[1] * 60 * ohms)
        self._add("C", "capacitor", net, "gnd", float(f"{farad:.2g}"), "omitted", 16)
        return True

    def compound_leak(self) -> bool:
        """A resistor from the base to the emitter of the second of two transistors that work as one."""
        point, found = self.reading.views.point, []
        for part in self.parts:
            if part.kind not in ("npn", "pnp"):
                continue
            base, emitter = part.net("b"), part.net("e")
            firsts = [
                other
                for other in self.parts
                if other.kind == part.kind and other.net("e") == base and other.net("c") == part.net("c")
            ]
            across = any({base, emitter} == {t.net for t in other.terminals} for other in self.parts)
            if len(firsts) == 1 and not across:
                volts = abs(point.voltage(base, emitter))
                amperes = abs(point.current(firsts[0].ref))
                found.append((base, emitter, volts / (0.01 * max(amperes, 1e-9))))
        if not found:
            return False
        base, emitter, ohms = self.rng.choice(found)
        self._add("R", "resistor", base, emitter, float(f"{ohms:.2g}"), "omitted", 20)
        return True

    def sharing_resistors(self) -> bool:
        """Two devices of half the size, each with twice the emitter resistor, in the place of one with its resistor."""
        found = []
        for part in self.parts:
            if part.kind not in ("npn", "pnp") or part.ref in self.touched or not part.params.get("IS"):
                continue
            emitter = part.net("e")
            others = [
                other for other in self.parts if other is not part and emitter in [t.net for t in other.terminals]
            ]
            whole = len(others) == 1 and others[0].kind == "resistor" and others[0].value and others[0].value < 100
            if whole and not part.type_name and others[0].ref not in self.touched:
                found.append((part, others[0]))
        if not found:
            return False
        part, foot = self.rng.choice(found)
        params = {**part.params, "IS": part.params["IS"] / 2}
        params |= {name: 2 * params[name] for name in ("rb", "re", "rc") if name in params}
        ref, joint = f"Q{900 + len(self.expected)}", f"x{len(self.expected)}"
        self._swap(part, replace(part, params=params))
        self.parts.append(replace(self._moved(part, part.net("e"), joint), ref=ref, params=params, source=""))
        self.touched.add(ref)
        self.expected[ref] = ("merged", 10)
        far = next(t.net for t in foot.terminals if t.net != part.net("e"))
        self._swap(foot, replace(foot, value=2 * foot.value))
        self._add("R", "resistor", joint, far, 2 * foot.value, "merged", 10, like=foot)
        return True

    def _fed_from_a_rail(self, loads: bool = True):
        """Resistors that carry a current from a given rail: (part, net and volts of the rail, amperes)."""
        point, found = self.reading.views.point, []
        rails = {supply.net: abs(supply.volts) for supply in self.reading.circuit.supplies}
        for part in self.parts:
            if part.kind != "resistor" or part.ref in self.touched or part.ref not in self.graph.element_of:
                continue
            ends = [t.net for t in part.terminals]
            rail = next((net for net in ends if net in rails), None)
            other = next((net for net in ends if net not in rails), None)
            if rail is None or other is None or self.graph.node_of.get(other) in (0, None):
                continue
            if self.graph.node_of[other] in self.graph.rails or rails[rail] < 3:
                continue
            beside = [item for item in self.parts if item is not part and other in [t.net for t in item.terminals]]
            amperes = abs(point.current(part.ref))
            loading = any(item.kind in ("npn", "pnp") and item.net("c") == other for item in beside)
            if amperes > 1e-5 and (loading or not loads):
                found.append((part, rail, rails[rail], amperes))
        return found

    def _moved(self, part, old: str, new: str):
        return replace(part, terminals=tuple(replace(t, net=new) if t.net == old else t for t in part.terminals))


SORTS_WITHIN_STAGES = (
    "stage_decoupling",
    "feed_choke",
    "output_coil",
    "stop_capacitor",
    "compound_leak",
    "sharing_resistors",
)
