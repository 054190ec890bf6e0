"""The dashboard over one ledger, and the server that hands it out."""

from __future__ import annotations

import gc
from pathlib import Path

import waitress
from dash import Dash

from dashboards.assembly import assemble
from dashboards.ledger.service import LedgerService

THREADS = 16
"""Threads that answer: a browser asks for half a dozen files at once."""


def build_app(ledger_path: Path) -> Dash:
    """The dashboard over the ledger in a folder; raises StrokeledgerError where there is none."""
    return assemble(LedgerService(ledger_path))


def lasting_app(ledger_path: Path) -> Dash:
    """`build_app` for a process that does nothing else.

    What Dash, plotly and pandas hold for good is a million objects; looked through for garbage again and again they
    would cost an answer a quarter of its time.
    """
    app = build_app(ledger_path)
    gc.collect()
    gc.freeze()
    return app


def serve(ledger_path: Path, host: str = "127.0.0.1", port: int = 8050) -> None:
    """Serve the dashboard until the process is told to stop; port 0 lets the system choose one."""
    waitress.serve(lasting_app(ledger_path).server, host=host, port=port, threads=THREADS, ident="strokeledger")
