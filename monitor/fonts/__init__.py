"""DejaVu Sans, regular and bold, as published (version 2.35): what every PDF is printed with, on any machine alike."""

from pathlib import Path

FONTS = Path(__file__).parent
