"""The pages in the order of the navigation; a new page is one folder here and one entry in PAGES."""

from dashboards.pages.bench.page import PAGE as BENCH
from dashboards.pages.board.page import PAGE as BOARD
from dashboards.pages.coils.page import PAGE as COILS
from dashboards.pages.die.page import PAGE as DIE
from dashboards.pages.handover.page import PAGE as HANDOVER
from dashboards.pages.intake.page import PAGE as INTAKE
from dashboards.pages.shift.page import PAGE as SHIFT
from dashboards.pages.trace.page import PAGE as TRACE
from dashboards.pages.week.page import PAGE as WEEK
from dashboards.parts.page import Page

PAGES: tuple[Page, ...] = (
    BOARD,
    DIE,
    COILS,
    BENCH,
    TRACE,
    WEEK,
    HANDOVER,
    INTAKE,
    SHIFT,
)
