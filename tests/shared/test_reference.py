from shared.reference import densities, gauges


def test_every_figure_names_its_source_and_lies_in_its_range() -> None:
    for density in densities().values():
        assert density.low_kg_m3 <= density.density_kg_m3 <= density.high_kg_m3
    assert all(item.source for item in (*densities().values(), *gauges().values()))
