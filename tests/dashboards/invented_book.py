"""What the invented plant is before anything runs: its calendar, and a quality desk without customers."""

from __future__ import annotations

PLANT_TOML = """
name = "Invented pressings"
timezone = "Europe/Berlin"
[[shift]]
name = "early"
start = "06:00"
end = "14:00"
[[shift]]
name = "late"
start = "14:00"
end = "22:00"
[[shift]]
name = "night"
start = "22:00"
end = "06:00"
[[break]]
shift = "early"
start = "09:00"
end = "09:30"
[[break]]
shift = "early"
start = "12:00"
end = "12:15"
[[break]]
shift = "late"
start = "18:00"
end = "18:30"
[[break]]
shift = "night"
start = "02:00"
end = "02:30"
"""


class NoDesk:
    """A quality desk that has no customer yet."""

    def customers(self) -> list[str]:
        return []

    def weeks(self) -> list[object]:
        return []
