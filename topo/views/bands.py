"""The bands of a circuit: the declared ones, those of its tuned circuits, and which devices belong to which."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from topo.graph.graph import Graph
from topo.quantities import show
from topo.views.kinds import COILS, DEVICES, is_polarised
from topo.views.view import Tank, View

RADIO_HZ = 100e3
"""A band that begins above this is radio frequency (common practice)."""
CLUSTER = 0.15
"""Tuned circuits within this of the lowest of their cluster make one band."""
SPEECH = (300.0, 3400.0)
"""The band of speech (ITU-T G.712 and common practice)."""
SHORT_WAVE = (1.8e6, 30e6)
"""The short-wave amateur and marine range (common practice)."""
RADIO_HENRY, RADIO_FARAD = 1e-3, 1e-6
TRANSDUCERS = frozenset({"speaker", "headphones", "microphone"})


@dataclass(frozen=True)
class Bands:
    """Bands in the order of the signal views, tuned circuits with their band, sections' bands, and assumptions."""

    bands: tuple[tuple[float, float], ...]
    tanks: tuple[Tank, ...]
    section_band: Mapping[str, int]
    assumptions: tuple[str, ...]


def choose_bands(graph: Graph, found: Sequence[Tank]) -> Bands:
    """The bands: declared first (the whole circuit's, then the sections'), then a band for each cluster of tuned
    circuits that lies in none of these."""
    circuit = graph.circuit
    bands: list[tuple[float, float]] = []
    sections: dict[str, int] = {}
    words: list[str] = []
    if circuit.band is not None:
        bands.append(circuit.band)
        if circuit.band_assumed:
            words.append(f"signal band: {_range(circuit.band)} assumed")
    for section, band in circuit.bands.items():
        if section is not None:
            if band not in bands:
                bands.append(band)
            sections[section] = bands.index(band)
    declared = len(bands)
    for cluster in _clusters(found):
        if any(0.5 * low <= tank.frequency <= 2.0 * high for low, high in bands[:declared] for tank in cluster):
            continue
        low, high = cluster[0].frequency, cluster[-1].frequency
        spread = max(0.005, 0.5 / min(tank.q for tank in cluster))
        bands.append((low * (1.0 - spread), high * (1.0 + spread)))
    if not bands:
        bands.append(SHORT_WAVE if looks_like_radio(graph) else SPEECH)
        words.append(f"signal band: none is given; {_range(bands[0])} assumed")
    elif not declared:
        words.append(f"signal band: none is given; taken from the tuned circuits ({', '.join(map(_range, bands))})")
    placed = tuple(replace(tank, band=_band_of(tank.frequency, bands)) for tank in found)
    return Bands(tuple(bands), placed, sections, tuple(words))


def _range(band: tuple[float, float]) -> str:
    return f"{show(band[0], 'Hz')} to {show(band[1], 'Hz')}"


def _clusters(found: Sequence[Tank]) -> list[list[Tank]]:
    """Tuned circuits of nearly one frequency, in order of frequency."""
    clusters: list[list[Tank]] = []
    for tank in sorted(found, key=lambda tank: (tank.frequency, tank.element)):
        if clusters and tank.frequency <= clusters[-1][0].frequency * (1.0 + CLUSTER):
            clusters[-1].append(tank)
        else:
            clusters.append([tank])
    return clusters


def _band_of(frequency: float, bands: Sequence[tuple[float, float]]) -> int:
    """The band about a frequency whose edge is nearest to it, the narrower of two; 0 if there is none."""
    fits = [
        (max(low / frequency, frequency / high, 1.0), high / low, index)
        for index, (low, high) in enumerate(bands)
        if 0.5 * low <= frequency <= 2.0 * high
    ]
    return min(fits)[2] if fits else 0


def looks_like_radio(graph: Graph) -> bool:
    """Whether coils and capacitors are those of a radio-frequency circuit, no audio transducer being drawn.

    It has an aerial, or coils of which all known ones are under 1 mH, and no capacitor between two signal nets
    over 1 uF.
    """
    kinds = {element.kind for element in graph.elements}
    if "antenna" in kinds:
        return True
    if kinds & TRANSDUCERS:
        return False
    henries = [element.value for element in graph.elements if element.kind in COILS - {"bead"} and element.value]
    henries += [element.params["primary"] for element in graph.elements if "primary" in element.params]
    if any(value >= RADIO_HENRY for value in henries):
        return False
    fixed = {0, *graph.rails}
    for element in graph.elements:
        between = element.kind == "capacitor" and not set(element.nodes) & fixed
        if between and (is_polarised(graph, element) or (element.value or 0.0) > RADIO_FARAD):
            return False
    return bool(henries) or "bead" in kinds


def device_bands(graph: Graph, bands: Bands, signals: Sequence[View]) -> dict[int, tuple[int, ...]]:
    """The signal views that each device belongs to: those of the tuned circuits at its electrodes, else its section's
    or the declared one. A declared band of radio frequency stays a device's own whatever is tuned at it (a trap)."""
    at: dict[int, set[int]] = {}
    for tank in bands.tanks:
        view = signals[tank.band]
        nodes = set(tank.nodes)
        for index in tank.capacitors:
            nodes.update(graph.elements[index].nodes)
        for winding in graph.windings_of.get(tank.element, ()):
            nodes.update(winding.nodes)
        classes = {view.class_of[node] for node in nodes} - {view.zero}
        at.setdefault(tank.band, set()).update(classes)
    found: dict[int, tuple[int, ...]] = {}
    for element in graph.elements:
        if element.kind not in DEVICES and element.kind not in ("opamp", "ic"):
            continue
        mine = tuple(
            number
            for number in sorted(at)
            if any(signals[number].class_of[node] in at[number] for node in element.nodes)
        )
        section = bands.section_band.get(element.part.section or "", 0)
        stated = (section,) if not mine or is_radio(bands.bands[section]) else ()
        found[element.index] = tuple(sorted({*stated, *mine}))
    return found


def is_radio(band: tuple[float, float]) -> bool:
    """Whether a band is radio frequency."""
    return band[0] >= RADIO_HZ
