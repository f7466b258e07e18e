"""The bands of a circuit: the declared ones, those of its tuned circuits, and which devices belong to which."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from topo.graph.graph import Graph
from topo.quantities import show
from topo.views.kinds import COILS, DEVICES, is_polarised
from topo.views.view import Tank, View

RADIO_HZ = 100e3
"""A band that begins above this is radio frequency (common practice)."""
CLUSTER = 0.15
AROUND = (0.5, 2.0)
"""What resonates within these shares of a band's edges belongs to it."""
"""Tuned circuits within this of the lowest of their cluster make one band."""
SPEECH = (300.0, 3400.0)
"""The band of speech (ITU-T G.712 and common practice)."""
SHORT_WAVE = (1.8e6, 30e6)
"""The short-wave amateur and marine range (common practice)."""
RADIO_HENRY, RADIO_FARAD = 1e-3, 1e-6
TRANSDUCERS = frozenset({"speaker", "headphones", "microphone"})
CUSTOMARY_INTERMEDIATE = ((100e3, 135e3), (440e3, 480e3), (10.6e6, 10.8e6))
"""Intermediate frequencies in common use (common practice)."""
DIFFERENCE = 0.1
"""By how much the difference of two tuned frequencies may miss a third one that it is taken for."""
AUDIO_FARAD = 0.3e-6
"""A capacitor between two signal nets from this on is meant for audio, wherever tuned circuits stand beside it."""
AUDIO_HERTZ = 50e3
"""A band with its middle below this is one of audio."""


@dataclass(frozen=True)
class Bands:
    """Bands in the order of the signal views, tuned circuits with their band, sections' bands, and assumptions; the
    place of the band of audio that was assumed beside them."""

    bands: tuple[tuple[float, float], ...]
    tanks: tuple[Tank, ...]
    section_band: Mapping[str, int]
    assumptions: tuple[str, ...]
    audio: int | None = None


def choose_bands(graph: Graph, found: Sequence[Tank], detects: bool = False) -> Bands:
    """The bands: declared first (the whole circuit's, then the sections'), then a band for each cluster of tuned
    circuits that lies in none of these.

    Beside tuned circuits there is a band of audio where the parts are those of one: first of all if no band is
    declared, else behind the declared ones.

    Args:
        detects: whether a diode hangs on a tuned circuit, so that there is something behind it.
    """
    circuit = graph.circuit
    bands: list[tuple[float, float]] = []
    sections: dict[str, int] = {}
    words: list[str] = []
    audio: int | None = None
    if circuit.band is not None:
        bands.append(circuit.band)
        if circuit.band_assumed:
            words.append(f"signal band: {_range(circuit.band)} assumed")
    for section, band in circuit.bands.items():
        if section is not None:
            if band not in bands:
                bands.append(band)
            sections[section] = bands.index(band)
    if (
        found
        and not any(math.sqrt(low * high) < AUDIO_HERTZ for low, high in bands)
        and (detects or _holds_audio(graph))
    ):
        audio = len(bands)
        bands.append(SPEECH)
        words.append(f"signal band of the audio part: {_range(SPEECH)} assumed")
    declared = len(bands)
    # A receiver's oscillator may lie near the signal: there each tuned frequency is a band of its own.
    clusters = _clusters(found)
    numbered = [replace(tank, band=number) for number, cluster in enumerate(clusters) for tank in cluster]
    below, above = (1.0 - CLUSTER, 1.0 + CLUSTER) if intermediate_bands(numbered) else AROUND
    for cluster in clusters:
        if any(below * low <= tank.frequency <= above * high for low, high in bands[:declared] for tank in cluster):
            continue
        if declared and above == AROUND[1] and all(is_radio(band) for band in bands[:declared]):
            continue  # A choke and what lies across it, far from the one band that there is.
        low, high = cluster[0].frequency, cluster[-1].frequency
        spread = max(0.005, 0.5 / min(tank.q for tank in cluster))
        bands.append((low * (1.0 - spread), high * (1.0 + spread)))
    if not bands:
        bands.append(SHORT_WAVE if looks_like_radio(graph) else SPEECH)
        words.append(f"signal band: none is given; {_range(bands[0])} assumed")
    elif len(bands) > declared:
        tuned = ", ".join(map(_range, bands[declared:]))
        given = "" if declared else "none is given; "
        words.append(f"signal band: {given}taken from the tuned circuits{' as well' if declared else ''} ({tuned})")
    numbers = [_band_of(tank.frequency, bands) for tank in found]
    placed = tuple(
        replace(tank, band=number) for tank, number in zip(found, numbers, strict=True) if number is not None
    )
    return Bands(tuple(bands), placed, sections, tuple(words), audio)


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


def _band_of(frequency: float, bands: Sequence[tuple[float, float]]) -> int | None:
    """The band about a frequency whose edge is nearest to it, the narrower of two; None if there is none."""
    fits = [
        (max(low / frequency, frequency / high, 1.0), high / low, index)
        for index, (low, high) in enumerate(bands)
        if AROUND[0] * low <= frequency <= AROUND[1] * high
    ]
    return min(fits)[2] if fits else None


def intermediate_bands(tanks: Sequence[Tank]) -> frozenset[int]:
    """The bands of intermediate frequency: those of the customary frequencies, and the lowest of three to which tuned
    circuits are tuned if it is the difference of the other two (an oscillator less a signal)."""
    found = {tank.band for tank in tanks if any(low <= tank.frequency <= high for low, high in CUSTOMARY_INTERMEDIATE)}
    of_band: dict[int, list[float]] = {}
    for tank in tanks:
        of_band.setdefault(tank.band, []).append(tank.frequency)
    middles = sorted((math.fsum(rows) / len(rows), band) for band, rows in of_band.items())
    for place, (lowest, band) in enumerate(middles):
        for number, (one, _) in enumerate(middles[place + 1 :], start=place + 1):
            if any(abs((other - one) / lowest - 1.0) <= DIFFERENCE for other, _ in middles[number + 1 :]):
                found.add(band)
    return frozenset(found)


def _holds_audio(graph: Graph) -> bool:
    """Whether a loudspeaker or the like is drawn, or a capacitor of audio's size couples two signal nets."""
    fixed = {0, *graph.rails}
    for element in graph.elements:
        if element.kind in TRANSDUCERS:
            return True
        between = element.kind == "capacitor" and not set(element.nodes) & fixed
        if between and (is_polarised(graph, element) or (element.value or 0.0) >= AUDIO_FARAD):
            return True
    return False


def port_band(graph: Graph, tanks: Sequence[Tank], node: int, bands: Sequence[tuple[float, float]]) -> int:
    """The band of a port: that of the tuned circuit that it is on, or meets through one part or winding; else that of
    audio where there is one; else the first."""
    near = {node}
    for index, _ in graph.at_node[node]:
        near.update(graph.elements[index].nodes)
    near -= {0, *graph.rails}
    for tank in tanks:
        tuned = {*tank.nodes, *(n for winding in graph.windings_of.get(tank.element, ()) for n in winding.nodes)}
        if tuned & near:
            return tank.band
    return next((number for number, (low, high) in enumerate(bands) if math.sqrt(low * high) < AUDIO_HERTZ), 0)


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
        stated: tuple[int, ...] = (section,) if not mine or is_radio(bands.bands[section]) else ()
        if not mine and bands.audio is not None and (element.part.section or "") not in bands.section_band:
            stated = (section, bands.audio)
        found[element.index] = tuple(sorted({*stated, *mine}))
    return found


def is_radio(band: tuple[float, float]) -> bool:
    """Whether a band is radio frequency."""
    return band[0] >= RADIO_HZ
