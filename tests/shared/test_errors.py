import pytest

from shared.errors import LedgerError, PlantError, RefusedFile, RequestError, StrokeledgerError


@pytest.mark.parametrize("kind", [RefusedFile, PlantError, LedgerError, RequestError])
def test_message_has_its_four_parts_in_order(kind: type[StrokeledgerError]) -> None:
    error = kind("coils.csv, line 3", "width 'x'", "a number", "Mend the row")
    assert str(error) == "coils.csv, line 3: width 'x'; expected a number. Mend the row."
    assert isinstance(error, StrokeledgerError)
