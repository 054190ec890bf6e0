"""Headings that loggers use, and the columns of the contract they most often stand for (common practice, no source)."""

from __future__ import annotations

import re

from shared.fields import FIELDS

COLUMN_WORDS: dict[str, tuple[str, ...]] = {
    "time": ("time", "timestamp", "date", "datetime", "datum", "zeit", "datum/uhrzeit", "uhrzeit", "date/time"),
    "press_id": ("press", "presse", "machine", "maschine", "line", "press no", "pressid"),
    "counter": (
        "counter",
        "count",
        "total",
        "strokes",
        "hits",
        "zähler",
        "hübe",
        "hübe gesamt",
        "gesamt",
        "total count",
    ),
    "feeds": ("feeds", "feed count", "vorschübe"),
    "coil_id": ("coil", "coil no", "coil number", "bund", "bundnummer"),
    "die_id": ("die", "tool", "werkzeug", "die no"),
    "part_no": ("part", "part no", "part number", "teil", "teilenummer", "artikel"),
    "lot": ("lot", "batch", "charge"),
    "heat": ("heat", "schmelze"),
    "weight_kg": ("weight", "wt", "gewicht"),
    "thickness_mm": ("thickness", "gauge", "dicke"),
    "width_mm": ("width", "breite"),
    "cause": ("cause", "defect", "fault", "fehler", "grund"),
    "rejected": ("rejected", "bad", "scrap", "rejects", "ausschuss"),
    "inspected": ("inspected", "checked", "geprüft"),
    "reason": ("reason", "state", "status", "störgrund"),
    "start_at": ("start", "begin", "beginn", "from"),
    "end_at": ("end", "ende", "to"),
    "piece": ("piece", "teil nr", "no"),
    "value": ("value", "measured", "wert"),
    "characteristic": ("characteristic", "merkmal"),
    "order_id": ("order", "auftrag"),
    "quantity": ("quantity", "qty", "menge"),
}


def column_for(heading: str) -> str:
    """Column that a heading most often stands for, empty where none is known."""
    word = re.sub(r"\s*[(\[].*?[)\]]", "", heading).strip().lower()
    if word.replace(" ", "_") in FIELDS:
        return word.replace(" ", "_")
    return next((column for column, words in COLUMN_WORDS.items() if word in words), "")
