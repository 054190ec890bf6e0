"""The pages in the order of the navigation; a new page is one module here and one entry in PAGES."""

from dashboards.page import Page
from dashboards.pages import bench, board, coils, die, handover, intake, shift, trace, week

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
