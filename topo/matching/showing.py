"""A pattern as a page of the handbook, in plain text."""

from __future__ import annotations

from collections.abc import Iterator

from topo.matching.pattern import Join, Pattern, Role, Shape
from topo.matching.schema_texts import Segments
from topo.matching.shelf import Library

_VIEW_WORDS = {"wire": "as drawn", "dc": "for direct current", "signal": "for the signal"}


def page_of(library: Library, slug: str) -> str:
    """The page of one pattern.

    Raises:
        UsageError: there is no such pattern.
    """
    pattern = library.get(slug)
    return "\n".join(_lines(library, pattern)).rstrip()


def _lines(library: Library, pattern: Pattern) -> Iterator[str]:
    yield pattern.name
    yield "=" * len(pattern.name)
    yield pattern.purpose
    yield ""
    yield f"Family: {pattern.family.replace('-', ' ')}. File: {pattern.file}"
    others = [*pattern.also, *(f"{name} ({family})" for family, name in pattern.names.items())]
    if others:
        yield f"Also called: {', '.join(others)}."
    yield f"Source: {pattern.source}."
    rule = pattern.reading
    rank = f", rank {rule.rank}" if rule.rank else ""
    yield f"Claim: {rule.claim}{rank}; sort: {rule.sort}."
    yield ""
    for component in pattern.made_of:
        optional = " (may be absent)" if component.optional else ""
        yield f"  {component.name}: {' or '.join(component.slugs)}{optional}"
    for condition in pattern.where:
        yield f"  provided that {condition.text}"
    for shape in pattern.shapes:
        yield from _shape(shape)
    if pattern.figures:
        yield "Figures"
        for figure in pattern.figures:
            yield f"  {figure.name} = {figure.text}{f' in {figure.unit}' if figure.unit else ''}"
        yield ""
    texts = library.texts(pattern.slug)
    for voice, items in texts.block.items():
        yield f"For a {voice}"
        for item in items:
            yield f"  {shown_text(item)}"
        yield ""
    if texts.check:
        yield "Check"
        for item in texts.check:
            yield f"  {shown_text(item)}"
        yield ""
    for caution in texts.cautions:
        yield f"Caution: {shown_text(caution)}"
    yield ""
    yield "Examples"
    for example in library.examples(pattern.slug):
        yield f"  {'is one' if example.matches else 'is none'}: {example.words}"


def _shape(shape: Shape) -> Iterator[str]:
    yield f"Parts ({shape.variant})" if shape.variant else "Parts"
    for role in shape.roles:
        yield f"  {_role(role)}"
    for view, words in _VIEW_WORDS.items():
        chosen = [join for join in shape.joins if join.view == view]
        if chosen:
            yield f"Joined {words}"
            yield from (f"  {_join(join)}" for join in chosen)
    if shape.where:
        yield "Provided that"
        yield from (f"  {condition.text}" for condition in shape.where)
    for group in shape.exclusions:
        yield f"Not where {group.words}"
    yield ""


def _role(role: Role) -> str:
    marks = [
        "may be absent" if role.optional else "",
        "one or more" if role.many and role.least == 1 else f"{role.least} or more" if role.many else "",
        "belongs to another stage" if role.witness else "",
        role.when_text,
    ]
    shown = ", ".join(filter(None, marks))
    return f"{role.name}: {role.word} ({' or '.join(role.kinds)}{'; ' + shown if shown else ''})"


def _join(join: Join) -> str:
    return join.text


def shown_text(text: Segments) -> str:
    """A text with its placeholders in braces, as it is written in the file."""
    words = []
    for segment in text:
        if segment[0] == "text":
            words.append(segment[1])
        elif segment[0] == "value":
            words.append("{...}")
        else:
            words.append("{" + segment[1] + "}")
    return "".join(words)
