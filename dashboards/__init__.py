"""The screens: Dash pages over the figure tables, and nothing that reckons."""

from dashboards.app import build_app, serve

__all__ = ["build_app", "serve"]
