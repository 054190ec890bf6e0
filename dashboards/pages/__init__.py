"""The pages in the order of the navigation; a new page is one module here and one entry in PAGES."""

from dashboards.ledger.page import Page
from dashboards.pages.bench import page as bench
from dashboards.pages.board import page as board
from dashboards.pages.coils import page as coils
from dashboards.pages.die import page as die
from dashboards.pages.handover import page as handover
from dashboards.pages.intake import page as intake
from dashboards.pages.shift import page as shift
from dashboards.pages.trace import page as trace
from dashboards.pages.week import page as week

PAGES: tuple[Page, ...] = (
    board.PAGE,
    die.PAGE,
    coils.PAGE,
    bench.PAGE,
    trace.PAGE,
    week.PAGE,
    handover.PAGE,
    intake.PAGE,
    shift.PAGE,
)
