"""The SQL catalogue: tables, opening, upgrades, values, locks."""
