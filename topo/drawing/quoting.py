"""Quoting for SVG: the only place where text that a user typed becomes markup."""

from __future__ import annotations

_ESCAPES = {"&": "&amp;", "<": "&lt;", ">": "&gt;", '"': "&quot;", "'": "&#39;"}
_REPLACEMENT = "\N{REPLACEMENT CHARACTER}"


def quoted(text: str) -> str:
    """Text as it may stand in an SVG element or between the quotes of an attribute.

    Signs that XML 1.0 does not allow (W3C recommendation, section 2.2) become the replacement character;
    line ends and tabs become spaces.
    """
    return "".join(_ESCAPES.get(sign, sign) if _allowed(sign) else _substitute(sign) for sign in text)


def _allowed(sign: str) -> bool:
    code = ord(sign)
    return 0x20 <= code <= 0xD7FF or 0xE000 <= code <= 0xFFFD or 0x10000 <= code <= 0x10FFFF


def _substitute(sign: str) -> str:
    return " " if sign in "\t\r\n" else _REPLACEMENT
